"""The order in which the fasteners of one joint are tightened, and the passes in which they come up to torque."""

import re
from collections.abc import Sequence
from itertools import pairwise
from math import cos, dist, hypot, pi, sin
from typing import NamedTuple

from service.calculations.limits import require_positive
from service.errors import Contradiction, OutsideValidity
from service.methods import Example, method
from service.units import Length, Ratio, Torque

MOST_FASTENERS = 64

# Distances that differ by less than this share of the pattern's radius count as equal: castings are no finer.
_EQUAL = 0.005

_LAYOUT = re.compile(r"(circle|row)-(\d{1,3})|grid-(\d{1,3})x(\d{1,3})")
_LAYOUT_HELP = (
    "A layout is circle-N (numbered around), row-N, or grid-RxC (R rows, C columns, numbered down each column), "
    "with at most 64 fasteners: circle-8, row-5, grid-2x4. Other patterns: send the positions."
)

_SHARES_HELP = "The stages are shares of the full torque that rise to 1: send 0.4, 0.7, 1."

Position = tuple[Length, Length]


class Order(NamedTuple):
    """The numbers of the fasteners in the order in which they are tightened."""

    numbers: tuple[int, ...]

    @property
    def first(self) -> int:
        """The one to begin with."""
        return self.numbers[0]

    @property
    def last(self) -> int:
        """The one that comes last."""
        return self.numbers[-1]


class Pass(NamedTuple):
    """One round over all fasteners: the share of full torque, that torque in N·m, and the order of the numbers."""

    share: Ratio
    torque: Torque
    order: tuple[int, ...]


def layout_positions(*, layout: str) -> tuple[Position, ...]:
    """Positions of a named layout in its own unit length; the first is number 1.

    Raises:
        OutsideValidity: the layout is not ``circle-N``, ``row-N`` or ``grid-RxC`` with 1 to 64 fasteners.
    """
    match = _LAYOUT.fullmatch(layout)
    if match is None:
        raise OutsideValidity("layout", _LAYOUT_HELP, "circle-N, row-N, grid-RxC")
    if match[1] == "circle":
        count = int(match[2])
        positions = [(sin(2 * pi * place / count), cos(2 * pi * place / count)) for place in range(count)]
    else:
        rows, columns = (1, int(match[2])) if match[1] == "row" else (int(match[3]), int(match[4]))
        positions = [(float(column), float(-row)) for column in range(columns) for row in range(rows)]
    if not 1 <= len(positions) <= MOST_FASTENERS:
        raise OutsideValidity("layout", _LAYOUT_HELP, "1 to 64 fasteners")
    return tuple(positions)


@method(
    id="tightening-order",
    title="Order of tightening: from the centre outwards, each time to the far side",
    formula="next = of the fasteners nearest the centre, the one farthest from all that are tight, then farthest from "
    "the last one, then the lowest number",
    source="common-practice",
    locator="circles are crossed over; rows and grids go from the middle outwards on alternating sides",
    evidence="common-practice",
    valid="where the maker gives no order; the maker's order always wins",
    example=Example(
        {"positions": ((0, 0), (0, -1), (1, 0), (1, -1), (2, 0), (2, -1), (3, 0), (3, -1))},
        {"first": 3, "last": 8},
        by="by hand, two rows of four numbered column by column: 3 6 4 5 2 7 1 8",
    ),
)
def tightening_order(*, positions: Sequence[Position], groups: Sequence[int] = ()) -> Order:
    """Numbers of the fasteners, from 1 in the order of ``positions``, in the order of tightening.

    ``groups`` gives each fastener the rank of its group: all of rank 1 come before those of rank 2. Distances that
    differ by less than half a per cent of the pattern's radius count as equal, so that measured positions give the
    order of the drawing.

    Raises:
        OutsideValidity: there are no positions, more than 64, or two fasteners in one place.
        Contradiction: the ranks are not as many as the positions.
    """
    if not 1 <= len(positions) <= MOST_FASTENERS:
        raise OutsideValidity("positions", "Send the positions of 1 to 64 fasteners.", "1 to 64")
    if len(set(positions)) != len(positions):
        raise OutsideValidity("positions", "Two fasteners are in one place; each needs its own position.")
    if groups and len(groups) != len(positions):
        raise Contradiction(("positions", "groups"), "Send one group rank for each position, or none at all.")
    ranks = list(groups) or [1] * len(positions)
    order: list[int] = []
    for rank in sorted(set(ranks)):
        order += _order_of_group(positions, [index for index, own in enumerate(ranks) if own == rank])
    return Order(tuple(index + 1 for index in order))


