"""The fields of a question: quantities, numbers and choices with their hard and plausible ranges.

Outside the hard range a value is refused with the reason. Outside the plausible range it is used, and an ``ask`` finding
says so (see :func:`service.answers.plausibility.findings`). Nothing is ever clamped.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from math import isfinite, log
from typing import Annotated, Any, Literal, TypeAlias

from pydantic import BaseModel, ConfigDict, Field, GetCoreSchemaHandler, GetJsonSchemaHandler, StringConstraints
from pydantic.json_schema import JsonSchemaValue
from pydantic_core import CoreSchema, PydanticCustomError, core_schema

from service.quantities import NotAQuantity, Quantity, find_unit, parse_text, quantity, resolved, with_article
from service.vocabulary import DIMENSIONS


class Request(BaseModel):
    """Base of every question and of every nested part of one: unknown names are refused, nothing is coerced."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True, arbitrary_types_allowed=True, defer_build=True)


@dataclass(frozen=True, slots=True)
class Range:
    """A closed range in SI and in the words of the declaration, such as ``20 .. 200 mm``."""

    low: float
    high: float
    words: str
    slack: float

    def holds(self, si: float) -> bool:
        """Whether the value lies in the range, with the last bits of a conversion forgiven."""
        return self.low - self.slack <= si <= self.high + self.slack


def _range(words: str, dimension: str) -> Range:
    """A range written as ``20 .. 200 mm``; both ends in the one unit."""
    low, rest = words.split("..")
    high, unit = rest.split(maxsplit=1)
    resolved = find_unit(unit, dimension)
    ends = [float(number) * resolved.factor + resolved.offset for number in (low, high)]
    return Range(ends[0], ends[1], words.replace("..", "to"), 1e-12 * max(map(abs, ends)))


@dataclass(frozen=True)
class Measured:
    """Declares a quantity field: its dimension, its ranges with unit, and an example to show when it is wrong.

    Use it as ``Annotated[Quantity, Measured("length", hard="20 .. 200 mm", plausible="50 .. 110 mm", example="86 mm")]``.
    """

    dimension: str
    hard: str
    plausible: str = ""
    example: str = ""
    meaning: str = ""

    @cached_property
    def hard_range(self) -> Range:
        """The range outside which the value is refused."""
        return _range(self.hard, self.dimension)

    @cached_property
    def plausible_range(self) -> Range | None:
        """The range outside which the service asks whether the value is meant."""
        return _range(self.plausible, self.dimension) if self.plausible else None

    def is_usual(self, given: Any) -> bool:
        """Whether a parsed value lies in the plausible range, where there is one."""
        usual = self.plausible_range
        return usual is None or usual.low - usual.slack <= given.si <= usual.high + usual.slack

    def parse(self, given: Any) -> Quantity:
        """The quantity in either of its two forms.

        Raises:
            PydanticCustomError: with the code and the words for the caller.
        """
        try:
            parsed = self._parse_form(given)
        except NotAQuantity as problem:
            context = {"example": self.example, "did_you_mean": problem.guess or ""}
            raise PydanticCustomError(_code(problem.code), _literal(problem.detail), context) from None
        if not self.hard_range.holds(parsed.si):
            siblings = self.usual_units(parsed)
            context = {"example": self.example, "did_you_mean": f"{parsed.value:g} {siblings[0]}" if siblings else ""}
            raise PydanticCustomError("out-of-range", _literal(f"This must be {self.hard_range.words}."), context)
        return parsed

    def usual_units(self, given: Quantity) -> list[str]:
        """Codes of the other units in which the same figure would be usual, the nearest in size first."""
        usual = self.plausible_range
        units = resolved()[self.dimension]
        size = units[given.unit].factor
        usual_in = [
            unit
            for unit in units.values()
            if usual is not None and unit.code != given.unit and usual.holds(given.value * unit.factor + unit.offset)
        ]
        return [unit.code for unit in sorted(usual_in, key=lambda unit: abs(log(unit.factor / size)))]

    def _parse_form(self, given: Any) -> Quantity:
        if isinstance(given, Quantity) and given.dimension == self.dimension:
            return given  # parsed before, as part of a build document
        if isinstance(given, str):
            return parse_text(given, self.dimension)
        if isinstance(given, dict):
            if given.keys() != {"value", "unit"}:
                raise NotAQuantity("not-a-quantity", 'A quantity has exactly "value" and "unit".')
            value, unit = given["value"], given["unit"]
            if isinstance(value, bool) or not isinstance(value, int | float) or not _finite(value):
                raise NotAQuantity("not-a-quantity", "The value of a quantity is a finite number.")
            if not isinstance(unit, str):
                raise NotAQuantity("not-a-quantity", "The unit of a quantity is a text.")
            return quantity(float(value), unit.strip(), self.dimension)
        if isinstance(given, int | float) and not isinstance(given, bool):
            return quantity(0.0, "", self.dimension)  # refused as unit-missing
        raise NotAQuantity("not-a-quantity", "Send a number with its unit, as text or as an object.")

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        """Validate with :meth:`parse`."""
        return core_schema.no_info_plain_validator_function(self.parse)

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: GetJsonSchemaHandler) -> JsonSchemaValue:
        """The two forms of a quantity, with the units as an enumeration."""
        codes = [unit.code for unit in DIMENSIONS[self.dimension].units]
        described = f"{self.meaning} " if self.meaning else ""
        what = with_article(self.dimension).capitalize()
        plausible = f"; usual: {self.plausible.replace('..', 'to')}" if self.plausible else ""
        return {
            "description": f"{described}{what}, {self.hard.replace('..', 'to')}{plausible}.",
            "x-dimension": self.dimension,
            "examples": [self.example] if self.example else [],
            "oneOf": [
                {"type": "string", "maxLength": 40, "description": "Number and unit, fractions allowed: 3 3/8 in"},
                {
                    "type": "object",
                    "properties": {"value": {"type": "number"}, "unit": {"type": "string", "enum": codes}},
                    "required": ["value", "unit"],
                    "additionalProperties": False,
                },
            ],
        }


