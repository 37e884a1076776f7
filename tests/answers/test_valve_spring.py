"""The valve spring topic: figures worked by hand, every finding at its limit, assumptions, gaps and refusals."""

from itertools import pairwise
from math import pi, sqrt
from typing import Any

import pytest

from service.answers.asking import ask
from service.answers.envelope import Answer
from service.answers.valve_spring import TOPIC
from service.errors import Contradiction, MissingInput, NotInDataset, OutsideValidity
from service.quantities import shown
from service.reference.dataset import Dataset
from tests.answers.reading import assumed, findings, si, unchecked
from tests.questions import changed

# A valve train with everything known and right; the handbook's spring and lobe.
SOUND: dict[str, Any] = {
    "installed_length": "36 mm",
    "seat_load": "300 N",
    "spring_rate": "28 N/mm",
    "solid_length": "24.5 mm",
    "retainer_gap": "11.5 mm",
    "cam_lift": "8.4 mm",
    "rocker_ratio": 1.1,
    "lash": "0.15 mm",
    "duration": "276 deg",
    "checking_lift": "0.3 mm",
    "checked_duration": "236 deg",
    "second_checking_lift": "1.27 mm",
    "valve_mass": "80 g",
    "retainer_mass": "25 g",
    "spring_mass": "60 g",
    "push_rod_mass": "60 g",
    "tappet_mass": "85 g",
    "rocker_inertia": "0.6 kg*cm2",
    "valve_arm": "35 mm",
    "wire_diameter": "4 mm",
    "mean_diameter": "26 mm",
    "active_coils": 5,
    "rev_limit": "4500 rpm",
    "push_rod_length": "280 mm",
    "push_rod_diameter": "9.5 mm",
    "push_rod_wall": "1 mm",
    "pushrod_material": "steel",
    "push_rod_yield": "400 MPa",
    "exhaust_valve_diameter": "32 mm",
    "opening_pressure": "500 kPa",
    "tappet": "flat",
    "base_circle_radius": "15.5 mm",
    "lobe_width": "14 mm",
    "crown_radius": "1000 mm",
    "oil_viscosity": "12 mPa*s",
    "roughness": "0.28 um",
}
MINIMUM = {"installed_length": "36 mm", "seat_load": "300 N", "spring_rate": "28 N/mm"}


def answered(dataset: Dataset, **changes: Any) -> Answer:
    """The sound valve train with changes; ``None`` takes a field out."""
    return ask(TOPIC, changed(SOUND, changes), dataset).answer


def test_a_sound_train_says_only_what_speed_does_at_the_nose(dataset: Dataset) -> None:
    """Everything is sent and right: one note, that no run-in speed floats the tappet, and no gaps."""
    answer = answered(dataset)
    assert findings(answer) == {"nose-runs-boundary": "note"}
    assert answer.unchecked == []
    assert assumed(answer) == {
        "wire_density",
        "cam_and_tappet_material",
        "pressure_viscosity",
    }


def test_loads_and_margins_by_hand(dataset: Dataset) -> None:
    """9.09 mm of lift: 300 + 28 · 9.09 = 554.5 N, 36 − 9.09 − 24.5 = 2.41 mm, 11.5 − 9.09 = 2.41 mm."""
    answer = answered(dataset)
    assert si(answer.result["valve_lift"]) == pytest.approx(9.09e-3, rel=1e-12)
    assert si(answer.result["open_load"]) == pytest.approx(554.52, rel=1e-9)
    assert si(answer.result["coil_bind_margin"]) == pytest.approx(2.41e-3, rel=1e-9)
    assert si(answer.result["retainer_clearance"]) == pytest.approx(2.41e-3, rel=1e-9)


def test_rate_from_two_loads(dataset: Dataset) -> None:
    """TM 5-4320-234-34: 50 lb at 1.703 in and 100 lb at 1.422 in are 178 lbf/in."""
    document = {
        "installed_length": "1.703 in",
        "seat_load": "50 lbf",
        "open_length": "1.422 in",
        "open_load": "100 lbf",
        "valve_lift": "0.281 in",
    }
    answer = ask(TOPIC, document, dataset).answer
    rate = shown(answer.result["rate"], "us")
    assert rate["unit"] == "lbf/in"
    assert rate["value"] == pytest.approx(178, abs=0.5)
    assert shown(answer.result["open_load"], "us")["value"] == pytest.approx(100)


