"""Loads of the moving parts and the speeds that keep them, against hand figures and inverse pairs."""

from math import pi

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.calculations.crank_loads import (
    rod_joint_load,
    separation_margin,
    skirt_to_counterweight,
    speed_at_mean_piston_speed,
    speed_at_peak_acceleration,
)
from service.calculations.piston_motion import mean_piston_speed, peak_acceleration, piston_position
from service.errors import Contradiction, OutsideValidity

RPM = pi / 30
SPEED = st.floats(10, 1600)
STROKE = st.floats(0.020, 0.250)
RATIO = st.floats(0.8, 4)


def test_handbook_joint_load_and_speed_limit() -> None:
    """Rod of 12.9 kN at 5500 rpm and 15 m/s at 6164 rpm for 73 × 136 mm, worked apart in the handbook.

    12.9 kN is 0.59 kg of piston at 15 358 m/s² and 0.32 kg of rotating rod above the cap at 12 108 m/s².
    """
    load = rod_joint_load(
        reciprocating_mass=0.59, rotating_mass=0.44, cap_mass=0.12, stroke=0.073, rod_length=0.136, speed=5500 * RPM
    )
    assert load == pytest.approx(0.59 * 15358 + 0.32 * 0.0365 * (5500 * RPM) ** 2, rel=1e-4)
    assert load == pytest.approx(12.9e3, abs=50)
    assert speed_at_mean_piston_speed(mean_piston_speed=15.0, stroke=0.073) / RPM == pytest.approx(6164, abs=1)


@given(STROKE, SPEED)
def test_piston_speed_and_its_inverse(stroke: float, speed: float) -> None:
    """The speed of the crank at a mean piston speed gives that piston speed back."""
    piston = mean_piston_speed(stroke=stroke, speed=speed)
    assert speed_at_mean_piston_speed(mean_piston_speed=piston, stroke=stroke) == pytest.approx(speed, rel=1e-12)


@given(STROKE, RATIO, st.floats(-0.003, 0.003), SPEED)
def test_acceleration_and_its_inverse(stroke: float, ratio: float, pin_offset: float, speed: float) -> None:
    """The speed of the crank at a peak acceleration gives that acceleration back, with any offset."""
    geometry = {"stroke": stroke, "rod_length": ratio * stroke + 0.01, "pin_offset": pin_offset}
    peak = peak_acceleration(speed=speed, **geometry).acceleration
    assert speed_at_peak_acceleration(acceleration=peak, **geometry) == pytest.approx(speed, rel=1e-9)


@given(STROKE, st.floats(1.2, 3), SPEED, st.floats(0.05, 5), st.floats(0, 3), st.floats(0, 1))
def test_joint_load_grows_with_the_square_of_speed(
    stroke: float, ratio: float, speed: float, piston: float, rod: float, share: float
) -> None:
    """Twice the speed is four times the load; the cap's own mass is not carried by its bolts."""

    def load(at: float, cap: float) -> float:
        return rod_joint_load(
            reciprocating_mass=piston, rotating_mass=rod, cap_mass=cap, stroke=stroke, rod_length=ratio * stroke, speed=at
        )

    assert load(2 * speed, rod * share) == pytest.approx(4 * load(speed, rod * share), rel=1e-9)
    assert load(speed, rod) <= load(speed, 0.0)


@given(STROKE, st.floats(1.0, 3), st.floats(-0.003, 0.003))
def test_skirt_gap_is_the_height_at_the_bottom(stroke: float, ratio: float, pin_offset: float) -> None:
    """The gap falls by what the skirt or the counterweight grows, and by half of what the stroke grows."""
    rod_length = ratio * stroke + 0.01

    def gap(skirt: float, radius: float) -> float:
        return skirt_to_counterweight(
            stroke=stroke,
            rod_length=rod_length,
            skirt_below_pin=skirt,
            counterweight_radius=radius,
            pin_offset=pin_offset,
        )

    assert gap(0.03, 0.06) == pytest.approx(gap(0.0, 0.0) - 0.09, abs=1e-12)
    assert gap(0.0, 0.0) == pytest.approx(rod_length - stroke / 2, rel=0.02)
    # At bottom dead centre the piston has dropped by the stroke; the top is rod plus throw without offset.
    if pin_offset == 0:
        bottom = piston_position(crank_angle=pi, stroke=stroke, rod_length=rod_length)
        assert gap(0.0, 0.0) == pytest.approx(rod_length + stroke / 2 - bottom, rel=1e-12)


def test_refusals_name_the_field() -> None:
    """A cap heavier than its rod, no load to hold, and a negative acceleration are refused."""
    with pytest.raises(Contradiction):
        rod_joint_load(reciprocating_mass=0.5, rotating_mass=0.2, cap_mass=0.3, stroke=0.07, rod_length=0.13, speed=100.0)
    with pytest.raises(OutsideValidity) as load:
        separation_margin(least_preload=1e4, bolts=2, separating_load=0.0)
    assert load.value.field == "separating_load"
    with pytest.raises(OutsideValidity) as acceleration:
        speed_at_peak_acceleration(acceleration=-1.0, stroke=0.07, rod_length=0.13)
    assert acceleration.value.field == "acceleration"
