"""The build sheet as a page: what the shop prints, hangs on the engine and hands over.

It needs no script: the boxes and blanks take a pen on paper, and a finger on a phone.
"""

from collections.abc import Iterable
from typing import Any

from service.answers.asking import Asked
from service.answers.envelope import CALCULATION, SEVERITIES, Finding
from service.faces.build_sheet_gaps import Basis, Citation, Gap, assumptions, missing, unchecked
from service.faces.build_sheet_stage_html import cell, pairs_html, stage_html, table_html
from service.faces.build_sheet_style import STYLE
from service.faces.build_sheet_view import View, view_of
from service.faces.page import page, safe
from service.faces.rows import heading
from service.quantities import UnitSystem

SIGNATURES = ("Built by, date", "Checked by, date", "Received by, date")


def write(asked: Asked, system: UnitSystem) -> bytes:
    """The sheet as an HTML page."""
    view = view_of(asked, system)
    basis = Basis(asked)
    body = [
        _head(view),
        _findings(view, basis),
        *(stage_html(view, stage, basis) for stage in view.stages),
        _missing(view),
        _unchecked(view),
        _assumptions(view, basis),
        _sources(basis),
        _signatures(view),
        _receipt(asked),
    ]
    stamp = f"dataset {asked.dataset.version} · calculation {CALCULATION} · {asked.answer_id}"
    return page(view.title, "".join(body), stamp, STYLE)


def _head(view: View) -> str:
    """Whose engine it is, by what the sheet was made, and where everything stands."""
    asked = view.asked
    rows = [(heading(name), text) for name, text in view.result["identity"].items()]
    rows += [("dataset, calculation", f"{asked.dataset.version}, {CALCULATION}"), ("receipt", asked.answer_id)]
    identity = "".join(f"<dt>{safe(name)}</dt><dd>{safe(text)}</dd>" for name, text in rows)
    if asked.link:
        identity += f"<dt>permalink</dt><dd><a href='{safe(asked.link)}'>opens this sheet again</a>; in full at the end</dd>"
    stages = "".join(f"<li><a href='#{s.name}'>{s.number} {safe(s.title)}</a></li>" for s in view.stages)
    ends = "<li><a href='#unchecked'>Not checked</a></li><li><a href='#sources'>Sources</a></li>"
    given = pairs_html((heading(name), text) for name, text in _given(asked.inputs))
    return (
        f"<dl class='id'>{identity}</dl><nav aria-label='Stages'><ul>{stages}{ends}</ul></nav>"
        + (f"<section><h2>The engine as given</h2>{given}{_parts(asked)}</section>" if given else "")
        + "<p class='small screen'>Boxes and blanks can be filled in on the screen; nothing is sent or kept. "
        "Print the page or save it as PDF before you leave it.</p>"
    )


def _given(inputs: dict[str, Any]) -> Iterable[tuple[str, str]]:
    """The shared inputs as they were given; those of single sections stand in the permalink."""
    for name, value in inputs.items():
        if isinstance(value, dict) and "given" in value:
            yield name, f"{value['given']['value']:g} {value['given']['unit']}"
        elif isinstance(value, str | int | float):
            yield name, str(value)


def _parts(asked: Asked) -> str:
    """The parts of the build with where their facts come from."""
    heads = ("role", "description", "facts", "source")
    rows = [
        "<tr>" + "".join(cell(name, part.get(name, "")) for name in heads) + "</tr>" for part in asked.inputs.get("parts", [])
    ]
    return table_html("Parts", heads, rows) if rows else ""


def _findings(view: View, basis: Basis) -> str:
    """The findings before everything else, and how many checks were not made."""
    answer = view.asked.answer
    counts = "".join(
        f"<li><span class='sev {severity}'>{severity}</span>{view.counts.get(severity, 0)}</li>" for severity in SEVERITIES
    )
    left = ""
    if answer.unchecked:
        words = f"<a href='#unchecked'>{len(answer.unchecked)} checks were not made</a>"
        left = f"<p>{words}, because an input is missing; none of them is a pass.</p>"
    items = "".join(_finding(finding, basis) for finding in answer.findings) or "<p>No rule was broken among those checked.</p>"
    return f"<section id='findings'><h2>Findings</h2><ul class='counts'>{counts}</ul>{left}{items}</section>"


