"""Air: the standard atmosphere, water vapour, density and density altitude.

Altitude is the height above mean sea level that a map or a survey mark gives (geometric altitude). Pressure is absolute
station pressure, what a barometer reads where it stands, never the sea-level-corrected figure of a weather report.
"""

from math import exp, sqrt

from service.errors import Contradiction, OutsideValidity
from service.methods import Example, method
from service.units import Density, Length, Pressure, Ratio, Temperature, Velocity

SEA_LEVEL_TEMPERATURE: Temperature = 288.15
SEA_LEVEL_PRESSURE: Pressure = 101325.0
LAPSE_RATE = 0.0065  # K/m
DRY_AIR_GAS_CONSTANT = 8314.32 / 28.9644  # J/(kg·K), with the constants of the 1976 atmosphere
WATER_VAPOUR_GAS_CONSTANT = 461.52  # J/(kg·K)
HEAT_CAPACITY_RATIO = 1.4  # of air near room temperature
EARTH_RADIUS: Length = 6356766.0  # effective radius of the 1976 atmosphere
FREEZING: Temperature = 273.15

PRESSURE_EXPONENT = 9.80665 / (DRY_AIR_GAS_CONSTANT * LAPSE_RATE)  # 5.2559
SEA_LEVEL_DENSITY: Density = SEA_LEVEL_PRESSURE / (DRY_AIR_GAS_CONSTANT * SEA_LEVEL_TEMPERATURE)

LOWEST_ALTITUDE: Length = -500.0
HIGHEST_ALTITUDE: Length = 6000.0
SEA_LEVEL_READING_MARGIN: Pressure = 4000.0  # weather alone hardly lifts a barometer this far above the standard

_LEAST_DENSITY: Density = 0.3648  # 11 km, where the straight lapse ends
_GREATEST_DENSITY: Density = 1.9313  # 5 km below sea level, the lowest row of the published tables


@method(
    id="standard-temperature",
    title="Temperature of the standard atmosphere",
    formula="T = 288.15 − 0.0065 · r z / (r + z)",
    symbols={"T": "temperature [K]", "z": "altitude [m]", "r": "effective radius of the earth, 6 356 766 m"},
    source="us-standard-atmosphere-1976",
    locator="troposphere, geopotential from geometric altitude",
    evidence="from-memory",
    valid="−500 … 6000 m",
    example=Example({"altitude": 1000.0}, 281.651, by="US Standard Atmosphere 1976, Table I, 1000 m", rel_tol=1e-5),
)
def standard_temperature(*, altitude: Length) -> Temperature:
    """Temperature in K of the standard atmosphere at an altitude in m, −500 … 6000 m.

    Raises:
        OutsideValidity: the altitude is outside −500 … 6000 m.
    """
    if not LOWEST_ALTITUDE <= altitude <= HIGHEST_ALTITUDE:
        raise OutsideValidity(
            "altitude",
            "The altitude must lie between 500 m below and 6000 m above sea level; "
            "if the figure is in feet, send it with the unit ft.",
            "-500 … 6000 m",
        )
    # The 1976 tables lapse with geopotential altitude; at 3000 m it is 1.4 m less than the height on the map.
    return SEA_LEVEL_TEMPERATURE - LAPSE_RATE * EARTH_RADIUS * altitude / (EARTH_RADIUS + altitude)


@method(
    id="standard-pressure",
    title="Pressure of the standard atmosphere",
    formula="p = 101325 · (T / 288.15)^5.2559",
    symbols={"p": "absolute pressure [Pa]", "T": "standard temperature at the altitude [K]"},
    source="us-standard-atmosphere-1976",
    locator="troposphere",
    evidence="from-memory",
    valid="−500 … 6000 m",
    example=Example({"altitude": 3000.0}, 70121.0, by="US Standard Atmosphere 1976, Table I, 3000 m", rel_tol=2e-5),
)
def standard_pressure(*, altitude: Length) -> Pressure:
    """Absolute pressure in Pa of the standard atmosphere at an altitude in m, −500 … 6000 m.

    Raises:
        OutsideValidity: the altitude is outside −500 … 6000 m.
    """
    ratio = standard_temperature(altitude=altitude) / SEA_LEVEL_TEMPERATURE
    return SEA_LEVEL_PRESSURE * float(ratio**PRESSURE_EXPONENT)


