"""Leak-down: two restrictions in series against an independent solver, real air and the government's limit."""

import math

import pytest
from CoolProp.CoolProp import PropsSI
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from service.calculations import leak_down
from service.errors import OutsideValidity
from tests.published.cases import published

CASES = published("cylinder_check")
PSI = 6894.757293
AIR = 101325.0

supplies = st.floats(0.5e5, 10e5)
orifices = st.floats(0.2e-3, 3e-3)
stations = st.floats(47e3, 108e3)
shares = st.floats(0.01, 0.999)


def test_the_government_limit() -> None:
    """AC 43.13-1B: 60 of 80 psi is a loss of a quarter."""
    case = CASES["S01"]
    supply = float(case["given"]["p_in"].split()[0])
    reading = float(case["expected"]["p_cyl"].split()[0])
    assert leak_down.leak_share(supply=supply, reading=reading) == pytest.approx(case["given"]["loss"], abs=1e-9)


def test_trade_limits() -> None:
    """Shop practice: under 10 % good, over 20 to 25 % repair; the verdicts lie on those lines."""
    case = CASES["S15"]["expected"]
    assert float(case["good_below"].split()[0]) / 100 == leak_down.FRESH_LIMIT
    assert float(case["repair_above"].split()[0]) / 100 == leak_down.STANDARD_LIMIT
    assert [leak_down.verdict_of(share=share) for share in (0.0, 0.10, 0.11, 0.25, 0.26)] == [
        "fresh", "fresh", "usable", "usable", "leaks",
    ]  # fmt: skip


def test_the_same_leak_on_two_testers() -> None:
    """60/80 through 1.016 mm is a 1.05 mm leak; the same leak reads 12/100 through 0.5 mm (handbook)."""
    leak = leak_down.leak_diameter(supply=80 * PSI, reading=60 * PSI, orifice=1.016e-3, station_pressure=AIR)
    assert leak == pytest.approx(1.05e-3, abs=0.01e-3)
    reading = leak_down.leak_reading(supply=100 * PSI, leak=leak, orifice=0.5e-3, station_pressure=AIR)
    assert reading / PSI == pytest.approx(12, abs=0.5)


def real_flow(upstream: float, downstream: float) -> float:
    """Real air through an ideal hole, per area: the best of all throat pressures down to the one behind (CoolProp)."""
    entropy = PropsSI("S", "P", upstream, "T", 293.15, "Air")
    enthalpy = PropsSI("H", "P", upstream, "T", 293.15, "Air")
    best = 0.0
    for step in range(1, 401):
        pressure = upstream - (upstream - downstream) * step / 400
        density = PropsSI("D", "P", pressure, "S", entropy, "Air")
        drop = enthalpy - PropsSI("H", "P", pressure, "S", entropy, "Air")
        best = max(best, density * math.sqrt(2 * max(drop, 0.0)))
    return best


@pytest.mark.parametrize("reading", [20.0, 40.0, 60.0, 72.0])
def test_leak_size_agrees_with_real_air(reading: float) -> None:
    """The ratio of two real flows gives the same leak within 0.5 %."""
    supply, inside = 80 * PSI + AIR, reading * PSI + AIR
    expected = 1.016e-3 * math.sqrt(real_flow(supply, inside) / real_flow(inside, AIR))
    ours = leak_down.leak_diameter(supply=80 * PSI, reading=reading * PSI, orifice=1.016e-3, station_pressure=AIR)
    assert ours == pytest.approx(expected, rel=5e-3)


@given(supplies, shares, orifices, stations)
def test_reading_and_leak_are_inverse(supply: float, share: float, orifice: float, station: float) -> None:
    """The leak that explains a reading gives that reading back on the same tester."""
    reading = share * supply
    leak = leak_down.leak_diameter(supply=supply, reading=reading, orifice=orifice, station_pressure=station)
    back = leak_down.leak_reading(supply=supply, leak=leak, orifice=orifice, station_pressure=station)
    assert back == pytest.approx(reading, rel=1e-6, abs=1e-3)


