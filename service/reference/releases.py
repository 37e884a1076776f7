"""Making, checking and comparing versions: what ``runstand dataset check | diff | release`` calls.

An unreleased version is a folder of tables that somebody edits. ``release`` validates it like a start-up would, writes its
manifest, and puts its sum into the list of versions; from then on nothing in it may change.
"""

import json
from collections.abc import Mapping
from datetime import date
from pathlib import Path
from typing import Any

from service.errors import BrokenDataset
from service.reference import files, loader
from service.reference.dataset import Change, Dataset, Library
from service.reference.manifests import MANIFEST, VERSION, make_manifest
from service.reference.schema import Convert

RELEASES = "releases.json"


def check(folder: Path, convert: Convert) -> Library:
    """Everything that a start-up checks, that every difference between neighbours has a cause, and that no cause is idle.

    Raises:
        BrokenDataset: The first fault, by name and place.
    """
    library = loader.load_library(folder, convert)
    for since, until in zip(library.versions, library.versions[1:], strict=False):
        differing = library.diff(since, until)
        unexplained = [change.fact for change in differing if not change.cause]
        if unexplained:
            first = unexplained[0]
            found = f"{first.id}, {first.property}, {first.source} without a cause"
            raise files.broken(f"{until}/changes.csv for {first.table}.csv", found, "a cause for every row that differs")
        # A cause copied with the folder would explain a new difference with an old reason.
        idle = [cause for cause in library.get(until).causes if not any(cause.covers(it.fact.key) for it in differing)]
        if idle:
            found = f"{idle[0].table}, {idle[0].id}, {idle[0].property}, {idle[0].source}"
            place = files.at(f"{until}/changes.csv", idle[0].line, "cause")
            raise files.broken(place, found, f"causes of rows that differ from {since}, and no others")
    return library


def diff(library: Library, since: str, until: str) -> list[str]:
    """What differs between two versions as lines to read: sign, table, id, property, values, cause."""
    return [_line(change) for change in library.diff(since, until)]


def release(folder: Path, version: str, convert: Convert, *, released: str | None = None, again: bool = False) -> Dataset:
    """Validate a version, write its manifest and enter it in the list of versions; :func:`check` must then pass.

    Args:
        folder: The dataset's folder.
        version: A calendar version, newer than all others, whose folder holds the tables.
        convert: As for :func:`service.reference.loader.load_library`.
        released: The day of release; today if left out.
        again: Allow a version that is listed already: for one that was not published yet.

    Raises:
        BrokenDataset: The version is released already or older than the newest, its rows are not fit for release, or a
            row differs without a cause; everything is then left as it was.
    """
    if not VERSION.fullmatch(version):
        raise files.broken("version", version, "a calendar version like 2026.12")
    listed = _listed(folder)
    if not again and listed and version <= max(listed):
        raise files.broken(RELEASES, version, f"a version after {max(listed)}; a released version never changes")
    day = released or date.today().isoformat()  # noqa: DTZ011 - the releasing person's calendar day
    manifest = make_manifest(folder, version, day, loader.read_bibliography(folder))
    listed[version] = {
        "version": version,
        "sha256": manifest["sha256"],
        "status": "current",
        "released": day,
        "reason": "",
        "successor": "",
    }
    written = {folder / version / MANIFEST: manifest, folder / RELEASES: [listed[key] for key in sorted(listed)]}
    before = {path: path.read_bytes() if path.exists() else None for path in written}
    for path, document in written.items():
        path.write_bytes(pretty(document))
    try:
        return check(folder, convert).get(version)
    except BrokenDataset:
        for path, content in before.items():
            _restore(path, content)
        raise


def pretty(document: object) -> bytes:
    """JSON to be read and compared by people: indented, one item a line, LF at the end."""
    return (json.dumps(document, ensure_ascii=False, indent=1) + "\n").encode()


def _listed(folder: Path) -> dict[str, Any]:
    path = folder / RELEASES
    if not path.exists():
        return {}
    entries: list[Mapping[str, Any]] = files.json_document(files.read(path, RELEASES), RELEASES)
    return {entry["version"]: dict(entry) for entry in entries}


def _restore(path: Path, content: bytes | None) -> None:
    if content is None:
        path.unlink()
    else:
        path.write_bytes(content)


def _line(change: Change) -> str:
    sign = {"added": "+", "removed": "-", "changed": "~"}[change.kind]
    was = change.before.printed if change.before else ""
    now = change.after.printed if change.after else ""
    values = f"{was} → {now}" if was and now and was != now else now or was
    fact = change.fact
    return f"{sign} {fact.table} {fact.id} {fact.property}: {values} [{fact.source}] ({change.cause or 'no cause given'})"
