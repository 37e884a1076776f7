"""The valve events topic: cards by hand, every finding at its limit, assumptions, gaps and refusals."""

from typing import Any

import pytest

from service.answers.asking import Asked, ask
from service.answers.valve_events import TOPIC
from service.errors import Contradiction, MissingInput, OutsideValidity
from service.quantities import shown
from service.reference.dataset import Dataset

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


def question(dataset: Dataset, **changes: Any) -> Asked:
    """The sound cam with changes; ``None`` takes a field out."""
    return ask(TOPIC, {name: value for name, value in (SOUND | changes).items() if value is not None}, dataset)


def findings(asked: Asked) -> dict[str, str]:
    return {finding.rule.code: finding.severity for finding in asked.answer.findings}


def unchecked(asked: Asked) -> dict[str, list[str]]:
    return {entry["check"]: entry["needs"] for entry in asked.answer.unchecked}


def degrees_of(asked: Asked, name: str) -> float:
    return float(shown(asked.answer.result[name])["value"])


def test_a_sound_cam_has_no_findings_and_no_gaps(dataset: Dataset) -> None:
    """Everything is sent and right: nothing is said; only the exhaust lobe's shape is supplied."""
    asked = question(dataset)
    assert findings(asked) == {}
    assert asked.answer.unchecked == []
    assert [entry["field"] for entry in asked.answer.assumptions] == ["exhaust_lobe"]


def test_card_to_timing_by_hand(dataset: Dataset) -> None:
    """34/62/70/26: 276 both, lobe centres 104 and 112, separation 108, overlap 60, advance 4."""
    asked = ask(TOPIC, CARD, dataset)
    expected = {
        "intake_duration": 276,
        "exhaust_duration": 276,
        "intake_lobe_centre": 104,
        "exhaust_lobe_centre": 112,
        "lobe_separation": 108,
        "overlap": 60,
        "advance": 4,
    }
    assert {name: degrees_of(asked, name) for name in expected} == pytest.approx(expected, abs=1e-9)


def test_timing_to_card_by_hand(dataset: Dataset) -> None:
    """276 on 108 straight up opens at 30 and closes at 66 and 30: no advance is assumed and said."""
    document = {"intake_duration": "276 deg", "exhaust_duration": "276 deg", "lobe_separation": "108 deg"}
    asked = ask(TOPIC, document, dataset)
    expected = {"intake_opening": 30, "intake_closing": 66, "exhaust_opening": 66, "exhaust_closing": 30, "advance": 0}
    assert {name: degrees_of(asked, name) for name in expected} == pytest.approx(expected, abs=1e-9)
    assert [entry["field"] for entry in asked.answer.assumptions] == ["advance"]


def test_lift_by_hand(dataset: Dataset) -> None:
    """1.1 · 8.4 − 0.15 = 9.09 mm; the exhaust's own lift is used where it is given."""
    lift = question(dataset, exhaust_cam_lift="8 mm").answer.result["lift"]
    assert lift["intake"].si == pytest.approx(9.09e-3, rel=1e-12)
    assert lift["exhaust"].si == pytest.approx(8.65e-3, rel=1e-12)
    bare = question(dataset, rocker_ratio=None, lash=None, exhaust_cam_lift=None)
    assert bare.answer.result["lift"]["intake"].si == pytest.approx(8.4e-3, rel=1e-12)
    assert {"rocker_ratio", "lash", "exhaust_cam_lift"} <= {entry["field"] for entry in bare.answer.assumptions}


def test_lobe_of_the_handbook(dataset: Dataset) -> None:
    """Exponent 8.08, 10.55 mm/rad, tappet over 23.1 mm, least radius 6.8 mm (handbook, worked apart)."""
    lobe = question(dataset).answer.result["lobe"]
    assert lobe["estimate"] is True
    assert lobe["exponent"] == pytest.approx(8.08, abs=0.005)
    assert lobe["lift_rate"].si == pytest.approx(10.55e-3, abs=1e-5)
    assert lobe["tappet_diameter_needed"].si == pytest.approx(23.1e-3, abs=5e-5)
    assert lobe["least_radius"].si == pytest.approx(6.8e-3, abs=5e-5)


def test_gap_of_the_handbook(dataset: Dataset) -> None:
    """2.27 mm at +7° with 5.2 mm of intake gap, 2.84 mm at −7° with 5.0 mm of exhaust gap (handbook, worked apart)."""
    gaps = question(dataset, exhaust_gap_at_top="5 mm").answer.result["valve_to_piston"]
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
    assert findings(question(dataset, **changes)).get(code) == severity


def test_half_a_duration_is_called_cam_degrees(dataset: Dataset) -> None:
    """138° beside a card of 276° is the classic slip, and the finding says which."""
    asked = question(dataset, exhaust_duration="138 deg")
    message = next(finding.message for finding in asked.answer.findings if finding.rule.code == "card-sums-disagree")
    assert "276.0" in message
    assert "cam degrees" in message


def test_clay_stands_before_the_computed_gap(dataset: Dataset) -> None:
    """What was measured is answered, without an angle, and marked as measured."""
    gaps = question(dataset, intake_clay="2.6 mm").answer.result["valve_to_piston"]
    assert gaps["intake"] == {"gap": gaps["intake"]["gap"], "measured": True}
    assert gaps["intake"]["gap"].si == pytest.approx(2.6e-3)


def test_what_is_missing_is_listed_and_never_a_pass(dataset: Dataset) -> None:
    """A bare card leaves lobe and both gaps open, each with what it needs."""
    asked = ask(TOPIC, CARD, dataset)
    assert unchecked(asked)["lobe"] == ["cam_lift"]
    gaps = [entry["needs"] for entry in asked.answer.unchecked if entry["check"] == "valve-to-piston"]
    assert gaps[0] == ["intake_clay", "intake_gap_at_top", "stroke", "rod_length", "checked_duration"]
    assert len(gaps) == 2
    assert unchecked(question(dataset, checked_duration=None))["lobe"] == ["checked_duration"]
    assert unchecked(question(dataset, tappet_diameter=None))["tappet-edge"] == ["tappet_diameter"]
    assert unchecked(question(dataset, base_circle_radius=None))["lobe-needs-roller"] == ["base_circle_radius"]
    assert "least_radius" not in question(dataset, base_circle_radius=None).answer.result["lobe"]


def test_the_checking_lift_is_assumed_aloud(dataset: Dataset) -> None:
    """Without it 0.3 mm is taken and said, because the whole lobe rests on it."""
    assumed = question(dataset, checking_lift=None, second_checking_lift=None, valve_angle=None).answer.assumptions
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
        question(dataset, checked_duration="120 deg")
    assert durations.value.fields[0] == "intake_duration"
    with pytest.raises(Contradiction, match="diameters"):
        question(dataset, nose_radius="16 mm")
    with pytest.raises(MissingInput) as base:
        question(dataset, nose_radius="3 mm", base_circle_radius=None)
    assert base.value.field == "base_circle_radius"
    with pytest.raises(OutsideValidity) as lift:
        question(dataset, cam_lift="2 mm", second_checking_lift="2.5 mm", checking_lift="0.1 mm")
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
