"""Priming against a second-by-second simulation of the starter and the geometry of real gears."""

from math import ceil, isfinite, pi

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.calculations.priming import (
    PrimingPlan,
    StarterDuty,
    gear_pump_displacement,
    priming_plan,
    priming_time,
)
from service.errors import OutsideValidity

RPM = pi / 30
DUTY = StarterDuty(burst=10, rest=60, bursts=5)


def plan(volume: float, cranking_speed: float = 200 * RPM, duty: StarterDuty = DUTY) -> PrimingPlan:
    """A pump of 6 cm³ on the camshaft at 80 % efficiency: 8 cm³/s at 200 rpm."""
    return priming_plan(
        volume=volume,
        pump_displacement=6e-6,
        pump_ratio=0.5,
        cranking_speed=cranking_speed,
        efficiency=0.8,
        duty=duty,
    )


def test_empty_cooler_by_starter_is_beyond_its_duty() -> None:
    """By hand: 1.256 L at 8 cm³/s are 157 s, 16 bursts; five bursts move 0.4 L, so 0.856 L go in by hand."""
    result = plan(1.256e-3)
    assert result.cranking == pytest.approx(157, abs=0.1)
    assert result.burst_count == 16
    assert not result.within_duty
    assert result.bursts == ()
    assert result.fill_by_hand == pytest.approx(0.856e-3, rel=1e-3)


def test_filled_by_hand_the_rest_takes_two_bursts() -> None:
    """By hand: 0.136 L of galleries are 17 s: one burst of 10 s, a minute of rest, one of 7 s."""
    result = plan(0.136e-3)
    assert result.bursts == pytest.approx((10, 7))
    assert result.elapsed == pytest.approx(77)
    assert result.within_duty


def test_what_is_left_after_the_advice_fits_the_duty() -> None:
    """Following the advice gives a plan that the starter stands: all of its bursts, no more."""
    advised = plan(1.256e-3)
    again = plan(1.256e-3 - advised.fill_by_hand)
    assert again.within_duty
    assert again.burst_count == DUTY.bursts


@given(
    volume=st.floats(0, 30e-3),
    pump=st.floats(0.5e-6, 60e-6),
    ratio=st.floats(0.3, 2),
    speed=st.floats(40 * RPM, 500 * RPM),
    efficiency=st.floats(0.05, 1),
    burst=st.floats(2, 15),
    rest=st.floats(0, 300),
    bursts=st.integers(1, 12),
)
def test_plan_agrees_with_a_simulated_starter(
    volume: float, pump: float, ratio: float, speed: float, efficiency: float, burst: float, rest: float, bursts: int
) -> None:
    """Pumping burst by burst until full takes the planned number, and never more than the duty when within it."""
    result = priming_plan(
        volume=volume,
        pump_displacement=pump,
        pump_ratio=ratio,
        cranking_speed=speed,
        efficiency=efficiency,
        duty=StarterDuty(burst, rest, bursts),
    )
    flow = pump * ratio * speed / (2 * pi) * efficiency
    simulated, left = 0, volume
    while left > 1.5e-3 * flow * burst and simulated <= 20:
        left -= flow * burst
        simulated += 1
    assert min(result.burst_count, 21) in (simulated, simulated + 1, simulated - 1)
    assert result.within_duty == (result.burst_count <= bursts)
    assert isfinite(result.elapsed)
    if result.within_duty:
        assert sum(result.bursts) == pytest.approx(result.cranking, rel=2e-3, abs=1e-9)
        assert all(length <= burst * (1 + 1e-9) for length in result.bursts)
        assert result.fill_by_hand == 0
    else:
        assert result.fill_by_hand == pytest.approx(volume - bursts * burst * flow, rel=1e-6, abs=1e-12)


@given(volume=st.floats(1e-5, 5e-3), factor=st.floats(1.1, 5))
def test_twice_the_speed_is_half_the_time(volume: float, factor: float) -> None:
    """Scaling: time goes with volume and against speed."""

    def time(volume: float, speed: float) -> float:
        return priming_time(volume=volume, pump_displacement=6e-6, pump_ratio=0.5, cranking_speed=speed, efficiency=0.8)

    assert time(volume * factor, 20.0) == pytest.approx(time(volume, 20.0) * factor)
    assert time(volume, 20.0 * factor) == pytest.approx(time(volume, 20.0) / factor)


def test_full_passages_need_no_cranking() -> None:
    """Nothing to fill, nothing to do."""
    assert plan(0.0) == (0.0, (), 0, 0.0, True, 0.0)


@pytest.mark.parametrize(("module", "teeth", "width"), [(3.0e-3, 10, 20e-3), (2.5e-3, 12, 26e-3), (4.0e-3, 8, 15e-3)])
def test_gear_pump_is_twice_the_tooth_spaces(module: float, teeth: int, width: float) -> None:
    """Half of the ring between tip and working root circle is space, on both gears: counted from the gears' own data."""
    tip, root = module * (teeth + 2) / 2, module * (teeth - 2) / 2
    spaces = 2 * 0.5 * pi * (tip * tip - root * root) * width
    displaced = gear_pump_displacement(gear_diameter=2 * tip, centre_distance=module * teeth, gear_width=width)
    assert displaced == pytest.approx(spaces, rel=1e-9)


@pytest.mark.parametrize(
    ("outside", "distance", "width", "field"),
    [(0.030, 0.030, 0.02, "gear_diameter"), (0.061, 0.030, 0.02, "gear_diameter"), (0.036, 0.030, 0.0, "gear_width")],
)
def test_gears_that_do_not_mesh_are_refused(outside: float, distance: float, width: float, field: str) -> None:
    """Gears that do not touch, or are one another's shafts, pump nothing."""
    with pytest.raises(OutsideValidity) as refusal:
        gear_pump_displacement(gear_diameter=outside, centre_distance=distance, gear_width=width)
    assert refusal.value.field == field


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("volume", -1e-3),
        ("pump_displacement", 0.0),
        ("pump_ratio", 0.0),
        ("cranking_speed", 0.0),
        ("efficiency", 0.0),
        ("efficiency", 1.01),
    ],
)
def test_an_endless_crank_is_refused(field: str, value: float) -> None:
    """A pump that moves nothing would crank for ever."""
    arguments = {
        "volume": 1e-3,
        "pump_displacement": 6e-6,
        "pump_ratio": 0.5,
        "cranking_speed": 20.0,
        "efficiency": 0.8,
    }
    with pytest.raises(OutsideValidity) as refusal:
        priming_time(**(arguments | {field: value}))
    assert refusal.value.field == field


@pytest.mark.parametrize(
    "duty", [StarterDuty(0.5, 60, 5), StarterDuty(120, 60, 5), StarterDuty(10, -1, 5), StarterDuty(10, 60, 0)]
)
def test_duties_that_burn_a_starter_are_refused(duty: StarterDuty) -> None:
    """Two minutes in one go is no duty."""
    with pytest.raises(OutsideValidity) as refusal:
        plan(1e-3, duty=duty)
    assert refusal.value.field == "duty"


def test_a_whole_number_of_bursts_gets_no_crumb() -> None:
    """0.4 L at 8 cm³/s is five bursts to the second, not six."""
    result = plan(0.4e-3)
    assert result.burst_count == 5 == ceil(result.cranking / 10 - 1e-3)
    assert sum(result.bursts) == pytest.approx(50)