@dataclass(frozen=True)
class Number:
    """Declares a plain number field (a ratio or a count) with its ranges; booleans and texts are refused."""

    low: float
    high: float
    plausible: tuple[float, float] | None = None
    integer: bool = False
    example: float | None = None
    meaning: str = ""

    def is_usual(self, given: Any) -> bool:
        """Whether a parsed value lies in the plausible range, where there is one."""
        return self.plausible is None or bool(self.plausible[0] <= given <= self.plausible[1])

    def parse(self, given: Any) -> float | int:
        """The number, refused outside its hard range.

        Raises:
            PydanticCustomError: with the code and the words for the caller.
        """
        if isinstance(given, bool) or not isinstance(given, int | float) or not _finite(given):
            raise PydanticCustomError("not-a-number", _literal(f"Send a plain {self.noun}, without quotes."), self.context)
        if self.integer and given != int(given):
            raise PydanticCustomError("not-a-number", "Send a whole number.", self.context)
        if not self.low <= given <= self.high:
            raise PydanticCustomError("out-of-range", _literal(f"This must be {self.low:g} to {self.high:g}."), self.context)
        return int(given) if self.integer else float(given)

    @property
    def noun(self) -> str:
        """What is wanted, in words."""
        return "whole number" if self.integer else "number"

    @property
    def context(self) -> dict[str, Any]:
        """What an error shows besides its words."""
        return {"example": "" if self.example is None else self.example, "did_you_mean": ""}

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        """Validate with :meth:`parse`."""
        return core_schema.no_info_plain_validator_function(self.parse)

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: GetJsonSchemaHandler) -> JsonSchemaValue:
        """A number with its hard range."""
        shown: JsonSchemaValue = {
            "type": "integer" if self.integer else "number",
            "minimum": self.low,
            "maximum": self.high,
        }
        if self.meaning:
            shown["description"] = self.meaning
        if self.example is not None:
            shown["examples"] = [self.example]
        return shown


