"""The valve events topic: cards by hand, every finding at its limit, assumptions, gaps and refusals."""

from math import cos, degrees, radians
from typing import Any

import pytest

from service.answers.asking import ask
from service.answers.envelope import Answer
from service.answers.valve_events import TOPIC
from service.errors import Contradiction, MissingInput, OutsideValidity
from service.quantities import shown
from service.reference.dataset import Dataset
from tests.answers.reading import assumed, findings, unchecked
from tests.questions import changed

CARD = {
    "intake_opening": "34 deg",
    "intake_closing": "62 deg",
    "exhaust_opening": "70 deg",
    "exhaust_closing": "26 deg",
}
# A cam with everything known and everything right: 276/236° on 108° with 4° of advance, 8.4 mm.
SOUND: dict[str, Any] = CARD | {
    "intake_duration": "276 deg",
    "exhaust_duration": "276 deg",
    "lobe_separation": "108 deg",
    "advance": "4 deg",
    "cam_lift": "8.4 mm",
    "exhaust_cam_lift": "8.4 mm",
    "rocker_ratio": 1.1,
    "lash": "0.15 mm",
    "checking_lift": "0.3 mm",
    "checked_duration": "236 deg",
    "second_checking_lift": "1.27 mm",
    "base_circle_radius": "15.5 mm",
    "tappet_diameter": "24 mm",
    "stroke": "73 mm",
    "rod_length": "136 mm",
    "pin_offset": "0 mm",
    "valve_angle": "10 deg",
    "intake_gap_at_top": "5.2 mm",
    "exhaust_gap_at_top": "5.2 mm",
}


def answered(dataset: Dataset, **changes: Any) -> Answer:
    """The sound cam with changes; ``None`` takes a field out."""
    return ask(TOPIC, changed(SOUND, changes), dataset).answer


def degrees_of(answer: Answer, name: str) -> float:
    return float(shown(answer.result[name])["value"])


def test_a_sound_cam_has_no_findings_and_no_gaps(dataset: Dataset) -> None:
    """Everything is sent and right: nothing is said; only the exhaust lobe's shape is supplied."""
    answer = answered(dataset)
    assert findings(answer) == {}
    assert answer.unchecked == []
    assert [entry["field"] for entry in answer.assumptions] == ["exhaust_lobe"]


def test_card_to_timing_by_hand(dataset: Dataset) -> None:
    """34/62/70/26: 276 both, lobe centres 104 and 112, separation 108, overlap 60, advance 4."""
    answer = ask(TOPIC, CARD, dataset).answer
    expected = {
        "intake_duration": 276,
        "exhaust_duration": 276,
        "intake_lobe_centre": 104,
        "exhaust_lobe_centre": 112,
        "lobe_separation": 108,
        "overlap": 60,
        "advance": 4,
    }
    assert {name: degrees_of(answer, name) for name in expected} == pytest.approx(expected, abs=1e-9)


def test_timing_to_card_by_hand(dataset: Dataset) -> None:
    """276 on 108 straight up opens at 30 and closes at 66 and 30: no advance is assumed and said."""
    document = {"intake_duration": "276 deg", "exhaust_duration": "276 deg", "lobe_separation": "108 deg"}
    answer = ask(TOPIC, document, dataset).answer
    expected = {"intake_opening": 30, "intake_closing": 66, "exhaust_opening": 66, "exhaust_closing": 30, "advance": 0}
    assert {name: degrees_of(answer, name) for name in expected} == pytest.approx(expected, abs=1e-9)
    assert [entry["field"] for entry in answer.assumptions] == ["advance"]


def test_lift_by_hand(dataset: Dataset) -> None:
    """1.1 · 8.4 − 0.15 = 9.09 mm; the exhaust's own lift is used where it is given."""
    lift = answered(dataset, exhaust_cam_lift="8 mm").result["lift"]
    assert lift["intake"].si == pytest.approx(9.09e-3, rel=1e-12)
    assert lift["exhaust"].si == pytest.approx(8.65e-3, rel=1e-12)
    bare = answered(dataset, rocker_ratio=None, lash=None, exhaust_cam_lift=None)
    assert bare.result["lift"]["intake"].si == pytest.approx(8.4e-3, rel=1e-12)
    assert {"rocker_ratio", "lash", "exhaust_cam_lift"} <= assumed(bare)


