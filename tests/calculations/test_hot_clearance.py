"""Clearances of hot parts against exact geometry, hand arithmetic and the rule of the trade."""

from math import isclose, pi

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.calculations.hot_clearance import hot_clearance, piston_clearance_swap, ring_gap_minimum, ring_gap_rule
from service.errors import OutsideValidity
from service.methods import method_of
from tests.published.cases import published

CASES = published("clearance")
expansions = st.floats(8e-6, 30e-6)
rises = st.floats(-60, 300)


def test_magnesium_case_opens_the_main_bearing() -> None:
    """By hand: 55 mm, 0.045 mm cold, case and journal 73 K up: 0.045 + 55 · (26.0 − 11.3)e-6 · 73 = 0.104 mm."""
    hot = hot_clearance(
        cold_clearance=0.045e-3,
        diameter=0.055,
        outer_expansion=26.0e-6,
        outer_temperature_rise=73,
        inner_expansion=11.3e-6,
        inner_temperature_rise=73,
    )
    assert hot * 1e3 == pytest.approx(0.045 + 55 * 14.7e-6 * 73, abs=2e-4)


@given(cold=st.floats(0, 0.5e-3), diameter=st.floats(0.015, 0.15), outer=expansions, inner=expansions, up=rises, rise=rises)
def test_hot_clearance_from_the_hot_sizes(
    cold: float, diameter: float, outer: float, inner: float, up: float, rise: float
) -> None:
    """Referee: the bore and the shaft grown one by one, then subtracted."""
    got = hot_clearance(
        cold_clearance=cold,
        diameter=diameter,
        outer_expansion=outer,
        outer_temperature_rise=up,
        inner_expansion=inner,
        inner_temperature_rise=rise,
    )
    hot_bore = (diameter + cold) * (1 + outer * up)
    hot_shaft = diameter * (1 + inner * rise)
    assert isclose(got, hot_bore - hot_shaft, rel_tol=0, abs_tol=1e-15)


@given(
    clearance=st.floats(0.02e-3, 0.2e-3), bore=st.floats(0.05, 0.13), known=expansions, new=expansions, rise=st.floats(0, 250)
)
def test_swapped_piston_runs_with_the_same_hot_clearance(
    clearance: float, bore: float, known: float, new: float, rise: float
) -> None:
    """Known and new piston, each grown in the same barrel, are left with the same clearance unless it would be below 0."""
    swapped = piston_clearance_swap(
        known_clearance=clearance, bore=bore, known_expansion=known, new_expansion=new, skirt_temperature_rise=rise
    )
    if swapped == 0:
        assert clearance <= bore * (known - new) * rise
        return
    hot_known = bore - (bore - clearance) * (1 + known * rise)
    hot_new = bore - (bore - swapped) * (1 + new * rise)
    # The clearance itself grows too: that is what the difference leaves out, some parts in a thousand of it.
    assert isclose(hot_new, hot_known, rel_tol=0, abs_tol=0.01 * max(swapped, clearance))


def test_forged_piston_by_difference() -> None:
    """By hand: a strutted piston right at 0.045 mm, forged 2618 in 86 mm, 110 K: 0.045 + 86 · 6.5e-6 · 110 = 0.106 mm."""
    swapped = piston_clearance_swap(
        known_clearance=0.045e-3, bore=0.086, known_expansion=16e-6, new_expansion=22.5e-6, skirt_temperature_rise=110
    )
    assert swapped * 1e3 == pytest.approx(0.1065, abs=1e-4)


@given(bore=st.floats(0.02, 0.2), ring=st.floats(0, 300), barrel=st.floats(0, 250), expansion=expansions)
def test_ring_at_its_minimum_gap_just_stays_open(bore: float, ring: float, barrel: float, expansion: float) -> None:
    """Referee: circumference of the hot bore less the hot length of the ring leaves the reserve, within its own growth."""
    gap = ring_gap_minimum(
        bore=bore,
        ring_expansion=expansion,
        ring_temperature_rise=ring,
        barrel_expansion=expansion,
        barrel_temperature_rise=barrel,
    )
    hot_gap = pi * bore * (1 + expansion * barrel) - (pi * bore - gap) * (1 + expansion * ring)
    if ring >= barrel:
        assert isclose(hot_gap, 0.05e-3, rel_tol=0, abs_tol=0.01 * gap)
    else:
        assert gap == 0.05e-3
        assert hot_gap > 0.05e-3 - 1e-15


def test_ring_gap_rule_is_labelled_and_in_its_band() -> None:
    """Case S10, shop practice from memory: 0.0035 to 0.0045 of the bore, and the method says it is common practice."""
    low, high = (float(end) for end in CASES["S10"]["expected"]["gap_per_bore"]["value"].split("-"))
    band = ring_gap_rule(bore=0.086)
    assert (band.low / 0.086, band.high / 0.086) == pytest.approx((low, high))
    assert method_of(ring_gap_rule).evidence == "common-practice"


def test_ring_gap_rule_lies_in_a_government_range() -> None:
    """TM 5-4320-234-34, air-cooled petrol engine of 87.31 mm: ring gap 0.007 to 0.017 in; the rule lies inside."""
    band = ring_gap_rule(bore=0.08731)
    assert 0.007 * 0.0254 < band.low < band.high < 0.017 * 0.0254


@pytest.mark.parametrize(
    ("field", "value"),
    [("diameter", 0.0), ("cold_clearance", -1e-6), ("outer_expansion", 26.0), ("inner_temperature_rise", 500.0)],
)
def test_impossible_bearings_are_refused(field: str, value: float) -> None:
    """Each value outside its range is refused by its own name; 26 for 26e-6 is the usual slip."""
    given_ = {
        "cold_clearance": 0.045e-3,
        "diameter": 0.055,
        "outer_expansion": 26.0e-6,
        "outer_temperature_rise": 73.0,
        "inner_expansion": 11.3e-6,
        "inner_temperature_rise": 73.0,
    }
    with pytest.raises(OutsideValidity) as refusal:
        hot_clearance(**{**given_, field: value})
    assert refusal.value.field == field


def test_shares_of_the_bore_must_be_in_order() -> None:
    """0.0045 to 0.0035 is refused."""
    with pytest.raises(OutsideValidity):
        ring_gap_rule(bore=0.086, low=0.0045, high=0.0035)
