"""The build sheet as a whole: the document's model, its sections and stages, what one section hands to another, a log in it."""

import json
from math import exp
from pathlib import Path
from typing import Any, cast

import pytest

from service.answers.asking import Asked, ask
from service.answers.envelope import STAGES
from service.quantities import Quantity
from service.reference.dataset import Dataset
from service.sheet.document import OTHER_NAMES, SHARED_NAMES
from service.sheet.sheet import SHEET_TOPICS, TOPIC

SOUND = Path(__file__).with_name("sound_build.json")
DEMO = Path(__file__).parents[2] / "service" / "sheet" / "demo_build.json"


def sound(**more: Any) -> dict[str, Any]:
    return cast("dict[str, Any]", json.loads(SOUND.read_text(encoding="utf-8"))) | more


def sheet(document: dict[str, Any], dataset: Dataset) -> Asked:
    return ask(TOPIC, document, dataset)


def part(asked: Asked, name: str) -> Asked:
    """The one answered question of a topic."""
    (found,) = [inner for inner in asked.answer.parts if inner.topic.name == name]
    return found


def si(value: Any) -> float:
    assert isinstance(value, Quantity)
    return value.si


def run_log() -> str:
    """An invented run as CSV, 2 s apart: fired at once, twenty minutes through the band, a minute at 1500, off."""
    speeds = (2050, 2450, 2250, 2650, 2150, 2550, 2350, 2750)
    rows = [
        "time [s],speed [rpm],oil pressure [bar],oil temperature [degC],head temperature [degC]",
        "0,0,0,20,20",
        "2,900,3,20,21",
    ]
    for step in range(2, 645):
        time, wobble = 2 * step, (step * 7) % 5
        speed = speeds[step // 12 % 8] if time < 1212 else 1500 if time < 1272 else 1000 if time < 1284 else 0
        oil, head = 95 - 75 * exp(-time / 420), 160 - 140 * exp(-time / 150)
        pressure = 0.0 if speed == 0 else min(4.2, 1.17 * speed / 1000 * exp(-0.022 * (oil - 95))) + 0.01 * wobble
        rows.append(f"{time},{speed + (4 * wobble if speed else 0)},{pressure:.3f},{oil:.3f},{head:.3f}")
    return "\n".join(rows)


def test_the_document_has_every_section_and_the_shared_inputs() -> None:
    """A section for each topic in the sheet, lists where a topic is asked many times, every shared input at the top."""
    schema = TOPIC.request.model_json_schema()
    properties = schema["properties"]
    assert schema["additionalProperties"] is False
    assert "required" not in schema
    for topic in SHEET_TOPICS:
        (given,) = [form for form in properties[topic.name]["anyOf"] if form.get("type") != "null"]
        assert ("items" in given) == (topic.in_sheet == "list"), topic.name
        section = schema["$defs"]["".join(word.capitalize() for word in topic.name.split("_")) + "Section"]
        assert set(section["properties"]) == set(topic.request.model_fields)
        assert "required" not in section
    assert set(SHARED_NAMES) <= set(properties)
    assert not {topic.name for topic in SHEET_TOPICS} & set(SHARED_NAMES), "a shared input hides behind a section's name"


def test_every_other_name_is_a_field_of_its_topic() -> None:
    """The table of other names holds for the topics as they are."""
    fields = {topic.name: topic.request.model_fields for topic in SHEET_TOPICS}
    assert all(name in fields[topic] and shared in SHARED_NAMES for (topic, name), shared in OTHER_NAMES.items())


def test_an_empty_document_is_answered_with_what_it_would_take(dataset: Dataset) -> None:
    """No section, no work, no finding; every section says what unlocks it."""
    answer = sheet({}, dataset).answer
    assert answer.result["sections"] == {}
    assert answer.result["work"] == []
    assert answer.findings == []
    unlocked = {title for entry in answer.result["missing"] for title in entry["unlocks"]}
    assert unlocked == {topic.title for topic in SHEET_TOPICS}


def test_a_sound_build_has_every_section_in_its_stage(dataset: Dataset) -> None:
    """Sections stand in the stage of their topic; the stages are in the order of the work."""
    result = sheet(sound(), dataset).answer.result
    assert set(result["sections"]) == {topic.name for topic in SHEET_TOPICS} - {"break_in_assessment"}
    assert [stage["stage"] for stage in result["stages"]] == list(STAGES)
    placed = {path.partition(".")[0]: stage["stage"] for stage in result["stages"] for path in stage["sections"]}
    assert placed == {topic.name: topic.stage for topic in SHEET_TOPICS if topic.name in result["sections"]}
    assert all(stage["cautions"] for stage in result["stages"] if stage["sections"])


def test_the_work_is_in_the_order_of_the_stages(dataset: Dataset) -> None:
    """Measuring comes before closing up, closing up before the first fire, and the hand-over last."""
    work = sheet(sound(), dataset).answer.result["work"]
    stages = [STAGES.index(line["stage"]) for line in work]
    assert stages == sorted(stages)
    assert {line["stage"] for line in work} >= {"measuring", "trial-assembly", "valve-train", "closing-up", "pre-start"}
    assert work[-1]["stage"] == "hand-over"
    torques = [line["task"] for line in work if line["section"] == "torque"]
    rods = torques.index("Tighten rod nut to the full torque")
    heads = [place for place, task in enumerate(torques) if "cylinder head nut" in task]
    assert rods < min(heads)  # a rod is out of reach once its barrel and head are on


def test_lists_are_answered_item_by_item(dataset: Dataset) -> None:
    """Six clearances and two fastenings, each with its own answer in the order in which they were given."""
    asked = sheet(sound(), dataset)
    sections = asked.answer.result["sections"]
    assert [row["decision"] for row in sections["clearance"]] == ["accept"] * 6
    assert len(sections["torque"]) == 2
    fastened = [inner.inputs["fastener"] for inner in asked.answer.parts if inner.topic.name == "torque"]
    assert fastened == ["cylinder-head-nut", "rod-nut"]


def test_shared_inputs_reach_every_section(dataset: Dataset) -> None:
    """Given once at the top, under whatever name the section knows them."""
    asked = sheet(sound(), dataset)
    assert si(part(asked, "induction").request.temperature) == pytest.approx(293.15)  # type: ignore[attr-defined]
    assert si(part(asked, "power_correction").request.pressure) == pytest.approx(98_400)  # type: ignore[attr-defined]
    assert si(part(asked, "cylinder_check").request.pressure) == pytest.approx(98_400)  # type: ignore[attr-defined]
    for name in ("lash", "oil"):
        assert si(part(asked, name).request.start_temperature) == pytest.approx(283.15)  # type: ignore[attr-defined]


@pytest.mark.parametrize(
    ("section", "name", "expected"),
    [
        # 4 · π/4 · 0.086² · 0.073 m³ by hand
        ("induction", "displacement", 1.69617e-3),
        ("power_correction", "displacement", 1.69617e-3),
        # 34 + 180 + 62 = 276 crank degrees
        ("valve_spring", "duration", 4.81711),
        # of the valve events' own inputs
        ("valve_spring", "cam_lift", 8.4e-3),
        ("valve_order", "intake_opening", 0.593412),
        ("compression", "intake_closing", 1.082104),
        # 300 N + 28 N/mm · 9.1 mm = 554.8 N
        ("break_in_schedule", "open_load", 554.8),
    ],
)
def test_what_one_section_works_out_the_next_one_takes(section: str, name: str, expected: float, dataset: Dataset) -> None:
    """Nobody types a figure twice: checked against the hand arithmetic beside each."""
    request = part(sheet(sound(), dataset), section).request
    assert si(getattr(request, name)) == pytest.approx(expected, rel=1e-5)


def test_ratios_are_handed_on_too(dataset: Dataset) -> None:
    """The effective ratio of the compression is the one of the cylinder check; its ratio is the ignition's."""
    asked = sheet({name: value for name, value in sound().items() if name != "compression_ratio"}, dataset)
    compression = asked.answer.result["sections"]["compression"]
    assert part(asked, "cylinder_check").inputs["effective_ratio"] == compression["effective_ratio"]
    assert part(asked, "ignition").inputs["compression_ratio"] == compression["compression_ratio"]


def test_what_was_given_stands_before_what_was_worked_out(dataset: Dataset) -> None:
    """A measured open load is used for the break-in, not the computed one."""
    document = sound()
    document["break_in_schedule"] = {**document["break_in_schedule"], "open_load": "600 N"}
    assert si(part(sheet(document, dataset), "break_in_schedule").request.open_load) == 600  # type: ignore[attr-defined]


def test_the_preload_of_the_rod_bolts_is_that_of_their_torque(dataset: Dataset) -> None:
    """The lower end of the preload of the rod nut is what must hold the joint."""
    asked = sheet(sound(), dataset)
    (rod,) = [inner for inner in asked.answer.parts if inner.inputs.get("fastener") == "rod-nut"]
    low = rod.answer.result["preload"]["low"].si
    assert si(part(asked, "piston_motion").request.rod_bolt_preload) == pytest.approx(low)  # type: ignore[attr-defined]


def test_answers_by_yes_or_no_open_the_gates(dataset: Dataset) -> None:
    """What was answered with yes is done before the first fire."""
    gates = sheet(sound(), dataset).answer.result["sections"]["break_in_schedule"]["gates"]
    assert all(gate["done"] for gate in gates)
    document = sound()
    document["checks"] = {**document["checks"], "second_person": False}
    gates = sheet(document, dataset).answer.result["sections"]["break_in_schedule"]["gates"]
    assert [gate["done"] for gate in gates].count(False) == 1


def done(checks: dict[str, bool], dataset: Dataset) -> set[str]:
    """The gates that a build is told to have passed with nothing but these answers."""
    plan = sheet({"tappet": "flat", "checks": checks}, dataset).answer.result["sections"]["break_in_schedule"]
    return {gate["id"] for gate in plan["gates"] if gate["done"]}


OUTSIDE = {"exhaust_led_outside": True, "carbon_monoxide_alarm": True}
MAGNESIUM = {"extinguisher_in_reach": True, "magnesium_chips_about": True, "class_d_or_sand_in_reach": True}


@pytest.mark.parametrize(
    ("checks", "gates"),
    [
        (OUTSIDE, {"exhaust-outside"}),
        ({**OUTSIDE, "carbon_monoxide_alarm": False}, set()),
        ({**OUTSIDE, "exhaust_led_outside": False}, set()),
        ({"exhaust_led_outside": True}, set()),
        (MAGNESIUM, {"extinguishers"}),
        ({**MAGNESIUM, "class_d_or_sand_in_reach": False}, set()),
        ({**MAGNESIUM, "extinguisher_in_reach": False}, set()),
        ({"extinguisher_in_reach": True, "magnesium_chips_about": False}, {"extinguishers"}),
        ({"extinguisher_in_reach": True, "magnesium_chips_about": False, "class_d_or_sand_in_reach": False}, {"extinguishers"}),
        ({"extinguisher_in_reach": True, "magnesium_chips_about": True}, set()),
        ({"extinguisher_in_reach": True}, set()),
    ],
)
def test_a_gate_is_done_only_when_all_its_words_are_answered(
    checks: dict[str, bool], gates: set[str], dataset: Dataset
) -> None:
    """An exhaust led outside without an alarm, or an extinguisher beside bare magnesium, opens no gate."""
    assert done(checks, dataset) == gates


@pytest.mark.parametrize(
    "broken", [{**OUTSIDE, "carbon_monoxide_alarm": False}, {**MAGNESIUM, "class_d_or_sand_in_reach": False}]
)
def test_no_gate_is_ticked_in_the_work_beside_a_stop(broken: dict[str, bool], dataset: Dataset) -> None:
    answer = sheet({"tappet": "flat", "checks": broken}, dataset).answer
    assert [finding.severity for finding in answer.findings if finding.rule.stage == "first-fire"].count("stop") == 1
    gates = {gate["text"] for gate in answer.result["sections"]["break_in_schedule"]["gates"]}
    assert not [line for line in answer.result["work"] if line["task"] in gates and line["words"] == "done"]


def test_a_stop_of_the_checks_leaves_its_gate_open(dataset: Dataset) -> None:
    """Of a sound build each answer that raises a stop or a fix before the first fire takes a gate away with it."""
    sound_checks: dict[str, bool] = sound()["checks"]
    assert len(done(sound_checks, dataset)) == 15
    for name in ("carbon_monoxide_alarm", "exhaust_led_outside", "fuel_leak_checked", "tappets_turn", "kill_switch_in_reach"):
        assert len(done({**sound_checks, name: False}, dataset)) == 14, name


def test_the_demo_is_honest_about_its_gates(dataset: Dataset) -> None:
    """What the demo build does not answer stands open; what it answers stands for every word of the gate."""
    demo = json.loads(DEMO.read_text(encoding="utf-8"))
    assert {"carbon_monoxide_alarm", "magnesium_chips_about", "class_d_or_sand_in_reach"} <= set(demo["checks"])
    gates = sheet(demo, dataset).answer.result["sections"]["break_in_schedule"]["gates"]
    still_open = {gate["id"] for gate in gates if not gate["done"]}
    assert still_open == {"oil-filled", "pressure-on-cranking", "oil-at-rockers", "float-bowl", "fuel-leaks", "log-running"}


@pytest.mark.parametrize("given", [{}, {"pressure_gauge": "none"}, {"pressure_gauge": "lamp"}])
def test_an_engine_without_a_gauge_is_not_said_to_have_a_lamp(given: dict[str, str], dataset: Dataset) -> None:
    """The check asks for the gauge alone: a lamp is named only where the oil section names it, and then it is no conflict."""
    document = {"checks": {"pressure_gauge_fitted": False}, "oil": {"sump": "2.5 L", **given}}
    answer = sheet(document, dataset).answer
    (message,) = [f.message for f in answer.findings if f.rule.code == "no-pressure-gauge"]
    assert message.startswith("The oil pressure is to be watched on a warning lamp" if "lamp" in given.values() else "No oil")
    assert "tells too late" in message
    assert "conflicting-inputs" not in {f.rule.code for f in answer.findings}


def test_a_family_names_the_fastenings_of_a_build_that_names_none(dataset: Dataset) -> None:
    """An engine alone gives the torque list of its family; no engine and no list is told as missing."""
    listed = sheet({"engine": "harrow-r17"}, dataset).answer.result
    assert len(listed["sections"]["torque"]) == len(dataset.names_of_engine("fasteners", "harrow-r17"))
    bare = sheet({"bore": "86 mm"}, dataset).answer.result
    assert {"input": "torque", "unlocks": ["Tightening torque"]} in bare["missing"]


def test_one_wrench_that_was_not_named_is_one_gap(dataset: Dataset) -> None:
    """Fifteen fasteners and no wrench: the check stands once with every place that waits; another time it is the same."""
    for _ in range(2):
        unchecked = sheet({"engine": "air-cooled-flat-four"}, dataset).answer.unchecked
        (gap,) = [entry for entry in unchecked if entry["check"] == "wrench-low-in-range"]
        count = len(sheet({"engine": "air-cooled-flat-four"}, dataset).answer.result["sections"]["torque"])
        assert gap["needs"] == [f"torque.{place}.wrench.full_scale" for place in range(count)]
        named = [(entry["check"], entry.get("why"), frozenset(entry["needs"])) for entry in unchecked]
        assert len(set(named)) == len(named)
    torques = [
        {"fastener": "rod-nut", "wrench": {"full_scale": "60 N*m"}},
        {"fastener": "drain-plug"},
        {"fastener": "spark-plug"},
    ]
    unchecked = sheet({"engine": "air-cooled-flat-four", "torque": torques}, dataset).answer.unchecked
    (gap,) = [entry for entry in unchecked if entry["check"] == "wrench-low-in-range"]
    assert gap["needs"] == ["torque.1.wrench.full_scale", "torque.2.wrench.full_scale"]


def test_a_stock_that_fits_nothing_leaves_the_sheet_standing(dataset: Dataset) -> None:
    """Without a set of shims there is a finding and no line to fit them."""
    document = sound()
    document["shims"] = {"gap": "1.18 mm", "pick": 3, "stock": {"0.20 mm": 3}}
    answer = sheet(document, dataset).answer
    assert "shims-do-not-fit" in {finding.rule.code for finding in answer.findings}
    assert [line for line in answer.result["work"] if line["section"] == "shims"] == []


def test_a_log_is_assessed_against_the_schedule_of_the_sheet(dataset: Dataset) -> None:
    """The log alone is enough: its schedule, its oil and its tappets are those of the sheet."""
    asked = sheet(sound(break_in_assessment={"log": run_log()}), dataset)
    result = asked.answer.result
    assert result["missing"] == []
    assessment = result["sections"]["break_in_assessment"]
    assert assessment["verdict"] == "complete"
    assert assessment["credited_time"].si == pytest.approx(1200, abs=20)
    assert part(asked, "break_in_assessment").request.schedule == part(asked, "break_in_schedule").request  # type: ignore[attr-defined]
    assert {line["section"] for line in result["work"] if line["stage"] == "after-run"} >= {"break_in_assessment"}
    assert [f.rule.code for f in asked.answer.findings if f.severity in ("stop", "fix")] == []


def test_a_log_goes_through_the_route(client: Any) -> None:
    """The route of the sheet takes a text as long as a log; such a question has no address, one without a log has."""
    log = run_log()
    assert len(log) > 10_000
    answer = client.post("/v1/build-sheet", sound(break_in_assessment={"log": log}))
    assert answer.status_code == 200, answer.text
    assert answer.json()["result"]["sections"]["break_in_assessment"]["verdict"] == "complete"
    assert not answer.json()["links"].get("self")
    plain = client.post("/v1/build-sheet", sound())
    link = plain.json()["links"]["self"]
    again = client.get(link)
    assert again.status_code == 200, again.text
    assert again.json()["answer_id"] == plain.json()["answer_id"]


HOSTILE = "<script>alert(1)</script> & \"quotes\" 'n' <blink>"


def test_what_was_typed_is_shown_and_never_run(client: Any) -> None:
    """Free words come back in JSON as they were sent; on the page they are text."""
    document = sound(identity={"name": HOSTILE, "remarks": HOSTILE}, parts=[{"role": HOSTILE, "description": HOSTILE}])
    told = client.post("/v1/build-sheet", document)
    assert told.json()["result"]["identity"]["name"] == HOSTILE
    page = client.post("/v1/build-sheet", document, headers={"accept": "text/html"})
    assert page.status_code == 200, page.text
    assert "<script>alert" not in page.text
    assert "<blink>" not in page.text
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in page.text


@pytest.mark.parametrize(
    ("patch", "pointer"),
    [
        ({"bore": "3.4 mm"}, "/bore"),
        ({"nonsense": 1}, "/nonsense"),
        ({"compression": {"chamber_volume": 52}}, "/compression/chamber_volume"),
        ({"torque": [{"fastener": "rod-nut", "torque": "32"}]}, "/torque/0/torque"),
    ],
)
def test_a_document_that_is_none_is_refused_by_place(patch: dict[str, Any], pointer: str, client: Any) -> None:
    """A value outside its hard range, an unknown name, a missing unit: the pointer says where."""
    answer = client.post("/v1/build-sheet", sound(**patch))
    assert answer.status_code == 422, answer.text
    assert pointer in [error["pointer"].removeprefix("#") for error in answer.json()["errors"]]
