"""The closed vocabulary of units: what may be written, what it is called, and how pint is to define it.

Nothing outside this list is a unit here. The definitions are those of NIST SP 811, appendix B (exact by definition, except the
mercury column, conventional at 0 °C), written as pint reads them; only the ones that the vocabulary needs, because loading a
whole registry would take a third of a second of every start. A test holds them against pint's own registry.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Unit:
    """One unit of the vocabulary: its code, the expression that pint resolves, and the shop's spellings of it."""

    code: str
    expression: str
    aliases: tuple[str, ...] = ()
    label: str = ""

    @property
    def shown(self) -> str:
        """The unit as it is read out and printed."""
        return self.label or self.code


@dataclass(frozen=True, slots=True)
class Dimension:
    """A kind of physical quantity with its units; the SI unit names what calculations take."""

    name: str
    si: str
    units: tuple[Unit, ...]


def _products(first: Iterable[str], second: Iterable[str]) -> tuple[str, ...]:
    """Every shop spelling of a product of two units, in both orders, such as ``ft-lb``, ``lb ft`` and ``lbf.ft``."""
    joints = ("*", ".", "·", "-", " ", "⋅", "")
    pairs = [(a, b) for a in first for b in second]
    return tuple(f"{x}{j}{y}" for a, b in pairs for x, y in ((a, b), (b, a)) for j in joints)


_POUNDS, _FEET, _INCHES = ("lbf", "lb", "lbs"), ("ft", "foot", "feet"), ("in", "inch")

