"""The same request, dataset and calculation give the same bytes: today and last release, here and on every machine."""

import asyncio
import hashlib
import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.trust import golden

ROOT = Path(__file__).resolve().parents[2]
ENTRIES = golden.read()


def test_there_are_at_least_five_hundred_golden_answers() -> None:
    assert len(ENTRIES) >= 500
    assert len({(entry["method"], entry["path"], entry.get("body")) for entry in ENTRIES}) == len(ENTRIES)


def test_every_golden_answer_is_still_the_same() -> None:
    """A changed answer needs a higher CALCULATION or a new dataset version, and then ``tests.trust.golden --write``."""
    found = asyncio.run(golden.sums(golden.app(), ENTRIES))
    changed = [entry["path"] for entry, new in zip(ENTRIES, found, strict=True) if entry["sha256"] != new]
    assert changed == []


def test_order_does_not_matter() -> None:
    """Asked in reverse, twice, by one process: nothing is remembered between requests."""
    service = golden.app()
    backwards = asyncio.run(golden.sums(service, ENTRIES[::-1]))
    again = asyncio.run(golden.sums(service, ENTRIES))
    assert backwards[::-1] == again == [entry["sha256"] for entry in ENTRIES]


@pytest.mark.slow
@pytest.mark.parametrize("zone", ["UTC", "Asia/Kathmandu"])
@pytest.mark.parametrize("locale", ["C", "C.UTF-8"])
@pytest.mark.parametrize("seed", ["0", "1", "42"])
def test_fresh_processes_agree_whatever_their_surroundings(seed: str, locale: str, zone: str) -> None:
    expected = hashlib.sha256("\n".join(entry["sha256"] for entry in ENTRIES).encode()).hexdigest()
    surroundings = {"PYTHONHASHSEED": seed, "LC_ALL": locale, "LANG": locale, "TZ": zone}
    asked = subprocess.run(
        [sys.executable, "-m", "tests.trust.golden"],
        cwd=ROOT,
        env=os.environ | surroundings,
        capture_output=True,
        text=True,
        timeout=120,
        check=True,
    )
    assert asked.stdout.strip() == expected