@given(supplies, st.floats(0.1e-3, 5e-3), orifices, stations)
def test_reading_agrees_with_another_solver(supply: float, leak: float, orifice: float, station: float) -> None:
    """Scipy's brentq on the two flows, written out with the textbook's choked constant 0.6847."""

    def flow(area: float, before: float, behind: float) -> float:
        x = max(behind / before, 0.528282)
        return area * before * math.sqrt(max(7 * (x ** (2 / 1.4) - x ** (2.4 / 1.4)), 0.0))

    def balance(inside: float) -> float:
        return flow(orifice**2, supply + station, inside) - flow(leak**2, inside, station)

    expected = brentq(balance, station, supply + station, xtol=1e-6) - station
    ours = leak_down.leak_reading(supply=supply, leak=leak, orifice=orifice, station_pressure=station)
    assert ours == pytest.approx(expected, rel=1e-5, abs=0.5)


@given(supplies, shares, shares, orifices, stations)
def test_a_lower_reading_is_a_larger_leak(s: float, first: float, second: float, orifice: float, station: float) -> None:
    """And the leak scales with the tester's orifice."""
    low, high = sorted((first, second))
    larger = leak_down.leak_diameter(supply=s, reading=low * s, orifice=orifice, station_pressure=station)
    smaller = leak_down.leak_diameter(supply=s, reading=high * s, orifice=orifice, station_pressure=station)
    assert larger >= smaller
    double = leak_down.leak_diameter(supply=s, reading=low * s, orifice=2 * orifice, station_pressure=station)
    assert double == pytest.approx(2 * larger, rel=1e-9)


@given(supplies, st.floats(0.001, 1.0), orifices, stations)
def test_a_larger_orifice_flatters(supply: float, share: float, orifice: float, station: float) -> None:
    """The same leak loses less on a tester with a larger hole: percent alone compares nothing."""
    leak = leak_down.leak_diameter(supply=supply, reading=share * supply, orifice=orifice, station_pressure=station)
    wide = leak_down.leak_reading(supply=supply, leak=leak, orifice=1.2 * orifice, station_pressure=station)
    assert wide >= share * supply * (1 - 1e-9)


def test_a_tight_cylinder_has_no_leak() -> None:
    """A reading of the full supply is a leak of zero on any tester."""
    leak = leak_down.leak_diameter(supply=5e5, reading=5e5, orifice=1e-3, station_pressure=AIR)
    assert leak == 0
    reading = leak_down.leak_reading(supply=7e5, leak=0.0, orifice=0.5e-3, station_pressure=AIR)
    assert reading == pytest.approx(7e5, rel=1e-9)


def test_verdict_does_not_depend_on_the_tester() -> None:
    """12/100 psi through 0.5 mm looks hopeless and is the very limit of AC 43.13-1B; on its own tester 60/80 is 25 %."""
    own = leak_down.on_standard_tester(supply=80 * PSI, reading=60 * PSI, orifice=1.016e-3, station_pressure=AIR)
    assert own.share == pytest.approx(0.25, abs=1e-6)
    assert own.verdict == "usable"
    small = leak_down.on_standard_tester(supply=100 * PSI, reading=12 * PSI, orifice=0.5e-3, station_pressure=AIR)
    assert small.share == pytest.approx(0.245, abs=0.015)
    assert small.leak == pytest.approx(own.leak, rel=0.03)


def test_readings_that_make_no_sense_are_refused() -> None:
    """More than the supply, nothing held at all, a tester without a hole."""
    with pytest.raises(OutsideValidity, match="exchanged"):
        leak_down.leak_diameter(supply=5e5, reading=6e5, orifice=1e-3, station_pressure=AIR)
    with pytest.raises(OutsideValidity, match="top dead centre"):
        leak_down.leak_diameter(supply=5e5, reading=0.0, orifice=1e-3, station_pressure=AIR)
    with pytest.raises(OutsideValidity, match="too small"):
        leak_down.leak_diameter(supply=5e5, reading=1e-13, orifice=1e-3, station_pressure=AIR)
    with pytest.raises(OutsideValidity) as refusal:
        leak_down.leak_reading(supply=5e5, leak=1e-3, orifice=0.0, station_pressure=AIR)
    assert refusal.value.field == "orifice"
    with pytest.raises(OutsideValidity) as refusal:
        leak_down.leak_reading(supply=5e5, leak=-1e-3, orifice=1e-3, station_pressure=AIR)
    assert refusal.value.field == "leak"
