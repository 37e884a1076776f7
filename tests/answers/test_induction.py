"""The induction answer: figures against the outside, each finding at, inside and beyond its limit."""

import math
from typing import Any

import pytest
from CoolProp.CoolProp import PropsSI
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from service.answers.asking import ask
from service.answers.envelope import Answer
from service.answers.induction import TOPIC
from service.errors import Contradiction, MissingInput, NotInDataset
from service.reference.dataset import Dataset
from tests.answers.reading import answered_in_finite_numbers_or_refused_by_field, assumed, findings, si, unchecked
from tests.questions import quantities

ENGINE: dict[str, Any] = {
    "displacement": "1696.2 cm3",
    "cylinders": 4,
    "speed": "5000 rpm",
    "volumetric_efficiency": 0.8,
    "altitude": "0 m",
    "temperature": "15 degC",
}
SOUND: dict[str, Any] = {
    **ENGINE,
    "speed": "4500 rpm",
    "rev_limit": "4800 rpm",
    "valve_diameter": "40 mm",
    "venturi_diameter": "28 mm",
    "venturis": 2,
    "pressure": "101.3 kPa",
    "humidity": 0.4,
    "main_jet": {"diameter": "1.30 mm"},
    "jetting_altitude": "100 m",
    "jetting_temperature": "15 degC",
    "air_fuel_ratio": 12.8,
    "fuel": "ron-95-e5",
    "fuel_pressure": "0.2 bar",
}


def answered(dataset: Dataset, document: dict[str, Any], **more: Any) -> Answer:
    return ask(TOPIC, {**document, **more}, dataset).answer


def test_air_demand_of_the_handbook_engine(dataset: Dataset) -> None:
    """1696 cm³ at 5000 rpm and 80 %: 120 cfm (in³·rpm·η/3456 by hand: 103.5·5000·0.8/3456), 250 kg/h at 1.225 kg/m³."""
    result = answered(dataset, ENGINE).result
    assert si(result["airflow_volume"]) * 60 / 0.3048**3 == pytest.approx(119.8, abs=0.1)
    assert si(result["airflow"]) * 3600 == pytest.approx(249.4, abs=0.3)
    assert si(result["air"]["density_altitude"]) == pytest.approx(0, abs=1)


def test_inlet_valve_by_taylors_formula(dataset: Dataset) -> None:
    """(86/38)² · 12.167/(0.33 · a) with CoolProp's speed of sound; the valve for 0.5 follows the square root."""
    result = answered(dataset, ENGINE, valve_diameter="38 mm").result
    sound = PropsSI("A", "T", 288.15, "P", 101325.0, "Air")
    expected = (86 / 38) ** 2 * (2 * 0.073 * 5000 / 60) / (0.33 * sound)
    assert result["inlet_mach_index"] == pytest.approx(expected, rel=2e-3)
    assert si(result["suggested_valve_diameter"]) == pytest.approx(0.038 * math.sqrt(expected / 0.5), rel=2e-3)
    assert si(result["breathing_speed"]["nominal"]) * 30 / math.pi == pytest.approx(5000 * 0.55 / expected, rel=2e-3)


def test_venturi_and_trade_rule(dataset: Dataset) -> None:
    """Two 28 mm venturis: 46 m/s; 29 mm by the trade's rule (handbook)."""
    venturi = answered(dataset, ENGINE, venturi_diameter="28 mm", venturis=2).result["venturi"]
    assert si(venturi["mean_speed"]) == pytest.approx(46, abs=0.2)
    assert si(venturi["suggested_diameter"]) == pytest.approx(0.029, abs=2e-4)


def test_main_jet_for_1500_metres_shows_physics_and_lore(dataset: Dataset) -> None:
    """1.30 becomes 1.24 by density (area × 0.914, handbook) and 1.17 by the old rule of 2 % for 1000 ft (by hand)."""
    answer = answered(
        dataset,
        ENGINE,
        altitude="1500 m",
        main_jet={"diameter": "1.30 mm"},
        jetting_altitude="0 m",
        jetting_temperature="15 degC",
    )
    jet = answer.result["jet_correction"]
    assert jet["area_factor"] == pytest.approx(0.914, abs=1e-3)
    assert si(jet["exact_diameter"]) == pytest.approx(1.243e-3, abs=1e-6)
    assert si(jet["nearest_diameter"]) == pytest.approx(1.25e-3, rel=1e-9)
    assert si(jet["trade_rule_diameter"]) == pytest.approx(1.30e-3 * (1 - 0.02 * 1500 / 304.8), rel=1e-9)
    assert {"jet-trade-rule-overcorrects", "jets-for-other-air"} <= set(findings(answer))


