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
    ("valve_events", "intake_closing", "intake_closing"),
    ("compression", "compression_ratio", "compression_ratio"),
    ("compression", "effective_ratio", "cylinder_check.effective_ratio"),
    ("valve_spring", "open_load", "break_in_schedule.open_load"),
    ("torque:rod-nut", "preload.low", "piston_motion.rod_bolt_preload"),
)
"""Results that later sections take as inputs: where from (with the fastener, for a torque), which, and where to."""

GATES: Mapping[str, str] = {
    "oil_filled_with_external": "oil-filled",
    "pressure_seen_on_cranking": "pressure-on-cranking",
    "oil_seen_at_rockers": "oil-at-rockers",
    "static_timing_recorded": "static-timing",
    "float_bowl_filled": "float-bowl",
    "fuel_leak_checked": "fuel-leaks",
    "fan_and_shroud_fitted": "fan-and-tinware",
    "exhaust_led_outside": "exhaust-outside",
    "extinguisher_in_reach": "extinguishers",
    "tappets_turn": "tappets-turn",
    "lash_set_cold": "lash-cold",
    "pressure_gauge_fitted": "gauge-live",
    "log_running": "log-running",
    "second_person": "second-person",
    "kill_switch_in_reach": "kill-switch",
}
"""Which answer by yes or no opens which gate before the first fire."""


@dataclass
class Pool:
    """Values for more than one section: what the document gives, and what earlier sections have worked out."""

    given: Mapping[str, Any]
    derived: dict[str, Any] = field(default_factory=dict)

    def value(self, topic: str, name: str) -> Any:
        """The value for a topic's field, or None; what was given stands before what was worked out."""
        if name in SHARED_NAMES:
            given = self.given.get(name)
            return given if given is not None else self.derived.get(name)
        return self.derived.get(f"{topic}.{name}")

    def take_checks(self, checks: Any) -> None:
        """Hand the answers by yes or no to the sections that ask for them."""
        if checks is None:
            return
        self.derived["piston_motion.rod_clearance_measured"] = checks.rod_clearance_measured
        self.derived["ignition.static_timing_set"] = checks.static_timing_recorded
        if checks.new_cam is not None:
            self.derived["break_in_schedule.new_cam"] = checks.new_cam
        if checks.pressure_gauge_fitted is not None:
            self.derived["oil.pressure_gauge"] = "gauge" if checks.pressure_gauge_fitted else "lamp"
        done = [gate for check, gate in GATES.items() if getattr(checks, check)]
        if done:
            self.derived["break_in_schedule.gates_done"] = done

    def pass_on(self, asked: Asked) -> None:
        """Keep what later sections take from this answer."""
        name = asked.topic.name
        fastener = getattr(asked.request, "fastener", None)
        origins = {name, f"{name}:{fastener}"}
        for origin, result, target in PASSED_ON:
            value = _at(asked.answer.result, result) if origin in origins else None
            if value is not None:
                self.derived[target] = _as_input(value)
        if name == "break_in_schedule":
            self.derived["break_in_assessment.schedule"] = asked.request


def _at(tree: Any, path: str) -> Any:
    for part in path.split("."):
        tree = tree.get(part) if isinstance(tree, Mapping) else None
    return tree


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
        common = pool.value(topic.name, name)
        given = pool.given.get(name)
        if mine is not None and given is not None and not _same(mine, given):
            conflicts.append(name)
        value = mine if mine is not None else common
        if value is not None:
            document[name] = value
            if mine is None and given is None:
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
    pool.pass_on(asked)
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
