"""What the machine may deny without harm, what it may not, and the second net of the database."""

import errno
import os
import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from service.errors import BrokenDataset
from service.reference import loader
from tests.reference.copies import DATA, NEWEST, Copy

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
def test_a_read_only_disk_without_a_temporary_folder_is_enough(released: Copy) -> None:
    assert released.load().newest.entity("threads", "M8x1.25").text("stress_area") == "36.6"


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
def test_a_file_that_cannot_be_opened(monkeypatch: pytest.MonkeyPatch, code: int, released: Copy) -> None:
    real = os.open

    def denied(path: Any, flags: int, *rest: Any, **names: Any) -> int:
        if str(path).endswith("oils.csv"):
            raise OSError(code, os.strerror(code), path)
        return real(path, flags, *rest, **names)

    monkeypatch.setattr(os, "open", denied)
    released.refused("2026.11/oils.csv", os.strerror(code).lower())


def test_the_database_refuses_what_the_checks_would_let_through(monkeypatch: pytest.MonkeyPatch, released: Copy) -> None:
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
        released.load()
