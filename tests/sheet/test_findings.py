"""A master builder's findings over the whole build: what raises each rule, and what just does not.

The cases stand in ``findings.json``: a patch of the sound build that raises the rule, one just inside the limit that does
not, and why the limit is where it is. A patch maps places of the document (``torque.0.wrench.full_scale``) to values;
null takes a value away.
"""

import json
from copy import deepcopy
from functools import cache
from pathlib import Path
from typing import Any, cast

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from service.answers.asking import ask
from service.answers.break_in_verdicts import BY_REASON
from service.answers.envelope import RULES, SEVERITIES, STAGES, UNIT_SLIPS, Answer, Finding
from service.reference.dataset import Dataset
from service.sheet.sheet import SHEET_TOPICS, TOPIC

HERE = Path(__file__).parent
CASES: list[dict[str, Any]] = json.loads((HERE / "findings.json").read_text(encoding="utf-8"))
NOT_FROM_A_BUILD = {"no-combination-fits", "wasted-spark-doubling-log", *(rule.code for rule in BY_REASON.values())}
"""Rules of the combinations, which are asked before there is a build, and of a log; each is tested with its topic."""


@cache
def sound_text() -> str:
    return (HERE / "sound_build.json").read_text(encoding="utf-8")


def sound() -> dict[str, Any]:
    return cast("dict[str, Any]", json.loads(sound_text()))


def patched(patch: dict[str, Any]) -> dict[str, Any]:
    """The sound build with the values of a patch in their places."""
    document = sound()
    for place, value in patch.items():
        holder: Any = document
        *way, last = place.split(".")
        for part in way:
            holder = holder[int(part)] if isinstance(holder, list) else holder.setdefault(part, {})
        if isinstance(holder, list):
            holder[int(last) : int(last) + 1] = [value]
        elif value is None:
            holder.pop(last, None)
        else:
            holder[last] = value
    return document


def sheet(document: dict[str, Any], dataset: Dataset) -> Answer:
    return ask(TOPIC, document, dataset).answer


def raised(answer: Answer, code: str) -> list[Finding]:
    return [finding for finding in answer.findings if finding.rule.code == code]


def case_id(case: dict[str, Any]) -> str:
    return f"{case['code']}-{case['severity']}-{CASES.index(case)}"


@pytest.mark.parametrize("case", CASES, ids=case_id)
def test_a_build_over_the_limit_raises_the_finding(case: dict[str, Any], dataset: Dataset) -> None:
    """The rule is raised with the severity of this threshold, and names the fields that decide it."""
    found = [f for f in raised(sheet(patched(case["raises"]), dataset), case["code"]) if f.severity == case["severity"]]
    assert found, case["why"]
    assert list(found[0].fields) == case["fields"]
    assert found[0].message[0].isupper() or found[0].message[0].isdigit() or found[0].message[0] == "-"
    assert found[0].message.endswith((".", "?"))


@pytest.mark.parametrize("case", CASES, ids=case_id)
def test_a_build_just_inside_the_limit_does_not(case: dict[str, Any], dataset: Dataset) -> None:
    """The same rule is silent on the other side of its threshold."""
    assert raised(sheet(patched(case["within"]), dataset), case["code"]) == [], case["why"]


@pytest.mark.parametrize("case", CASES, ids=case_id)
def test_every_field_of_a_finding_stands_in_the_document(case: dict[str, Any], dataset: Dataset) -> None:
    """A technician can follow the field of a finding to a place where the document has, or takes, a value."""
    for finding in sheet(patched(case["raises"]), dataset).findings:
        for place in finding.fields:
            assert takes(place), place


def takes(place: str) -> bool:
    """Whether the build document has such a place: a name at the top, then names and indices of its model."""
    model: Any = TOPIC.request
    for part in place.split("."):
        if part.isdigit():
            continue
        if model is None or part not in model.model_fields:
            return False
        model = next((inner for inner in models_in(model.model_fields[part].annotation)), None)
    return True


def models_in(annotation: Any) -> list[Any]:
    """The models inside of an annotation such as ``Annotated[list[Model], …] | None``."""
    if hasattr(annotation, "model_fields"):
        return [annotation]
    parts = [*getattr(annotation, "__args__", ())]
    return [model for part in parts for model in models_in(part)]


def test_every_rule_that_a_build_can_break_is_tried() -> None:
    """No rule of the catalogue is without a case, but those of the combinations and of a log."""
    assert {case["code"] for case in CASES} == set(RULES) - NOT_FROM_A_BUILD
    assert len({case["code"] for case in CASES}) >= 90
    assert all(case["why"] for case in CASES)


