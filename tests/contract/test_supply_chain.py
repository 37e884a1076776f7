"""What the container installs: named, pinned by hash, few, and under licences that let a shop use it."""

import re
import tomllib
from importlib.metadata import metadata
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PINNED = (ROOT / "deploy" / "requirements.txt").read_text(encoding="utf-8")
BUILD = (ROOT / "deploy" / "build-requirements.txt").read_text(encoding="utf-8")
NAMES = sorted(set(re.findall(r"^([a-z0-9-]+)==", PINNED, re.MULTILINE)))
ALLOWED = ("MIT", "BSD", "Apache", "Python Software Foundation", "PSF", "Mozilla Public License 2.0", "MPL-2.0", "ISC", "0BSD")


def _plain(name: str) -> str:
    return re.sub(r"[-_.]+", "-", name).lower()


def test_every_direct_requirement_is_pinned() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    direct = {_plain(re.split(r"[<>=!~\[ ]", requirement, maxsplit=1)[0]) for requirement in project["dependencies"]}
    assert direct <= set(NAMES)


def test_at_most_twenty_five_packages_serve() -> None:
    assert len(NAMES) <= 25


@pytest.mark.parametrize("text", [PINNED, BUILD], ids=["requirements", "build-requirements"])
def test_each_pin_has_its_hashes_and_no_address(text: str) -> None:
    pins = re.split(r"^(?=[a-z0-9-]+==)", text, flags=re.MULTILINE)[1:]
    assert pins
    for pin in pins:
        assert "--hash=sha256:" in pin, pin
    assert "://" not in text
    assert "index-url" not in text


@pytest.mark.parametrize("name", NAMES)
def test_a_package_has_a_licence_that_is_allowed(name: str) -> None:
    """Read off the installed package's own metadata: the SPDX expression, the licence field or the trove classifiers."""
    about = metadata(name)
    fields = ("License-Expression", "License", "Classifier")
    stated = [line[:200] for field in fields for line in about.get_all(field) or []]
    assert any(allowed.lower() in " ".join(stated).lower() for allowed in ALLOWED), stated


def test_the_container_runs_as_nobody_in_particular_from_a_tree_that_nobody_can_write() -> None:
    recipe = (ROOT / "Dockerfile").read_text(encoding="utf-8")
    assert recipe.count("\nFROM ") + recipe.startswith("FROM ") == 2
    assert "USER 10001" in recipe
    assert "a-w" in recipe
    assert "HEALTHCHECK" in recipe
    assert "--require-hashes -r requirements.txt" in recipe