def test_lobe_of_the_handbook(dataset: Dataset) -> None:
    """Exponent 8.08, 10.55 mm/rad, tappet over 23.1 mm, least radius 6.8 mm (handbook, worked apart)."""
    lobe = answered(dataset).result["lobe"]
    assert lobe["estimate"] is True
    assert lobe["exponent"] == pytest.approx(8.08, abs=0.005)
    assert lobe["lift_rate"].si == pytest.approx(10.55e-3, abs=1e-5)
    assert lobe["tappet_diameter_needed"].si == pytest.approx(23.1e-3, abs=5e-5)
    assert lobe["least_radius"].si == pytest.approx(6.8e-3, abs=5e-5)


def test_gap_of_the_handbook(dataset: Dataset) -> None:
    """2.27 mm at +7° with 5.2 mm of intake gap, 2.84 mm at −7° with 5.0 mm of exhaust gap (handbook, worked apart)."""
    gaps = answered(dataset, exhaust_gap_at_top="5 mm").result["valve_to_piston"]
    assert gaps["intake"]["gap"].si == pytest.approx(2.27e-3, abs=5e-6)
    assert shown(gaps["intake"]["crank_angle"])["value"] == pytest.approx(7, abs=0.5)
    assert gaps["exhaust"]["gap"].si == pytest.approx(2.84e-3, abs=5e-6)
    assert shown(gaps["exhaust"]["crank_angle"])["value"] == pytest.approx(-7, abs=0.5)
    assert gaps["intake"]["measured"] is False


def test_a_cam_of_arcs_is_exact(dataset: Dataset) -> None:
    """Bevan's cam (55° to the nose, 1.125 and 0.125 in, 0.5 in of lift): nose radius back, no estimate."""
    document = {
        "intake_opening": "10 deg",
        "intake_closing": "30 deg",
        "exhaust_opening": "30 deg",
        "exhaust_closing": "10 deg",
        "cam_lift": "0.5 in",
        "base_circle_radius": "1.125 in",
        "nose_radius": "0.125 in",
    }
    lobe = ask(TOPIC, document, dataset).answer.result["lobe"]
    assert lobe["estimate"] is False
    assert "exponent" not in lobe
    assert lobe["nose_radius"].si == pytest.approx(0.125 * 0.0254, rel=1e-9)
    assert shown(lobe["half_width"])["value"] == pytest.approx(55)


ARCS = {
    "intake_opening": "10 deg",
    "intake_closing": "30 deg",
    "exhaust_opening": "30 deg",
    "exhaust_closing": "10 deg",
    "cam_lift": "0.5 in",
    "base_circle_radius": "1.125 in",
    "nose_radius": "0.125 in",
}


def test_a_cam_of_arcs_checked_at_a_lift_is_wider_than_its_card(dataset: Dataset) -> None:
    """220° at 0.050 in: at 55° from the nose the flank s = OP (1 − cos t) stands at 0.050 in, with Bevan's OP of the width.

    In inches OQ = 1.125 + 0.5 − 0.125 = 1.5, d = 1, OP = (1.5² − 1)/(2 (1 − 1.5 cos α)); by bisection by hand α = 71.75°.
    """
    answer = ask(TOPIC, ARCS | {"checking_lift": "0.050 in"}, dataset).answer
    half = radians(shown(answer.result["lobe"]["half_width"])["value"])
    centre = 1.25 / (2 * (1 - 1.5 * cos(half)))
    assert centre * (1 - cos(half - radians(55))) == pytest.approx(0.050, rel=1e-6)
    assert degrees(half) == pytest.approx(71.75, abs=0.05)
    # Where flank and nose meet OP sin t = OQ sin(α − t): 0.7707 in/rad, so the tappet is 2 · (19.58 + 1) mm.
    assert answer.result["lobe"]["tappet_diameter_needed"].si == pytest.approx(41.15e-3, abs=2e-4)
    assert "checking_lift" not in assumed(answer)


