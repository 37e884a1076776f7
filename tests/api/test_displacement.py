"""The published displacement cases through the public API."""

from typing import Any

import pytest

from tests.client import Client, faults
from tests.published.cases import published

CASES = published("displacement").values()
GEOMETRY = [case for case in CASES if "bore" in case["given"] and case["status"] != "wrong-in-print"]
WRONG = [case for case in CASES if case["status"] == "wrong-in-print"]
NAMES = {"displacement": "displacement", "per_cylinder": "displacement_per_cylinder"}


def _answered(client: Client, case: dict[str, Any], key: str) -> tuple[float, float]:
    """The answered figure and the printed one, both in cm³."""
    result = client.post("/v1/displacement", case["given"]).json()["result"][NAMES[key]]
    printed = case["expected"][key]
    factor = {"in3": 16.387064, "cm3": 1.0, "L": 1000.0}[printed["unit"]]
    return result["value"], printed["value"] * factor


@pytest.mark.parametrize("case", GEOMETRY, ids=lambda case: case["id"])
def test_a_published_displacement_is_answered(client: Client, case: dict[str, Any]) -> None:
    for key, printed in case["expected"].items():
        answered, expected = _answered(client, case, key)
        factor = expected / printed["value"]
        allowed = case["tolerance"].get("abs", 0) * factor or case["tolerance"]["rel"] * expected
        assert abs(answered - expected) <= allowed, case["source"]


@pytest.mark.parametrize("case", WRONG, ids=lambda case: case["id"])
def test_a_misprint_is_not_answered(client: Client, case: dict[str, Any]) -> None:
    """The printed figure does not follow from its own bore and stroke; the corrected one does."""
    answered, misprint = _answered(client, case, "displacement")
    right = case["correct"]["displacement"]["value"] * 1000
    assert answered == pytest.approx(right, rel=2e-3), case["source"]
    assert answered != pytest.approx(misprint, rel=0.05)


def test_the_plate_of_a_generator_engine_in_shop_units(client: Client) -> None:
    """TM 5-4930-227-14: 2 7/8 × 2 3/4 in, 17.8 in³."""
    answer = client.get("/v1/displacement?cylinders=1&bore=2 7/8 in&stroke=2-3/4 in&units=us").json()
    assert answer["result"]["displacement"]["value"] == pytest.approx(17.8, abs=0.1)
    assert answer["result"]["displacement"]["unit"] == "in3"


@pytest.mark.parametrize(
    ("document", "pointer", "code"),
    [
        ({"cylinders": 4, "bore": 3.5, "stroke": "73 mm"}, "/bore", "unit-missing"),
        ({"cylinders": 4, "bore": "86 mm", "stroke": "73 lbf*ft"}, "/stroke", "unit-mismatch"),
        ({"cylinders": 4, "bore": "9**9**9 m", "stroke": "73 mm"}, "/bore", "unit-unknown"),
        ({"cylinders": 0, "bore": "86 mm", "stroke": "73 mm"}, "/cylinders", "out-of-range"),
        ({"cylinders": True, "bore": "86 mm", "stroke": "73 mm"}, "/cylinders", "not-a-number"),
        ({"bore": "86 mm", "stroke": "73 mm"}, "/cylinders", "missing"),
        ({"cylinders": 4, "bore": "86 mm"}, "/stroke", "missing"),
    ],
)
def test_wrong_input_is_named(client: Client, document: dict[str, Any], pointer: str, code: str) -> None:
    assert faults(client.post("/v1/displacement", document)) == [(pointer, code)]
