"""One stage of the build sheet as HTML: cautions, the order of work with boxes to tick and blanks, figures, drawings."""

from collections.abc import Iterable, Sequence

from service.faces.build_sheet_drawings import drawings
from service.faces.build_sheet_figures import Table, break_in_stages, figures_of, stop_rules
from service.faces.build_sheet_gaps import Basis, methods_of, ranges
from service.faces.build_sheet_view import Section, Stage, TorqueLine, Tree, View
from service.faces.page import safe, safe_all, safe_name

LONGEST_TEXT = 34  # characters; a longer one takes a whole line
NARROWEST_PHONE = 40  # characters; a table of no more stays a table on a phone
SHORT = 12  # characters; a column of no more is never broken
WIDE, NEVER_BROKEN = " class='w'", " class='nb'"
WORK_HEADS = ("done", "task", "value", "tool, basis", "measured", "by")
TORQUE_HEADS = ("fastener", "torque, pass by pass", "order", "preload", "how")


def stage_html(view: View, stage: Stage, basis: Basis) -> str:
    """A stage with everything that belongs to it."""
    parts = [
        f"<section class='stage' id='{stage.name}'><h2><span>{stage.number}</span> {safe(stage.title)}</h2>",
        _cautions(stage.cautions),
        *(_figure_table(table) for section in stage.sections if (table := stop_rules(section))),
        _work(stage, basis),
    ]
    if stage.name == "closing-up" and view.torques:
        parts.append(_torque_list(view.torques))
    schedule = view.sections.get("break_in_schedule")
    plan = _plan(schedule, stage.name) if schedule else ""
    drawn = drawings(stage.sections, view.system, view.asked.answer_id)
    parts.append(f"<div class='beside'><div>{plan}</div>{drawn}</div>" if plan and drawn else plan + drawn)
    parts += [_section(section, basis) for section in stage.sections]
    parts.append("</section>")
    return "".join(parts)


def table_html(caption: str, heads: Iterable[str], rows: Iterable[str], kind: str = "") -> str:
    """A table whose rows are markup already; on a phone each row becomes a card, unless the kind is ``narrow``."""
    head = "".join(f"<th scope='col'>{safe_name(text)}</th>" for text in heads)
    title = f"<caption>{safe(caption[:1].upper() + caption[1:])}</caption>" if caption else ""
    body = "".join(rows)
    classes = kind if kind == "narrow" else f"cards {kind}".strip()
    return f"<table class='{classes}'>{title}<thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>"


def cell(label: str, text: str) -> str:
    """A cell of plain text, with its heading for a phone."""
    return f"<td data-l='{safe_name(label)}'>{safe(text)}</td>" if text else "<td></td>"


def pairs_html(pairs: Sequence[tuple[str, str]]) -> str:
    """Names and texts as a compact list."""
    texts = safe_all([text for _, text in pairs])
    rows = [
        f"<div{WIDE if len(text) > LONGEST_TEXT else ''}><dt>{safe_name(name)}</dt><dd>{text}</dd></div>"
        for (name, _), text in zip(pairs, texts, strict=True)
    ]
    return f"<dl class='figs'>{''.join(rows)}</dl>" if rows else ""


def list_html(title: str, texts: Sequence[str]) -> str:
    """A short list of sentences under its heading."""
    items = "".join([f"<li>{text}</li>" for text in safe_all(texts)])
    return f"<h4>{safe(title[:1].upper() + title[1:])}</h4><ul class='plain'>{items}</ul>"


def _cautions(cautions: list[str]) -> str:
    if not cautions:
        return ""
    items = "".join([f"<li>{text}</li>" for text in safe_all(cautions)])
    return f"<aside class='cautions' aria-label='Cautions'><h3>Cautions</h3><ul>{items}</ul></aside>"


def _work(stage: Stage, basis: Basis) -> str:
    if not stage.work:
        return ""
    rows = [_line(f"{stage.number}.{index}", line, basis) for index, line in enumerate(stage.work, 1)]
    return table_html("Order of work", WORK_HEADS, rows, "work")


