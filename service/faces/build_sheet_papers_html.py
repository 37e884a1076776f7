"""The closing part of the build sheet as HTML: the engine as given, what is missing, assumed and cited, and the receipt."""

from service.answers.envelope import CALCULATION
from service.faces.build_sheet_gaps import Basis, Citation, Gap, assumptions, missing, unchecked
from service.faces.build_sheet_stage_html import cell, pairs_html, table_html
from service.faces.build_sheet_view import View
from service.faces.page import safe, safe_all


def papers_html(view: View, basis: Basis) -> str:
    """Everything that stands behind the work."""
    return "".join(
        (
            _given(view),
            _missing(view),
            _gaps("unchecked", "Not checked", "A check that was not made is not a pass.", unchecked(view)),
            _gaps("assumptions", "Assumed, because it was not given", "", assumptions(view, basis)),
            _sources(basis),
            _receipt(view),
        )
    )


def _given(view: View) -> str:
    """The shared inputs, and the parts of the build with where their facts come from."""
    pairs = pairs_html(view.given) + _parts(view)
    return f"<section id='given'><h2>The engine as given</h2>{pairs or '<p>Nothing that questions share.</p>'}</section>"


def _parts(view: View) -> str:
    heads = ("role", "description", "facts", "source")
    parts = view.asked.inputs.get("parts", [])
    rows = ["<tr>" + "".join(cell(name, part.get(name, "")) for name in heads) + "</tr>" for part in parts]
    return table_html("Parts", heads, rows) if rows else ""


def _missing(view: View) -> str:
    rows = [f"<tr>{cell('would unlock', unlocks)}{cell('give', inputs)}</tr>" for unlocks, inputs in missing(view)]
    if not rows:
        return ""
    table = table_html("", ("would unlock", "give"), rows)
    return f"<section id='missing'><h2>Missing, and what it would unlock</h2>{table}</section>"


def _gaps(id: str, title: str, words: str, groups: dict[str, list[Gap]]) -> str:
    """Checks or assumptions in their groups; nothing where there are none."""
    if not groups:
        return ""
    lists = "".join(f"<h3>{safe(name)}</h3><ul class='plain'>{''.join(map(_gap, gaps))}</ul>" for name, gaps in groups.items())
    told = f"<p>{words}</p>" if words else ""
    return f"<section id='{id}'><h2>{title}</h2>{told}<div class='gaps'>{lists}</div></section>"


def _gap(gap: Gap) -> str:
    what, needs, rest = safe_all((gap.what, gap.needs, gap.rest))
    if needs:
        return f"<li><b>{what}</b> <span class='small'>needs {needs}. {rest}</span></li>"
    return f"<li>{what}: <span class='small'>{rest}</span></li>"


def _sources(basis: Basis) -> str:
    items = "".join(map(_source, basis.citations.values()))
    return f"<section id='sources'><h2>Sources</h2><ul class='sources small'>{items}</ul></section>" if items else ""


def _source(citation: Citation) -> str:
    used = [f"methods: {', '.join(citation.methods)}"] if citation.methods else []
    used += [f"{table}: {', '.join(things)}" for table, things in citation.facts.items()]
    about = ". ".join([citation.id, ", ".join(citation.evidence), *used])
    return f"<li><b>[{citation.number}]</b> {safe(citation.title or citation.id)}. {safe(about)}.</li>"


def _receipt(view: View) -> str:
    """What proves the sheet and opens it again."""
    asked = view.asked
    link = (
        f"<p>Permalink, <a href='{safe(asked.link)}'>opens this sheet again</a>:</p>"
        f"<p class='mono receipt'>{safe(asked.link)}</p>"
        if asked.link
        else "<p>No address asks for this sheet again; keep its document.</p>"
    )
    return (
        f"<section id='receipt' class='small'><h2>Receipt</h2><p class='mono'>{asked.answer_id}, dataset "
        f"{asked.dataset.version} sha256 {asked.dataset.sha256}, calculation {CALCULATION}. "
        f"<code>/v1/verify</code> recomputes a stored sheet.</p>{link}</section>"
    )