def test_a_sound_build_raises_nothing_and_leaves_nothing_open(dataset: Dataset) -> None:
    """Complete and sound: no finding, not even a note; every section answered but the log; every check made."""
    answer = sheet(sound(), dataset)
    assert [(f.rule.code, f.message) for f in answer.findings] == []
    assert answer.unchecked == []
    assert answer.result["refused"] == []
    assert answer.result["missing"] == [{"input": "break_in_assessment.log", "unlocks": ["Break-in assessment"]}]


def place_in_order(finding: Finding) -> tuple[int, bool, int]:
    rule = finding.rule
    return SEVERITIES.index(finding.severity), rule.code not in UNIT_SLIPS, STAGES.index(rule.stage)


def test_findings_come_as_they_are_to_be_read(dataset: Dataset) -> None:
    """Questions first, slips of the unit before all others; then stop, fix, caution, note; then the stage of the work."""
    patch: dict[str, Any] = {
        "oil.reading.pressure": "42 bar",
        "oil.earlier": None,
        "valve_order.firing_order": "1-3-4-2",
        "lash.cold_lash": "0.11 mm",
        "fuel": "ron-95-e10",
        "checks.tappets_turn": False,
        "checks.second_person": False,
        "checks.turned_over_by_hand": False,
        "checks.oil_changed_after_run": False,
        "checks.float_bowl_filled": False,
        "checks.head_nuts_rechecked": False,
        "valve_spring.spring_mass": "70 g",
    }
    findings = sheet(patched(patch), dataset).findings
    codes = [finding.rule.code for finding in findings]
    assert codes == [
        "psi-as-bar",
        "conflicting-inputs",
        "not-turned-over-by-hand",
        "tappets-do-not-turn",
        "alone-at-first-fire",
        "float-bowl-empty",
        "oil-not-changed",
        "steel-rod-wide-lash",
        "ethanol-in-old-hoses",
        "spring-surge",
        "head-nuts-not-rechecked",
    ]
    assert findings == sorted(findings, key=place_in_order)


@pytest.mark.parametrize(
    ("patch", "pair"),
    [
        ({"valve_order.firing_order": "1-3-4-2"}, {"firing_order", "valve_order.firing_order"}),
        ({"compression.bore": "87 mm"}, {"bore", "compression.bore"}),
        ({"induction.temperature": "30 degC"}, {"air_temperature", "induction.temperature"}),
        ({"valve_spring.cam_lift": "9.0 mm"}, {"valve_events.cam_lift", "valve_spring.cam_lift"}),
        ({"oil.pressure_gauge": "lamp"}, {"checks.pressure_gauge_fitted", "oil.pressure_gauge"}),
        ({"compression_ratio": 9.0}, {"compression_ratio", "compression.chamber_volume"}),
        ({"cylinders": 2, "displacement.displacement": None}, {"cylinders", "firing_order"}),
        ({"cylinders": 2, "displacement.displacement": None}, {"cylinders", "compression.per_cylinder"}),
        ({"cylinders": 2, "displacement.displacement": None}, {"cylinders", "cylinder_check.gauge_pressures"}),
        ({"displacement.displacement": "1800 cm3"}, {"bore", "stroke", "displacement.displacement"}),
        ({"ignition.dwell_percent": "40 %"}, {"ignition.dwell", "ignition.dwell_percent"}),
    ],
)
def test_what_contradicts_itself_is_named_together(patch: dict[str, Any], pair: set[str], dataset: Dataset) -> None:
    """Both places are named and asked about, and the rest of the sheet stands."""
    answer = sheet(patched(patch), dataset)
    asked = [f for f in answer.findings if f.rule.code in ("conflicting-inputs", "section-refused")]
    assert pair in [set(finding.fields) for finding in asked]
    severity = {"conflicting-inputs": "ask", "section-refused": "fix"}
    assert [finding.severity for finding in asked] == [severity[finding.rule.code] for finding in asked]
    assert len(answer.parts) >= 15


def test_a_ratio_rounded_to_one_decimal_is_no_contradiction(dataset: Dataset) -> None:
    """The measurements make 7.78: 7.8 is the same figure."""
    assert raised(sheet(patched({"compression_ratio": 7.8}), dataset), "conflicting-inputs") == []