def _finding(finding: Finding, basis: Basis) -> str:
    rule = finding.rule
    about = f"{rule.code} · {heading(rule.stage.replace('-', ' '))} · {', '.join(finding.fields)}"
    return (
        f"<article class='finding {finding.severity}'><h3><span class='sev {finding.severity}'>{finding.severity}</span>"
        f"{safe(finding.message)}</h3><p>{safe(rule.reason)}</p><p><strong>{safe(rule.remedy)}</strong></p>"
        f"<p class='small'>{safe(about)} · {safe(rule.source)} [{basis.number(rule.source)}]</p></article>"
    )


def _missing(view: View) -> str:
    rows = [f"<tr>{cell('would unlock', unlocks)}{cell('send', inputs)}</tr>" for unlocks, inputs in missing(view)]
    if not rows:
        return ""
    table = table_html("", ("would unlock", "send"), rows)
    return f"<section id='missing'><h2>Missing, and what it would unlock</h2>{table}</section>"


def _unchecked(view: View) -> str:
    groups = unchecked(view)
    if not groups:
        return ""
    lists = "".join(f"<h3>{safe(title)}</h3>{_gaps(gaps, 'Needs ')}" for title, gaps in groups.items())
    return (
        "<section id='unchecked'><h2>Not checked</h2><p>A check that was not made is not a pass.</p>"
        f"<div class='gaps'>{lists}</div></section>"
    )


def _assumptions(view: View, basis: Basis) -> str:
    gaps = assumptions(view, basis)
    if not gaps:
        return ""
    return (
        "<section id='assumptions'><h2>Assumed, because it was not given</h2>"
        f"<div class='gaps'>{_gaps(gaps, '')}</div></section>"
    )


def _gaps(gaps: list[Gap], before: str) -> str:
    items = "".join(
        f"<li><b>{safe(gap.what)}</b> <span class='small'>{before}<span class='mono'>{safe(gap.fields)}</span>."
        f" {safe(gap.rest)}</span></li>"
        for gap in gaps
    )
    return f"<ul class='plain'>{items}</ul>"


def _sources(basis: Basis) -> str:
    items = "".join(_source(citation) for citation in basis.citations.values())
    return f"<section id='sources'><h2>Sources</h2><ul class='sources small'>{items}</ul></section>" if items else ""


def _source(citation: Citation) -> str:
    used = [f"methods: {', '.join(citation.methods)}"] if citation.methods else []
    used += [f"{table}: {', '.join(things)}" for table, things in citation.facts.items()]
    about = ". ".join([citation.id, ", ".join(citation.evidence), *used])
    return f"<li><b>[{citation.number}]</b><span>{safe(citation.title or citation.id)}. {safe(about)}.</span></li>"


def _signatures(view: View) -> str:
    open_findings = sum(view.counts.get(severity, 0) for severity in ("ask", "stop", "fix", "caution"))
    lines = "".join(f"<p>{text}</p>" for text in SIGNATURES)
    words = f"Open findings at hand-over: {open_findings}. A computation gives no warranty."
    return f"<section id='signatures'><h2>Signatures</h2><p>{words}</p><div class='sign'>{lines}</div></section>"


def _receipt(asked: Asked) -> str:
    """What proves the sheet and opens it again."""
    link = (
        f"<p class='mono receipt'>{safe(asked.link)}</p>"
        if asked.link
        else "<p>No address asks for this sheet again; keep its document.</p>"
    )
    return (
        f"<section id='receipt' class='small'><h2>Receipt</h2><p class='mono'>{asked.answer_id}, dataset "
        f"{asked.dataset.version} sha256 {asked.dataset.sha256}, calculation {CALCULATION}. "
        f"<code>/v1/verify</code> recomputes a stored sheet.</p>{link}</section>"
    )
