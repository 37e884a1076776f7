"""Displacement answers against figures from outside."""

from typing import Any

import pytest

from service.answers.asking import ask
from service.answers.displacement import TOPIC
from service.errors import Contradiction, MissingInput, NotInDataset
from service.reference.dataset import Dataset


def test_bore_and_stroke_make_the_printed_displacement(dataset: Dataset) -> None:
    """TM 5-4310-389-14: 100 × 120 mm, two cylinders, 1885 cm³."""
    result = ask(TOPIC, {"cylinders": 2, "bore": "100 mm", "stroke": "120 mm"}, dataset).answer.result
    assert result["displacement"].si == pytest.approx(1885e-6, rel=3e-4)


def test_a_wanted_displacement_gives_the_bore(dataset: Dataset) -> None:
    """By hand: √(4·1750 cm³/(π·7.3 cm·4)) = 8.735 cm."""
    result = ask(TOPIC, {"cylinders": 4, "stroke": "73 mm", "displacement": "1750 cm3"}, dataset).answer.result
    assert result["bore"].si == pytest.approx(0.08735, rel=1e-4)


def test_a_wanted_displacement_gives_the_stroke(dataset: Dataset) -> None:
    """TM 5-4930-227-14: 2 7/8 × 2 3/4 in, 17.8 in³."""
    result = ask(TOPIC, {"cylinders": 1, "bore": "2 7/8 in", "displacement": "17.8 cu in"}, dataset).answer.result
    assert result["stroke"].si == pytest.approx(2.75 * 0.0254, rel=5e-3)


def test_three_that_disagree_are_refused_by_name(dataset: Dataset) -> None:
    with pytest.raises(Contradiction) as refused:
        ask(TOPIC, {"cylinders": 4, "bore": "86 mm", "stroke": "73 mm", "displacement": "2000 cm3"}, dataset)
    assert set(refused.value.fields) == {"bore", "stroke", "displacement"}


def test_three_that_agree_within_the_rounding_of_a_plate_are_taken(dataset: Dataset) -> None:
    asked = ask(TOPIC, {"cylinders": 4, "bore": "86 mm", "stroke": "73 mm", "displacement": "1700 cm3"}, dataset)
    assert asked.answer.result["displacement"].si == pytest.approx(1696.2e-6, rel=1e-4)


@pytest.mark.parametrize("given", [{}, {"bore": "86 mm"}, {"stroke": "73 mm"}, {"displacement": "1700 cm3"}])
def test_fewer_than_two_names_what_is_missing(dataset: Dataset, given: dict[str, str]) -> None:
    with pytest.raises(MissingInput) as refused:
        ask(TOPIC, {"cylinders": 4, **given}, dataset)
    assert refused.value.field not in given


def codes(document: dict[str, Any], dataset: Dataset) -> dict[str, str]:
    """Findings with their severity for four cylinders of 86 × 73 mm and more."""
    asked = ask(TOPIC, {"cylinders": 4, "bore": "86 mm", "stroke": "73 mm", **document}, dataset)
    return {finding.rule.code: finding.severity for finding in asked.answer.findings}


def test_the_wall_at_the_spigot(dataset: Dataset) -> None:
    """(93 − 86)/2 = 3.5 mm by hand is the least wall of a cast-iron barrel; on the limit is within it."""
    asked = ask(TOPIC, {"cylinders": 4, "bore": "86 mm", "stroke": "73 mm", "spigot_diameter": "93 mm"}, dataset)
    assert asked.answer.result["spigot_wall"].si == pytest.approx(3.5e-3)
    assert asked.answer.findings == []
    assert [entry["field"] for entry in asked.answer.assumptions] == ["barrel_material"]
    assert codes({"spigot_diameter": "92.98 mm"}, dataset) == {"barrel-wall-thin": "caution"}


def test_the_limit_of_the_wall_is_one_of_cast_iron(dataset: Dataset) -> None:
    """A barrel of light alloy has another limit, which nobody gives: not checked, and not a pass."""
    document = {"cylinders": 4, "bore": "86 mm", "stroke": "73 mm", "spigot_diameter": "92 mm"}
    answer = ask(TOPIC, {**document, "barrel_material": "aluminium-356"}, dataset).answer
    assert answer.findings == []
    gaps = [entry for entry in answer.unchecked if entry["check"] == "barrel-wall-thin"]
    assert [(entry["needs"], "cast-iron" in entry["why"]) for entry in gaps] == [([], True)]
    assert codes({"spigot_diameter": "92 mm", "barrel_material": "ductile-iron"}, dataset) == {"barrel-wall-thin": "caution"}


def test_a_spigot_inside_its_bore_is_refused(dataset: Dataset) -> None:
    """A diameter that was read from the wrong place: both are named."""
    with pytest.raises(Contradiction) as refused:
        codes({"spigot_diameter": "86 mm"}, dataset)
    assert set(refused.value.fields) == {"spigot_diameter", "bore"}


@pytest.mark.parametrize(
    ("document", "expected"),
    [
        ({"spigot_diameter": "94 mm", "case_register": "94 mm"}, {}),
        ({"spigot_diameter": "94.1 mm", "case_register": "94 mm"}, {"register-machining": "stop"}),
        ({"barrel_top_diameter": "98.1 mm", "head_register": "98 mm"}, {"register-machining": "stop"}),
        ({"engine": "harrow-r17"}, {}),
        ({"engine": "harrow-r17", "bore": "87 mm"}, {}),
        ({"engine": "harrow-r17", "bore": "87.1 mm"}, {"register-machining": "fix"}),
        ({"engine": "harrow-r17", "bore": "90 mm", "spigot_diameter": "98 mm", "case_register": "98.1 mm"}, {}),
    ],
)
def test_barrels_against_their_registers(document: dict[str, Any], expected: dict[str, str], dataset: Dataset) -> None:
    """Measured, the diameters decide; unmeasured, a bore over a rebore (1 mm) above the family's 86 mm is to be."""
    assert codes(document, dataset) == expected


def test_registers_that_were_not_measured_are_no_pass(dataset: Dataset) -> None:
    """One pair measured leaves the other open; both measured leave nothing open."""
    document = {"cylinders": 4, "bore": "86 mm", "stroke": "73 mm", "spigot_diameter": "94 mm", "case_register": "94.1 mm"}
    answer = ask(TOPIC, document, dataset).answer
    gaps = {entry["check"]: entry["needs"] for entry in answer.unchecked}
    assert gaps == {"register-machining": ["barrel_top_diameter", "head_register"]}
    whole = {**document, "barrel_top_diameter": "98 mm", "head_register": "98.1 mm"}
    assert ask(TOPIC, whole, dataset).answer.unchecked == []


def test_a_limit_of_a_class(dataset: Dataset) -> None:
    """86 × 73 mm, four times: 1696.2 cm³ by hand."""
    assert codes({"displacement_limit": "1697 cm3"}, dataset) == {}
    assert codes({"displacement_limit": "1696 cm3"}, dataset) == {"displacement-above-limit": "note"}


def test_engine_and_material_must_be_held(dataset: Dataset) -> None:
    """A name that the dataset does not hold is refused, not passed over."""
    with pytest.raises(NotInDataset):
        codes({"engine": "no-such-engine"}, dataset)
    with pytest.raises(NotInDataset):
        codes({"barrel_material": "no-such-metal"}, dataset)
