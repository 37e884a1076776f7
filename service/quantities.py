"""Text and units ⇄ SI: the one place where a number changes its unit.

On the way in, a closed vocabulary of units and our own small grammar turn ``"3 3/8 in"`` or
``{"value": 86, "unit": "mm"}`` into a float in SI. On the way out a :class:`Measure` becomes ``{"value", "unit", "text"}``
in the caller's system of units.
pint resolves the vocabulary into factors, once, when the first quantity is converted; it never sees a caller's text.
"""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from fractions import Fraction
from functools import cache
from typing import Any, Literal, TypeAlias

UnitSystem: TypeAlias = Literal["metric", "us"]

LONGEST_TEXT = 40
SIGNIFICANT_DIGITS = 12  # beyond them the last bits of libm differ from machine to machine


class NotAQuantity(ValueError):
    """A text or object that is no quantity of the wanted dimension.

    Attributes:
        code: ``unit-missing``, ``unit-unknown``, ``unit-mismatch`` or ``not-a-quantity``.
        did_you_mean: The nearest unit, or an empty string.
    """

    def __init__(self, code: str, detail: str, did_you_mean: str = "") -> None:
        super().__init__(detail)
        self.code = code
        self.detail = detail
        self.did_you_mean = did_you_mean


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
            Unit("um", "micrometer", ("µm", "μm", "micron", "microns"), "µm"),
            Unit("in", "inch", ('"', "″", "inch", "inches", "in.")),
            Unit("thou", "inch / 1000", ("thousandths", "thousandth", "0.001 in")),
            Unit("ft", "foot", ("'", "′", "foot", "feet")),
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
            Unit("fraction", "dimensionless"),
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


@dataclass(frozen=True, slots=True)
class Resolved:
    """A unit with its exact relation to SI: ``si = value * factor + offset``."""

    code: str
    label: str
    factor: float
    offset: float
    dimension: str


@cache
def resolved() -> Mapping[str, Mapping[str, Resolved]]:
    """The vocabulary with its factors: dimension → unit code → :class:`Resolved`. pint is asked here and only here."""
    import pint  # kept off the import path: building a registry takes a tenth of a second

    registry: Any = pint.UnitRegistry(non_int_type=Fraction)
    table: dict[str, dict[str, Resolved]] = {}
    for dimension in VOCABULARY:
        table[dimension.name] = {}
        for unit in dimension.units:
            factor, offset = _relation_to_si(registry, unit.expression)
            table[dimension.name][unit.code] = Resolved(unit.code, unit.shown, factor, offset, dimension.name)
    return table


def _relation_to_si(registry: Any, expression: str) -> tuple[float, float]:
    """Factor and offset that take a number in the given unit to SI base units."""
    unit = registry.parse_expression(expression)
    zero, one = (registry.Quantity(Fraction(n) * unit.magnitude, unit.units).to_base_units().magnitude for n in (0, 1))
    return float(one - zero), float(zero)


@cache
def spellings(dimension: str) -> Mapping[str, Resolved]:
    """Every accepted spelling of the units of a dimension, with lower-case forms where they are unmistakable."""
    units = resolved()[dimension]
    exact: dict[str, Resolved] = {}
    for unit in DIMENSIONS[dimension].units:
        for spelling in (unit.code, *unit.aliases):
            exact.setdefault(spelling, units[unit.code])
    for spelling, unit_resolved in list(exact.items()):
        folded = spelling.casefold()
        if folded not in {
            "mpa",
            "gpa",
            "m",
            "k",
            "mpa*s",
        }:  # a prefix or symbol that means something else in lower case
            exact.setdefault(folded, unit_resolved)
    return exact


@cache
def _dimensions_of_spelling() -> Mapping[str, str]:
    """The first dimension that knows a spelling, to tell what a misplaced unit measures."""
    known: dict[str, str] = {}
    for dimension in VOCABULARY:
        for spelling in spellings(dimension.name):
            known.setdefault(spelling, dimension.name)
    return known


