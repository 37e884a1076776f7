"""A section's result as figures to print: pairs of name and text, small tables, and lists of sentences.

What stands elsewhere in the sheet (lines of work, the torque list) is left out here.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from service.faces.build_sheet_view import Section
from service.faces.labels import label, plain
from service.faces.rows import words

STANDS_ELSEWHERE: Mapping[str, frozenset[str]] = {
    "torque": frozenset(
        {"torque", "torque_band", "wrench_setting", "sequence", "advice", "preload", "preload_band_of_method"}
        | {"preload_band_of_friction", "listed", "nut_factor", "stress_area", "equivalent_stress", "limit"}
        | {"utilisation", "utilisation_high", "proof_utilisation"}
    ),
    "clearance": frozenset({"decision", "measured", "low", "high"}),
    "valve_events": frozenset({"intake_opening", "intake_closing", "exhaust_opening", "exhaust_closing"}),
    "valve_order": frozenset({"fewest_positions"}),
    "oil": frozenset({"pressure_floor"}),
    "shims": frozenset({"shims", "total", "end_play"}),
    "break_in_schedule": frozenset(
        {"engine", "gates", "look_list", "pressure_floors", "cautions", "bands", "proof", "stages", "remaining", "stop_rules"}
    ),
}
LONGEST_JOINED = 60
BAND = {"low", "nominal", "high"}


@dataclass(frozen=True)
class Table:
    """Rows of texts under headings."""

    title: str
    heads: list[str]
    rows: list[list[str]]


@dataclass
class Figures:
    """What is printed of one result."""

    pairs: list[tuple[str, str]] = field(default_factory=list)
    tables: list[Table] = field(default_factory=list)
    lists: list[tuple[str, list[str]]] = field(default_factory=list)


def figures_of(section: Section) -> Figures:
    """The figures of a section that stand nowhere else in the sheet."""
    elsewhere = STANDS_ELSEWHERE.get(section.topic, frozenset())
    figures = Figures()
    for name, value in section.result.items():
        if name not in elsewhere:
            _add(figures, name, value)
    return figures


def stop_rules(section: Section) -> Table | None:
    """When to stop the engine at once, from the plan of a break-in."""
    rules = section.result.get("stop_rules")
    if not rules:
        return None
    names = ("sign", "limit", "lasting", "act", "why")
    rows = [[text_of_leaf(rule[name]) if name in rule else "" for name in names] for rule in rules]
    return Table("Stop rules", ["seen", "limit", "for", "do", "why"], rows)


BREAK_IN_STAGES: Mapping[str, str | None] = {"priming": "pre-start", "after_run": None}
"""Where a stage of the break-in plan stands in the sheet, unless it is the first fire; lines of work tell the rest."""


def break_in_stages(section: Section, stage: str) -> list[tuple[str, list[str]]]:
    """Steps and set points of a break-in plan that belong to a stage of the sheet, under their titles."""
    found = []
    for part in section.result["stages"]:
        if BREAK_IN_STAGES.get(part["name"], "first-fire") == stage:
            if part["steps"]:
                found.append((part["title"], [_step(step) for step in part["steps"]]))
            if part.get("segments"):
                found.append((f"{part['title']}: set points", [segment["say"] for segment in part["segments"]]))
    return found


def _step(step: Mapping[str, Any]) -> str:
    return f"{step['text']} ({step['why']})" if step.get("why") else str(step["text"])


def text_of_leaf(value: Any) -> str:
    """A leaf with its uncertainty where it has one."""
    if type(value) is not dict:
        return plain(value) if isinstance(value, str) else words(value)
    if "values" in value:
        return f"{len(value['values'])} values in {value['unit']}"
    text: str = value["text"]
    if "uncertainty" in value:
        uncertainty = value["uncertainty"]
        return f"{text} ± {uncertainty['value']:.2g} {uncertainty['unit']}"
    return text


def _is_leaf(value: Any) -> bool:
    kind = type(value)  # a written tree holds plain dicts and lists only
    return "unit" in value if kind is dict else kind is not list


def _add(figures: Figures, name: str, value: Any) -> None:
    """Put one entry of a result where it reads best."""
    if value is None or value == [] or value == {}:
        return
    if (cell := _cell(value)) is not None:
        figures.pairs.append((label(name), cell))
    elif isinstance(value, dict):
        for key, inner in value.items():
            _add(figures, f"{name}.{key}", inner)
    elif all(isinstance(item, dict) for item in value):
        figures.tables.append(_table(label(name), value))
    else:
        figures.lists.append((label(name), [_cell(item) or "" for item in value]))


def _cell(value: Any) -> str | None:
    """The text of a leaf, a band or a short list of leaves; None for what is too much for one cell."""
    kind = type(value)
    if kind is dict:
        if "unit" in value:
            return text_of_leaf(value)
        if value.keys() == BAND and all(map(_is_leaf, value.values())):
            return f"{text_of_leaf(value['nominal'])} ({words(value['low'])} to {words(value['high'])})"
        return None
    if kind is not list:
        return text_of_leaf(value)
    if all(map(_is_leaf, value)):
        joined = ", ".join(map(text_of_leaf, value))
        return joined if len(joined) <= LONGEST_JOINED or not isinstance(value[0], str) else None
    return None


def _table(title: str, rows: list[Mapping[str, Any]]) -> Table:
    """Rows of a result; an inner object becomes columns of its own, and columns without any entry are left out."""
    flat = [dict(_columns(row)) for row in rows]
    names = dict.fromkeys(name for row in flat for name in row)
    kept = [name for name in names if any(row.get(name) for row in flat)]
    return Table(title, [label(name) for name in kept], [[row.get(name, "") for name in kept] for row in flat])


def _columns(row: Mapping[str, Any], prefix: str = "") -> list[tuple[str, str]]:
    found: list[tuple[str, str]] = []
    for name, value in row.items():
        if value is None:
            found.append((f"{prefix}{name}", ""))
        elif (cell := _cell(value)) is not None:
            found.append((f"{prefix}{name}", cell))
        elif isinstance(value, dict):
            found += _columns(value, f"{prefix}{name}.")
        else:
            found.append((f"{prefix}{name}", "; ".join(_cell(item) or "" for item in value)))
    return found
