"""The build sheet as plain text for a terminal of 80 columns."""

from collections.abc import Iterable, Iterator
from textwrap import wrap

from service.answers.asking import Asked
from service.answers.envelope import CALCULATION
from service.faces.build_sheet_figures import Table, break_in_stages, figures_of, stop_rules
from service.faces.build_sheet_gaps import Basis, Gap, assumptions, fields_in_words, missing, unchecked
from service.faces.build_sheet_view import Section, Stage, TorqueLine, Tree, View, view_of
from service.faces.labels import label
from service.quantities import UnitSystem

WIDTH = 80
NAME = 30


def write(asked: Asked, system: UnitSystem) -> bytes:
    """The sheet as text in UTF-8."""
    view = view_of(asked, system)
    return ("\n".join(_lines(view)) + "\n").encode()


def _lines(view: View) -> Iterator[str]:
    asked, basis = view.asked, Basis(view.asked)
    yield from wrap(" ".join(view.title.split()), WIDTH)
    yield "=" * min(len(view.title), WIDTH)
    yield from wrap(view.engine, WIDTH)
    yield from _findings(view, basis)
    for stage in view.stages:
        yield from _stage(view, stage, basis)
    yield from _given(view)
    yield from _listed("MISSING, AND WHAT IT WOULD UNLOCK", (f"{unlocks}: {inputs}" for unlocks, inputs in missing(view)))
    for title, gaps in unchecked(view).items():
        yield from _listed(f"NOT CHECKED: {title}", (_gap(gap) for gap in gaps))
    for title, gaps in assumptions(view, basis).items():
        yield from _listed(f"ASSUMED, BECAUSE IT WAS NOT GIVEN: {title}", (_gap(gap) for gap in gaps))
    yield from _listed(
        "SOURCES", (f"[{c.number}] {c.title or c.id} ({c.id}; {', '.join(c.evidence)})" for c in basis.citations.values())
    )
    yield ""
    yield f"dataset {asked.dataset.version}, calculation {CALCULATION}"
    yield asked.answer_id
    yield from wrap("The maker's manual, local codes and licensed practice come first.", WIDTH)


def pair(name: str, text: str, indent: str = "") -> list[str]:
    """A name and its text side by side; a long text goes on below itself."""
    start = f"{indent}{name}".ljust(NAME) + "  "
    return wrap(" ".join(text.split()), WIDTH, initial_indent=start, subsequent_indent=" " * (NAME + 2)) or [start.rstrip()]


def item(text: str, mark: str = "- ") -> list[str]:
    """A text behind a mark, going on below itself."""
    return wrap(" ".join(text.split()), WIDTH, initial_indent=mark, subsequent_indent=" " * len(mark)) or [mark.rstrip()]


def _listed(title: str, texts: Iterable[str]) -> Iterator[str]:
    """A title and its items, or nothing."""
    lines = [line for text in texts for line in item(text)]
    if lines:
        yield from ("", title, *lines)


def _gap(gap: Gap) -> str:
    return f"{gap.what}: needs {gap.needs}. {gap.rest}" if gap.needs else f"{gap.what}: {gap.rest}"


def _given(view: View) -> Iterator[str]:
    """Whose engine it is and what was told of it."""
    yield from ("", "THE ENGINE AS GIVEN")
    for name, text in view.result["identity"].items():
        yield from pair(label(name), text)
    for name, text in view.given:
        yield from pair(name, text)
    for part in view.asked.inputs.get("parts", []):
        yield from item("; ".join(part.values()))


