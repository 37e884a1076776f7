"""Every combination of candidate parts: computed in blocks of arrays, limited by masks, the best few kept in order.

The parts span a grid: axis after axis, the last one turning fastest, so that a combination is one number and memory
stays the size of a block however many there are.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from math import pi, prod
from typing import Literal, NamedTuple, TypeAlias

import numpy as np
from numpy.typing import NDArray

from service.calculations.piston_motion import piston_position
from service.errors import Contradiction, OutsideValidity
from service.methods import Example, method
from service.units import FloatArray, RotationalSpeed

Goal: TypeAlias = Literal["least", "most", "nearest"]
Indices: TypeAlias = NDArray[np.intp]

BLOCK = 16_384  # combinations worked out at once
MOST_COMBINATIONS = 1_000_000
MOST_RANKED = 200
MOST_CRANKS = 20_000  # of stroke, rod and cam: each needs a piston position of its own
LAST_BITS = 1e-12  # of a limit: 0.9 mm of deck and 0.1 mm of ring are 1 mm of squish
# Axes in the order of the grid. Candidates of one axis that nobody sent are one value: what the part is without it.
AXES = (
    "bore",
    "stroke",
    "rod_length",
    "chamber_volume",
    "deck_clearance",
    "barrel_height",
    "spacer_thickness",
    "crown_volume",
    "gasket_thickness",
    "intake_closing",
)
ABSENT = {"spacer_thickness": 0.0, "crown_volume": 0.0, "gasket_thickness": 0.0}
QUANTITIES = (
    "displacement",
    "compression_ratio",
    "effective_ratio",
    "squish_clearance",
    "deck_clearance",
    "clearance_volume",
    "rod_ratio",
    "bore_stroke_ratio",
    "mean_piston_speed",
)


@dataclass(frozen=True, slots=True)
class Candidates:
    """The parts to choose from, in SI, and what is the same for all of them.

    ``deck_clearance`` gives deck heights as measured. Where stroke and rod change, send ``barrel_height`` instead:
    crankshaft centre to barrel top, less the compression height of the piston; the deck then follows from both.
    """

    axes: Mapping[str, Sequence[float]]
    cylinders: int
    speed: RotationalSpeed | None = None
    crevice_volume: float = 0.0


class Columns(NamedTuple):
    """A block of combinations: which one, its quantities by name, and which of them meet every limit."""

    combination: Indices
    quantities: dict[str, FloatArray]
    accepted: NDArray[np.bool_]


class Ranked(NamedTuple):
    """One combination: its number, place on every axis, and quantities."""

    combination: int
    parts: dict[str, int]
    quantities: dict[str, float]


@dataclass(slots=True)
class Ranking:
    """The best combinations, best first, and how many there were, fitted, and failed each limit."""

    total: int
    accepted: int = 0
    failed: dict[str, int] = field(default_factory=dict)
    best: tuple[Ranked, ...] = ()


def axis_values(candidates: Candidates) -> dict[str, FloatArray]:
    """Values on each axis of the grid; one NaN where the axis is not in use."""
    values = {}
    for axis in AXES:
        sent = candidates.axes.get(axis, ())
        values[axis] = np.asarray(sent if len(sent) else [ABSENT.get(axis, np.nan)], dtype=np.float64)
    return values


def count(*, candidates: Candidates) -> int:
    """How many combinations the candidates make; every combination of parts counts, possible or not.

    Raises:
        OutsideValidity: a part is missing or there are too many combinations.
        Contradiction: deck clearance and barrel height are both sent.
    """
    for axis in ("bore", "stroke", "chamber_volume"):
        if not candidates.axes.get(axis):
            raise OutsideValidity(axis, f"Send at least one {axis.replace('_', ' ')} to choose from.", "≥ 1 candidate")
    deck, height = candidates.axes.get("deck_clearance"), candidates.axes.get("barrel_height")
    if deck and height:
        raise Contradiction(
            ("deck_clearance", "barrel_height"),
            "Send deck clearances as measured, or barrel heights from which they follow, not both.",
        )
    if not deck and not height:
        raise OutsideValidity("deck_clearance", "Send at least one deck clearance to choose from.", "≥ 1 candidate")
    for axis in ("barrel_height", "intake_closing"):
        if candidates.axes.get(axis) and not candidates.axes.get("rod_length"):
            raise OutsideValidity(
                "rod_length", f"With {axis.replace('_', ' ')} the rod lengths are needed too.", "≥ 1 candidate"
            )
    lengths = {axis: max(1, len(candidates.axes.get(axis, ()))) for axis in AXES}
    total = prod(lengths.values())
    cranks = lengths["stroke"] * lengths["rod_length"] * lengths["intake_closing"]
    if total > MOST_COMBINATIONS or cranks > MOST_CRANKS:
        raise OutsideValidity(
            "candidates",
            f"These lists make {total:,} combinations. Leave out candidates that differ by less than you can measure.",
            f"≤ {MOST_COMBINATIONS:,} combinations, ≤ {MOST_CRANKS:,} of stroke, rod and cam",
        )
    return total


def _drops(values: Mapping[str, FloatArray]) -> FloatArray | None:
    """Piston drop at intake closing for each stroke, rod and cam; rods too short for a stroke give NaN."""
    if np.isnan(values["intake_closing"][0]):
        return None
    drops = np.full((len(values["stroke"]), len(values["rod_length"]), len(values["intake_closing"])), np.nan)
    for i, stroke in enumerate(values["stroke"].tolist()):
        for j, rod in enumerate(values["rod_length"].tolist()):
            if rod > stroke / 2:
                for k, closing in enumerate(values["intake_closing"].tolist()):
                    drops[i, j, k] = piston_position(stroke=stroke, rod_length=rod, crank_angle=pi + closing)
    return drops


def _quantities(
    candidates: Candidates, values: Mapping[str, FloatArray], place: Mapping[str, Indices], drops: FloatArray | None
) -> dict[str, FloatArray]:
    """Every quantity of a block of combinations; those that need what was not sent are left out."""
    part = {axis: values[axis][place[axis]] for axis in AXES}
    bore, stroke, rod = part["bore"], part["stroke"], part["rod_length"]
    deck = part["deck_clearance"]
    if not np.isnan(values["barrel_height"][0]):
        deck = part["barrel_height"] - stroke / 2 - rod
    area = pi / 4 * bore * bore
    squish = deck + part["spacer_thickness"] + part["gasket_thickness"]
    clearance = part["chamber_volume"] + area * squish + part["crown_volume"] + candidates.crevice_volume
    clearance = np.where(clearance > 0, clearance, np.nan)
    swept = area * stroke
    found = {
        "displacement": swept * candidates.cylinders,
        "compression_ratio": 1 + swept / clearance,
        "squish_clearance": squish,
        "deck_clearance": deck,
        "clearance_volume": clearance,
        "bore_stroke_ratio": bore / stroke,
    }
    if not np.isnan(values["rod_length"][0]):
        found["rod_ratio"] = np.where(rod > stroke / 2, rod / stroke, np.nan)
    if candidates.speed is not None:
        found["mean_piston_speed"] = stroke * candidates.speed / pi
    if drops is not None:
        drop = drops[place["stroke"], place["rod_length"], place["intake_closing"]]
        found["effective_ratio"] = 1 + area * drop / clearance
    return found


def blocks(
    *, candidates: Candidates, limits: Mapping[str, tuple[float, float]], failed: dict[str, int] | None = None
) -> Iterator[Columns]:
    """All combinations, a block at a time; ``failed`` is counted up by limit, and by ``impossible``.

    Raises:
        OutsideValidity, Contradiction: see ``count``; a limit on what was not computed.
    """
    total = count(candidates=candidates)
    values = axis_values(candidates)
    shape = tuple(len(values[axis]) for axis in AXES)
    drops = _drops(values)
    tally = failed if failed is not None else {}
    for name in ("impossible", *sorted(limits)):
        tally.setdefault(name, 0)
    for start in range(0, total, BLOCK):
        combination = np.arange(start, min(start + BLOCK, total), dtype=np.intp)
        place = dict(zip(AXES, np.unravel_index(combination, shape), strict=True))
        found = _quantities(candidates, values, place, drops)
        accepted = np.ones(len(combination), dtype=np.bool_)
        for quantity in found.values():
            accepted &= np.isfinite(quantity)
        tally["impossible"] += int(len(combination) - np.count_nonzero(accepted))
        for name, (low, high) in sorted(limits.items()):
            within = _within(found, name, low, high)
            tally[name] += int(np.count_nonzero(~within))
            accepted &= within
        yield Columns(combination, found, accepted)


def _within(found: Mapping[str, FloatArray], name: str, low: float, high: float) -> NDArray[np.bool_]:
    if name not in found:
        raise _not_computed(f"limits/{name}", name, found)
    lowest, highest = low - LAST_BITS * abs(low), high + LAST_BITS * abs(high)
    within: NDArray[np.bool_] = (found[name] >= lowest) & (found[name] <= highest)
    return within


def _not_computed(where: str, name: str, found: Mapping[str, FloatArray]) -> OutsideValidity:
    needs = {
        "effective_ratio": "candidates for rod_length and intake_closing",
        "rod_ratio": "candidates for rod_length",
        "mean_piston_speed": "a speed",
    }.get(name, "one of " + ", ".join(sorted(found)))
    return OutsideValidity(where, f"This quantity cannot be computed from what was sent; it needs {needs}.", needs)


@method(
    id="best-combinations",
    title="Best combinations of candidate parts",
    formula="all combinations; those within every limit, ordered by least, most or nearest to a target",
    source="derived",
    locator="exhaustive search over the grid of candidates",
    evidence="derived",
    valid=f"up to {MOST_COMBINATIONS:,} combinations; ties keep the order of the lists",
    example=Example(
        {
            "candidates": Candidates(
                {
                    "bore": (0.086,),
                    "stroke": (0.073,),
                    "chamber_volume": (50e-6, 52e-6, 57.279e-6),
                    "deck_clearance": (1.2e-3,),
                },
                4,
            ),
            "limits": {},
            "quantity": "compression_ratio",
            "goal": "nearest",
            "target": 7.6,
            "most": 1,
        },
        {"total": 3, "accepted": 3},
        by="by counting; 64.25 cm³ of clearance make 7.6:1 of 424.04 cm³",
    ),
)
def best_combinations(
    *,
    candidates: Candidates,
    limits: Mapping[str, tuple[float, float]],
    quantity: str,
    goal: Goal,
    target: float | None = None,
    most: int = 10,
) -> Ranking:
    """The best ``most`` combinations by one quantity, counted and in order; ties go by the order of the lists.

    Raises:
        OutsideValidity, Contradiction: see ``blocks``; a target is missing, or ``most`` is out of range.
    """
    if goal == "nearest" and target is None:
        raise OutsideValidity("objective/target", "To come nearest to something, send the target.", "a target")
    if not 1 <= most <= MOST_RANKED:
        raise OutsideValidity("best", f"Ask for 1 to {MOST_RANKED} combinations.", f"1 to {MOST_RANKED}")
    ranking = Ranking(total=count(candidates=candidates))
    scores = np.empty(0)
    numbers = np.empty(0, dtype=np.intp)
    for block in blocks(candidates=candidates, limits=limits, failed=ranking.failed):
        if quantity not in block.quantities:
            raise _not_computed("objective/quantity", quantity, block.quantities)
        ranking.accepted += int(np.count_nonzero(block.accepted))
        score = _score(block.quantities[quantity][block.accepted], goal, target)
        scores = np.concatenate([scores, score])
        numbers = np.concatenate([numbers, block.combination[block.accepted]])
        order = np.lexsort((numbers, scores))[:most]
        scores, numbers = scores[order], numbers[order]
    ranking.best = describe(candidates=candidates, combinations=numbers)
    return ranking


def _score(values: FloatArray, goal: Goal, target: float | None) -> FloatArray:
    """What to make small. Rounded to a part in 10¹², so that rounding of the last digit does not decide a tie."""
    if goal == "nearest":
        values = np.abs(values - (target or 0.0))
    elif goal == "most":
        values = -values
    scale = np.where(values == 0, 1.0, 10.0 ** (11 - np.floor(np.log10(np.where(values == 0, 1.0, np.abs(values))))))
    rounded: FloatArray = np.round(values * scale) / scale
    return rounded


def describe(*, candidates: Candidates, combinations: Indices) -> tuple[Ranked, ...]:
    """Parts and quantities of the combinations with the given numbers, in that order."""
    values = axis_values(candidates)
    shape = tuple(len(values[axis]) for axis in AXES)
    place = dict(zip(AXES, np.unravel_index(combinations, shape), strict=True))
    found = _quantities(candidates, values, place, _drops(values))
    return tuple(
        Ranked(
            int(number),
            {axis: int(place[axis][i]) for axis in AXES if candidates.axes.get(axis)},
            {name: float(column[i]) for name, column in found.items()},
        )
        for i, number in enumerate(combinations)
    )
