"""A log as the caller sends it, CSV or rows, as arrays in SI."""

import csv
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from difflib import get_close_matches
from hashlib import sha256
from itertools import islice
from typing import Annotated, Any, NamedTuple, TypeAlias

import numpy as np
import orjson
from pydantic import GetCoreSchemaHandler, GetJsonSchemaHandler
from pydantic.json_schema import JsonSchemaValue
from pydantic_core import CoreSchema, PydanticCustomError, core_schema

from service.answers.break_in_columns import DIMENSIONS, Column, LogFault, clock_reader, columns_of, is_clock
from service.answers.break_in_csv import CellFaults, read_numbers
from service.quantities import NotAQuantity, parse_text, quantity
from service.units import FloatArray

MOST_ROWS = 200_000
LONGEST_CSV = 12_000_000
MOST_OBJECTS = 50_000
EXAMPLE = "time [s],speed [rpm],oil pressure [psi]\n0,0,0\n1,850,22\n2,2050,41"

LOG_ECHO = frozenset({"rows", "units", "ignored", "sha256"})
"""What an answer tells of a log instead of repeating it."""


@dataclass(frozen=True, eq=False)
class LogTable:
    """A log that was read.

    Attributes:
        channels: Arrays in SI by channel; NaN where a reading is missing.
        units: Unit of each used column as it was understood.
        ignored: Headings that were not used.
        sum: SHA-256 of what was sent.
        given: What was sent, as it was sent.
    """

    channels: Mapping[str, FloatArray]
    units: Mapping[str, str]
    ignored: tuple[str, ...] = ()
    sum: str = field(default="", repr=False)
    given: Any = field(default=None, repr=False)

    @property
    def rows(self) -> int:
        """Number of rows."""
        return int(self.channels["time"].size)

    def document(self) -> Any:
        """What was sent, to ask the same again."""
        return self.given

    def echo(self) -> dict[str, Any]:
        """What was understood, in place of the whole log."""
        return {"rows": self.rows, "units": dict(self.units), "ignored": list(self.ignored), "sha256": self.sum}


def read_log(given: Any) -> LogTable:
    """The log in any of its forms: CSV text, ``{"csv": …}``, ``{"columns": […], "rows": [[…]]}``, or a list of rows.

    Raises:
        LogFault: it cannot be read; says what to send instead.
    """
    if isinstance(given, LogTable):
        return given  # read before, as part of a build document
    if isinstance(given, dict) and given.keys() == {"csv"}:
        given = given["csv"]
    try:
        if isinstance(given, str):
            return replace(_from_csv(given), given=given)
        if isinstance(given, dict) and given.keys() == {"columns", "rows"}:
            return replace(_from_rows(given["columns"], given["rows"]), given=given)
        if isinstance(given, list):
            return replace(_from_objects(given), given=given)
    except CellFaults as fault:
        raise LogFault("unreadable-cell", f"The log cannot be read: {fault}") from None
    detail = "Send the log as CSV text with a heading, as columns and rows, or as a list of rows with quantities."
    raise LogFault("not-a-log", detail, EXAMPLE)


class _Head(NamedTuple):
    """What stands above the rows of a CSV: headings, the units beneath them if there are any, and where the rows begin."""

    delimiter: str
    headings: list[str]
    units: list[str] | None
    first_row: list[str]
    begin: int


def _from_csv(text: str) -> LogTable:
    digest = sha256(text.encode()).hexdigest()
    if "\r" in text:
        text = text.replace("\r\n", "\n").replace("\r", "\n")
    text = text.removeprefix("\ufeff")
    head = _head_of(text)
    width = len(head.headings)
    clock = [index < len(head.first_row) and is_clock(head.first_row[index]) for index in range(width)]
    columns, ignored = columns_of(head.headings, _padded(head.units, width), clock)
    if text.count("\n", head.begin) > MOST_ROWS:
        raise LogFault("too-many-rows", f"At most {MOST_ROWS:,} rows are read; thin the log to 10 rows a second or less.")
    numbers = read_numbers(
        text=text,
        start=head.begin,
        delimiter=head.delimiter,
        decimal_comma=head.delimiter != ",",
        headings=head.headings,
        wanted=[column.index for column in columns],
        readers=_readers(columns),
    )
    return _table(columns, numbers, ignored, digest)