DIESELS = ("tm-5-4310-389-14", "tm-9-2815-200-35", "tm-5-3895-376-14p")
CERTIFICATED = ("tcds-e-205", "tcds-e-286")


@pytest.mark.parametrize(
    ("engine", "code"),
    [*((engine, "not-a-petrol-engine") for engine in DIESELS), *((engine, "aircraft-engine") for engine in CERTIFICATED)],
)
def test_an_engine_that_the_sheet_is_not_for_is_stopped(engine: str, code: str, dataset: Dataset) -> None:
    """Diesels by their manuals, and engines of type certificates: a stop, no plan of a run-in, no float bowl, no set point."""
    answer = sheet({"engine": engine, "tappet": "hydraulic"}, dataset)
    assert [(f.severity, f.fields) for f in raised(answer, code)] == [("stop", ("engine",))]
    assert raised(answer, "section-refused") == []
    assert "break_in_schedule" in [entry["section"] for entry in answer.result["refused"]]
    assert "break-in-schedule" in [entry["check"] for entry in answer.unchecked]
    assert "break_in_schedule" not in answer.result["sections"]
    assert not [line for line in answer.result["work"] if "loat bowl" in line["task"] or line["task"] == "Break in"]


@pytest.mark.parametrize("place", ["break_in_schedule", "valve_order"])
def test_an_engine_that_a_section_names_is_stopped_too(place: str, dataset: Dataset) -> None:
    """Wherever the diesel stands in the document."""
    answer = sheet({place: {"engine": "tm-5-4310-389-14"}, "tappet": "flat"}, dataset)
    assert [f.severity for f in raised(answer, "not-a-petrol-engine")] == ["stop"]


def test_a_hole_of_the_dataset_is_no_slip_of_the_caller(dataset: Dataset) -> None:
    """No lash is held of the side-valve four of TM 5-4320-218-15: a gap and a missing input, and nothing to correct."""
    answer = sheet({"engine": "tm-5-4320-218-15"}, dataset)
    assert answer.findings == []
    assert answer.result["refused"] == []
    assert {"input": "lash", "unlocks": ["Valve lash"]} in answer.result["missing"]
    (gap,) = [entry for entry in answer.unchecked if entry["check"] == "lash"]
    assert gap["needs"] == ["lash"]
    assert "holds no lash of this engine" in gap["why"]


def test_side_valves_have_no_rockers_to_look_at(dataset: Dataset) -> None:
    """The four of TM 5-4320-218-15 has side valves: neither gate nor check asks for oil at a rocker."""
    for engine, there in (("tm-5-4320-218-15", False), ("harrow-r17", True)):
        answer = sheet({"engine": engine, "checks": {}}, dataset)
        gates = {gate["id"] for gate in answer.result["sections"]["break_in_schedule"]["gates"]}
        assert ("oil-at-rockers" in gates) is there
        priming = answer.result["sections"]["break_in_schedule"]["stages"][0]["steps"]
        assert ("rocker" in " ".join(step["text"] for step in priming)) is there
        assert ("no-oil-at-rockers" in {entry["check"] for entry in answer.unchecked}) is there


@pytest.mark.parametrize(("typed", "meant"), [("air-cooled-flat-fuor", "air-cooled-flat-four"), ("harow-r17", "harrow-r17")])
def test_a_misspelt_engine_is_told_the_nearest(typed: str, meant: str, dataset: Dataset) -> None:
    """Torque, oil and schedule are refused by name, and the finding says which engine may be meant."""
    answer = sheet({"engine": typed}, dataset)
    (finding,) = raised(answer, "section-refused")
    assert f"Did you mean {meant}" in finding.message
    assert all(title in finding.message for title in ("Tightening torque", "Oil", "Break-in schedule"))
    assert {"torque", "oil", "break_in_schedule"} <= {entry["section"] for entry in answer.result["refused"]}


def test_the_checks_of_a_refused_section_are_a_gap(dataset: Dataset) -> None:
    """A piston 0.9 mm proud under a ring of 80 mm bore: what the compression would have stopped is listed as not checked."""
    answer = sheet(patched({"compression.deck_clearance": "-0.9 mm", "compression.gasket.bore": "80 mm"}), dataset)
    assert [f.severity for f in raised(answer, "section-refused")] == ["fix"]
    (gap,) = [entry for entry in answer.unchecked if entry["check"] == "compression"]
    assert gap["needs"] == ["compression.gasket.bore"]
    assert all(words in gap["why"] for words in ("quench below minimum", "ratio above fuel", "piston proud unsupported"))


