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
    """Everything that a start-up checks, and that every difference between neighbours has a cause.

    Raises:
        BrokenDataset: The first fault, by name and place.
    """
    library = loader.load_library(folder, convert)
    for since, until in zip(library.versions, library.versions[1:], strict=False):
        unexplained = [change.fact for change in library.diff(since, until) if not change.cause]
        if unexplained:
            first = unexplained[0]
            found = f"{first.id}, {first.property}, {first.source} without a cause"
            raise files.broken(f"{until}/changes.csv for {first.table}.csv", found, "a cause for every row that differs")
    return library


def diff(library: Library, since: str, until: str) -> list[str]:
    """What differs between two versions as lines to read: sign, table, id, property, values, cause."""
    return [_line(change) for change in library.diff(since, until)]


def release(folder: Path, version: str, convert: Convert, *, released: str | None = None, again: bool = False) -> Dataset:
    """Validate a version, write its manifest and enter it in the list of versions.

    Args:
        folder: The dataset's folder.
        version: A calendar version, newer than all others, whose folder holds the tables.
        convert: As for :func:`service.reference.loader.load_library`.
        released: The day of release; today if left out.
        again: Allow a version that is listed already: for one that was not published yet.

    Raises:
        BrokenDataset: The version is released already or older than the newest, or its rows are not fit for release.
    """
    if not VERSION.fullmatch(version):
        raise files.broken("version", version, "a calendar version like 2026.12")
    listed = _listed(folder)
    if not again and listed and version <= max(listed):
        raise files.broken(RELEASES, version, f"a version after {max(listed)}; a released version never changes")
    day = released or date.today().isoformat()  # noqa: DTZ011 - the releasing person's calendar day
    manifest_path = folder / version / MANIFEST
    before = manifest_path.read_bytes() if manifest_path.exists() else None
    manifest = make_manifest(folder, version, day, loader.read_bibliography(folder))
    manifest_path.write_bytes(pretty(manifest))
    try:
        dataset = loader.load_version(folder, version, convert)
    except BrokenDataset:
        _restore(manifest_path, before)
        raise
    listed[version] = {
        "version": version,
        "sha256": manifest["sha256"],
        "status": "current",
        "released": day,
        "reason": "",
        "successor": "",
    }
    (folder / RELEASES).write_bytes(pretty([listed[key] for key in sorted(listed)]))
    return dataset


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