def test_masses_by_hand(dataset: Dataset) -> None:
    """80 + 25 + 20 + 0.6e-4/0.035² kg + 145/1.21 g: push rod and tappet move slower than the valve, so they count less."""
    expected = 0.125 + 0.6e-4 / 0.035**2 + 0.145 / 1.21
    assert si(answered(dataset).result["effective_mass"]) == pytest.approx(expected, rel=1e-9)


def test_float_of_the_handbook(dataset: Dataset) -> None:
    """With 330 g at the valve this spring and lobe float at 5716 rpm (handbook, worked apart)."""
    answer = answered(dataset, valve_mass="250 g", retainer_mass="60 g", spring_mass="57 g", push_rod_mass="1 g",
                     tappet_mass="0.21 oz", rocker_inertia=None, valve_arm=None)  # fmt: skip
    mass = si(answer.result["effective_mass"])
    expected = 5716 * sqrt(0.33 / mass)
    assert si(answer.result["float_speed"]) * 30 / pi == pytest.approx(expected, rel=2e-3)
    assert unchecked(answer)["rocker-inertia"] == ["rocker_inertia", "valve_arm"]


def test_surge_by_wire_and_by_the_whole_spring(dataset: Dataset) -> None:
    """½ √(k/m): 40.3 g of active coils surge at 417 Hz; the whole 60 g spring, on the low side, at 342 Hz."""
    wire = answered(dataset)
    assert si(wire.result["surge_frequency"]) == pytest.approx(0.5 * sqrt(28000 / 0.040288), rel=1e-3)
    whole = answered(dataset, wire_diameter=None)
    assert si(whole.result["surge_frequency"]) == pytest.approx(0.5 * sqrt(28000 / 0.060), rel=1e-9)
    assert "active_mass" in assumed(whole)
    assert whole.result["surge_ratio"] == pytest.approx(si(whole.result["surge_frequency"]) / (4500 / 120), rel=1e-9)


def test_push_rod_of_the_handbook(dataset: Dataset) -> None:
    """Steel 9.5 × 1.0 × 280 gives way at 6.2 kN; the load is 1.1 (554.5 N + 5 bar on 32 mm)."""
    rod = answered(dataset).result["push_rod"]
    assert rod["capacity"].si == pytest.approx(6.2e3, abs=50)
    assert rod["load"].si == pytest.approx(1.1 * (554.52 + 5e5 * pi / 4 * 0.032**2), rel=1e-9)
    assert rod["formula"] == "Johnson"
    alloy = answered(dataset, pushrod_material="aluminium", push_rod_wall="1.5 mm", push_rod_yield=None)
    assert alloy.result["push_rod"]["capacity"].si == pytest.approx(2.8e3, abs=50)
    assert alloy.result["push_rod"]["formula"] == "Euler"
    assert "push_rod_yield" in assumed(alloy)


def test_contact_by_speed(dataset: Dataset) -> None:
    """Entrainment as in the handbook's table; load and pressure fall and the film grows from row to row."""
    rows = answered(dataset).result["contact"]
    speeds = [round(row["speed"].si * 30 / pi) for row in rows]
    assert speeds == [800, 1000, 1500, 2000, 2500, 3000]
    printed = {800: 0.18, 1500: 0.35, 2000: 0.46, 2500: 0.58, 3000: 0.69}
    for rpm, row in zip(speeds, rows, strict=True):
        if rpm in printed:
            assert row["entrainment_speed"].si == pytest.approx(printed[rpm], abs=0.006)
    for slow, fast in pairwise(rows):
        assert fast["nose_load"].si < slow["nose_load"].si
        assert fast["crowned_pressure"].si < slow["crowned_pressure"].si
        assert fast["line_pressure"].si < slow["line_pressure"].si
        assert fast["film"].si > slow["film"].si
    assert rows[3]["film"].si / rows[0]["film"].si == pytest.approx(2, abs=0.1)
    assert max(row["film_ratio"] for row in rows) < 1


