"""The break-in plan as an answer: limits of the trade, findings, stages, cautions and resumption."""

import json
from dataclasses import replace
from itertools import pairwise
from typing import Any

import pytest

from service.answers.asking import ask
from service.answers.break_in_procedure import limits_of
from service.answers.break_in_request import as_question
from service.answers.break_in_rules import check_rev_limit
from service.answers.break_in_schedule import TOPIC
from service.answers.envelope import Answer
from service.calculations.break_in_limits import RPM
from service.errors import Contradiction, MissingInput, NotInDataset, OutsideValidity
from service.faces import json_face
from service.quantities import parse_text
from service.reference.dataset import Dataset
from tests.answers.reading import findings
from tests.published.cases import published

CASES = published("break_in_schedule")
SOUND: dict[str, Any] = {
    "tappet": "flat",
    "spring": "single",
    "open_load": "600 N",
    "rings": "iron",
    "lubrication": "moly-paste",
    "air_temperature": "20 degC",
    "rev_limit": "5000 rpm",
    "total_advance": "30 deg",
}


def answered(dataset: Dataset, **question: Any) -> Answer:
    return ask(TOPIC, question, dataset).answer


def stage(answer: Answer, name: str) -> dict[str, Any]:
    return next(row for row in answer.result["stages"] if row["name"] == name)


@pytest.mark.parametrize(
    ("request_", "low", "high", "minutes", "dwell"),
    [
        ({"tappet": "flat"}, 2000, 2800, 20, 60),
        ({"tappet": "flat", "spring": "stiff-single"}, 2000, 3000, 30, 45),
        ({"tappet": "flat", "open_load": "750 N"}, 2000, 3000, 30, 45),
        ({"tappet": "flat", "spring": "dual"}, 2000, 2800, 30, 45),
        ({"tappet": "hydraulic"}, 1800, 2500, 20, 60),
        ({"tappet": "mushroom"}, 2000, 2600, 20, 60),
        ({"tappet": "flat", "cam_surface": "nitrided"}, 1800, 2600, 15, 60),
        ({"tappet": "roller"}, 1200, 2500, 10, 120),
        ({"tappet": "flat", "new_cam": False}, 1500, 2500, 10, 120),
        ({"tappet": "flat", "speed_high": "4000 rpm"}, 2000, 4000, 15, 60),
    ],
)
def test_usual_limits_of_the_trade(
    dataset: Dataset, request_: dict[str, Any], low: float, high: float, minutes: float, dwell: float
) -> None:
    """The trade's table (common practice, from memory): band, minutes and longest dwell by tappet and spring."""
    answer = answered(dataset, **request_)
    result = answer.result
    assert result["speed_low"].si / RPM == pytest.approx(low)
    assert result["speed_high"].si / RPM == pytest.approx(high)
    assert result["duration"].si / 60 == pytest.approx(minutes)
    assert result["longest_dwell"].si == pytest.approx(dwell)
    assert result["proof"]["holds"]
    assert {entry["evidence"] for entry in answer.assumptions} == {"common-practice"}


def test_stages_stand_in_the_order_of_the_work(dataset: Dataset) -> None:
    answer = answered(dataset, **SOUND)
    names = [row["name"] for row in answer.result["stages"]]
    assert names == ["priming", "first_fire", "run", "cool_down", "after_run"]
    starts = [row["start"].si for row in answer.result["stages"] if row["start"] is not None]
    assert starts == sorted(starts)


def test_segments_fill_the_run_and_keep_the_band(dataset: Dataset) -> None:
    """By hand: 33 set points or so of at most 60 s fill 1,200 s; consecutive ones differ; all lie in 2,000 to 2,800 rpm."""
    segments = stage(answered(dataset, **SOUND), "run")["segments"]
    assert segments[0]["start"].si == 0
    assert sum(segment["duration"].si for segment in segments) == pytest.approx(1200)
    assert max(segment["duration"].si for segment in segments) <= 60
    speeds = [segment["speed"].si / RPM for segment in segments]
    assert min(speeds) >= 2000
    assert max(speeds) == pytest.approx(2800)
    assert all(abs(a - b) > 1 for a, b in pairwise(speeds))


