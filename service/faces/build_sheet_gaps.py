"""What a sheet rests on and what it leaves open: sources with numbers, assumptions, and checks not made, gathered."""

import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

from service.answers.asking import Asked
from service.answers.envelope import RULES
from service.faces.build_sheet_view import View
from service.faces.rows import heading, words
from service.quantities import UnitSystem, shown

_IN_LIST = re.compile(r"([a-z_]+)\.(\d+)(?:\.(.+))?\Z")


@dataclass
class Citation:
    """A source with its number in the sheet and what was taken from it: methods, and things by table."""

    number: int
    id: str
    title: str
    evidence: dict[str, None] = field(default_factory=dict)
    methods: list[str] = field(default_factory=list)
    facts: dict[str, dict[str, None]] = field(default_factory=dict)


@dataclass(frozen=True)
class Gap:
    """A check that was not made, or an assumption: what, the fields it speaks of, and the rest of the sentence."""

    what: str
    fields: str
    rest: str


@dataclass(frozen=True)
class Basis:
    """The numbered sources of a sheet."""

    asked: Asked

    @cached_property
    def citations(self) -> dict[str, Citation]:
        """Every source by its id, numbered as it first comes up."""
        found: dict[str, Citation] = {}
        answer = self.asked.answer
        for entry in answer.basis.values():
            citation = self._cited(found, entry["source"])
            citation.evidence[entry["evidence"]] = None
            if entry["kind"] == "method":
                citation.methods.append(entry["id"])
            else:
                table, _, rest = entry["id"].partition("/")
                citation.facts.setdefault(table, {})[rest.rpartition("/")[0]] = None
        for finding in answer.findings:
            self._cited(found, finding.rule.source).evidence[finding.rule.evidence] = None
        for entry in answer.assumptions:
            self._cited(found, entry["source"]).evidence[entry["evidence"]] = None
        return found

    def _cited(self, found: dict[str, Citation], id: str) -> Citation:
        if id not in found:
            source = self.asked.dataset.bibliography.get(id)
            found[id] = Citation(len(found) + 1, id, source.title if source else "")
        return found[id]

    @cached_property
    def of_topic(self) -> dict[str, str]:
        """The numbers of the sources of each topic: ``1,4–7``."""
        used: dict[str, set[int]] = {}
        for part in self.asked.answer.parts:
            numbers = used.setdefault(part.topic.name, set())
            numbers.update(self.citations[source].number for source in {e["source"] for e in part.answer.basis.values()})
        return {name: ranges(numbers) for name, numbers in used.items()}

    def number(self, id: str) -> int:
        """The number of a source."""
        return self.citations[id].number


def methods_of(asked: Asked) -> list[str]:
    """The ids of the methods that an answer rests on."""
    return [id for kind, id in asked.answer.basis if kind == "method"]


def unchecked(view: View) -> dict[str, list[Gap]]:
    """Checks that were not made, by the part of the document that they wait for; the same one of many questions once."""
    gathered: dict[tuple[str, tuple[str, ...], str], list[int]] = {}
    for entry in view.asked.answer.unchecked:
        needs, indices = _apart(entry["needs"])
        gathered.setdefault((entry["check"], needs, entry.get("why", "")), []).extend(indices)
    titles = _titles(view.asked)
    groups: dict[str, list[Gap]] = {}
    for (check, needs, why), indices in gathered.items():
        rule = RULES.get(check)
        rest = " ".join(text for text in (f"Looks for: {rule.rule}." if rule else "", why) if text)
        title = titles.get(needs[0].partition(".")[0], "The engine as a whole") if needs else "The engine as a whole"
        gap = Gap(check.replace("-", " "), ", ".join(_joined(need, indices) for need in needs), rest)
        groups.setdefault(title, []).append(gap)
    return groups


def assumptions(view: View, basis: Basis) -> list[Gap]:
    """Values that the service supplied; the same one of many questions once."""
    gathered: dict[tuple[str, str, str], list[int]] = {}
    for entry in view.asked.answer.assumptions:
        (name,), indices = _apart([entry["field"]])
        rest = f"{entry['reason'].rstrip('.')} [{basis.number(entry['source'])}]"
        gathered.setdefault((name, _value(entry["value"], view.system), rest), []).extend(indices)
    return [Gap(value, _joined(name, indices), rest) for (name, value, rest), indices in gathered.items()]


def missing(view: View) -> list[tuple[str, str]]:
    """What missing inputs would unlock, with those inputs."""
    wanted: dict[str, list[str]] = {}
    for entry in view.result["missing"]:
        wanted.setdefault(", ".join(entry["unlocks"]), []).append(entry["input"])
    return [(unlocks, ", ".join(inputs)) for unlocks, inputs in wanted.items()]


def _titles(asked: Asked) -> dict[str, str]:
    titles = {part.topic.name: part.topic.title for part in asked.answer.parts}
    return titles | {"checks": "Answers by yes or no (checks)"}


def _apart(names: Iterable[str]) -> tuple[tuple[str, ...], list[int]]:
    """Names without their place in a list (``torque.3.parts`` → ``torque.*.parts``), and that place."""
    plain, indices = [], []
    for name in names:
        match = _IN_LIST.match(name)
        if match:
            plain.append(f"{match[1]}.*.{match[3]}" if match[3] else f"{match[1]}.*")
            indices.append(int(match[2]))
        else:
            plain.append(name)
    return tuple(plain), indices[:1]


def _joined(name: str, indices: list[int]) -> str:
    """``torque.*.parts`` with its places: ``torque.0–5,7.parts``."""
    return name.replace("*", ranges(indices), 1) if indices else name


def ranges(numbers: Iterable[int]) -> str:
    """Whole numbers with their runs drawn together: ``0–5,7``."""
    runs: list[list[int]] = []
    for number in sorted(set(numbers)):
        if runs and number == runs[-1][1] + 1:
            runs[-1][1] = number
        else:
            runs.append([number, number])
    return ",".join(str(low) if low == high else f"{low}–{high}" for low, high in runs)


def _value(value: Any, system: UnitSystem) -> str:
    """An assumed value as words."""
    written = shown(value, system)
    if isinstance(written, dict) and "text" not in written:
        return ", ".join(f"{heading(key)} {_value_words(inner)}" for key, inner in written.items())
    return _value_words(written)


def _value_words(written: Any) -> str:
    return ", ".join(words(item) for item in written) if isinstance(written, list) else words(written)
