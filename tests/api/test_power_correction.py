"""Power correction over HTTP: published cases, shop units, refusals."""

from typing import Any

import pytest

from tests.client import Client, faults
from tests.published.cases import published
from tests.questions import changed

PATH = "/v1/power-correction"
CASES = published("power_correction")
RUN: dict[str, Any] = {
    "standard": "iso-1585",
    "observed_power": "45 kW",
    "speed": "4500 rpm",
    "displacement": "1696 cm3",
    "pressure": "98 kPa",
    "temperature": "28 degC",
    "humidity": 0.45,
    "altitude": "200 m",
    "throttle": "full",
}


def test_published_iso_correction(client: Client) -> None:
    """640 kW at 98 kPa, 303 K and 80 % become 683 kW (case A20; that example takes 4.2 kPa as saturated, we 4.21)."""
    case = CASES["A20"]
    answer = client.post(
        PATH,
        {"standard": "iso-1585", "observed_power": "320 kW", "pressure": "98 kPa", "temperature": "303 K", "humidity": 0.8},
    )
    half = answer.json()["result"]["corrected_power"]
    assert half["unit"] == "kW"
    assert 2 * half["value"] == pytest.approx(float(case["expected"]["Pr"].split()[0]), abs=1.0)


def test_published_j1349_factor(client: Client) -> None:
    """95.0 kPa dry and 35 °C: 1.0702 (case A22)."""
    question = {
        **RUN,
        "standard": "sae-j1349",
        "pressure": "95.0 kPa",
        "temperature": "35 degC",
        "humidity": 0,
        "altitude": "500 m",
    }
    factor = client.post(PATH, question).json()["result"]["factor"]
    assert factor == pytest.approx(CASES["A22"]["expected"]["cf"], abs=CASES["A22"]["tolerance"]["abs"])


@pytest.mark.parametrize("identity", ["C06"])
def test_published_mean_pressure(client: Client, identity: str) -> None:
    """80 × 80 mm four, 50 kW at 4800 rpm: 7.77 bar."""
    case = CASES[identity]
    question = {**RUN, "observed_power": case["given"]["power"], "speed": case["given"]["rpm"], "displacement": "1608.5 cm3"}
    bmep = client.post(PATH, question).json()["result"]["observed_bmep"]
    assert bmep["value"] / 100 == pytest.approx(7.77, abs=0.006)


def test_shop_units_in_the_address_line(client: Client) -> None:
    """lb-ft, inHg and °F in, hp and psi out; 72 lb-ft at 4200 rpm are 57.6 hp (72·4200/5252 by hand)."""
    question = {
        "standard": "din-70020",
        "observed_torque": "72 lb-ft",
        "speed": "4200rpm",
        "pressure": "29.1 inHg",
        "temperature": "77F",
        "humidity": "0.3",
        "units": "us",
    }
    answer = client.get(PATH, params=question)
    assert answer.status_code == 200, answer.text
    result = answer.json()["result"]
    assert result["observed_power"]["unit"] == "hp"
    assert result["observed_power"]["value"] == pytest.approx(57.58, abs=0.01)
    assert result["dry_pressure"]["unit"] == "psi"
    assert answer.headers["dataset-version"]


def test_get_is_post(client: Client) -> None:
    """The address that an answer names asks the same again."""
    posted = client.post(PATH, RUN)
    got = client.get(posted.headers["content-location"])
    assert got.json() == posted.json()


@pytest.mark.parametrize(
    ("change", "pointer", "code"),
    [
        ({"standard": "SAE"}, "/standard", "unknown-choice"),
        ({"pressure": "84.6 kPa", "altitude": "1500 m"}, "/pressure", "outside-validity"),
        ({"pressure": 98}, "/pressure", "unit-missing"),
        ({"humidity": 45}, "/humidity", "out-of-range"),
        ({"throttle": "part"}, "/throttle", "contradiction"),
        ({"observed_torque": "200 N*m"}, "/observed_torque", "contradiction"),
        ({"observed_power": None}, "/observed_power", "missing"),
        ({"observed_power": "45 N*m"}, "/observed_power", "unit-mismatch"),
        ({"temperature": None}, "/temperature", "missing"),
    ],
)
def test_a_wrong_input_is_refused_where_it_stands(client: Client, change: dict[str, Any], pointer: str, code: str) -> None:
    """Problem details name the pointer and the code of the fault."""
    assert (pointer, code) in faults(client.post(PATH, changed(RUN, change)))


def test_metric_horsepower_is_not_imperial(client: Client) -> None:
    """60 PS are 44.13 kW, 60 hp are 44.74: told apart by the unit (definitions)."""
    ps, hp = (
        client.post(PATH, {**RUN, "observed_power": f"60 {unit}"}).json()["result"]["observed_power"]["value"]
        for unit in ("PS", "hp")
    )
    assert ps == pytest.approx(44.13, abs=0.005)
    assert hp == pytest.approx(44.74, abs=0.005)
