"""Text and units ⇄ SI: the one place where a number changes its unit.

On the way in, a closed vocabulary of units and our own small grammar turn ``"3 3/8 in"`` or
``{"value": 86, "unit": "mm"}`` into a float in SI. On the way out a :class:`Measure` becomes ``{"value", "unit", "text"}``
in the caller's system of units.
pint resolves the vocabulary into factors, once, when the first quantity is converted; it never sees a caller's text.
"""

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from difflib import get_close_matches
from fractions import Fraction
from functools import cache, partial
from typing import Any, Final, Literal, NamedTuple, TypeAlias

from service.vocabulary import DEFINITIONS, DIMENSIONS, VOCABULARY

UnitSystem: TypeAlias = Literal["metric", "us"]

LONGEST_TEXT = 40
SIGNIFICANT_DIGITS = 12  # beyond them the last bits of libm differ from machine to machine


class NotAQuantity(ValueError):
    """A text or object that is no quantity of the wanted dimension.

    Attributes:
        code: ``unit-missing``, ``unit-unknown``, ``unit-mismatch`` or ``not-a-quantity``.
        guess: Finds the nearest unit, or None; it takes twenty times as long as reading, so it is left to who shows it.
    """

    def __init__(self, code: str, detail: str, guess: Callable[[], str] | None = None) -> None:
        super().__init__(detail)
        self.code = code
        self.detail = detail
        self.guess = guess

    @property
    def did_you_mean(self) -> str:
        """The nearest unit, or an empty string."""
        return self.guess() if self.guess else ""


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
    import pint  # kept off the import path of what needs no factors

    registry: Any = pint.UnitRegistry(None, non_int_type=Fraction)
    registry.load_definitions(DEFINITIONS)
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
    wanted = with_article(dimension)
    if other is not None:
        raise NotAQuantity("unit-mismatch", f"This unit measures {other}; {wanted} is wanted: {codes}.")
    raise NotAQuantity(
        "unit-unknown",
        f"This unit is not known for {wanted}; send one of {codes}.",
        partial(_nearest, text[:LONGEST_TEXT], dimension),
    )


def with_article(noun: str) -> str:
    """A length, an angle."""
    return f"an {noun}" if noun[0] in "aeiou" else f"a {noun}"


def _nearest(text: str, dimension: str) -> str:
    """The code of the unit with the spelling nearest to a text, or an empty text."""
    guesses = _guesses(dimension)
    near = get_close_matches(_bare(text), guesses, n=1, cutoff=0.5)
    return guesses[near[0]] if near else ""


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


@dataclass(frozen=True, slots=True, eq=False)
class Kind:
    """How a quantity is answered: its dimension, its unit in either system and the decimals that the trade reads.

    With ``fine``, a number below ten is shown with one decimal more; with ``three_digits``, one of four digits and more is
    read out to three of them, because nobody knows a force to the fifth. Calling a kind makes a :class:`Measure`. A kind is
    itself and equal to no other, so that what is made for it once is found again without comparing six fields.
    """

    dimension: str
    metric: str
    us: str
    metric_decimals: int
    us_decimals: int
    fine: bool = False
    three_digits: bool = False

    def __call__(self, si: float, uncertainty: float | None = None) -> "Measure":
        """The measure of ``si`` in this kind; ``uncertainty`` is expanded (coverage 2), in SI."""
        return Measure(self, si, uncertainty)


@dataclass(slots=True)
class Measure:
    """A quantity of an answer, in SI, that knows how it is shown.

    Not frozen, because a sheet makes a thousand of them and freezing triples the time that takes; nothing changes one.
    """

    kind: Kind
    si: float
    uncertainty: float | None = None
    written: dict[str, Any] | None = field(default=None, repr=False, compare=False)
    """Its metric form once it has been asked for: faces and lines of work ask again."""


@dataclass(frozen=True, slots=True)
class Series:
    """A column of quantities of one kind, in SI, written with its unit once."""

    kind: Kind
    si: tuple[float, ...]


LENGTH = Kind("length", "mm", "in", 2, 3)
CLEARANCE = Kind("length", "mm", "in", 2, 3)
FINE_CLEARANCE = Kind("length", "mm", "in", 3, 4)
ROUGHNESS = Kind("length", "um", "um", 3, 3)
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
FORCE = Kind("force", "N", "lbf", 0, 0, three_digits=True)
TORQUE = Kind("torque", "N*m", "lbf*ft", 0, 0, fine=True)
PRESSURE = Kind("pressure", "kPa", "psi", 0, 0)
BAROMETER = Kind("pressure", "kPa", "psi", 1, 2)
VACUUM = Kind("pressure", "kPa", "inHg", 0, 1)
STRESS = Kind("pressure", "MPa", "psi", 0, 0, three_digits=True)
MODULUS = Kind("pressure", "GPa", "psi", 1, 0)
TEMPERATURE = Kind("temperature", "degC", "degF", 0, 0)
TEMPERATURE_DIFFERENCE = Kind("temperature difference", "K", "delta_degF", 0, 0)
TEMPERATURE_RATE = Kind("temperature rate", "K/min", "delta_degF/min", 1, 1)
DURATION = Kind("duration", "s", "s", 0, 0, fine=True)
RUN_TIME = Kind("duration", "min", "min", 1, 1)
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
LEAK_SHARE = Kind("fraction", "%", "%", 1, 1)
PPM = Kind("fraction", "ppm", "ppm", 0, 0)


