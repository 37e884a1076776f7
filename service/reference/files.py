"""Strict reading of the dataset's files: what is there, byte by byte, or a named fault. Nothing is written, ever."""

import csv
import io
import json
import os
import re
import stat
from hashlib import sha256
from pathlib import Path
from typing import Any

from service.errors import BrokenDataset

LARGEST_FILE = 8_000_000
SHOWN = 80
UNWANTED = re.compile("[\x00-\x09\x0b-\x1f\x7f-\x9f\u2028\u2029\ufeff]")


def broken(where: str, found: str, allowed: str) -> BrokenDataset:
    """A fault of the dataset in the words of the person who has to mend it."""
    shown = found if len(found) <= SHOWN else f"{found[:SHOWN]}…"
    return BrokenDataset(f"{where}: found {shown!r}; allowed: {allowed}")


def at(file: str, line: int, column: str) -> str:
    """A place in a file."""
    return f"{file}, line {line}, column {column}"


def entries(folder: Path, name: str) -> set[str]:
    """Names in a folder.

    Raises:
        BrokenDataset: It is missing, no folder, a symbolic link, or unreadable.
    """
    if folder.is_symlink():
        raise broken(name, "a symbolic link", "a real folder")
    try:
        return {entry.name for entry in folder.iterdir()}
    except OSError as fault:
        raise broken(name, _reason(fault), "a readable folder") from fault


def require(found: set[str], wanted: set[str], where: str) -> None:
    """Nothing missing, nothing extra.

    Raises:
        BrokenDataset: Names the first file that is missing, or that has no business here.
    """
    for name in sorted(wanted - found):
        raise broken(f"{where}/{name}", "no such file", "the file that the manifest lists")
    for name in sorted(found - wanted):
        raise broken(f"{where}/{name}", "an extra file", f"only {', '.join(sorted(wanted))}")


def read(path: Path, name: str) -> bytes:
    """The bytes of a regular file.

    Raises:
        BrokenDataset: It is missing, a link, no regular file, unreadable, or too large.
    """
    try:
        descriptor = os.open(path, os.O_RDONLY | os.O_NOFOLLOW | os.O_NONBLOCK | os.O_CLOEXEC)
    except OSError as fault:
        found = "a symbolic link" if path.is_symlink() else _reason(fault)
        raise broken(name, found, "a readable regular file") from fault
    try:
        status = os.fstat(descriptor)
        if not stat.S_ISREG(status.st_mode):
            raise broken(name, "not a regular file", "a readable regular file")
        if status.st_size > LARGEST_FILE:
            raise broken(name, f"{status.st_size} bytes", f"at most {LARGEST_FILE} bytes")
        with os.fdopen(descriptor, "rb", closefd=False) as file:
            return file.read(LARGEST_FILE)
    except OSError as fault:
        raise broken(name, _reason(fault), "a readable regular file") from fault
    finally:
        os.close(descriptor)


def text(content: bytes, name: str) -> str:
    """UTF-8 with LF line ends and a newline at the end; no byte-order mark, no control characters.

    Raises:
        BrokenDataset: Names the line of the first fault.
    """
    try:
        decoded = content.decode("utf-8", errors="strict")
    except UnicodeDecodeError as fault:
        line = content.count(b"\n", 0, fault.start) + 1
        raise broken(f"{name}, line {line}", repr(content[fault.start : fault.end]), "UTF-8 text") from fault
    if unwanted := UNWANTED.search(decoded):
        line = decoded.count("\n", 0, unwanted.start()) + 1
        found = f"U+{ord(unwanted.group()):04X}"
        raise broken(f"{name}, line {line}", found, "UTF-8 text without byte-order mark, LF line ends, no control characters")
    if not decoded.endswith("\n"):
        raise broken(f"{name}, last line", decoded[-20:], "a newline at the end of the file")
    return decoded


def json_document(content: bytes, name: str) -> Any:
    """A JSON document without duplicate keys, NaN or Infinity.

    Raises:
        BrokenDataset: It cannot be read as such.
    """
    decoded = text(content, name)
    try:
        return json.loads(decoded, object_pairs_hook=_once_each, parse_constant=_no_constant)
    except (ValueError, RecursionError) as fault:
        raise broken(name, str(fault), "a JSON document, every key once, finite numbers") from fault


def csv_rows(content: bytes, name: str, columns: tuple[str, ...]) -> list[tuple[int, dict[str, str]]]:
    """Rows of a CSV file with their line numbers.

    Raises:
        BrokenDataset: The header differs, a row has more or fewer cells, a quote is left open, a line is empty.
    """
    reader = csv.reader(io.StringIO(text(content, name)), strict=True)
    rows: list[tuple[int, dict[str, str]]] = []
    try:
        header = next(reader, [])
        if tuple(header) != columns:
            raise broken(f"{name}, line 1", ",".join(header), ",".join(columns))
        for cells in reader:
            if len(cells) != len(columns):
                raise broken(f"{name}, line {reader.line_num}", f"{len(cells)} cells", f"{len(columns)} cells")
            rows.append((reader.line_num, dict(zip(columns, cells, strict=True))))
    except csv.Error as fault:
        raise broken(f"{name}, line {reader.line_num}", str(fault), "comma-separated cells in the form of RFC 4180") from fault
    return rows


def digest(content: bytes) -> str:
    """SHA-256 in hexadecimal."""
    return sha256(content).hexdigest()


def canonical(document: object) -> bytes:
    """JSON that is the same bytes for the same content: keys sorted, no blanks, UTF-8."""
    return json.dumps(document, ensure_ascii=False, sort_keys=True, separators=(",", ":"), allow_nan=False).encode()


def _once_each(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    document = dict(pairs)
    if len(document) != len(pairs):
        raise ValueError("the same key twice")
    return document


def _no_constant(constant: str) -> float:
    raise ValueError(f"{constant} is no number")


def _reason(fault: OSError) -> str:
    return (fault.strerror or type(fault).__name__).lower()