def _finite(value: float) -> bool:
    try:
        return isfinite(value)
    except OverflowError:
        return False


def _code(code: str) -> Any:
    """Pydantic wants a literal string for an error's type; ours come from a closed list all the same."""
    return code


def _literal(words: str) -> Any:
    """A message without placeholders for pydantic's template language."""
    return words.replace("{", "{{").replace("}", "}}")


# Texts: ids of the dataset, and free words that are shown again (escaped) but never interpreted.
# Neither may hold what steers a terminal or turns the direction of writing, so that they are read as they were written.
PRINTABLE = r"^[^\x00-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e\u2066-\u2069]+$"
Id: TypeAlias = Annotated[str, StringConstraints(min_length=1, max_length=60, pattern=PRINTABLE)]
Words: TypeAlias = Annotated[str, StringConstraints(min_length=1, max_length=200, pattern=PRINTABLE)]

# Fields that several topics share. The ranges are the handbook's; see DEVELOPERS.md, "Ranges".
Bore: TypeAlias = Annotated[Quantity, Measured("length", "20 .. 200 mm", "50 .. 110 mm", "86 mm", "Diameter of the cylinder.")]
Stroke: TypeAlias = Annotated[
    Quantity, Measured("length", "20 .. 250 mm", "45 .. 110 mm", "73 mm", "Twice the throw of the crank.")
]
RodLength: TypeAlias = Annotated[
    Quantity, Measured("length", "40 .. 400 mm", "90 .. 220 mm", "136 mm", "Centre to centre of the connecting rod.")
]
Cylinders: TypeAlias = Annotated[int, Number(1, 36, (1, 8), integer=True, example=4, meaning="Number of cylinders.")]
Speed: TypeAlias = Annotated[
    Quantity, Measured("rotational speed", "1 .. 15000 rpm", "300 .. 7000 rpm", "3000 rpm", "Crankshaft speed.")
]
Altitude: TypeAlias = Annotated[
    Quantity, Measured("length", "-400 .. 6000 m", "-100 .. 3000 m", "500 m", "Height above sea level.")
]
AirTemperature: TypeAlias = Annotated[
    Quantity, Measured("temperature", "-50 .. 60 degC", "-20 .. 45 degC", "20 degC", "Temperature of the air.")
]
StationPressure: TypeAlias = Annotated[
    Quantity,
    Measured("pressure", "40 .. 110 kPa", "70 .. 104 kPa", "98 kPa", "Barometer at the place, not reduced to sea level."),
]

FiringOrder: TypeAlias = Annotated[
    str,
    StringConstraints(pattern=r"^\d{1,2}(-\d{1,2}){0,35}$", max_length=110),
    Field(description="Firing order as it is read out, such as 1-4-3-2.", examples=["1-4-3-2"]),
]
Tappet: TypeAlias = Literal["flat", "hydraulic", "mushroom", "roller"]
Rotation: TypeAlias = Annotated[
    Literal["clockwise", "anticlockwise"], Field(description="Of the crank, seen from the end that carries the marks.")
]


def field_specs(model: type[BaseModel]) -> Mapping[str, Measured | Number]:
    """The declared ranges of a model's own fields, by field name."""
    specs: dict[str, Measured | Number] = {}
    for name, field in model.model_fields.items():
        for spec in _metadata(field.annotation, field.metadata):
            if isinstance(spec, Measured | Number):
                specs[name] = spec
    return specs


def _metadata(annotation: Any, metadata: list[Any]) -> list[Any]:
    """The annotation's metadata, also of ``Annotated[…] | None`` and of the items of a list."""
    found = list(metadata)
    for part in getattr(annotation, "__args__", ()):
        inner = getattr(part, "__metadata__", ())
        found.extend(_metadata(part.__origin__ if inner else part, list(inner)))
    return found
