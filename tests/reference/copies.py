"""A dataset that may be broken: the tools to break a copy of the released one and to see it refused."""

import csv
import io
import json
from collections.abc import Callable
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
NEWEST: str = json.loads((DATA / "releases.json").read_text("utf-8"))[-1]["version"]
NEXT = "2099.01"
"""A version that is not there yet."""


class Copy:
    """A folder with a dataset, whole or broken."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def at(self, folder: Path) -> "Copy":
        """Another folder that may hold one."""
        return Copy(folder)

    def load(self, cited: set[str] | None = None) -> Library:
        """Start up with it."""
        return loader.load_library(self.folder, convert, cited)

    def refused(self, *words: str, cited: set[str] | None = None) -> None:
        """Start-up is refused, and the message names the place, what was found and what is allowed."""
        with pytest.raises(BrokenDataset) as fault:
            self.load(cited)
        message = str(fault.value)
        for word in words:
            assert word in message, f"{word!r} is not in {message!r}"
        assert str(self.folder.parent) not in message
        assert "allowed: " in message

    def sum_anew(self) -> None:
        """Make every sum fit again, as somebody would who tampers with care."""
        releases = json.loads((self.folder / "releases.json").read_text("utf-8"))
        for entry in releases:
            path = self.folder / entry["version"] / "manifest.json"
            if path.exists():
                old = json.loads(path.read_text("utf-8"))
                bibliography = loader.read_bibliography(self.folder)
                manifest = make_manifest(self.folder, entry["version"], old["released"], bibliography)
                path.write_bytes(pretty(manifest))
                entry["sha256"] = manifest["sha256"]
        (self.folder / "releases.json").write_bytes(pretty(releases))

    def sum_one_table(self, table: str) -> None:
        """Make the sums fit though a row cites what is not in the bibliography, which no manifest is made for."""
        path = self.folder / NEWEST / "manifest.json"
        manifest = json.loads(path.read_text("utf-8"))
        manifest["files"][f"{table}.csv"]["sha256"] = files.digest((self.folder / NEWEST / f"{table}.csv").read_bytes())
        manifest["sha256"] = files.digest(files.canonical({key: it for key, it in manifest.items() if key != "sha256"}))
        path.write_bytes(pretty(manifest))
        self.edit_json("releases.json", lambda listed: [*listed[:-1], {**listed[-1], "sha256": manifest["sha256"]}])

    def edit(self, file: str, change: Callable[[str], str]) -> None:
        """Change the text of a file."""
        path = self.folder / file
        before = path.read_text("utf-8")
        after = change(before)
        assert after != before
        path.write_bytes(after.encode())

    def edit_json(self, file: str, change: Callable[[Any], Any]) -> None:
        """Change a document, in place or by returning another."""
        path = self.folder / file
        document = json.loads(path.read_text("utf-8"))
        path.write_bytes(pretty(change(document) or document))

    def rows(self, table: str) -> list[dict[str, str]]:
        """Rows of a table of the newest version."""
        return list(csv.DictReader(io.StringIO((self.folder / NEWEST / f"{table}.csv").read_text("utf-8"))))

    def write_rows(self, table: str, rows: list[dict[str, str]]) -> None:
        """Write a table of the newest version."""
        out = io.StringIO()
        writer = csv.DictWriter(out, loader.FACT_COLUMNS, lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)
        (self.folder / NEWEST / f"{table}.csv").write_bytes(out.getvalue().encode())

    def edit_row(self, table: str, line: int, **cells: str) -> None:
        """Change cells of one row."""
        rows = self.rows(table)
        rows[line - 2] |= cells
        self.write_rows(table, rows)

    def line_of(self, table: str, id: str, name: str) -> int:
        """The line of the first row of a thing's property."""
        return next(n for n, row in enumerate(self.rows(table), 2) if (row["id"], row["property"]) == (id, name))
