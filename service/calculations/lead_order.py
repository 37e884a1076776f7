"""Whether the leads on a distributor cap follow the firing order."""

from collections.abc import Sequence
from typing import Literal, NamedTuple

from service.errors import Contradiction, OutsideValidity
from service.methods import Example, method

Fault = Literal["none", "reversed", "two-swapped", "scrambled"]


class LeadOrder(NamedTuple):
    """Verdict on the leads of a cap, read clockwise from above.

    ``expected`` is the right lead for every post, in the same order as they were read and with the fewest leads
    to move; ``misplaced`` the positions (from 0) of the posts whose lead must move.
    """

    in_order: bool
    fault: Fault
    expected: tuple[int, ...]
    misplaced: tuple[int, ...]


@method(
    id="lead-order",
    title="Leads of a distributor cap against the firing order",
    formula="leads read in the rotor's direction = a cyclic permutation of the firing order",
    source="common-practice",
    locator="the rotor visits the posts in the order of firing",
    evidence="common-practice",
    valid="one rotor and one post per cylinder",
    example=Example(
        {"firing_order": (1, 4, 3, 2), "leads": (4, 3, 2, 1), "rotation": "clockwise"},
        {"in_order": True},
        by="by hand: 4-3-2-1 read on is 1-4-3-2, the same circle",
    ),
)
def lead_order(
    *, firing_order: Sequence[int], leads: Sequence[int], rotation: Literal["clockwise", "anticlockwise"]
) -> LeadOrder:
    """Check leads read clockwise from above against the firing order and the rotor's rotation seen from above.

    Raises:
        OutsideValidity: a firing order that does not name the cylinders 1 to n once each.
        Contradiction: leads that are not the cylinders of the firing order.
    """
    count = len(firing_order)
    if count < 1 or sorted(firing_order) != list(range(1, count + 1)):
        raise OutsideValidity(
            "firing_order", "A firing order names every cylinder from 1 on once, such as 1-4-3-2.", "1 to n, each once"
        )
    if sorted(leads) != sorted(firing_order):
        raise Contradiction(
            ("leads", "firing_order"),
            f"The cap must carry one lead for each of the {count} cylinders of the firing order; "
            "read the posts again, clockwise from above.",
        )
    clockwise = tuple(firing_order) if rotation == "clockwise" else tuple(reversed(firing_order))
    expected = _nearest_turn(clockwise, leads)
    misplaced = tuple(post for post, lead in enumerate(leads) if lead != expected[post])
    return LeadOrder(not misplaced, _fault(clockwise, leads, misplaced), expected, misplaced)


def _nearest_turn(order: tuple[int, ...], leads: Sequence[int]) -> tuple[int, ...]:
    """The turn of an order that moves the fewest leads; of equals the one that keeps the lead of the first cylinder."""
    first = leads.index(order[0])
    turns = [order[-shift:] + order[:-shift] for shift in range(len(order))]
    return min(turns, key=lambda turn: (sum(a != b for a, b in zip(turn, leads, strict=True)), turn.index(order[0]) != first))


def _fault(order: tuple[int, ...], leads: Sequence[int], misplaced: tuple[int, ...]) -> Fault:
    if not misplaced:
        return "none"
    backwards = tuple(reversed(leads))
    if _nearest_turn(order, backwards) == backwards:
        return "reversed"
    return "two-swapped" if len(misplaced) == 2 else "scrambled"
