"""Valve lash by growth, swap and frost: the consequences that the trade knows, and independent geometry."""

from dataclasses import replace
from math import cos, radians, sin, sqrt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.calculations.expansion import Segment
from service.calculations.lash import (
    ValveChain,
    chain_gap,
    lash_after_swap,
    lash_change,
    lash_change_per_kelvin,
    lash_for_hot_clearance,
)
from service.errors import OutsideValidity

approx = pytest.approx
MM = 1e-3
COLD = 293.15
STEEL, ALUMINIUM = 12.3e-6, 23.4e-6
ALLOY, CASE_ALLOY, IRON = 21.5e-6, 26.0e-6, 11.4e-6


def celsius(temperature: float) -> float:
    return temperature + 273.15


def chain(push_rod: float = STEEL, valve: str = "exhaust") -> ValveChain:
    """A typical air-cooled flat-four of light alloy, from memory; temperatures of steady running at load."""
    stem = (
        (Segment("intake valve", 110 * MM, 11.5e-6, celsius(170)),)
        if valve == "intake"
        else (
            Segment("exhaust stem", 80 * MM, 11.5e-6, celsius(240)),
            Segment("exhaust head", 30 * MM, 17.5e-6, celsius(600)),
        )
    )
    return ValveChain(
        rocker_ratio=1.0,
        support=(
            Segment("case", 85 * MM, CASE_ALLOY, celsius(90)),
            Segment("barrel", 130 * MM, IRON, celsius(160)),
            Segment("head", 120 * MM, ALLOY, celsius(150)),
        ),
        drive=(
            Segment("base circle", 15 * MM, 10.5e-6, celsius(90)),
            Segment("tappet", 45 * MM, 10.5e-6, celsius(90)),
            Segment("push rod", 275 * MM, push_rod, celsius(95)),
        ),
        seat=(Segment("seat to pivot", 100 * MM, ALLOY, celsius(150), body="head"),),
        valve=stem,
    )


def change(push_rod: float = STEEL, valve: str = "exhaust") -> float:
    return lash_change(
        chain=chain(push_rod, valve),
        setting_temperature=COLD,
        temperature_deviation=0.12,
        expansion_deviation=0.03,
    ).change


def swap(reference: float, old: float, new: float) -> tuple[float, float]:
    found = lash_after_swap(
        reference_lash=reference,
        rocker_ratio=1.0,
        rod_length=275 * MM,
        reference_expansion=old,
        expansion=new,
        temperature_rise=75.0,
        temperature_deviation=0.12,
        expansion_deviation=0.03,
    )
    return found.computed, found.setting


def test_aluminium_rods_ask_six_thousandths_and_steel_rods_none() -> None:
    """To keep 0.10 mm at the hot exhaust valve, the model asks about 0.006 in with aluminium rods and zero with steel.

    Trade practice, no document: 0.006 in (0.15 mm) and "turns freely, no play". The model alone is good to 0.1 mm, so
    it explains the figures; it does not replace them.
    """
    aluminium = lash_for_hot_clearance(hot_clearance=0.10 * MM, change=change(ALUMINIUM))
    steel = lash_for_hot_clearance(hot_clearance=0.10 * MM, change=change(STEEL))
    assert aluminium.setting == approx(0.006 * 25.4 * MM, abs=0.03 * MM)
    assert steel.computed < 0
    assert steel.setting == 0


def test_swap_from_aluminium_to_steel_gives_zero() -> None:
    """0.15 mm with aluminium becomes −0.079 with steel (by hand: 275 · 11.1e-6 · 75 = 0.229): set zero.

    The hot clearance is then 0.079 mm wider than the maker's, which is why the change makes no damage.
    """
    found = lash_after_swap(
        reference_lash=0.15 * MM,
        rocker_ratio=1.0,
        rod_length=275 * MM,
        reference_expansion=ALUMINIUM,
        expansion=STEEL,
        temperature_rise=75.0,
        temperature_deviation=0.12,
        expansion_deviation=0.03,
    )
    assert found.computed == approx(-0.079 * MM, abs=0.001 * MM)
    assert found.setting == 0
    assert found.hot_change == approx(0.079 * MM, abs=0.001 * MM)
    assert 2 * found.standard_uncertainty == approx(0.064 * MM, abs=0.001 * MM)


