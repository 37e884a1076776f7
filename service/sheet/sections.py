"""One section of the sheet: the topic's question put together from the document, asked, and its answer passed on."""

import sys
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache, lru_cache
from typing import Any, TypeAlias

from pydantic import BaseModel, ValidationError

from service.answers.asking import Asked, answered
from service.answers.engine_kind import AIRCRAFT_ENGINE, NO_RUN_IN, NOT_A_PETROL_ENGINE
from service.answers.envelope import UNIT_SLIPS, Answer, Finding, Rule
from service.answers.plausibility import IMPLAUSIBLE
from service.answers.topic import Topic
from service.errors import MissingInput, NotInDataset, RunstandError
from service.quantities import Quantity
from service.reference.dataset import Dataset
from service.sheet.document import SHARED_NAMES, shared_name
from service.sheet.pool import Pool

CONFLICTING_INPUTS = Rule(
    code="conflicting-inputs",
    severity="ask",
    stage="combination",
    rule="two places of the document say different things of one input",
    reason="The sheet would rest on two engines at once.",
    remedy="Leave the one out that is wrong; shared inputs are given once, at the top.",
    source="derived",
    evidence="derived",
)
SECTION_REFUSED = Rule(
    code="section-refused",
    severity="fix",
    stage="combination",
    rule="inputs of one section make no sense together",
    reason="The section could not be answered; the rest of the sheet stands without it.",
    remedy="Correct the named input.",
    source="derived",
    evidence="derived",
)

_OF_THE_WHOLE = (*UNIT_SLIPS, IMPLAUSIBLE.code, AIRCRAFT_ENGINE.code)
"""What is told of an input or of the engine is the same whichever section found it."""

SAME_RATIO = 0.02
"""Shared ratios that differ from the computed one by less are the same figure, rounded."""

NO_GAUGE = ("lamp", "none")
"""What an engine without an oil-pressure gauge may have: the check that asks for the gauge does not ask for the lamp."""


@dataclass(frozen=True)
class Conflict:
    """Two places of the document that say different things of one input."""

    fields: tuple[str, str]
    message: str


@dataclass(frozen=True)
class Section:
    """What became of one section: its answers, or the inputs that it still needs, or why it was refused.

    ``hole`` says what the dataset lacks of a sound question: that is a gap of the dataset, and no slip of the caller.
    """

    topic: Topic
    asked: tuple[Asked, ...] = ()
    needs: tuple[str, ...] = ()
    refused: tuple[str, tuple[str, ...]] | None = None
    conflicts: tuple["Conflict", ...] = ()
    hole: str = ""


@cache
def _places(topic: str, question: type[BaseModel]) -> tuple[tuple[str, str], ...]:
    """The fields of a topic's question with their places: at the top when shared, else under the topic."""
    return tuple((name, _path(topic, name)) for name in question.model_fields)


def answer_section(topic: Topic, own: BaseModel | None, pool: Pool, dataset: Dataset, path: str) -> Section:
    """Ask one topic with the section's own inputs and the shared ones."""
    document: dict[str, Any] = {}
    found: list[Conflict] = []
    for name, place in _places(topic.name, topic.request):
        mine = None if own is None else getattr(own, name)
        if mine is None:
            mine = pool.value(place)
        elif (other := pool.elsewhere(place)) is not None and not _same(mine, other[1]):
            found.append(_twice(name, f"{path}.{name}", mine, *other))
        if mine is not None:
            document[name] = mine
    conflicts = tuple(found)
    try:
        asked = answered(topic, topic.request.model_validate(document), dataset)
    except ValidationError as error:
        return _incomplete(topic, error, path, conflicts)
    except MissingInput as error:
        return Section(topic, needs=tuple(_path(path, field) for field in error.fields), conflicts=conflicts)
    except NotInDataset as error:
        if _is_hole(error, document, dataset):
            return Section(topic, needs=(path,), conflicts=conflicts, hole=_hole(error))
        return Section(topic, refused=(_with_nearest(error), (_path(path, error.field),)), conflicts=conflicts)
    except RunstandError as error:
        fields = getattr(error, "fields", None) or (getattr(error, "field", ""),)
        return Section(topic, refused=(str(error), tuple(_path(path, f) for f in fields if f)), conflicts=conflicts)
    pool.pass_on(asked)
    return Section(topic, (asked,), conflicts=(*conflicts, *_ratio_disagrees(asked, pool)))