def test_rows_above_the_float_speed_are_left_out(dataset: Dataset) -> None:
    """Where the train has left the cam there is no nose load to answer."""
    answer = answered(dataset, seat_load="60 N", spring_rate="5 N/mm", valve_mass="400 g")
    rows = answer.result["contact"]
    assert 0 < len(rows) < 6
    assert all(row["nose_load"].si > 0 for row in rows)


def test_a_roller_has_another_contact(dataset: Dataset) -> None:
    """For a roller neither rows nor the check of a flat tappet are answered."""
    answer = answered(dataset, tappet="roller")
    assert "contact" not in answer.result
    assert "nose-stress" not in unchecked(answer)


@pytest.mark.parametrize(
    ("changes", "code", "severity"),
    [
        ({"solid_length": "25.95 mm"}, "coil-bind", "stop"),
        ({"solid_length": "25.9 mm"}, "coil-bind", "caution"),
        ({"solid_length": "25.45 mm"}, "coil-bind", "caution"),
        ({"solid_length": "25.4 mm"}, "coil-bind", None),
        ({"rocker_ratio": 1.3}, "coil-bind", "stop"),
        ({"retainer_gap": "10.05 mm"}, "retainer-to-guide", "stop"),
        ({"retainer_gap": "10.1 mm"}, "retainer-to-guide", None),
        ({"rev_limit": "5300 rpm"}, "float-margin", "fix"),
        ({"rev_limit": "5200 rpm"}, "float-margin", None),
        ({"rev_limit": "6400 rpm"}, "spring-surge", "note"),
        ({"rev_limit": "6200 rpm"}, "spring-surge", None),
        ({"push_rod_length": "400 mm"}, "push-rod-buckling", "fix"),
        ({"push_rod_length": "380 mm"}, "push-rod-buckling", None),
        ({"crown_radius": "300 mm"}, "nose-stress", "caution"),
        ({"crown_radius": "100 mm"}, "nose-stress", "fix"),
        ({"crown_radius": "350 mm"}, "nose-stress", None),
        ({"oil_viscosity": "200 mPa*s"}, "nose-runs-boundary", None),
        ({"open_load": "555 N", "open_length": "27 mm"}, "spring-rate-disagrees", None),
        ({"open_load": "590 N", "open_length": "27 mm"}, "spring-rate-disagrees", "ask"),
    ],
)
def test_findings_at_their_limits(dataset: Dataset, changes: dict[str, Any], code: str, severity: str | None) -> None:
    """Each rule of the handbook just past its limit and just inside it."""
    assert findings(answered(dataset, **changes)).get(code) == severity


def test_messages_carry_the_figures(dataset: Dataset) -> None:
    """What was computed and what is asked for, in both systems."""
    answer = answered(dataset, solid_length="26 mm", rev_limit="5500 rpm")
    messages = {finding.rule.code: finding.message for finding in answer.findings}
    assert "0.91 mm (0.036 in)" in messages["coil-bind"]
    assert "5500 rpm" in messages["float-margin"]


def test_what_is_missing_is_listed_and_never_a_pass(dataset: Dataset) -> None:
    """With rate and seat load alone every check is open, each with the inputs that it needs."""
    answer = ask(TOPIC, MINIMUM, dataset).answer
    open_checks = unchecked(answer)
    assert open_checks["open-load"] == ["valve_lift", "cam_lift"]
    assert open_checks["coil-bind"] == ["valve_lift", "solid_length"]
    assert open_checks["retainer-to-guide"] == ["valve_lift", "retainer_gap"]
    assert open_checks["valve-train-mass"] == [
        "valve_mass",
        "retainer_mass",
        "spring_mass",
        "push_rod_mass",
        "tappet_mass",
    ]
    assert {"float-margin", "spring-surge", "push-rod-buckling", "nose-stress", "lobe"} <= set(open_checks)
    assert answer.findings == []
    assert unchecked(answered(dataset, rev_limit=None))["float-margin"] == ["rev_limit"]
    assert unchecked(answered(dataset, rev_limit=None))["spring-surge"] == ["rev_limit"]
    assert unchecked(answered(dataset, crown_radius=None))["nose-stress"] == ["crown_radius"]
    assert unchecked(answered(dataset, base_circle_radius=None))["nose-stress"] == ["base_circle_radius"]
    assert unchecked(answered(dataset, base_circle_radius="6 mm"))["nose-stress"] == []


