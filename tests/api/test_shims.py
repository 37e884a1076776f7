"""Shims over HTTP: the drawer as JSON and in the address line, refusals with their place, bounded time."""

from typing import Any

import pytest

from tests.client import Client, faults

PATH = "/v1/shims"
QUESTION: dict[str, Any] = {
    "gap": "1.18 mm",
    "low": "0.07 mm",
    "high": "0.13 mm",
    "pick": 3,
    "stock": {"0.24 mm": 2, "0.30 mm": 2, "0.34 mm": 2, "0.36 mm": 2},
}


def test_choice_in_both_systems(client: Client) -> None:
    """0.34 + 0.36 + 0.36 leaves 0.12 mm, which is 0.0047 in."""
    metric = client.post(PATH, QUESTION).json()["result"]
    assert [shim["value"] for shim in metric["shims"]] == pytest.approx([0.34, 0.36, 0.36])
    assert metric["end_play"]["text"] == "0.120 mm (0.0047 in)"
    us = client.post(f"{PATH}?units=us", QUESTION).json()["result"]
    assert us["end_play"]["value"] == pytest.approx(0.12 / 25.4)


def test_the_drawer_in_the_address_line(client: Client) -> None:
    """Thickness and count joined by a colon, kinds by a comma: the same answer as JSON, and the link gives it again."""
    posted = client.post(PATH, QUESTION)
    query = {**QUESTION, "pick": "3", "stock": "0.24 mm:2,0.30 mm:2,0.34 mm:2,0.36 mm:2"}
    assert client.get(PATH, params=query).json() == posted.json()
    assert client.get(posted.headers["content-location"]).json() == posted.json()


@pytest.mark.parametrize(
    ("change", "pointer", "code"),
    [
        ({"stock": {"0.34": 2}}, "/stock/0.34", "unit-missing"),
        ({"stock": {"34 N*m": 2}}, "/stock/(unreadable)", "unit-mismatch"),
        ({"stock": {"34 mm": 2}}, "/stock/(unreadable)", "out-of-range"),
        ({"stock": {"0.34 mm": -1}}, "/stock/(unreadable)", "out-of-range"),
        ({"stock": {"0.34 mm": True}}, "/stock/(unreadable)", "not-a-number"),
        ({"stock": {}}, "/stock", "too-few"),
        ({"stock": {f"{500 + n} um": 1 for n in range(61)}}, "/stock", "too-many"),
        ({"stock": {"0.34 mm": 1}}, "/stock", "outside-validity"),
        ({"pick": 7}, "/pick", "out-of-range"),
        ({"pick": 2.5}, "/pick", "not-a-number"),
        ({"gap": 1.18}, "/gap", "unit-missing"),
        ({"high": "0.05 mm"}, "/high", "contradiction"),
        ({"target": "0.2 mm"}, "/target", "contradiction"),
    ],
)
def test_wrong_input_is_told_where_and_why(change: dict[str, Any], pointer: str, code: str, client: Client) -> None:
    """Each fault has its pointer and its code."""
    assert (pointer, code) in faults(client.post(PATH, {**QUESTION, **change}))


def test_the_largest_drawer_is_bounded(client: Client) -> None:
    """Sixty kinds without a common step and six to fit are answered."""
    stock = {f"{50 + (n * 791.9) % 1950:.1f} um": 1000 for n in range(60)}
    answer = client.post(PATH, {**QUESTION, "gap": "6 mm", "pick": 6, "stock": stock})
    assert answer.status_code == 200, answer.text
    assert answer.json()["result"]["shims"]


def test_stacks_as_csv(client: Client) -> None:
    """One row a stack, with the unit in the heading."""
    lines = client.post(f"{PATH}?format=csv", {**QUESTION, "stock": {"0.34 mm": 3, "0.36 mm": 3}}).text.splitlines()
    assert lines[0] == "rank,shims,total [mm],end_play [mm]"
    assert lines[1].startswith("1,0.36 mm + 0.36 mm + 0.36 mm,1.08,0.1")
