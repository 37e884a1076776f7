"""More than forty ways to break the dataset, each tried on a copy: start-up is refused with the cause, every time.

A fault that the sums would catch is tried twice: as it is, and with every sum made anew, so that the schema must find it.
"""

import csv
import errno
import io
import json
import os
import random
import shutil
import subprocess
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from service.errors import BrokenDataset
from service.quantities import convert
from service.reference import files, loader
from service.reference.dataset import Library
from service.reference.manifests import make_manifest
from service.reference.releases import pretty

DATA = Path(__file__).parents[2] / "data"
NEWEST = "2026.12"
Break = Callable[[Path], None]


@pytest.fixture
def copy(tmp_path: Path) -> Path:
    """A dataset that may be broken."""
    return Path(shutil.copytree(DATA, tmp_path / "data"))


@pytest.fixture
def newest_alone(copy: Path) -> Path:
    """A dataset of one version, for faults that only a full reading finds."""
    shutil.rmtree(copy / "2026.11")
    document = json.loads((copy / "releases.json").read_text("utf-8"))
    (copy / "releases.json").write_bytes(pretty(document[-1:]))
    return copy


def load(folder: Path, cited: set[str] | None = None) -> Library:
    return loader.load_library(folder, convert, cited)


def refused(folder: Path, *words: str, cited: set[str] | None = None) -> None:
    with pytest.raises(BrokenDataset) as fault:
        load(folder, cited)
    message = str(fault.value)
    for word in words:
        assert word in message, f"{word!r} is not in {message!r}"
    assert str(folder.parent) not in message
    assert "allowed: " in message


def sum_anew(folder: Path) -> None:
    """Make every sum fit again, as somebody would who tampers with care."""
    releases = json.loads((folder / "releases.json").read_text("utf-8"))
    for entry in releases:
        path = folder / entry["version"] / "manifest.json"
        if path.exists():
            old = json.loads(path.read_text("utf-8"))
            manifest = make_manifest(folder, entry["version"], old["released"], loader.read_bibliography(folder))
            path.write_bytes(pretty(manifest))
            entry["sha256"] = manifest["sha256"]
    (folder / "releases.json").write_bytes(pretty(releases))


def edit(folder: Path, file: str, change: Callable[[str], str]) -> None:
    path = folder / file
    before = path.read_text("utf-8")
    after = change(before)
    assert after != before
    path.write_bytes(after.encode())


def edit_row(folder: Path, table: str, line: int, **cells: str) -> None:
    """Change cells of one row of the newest version."""
    path = folder / NEWEST / f"{table}.csv"
    rows = list(csv.DictReader(io.StringIO(path.read_text("utf-8"))))
    rows[line - 2] |= cells
    write_rows(path, rows)


