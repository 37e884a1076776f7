"""A section's result as figures to print: pairs of name and text, small tables, and lists of sentences.

What stands elsewhere in the sheet (lines of work, the torque list) is left out here.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from service.faces.build_sheet_view import Section
from service.faces.rows import heading, words

STANDS_ELSEWHERE: Mapping[str, frozenset[str]] = {
    "torque": frozenset(
        {"torque", "torque_band", "wrench_setting", "sequence", "advice", "preload", "preload_band_of_method"}
        | {"preload_band_of_friction", "listed", "nut_factor", "stress_area", "equivalent_stress", "limit"}
        | {"utilisation", "utilisation_high", "proof_utilisation"}
    ),
    "valve_order": frozenset({"fewest_positions"}),
    "oil": frozenset({"pressure_floor"}),
    "shims": frozenset({"shims", "total", "end_play"}),
    "break_in_schedule": frozenset(
        {"engine", "gates", "look_list", "pressure_floors", "cautions", "bands", "proof", "stages", "remaining"}
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


def set_points(section: Section) -> list[tuple[str, list[str]]]:
    """The set points of a break-in by stage, as they are said aloud."""
    stages = section.result.get("stages") or []
    if section.topic != "break_in_schedule":
        return []
    return [(stage["title"], [s["say"] for s in stage["segments"]]) for stage in stages if stage.get("segments")]


def steps(section: Section) -> list[tuple[str, list[str]]]:
    """The steps of a break-in by stage."""
    if section.topic != "break_in_schedule":
        return []
    return [(stage["title"], [_step(s) for s in stage["steps"]]) for stage in section.result["stages"] if stage["steps"]]


def _step(step: Mapping[str, Any]) -> str:
    return f"{step['text']} ({step['why']})" if step.get("why") else str(step["text"])


def text_of_leaf(value: Any) -> str:
    """A leaf with its uncertainty where it has one."""
    uncertainty = value.get("uncertainty") if isinstance(value, Mapping) else None
    if uncertainty:
        return f"{words(value)} ± {uncertainty['value']:.2g} {uncertainty['unit']}"
    return words(value)


def _is_leaf(value: Any) -> bool:
    return not isinstance(value, list | Mapping) or (isinstance(value, Mapping) and "unit" in value)


def _add(figures: Figures, name: str, value: Any) -> None:
    """Put one entry of a result where it reads best."""
    if value is None or value in ([], {}):
        return
    if (cell := _cell(value)) is not None:
        figures.pairs.append((heading(name), cell))
    elif isinstance(value, Mapping):
        for key, inner in value.items():
            _add(figures, f"{name}.{key}", inner)
    elif all(isinstance(item, Mapping) for item in value):
        figures.tables.append(_table(heading(name), value))
    else:
        figures.lists.append((heading(name), [_cell(item) or "" for item in value]))


def _cell(value: Any) -> str | None:
    """The text of a leaf, a band or a short list of leaves; None for what is too much for one cell."""
    if _is_leaf(value):
        return text_of_leaf(value)
    if isinstance(value, Mapping):
        if value.keys() == BAND and all(map(_is_leaf, value.values())):
            return f"{text_of_leaf(value['nominal'])} ({words(value['low'])} to {words(value['high'])})"
        return None
    if all(map(_is_leaf, value)):
        joined = ", ".join(map(text_of_leaf, value))
        return joined if len(joined) <= LONGEST_JOINED or not isinstance(value[0], str) else None
    return None


def _table(title: str, rows: list[Mapping[str, Any]]) -> Table:
    """Rows of a result; an inner object becomes columns of its own, and columns without any entry are left out."""
    flat = [dict(_columns(row)) for row in rows]
    names = dict.fromkeys(name for row in flat for name in row)
    kept = [name for name in names if any(row.get(name) for row in flat)]
    return Table(title, [heading(name) for name in kept], [[row.get(name, "") for name in kept] for row in flat])


def _columns(row: Mapping[str, Any], prefix: str = "") -> list[tuple[str, str]]:
    found: list[tuple[str, str]] = []
    for name, value in row.items():
        if value is None:
            found.append((f"{prefix}{name}", ""))
        elif (cell := _cell(value)) is not None:
            found.append((f"{prefix}{name}", cell))
        elif isinstance(value, Mapping):
            found += _columns(value, f"{prefix}{name}.")
        else:
            found.append((f"{prefix}{name}", "; ".join(_cell(item) or "" for item in value)))
    return found
