"""What a sheet rests on and what it leaves open: sources with numbers, assumptions, and checks not made, gathered."""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import cached_property, lru_cache
from typing import Any

from service.answers.asking import Asked
from service.answers.envelope import RULES
from service.faces.build_sheet_view import View
from service.faces.labels import NAMES, label, plain
from service.faces.rows import words
from service.quantities import UnitSystem, shown

_IN_LIST = re.compile(r"([a-z_]+)\.(\d+)(?:\.(.+))?\Z")
WHOLE = "The engine as a whole"


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
    """A check that was not made, or what was assumed: what, the inputs it waits for, and the rest of the sentence."""

    what: str
    needs: str
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
            citation = found.get(entry["source"]) or self._cited(found, entry["source"])
            citation.evidence[entry["evidence"]] = None
            if entry["kind"] == "method":
                citation.methods.append(entry["id"].replace("-", " "))
            else:
                table, thing = _table_and_thing(entry["id"])
                citation.facts.setdefault(table, {})[thing] = None
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
        used: dict[str, set[str]] = {}
        for part in self.asked.answer.parts:
            used.setdefault(part.topic.name, set()).update([entry["source"] for entry in part.answer.basis.values()])
        return {name: ranges([self.citations[id].number for id in ids]) for name, ids in used.items()}

    def number(self, id: str) -> int:
        """The number of a source."""
        return self.citations[id].number


@lru_cache(maxsize=4096)
def _table_and_thing(id: str) -> tuple[str, str]:
    """Where a fact stands, in words: ``fasteners/harrow-r17/rod-nut/torque`` → fasteners of harrow-r17, rod nut."""
    table, _, rest = id.partition("/")
    owner, _, thing = rest.rpartition("/")[0].rpartition("/")
    return (f"{table} of {owner}", thing.replace("-", " ")) if owner else (table, thing)


def methods_of(asked: Asked) -> str:
    """The methods that an answer rests on, in words."""
    return ", ".join(id.replace("-", " ") for kind, id in asked.answer.basis if kind == "method")


def unchecked(view: View) -> dict[str, list[Gap]]:
    """Checks that were not made, by the part of the work that they belong to; the same one of many questions once."""
    gathered: dict[tuple[str, tuple[str, ...], str], list[int]] = {}
    for entry in view.asked.answer.unchecked:
        needs, indices = _apart(entry["needs"])
        gathered.setdefault((entry["check"], needs, entry.get("why", "")), []).extend(indices)
    titles = _titles(view.asked)
    groups: dict[str, list[Gap]] = {}
    for (check, needs, why), indices in gathered.items():
        rule = RULES.get(check)
        rest = " ".join(text for text in (f"Looks for: {rule.rule}." if rule else "", why) if text)
        topic = needs[0].partition(".")[0] if needs else ""
        inputs = ", ".join(_words_of(need) for need in needs) + _where(view, topic, indices, " (", ")")
        groups.setdefault(titles.get(topic, WHOLE), []).append(Gap(check.replace("-", " "), inputs, rest))
    return groups


def assumptions(view: View, basis: Basis) -> dict[str, list[Gap]]:
    """Values that the service supplied, by the part of the work; those of one reason together, the same one once."""
    gathered: dict[tuple[str, str, str], dict[tuple[str, str], list[int]]] = {}
    for entry in view.asked.answer.assumptions:
        name, place = _name_and_place(entry["field"])
        topic = name.partition(".")[0]
        values = gathered.setdefault((topic, entry["reason"], entry["source"]), {})
        places = values.setdefault((name, _value(entry["value"], view.system)), [])
        if place is not None:
            places.append(place)
    titles = _titles(view.asked)
    groups: dict[str, list[Gap]] = {}
    for (topic, reason, source), values in gathered.items():
        told = [f"{_words_of(name)} {value}{_where(view, topic, at, ' (', ')')}" for (name, value), at in values.items()]
        groups.setdefault(titles.get(topic, WHOLE), []).append(
            Gap("; ".join(told), "", f"{reason.rstrip('.')} [{basis.number(source)}]")
        )
    return groups


def missing(view: View) -> list[tuple[str, str]]:
    """What missing inputs would unlock, with those inputs."""
    wanted: dict[str, list[str]] = {}
    for entry in view.result["missing"]:
        wanted.setdefault(", ".join(entry["unlocks"]), []).append(_words_of(entry["input"]))
    return [(unlocks, ", ".join(inputs)) for unlocks, inputs in wanted.items()]


def fields_in_words(fields: Iterable[str]) -> str:
    """The inputs that a finding speaks of, as the trade calls them."""
    return ", ".join(dict.fromkeys(_words_of(name) for name in _apart(fields)[0]))


def _titles(asked: Asked) -> Mapping[str, str]:
    titles = {part.topic.name: part.topic.title for part in asked.answer.parts}
    return titles | {"checks": "To be answered by yes or no"}


def _apart(names: Iterable[str]) -> tuple[tuple[str, ...], list[int]]:
    """Names without their place in a list (``torque.3.parts`` → ``torque.parts``), each once, and those places."""
    pairs = [_name_and_place(name) for name in names]
    return tuple(dict.fromkeys([name for name, _ in pairs])), [place for _, place in pairs if place is not None]


@lru_cache(maxsize=4096)
def _name_and_place(name: str) -> tuple[str, int | None]:
    match = _IN_LIST.match(name)
    if match is None:
        return name, None
    return f"{match[1]}.{match[3]}" if match[3] else match[1], int(match[2])


@lru_cache(maxsize=2048)
def _words_of(name: str) -> str:
    """An input as the trade calls it, without the topic that it stands under."""
    _, _, rest = name.partition(".")
    return label(name if name in NAMES or not rest else rest)


def _where(view: View, topic: str, indices: list[int], before: str, after: str) -> str:
    """For which questions of a list: by name, or which they are not, where they are most of many."""
    if not indices:
        return ""
    every = view.names_of(topic)
    held = set(indices)
    named = [name for index, name in every.items() if index in held]
    if len(named) == len(every) > 1:
        told = "all"
    elif len(named) > len(every) / 2 > 1:
        told = f"all but {', '.join(name for index, name in every.items() if index not in held)}"
    else:
        told = ", ".join(named)
    return f"{before}{told}{after}" if told else ""


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
    if isinstance(value, str):
        return plain(value)
    written = shown(value, system)
    if isinstance(written, dict) and "text" not in written:
        return ", ".join(f"{label(key)} {_value_words(inner)}" for key, inner in written.items())
    return _value_words(written)


def _value_words(written: Any) -> str:
    return ", ".join(words(item) for item in written) if isinstance(written, list) else words(written)
