"""Ignition over HTTP: shop units, the address line, the drawing of the pulley, and refusals at their place."""

import csv
import io
import re
from math import hypot, pi, radians
from typing import Any
from xml.etree import ElementTree as ET

import pytest

from tests.client import Client, faults
from tests.published.cases import published
from tests.questions import changed

PATH = "/v1/ignition"
CASES = published("ignition")
MARKED: dict[str, Any] = {"pulley_diameter": "145 mm", "total_advance": "28 deg", "static_advance": "7.5 deg"}


def test_published_arc(client: Client) -> None:
    """Case G17: 10° on 180 mm are 15.708 mm by tape."""
    given = CASES["G17"]["given"]
    question = {"pulley_diameter": given["D"], "total_advance": given["angle"]}
    mark = client.post(PATH, question).json()["result"]["marks"]["total"]
    assert mark["arc"]["value"] == pytest.approx(CASES["G17"]["expected"]["arc"]["value"], abs=1e-3)


def test_published_dwell(client: Client) -> None:
    """Case G18: 52° on four lobes is 57.78 %."""
    given = CASES["G18"]["given"]
    answer = client.post(PATH, {**MARKED, "dwell": given["dwell"], "lobes": given["lobes"]})
    percent = answer.json()["result"]["dwell"]["percent"]
    assert percent["value"] == pytest.approx(CASES["G18"]["expected"]["percent"], abs=0.01)
    assert percent["unit"] == "%"


def test_example_of_the_contract(client: Client) -> None:
    """Dwell of 50° on four lobes at 3000 rpm by address: 56 %, 5.56 ms; 28° on 145 mm is 35.4 mm."""
    params = {"pulley_diameter": "145mm", "total_advance": "28deg", "dwell": "50 deg", "lobes": "4", "speed": "3000 rpm"}
    result = client.get(PATH, params=params).json()["result"]
    assert result["marks"]["total"]["arc"]["value"] == pytest.approx(35.4, abs=0.05)
    assert result["dwell"]["percent"]["value"] == pytest.approx(55.6, abs=0.05)
    assert result["dwell"]["time"]["value"] == pytest.approx(5.56, abs=0.005)


def test_inches_in_inches_out(client: Client) -> None:
    """5 3/4 in and 30°: by hand π · 5.75 · 30/360 = 1.505 in round the rim, 5.75 · sin 15° = 1.488 in across."""
    mark = client.get(PATH, params={"pulley_diameter": "5 3/4 in", "total_advance": "30°", "units": "us"}).json()["result"]
    assert mark["marks"]["total"]["arc"]["value"] == pytest.approx(1.5053, abs=1e-4)
    assert mark["marks"]["total"]["chord"]["value"] == pytest.approx(1.4882, abs=1e-4)
    assert mark["marks"]["total"]["arc"]["text"].startswith("1.505 in")


def test_get_is_post(client: Client) -> None:
    """Lists and nested fields in the address line: the same receipt."""
    question = {
        **MARKED,
        "firing_order": "1-4-3-2",
        "leads": [1, 4, 2, 3],
        "rotor_rotation": "clockwise",
        "light": {"mark": "0 deg", "dial": "28 deg", "wasted_spark": False},
    }
    params = {
        "pulley_diameter": "145mm",
        "total_advance": "28deg",
        "static_advance": "7.5deg",
        "firing_order": "1-4-3-2",
        "leads": "1,4,2,3",
        "rotor_rotation": "clockwise",
        "light.mark": "0deg",
        "light.dial": "28deg",
        "light.wasted_spark": "false",
    }
    got, posted = client.get(PATH, params=params), client.post(PATH, question)
    assert got.status_code == 200, got.text
    assert got.json()["answer_id"] == posted.json()["answer_id"]
    assert posted.json()["findings"][0]["code"] == "leads-out-of-order"
    assert posted.json()["findings"][0]["severity"] == "stop"


@pytest.mark.parametrize(
    ("change", "pointer", "code"),
    [
        ({"pulley_diameter": None}, "/pulley_diameter", "missing"),
        ({"total_advance": None}, "/total_advance", "missing"),
        ({"pulley_diameter": 145}, "/pulley_diameter", "unit-missing"),
        ({"total_advance": "51 deg"}, "/total_advance", "out-of-range"),
        ({"curve": [{"speed": "500 rpm", "advance": "5 deg"}]}, "/curve_shaft", "missing"),
        ({"dwell": "58 deg", "lobes": 8}, "/dwell", "outside-validity"),
        ({"firing_order": "1;4;3;2"}, "/firing_order", "not-a-text"),
        ({"leads": [1, 4, 3], "firing_order": "1-4-3-2", "rotor_rotation": "clockwise"}, "/leads", "contradiction"),
        ({"mark_distance": "200 mm", "mark_tool": "caliper"}, "/mark_distance", "outside-validity"),
        ({"engine": "air-cooled-flat-for"}, "/engine", "unknown-id"),
    ],
)
def test_refusals_point_at_the_field(client: Client, change: dict[str, Any], pointer: str, code: str) -> None:
    """422 with the place of the fault, 404 where an id is not held."""
    assert (pointer, code) in faults(client.post(PATH, changed(MARKED, change)))


