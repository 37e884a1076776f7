"""Reading the numbers of a long CSV quickly, and saying which row and column is wrong where one is.

Clean stretches are handed to the JSON reader, which is the fastest reader of numbers in the house; a stretch with anything
but numbers and blanks is read again cell by cell.
"""

import csv
from collections.abc import Callable, Iterator, Sequence
from math import isfinite, nan

import numpy as np
import orjson

from service.units import FloatArray

STRETCH = 1_000_000
MOST_FAULTS = 5
BLANKS = frozenset({"", "nan", "na", "n/a", "null", "none", "-", "--", "#n/a"})


class CellFaults(ValueError):
    """Cells that cannot be read; the message names row and column of the first few."""


def stretches(text: str, start: int) -> Iterator[str]:
    """The lines from a position on, in pieces of about a million characters that end at line ends."""
    while start < len(text):
        end = text.find("\n", min(start + STRETCH, len(text)))
        end = len(text) if end < 0 else end
        yield text[start:end]
        start = end + 1


def read_numbers(
    *,
    text: str,
    start: int,
    delimiter: str,
    decimal_comma: bool,
    headings: Sequence[str],
    wanted: Sequence[int],
    readers: Sequence[Callable[[str], float] | None],
) -> FloatArray:
    """The wanted columns of all rows from a position on, a column of the array each; NaN where a cell is blank.

    ``readers`` has a function for each wanted column whose cells are no plain numbers (clock times), else ``None``.

    Raises:
        CellFaults: cells that are neither number nor blank, or rows longer than the heading.
    """
    parts: list[FloatArray] = []
    faults: list[str] = []
    row = 0
    plain = not any(readers)
    for piece in stretches(text, start):
        found = _fast(piece, delimiter, decimal_comma, len(headings)) if plain else None
        part = found[:, wanted] if found is not None else None
        if part is None:
            part = _slowly(piece, delimiter, decimal_comma, headings, wanted, readers, row, faults)
        row += part.shape[0]
        parts.append(part)
    if faults:
        more = f" and {len(faults) - MOST_FAULTS} more" if len(faults) > MOST_FAULTS else ""
        raise CellFaults("; ".join(faults[:MOST_FAULTS]) + more + ".")
    return np.concatenate(parts) if parts else np.zeros((0, len(wanted)))


def _fast(piece: str, delimiter: str, decimal_comma: bool, width: int) -> FloatArray | None:
    """The whole piece as numbers, or ``None`` if anything in it is no plain number or blank."""
    piece = piece.strip("\n")
    if not piece or '"' in piece or "[" in piece or "true" in piece or "false" in piece or "\n\n" in piece:
        return None
    if decimal_comma:
        piece = piece.replace(",", ".")
    if delimiter != ",":
        piece = piece.replace(delimiter, ",")
    piece = piece.replace("NaN", "null").replace("nan", "null")
    if ",," in piece or ",\n" in piece or "\n," in piece or piece[0] == "," or piece[-1] == ",":
        piece = f"\n{piece}\n".replace(",,", ",null,").replace(",,", ",null,")
        piece = piece.replace(",\n", ",null\n").replace("\n,", "\nnull,").strip("\n")
    if not _even(piece, width):
        return None
    try:
        return np.array(orjson.loads("[" + piece.replace("\n", ",") + "]"), dtype=np.float64).reshape(-1, width)
    except (orjson.JSONDecodeError, ValueError, TypeError):
        return None


def _even(piece: str, width: int) -> bool:
    """Whether every line has the same number of cells, told from its commas and line ends alone."""
    octets = np.frombuffer(f"{piece}\n".encode(), dtype=np.uint8)
    marks = octets[(octets == ord(",")) | (octets == ord("\n"))]
    if marks.size % width:
        return False
    lines = marks.reshape(-1, width) == ord("\n")
    return bool(lines[:, -1].all()) and not lines[:, :-1].any()


def _slowly(
    piece: str,
    delimiter: str,
    decimal_comma: bool,
    headings: Sequence[str],
    wanted: Sequence[int],
    readers: Sequence[Callable[[str], float] | None],
    row: int,
    faults: list[str],
) -> FloatArray:
    """The piece cell by cell; what cannot be read is added to the faults."""
    rows: list[list[float]] = []
    for cells in csv.reader(piece.splitlines(), delimiter=delimiter):
        if not any(cell.strip() for cell in cells):
            continue
        row += 1
        if len(cells) > len(headings):
            faults.append(f"row {row} has {len(cells)} cells, the heading {len(headings)}")
            continue
        values = []
        for column, reader in zip(wanted, readers, strict=True):
            cell = cells[column].strip() if column < len(cells) else ""
            try:
                values.append(_cell(cell, reader, decimal_comma))
            except ValueError:
                values.append(nan)
                faults.append(f"row {row}, column {column + 1} is neither a number nor blank")
        rows.append(values)
    return np.array(rows, dtype=np.float64).reshape(len(rows), len(wanted))


def _cell(cell: str, reader: Callable[[str], float] | None, decimal_comma: bool) -> float:
    """One cell as a number; NaN for a blank.

    Raises:
        ValueError: it is neither.
    """
    if cell.casefold() in BLANKS:
        return nan
    if reader is not None:
        return reader(cell)
    if "_" in cell:
        raise ValueError("underscore")
    value = float(cell.replace(",", ".") if decimal_comma else cell)
    if not isfinite(value):
        raise ValueError("infinite")
    return value
