"""Oil pressure against an independent hydraulic network, arithmetic by hand, and the limits of the model."""

from math import hypot, isfinite, pi
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from service.calculations.oil_pressure import State, predicted_pressure, wear_verdict
from service.calculations.viscosity import dynamic_viscosity, line_from_sheet, oil_density, viscosity_at
from service.errors import OutsideValidity

RPM = pi / 30
STATES = st.builds(State, st.floats(2e4, 3.9e5), st.floats(20, 700), st.floats(2e-3, 1.0))


def sae_30(celsius: float) -> float:
    """Dynamic viscosity in Pa·s of an SAE 30 of 100/11.0 mm²/s and 885 kg/m³."""
    line = line_from_sheet(viscosity_40=100e-6, viscosity_100=11e-6)
    kinematic = viscosity_at(line=line, temperature=celsius + 273.15)
    return dynamic_viscosity(viscosity=kinematic, density=oil_density(density_15=885.0, temperature=celsius + 273.15))


def predict(known: State, speed: float, viscosity: float, **changes: float) -> Any:
    arguments: dict[str, float] = {"relief_pressure": 4e5, "gauge_uncertainty": 0.0, "viscosity_uncertainty": 0.0}
    return predicted_pressure(known=known, speed=speed, viscosity=viscosity, **(arguments | changes))


def test_hot_idle_from_a_warm_reading() -> None:
    """An independent working: 2.8 bar at 2500 rpm and 90 °C is 0.77 bar at 900 rpm and 100 °C on SAE 30."""
    known = State(2.8e5, 2500 * RPM, sae_30(90))
    assert predict(known, 900 * RPM, sae_30(100)).gauge_pressure == pytest.approx(0.77e5, rel=0.015)


def test_prediction_agrees_with_a_network_of_bearings() -> None:
    """scipy: pump against twelve laminar bearing gaps in parallel, solved for the pressure at both states.

    Gap flow π r c³ (1 + 1.5 e²) p/(3 μ l') (pressure-fed journal, Shigley & Mischke chapter 12): the prediction needs
    none of these numbers.
    """
    bearings = [(0.0275, 35e-6, 0.4, 0.018)] * 4 + [(0.0275, 30e-6, 0.6, 0.022)] * 4 + [(0.0125, 25e-6, 0.3, 0.02)] * 4

    def pressure(speed: float, viscosity: float) -> float:
        pumped = 6e-6 * 0.5 * speed / (2 * pi)

        def surplus(p: float) -> float:
            return pumped - sum(pi * r * c**3 * (1 + 1.5 * e * e) * p / (3 * viscosity * land) for r, c, e, land in bearings)

        return float(brentq(surplus, 0.0, 1e9))

    known = State(pressure(2500 * RPM, 0.011), 2500 * RPM, 0.011)
    expected = predict(known, 900 * RPM, 0.0084, relief_pressure=1e9)
    assert expected.gauge_pressure == pytest.approx(pressure(900 * RPM, 0.0084), rel=1e-9)
    assert not expected.relief_open


def test_the_relief_valve_caps_the_prediction() -> None:
    """Cold oil at speed does not push past the valve."""
    expected = predict(State(2.8e5, 2500 * RPM, 0.011), 4000 * RPM, 0.05)
    assert expected.gauge_pressure == 4e5
    assert expected.relief_open


@given(known=STATES, speed=st.floats(0, 1571), viscosity=st.floats(1e-3, 20))
def test_prediction_is_finite_and_below_relief(known: State, speed: float, viscosity: float) -> None:
    """Over the whole legal range; at the known state it is the known pressure."""
    expected = predict(known, speed, viscosity, gauge_uncertainty=1.6e4, viscosity_uncertainty=0.1)
    assert isfinite(expected.gauge_pressure)
    assert 0 <= expected.gauge_pressure <= 4e5
    assert isfinite(expected.uncertainty)
    assert predict(known, known.speed, known.viscosity).gauge_pressure == pytest.approx(known.gauge_pressure)