def find_unit(text: str, dimension: str) -> Resolved:
    """The unit of ``dimension`` that ``text`` spells.

    Raises:
        NotAQuantity: ``unit-unknown`` with the nearest spelling, or ``unit-mismatch`` for a unit of something else.
    """
    accepted = spellings(dimension)
    unit = accepted.get(text) or accepted.get(" ".join(text.split())) or accepted.get(text.casefold())
    if unit is not None:
        return unit
    codes = ", ".join(u.code for u in DIMENSIONS[dimension].units[:6])
    other = _dimensions_of_spelling().get(text) or _dimensions_of_spelling().get(text.casefold())
    article = "an" if dimension[0] in "aeiou" else "a"
    if other is not None:
        raise NotAQuantity("unit-mismatch", f"This unit measures {other}; {article} {dimension} is wanted: {codes}.")
    guesses = _guesses(dimension)
    near = get_close_matches(_bare(text[:LONGEST_TEXT]), guesses, n=1, cutoff=0.5)
    raise NotAQuantity(
        "unit-unknown",
        f"This unit is not known for {article} {dimension}; send one of {codes}.",
        guesses[near[0]] if near else "",
    )


def _bare(spelling: str) -> str:
    """A spelling without the signs that join the units of a product."""
    return re.sub(r"[*.·⋅ \-]", "", spelling.casefold())


@cache
def _guesses(dimension: str) -> Mapping[str, str]:
    """The spellings among which the nearest is looked for: without those that differ only in how they join units."""
    guesses: dict[str, str] = {}
    for spelling, unit in spellings(dimension).items():
        guesses.setdefault(_bare(spelling), unit.code)
    return guesses


@dataclass(frozen=True, slots=True)
class Quantity:
    """A quantity as the caller gave it (``value`` and ``unit``) and as calculations take it (``si``)."""

    value: float
    unit: str
    si: float
    dimension: str


_TEXT = re.compile(
    r"""\s*(?P<sign>[+\-\u2212]?)\s*
    (?: (?:(?P<whole>\d{1,9})[\ \-])? (?P<numerator>\d{1,9})/(?P<denominator>\d{1,9})
      | (?P<decimal>\d{1,15}(?:\.\d{1,20})?|\.\d{1,20}) )
    \s*(?P<unit>(?:(?<=\s)1(?:e-6)?/)?[^\s\d.,/][^\n]*|)\s*\Z""",  # a unit such as 1/min stands apart from the number
    re.VERBOSE | re.ASCII,
)


def parse_text(text: str, dimension: str) -> Quantity:
    """A quantity from text such as ``86 mm``, ``3 3/8 in``, ``3-3/8"`` or ``.006 in``.

    Raises:
        NotAQuantity: it is none, has no unit, or a unit of another dimension.
    """
    match = _TEXT.match(text) if len(text) <= LONGEST_TEXT else None
    if match is None:
        raise NotAQuantity(
            "not-a-quantity", "This is not a number with a unit; decimals take a point, fractions are written 3 3/8 in."
        )
    numerator, decimal, unit_text = match["numerator"], match["decimal"], match["unit"].strip()
    if numerator is not None:
        if int(match["denominator"]) == 0:
            raise NotAQuantity("not-a-quantity", "A fraction with a zero below the line is no number.")
        value = float(int(match["whole"] or 0) + Fraction(int(numerator), int(match["denominator"])))
    else:
        value = float(decimal)
    return quantity(-value if match["sign"] in {"-", "\u2212"} else value, unit_text, dimension)


def quantity(value: float, unit_text: str, dimension: str) -> Quantity:
    """A quantity from a finite number and the text of its unit.

    Raises:
        NotAQuantity: the unit is missing, unknown or of another dimension.
    """
    if not unit_text:
        codes = ", ".join(u.code for u in DIMENSIONS[dimension].units[:6])
        raise NotAQuantity("unit-missing", f"A number alone could mean anything; add its unit: {codes}.")
    unit = find_unit(unit_text, dimension)
    return Quantity(value, unit.code, value * unit.factor + unit.offset, dimension)


