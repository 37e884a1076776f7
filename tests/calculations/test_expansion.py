"""Thermal growth against textbook examples and the two columns of a handbook's table of coefficients."""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.calculations.expansion import Segment, chain_growth, part_growth
from tests.published.cases import published

approx = pytest.approx
CASES = published("lash")
COEFFICIENTS = [case for name, case in CASES.items() if "alpha_C" in case["given"]]


@pytest.mark.parametrize("case", COEFFICIENTS, ids=[case["id"] for case in COEFFICIENTS])
def test_growth_is_the_same_in_both_scales(case: dict[str, Any]) -> None:
    """Callister's table prints each coefficient per °C and per °F: a metre over 180 °F is a metre over 100 °C."""
    per_celsius = case["given"]["alpha_C"]["value"] * 1e-6
    per_fahrenheit = case["expected"]["alpha_F"]["value"] * 1e-6
    metric = part_growth(length=1.0, expansion=per_celsius, temperature_change=100.0)
    imperial = part_growth(length=1.0, expansion=per_fahrenheit * 1.8, temperature_change=180 / 1.8)
    assert metric == approx(imperial, abs=case["tolerance"]["abs"] * 1.8e-4), case["source"]


def test_bolt_of_a_textbook() -> None:
    """A 5 in steel bolt at 6.5e-6/°F needs 370.46 °F to stretch 0.01204 in (Wentzell, example 6.3)."""
    case = CASES["T16"]
    given_, expected = case["given"], case["expected"]["dT"]["value"]
    growth = part_growth(
        length=given_["L"]["value"] * 0.0254,
        expansion=given_["alpha"]["value"] * 1e-6 * 1.8,
        temperature_change=expected / 1.8,
    )
    assert growth / 0.0254 == approx(given_["delta"]["value"], abs=1e-6)


def test_chain_of_case_t19() -> None:
    """Head and barrel against a push rod: the opened gap is the difference of two chains (0.1767 mm)."""
    given_ = CASES["T19"]["given"]
    segments = [
        Segment(
            f"part {i}",
            given_[f"L{i}"]["value"] * 1e-3,
            given_[f"alpha{i}"]["value"] * 1e-6,
            293.15 + given_[f"dT{i}"]["value"],
        )
        for i in (1, 2, 3)
    ]
    gap = chain_growth(segments=segments[:2], reference_temperature=293.15) - chain_growth(
        segments=segments[2:], reference_temperature=293.15
    )
    assert gap / 1e-3 == approx(CASES["T19"]["expected"]["lash_change"]["value"], abs=0.0002)


@given(st.lists(st.tuples(st.floats(0, 0.5), st.floats(0, 4e-5), st.floats(200, 900)), max_size=8))
def test_a_chain_is_the_sum_of_its_parts(parts: list[tuple[float, float, float]]) -> None:
    """Any order, any split: growth adds up; nothing grows at the temperature it was measured at."""
    segments = [Segment("part", *part) for part in parts]
    whole = chain_growth(segments=segments, reference_temperature=293.15)
    assert whole == approx(chain_growth(segments=segments[::-1], reference_temperature=293.15), abs=1e-12)
    halves = [Segment("half", length / 2, expansion, t) for length, expansion, t in parts for _ in (0, 1)]
    assert whole == approx(chain_growth(segments=halves, reference_temperature=293.15), abs=1e-12)
    still = [Segment("cold", length, expansion, 293.15) for length, expansion, _ in parts]
    assert chain_growth(segments=still, reference_temperature=293.15) == 0
