"""Piston motion over HTTP: published problems, shop units, the table and drawing of 720°, refusals at their place."""

import csv
import io
from typing import Any
from xml.etree import ElementTree as ET

import numpy as np
import pytest

from tests.client import Client, faults
from tests.published.cases import published

PATH = "/v1/piston-motion"
CASES = published("piston_motion")
ASKED = {"stroke": "73 mm", "rod_length": "136 mm", "speed": "5500 rpm"}
SVG = "{http://www.w3.org/2000/svg}"


@pytest.mark.parametrize("name", ["K20", "G13", "G14", "G16", "C33"])
def test_published_positions_and_rates(client: Client, name: str) -> None:
    """Drops, velocities and accelerations as printed, asked as a caller asks."""
    case = CASES[name]
    given = case["given"]
    stroke = given.get("stroke") or {"value": 2 * given["r"]["value"], "unit": given["r"]["unit"]}
    rod = given.get("l") or given["rod"]
    question = {"stroke": stroke, "rod_length": rod, "speed": given["rpm"], "crank_angle": given["theta"]}
    result = client.post(PATH, question).json()["result"]
    fields = {"x": "position", "v": "velocity", "a": "acceleration", "speed": "velocity", "mean_speed": "mean_piston_speed"}
    for key, printed in case["expected"].items():
        scale = 0.1 if printed["unit"] == "cm" else 1.0
        limit = case["tolerance"].get("abs") or case["tolerance"]["rel"] * printed["value"]
        assert result[fields[key]]["value"] * scale == pytest.approx(printed["value"], abs=limit), key


def test_published_mean_piston_speed_in_feet_a_minute(client: Client) -> None:
    """K17: 5 1/2 in at 1200 rpm is 1100 ft/min."""
    given = {"stroke": "5 1/2 in", "rod_length": "11 in", "speed": "1200 rpm", "units": "us"}
    speed = client.get(PATH, params=given).json()["result"]["mean_piston_speed"]
    assert speed["unit"] == "ft/min"
    assert speed["value"] == pytest.approx(CASES["K17"]["expected"]["mean_speed"]["value"], abs=0.5)


def test_example_of_the_handbook(client: Client) -> None:
    """5500 rpm on 73 × 136 mm: 13.38 m/s, 15 358 m/s², 1.863, and 15 m/s at 6164 rpm."""
    result = client.get(PATH, params=ASKED).json()["result"]
    assert result["mean_piston_speed"]["text"] == "13.38 m/s (2635 ft/min)"
    assert result["peak_acceleration"]["value"] == pytest.approx(15358, abs=1)
    assert result["rod_ratio"] == pytest.approx(1.863, abs=5e-4)
    assert result["speed_limits"]["at_piston_speed"]["value"] == pytest.approx(6164, abs=1)


def test_inertia_load_is_mass_times_acceleration(client: Client) -> None:
    """At an angle it is that of the angle, without one that of the peak."""
    heavy = ASKED | {"reciprocating_mass": "1.3 lb"}
    mass = 1.3 * 0.45359237
    peak = client.post(PATH, heavy).json()["result"]
    assert peak["inertia_load"]["value"] == pytest.approx(mass * peak["peak_acceleration"]["value"], rel=1e-9)
    there = client.post(PATH, heavy | {"crank_angle": "62 deg"}).json()["result"]
    assert there["inertia_load"]["value"] == pytest.approx(mass * there["acceleration"]["value"], rel=1e-9)


def test_get_and_post_answer_alike(client: Client) -> None:
    """Both ways give one receipt, and the link asks the same again."""
    posted = client.post(PATH, ASKED | {"crank_angle": {"value": 62, "unit": "deg"}})
    got = client.get(PATH, params=ASKED | {"crank_angle": "62 deg"})
    assert posted.json()["answer_id"] == got.json()["answer_id"]
    assert client.get(posted.json()["links"]["self"]).json() == posted.json()


def test_table_as_csv(client: Client) -> None:
    """One row a degree over 720°, headings with units, derivatives that agree with numpy's gradient."""
    answer = client.get(PATH, params=ASKED | {"format": "csv"})
    assert answer.headers["content-type"].startswith("text/csv")
    rows = list(csv.reader(io.StringIO(answer.text)))
    assert rows[0] == ["crank_angle [deg]", "position [mm]", "velocity [m/s]", "acceleration [m/s2]"]
    assert len(rows) == 721
    angle, position, velocity, acceleration = np.array(rows[1:], dtype=float).T
    assert angle[-1] == 719.0
    second = np.radians(1) / (5500 * np.pi / 30)
    assert np.allclose(np.gradient(position / 1000, second)[1:-1], velocity[1:-1], atol=0.01)
    assert np.allclose(np.gradient(velocity, second)[1:-1], acceleration[1:-1], atol=5)


