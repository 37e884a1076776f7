"""The order of work as a builder does it: closing up, before the start, after the run and the hand-over, for every engine."""

from itertools import pairwise
from typing import Any

import pytest

from service.answers.asking import Asked, ask
from service.faces import json_face
from service.faces.registry import faces_of
from service.quantities import Measure
from service.reference.dataset import Dataset, Library
from service.sheet.sheet import TOPIC

FACES = {"json": json_face.write, **{name: faces_of("build_sheet")[name] for name in ("html", "text", "csv")}}
FAMILY = "air-cooled-flat-four"
BUILD: dict[str, Any] = {
    "engine": FAMILY,
    "pushrod_material": "aluminium",
    "firing_order": "1-4-3-2",
    "tappet": "flat",
    "spring": "single",
    "rev_limit": "4500 rpm",
    "grade": "30",
    "compression_ratio": 7.5,
    "pulley_diameter": "145 mm",
    "oil": {"sump": "2.5 L", "phosphorus": "1200 ppm"},
}


def asked(dataset: Dataset, **changed: Any) -> Asked:
    return ask(TOPIC, {name: value for name, value in {**BUILD, **changed}.items() if value is not None}, dataset)


def work(dataset: Dataset, **changed: Any) -> list[dict[str, Any]]:
    rows: list[dict[str, Any]] = asked(dataset, **changed).answer.result["work"]
    return rows


def of_stage(rows: list[dict[str, Any]], stage: str) -> list[str]:
    return [row["task"] for row in rows if row["stage"] == stage]


def first(rows: list[dict[str, Any]], words: str) -> dict[str, Any]:
    return next(row for row in rows if words in row["task"])


def in_this_order(tasks: list[str], *words: str) -> bool:
    """Whether every task with these words stands before every task with the next ones, and each is there."""
    places = [[place for place, task in enumerate(tasks) if one in task] for one in words]
    return all(places) and all(max(here) < min(after) for here, after in pairwise(places))


@pytest.mark.parametrize("given", [{}, {"pushrod_material": "steel", "tappet": "flat", "spring": "dual"}])
@pytest.mark.parametrize("version", ["2026.11", "2026.12"])
def test_every_engine_has_a_sheet_in_every_face(version: str, given: dict[str, str], library: Library) -> None:
    """No engine of either dataset breaks the sheet, whatever its manual leaves out."""
    dataset = library.get(version)
    engines = dataset.ids("engines")
    assert len(engines) > 10
    for engine in engines:
        answered = ask(TOPIC, {"engine": engine, **given}, dataset)
        for name, write in FACES.items():
            assert write(answered, "metric"), (engine, name)


def test_a_hot_lash_is_set_hot(dataset: Dataset) -> None:
    """The manual of this engine gives 0.38 mm, engine hot (its tune-up data), and no cold figure."""
    rows = ask(TOPIC, {"engine": "tm-10-3930-653-14p"}, dataset).answer.result["work"]
    for valve in ("intake", "exhaust"):
        hot = first(rows, f"Set {valve} lash, engine hot as the manual says")
        assert hot["stage"] == "after-run"
        assert hot["value"].si == pytest.approx(0.38e-3)
        cold = first(rows, f"Set {valve} lash for the first start")
        assert (cold["stage"], cold["value"]) == ("closing-up", None)


def test_the_engine_is_closed_up_from_the_crank_outwards(dataset: Dataset) -> None:
    """Rods go on before the case is closed, heads on before rockers; lash is set when nothing moves any more."""
    tasks = of_stage(work(dataset), "closing-up")
    assert in_this_order(
        tasks,
        "rod nut",
        "case main stud",
        "case perimeter nut",
        "oil pump cover nut",
        "strainer cover nut",
        "cylinder head nut",
        "rocker shaft nut",
        "flywheel nut",
        "generator pulley nut",
        "lash, stone cold",
        "firing top dead centre; set",
        "intake flange nut",
        "exhaust flange nut",
        "drain plug",
    )


def test_the_order_does_not_hang_on_the_order_of_asking(dataset: Dataset) -> None:
    """A fastener that nobody knows is tightened before the lash is set."""
    torques = [{"fastener": "rocker-shaft-nut"}, {"thread": "M8x1.25", "torque": "20 N*m"}, {"fastener": "rod-nut"}]
    tasks = of_stage(work(dataset, torque=torques), "closing-up")
    assert in_this_order(tasks, "rod nut", "rocker shaft nut", "Tighten fastener", "lash, stone cold")


def test_plugs_are_tightened_after_priming(dataset: Dataset) -> None:
    """Priming wants them out, so no line before the first fire tightens them, and the first fire begins with them."""
    rows = work(dataset)
    assert "spark plug" not in " ".join(of_stage(rows, "closing-up") + of_stage(rows, "pre-start"))
    assert of_stage(rows, "first-fire")[0] == "Tighten spark plug to the full torque"
    assert "after priming" in first(rows, "spark plug")["words"]


def test_the_work_after_the_run_goes_from_hot_to_cold_to_the_road(dataset: Dataset) -> None:
    """Oil drains hot, compression is told warm, lash stone cold (before nuts are moved), and then the distances count."""
    rows = work(dataset)
    tasks = of_stage(rows, "after-run")
    assert in_this_order(
        tasks,
        "Drain the oil hot",
        "Open strainer and filter",
        "Refill",
        "ompression",
        "Check the lash of every valve",
        "lash again, stone cold",
        "Check head and rocker-shaft nuts",
        "Change the oil",
        "Oil and lash",
    )
    assert sum("rain the oil" in task for task in tasks) == 1
    for task, when in (
        ("Drain the oil hot", "10 min after the run"),
        ("Check the lash of every valve", "6 h after the run"),
        ("Compression test", "at the latest 24 h after the run"),
        ("Change the oil", "at 100 km"),
        ("Oil and lash", "at 500 km"),
        ("Lash, head nuts if asked", "at 1000 km"),
    ):
        assert when in first(rows, task)["words"]