def rounded(value: float) -> float:
    """The value at twelve significant digits, without a negative zero: the same on every machine."""
    return float(f"{value:.{SIGNIFICANT_DIGITS}g}") + 0.0


class _Side(NamedTuple):
    """A kind in one system of units: the relation to SI, the code, and how it is read out (for ``%``).

    ``both`` reads out this and the other system in one go; empty where that takes a closer look at the figures.
    """

    factor: float
    offset: float
    code: str
    plain: str
    below_ten: str
    three_digits: bool
    both: str = ""


@cache
def _sides(kind: Kind) -> tuple[_Side, _Side]:
    """A kind in metric and in US units; the same object twice where both are read in one unit."""
    units = resolved()[kind.dimension]
    metric = _side(units[kind.metric], kind.metric_decimals, kind)
    if kind.us == kind.metric:
        return metric, metric
    us = _side(units[kind.us], kind.us_decimals, kind)
    if kind.fine or kind.three_digits:
        return metric, us
    return metric._replace(both=f"{metric.plain} ({us.plain})"), us._replace(both=f"{us.plain} ({metric.plain})")


def _side(unit: Resolved, decimals: int, kind: Kind) -> _Side:
    label = unit.label.replace("%", "%%")
    plain, below_ten = with_unit(f"%.{decimals}f", label), with_unit(f"%.{decimals + kind.fine}f", label)
    return _Side(unit.factor, unit.offset, unit.code, plain, below_ten, kind.three_digits)


def with_unit(figure: str, label: str) -> str:
    """A figure and its unit as they are printed: a space between, but degrees stand close."""
    return f"{figure}{label}" if label == "°" else f"{figure} {label}"


_HALF_UP: Final = 1 + 1e-12
"""Takes 3.175 up to 3.18 whichever side of it the nearest binary number lies: figures are good to twelve digits."""


def _read_out(value: float, side: _Side) -> str:
    """A figure with its unit as the trade reads it out, without a negative zero."""
    value *= _HALF_UP
    if side.three_digits and not -1000 < value < 1000:
        value = float("%.3g" % value)  # noqa: UP031 - twice as fast
    text = (side.below_ten if -10 < value < 10 else side.plain) % value
    return text[1:] if text.startswith("-0") and value > -1 and not text.split(" ")[0].strip("-0.°") else text


def as_json(measure: Measure, system: UnitSystem = "metric") -> dict[str, Any]:
    """``{"value", "unit", "text"}`` of a measure in a system of units, the other system in brackets in ``text``."""
    if system == "metric" and measure.written is not None:
        return measure.written
    side, other = _sides(measure.kind)
    if system == "us":
        side, other = other, side
    value = (measure.si - side.offset) / side.factor
    if side is other:
        text = _read_out(value, side)
    else:
        beside = (measure.si - other.offset) / other.factor
        if side.both and value > 0 and beside > 0:
            text = side.both % (value * _HALF_UP, beside * _HALF_UP)
        else:
            text = f"{_read_out(value, side)} ({_read_out(beside, other)})"
    shown: dict[str, Any] = {"value": float("%.12g" % value) + 0.0, "unit": side.code, "text": text}  # noqa: UP031 - twice as fast
    if measure.uncertainty is not None:
        shown["uncertainty"] = {"value": rounded(measure.uncertainty / side.factor), "unit": side.code, "coverage": 2}
    if system == "metric":
        measure.written = shown
    return shown


def series_json(series: Series, system: UnitSystem = "metric") -> dict[str, Any]:
    """``{"unit", "values"}`` of a column in a system of units, at twelve significant digits."""
    metric, us = _sides(series.kind)
    unit = us if system == "us" else metric
    factor, offset = unit.factor, unit.offset
    return {"unit": unit.code, "values": [float(f"{(si - offset) / factor:.12g}") + 0.0 for si in series.si]}


def text_of(measure: Measure, system: UnitSystem = "metric") -> str:
    """The measure as it is read out in a shop: ``0.15 mm (0.006 in)``."""
    return str(as_json(measure, system)["text"])


class Fixed(dict[str, Any]):
    """A part of an answer that is the same for every caller, such as a family's torque list; written once in each system."""

    def __init__(self, tree: Mapping[str, Any]) -> None:
        super().__init__(tree)
        self.written: dict[UnitSystem, dict[str, Any]] = {}


_AS_THEY_ARE = frozenset((str, int, bool))


def shown(tree: Any, system: UnitSystem = "metric") -> Any:
    """A tree of an answer with every measure written in a system of units and every float at twelve digits.

    A name without a value is left out: what is not known is absent, not null.
    """
    kind = type(tree)  # asked once: a sheet has thousands of leaves, and isinstance with Mapping is slow
    if kind is Measure:
        return as_json(tree, system)
    if kind is dict:
        return {
            key: value if type(value) in _AS_THEY_ARE else shown(value, system)
            for key, value in tree.items()
            if value is not None
        }
    if kind is list or kind is tuple:
        return [value if type(value) in _AS_THEY_ARE else shown(value, system) for value in tree]
    if kind is float:
        return rounded(tree)
    if kind is Series:
        return series_json(tree, system)
    if kind is Fixed:
        if system not in tree.written:
            tree.written[system] = shown(dict(tree), system)
        return tree.written[system]
    return tree
