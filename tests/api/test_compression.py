"""Compression over HTTP: published cases, shop units, GET like POST, wrong input named, faces."""

import csv
import io
from math import pi
from typing import Any

import pytest

from tests.client import Client, faults
from tests.published.cases import published
from tests.questions import changed

approx = pytest.approx
CASES = published("compression")
ENGINE: dict[str, Any] = {
    "bore": "86 mm",
    "stroke": "73 mm",
    "chamber_volume": "52 cm3",
    "deck_clearance": "1.2 mm",
    "crevice_volume": "0.5 cm3",
}


def result_of(client: Client, document: dict[str, Any]) -> dict[str, Any]:
    answer = client.post("/v1/compression", document)
    assert answer.status_code == 200, answer.text
    found: dict[str, Any] = answer.json()["result"]
    return found


def test_a_textbook_cylinder(client: Client) -> None:
    """C10: 80 × 100 mm over 65 cm³ of clearance is 8.733:1 (H N Gupta, example 16.6)."""
    case = CASES["C10"]
    result = result_of(
        client,
        {
            "bore": case["given"]["bore"],
            "stroke": case["given"]["stroke"],
            "chamber_volume": case["given"]["clearance_volume"],
            "deck_clearance": "0 mm",
        },
    )
    assert result["compression_ratio"] == approx(case["expected"]["cr"], **case["tolerance"])


def test_a_textbook_clearance_volume(client: Client) -> None:
    """C08: 68 × 75 mm at 8:1 has 38.91 cm³ (Mathur & Sharma, example 1.1): solved as the chamber of a flat deck."""
    case = CASES["C08"]
    result = result_of(
        client,
        {
            "bore": case["given"]["bore"],
            "stroke": case["given"]["stroke"],
            "deck_clearance": "0 mm",
            "target_ratio": case["given"]["cr"],
            "solve_for": "chamber_volume",
        },
    )
    assert result["solved"]["value"] == approx(case["expected"]["clearance_volume"]["value"], **case["tolerance"])
    assert result["solved"]["unit"] == "cm3"


def test_a_chamber_for_a_deck(client: Client) -> None:
    """C44: 97.5 × 74 mm, 1.2 mm of deck, 7.5:1 asks 76.04 cm³, and 0.1 mm more deck takes 0.0571."""
    case = CASES["C44"]
    result = result_of(
        client,
        {
            "bore": case["given"]["bore"],
            "stroke": case["given"]["stroke"],
            "deck_clearance": case["given"]["deck"],
            "target_ratio": case["given"]["cr"],
            "solve_for": "chamber_volume",
        },
    )
    assert result["solved"]["value"] == approx(case["expected"]["chamber_volume"]["value"], **case["tolerance"])
    assert result["levers"]["deck_0_1_mm_more"] == approx(case["expected"]["dcr_per_0p1mm_deck"], **case["tolerance"])


@pytest.mark.parametrize("identifier", ["C07", "C20", "C22", "C23", "C25"])
def test_textbook_efficiencies(client: Client, identifier: str) -> None:
    """The ideal efficiency beside the ratio is that of the textbooks' tables at γ = 1.4."""
    case = CASES[identifier]
    expected = case["expected"].get("efficiency", case["expected"].get("otto_efficiency"))
    result = result_of(
        client,
        {**ENGINE, "chamber_volume": None, "target_ratio": case["given"]["cr"], "solve_for": "chamber_volume"}
        if case["given"]["cr"] < 12
        else {**ENGINE, "chamber_volume": f"{pi / 4 * 8.6**2 * 7.3 / 11 - pi / 4 * 8.6**2 * 0.12 - 0.5:.6f} cm3"},
    )
    assert result["ideal_efficiency"] == approx(expected, **case["tolerance"])


def test_get_and_post_are_one_answer(client: Client) -> None:
    """The same question in the address line, nested fields joined by a dot, has the same result and receipt."""
    document = {
        **ENGINE,
        "gasket": {"bore": "88 mm", "thickness": "0.5 mm"},
        "rod_length": "136 mm",
        "intake_closing": "62 deg",
        "per_cylinder": [{"chamber_volume": "52 cm3"}, {"chamber_volume": "51.5 cm3"}],
    }
    posted = client.post("/v1/compression", document)
    asked = client.get(
        "/v1/compression",
        params={
            **ENGINE,
            "gasket.bore": "88 mm",
            "gasket.thickness": "0.5 mm",
            "rod_length": "136mm",
            "intake_closing": "62°",
            "per_cylinder.0.chamber_volume": "52 cc",
            "per_cylinder.1.chamber_volume": "51.5 cc",
        },
    )
    assert asked.json()["result"] == posted.json()["result"]
    again = client.get(posted.headers["content-location"])
    assert again.json()["answer_id"] == posted.json()["answer_id"]


