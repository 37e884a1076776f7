"""Bibliographies, manifests and lists of versions that are not what they should be: start-up is refused with the cause."""

import json
from collections.abc import Callable
from typing import Any

import pytest

from service.reference.dataset import Library
from service.reference.releases import pretty
from tests.reference.copies import NEWEST, Copy

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
def test_a_bibliography_that_is_none(copy: Copy, name: str) -> None:
    change, words = SOURCES[name]

    def apply(document: Any) -> Any:
        changed = change(document)
        return changed if isinstance(changed, list | dict) and "access" not in changed else document

    copy.edit_json("sources.json", apply)
    copy.refused("sources.json", *words)


def test_a_cited_source_is_gone(copy: Copy) -> None:
    copy.edit_json("sources.json", lambda it: [entry for entry in it if entry["id"] != "iso-898-1-2013"])
    copy.refused("sources.json, id iso-898-1-2013", "no such entry")


def test_a_cited_source_was_rewritten(copy: Copy) -> None:
    """A frozen version cites it as it was: edition and terms of reuse are part of the fact's standing."""
    copy.edit("sources.json", lambda text: text.replace('"edition": "5"', '"edition": "6"'))
    copy.refused("sources.json, id iso-898-1-2013", "sum")


def test_a_source_that_nothing_cites(copy: Copy, library: Library) -> None:
    cited = {source.id for source in library.newest.sources}
    copy.load(cited)
    copy.edit_json("sources.json", lambda it: [*it, {**it[0], "id": "orphan-1999"}])
    copy.refused("sources.json", "orphan-1999", "cites", cited=cited)


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
def test_a_manifest_that_lies(copy: Copy, name: str) -> None:
    change, words = MANIFEST[name]

    def apply(document: Any) -> Any:
        change(document)
        return document

    copy.edit_json(f"{NEWEST}/manifest.json", apply)
    copy.refused(NEWEST, *words)


def test_a_manifest_made_anew_is_not_the_one_that_was_released(newest_alone: Copy) -> None:
    """The list of versions pins the one sum: a changed row with a fitting manifest is still found."""
    listed = (newest_alone.folder / "releases.json").read_bytes()
    newest_alone.edit(f"{NEWEST}/threads.csv", lambda text: text.replace("36.6,mm2", "36.7,mm2"))
    newest_alone.sum_anew()
    assert newest_alone.load().newest.entity("threads", "M8x1.25").text("stress_area") == "36.7"
    (newest_alone.folder / "releases.json").write_bytes(listed)
    newest_alone.refused(f"{NEWEST}/manifest.json", "as releases.json lists it")


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
def test_a_list_of_versions_that_is_none(copy: Copy, name: str) -> None:
    change, words = RELEASES[name]
    document = json.loads((copy.folder / "releases.json").read_text("utf-8"))
    (copy.folder / "releases.json").write_bytes(pretty(change(document)))
    copy.refused("releases.json", *words)


@pytest.mark.parametrize(
    "content", [b'[{"a":1,"a":2}]\n', b"[NaN]\n", b"[1e999, Infinity]\n", b"{\n", b"[" * 100_000 + b"\n", b'"\\ud800\n', b"\n"]
)
def test_documents_that_are_no_json(copy: Copy, content: bytes) -> None:
    (copy.folder / "releases.json").write_bytes(content)
    copy.refused("releases.json")
