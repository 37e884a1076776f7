"""Cam and tappet contact against scipy's integrals, a numerical pressure field, a known approximation and limits."""

from math import pi, sqrt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.special import ellipe, ellipkm1

from service.calculations.cam_lobe import lobe_from_durations, lobe_table
from service.calculations.contact import (
    contact_modulus,
    crowned_pressure,
    entrainment_speed,
    film_ratio,
    line_film,
    line_pressure,
)
from service.calculations.valve_spring import nose_load
from service.errors import OutsideValidity

MODULUS = contact_modulus(modulus=150e9, poisson=0.26, other_modulus=150e9, other_poisson=0.26)
LOAD = st.floats(1, 5000)
RADIUS = st.floats(0.001, 0.05)


@given(LOAD, RADIUS, st.floats(0.05, 20), st.floats(3e10, 1.2e11))
def test_ellipse_satisfies_hertz(load: float, cam: float, crown: float, modulus: float) -> None:
    """Johnson 4.26: with scipy's elliptic integrals the found ellipse has both relative curvatures and carries the load."""
    found = crowned_pressure(load=load, cam_radius=cam, crown_radius=crown, modulus=modulus)
    a, b, p0 = found.long_half_axis, found.short_half_axis, found.peak_pressure
    small = (b / a) ** 2
    first, second, parameter = ellipkm1(small), ellipe(1 - small), 1 - small
    along = p0 * b * (first - second) / (parameter * a * a * modulus)
    across = p0 * b * (second / small - first) / (parameter * a * a * modulus)
    assert along == pytest.approx(1 / (2 * crown), rel=1e-6)
    assert across == pytest.approx((1 / crown + 1 / cam) / 2, rel=1e-6)
    assert 2 / 3 * pi * a * b * p0 == pytest.approx(load, rel=1e-9)


def test_ellipse_against_hertz_integral() -> None:
    """The displacement integral ∫ dw / √((a²+w)³(b²+w)w), taken numerically by scipy, gives the tappet's curvature."""
    found = crowned_pressure(load=599.0, cam_radius=0.0075, crown_radius=1.0, modulus=MODULUS)
    a, b, p0 = found.long_half_axis, found.short_half_axis, found.peak_pressure

    def integrand(u: float) -> float:
        w = u * u  # takes the root out of the lower end
        return 2 / sqrt((a * a + w) ** 3 * (b * b + w))

    value = quad(integrand, 0, b, limit=400)[0] + quad(integrand, b, 1.0, limit=400)[0]
    curvature = pi * p0 * a * b / 2 * value / (pi * MODULUS)
    assert curvature == pytest.approx(1 / (2 * 1.0), rel=1e-5)


@given(RADIUS, st.floats(1.05, 100))
def test_ellipticity_is_near_hamrock_and_brewes_fit(cam: float, ratio: float) -> None:
    """1.0339 (B/A)^0.636, a published fit, is within 8 % of the exact ratio of axes up to 100."""
    crown = (ratio - 1) * cam
    found = crowned_pressure(load=100.0, cam_radius=cam, crown_radius=crown, modulus=MODULUS)
    assert found.long_half_axis / found.short_half_axis == pytest.approx(1.0339 * ratio**0.636, rel=0.08)


def test_ball_on_a_plane() -> None:
    """A cam without curvature leaves a ball on a plane: a³ = 3 F R / 4 E*."""
    found = crowned_pressure(load=100.0, cam_radius=1e15, crown_radius=0.01, modulus=75e9)
    assert found.long_half_axis == pytest.approx((3 * 100 * 0.01 / (4 * 75e9)) ** (1 / 3), rel=1e-9)
    assert found.long_half_axis == found.short_half_axis


@given(LOAD, st.floats(0.005, 0.03), RADIUS, st.floats(3e10, 1.2e11))
def test_line_pressure_carries_the_load(load: float, width: float, radius: float, modulus: float) -> None:
    """Half an ellipse of pressure over 2b, b = 2F/(π p₀ w), holds the load, and b has Hertz's curvature 4Fρ/(π w E*)."""
    p0 = line_pressure(load=load, width=width, radius=radius, modulus=modulus)
    half = 2 * load / (pi * p0 * width)
    assert half**2 == pytest.approx(4 * load * radius / (pi * width * modulus), rel=1e-9)
    across = np.linspace(-half, half, 20001)
    carried = np.trapezoid(p0 * np.sqrt(np.maximum(0, 1 - (across / half) ** 2)), across) * width
    assert carried == pytest.approx(load, rel=1e-4)


