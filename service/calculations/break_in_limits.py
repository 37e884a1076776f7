"""The limits of a break-in run: what stops the engine, and the oil pressure that each speed needs.

The figures are the trade's, from memory; they are data here so that the plan, the log's judge and the printed card use
the same ones.
"""

from dataclasses import dataclass
from math import pi
from typing import Annotated

import numpy as np

from service.errors import OutsideValidity
from service.methods import Example, method
from service.units import (
    Duration,
    FloatArray,
    Pressure,
    Ratio,
    RotationalSpeed,
    Temperature,
    TemperatureDifference,
    TemperatureRate,
)

RPM = pi / 30
"""One revolution per minute in rad/s."""

CELSIUS = 273.15
"""0 °C in K."""

FLOOR_SLACK: Ratio = 1e-3
"""The trade's 10 psi, 0.69 bar and 69 kPa for 1,000 rpm are one figure, rounded three times: within this share of the floor
a pressure is on it and not under it."""

HEAT_SLACK: TemperatureDifference = 1e-6
"""What turning °F into K may cost: no thermometer reads so fine."""

SAME: Ratio = 1e-9
"""The same for what is compared by its ratio, such as rates and speeds."""


@dataclass(frozen=True, slots=True)
class StopThresholds:
    """When to kill the engine during a break-in run (common practice, from memory).

    Attributes:
        pressure_per_speed: Gauge oil pressure that each rad/s needs (10 psi or 0.69 bar per 1,000 rpm).
        least_pressure: Gauge oil pressure below which no speed is safe.
        pressure_grace: How long the pressure may be under its floor before it counts; one noisy sample never does.
        pressure_delay: Time after firing by which the pressure must be there.
        head_stop: Head temperature under the plug that ends the run.
        head_rise, head_rise_above: Rate of rise that ends the run, once the head is above the second figure.
        oil_caution, oil_stop: Oil temperatures that call for attention and that end the run.
        oil_rise, oil_rise_above: Rate of rise that ends the run, once the oil is above the second figure.
    """

    pressure_per_speed: Annotated[float, "Pa·s/rad"] = 69e3 / (1000 * RPM)
    least_pressure: Pressure = 35e3
    pressure_grace: Duration = 2.0
    pressure_delay: Duration = 10.0
    head_stop: Temperature = 200 + CELSIUS
    head_rise: TemperatureRate = 15 / 60
    head_rise_above: Temperature = 150 + CELSIUS
    oil_caution: Temperature = 110 + CELSIUS
    oil_stop: Temperature = 120 + CELSIUS
    oil_rise: TemperatureRate = 6 / 60
    oil_rise_above: Temperature = 70 + CELSIUS


@dataclass(frozen=True, slots=True)
class CreditRules:
    """What of a logged run counts (common practice, from memory).

    Attributes:
        gap: Longest distance of two samples between which time still counts.
        dwell_tolerance: Speeds within this of each other are "the same speed" for the longest dwell.
        running: Below this speed the engine stands or is cranked.
        idle_before_stop: An engine that ran below this speed just before it stopped was shut down, not stalled.
        look_back: How long before the stop "just before" is.
        early: Length of the first part of the run, in which slow running and stalls weigh most.
        slow_allowed: Time below the floor in the early part that passes without a remark.
        short_stop, long_stop: Stops up to the first need nothing, up to the second pressure by cranking, beyond it a
            full prime.
    """

    gap: Duration = 5.0
    dwell_tolerance: RotationalSpeed = 75 * RPM
    running: RotationalSpeed = 300 * RPM
    idle_before_stop: RotationalSpeed = 1300 * RPM
    look_back: Duration = 10.0
    early: Duration = 600.0
    slow_allowed: Duration = 30.0
    short_stop: Duration = 600.0
    long_stop: Duration = 3600.0


@method(
    id="break-in-oil-pressure-floor",
    title="Lowest oil pressure that a speed may show, warm",
    formula="p = max(p₀, k n)",
    symbols={"p": "gauge oil pressure [Pa]", "p₀": "least pressure [Pa]", "k": "pressure per speed", "n": "speed [rad/s]"},
    source="common-practice",
    locator="10 psi (0.69 bar) per 1,000 rpm; TM 5-3895-376-14&P 6-3 asks 26 psi of an engine at 2,850 rpm",
    evidence="common-practice",
    valid="warm oil, from idle up; cold oil shows more, so the rule says nothing about a cold start",
    example=Example(
        {"speed": 2000 * RPM, "pressure_per_speed": 69e3 / (1000 * RPM), "least_pressure": 35e3},
        138e3,
        by="by hand: 2 × 69 kPa",
    ),
)
def oil_pressure_floor(
    *, speed: RotationalSpeed, pressure_per_speed: Annotated[float, "Pa·s/rad"], least_pressure: Pressure
) -> Pressure:
    """Gauge oil pressure in Pa below which an engine at this speed is stopped.

    Raises:
        OutsideValidity: the speed is negative.
    """
    if not speed >= 0:
        raise OutsideValidity("speed", "The speed cannot be negative; send it in rpm.", "≥ 0")
    return max(least_pressure, pressure_per_speed * speed)


def under_floor(*, pressure: Pressure, floor: Pressure) -> bool:
    """Whether a gauge pressure in Pa is too low for a floor; on the floor is not under it, in whatever unit it was read."""
    return pressure < floor * (1 - FLOOR_SLACK)


def oil_pressure_floors(*, speed: FloatArray, thresholds: StopThresholds) -> FloatArray:
    """The same floor for every sample of a log; NaN where the speed is missing."""
    floors: FloatArray = np.maximum(thresholds.least_pressure, thresholds.pressure_per_speed * speed)
    return floors