def _is_hole(error: NotInDataset, document: dict[str, Any], dataset: Dataset) -> bool:
    """Whether the dataset lacks something of an engine that it holds, or of what nobody has named."""
    given = document.get(error.field.partition("/")[0].partition(".")[0])
    return given is None or (error.field == "engine" and dataset.find("engines", given) is not None)


def _hole(error: NotInDataset) -> str:
    """What the dataset lacks, in words."""
    kind = error.kind.removesuffix(" of an engine").removesuffix(" of this engine")
    return f"The dataset holds no {kind} of this engine." if kind != error.kind else f"The dataset holds no such {kind}."


def _with_nearest(error: NotInDataset) -> str:
    """Why an id was refused, with the nearest ones that the dataset holds."""
    *others, last = error.nearest or ("",)
    words = f"{', '.join(others)} or {last}" if others else last
    return f"{error} Did you mean {words}?" if last else str(error)


def unknown_engine(topic: Topic, engine: str, dataset: Dataset) -> Section | None:
    """The refused section of a topic that is asked of an engine's own list; ``None`` where the engine is held."""
    try:
        dataset.entity("engines", engine, "engine")
    except NotInDataset as error:
        return Section(topic, refused=(_with_nearest(error), ("engine",)))
    return None


def _twice(name: str, here: str, mine: Any, there: str, given: Any) -> Conflict:
    words = (
        f"{name.replace('_', ' ')} is given twice: {_shown(given)} as {there}, {_shown(mine)} as {here}; the latter was used."
    )
    return Conflict((there, here), words[0].upper() + words[1:])


def _shown(value: Any) -> str:
    return f"{value.value:g} {value.unit}" if isinstance(value, Quantity) else str(value)


def _ratio_disagrees(asked: Asked, pool: Pool) -> tuple[Conflict, ...]:
    """A ratio that was given, against the one that the measurements make."""
    given, made = pool.given.get("compression_ratio"), asked.answer.result.get("compression_ratio")
    if asked.topic.name != "compression" or given is None or made is None or abs(given / made - 1) <= SAME_RATIO:
        return ()
    message = f"A ratio of {given:.2f} is given, but the measurements make {made:.2f}; the given one was used for the ignition."
    return (Conflict(("compression_ratio", "compression.chamber_volume"), message),)


def _incomplete(topic: Topic, error: ValidationError, path: str, conflicts: tuple[Conflict, ...]) -> Section:
    faults = error.errors(include_url=False, include_input=False, include_context=False)
    missing = tuple(_path(path, ".".join(map(str, fault["loc"]))) for fault in faults if fault["type"] == "missing")
    if len(missing) == len(faults):
        return Section(topic, needs=missing, conflicts=conflicts)
    others = [fault for fault in faults if fault["type"] != "missing"]
    fields = tuple(_path(path, ".".join(map(str, fault["loc"]))) for fault in others)
    return Section(topic, refused=(others[0]["msg"], fields), conflicts=conflicts)


@lru_cache(maxsize=4_096)
def _path(path: str, name: str) -> str:
    """Where an input stands in the document: at the top when it is shared, else in the section."""
    dotted = shared_name(path.partition(".")[0], name.replace("/", "."))
    return dotted if dotted in SHARED_NAMES else f"{path}.{dotted}"


def _same(one: Any, other: Any) -> bool:
    if isinstance(one, Quantity) and isinstance(other, Quantity):
        return abs(one.si - other.si) <= 1e-9 * max(abs(one.si), abs(other.si))
    return bool(one == other) or (one in NO_GAUGE and other in NO_GAUGE)


