"""The evidence as a page: every published case with its source, what was expected and what was answered."""

from collections.abc import Sequence
from html import escape

from service.faces.evidence import Case, Judged, Wall
from service.faces.page import page

Results = Sequence[tuple[Case, Sequence[Judged]]]

GRADES = {
    "published": "printed",
    "from-memory": "printed, quoted from memory",
    "library": "a library or data set",
    "derived": "derived, nothing printed",
    "rule-of-thumb": "a rule of thumb",
    "wrong-in-print": "wrong in print",
}
STYLE = """
body{max-width:82rem}.evidence td,.evidence th{font-size:.85rem;overflow-wrap:break-word;word-break:normal}
.evidence td.number{text-align:right;white-space:nowrap}.evidence .deviates td{color:var(--stop);font-weight:700}
.evidence tr.first>*{border-top:1px solid var(--line)}.evidence td,.evidence th{border-bottom:0}
.evidence thead th{border-bottom:1px solid var(--ink)}
.source{color:var(--ink);opacity:.75;font-size:.8rem}.counts td,.counts th{font-size:1rem}.counts{width:auto}
@media print{.evidence td,.evidence th{font-size:7.5pt;padding:.1rem .25rem}.source{font-size:7pt}
@page{size:A4 landscape;margin:10mm}}
"""


def write(wall: Wall, results: Results, stamp: str) -> bytes:
    """The whole page; ``results`` are the asked cases in the order of the wall."""
    parts = [_counts(wall, results), _lead()]
    for topic in wall.topics:
        of_topic = [(case, judged) for case, judged in results if case.topic == topic]
        if of_topic:
            parts.append(f"<h2>{escape(_title(topic))}</h2>{_table(of_topic)}")
    parts.append(f"<h2>Cases that no calculator answers</h2>{_not_asked(wall)}")
    parts.append(f"<h2>Referees where no number is printed</h2>{_referees(wall)}")
    return page("Evidence", "".join(parts), stamp, STYLE)


def counts(wall: Wall, results: Results) -> dict[str, int]:
    """How many cases and figures there are, and how many of them deviate."""
    figures = [figure for _, judged in results for figure in judged]
    return {
        "cases": len(wall.cases),
        "asked": len(results),
        "not answered by any calculator": len(wall.cases) - len(results),
        "figures compared": len(figures),
        "deviating figures": sum(figure.verdict == "deviates" for figure in figures),
        "wrong in print, the right figure answered": sum(
            all(figure.verdict == "agrees" for figure in judged)
            for case, judged in results
            if case.entry["printed"] == "wrong-in-print"
        ),
    }


def _counts(wall: Wall, results: Results) -> str:
    rows = "".join(
        f"<tr><th scope='row'>{escape(name.capitalize())}</th><td class='number'>{number}</td></tr>"
        for name, number in counts(wall, results).items()
    )
    printed = [case.entry["printed"] for case in wall.cases]
    rows += "".join(
        f"<tr><th scope='row'>of all cases: {escape(words)}</th><td class='number'>{printed.count(grade)}</td></tr>"
        for grade, words in GRADES.items()
    )
    return f"<table class='counts'><tbody>{rows}</tbody></table>"


def _lead() -> str:
    return (
        "<p>Each figure was asked of the service through its public addresses and is shown in the unit of its source. "
        "A tolerance is what the print allows: its last digit, or what the source itself rounded on the way. "
        "Where the source says one thing and right arithmetic another, the right figure is expected, and the printed one "
        "must not come out.</p>"
    )


def _table(results: Results) -> str:
    head = "".join(
        f"<th scope='col'>{words}</th>"
        for words in ("Case", "Subject and source", "Figure", "Expected", "Answered", "Deviation", "Tolerance", "Verdict")
    )
    rows = "".join(_row(case, judged, n) for case, all_of in results for n, judged in enumerate(all_of))
    return f"<div class='wide'><table class='evidence'><thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table></div>"


def _row(case: Case, judged: Judged, position: int) -> str:
    first = position == 0
    entry = case.entry
    subject = (
        f"{escape(str(entry['what']))}<div class='source'>{escape(str(entry['source']))} — "
        f"{escape(str(entry['provenance']))}; {escape(GRADES[str(entry['printed'])])}</div>"
        if first
        else ""
    )
    if first:
        left_out = (f"Left out: {name}: {why}" for name, why in entry.get("unasked", {}).items())
        subject += "".join(f"<div class='source'>{escape(words)}</div>" for words in left_out)
    wrong = f"<div class='source'>printed {escape(judged.wrong_in_print)}</div>" if judged.wrong_in_print else ""
    note = f"<div class='source'>{escape(judged.note)}</div>" if judged.note else ""
    deviation = "" if judged.deviation is None else f"{judged.deviation:+.2g}"
    style = " ".join(word for word, holds in (("first", first), ("deviates", judged.verdict == "deviates")) if holds)
    return (
        f"<tr class='{style}'><th scope='row'>{escape(case.id) if first else ''}</th>"
        f"<td>{subject}</td>"
        f"<td>{escape(judged.name)}{note}<div class='source'>{escape(', '.join(judged.asked))}</div></td>"
        f"<td class='number'>{escape(judged.expected)}{wrong}</td><td class='number'>{_figures(judged)}</td>"
        f"<td class='number'>{deviation}</td><td class='number'>{escape(judged.tolerance)}</td><td>{judged.verdict}</td></tr>"
    )


def _figures(judged: Judged) -> str:
    return escape(f"{judged.answered:.7g} {judged.unit}".strip())


def _not_asked(wall: Wall) -> str:
    rows = "".join(
        f"<tr class='first'><th scope='row'>{escape(case.id)}</th><td>{escape(str(case.entry['what']))}"
        f"<div class='source'>{escape(str(case.entry['source']))}</div></td><td>{escape(str(case.entry['why']))}</td></tr>"
        for case in wall.cases
        if not case.applicable
    )
    head = "".join(f"<th scope='col'>{words}</th>" for words in ("Case", "Subject and source", "Why"))
    return f"<div class='wide'><table class='evidence'><thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table></div>"


def _referees(wall: Wall) -> str:
    rows = "".join(
        f"<tr><th scope='row'>{escape(referee['library'])}</th><td>{escape(referee['judges'])}</td>"
        f"<td>{escape(referee['where'])}</td></tr>"
        for referee in wall.referees
    )
    return f"<table><tbody>{rows}</tbody></table>"


def _title(topic: str) -> str:
    return topic.replace("_", " ").capitalize()
