"""Power, torque, mean effective pressure and efficiency of a four-stroke on a brake."""

from math import pi
from typing import NamedTuple

from service.calculations.limits import require_not_negative, require_positive
from service.errors import OutsideValidity
from service.methods import Example, method
from service.units import (
    Energy,
    Force,
    Length,
    MassFlow,
    Power,
    Pressure,
    Ratio,
    RotationalSpeed,
    SpecificConsumption,
    SpecificEnergy,
    Torque,
    Volume,
)

BRAKE_EFFICIENCY_LOW: Ratio = 0.22
BRAKE_EFFICIENCY_HIGH: Ratio = 0.27
HIGHEST_PLAUSIBLE_PRESSURE: Pressure = 1_100_000.0  # brake mean effective pressure without a blower


@method(
    id="power-from-torque",
    title="Power from torque",
    formula="P = M · ω",
    symbols={"P": "power [W]", "M": "torque [N·m]", "ω": "crankshaft speed [rad/s]"},
    source="mechanics",
    locator="power of a rotating shaft",
    evidence="textbook",
    example=Example(
        {"torque": 600 * 0.3048 * 4.4482216, "speed": 3000 * pi / 30},
        342.72 * 745.6999,
        by="TM 9-8000 para 2-31: 300 lbf at 2 ft and 3000 rpm, with the exact 2π",
    ),
)
def power_from_torque(*, torque: Torque, speed: RotationalSpeed) -> Power:
    """Power in W at a torque in N·m and a speed in rad/s.

    Raises:
        OutsideValidity: the torque is negative or the speed not positive.
    """
    require_not_negative(torque=torque)
    require_positive(speed=speed)
    return torque * speed


@method(
    id="torque-from-power",
    title="Torque from power",
    formula="M = P / ω",
    symbols={"M": "torque [N·m]", "P": "power [W]", "ω": "crankshaft speed [rad/s]"},
    source="mechanics",
    locator="power of a rotating shaft",
    evidence="textbook",
    example=Example({"power": 78e3, "speed": 3200 * pi / 30}, 233.0, by="Mathur and Sharma, example 10.1", rel_tol=2e-3),
)
def torque_from_power(*, power: Power, speed: RotationalSpeed) -> Torque:
    """Torque in N·m at a power in W and a speed in rad/s.

    Raises:
        OutsideValidity: the power is negative or the speed not positive.
    """
    require_not_negative(power=power)
    require_positive(speed=speed)
    return power / speed


@method(
    id="torque-from-brake-load",
    title="Torque of a brake from its load",
    formula="M = F · l",
    symbols={"M": "torque [N·m]", "F": "net load on the scale, tare taken off [N]", "l": "length of the arm [m]"},
    source="tm-9-8000",
    locator="paragraph 2-31, Prony brake",
    evidence="government",
    example=Example({"load": 300 * 4.4482216, "arm": 2 * 0.3048}, 813.49, by="by hand: 600 lbf·ft · 1.355818"),
)
def torque_from_brake_load(*, load: Force, arm: Length) -> Torque:
    """Torque in N·m of a brake whose arm in m presses with a net load in N on the scale.

    Raises:
        OutsideValidity: the load is negative or the arm not positive.
    """
    require_not_negative(load=load)
    require_positive(arm=arm)
    return load * arm


@method(
    id="mean-effective-pressure",
    title="Mean effective pressure of a four-stroke from power",
    formula="p_e = 2 P / (V n)",
    symbols={"p_e": "mean effective pressure [Pa]", "P": "power [W]", "V": "displacement [m³]", "n": "speed [1/s]"},
    source="heywood-1988",
    locator="chapter 2, mean effective pressure",
    evidence="textbook",
    valid="four-stroke",
    example=Example(
        {"power": 50e3, "displacement": 1608.5e-6, "speed": 4800 * pi / 30},
        7.77e5,
        by="Mathur and Sharma, example 2.9",
        rel_tol=1e-3,
    ),
)
def mean_effective_pressure(*, power: Power, displacement: Volume, speed: RotationalSpeed) -> Pressure:
    """Mean effective pressure in Pa: of brake power the brake mean effective pressure, of indicated power the indicated.

    Raises:
        OutsideValidity: the power is negative or another value not positive.
    """
    require_not_negative(power=power)
    require_positive(displacement=displacement, speed=speed)
    return 4 * pi * power / (displacement * speed)


@method(
    id="power-from-mean-effective-pressure",
    title="Power of a four-stroke from mean effective pressure",
    formula="P = p_e V n / 2",
    symbols={"P": "power [W]", "p_e": "mean effective pressure [Pa]", "V": "displacement [m³]", "n": "speed [1/s]"},
    source="heywood-1988",
    locator="chapter 2, mean effective pressure",
    evidence="textbook",
    valid="four-stroke",
    example=Example(
        {"mean_effective_pressure": 7.4997e5, "displacement": 2827.43e-6, "speed": 500 * pi / 30},
        8835.0,
        by="H N Gupta, example 16.5: 450 mm² over 50 mm at 0.8333 bar/mm, 150 × 160 mm",
        rel_tol=5e-4,
    ),
)
def power_from_mean_effective_pressure(
    *, mean_effective_pressure: Pressure, displacement: Volume, speed: RotationalSpeed
) -> Power:
    """Power in W of a four-stroke at a mean effective pressure in Pa and a speed in rad/s.

    Raises:
        OutsideValidity: the pressure is negative or another value not positive.
    """
    require_not_negative(mean_effective_pressure=mean_effective_pressure)
    require_positive(displacement=displacement, speed=speed)
    return mean_effective_pressure * displacement * speed / (4 * pi)