def _order_of_group(positions: Sequence[Position], members: list[int]) -> list[int]:
    """Order of the members, as indices into the positions."""
    points = {index: positions[index] for index in members}
    centre = (sum(x for x, _ in points.values()) / len(points), sum(y for _, y in points.values()) / len(points))
    from_centre = {index: hypot(x - centre[0], y - centre[1]) for index, (x, y) in points.items()}
    size = max(from_centre.values())
    equal = _EQUAL * size
    to_tight = dict.fromkeys(members, 2.0 * size)
    order: list[int] = []
    left = list(members)
    while left:
        inner = min(from_centre[index] for index in left)
        choice = [index for index in left if from_centre[index] <= inner + equal]
        choice = _farthest(choice, to_tight, equal)
        if order:
            last = points[order[-1]]
            choice = _farthest(choice, {index: dist(points[index], last) for index in choice}, equal)
        chosen = min(choice)
        left.remove(chosen)
        order.append(chosen)
        for index in left:
            to_tight[index] = min(to_tight[index], dist(points[index], points[chosen]))
    return order


def _farthest(choice: list[int], distances: dict[int, float], equal: float) -> list[int]:
    """Those of the choice whose distance is the largest, or equal to it for a casting."""
    largest = max(distances[index] for index in choice)
    return [index for index in choice if distances[index] >= largest - equal]


@method(
    id="tightening-passes",
    title="Passes of tightening",
    formula="T_i = share_i · T for the shares 40, 70 and 100 %, then once more over all at full torque",
    symbols={"T": "full torque [N·m]", "T_i": "torque of pass i [N·m]"},
    source="common-practice",
    locator="even stages so that no fastener bends the joint; the last round checks, without backing off",
    evidence="common-practice",
    example=Example({"torque": 34.0, "share": 0.4}, 13.6, by="by hand: 0.4 · 34 N·m"),
)
def pass_torque(*, torque: Torque, share: Ratio) -> Torque:
    """Torque in N·m of the pass that goes to a share of the full torque.

    Raises:
        OutsideValidity: the torque is not positive, or the share is not above 0 and at most 1.
    """
    require_positive(torque=torque)
    if not 0 < share <= 1:
        raise OutsideValidity("shares", _SHARES_HELP, "rising to 1")
    return share * torque


def tightening_passes(*, torque: Torque, order: Sequence[int], shares: Sequence[Ratio] = (0.4, 0.7, 1.0)) -> tuple[Pass, ...]:
    """The passes over all fasteners in their order, the last of them a second round at full torque.

    A single fastener needs no passes: it is tightened once.

    Raises:
        OutsideValidity: the torque is not positive, or the shares do not rise to 1.
    """
    steps = list(shares)
    if not steps or steps[-1] != 1.0 or any(b <= a for a, b in pairwise(steps)):
        raise OutsideValidity("shares", _SHARES_HELP, "rising to 1")
    numbers = tuple(order)
    if len(numbers) < 2:
        return (Pass(1.0, pass_torque(torque=torque, share=1.0), numbers),)
    return tuple(Pass(share, pass_torque(torque=torque, share=share), numbers) for share in [*steps, 1.0])