def test_uncertainty_of_the_prediction_by_monte_carlo() -> None:
    """20 000 draws with a fixed seed: the spread (k = 2) of the predicted pressure."""
    known = State(2.8e5, 2500 * RPM, 0.011)
    expected = predict(known, 900 * RPM, 0.0084, gauge_uncertainty=1.6e4, viscosity_uncertainty=0.08)
    random = np.random.default_rng(8)
    gauge, oil = random.normal(2.8e5, 0.8e4, 20_000), random.normal(1, 0.04, 20_000)
    spread = float(np.std(gauge * 900 / 2500 * (0.0084 / 0.011) * oil))
    assert expected.uncertainty == pytest.approx(2 * spread, rel=0.03)


def judge(earlier: State, now: State, gauge_uncertainty: float = 1.6e4) -> Any:
    return wear_verdict(
        earlier=earlier,
        now=now,
        relief_pressure=4e5,
        gauge_uncertainty=gauge_uncertainty,
        viscosity_uncertainty=0.1,
    )


@pytest.mark.parametrize(
    ("now", "verdict"),
    [
        # The same engine hotter and slower: the pressure fell, the bearings did not change.
        (State(0.77e5, 900 * RPM, 0.0084), "unchanged"),
        (State(2.7e5, 2500 * RPM, 0.0110), "unchanged"),
        (State(2.1e5, 2500 * RPM, 0.0110), "lower"),
        (State(1.2e5, 2500 * RPM, 0.0110), "much-lower"),
        (State(3.6e5, 2500 * RPM, 0.0110), "higher"),
    ],
)
def test_wear_is_told_from_temperature_and_speed(now: State, verdict: str) -> None:
    """Only what speed, viscosity and the gauges do not explain is a verdict."""
    assert judge(State(2.8e5, 2500 * RPM, 0.0110), now).verdict == verdict


def test_clearances_behind_a_third_of_the_pressure() -> None:
    """By hand: a third of the pressure is three times the leak, and ∛3 = 1.44 times the clearance everywhere."""
    result = judge(State(3.0e5, 2500 * RPM, 0.011), State(1.0e5, 2500 * RPM, 0.011))
    assert result.leak_ratio == pytest.approx(3.0)
    assert result.clearance_ratio == pytest.approx(1.4422, rel=1e-4)


@given(earlier=STATES, now=STATES)
def test_wear_verdict_is_finite_and_agrees_with_the_prediction(earlier: State, now: State) -> None:
    """The ratio of the verdict is the reading over the predicted pressure; reading twice the same is no wear."""
    result = judge(earlier, now)
    free = predict(earlier, now.speed, now.viscosity, relief_pressure=1e12).gauge_pressure
    assert result.pressure_ratio == pytest.approx(now.gauge_pressure / free)
    assert all(isfinite(value) for value in result[1:])
    assert judge(earlier, earlier).verdict == "unchanged"


@given(earlier=STATES, gauge=st.floats(0, 1e5))
def test_a_worse_gauge_never_finds_more(earlier: State, gauge: float) -> None:
    """With growing uncertainty a verdict only ever falls back to unchanged."""
    now = State(earlier.gauge_pressure * 0.8, earlier.speed, earlier.viscosity)
    fine, coarse = judge(earlier, now, gauge), judge(earlier, now, gauge * 2)
    assert coarse.verdict in (fine.verdict, "unchanged")
    relative = hypot(gauge / earlier.gauge_pressure, gauge / now.gauge_pressure, 0.1)
    assert fine.pressure_ratio_uncertainty == pytest.approx(0.8 * relative)


@pytest.mark.parametrize(
    ("state", "field"),
    [
        (State(0.0, 261.8, 0.011), "reading/pressure"),
        (State(4.2e5, 261.8, 0.011), "reading/pressure"),
        (State(2.8e5, 0.0, 0.011), "reading/speed"),
        (State(2.8e5, 261.8, 0.0), "reading/temperature"),
    ],
)
def test_readings_that_say_nothing_are_refused(state: State, field: str) -> None:
    """No pressure, an open relief valve, a standing engine."""
    with pytest.raises(OutsideValidity) as refusal:
        predict(state, 100.0, 0.01)
    assert refusal.value.field == field
    with pytest.raises(OutsideValidity) as of_wear:
        judge(State(2.8e5, 261.8, 0.011), state)
    assert of_wear.value.field == field


def test_a_prediction_for_no_oil_is_refused() -> None:
    """Zero viscosity carries nothing."""
    with pytest.raises(OutsideValidity):
        predict(State(2.8e5, 261.8, 0.011), 100.0, 0.0)
