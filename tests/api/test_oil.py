"""Oil over HTTP: shop units, the address line, faces, and refusals at their place."""

import csv
import io
from typing import Any

import pytest

from tests.client import Client, faults
from tests.published.cases import published

PATH = "/v1/oil"
CASES = published("oil")
COOLED: dict[str, Any] = {
    "sump": "2.5 L",
    "filter": "0.35 L",
    "cooler": "0.45 L",
    "lines": [{"bore": '1/2"', "length": "12 ft"}],
    "grade": "SAE 30",
}


def test_published_viscosity(client: Client) -> None:
    """Case O24 (worksheet on ASTM D341), as printed: 32 and 5.4 mm²/s are 8.5 mm²/s at 80 °C."""
    given = CASES["O24"]["given"]
    question = {"sump": "2.5 L", "viscosity_40": given["nu1"], "viscosity_100": given["nu2"], "temperatures": [given["t3"]]}
    answer = client.post(PATH, question)
    assert answer.status_code == 200, answer.text
    row = answer.json()["result"]["viscosity"][0]
    assert row["kinematic"]["nominal"]["value"] == pytest.approx(CASES["O24"]["expected"]["nu3"]["value"], abs=0.06)
    assert {entry["id"] for entry in answer.json()["basis"]} >= {"walther-line", "viscosity-at-temperature"}


def test_published_index(client: Client) -> None:
    """Case O20 (ASTM D2270 5.1.4) in centistokes: index 92."""
    given = CASES["O20"]["given"]
    params = {
        "sump": "2.5L",
        "viscosity_40": f"{given['nu40']['value']} cSt",
        "viscosity_100": f"{given['nu100']['value']} cSt",
    }
    index = client.get(PATH, params=params).json()["result"]["viscosity_index"]
    assert round(index) == CASES["O20"]["expected"]["vi_rounded"]


def test_published_saybolt_seconds(client: Client) -> None:
    """Case O28: an oil of 32 mm²/s at 100 °F runs out in 150.5 s; two points put it there."""
    question = {
        "sump": "2.5 L",
        "viscosity_40": "29.2 cSt",
        "viscosity_100": "5.1 cSt",
        "temperatures": ["100 degF"],
    }
    row = client.post(PATH, question).json()["result"]["viscosity"][0]
    assert row["kinematic"]["nominal"]["value"] == pytest.approx(32, abs=0.3)
    assert row["saybolt"]["value"] == pytest.approx(CASES["O28"]["expected"]["sus"]["value"], abs=2)


def test_published_pressure_pair(client: Client) -> None:
    """Case O26: 26 psi, printed as 1.8 bar, is understood as the same pressure."""
    reading = {"pressure": CASES["O26"]["given"]["value"], "speed": "2850 rpm", "temperature": "220 degF"}
    inputs = client.post(PATH, {**COOLED, "reading": reading}).json()["inputs"]
    si = inputs["reading"]["pressure"]["si"]
    assert si["unit"] == "Pa"
    assert si["value"] / 1e5 == pytest.approx(CASES["O26"]["expected"]["value"]["value"], abs=0.05)


def test_shop_units_make_the_same_fill(client: Client) -> None:
    """Quarts, inches and feet: 2 US quarts of sump and 12 ft of half-inch hose."""
    answer = client.post(
        f"{PATH}?units=us", {"sump": "2 qt", "filter": "12 fl oz", "cooler": "1 pt", "lines": COOLED["lines"]}
    ).json()
    fill = answer["result"]["fill"]
    assert fill["total"]["unit"] == "qt"
    # By hand: 2 + 12/32 + 1/2 qt, and π/4 · 0.5² · 144 in³ = 28.27 in³ = 0.4896 qt of hose (57.75 in³ a quart).
    assert fill["total"]["value"] == pytest.approx(2 + 0.375 + 0.5 + 28.274 / 57.75, abs=1e-4)
    assert "L)" in fill["total"]["text"]


