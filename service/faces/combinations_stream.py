"""The whole set of combinations as CSV, in pieces, so that neither side has to hold it."""

from collections.abc import Iterator, Mapping

import numpy as np

from service.answers.combinations import PART_KIND, QUANTITY_KIND, candidates_of, in_the_question, limits_of
from service.answers.combinations_request import CombinationsRequest
from service.calculations.combinations import AXES, Candidates, axis_values, blocks
from service.errors import Contradiction, OutsideValidity
from service.quantities import Kind, Resolved, UnitSystem, resolved
from service.units import FloatArray

ROWS = 1_000


def chunks(request: CombinationsRequest, system: UnitSystem) -> Iterator[bytes]:
    """A heading, then every combination within the limits in the order of the lists, some rows at a time.

    Raises:
        MissingInput, OutsideValidity, Contradiction: as the question; before the first piece.
    """
    candidates = candidates_of(request)
    found = blocks(candidates=candidates, limits=limits_of(request))
    try:
        first = next(found)
    except (OutsideValidity, Contradiction) as refusal:
        raise in_the_question(refusal) from None
    used = [axis for axis in AXES if candidates.axes.get(axis)]
    made = [name for name in first.quantities if not (name == "deck_clearance" and name in used)]
    yield ",".join(["number", *(_heading(name, system) for name in (*used, *made))]).encode() + b"\r\n"
    yield from _rows(candidates, used, made, first.combination[first.accepted], first.quantities, first.accepted, system)
    for block in found:
        kept = block.combination[block.accepted]
        yield from _rows(candidates, used, made, kept, block.quantities, block.accepted, system)


def _rows(
    candidates: Candidates,
    used: list[str],
    made: list[str],
    kept: np.ndarray,
    quantities: Mapping[str, FloatArray],
    accepted: np.ndarray,
    system: UnitSystem,
) -> Iterator[bytes]:
    values = axis_values(candidates)
    place = dict(zip(AXES, np.unravel_index(kept, tuple(len(values[axis]) for axis in AXES)), strict=True))
    columns = [_shown(name, values[name][place[name]], system) for name in used]
    columns += [_shown(name, quantities[name][accepted], system) for name in made]
    numbers = kept.tolist()
    for start in range(0, len(numbers), ROWS):
        piece = [column[start : start + ROWS].tolist() for column in columns]
        lines = (
            f"{number},{','.join(f'{value:.12g}' for value in row)}\r\n"
            for number, *row in zip(numbers[start : start + ROWS], *piece, strict=True)
        )
        yield "".join(lines).encode()


def _unit(name: str, system: UnitSystem) -> Resolved | None:
    kind: Kind | None = PART_KIND.get(name) or QUANTITY_KIND.get(name)
    return None if kind is None else resolved()[kind.dimension][kind.us if system == "us" else kind.metric]


def _heading(name: str, system: UnitSystem) -> str:
    unit = _unit(name, system)
    return name if unit is None else f"{name} [{unit.code}]"


def _shown(name: str, values: FloatArray, system: UnitSystem) -> FloatArray:
    unit = _unit(name, system)
    return values if unit is None else (values - unit.offset) / unit.factor
