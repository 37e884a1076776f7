"""Induction over HTTP: shop units, refusals with their place, and the published cases through the door."""

from typing import Any

import pytest

from tests.client import Client, faults
from tests.published.cases import published

PATH = "/v1/induction"
CASES = published("induction")
ENGINE: dict[str, Any] = {
    "displacement": "1696 cm3",
    "speed": "5000 rpm",
    "volumetric_efficiency": 0.8,
    "valve_diameter": "38 mm",
    "venturi_diameter": "28 mm",
    "altitude": "1500 m",
    "temperature": "15 degC",
}


def test_published_air_demand_in_shop_units(client: Client) -> None:
    """97.16 cu in at 4500 rpm and 80 % draw 101.2 cfm (case G11, the trade's in³·rpm/3456)."""
    given, expected = CASES["G11"]["given"], CASES["G11"]["expected"]["flow"]
    question = {
        "displacement": given["displacement"].replace("in3", "cu in"),
        "speed": given["rpm"],
        "volumetric_efficiency": given["vol_eff"],
    }
    flow = client.get(PATH, params={**question, "units": "us"}).json()["result"]["airflow_volume"]
    assert flow["unit"] == "cfm"
    assert flow["value"] == pytest.approx(float(expected.split()[0]), abs=CASES["G11"]["tolerance"]["abs"])


def test_the_fields_of_the_contract_are_enough(client: Client) -> None:
    """Displacement, speed, efficiency, diameters, altitude and temperature answer everything; the rest is named."""
    answer = client.post(PATH, ENGINE)
    assert answer.status_code == 200, answer.text
    result = answer.json()["result"]
    assert result["airflow"]["unit"] == "kg/h"
    assert isinstance(result["inlet_mach_index"], float)
    assert result["venturi"]["mean_speed"]["unit"] == "m/s"
    assert result["jet_correction"]["area_factor"] == pytest.approx(0.914, abs=1e-3)
    assert {"cylinders", "venturis"} <= {entry["field"] for entry in answer.json()["assumptions"]}


def test_a_question_in_feet_and_fahrenheit_is_the_same_question(client: Client) -> None:
    """4921.26 ft and 59 °F are 1500 m and 15 °C."""
    metric = client.post(PATH, ENGINE).json()["result"]
    us = client.post(PATH, {**ENGINE, "altitude": "4921.26 ft", "temperature": "59 °F", "displacement": "1.696 L"}).json()[
        "result"
    ]
    assert us["airflow"]["value"] == pytest.approx(metric["airflow"]["value"], rel=1e-6)


def test_answers_in_us_units(client: Client) -> None:
    """``?units=us``: cfm, inches, feet; the metric figure stands in brackets."""
    result = client.post(f"{PATH}?units=us", ENGINE).json()["result"]
    assert result["suggested_valve_diameter"]["unit"] == "in"
    assert result["air"]["density_altitude"]["unit"] == "ft"
    assert "mm)" in result["suggested_valve_diameter"]["text"]


def test_a_nested_jet_in_the_query(client: Client) -> None:
    """``main_jet.diameter`` in the address asks what the body asks; a list is separated by commas."""
    body = {**ENGINE, "main_jet": {"diameter": "1.30 mm", "diameter_stock": ["1.20 mm", "1.25 mm"]}}
    query = {
        **ENGINE,
        "main_jet.diameter": "1.30mm",
        "main_jet.diameter_stock": "1.20mm,1.25mm",
    }
    posted, got = client.post(PATH, body).json(), client.get(PATH, params=query).json()
    assert got["result"] == posted["result"]
    assert got["result"]["jet_correction"]["nearest_diameter"]["value"] == 1.25


@pytest.mark.parametrize(
    ("change", "pointer", "code"),
    [
        ({"displacement": 1696}, "/displacement", "unit-missing"),
        ({"displacement": "1696 mm"}, "/displacement", "unit-mismatch"),
        ({"volumetric_efficiency": 80}, "/volumetric_efficiency", "out-of-range"),
        ({"volumetric_efficiency": True}, "/volumetric_efficiency", "not-a-number"),
        ({"venturi_diameter": "5 mm"}, "/venturi_diameter", "out-of-range"),
        ({"altitude": "9000 m"}, "/altitude", "out-of-range"),
        ({"main_jet": {}}, "/main_jet/diameter", "missing"),
        ({"main_jet": {"diameter": "1.3 mm", "flow": 130}}, "/main_jet/flow", "contradiction"),
        ({"fuel": "ron95"}, "/fuel", "unknown-id"),
        ({"valve": "38 mm"}, "/valve", "unknown-name"),
    ],
)
def test_a_wrong_input_is_refused_where_it_stands(client: Client, change: dict[str, Any], pointer: str, code: str) -> None:
    """Problem details name the pointer and the code of the fault."""
    assert (pointer, code) in faults(client.post(PATH, {**ENGINE, **change}))


def test_a_slip_of_the_barometer_is_asked_about_first(client: Client) -> None:
    """1013 hPa at 1500 m: answered, with the ask before every other finding."""
    answer = client.post(PATH, {**ENGINE, "pressure": "1013 hPa", "fuel_pressure": "6 psi"}).json()
    assert answer["findings"][0]["code"] == "barometer-is-sea-level"
    assert [finding["severity"] for finding in answer["findings"]][:2] == ["ask", "fix"]


@pytest.mark.parametrize(("face", "words"), [("text", "inlet mach index"), ("html", "airflow"), ("csv", "airflow_volume,")])
def test_other_faces_hold_the_same_figures(client: Client, face: str, words: str) -> None:
    """CSV, page and terminal text come from the same answer."""
    digits = client.post(PATH, ENGINE).json()["result"]["airflow"]["text"]
    page = client.post(f"{PATH}?format={face}", ENGINE)
    assert page.status_code == 200
    assert words in page.text
    assert digits in page.text
