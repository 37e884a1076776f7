"""Rows that the schema does not allow, each with sums that fit: start-up is refused and names file, line and column."""

from collections.abc import Callable

import pytest

from service.errors import BrokenDataset
from service.reference import files, loader
from tests.reference.copies import NEWEST, Copy

# Rows: each of them with sums that fit, so that the schema must find the fault and name its place.

ROWS: dict[str, tuple[str, str, str, dict[str, str], tuple[str, ...]]] = {
    "not a number": ("threads", "M8x1.25", "pitch", {"value": "NaN"}, ("value", "NaN", "decimal")),
    "infinity": ("threads", "M8x1.25", "pitch", {"value": "inf"}, ("value", "inf")),
    "an exponent": ("threads", "M8x1.25", "pitch", {"value": "1e999"}, ("value", "1e999")),
    "a digit separator": ("threads", "M8x1.25", "pitch", {"value": "1_25"}, ("value", "1_25")),
    "a decimal comma": ("threads", "M8x1.25", "pitch", {"value": "1,25"}, ("value", "1,25")),
    "another script's digits": ("threads", "M8x1.25", "pitch", {"value": "١.٢"}, ("value", "decimal")),
    "an empty value": ("threads", "M8x1.25", "pitch", {"value": ""}, ("value",)),
    "a blank at the end": ("threads", "M8x1.25", "use", {"value": "studs "}, ("value", "studs ")),
    "division by nothing": ("threads", "1/4-20 UNC", "diameter", {"value": "1/0"}, ("value", "1/0")),
    "a spreadsheet's formula": ("threads", "M8x1.25", "use", {"value": "=HYPERLINK(1)"}, ("value", "=HYPERLINK(1)")),
    "an unknown unit": ("threads", "M8x1.25", "pitch", {"unit": "furlong"}, ("unit", "furlong", "mm, in")),
    "a unit of another dimension": ("threads", "M8x1.25", "pitch", {"unit": "N*m"}, ("unit", "N*m", "mm, in")),
    "a unit where none belongs": ("conditions", "dry", "friction", {"unit": "mm"}, ("unit", "mm", "empty")),
    "no unit where one belongs": ("threads", "M8x1.25", "pitch", {"unit": ""}, ("unit", "mm, in")),
    "an inch read as a millimetre": ("threads", "M8x1.25", "diameter", {"unit": "in"}, ("value", "8 in", "0.001 to 0.05")),
    "a lost decimal point": ("threads", "M8x1.25", "stress_area", {"value": "3660"}, ("value", "3660 mm2")),
    "a whole number that is none": ("engines", "harrow-r17", "cylinders", {"value": "4.0"}, ("value", "4.0", "whole number")),
    "a word that is no choice": ("engines", "harrow-r17", "layout", {"value": "flat-for"}, ("value", "flat-for", "flat-four")),
    "an unknown property": ("threads", "M8x1.25", "use", {"property": "colour"}, ("property", "colour", "stress_area")),
    "a property in capitals": ("threads", "M8x1.25", "use", {"property": "Use"}, ("property", "Use")),
    "an id with a path in it": ("threads", "M8x1.25", "use", {"id": "../M8x1.25"}, ("id", "../M8x1.25")),
    "an id of another family": (
        "fits",
        "harrow-r17/rod-clearance",
        "low",
        {"id": "nobody/rod-clearance"},
        ("id", "nobody", "engines.csv"),
    ),
    "a reference that leads nowhere": (
        "fasteners",
        "harrow-r17/rod-nut",
        "thread",
        {"value": "M9x7"},
        ("value", "M9x7", "threads.csv"),
    ),
    "an unknown source": ("threads", "M8x1.25", "pitch", {"source": "hearsay"}, ("source", "hearsay", "sources.json")),
    "no source": ("threads", "M8x1.25", "pitch", {"source": ""}, ("source",)),
    "no place in the source": ("threads", "M8x1.25", "pitch", {"locator": ""}, ("locator",)),
    "an unknown grade of evidence": (
        "threads",
        "M8x1.25",
        "pitch",
        {"evidence": "certain"},
        ("evidence", "certain", "standard"),
    ),
    "an unknown preference": ("threads", "M8x1.25", "pitch", {"preferred": "maybe"}, ("preferred", "maybe", "yes")),
    "nothing in force": ("threads", "M8x1.25", "pitch", {"preferred": "no", "note": "because"}, ("preferred", "no")),
    "no reason given": ("threads", "M8x1.25", "pitch", {"preferred": "no"}, ("note", "the reason")),
    "a band upside down": ("engines", "harrow-r17", "idle_low", {"value": "990"}, ("value", "at least idle_low, 990 rpm")),
}


