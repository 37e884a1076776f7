"""An answer as CSV (RFC 4180): its table where it has one, else one row a figure, with the unit in a column of its own."""

import csv
import io
from collections.abc import Iterable, Mapping
from typing import Any

from service.answers.asking import Asked
from service.faces.rows import flat
from service.quantities import Measure, UnitSystem, shown

_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\0")


def guarded(text: str) -> str:
    """Text that a spreadsheet would run as a formula is marked as text; numbers are never touched."""
    return f"'{text}" if text.startswith(_FORMULA_STARTS) else text


def write(asked: Asked, system: UnitSystem) -> bytes:
    """The answer as CSV in UTF-8."""
    table = asked.answer.table
    rows = _table(table, system) if table else _figures(asked, system)
    return encode(rows)


def encode(rows: Iterable[Iterable[Any]]) -> bytes:
    """Rows as CSV; texts are guarded, numbers written as they are."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    for row in rows:
        writer.writerow([guarded(cell) if isinstance(cell, str) else "" if cell is None else cell for cell in row])
    return out.getvalue().encode()


def _figures(asked: Asked, system: UnitSystem) -> Iterable[list[Any]]:
    yield ["name", "value", "unit", "text", "dataset", "answer_id"]
    for name, value in flat(asked.answer.result, system):
        stamp = [asked.dataset.version, asked.answer_id]
        if isinstance(value, Mapping):
            yield [name, value["value"], value["unit"], value["text"], *stamp]
        else:
            yield [name, value, "", "" if value is None else str(value), *stamp]


def _table(table: list[dict[str, Any]], system: UnitSystem) -> Iterable[list[Any]]:
    """A table with the unit of each measured column in its heading, as ``speed [rpm]``."""
    first = table[0]
    yield [_column(name, value, system) for name, value in first.items()]
    for row in table:
        yield [shown(value, system)["value"] if isinstance(value, Measure) else value for value in row.values()]


def _column(name: str, value: Any, system: UnitSystem) -> str:
    return f"{name} [{shown(value, system)['unit']}]" if isinstance(value, Measure) else name
