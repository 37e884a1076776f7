"""The break-in plan as a card to print and tick: gates, set points with room for readings, what to watch, when to kill."""

from collections.abc import Iterable
from html import escape
from typing import Any

from service.answers.asking import Asked
from service.answers.break_in_plan import clock
from service.answers.envelope import CALCULATION
from service.calculations.break_in_limits import RPM
from service.faces.break_in_schedule_svg import draw
from service.faces.page import page
from service.faces.rows import not_checked
from service.quantities import UnitSystem, text_of

STYLE = (
    "<style>.tick{display:inline-block;width:.95em;height:.95em;border:1.5px solid currentColor;border-radius:2px;"
    "vertical-align:-.1em;margin-right:.45em}ul.t{list-style:none;padding-left:0}ul.t li{margin:.28rem 0}"
    ".blank{border-bottom:1px solid var(--line);display:inline-block;min-width:7rem}"
    ".kill td:nth-child(3),.kill td:nth-child(4){white-space:nowrap}.kill td:nth-child(4){font-weight:700}"
    ".head{display:flex;flex-wrap:wrap;gap:.4rem 1.4rem}.why{font-size:.88em;opacity:.85}"
    "@media print{section{break-inside:auto}h2{margin-top:.8rem}.sheet{break-before:page}}</style>"
)
BOX = "<span class='tick' aria-hidden='true'></span>"


def write(asked: Asked, system: UnitSystem) -> bytes:
    """The card as an HTML page."""
    result, answer = asked.answer.result, asked.answer
    stages = {stage["name"]: stage for stage in result["stages"]}
    blanks = "".join(f"<span>{name} <span class='blank'></span></span>" for name in ("engine", "date", "driver", "watcher"))
    parts = [
        STYLE,
        f"<p class='head'>{blanks}</p>",
        f"<p>{escape(_headline(result, system))}</p>",
        *(f"<section class='finding {f.severity}'><h3>{f.severity}: {escape(f.message)}</h3>"
          f"<p>{escape(f.rule.reason)} <strong>{escape(f.rule.remedy)}</strong></p></section>" for f in answer.findings),
        _section("Before the first fire", _ticks(gate["text"] for gate in result["gates"])),
        _section(stages["priming"]["title"], _steps(stages["priming"], system), stages["priming"]["cautions"]),
        _section(stages["first_fire"]["title"], _steps(stages["first_fire"], system), stages["first_fire"]["cautions"]),
        _section("When to kill or stop", _stop_table(result, system)),
        f"<section class='wide'>{draw(asked, system)}</section>",
        _section("Set points", _set_points(stages["run"]), stages["run"]["cautions"]),
        _section("What to look at, and when", _look_table(result)),
        _section("Normal in the first minutes", _bullets(result["normal"])),
        _section("Not normal", _bullets(result["not_normal"])),
        _section("Total timing while the run goes on", _timing(result, system)),
        _section(stages["cool_down"]["title"], _steps(stages["cool_down"], system), stages["cool_down"]["cautions"]),
        _section(stages["after_run"]["title"], _steps(stages["after_run"], system), stages["after_run"]["cautions"]),
        _section("On the road", _road(result, system)),
        _section("Not checked", _bullets(not_checked(answer.unchecked))),
    ]  # fmt: skip
    stamp = f"dataset {asked.dataset.version} · calculation {CALCULATION} · {asked.answer_id}"
    return page(asked.topic.title, "".join(parts), stamp)


def _headline(result: dict[str, Any], system: UnitSystem) -> str:
    done = f", {text_of(result['credited'], system)} credited before" if result["credited"].si > 0 else ""
    habit = result["habit"]
    return f"{text_of(result['remaining'], system)} to run{done}: {habit['is']}; {habit['why']}; {habit['other']}."


def _section(title: str, body: str, cautions: Iterable[str] = ()) -> str:
    warnings = "".join(f"<li>{escape(text)}</li>" for text in cautions)
    box = f"<div class='cautions'><ul>{warnings}</ul></div>" if warnings else ""
    return f"<section><h2>{escape(title)}</h2>{box}{body}</section>"


def _ticks(texts: Iterable[str]) -> str:
    return "<ul class='t'>" + "".join(f"<li>{BOX}{escape(text)}</li>" for text in texts) + "</ul>"


def _bullets(texts: Iterable[str]) -> str:
    return "<ul>" + "".join(f"<li>{escape(text)}</li>" for text in texts) + "</ul>"