def test_handbook_pressures_at_the_nose() -> None:
    """599 N on the nose of the 8.4 mm lobe: 385 MPa flat over 13.7 mm, 739 MPa under a crown of 1 m.

    The handbook prints both pressures but neither width nor modulus: with iron of 150 GPa one pressure gives the width,
    and the other must then agree.
    """
    lobe = lobe_table(
        lobe=lobe_from_durations(
            cam_lift=0.0084,
            advertised_duration=276 * pi / 180,
            advertised_checking_lift=0.0003,
            checked_duration=236 * pi / 180,
        )
    )
    nose = int(np.argmax(lobe.lift))
    radius = 0.0155 + float(lobe.lift[nose]) + float(lobe.acceleration[nose])
    assert line_pressure(load=599.0, width=0.0137, radius=radius, modulus=MODULUS) == pytest.approx(385e6, rel=0.01)
    crowned = crowned_pressure(load=599.0, cam_radius=radius, crown_radius=1.0, modulus=MODULUS)
    assert crowned.peak_pressure == pytest.approx(739e6, rel=0.02)


@pytest.mark.parametrize(("rpm", "speed"), [(800, 0.18), (1500, 0.35), (2000, 0.46), (2500, 0.58), (3000, 0.69)])
def test_handbook_entrainment(rpm: float, speed: float) -> None:
    """0.18 m/s at 800 and 0.69 m/s at 3000 rpm on the nose of that lobe, to the printed digit."""
    found = entrainment_speed(cam_speed=rpm * pi / 60, base_circle_radius=0.0155, lift=0.0084, acceleration=-0.01635)
    assert found == pytest.approx(speed, abs=0.006)


def test_speed_builds_the_film_and_unloads_the_nose() -> None:
    """Why the first minutes run fast: from 800 to 2000 rpm the film doubles (25 to 49 nm) while the load falls 10 %.

    Ratios of the handbook's table: the film's grows as u^0.7, whatever oil and width.
    """

    def at(rpm: float) -> tuple[float, float]:
        load = nose_load(
            rocker_ratio=1.1, open_load=555.0, effective_mass=0.33, nose_acceleration=-0.01635, cam_speed=rpm * pi / 60
        )
        speed = entrainment_speed(cam_speed=rpm * pi / 60, base_circle_radius=0.0155, lift=0.0084, acceleration=-0.01635)
        film = line_film(
            load=load,
            width=0.014,
            radius=0.00755,
            modulus=MODULUS,
            viscosity=0.012,
            pressure_viscosity=1.8e-8,
            speed=speed,
        )
        return load, film

    slow, fast = at(800), at(2000)
    assert fast[1] / slow[1] == pytest.approx(49 / 25, rel=0.04)
    assert fast[0] / slow[0] == pytest.approx(538 / 599, rel=0.005)


@given(st.floats(0.01, 20), st.floats(0.002, 0.2), st.floats(10, 3000), st.floats(0.004, 0.03))
def test_film_follows_its_exponents(speed: float, viscosity: float, load: float, radius: float) -> None:
    """Speed and viscosity count alike with 0.7, load with −0.13; the film ratio is what is left over the roughness."""

    def film(**changed: float) -> float:
        asked = {"load": load, "viscosity": viscosity, "speed": speed, "radius": radius} | changed
        return line_film(width=0.014, modulus=1e11, pressure_viscosity=2e-8, **asked)

    assert film(speed=2 * speed) == pytest.approx(film(viscosity=2 * viscosity), rel=1e-12)
    assert film(speed=2 * speed) / film() == pytest.approx(2**0.7, rel=1e-12)
    assert film(load=2 * load) / film() == pytest.approx(2**-0.13, rel=1e-12)
    assert film_ratio(film=film(), roughness=film() / 2) == pytest.approx(2)


def test_entrainment_stops_twice_in_a_lift() -> None:
    """r_b + s + 2 s'' changes sign on both sides of the nose, so no speed keeps a film over the whole lobe."""
    lobe = lobe_table(
        lobe=lobe_from_durations(
            cam_lift=0.0084,
            advertised_duration=276 * pi / 180,
            advertised_checking_lift=0.0003,
            checked_duration=236 * pi / 180,
        )
    )
    signed = 0.0155 + lobe.lift + 2 * lobe.acceleration
    assert int(np.count_nonzero(np.diff(np.sign(signed)))) == 2


def test_nothing_drawn_in_is_no_film_and_senseless_values_are_refused() -> None:
    """A standing cam has no film; lengths, loads and moduli of zero name their field."""
    assert line_film(
        load=1, width=0.01, radius=0.01, modulus=1e11, viscosity=0.01, pressure_viscosity=2e-8, speed=0.0
    ) == pytest.approx(0)
    assert line_pressure(load=0.0, width=0.01, radius=0.01, modulus=1e11) == pytest.approx(0)
    with pytest.raises(OutsideValidity) as crown:
        crowned_pressure(load=100, cam_radius=0.01, crown_radius=0.0, modulus=1e11)
    assert crown.value.field == "crown_radius"
    with pytest.raises(OutsideValidity) as roughness:
        film_ratio(film=1e-7, roughness=0.0)
    assert roughness.value.field == "roughness"
    with pytest.raises(OutsideValidity) as width:
        line_pressure(load=1.0, width=0.0, radius=0.01, modulus=1e11)
    assert width.value.field == "width"
