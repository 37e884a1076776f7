"""The piston motion topic: figures worked by hand, every finding at its limit, assumptions, gaps and refusals."""

import re
from math import acos, cos, pi, radians, sin, sqrt
from typing import Any

import pytest
from pydantic import ValidationError

from service.answers.asking import ask
from service.answers.envelope import Answer
from service.answers.piston_motion import TOPIC
from service.errors import Contradiction, MissingInput, NotInDataset
from service.quantities import shown
from service.reference.dataset import Dataset
from tests.answers.reading import assumed, findings, si, unchecked
from tests.questions import changed

# A build in which everything that this topic can check is right: 7.0 + 3.0 kN on bolts of twice 15 kN.
SOUND: dict[str, Any] = {
    "stroke": "69 mm",
    "rod_length": "137 mm",
    "speed": "5000 rpm",
    "rev_limit": "5000 rpm",
    "pin_offset": "1.5 mm",
    "piston": "cast",
    "ring_height": "2 mm",
    "reciprocating_mass": "590 g",
    "rotating_mass": "440 g",
    "cap_mass": "120 g",
    "rod_bolt_preload": "15 kN",
    "rod_bolts": 2,
    "engine": "air-cooled-flat-four",
    "skirt_below_pin": "38 mm",
    "counterweight_radius": "60 mm",
}


def answered(dataset: Dataset, **changes: Any) -> Answer:
    """The sound build with changes; ``None`` takes a field out."""
    return ask(TOPIC, changed(SOUND, changes), dataset).answer


def test_a_sound_build_has_no_findings_gaps_or_assumptions(dataset: Dataset) -> None:
    """Everything is sent and right: nothing is said, nothing supplied."""
    answer = answered(dataset)
    assert findings(answer) == {}
    assert answer.unchecked == []
    assert answer.assumptions == []


def test_figures_by_hand(dataset: Dataset) -> None:
    """69 mm at 5000 rpm is 11.5 m/s; r ω² (1 + r/l) and m a by hand, without offset."""
    answer = answered(dataset, pin_offset=None)
    omega = 5000 * pi / 30
    peak = 0.0345 * omega**2 * (1 + 34.5 / 137)
    assert si(answer.result["mean_piston_speed"]) == pytest.approx(11.5, rel=1e-9)
    assert answer.result["rod_ratio"] == pytest.approx(137 / 69)
    assert si(answer.result["peak_acceleration"]) == pytest.approx(peak, rel=1e-9)
    assert si(answer.result["peak_inertia_load"]) == pytest.approx(0.59 * peak, rel=1e-9)
    assert si(answer.result["joint_load"]) == pytest.approx(0.59 * peak + 0.32 * 0.0345 * omega**2, rel=1e-9)
    assert si(answer.result["skirt_clearance"]) == pytest.approx(0.137 - 0.0345 - 0.038 - 0.060, rel=1e-9)
    assert [entry["field"] for entry in answer.assumptions] == ["pin_offset"]


def test_motion_at_an_angle_by_hand(dataset: Dataset) -> None:
    """Drop and tilt at 60° from the triangle; inertia is that at the angle, its peak stands beside it."""
    answer = answered(dataset, pin_offset=None, crank_angle="60 deg")
    tilt_cosine = sqrt(1 - (34.5 / 137 * sin(radians(60))) ** 2)
    assert si(answer.result["position"]) == pytest.approx(0.0345 * (1 - cos(radians(60))) + 0.137 * (1 - tilt_cosine), rel=1e-9)
    assert si(answer.result["rod_angle"]) == pytest.approx(acos(tilt_cosine), rel=1e-6)
    assert si(answer.result["inertia_load"]) == pytest.approx(0.59 * si(answer.result["acceleration"]), rel=1e-9)
    assert si(answer.result["peak_inertia_load"]) > si(answer.result["inertia_load"])
    assert si(answered(dataset).result["inertia_load"]) == si(answered(dataset).result["peak_inertia_load"])


