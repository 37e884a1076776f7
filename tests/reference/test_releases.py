"""Released versions never change; what differs between two has a cause; a new one is made only from sound rows."""

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from service.errors import BrokenDataset, UnknownDataset
from service.quantities import convert
from service.reference import releases
from service.reference.dataset import Library
from tests.reference.copies import DATA, NEWEST, NEXT, Copy

HEADING = "table,id,property,source,cause\n"


@pytest.fixture
def copy(tmp_path: Path) -> Path:
    """A dataset that may be edited."""
    return Path(shutil.copytree(DATA, tmp_path / "data"))


def test_every_difference_has_a_cause_and_every_cause_a_difference(library: Library) -> None:
    assert len(library.diff("2026.11", "2026.12")) > 1000
    for since, until in zip(library.versions, library.versions[1:], strict=False):
        changed = library.diff(since, until)
        assert [change.fact.key for change in changed if not change.cause.strip()] == []
        keys = [change.fact.key for change in changed]
        assert [cause for cause in library.get(until).causes if not any(cause.covers(key) for key in keys)] == []


def test_a_corrected_row_is_named_and_not_swept_along(library: Library) -> None:
    """Wherever a value changed, one cause names exactly that row and tells what was wrong."""
    exact = {(it.table, it.id, it.property, it.source): it.cause for it in library.get("2026.12").causes}
    corrected = [change for change in library.diff("2026.11", "2026.12") if change.kind == "changed"]
    assert len(corrected) >= 8
    for change in corrected:
        assert exact[change.fact.key] == change.cause
        assert "2026.11" in change.cause


def test_a_difference_read_backwards_swaps_its_sides(library: Library) -> None:
    there = {change.fact.key: change for change in library.diff("2026.11", "2026.12")}
    back = {change.fact.key: change for change in library.diff("2026.12", "2026.11")}
    assert there.keys() == back.keys()
    for key, change in there.items():
        assert (change.before, change.after) == (back[key].after, back[key].before)
        assert change.cause == back[key].cause
    assert library.diff("2026.12", "2026.12") == ()


def test_a_difference_with_an_unknown_version_is_refused(library: Library) -> None:
    with pytest.raises(UnknownDataset):
        library.diff("2026.11", "1999.01")


def test_differences_are_read_as_lines(library: Library) -> None:
    lines = releases.diff(library, "2026.11", "2026.12")
    (iron,) = [line for line in lines if " ductile-iron expansion" in line and line.startswith("~")]
    assert "10.9 1e-6/K → 11.2 1e-6/K [callister-2007]" in iron
    assert any(line.startswith("+ threads 10-32 UNF diameter: 0.190 in") for line in lines)
    assert any(line.startswith("- property-classes grade-2 proof_stress: 379 MPa") for line in lines)


def test_the_earlier_version_is_the_smaller_one(library: Library) -> None:
    """So that pinning is real: the same question has another answer in it."""
    old, new = library.get("2026.11"), library.get("2026.12")
    assert old.tables == new.tables
    for table in old.tables:
        assert set(old.ids(table)) <= set(new.ids(table)), table
    assert sum(len(old.ids(table)) for table in old.tables) < 0.75 * sum(len(new.ids(table)) for table in new.tables)


def test_the_check_accepts_what_is_released(library: Library) -> None:
    assert releases.check(DATA, convert).versions == library.versions


def test_the_check_wants_a_cause_for_every_difference(copy: Path) -> None:
    """Making the sums anew is not enough: a row that differs without a cause is named, and nothing was written."""
    causes, listed = copy / "2026.12" / "changes.csv", (copy / "releases.json").read_bytes()
    lines = causes.read_text("utf-8").splitlines(keepends=True)
    causes.write_text("".join(line for line in lines if "ductile-iron,expansion,callister" not in line), "utf-8")
    with pytest.raises(BrokenDataset, match="ductile-iron, expansion, callister-2007 without a cause"):
        releases.release(copy, "2026.12", convert, released="2026-12-01", again=True)
    assert (copy / "releases.json").read_bytes() == listed
    Copy(copy).sum_anew()
    with pytest.raises(BrokenDataset, match="ductile-iron, expansion, callister-2007 without a cause"):
        releases.check(copy, convert)


