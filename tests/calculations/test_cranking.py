"""Effective ratio and cranking pressure against bisection, Cantera's air and worked cams."""

from math import cos, pi, radians, sin, sqrt

import cantera
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from service.calculations.atmosphere import standard_pressure
from service.calculations.cranking import cranking_pressure, effective_ratio, intake_closing_angle, polytropic_pressure
from service.errors import Contradiction, OutsideValidity

approx = pytest.approx
ENGINE = {"bore": 0.086, "stroke": 0.073, "rod_length": 0.136, "clearance_volume": 59.4706e-6}


def band(effective: float, altitude: float = 0.0) -> tuple[float, float, float]:
    return cranking_pressure(
        atmospheric_pressure=standard_pressure(altitude=altitude),
        effective_ratio=effective,
        exponent=1.24,
        exponent_deviation=0.04,
        filling=0.98,
        filling_deviation=0.03,
    )


def test_cam_card_to_intake_closing() -> None:
    """276° advertised and 236° at 0.050 in, lobe centre 104°: closing 62° and 42° after bottom dead centre (by hand)."""
    closings = [intake_closing_angle(duration=radians(duration), lobe_centre=radians(104)) for duration in (276, 236)]
    assert closings == approx([radians(62), radians(42)])


def test_the_two_bases_differ_by_eight_tenths() -> None:
    """8.13:1 with that cam: 6.62 at the advertised closing, 7.43 at 0.050 in. They are two numbers, never one."""
    advertised, checked = (effective_ratio(**ENGINE, intake_closing=radians(closing)) for closing in (62, 42))
    assert advertised == approx(6.62, abs=0.01)
    assert checked == approx(7.43, abs=0.01)


@given(closing=st.floats(0, 110), stroke=st.floats(0.03, 0.2), rod_ratio=st.floats(1.2, 3))
def test_effective_ratio_against_root_finding(closing: float, stroke: float, rod_ratio: float) -> None:
    """Root finding (scipy, brentq) on the loop of crank and rod gives the same piston height."""
    rod, radius, angle = rod_ratio * stroke, stroke / 2, pi + radians(closing)
    height = brentq(
        lambda s: (s - radius * cos(angle)) ** 2 + (radius * sin(angle)) ** 2 - rod * rod,
        radius * cos(angle),
        radius + rod + 1e-6,
        xtol=1e-14,
    )
    expected = 1 + pi / 4 * 0.086**2 * (radius + rod - height) / 60e-6
    found = effective_ratio(bore=0.086, stroke=stroke, rod_length=rod, clearance_volume=60e-6, intake_closing=radians(closing))
    assert found == approx(expected, rel=1e-9)


@given(closing=st.floats(0, 109), later=st.floats(0.1, 1))
def test_later_closing_leaves_less(closing: float, later: float) -> None:
    """At bottom dead centre the effective ratio is the geometric one; every degree later takes from it."""
    at = effective_ratio(**ENGINE, intake_closing=radians(closing))
    assert effective_ratio(**ENGINE, intake_closing=radians(closing + later)) < at
    whole = 1 + pi / 4 * 0.086**2 * 0.073 / ENGINE["clearance_volume"]
    assert effective_ratio(**ENGINE, intake_closing=0.0) == approx(whole)
    assert at <= whole * (1 + 1e-12)


def test_gauge_of_the_example_engine() -> None:
    """6.62 effective: 9.3 ± 1.7 bar (135 psi) at sea level and 7.8 bar at 1500 m (worked by hand from the formula)."""
    low, nominal, high = band(6.62)
    assert nominal == approx(9.33e5, abs=2e3)
    assert (high - low) / 2 == approx(1.69e5, abs=2e3)
    assert nominal / 6894.757 == approx(135, abs=1)
    assert band(6.62, altitude=1500)[1] == approx(7.8e5, abs=0.02e5)


def test_band_against_monte_carlo() -> None:
    """100 000 draws of exponent and filling with a fixed seed: two standard deviations agree within 2 %."""
    rng = np.random.default_rng(11)
    exponent, filling = rng.normal(1.24, 0.04, 100_000), rng.normal(0.98, 0.03, 100_000)
    pressure = 101325 * (filling * 6.62**exponent - 1)
    low, _, high = band(6.62)
    assert (high - low) / 2 == approx(2 * float(np.std(pressure)), rel=0.02)


def test_isentropic_air_bounds_the_gauge() -> None:
    """Cantera's real air, compressed without loss from 330 K, follows an exponent of 1.39; the band lies below it."""
    air = cantera.Solution("air.yaml")
    air.TPX = 330.0, 101325.0, "O2:0.2095, N2:0.7809, AR:0.0093"
    entropy, volume = air.entropy_mass, air.volume_mass
    air.SV = entropy, volume / 6.62
    exponent = np.log(air.P / 101325.0) / np.log(6.62)
    assert float(exponent) == approx(1.39, abs=0.01)
    assert band(6.62)[2] < air.P - 101325.0
    assert polytropic_pressure(pressure=101325.0, volume_ratio=6.62, exponent=float(exponent)) == approx(air.P)


@given(effective=st.floats(1.5, 16), altitude=st.floats(-400, 5900))
def test_pressure_falls_with_altitude_and_stays_in_order(effective: float, altitude: float) -> None:
    """Low < nominal < high, all finite, and the gauge reads in proportion to the air."""
    low, nominal, high = band(effective, altitude)
    assert low < nominal < high
    assert nominal / standard_pressure(altitude=altitude) == approx(band(effective)[1] / 101325.0, rel=1e-4)
    assert band(effective, altitude + 100)[2] < high


def test_offset_pin_shifts_a_little() -> None:
    """1.5 mm of pin offset moves the effective ratio by less than 0.1: by the exact mechanism, worked with vectors."""
    radius, rod, angle = 0.0365, 0.136, pi + radians(62)
    found = effective_ratio(**ENGINE, intake_closing=radians(62), pin_offset=0.0015)
    assert abs(found - effective_ratio(**ENGINE, intake_closing=radians(62))) < 0.1
    plain = radius * (1 - cos(angle)) + rod - sqrt(rod * rod - (radius * sin(angle)) ** 2)
    assert (found - 1) * ENGINE["clearance_volume"] / (pi / 4 * 0.086**2) == approx(plain, abs=0.001)


def test_refusals() -> None:
    """Cam degrees, no room, a short rod, a ratio below one: each is refused with what to send instead."""
    with pytest.raises(OutsideValidity, match="crank degrees"):
        effective_ratio(**ENGINE, intake_closing=radians(111))
    with pytest.raises(OutsideValidity):
        effective_ratio(**{**ENGINE, "clearance_volume": 0.0}, intake_closing=0.5)
    with pytest.raises(Contradiction):
        effective_ratio(**{**ENGINE, "rod_length": 0.03}, intake_closing=0.5)
    with pytest.raises(OutsideValidity):
        band(0.9)
    with pytest.raises(OutsideValidity):
        cranking_pressure(
            atmospheric_pressure=0.0,
            effective_ratio=7.0,
            exponent=1.24,
            exponent_deviation=0.04,
            filling=0.98,
            filling_deviation=0.03,
        )
