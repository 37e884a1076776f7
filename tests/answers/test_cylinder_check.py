"""The cylinder check: rules of the manuals, what points where, and what was not checked."""

from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from service.answers.asking import ask
from service.answers.cylinder_check import TOPIC
from service.answers.envelope import Answer
from service.errors import Contradiction, MissingInput, OutsideValidity
from service.reference.dataset import Dataset
from tests.answers.reading import answered_in_finite_numbers_or_refused_by_field, assumed, findings, si
from tests.questions import quantities

SOUND: dict[str, Any] = {
    "gauge_pressures": ["9.0 bar", "9.2 bar", "8.9 bar", "9.1 bar"],
    "altitude": "0 m",
    "effective_ratio": 6.62,
    "neighbours": [{"first": 1, "second": 2}, {"first": 3, "second": 4}],
    "conditions": {"warm": True, "throttle_open": True, "plugs_out": True},
    "idle_vacuum": "17 inHg",
}
LEAKS: dict[str, Any] = {
    "altitude": "0 m",
    "leak_down": {"supply": "80 psi", "orifice": "1.016 mm", "readings": ["76 psi", "75 psi", "77 psi", "74 psi"]},
}


def answered(dataset: Dataset, document: dict[str, Any], **more: Any) -> Answer:
    kept = {key: value for key, value in {**document, **more}.items() if value is not None}
    return ask(TOPIC, kept, dataset).answer


def verdicts(answer: Answer) -> list[str]:
    return [row["verdict"] for row in answer.result["cylinders"]]


def test_a_sound_engine_raises_nothing(dataset: Dataset) -> None:
    """Four alike within the band, taken as they must be: good, and nothing left unchecked."""
    answer = answered(dataset, SOUND)
    assert findings(answer) == {}
    assert answer.unchecked == []
    assert verdicts(answer) == ["good"] * 4
    assert answer.result["spread"]["agrees"] is True


def test_expected_band_of_the_handbook(dataset: Dataset) -> None:
    """Effective ratio 6.62: 9.3 ± 1.7 bar at sea level, 7.8 at 1500 m."""
    band = answered(dataset, SOUND).result["expected_pressure"]
    assert si(band["nominal"]) == pytest.approx(9.3e5, abs=0.05e5)
    assert si(band["high"]) - si(band["nominal"]) == pytest.approx(1.7e5, abs=0.05e5)
    high = answered(dataset, SOUND, altitude="1500 m").result["expected_pressure"]
    assert si(high["nominal"]) == pytest.approx(7.8e5, abs=0.05e5)


def test_the_makers_band_moves_with_altitude(dataset: Dataset) -> None:
    """A band of 8 to 10 bar at sea level is 6.7 to 8.3 at 1500 m: × 84.56/101.325 (by hand)."""
    answer = answered(dataset, SOUND, altitude="1500 m", expected={"low": "8 bar", "high": "10 bar"}, effective_ratio=None)
    band = answer.result["expected_pressure"]
    assert si(band["low"]) == pytest.approx(8e5 * 84.56 / 101.325, rel=1e-4)
    assert si(band["high"]) == pytest.approx(10e5 * 84.56 / 101.325, rel=1e-4)
    assert "expected.altitude" in assumed(answer)
    told = answered(
        dataset,
        SOUND,
        altitude="1500 m",
        expected={"low": "7 bar", "high": "8 bar", "altitude": "1500 m"},
        effective_ratio=None,
    )
    assert si(told.result["expected_pressure"]["low"]) == pytest.approx(7e5, rel=1e-9)


def test_a_low_cylinder_is_a_fault_with_a_next_step(dataset: Dataset) -> None:
    """9.0 9.2 6.2 9.1 bar: the third has 74 % of 8.375 (by hand), below the 80 % of TM 1-1500-204-23-1."""
    answer = answered(dataset, SOUND, gauge_pressures=["9.0 bar", "9.2 bar", "6.2 bar", "9.1 bar"])
    assert findings(answer)["compression-spread"] == "fix"
    assert verdicts(answer) == ["good", "good", "fault", "good"]
    low = answer.result["cylinders"][2]
    assert si(low["share_of_mean"]) == pytest.approx(6.2 / 8.375)
    assert "oil" in low["next_steps"][0]


@pytest.mark.parametrize(
    ("wet", "points_to", "words"),
    [("8.6 bar", "rings", "rings"), ("6.5 bar", "valve-or-gasket", "valve"), ("4.0 bar", "repeat", "repeat")],
)
def test_wet_test_says_where_to_look(dataset: Dataset, wet: str, points_to: str, words: str) -> None:
    """A gain of 1.5 bar or more is rings, less a valve or the joint, a fall is repeated (shop rule)."""
    answer = answered(
        dataset,
        SOUND,
        gauge_pressures=["9.0 bar", "9.2 bar", "6.2 bar", "9.1 bar"],
        wet_tests=[{"cylinder": 3, "gauge_pressure": wet}],
    )
    low = answer.result["cylinders"][2]
    assert low["wet_test"] == points_to
    assert words in " ".join(low["next_steps"])