def test_the_command_that_checks_wants_the_causes_too(copy: Path) -> None:
    (copy / "2026.12" / "changes.csv").write_text(HEADING, "utf-8")
    Copy(copy).sum_anew()
    command = [sys.executable, "-c", "from service.cli import main; main()", "dataset", "check"]
    environment = os.environ | {"RUNSTAND_DATA": str(copy)}
    done = subprocess.run(command, env=environment, cwd=DATA.parent, capture_output=True, text=True, timeout=60, check=False)
    assert (done.returncode, "without a cause" in done.stdout + done.stderr) == (3, True)


def test_a_cause_of_a_difference_that_is_none_is_refused(copy: Path) -> None:
    """The causes of the version before, copied with its folder, would explain what they know nothing of."""
    shutil.copytree(copy / NEWEST, copy / NEXT)
    with pytest.raises(BrokenDataset, match=rf"{NEXT}/changes\.csv, line \d+, column cause: .* and no others"):
        releases.release(copy, NEXT, convert)


def test_a_new_version_is_made_listed_and_answers(copy: Path) -> None:
    shutil.copytree(copy / NEWEST, copy / NEXT)
    (copy / NEXT / "changes.csv").write_text(HEADING, "utf-8")
    oils = copy / NEXT / "oils.csv"
    oils.write_text(re.sub(r"(?m)^(sae-30-mono,kinematic_viscosity_100,)[^,]+", r"\g<1>11.9", oils.read_text("utf-8")), "utf-8")
    with pytest.raises(BrokenDataset, match="without a cause"):
        releases.release(copy, NEXT, convert, released="2099-01-10")
    row = "oils,sae-30-mono,kinematic_viscosity_100,common-practice,Read again: the figure was rounded down.\n"
    with (copy / NEXT / "changes.csv").open("a", encoding="utf-8") as file:
        file.write(row)
    made = releases.release(copy, NEXT, convert, released="2099-01-10")
    assert made.released == "2099-01-10"
    library = releases.check(copy, convert)
    assert library.newest.version == NEXT
    assert library.newest.entity("oils", "sae-30-mono").text("kinematic_viscosity_100") == "11.9"
    assert library.get("2026.12").entity("oils", "sae-30-mono").text("kinematic_viscosity_100") == "11.0"
    (change,) = library.diff(NEWEST, NEXT)
    assert change.cause.startswith("Read again")


@pytest.mark.parametrize("version", ["2026.11", NEWEST, "2026.01"])
def test_a_released_version_is_not_released_again(copy: Path, version: str) -> None:
    before = (copy / "releases.json").read_bytes()
    with pytest.raises(BrokenDataset, match="never changes"):
        releases.release(copy, version, convert)
    assert (copy / "releases.json").read_bytes() == before


def test_a_name_that_is_no_version_is_refused(copy: Path) -> None:
    with pytest.raises(BrokenDataset, match="calendar version"):
        releases.release(copy, f"../{NEXT}", convert)


def test_rows_that_are_not_fit_leave_everything_as_it_was(copy: Path) -> None:
    shutil.copytree(copy / NEWEST, copy / NEXT)
    (copy / NEXT / "manifest.json").unlink()
    oils = copy / NEXT / "oils.csv"
    oils.write_text(oils.read_text("utf-8").replace("sae-30-mono,grade,30", "sae-30-mono,grade,35"), "utf-8")
    before = (copy / "releases.json").read_bytes()
    with pytest.raises(BrokenDataset, match=rf"{NEXT}/oils\.csv, line \d+, column value: found '35'"):
        releases.release(copy, NEXT, convert)
    assert not (copy / NEXT / "manifest.json").exists()
    assert (copy / "releases.json").read_bytes() == before


def test_a_version_is_made_to_the_same_bytes_every_time(copy: Path) -> None:
    manifest = copy / NEWEST / "manifest.json"
    before, listed = manifest.read_bytes(), (copy / "releases.json").read_bytes()
    day = releases.check(copy, convert).newest.released
    releases.release(copy, NEWEST, convert, released=day, again=True)
    assert manifest.read_bytes() == before
    assert (copy / "releases.json").read_bytes() == listed


def test_the_day_of_release_is_today_if_none_is_given(copy: Path) -> None:
    shutil.copytree(copy / NEWEST, copy / NEXT)
    (copy / NEXT / "changes.csv").write_text(HEADING, "utf-8")
    made = releases.release(copy, NEXT, convert)
    assert len(made.released) == 10
    assert made.released >= "2026-11-25"
