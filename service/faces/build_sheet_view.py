"""The build sheet as its faces show it: the written answer, cut into stages with their work, sections and torque list.

Every face reads the same written tree as the JSON face, so the digits are the same in all of them.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any, TypeAlias

from service.answers.asking import Asked
from service.faces.labels import label
from service.faces.rows import words
from service.quantities import UnitSystem

Tree: TypeAlias = dict[str, Any]


VERDICTS: Mapping[str, str] = {
    "ask": "Look again at what was given: a figure is in doubt.",
    "stop": "Stop: not to be run as it stands.",
    "fix": "Not ready: something is to be mended first.",
    "caution": "No stop. Heed the cautions below.",
    "note": "No stop, and nothing to mend.",
}


@dataclass(frozen=True)
class Section:
    """One answered question of the sheet: its place in the document, the question, and the written result."""

    path: str
    asked: Asked
    result: Tree

    @property
    def topic(self) -> str:
        """The topic's name."""
        return self.asked.topic.name

    @cached_property
    def which(self) -> str:
        """What tells one question of a list from the next: the fastener or the fit, else its number; empty if asked once."""
        request = self.asked.request
        name = getattr(request, "fastener", None) or getattr(request, "fit", None)
        if name:
            return str(name).replace("-", " ")
        index = self.path.partition(".")[2]
        return f"no. {int(index) + 1}" if index else ""

    @property
    def title(self) -> str:
        """The topic's title, with what tells one question of a list from the next."""
        title = self.asked.topic.title
        return f"{title}: {self.which}" if self.which else title


@dataclass(frozen=True)
class Stage:
    """One stage of the work."""

    number: int
    name: str
    title: str
    cautions: list[str]
    work: list[Tree]
    sections: list[Section]


@dataclass(frozen=True)
class TorqueLine:
    """One fastener of the torque list. ``passes`` are the written torques in their order, the full torque last."""

    fastener: str
    thread: str
    property_class: str
    condition: str
    passes: list[Tree]
    setting: Tree
    order: str
    preload: Tree | None
    advice: list[str]


