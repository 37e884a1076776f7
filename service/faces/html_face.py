"""An answer as a page that reads well on a phone and prints well on paper; no script, no outside resource."""

from html import escape

from service.answers.asking import Asked
from service.answers.envelope import CALCULATION
from service.faces.page import page
from service.faces.rows import assumed, flat, heading, not_checked, words
from service.quantities import UnitSystem


def write(asked: Asked, system: UnitSystem) -> bytes:
    """The answer as an HTML page."""
    answer = asked.answer
    parts = ["<table><thead><tr><th scope='col'>figure</th><th scope='col'>value</th></tr></thead><tbody>"]
    for name, value in flat(answer.result, system):
        parts.append(f"<tr><th scope='row'>{escape(heading(name))}</th><td>{escape(words(value))}</td></tr>")
    parts.append("</tbody></table>")
    parts += [
        f"<section class='finding {f.severity}'><h3>{f.severity}: {escape(f.message)}</h3>"
        f"<p>{escape(f.rule.reason)}</p><p><strong>{escape(f.rule.remedy)}</strong></p></section>"
        for f in answer.findings
    ]
    if answer.assumptions:
        items = "".join(f"<li>{escape(line)}</li>" for line in assumed(answer.assumptions, system))
        parts.append(f"<section><h2>Assumed, because it was not given</h2><ul>{items}</ul></section>")
    if answer.unchecked:
        items = "".join(f"<li>{escape(line)}</li>" for line in not_checked(answer.unchecked))
        parts.append(f"<section><h2>Not checked</h2><ul>{items}</ul></section>")
    if answer.cautions:
        items = "".join(f"<li>{escape(caution)}</li>" for caution in answer.cautions)
        parts.append(f"<section class='cautions'><h2>Cautions</h2><ul>{items}</ul></section>")
    stamp = f"dataset {asked.dataset.version} · calculation {CALCULATION} · {asked.answer_id}"
    return page(asked.topic.title, "".join(parts), stamp)