def test_get_is_post(client: Client) -> None:
    """The same question in the address line, nested fields joined by dots, has the same answer and receipt."""
    params = {
        "sump": "2.5L",
        "filter": "0.35L",
        "cooler": "0.45L",
        "lines.0.bore": '1/2"',
        "lines.0.length": "12ft",
        "grade": "SAE 30",
    }
    got, posted = client.get(PATH, params=params), client.post(PATH, COOLED)
    assert got.status_code == 200, got.text
    assert got.json()["answer_id"] == posted.json()["answer_id"]
    again = client.get(posted.json()["links"]["self"])
    assert again.json()["answer_id"] == posted.json()["answer_id"]


@pytest.mark.parametrize(
    ("change", "pointer", "code"),
    [
        ({"sump": 2.5}, "/sump", "unit-missing"),
        ({"sump": "2.5 kg"}, "/sump", "unit-mismatch"),
        ({"sump": "90 L"}, "/sump", "out-of-range"),
        ({"lines": [{"bore": "12.7 mm"}]}, "/lines/0/length", "missing"),
        ({"grade": "heavy"}, "/grade", "outside-validity"),
        ({"grade": "20W-55"}, "/grade", "unknown-id"),
        ({"tappet": "square"}, "/tappet", "unknown-choice"),
        ({"pump": {"gear_diameter": "36 mm"}}, "/pump/centre_distance", "missing"),
        ({"viscosity_40": "95 cSt"}, "/viscosity_100", "missing"),
        ({"additive": {"phosphorus": "600 ppm"}, "phosphorus": "500 ppm"}, "/additive/phosphorus", "outside-validity"),
        ({"sumpf": "2 L"}, "/sumpf", "unknown-name"),
    ],
)
def test_refusals_point_at_the_field(client: Client, change: dict[str, Any], pointer: str, code: str) -> None:
    """422 with the place of the fault, 404 where an id is not held."""
    assert (pointer, code) in faults(client.post(PATH, COOLED | change))


def test_all_faults_at_once(client: Client) -> None:
    """Two faults, two entries."""
    answer = client.post(PATH, {"sump": "2.5", "cooler": "3 bar"})
    assert {pointer for pointer, _ in faults(answer)} == {"/sump", "/cooler"}


def test_psi_as_bar_comes_first(client: Client) -> None:
    """The slip of the unit stands before every other finding."""
    reading = {"pressure": "40 bar", "speed": "2500 rpm", "temperature": "90 degC"}
    found = client.post(PATH, {**COOLED, "pressure_gauge": "lamp", "reading": reading}).json()["findings"]
    assert found[0]["code"] == "psi-as-bar"
    assert found[0]["fields"] == ["reading.pressure"]
    assert {"no-pressure-gauge"} <= {finding["code"] for finding in found}


@pytest.mark.parametrize("face", ["text", "html"])
def test_pages_say_what_to_do(client: Client, face: str) -> None:
    """Terminal text and page carry figures, finding, remedy, gaps and caution."""
    page = client.post(f"{PATH}?format={face}", {**COOLED, "planned_fill": "2.5 L"}).text
    assert "3.76 L" in page
    assert "top up" in page
    assert "Not checked" in page
    assert "autions" in page


def test_csv_has_the_digits_of_the_json(client: Client) -> None:
    """A row a figure, the same value and unit as in JSON."""
    rows = list(csv.reader(io.StringIO(client.post(f"{PATH}?format=csv", COOLED).text)))
    total = next(row for row in rows if row[0] == "fill.total")
    answered = client.post(PATH, COOLED).json()["result"]["fill"]["total"]
    assert float(total[1]) == answered["value"]
    assert total[2] == answered["unit"]


def test_an_older_dataset_is_answered_too(client: Client) -> None:
    """The pinned version is named; the fill does not depend on it."""
    old = client.post(f"{PATH}?dataset=2026.11", COOLED)
    assert old.status_code == 200, old.text
    assert old.json()["dataset"]["version"] == "2026.11"
    assert old.json()["result"]["fill"] == client.post(PATH, COOLED).json()["result"]["fill"]