def test_dead_centres_are_clean(dataset: Dataset) -> None:
    """At half a turn the velocity is zero to the last digit, not the last bits of a sine."""
    for angle in ("0 deg", "180 deg", "360 deg", "-720 deg"):
        assert si(answered(dataset, pin_offset=None, crank_angle=angle).result["velocity"]) == 0.0


def test_gas_force_and_side_thrust(dataset: Dataset) -> None:
    """Gas force at top dead centre: area times pressure less inertia, straight down the rod; no thrust there."""
    answer = answered(dataset, pin_offset=None, crank_angle="0 deg", bore="85.5 mm", cylinder_pressure="4000 kPa")
    gas = pi / 4 * 0.0855**2 * 4e6
    assert si(answer.result["rod_force"]) == pytest.approx(gas - si(answer.result["peak_inertia_load"]), rel=1e-9)
    assert si(answer.result["side_thrust"]) == pytest.approx(0.0, abs=1e-9)
    with pytest.raises(MissingInput) as missing:
        answered(dataset, cylinder_pressure="4000 kPa", crank_angle="20 deg")
    assert missing.value.field == "bore"


def test_speed_limits(dataset: Dataset) -> None:
    """15 m/s on 69 mm at 6522 rpm, 20 m/s forged at 8696 rpm; 25 000 m/s² from r ω² (1 + r/l)."""
    cast = answered(dataset, pin_offset=None).result["speed_limits"]
    forged = answered(dataset, piston="forged").result["speed_limits"]
    assert cast["at_piston_speed"].si * 30 / pi == pytest.approx(15 / (2 * 0.069) * 60, rel=1e-9)
    assert forged["at_piston_speed"].si * 30 / pi == pytest.approx(20 / (2 * 0.069) * 60, rel=1e-9)
    limit = sqrt(25000 / (0.0345 * (1 + 34.5 / 137)))
    assert cast["at_piston_acceleration"].si == pytest.approx(limit, rel=1e-9)


@pytest.mark.parametrize(
    ("changes", "code", "severity"),
    [
        ({"rev_limit": "6530 rpm"}, "piston-speed-high", "caution"),
        ({"rev_limit": "6515 rpm"}, "piston-speed-high", None),
        ({"rev_limit": "8700 rpm", "piston": "forged"}, "piston-speed-high", "caution"),
        ({"rev_limit": "8690 rpm", "piston": "forged"}, "piston-speed-high", None),
        ({"rev_limit": "7280 rpm"}, "piston-acceleration-high", "caution"),
        ({"rev_limit": "7250 rpm"}, "piston-acceleration-high", None),
        ({"rev_limit": "7280 rpm", "ring_height": "1.4 mm"}, "piston-acceleration-high", None),
        ({"rod_length": "111 mm", "skirt_below_pin": "10 mm"}, "rod-ratio-low", None),
        ({"rod_length": "110 mm", "skirt_below_pin": "10 mm"}, "rod-ratio-low", "note"),
        ({"rod_length": "103 mm", "skirt_below_pin": "5 mm", "counterweight_radius": "55 mm"}, "rod-ratio-low", "caution"),
        ({"rod_bolt_preload": "7.4 kN"}, "rod-bolt-margin", "stop"),
        ({"rod_bolt_preload": "7.6 kN"}, "rod-bolt-margin", None),
        ({"counterweight_radius": "63.1 mm"}, "skirt-meets-counterweight", "stop"),
        ({"counterweight_radius": "62.9 mm"}, "skirt-meets-counterweight", None),
        ({"stroke": "74 mm"}, "stroke-clearance-unverified", "stop"),
        ({"stroke": "74 mm", "rod_clearance_measured": False}, "stroke-clearance-unverified", "stop"),
        ({"stroke": "74 mm", "rod_clearance_measured": True}, "stroke-clearance-unverified", None),
        ({"stroke": "69.1 mm"}, "stroke-clearance-unverified", None),
        ({"engine": "air-cooled-flat-four-1200", "stroke": "69 mm"}, "stroke-clearance-unverified", "stop"),
        ({"top_found_by": "dial-gauge"}, "top-by-dial-gauge", "fix"),
        ({"top_found_by": "piston-stop"}, "top-by-dial-gauge", None),
    ],
)
def test_findings_at_their_limits(dataset: Dataset, changes: dict[str, Any], code: str, severity: str | None) -> None:
    """Each rule of the handbook just past its limit and just inside it."""
    assert findings(answered(dataset, **changes)).get(code) == severity


