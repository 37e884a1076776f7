"""Released versions never change; what differs between two has a cause; a new one is made only from sound rows."""

import shutil
from pathlib import Path

import pytest

from service.errors import BrokenDataset, UnknownDataset
from service.quantities import convert
from service.reference import releases
from service.reference.dataset import Library

DATA = Path(__file__).parents[2] / "data"


@pytest.fixture
def copy(tmp_path: Path) -> Path:
    """A dataset that may be edited."""
    return Path(shutil.copytree(DATA, tmp_path / "data"))


def test_every_difference_has_a_cause_and_every_cause_a_difference(library: Library) -> None:
    changed = library.diff("2026.11", "2026.12")
    assert len(changed) > 1000
    assert [change.fact.key for change in changed if not change.cause.strip()] == []
    keys = [change.fact.key for change in changed]
    idle = [cause for cause in library.newest.causes if not any(cause.covers(key) for key in keys)]
    assert idle == []


def test_a_corrected_row_is_named_and_not_swept_along(library: Library) -> None:
    """Wherever a value changed, one cause names exactly that row and tells what was wrong."""
    exact = {(it.table, it.id, it.property, it.source): it.cause for it in library.newest.causes}
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
        library.diff("2026.11", "2027.01")


def test_differences_are_read_as_lines(library: Library) -> None:
    lines = releases.diff(library, "2026.11", "2026.12")
    (iron,) = [line for line in lines if " ductile-iron expansion" in line and line.startswith("~")]
    assert "10.9 1e-6/K → 11.2 1e-6/K [callister-2007]" in iron
    assert any(line.startswith("+ threads 10-32 UNF diameter: 0.190 in") for line in lines)
    assert any(line.startswith("- property-classes grade-2 proof_stress: 379 MPa") for line in lines)


def test_the_earlier_version_is_the_smaller_one(library: Library) -> None:
    """So that pinning is real: the same question has another answer in it."""
    old, new = library.get("2026.11"), library.newest
    assert old.tables == new.tables
    for table in old.tables:
        assert set(old.ids(table)) <= set(new.ids(table)), table
    assert sum(len(old.ids(table)) for table in old.tables) < 0.75 * sum(len(new.ids(table)) for table in new.tables)


def test_the_check_accepts_what_is_released() -> None:
    assert releases.check(DATA, convert).versions == ("2026.11", "2026.12")


def test_the_check_wants_a_cause_for_every_difference(copy: Path) -> None:
    """Making the sums anew is not enough: a row that differs without a cause is named."""
    causes = copy / "2026.12" / "changes.csv"
    lines = causes.read_text("utf-8").splitlines(keepends=True)
    causes.write_text("".join(line for line in lines if "ductile-iron,expansion,callister" not in line), "utf-8")
    releases.release(copy, "2026.12", convert, released="2026-12-01", again=True)
    with pytest.raises(BrokenDataset, match="ductile-iron, expansion, callister-2007 without a cause"):
        releases.check(copy, convert)


def test_a_new_version_is_made_listed_and_answers(copy: Path) -> None:
    shutil.copytree(copy / "2026.12", copy / "2027.01")
    (copy / "2027.01" / "changes.csv").write_text("table,id,property,source,cause\n", "utf-8")
    oils = copy / "2027.01" / "oils.csv"
    oils.write_text(
        oils.read_text("utf-8").replace("sae-30-mono,kinematic_viscosity_100,11.0", "sae-30-mono,kinematic_viscosity_100,11.1"),
        "utf-8",
    )
    made = releases.release(copy, "2027.01", convert, released="2027-01-10")
    assert made.released == "2027-01-10"
    with pytest.raises(BrokenDataset, match="without a cause"):
        releases.check(copy, convert)
    row = "oils,sae-30-mono,kinematic_viscosity_100,common-practice,Read again: the figure was rounded down.\n"
    with (copy / "2027.01" / "changes.csv").open("a", encoding="utf-8") as file:
        file.write(row)
    releases.release(copy, "2027.01", convert, released="2027-01-10", again=True)
    library = releases.check(copy, convert)
    assert library.newest.version == "2027.01"
    assert library.newest.entity("oils", "sae-30-mono").text("kinematic_viscosity_100") == "11.1"
    assert library.get("2026.12").entity("oils", "sae-30-mono").text("kinematic_viscosity_100") == "11.0"
    (change,) = library.diff("2026.12", "2027.01")
    assert change.cause.startswith("Read again")
    assert len(library.diff("2026.11", "2027.01")) == len(library.diff("2026.11", "2026.12")) + 1


@pytest.mark.parametrize("version", ["2026.11", "2026.12", "2026.01"])
def test_a_released_version_is_not_released_again(copy: Path, version: str) -> None:
    before = (copy / "releases.json").read_bytes()
    with pytest.raises(BrokenDataset, match="never changes"):
        releases.release(copy, version, convert)
    assert (copy / "releases.json").read_bytes() == before


def test_a_name_that_is_no_version_is_refused(copy: Path) -> None:
    with pytest.raises(BrokenDataset, match="calendar version"):
        releases.release(copy, "../2027.01", convert)


def test_rows_that_are_not_fit_leave_everything_as_it_was(copy: Path) -> None:
    shutil.copytree(copy / "2026.12", copy / "2027.01")
    (copy / "2027.01" / "manifest.json").unlink()
    oils = copy / "2027.01" / "oils.csv"
    oils.write_text(oils.read_text("utf-8").replace("sae-30-mono,grade,30", "sae-30-mono,grade,35"), "utf-8")
    before = (copy / "releases.json").read_bytes()
    with pytest.raises(BrokenDataset, match=r"2027\.01/oils\.csv, line \d+, column value: found '35'"):
        releases.release(copy, "2027.01", convert)
    assert not (copy / "2027.01" / "manifest.json").exists()
    assert (copy / "releases.json").read_bytes() == before


def test_a_version_is_made_to_the_same_bytes_every_time(copy: Path) -> None:
    manifest = copy / "2026.12" / "manifest.json"
    before, listed = manifest.read_bytes(), (copy / "releases.json").read_bytes()
    day = releases.check(copy, convert).newest.released
    releases.release(copy, "2026.12", convert, released=day, again=True)
    assert manifest.read_bytes() == before
    assert (copy / "releases.json").read_bytes() == listed


def test_the_day_of_release_is_today_if_none_is_given(copy: Path) -> None:
    shutil.copytree(copy / "2026.12", copy / "2027.01")
    made = releases.release(copy, "2027.01", convert)
    assert len(made.released) == 10
    assert made.released >= "2026-11-25"