def _steps(stage: dict[str, Any], system: UnitSystem) -> str:
    items = []
    for step in stage["steps"]:
        due = _due(step, system)
        why = f" <span class='why'>{escape(step['why'])}</span>" if step["why"] else ""
        items.append(f"<li>{BOX}{escape(due + step['text'])}{why}</li>")
    return f"<ul class='t'>{''.join(items)}</ul>"


def _due(step: dict[str, Any], system: UnitSystem) -> str:
    """When a step is due, by the clock, by hours or by distance."""
    if step.get("distance") is not None:
        return f"At {text_of(step['distance'], system)}: "
    at = step["at"]
    if at is None or at.si < 20:
        return ""
    if at.si >= 3600:
        return f"After {at.si / 3600:g} h: "
    return f"After {at.si / 60:g} min: " if at.si >= 120 else f"Within {at.si:g} s: "


def _stop_table(result: dict[str, Any], system: UnitSystem) -> str:
    rows = []
    for rule in result["stop_rules"]:
        limit = "" if rule["limit"] is None else text_of(rule["limit"], system)
        per = " per 1000 rpm" if rule["code"] == "pressure-low" else ""
        lasting = "" if rule["lasting"] is None else f"{rule['lasting'].si:g} s"
        cells = (rule["sign"], limit + per, lasting, rule["act"].upper(), rule["why"])
        rows.append("<tr>" + "".join(f"<td>{escape(cell)}</td>" for cell in cells) + "</tr>")
    floors = ", ".join(
        f"{row['speed'].si / RPM:.0f} rpm {text_of(row['pressure'], system)}" for row in result["pressure_floors"]
    )
    return (
        "<table class='kill'><thead><tr><th>seen</th><th>limit</th><th>for</th><th>do</th><th>why</th></tr></thead>"
        f"<tbody>{''.join(rows)}</tbody></table><p>Lowest oil pressure, warm: {escape(floors)}.</p>"
    )


def _set_points(stage: dict[str, Any]) -> str:
    rows = [
        f"<tr><td>{BOX}{clock(s['start'].si)}</td><td>{s['speed'].si / RPM:.0f} rpm</td><td>{_whole(s)}</td>"
        "<td></td><td></td><td></td></tr>"
        for s in stage["segments"]
    ]
    if not rows:
        return "<p>Nothing is left to run.</p>"
    head = "<th>at</th><th>go to</th><th>hold</th><th>oil pressure</th><th>oil °</th><th>head °</th>"
    clock_note = "<p>The clock starts when the lower speed is reached; it stands while the engine stands.</p>"
    return f"{clock_note}<table><thead><tr>{head}</tr></thead><tbody>{''.join(rows)}</tbody></table>"


def _whole(segment: dict[str, Any]) -> str:
    hold = segment["duration"].si - segment["ramp"].si
    return f"{hold:.0f} s" if hold >= 3 else "touch"


def _look_table(result: dict[str, Any]) -> str:
    rows = [
        f"<tr><td>{BOX}{clock(row['at'].si)}</td><td>{escape(row['what'])}</td><td>{escape(row['good'])}</td>"
        f"<td>{escape(row['bad'])}</td></tr>"
        for row in result["look_list"]
    ]
    head = "<th>at</th><th>look at</th><th>good</th><th>not good</th>"
    return f"<table><thead><tr>{head}</tr></thead><tbody>{''.join(rows)}</tbody></table>"


def _timing(result: dict[str, Any], system: UnitSystem) -> str:
    timing = result["timing"]
    total = timing["total_advance"]
    moments = ", ".join(clock(moment.si) for moment in timing["moments"])
    lead = f"Total {text_of(total, system)} before top dead centre. " if total is not None else ""
    when = (
        f"Highest holds ({timing['highest_hold'].si / RPM:.0f} rpm) begin at {moments} by the clock of the set points. "
        if moments
        else ""
    )
    return f"<p>{escape(lead + when)}</p>{_ticks(timing['steps'])}"


def _road(result: dict[str, Any], system: UnitSystem) -> str:
    rings = result["rings"]
    texts = [f"{rings['title']}: {rings['advice']}"] if rings else []
    texts += [f"{text_of(p['from'], system)} to {text_of(p['to'], system)}: {p['advice']}" for p in result["road"]]
    return _bullets(texts)