def test_a_sound_build_has_no_finding_and_only_the_gates_open(dataset: Dataset) -> None:
    answer = answered(dataset, **SOUND)
    assert findings(answer) == {}
    assert [entry["needs"] for entry in answer.unchecked] == [["gates_done"]]
    gates = [gate["id"] for gate in answer.result["gates"]]
    assert answered(dataset, **SOUND, gates_done=gates).unchecked == []


@pytest.mark.parametrize(
    ("changes", "code", "severity"),
    [
        ({"speed_high": "3600 rpm"}, "run-in-band-high", "caution"),
        ({"speed_low": "1700 rpm"}, "run-in-floor-low", "fix"),
        ({"longest_dwell": "150 s"}, "run-in-steady", "fix"),
        ({"spring": "dual"}, "springs-too-strong-for-run-in", "fix"),
        ({"open_load": "950 N"}, "springs-too-strong-for-run-in", "fix"),
        ({"duration": "35 min"}, "run-in-long-without-load", "ask"),
        ({"duration": "12 min"}, "run-in-short", "caution"),
        ({"lubrication": "dry"}, "cam-assembled-dry", "stop"),
        ({"lubrication": "engine-oil"}, "cam-assembled-with-oil-only", "fix"),
        ({"air_temperature": "-5 degC"}, "run-in-cold", "caution"),
        ({"air_temperature": "40 degC"}, "run-in-hot-day", "caution"),
        ({"pressure_lost": True}, "run-in-after-pressure-loss", "stop"),
    ],
)
def test_each_finding_is_raised(dataset: Dataset, changes: dict[str, Any], code: str, severity: str) -> None:
    found = findings(answered(dataset, **{**SOUND, **changes}))
    assert found[code] == severity


@pytest.mark.parametrize(
    "changes",
    [
        {"speed_high": "3500 rpm", "duration": "20 min"},
        {"speed_low": "1800 rpm"},
        {"longest_dwell": "120 s"},
        {"spring": "stiff-single", "open_load": "900 N"},
        {"duration": "30 min"},
        {"duration": "20 min"},
        {"lubrication": "assembly-lube"},
        {"air_temperature": "0 degC"},
        {"air_temperature": "35 degC"},
        {"pressure_lost": False},
    ],
)
def test_just_inside_every_limit_nothing_is_raised(dataset: Dataset, changes: dict[str, Any]) -> None:
    assert findings(answered(dataset, **{**SOUND, **changes})) == {}


def test_rollers_do_not_get_the_warnings_of_flat_tappets(dataset: Dataset) -> None:
    found = findings(answered(dataset, tappet="roller", spring="dual", lubrication="dry", air_temperature="20 degC"))
    assert found == {}


def test_both_habits_are_accepted_and_named(dataset: Dataset) -> None:
    """2,000 to 4,000 rpm for 15 min and 2,000 to 2,800 rpm for 20 min: each says which it is and what speaks for the other."""
    wide = answered(dataset, tappet="flat", speed_low="2000 rpm", speed_high="4000 rpm", duration="15 min")
    narrow = answered(dataset, tappet="flat", duration="20 min")
    assert wide.result["habit"]["name"] == "wide-band"
    assert "mate" in wide.result["habit"]["other"]
    assert narrow.result["habit"]["name"] == "narrow-band"
    assert "splash" in narrow.result["habit"]["other"]
    assert findings(wide)["run-in-band-high"] == "caution"