def test_a_cam_of_arcs_is_taken_at_no_lift_only_aloud(dataset: Dataset) -> None:
    """Without a checking lift the card's events are taken as the ends of the flanks, and it says so."""
    answer = ask(TOPIC, ARCS, dataset).answer
    assert {entry["field"]: entry["value"].si for entry in answer.assumptions if entry["field"] == "checking_lift"} == {
        "checking_lift": 0.0
    }
    assert shown(answer.result["lobe"]["half_width"])["value"] == pytest.approx(55)


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"checking_lift": "2.9 mm", "cam_lift": "2.5 mm"}, "checking_lift"),
        # 340 crank degrees at 1 mm ask for flanks beyond a quarter turn of the cam from the nose.
        ({"intake_opening": "70 deg", "intake_closing": "90 deg", "checking_lift": "3 mm"}, "intake_duration"),
        ({"intake_opening": "90 deg", "intake_closing": "95 deg"}, "intake_duration"),
    ],
)
def test_an_impossible_cam_of_arcs_names_what_was_sent(dataset: Dataset, changes: dict[str, Any], field: str) -> None:
    """The refusal names inputs of the question, not figures of the calculation."""
    with pytest.raises((Contradiction, OutsideValidity)) as refused:
        ask(TOPIC, ARCS | changes, dataset)
    error = refused.value
    assert (error.fields[0] if isinstance(error, Contradiction) else getattr(error, "field", "")) == field


def test_the_exhaust_lobe_stands_on_its_own_tappet(dataset: Dataset) -> None:
    """10.5 mm of exhaust lift over the same duration is 10.55 · 10.5/8.4 = 13.19 mm/rad: 26 mm of face is too small."""
    answer = answered(dataset, exhaust_cam_lift="10.5 mm", tappet_diameter="26 mm")
    edges = [finding for finding in answer.findings if finding.rule.code == "tappet-edge"]
    assert [finding.severity for finding in edges] == ["stop"]
    assert edges[0].message.startswith("Exhaust lobe: ")
    assert "13.19 mm" in edges[0].message
    assert "28.38 mm" in edges[0].message
    assert edges[0].fields == ("tappet_diameter", "exhaust_cam_lift")
    assert answer.result["exhaust_lobe"]["tappet_diameter_needed"].si == pytest.approx(2 * (13.19e-3 + 1e-3), abs=5e-5)
    assert answer.result["exhaust_lobe"]["estimate"] is True
    assert "tappet-edge" not in findings(answered(dataset, exhaust_cam_lift="10.5 mm", tappet_diameter="28.5 mm"))
    both = answered(dataset, exhaust_cam_lift="8.4 mm", tappet_diameter="22 mm")
    assert [f.message.startswith("Intake and exhaust lobe: ") for f in both.findings if f.rule.code == "tappet-edge"] == [True]


def test_a_shorter_exhaust_duration_asks_for_a_larger_tappet(dataset: Dataset) -> None:
    """The same lift in 250 instead of 276 crank degrees: 10.55 · 276/250 = 11.65 mm/rad, a face of 25.3 mm."""
    changes = {"exhaust_opening": "57 deg", "exhaust_closing": "13 deg", "lobe_separation": None, "exhaust_duration": None}
    answer = answered(dataset, **changes, advance=None, tappet_diameter="25 mm")
    edge = next(finding for finding in answer.findings if finding.rule.code == "tappet-edge")
    assert edge.message.startswith("Exhaust lobe: ")
    assert edge.fields == ("tappet_diameter", "exhaust_opening")
    assert answer.result["exhaust_lobe"]["lift_rate"].si == pytest.approx(11.65e-3, abs=1e-5)


def test_a_lobe_without_its_tappet_is_a_gap_for_each_valve(dataset: Dataset) -> None:
    """Two different lobes without a tappet diameter: two gaps, each with its lobe."""
    gaps = [
        e for e in answered(dataset, exhaust_cam_lift="9 mm", tappet_diameter=None).unchecked if e["check"] == "tappet-edge"
    ]
    assert [entry["why"].split()[0] for entry in gaps] == ["Intake", "Exhaust"]


def test_clay_far_from_the_computed_gap_is_asked_about(dataset: Dataset) -> None:
    """2.27 mm are computed (handbook); clay of 0.5 mm, or of 3.3 mm, is another engine; 3.2 mm is within a millimetre."""
    asked = answered(dataset, intake_clay="0.5 mm")
    assert findings(asked) == {"valve-to-piston": "stop", "clay-off-computed": "ask", "unit-suspect": "ask"}
    question = next(finding for finding in asked.findings if finding.rule.code == "clay-off-computed")
    assert question.fields == ("intake_clay", "intake_gap_at_top")
    assert "0.50 mm" in question.message
    assert "2.27 mm" in question.message
    assert "clay-off-computed" in findings(answered(dataset, intake_clay="3.3 mm"))
    assert findings(answered(dataset, intake_clay="3.2 mm")) == {}