@pytest.mark.parametrize("left_out", ["duration", "cam_lift", "checked_duration", "valve_mass", "tappet_mass"])
def test_a_gap_asks_for_what_was_left_out_and_for_nothing_else(dataset: Dataset, left_out: str) -> None:
    """Float speed and nose pressure need lobe and masses: of all of these only one was not sent."""
    open_checks = unchecked(answered(dataset, **{left_out: None}, valve_lift="9.1 mm"))
    assert open_checks["float-margin"] == [left_out]
    assert open_checks["nose-stress"] == [left_out]


def test_a_valve_lift_leaves_the_lash_open(dataset: Dataset) -> None:
    """With the full lift sent, the float speed still rests on a lash; taken as none, it is named once."""
    answer = answered(dataset, valve_lift="9.09 mm", lash=None)
    assert "float_speed" in answer.result
    assert [entry["value"].si for entry in answer.assumptions if entry["field"] == "lash"] == [0.0]


def test_assumed_oil_and_roughness_are_named(dataset: Dataset) -> None:
    """Viscosity, roughness, opening pressure and the second checking lift are supplied aloud."""
    answer = answered(dataset, oil_viscosity=None, roughness=None, opening_pressure=None, second_checking_lift=None)
    fields = assumed(answer)
    assert {"oil_viscosity", "roughness", "opening_pressure", "second_checking_lift"} <= fields


def test_refusals(dataset: Dataset) -> None:
    """No rate, a load without its length, loads the wrong way round, unknown material, wire wider than its coil."""
    with pytest.raises(MissingInput) as rate:
        ask(TOPIC, {"installed_length": "36 mm", "seat_load": "300 N"}, dataset)
    assert rate.value.field == "open_load"
    with pytest.raises(MissingInput) as length:
        ask(TOPIC, {"installed_length": "36 mm", "seat_load": "300 N", "open_load": "555 N"}, dataset)
    assert length.value.field == "open_length"
    with pytest.raises(Contradiction):
        answered(dataset, open_load="200 N", open_length="27 mm")
    with pytest.raises(NotInDataset) as material:
        answered(dataset, pushrod_material="brass")
    assert material.value.known == ("aluminium", "steel")
    with pytest.raises(Contradiction) as wire:
        answered(dataset, wire_diameter="10 mm", mean_diameter="8 mm")
    assert wire.value.fields == ("wire_diameter", "mean_diameter")
    with pytest.raises(MissingInput) as arm:
        answered(dataset, valve_arm=None)
    assert arm.value.field == "valve_arm"
    with pytest.raises(OutsideValidity) as wall:
        answered(dataset, push_rod_wall="6 mm")
    assert wall.value.field == "push_rod_wall"


@pytest.mark.parametrize("corner", range(64))
def test_no_corner_of_the_ranges_fails(dataset: Dataset, corner: int) -> None:
    """At every corner of the hard ranges there is an answer of finite figures, or a refusal in words."""
    pick = [bool(corner >> bit & 1) for bit in range(6)]
    changes = {
        "installed_length": "90 mm" if pick[0] else "10 mm",
        "seat_load": "4000 N" if pick[1] else "20 N",
        "spring_rate": "200 N/mm" if pick[2] else "2 N/mm",
        "cam_lift": "16 mm" if pick[3] else "2 mm",
        "checked_duration": "236 deg" if pick[3] else "150 deg",
        "rocker_ratio": 2.2 if pick[4] else 0.7,
        "base_circle_radius": "40 mm" if pick[5] else "6 mm",
        "lash": "1.3 mm",
        "valve_mass": "1 g",
        "tappet_mass": "1000 g",
        "rev_limit": "15000 rpm",
        "crown_radius": "50 m" if pick[4] else "50 mm",
        "lobe_width": "3 mm",
        "oil_viscosity": "1000 mPa*s",
        "roughness": "0.02 um",
        "opening_pressure": "3000 kPa",
    }
    written = ask(TOPIC, changed(SOUND, changes), dataset).result_json.decode().lower()
    assert "nan" not in written
    assert "null" not in written
