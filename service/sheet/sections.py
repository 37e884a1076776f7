"""One section of the sheet: the topic's question put together from the document, asked, and its answer passed on."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from pydantic import BaseModel, ValidationError

from service.answers.asking import Asked, answered
from service.answers.envelope import Answer, Finding, Rule
from service.answers.topic import Topic
from service.errors import MissingInput, RunstandError
from service.quantities import Measure, Quantity, to_unit
from service.reference.dataset import Dataset
from service.sheet.document import SHARED_NAMES

CONFLICTING_INPUTS = Rule(
    code="conflicting-inputs",
    severity="ask",
    stage="combination",
    rule="a shared input and the same input of one section differ",
    reason="The sheet would rest on two engines at once.",
    remedy="Leave the one out that is wrong; shared inputs are given once, at the top.",
    source="derived",
    evidence="derived",
)
SECTION_REFUSED = Rule(
    code="section-refused",
    severity="ask",
    stage="combination",
    rule="inputs of one section make no sense together",
    reason="The section could not be answered; the rest of the sheet stands without it.",
    remedy="Correct the named input.",
    source="derived",
    evidence="derived",
)

PASSED_ON: tuple[tuple[str, str, str], ...] = (
    ("displacement", "displacement", "displacement"),
    ("displacement", "bore", "bore"),
    ("displacement", "stroke", "stroke"),
    ("compression", "compression_ratio", "compression_ratio"),
    ("valve_events", "intake_closing", "intake_closing"),
)
"""Results that later sections take as inputs: topic, result, shared name."""


@dataclass
class Pool:
    """Shared values: what the document gives, and what earlier sections have worked out."""

    given: Mapping[str, Any]
    derived: dict[str, tuple[Any, str]] = field(default_factory=dict)

    def value(self, name: str) -> Any:
        """The value of a shared name, or None; what was given stands before what was worked out."""
        found = self.given.get(name)
        return found if found is not None else self.derived.get(name, (None, ""))[0]


@dataclass(frozen=True)
class Section:
    """What became of one section: its answers, or the inputs that it still needs, or why it was refused."""

    topic: Topic
    asked: tuple[Asked, ...] = ()
    needs: tuple[str, ...] = ()
    refused: tuple[str, tuple[str, ...]] | None = None
    derived: tuple[str, ...] = ()
    conflicts: tuple[str, ...] = ()


def answer_section(topic: Topic, own: BaseModel | None, pool: Pool, dataset: Dataset, path: str) -> Section:
    """Ask one topic with the section's own inputs and the shared ones."""
    document: dict[str, Any] = {}
    derived: list[str] = []
    conflicts: list[str] = []
    for name in topic.request.model_fields:
        mine = getattr(own, name, None)
        shared = pool.value(name) if name in SHARED_NAMES else None
        if mine is not None and pool.given.get(name) is not None and name in SHARED_NAMES and not _same(mine, shared):
            conflicts.append(name)
        value = mine if mine is not None else shared
        if value is not None:
            document[name] = value
            if mine is None and pool.given.get(name) is None:
                derived.append(name)
    try:
        asked = answered(topic, topic.request.model_validate(document), dataset)
    except ValidationError as error:
        return _incomplete(topic, error, path)
    except MissingInput as error:
        return Section(topic, needs=(_path(path, error.field),), conflicts=tuple(conflicts))
    except RunstandError as error:
        fields = getattr(error, "fields", None) or (getattr(error, "field", ""),)
        return Section(topic, refused=(str(error), tuple(_path(path, f) for f in fields if f)), conflicts=tuple(conflicts))
    for source, result, name in PASSED_ON:
        if source == topic.name and result in asked.answer.result:
            pool.derived[name] = (_as_input(asked.answer.result[result]), topic.name)
    return Section(topic, (asked,), derived=tuple(derived), conflicts=tuple(conflicts))


def _incomplete(topic: Topic, error: ValidationError, path: str) -> Section:
    faults = error.errors(include_url=False, include_input=False, include_context=False)
    missing = tuple(_path(path, ".".join(map(str, fault["loc"]))) for fault in faults if fault["type"] == "missing")
    if len(missing) == len(faults):
        return Section(topic, needs=missing)
    others = [fault for fault in faults if fault["type"] != "missing"]
    fields = tuple(_path(path, ".".join(map(str, fault["loc"]))) for fault in others)
    return Section(topic, refused=(others[0]["msg"], fields))


def _path(path: str, name: str) -> str:
    """Where an input stands in the document: at the top when it is shared, else in the section."""
    dotted = name.replace("/", ".")
    return dotted if dotted in SHARED_NAMES else f"{path}.{dotted}"


def _same(one: Any, other: Any) -> bool:
    if isinstance(one, Quantity) and isinstance(other, Quantity):
        return abs(one.si - other.si) <= 1e-9 * max(abs(one.si), abs(other.si))
    return bool(one == other)


def _as_input(value: Any) -> Any:
    """A result in the form of an input."""
    if isinstance(value, Measure):
        kind = value.kind
        return Quantity(to_unit(value.si, kind.dimension, kind.metric), kind.metric, value.si, kind.dimension)
    return value


def take_in(sheet: Answer, section: Section, path: str) -> None:
    """Add what a section found, rests on, assumed and could not check to the sheet, with its place in the document."""
    for asked in section.asked:
        answer = asked.answer
        sheet.findings += [
            Finding(f.rule, f.severity, tuple(_path(path, field) for field in f.fields), f.message) for f in answer.findings
        ]
        sheet.basis.update(answer.basis)
        sheet.assumptions += [{**entry, "field": _path(path, entry["field"])} for entry in answer.assumptions]
        sheet.unchecked += [{**entry, "needs": [_path(path, n) for n in entry["needs"]]} for entry in answer.unchecked]
    for name in section.conflicts:
        sheet.find(
            CONFLICTING_INPUTS, (name, f"{path}.{name}"), f"{name} is given twice, with two values; the section's own was used."
        )
    if section.refused:
        reason, fields = section.refused
        sheet.find(SECTION_REFUSED, fields, f"{section.topic.title}: {reason}")
