"""Displacement answers against figures from outside."""

import pytest

from service.answers.asking import ask
from service.answers.displacement import TOPIC
from service.errors import Contradiction, MissingInput
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