@pytest.mark.parametrize(
    ("plan", "name", "own", "why", "other"),
    [
        ({"speed_high": "3500 rpm", "duration": "30 min"}, "wide-band", "2000 to 3500 rpm for 30 min", "splash", "mate"),
        ({"speed_high": "2600 rpm", "duration": "25 min"}, "narrow-band", "2000 to 2600 rpm for 25 min", "mate", "splash"),
    ],
)
def test_a_plan_of_its_own_is_told_as_it_is(
    dataset: Dataset, plan: dict[str, Any], name: str, own: str, why: str, other: str
) -> None:
    """Neither of the trade's figures is put in the place of the plan's own, and each habit has its reasons beside it."""
    habit = answered(dataset, tappet="flat", **plan).result["habit"]
    assert habit["name"] == name
    assert habit["is"].startswith(own)
    assert why in habit["why"]
    assert other in habit["other"]


def test_a_wide_band_for_an_engine_with_a_low_usual_limit_is_a_caution(dataset: Dataset) -> None:
    """The family's usual limit is a fact about the family, not about this build: it warns, it does not refuse."""
    answer = answered(dataset, engine="air-cooled-flat-four", speed_high="4000 rpm")
    assert findings(answer)["run-in-near-rev-limit"] == "caution"


@pytest.mark.parametrize(("speed", "severity"), [(2000, None), (2000.1, "caution"), (2500, "caution"), (2500.1, "stop")])
def test_a_band_above_a_usual_limit_is_a_stop(dataset: Dataset, speed: float, severity: str | None) -> None:
    """80 % of 2500 rpm are 2000 rpm: a caution above them, a stop above the limit itself."""
    found = Answer(result={})
    limits = limits_of(TOPIC.request.model_validate({"tappet": "flat"}), dataset, found)  # type: ignore[arg-type]
    found.findings.clear()
    check_rev_limit(replace(limits, speed_high=speed * RPM), 2500 * RPM, found)
    assert findings(found).get("run-in-near-rev-limit") == severity


def test_the_usual_band_stays_within_the_rev_limit(dataset: Dataset) -> None:
    """80 % of 3000 rpm are 2400 rpm, below the usual 2800; 80 % of 2600 leave less than 200 rpm above 2000."""
    answer = answered(dataset, tappet="flat", rev_limit="3000 rpm")
    assert answer.result["speed_high"].si / RPM == pytest.approx(2400)
    assert answer.result["proof"]["holds"]
    (assumed,) = [entry for entry in answer.assumptions if entry["field"] == "speed_high"]
    assert assumed["reason"].startswith("80 % of the rev limit")
    with pytest.raises(Contradiction) as refused:
        answered(dataset, tappet="flat", rev_limit="2600 rpm")
    assert refused.value.fields == ("speed_low", "rev_limit")


@pytest.mark.parametrize(("done", "left"), [("14 min", 360.0), ("840 s", 360.0), ("19.5 min", 30.0)])
def test_a_resumed_run_is_what_is_left(dataset: Dataset, done: str, left: float) -> None:
    answer = answered(dataset, tappet="flat", duration="20 min", credited=done)
    segments = stage(answer, "run")["segments"]
    assert sum(segment["duration"].si for segment in segments) == pytest.approx(left)
    assert answer.result["remaining"].si == pytest.approx(left)


def test_nothing_is_left_after_full_credit(dataset: Dataset) -> None:
    answer = answered(dataset, tappet="flat", duration="20 min", credited="21 min")
    assert stage(answer, "run")["segments"] == []
    assert answer.result["proof"] is None


@pytest.mark.parametrize(
    ("changes", "steps", "word"),
    [
        ({"stood": "5 min"}, 1, "Nothing to prime"),
        ({"stood": "30 min"}, 1, "ignition off"),
        ({"stood": "61 min"}, 5, "Fill the oil"),
        ({"stood": "5 min", "pressure_lost": True}, 5, "Fill the oil"),
    ],
)
def test_priming_follows_the_length_of_the_stop(dataset: Dataset, changes: dict[str, Any], steps: int, word: str) -> None:
    """Under 10 min nothing, up to an hour pressure by cranking, then a full prime; after a loss of pressure always full."""
    priming = stage(answered(dataset, tappet="flat", credited="5 min", **changes), "priming")["steps"]
    assert len(priming) == steps
    assert any(word in step["text"] for step in priming)


