"""Valve setting positions against remembered shop tables, brute-force cam angles and exhaustive search."""

from itertools import combinations
from math import degrees, pi, radians

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.calculations.set_cover import smallest_cover
from service.calculations.valve_events import TimingCard
from service.calculations.valve_order import CrankPosition, firing_angles, valve_order
from service.errors import Contradiction, OutsideValidity

CARD = TimingCard(radians(32.5), radians(60.5), radians(70.5), radians(32.5))
MARGIN = radians(15)
SHORT = {"intake": "in", "exhaust": "ex"}


def names(position: CrankPosition) -> set[str]:
    """Such as ``1in``."""
    return {f"{setting.cylinder}{SHORT[setting.valve]}" for setting in position.settings}


def test_handbook_table_of_the_flat_four() -> None:
    """1-4-3-2 at 0, 180, 360 and 540°: the handbook's table, worked apart; 0 and 360 suffice."""
    found = valve_order(firing_order=(1, 4, 3, 2), card=CARD, margin=MARGIN)
    table = {round(degrees(position.crank_angle)): names(position) for position in found.positions}
    assert table == {
        0: {"1in", "1ex", "2in", "4ex"},
        180: {"1in", "3ex", "4in", "4ex"},
        360: {"2ex", "3in", "3ex", "4in"},
        540: {"1ex", "2in", "2ex", "3in"},
    }
    assert [round(degrees(found.positions[index].crank_angle)) for index in found.fewest] == [0, 360]
    assert [round(degrees(position.mark)) for position in found.positions] == [0, 180, 0, 180]
    assert [position.firing for position in found.positions] == [1, 4, 3, 2]


@pytest.mark.parametrize(
    ("order", "first", "second"),
    [
        ((1, 3, 4, 2), {"1in", "1ex", "2in", "3ex"}, {"2ex", "3in", "4in", "4ex"}),
        (
            (1, 5, 3, 6, 2, 4),
            {"1in", "1ex", "2in", "3ex", "4in", "5ex"},
            {"2ex", "3in", "4ex", "5in", "6in", "6ex"},
        ),
    ],
)
def test_two_position_tables_of_the_trade(order: tuple[int, ...], first: set[str], second: set[str]) -> None:
    """The two-position tables of the in-line four and six (from memory) are among what 0 and 360° leave free."""
    found = valve_order(firing_order=order, card=CARD, margin=MARGIN)
    assert found.least_number == 2
    half = len(order) // 2
    assert found.fewest == (0, half)
    assert first <= names(found.positions[0])
    assert second <= names(found.positions[half])


@given(
    st.integers(1, 16).flatmap(lambda count: st.permutations(range(1, count + 1))),
    st.tuples(*[st.floats(-0.4, 2.0)] * 4),
    st.floats(0, 0.6),
    st.integers(1, 72),
)
def test_a_valve_is_free_only_on_its_base_circle(
    order: list[int], events: tuple[float, float, float, float], margin: float, positions: int
) -> None:
    """Stepping every valve's open span in whole degrees marks the same valves as not free, for any order and card."""
    found = valve_order(firing_order=order, card=TimingCard(*events), margin=margin, positions=positions)
    spans = {"intake": (2 * pi - events[0], 3 * pi + events[1]), "exhaust": (pi - events[2], 2 * pi + events[3])}
    for position in found.positions:
        free = {(setting.cylinder, setting.valve): setting.room for setting in position.settings}
        for place, cylinder in enumerate(order):
            own = position.crank_angle - place * 4 * pi / len(order)
            for valve, (opens, shuts) in spans.items():
                # Distance into the open span (with ramps), trying every turn of the cycle.
                depth = max(
                    min(own + turn - (opens - margin), shuts + margin - (own + turn))
                    for turn in (-8 * pi, -4 * pi, 0.0, 4 * pi, 8 * pi)
                )
                if abs(depth) > 1e-6:
                    assert ((cylinder, valve) in free) == (depth < 0)
                    if depth < 0:
                        assert free[cylinder, valve] == pytest.approx(-depth, abs=1e-9)  # type: ignore[index]