def _head_of(text: str) -> _Head:
    """The head of a CSV, below the comments of the logger.

    Raises:
        LogFault: nothing stands below the heading.
    """
    start = 0
    while start < len(text) and text[start] in "#\n":
        start = _next_line(text, start)
    begin = _next_line(text, start)
    line = text[start:begin]
    if not line.endswith("\n"):
        raise LogFault("not-a-log", "The CSV has a heading at most; rows follow it, one a line.", EXAMPLE)
    heading = line[:-1]
    delimiter = max(",;\t", key=heading.count)
    headings, *following = (
        next(csv.reader([line], delimiter=delimiter), []) for line in (heading, *islice(_lines(text, begin), 2))
    )
    if following and _is_unit_row(following[0]):
        return _Head(delimiter, headings, following[0], following[-1], _next_line(text, begin))
    return _Head(delimiter, headings, None, following[0] if following else [], begin)


def _next_line(text: str, start: int) -> int:
    """Where the line after the one at ``start`` begins; the end of the text where there is none."""
    return text.find("\n", start) + 1 or len(text)


def _lines(text: str, start: int) -> Iterator[str]:
    while start < len(text):
        following = _next_line(text, start)
        yield text[start:following].removesuffix("\n")
        start = following


def _is_unit_row(cells: list[str]) -> bool:
    """Whether a row under the heading holds units: no cell of it is a number or a clock time."""
    filled = [cell.strip() for cell in cells if cell.strip()]
    return (
        bool(filled)
        and not any(cell[0] in "+-.0123456789" or is_clock(cell) for cell in filled)
        and any(cell.strip("[]()").casefold() in ("s", "sec", "min", "rpm", "psi", "bar", "kpa") for cell in filled)
    )


def _padded(cells: list[str] | None, width: int) -> list[str] | None:
    if cells is None:
        return None
    return [cell.strip().strip("[]()") for cell in cells] + [""] * (width - len(cells))


def _readers(columns: Sequence[Column]) -> list[Callable[[str], float] | None]:
    return [clock_reader() if column.unit is None else None for column in columns]


def _table(columns: Sequence[Column], numbers: FloatArray, ignored: Sequence[str], digest: str) -> LogTable:
    """Columns in SI; of several head temperatures the hottest counts."""
    if numbers.shape[0] == 0:
        raise LogFault("not-a-log", "The log has no rows.", EXAMPLE)
    channels: dict[str, FloatArray] = {}
    units: dict[str, str] = {}
    for place, column in enumerate(columns):
        values = np.ascontiguousarray(numbers[:, place])
        if column.unit is not None:
            with np.errstate(over="ignore"):  # what overflows is impossible, and is left out as such later
                values = values * column.unit.factor + column.unit.offset
        if column.channel in channels:
            values = np.fmax(channels[column.channel], values)
        channels[column.channel] = values
        units[column.channel] = column.unit.code if column.unit is not None else "clock"
    return LogTable(channels, units, tuple(ignored), digest)


def _from_rows(headings: Any, rows: Any) -> LogTable:
    """Rows of plain numbers under headings with units."""
    if not isinstance(headings, list) or not all(isinstance(heading, str) for heading in headings):
        raise LogFault("not-a-log", "The columns are a list of headings with units.", '["time [s]", "speed [rpm]"]')
    if not isinstance(rows, list) or not rows:
        raise LogFault("not-a-log", "The rows are a list of lists of numbers, one for each column.", "[[0, 850], [1, 2050]]")
    if len(rows) > MOST_ROWS:
        raise LogFault("too-many-rows", f"At most {MOST_ROWS:,} rows are read.")
    columns, ignored = columns_of(headings, None, [False] * len(headings))
    for number, row in enumerate(rows, 1):
        if not isinstance(row, list) or len(row) != len(headings):
            raise LogFault(
                "unreadable-cell", f"Row {number} must be a list of {len(headings)} numbers (null for a missing one)."
            )
        if not all(cell is None or (isinstance(cell, int | float) and not isinstance(cell, bool)) for cell in row):
            raise LogFault("unreadable-cell", f"Row {number} holds something that is neither a number nor null.")
    numbers = np.array([[row[column.index] for column in columns] for row in rows], dtype=np.float64)
    return _table(columns, numbers, ignored, sha256(orjson.dumps([headings, rows])).hexdigest())


