"""Cap leads against a rotor that is turned post by post."""

from itertools import permutations
from typing import Literal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.calculations.lead_order import lead_order
from service.errors import Contradiction, OutsideValidity

Rotation = Literal["clockwise", "anticlockwise"]
ORDERS = st.integers(2, 8).flatmap(lambda n: st.permutations(range(1, n + 1)))
ROTATIONS = st.sampled_from(["clockwise", "anticlockwise"])


def sparks(leads: list[int], rotation: Rotation, first: int) -> list[int]:
    """Cylinders in the order in which a rotor sparks them, beginning at the first cylinder of the firing order."""
    post = leads.index(first)
    step = 1 if rotation == "clockwise" else -1
    return [leads[(post + step * turn) % len(leads)] for turn in range(len(leads))]


@given(order=ORDERS, rotation=ROTATIONS, data=st.data())
def test_verdict_is_what_the_rotor_does(order: list[int], rotation: Rotation, data: st.DataObject) -> None:
    """Turning the rotor post by post gives the firing order exactly when the verdict says so."""
    leads = data.draw(st.permutations(order))
    verdict = lead_order(firing_order=order, leads=leads, rotation=rotation)
    assert verdict.in_order == (sparks(leads, rotation, order[0]) == order)
    assert sparks(list(verdict.expected), rotation, order[0]) == order
    assert verdict.in_order == (not verdict.misplaced)
    assert (verdict.fault == "none") == verdict.in_order


@pytest.mark.parametrize("turns", [0, 1, 2, 3])
def test_the_post_of_number_one_does_not_matter(turns: int) -> None:
    """1-4-3-2 may start at any post: the distributor can sit in four ways."""
    leads = [1, 4, 3, 2][turns:] + [1, 4, 3, 2][:turns]
    assert lead_order(firing_order=(1, 4, 3, 2), leads=leads, rotation="clockwise").in_order


def test_two_swapped_leads_are_named() -> None:
    """Six cylinders 1-5-3-6-2-4 with the leads of 3 and 6 crossed: exactly these posts, and the right leads for them."""
    verdict = lead_order(firing_order=(1, 5, 3, 6, 2, 4), leads=(1, 5, 6, 3, 2, 4), rotation="clockwise")
    assert verdict.fault == "two-swapped"
    assert verdict.misplaced == (2, 3)
    assert verdict.expected == (1, 5, 3, 6, 2, 4)


def test_leads_wound_the_wrong_way_round() -> None:
    """The right order for a rotor of the other rotation is told as such."""
    verdict = lead_order(firing_order=(1, 5, 3, 6, 2, 4), leads=(1, 4, 2, 6, 3, 5), rotation="clockwise")
    assert verdict.fault == "reversed"
    assert lead_order(firing_order=(1, 5, 3, 6, 2, 4), leads=(1, 4, 2, 6, 3, 5), rotation="anticlockwise").in_order


def test_no_repair_moves_fewer_leads() -> None:
    """Brute force over all 24 caps of a four-cylinder: no right cap differs in fewer posts than the one advised."""
    right = [cap for cap in permutations((1, 2, 3, 4)) if sparks(list(cap), "clockwise", 1) == [1, 4, 3, 2]]
    assert len(right) == 4
    for cap in permutations((1, 2, 3, 4)):
        verdict = lead_order(firing_order=(1, 4, 3, 2), leads=cap, rotation="clockwise")
        fewest = min(sum(a != b for a, b in zip(cap, other, strict=True)) for other in right)
        assert len(verdict.misplaced) == fewest


@pytest.mark.parametrize("order", [(), (1, 3, 4), (1, 1, 2), (0, 1, 2)])
def test_a_firing_order_names_each_cylinder_once(order: tuple[int, ...]) -> None:
    """Anything else is refused."""
    with pytest.raises(OutsideValidity) as refusal:
        lead_order(firing_order=order, leads=order, rotation="clockwise")
    assert refusal.value.field == "firing_order"


@pytest.mark.parametrize("leads", [(1, 4, 3), (1, 4, 3, 3), (1, 4, 3, 5)])
def test_leads_and_firing_order_must_name_the_same_cylinders(leads: tuple[int, ...]) -> None:
    """A missing or doubled lead contradicts the firing order."""
    with pytest.raises(Contradiction) as refusal:
        lead_order(firing_order=(1, 4, 3, 2), leads=leads, rotation="clockwise")
    assert refusal.value.fields == ("leads", "firing_order")
