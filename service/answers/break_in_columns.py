"""Headings of a log in the caller's words: which channel a column is, and in which unit."""

import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime

from service.quantities import NotAQuantity, Resolved, find_unit

DIMENSIONS = {
    "time": "duration",
    "speed": "rotational speed",
    "oil_pressure": "pressure",
    "oil_temperature": "temperature",
    "head_temperature": "temperature",
}
EXAMPLES = {
    "time": "time [s]",
    "speed": "speed [rpm]",
    "oil_pressure": "oil pressure [psi]",
    "oil_temperature": "oil temperature [°F]",
    "head_temperature": "head temperature [°C]",
}
_WORDS: dict[str, tuple[str, ...]] = {
    "time": ("time", "t", "elapsed", "elapsed time", "timestamp", "clock", "run time"),
    "speed": ("speed", "rpm", "engine speed", "engine rpm", "revs", "tach", "tacho", "tachometer", "n", "crank speed"),
    "oil_pressure": ("oil pressure", "oil press", "oil p", "p oil", "oilp", "pressure", "op", "poil", "oilpressure"),
    "oil_temperature": (
        "oil temperature", "oil temp", "oil t", "t oil", "oiltemp", "sump temperature", "sump temp", "ot", "toil",
    ),
    "head_temperature": (
        "head temperature", "head temp", "cht", "cylinder head temperature", "cylinder head temp", "cyl head temp", "t head",
        "headtemp", "thead",
    ),
}  # fmt: skip
_CHANNEL = {word: channel for channel, words in _WORDS.items() for word in words}
_BRACKETS = re.compile(r"(?P<name>.*?)\s*[\[(](?P<unit>[^\])]*)[\])]\s*\Z")
_UNIT_NAMES = {"rpm": ("speed", "rpm"), "seconds": ("time", "s"), "minutes": ("time", "min"), "secs": ("time", "s")}
_CLOCK = re.compile(r"(?:(\d{1,3}):)?(\d{1,2}):(\d{1,2}(?:[.,]\d+)?)\Z", re.ASCII)


class LogFault(ValueError):
    """A log that cannot be read.

    Attributes:
        code: The error's code.
        detail: What is wrong and what to send instead, in words for the caller.
        example: A heading, or a log, that would do.
    """

    def __init__(self, code: str, detail: str, example: str = "") -> None:
        super().__init__(detail)
        self.code = code
        self.detail = detail
        self.example = example


@dataclass(frozen=True)
class Column:
    """One used column.

    Attributes:
        index: Its place in the row.
        channel: What it holds.
        unit: Its unit, or ``None`` for clock times.
    """

    index: int
    channel: str
    unit: Resolved | None


def plain(heading: str) -> str:
    """A heading in lower case with single spaces, without quotes and joints."""
    text = heading.strip().strip("\"'").replace("_", " ").replace("-", " ").replace(".", " ")
    return " ".join(text.casefold().split())


def channel_of(name: str) -> str | None:
    """The channel that a name, without its unit, means; a trailing number (of a cylinder) is ignored."""
    name = re.sub(r"\s*#?\d{1,2}$", "", name)
    if name in _CHANNEL:
        return _CHANNEL[name]
    if "oil" in name and "press" in name:
        return "oil_pressure"
    if "oil" in name and "temp" in name:
        return "oil_temperature"
    if ("head" in name or "cht" in name) and "gasket" not in name:
        return "head_temperature"
    return None


def split_heading(heading: str, unit_row: str | None) -> tuple[str | None, str]:
    """The channel of a heading and the text of its unit, empty where there is none."""
    match = _BRACKETS.match(heading.strip().strip("\"'"))
    if match:
        return channel_of(plain(match["name"])), match["unit"].strip()
    text = plain(heading)
    if text in _UNIT_NAMES:
        return _UNIT_NAMES[text][0], unit_row or _UNIT_NAMES[text][1]
    if text in _CHANNEL:
        return _CHANNEL[text], unit_row or ("rpm" if text.endswith("rpm") else "")
    head, _, last = heading.strip().strip("\"'").replace("_", " ").replace(",", " ").replace("/", " ").rpartition(" ")
    channel = channel_of(plain(head))
    if channel is not None and (plain(head) in _CHANNEL or _is_unit(channel, last)):
        return channel, unit_row or last
    return channel_of(text), unit_row or ""


def _is_unit(channel: str, text: str) -> bool:
    try:
        find_unit(text, DIMENSIONS[channel])
    except NotAQuantity:
        return False
    return True


def columns_of(headings: list[str], unit_row: list[str] | None, clock: list[bool]) -> tuple[list[Column], list[str]]:
    """The used columns, and the headings of the others.

    ``clock`` says of each column whether its cells are clock times, which need no unit.

    Raises:
        LogFault: time or speed is missing, a unit is missing or wrong, or two columns hold the same.
    """
    used: list[Column] = []
    ignored: list[str] = []
    for index, heading in enumerate(headings):
        channel, unit_text = split_heading(heading, unit_row[index] if unit_row else None)
        if channel is None:
            ignored.append(heading.strip()[:40])
            continue
        if channel != "head_temperature" and any(column.channel == channel for column in used):
            detail = f"Two columns of the log seem to hold the {channel.replace('_', ' ')}; send one of them."
            raise LogFault("ambiguous-column", detail, EXAMPLES[channel])
        used.append(Column(index, channel, None if clock[index] else _unit(channel, unit_text, index)))
    for channel in ("time", "speed"):
        if not any(column.channel == channel for column in used):
            detail = f"The log has no column for the {channel}; its heading is read like {EXAMPLES[channel]!r}."
            raise LogFault("missing-column", detail, EXAMPLES[channel])
    return used, ignored


def _unit(channel: str, text: str, index: int) -> Resolved:
    name = channel.replace("_", " ")
    if not text:
        detail = f"Column {index + 1} ({name}) has no unit; write it into the heading, like {EXAMPLES[channel]!r}."
        raise LogFault("unit-missing", detail, EXAMPLES[channel])
    try:
        return find_unit(text, DIMENSIONS[channel])
    except NotAQuantity as problem:
        detail = f"Column {index + 1} ({name}): {problem.detail}"
        raise LogFault(problem.code, detail, problem.did_you_mean or EXAMPLES[channel]) from None


def clock_reader() -> Callable[[str], float]:
    """A reader of clock times (``12:34:56.7``, ``2:05``, ISO 8601) into seconds; past midnight it goes on counting."""
    latest = -1.0
    days = 0

    def read(cell: str) -> float:
        nonlocal latest, days
        match = _CLOCK.match(cell)
        if match is None:
            stamp = datetime.fromisoformat(cell)
            return (stamp if stamp.tzinfo else stamp.replace(tzinfo=UTC)).timestamp()
        hours, minutes, seconds = match.groups()
        moment = 3600.0 * int(hours or 0) + 60.0 * int(minutes) + float(seconds.replace(",", "."))
        if moment < latest - 43_200:
            days += 1
        latest = moment
        return moment + 86_400.0 * days

    return read


def is_clock(cell: str) -> bool:
    """Whether a cell is a time of day, a stopwatch's time or a date with a time."""
    cell = cell.strip().strip('"')
    if _CLOCK.match(cell):
        return True
    try:
        return "-" in cell[4:] and datetime.fromisoformat(cell) is not None
    except ValueError:
        return False
