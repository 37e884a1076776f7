"""The build sheet as a page: what the shop prints, hangs on the engine and hands over.

What engine it is and how it stands come first, then the stages in the order of the work, then what the sheet rests on.
It needs no script: the boxes and blanks take a pen on paper, and a finger on a phone.
"""

from collections.abc import Mapping

from service.answers.asking import Asked
from service.answers.envelope import CALCULATION, SEVERITIES, Finding
from service.faces.build_sheet_gaps import Basis, fields_in_words
from service.faces.build_sheet_papers_html import papers_html
from service.faces.build_sheet_stage_html import stage_html
from service.faces.build_sheet_style import STYLE, page_rule
from service.faces.build_sheet_view import View, view_of
from service.faces.labels import label
from service.faces.page import page, safe
from service.quantities import UnitSystem

SIGNATURES = ("Built by, date", "Checked by, date", "Received by, date")


def write(asked: Asked, system: UnitSystem) -> bytes:
    """The sheet as an HTML page."""
    view = view_of(asked, system)
    basis = Basis(asked)
    body = [
        _head(view),
        _findings(view, basis),
        _contents(view),
        *(stage_html(view, stage, basis) for stage in view.stages),
        _signatures(view),
        papers_html(view, basis),
    ]
    stamp = f"dataset {asked.dataset.version} · calculation {CALCULATION} · {asked.answer_id}"
    return page(view.title, "".join(body), stamp, STYLE + page_rule(asked.answer_id))


def _head(view: View) -> str:
    """What engine it is, in one line, and whose."""
    engine = f"<p class='engine'>{safe(view.engine)}</p>" if view.engine else ""
    whose = [(label(name), text) for name, text in view.result["identity"].items() if name != "name"]
    items = "".join(f"<div><dt>{safe(name)}</dt><dd>{safe(text)}</dd></div>" for name, text in whose)
    return engine + (f"<dl class='id'>{items}</dl>" if items else "")


def _findings(view: View, basis: Basis) -> str:
    """How the sheet stands, the findings, and how many checks were not made."""
    answer = view.asked.answer
    counts = "".join(
        f"<li><span class='sev {severity}'>{severity}</span>{view.counts.get(severity, 0)}</li>" for severity in SEVERITIES
    )
    left = ""
    if answer.unchecked:
        words = f"<a href='#unchecked'>{len(answer.unchecked)} checks were not made</a>"
        left = f"<p>{words}, because an input is missing; none of them is a pass.</p>"
    titles = {stage["stage"]: stage["title"].lower() for stage in view.result["stages"]}
    items = (
        "".join(_finding(finding, titles, basis) for finding in answer.findings)
        or "<p>No rule was broken among those checked.</p>"
    )
    return (
        f"<section id='findings'><h2>Findings</h2><p class='verdict'>{safe(view.verdict)}</p>"
        f"<ul class='counts'>{counts}</ul>{left}{items}</section>"
    )


def _finding(finding: Finding, titles: Mapping[str, str], basis: Basis) -> str:
    rule = finding.rule
    about = f"{titles.get(rule.stage, rule.stage)} · {fields_in_words(finding.fields)} · rule {rule.code}"
    return (
        f"<article class='finding {finding.severity}'><h3><span class='sev {finding.severity}'>{finding.severity}</span>"
        f"{safe(finding.message)}</h3><p>{safe(rule.reason)} <strong>{safe(rule.remedy)}</strong></p>"
        f"<p class='small'>{safe(about)} · source {safe(rule.source)} [{basis.number(rule.source)}]</p></article>"
    )


def _contents(view: View) -> str:
    """Where everything stands, for the screen."""
    stages = "".join(f"<li><a href='#{s.name}'>{s.number} {safe(s.title)}</a></li>" for s in view.stages)
    ends = "<li><a href='#given'>The engine as given</a></li><li><a href='#unchecked'>Not checked</a></li>"
    ends = ends if view.asked.answer.unchecked else ends.partition("</li>")[0] + "</li>"
    return (
        f"<nav aria-label='Stages'><ul>{stages}{ends}<li><a href='#receipt'>Receipt</a></li></ul></nav>"
        "<p class='small screen'>Boxes and blanks can be filled in on the screen; nothing is sent or kept. "
        "Print the page or save it as PDF before you leave it.</p>"
    )


def _signatures(view: View) -> str:
    open_findings = sum(view.counts.get(severity, 0) for severity in ("ask", "stop", "fix", "caution"))
    lines = "".join(f"<p>{text}</p>" for text in SIGNATURES)
    words = f"Open findings at hand-over: {open_findings}. A computation gives no warranty."
    return f"<section id='signatures'><h2>Signatures</h2><p>{words}</p><div class='sign'>{lines}</div></section>"