def test_measured_clay_does_not_ask_for_clay(dataset: Dataset) -> None:
    """Only a computed gap still wants the clay check."""
    computed = next(f for f in answered(dataset, intake_gap_at_top="4.6 mm").findings if f.rule.code == "valve-to-piston")
    measured = next(f for f in answered(dataset, intake_clay="1.8 mm").findings if f.rule.code == "valve-to-piston")
    assert "clay" in computed.message
    assert "clay" not in measured.message


@pytest.mark.parametrize(
    ("changes", "code", "severity"),
    [
        ({"intake_duration": "278.1 deg"}, "card-sums-disagree", "ask"),
        ({"intake_duration": "277.9 deg"}, "card-sums-disagree", None),
        ({"exhaust_duration": "138 deg"}, "card-sums-disagree", "ask"),
        ({"lobe_separation": "111 deg"}, "card-sums-disagree", "ask"),
        ({"advance": "1 deg"}, "card-sums-disagree", "ask"),
        ({"intake_opening": "62 deg", "intake_closing": "34 deg"}, "card-sums-disagree", "ask"),
        ({"intake_opening": None, "intake_closing": "70 deg"}, "card-sums-disagree", "ask"),
        ({"intake_opening": None, "intake_closing": "63 deg"}, "card-sums-disagree", None),
        ({"tappet_diameter": "23 mm"}, "tappet-edge", "stop"),
        ({"tappet_diameter": "23.2 mm"}, "tappet-edge", None),
        ({"base_circle_radius": "8 mm"}, "lobe-needs-roller", "stop"),
        ({"base_circle_radius": "9 mm"}, "lobe-needs-roller", None),
        ({"intake_gap_at_top": "4.3 mm"}, "valve-to-piston", "stop"),
        ({"intake_gap_at_top": "4.6 mm"}, "valve-to-piston", "caution"),
        ({"intake_gap_at_top": "5.0 mm"}, "valve-to-piston", None),
        ({"exhaust_gap_at_top": "4.1 mm"}, "valve-to-piston", "stop"),
        ({"exhaust_gap_at_top": "4.4 mm"}, "valve-to-piston", "caution"),
        ({"exhaust_gap_at_top": "4.7 mm"}, "valve-to-piston", None),
        ({"intake_clay": "1.45 mm"}, "valve-to-piston", "stop"),
        ({"intake_clay": "1.5 mm"}, "valve-to-piston", "caution"),
        ({"intake_clay": "2 mm"}, "valve-to-piston", None),
        ({"exhaust_clay": "1.95 mm"}, "valve-to-piston", "stop"),
        ({"exhaust_clay": "2.4 mm"}, "valve-to-piston", "caution"),
        ({"exhaust_clay": "2.5 mm"}, "valve-to-piston", None),
    ],
)
def test_findings_at_their_limits(dataset: Dataset, changes: dict[str, Any], code: str, severity: str | None) -> None:
    """Each rule of the handbook just past its limit and just inside it."""
    assert findings(answered(dataset, **changes)).get(code) == severity


def test_half_a_duration_is_called_cam_degrees(dataset: Dataset) -> None:
    """138° beside a card of 276° is the classic slip, and the finding says which."""
    answer = answered(dataset, exhaust_duration="138 deg")
    message = next(finding.message for finding in answer.findings if finding.rule.code == "card-sums-disagree")
    assert "276.0" in message
    assert "cam degrees" in message


def test_clay_stands_before_the_computed_gap(dataset: Dataset) -> None:
    """What was measured is answered, without an angle, and marked as measured."""
    gaps = answered(dataset, intake_clay="2.6 mm").result["valve_to_piston"]
    assert gaps["intake"] == {"gap": gaps["intake"]["gap"], "measured": True}
    assert gaps["intake"]["gap"].si == pytest.approx(2.6e-3)