@method(
    id="standard-density",
    title="Density of the standard atmosphere",
    formula="ρ = p / (287.053 T)",
    symbols={"ρ": "density [kg/m³]", "p": "standard pressure [Pa]", "T": "standard temperature [K]"},
    source="us-standard-atmosphere-1976",
    locator="troposphere",
    evidence="from-memory",
    valid="−500 … 6000 m",
    example=Example({"altitude": 3000.0}, 0.90925, by="US Standard Atmosphere 1976, Table I, 3000 m", rel_tol=2e-5),
)
def standard_density(*, altitude: Length) -> Density:
    """Density in kg/m³ of the standard atmosphere (dry air) at an altitude in m, −500 … 6000 m.

    Raises:
        OutsideValidity: the altitude is outside −500 … 6000 m.
    """
    temperature = standard_temperature(altitude=altitude)
    return standard_pressure(altitude=altitude) / (DRY_AIR_GAS_CONSTANT * temperature)


@method(
    id="saturation-pressure",
    title="Saturation pressure of water vapour",
    formula="ps = 611.21 · exp((18.729 − t/227.3) · t / (257.87 + t))",
    symbols={"ps": "saturation pressure over liquid water [Pa]", "t": "temperature [°C]"},
    source="buck-1981",
    locator="coefficients e_w4, without the enhancement factor",
    evidence="from-memory",
    valid="−50 … 100 °C; the author fitted −40 … 50 °C, beyond it within 0.7 % of the Hyland-Wexler equation",
    example=Example({"temperature": 318.15}, 9600.0, by="IS/ISO 3046 tables, 45 °C: 9.6 kPa", rel_tol=6e-3),
)
def saturation_pressure(*, temperature: Temperature) -> Pressure:
    """Saturation pressure in Pa over liquid water (also below freezing, as hygrometers are scaled), 223 … 373 K.

    Raises:
        OutsideValidity: the temperature is outside −50 … 100 °C.
    """
    celsius = temperature - FREEZING
    if not -50 - 1e-6 <= celsius <= 100 + 1e-6:
        raise OutsideValidity(
            "temperature",
            "Water vapour is computed for air between -50 and 100 °C; a figure in °F must carry the unit degF.",
            "-50 … 100 °C",
        )
    return 611.21 * exp((18.729 - celsius / 227.3) * celsius / (257.87 + celsius))


@method(
    id="vapour-pressure",
    title="Partial pressure of the water vapour in air",
    formula="pv = φ · ps(T)",
    symbols={"pv": "vapour pressure [Pa]", "φ": "relative humidity, 0 … 1", "ps": "saturation pressure [Pa]"},
    source="buck-1981",
    locator="definition of relative humidity",
    evidence="textbook",
    example=Example(
        {"temperature": 303.15, "relative_humidity": 0.5}, 2123.0, by="psychrolib 2.5.0: half of 4246 Pa", rel_tol=2e-3
    ),
)
def vapour_pressure(*, temperature: Temperature, relative_humidity: Ratio) -> Pressure:
    """Partial pressure of water vapour in Pa for a relative humidity from 0 to 1.

    Raises:
        OutsideValidity: the humidity is not within 0 … 1 or the temperature is outside −50 … 100 °C.
    """
    if not 0 <= relative_humidity <= 1:
        raise OutsideValidity(
            "relative_humidity", "Relative humidity lies between 0 and 1: send 0.4 for 40 %.", "0 … 1 (0 … 100 %)"
        )
    return relative_humidity * saturation_pressure(temperature=temperature)


