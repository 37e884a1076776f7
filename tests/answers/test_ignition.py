"""The ignition topic: results against arithmetic by hand and published figures, every finding at its limit, refusals."""

import json
from math import pi, sin
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from service.answers.asking import ask
from service.answers.envelope import Answer
from service.answers.ignition import TOPIC
from service.errors import Contradiction, MissingInput, NotInDataset, OutsideValidity, RunstandError
from service.quantities import shown
from service.reference.dataset import Dataset
from tests.answers.reading import assumed, findings, unchecked
from tests.questions import changed, quantities

# An ignition that is right in every respect that this topic can check.
SOUND: dict[str, Any] = {
    "pulley_diameter": "145 mm",
    "rotation": "clockwise",
    "total_advance": "28 deg",
    "static_advance": "7.5 deg",
    "static_timing_set": True,
    "compression_ratio": 7.5,
    "dwell": "50 deg",
    "lobes": 4,
    "speed": "3000 rpm",
    "ignition": "points",
    "engine": "air-cooled-flat-four",
    "firing_order": "1-4-3-2",
    "leads": [4, 3, 2, 1],
    "rotor_rotation": "clockwise",
}
CURVE = [{"speed": "500 rpm", "advance": "0 deg"}, {"speed": "1500 rpm", "advance": "11 deg"}]


def answered(dataset: Dataset, **changes: Any) -> Answer:
    """The sound ignition with changes; ``None`` takes a field out."""
    return ask(TOPIC, changed(SOUND, changes), dataset).answer


def test_a_sound_ignition_has_no_findings_and_no_gaps(dataset: Dataset) -> None:
    """Everything is sent and everything is right: nothing is said."""
    answer = answered(dataset)
    assert findings(answer) == {}
    assert answer.unchecked == []


def test_marks_by_tape_and_by_caliper(dataset: Dataset) -> None:
    """By hand on 145 mm: 28° is π · 145 · 28/360 = 35.43 mm round the rim and 145 · sin 14° = 35.08 mm across."""
    marks = shown(answered(dataset).result)["marks"]
    assert marks["total"]["arc"]["value"] == pytest.approx(pi * 145 * 28 / 360)
    assert marks["total"]["chord"]["value"] == pytest.approx(145 * sin(14 * pi / 180))
    assert marks["total"]["arc"]["text"] == "35.43 mm (1.395 in)"
    assert marks["static"]["arc"]["value"] == pytest.approx(9.49, abs=5e-3)


def test_published_arc(dataset: Dataset) -> None:
    """Case G17: 10° on 180 mm are 15.708 mm; asked as a static advance."""
    answer = answered(dataset, pulley_diameter="180 mm", static_advance="10 deg")
    assert shown(answer.result)["marks"]["static"]["arc"]["value"] == pytest.approx(15.708, abs=1e-3)


def test_static_timing_after_top_dead_centre_lies_on_the_other_side(dataset: Dataset) -> None:
    """5° after is negative, as far away as 5° before."""
    after = shown(answered(dataset, static_advance="-5 deg").result)["marks"]["static"]
    before = shown(answered(dataset, static_advance="5 deg").result)["marks"]["static"]
    assert after["arc"]["value"] == pytest.approx(-before["arc"]["value"])
    assert after["chord"]["value"] == pytest.approx(-before["chord"]["value"])


def test_side_of_the_marks_is_the_rotation(dataset: Dataset) -> None:
    """A mark that passes the pointer before top dead centre lies ahead, on the side to which the pulley turns."""
    assert shown(answered(dataset, rotation="anticlockwise").result)["marks"]["side"] == "anticlockwise"
    of_engine = answered(dataset, rotation=None)
    assert shown(of_engine.result)["marks"]["side"] == "clockwise"
    assert ("fact", "engines/air-cooled-flat-four/rotation") in of_engine.basis
    unknown = answered(dataset, rotation=None, engine=None)
    assert "rotation" in assumed(unknown)