def write_rows(path: Path, rows: list[dict[str, str]]) -> None:
    out = io.StringIO()
    writer = csv.DictWriter(out, loader.FACT_COLUMNS, lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    path.write_bytes(out.getvalue().encode())


def line_of(table: str, id: str, name: str) -> int:
    rows = list(csv.DictReader(io.StringIO((DATA / NEWEST / f"{table}.csv").read_text("utf-8"))))
    return next(n for n, row in enumerate(rows, start=2) if (row["id"], row["property"]) == (id, name))


def edit_json(folder: Path, file: str, change: Callable[[Any], Any]) -> None:
    path = folder / file
    document = json.loads(path.read_text("utf-8"))
    path.write_bytes(pretty(change(document) or document))


def test_the_copy_itself_is_sound(copy: Path) -> None:
    assert load(copy).newest.sha256 == load(DATA).newest.sha256


# Files: missing, extra, and things that are no files.


def test_no_folder_at_all(tmp_path: Path) -> None:
    refused(tmp_path / "nowhere", "nowhere", "no such file")


def test_the_folder_is_a_file(tmp_path: Path) -> None:
    (tmp_path / "data").write_text("no folder")
    refused(tmp_path / "data", "data", "not a directory")


def test_the_folder_is_a_symbolic_link(tmp_path: Path, copy: Path) -> None:
    (tmp_path / "link").symlink_to(copy)
    with pytest.raises(BrokenDataset, match="symbolic link"):
        load(tmp_path / "link")


@pytest.mark.parametrize(
    "file", ["sources.json", "releases.json", f"{NEWEST}/manifest.json", f"{NEWEST}/threads.csv", "2026.11/oils.csv"]
)
def test_a_file_is_missing(copy: Path, file: str) -> None:
    (copy / file).unlink()
    refused(copy, file, "no such file")


def test_a_version_is_missing(copy: Path) -> None:
    shutil.rmtree(copy / "2026.11")
    refused(copy, "2026.11", "no such file")


@pytest.mark.parametrize(
    "file", ["notes.txt", f"{NEWEST}/notes.txt", f"{NEWEST}/threads.csv~", "2027.01", ".hidden", f"{NEWEST}/.swp"]
)
def test_an_extra_file(copy: Path, file: str) -> None:
    (copy / file).write_text("x")
    refused(copy, file, "an extra file")


def test_a_table_that_the_manifest_lists_but_the_schema_does_not(newest_alone: Path) -> None:
    (newest_alone / NEWEST / "cars.csv").write_text(",".join(loader.FACT_COLUMNS) + "\n")
    sum_anew(newest_alone)
    refused(newest_alone, "manifest.json", "cars.csv", "tables of the schema")


def test_the_newest_version_lacks_a_table(copy: Path) -> None:
    (copy / NEWEST / "gauges.csv").unlink()
    sum_anew(copy)
    refused(copy, f"{NEWEST}/gauges.csv", "no such file")


@pytest.mark.parametrize("file", [f"{NEWEST}/threads.csv", "sources.json", f"{NEWEST}/manifest.json", "releases.json"])
def test_a_file_is_a_symbolic_link(copy: Path, tmp_path: Path, file: str) -> None:
    """Even to the very same bytes: what it points to may change."""
    shutil.move(copy / file, tmp_path / "elsewhere")
    (copy / file).symlink_to(tmp_path / "elsewhere")
    refused(copy, file, "symbolic link")


def test_a_version_is_a_symbolic_link(copy: Path, tmp_path: Path) -> None:
    shutil.move(copy / NEWEST, tmp_path / "elsewhere")
    (copy / NEWEST).symlink_to(tmp_path / "elsewhere")
    refused(copy, NEWEST, "symbolic link")


def test_a_file_is_a_pipe_that_would_never_end(copy: Path) -> None:
    (copy / NEWEST / "oils.csv").unlink()
    os.mkfifo(copy / NEWEST / "oils.csv")
    refused(copy, f"{NEWEST}/oils.csv", "not a regular file")


def test_a_file_is_a_folder(copy: Path) -> None:
    (copy / NEWEST / "oils.csv").unlink()
    (copy / NEWEST / "oils.csv").mkdir()
    refused(copy, f"{NEWEST}/oils.csv", "not a regular file")


def test_a_file_is_far_too_large(copy: Path) -> None:
    with (copy / NEWEST / "oils.csv").open("ab") as file:
        file.truncate(files.LARGEST_FILE + 1)
    refused(copy, f"{NEWEST}/oils.csv", "bytes")


# Bytes: what only the sums can see, and what the reader sees without them.


@pytest.mark.parametrize("seed", range(30))
def test_a_flipped_bit_anywhere(copy: Path, seed: int) -> None:
    """Ten bits in ten files, one at a time: 300 flips, each of them found."""
    chance = random.Random(seed)  # noqa: S311 - faults, not secrets
    paths = sorted(path for path in copy.rglob("*") if path.is_file())
    found = 0
    for path in chance.sample(paths, 10):
        sound = path.read_bytes()
        broken = bytearray(sound)
        place = chance.randrange(len(broken))
        broken[place] ^= 1 << chance.randrange(8)
        path.write_bytes(broken)
        try:
            library = load(copy)
        except BrokenDataset:
            found += 1
        else:
            # Only what no version cites can change without a sum: then every fact is still the same.
            assert path.name == "sources.json"
            assert [held.sha256 for held in library.held.values()] == [held.sha256 for held in load(DATA).held.values()]
        path.write_bytes(sound)
    assert found >= 9


@pytest.mark.parametrize("share", [0.0, 0.3, 0.9, 0.999])
def test_a_truncated_file(copy: Path, share: float) -> None:
    path = copy / NEWEST / "threads.csv"
    content = path.read_bytes()
    path.write_bytes(content[: int(len(content) * share)])
    refused(copy, f"{NEWEST}/threads.csv", "sum")


@pytest.mark.parametrize("file", ["sources.json", "releases.json", f"{NEWEST}/manifest.json"])
def test_a_truncated_document(copy: Path, file: str) -> None:
    path = copy / file
    path.write_bytes(path.read_bytes()[:-40])
    refused(copy, file)


def test_a_truncated_table_with_fitting_sums(copy: Path) -> None:
    path = copy / NEWEST / "threads.csv"
    path.write_bytes(path.read_bytes()[:-25])
    with pytest.raises(BrokenDataset, match=r"threads\.csv"):
        sum_anew(copy)


BYTES: dict[str, tuple[Callable[[bytes], bytes], str]] = {
    "byte-order mark": (lambda content: b"\xef\xbb\xbf" + content, "U+FEFF"),
    "CRLF line ends": (lambda content: content.replace(b"\n", b"\r\n"), "U+000D"),
    "one lonely CR": (lambda content: content.replace(b"M5x0.8,form", b"M5x0.8\r,form"), "U+000D"),
    "a NUL": (lambda content: content.replace(b"iso-metric", b"iso\0metric", 1), "U+0000"),
    "a tab": (lambda content: content.replace(b"cover screws", b"cover\tscrews"), "U+0009"),
    "UTF-16": (lambda content: content.decode().encode("utf-16"), "UTF-8"),
    "Latin-1": (lambda content: content.replace(b"cover screws", b"caf\xe9"), "UTF-8"),
    "an overlong slash": (lambda content: content.replace(b"1/4-20 UNC", b"1\xc0\xaf4-20 UNC"), "UTF-8"),
    "a surrogate": (lambda content: content.replace(b"cover screws", b"\xed\xa0\x80"), "UTF-8"),
    "a line separator": (lambda content: content.replace(b"cover screws", "cover\u2028screws".encode()), "U+2028"),
    "no newline at the end": (lambda content: content[:-1], "newline at the end"),
}


@pytest.mark.parametrize("name", BYTES)
def test_bytes_that_are_no_plain_text(copy: Path, name: str) -> None:
    change, word = BYTES[name]
    path = copy / NEWEST / "threads.csv"
    path.write_bytes(change(path.read_bytes()))
    refused(copy, f"{NEWEST}/threads.csv", "sum")
    with pytest.raises(BrokenDataset, match=r"threads\.csv") as fault:
        sum_anew(copy)
    assert word in str(fault.value)


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
def test_a_row_that_the_schema_does_not_allow(newest_alone: Path, name: str) -> None:
    table, id, key, cells, words = ROWS[name]
    line = line_of(table, id, key)
    edit_row(newest_alone, table, line, **cells)
    refused(newest_alone, f"{NEWEST}/{table}.csv", "sum")
    if "source" in cells:
        with pytest.raises(BrokenDataset, match="source"):
            sum_anew(newest_alone)
        skip_the_making_of_the_manifest(newest_alone)
    else:
        sum_anew(newest_alone)
    found = line + 1 if name == "a band upside down" else line
    refused(newest_alone, f"{NEWEST}/{table}.csv, line {found}, column ", *words)


def skip_the_making_of_the_manifest(folder: Path) -> None:
    """Sums for a table whose source is not in the bibliography, which ``make_manifest`` would refuse."""
    path = folder / NEWEST / "manifest.json"
    manifest = json.loads(path.read_text("utf-8"))
    manifest["files"]["threads.csv"]["sha256"] = files.digest((folder / NEWEST / "threads.csv").read_bytes())
    manifest["sha256"] = files.digest(files.canonical({key: it for key, it in manifest.items() if key != "sha256"}))
    path.write_bytes(pretty(manifest))
    edit_json(folder, "releases.json", lambda listed: [*listed[:-1], {**listed[-1], "sha256": manifest["sha256"]}])


def test_the_same_fact_twice(newest_alone: Path) -> None:
    path = newest_alone / NEWEST / "threads.csv"
    lines = path.read_text("utf-8").splitlines(keepends=True)
    path.write_text("".join([*lines, lines[1]]), "utf-8")
    sum_anew(newest_alone)
    refused(newest_alone, f"{NEWEST}/threads.csv, line {len(lines) + 1}, column id", "one fact a source", "line 2")


def test_two_facts_in_force(newest_alone: Path) -> None:
    line = line_of("threads", "M8x1.25", "pitch")
    path = newest_alone / NEWEST / "threads.csv"
    rows = list(csv.DictReader(io.StringIO(path.read_text("utf-8"))))
    write_rows(path, [*rows, {**rows[line - 2], "source": "derived"}])
    sum_anew(newest_alone)
    refused(newest_alone, f"{NEWEST}/threads.csv, line {len(rows) + 2}, column preferred", f"line {line} is in force")


def test_a_required_property_is_missing(newest_alone: Path) -> None:
    line = line_of("threads", "M8x1.25", "stress_area")
    path = newest_alone / NEWEST / "threads.csv"
    rows = list(csv.DictReader(io.StringIO(path.read_text("utf-8"))))
    write_rows(path, [row for number, row in enumerate(rows, start=2) if number != line])
    sum_anew(newest_alone)
    refused(newest_alone, f"{NEWEST}/threads.csv, id M8x1.25", "the property stress_area too")


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
def test_a_table_that_is_no_table(copy: Path, name: str) -> None:
    edit(copy, f"{NEWEST}/threads.csv", SHAPES[name])
    refused(copy, f"{NEWEST}/threads.csv", "sum")
    name_of_table = f"{NEWEST}/threads.csv"
    with pytest.raises(BrokenDataset, match=r"threads\.csv"):
        files.csv_rows((copy / name_of_table).read_bytes(), name_of_table, loader.FACT_COLUMNS)


def test_a_cause_without_words(newest_alone: Path) -> None:
    edit(newest_alone, f"{NEWEST}/changes.csv", lambda text: text + "threads,*,*,*,  \n")
    sum_anew(newest_alone)
    refused(newest_alone, f"{NEWEST}/changes.csv", "column cause", "the reason")


# Sources, manifests and the list of versions.

SOURCES: dict[str, tuple[Callable[[Any], Any], tuple[str, ...]]] = {
    "an entry twice": (lambda it: [*it, it[0]], ("every id once",)),
    "a field too many": (lambda it: it[0].update(colour="red"), ("entry 1", "colour")),
    "no title": (lambda it: it[0].pop("title"), ("entry 1", "title")),
    "no terms of reuse": (lambda it: it[0]["custom"].pop("reuse"), ("entry 1", "reuse")),
    "nothing of how it was seen": (lambda it: it[0].pop("custom"), ("entry 1", "custom")),
    "an author in the wrong form": (lambda it: it[0].update(author=["me"]), ("entry 1", "author")),
    "a year in the wrong form": (lambda it: it[0].update(issued={"date-parts": [["soon"]]}), ("entry 1", "issued")),
    "no list": (lambda it: {"sources": it}, ("list",)),
    "an entry that is no object": (lambda it: [*it, "derived"], ("an object",)),
    "an id in capitals": (lambda it: it[0].update(id="ISO 1"), ("entry 1", "id")),
}


@pytest.mark.parametrize("name", SOURCES)
def test_a_bibliography_that_is_none(copy: Path, name: str) -> None:
    change, words = SOURCES[name]

    def apply(document: Any) -> Any:
        changed = change(document)
        return changed if isinstance(changed, list | dict) and "access" not in changed else document

    edit_json(copy, "sources.json", apply)
    refused(copy, "sources.json", *words)


def test_a_cited_source_is_gone(copy: Path) -> None:
    edit_json(copy, "sources.json", lambda it: [entry for entry in it if entry["id"] != "iso-898-1-2013"])
    refused(copy, "sources.json, id iso-898-1-2013", "no such entry")


def test_a_cited_source_was_rewritten(copy: Path) -> None:
    """A frozen version cites it as it was: edition and terms of reuse are part of the fact's standing."""
    edit(copy, "sources.json", lambda text: text.replace('"edition": "5"', '"edition": "6"'))
    refused(copy, "sources.json, id iso-898-1-2013", "sum")


def test_a_source_that_nothing_cites(copy: Path, library: Library) -> None:
    cited = {source.id for source in library.newest.sources}
    load(copy, cited)
    edit_json(copy, "sources.json", lambda it: [*it, {**it[0], "id": "orphan-1999"}])
    refused(copy, "sources.json", "orphan-1999", "cites", cited=cited)


MANIFEST: dict[str, tuple[Callable[[Any], Any], tuple[str, ...]]] = {
    "a wrong sum of a file": (lambda it: it["files"]["oils.csv"].update(sha256="0" * 64), ("sum of the manifest",)),
    "a wrong sum of the whole": (lambda it: it.update(sha256="0" * 64), ("field sha256", "0000")),
    "no sum at all": (lambda it: it.update(sha256=""), ("SHA-256",)),
    "another version": (lambda it: it.update(version="2026.11"), ("version", "2026.11")),
    "another format": (lambda it: it.update(format=2), ("version",)),
    "no day": (lambda it: it.update(released="soon"), ("released", "soon", "date")),
    "a field too many": (lambda it: it.update(comment="x"), ("comment",)),
    "a path out of the folder": (
        lambda it: it["files"].update({"../sources.json": {"sha256": "0" * 64}}),
        ("../sources.json",),
    ),
    "a file left out": (lambda it: it["files"].pop("oils.csv"), ("oils.csv", "extra file")),
    "files in a list": (lambda it: it.update(files=[]), ("objects",)),
}


@pytest.mark.parametrize("name", MANIFEST)
def test_a_manifest_that_lies(copy: Path, name: str) -> None:
    change, words = MANIFEST[name]

    def apply(document: Any) -> Any:
        change(document)
        return document

    edit_json(copy, f"{NEWEST}/manifest.json", apply)
    refused(copy, NEWEST, *words)


def test_a_manifest_made_anew_is_not_the_one_that_was_released(newest_alone: Path) -> None:
    """The list of versions pins the one sum: a changed row with a fitting manifest is still found."""
    listed = (newest_alone / "releases.json").read_bytes()
    edit(newest_alone, f"{NEWEST}/threads.csv", lambda text: text.replace("36.6,mm2", "36.7,mm2"))
    sum_anew(newest_alone)
    assert load(newest_alone).newest.entity("threads", "M8x1.25").text("stress_area") == "36.7"
    (newest_alone / "releases.json").write_bytes(listed)
    refused(newest_alone, f"{NEWEST}/manifest.json", "as releases.json lists it")


RELEASES: dict[str, tuple[Callable[[Any], Any], tuple[str, ...]]] = {
    "no version": (lambda it: it[:0], ("no current version",)),
    "out of order": (lambda it: it[::-1], ("oldest first",)),
    "a version twice": (lambda it: [it[0], it[0], *it[1:]], ("every version once",)),
    "a version with a path": (lambda it: [{**it[0], "version": "../2026.11"}, *it[1:]], ("calendar version",)),
    "an unknown status": (lambda it: [{**it[0], "status": "secret"}, *it[1:]], ("current or withdrawn",)),
    "withdrawn without a reason": (lambda it: [{**it[0], "status": "withdrawn"}, *it[1:]], ("a reason and a successor",)),
    "withdrawn for nobody": (
        lambda it: [{**it[0], "status": "withdrawn", "reason": "x", "successor": "2030.01"}, *it[1:]],
        ("successor", "2030.01"),
    ),
    "a field missing": (lambda it: [{"version": "2026.11"}, *it[1:]], ("fields",)),
    "no list": (lambda it: {"versions": it}, ("list",)),
    "a number for a text": (lambda it: [{**it[0], "reason": 1}, *it[1:]], ("texts",)),
}


@pytest.mark.parametrize("name", RELEASES)
def test_a_list_of_versions_that_is_none(copy: Path, name: str) -> None:
    change, words = RELEASES[name]
    document = json.loads((copy / "releases.json").read_text("utf-8"))
    (copy / "releases.json").write_bytes(pretty(change(document)))
    refused(copy, "releases.json", *words)


@pytest.mark.parametrize(
    "content", [b'[{"a":1,"a":2}]\n', b"[NaN]\n", b"[1e999, Infinity]\n", b"{\n", b"[" * 100_000 + b"\n", b'"\\ud800\n', b"\n"]
)
def test_documents_that_are_no_json(copy: Path, content: bytes) -> None:
    (copy / "releases.json").write_bytes(content)
    refused(copy, "releases.json")


# The machine: what may be denied without harm, and what may not.


@pytest.fixture
def nothing_can_be_written(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """A read-only disk without a folder for temporary files: whoever opens a file to write gets EROFS."""
    real = os.open

    def open_read_only(path: Any, flags: int, *rest: Any, **names: Any) -> int:
        if flags & (os.O_WRONLY | os.O_RDWR | os.O_CREAT | os.O_TRUNC | os.O_APPEND):
            raise OSError(errno.EROFS, "Read-only file system", path)
        return real(path, flags, *rest, **names)

    monkeypatch.setattr(os, "open", open_read_only)
    monkeypatch.setattr(Path, "write_bytes", lambda *_: (_ for _ in ()).throw(OSError(errno.EROFS, "Read-only file system")))
    monkeypatch.setenv("TMPDIR", str(tmp_path / "no" / "such"))
    monkeypatch.setattr("tempfile.tempdir", None)


@pytest.mark.usefixtures("nothing_can_be_written")
def test_a_read_only_disk_without_a_temporary_folder_is_enough() -> None:
    assert load(DATA).newest.entity("threads", "M8x1.25").text("stress_area") == "36.6"


def test_a_start_in_a_process_without_temporary_folder_or_home(tmp_path: Path) -> None:
    code = (
        "from pathlib import Path; from service.quantities import convert; from service.reference.loader import load_library;"
        f"print(load_library(Path({str(DATA)!r}), convert).newest.version)"
    )
    nowhere = str(tmp_path / "nowhere")
    environment = {"TMPDIR": nowhere, "SQLITE_TMPDIR": nowhere, "HOME": nowhere, "PYTHONDONTWRITEBYTECODE": "1"}
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=DATA.parent, env=environment, capture_output=True, text=True, check=False, timeout=60
    )
    assert (done.returncode, done.stdout, done.stderr) == (0, f"{NEWEST}\n", "")


@pytest.mark.parametrize("code", [errno.EACCES, errno.EIO, errno.EMFILE])
def test_a_file_that_cannot_be_opened(monkeypatch: pytest.MonkeyPatch, code: int) -> None:
    real = os.open

    def denied(path: Any, flags: int, *rest: Any, **names: Any) -> int:
        if str(path).endswith("oils.csv"):
            raise OSError(code, os.strerror(code), path)
        return real(path, flags, *rest, **names)

    monkeypatch.setattr(os, "open", denied)
    refused(DATA, "2026.11/oils.csv", os.strerror(code).lower())


def test_the_database_refuses_what_the_checks_would_let_through(monkeypatch: pytest.MonkeyPatch) -> None:
    """The second net: without the checks in Python, keys and foreign keys of SQLite still find a stray reference."""
    monkeypatch.setattr("service.reference.integrity.check_facts", lambda *_: None)
    real = loader._facts

    def astray(*given: Any) -> Any:
        facts = real(*given)
        if given[1] == "fasteners":
            nut = next(fact for fact in facts if fact.property == "thread" and fact.id == "harrow-r17/rod-nut")
            return [replace(fact, value="M9x7") if fact is nut else fact for fact in facts]
        return facts

    monkeypatch.setattr(loader, "_facts", astray)
    with pytest.raises(BrokenDataset, match="database refuses"):
        load(DATA)