@given(st.lists(st.integers(0, 2**9 - 1), max_size=9))
def test_smallest_cover_agrees_with_exhaustive_search(sets: list[int]) -> None:
    """No smaller choice of sets has the same union, by trying every one."""
    union = 0
    for mask in sets:
        union |= mask
    found = smallest_cover(sets)
    covered = 0
    for index in found:
        covered |= sets[index]
    assert covered == union
    for size in range(len(found)):
        for choice in combinations(sets, size):
            part = 0
            for mask in choice:
                part |= mask
            assert part != union


@given(st.integers(1, 16).flatmap(lambda count: st.permutations(range(1, count + 1))))
def test_every_valve_is_reached_at_the_firing_top_dead_centres(order: list[int]) -> None:
    """An even-fire engine leaves both valves of the firing cylinder free, so no valve is out of reach."""
    found = valve_order(firing_order=order, card=CARD, margin=MARGIN)
    assert found.unreached == ()
    for position in found.positions:
        assert {f"{position.firing}in", f"{position.firing}ex"} <= names(position)


def test_one_and_two_cylinders() -> None:
    """A single has one position; a twin with even firing needs two turns, at the same mark of the pulley."""
    single = valve_order(firing_order=(1,), card=CARD, margin=MARGIN)
    assert names(single.positions[0]) == {"1in", "1ex"}
    assert single.least_number == 1
    twin = valve_order(firing_order=(1, 2), card=CARD, margin=MARGIN)
    assert [round(degrees(position.crank_angle)) for position in twin.positions] == [0, 360]
    assert [position.mark for position in twin.positions] == [0.0, 0.0]


def test_odd_fire_engine_with_all_its_angles() -> None:
    """A 90° twin on one pin fires at 0 and 450°; the second cylinder's valves are free at its own firing centre."""
    found = valve_order(firing_order=(1, 2), card=CARD, margin=MARGIN, firing=(0.0, radians(450)))
    assert [round(degrees(position.crank_angle)) for position in found.positions] == [0, 450]
    assert {"2in", "2ex"} <= names(found.positions[1])
    assert round(degrees(found.positions[1].mark)) == 90


def test_a_valve_out_of_reach_is_named() -> None:
    """With one position for a four not every valve is reached, and the rest are listed, not passed over."""
    found = valve_order(firing_order=(1, 4, 3, 2), card=CARD, margin=MARGIN, positions=1)
    assert found.unreached == ((2, "exhaust"), (3, "intake"), (3, "exhaust"), (4, "intake"))


@pytest.mark.parametrize("order", [(1, 1, 2), (2, 3), (), (0, 1), tuple(range(1, 18))])
def test_a_firing_order_is_a_permutation(order: tuple[int, ...]) -> None:
    """Missing, doubled and too many cylinders are refused by name."""
    with pytest.raises(OutsideValidity) as refusal:
        firing_angles(firing_order=order)
    assert refusal.value.field == "firing_order"


def test_other_refusals() -> None:
    """Too many positions, a negative margin, a valve that never shuts, angles that do not match."""
    with pytest.raises(OutsideValidity) as positions:
        valve_order(firing_order=(1, 2), card=CARD, margin=MARGIN, positions=73)
    assert positions.value.field == "positions"
    with pytest.raises(OutsideValidity) as margin:
        valve_order(firing_order=(1, 2), card=CARD, margin=-0.1)
    assert margin.value.field == "margin"
    with pytest.raises(OutsideValidity) as always:
        valve_order(firing_order=(1, 2), card=CARD, margin=radians(230))
    assert always.value.field == "intake_closing"
    for firing in ((0.0,), (0.0, 13.0), (1.0, 2.0), (0.0, 0.0)):
        with pytest.raises(Contradiction):
            valve_order(firing_order=(1, 2), card=CARD, margin=MARGIN, firing=firing)
