"""What a property may hold and what a table is made of; the words in which a broken row is reported."""

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from math import isfinite
from typing import Literal, TypeAlias

Kind: TypeAlias = Literal["dimension", "number", "integer", "text", "choice", "reference"]
Convert: TypeAlias = Callable[[float, str], tuple[str, float]]

DECIMAL = re.compile(r"-?[0-9]{1,12}(\.[0-9]{1,12})?")
FRACTION = re.compile(r"(?:([0-9]{1,3}) )?([0-9]{1,3})/([1-9][0-9]{0,2})")
INTEGER = re.compile(r"-?[0-9]{1,9}")


class Unacceptable(Exception):
    """A cell that the schema does not allow: which column, what was found, what would do."""

    def __init__(self, column: str, found: str, allowed: str) -> None:
        super().__init__(column, found, allowed)
        self.column = column
        self.found = found
        self.allowed = allowed


@dataclass(frozen=True, slots=True)
class Property:
    """A column of facts.

    Attributes:
        kind: ``dimension`` (a number with a unit), ``number`` and ``integer`` (without), ``text``, ``choice`` of a closed
            list, or ``reference`` to an entity of another table.
        units: The units in which it may be printed.
        low: Least value, in SI, or ``None``.
        high: Greatest value, in SI, or ``None``.
        required: Whether every entity of the table must have it.
        choices: The closed list of a ``choice``.
        table: The table that a ``reference`` points into.
    """

    kind: Kind
    units: tuple[str, ...] = ()
    low: float | None = None
    high: float | None = None
    required: bool = False
    choices: tuple[str, ...] = ()
    table: str = ""

    def si(self, value: str, unit: str, convert: Convert) -> float | None:
        """The value of a cell in SI (plain for numbers without a unit), or ``None`` where it is no number.

        Raises:
            Unacceptable: The unit is not one of this property, or the value is not what the property may hold.
        """
        if unit not in (self.units or ("",)):
            raise Unacceptable("unit", unit, f"one of {', '.join(self.units)}" if self.units else "empty")
        if self.kind == "text" or self.kind == "reference":
            return None
        if self.kind == "choice":
            if value not in self.choices:
                raise Unacceptable("value", value, f"one of {', '.join(self.choices)}")
            return None
        if self.kind == "integer" and not INTEGER.fullmatch(value):
            raise Unacceptable("value", value, "a whole number")
        number = as_number(value)
        si = convert(number, unit)[1] if unit else number
        if not isfinite(si) or si < _or(self.low, si) or si > _or(self.high, si):
            raise Unacceptable("value", f"{value} {unit}".strip(), self._range())
        return si

    def _range(self) -> str:
        where = " in SI units" if self.units else ""
        if self.low is not None and self.high is not None:
            return f"{self.low:g} to {self.high:g}{where}"
        if self.low is not None:
            return f"at least {self.low:g}{where}"
        return f"at most {self.high:g}{where}" if self.high is not None else f"a finite number{where}"


@dataclass(frozen=True, slots=True)
class Table:
    """A table of the dataset: its title, its properties, and the table whose ids stand before the ``/`` of its own."""

    title: str
    properties: Mapping[str, Property] = field(default_factory=dict)
    parent: str = ""

    @property
    def required(self) -> tuple[str, ...]:
        """Names of the properties that every entity has."""
        return tuple(name for name, it in self.properties.items() if it.required)


def as_number(value: str) -> float:
    """A printed number: a plain decimal or a shop fraction (``5/16``, ``1 3/8``).

    Raises:
        Unacceptable: Anything else, among them NaN, infinity, exponents, digit separators and other scripts' digits.
    """
    if DECIMAL.fullmatch(value):
        return float(value)
    if fraction := FRACTION.fullmatch(value):
        whole, over, under = fraction.groups()
        return int(whole or 0) + int(over) / int(under)
    raise Unacceptable("value", value, "a plain decimal number or a fraction like 5/16")


def _or(limit: float | None, otherwise: float) -> float:
    return otherwise if limit is None else limit