@pytest.mark.parametrize(
    ("pressures", "expected"),
    [
        (["8.0 bar", "10.0 bar", "10.0 bar", "10.0 bar"], {"compression-spread": "caution"}),  # 84 % of the mean, 2 bar range
        (["8.5 bar", "10.0 bar", "9.5 bar", "10.0 bar"], {}),  # 1.5 bar range
        (["8.4 bar", "10.0 bar", "9.5 bar", "10.0 bar"], {"compression-spread": "caution"}),
        (["7.3 bar", "10.0 bar", "10.0 bar", "10.0 bar"], {"compression-spread": "fix"}),  # 78 %
    ],
)
def test_limits_of_the_spread(dataset: Dataset, pressures: list[str], expected: dict[str, str]) -> None:
    """80 % of the average is the manual's limit (fix), 1.5 bar the trade's (caution)."""
    found = findings(answered(dataset, SOUND, gauge_pressures=pressures, effective_ratio=None, idle_vacuum=None))
    assert found == expected


def test_low_neighbours_are_found_where_the_average_hides_them(dataset: Dataset) -> None:
    """7.2 7.1 9.2 9.3: no cylinder below 80 % of the mean, yet the pair 1-2 has 78 % of the others: the joint."""
    answer = answered(dataset, SOUND, gauge_pressures=["7.2 bar", "7.1 bar", "9.2 bar", "9.3 bar"], effective_ratio=None)
    assert findings(answer)["low-neighbours"] == "fix"
    assert findings(answer)["compression-spread"] == "caution"
    assert verdicts(answer) == ["fault", "fault", "good", "good"]
    for row in answer.result["cylinders"][:2]:
        assert len(row["next_steps"]) == 1
        assert row["next_steps"][0].index("head nuts") < row["next_steps"][0].index("joint")
    alike = answered(dataset, SOUND, gauge_pressures=["7.5 bar", "7.4 bar", "9.2 bar", "9.3 bar"], effective_ratio=None)
    assert "low-neighbours" not in findings(alike)


def test_the_verdicts_say_what_the_findings_say(dataset: Dataset) -> None:
    """9 9 6.2 6.2: the pair 3-4 has 69 % of the others; two faults with the joint to look at, never four good ones."""
    answer = answered(dataset, SOUND, gauge_pressures=["9 bar", "9 bar", "6.2 bar", "6.2 bar"], effective_ratio=None)
    assert findings(answer) == {"low-neighbours": "fix", "compression-spread": "caution"}
    assert verdicts(answer) == ["good", "good", "fault", "fault"]
    steps = [row["next_steps"] for row in answer.result["cylinders"]]
    assert steps[:2] == [[], []]
    assert all("head nuts" in " ".join(step) for step in steps[2:])


def test_the_lowest_of_cylinders_that_do_not_agree_is_watched_and_named(dataset: Dataset) -> None:
    """10 10 10 8.4: 1.6 bar between best and worst, above 80 % of 9.6: cylinder 4 is to be watched, lash first."""
    readings = ["10 bar", "10 bar", "10 bar", "8.4 bar"]
    answer = answered(dataset, SOUND, gauge_pressures=readings, effective_ratio=None)
    assert findings(answer) == {"compression-spread": "caution"}
    spread = answer.findings[0]
    assert spread.message.startswith("Cylinder 4: 160 kPa")
    assert spread.fields == ("gauge_pressures.3",)
    assert verdicts(answer) == ["good", "good", "good", "watch"]
    steps = answer.result["cylinders"][3]["next_steps"]
    assert len(steps) == 1
    assert steps[0].index("lash") < steps[0].index("oil")
    wet = answered(
        dataset, SOUND, gauge_pressures=readings, effective_ratio=None, wet_tests=[{"cylinder": 4, "gauge_pressure": "8.6 bar"}]
    )
    assert len(wet.result["cylinders"][3]["next_steps"]) == 1
    assert "did not help" in wet.result["cylinders"][3]["next_steps"][0]


def test_what_the_expected_band_rests_on_is_named(dataset: Dataset) -> None:
    """The band of an effective ratio rests on exponent 1.24 and filling 0.98 (handbook); the maker's band on neither."""
    supplied = {entry["field"]: entry["value"] for entry in answered(dataset, SOUND).assumptions}
    assert {name: supplied.get(name) for name in ("exponent", "filling")} == {"exponent": 1.24, "filling": 0.98}
    told = answered(dataset, SOUND, expected={"low": "7 bar", "high": "10 bar", "altitude": "0 m"})
    assert assumed(told) == {"pressure"}


