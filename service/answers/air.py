"""The air that several topics ask for: station pressure, temperature and moisture from whatever the caller knows."""

from typing import NamedTuple

from service.answers.envelope import Answer, Rule
from service.calculations import atmosphere
from service.quantities import BAROMETER, DISTANCE, TEMPERATURE, Quantity, text_of

BAROMETER_IS_SEA_LEVEL = Rule(
    code="barometer-is-sea-level",
    severity="ask",
    stage="measuring",
    rule="pressure more than 4 kPa above that of the standard atmosphere at the altitude",
    reason="A weather report reduces its barometer to sea level: at 1500 m such a figure is a fifth too high, "
    "and with it every density, jet and corrected power.",
    remedy="Read a barometer at the place, or leave the pressure out and send the altitude.",
    source="us-standard-atmosphere-1976",
    evidence="derived",
)

LOWEST_DENSITY_WITH_ALTITUDE = 0.365
HIGHEST_DENSITY_WITH_ALTITUDE = 1.931


class Air(NamedTuple):
    """Air in SI: station pressure, temperature, relative humidity and what follows from them."""

    pressure: float
    temperature: float
    humidity: float
    density: float
    density_altitude: float | None


def pressure_of(found: Answer, *, altitude: Quantity | None, pressure: Quantity | None, prefix: str = "") -> float:
    """Station pressure in Pa: as read, or standard at the altitude, or standard at sea level, with what was assumed.

    ``prefix`` stands before the names of the fields where a question holds the air of two places.
    """
    if pressure is not None:
        check_barometer(found, altitude=altitude, pressure=pressure)
        return pressure.si
    height = 0.0 if altitude is None else altitude.si
    found.rests_on(atmosphere.standard_pressure)
    standard = atmosphere.standard_pressure(altitude=height)
    where = "of the standard atmosphere at the altitude" if altitude else "of the standard atmosphere at sea level"
    found.assume(f"{prefix}pressure", BAROMETER(standard), f"Pressure {where}.", "us-standard-atmosphere-1976", "standard")
    if altitude is None:
        found.cannot_check(
            "air-of-the-place", [f"{prefix}altitude"], "Without altitude or barometer the air is that at sea level."
        )
    return standard


def check_barometer(found: Answer, *, altitude: Quantity | None, pressure: Quantity) -> None:
    """Ask when a station pressure looks like a weather report's figure."""
    if altitude is None:
        found.cannot_check(BAROMETER_IS_SEA_LEVEL.code, ["altitude"])
    elif atmosphere.barometer_is_sea_level(pressure=pressure.si, altitude=altitude.si):
        standard = atmosphere.standard_pressure(altitude=altitude.si)
        found.rests_on(atmosphere.standard_pressure)
        found.find(
            BAROMETER_IS_SEA_LEVEL,
            ("pressure", "altitude"),
            f"{text_of(BAROMETER(pressure.si))} at {text_of(DISTANCE(altitude.si))} is far above the usual "
            f"{text_of(BAROMETER(standard))}; is it reduced to sea level?",
        )


def temperature_of(found: Answer, *, altitude: Quantity | None, temperature: Quantity | None, prefix: str = "") -> float:
    """Temperature of the air in K: as measured, or standard at the altitude, with what was assumed."""
    if temperature is not None:
        return temperature.si
    found.rests_on(atmosphere.standard_temperature)
    standard = atmosphere.standard_temperature(altitude=0.0 if altitude is None else altitude.si)
    found.assume(
        f"{prefix}temperature",
        TEMPERATURE(standard),
        "Temperature of the standard atmosphere at the altitude.",
        "us-standard-atmosphere-1976",
        "standard",
    )
    return standard


def air_of(
    found: Answer,
    *,
    altitude: Quantity | None = None,
    pressure: Quantity | None = None,
    temperature: Quantity | None = None,
    humidity: float | None = None,
    prefix: str = "",
) -> Air:
    """The air from what is known, with its density and density altitude, citing methods and naming assumptions.

    Raises:
        Contradiction: the moisture alone would need more than the whole pressure.
    """
    station = pressure_of(found, altitude=altitude, pressure=pressure, prefix=prefix)
    kelvin = temperature_of(found, altitude=altitude, temperature=temperature, prefix=prefix)
    if humidity is None:
        reason = "Dry air; moist air of 30 °C and 50 % is 1 % thinner."
        found.assume(f"{prefix}humidity", 0.0, reason, "us-standard-atmosphere-1976", "standard")
    moisture = humidity or 0.0
    density = atmosphere.air_density(pressure=station, temperature=kelvin, relative_humidity=moisture)
    found.rests_on(atmosphere.air_density)
    height = None
    if LOWEST_DENSITY_WITH_ALTITUDE <= density <= HIGHEST_DENSITY_WITH_ALTITUDE:
        height = atmosphere.density_altitude(density=density)
        found.rests_on(atmosphere.density_altitude)
    return Air(station, kelvin, moisture, density, height)