@method(
    id="air-density",
    title="Density of moist air",
    formula="ρ = (p − pv) / (287.053 T) + pv / (461.52 T)",
    symbols={
        "ρ": "density [kg/m³]",
        "p": "station pressure [Pa]",
        "pv": "vapour pressure [Pa]",
        "T": "temperature [K]",
    },
    source="us-standard-atmosphere-1976",
    locator="ideal mixture of dry air and water vapour",
    evidence="textbook",
    valid="within 0.1 % of real moist air near ground level",
    example=Example(
        {"pressure": 101325.0, "temperature": 298.15, "relative_humidity": 0.5},
        1.1772,
        by="CoolProp 8.0.0 moist air",
        rel_tol=6e-4,
    ),
)
def air_density(*, pressure: Pressure, temperature: Temperature, relative_humidity: Ratio = 0.0) -> Density:
    """Density in kg/m³ of air at an absolute station pressure in Pa, a temperature in K and a relative humidity 0 … 1.

    Raises:
        OutsideValidity: temperature or humidity is outside its range.
        Contradiction: the vapour alone would need more than the whole pressure.
    """
    vapour = vapour_pressure(temperature=temperature, relative_humidity=relative_humidity)
    if vapour >= pressure:
        raise Contradiction(
            ("pressure", "temperature", "relative_humidity"),
            "So much water vapour needs more than the whole pressure; check that the pressure is absolute station "
            "pressure and the temperature that of the air.",
        )
    return ((pressure - vapour) / DRY_AIR_GAS_CONSTANT + vapour / WATER_VAPOUR_GAS_CONSTANT) / temperature


@method(
    id="density-altitude",
    title="Density altitude",
    formula="h where ρ_standard(h) = ρ, that is T = 288.15 (ρ / 1.2250)^(1/4.2559)",
    symbols={"h": "density altitude [m]", "ρ": "density of the air [kg/m³]", "T": "standard temperature at h [K]"},
    source="us-standard-atmosphere-1976",
    locator="troposphere, density solved for the altitude",
    evidence="derived",
    valid="0.365 … 1.931 kg/m³, that is −5 … 11 km",
    example=Example({"density": 0.90925}, 3000.0, by="US Standard Atmosphere 1976, Table I, 3000 m", rel_tol=2e-4),
)
def density_altitude(*, density: Density) -> Length:
    """Altitude in m at which the standard atmosphere has this density in kg/m³.

    Raises:
        OutsideValidity: the density is outside 0.365 … 1.931 kg/m³.
    """
    if not _LEAST_DENSITY <= density <= _GREATEST_DENSITY:
        raise OutsideValidity(
            "density",
            "Air of this density lies outside the standard atmosphere; check station pressure and temperature.",
            "0.365 … 1.931 kg/m³",
        )
    temperature = SEA_LEVEL_TEMPERATURE * float((density / SEA_LEVEL_DENSITY) ** (1 / (PRESSURE_EXPONENT - 1)))
    geopotential = (SEA_LEVEL_TEMPERATURE - temperature) / LAPSE_RATE
    return EARTH_RADIUS * geopotential / (EARTH_RADIUS - geopotential)


@method(
    id="speed-of-sound",
    title="Speed of sound in air",
    formula="a = √(1.4 · 287.053 · T)",
    symbols={"a": "speed of sound [m/s]", "T": "temperature [K]"},
    source="us-standard-atmosphere-1976",
    locator="speed of sound",
    evidence="textbook",
    example=Example({"temperature": 288.15}, 340.294, by="US Standard Atmosphere 1976, sea level", rel_tol=1e-5),
)
def speed_of_sound(*, temperature: Temperature) -> Velocity:
    """Speed of sound in m/s in dry air at a temperature above 0 K.

    Raises:
        OutsideValidity: the temperature is not above absolute zero.
    """
    if temperature <= 0:
        raise OutsideValidity("temperature", "The temperature must be above absolute zero.", "> 0 K")
    return sqrt(HEAT_CAPACITY_RATIO * DRY_AIR_GAS_CONSTANT * temperature)


def barometer_is_sea_level(*, pressure: Pressure, altitude: Length) -> bool:
    """Whether the pressure looks like a weather report's sea-level-corrected figure for a place at this altitude.

    True if it is more than 4 kPa above the standard pressure there: weather alone hardly does that. Below about 340 m
    the slip is too small to tell from fine weather.
    """
    return pressure > standard_pressure(altitude=altitude) + SEA_LEVEL_READING_MARGIN
