"""An answer as CSV (RFC 4180): its table where it has one, else one row a figure, with the unit in a column of its own."""

import csv
import io
import re
from collections.abc import Iterable, Mapping
from typing import Any

from service.answers.asking import Asked
from service.faces.rows import flat, words
from service.quantities import Measure, UnitSystem, rounded, shown

_NUMBER = re.compile(r"[-+]?[0-9.]+(e[-+]?[0-9]+)?")
_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\0")


def guarded(text: str) -> str:
    """Text that a spreadsheet would run as a formula is marked as text; numbers are never touched."""
    return f"'{text}" if text.startswith(_FORMULA_STARTS) and not _NUMBER.fullmatch(text) else text


def write(asked: Asked, system: UnitSystem) -> bytes:
    """The answer as CSV in UTF-8."""
    table = asked.answer.table
    rows = _table(table, system) if table else _figures(asked, system)
    return encode(rows)


def encode(rows: Iterable[Iterable[Any]]) -> bytes:
    """Rows as CSV: texts guarded, numbers at the digits that every face has."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    for row in rows:
        writer.writerow([_cell(value) for value in row])
    return out.getvalue().encode()


def _cell(value: Any) -> Any:
    if isinstance(value, str):
        return guarded(value)
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return rounded(value)
    return "" if value is None else value


def _figures(asked: Asked, system: UnitSystem) -> Iterable[list[Any]]:
    yield ["name", "value", "unit", "text", "dataset", "answer_id"]
    for name, value in flat(asked.answer.result, system):
        stamp = [asked.dataset.version, asked.answer_id]
        if isinstance(value, Mapping):
            yield [name, value["value"], value["unit"], value["text"], *stamp]
        else:
            yield [name, value, "", "" if value is None else words(value), *stamp]


def _table(table: list[dict[str, Any]], system: UnitSystem) -> Iterable[list[Any]]:
    """A table with the unit of each measured column in its heading, as ``speed [rpm]``."""
    first = table[0]
    yield [_column(name, value, system) for name, value in first.items()]
    for row in table:
        yield [shown(value, system)["value"] if isinstance(value, Measure) else value for value in row.values()]


def _column(name: str, value: Any, system: UnitSystem) -> str:
    return f"{name} [{shown(value, system)['unit']}]" if isinstance(value, Measure) else name
