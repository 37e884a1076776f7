"""Power corrected to reference air, by SAE J1349, ISO 1585 or DIN 70020.

All three are meant for the full-throttle power of a spark-ignition engine that breathes by itself, measured in air not far
from the reference; none makes a part-throttle figure comparable.
"""

from math import sqrt
from typing import Literal, TypeAlias

from service.errors import OutsideValidity
from service.methods import Example, method
from service.units import Pressure, Ratio, Temperature

Standard: TypeAlias = Literal["sae-j1349", "iso-1585", "din-70020"]

REFERENCE_DRY_PRESSURE: Pressure = 99_000.0
REFERENCE_TEMPERATURE: Temperature = 298.15
DIN_REFERENCE_PRESSURE: Pressure = 101_300.0
DIN_REFERENCE_TEMPERATURE: Temperature = 293.15

LOWEST_PRESSURE: Pressure = 90_000.0
HIGHEST_PRESSURE: Pressure = 105_000.0
LOWEST_TEMPERATURE: Temperature = 288.15
HIGHEST_TEMPERATURE: Temperature = 308.15
HAIR: Temperature = 0.01  # 95 °F is 35 °C, whatever the last digit of the conversion says
LOWEST_FACTOR: Ratio = 0.93
HIGHEST_FACTOR: Ratio = 1.07


def _require_conditions(field: str, pressure: Pressure, temperature: Temperature) -> None:
    if not LOWEST_PRESSURE <= pressure <= HIGHEST_PRESSURE:
        raise OutsideValidity(
            field,
            "Power is corrected only from air between 90 and 105 kPa: below or above it the factor is no longer proven. "
            "Send the station pressure (not the sea-level figure of a weather report), or compare runs made in the "
            "same air without a correction.",
            "90 … 105 kPa",
        )
    if not temperature > 0:
        raise OutsideValidity("temperature", "The temperature must be above absolute zero.", "> 0 K")


@method(
    id="power-factor-sae-j1349",
    title="Power correction factor of SAE J1349",
    formula="k = 1.180 · (990 / p_d) · √((t + 273)/298) − 0.180",
    symbols={"k": "corrected over observed power", "p_d": "dry station pressure [hPa]", "t": "inlet air [°C]"},
    source="sae-j1349-1990",
    locator="spark-ignition engines, mechanical efficiency of 85 % assumed",
    evidence="standard",
    valid="dry 90 … 105 kPa, 15 … 35 °C, full throttle, naturally aspirated",
    example=Example(
        {"dry_pressure": 95e3, "temperature": 308.15},
        1.0702,
        by="by hand from the quoted formula: 1.18 · 990/950 · √(308/298) − 0.18",
        rel_tol=2e-4,
    ),
)
def sae_j1349_factor(*, dry_pressure: Pressure, temperature: Temperature) -> Ratio:
    """Corrected over observed power for a dry station pressure in Pa and an inlet air temperature in K.

    Raises:
        OutsideValidity: the dry pressure is outside 90 … 105 kPa.
    """
    _require_conditions("pressure", dry_pressure, temperature)
    return 1.18 * (REFERENCE_DRY_PRESSURE / dry_pressure) * sqrt(temperature / REFERENCE_TEMPERATURE) - 0.18


@method(
    id="power-factor-iso-1585",
    title="Power correction factor of ISO 1585 for spark ignition",
    formula="α = (99 / p_d)^1.2 · (T / 298)^0.6",
    symbols={"α": "corrected over observed power", "p_d": "dry station pressure [kPa]", "T": "inlet air [K]"},
    source="iso-1585-1992",
    locator="spark-ignition engines, factor α_a",
    evidence="from-memory",
    valid="dry 90 … 105 kPa, 15 … 35 °C, factor 0.93 … 1.07, full throttle",
    example=Example(
        {"dry_pressure": 98e3 - 0.8 * 4.2e3, "temperature": 303.0},
        1.0666,
        by="Mathur and Sharma, example 27.5: 640 kW become 683 kW at 99.04 kPa dry and 298 K",
        rel_tol=1e-3,
    ),
)
def iso_1585_factor(*, dry_pressure: Pressure, temperature: Temperature) -> Ratio:
    """Corrected over observed power for a dry station pressure in Pa and an inlet air temperature in K.

    Raises:
        OutsideValidity: the dry pressure is outside 90 … 105 kPa.
    """
    _require_conditions("pressure", dry_pressure, temperature)
    return float((REFERENCE_DRY_PRESSURE / dry_pressure) ** 1.2 * (temperature / REFERENCE_TEMPERATURE) ** 0.6)


@method(
    id="power-factor-din-70020",
    title="Power correction factor of DIN 70020",
    formula="k = 1013 / p · √((t + 273)/293)",
    symbols={"k": "corrected over observed power", "p": "station pressure [hPa]", "t": "inlet air [°C]"},
    source="din-70020",
    locator="spark-ignition engines, the older German rating",
    evidence="standard",
    valid="90 … 105 kPa, full throttle, naturally aspirated; the moisture of the air is not taken out",
    example=Example(
        {"pressure": 95e3, "temperature": 308.15},
        1.0933,
        by="by hand: 1013/950 · √(308/293)",
        rel_tol=2e-4,
    ),
)
def din_70020_factor(*, pressure: Pressure, temperature: Temperature) -> Ratio:
    """Corrected over observed power for a station pressure in Pa, moisture included, and an inlet air temperature in K.

    Raises:
        OutsideValidity: the pressure is outside 90 … 105 kPa.
    """
    _require_conditions("pressure", pressure, temperature)
    return DIN_REFERENCE_PRESSURE / pressure * sqrt(temperature / DIN_REFERENCE_TEMPERATURE)


def correction_factor(*, standard: Standard, pressure: Pressure, vapour_pressure: Pressure, temperature: Temperature) -> Ratio:
    """Factor by a standard for a station pressure and the vapour in it, in Pa, and an inlet air temperature in K.

    J1349 and ISO 1585 take the vapour out of the pressure; DIN 70020 does not.

    Raises:
        OutsideValidity: the pressure (dry for the first two) is outside 90 … 105 kPa.
    """
    if standard == "din-70020":
        return din_70020_factor(pressure=pressure, temperature=temperature)
    dry_pressure = pressure - vapour_pressure
    if standard == "iso-1585":
        return iso_1585_factor(dry_pressure=dry_pressure, temperature=temperature)
    return sae_j1349_factor(dry_pressure=dry_pressure, temperature=temperature)


def outside_test_conditions(*, standard: Standard, factor: Ratio, temperature: Temperature) -> tuple[str, ...]:
    """Why a standard would not accept the correction although it can be computed; empty if it would.

    J1349 and ISO 1585 want the test air at 15 … 35 °C; ISO 1585 wants a factor within 0.93 … 1.07.
    """
    reasons = []
    if standard != "din-70020" and not LOWEST_TEMPERATURE - HAIR <= temperature <= HIGHEST_TEMPERATURE + HAIR:
        reasons.append("the inlet air is not between 15 and 35 °C")
    if standard == "iso-1585" and not LOWEST_FACTOR <= factor <= HIGHEST_FACTOR:
        reasons.append("the factor is not between 0.93 and 1.07")
    return tuple(reasons)