def test_the_same_air_asks_for_the_same_jet(dataset: Dataset) -> None:
    """Jetted at 35 °C in the same place, on a day of 60 %: the moisture is in both airs, and the jet stays."""
    answer = answered(
        dataset,
        ENGINE,
        temperature="35 degC",
        humidity=0.6,
        main_jet={"diameter": "1.30 mm"},
        jetting_altitude="0 m",
        jetting_temperature="35 degC",
    )
    jet = answer.result["jet_correction"]
    assert jet["density_ratio"] == pytest.approx(1, abs=1e-12)
    assert si(jet["exact_diameter"]) == pytest.approx(1.30e-3, rel=1e-9)
    assert [entry["value"] for entry in answer.assumptions if entry["field"] == "jetting_humidity"] == [0.6]


def test_flow_marked_jet_from_the_drawer(dataset: Dataset) -> None:
    """A flow number goes with the area: 130 · 0.914 = 118.8, of 110, 115, 120 the last; then 1 % rich."""
    answer = answered(
        dataset,
        ENGINE,
        altitude="1500 m",
        main_jet={"flow": 130, "flow_stock": [110, 115, 120, 130]},
        jetting_altitude="0 m",
        jetting_temperature="15 degC",
    )
    jet = answer.result["jet_correction"]
    assert jet["exact_flow"] == pytest.approx(118.8, abs=0.1)
    assert jet["nearest_flow"] == 120
    assert jet["mixture_change"] == pytest.approx(0.99, abs=2e-3)
    assert "main_jet.step" not in assumed(answer)


def test_a_sound_combination_raises_nothing(dataset: Dataset) -> None:
    """Everything told and everything right: no finding, and nothing left unchecked."""
    answer = answered(dataset, SOUND)
    assert findings(answer) == {}
    assert unchecked(answer) == {}


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({"rev_limit": "6500 rpm"}, "inlet-choked"),
        ({"venturi_diameter": "21 mm"}, "venturi-far-from-rule"),
        ({"jetting_altitude": "1000 m", "jetting_temperature": "10 degC"}, "jets-for-other-air"),
        ({"jetting_altitude": "1000 m"}, "jet-trade-rule-overcorrects"),
        ({"fuel_pressure": "5 psi"}, "fuel-pressure-high"),
        ({"fuel": "ron-95-e10"}, "ethanol-in-old-hoses"),
        ({"air_fuel_ratio": 14.0}, "mixture-lean"),
        ({"air_fuel_ratio": 11.0}, "mixture-rich"),
        ({"altitude": "1500 m"}, "barometer-is-sea-level"),
    ],
)
def test_each_finding_is_raised_by_its_cause(dataset: Dataset, change: dict[str, Any], code: str) -> None:
    """One change of the sound combination, one finding."""
    assert code in findings(answered(dataset, SOUND, **change))


@pytest.mark.parametrize(
    ("inside", "outside", "code"),
    [
        ({"fuel_pressure": "0.28 bar"}, {"fuel_pressure": "0.29 bar"}, "fuel-pressure-high"),
        ({"fuel_pressure": "4 psi"}, {"fuel_pressure": "4.2 psi"}, "fuel-pressure-high"),
        # By psychrolib, 40 % on both days: 7.6 % of density at 32 °C, 8.8 % at 35 °C.
        ({"jetting_temperature": "32 degC"}, {"jetting_temperature": "35 degC"}, "jets-for-other-air"),
        ({"air_fuel_ratio": 13.1}, {"air_fuel_ratio": 13.4}, "mixture-lean"),
        ({"venturi_diameter": "23 mm"}, {"venturi_diameter": "22 mm"}, "venturi-far-from-rule"),
    ],
)
def test_just_inside_the_limit_is_silent(dataset: Dataset, inside: dict[str, Any], outside: dict[str, Any], code: str) -> None:
    """The limit itself still passes; a little beyond does not."""
    assert code not in findings(answered(dataset, SOUND, **inside))
    assert code in findings(answered(dataset, SOUND, **outside))


def test_mach_limit_is_055(dataset: Dataset) -> None:
    """The speed that the answer names as the limit is the limit."""
    at = si(answered(dataset, SOUND).result["breathing_speed"]["nominal"]) * 30 / math.pi
    assert "inlet-choked" not in findings(answered(dataset, SOUND, rev_limit=f"{at * 0.999:.1f} rpm"))
    assert "inlet-choked" in findings(answered(dataset, SOUND, rev_limit=f"{at * 1.001:.1f} rpm"))