def test_readings_outside_the_band(dataset: Dataset) -> None:
    """All low is a caution, high a note; both are named with the band."""
    low = answered(dataset, SOUND, gauge_pressures=["7.0 bar", "7.1 bar", "7.0 bar", "7.2 bar"])
    assert findings(low) == {"compression-off-expected": "caution"}
    assert verdicts(low) == ["watch"] * 4
    assert low.findings[0].message.startswith("Every cylinder below")
    high = answered(dataset, SOUND, gauge_pressures=["11.3 bar", "10.2 bar", "10.3 bar", "10.4 bar"])
    assert findings(high) == {"compression-off-expected": "note"}
    assert verdicts(high) == ["watch", "good", "good", "good"]
    assert "carbon" in high.result["cylinders"][0]["next_steps"][0]


def test_how_it_was_taken(dataset: Dataset) -> None:
    """Cold and with the throttle shut is a caution; not told is unchecked."""
    answer = answered(dataset, SOUND, conditions={"warm": False, "throttle_open": False, "plugs_out": True})
    assert findings(answer) == {"compression-test-conditions": "caution"}
    assert "cold and with the throttle shut" in answer.findings[0].message
    silent = answered(dataset, SOUND, conditions=None)
    assert [entry["check"] for entry in silent.unchecked] == ["compression-test-conditions"]


def test_idle_vacuum_at_altitude(dataset: Dataset) -> None:
    """17 inHg at sea level are 14.2 at 1500 m (handbook): 14 there is sound, 14 at sea level is low."""
    high = answered(dataset, SOUND, altitude="1500 m", idle_vacuum="14 inHg", effective_ratio=None)
    assert findings(high) == {}
    assert si(high.result["idle_vacuum"]["usual_here"]) / 3386.39 == pytest.approx(14.2, abs=0.05)
    assert findings(answered(dataset, SOUND, idle_vacuum="14.9 inHg")) == {"idle-vacuum-low": "caution"}
    assert findings(answered(dataset, SOUND, idle_vacuum="15.1 inHg")) == {}


def test_leak_down_on_the_standard_tester(dataset: Dataset) -> None:
    """60 of 80 psi is the limit of AC 43.13-1B: it passes as usable, 59 does not."""
    answer = answered(dataset, LEAKS)
    assert findings(answer) == {}
    assert verdicts(answer) == ["good"] * 4
    limit = answered(dataset, LEAKS, leak_down={**LEAKS["leak_down"], "readings": ["60 psi", "59 psi"]})
    assert [row["leak"]["verdict"] for row in limit.result["cylinders"]] == ["usable", "leaks"]
    assert verdicts(limit) == ["watch", "fault"]
    assert findings(limit) == {"leak-down": "fix"}
    assert si(limit.result["cylinders"][0]["leak"]["standard_share"]) == pytest.approx(0.25, abs=1e-6)
    assert si(limit.result["cylinders"][0]["leak"]["equivalent_leak"]) == pytest.approx(1.05e-3, abs=0.01e-3)


def test_another_tester_is_converted_not_believed(dataset: Dataset) -> None:
    """45/100 psi through 0.5 mm looks like 55 % and is 6 % on the standard tester; 12/100 is its 25 % (handbook)."""
    document = {"supply": "100 psi", "orifice": "0.5 mm", "readings": ["45 psi", "11.6 psi", "10 psi"]}
    answer = answered(dataset, LEAKS, leak_down=document)
    assert verdicts(answer) == ["good", "watch", "fault"]
    assert findings(answer) == {"leak-down": "fix", "leak-tester-differs": "note"}


def test_a_cylinder_that_holds_nothing_is_a_fault_not_an_error(dataset: Dataset) -> None:
    """A reading of zero has no leak size, yet the answer names it and what to check first."""
    answer = answered(dataset, LEAKS, leak_down={**LEAKS["leak_down"], "readings": ["76 psi", "0 psi"]})
    dead = answer.result["cylinders"][1]
    assert dead["verdict"] == "fault"
    assert "equivalent_leak" not in dead["leak"]
    assert "holds nothing" in next(f.message for f in answer.findings if f.rule.code == "leak-down")
    assert "valves and piston position" in dead["next_steps"][0]


