"""Datasets to break: copies of the released one, and the released one itself."""

import shutil
from pathlib import Path

import pytest

from tests.reference.copies import DATA, NEWEST, Copy


@pytest.fixture
def copy(tmp_path: Path) -> Copy:
    """All versions."""
    return Copy(Path(shutil.copytree(DATA, tmp_path / "data")))


@pytest.fixture
def newest_alone(copy: Copy) -> Copy:
    """One version, for faults that only a full reading finds."""
    for folder in copy.folder.iterdir():
        if folder.is_dir() and folder.name != NEWEST:
            shutil.rmtree(folder)
    copy.edit_json("releases.json", lambda listed: listed[-1:])
    return copy


@pytest.fixture(scope="session")
def released() -> Copy:
    """The released dataset itself, not to be written to."""
    return Copy(DATA)