def test_what_was_left_out_is_assumed_or_unchecked_but_never_passed(dataset: Dataset) -> None:
    """With displacement and speed alone every default is named and every check that needs more says so."""
    answer = answered(dataset, {"displacement": "1.7 L", "speed": "4500 rpm"})
    assert assumed(answer) == {
        "pressure",
        "temperature",
        "humidity",
        "jetting_altitude",
        "volumetric_efficiency",
        "cylinders",
        "flow_coefficient",
        "stoichiometric_ratio",
    }
    assert set(unchecked(answer)) == {
        "air-of-the-place",
        "inlet-choked",
        "venturi-far-from-rule",
        "jets-for-other-air",
        "ethanol-in-old-hoses",
        "mixture-lean",
        "fuel-pressure-high",
    }


def test_the_fuel_moves_the_mixture_window(dataset: Dataset) -> None:
    """Pure ethanol burns at 9.0 : 1, so its break-in window is that of petrol × 9.0/14.7; λ stays the same."""
    petrol = answered(dataset, ENGINE).result["mixture"]
    assert petrol["break_in"] == {"richest": 12.5, "leanest": 13.5}
    assert petrol["power"] == {"richest": 12.5, "leanest": 13.2}
    other = answered(dataset, ENGINE, fuel="ron-95-e10").result["mixture"]
    assert other["break_in"]["richest"] == pytest.approx(12.5 * 14.1 / 14.7)
    assert other["break_in_excess_air"] == pytest.approx(petrol["break_in_excess_air"])


def test_thin_air_makes_fixed_jets_rich(dataset: Dataset) -> None:
    """12.8 : 1 at sea level is 11.7 : 1 at 1500 m and 15 °C: × √0.8345 (by hand)."""
    answer = answered(dataset, ENGINE, altitude="1500 m", air_fuel_ratio=12.8)
    assert answer.result["mixture"]["now"] == pytest.approx(12.8 * math.sqrt(0.8345), abs=0.01)


def test_a_jet_number_must_say_what_it_is(dataset: Dataset) -> None:
    """Neither diameter nor flow is missing; both contradict each other."""
    with pytest.raises(MissingInput, match=r"its diameter .* or its flow"):
        answered(dataset, ENGINE, main_jet={})
    with pytest.raises(Contradiction, match="leave one of them out"):
        answered(dataset, ENGINE, main_jet={"diameter": "1.3 mm", "flow": 130})


def test_an_unknown_fuel_names_the_nearest(dataset: Dataset) -> None:
    """ron95-e10 is not an id; ron-95-e10 is."""
    with pytest.raises(NotInDataset) as refusal:
        answered(dataset, ENGINE, fuel="ron95-e10")
    assert "ron-95-e10" in refusal.value.nearest


JETS = st.one_of(
    st.just({}),
    st.fixed_dictionaries({"diameter": quantities(0.2, 4, "mm")}, optional={"flow": st.just(130)}),
    st.fixed_dictionaries({"flow": st.floats(5, 2000)}, optional={"flow_stock": st.lists(st.floats(5, 2000), min_size=1)}),
)
QUESTIONS = st.fixed_dictionaries(
    {"displacement": quantities(10, 60000, "cm3"), "speed": quantities(1, 15000, "rpm")},
    optional={
        "cylinders": st.integers(1, 36),
        "volumetric_efficiency": st.floats(0.2, 1.2),
        "rev_limit": quantities(1, 15000, "rpm"),
        "valve_diameter": quantities(12, 70, "mm"),
        "flow_coefficient": st.floats(0.15, 0.6),
        "venturi_diameter": quantities(8, 60, "mm"),
        "venturis": st.integers(1, 16),
        "altitude": quantities(-400, 6000, "m"),
        "temperature": quantities(-50, 60, "degC"),
        "pressure": quantities(40, 110, "kPa"),
        "humidity": st.floats(0, 1),
        "main_jet": JETS,
        "jetting_altitude": quantities(-400, 6000, "m"),
        "jetting_temperature": quantities(-50, 60, "degC"),
        "air_fuel_ratio": st.floats(7, 22),
        "fuel_pressure": quantities(0, 5, "bar"),
    },
)


@settings(max_examples=150, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(QUESTIONS)
def test_every_legal_question_is_answered_in_finite_numbers_or_refused(dataset: Dataset, document: dict[str, Any]) -> None:
    """Over the whole hard range: an answer that fits its model, or a deliberate refusal that names a field of the question."""
    assert answered_in_finite_numbers_or_refused_by_field(TOPIC, document, dataset)
