"""The verdict on a logged run as a page: next steps first, the drawing of log over plan, then the figures."""

from collections.abc import Iterable
from html import escape
from typing import Any

from service.answers.asking import Asked
from service.answers.break_in_plan import clock
from service.answers.envelope import CALCULATION
from service.faces.break_in_assessment_svg import draw
from service.faces.page import page
from service.faces.rows import not_checked
from service.quantities import UnitSystem, text_of

_FIGURES = (
    ("credited in this run", "credited_time"),
    ("credited before", "credited_before"),
    ("required", "required_time"),
    ("remaining", "remaining_time"),
    ("at speed, whatever the pressure", "credited_by_speed"),
    ("running", "running_time"),
    ("from firing to the floor speed", "time_to_floor"),
    ("below the floor speed", "time_below_floor"),
    ("above the band", "time_above_band"),
)


def write(asked: Asked, system: UnitSystem) -> bytes:
    """The page."""
    result, answer = asked.answer.result, asked.answer
    rows = [(name, text_of(result[key], system)) for name, key in _FIGURES if result[key] is not None]
    rows.append(("longest dwell", text_of(result["longest_dwell"]["duration"], system)))
    margin = result["oil_pressure_margin"]
    if margin is not None:
        rows.append(("lowest margin of the oil pressure over its floor", text_of(margin["lowest"], system)))
    settles = result["temperatures"]["oil_settles"]
    if settles is not None:
        rows.append(("the oil settles at", text_of(settles["temperature"], system)))
    parts = [
        f"<p><strong>{escape(result['verdict'].replace('-', ' '))}</strong></p>",
        f"<ol>{''.join(f'<li>{escape(step)}</li>' for step in result['next_steps'])}</ol>",
        f"<div class='wide'>{draw(asked, system)}</div>",
        *(f"<section class='finding {f.severity}'><h3>{f.severity}: {escape(f.message)}</h3>"
          f"<p>{escape(f.rule.reason)} <strong>{escape(f.rule.remedy)}</strong></p></section>"
          for f in answer.findings),
        _section("Figures", _table(("figure", "value"), rows)),
        _section("Time by speed band", _table(("from", "to", "credited"), _bands(result, system))),
        _section("Excursions", _table(("what", "at", "for", "rows", "worst"), _excursions(result, system))),
        _section("Stops", _table(("at", "kind", "stood"), _stops(result))),
        _section("Sensor faults", _table(("sensor", "kind", "at", "readings"), _faults(result))),
        _section("Not checked", _list(not_checked(answer.unchecked))),
        _section("What no log can show", _list(result["cannot_show"])),
        f"<section class='cautions'><h2>Cautions</h2>{_list(answer.cautions)}</section>",
    ]  # fmt: skip
    stamp = f"dataset {asked.dataset.version} · calculation {CALCULATION} · {asked.answer_id}"
    return page(asked.topic.title, "".join(parts), stamp)


def _section(title: str, body: str) -> str:
    return f"<section><h2>{escape(title)}</h2>{body}</section>" if body else ""


def _list(texts: Iterable[str]) -> str:
    items = "".join(f"<li>{escape(text)}</li>" for text in texts)
    return f"<ul>{items}</ul>" if items else ""


def _table(heads: Iterable[str], rows: Iterable[Iterable[str]]) -> str:
    """A table, or nothing without rows."""
    body = "".join("<tr>" + "".join(f"<td>{escape(cell)}</td>" for cell in row) + "</tr>" for row in rows)
    head = "".join(f"<th scope='col'>{escape(name)}</th>" for name in heads)
    return f"<table><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>" if body else ""


def _bands(result: dict[str, Any], system: UnitSystem) -> list[tuple[str, ...]]:
    return [tuple(text_of(row[name], system) for name in ("low", "high", "time")) for row in result["speed_bands"]]


def _excursions(result: dict[str, Any], system: UnitSystem) -> list[tuple[str, ...]]:
    return [
        (
            row["kind"].replace("-", " "),
            clock(row["start"].si),
            text_of(row["duration"], system),
            f"{row['rows']['first']} to {row['rows']['last']}",
            text_of(row["extreme"], system),
        )
        for row in result["excursions"]
    ]


def _stops(result: dict[str, Any]) -> list[tuple[str, ...]]:
    return [
        (clock(row["at"].si), row["kind"], "did not run again" if row["stood"] is None else f"{row['stood'].si:.0f} s")
        for row in result["stops"]
    ]


def _faults(result: dict[str, Any]) -> list[tuple[str, ...]]:
    return [
        (row["channel"].replace("_", " "), row["kind"], clock(row["start"].si), str(row["samples"]))
        for row in result["sensor_faults"]
    ]