def _from_objects(rows: list[Any]) -> LogTable:
    """A list of rows, each an object with quantities by the channels' names."""
    if not rows or len(rows) > MOST_OBJECTS:
        raise LogFault("too-many-rows", f"Send 2 to {MOST_OBJECTS:,} rows in this form; CSV may have {MOST_ROWS:,}.")
    values: dict[str, list[float]] = {name: [] for name in DIMENSIONS}
    units: dict[str, str] = {}
    for number, row in enumerate(rows, 1):
        if not isinstance(row, dict):
            raise LogFault("not-a-log", f"Row {number} must be an object such as {{'time': '0 s', 'speed': '850 rpm'}}.")
        if unknown := sorted(set(row) - set(DIMENSIONS)):
            raise LogFault("unknown-name", f"Row {number} has a field that a log does not have.", _near(unknown[0]))
        for name, dimension in DIMENSIONS.items():
            values[name].append(_quantity(row.get(name), dimension, number, name, units))
    channels = {name: np.array(column) for name, column in values.items()}
    kept = {n: c for n, c in channels.items() if n in ("time", "speed") or np.isfinite(c).any()}
    return LogTable(kept, units, (), sha256(orjson.dumps(rows)).hexdigest())


def _near(name: str) -> str:
    return next(iter(get_close_matches(name[:40], list(DIMENSIONS), n=1, cutoff=0.4)), "speed")


def _quantity(given: Any, dimension: str, number: int, name: str, units: dict[str, str]) -> float:
    """One reading in SI; NaN for null or a missing field."""
    if given is None:
        return float("nan")
    try:
        if isinstance(given, str):
            read = parse_text(given, dimension)
        elif isinstance(given, dict) and isinstance(given.get("value"), int | float) and isinstance(given.get("unit"), str):
            read = quantity(float(given["value"]), given["unit"].strip(), dimension)
        elif isinstance(given, int | float) and not isinstance(given, bool):
            read = quantity(0.0, "", dimension)  # refused as unit-missing
        else:
            raise LogFault("not-a-quantity", f"Row {number}, {name}: send a number with its unit, or null.")
    except NotAQuantity as problem:
        raise LogFault(problem.code, f"Row {number}, {name}: {problem.detail}", problem.did_you_mean) from None
    units.setdefault(name, read.unit)
    return read.si


class _LogSchema:
    """Reads the field with :func:`read_log` and describes its forms in the OpenAPI document."""

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        def validate(given: Any) -> LogTable:
            try:
                return read_log(given)
            except LogFault as fault:
                words: Any = fault.detail.replace("{", "{{").replace("}", "}}")
                code: Any = fault.code
                raise PydanticCustomError(code, words, {"example": fault.example, "did_you_mean": ""}) from None

        return core_schema.no_info_plain_validator_function(validate)

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: GetJsonSchemaHandler) -> JsonSchemaValue:
        words = "Time and speed, optionally oil pressure, oil and head temperature; headings carry the units."
        return {
            "description": words,
            "examples": [EXAMPLE],
            "oneOf": [
                {"type": "string", "maxLength": LONGEST_CSV, "description": "CSV with a heading, such as time [s],rpm"},
                {
                    "type": "object",
                    "properties": {
                        "columns": {"type": "array", "items": {"type": "string"}, "maxItems": 40},
                        "rows": {
                            "type": "array",
                            "items": {"type": "array", "items": {"type": ["number", "null"]}},
                            "maxItems": MOST_ROWS,
                        },
                        "csv": {"type": "string", "maxLength": LONGEST_CSV},
                    },
                    "additionalProperties": False,
                },
                {
                    "type": "array",
                    "maxItems": MOST_OBJECTS,
                    "items": {"type": "object", "properties": {name: {} for name in DIMENSIONS}, "additionalProperties": False},
                },
            ],
        }


LogGiven: TypeAlias = Annotated[LogTable, _LogSchema()]