def test_curve_of_a_distributor(dataset: Dataset) -> None:
    """By hand: 0° at 500 and 11° at 1500 distributor rpm over 7.5° static are 7.5, 13 and 29.5° at 900, 1500, 3000 crank."""
    answer = answered(dataset, curve=CURVE, curve_shaft="distributor", total_advance=None)
    result = shown(answer.result)
    assert [row["advance"]["value"] for row in result["curve"]] == pytest.approx([7.5, 13.0, 29.5])
    assert [row["speed"]["value"] for row in result["curve"]] == pytest.approx([900, 1500, 3000])
    assert result["total_advance"]["value"] == pytest.approx(29.5)
    assert result["weight_advance"]["value"] == pytest.approx(22)


def test_curve_at_the_crank(dataset: Dataset) -> None:
    """The same figures read at the crank: 11° by 1500 rpm, 18.5° in all."""
    answer = answered(dataset, curve=CURVE, curve_shaft="crank", total_advance=None)
    assert [row["advance"]["value"] for row in shown(answer.result)["curve"]] == pytest.approx([11.9, 18.5, 18.5])


def test_dwell_in_three_forms(dataset: Dataset) -> None:
    """By hand: 50° of 90° is 55.6 %, and 50/(3 · 3000) s = 5.56 ms at 3000 rpm."""
    dwell = shown(answered(dataset).result)["dwell"]
    assert dwell["percent"]["value"] == pytest.approx(55.556, abs=1e-3)
    assert dwell["time"]["value"] == pytest.approx(5.556, abs=1e-3)
    assert dwell["time"]["unit"] == "ms"


def test_published_dwell(dataset: Dataset) -> None:
    """Case G18, TM 10-3930-653-14&P: 52° on four lobes is 57.78 %; sent as a percentage it is 52° again."""
    assert shown(answered(dataset, dwell="52 deg").result)["dwell"]["percent"]["value"] == pytest.approx(57.78, abs=0.01)
    back = answered(dataset, dwell=None, dwell_percent="57.78 %")
    assert shown(back.result)["dwell"]["angle"]["value"] == pytest.approx(52, abs=0.01)


@pytest.mark.parametrize(
    ("dwell", "lobes", "codes"),
    [
        ("42 deg", 4, []),
        ("58 deg", 4, []),
        ("41.9 deg", 4, ["dwell-points-disagree"]),
        ("58.1 deg", 4, ["dwell-points-disagree"]),
        ("33 deg", 6, []),
    ],
)
def test_dwell_of_four_lobes(dataset: Dataset, dwell: str, lobes: int, codes: list[str]) -> None:
    """42° to 58° on four lobes; the limits are of no other cam."""
    assert list(findings(answered(dataset, dwell=dwell, lobes=lobes))) == codes


@pytest.mark.parametrize(
    ("before", "codes"), [("50.5 deg", []), ("48 deg", ["timing-after-dwell"]), ("52 deg", ["timing-after-dwell"])]
)
def test_timing_follows_dwell(dataset: Dataset, before: str, codes: list[str]) -> None:
    """Two degrees more dwell are two crank degrees later: set the timing again."""
    answer = answered(dataset, dwell_before=before)
    assert list(findings(answer)) == codes
    shift = shown(answer.result)["dwell_timing_shift"]["value"]
    assert shift == pytest.approx(float(before.split()[0]) - 50)


def test_direction_of_the_shift_is_said(dataset: Dataset) -> None:
    """More dwell is later, less is earlier."""
    assert "later" in answered(dataset, dwell_before="47 deg").findings[0].message
    assert "earlier" in answered(dataset, dwell_before="53 deg").findings[0].message