def test_no_face_tells_the_work_after_the_run_twice(dataset: Dataset) -> None:
    """One list with boxes; a second one in another order would contradict it."""
    for name in ("html", "text"):
        page = " ".join(FACES[name](asked(dataset), "metric").decode().split()).lower()
        assert page.count("drain the oil hot") == 1, name


def test_without_a_schedule_the_oil_is_still_drained_hot(dataset: Dataset) -> None:
    rows = ask(TOPIC, {"cylinders": 4, "oil": {"sump": "2.5 L"}}, dataset).answer.result["work"]
    assert of_stage(rows, "after-run")[0].startswith("Drain the oil hot")


@pytest.mark.parametrize("rotation", ["clockwise", "anticlockwise"])
def test_a_mark_says_to_which_side_it_goes(rotation: str, dataset: Dataset) -> None:
    """28° before top dead centre is on the side to which the pulley turns: that mark has passed the pointer by then.

    35.4 mm is 145 mm · π · 28/360 by hand.
    """
    line = first(work(dataset, rotation=rotation, total_advance="28 deg"), "Mark total advance")
    assert line["words"].startswith(f"35.43 mm (1.395 in) along the rim, {rotation} of the mark of top dead centre")
    assert "passes the pointer before" in line["words"]


def test_a_mark_after_top_dead_centre_is_on_the_other_side(dataset: Dataset) -> None:
    """5° after it: 6.33 mm (145 mm · π · 5/360) against the rotation, told as a distance and not as a negative one."""
    line = first(work(dataset, rotation="clockwise", static_advance="-5 deg"), "Mark static advance")
    assert line["words"].startswith("6.33 mm (0.249 in) along the rim, anticlockwise of the mark of top dead centre")
    assert "passes the pointer after" in line["words"]


def test_inner_springs_come_out_before_they_are_refitted(dataset: Dataset) -> None:
    rows = work(dataset, spring="dual")
    (out,) = [row for row in rows if row["task"] == "Take the inner springs out for the break-in"]
    assert out["stage"] == "valve-train"
    assert "Refit inner springs" in " ".join(of_stage(rows, "after-run"))


@pytest.mark.parametrize("given", [{"spring": "single"}, {"spring": "dual", "tappet": "roller"}])
def test_springs_that_stay_in_are_not_refitted(given: dict[str, str], dataset: Dataset) -> None:
    """Single springs have no inner one, and roller tappets need no run without them."""
    assert not [row for row in work(dataset, **given) if "inner springs" in row["task"]]


def test_the_oil_is_named_where_it_is_filled_and_handed_over(dataset: Dataset) -> None:
    rows = work(dataset)
    for task in ("Fill oil in all", "Oil used"):
        assert "SAE 30" in first(rows, task)["words"]
        assert "1200 ppm phosphorus" in first(rows, task)["words"]


def test_an_oil_that_is_not_known_is_left_to_be_written_in(dataset: Dataset) -> None:
    rows = work(dataset, engine=None, grade=None, oil={"sump": "2.5 L"})
    assert first(rows, "Oil used")["words"] == ""


def test_the_first_800_km_have_a_speed(dataset: Dataset) -> None:
    """Three quarters of 4500 rpm are 3375 rpm; without the limit of this build the line stays to be filled in."""
    value = first(work(dataset), "Speed limit for the first 800 km")["value"]
    assert isinstance(value, Measure)
    assert value.si == pytest.approx(3375 * 3.14159265358979 / 30)
    assert first(work(dataset, rev_limit=None), "Speed limit for the first 800 km")["value"] is None


def test_hydraulic_tappets_get_preload_and_no_lash(dataset: Dataset) -> None:
    """The play is taken up to zero and the adjuster turned on; nobody is told to set zero lash or to check it cold."""
    rows = work(dataset, tappet="hydraulic")
    line = first(rows, "preload of every hydraulic tappet")
    assert line["stage"] == "closing-up"
    assert "half a turn to one turn" in line["words"]
    assert not [row for row in rows if "lash, stone cold" in row["task"] or "lash again" in row["task"]]
    assert "nothing to set" in first(rows, "Check the lash of every valve")["words"]
    assert "preload instead of lash" in first(rows, "Oil and lash")["words"]
    assert first(rows, "Preload of the hydraulic tappets")["stage"] == "hand-over"


def test_a_small_ring_gap_is_told_without_its_uncertainty(dataset: Dataset) -> None:
    """0.0035 of a 94 mm bore are 0.329 mm; 0.20 mm butts, whoever measured it. The limits stay undecided and say so."""
    answer = ask(TOPIC, {"bore": "94 mm", "clearance": [{"measured": "0.20 mm", "fit": "ring-gap-top"}]}, dataset).answer
    assert [f.fields for f in answer.findings if f.rule.code == "ring-gap-small"] == [("clearance.0.measured", "bore")]
    (gap,) = [entry for entry in answer.unchecked if entry["check"] == "clearance-out"]
    assert "clearance.0.uncertainty" in gap["needs"]
    assert "not decided" in first(answer.result["work"], "Measure ring gap top")["words"]