def test_sizes_of_the_engine_are_taken_where_none_are_given(dataset: Dataset) -> None:
    """4 · π/4 · 85.5² · 69 mm³ = 1584.6 cm³ by hand, with all three sizes named as assumed; what is given stands."""
    answer = sheet({"engine": "air-cooled-flat-four"}, dataset)
    assert answer.result["sections"]["displacement"]["displacement"].si == pytest.approx(1584.6e-6, rel=1e-4)
    assumed = {entry["field"]: entry for entry in answer.assumptions}
    assert {"cylinders", "bore", "stroke"} <= set(assumed)
    assert assumed["bore"]["source"] == "common-practice"
    own = sheet({"engine": "air-cooled-flat-four", "bore": "88 mm"}, dataset)
    assert "bore" not in {entry["field"] for entry in own.assumptions}
    assert own.result["sections"]["displacement"]["bore"].si == pytest.approx(0.088)
    by_displacement = sheet({"engine": "air-cooled-flat-four", "induction": {"displacement": "1776 cm3"}}, dataset)
    assert not {"bore", "stroke"} & {entry["field"] for entry in by_displacement.assumptions}


def test_figures_of_the_dataset_are_not_asked_about(dataset: Dataset) -> None:
    """The bore of 5 1/8 in of type certificate E-286 is unusual here, but nobody has typed it."""
    assert raised(sheet({"engine": "tcds-e-286"}, dataset), "implausible-value") == []
    assert raised(sheet({"engine": "tcds-e-286", "bore": "130 mm"}, dataset), "implausible-value") != []


def test_an_unknown_engine_is_asked_about_once(dataset: Dataset) -> None:
    """Sections that are refused for one reason are named together; those that need no engine are answered."""
    answer = sheet({"engine": "no-such-engine", "bore": "86 mm", "stroke": "73 mm", "rod_length": "136 mm"}, dataset)
    asked = raised(answer, "section-refused")
    assert [finding.fields for finding in asked] == [("engine",)]
    assert "Valve lash" in asked[0].message
    assert "Oil" in asked[0].message


def test_a_finding_of_a_list_says_which_item_it_is_about(dataset: Dataset) -> None:
    """Of many fastenings and clearances the message names the one, and the fields its place."""
    answer = sheet(patched({"torque.1.torque": "36 N*m", "clearance.3.measured": "0.09 mm"}), dataset)
    assert raised(answer, "torque-above-limit")[0].message.startswith("Rod nut: ")
    assert raised(answer, "rod-side-small")[0].message.startswith("Rod side clearance: ")


def test_a_slip_of_the_unit_is_asked_about_once(dataset: Dataset) -> None:
    """The document and the section see the same value: one question."""
    answer = sheet(patched({"clearance.2.measured": "2.2 mm"}), dataset)
    assert len(raised(answer, "thou-as-mm")) == 1


# What the trade does every day must not be cried over, and what it warns of must not pass.
FLAT_FOUR: dict[str, Any] = {
    "engine": "air-cooled-flat-four",
    "cylinders": 4,
    "bore": "85.5 mm",
    "stroke": "69 mm",
    "rod_length": "137 mm",
    "rev_limit": "4600 rpm",
    "compression": {"chamber_volume": "53 cc", "deck_clearance": "1.3 mm"},
    "fuel": "ron-91",
    "tappet": "flat",
    "spring": "single",
    "pushrod_material": "aluminium",
    "lash": {"cold_lash": "0.15 mm"},
    "pulley_diameter": "145 mm",
    "total_advance": "30 deg",
    "static_advance": "7.5 deg",
    "grade": "30",
}


@pytest.mark.parametrize(
    ("change", "expected"),
    [
        ({}, set()),
        ({"pushrod_material": "steel", "lash": {"cold_lash": "0 mm"}}, set()),
        ({"pushrod_material": "steel", "lash": {"cold_lash": "0.15 mm"}}, {"steel-rod-wide-lash"}),
        ({"lash": {"cold_lash": "0 mm"}}, {"alu-rod-zero-lash", "hot-exhaust-clearance"}),
        ({"fuel": "ron-98", "compression": {"chamber_volume": "47 cc", "deck_clearance": "1.2 mm"}}, set()),
        ({"compression": {"chamber_volume": "47 cc", "deck_clearance": "1.2 mm"}}, {"ratio-above-fuel"}),
        ({"total_advance": "34 deg"}, {"advance-vs-ratio"}),
        ({"spring": "dual"}, {"springs-too-strong-for-run-in"}),
        ({"bore": "90.5 mm"}, {"register-machining"}),
        ({"stroke": "74 mm"}, {"stroke-clearance-unverified"}),
    ],
)
def test_common_practice_of_the_flat_four(change: dict[str, Any], expected: set[str], dataset: Dataset) -> None:
    """Ratios of 7.5 on RON 91, 0.15 mm with aluminium and zero with steel push rods pass; the usual mistakes do not."""
    answer = sheet(FLAT_FOUR | change, dataset)
    codes = {f.rule.code for f in answer.findings if f.severity != "note"}
    if "bore" in change or "stroke" in change:
        codes -= {"ratio-above-fuel"}
    assert codes == expected