def test_curve_as_a_table(client: Client) -> None:
    """CSV of the curve: one line a speed, units in the heading."""
    question = {
        **MARKED,
        "total_advance": "29.5 deg",
        "curve": [{"speed": "500 rpm", "advance": "0 deg"}, {"speed": "1500 rpm", "advance": "11 deg"}],
        "curve_shaft": "distributor",
    }
    rows = list(csv.reader(io.StringIO(client.post(f"{PATH}?format=csv", question).text)))
    assert rows[0] == ["speed [rpm]", "advance [deg]", "arc [mm]"]
    assert [float(row[1]) for row in rows[1:]] == pytest.approx([7.5, 13.0, 29.5])


def drawing(client: Client, question: dict[str, Any], units: str = "metric") -> tuple[str, ET.Element]:
    """The SVG as text and as a tree."""
    answer = client.post(f"{PATH}?format=svg&units={units}", question)
    assert answer.status_code == 200, answer.text
    assert answer.headers["content-type"].startswith("image/svg+xml")
    return answer.text, ET.fromstring(answer.text)  # noqa: S314 - our own drawing


@pytest.mark.parametrize("units", ["metric", "us"])
def test_drawing_has_the_figures_of_the_answer(client: Client, units: str) -> None:
    """Angle, tape and caliper of both marks stand in the drawing as they stand in JSON."""
    text, _ = drawing(client, MARKED, units)
    marks = client.post(f"{PATH}?units={units}", MARKED).json()["result"]["marks"]
    for name in ("total", "static"):
        for figure in ("angle", "arc", "chord"):
            assert marks[name][figure]["text"] in text


@pytest.mark.parametrize(("rotation", "side"), [("clockwise", 1), ("anticlockwise", -1)])
def test_notch_stands_at_its_angle(client: Client, rotation: str, side: int) -> None:
    """Measured on the drawing: the total's notch lies 28° ahead of the pointer, and its arc is in scale."""
    text, _ = drawing(client, {**MARKED, "rotation": rotation})
    path = re.search(r"<path class='total' stroke-width='4' d='M([\d.]+) ([\d.]+)L([\d.]+) ([\d.]+)'", text)
    assert path is not None
    x0, y0, x1, y1 = (float(number) for number in path.groups())
    top = re.search(r"<path class='rim' stroke-width='4' d='M([\d.]+) ([\d.]+)L([\d.]+) ([\d.]+)'", text)
    assert top is not None
    tx0, ty0, tx1, ty1 = (float(number) for number in top.groups())
    # Both notches point at the centre, so the angle between them is the crank angle.
    cross = (tx1 - tx0) * (y1 - y0) - (ty1 - ty0) * (x1 - x0)
    sine = cross / hypot(tx1 - tx0, ty1 - ty0) / hypot(x1 - x0, y1 - y0)
    assert sine == pytest.approx(side * 0.46947, abs=0.01)  # sin 28°
    assert radians(28) < pi / 2


def test_drawing_is_safe_and_accessible(client: Client) -> None:
    """Role, title and description; no script, no outside resource, light and dark."""
    text, tree = drawing(client, MARKED)
    assert tree.attrib["role"] == "img"
    assert tree.find("{http://www.w3.org/2000/svg}title") is not None
    description = tree.find("{http://www.w3.org/2000/svg}desc")
    assert description is not None
    assert "top dead centre" in (description.text or "")
    assert "prefers-color-scheme:dark" in text
    assert "<script" not in text
    assert "href" not in text


def test_a_stop_is_seen_on_the_drawing(client: Client) -> None:
    """Whoever takes only the drawing to the engine still learns of a stop."""
    text, _ = drawing(client, {**MARKED, "static_timing_set": False})
    assert "Stop" in text
    assert "Stop" not in drawing(client, MARKED)[0]


def test_static_after_top_dead_centre_is_said(client: Client) -> None:
    """The drawing says after, without a minus sign."""
    text, _ = drawing(client, {**MARKED, "static_advance": "-5 deg"})
    assert "static 5.0° after top dead centre" in text
    assert "total 28.0° before top dead centre" in text