def test_every_stage_carries_its_cautions(dataset: Dataset) -> None:
    """Fuel and extinguisher, carbon monoxide, rotating parts, hot surfaces, hearing, battery, stand and jacks."""
    answer = answered(dataset, **SOUND)
    assert all(row["cautions"] for row in answer.result["stages"])
    everything = " ".join(text for row in answer.result["stages"] for text in row["cautions"]).casefold()
    everything += " ".join(step["text"] for step in stage(answer, "priming")["steps"]).casefold()
    for word in ("petrol", "extinguisher", "carbon monoxide", "fan", "600", "ear defenders", "battery", "stand", "jack"):
        assert word in everything, word


def test_stop_rules_carry_the_trades_figures(dataset: Dataset) -> None:
    """Head 200 °C, oil 110 and 120 °C, 69 kPa per 1,000 rpm for 2 s, 10 s after firing (common practice)."""
    rules = {rule["code"]: rule for rule in answered(dataset, **SOUND).result["stop_rules"]}
    assert rules["head-hot"]["limit"].si == pytest.approx(473.15)
    assert rules["oil-warm"]["limit"].si == pytest.approx(383.15)
    assert rules["oil-hot"]["limit"].si == pytest.approx(393.15)
    assert rules["pressure-low"]["limit"].si == pytest.approx(69e3)
    assert rules["pressure-low"]["lasting"].si == 2
    assert rules["no-pressure-after-start"]["lasting"].si == 10
    assert rules["carbon-monoxide"]["act"] == "evacuate"


def test_timing_names_the_moments_of_the_highest_holds(dataset: Dataset) -> None:
    result = answered(dataset, **SOUND).result
    segments = result["stages"][2]["segments"]
    for moment in result["timing"]["moments"]:
        during = [s for s in segments if s["start"].si <= moment.si < s["start"].si + s["duration"].si]
        assert during[0]["speed"].si == pytest.approx(2750 * RPM)
    offset = result["stages"][2]["start"].si
    assert f"it is {offset:g} s after firing" in result["timing"]["moments_count_from"]
    table = answered(dataset, **SOUND).table or []
    on_one_clock = [row["start"].si + row["ramp"].si for row in table if row["stage"] == "run"]
    assert all(moment.si + offset in on_one_clock for moment in result["timing"]["moments"])
    assert "below full advance" in result["timing"]["steps"][-1]
    wide = answered(dataset, tappet="flat", speed_high="4000 rpm").result
    assert "reaches full advance" in wide["timing"]["steps"][-1]


def test_inner_springs_are_refitted_only_where_there_are_any(dataset: Dataset) -> None:
    dual = " ".join(step["text"] for step in stage(answered(dataset, tappet="flat", spring="dual"), "after_run")["steps"])
    single = " ".join(step["text"] for step in stage(answered(dataset, tappet="flat", spring="single"), "after_run")["steps"])
    assert "inner springs" in dual
    assert "inner springs" not in single


def test_card_says_what_is_normal(dataset: Dataset) -> None:
    """Paint smoke from a new exhaust, an oil mist, a rough idle from a carburettor only set on the bench."""
    normal = " ".join(answered(dataset, **SOUND).result["normal"]).casefold()
    for word in ("paint", "oil mist", "carburettor", "bench"):
        assert word in normal


