"""An answer as plain text for a terminal."""

from service.answers.asking import Asked
from service.answers.envelope import CALCULATION
from service.faces.rows import assumed, flat, heading, not_checked, words
from service.quantities import UnitSystem


def write(asked: Asked, system: UnitSystem) -> bytes:
    """The answer as lines of name and figure, then findings, assumptions, what was not checked, and cautions."""
    answer = asked.answer
    rows = [(heading(name), words(value)) for name, value in flat(answer.result, system)]
    width = min(max((len(name) for name, _ in rows), default=0), 48)
    lines = [asked.topic.title, "=" * len(asked.topic.title), ""]
    lines += [f"{name.ljust(width)}  {text}" for name, text in rows]
    for finding in answer.findings:
        lines += [
            "",
            f"{finding.severity.upper()}: {finding.message}",
            f"  why:  {finding.rule.reason}",
            f"  do:   {finding.rule.remedy}",
        ]
    if answer.assumptions:
        lines += ["", "Assumed, because it was not given:", *(f"  {line}" for line in assumed(answer.assumptions, system))]
    if answer.unchecked:
        lines += ["", "Not checked:", *(f"  {line}" for line in not_checked(answer.unchecked))]
    if answer.cautions:
        lines += ["", "Cautions:", *(f"  {caution}" for caution in answer.cautions)]
    lines += ["", f"dataset {asked.dataset.version}, calculation {CALCULATION}, {asked.answer_id}", ""]
    return "\n".join(lines).encode()