VOCABULARY: tuple[Dimension, ...] = (
    Dimension(
        "length",
        "m",
        (
            Unit("mm", "millimeter", ("millimetre", "millimeter", "millimetres", "millimeters")),
            Unit("cm", "centimeter", ("centimetre", "centimeter")),
            Unit("m", "meter", ("metre", "meter", "metres", "meters")),
            Unit("in", "inch", ('"', "″", "inch", "inches", "in.")),
            Unit("thou", "inch / 1000", ("thousandths", "thousandth", "0.001 in")),
            Unit("ft", "foot", ("'", "′", "foot", "feet")),
            Unit("um", "micrometer", ("µm", "μm", "micron", "microns"), "µm"),
            Unit("km", "kilometer", ("kilometre", "kilometer", "kilometres", "kilometers")),
            Unit("mi", "mile", ("mile", "miles")),
        ),
    ),
    Dimension(
        "area",
        "m2",
        (
            Unit("mm2", "millimeter ** 2", ("mm^2", "mm²", "mm**2", "sq mm"), "mm²"),
            Unit("cm2", "centimeter ** 2", ("cm^2", "cm²", "cm**2", "sq cm"), "cm²"),
            Unit("in2", "inch ** 2", ("in^2", "in²", "in**2", "sq in"), "in²"),
            Unit("m2", "meter ** 2", ("m^2", "m²"), "m²"),
        ),
    ),
    Dimension(
        "volume",
        "m3",
        (
            Unit("cm3", "centimeter ** 3", ("cc", "cm^3", "cm³", "cm**3", "ccm", "mL", "ml"), "cm³"),
            Unit("L", "liter", ("l", "litre", "liter", "litres", "liters", "dm3")),
            Unit("in3", "inch ** 3", ("cu in", "cu. in.", "cu.in.", "cuin", "ci", "cid", "in^3", "in³", "in**3"), "in³"),
            Unit("qt", "quart", ("US qt", "qts", "quart", "quarts", "US quart", "US quarts"), "US qt"),
            Unit("imp qt", "imperial_quart", ("imp quart", "imperial quart", "imp. qt", "UK qt"), "imp qt"),
            Unit("pt", "pint", ("US pt", "US pint"), "US pt"),
            Unit("fl oz", "fluid_ounce", ("US fl oz", "floz"), "US fl oz"),
            Unit("m3", "meter ** 3", ("m^3", "m³"), "m³"),
        ),
    ),
    Dimension(
        "angle",
        "rad",
        (Unit("deg", "degree", ("°", "degree", "degrees", "degs"), "°"), Unit("rad", "radian", ("radian", "radians"))),
    ),
    Dimension(
        "rotational speed",
        "rad/s",
        (
            Unit("rpm", "revolution / minute", ("r/min", "rev/min", "1/min", "min-1", "RPM")),
            Unit("rad/s", "radian / second"),
            Unit("rps", "revolution / second", ("rev/s", "r/s")),
        ),
    ),
    Dimension(
        "rotational acceleration",
        "rad/s2",
        (Unit("rpm/s", "revolution / minute / second", ("rpm/sec", "r/min/s")), Unit("rad/s2", "radian / second ** 2")),
    ),
    Dimension(
        "velocity",
        "m/s",
        (
            Unit("m/s", "meter / second", ("mps",)),
            Unit("ft/min", "foot / minute", ("fpm", "feet/min")),
            Unit("ft/s", "foot / second", ("fps",)),
            Unit("km/h", "kilometer / hour", ("kph", "kmh")),
            Unit("mph", "mile / hour", ("mi/h",)),
        ),
    ),
    Dimension(
        "acceleration",
        "m/s2",
        (
            Unit("m/s2", "meter / second ** 2", ("m/s^2", "m/s²", "m/s**2"), "m/s²"),
            Unit("ft/s2", "foot / second ** 2", ("ft/s^2", "ft/s²"), "ft/s²"),
            Unit("gn", "standard_gravity", ("g",), "g"),
        ),
    ),
    Dimension(
        "mass",
        "kg",
        (
            Unit("g", "gram", ("gram", "grams", "gr")),
            Unit("kg", "kilogram", ("kilogram", "kilograms")),
            Unit("lb", "pound", ("lbs", "lbm", "pound", "pounds")),
            Unit("oz", "ounce", ("ounce", "ounces")),
        ),
    ),
    Dimension(
        "inertia",
        "kg*m2",
        (
            Unit("kg*m2", "kilogram * meter ** 2", ("kg.m2", "kg·m²"), "kg·m²"),
            Unit("kg*cm2", "kilogram * centimeter ** 2", ("kg.cm2", "kg·cm²"), "kg·cm²"),
            Unit("g*cm2", "gram * centimeter ** 2", ("g.cm2", "g·cm²"), "g·cm²"),
            Unit("lb*in2", "pound * inch ** 2", ("lb.in2", "lb·in²"), "lb·in²"),
        ),
    ),
    Dimension(
        "force",
        "N",
        (
            Unit("N", "newton", ("newton", "newtons")),
            Unit("kN", "kilonewton"),
            Unit("lbf", "force_pound", ("lb", "lbs", "pound", "pounds")),
            Unit("kgf", "force_kilogram", ("kp", "kg force")),
        ),
    ),
    Dimension(
        "torque",
        "N*m",
        (
            Unit("N*m", "newton * meter", (*_products(("N",), ("m",)), "newton metre", "newton meter"), "N·m"),
            Unit("lbf*ft", "force_pound * foot", _products(_POUNDS, _FEET), "lbf·ft"),
            Unit("lbf*in", "force_pound * inch", _products(_POUNDS, _INCHES), "lbf·in"),
            Unit("kgf*m", "force_kilogram * meter", _products(("kgf", "kg", "kp"), ("m",)), "kgf·m"),
            Unit("kgf*cm", "force_kilogram * centimeter", _products(("kgf", "kg", "kp"), ("cm",)), "kgf·cm"),
            Unit("N*cm", "newton * centimeter", _products(("N",), ("cm",)), "N·cm"),
            Unit("ozf*in", "force_ounce * inch", _products(("ozf", "oz"), ("in",)), "ozf·in"),
        ),
    ),
    Dimension(
        "pressure",
        "Pa",
        (
            Unit("kPa", "kilopascal"),
            Unit("bar", "bar", ("bars",)),
            Unit("psi", "force_pound / inch ** 2", ("lbf/in2", "lb/in2", "lbf/in²", "lb/in²", "lbs/in2", "psig", "psia")),
            Unit("MPa", "megapascal", ("N/mm2", "N/mm²", "N/mm^2")),
            Unit("GPa", "gigapascal", ("kN/mm2",)),
            Unit("Pa", "pascal", ("N/m2",)),
            Unit("hPa", "hectopascal"),
            Unit("mbar", "millibar"),
            Unit(
                "kgf/cm2",
                "force_kilogram / centimeter ** 2",
                ("kg/cm2", "kgf/cm²", "kg/cm²", "kp/cm2", "at"),
                "kgf/cm²",
            ),
            Unit("inHg", "inch_Hg", ("in Hg", '"Hg', "in.Hg")),
            Unit("mmHg", "mmHg", ("mm Hg", "torr")),
            Unit("atm", "standard_atmosphere"),
            Unit("ksi", "kip / inch ** 2"),
        ),
    ),
    Dimension(
        "temperature",
        "K",
        (
            Unit("degC", "degree_Celsius", ("°C", "C", "deg C", "celsius", "℃"), "°C"),
            Unit("degF", "degree_Fahrenheit", ("°F", "F", "deg F", "fahrenheit", "℉"), "°F"),
            Unit("K", "kelvin", ("kelvin",)),
        ),
    ),
    Dimension(
        "temperature difference",
        "K",
        (
            Unit("K", "kelvin", ("kelvin", "degC", "°C", "C", "deltaC")),
            Unit("delta_degF", "delta_degree_Fahrenheit", ("degF", "°F", "F", "deltaF"), "°F"),
        ),
    ),
    Dimension(
        "temperature rate",
        "K/s",
        (
            Unit("K/min", "kelvin / minute", ("degC/min", "°C/min", "C/min")),
            Unit("K/s", "kelvin / second", ("degC/s",)),
            Unit("delta_degF/min", "delta_degree_Fahrenheit / minute", ("degF/min", "°F/min", "F/min"), "°F/min"),
        ),
    ),
    Dimension(
        "duration",
        "s",
        (
            Unit("s", "second", ("sec", "secs", "second", "seconds")),
            Unit("min", "minute", ("mins", "minute", "minutes")),
            Unit("h", "hour", ("hr", "hrs", "hour", "hours")),
            Unit("ms", "millisecond", ("msec",)),
        ),
    ),
    Dimension(
        "power",
        "W",
        (
            Unit("kW", "kilowatt", ("kilowatt",)),
            Unit("W", "watt", ("watt", "watts")),
            Unit("hp", "force_pound * foot * 550 / second", ("bhp", "horsepower")),
            Unit("PS", "metric_horsepower", ("metric hp", "cv", "hp(metric)")),
        ),
    ),
    Dimension(
        "stiffness",
        "N/m",
        (
            Unit("N/mm", "newton / millimeter"),
            Unit("N/m", "newton / meter"),
            Unit("lbf/in", "force_pound / inch", ("lb/in", "lbs/in", "lb/inch", "lbf/inch")),
            Unit("kgf/mm", "force_kilogram / millimeter", ("kg/mm",)),
        ),
    ),
    Dimension(
        "density",
        "kg/m3",
        (
            Unit("kg/m3", "kilogram / meter ** 3", ("kg/m^3", "kg/m³"), "kg/m³"),
            Unit("g/cm3", "gram / centimeter ** 3", ("g/cc", "g/cm³", "kg/L", "g/mL"), "g/cm³"),
            Unit("lb/ft3", "pound / foot ** 3", ("lb/ft^3", "lb/ft³", "lb/cu ft"), "lb/ft³"),
        ),
    ),
    Dimension(
        "kinematic viscosity",
        "m2/s",
        (
            Unit("mm2/s", "millimeter ** 2 / second", ("cSt", "mm²/s", "mm^2/s", "centistokes"), "mm²/s"),
            Unit("m2/s", "meter ** 2 / second", ("m²/s",), "m²/s"),
        ),
    ),
    Dimension(
        "dynamic viscosity",
        "Pa*s",
        (
            Unit("mPa*s", "millipascal * second", ("cP", "mPa.s", "mPa·s", "mPas", "centipoise"), "mPa·s"),
            Unit("Pa*s", "pascal * second", ("Pa.s", "Pa·s"), "Pa·s"),
            Unit("reyn", "force_pound * second / inch ** 2", ("lbf*s/in2",)),
        ),
    ),
    Dimension(
        "mass flow",
        "kg/s",
        (
            Unit("kg/h", "kilogram / hour", ("kg/hr",)),
            Unit("g/s", "gram / second"),
            Unit("kg/s", "kilogram / second"),
            Unit("lb/h", "pound / hour", ("lb/hr", "pph")),
            Unit("lb/min", "pound / minute"),
        ),
    ),
    Dimension(
        "volume flow",
        "m3/s",
        (
            Unit("m3/h", "meter ** 3 / hour", ("m³/h", "m^3/h"), "m³/h"),
            Unit("L/min", "liter / minute", ("l/min", "lpm")),
            Unit("L/s", "liter / second", ("l/s",)),
            Unit("cfm", "foot ** 3 / minute", ("ft3/min", "ft^3/min", "cu ft/min")),
            Unit("cm3/s", "centimeter ** 3 / second", ("cc/s", "cm³/s"), "cm³/s"),
            Unit("m3/s", "meter ** 3 / second", ("m³/s",), "m³/s"),
        ),
    ),
    Dimension(
        "expansion",
        "1/K",
        (
            Unit("1e-6/K", "1e-6 / kelvin", ("ppm/K", "um/m/K", "µm/m/K", "1e-6/degC"), "10⁻⁶/K"),
            Unit("1e-6/degF", "1e-6 / delta_degree_Fahrenheit", ("ppm/degF", "uin/in/degF"), "10⁻⁶/°F"),
        ),
    ),
    Dimension("frequency", "Hz", (Unit("Hz", "hertz", ("hertz", "1/s")), Unit("kHz", "kilohertz"))),
    Dimension(
        "lift rate",
        "m/rad",
        (
            Unit("mm/rad", "millimeter / radian"),
            Unit("mm/deg", "millimeter / degree", ("mm/°",)),
            Unit("in/deg", "inch / degree", ("in/°",)),
        ),
    ),
    Dimension(
        "fraction",
        "1",
        (
            Unit("%", "percent", ("percent", "pct")),
            Unit("ppm", "ppm", ("mg/kg",)),
            Unit("per mille", "permille", ("‰",)),
            Unit("fraction", "dimensionless_one"),
        ),
    ),
    Dimension("heating value", "J/kg", (Unit("MJ/kg", "megajoule / kilogram"), Unit("Btu/lb", "2326 * joule / kilogram"))),
    Dimension(
        "specific consumption",
        "kg/J",
        (Unit("g/kWh", "gram / kilowatt_hour", ("g/kW/h",)), Unit("lb/hp/h", "pound / (force_pound * foot * 1980000)")),
    ),
    Dimension("voltage", "V", (Unit("V", "volt", ("volt", "volts")), Unit("kV", "kilovolt"))),
)

