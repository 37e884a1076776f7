"""Versions that never change: the list of them and their manifests of SHA-256 sums, made and checked.

``data/releases.json`` lists the versions with the one sum that stands for each; ``data/<version>/manifest.json`` holds the sum
of every file and of every bibliography entry that the version cites. A released version is checked against both.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from service.reference import files
from service.reference.dataset import Source
from service.reference.tables import TABLES

VERSION = re.compile(r"[0-9]{4}\.[0-9]{2}")
SUM = re.compile(r"[0-9a-f]{64}")
MANIFEST = "manifest.json"
CHANGES = "changes.csv"
FORMAT = 1


@dataclass(frozen=True, slots=True)
class Release:
    """A line of the list of versions."""

    version: str
    sha256: str = ""
    status: str = "current"
    released: str = ""
    reason: str = ""
    successor: str = ""


@dataclass(frozen=True, slots=True)
class Checked:
    """A version whose sums are right: its one sum, its day, and the bytes of its files."""

    version: str
    sha256: str
    released: str
    contents: Mapping[str, bytes]


@dataclass(frozen=True, slots=True)
class Releases:
    """The list of versions, oldest first."""

    entries: tuple[Release, ...]

    @property
    def current(self) -> tuple[Release, ...]:
        """Versions that answer."""
        return tuple(one for one in self.entries if one.status == "current")

    @property
    def withdrawn(self) -> tuple[Release, ...]:
        """Versions that were taken back."""
        return tuple(one for one in self.entries if one.status == "withdrawn")


def read_releases(folder: Path) -> Releases:
    """The list of versions, and that the folder holds nothing else.

    Raises:
        BrokenDataset: The list or the folder is not as it should be.
    """
    name = "releases.json"
    present = files.entries(folder, folder.name)
    document = files.json_document(files.read(folder / name, name), name)
    releases = Releases(tuple(_release(entry, f"{name}, entry {n}") for n, entry in enumerate(_list(document, name), 1)))
    versions = [one.version for one in releases.entries]
    if versions != sorted(set(versions)):
        raise files.broken(name, ", ".join(versions), "every version once, oldest first")
    if not releases.current:
        raise files.broken(name, "no current version", "at least one")
    for one in releases.withdrawn:
        if one.successor not in {other.version for other in releases.current}:
            raise files.broken(f"{name}, version {one.version}, field successor", one.successor, "a current version")
    # A withdrawn version may stay in the folder or be gone; it is not read.
    withdrawn = {one.version for one in releases.withdrawn}
    wanted = {"sources.json", name} | {one.version for one in releases.current}
    files.require(present - withdrawn, wanted, folder.name)
    return releases


def check_manifest(folder: Path, release: Release, bibliography: Mapping[str, Source]) -> Checked:
    """A version with the bytes of its files, every sum checked.

    Raises:
        BrokenDataset: Names the file or the source whose sum differs, that is missing, or that is too many.
    """
    version, home = release.version, folder / release.version
    present = files.entries(home, version)
    name = f"{version}/{MANIFEST}"
    manifest = files.json_document(files.read(home / MANIFEST, name), name)
    _check_form(manifest, version, name)
    files.require(present, set(manifest["files"]) | {MANIFEST}, version)
    if _sum(manifest) != manifest["sha256"]:
        raise files.broken(f"{name}, field sha256", manifest["sha256"], f"{_sum(manifest)}, the sum of the manifest itself")
    if release.sha256 and release.sha256 != manifest["sha256"]:
        raise files.broken(f"{name}, field sha256", manifest["sha256"], f"{release.sha256}, as releases.json lists it")
    contents = {}
    for file, entry in manifest["files"].items():
        content = files.read(home / file, f"{version}/{file}")
        if files.digest(content) != entry["sha256"]:
            raise files.broken(
                f"{version}/{file}", f"sum {files.digest(content)}", f"sum {entry['sha256']}, as the manifest lists it"
            )
        contents[file] = content
    for source, wanted in manifest["sources"].items():
        if source not in bibliography:
            raise files.broken(f"sources.json, id {source}", "no such entry", "the entry that the manifest lists")
        found = source_sum(bibliography[source])
        if found != wanted:
            raise files.broken(f"sources.json, id {source}", f"sum {found}", f"sum {wanted}, as {name} lists it")
    return Checked(version, manifest["sha256"], manifest["released"], contents)


def make_manifest(folder: Path, version: str, released: str, bibliography: Mapping[str, Source]) -> dict[str, Any]:
    """The manifest of the files of a version as they stand now.

    Raises:
        BrokenDataset: A file cannot be read, or cites a source that the bibliography lacks.
    """
    home = folder / version
    entries: dict[str, dict[str, Any]] = {}
    cited: set[str] = set()
    total = 0
    for file in sorted(files.entries(home, version) - {MANIFEST}):
        content = files.read(home / file, f"{version}/{file}")
        entry: dict[str, Any] = {"sha256": files.digest(content)}
        if file != CHANGES:
            columns = tuple(files.text(content, f"{version}/{file}").partition("\n")[0].split(","))
            rows = [cells for _, cells in files.csv_rows(content, f"{version}/{file}", columns)]
            entry |= {"facts": len(rows), "entities": len({row.get("id") for row in rows})}
            cited |= {row.get("source", "") for row in rows}
            total += len(rows)
        entries[file] = entry
    for source in sorted(cited - bibliography.keys()):
        raise files.broken(f"{version}, source", source, "an id of sources.json")
    manifest = {
        "format": FORMAT,
        "version": version,
        "released": released,
        "facts": total,
        "files": entries,
        "sources": {source: source_sum(bibliography[source]) for source in sorted(cited)},
    }
    return manifest | {"sha256": _sum(manifest)}


def source_sum(source: Source) -> str:
    """The sum of a bibliography entry, whatever the layout of the file."""
    return files.digest(files.canonical(dict(source.document)))


def _sum(manifest: Mapping[str, Any]) -> str:
    return files.digest(files.canonical({key: value for key, value in manifest.items() if key != "sha256"}))


def _check_form(manifest: Any, version: str, name: str) -> None:
    """The manifest has the fields it should have, and is of this version."""
    wanted = {"format", "version", "released", "facts", "files", "sources", "sha256"}
    if not isinstance(manifest, dict) or set(manifest) != wanted:
        raise files.broken(
            name, ", ".join(sorted(manifest)) if isinstance(manifest, dict) else "no object", ", ".join(sorted(wanted))
        )
    if manifest["version"] != version or manifest["format"] != FORMAT:
        raise files.broken(f"{name}, field version", str(manifest["version"]), version)
    _check_date(manifest["released"], f"{name}, field released")
    if not isinstance(manifest["files"], dict) or not isinstance(manifest["sources"], dict):
        raise files.broken(f"{name}, fields files and sources", "no object", "objects")
    allowed = {f"{table}.csv" for table in TABLES} | {CHANGES}
    for file, entry in manifest["files"].items():
        if file not in allowed:
            raise files.broken(f"{name}, field files", file, "tables of the schema and changes.csv")
        _check_sum(entry.get("sha256") if isinstance(entry, dict) else None, f"{name}, file {file}")
    for source, wanted_sum in manifest["sources"].items():
        _check_sum(wanted_sum, f"{name}, source {source}")
    _check_sum(manifest["sha256"], f"{name}, field sha256")


def _check_sum(found: object, where: str) -> None:
    if not isinstance(found, str) or not SUM.fullmatch(found):
        raise files.broken(where, str(found), "a SHA-256 sum, 64 lower-case hexadecimal digits")


def _check_date(found: object, where: str) -> None:
    try:
        date.fromisoformat(found)  # type: ignore[arg-type]
    except (TypeError, ValueError) as fault:
        raise files.broken(where, str(found), "a date like 2026-12-01") from fault


def _list(document: object, name: str) -> list[Any]:
    if not isinstance(document, list):
        raise files.broken(name, type(document).__name__, "a list of versions")
    return document


def _release(entry: Any, where: str) -> Release:
    fields = Release.__dataclass_fields__
    if not isinstance(entry, dict) or set(entry) != set(fields) or not all(isinstance(it, str) for it in entry.values()):
        raise files.broken(where, "other fields", f"the texts {', '.join(fields)}")
    if not VERSION.fullmatch(entry["version"]):
        raise files.broken(f"{where}, field version", entry["version"], "a calendar version like 2026.12")
    if entry["status"] not in ("current", "withdrawn"):
        raise files.broken(f"{where}, field status", entry["status"], "current or withdrawn")
    if (entry["status"] == "withdrawn") != bool(entry["reason"] and entry["successor"]):
        raise files.broken(where, entry["status"], "a reason and a successor if withdrawn, and only then")
    _check_sum(entry["sha256"], f"{where}, field sha256")
    _check_date(entry["released"], f"{where}, field released")
    return Release(**entry)
