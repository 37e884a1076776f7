"""Power, torque and mean pressure: inverse pairs and plain arithmetic of the trade."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.calculations import brake_performance as brake
from service.errors import OutsideValidity

powers = st.floats(500.0, 600e3)
speeds = st.floats(50.0, 1571.0)
volumes = st.floats(50e-6, 20e-3)


@given(powers, speeds)
def test_torque_undoes_power(power: float, speed: float) -> None:
    """Power from torque and torque from power are inverses."""
    torque = brake.torque_from_power(power=power, speed=speed)
    assert brake.power_from_torque(torque=torque, speed=speed) == pytest.approx(power, rel=1e-12)


@given(powers, volumes, speeds)
def test_power_undoes_mean_effective_pressure(power: float, volume: float, speed: float) -> None:
    """Mean pressure from power and power from mean pressure are inverses."""
    pressure = brake.mean_effective_pressure(power=power, displacement=volume, speed=speed)
    back = brake.power_from_mean_effective_pressure(mean_effective_pressure=pressure, displacement=volume, speed=speed)
    assert back == pytest.approx(power, rel=1e-12)


def test_handbook_engine() -> None:
    """45 kW at 4500 rpm from 1696.2 cm³ are 7.1 bar (handbook), 95.5 N·m (45 000 / 471.24 by hand)."""
    speed = 4500 * math.pi / 30
    pressure = brake.mean_effective_pressure(power=45e3, displacement=1696.2e-6, speed=speed)
    assert pressure == pytest.approx(7.1e5, abs=0.05e5)
    assert brake.torque_from_power(power=45e3, speed=speed) == pytest.approx(95.49, abs=0.01)


def test_the_us_constants() -> None:
    """Hp = lbf·ft · rpm / 5252, bmep[psi] = 150.8 · lbf·ft / in³: constants every workshop knows (from memory)."""
    torque = 100 * 1.3558179483
    power = brake.power_from_torque(torque=torque, speed=5252.113 * math.pi / 30)
    assert power / 745.699872 == pytest.approx(100, rel=1e-6)
    pressure = brake.mean_effective_pressure(power=power, displacement=100 * 0.0254**3, speed=5252.113 * math.pi / 30)
    assert pressure / 6894.757293 == pytest.approx(150.8, abs=0.01)


@given(st.floats(1e-3, 1.0), st.floats(7, 22), st.floats(20e6, 50e6))
def test_power_from_air_is_a_band_in_proportion(flow: float, mixture: float, heat: float) -> None:
    """Low below nominal below high, and twice the air makes twice the power."""
    once = brake.power_from_air(air_flow=flow, air_fuel_ratio=mixture, heating_value=heat)
    twice = brake.power_from_air(air_flow=2 * flow, air_fuel_ratio=mixture, heating_value=heat)
    assert once.low < once.nominal < once.high
    assert twice.nominal == pytest.approx(2 * once.nominal, rel=1e-12)
    assert once.high / once.low == pytest.approx(0.27 / 0.22, rel=1e-9)


def test_handbook_power_lies_in_the_band() -> None:
    """46 kW from 216 kg/h of air (the handbook's estimate at 4500 rpm) lies inside the band."""
    band = brake.power_from_air(air_flow=216 / 3600, air_fuel_ratio=12.8, heating_value=43e6)
    assert band.low < 46e3 < band.high


def test_what_no_brake_can_measure_is_refused() -> None:
    """Zero speed, negative load, and more work than heat."""
    with pytest.raises(OutsideValidity) as refusal:
        brake.torque_from_power(power=1e3, speed=0.0)
    assert refusal.value.field == "speed"
    with pytest.raises(OutsideValidity) as refusal:
        brake.torque_from_brake_load(load=-1.0, arm=1.0)
    assert refusal.value.field == "load"
    with pytest.raises(OutsideValidity, match="less heat"):
        brake.brake_thermal_efficiency(specific_fuel_consumption=1e-8, heating_value=43e6)
