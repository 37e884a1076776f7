"""Clearances over HTTP: shop units, refusals with their place, and the rules of thumb through the door."""

from typing import Any

import pytest

from tests.client import Client, faults
from tests.published.cases import published
from tests.questions import changed

PATH = "/v1/clearance"
CASES = published("clearance")
QUESTION: dict[str, Any] = {"measured": "0.149 mm", "uncertainty": "0.010 mm", "low": "0.06 mm", "high": "0.15 mm"}


def test_the_fields_of_the_contract(client: Client) -> None:
    """Decision, margins and probability of conformance; the reading carries its uncertainty with coverage 2."""
    result = client.post(PATH, QUESTION).json()["result"]
    assert result["decision"] == "undecided"
    assert result["conformance_probability"] == pytest.approx(0.5793, abs=5e-5)
    assert result["margin_low"]["value"] == pytest.approx(0.089)
    assert result["margin_high"]["value"] == pytest.approx(0.001)
    assert result["measured"]["uncertainty"] == {"value": 0.01, "unit": "mm", "coverage": 2}


@pytest.mark.parametrize("spelling", ["0.006 in", '0.006"', "6 thou", "152.4 um", {"value": 0.1524, "unit": "mm"}])
def test_shop_spellings_of_one_reading(spelling: Any, client: Client) -> None:
    """Six thousandths of an inch are 0.1524 mm; on a limit of just that they conform without uncertainty."""
    question = {"measured": spelling, "uncertainty": "0 mm", "high": "0.1524 mm"}
    result = client.post(PATH, question).json()["result"]
    assert result["measured"]["value"] == pytest.approx(0.1524)
    assert result["decision"] == "accept"


def test_rules_of_thumb_through_the_door(client: Client) -> None:
    """Case S10: top-ring gap 0.0035 to 0.0045 of the bore; case S17: end play of the family inside 0.003 to 0.010 in."""
    ring = {"fit": "ring-gap-top", "low": "0.3 mm", "measured": "0.40 mm", "gauge": "feeler", "bore": "4 in"}
    gap = client.post(PATH, ring).json()["result"]["ring_gap"]
    low, high = (4 * 25.4 * float(share) for share in CASES["S10"]["expected"]["gap_per_bore"]["value"].split("-"))
    assert (gap["rule_low"]["value"], gap["rule_high"]["value"]) == pytest.approx((low, high))
    play = {"engine": "air-cooled-flat-four", "fit": "crank-end-play", "measured": "0.1 mm", "gauge": "dial-gauge"}
    answer = client.post(PATH, play).json()
    low, high = (25.4 * float(end) for end in CASES["S17"]["expected"]["play"]["value"].split("-"))
    assert low - 0.01 < answer["result"]["low"]["value"] < answer["result"]["high"]["value"] < high
    evidence = {entry["id"]: entry["evidence"] for entry in answer["basis"]}
    assert evidence["fits/air-cooled-flat-four/crank-end-play/low"] == "common-practice"


def test_get_and_post_agree(client: Client) -> None:
    """The same question in the address line, in thousandths, in US units."""
    question = {"measured": "5 thou", "uncertainty": "0.4 thou", "low": "3 thou", "high": "10 thou"}
    posted, got = client.post(f"{PATH}?units=us", question), client.get(PATH, params={**question, "units": "us"})
    assert got.json() == posted.json()
    assert got.json()["result"]["decision"] == "accept"
    assert got.json()["result"]["margin_low"]["value"] == pytest.approx(0.002)


@pytest.mark.parametrize(
    ("change", "pointer", "code", "status"),
    [
        ({"measured": 0.149}, "/measured", "unit-missing", 422),
        ({"measured": "0.149 N*m"}, "/measured", "unit-mismatch", 422),
        ({"measured": "-0.1 mm"}, "/measured", "out-of-range", 422),
        ({"uncertainty": "1 mm"}, "/uncertainty", "out-of-range", 422),
        ({"high": "0.05 mm"}, "/high", "contradiction", 422),
        ({"engine": "air-cooled-flat-four", "fit": "crank-endplay", "low": None, "high": None}, "/fit", "unknown-id", 404),
        ({"uncertainty": None}, "/uncertainty", "missing", 422),
        ({"uncertainty": None, "gauge": "feelers"}, "/gauge", "unknown-id", 404),
        ({"low": None, "high": None}, "/low", "missing", 422),
        ({"tolerance": "0.1 mm"}, "/tolerance", "unknown-name", 422),
    ],
)
def test_wrong_input_is_told_where_and_why(
    change: dict[str, Any], pointer: str, code: str, status: int, client: Client
) -> None:
    """Each fault has its pointer and its code; an unknown id names the nearest."""
    answer = client.post(PATH, changed(QUESTION, change))
    assert answer.status_code == status
    assert (pointer, code) in faults(answer)
    if code == "unknown-id":
        assert answer.json()["errors"][0]["did_you_mean"]


def test_page_and_text_say_the_same_figures(client: Client) -> None:
    """The texts of the JSON stand in the page and in the terminal's answer."""
    text = client.post(PATH, QUESTION).json()["result"]["margin_low"]["text"]
    assert text in client.get(PATH, params={**QUESTION, "format": "html"}).text
    assert text in client.get(PATH, params={**QUESTION, "format": "text"}).text
