"""The break-in plan for a terminal: gates, set points in words, what to watch, and when to kill."""

from collections.abc import Iterable
from typing import Any

from service.answers.asking import Asked
from service.answers.break_in_plan import clock
from service.answers.envelope import CALCULATION
from service.faces.rows import not_checked
from service.quantities import UnitSystem, text_of


def write(asked: Asked, system: UnitSystem) -> bytes:
    """The plan as lines."""
    result, answer = asked.answer.result, asked.answer
    lines = [asked.topic.title, "=" * len(asked.topic.title), ""]
    habit = result["habit"]
    lines += [f"{text_of(result['remaining'], system)} to run: {habit['is']}; {habit['why']}; {habit['other']}"]
    lines += _block("Gates", (f"[{'x' if gate['done'] else ' '}] {gate['text']}" for gate in result["gates"]))
    for stage in result["stages"]:
        steps = [f"[ ] {step['text']}" for step in stage["steps"]]
        points = [segment["say"] for segment in stage.get("segments", ())]
        cautions = [f"! {text}" for text in stage["cautions"]]
        lines += _block(stage["title"], [*cautions, *steps, *points])
    lines += _block("Stop", (_rule(rule, system) for rule in result["stop_rules"]))
    lines += _block(
        "Look at", (f"{clock(row['at'].si)} {row['what']}: {row['good']}; {row['bad']}" for row in result["look_list"])
    )
    lines += _block("Normal", result["normal"])
    lines += _block("Not normal", result["not_normal"])
    lines += _block("Total timing", result["timing"]["steps"])
    for finding in answer.findings:
        lines += ["", f"{finding.severity.upper()}: {finding.message}"]
        lines += [f"  why:  {finding.rule.reason}", f"  do:   {finding.rule.remedy}"]
    lines += _block("Not checked", not_checked(answer.unchecked))
    lines += ["", f"dataset {asked.dataset.version}, calculation {CALCULATION}, {asked.answer_id}"]
    lines += ["The maker's manual, local codes and licensed practice come first.", ""]
    return "\n".join(lines).encode()


def _block(title: str, rows: Iterable[str]) -> list[str]:
    """A title with its lines; nothing without lines."""
    indented = [f"  {row}" for row in rows]
    return ["", f"{title}:", *indented] if indented else []


def _rule(rule: dict[str, Any], system: UnitSystem) -> str:
    limit = "" if rule["limit"] is None else f" {text_of(rule['limit'], system)}"
    lasting = "" if rule["lasting"] is None else f" for {rule['lasting'].si:g} s"
    return f"{rule['act'].upper()}: {rule['sign']}{limit}{lasting} ({rule['why']})"