@dataclass(frozen=True)
class View:
    """A sheet and its written result."""

    asked: Asked
    system: UnitSystem
    result: Tree

    @property
    def title(self) -> str:
        """The heading of the sheet."""
        name = self.result["identity"].get("name", "")
        return f"Build sheet: {name}" if name else "Build sheet"

    @property
    def engine(self) -> str:
        """What engine this is, in one line, as far as it is known."""
        given, sections = self.asked.inputs, self.result["sections"]
        cylinders, family = given.get("cylinders"), given.get("engine")
        size = [f"{name} {as_given(given[name])}" for name in ("bore", "stroke") if name in given]
        ratio = sections["compression"]["compression_ratio"] if "compression" in sections else given.get("compression_ratio")
        parts = [
            str(family) if family else "",
            ("1 cylinder" if cylinders == 1 else f"{cylinders} cylinders") if cylinders else "",
            " × ".join(size),
            f"displacement {words(sections['displacement']['displacement'])}" if "displacement" in sections else "",
            f"compression ratio {words(ratio)}" if ratio else "",
        ]
        return " · ".join(part for part in parts if part)

    @property
    def given(self) -> list[tuple[str, str]]:
        """The shared inputs as they were given; those of single sections stand in the permalink."""
        leaves = ((name, value) for name, value in self.asked.inputs.items() if _is_leaf(value))
        return [(label(name), as_given(value)) for name, value in leaves]

    @property
    def verdict(self) -> str:
        """How the sheet stands, in one sentence: the gravest kind of finding decides."""
        return next((text for severity, text in VERDICTS.items() if self.counts.get(severity)), "No rule was broken.")

    @cached_property
    def sections(self) -> dict[str, Section]:
        """The answered questions by their place in the document."""
        places: dict[str, list[str]] = {}
        for stage in self.result["stages"]:
            for path in stage["sections"]:
                places.setdefault(path.partition(".")[0], []).append(path)
        found = {}
        taken: dict[str, int] = {}
        for part in self.asked.answer.parts:
            name = part.topic.name
            index = taken.get(name, 0)
            taken[name] = index + 1
            path = places[name][index]
            written = self.result["sections"][name]
            found[path] = Section(path, part, written[index] if isinstance(written, list) else written)
        return found

    def names_of(self, topic: str) -> dict[int, str]:
        """The questions of a list by their place in the document, each with what tells it from the next."""
        return self._names.get(topic, {})

    @cached_property
    def _names(self) -> dict[str, dict[int, str]]:
        found: dict[str, dict[int, str]] = {}
        for path, section in self.sections.items():
            topic, _, index = path.partition(".")
            if index:
                found.setdefault(topic, {})[int(index)] = section.which
        return found

    @cached_property
    def stages(self) -> list[Stage]:
        """The stages that hold anything, numbered in the order of the work."""
        work: dict[str, list[Tree]] = {}
        for line in self.result["work"]:
            work.setdefault(line["stage"], []).append(line)
        plan = self.sections.get("break_in_schedule")
        after_run = (
            [c for part in plan.result["stages"] if part["name"] == "after_run" for c in part["cautions"]] if plan else []
        )
        return [
            Stage(
                number,
                entry["stage"],
                entry["title"],
                entry["cautions"] or (after_run if entry["stage"] == "after-run" else []),
                work.get(entry["stage"], []),
                [self.sections[path] for path in entry["sections"]],
            )
            for number, entry in enumerate(self.result["stages"], 1)
            if entry["sections"] or entry["stage"] in work
        ]

    @cached_property
    def torques(self) -> list[TorqueLine]:
        """The torque list."""
        return [torque_line(section) for section in self.sections.values() if section.topic == "torque"]

    @cached_property
    def counts(self) -> dict[str, int]:
        """How many findings of each severity."""
        found: dict[str, int] = {}
        for finding in self.asked.answer.findings:
            found[finding.severity] = found.get(finding.severity, 0) + 1
        return found


def view_of(asked: Asked, system: UnitSystem) -> View:
    """The written sheet: the tree that the JSON face writes."""
    return View(asked, system, asked.result_in(system))


def _is_leaf(value: Any) -> bool:
    return isinstance(value, str | int | float) or (isinstance(value, dict) and "given" in value)


def as_given(value: Any) -> str:
    """A shared input as it was given."""
    return f"{value['given']['value']:g} {value['given']['unit']}" if isinstance(value, dict) else str(value)


def torque_line(section: Section) -> TorqueLine:
    """A torque's answer as a line of the list; thread and condition as given, else as listed or assumed."""
    request, result = section.asked.request, section.result
    supplied: Mapping[str, Any] = {entry["field"]: entry["value"] for entry in section.asked.answer.assumptions}

    def named(field: str) -> str:
        return str(getattr(request, field, None) or supplied.get(field) or "")

    fastener = named("fastener")
    listed = result.get("listed") or {}
    sequence = result.get("sequence")
    passes = [step["torque"] for step in sequence["passes"]] if sequence else []
    order = sequence["order"] if sequence and len(sequence["order"]) > 1 else []
    return TorqueLine(
        fastener=fastener.replace("-", " ") or section.path,
        thread=named("thread") or _of_fastener(section.asked, fastener, "thread"),
        property_class=named("property_class"),
        condition=(named("condition") or listed.get("condition") or "").replace("-", " "),
        passes=passes if len(passes) > 1 else [result["torque"]],
        setting=result["wrench_setting"],
        order="-".join(map(str, order)),
        preload=result.get("preload"),
        advice=result.get("advice") or [],
    )


def _of_fastener(asked: Asked, fastener: str, name: str) -> str:
    """What the dataset lists of a fastener, or an empty text; the torque's answer has found the fastener already."""
    engine = getattr(asked.request, "engine", None)
    if not engine or not fastener:
        return ""
    entity = asked.dataset.of_engine("fasteners", engine, fastener)
    return entity.text(name) if entity.has(name) else ""