Gaps: TypeAlias = dict[tuple[str | None, ...], dict[str, Any]]
"""The checks that were not made, by topic, check, reason and the inputs that were missing."""


def take_in(sheet: Answer, section: Section, path: str, gaps: Gaps) -> None:
    """Add what a section found, rests on, assumed and could not check to the sheet, with its place in the document.

    A check that many questions of a list could not make for want of the same input is one gap with all their places: fifteen
    fasteners without the wrench are one wrench that was not named.
    """
    for asked in section.asked:
        answer = asked.answer
        about = _about(asked)
        sheet.findings += [
            Finding(f.rule, f.severity, tuple(_path(path, field) for field in f.fields), _told(f, about))
            for f in answer.findings
        ]
        sheet.basis.update(answer.basis)
        sheet.assumptions += [{**entry, "field": _path(path, entry["field"])} for entry in answer.assumptions]
        for entry in answer.unchecked:
            needs = [_path(path, name) for name in entry["needs"]]
            key = (section.topic.name, entry["check"], entry.get("why"), *entry["needs"])
            if key in gaps:
                gaps[key]["needs"] += [name for name in needs if name not in gaps[key]["needs"]]
            else:
                gaps[key] = {**entry, "needs": needs}
                sheet.unchecked.append(gaps[key])
    for conflict in section.conflicts:
        sheet.find(CONFLICTING_INPUTS, conflict.fields, conflict.message)


def report_refused(sheet: Answer, sections: Iterable[Section]) -> None:
    """One finding for every reason why sections were refused: an engine that is not held is not told five times.

    What a refused section would have checked is a gap of the sheet: nothing of it has passed. Where the engine has its stop
    already, that there is no run-in for it is not said again.
    """
    stopped = any(finding.rule in (AIRCRAFT_ENGINE, NOT_A_PETROL_ENGINE) for finding in sheet.findings)
    titles: dict[tuple[str, tuple[str, ...]], list[str]] = {}
    for section in sections:
        check = section.topic.name.replace("_", "-")
        if section.refused:
            if not (stopped and section.refused[0] in NO_RUN_IN):
                titles.setdefault(section.refused, []).append(section.topic.title)
            named = _checks_of(section.topic.answer.__module__)
            why = f"{section.topic.title} was refused, so none of its checks was made{named}."
            sheet.cannot_check(check, section.refused[1], why)
        elif section.hole:
            sheet.cannot_check(check, section.needs, f"{section.topic.title}: {section.hole} Send the section's own figures.")
    for (reason, fields), names in titles.items():
        sheet.find(SECTION_REFUSED, fields, f"{', '.join(names)}: {reason}")


@cache
def _checks_of(topic: str) -> str:
    """The rules that stand in a topic's module and in the one of its rules, in words."""
    held = [sys.modules[name] for name in (topic, f"{topic}_rules") if name in sys.modules]
    rules = {value.code: None for module in held for value in vars(module).values() if isinstance(value, Rule)}
    named = [code.replace("-", " ") for code in rules if code not in UNIT_SLIPS]
    return f", such as {', '.join(named)}" if named else ""


def _told(finding: Finding, about: str) -> str:
    """The message with what it is about; what is asked of one value is the same in the section as in the document."""
    return finding.message if finding.rule.code in _OF_THE_WHOLE else about + finding.message


def _about(asked: Asked) -> str:
    """Which of many a finding speaks of, where a topic is asked many times: the fastener or the fit."""
    if asked.topic.in_sheet != "list":
        return ""
    names = (getattr(asked.request, name, None) for name in ("fastener", "fit", "thread"))
    name = next((name for name in names if name is not None), None)
    if name is None:
        return ""
    words = str(name).rpartition("/")[2].replace("-", " ")
    return f"{words[0].upper()}{words[1:]}: "