def _findings(view: View, basis: Basis) -> Iterator[str]:
    answer = view.asked.answer
    yield from ("", view.verdict.upper(), "")
    yield "FINDINGS"
    if answer.unchecked:
        yield from item(f"{len(answer.unchecked)} checks were not made, because an input is missing; none of them is a pass.")
    if not answer.findings:
        yield from item("No rule was broken among those checked.")
    for finding in answer.findings:
        rule = finding.rule
        yield from item(f"{finding.severity.upper()}: {finding.message}", "* ")
        yield from item(f"why: {rule.reason}", "    ")
        yield from item(f"do:  {rule.remedy}", "    ")
        about = f"{fields_in_words(finding.fields)}; {rule.code}, {rule.source} [{basis.number(rule.source)}]"
        yield from item(about, "    ")


def _stage(view: View, stage: Stage, basis: Basis) -> Iterator[str]:
    title = f"{stage.number} {stage.title.upper()}"
    yield from ("", title, "-" * len(title))
    for caution in stage.cautions:
        yield from item(caution, "! ")
    for section in stage.sections:
        if rules := stop_rules(section):
            yield from _table(rules)
    for index, line in enumerate(stage.work, 1):
        yield from _work(f"{stage.number}.{index}", line, basis)
    if stage.name == "closing-up":
        yield from _torque_list(view.torques)
    if plan := view.sections.get("break_in_schedule"):
        for title, texts in break_in_stages(plan, stage.name):
            yield from ("", f"{title}:")
            for text in texts:
                yield from item(text, "[ ] ")
    for section in stage.sections:
        yield from _section(section, basis)


def _work(number: str, line: Tree, basis: Basis) -> Iterator[str]:
    """A line of work: what to do, then the figure, with room to write beside it."""
    yield from item(line["task"], f"[ ] {number.ljust(5)} ")
    value = line["value"]["text"] if "value" in line else ""
    cited = basis.of_topic.get(line["section"], "")
    about = [value, line["words"], f"with {line['tool']}" if line["tool"] else "", f"[{cited}]" if cited else ""]
    shown = "; ".join(text for text in about if text)
    yield from wrap(f"{shown}  measured ________ by ____".strip(), WIDTH, initial_indent=" " * 10, subsequent_indent=" " * 10)


def _torque_list(lines: list[TorqueLine]) -> Iterator[str]:
    if not lines:
        return
    yield from ("", "Torque list")
    for line in lines:
        words = ", ".join(text for text in (line.thread, line.property_class, line.condition) if text)
        yield from pair(line.fastener, words)
        for number, one in enumerate(line.passes, 1):
            yield from pair(f"pass {number}" if len(line.passes) > 1 else "torque", one["text"], "  ")
        if line.setting["value"] != line.passes[-1]["value"]:
            yield from pair("set the wrench to", line.setting["text"], "  ")
        if line.order:
            yield from pair("order", line.order, "  ")
        if line.preload:
            yield from pair("preload", f"{line.preload['low']['text']} to {line.preload['high']['text']}", "  ")
        for text in line.advice:
            yield from item(text, "    ")


def _section(section: Section, basis: Basis) -> Iterator[str]:
    figures = figures_of(section)
    if not (figures.pairs or figures.tables or figures.lists):
        return
    yield from ("", section.title)
    for name, text in figures.pairs:
        yield from pair(name, text, "  ")
    for table in figures.tables:
        yield from _table(table)
    for name, texts in figures.lists:
        yield f"  {name}:"
        for text in texts:
            yield from item(text, "  - ")
    if cited := basis.of_topic.get(section.topic):
        yield f"  sources [{cited}]"


def _table(table: Table) -> Iterator[str]:
    """A table in columns where it fits, else each row as one item."""
    widths = [max(map(len, column)) for column in zip(table.heads, *table.rows, strict=True)]
    yield f"  {table.title}:"
    if sum(widths) + 2 * len(widths) + 2 > WIDTH:
        for row in table.rows:
            yield from item("; ".join(f"{head} {text}" for head, text in zip(table.heads, row, strict=True) if text), "  - ")
        return
    for row in (table.heads, *table.rows):
        yield ("  " + "  ".join(text.ljust(width) for text, width in zip(row, widths, strict=True))).rstrip()