def convert(value: float, unit_text: str) -> tuple[str, float]:
    """Dimension and SI value of a number whose unit says what it measures (used when the dataset is read).

    ``K`` and ``degC`` are temperatures here; ``%`` and ``ppm`` are fractions.

    Raises:
        NotAQuantity: the unit is not in the vocabulary.
    """
    dimension = _dimensions_of_spelling().get(unit_text)
    if dimension is None:
        raise NotAQuantity("unit-unknown", "This unit is not in the vocabulary.")
    unit = spellings(dimension)[unit_text]
    return dimension, value * unit.factor + unit.offset


def to_unit(si: float, dimension: str, code: str) -> float:
    """A number in SI expressed in the unit ``code`` of ``dimension``."""
    unit = resolved()[dimension][code]
    return (si - unit.offset) / unit.factor


@dataclass(frozen=True, slots=True)
class Kind:
    """How a quantity is answered: its dimension, its unit in either system and the decimals that the trade reads.

    With ``fine``, a number below ten is shown with one decimal more. Calling a kind makes a :class:`Measure`.
    """

    dimension: str
    metric: str
    us: str
    metric_decimals: int
    us_decimals: int
    fine: bool = False

    def __call__(self, si: float, uncertainty: float | None = None) -> "Measure":
        """The measure of ``si`` in this kind; ``uncertainty`` is expanded (coverage 2), in SI."""
        return Measure(self, si, uncertainty)


@dataclass(frozen=True, slots=True)
class Measure:
    """A quantity of an answer, in SI, that knows how it is shown."""

    kind: Kind
    si: float
    uncertainty: float | None = None


LENGTH = Kind("length", "mm", "in", 2, 3)
CLEARANCE = Kind("length", "mm", "in", 2, 3)
FINE_CLEARANCE = Kind("length", "mm", "in", 3, 4)
DISTANCE = Kind("length", "m", "ft", 0, 0)
ROAD_DISTANCE = Kind("length", "km", "mi", 0, 0)
AREA = Kind("area", "mm2", "in2", 1, 3)
VOLUME = Kind("volume", "cm3", "in3", 1, 1)
SMALL_VOLUME = Kind("volume", "cm3", "in3", 2, 3)
FLUID = Kind("volume", "L", "qt", 2, 2)
ANGLE = Kind("angle", "deg", "deg", 1, 1)
SPEED = Kind("rotational speed", "rpm", "rpm", 0, 0)
SPEED_RAMP = Kind("rotational acceleration", "rpm/s", "rpm/s", 0, 0)
VELOCITY = Kind("velocity", "m/s", "ft/min", 2, 0)
ACCELERATION = Kind("acceleration", "m/s2", "ft/s2", 0, 0)
MASS = Kind("mass", "g", "oz", 0, 2)
INERTIA = Kind("inertia", "kg*cm2", "lb*in2", 2, 2)
FORCE = Kind("force", "N", "lbf", 0, 0)
TORQUE = Kind("torque", "N*m", "lbf*ft", 0, 0, fine=True)
PRESSURE = Kind("pressure", "kPa", "psi", 0, 0)
BAROMETER = Kind("pressure", "kPa", "psi", 1, 2)
VACUUM = Kind("pressure", "kPa", "inHg", 0, 1)
STRESS = Kind("pressure", "MPa", "psi", 0, 0)
MODULUS = Kind("pressure", "GPa", "psi", 1, 0)
TEMPERATURE = Kind("temperature", "degC", "degF", 0, 0)
TEMPERATURE_DIFFERENCE = Kind("temperature difference", "K", "delta_degF", 0, 0)
TEMPERATURE_RATE = Kind("temperature rate", "K/min", "delta_degF/min", 1, 1)
DURATION = Kind("duration", "s", "s", 0, 0, fine=True)
POWER = Kind("power", "kW", "hp", 1, 1)
STIFFNESS = Kind("stiffness", "N/mm", "lbf/in", 1, 0)
DENSITY = Kind("density", "kg/m3", "lb/ft3", 1, 2, fine=True)
KINEMATIC_VISCOSITY = Kind("kinematic viscosity", "mm2/s", "mm2/s", 1, 1)
DYNAMIC_VISCOSITY = Kind("dynamic viscosity", "mPa*s", "mPa*s", 1, 1)
MASS_FLOW = Kind("mass flow", "kg/h", "lb/h", 0, 0)
VOLUME_FLOW = Kind("volume flow", "m3/h", "cfm", 1, 1)
EXPANSION = Kind("expansion", "1e-6/K", "1e-6/degF", 1, 1)
FREQUENCY = Kind("frequency", "Hz", "Hz", 0, 0)
LIFT_RATE = Kind("lift rate", "mm/rad", "in/deg", 2, 5)
HEATING_VALUE = Kind("heating value", "MJ/kg", "Btu/lb", 1, 0)
PERCENT = Kind("fraction", "%", "%", 0, 0, fine=True)
PPM = Kind("fraction", "ppm", "ppm", 0, 0)


