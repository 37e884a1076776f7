"""Published cases asked of the service, and what became of each figure: expected, answered, deviation, verdict.

The cases are the project's own copy, ``tests/published/wall.json``. Who asks is handed in, so that nothing here knows HTTP. An
expected figure is brought to SI with the vocabulary of units, whose factors are cases of the wall themselves (read in SI, so
that no factor proves itself).
"""

import csv
import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cached_property
from math import prod
from pathlib import Path
from typing import Any, Literal

from service.quantities import convert

Ask = Callable[[str, Mapping[str, Any] | None], Any]
"""Path and document → the answer's JSON; without a document the path is looked up with GET."""

Verdict = Literal["agrees", "deviates"]
PLAIN = ("", "1", "1/K")
"""Units of SI values that the vocabulary does not hold, because nobody sends them."""


@dataclass(frozen=True)
class Judged:
    """One figure of a case against what was answered, both in the unit of the source."""

    name: str
    asked: tuple[str, ...]
    expected: str
    answered: float
    unit: str
    deviation: float | None
    tolerance: str
    wrong_in_print: str
    verdict: Verdict
    note: str


@dataclass(frozen=True)
class Case:
    """One published case: where it is from, what it gives, and how it is asked; or why it is not."""

    entry: Mapping[str, Any]

    @property
    def id(self) -> str:
        """Number of the case in the collection."""
        return str(self.entry["id"])

    @property
    def topic(self) -> str:
        """The topic whose room it belongs to."""
        return str(self.entry["topic"])

    @property
    def applicable(self) -> bool:
        """Whether the service answers what the case asks."""
        return bool(self.entry["status"] != "not-applicable")

    def __str__(self) -> str:
        """The case as it is named on a failure: number, subject and source."""
        return f"{self.id}: {self.entry['what']} [{self.entry['source']}; {self.entry['provenance']}]"

    def judge(self, ask: Ask, folder: Path) -> list[Judged]:
        """Ask every figure of the case; ``folder`` holds the tables that a case goes through row by row."""
        return [_judged(figure, ask, folder) for figure in self.entry.get("figures", ())]


@dataclass(frozen=True)
class Wall:
    """All published cases, and the libraries that are referees where no number is printed."""

    cases: tuple[Case, ...]
    referees: tuple[Mapping[str, str], ...]
    folder: Path

    @cached_property
    def topics(self) -> tuple[str, ...]:
        """Topics in alphabetical order."""
        return tuple(sorted({case.topic for case in self.cases}))


def read_wall(file: Path) -> Wall:
    """The wall of published cases as committed beside the tests."""
    document = json.loads(file.read_text(encoding="utf-8"))
    return Wall(tuple(Case(entry) for entry in document["cases"]), tuple(document["referees"]), file.parent)


def _judged(figure: Mapping[str, Any], ask: Ask, folder: Path) -> Judged:
    if "rows" in figure:
        value = float(_count_of_rows(figure, ask, folder))
    else:
        value = figure.get("times", 1.0) * prod(_value(part, ask) ** part.get("power", 1) for part in figure["asks"])
    unit = _unit(figure)
    offset = _si(f"0 {unit}") if unit else 0.0
    scale = _si(f"1 {unit}") - offset if unit else 1.0
    answered = (value - offset) / scale
    if "expected" in figure:
        expected = _number(figure["expected"])
        amount = figure["tolerance"].get("abs", figure["tolerance"].get("rel", 0) * abs(expected))
        deviation, good = answered - expected, abs(answered - expected) <= amount + abs(expected) * 1e-11
        shown, tolerance = str(figure["expected"]), _tolerance(figure["tolerance"])
    else:
        low, high = _number(figure["low"]), _number(figure["high"])
        deviation, good = None, low * (1 - 1e-11) <= answered <= high * (1 + 1e-11)
        shown, tolerance = f"{figure['low']} to {figure['high']}", "within"
    wrong = str(figure.get("printed_wrong", ""))
    if wrong and abs(answered - _number(wrong)) <= 0.01 * abs(_number(wrong)):
        good = False  # the misprint itself was answered
    asked = tuple(dict.fromkeys(part["path"] for part in figure["asks"])) if "asks" in figure else (figure["path"],)
    verdict: Verdict = "agrees" if good else "deviates"
    note = str(figure.get("note", ""))
    return Judged(figure["name"], asked, shown, answered, unit, deviation, tolerance, wrong, verdict, note)


def _value(part: Mapping[str, Any], ask: Ask) -> float:
    """SI value (or plain number) at one place of one answer."""
    found = ask(part["path"], part.get("document"))
    for step in str(part["at"]).strip("/").split("/"):
        try:
            found = found[int(step)] if isinstance(found, list) else found[step]
        except (KeyError, IndexError, TypeError):
            raise LookupError(f"{part['path']} answered nothing at {part['at']}: {str(found)[:300]}") from None
    if isinstance(found, Mapping):
        unit = str(found["unit"])
        return float(found["value"]) if unit in PLAIN else convert(float(found["value"]), unit)[1]
    return float(found)


def _count_of_rows(figure: Mapping[str, Any], ask: Ask, folder: Path) -> int:
    """How many rows of a table contradict the answer by more than a share."""
    with (folder / figure["rows"]).open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    listed, unit = figure["listed"]
    beyond = 0
    for row in rows:
        if any(row[column] == "?" for column, _ in figure["columns"].values()):
            continue  # engines without a bore
        document = {name: _cell(row[column], of) for name, (column, of) in figure["columns"].items()}
        answered = _value({"path": figure["path"], "document": document, "at": figure["at"]}, ask)
        beyond += abs(answered / _si(f"{row[listed]} {unit}") - 1) > figure["beyond"]
    return beyond


def _cell(text: str, unit: str) -> str | int:
    return f"{text} {unit}" if unit else int(text)


def _unit(figure: Mapping[str, Any]) -> str:
    return str(figure.get("expected", figure.get("low", ""))).partition(" ")[2]


def _number(printed: str | float) -> float:
    return float(str(printed).partition(" ")[0])


def _si(printed: str) -> float:
    number, _, unit = printed.partition(" ")
    return convert(float(number), unit)[1]


def _tolerance(given: Mapping[str, float]) -> str:
    if "abs" in given:
        return f"± {given['abs']:g}" if given["abs"] else "exact"
    return f"± {100 * given['rel']:.3g} %"