@pytest.mark.parametrize("name", ROWS)
def test_a_row_that_the_schema_does_not_allow(newest_alone: Copy, name: str) -> None:
    table, id, key, cells, words = ROWS[name]
    line = newest_alone.line_of(table, id, key)
    newest_alone.edit_row(table, line, **cells)
    newest_alone.refused(f"{NEWEST}/{table}.csv", "sum")
    if "source" in cells:
        with pytest.raises(BrokenDataset, match="source"):
            newest_alone.sum_anew()
        newest_alone.sum_one_table("threads")
    else:
        newest_alone.sum_anew()
    found = line + 1 if name == "a band upside down" else line
    newest_alone.refused(f"{NEWEST}/{table}.csv, line {found}, column ", *words)


def test_the_same_fact_twice(newest_alone: Copy) -> None:
    path = newest_alone.folder / NEWEST / "threads.csv"
    lines = path.read_text("utf-8").splitlines(keepends=True)
    path.write_text("".join([*lines, lines[1]]), "utf-8")
    newest_alone.sum_anew()
    newest_alone.refused(f"{NEWEST}/threads.csv, line {len(lines) + 1}, column id", "one fact a source", "line 2")


def test_two_facts_in_force(newest_alone: Copy) -> None:
    line = newest_alone.line_of("threads", "M8x1.25", "pitch")
    rows = newest_alone.rows("threads")
    newest_alone.write_rows("threads", [*rows, {**rows[line - 2], "source": "derived"}])
    newest_alone.sum_anew()
    newest_alone.refused(f"{NEWEST}/threads.csv, line {len(rows) + 2}, column preferred", f"line {line} is in force")


def test_a_required_property_is_missing(newest_alone: Copy) -> None:
    line = newest_alone.line_of("threads", "M8x1.25", "stress_area")
    rows = newest_alone.rows("threads")
    newest_alone.write_rows("threads", [row for number, row in enumerate(rows, start=2) if number != line])
    newest_alone.sum_anew()
    newest_alone.refused(f"{NEWEST}/threads.csv, id M8x1.25", "the property stress_area too")


SHAPES: dict[str, Callable[[str], str]] = {
    "a column too few": lambda text: text.replace("M5x0.8,form,iso-metric,,", "M5x0.8,form,iso-metric,"),
    "a column too many": lambda text: text.replace("M5x0.8,form,iso-metric,,", "M5x0.8,form,iso-metric,,,"),
    "an open quote": lambda text: text.replace("M5x0.8,form,iso-metric,,", 'M5x0.8,form,"iso-metric,,'),
    "a quote in the middle": lambda text: text.replace("M5x0.8,form,iso-metric,,", 'M5x0.8,form,"iso"-metric,,'),
    "an empty line": lambda text: text.replace("\nM5x0.8,form", "\n\nM5x0.8,form"),
    "another heading": lambda text: text.replace("id,property,value", "id,value,property"),
    "semicolons": lambda text: text.replace(",", ";"),
    "nothing": lambda text: text[:0],
}


@pytest.mark.parametrize("name", SHAPES)
def test_a_table_that_is_no_table(copy: Copy, name: str) -> None:
    copy.edit(f"{NEWEST}/threads.csv", SHAPES[name])
    copy.refused(f"{NEWEST}/threads.csv", "sum")
    name_of_table = f"{NEWEST}/threads.csv"
    with pytest.raises(BrokenDataset, match=r"threads\.csv"):
        files.csv_rows((copy.folder / name_of_table).read_bytes(), name_of_table, loader.FACT_COLUMNS)


def test_a_cause_without_words(newest_alone: Copy) -> None:
    newest_alone.edit(f"{NEWEST}/changes.csv", lambda text: text + "threads,*,*,*,  \n")
    newest_alone.sum_anew()
    newest_alone.refused(f"{NEWEST}/changes.csv", "column cause", "the reason")