def rounded(value: float) -> float:
    """The value at twelve significant digits, without a negative zero: the same on every machine."""
    return float(f"{value:.{SIGNIFICANT_DIGITS}g}") + 0.0


@cache
def _shown_units(kind: Kind) -> tuple[Resolved, Resolved]:
    units = resolved()[kind.dimension]
    return units[kind.metric], units[kind.us]


def _figure(value: float, decimals: int, fine: bool) -> str:
    """The digits of a value as the trade reads them, without a negative zero."""
    if fine and abs(value) < 10:
        decimals += 1
    text = f"{value:.{decimals}f}"
    return text[1:] if text.startswith("-") and not text.strip("-0.") else text


def as_json(measure: Measure, system: UnitSystem = "metric") -> dict[str, Any]:
    """``{"value", "unit", "text"}`` of a measure in a system of units, the other system in brackets in ``text``."""
    kind = measure.kind
    metric, us = _shown_units(kind)
    metric_value = (measure.si - metric.offset) / metric.factor
    metric_text = f"{_figure(metric_value, kind.metric_decimals, kind.fine)} {metric.label}"
    if us is metric:
        value, unit, text = metric_value, metric, metric_text
    else:
        us_value = (measure.si - us.offset) / us.factor
        us_text = f"{_figure(us_value, kind.us_decimals, kind.fine)} {us.label}"
        if system == "us":
            value, unit, text = us_value, us, f"{us_text} ({metric_text})"
        else:
            value, unit, text = metric_value, metric, f"{metric_text} ({us_text})"
    shown: dict[str, Any] = {"value": float(f"{value:.12g}") + 0.0, "unit": unit.code, "text": text}
    if measure.uncertainty is not None:
        shown["uncertainty"] = {"value": rounded(measure.uncertainty / unit.factor), "unit": unit.code, "coverage": 2}
    return shown


def text_of(measure: Measure, system: UnitSystem = "metric") -> str:
    """The measure as it is read out in a shop: ``0.15 mm (0.006 in)``."""
    return str(as_json(measure, system)["text"])


def shown(tree: Any, system: UnitSystem = "metric") -> Any:
    """A tree of an answer with every measure written in a system of units and every float at twelve digits."""
    if isinstance(tree, Measure):
        return as_json(tree, system)
    if isinstance(tree, float):
        return rounded(tree)
    if isinstance(tree, Mapping):
        return {key: shown(value, system) for key, value in tree.items()}
    if isinstance(tree, list | tuple):
        return [shown(value, system) for value in tree]
    return tree