def test_gap_and_dwell_of_a_government_manual(dataset: Dataset) -> None:
    """TM 10-3930-653-14&P: 0.45-0.55 mm go with 49-55°; from the middle, 0.55 mm gives 49° within a degree."""
    answer = answered(dataset, dwell="52 deg", points_gap="0.50 mm", points_gap_after="0.55 mm")
    change = shown(answer.result)["after_gap_change"]
    assert change["dwell"]["nominal"]["value"] == pytest.approx(49, abs=1)
    assert change["timing_shift"]["nominal"]["value"] == pytest.approx(52 - change["dwell"]["nominal"]["value"])
    assert change["timing_shift"]["low"]["value"] <= change["timing_shift"]["high"]["value"]


@pytest.mark.parametrize(
    ("total", "ratio", "codes"),
    [
        ("32 deg", 8.5, []),
        ("32.1 deg", 8.5, ["advance-vs-ratio"]),
        ("28 deg", 9.5, []),
        ("28.1 deg", 9.5, ["advance-vs-ratio"]),
        ("30 deg", 9.0, []),
    ],
)
def test_total_against_the_ratio(dataset: Dataset, total: str, ratio: float, codes: list[str]) -> None:
    """32° for all, 28° above a ratio of 9."""
    assert list(findings(answered(dataset, total_advance=total, compression_ratio=ratio))) == codes


def test_static_above_the_engine_limit(dataset: Dataset) -> None:
    """The family stands at 10° at most."""
    assert findings(answered(dataset, static_advance="10 deg")) == {}
    assert findings(answered(dataset, static_advance="10.5 deg")) == {"advance-vs-ratio": "caution"}


def test_distributor_degrees_are_asked_about(dataset: Dataset) -> None:
    """14° is little for a total and usual at the distributor."""
    codes = findings(answered(dataset, total_advance="14 deg"))
    assert codes["distributor-degrees"] == "ask"
    assert "distributor-degrees" not in findings(answered(dataset, total_advance="20 deg"))


def test_static_timing_must_be_set(dataset: Dataset) -> None:
    """Said not to be set: stop. Not said at all: a gap, never a pass."""
    assert findings(answered(dataset, static_timing_set=False))["static-timing-absent"] == "stop"
    silent = answered(dataset, static_timing_set=None, static_advance=None)
    assert "static-timing-absent" not in findings(silent)
    assert unchecked(silent)["static-timing-absent"] == ["static_advance"]


def test_dial_back_light(dataset: Dataset) -> None:
    """By hand: top dead centre at the pointer with 56 on the dial is 28° with a wasted spark, at half the shown speed."""
    light = {"mark": "0 deg", "dial": "56 deg", "wasted_spark": True}
    row = shown(answered(dataset, light=light).result)["timing_light"]
    assert row["advance"]["value"] == pytest.approx(28)
    assert row["shown_speed_times"] == 0.5
    assert row["dial_for_total"]["value"] == pytest.approx(28)
    assert row["dial_for_total_wasted_spark"]["value"] == pytest.approx(56)


def test_doubled_light_is_asked_about(dataset: Dataset) -> None:
    """56° on the dial and nothing said of the coil: ask. 28°: not checked. Said: neither."""
    doubled = answered(dataset, light={"mark": "0 deg", "dial": "56 deg"})
    assert findings(doubled) == {"wasted-spark-doubling": "ask"}
    assert "28.0°" in doubled.findings[0].message
    plain = answered(dataset, light={"mark": "0 deg", "dial": "28 deg"})
    assert findings(plain) == {}
    assert "wasted-spark-doubling" in unchecked(plain)
    said = answered(dataset, light={"mark": "0 deg", "dial": "28 deg", "wasted_spark": False})
    assert said.unchecked == []


def test_a_found_mark(dataset: Dataset) -> None:
    """35.43 mm by tape and 35.08 mm by caliper on 145 mm are both 28°."""
    by_tape = answered(dataset, mark_distance="35.43 mm", mark_tool="tape")
    by_caliper = answered(dataset, mark_distance="35.08 mm", mark_tool="caliper")
    assert shown(by_tape.result)["found_mark"]["value"] == pytest.approx(28, abs=0.01)
    assert shown(by_caliper.result)["found_mark"]["value"] == pytest.approx(28, abs=0.01)