def units_of(document: dict[str, Any]) -> list[tuple[str, ...]]:
    """What a technician can leave out: an input, a section's input, an item of a list; nested objects go as a whole."""
    found: list[tuple[str, ...]] = []
    for name, value in document.items():
        if isinstance(value, dict):
            found += [(name, inner) for inner in value]
        elif isinstance(value, list):
            found += [(name, str(index)) for index in range(len(value))]
        else:
            found.append((name,))
    return found


def kept(document: dict[str, Any], units: list[tuple[str, ...]]) -> dict[str, Any]:
    """Only these units of a document."""
    smaller: dict[str, Any] = {}
    for unit in units:
        value = document[unit[0]]
        if len(unit) == 1:
            smaller[unit[0]] = value
        elif isinstance(value, list):
            smaller.setdefault(unit[0], []).append(deepcopy(value[int(unit[1])]))
        else:
            smaller.setdefault(unit[0], {})[unit[1]] = value[unit[1]]
    return smaller


UNITS = units_of(sound())


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture], derandomize=True)
@given(
    units=st.lists(st.sampled_from(UNITS), unique=True) | st.permutations(UNITS).map(lambda units: units[: len(units) * 2 // 3])
)
def test_any_part_of_a_build_is_answered(units: list[tuple[str, ...]], dataset: Dataset) -> None:
    """Whatever is left out, the sheet is answered; each section is answered, wants an input, or says why it is refused."""
    answer = sheet(kept(sound(), units), dataset)
    result = answer.result
    wants = {title for entry in result["missing"] for title in entry["unlocks"]}
    refused = {entry["section"].partition(".")[0] for entry in result["refused"]}
    for topic in SHEET_TOPICS:
        assert topic.name in result["sections"] or topic.title in wants or topic.name in refused, topic.name
    names = [entry["input"] for entry in result["missing"]]
    assert len(names) == len(set(names))
    assert all(takes(name) for name in names)
    assert all(takes(need) for entry in answer.unchecked for need in entry["needs"] if need != "dataset")
    assert answer.findings == sorted(answer.findings, key=place_in_order)


def leaves(value: Any, place: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    if isinstance(value, dict):
        return [leaf for key, inner in value.items() for leaf in leaves(inner, (*place, key))]
    if isinstance(value, list):
        return [leaf for index, inner in enumerate(value) for leaf in leaves(inner, (*place, index))]
    return [place]


def without(value: Any, gone: frozenset[tuple[Any, ...]], place: tuple[Any, ...] = ()) -> Any:
    """The document without some of its leaves; what is empty then goes too."""
    if isinstance(value, dict):
        inner = {key: without(item, gone, (*place, key)) for key, item in value.items()}
        return {key: item for key, item in inner.items() if item is not None} or None
    if isinstance(value, list):
        items = [without(item, gone, (*place, index)) for index, item in enumerate(value)]
        return [item for item in items if item is not None] or None
    return None if place in gone else value


@settings(max_examples=100, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture], derandomize=True)
@given(gone=st.frozensets(st.sampled_from(leaves(sound())), max_size=12))
def test_any_leaf_may_be_missing(gone: frozenset[tuple[Any, ...]], dataset: Dataset) -> None:
    """Without some leaves the sheet is answered; only a nested object that is not whole any more is refused, by name."""
    try:
        answer = sheet(without(sound(), gone) or {}, dataset)
    except ValidationError as error:
        faults = error.errors()
        assert {fault["type"] for fault in faults} == {"missing"}
        assert all(len(fault["loc"]) > 2 for fault in faults)
    else:
        assert set(answer.result) == {"identity", "sections", "stages", "work", "missing", "refused"}