def test_the_swap_is_the_difference_of_two_whole_chains() -> None:
    """Everything but the rod cancels: the short formula and the two long ones agree to 1e-12 m, for both valves."""
    for valve in ("intake", "exhaust"):
        long = 0.15 * MM + change(ALUMINIUM, valve) - change(STEEL, valve)
        assert swap(0.15 * MM, ALUMINIUM, STEEL)[0] == approx(long, abs=1e-12)


def test_the_exhaust_valve_is_the_one_that_limits() -> None:
    """Its head at 600 °C grows most: with either rod its clearance opens less, and with aluminium rods it closes."""
    for rod in (STEEL, ALUMINIUM):
        assert change(rod, "exhaust") < change(rod, "intake")
    assert change(ALUMINIUM, "exhaust") < 0 < change(ALUMINIUM, "intake")


def test_frost_holds_steel_rod_valves_open() -> None:
    """Set at 20 °C to zero and started at −15 °C, steel rods lose about 0.1 mm, aluminium rods next to nothing."""
    for valve in ("intake", "exhaust"):
        steel = lash_change_per_kelvin(chain=chain(STEEL, valve)) * -35
        aluminium = lash_change_per_kelvin(chain=chain(ALUMINIUM, valve)) * -35
        assert -0.15 * MM < steel < -0.05 * MM
        assert abs(aluminium) < 0.02 * MM
        assert aluminium - steel == approx(275 * MM * 11.1e-6 * 35)


def test_an_engine_of_one_metal_keeps_its_lash_in_frost() -> None:
    """If every part were alike and the chain closes, cold could not change the clearance (single-material null)."""
    one = ValveChain(
        rocker_ratio=1.0,
        support=(Segment("all", 0.335, STEEL, 400.0),),
        drive=(Segment("rod", 0.335, STEEL, 400.0),),
        seat=(Segment("seat", 0.1, STEEL, 400.0),),
        valve=(Segment("valve", 0.1, STEEL, 400.0),),
    )
    assert lash_change_per_kelvin(chain=one) == approx(0, abs=1e-15)
    found = lash_change(chain=one, setting_temperature=COLD, temperature_deviation=0.1, expansion_deviation=0.0)
    assert found.change == approx(0, abs=1e-15)


def test_rocker_ratio_against_a_rigid_rocker() -> None:
    """A rocker turned about its pivot: lifting its push-rod end by 0.3 mm lowers its valve end by R times, to 2e-4.

    Rigid-body rotation with arms of 30 and 33 mm, pivot raised by 0.1 mm, worked with sine and cosine.
    """
    arm_in, arm_out, lift, pivot = 30 * MM, 33 * MM, 0.3 * MM, 0.1 * MM
    angle = (lift - pivot) / arm_in
    for _ in range(50):
        angle += ((lift - pivot) - arm_in * sin(angle)) / (arm_in * cos(angle))
    gap = pivot + pivot * 0 - arm_out * sin(angle)  # the valve end sinks, the pivot's own rise opens
    ratio = arm_out / arm_in
    straight = ValveChain(
        rocker_ratio=ratio,
        support=(Segment("support", 1.0, 1e-5, COLD + pivot / 1e-5),),
        drive=(Segment("drive", 1.0, 1e-5, COLD + lift / 1e-5),),
        seat=(Segment("seat", 1.0, 1e-5, COLD + pivot / 1e-5),),
        valve=(),
    )
    found = lash_change(chain=straight, setting_temperature=COLD, temperature_deviation=0.0, expansion_deviation=0.0)
    assert found.change == approx(gap, rel=2e-4)