@pytest.mark.parametrize(
    ("leads", "rotor", "fault", "misplaced"),
    [
        ([1, 4, 3, 2], "clockwise", "none", []),
        ([3, 2, 1, 4], "clockwise", "none", []),
        ([1, 2, 3, 4], "anticlockwise", "none", []),
        ([1, 2, 3, 4], "clockwise", "reversed", [2, 4]),
        ([1, 4, 2, 3], "clockwise", "two-swapped", [3, 4]),
    ],
)
def test_leads_of_the_cap(dataset: Dataset, leads: list[int], rotor: str, fault: str, misplaced: list[int]) -> None:
    """The circle of the firing order from any post; a fault is named with its posts and stops the start."""
    answer = answered(dataset, leads=leads, rotor_rotation=rotor)
    row = shown(answer.result)["leads"]
    assert row["fault"] == fault
    assert row["misplaced"] == misplaced
    assert findings(answer) == ({} if fault == "none" else {"leads-out-of-order": "stop"})


def test_plug_gap_by_kind_of_ignition(dataset: Dataset) -> None:
    """Points 0.6 to 0.7 mm, electronic 0.8 to 0.9 mm: of the family, or assumed and said so."""
    of_family = answered(dataset, ignition="electronic")
    assert shown(of_family.result)["plug_gap"]["low"]["value"] == pytest.approx(0.8)
    assert ("fact", "ignition/air-cooled-flat-four/plug_gap_electronic_low") in of_family.basis
    of_none = answered(dataset, engine=None)
    assert shown(of_none.result)["plug_gap"]["high"]["value"] == pytest.approx(0.7)
    assert "plug_gap" in assumed(of_none)


def test_the_engine_stands_in_for_total_and_lobes(dataset: Dataset) -> None:
    """What the family knows is used and named."""
    answer = answered(dataset, total_advance=None, lobes=None)
    assert shown(answer.result)["total_advance"]["value"] == pytest.approx(30)
    assert shown(answer.result)["dwell"]["percent"]["value"] == pytest.approx(55.556, abs=1e-3)
    assert {"total_advance", "lobes"} <= assumed(answer)


def test_gaps_name_what_is_needed(dataset: Dataset) -> None:
    """Pulley and total alone: every check that was not made is named."""
    gaps = unchecked(ask(TOPIC, {"pulley_diameter": "145 mm", "total_advance": "28 deg"}, dataset).answer)
    assert gaps["leads-out-of-order"] == ["firing_order", "leads", "rotor_rotation"]
    assert gaps["advance-vs-ratio"] == ["compression_ratio"]
    assert gaps["dwell-points-disagree"] == ["dwell"]
    assert gaps["plug-gap"] == ["ignition"]


@pytest.mark.parametrize(
    ("changes", "error", "field"),
    [
        ({"total_advance": None, "engine": None, "lobes": 4}, MissingInput, "total_advance"),
        ({"curve": CURVE}, MissingInput, "curve_shaft"),
        ({"curve": CURVE, "curve_shaft": "crank", "static_advance": None}, MissingInput, "static_advance"),
        ({"lobes": None, "engine": None}, MissingInput, "lobes"),
        ({"points_gap_after": "0.37 mm"}, MissingInput, "points_gap"),
        ({"points_gap": "0.4 mm", "points_gap_after": "0.37 mm", "dwell": None}, MissingInput, "dwell"),
        ({"mark_distance": "35 mm"}, MissingInput, "mark_tool"),
        ({"mark_distance": "146 mm", "mark_tool": "caliper"}, OutsideValidity, "mark_distance"),
        ({"mark_distance": "230 mm", "mark_tool": "tape"}, OutsideValidity, "mark_distance"),
        ({"dwell": "90 deg"}, OutsideValidity, "dwell"),
        ({"dwell": "46 deg", "lobes": 8}, OutsideValidity, "dwell"),
        ({"points_gap": "0.1 mm", "points_gap_after": "0.9 mm"}, OutsideValidity, "points_gap_after"),
        ({"firing_order": "1-3-4", "leads": [1, 3, 4]}, OutsideValidity, "firing_order"),
        (
            {"curve": [{"speed": "500 rpm", "advance": "25 deg"}], "curve_shaft": "distributor", "total_advance": None},
            OutsideValidity,
            "total_advance",
        ),
        ({"curve": list(reversed(CURVE)), "curve_shaft": "crank", "total_advance": None}, OutsideValidity, "curve/1/speed"),
        ({"engine": "steam"}, NotInDataset, "engine"),
    ],
)
def test_refusals_name_their_field(dataset: Dataset, changes: dict[str, Any], error: type[Exception], field: str) -> None:
    """Every refusal says which field, and of which kind it is."""
    with pytest.raises(error) as refusal:
        answered(dataset, **changes)
    assert getattr(refusal.value, "field", None) == field