def test_csv_in_american_units_and_chosen_rows(client: Client) -> None:
    """Twelve rows in inches; the same motion."""
    query = ASKED | {"points": "12", "format": "csv", "units": "us"}
    rows = list(csv.reader(io.StringIO(client.get(PATH, params=query).text)))
    assert rows[0] == ["crank_angle [deg]", "position [in]", "velocity [ft/min]", "acceleration [ft/s2]"]
    assert len(rows) == 13
    assert float(rows[4][1]) == pytest.approx(73 / 25.4)


def test_table_in_json_has_the_digits_of_the_csv(client: Client) -> None:
    """Columns of the JSON answer are the columns of the CSV, number by number."""
    query = ASKED | {"points": "36"}
    table = client.get(PATH, params=query).json()["result"]["table"]
    rows = list(csv.reader(io.StringIO(client.get(PATH, params=query | {"format": "csv"}).text)))[1:]
    for column, name in enumerate(("crank_angle", "position", "velocity", "acceleration")):
        assert [float(row[column]) for row in rows] == table[name]["values"]


def test_drawing(client: Client) -> None:
    """Well-formed SVG with title, description and three curves whose ends carry the answer's figures."""
    answer = client.get(PATH, params=ASKED | {"format": "svg"})
    assert answer.headers["content-type"].startswith("image/svg+xml")
    root = ET.fromstring(answer.text)  # noqa: S314 - our own drawing
    assert root.get("role") == "img"
    assert root.find(f"{SVG}title") is not None
    assert root.find(f"{SVG}desc") is not None
    curves = root.findall(f"{SVG}polyline")
    assert len(curves) == 3
    assert all(len((curve.get("points") or "").split()) == 721 for curve in curves)
    texts = [element.text or "" for element in root.iter(f"{SVG}text")]
    assert "73.00" in texts
    assert "15358" in texts
    assert any("13.38 m/s (2635 ft/min)" in text for text in texts)
    assert "<script" not in answer.text


@pytest.mark.parametrize("face", ["html", "text"])
def test_pages_hold_the_figures(client: Client, face: str) -> None:
    """The printed and the terminal page carry the text of the JSON answer, with and without a table."""
    for query in (ASKED, ASKED | {"points": "24"}):
        page = client.get(PATH, params=query | {"format": face})
        assert page.status_code == 200
        assert "13.38 m/s (2635 ft/min)" in page.text


@pytest.mark.parametrize(
    ("changes", "field", "code"),
    [
        ({"stroke": 73}, "stroke", "unit-missing"),
        ({"stroke": "73 deg"}, "stroke", "unit-mismatch"),
        ({"rod_length": "20 mm"}, "rod_length", "out-of-range"),
        ({"pin_offset": "12 mm"}, "pin_offset", "out-of-range"),
        ({"points": 1}, "points", "out-of-range"),
        ({"piston": "billet"}, "piston", "unknown-choice"),
        ({"throw": "36 mm"}, "throw", "unknown-name"),
    ],
)
def test_faults_are_named_at_their_place(client: Client, changes: dict[str, Any], field: str, code: str) -> None:
    """422 with a pointer to the field and a code."""
    assert (f"/{field}", code) in faults(client.post(PATH, ASKED | changes))


def test_a_rod_that_is_too_short_names_both_measures(client: Client) -> None:
    """422 with a pointer to the stroke and one to the rod, and what to send."""
    answer = client.post(PATH, ASKED | {"stroke": "100 mm", "rod_length": "45 mm"})
    assert {pointer for pointer, _ in faults(answer)} == {"/stroke", "/rod_length"}
    assert "not the throw" in answer.text


def test_an_inch_stroke_typed_as_millimetres_is_asked_about(client: Client) -> None:
    """A throw of 36.5 mm instead of a stroke is outside the usual range, so it is used and asked about."""
    findings = client.post(PATH, ASKED | {"stroke": "36.5 mm"}).json()["findings"]
    assert findings[0]["severity"] == "ask"
    assert findings[0]["fields"] == ["stroke"]