def _line(number: str, line: Tree, basis: Basis) -> str:
    """A line of work with its box to tick, its figure, and blanks for what was measured and by whom."""
    figure = line.get("value")  # what is not known has no name in a written answer
    task, value, words, tool = safe_all((line["task"], figure["text"] if figure else "", line["words"], line["tool"]))
    if words:
        words = f" <span class='words'>{'' if figure else '· '}{words}</span>"
    if figure:
        what = f"<td class='task'>{task}</td><td class='value'><strong>{value}</strong>{words}</td>"
    else:
        what = f"<td class='task' colspan='2'>{task}{words}</td>"
    cited = basis.of_topic.get(line["section"], "")
    basis_of_line = f" <span class='nb'>[{cited}]</span>" if cited else ""
    by_what = f"<td class='small' data-l='tool, basis'>{tool}{basis_of_line}</td>" if tool or cited else "<td></td>"
    return (
        f"<tr><td class='tick'><label><input type='checkbox'>{number}</label></td>{what}{by_what}"
        f"<td data-l='measured'><input type='text' aria-label='measured {number}'></td>"
        f"<td data-l='by'><input type='text' aria-label='by {number}'></td></tr>"
    )


def _torque_list(torques: list[TorqueLine]) -> str:
    rows = []
    for line in torques:
        about = " · ".join(text for text in (f"{line.thread} {line.property_class}".strip(), line.condition) if text)
        rows.append(
            f"<tr><th scope='row'>{safe(line.fastener)} <span class='small'>{safe(about)}</span></th>"
            f"<td data-l='{TORQUE_HEADS[1]}'>{_passes(line)}</td>"
            f"{cell(TORQUE_HEADS[2], line.order)}{cell(TORQUE_HEADS[3], preload_text(line))}"
            f"{cell(TORQUE_HEADS[4], '; '.join(line.advice))}</tr>"
        )
    return table_html("Torque list", TORQUE_HEADS, rows, "torques")


def preload_text(line: TorqueLine) -> str:
    """The band of preload, or an empty text."""
    return f"{line.preload['low']['text']} to {line.preload['high']['text']}" if line.preload else ""


def _passes(line: TorqueLine) -> str:
    """The passes, one below the other, those of one torque together; the wrench's setting where an adapter changes it."""
    turns: dict[str, list[int]] = {}
    for number, one in enumerate(line.passes, 1):
        turns.setdefault(one["text"], []).append(number)
    shown = [f"<strong>{safe(text)}</strong>" for text in turns]
    if len(line.passes) > 1:
        shown = [f"{ranges(numbers)}: {text}" for numbers, text in zip(turns.values(), shown, strict=True)]
    if line.setting["value"] != line.passes[-1]["value"]:
        shown.append(f"set the wrench to <strong>{safe(line.setting['text'])}</strong>")
    return "<span>" + "<br>".join(f"<span class='pass'>{text}</span>" for text in shown) + "</span>"


def _plan(plan: Section, stage: str) -> str:
    """The steps and set points of a break-in, each with a box to tick."""
    return "".join(
        f"<h3>{safe(title)}</h3><ul class='ticks{' short' if title.endswith('set points') else ''}'>"
        + "".join([f"<li><label><input type='checkbox'>{text}</label></li>" for text in safe_all(texts)])
        + "</ul>"
        for title, texts in break_in_stages(plan, stage)
    )


def _section(section: Section, basis: Basis) -> str:
    """The figures of a section with the methods and sources that they rest on."""
    figures = figures_of(section)
    if not (figures.pairs or figures.tables or figures.lists):
        return ""
    cited = basis.of_topic[section.topic]
    methods = methods_of(section.asked)
    by = f"By {methods}. " if methods else ""
    return "".join(
        [
            f"<section><h3>{safe(section.title)}</h3>",
            pairs_html(figures.pairs),
            *(_figure_table(table) for table in figures.tables),
            *(list_html(title, texts) for title, texts in figures.lists),
            f"<p class='small by'>{safe(by)}Sources [{cited}].</p></section>" if cited else "</section>",
        ]
    )


def _figure_table(table: Table) -> str:
    widths = [max(map(len, column)) for column in zip(table.heads, *table.rows, strict=True)]
    if sum(widths) <= NARROWEST_PHONE:
        rows = [f"<tr>{''.join([f'<td>{text}</td>' for text in safe_all(row)])}</tr>" for row in table.rows]
        return table_html(table.title, table.heads, rows, "narrow")
    starts = [
        f"<td{NEVER_BROKEN if width <= SHORT else ''} data-l='{safe_name(head)}'>"
        for head, width in zip(table.heads, widths, strict=True)
    ]
    return table_html(table.title, table.heads, [_row(starts, row) for row in table.rows])


def _row(starts: list[str], texts: list[str]) -> str:
    cells = [f"{start}{text}</td>" if text else "<td></td>" for start, text in zip(starts, safe_all(texts), strict=True)]
    return f"<tr>{''.join(cells)}</tr>"