def test_findings_tell_the_figures_of_the_case(dataset: Dataset) -> None:
    """The message carries what was computed and the limit, with both systems of units."""
    answer = answered(dataset, stroke="74 mm", rev_limit="6200 rpm")
    messages = {finding.rule.code: finding.message for finding in answer.findings}
    assert "15.29 m/s (3010 ft/min)" in messages["piston-speed-high"]
    assert "6081 rpm" in messages["piston-speed-high"]
    assert "74.00 mm" in messages["stroke-clearance-unverified"]
    assert "69.00 mm" in messages["stroke-clearance-unverified"]
    assert ("fact", "engines/air-cooled-flat-four/stroke") in answer.basis


def test_the_rev_limit_is_judged_and_the_speed_is_shown(dataset: Dataset) -> None:
    """Motion is that at the speed asked; limits are judged at the rev limit, or at the speed where there is none."""
    answer = answered(dataset, speed="1000 rpm", rev_limit="6600 rpm")
    assert si(answer.result["mean_piston_speed"]) == pytest.approx(2.3, rel=1e-9)
    assert "piston-speed-high" in findings(answer)
    alone = answered(dataset, speed=None, rev_limit="6600 rpm")
    assert si(alone.result["mean_piston_speed"]) == pytest.approx(15.18, rel=1e-9)
    fast = answered(dataset, speed="6600 rpm", rev_limit=None)
    assert fast.findings[0].fields[0] == "speed"


def test_what_is_missing_is_listed_and_never_a_pass(dataset: Dataset) -> None:
    """With stroke, rod and speed alone five checks are open, each with the inputs that it needs."""
    answer = ask(TOPIC, {"stroke": "69 mm", "rod_length": "137 mm", "speed": "5000 rpm"}, dataset).answer
    assert unchecked(answer) == {
        "piston-acceleration-high": ["ring_height"],
        "rod-bolt-margin": ["reciprocating_mass", "rotating_mass", "cap_mass", "rod_bolt_preload"],
        "skirt-meets-counterweight": ["skirt_below_pin", "counterweight_radius"],
        "stroke-clearance-unverified": ["engine", "rod_clearance_measured"],
        "inertia-load": ["reciprocating_mass"],
    }
    assert assumed(answer) == {"pin_offset", "piston"}
    assert unchecked(answered(dataset, rotating_mass=None))["rod-bolt-margin"] == ["rotating_mass"]
    assert unchecked(answered(dataset, rod_bolt_preload=None))["rod-bolt-margin"] == ["rod_bolt_preload"]
    two = answered(dataset, rod_bolts=None)
    assert [entry["field"] for entry in two.assumptions] == ["rod_bolts"]


def test_piston_stop(dataset: Dataset) -> None:
    """38° and 42°: the wheel reads 2° after at top dead centre; a wheel that is right says so."""
    found = answered(dataset, pin_offset=None, stop_before="38 deg", stop_after="42 deg").result["top_dead_centre"]
    assert shown(found["wheel_correction"])["value"] == pytest.approx(2.0, abs=1e-9)
    assert re.search(r"reads 2\.0 ?° after its zero", found["instruction"])
    early = answered(dataset, pin_offset=None, stop_before="43 deg", stop_after="42 deg").result["top_dead_centre"]
    assert re.search(r"reads 0\.5 ?° before its zero", early["instruction"])
    right = answered(dataset, pin_offset=None, stop_before="40 deg", stop_after="40 deg").result["top_dead_centre"]
    assert "zero is at top dead centre" in right["instruction"]
    with pytest.raises(MissingInput) as missing:
        answered(dataset, stop_before="38 deg")
    assert missing.value.field == "stop_after"