@pytest.mark.parametrize(
    ("changes", "fields"),
    [
        ({"static_advance": "29 deg"}, ("static_advance", "total_advance")),
        ({"curve": CURVE, "curve_shaft": "crank"}, ("total_advance", "static_advance", "curve")),
        ({"dwell_percent": "50 %"}, ("dwell", "dwell_percent")),
        ({"leads": [1, 4, 3]}, ("leads", "firing_order")),
    ],
)
def test_contradictions_name_all_fields(dataset: Dataset, changes: dict[str, Any], fields: tuple[str, ...]) -> None:
    """Figures that cannot be true together."""
    with pytest.raises(Contradiction) as refusal:
        answered(dataset, **changes)
    assert refusal.value.fields == fields


CYLINDERS = st.integers(1, 8).flatmap(lambda n: st.permutations(range(1, n + 1)))
QUESTIONS = st.fixed_dictionaries(
    {"pulley_diameter": quantities(30, 600, "mm")},
    optional={
        "engine": st.just("air-cooled-flat-four"),
        "total_advance": quantities(5, 50, "deg"),
        "static_advance": quantities(-10, 30, "deg"),
        "curve": st.lists(
            st.fixed_dictionaries({"speed": quantities(0, 12000, "rpm"), "advance": quantities(0, 50, "deg")}),
            min_size=1,
            max_size=4,
        ),
        "curve_shaft": st.sampled_from(["crank", "distributor"]),
        "speed": quantities(1, 15000, "rpm"),
        "dwell": quantities(5, 350, "deg"),
        "dwell_percent": quantities(1, 99, "%"),
        "dwell_before": quantities(5, 350, "deg"),
        "lobes": st.integers(1, 16),
        "points_gap": quantities(0.1, 1, "mm"),
        "points_gap_after": quantities(0.1, 1, "mm"),
        "mark_distance": quantities(0, 900, "mm"),
        "mark_tool": st.sampled_from(["tape", "caliper"]),
        "light": st.fixed_dictionaries(
            {"mark": quantities(-60, 60, "deg")}, optional={"dial": quantities(0, 90, "deg"), "wasted_spark": st.booleans()}
        ),
        "firing_order": CYLINDERS.map(lambda order: "-".join(map(str, order))),
        "leads": CYLINDERS,
        "rotor_rotation": st.sampled_from(["clockwise", "anticlockwise"]),
    },
)


@settings(max_examples=300, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow])
@given(document=QUESTIONS)
def test_every_legal_question_is_answered_or_refused(dataset: Dataset, document: dict[str, Any]) -> None:
    """Finite figures in the shape of the result model, or a refusal with its reason; never a crash."""
    try:
        answer = ask(TOPIC, document, dataset).answer
    except (RunstandError, ValidationError):
        return
    TOPIC.result.model_validate(shown(answer.result))
    assert "NaN" not in json.dumps(shown(answer.result))
    assert "Infinity" not in json.dumps(shown(answer.result))