def test_in_inches(client: Client) -> None:
    """US units both ways: 3 3/8 in and cubic inches in, cubic inches and inches out, the same digits in the text."""
    answer = client.get(
        "/v1/compression?bore=3 3/8 in&stroke=2 7/8 in&chamber_volume=3.2 cu in&deck_clearance=47 thou&units=us"
    ).json()["result"]
    # By hand: π/4·3.375²·2.875 = 25.720 in³ over 3.2 + 8.946·0.047 = 3.6205 in³.
    assert answer["compression_ratio"] == approx(1 + 25.720 / 3.6205, abs=1e-3)
    assert answer["swept_volume"]["unit"] == "in3"
    assert answer["swept_volume"]["value"] == approx(25.720, abs=1e-3)
    assert answer["squish_clearance"]["text"] == "0.047 in (1.19 mm)"


@pytest.mark.parametrize(
    ("changes", "pointer", "code"),
    [
        ({"bore": 3.5}, "/bore", "unit-missing"),
        ({"stroke": "73 lbf*ft"}, "/stroke", "unit-mismatch"),
        ({"bore": "9**9**9 m"}, "/bore", "unit-unknown"),
        ({"chamber_volume": "52 mm"}, "/chamber_volume", "unit-mismatch"),
        ({"deck_clearance": "20 mm"}, "/deck_clearance", "out-of-range"),
        ({"target_ratio": 0.9, "solve_for": "spacer_thickness"}, "/target_ratio", "out-of-range"),
        ({"target_ratio": "7.6", "solve_for": "spacer_thickness"}, "/target_ratio", "not-a-number"),
        ({"target_ratio": 9.0, "solve_for": "spacer_thickness"}, "/target_ratio", "outside-validity"),
        ({"target_ratio": 9.0, "solve_for": "bore"}, "/solve_for", "unknown-choice"),
        ({"chamber_volume": None}, "/chamber_volume", "missing"),
        ({"chamber": "52 cm3"}, "/chamber", "unknown-name"),
        ({"gasket": {"bore": "70 mm", "thickness": "1 mm"}}, "/gasket/bore", "outside-validity"),
        ({"gasket": {"bore": "87 mm"}}, "/gasket/thickness", "missing"),
        ({"octane": {}}, "/octane/reference", "missing"),
        ({"intake_closing": "62 deg"}, "/rod_length", "missing"),
        ({"checking": {"lift": "0.05 in"}, "rod_length": "136 mm"}, "/checking/intake_closing", "missing"),
    ],
)
def test_wrong_input_is_named(client: Client, changes: dict[str, Any], pointer: str, code: str) -> None:
    """Each slip is answered with the place and what is wrong there, nothing else happens."""
    assert faults(client.post("/v1/compression", changed(ENGINE, changes))) == [(pointer, code)]


def test_an_unknown_fuel_is_not_found(client: Client) -> None:
    """404 with the nearest."""
    refused = client.post("/v1/compression", {**ENGINE, "fuel": "ron-95"})
    assert refused.status_code == 404
    assert "ron-95-e5" in refused.text


def test_the_refused_spacer_says_what_could_be_done(client: Client) -> None:
    """The words reach the caller as the calculation wrote them."""
    refused = client.post("/v1/compression", {**ENGINE, "target_ratio": 9.0, "solve_for": "spacer_thickness"})
    assert "take 6.47 cm³ out of the chamber or 1.11 mm off the barrel" in refused.json()["errors"][0]["detail"]


def test_cylinders_as_csv(client: Client) -> None:
    """With single cylinders the answer is a table: one row a cylinder, the unit in the heading."""
    document = {**ENGINE, "per_cylinder": [{"chamber_volume": "52 cm3"}, {"chamber_volume": "51.5 cm3"}]}
    answer = client.post("/v1/compression?format=csv", document)
    rows = list(csv.DictReader(io.StringIO(answer.text)))
    assert [row["cylinder"] for row in rows] == ["1", "2"]
    assert float(rows[0]["clearance_volume [cm3]"]) == approx(59.4706, abs=1e-3)


def test_html_and_text_have_the_digits_of_the_json(client: Client) -> None:
    """What is printed is what was computed."""
    shown = client.post("/v1/compression", ENGINE).json()["result"]["clearance_volume"]["text"]
    for face in ("html", "text"):
        assert shown in client.post(f"/v1/compression?format={face}", ENGINE).text