def test_what_is_missing_is_listed_and_never_a_pass(dataset: Dataset) -> None:
    """A bare card leaves lobe and both gaps open, each with what it needs."""
    answer = ask(TOPIC, CARD, dataset).answer
    assert unchecked(answer)["lobe"] == ["cam_lift"]
    gaps = [entry["needs"] for entry in answer.unchecked if entry["check"] == "valve-to-piston"]
    assert gaps[0] == ["intake_clay", "intake_gap_at_top", "stroke", "rod_length", "cam_lift", "checked_duration"]
    assert len(gaps) == 2
    assert unchecked(answered(dataset, checked_duration=None))["lobe"] == ["checked_duration"]
    assert unchecked(answered(dataset, tappet_diameter=None))["tappet-edge"] == ["tappet_diameter"]
    assert unchecked(answered(dataset, base_circle_radius=None))["lobe-needs-roller"] == ["base_circle_radius"]
    assert "least_radius" not in answered(dataset, base_circle_radius=None).result["lobe"]


def test_the_checking_lift_is_assumed_aloud(dataset: Dataset) -> None:
    """Without it 0.3 mm is taken and said, because the whole lobe rests on it."""
    assumed = answered(dataset, checking_lift=None, second_checking_lift=None, valve_angle=None).assumptions
    values = {entry["field"]: entry["value"] for entry in assumed}
    assert values["checking_lift"].si == pytest.approx(0.0003)
    assert values["second_checking_lift"].si == pytest.approx(0.00127)
    assert values["valve_angle"].si == 0


@pytest.mark.parametrize(
    ("document", "field"),
    [
        ({}, "intake_opening"),
        ({"intake_opening": "34 deg", "exhaust_opening": "70 deg"}, "intake_closing"),
        ({"intake_duration": "276 deg"}, "exhaust_duration"),
        ({"intake_duration": "276 deg", "exhaust_duration": "276 deg"}, "lobe_separation"),
        ({"intake_closing": "62 deg", "lobe_separation": "108 deg"}, "intake_duration"),
    ],
)
def test_too_little_names_the_next_input(dataset: Dataset, document: dict[str, Any], field: str) -> None:
    """The refusal names what is missing of the way that was begun."""
    with pytest.raises(MissingInput) as missing:
        ask(TOPIC, document, dataset)
    assert missing.value.field == field


def test_refusals(dataset: Dataset) -> None:
    """No lobe with both durations, no flank between the arcs, a nose without base circle, a checking lift over the nose."""
    with pytest.raises(Contradiction) as durations:
        answered(dataset, checked_duration="120 deg")
    assert durations.value.fields[0] == "intake_duration"
    with pytest.raises(Contradiction, match="diameters"):
        answered(dataset, nose_radius="16 mm")
    with pytest.raises(MissingInput) as base:
        answered(dataset, nose_radius="3 mm", base_circle_radius=None)
    assert base.value.field == "base_circle_radius"
    with pytest.raises(OutsideValidity) as lift:
        answered(dataset, cam_lift="2 mm", second_checking_lift="2.5 mm", checking_lift="0.1 mm")
    assert lift.value.field == "second_checking_lift"


@pytest.mark.parametrize("corner", range(256))
def test_no_corner_of_the_ranges_fails(dataset: Dataset, corner: int) -> None:
    """At every corner of the hard ranges there is an answer of finite figures, or a refusal in words."""
    pick = [bool(corner >> bit & 1) for bit in range(8)]
    document = {
        "intake_duration": "400 deg" if pick[0] else "120 deg",
        "exhaust_duration": "400 deg" if pick[1] else "120 deg",
        "lobe_separation": "130 deg" if pick[2] else "80 deg",
        "advance": "20 deg" if pick[3] else "-20 deg",
        "cam_lift": "16 mm" if pick[4] else "2 mm",
        "rocker_ratio": 2.2 if pick[5] else 0.7,
        "lash": "1.5 mm",
        "checking_lift": "0 mm" if pick[6] else "0.3 mm",
        "checked_duration": "340 deg" if pick[0] else "100 deg",
        "second_checking_lift": "0.4 mm" if pick[7] else "1.9 mm",
        "base_circle_radius": "6 mm",
        "tappet_diameter": "10 mm",
        "stroke": "250 mm",
        "rod_length": "400 mm",
        "valve_angle": "60 deg",
        "intake_gap_at_top": "0.2 mm",
        "exhaust_gap_at_top": "30 mm",
    }
    try:
        asked = ask(TOPIC, document, dataset)
    except (Contradiction, OutsideValidity):
        # Only a lobe may be impossible; the same cam without its second duration must be answered.
        del document["checked_duration"]
        asked = ask(TOPIC, document, dataset)
    text = asked.result_json.decode().lower()
    assert "nan" not in text
    assert "null" not in text
