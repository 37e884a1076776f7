"""The whole set of combinations as CSV, in pieces, so that neither side has to hold it."""

from collections.abc import Iterator, Mapping
from itertools import chain

import numpy as np

from service.answers.combinations import NUMBERED, PART_KIND, QUANTITY_KIND, candidates_of, in_the_question, limits_of, names_of
from service.answers.combinations_request import CombinationsRequest
from service.calculations.combinations import AXES, Candidates, Columns, Indices, axis_values, blocks
from service.errors import Contradiction, OutsideValidity
from service.faces.csv_face import encode
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
    yield ",".join(["number", *_columns(request, candidates, first, system)]).encode() + b"\r\n"
    for block in chain([first], found):
        yield from _rows(block, _columns(request, candidates, block, system))


def _columns(request: CombinationsRequest, candidates: Candidates, block: Columns, system: UnitSystem) -> dict[str, np.ndarray]:
    """The columns of a block by their headings: parts, with number and name where they may have one, then what they make."""
    values = axis_values(candidates)
    place = _places(values, block.combination[block.accepted])
    used = [axis for axis in AXES if candidates.axes.get(axis)]
    columns: dict[str, np.ndarray] = {}
    for axis in used:
        columns[_heading(axis, system)] = _shown(axis, values[axis][place[axis]], system)
        if axis in NUMBERED:
            columns[NUMBERED[axis]] = place[axis] + 1
            if names := names_of(request, axis):
                cells = [encode([[name]]).decode().rstrip("\r\n") if name else "" for name in names]
                columns[f"{NUMBERED[axis]}_name"] = np.array(cells, dtype=object)[place[axis]]
    for name, quantity in block.quantities.items():
        if name not in used:  # a deck as sent and as made stands once
            columns[_heading(name, system)] = _shown(name, quantity[block.accepted], system)
    return columns


def _places(values: Mapping[str, FloatArray], combinations: Indices) -> Mapping[str, Indices]:
    """Where each combination's part stands on each axis."""
    return dict(zip(AXES, np.unravel_index(combinations, tuple(len(values[axis]) for axis in AXES)), strict=True))


def _rows(block: Columns, columns: Mapping[str, np.ndarray]) -> Iterator[bytes]:
    numbers = (block.combination[block.accepted] + 1).tolist()
    for start in range(0, len(numbers), ROWS):
        piece = [column[start : start + ROWS].tolist() for column in columns.values()]
        lines = (
            f"{number},{','.join(value if type(value) is str else f'{value:.12g}' for value in row)}\r\n"
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