def test_uncertainty_against_monte_carlo() -> None:
    """100 000 engines with temperatures off by 12 % and coefficients by 3 %, body by body: the same deviation within 2 %.

    It comes to about 0.1 mm, as much as the lash itself: a model of one engine alone is no figure to set.
    """
    rng = np.random.default_rng(5)
    built = chain(ALUMINIUM, "exhaust")
    factors = {
        body: rng.normal(1, 0.12, 100_000) * rng.normal(1, 0.03, 100_000)
        for body in ("case", "barrel", "head", "base circle", "tappet", "push rod", "exhaust stem", "exhaust head")
    }
    total = np.zeros(100_000)
    for side, sign in ((built.support, 1), (built.drive, -1), (built.seat, 1), (built.valve, -1)):
        for part in side:
            growth = part.length * part.expansion * (part.temperature - COLD)
            total += sign * growth * factors[part.body or part.name]
    found = lash_change(chain=built, setting_temperature=COLD, temperature_deviation=0.12, expansion_deviation=0.03)
    assert found.standard_uncertainty == approx(float(np.std(total)), rel=0.02)
    assert found.standard_uncertainty == approx(0.1 * MM, abs=0.02 * MM)
    assert found.change == approx(sum(growth for _, growth in found.bodies))


@given(lash=st.floats(0, 1.5e-3), old=st.floats(8e-6, 3e-5), new=st.floats(8e-6, 3e-5))
def test_swapping_there_and_back(lash: float, old: float, new: float) -> None:
    """The way back undoes the way there, unless zero was reached; less growth never asks for more lash."""
    there, setting = swap(lash, old, new)
    assert setting == max(0.0, there)
    if there >= 0:
        assert swap(there, new, old)[0] == approx(lash, abs=1e-12)
    if new < old:
        assert there <= lash


@given(hot=st.floats(0, 5e-4), moved=st.floats(-1e-3, 1e-3))
def test_solved_cold_lash_leaves_the_hot_clearance(hot: float, moved: float) -> None:
    """Cold lash and change add up to the hot clearance, or to more where zero lash already leaves more."""
    found = lash_for_hot_clearance(hot_clearance=hot, change=moved)
    assert found.setting >= 0
    assert found.setting + moved >= hot - 1e-15
    assert found.computed + moved == approx(hot, abs=1e-15)


def test_hotter_rods_close_the_clearance() -> None:
    """Push rod 20 K hotter: 275 · 12.3e-6 · 20 = 0.068 mm less (by hand), times the rocker ratio."""
    built = chain()
    hotter = replace(built, drive=(*built.drive[:2], built.drive[2]._replace(temperature=built.drive[2].temperature + 20)))
    moved = [
        lash_change(chain=c, setting_temperature=COLD, temperature_deviation=0.0, expansion_deviation=0.0).change
        for c in (built, hotter)
    ]
    assert moved[0] - moved[1] == approx(0.06765 * MM)


def test_the_typical_chain_closes() -> None:
    """Case, barrel and head span what base circle, tappet and rod span; a rod 20 mm short would show."""
    built = chain()
    assert chain_gap(chain=built) == approx(0, abs=1e-12)
    short = replace(built, drive=built.drive[:2])
    assert chain_gap(chain=short) == approx(275 * MM)


def test_leaning_rod_is_within_the_slack() -> None:
    """A push rod leaning 10° stands 275 · (1 − cos 10°) = 4.2 mm less high: well inside the 15 mm asked about."""
    assert 275 - sqrt(275**2 - (275 * sin(radians(10))) ** 2) == approx(4.18, abs=0.01)


def test_refusals() -> None:
    """A lash below zero, no rod, no rocker, a held-open valve as aim: refused by field."""
    with pytest.raises(OutsideValidity):
        swap(-0.1 * MM, ALUMINIUM, STEEL)
    with pytest.raises(OutsideValidity):
        lash_for_hot_clearance(hot_clearance=-0.01 * MM, change=0.0)
    with pytest.raises(OutsideValidity) as refusal:
        lash_change(
            chain=replace(chain(), rocker_ratio=0.0),
            setting_temperature=COLD,
            temperature_deviation=0.1,
            expansion_deviation=0.0,
        )
    assert refusal.value.field == "rocker_ratio"
    with pytest.raises(OutsideValidity):
        lash_change(chain=chain(), setting_temperature=COLD, temperature_deviation=-0.1, expansion_deviation=0.0)
    with pytest.raises(OutsideValidity) as refusal:
        lash_after_swap(
            reference_lash=0.1 * MM,
            rocker_ratio=1.0,
            rod_length=0.0,
            reference_expansion=ALUMINIUM,
            expansion=STEEL,
            temperature_rise=75.0,
            temperature_deviation=0.12,
            expansion_deviation=0.03,
        )
    assert refusal.value.field == "rod_length"
