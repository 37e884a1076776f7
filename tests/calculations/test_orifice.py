"""Flow through a restriction against the real gas and against its own limits."""

import math

import fluids
import pytest
from CoolProp.CoolProp import PropsSI
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import minimize_scalar

from service.calculations import orifice
from service.errors import OutsideValidity

pressures = st.floats(40e3, 1.2e6)
temperatures = st.floats(223.15, 333.15)
ratios = st.floats(0, 1)


def real_flux(upstream: float, temperature: float, downstream: float) -> float:
    """Mass flux of real air that expands at constant entropy; the throat takes the pressure of the largest flux."""
    entropy = PropsSI("S", "P", upstream, "T", temperature, "Air")
    enthalpy = PropsSI("H", "P", upstream, "T", temperature, "Air")

    def flux(pressure: float) -> float:
        density = PropsSI("D", "P", pressure, "S", entropy, "Air")
        drop = enthalpy - PropsSI("H", "P", pressure, "S", entropy, "Air")
        return float(density * math.sqrt(2 * max(drop, 0.0)))

    best = minimize_scalar(lambda p: -flux(p), bounds=(0.4 * upstream, 0.7 * upstream), method="bounded")
    return flux(max(downstream, float(best.x)))


@pytest.mark.parametrize("pressure_ratio", [0.1, 0.5, 0.53, 0.6, 0.75, 0.9, 0.98])
@pytest.mark.parametrize("upstream", [84.6e3, 101.3e3, 653e3])
def test_mass_flux_agrees_with_real_air(upstream: float, pressure_ratio: float) -> None:
    """CoolProp's real air, choked and subcritical, within 0.5 %."""
    ours = orifice.mass_flux(
        upstream_pressure=upstream, upstream_temperature=293.15, downstream_pressure=pressure_ratio * upstream
    )
    assert ours == pytest.approx(real_flux(upstream, 293.15, pressure_ratio * upstream), rel=5e-3)


def test_critical_ratio_is_that_of_the_library() -> None:
    """fluids.P_critical_flow for γ = 1.4; every textbook prints 0.5283."""
    assert pytest.approx(fluids.P_critical_flow(P=1.0, k=1.4), rel=1e-12) == orifice.CRITICAL_PRESSURE_RATIO
    assert pytest.approx(0.5283, abs=5e-5) == orifice.CRITICAL_PRESSURE_RATIO


@given(ratios, ratios)
def test_flow_never_rises_with_back_pressure(first: float, second: float) -> None:
    """More pressure behind never pushes more through, and nothing flows without a difference."""
    low, high = sorted((first, second))
    assert orifice.flow_function(pressure_ratio=low) >= orifice.flow_function(pressure_ratio=high) >= 0
    assert orifice.flow_function(pressure_ratio=1.0) == 0


def test_flow_function_meets_itself_at_the_critical_ratio() -> None:
    """The choked constant is the subcritical curve's own maximum, so there is no step."""
    critical = orifice.CRITICAL_PRESSURE_RATIO
    above = orifice.flow_function(pressure_ratio=critical + 1e-9)
    assert above == pytest.approx(orifice.flow_function(pressure_ratio=critical), rel=1e-12)


@given(pressures, temperatures, st.floats(1e-6, 0.47), st.floats(0.3, 1))
def test_throat_pressure_undoes_throat_speed(pressure: float, temperature: float, share: float, factor: float) -> None:
    """Speed from depression and pressure from speed are inverses; the speed coefficient slows the real air."""
    depression = share * pressure
    speed = orifice.throat_speed(upstream_pressure=pressure, upstream_temperature=temperature, depression=depression)
    back = orifice.throat_pressure(
        upstream_pressure=pressure,
        upstream_temperature=temperature,
        speed=speed * factor,
        speed_coefficient=factor,
    )
    assert back == pytest.approx(pressure - depression, rel=1e-9)


@given(st.floats(0.1, 50))
def test_a_slow_throat_follows_bernoulli(speed: float) -> None:
    """Below 50 m/s air is nearly incompressible: Δp = ½ρv² within a percent (elementary fluid mechanics)."""
    pressure = orifice.throat_pressure(upstream_pressure=101325.0, upstream_temperature=288.15, speed=speed)
    assert 101325.0 - pressure == pytest.approx(0.5 * 1.225 * speed * speed, rel=1e-2, abs=1e-6)


@given(pressures, temperatures, ratios)
def test_flux_goes_with_pressure_and_root_of_temperature(pressure: float, temperature: float, ratio: float) -> None:
    """Twice the pressure passes twice the mass, four times the temperature half of it."""
    flux = orifice.mass_flux(upstream_pressure=pressure, upstream_temperature=temperature, downstream_pressure=ratio * pressure)
    doubled = orifice.mass_flux(
        upstream_pressure=2 * pressure, upstream_temperature=4 * temperature, downstream_pressure=2 * ratio * pressure
    )
    assert doubled == pytest.approx(flux, rel=1e-9, abs=1e-9)


def test_values_that_no_restriction_can_have_are_refused() -> None:
    """Exchanged pressures, a throat faster than sound and zero pressures are told apart."""
    with pytest.raises(OutsideValidity, match="exchanged"):
        orifice.mass_flux(upstream_pressure=1e5, upstream_temperature=293.0, downstream_pressure=2e5)
    with pytest.raises(OutsideValidity, match="absolute"):
        orifice.throat_speed(upstream_pressure=1e5, upstream_temperature=293.0, depression=5e4)
    with pytest.raises(OutsideValidity, match="faster than sound"):
        orifice.throat_pressure(upstream_pressure=1e5, upstream_temperature=293.0, speed=340.0)
    with pytest.raises(OutsideValidity, match="cannot exceed"):
        orifice.flow_function(pressure_ratio=1.01)
    with pytest.raises(OutsideValidity) as refusal:
        orifice.mass_flux(upstream_pressure=0.0, upstream_temperature=293.0, downstream_pressure=0.0)
    assert refusal.value.field == "upstream_pressure"