@method(
    id="mechanical-efficiency",
    title="Mechanical efficiency",
    formula="η_m = P_e / (P_e + P_f)",
    symbols={"η_m": "mechanical efficiency", "P_e": "brake power [W]", "P_f": "friction power [W]"},
    source="heywood-1988",
    locator="chapter 2, mechanical efficiency",
    evidence="textbook",
    example=Example({"brake_power": 51.0, "friction_power": 17.0}, 0.75, by="H B Keswani, example 1.1"),
)
def mechanical_efficiency(*, brake_power: Power, friction_power: Power) -> Ratio:
    """Share of the indicated power that reaches the crankshaft.

    Raises:
        OutsideValidity: the brake power is not positive or the friction power negative.
    """
    require_positive(brake_power=brake_power)
    require_not_negative(friction_power=friction_power)
    return brake_power / (brake_power + friction_power)


@method(
    id="specific-fuel-consumption",
    title="Specific fuel consumption",
    formula="b = ṁ / P",
    symbols={"b": "fuel per work [kg/J]", "ṁ": "fuel flow [kg/s]", "P": "brake power [W]"},
    source="heywood-1988",
    locator="chapter 2, specific fuel consumption",
    evidence="textbook",
    example=Example({"fuel_flow": 0.0475 / 60, "power": 7333.0}, 0.389 / 3.6e6, by="H N Gupta, example 16.5", rel_tol=2e-3),
)
def specific_fuel_consumption(*, fuel_flow: MassFlow, power: Power) -> SpecificConsumption:
    """Fuel in kg burnt per J at the crankshaft.

    Raises:
        OutsideValidity: a value is not positive.
    """
    require_positive(fuel_flow=fuel_flow, power=power)
    return fuel_flow / power


@method(
    id="brake-thermal-efficiency",
    title="Brake thermal efficiency",
    formula="η_b = 1 / (b · H)",
    symbols={"η_b": "brake thermal efficiency", "b": "fuel per work [kg/J]", "H": "lower heating value [J/kg]"},
    source="heywood-1988",
    locator="chapter 2, fuel conversion efficiency",
    evidence="textbook",
    example=Example(
        {"specific_fuel_consumption": 0.44 * 0.45359237 / 2.684520e6, "heating_value": 19500 * 2326.0},
        0.2965,
        by="E J Kates, chapter 7 example 8",
        rel_tol=7e-4,
    ),
)
def brake_thermal_efficiency(*, specific_fuel_consumption: SpecificConsumption, heating_value: SpecificEnergy) -> Ratio:
    """Share of the fuel's heat that reaches the crankshaft as work.

    Raises:
        OutsideValidity: a value is not positive, or more work than heat would come out.
    """
    require_positive(specific_fuel_consumption=specific_fuel_consumption, heating_value=heating_value)
    heat_per_work: Energy = specific_fuel_consumption * heating_value
    if heat_per_work < 1:
        raise OutsideValidity(
            "specific_fuel_consumption",
            "So little fuel holds less heat than the work that came out; check consumption and heating value.",
            "> 1 / heating_value",
        )
    return 1 / heat_per_work


class PowerEstimate(NamedTuple):
    """Power that an air flow can make: a band, never a measurement."""

    low: Power
    nominal: Power
    high: Power


@method(
    id="power-from-air",
    title="Power that an air flow can make",
    formula="P = ṁ / AFR · H · η_b, η_b = 0.22 … 0.27",
    symbols={
        "P": "power [W]",
        "ṁ": "air flow [kg/s]",
        "AFR": "air-fuel ratio by mass",
        "H": "lower heating value [J/kg]",
        "η_b": "brake thermal efficiency",
    },
    source="common-practice",
    locator="brake efficiency of small air-cooled petrol engines at full throttle",
    evidence="common-practice",
    valid="full throttle; the efficiency is assumed, the result ± 15 %",
    example=Example(
        {"air_flow": 240 / 3600, "air_fuel_ratio": 12.8, "heating_value": 43e6},
        {"low": 49270.0, "nominal": 54870.0, "high": 60470.0},
        by="by hand: 0.066667/12.8 · 43 MJ/kg = 223.96 kW of heat",
    ),
)
def power_from_air(*, air_flow: MassFlow, air_fuel_ratio: Ratio, heating_value: SpecificEnergy) -> PowerEstimate:
    """Band of power in W that an air flow in kg/s can make in a small air-cooled petrol engine.

    Raises:
        OutsideValidity: a value is not positive.
    """
    require_positive(air_flow=air_flow, air_fuel_ratio=air_fuel_ratio, heating_value=heating_value)
    heat = air_flow / air_fuel_ratio * heating_value
    low, high = heat * BRAKE_EFFICIENCY_LOW, heat * BRAKE_EFFICIENCY_HIGH
    return PowerEstimate(low, (low + high) / 2, high)