@pytest.mark.parametrize(
    ("place", "words"),
    [("carburettor", "intake valve"), ("exhaust", "exhaust valve"), ("oil-filler", "rings"), ("head-joint", "head joint")],
)
def test_the_hiss_says_where(dataset: Dataset, place: str, words: str) -> None:
    """Carburettor: intake valve; exhaust: exhaust valve; oil filler: rings; fins: head joint (trade knowledge)."""
    heard = {**LEAKS["leak_down"], "readings": ["76 psi", "40 psi"], "heard": [{"cylinder": 2, "at": place}]}
    steps = answered(dataset, LEAKS, leak_down=heard).result["cylinders"][1]["next_steps"]
    assert words in " ".join(steps)


def test_defaults_are_named(dataset: Dataset) -> None:
    """Tester and air left out: those of AC 43.13-1B and of sea level, as assumptions; the band is unchecked."""
    leaks = answered(dataset, {"leak_down": {"readings": ["70 psi"]}})
    assert assumed(leaks) == {"pressure", "leak_down.supply", "leak_down.orifice"}
    assert "air-of-the-place" in {entry["check"] for entry in leaks.unchecked}
    plain = answered(dataset, {"gauge_pressures": ["9 bar"], "altitude": "0 m"})
    assert {entry["check"] for entry in plain.unchecked} == {
        "compression-test-conditions",
        "compression-spread",
        "compression-off-expected",
        "idle-vacuum-low",
    }
    assert plain.result["spread"] is None


def test_the_dangers_are_told(dataset: Dataset) -> None:
    """Ignition dead and fuel off before cranking; compressed air kicks the crank (AC 43.13-1B)."""
    cautions = " ".join(answered(dataset, LEAKS).cautions).lower()
    assert "ignition dead" in cautions
    assert "compressed air turns the crank" in cautions


def test_what_does_not_fit_together_is_refused(dataset: Dataset) -> None:
    """Nothing to check, lists of different length, a wet test without its dry one, a pair that is not there."""
    with pytest.raises(MissingInput) as missing:
        answered(dataset, {"altitude": "0 m"})
    assert missing.value.field == "gauge_pressures"
    with pytest.raises(Contradiction, match="one reading for every cylinder"):
        answered(dataset, SOUND, leak_down={"readings": ["70 psi"]})
    with pytest.raises(Contradiction, match="dry reading"):
        answered(dataset, SOUND, wet_tests=[{"cylinder": 5, "gauge_pressure": "9 bar"}])
    with pytest.raises(Contradiction, match="dry reading"):
        answered(dataset, LEAKS, wet_tests=[{"cylinder": 1, "gauge_pressure": "9 bar"}])
    with pytest.raises(Contradiction, match="without a reading"):
        answered(dataset, LEAKS, leak_down={"readings": ["70 psi"], "heard": [{"cylinder": 2, "at": "exhaust"}]})
    with pytest.raises(Contradiction, match="exchange"):
        answered(dataset, SOUND, expected={"low": "10 bar", "high": "8 bar"})
    with pytest.raises(OutsideValidity, match="numbered from 1"):
        answered(dataset, SOUND, neighbours=[{"first": 1, "second": 7}])
    with pytest.raises(OutsideValidity, match="exchanged"):
        answered(dataset, LEAKS, leak_down={"supply": "60 psi", "readings": ["80 psi"]})


NUMBERS = st.integers(1, 36)
QUESTIONS = st.fixed_dictionaries(
    {},
    optional={
        "gauge_pressures": st.lists(quantities(0, 25, "bar"), min_size=1, max_size=36),
        "leak_down": st.fixed_dictionaries(
            {"readings": st.lists(quantities(0, 2, "bar"), min_size=1, max_size=36), "supply": quantities(2, 10, "bar")},
            optional={"orifice": quantities(0.2, 3, "mm")},
        ),
        "altitude": quantities(-400, 6000, "m"),
        "pressure": quantities(40, 110, "kPa"),
        "effective_ratio": st.floats(2, 14),
        "expected": st.fixed_dictionaries({"low": quantities(0, 25, "bar"), "high": quantities(0, 25, "bar")}),
        "wet_tests": st.lists(
            st.fixed_dictionaries({"cylinder": NUMBERS, "gauge_pressure": quantities(0, 25, "bar")}), min_size=1, max_size=4
        ),
        "neighbours": st.lists(st.fixed_dictionaries({"first": NUMBERS, "second": NUMBERS}), min_size=1, max_size=3),
        "idle_vacuum": quantities(0, 90, "kPa"),
    },
)


@settings(max_examples=150, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(QUESTIONS)
def test_every_legal_question_is_answered_in_finite_numbers_or_refused(dataset: Dataset, document: dict[str, Any]) -> None:
    """Over the whole hard range: an answer that fits its model, or a deliberate refusal that names a field of the question."""
    assert answered_in_finite_numbers_or_refused_by_field(TOPIC, document, dataset)