DIMENSIONS: Mapping[str, Dimension] = {dimension.name: dimension for dimension in VOCABULARY}


DEFINITIONS: tuple[str, ...] = (
    "micro- = 1e-6 = µ-",
    "milli- = 1e-3 = m-",
    "centi- = 1e-2 = c-",
    "hecto- = 1e2 = h-",
    "kilo- = 1e3 = k-",
    "mega- = 1e6 = M-",
    "giga- = 1e9 = G-",
    "meter = [length] = m",
    "second = [time] = s",
    "kilogram = [mass]",
    "gram = 1e-3 * kilogram = g",
    "kelvin = [temperature]; offset: 0 = K",
    "radian = []",
    "volt = [voltage] = V",
    "dimensionless_one = 1",
    "percent = 0.01",
    "permille = 0.001",
    "ppm = 1e-6",
    "minute = 60 * second",
    "hour = 60 * minute",
    "hertz = 1 / second",
    "pi = 3.1415926535897932384626433832795028841971693993751",
    "degree = pi / 180 * radian",
    "revolution = 2 * pi * radian",
    "inch = 0.0254 * meter",
    "foot = 12 * inch",
    "mile = 5280 * foot",
    "liter = 1e-3 * meter ** 3",
    "quart = 57.75 * inch ** 3",
    "pint = quart / 2",
    "fluid_ounce = quart / 32",
    "imperial_quart = 1.1365225e-3 * meter ** 3",
    "standard_gravity = 9.80665 * meter / second ** 2",
    "pound = 0.45359237 * kilogram",
    "ounce = pound / 16",
    "newton = kilogram * meter / second ** 2",
    "force_pound = pound * standard_gravity",
    "force_ounce = ounce * standard_gravity",
    "force_kilogram = kilogram * standard_gravity",
    "kip = 1000 * force_pound",
    "pascal = newton / meter ** 2",
    "bar = 1e5 * pascal",
    "millibar = 100 * pascal",
    "standard_atmosphere = 101325 * pascal",
    "mmHg = 133.322387415 * pascal",
    "inch_Hg = 25.4 * mmHg",
    "joule = newton * meter",
    "watt = joule / second",
    "kilowatt_hour = 3.6e6 * joule",
    "metric_horsepower = 75 * force_kilogram * meter / second",
    "degree_Celsius = kelvin; offset: 273.15",
    "degree_Fahrenheit = 5 / 9 * kelvin; offset: 233.15 + 200 / 9",
)
"""What pint is told, in its own notation."""
