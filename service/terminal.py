"""What the command shows in a terminal: the tables of a build sheet, and lines in words.

Texts of the caller are shown as they stand: here nothing in brackets or between colons is a style or a picture.
"""

import re
from typing import Any, Final

from rich.console import Console
from rich.table import Table
from rich.text import Text

from service.faces.labels import label

console = Console(markup=False, emoji=False, highlight=False)

# Control characters, and the marks that turn the direction of writing; a terminal would obey them.
_OBEYED: Final = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u200e\u200f\u202a-\u202e\u2066-\u2069]")


def tell(words: str, about: str = "") -> None:
    """Say what is wrong, after the place or thing that it is about."""
    line = Text()
    if about:
        line.append(f"{_OBEYED.sub('�', about)} ", style="bold red")
    line.append(_OBEYED.sub("�", words), style="" if about else "bold red")
    console.print(line)


def show_sheet(answer: dict[str, Any]) -> None:
    """Print a sheet's JSON as tables that read well in a terminal: stage by stage, and last what stays in sight."""
    result = answer["result"]
    name = result["identity"].get("name", "Build sheet")
    with_lines = {line["section"] for line in result["work"]}
    for stage in result["stages"]:
        title = f"{name} — {stage['title']}"
        # Topics that are asked many times all have lines of work; the others stand in the result under their path.
        once = [path for path in stage["sections"] if path in result["sections"]]
        figures = [path for path in once if path not in with_lines or path == "compression"]
        if figures:
            table = Table(title=title, title_justify="left", show_header=False)
            table.add_column()
            table.add_column(overflow="fold")
            for path in figures:
                table.add_section()
                table.add_row(Text(label(path), style="bold"), "")
                for figure, text in _lines(result["sections"][path]):
                    table.add_row(f"  {figure}", text)
            console.print(table)
        lines = [line for line in result["work"] if line["stage"] == stage["stage"]]
        if lines:
            table = Table("what to do", "figure", "", "with", title=title, title_justify="left")
            for line in lines:
                table.add_row(line["task"], line["value"]["text"] if "value" in line else "", line["words"], line["tool"])
            console.print(table)
    findings = Table("", "what", "what to do", title=f"{name} — Findings", title_justify="left")
    colours = {"stop": "bold red", "fix": "yellow", "caution": "magenta", "note": "blue", "ask": "cyan"}
    for finding in answer["findings"]:
        severity = Text(finding["severity"], style=colours[finding["severity"]])
        findings.add_row(severity, finding["message"], finding["remedy"])
    console.print(findings)
    if result["missing"]:
        missing = Table("missing input", "would unlock", title="Missing", title_justify="left")
        for entry in result["missing"]:
            missing.add_row(label(entry["input"]), ", ".join(entry["unlocks"]))
        console.print(missing)


def _lines(section: dict[str, Any], prefix: str = "", room: int = 14) -> list[tuple[str, str]]:
    """The figures of a section, those of its first levels; long tables are left to the other faces."""
    lines: list[tuple[str, str]] = []
    for name, value in section.items():
        place = f"{prefix}{name}"
        if isinstance(value, dict) and "text" in value and "unit" in value:
            lines.append((label(place), value["text"]))
        elif isinstance(value, dict) and not prefix:
            lines.extend(_lines(value, f"{place}."))
        elif isinstance(value, str | int | float) and not isinstance(value, bool):
            lines.append((label(place), f"{value:.4g}" if isinstance(value, float) else str(value)))
    return lines[:room]