def test_an_answer_sent_back_asks_the_same_question(dataset: Dataset) -> None:
    first = ask(TOPIC, {"tappet": "flat", "spring": "dual", "duration": "25 min", "credited": "3 min"}, dataset)
    envelope = json.loads(json_face.write(first))
    for form in (envelope, envelope["result"]):
        again = answered(dataset, **as_question(form))
        for name in ("start", "duration", "speed"):
            one, two = ([segment[name].si for segment in stage(q, "run")["segments"]] for q in (first.answer, again))
            assert two == pytest.approx(one)
    assert as_question({"tappet": "flat"}) == {"tappet": "flat"}
    assert as_question("flat") == "flat"


def test_older_dataset_answers_too(library: Any) -> None:
    for version in library.versions:
        assert ask(TOPIC, SOUND, library.get(version)).answer.result["proof"]["holds"]


def test_refusals_say_what_to_send(dataset: Dataset) -> None:
    with pytest.raises(MissingInput) as missing:
        answered(dataset, duration="20 min")
    assert missing.value.field == "tappet"
    with pytest.raises(NotInDataset) as unknown:
        answered(dataset, engine="air-cooled-flat-fore")
    assert "air-cooled-flat-four" in unknown.value.nearest
    with pytest.raises(NotInDataset):
        answered(dataset, tappet="flat", procedure="flat-single")
    with pytest.raises(OutsideValidity, match="2000 rpm"):
        answered(dataset, tappet="flat", speed_low="1400 rpm")
    with pytest.raises(Contradiction, match="200 rpm above"):
        answered(dataset, tappet="flat", speed_low="2800 rpm", speed_high="2000 rpm")
    with pytest.raises(Contradiction, match="80 %"):
        answered(dataset, tappet="flat", speed_high="3500 rpm", rev_limit="4000 rpm")
    with pytest.raises(Contradiction, match="faster ramp"):
        answered(dataset, tappet="flat", ramp_rate="5 rpm/s", longest_dwell="20 s")


def test_case_s12_flat_tappets_between_1500_and_2500(dataset: Dataset) -> None:
    """Shop practice: the service stays inside the band and labels it as common practice."""
    case = CASES["S12"]
    answer = answered(dataset, **case["given"])
    speeds = [segment["speed"].si / RPM for segment in stage(answer, "run")["segments"]]
    assert min(speeds) >= case["expected"]["speed_low"]
    assert max(speeds) <= case["expected"]["speed_high"] + 1e-6
    minutes = answer.result["duration"].si / 60
    assert case["expected"]["minutes_low"] <= minutes <= case["expected"]["minutes_high"]
    assert all(entry["evidence"] != "standard" for entry in answer.basis.values())


def test_case_s20_first_oil_change(dataset: Dataset) -> None:
    """Shop practice: right after the run, then again within 500 miles."""
    case = CASES["S20"]
    steps = stage(answered(dataset, **case["given"]), "after_run")["steps"]
    drains = [step for step in steps if "oil" in step["text"].casefold() and "look at total" not in step["text"]]
    assert drains[0]["at"].si / 60 <= case["expected"]["first_change_within_min"]
    following = [step["distance"].si / 1000 for step in drains if step["distance"] is not None]
    assert min(following) <= case["expected"]["next_change_within_km"]


def test_case_s03_published_run_in_is_held(dataset: Dataset) -> None:
    """TM 5-3895-376-14&P: idle 10, half 10, full 20, idle 2 minutes, 42 in all."""
    case = CASES["S03"]
    steps = [e for e in dataset.entities("published-run-ins") if e.id.startswith(case["given"]["document"])]
    minutes = [step.si("duration") / 60 for step in sorted(steps, key=lambda e: e.si("order"))]
    assert minutes == pytest.approx(case["expected"]["minutes"])
    assert sum(minutes) == pytest.approx(case["expected"]["total"])


def test_case_o26_pressure_of_that_run_in() -> None:
    case = CASES["O26"]
    assert parse_text(case["given"]["value"], "pressure").si / 1e5 == pytest.approx(
        case["expected"]["bar"], abs=case["tolerance"]["abs"]
    )
