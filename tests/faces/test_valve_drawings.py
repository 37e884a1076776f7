"""The drawings of the valves: the same digits as the JSON, marks and arcs at their angles, texts that stay texts."""

import re
from math import atan2, cos, degrees, radians, sin
from typing import Any
from xml.etree import ElementTree as ET

import pytest

from tests.client import Client

ORDER, EVENTS = "/v1/valve-order", "/v1/valve-events"
SVG = "{http://www.w3.org/2000/svg}"
CARD = {
    "intake_opening": "34 deg",
    "intake_closing": "62 deg",
    "exhaust_opening": "70 deg",
    "exhaust_closing": "26 deg",
}
CLAY = {"intake_clay": "2.4 mm", "exhaust_clay": "3.1 mm"}


def drawing(client: Client, path: str, question: dict[str, Any], units: str = "metric") -> tuple[str, ET.Element]:
    """The SVG as text and as a tree."""
    answer = client.post(f"{path}?format=svg&units={units}", question)
    assert answer.status_code == 200, answer.text
    assert answer.headers["content-type"].startswith("image/svg+xml")
    return answer.text, ET.fromstring(answer.text)  # noqa: S314 - our own drawing


def words_of(tree: ET.Element) -> str:
    """What stands in the drawing, with its lines joined."""
    return " ".join(" ".join(text.itertext()) for text in tree.iter(f"{SVG}text"))


def result_of(client: Client, path: str, question: dict[str, Any], units: str = "metric") -> dict[str, Any]:
    """The result as JSON answers it."""
    result: dict[str, Any] = client.post(f"{path}?units={units}", question).json()["result"]
    return result


@pytest.mark.parametrize("path", [ORDER, EVENTS])
def test_drawing_is_safe_and_can_be_read_without_eyes(client: Client, path: str) -> None:
    """Role, title and description; light, dark and paper; nothing that runs or is fetched."""
    text, tree = drawing(client, path, {"firing_order": "1-4-3-2"} if path == ORDER else CARD)
    assert tree.attrib["role"] == "img"
    named = {element.attrib.get("id"): element.text for element in tree}
    assert all(named[id] for id in tree.attrib["aria-labelledby"].split())
    assert "prefers-color-scheme:dark" in text
    assert "@media print" in text
    assert not re.search(r"<script|href|url\(|\son\w+=", text)


@pytest.mark.parametrize("units", ["metric", "us"])
@pytest.mark.parametrize("order", ["1-4-3-2", "1-5-3-6-2-4", "1-8-4-3-6-5-7-2", "1"])
def test_every_step_stands_in_the_drawing_as_in_the_json(client: Client, order: str, units: str) -> None:
    question = {"firing_order": order}
    _, tree = drawing(client, ORDER, question, units)
    words, told = words_of(tree), tree.findtext(f"{SVG}desc") or ""
    result = result_of(client, ORDER, question, units)
    for number, step in enumerate(result["fewest_positions"], 1):
        line = f"{number}. Mark {step['pulley_mark']['text']}: {step['instruction']}"
        assert line in words
        assert line in told
    assert result["mark_side"] in words


@pytest.mark.parametrize(("rotation", "against"), [("clockwise", -1), ("anticlockwise", 1)])
def test_marks_lie_against_the_rotation_at_their_angles(client: Client, rotation: str, against: int) -> None:
    """A pulley that turns clockwise brings the marks on its left to the pointer at its top: 90°, 180° and 270° of crank."""
    question = {"firing_order": "1-3-4-2", "positions": 8, "rotation": rotation}
    text, _ = drawing(client, ORDER, question)
    notches = re.findall(r"<path class='one' stroke-width='[\d.]+' d='M([\d.]+) ([\d.]+)L([\d.]+) ([\d.]+)'", text)
    angles = sorted(round(degrees(atan2(float(x1) - float(x0), float(y0) - float(y1)))) % 360 for x0, y0, x1, y1 in notches)
    expected = {row["pulley_mark"]["value"] for row in result_of(client, ORDER, question)["positions"]}
    assert angles == sorted(round(against * mark) % 360 for mark in expected)
    assert angles == [0, 90, 180, 270]


def test_number_of_a_step_stands_at_its_mark(client: Client) -> None:
    """The odd-fire twin of 450°: its second step lies a quarter turn on, to the left of a pulley that turns clockwise."""
    text, _ = drawing(client, ORDER, {"firing_order": "1-2", "firing_angles": ["0 deg", "450 deg"], "rotation": "clockwise"})
    spots = {
        number: (float(x), float(y))
        for x, y, number in re.findall(r"<text class='t b m' x='([\d.]+)' y='([\d.]+)'>([\d, ]+)</text>", text)
    }
    assert spots.keys() == {"1", "2"}
    assert spots["1"][1] < spots["2"][1]
    assert spots["2"][0] < 200 - 92


def test_valves_out_of_reach_are_named_on_the_drawing(client: Client) -> None:
    question = {"firing_order": "1-3-4-2", "positions": 1}
    _, tree = drawing(client, ORDER, question)
    unreached = result_of(client, ORDER, question)["unreached"]
    assert unreached
    words = words_of(tree)
    assert "Not reached at any of these positions" in words
    assert all(f"{entry['valve']} of {entry['cylinder']}" in words for entry in unreached)


@pytest.mark.parametrize("units", ["metric", "us"])
def test_card_stands_in_the_drawing_as_in_the_json(client: Client, units: str) -> None:
    question = {**CARD, **CLAY}
    _, tree = drawing(client, EVENTS, question, units)
    words = words_of(tree)
    result = result_of(client, EVENTS, question, units)
    for name in ("intake_duration", "exhaust_duration", "intake_lobe_centre", "exhaust_lobe_centre", "overlap"):
        assert result[name]["text"] in words
    assert f"Intake opens {result['intake_opening']['text']} before top" in words
    assert f"closes {result['intake_closing']['text']} after bottom" in words
    assert f"Exhaust opens {result['exhaust_opening']['text']} before bottom" in words
    assert f"closes {result['exhaust_closing']['text']} after top" in words
    for valve in ("intake", "exhaust"):
        assert f"{valve} valve to piston {result['valve_to_piston'][valve]['gap']['text']}" in words


def test_event_on_the_other_side_of_its_dead_centre_is_said_without_a_sign(client: Client) -> None:
    _, tree = drawing(client, EVENTS, {**CARD, "intake_opening": "-5 deg"})
    assert "Intake opens 5.0° after top" in words_of(tree)


def test_arcs_begin_and_end_at_the_events(client: Client) -> None:
    """On the wheel, clockwise from top dead centre: 34° before it to 62° past the bottom; 70° before the bottom to 26°."""
    text, _ = drawing(client, EVENTS, CARD)
    for style, opens, closes, radius in (("one", -34, 180 + 62, 104), ("two", 180 - 70, 360 + 26, 80)):
        arc = re.search(rf"<path class='{style}' stroke-width='5' d='M([^A]+)A[\d ]+ 0 1 ([^A]+)A[\d ]+ 0 1 ([^A']+)'", text)
        assert arc is not None
        for place, angle in zip(arc.groups(), (opens, (opens + closes) / 2, closes), strict=True):
            x, y = map(float, place.split())
            assert x == pytest.approx(200 + radius * sin(radians(angle)), abs=0.06)
            assert y == pytest.approx(146 - radius * cos(radians(angle)), abs=0.06)