def test_marks_on_the_rim(dataset: Dataset) -> None:
    """28° on 145 mm: 35.43 mm by tape, 35.08 mm by caliper; past half a turn there is no chord."""
    rim = answered(dataset, pulley_diameter="145 mm", crank_angle="-28 deg").result["rim"]
    assert rim["one_degree"].si == pytest.approx(1.2654e-3, rel=1e-4)
    assert rim["arc"].si == pytest.approx(pi * 145e-3 * 28 / 360, rel=1e-9)
    assert rim["chord"].si == pytest.approx(145e-3 * sin(radians(14)), rel=1e-9)
    far = answered(dataset, pulley_diameter="145 mm", crank_angle="200 deg").result["rim"]
    assert "chord" not in far


def test_table_columns(dataset: Dataset) -> None:
    """As many rows as asked for, in one unit a column, from firing top dead centre through two turns."""
    table = shown(answered(dataset, pin_offset=None, points=8).result["table"])
    assert table["crank_angle"]["values"] == [0.0, 90.0, 180.0, 270.0, 360.0, 450.0, 540.0, 630.0]
    assert table["position"]["unit"] == "mm"
    assert table["position"]["values"][2] == pytest.approx(69.0)
    assert table["velocity"]["values"][2] == 0.0


def test_refusals(dataset: Dataset) -> None:
    """A rod that is too short, an engine that is not held, a cap heavier than its rod, an angle beyond two turns."""
    with pytest.raises(Contradiction, match="not the throw"):
        answered(dataset, rod_length="40 mm", stroke="90 mm")
    with pytest.raises(NotInDataset) as engine:
        answered(dataset, engine="air-cooled-flat-fuor")
    assert "air-cooled-flat-four" in engine.value.nearest
    with pytest.raises(Contradiction) as cap:
        answered(dataset, cap_mass="500 g")
    assert cap.value.fields == ("rotating_mass", "cap_mass")
    with pytest.raises(ValidationError):
        answered(dataset, crank_angle="900 deg")
    with pytest.raises(MissingInput) as speed:
        ask(TOPIC, {"stroke": "69 mm", "rod_length": "137 mm"}, dataset)
    assert speed.value.field == "speed"


@pytest.mark.parametrize("corner", range(64))
def test_no_corner_of_the_ranges_fails(dataset: Dataset, corner: int) -> None:
    """At every corner of the hard ranges there is an answer of finite figures, or a refusal in words."""
    pick = [bool(corner >> bit & 1) for bit in range(6)]
    document = {
        "stroke": "250 mm" if pick[0] else "20 mm",
        "rod_length": "400 mm" if pick[1] else "40 mm",
        "speed": "15000 rpm" if pick[2] else "1 rpm",
        "pin_offset": "10 mm" if pick[3] else "-10 mm",
        "crank_angle": "720 deg" if pick[4] else "-719.9 deg",
        "reciprocating_mass": "5 kg" if pick[5] else "50 g",
        "rotating_mass": "3 kg" if pick[5] else "0 g",
        "cap_mass": "0 g",
        "rod_bolt_preload": "100 N",
        "bore": "200 mm",
        "cylinder_pressure": "20000 kPa",
        "stop_before": "179 deg",
        "stop_after": "0.1 deg",
        "pulley_diameter": "30 mm",
    }
    try:
        written = ask(TOPIC, document, dataset).result_json.decode()
    except Contradiction:
        # Only a rod that cannot go round may be refused, and such a corner must really be one.
        assert not pick[1] or pick[0]
        return
    assert "nan" not in written.lower()
    assert "null" not in written
