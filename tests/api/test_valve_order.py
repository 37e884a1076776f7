"""Valve order over HTTP: the contract's question, the table, both ways to ask, refusals at their place."""

import csv
import io
from typing import Any

import pytest

from tests.client import Client, faults

PATH = "/v1/valve-order"


def test_question_of_the_contract(client: Client) -> None:
    """Firing order and rotation: every position, and the fewest that cover all."""
    answer = client.get(PATH, params={"firing_order": "1-4-3-2", "rotation": "clockwise"})
    assert answer.status_code == 200
    result = answer.json()["result"]
    assert [row["crank_angle"]["value"] for row in result["positions"]] == [0.0, 180.0, 360.0, 540.0]
    assert result["number_of_positions"] == 2
    first, second = result["fewest_positions"]
    assert (first["intake"], first["exhaust"]) == ([1, 2], [1, 4])
    assert (second["intake"], second["exhaust"]) == ([3, 4], [2, 3])
    assert "Turn on by 360° to" in second["instruction"]
    assert result["mark_side"] == "anticlockwise from the first cylinder's mark, on a pulley that turns clockwise"


def test_get_and_post_answer_alike(client: Client) -> None:
    """Lists by repeated keys or as JSON: one receipt."""
    posted = client.post(PATH, {"firing_order": "1-2", "firing_angles": ["0 deg", "450 deg"]})
    assert posted.status_code == 200
    got = client.get(posted.json()["links"]["self"])
    assert got.json() == posted.json()


def test_cautions_go_with_the_answer(client: Client) -> None:
    """Setting valves is an action at the engine, so the cautions of assembly are said."""
    assert client.get(PATH, params={"firing_order": "1-4-3-2"}).json()["cautions"]


def test_table_as_csv(client: Client) -> None:
    """A row for every position, units in the headings, cylinders as words."""
    text = client.get(PATH, params={"firing_order": "1-5-3-6-2-4", "format": "csv"}).text
    rows = list(csv.DictReader(io.StringIO(text)))
    assert [float(row["crank_angle [deg]"]) for row in rows] == [0, 120, 240, 360, 480, 600]
    assert [float(row["pulley_mark [deg]"]) for row in rows] == [0, 120, 240, 0, 120, 240]
    assert rows[0]["intake"] == "1 2 4"
    assert rows[3]["exhaust"] == "2 4 6"


@pytest.mark.parametrize("face", ["html", "text"])
def test_pages_hold_the_instruction(client: Client, face: str) -> None:
    """The printed and the terminal page say how far to turn and what to set."""
    page = client.get(PATH, params={"firing_order": "1-4-3-2", "format": face})
    assert page.status_code == 200
    assert "set intake 3 4; exhaust 2 3." in page.text


@pytest.mark.parametrize(
    ("document", "pointer", "code"),
    [
        ({"firing_order": "1-4-3"}, "/firing_order", "outside-validity"),
        ({"firing_order": "1,4,3,2"}, "/firing_order", "not-a-text"),
        ({"firing_order": 1432}, "/firing_order", "not-a-text"),
        ({}, "/firing_order", "missing"),
        ({"firing_order": "1-2", "rotation": "left"}, "/rotation", "unknown-choice"),
        ({"firing_order": "1-2", "positions": 100}, "/positions", "out-of-range"),
        ({"firing_order": "1-2", "firing_angles": ["0 deg", 450]}, "/firing_angles/1", "unit-missing"),
        ({"firing_order": "1-2", "engine": "air-cooled-flat-fuor"}, "/engine", "unknown-id"),
        ({"firing_order": "1-2", "exhaust_opening": "70 deg"}, "/intake_opening", "missing"),
    ],
)
def test_faults_are_named_at_their_place(client: Client, document: dict[str, Any], pointer: str, code: str) -> None:
    """A pointer to the field and a code, whichever floor refuses."""
    assert (pointer, code) in faults(client.post(PATH, document))


def test_sixteen_cylinders_in_72_positions(client: Client) -> None:
    """The largest question is answered, and every valve is set exactly once."""
    order = "-".join(str(number) for number in range(1, 17))
    result = client.get(PATH, params={"firing_order": order, "positions": "72"}).json()["result"]
    assert len(result["positions"]) == 72
    for valve in ("intake", "exhaust"):
        every = sorted(cylinder for step in result["fewest_positions"] for cylinder in step[valve])
        assert every == list(range(1, 17))
