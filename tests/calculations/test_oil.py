"""Oil fill, dipstick, additives and grades against arithmetic by hand, brute force and SAE J300."""

from math import isfinite, pi
from typing import Any

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.integrate import quad

from service.calculations.oil import (
    Line,
    OilGrade,
    additive_dose,
    blend_content,
    dipstick_drop,
    dipstick_scale,
    fill,
    grade_for_climate,
    line_volume,
    volume_on_dipstick,
)
from service.errors import Contradiction, OutsideValidity
from tests.published.cases import published

CASES = published("oil")
SUMP = st.floats(0.3e-3, 20e-3)
PART = st.floats(0, 5e-3)
LINES = st.lists(st.builds(Line, st.floats(3e-3, 40e-3), st.floats(0.05, 10)), max_size=8)
CONTENT = st.floats(0, 0.04)
DENSITY = st.floats(800, 1000)


def test_fill_with_cooler_filter_and_lines() -> None:
    """By hand: a 12.7 mm hose of 3.6 m holds 0.456 L; with 0.45 + 0.35 + 2.5 L the engine takes 3.76 L."""
    filled = fill(sump=2.5e-3, oil_filter=0.35e-3, cooler=0.45e-3, lines=(Line(0.0127, 3.6),))
    assert filled.lines == pytest.approx(0.456e-3, rel=1e-3)
    assert filled.external == pytest.approx(1.256e-3, rel=1e-3)
    assert filled.total == pytest.approx(3.756e-3, rel=1e-3)


def test_line_volume_is_the_integral_of_its_section() -> None:
    """scipy: the volume of a hose by rings of its section, one after another."""
    by_rings = quad(lambda radius: 2 * pi * radius * 1.8, 0, 0.0127 / 2)[0]
    assert line_volume(lines=(Line(0.0127, 1.8),)) == pytest.approx(by_rings, rel=1e-12)


@given(sump=SUMP, oil_filter=PART, cooler=PART, lines=LINES)
def test_fill_is_the_sum_of_its_parts(sump: float, oil_filter: float, cooler: float, lines: list[Line]) -> None:
    """Nothing is lost: total, external and lines add up, and twice the bore is four times the oil."""
    filled = fill(sump=sump, oil_filter=oil_filter, cooler=cooler, lines=lines)
    assert filled.total == pytest.approx(sump + filled.external)
    assert filled.external == pytest.approx(oil_filter + cooler + filled.lines)
    doubled = [Line(2 * line.bore, line.length) for line in lines]
    assert line_volume(lines=doubled) == pytest.approx(4 * filled.lines)


def test_a_bare_engine_takes_its_sump() -> None:
    """No external circuit, no more oil."""
    assert fill(sump=2.5e-3, oil_filter=0.0, cooler=0.0, lines=()) == (2.5e-3, 0.0, 0.0)


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"sump": 0.0}, "sump"),
        ({"oil_filter": -1e-4}, "filter"),
        ({"cooler": -1e-4}, "cooler"),
        ({"lines": (Line(0.0127, 1.0), Line(0.0, 1.0))}, "lines/1"),
        ({"lines": (Line(0.0127, -1.0),)}, "lines/0"),
    ],
)
def test_impossible_fills_are_refused(change: dict[str, Any], field: str) -> None:
    """Each refusal names its field."""
    given_values: dict[str, Any] = {"sump": 2.5e-3, "oil_filter": 0.0, "cooler": 0.0, "lines": ()}
    with pytest.raises(OutsideValidity) as refusal:
        fill(**(given_values | change))
    assert refusal.value.field == field


def test_dipstick_by_hand() -> None:
    """0.7 L over 20 mm is 35 mL/mm: at 20 mm 2.15 L, and 0.456 L into an empty hose is 13 mm."""
    scale = dipstick_scale(low_mark=0.010, low_volume=1.8e-3, high_mark=0.030, high_volume=2.5e-3)
    assert volume_on_dipstick(scale=scale, reading=0.020) == pytest.approx(2.15e-3)
    assert dipstick_drop(scale=scale, volume=0.456e-3) == pytest.approx(13.03e-3, rel=1e-3)


@given(
    low=st.floats(0, 0.1),
    between=st.floats(1e-3, 0.2),
    low_volume=SUMP,
    more=st.floats(0.05e-3, 5e-3),
    reading=st.floats(0, 0.3),
)
def test_dipstick_passes_through_both_fills(low: float, between: float, low_volume: float, more: float, reading: float) -> None:
    """Both known fills come back, and a drop is the difference of two readings."""
    scale = dipstick_scale(low_mark=low, low_volume=low_volume, high_mark=low + between, high_volume=low_volume + more)
    assert volume_on_dipstick(scale=scale, reading=low) == pytest.approx(low_volume, rel=1e-9, abs=1e-9)
    assert volume_on_dipstick(scale=scale, reading=low + between) == pytest.approx(low_volume + more, abs=1e-9)
    try:
        volume = volume_on_dipstick(scale=scale, reading=reading)
    except OutsideValidity:
        assert reading < low
        return
    higher = volume_on_dipstick(scale=scale, reading=reading + 0.01)
    assert dipstick_drop(scale=scale, volume=higher - volume) == pytest.approx(0.01, rel=1e-6)


@pytest.mark.parametrize(("high_mark", "high_volume"), [(0.010, 2.5e-3), (0.030, 1.7e-3), (0.005, 2.5e-3)])
def test_dipstick_readings_that_contradict_are_refused(high_mark: float, high_volume: float) -> None:
    """More oil stands higher."""
    with pytest.raises(Contradiction):
        dipstick_scale(low_mark=0.010, low_volume=1.8e-3, high_mark=high_mark, high_volume=high_volume)


def test_blend_by_hand() -> None:
    """By hand: 2.2 L at 800 ppm with 0.3 L at 2800 ppm are 1040 ppm when both weigh the same."""
    content = blend_content(volumes=(2.2e-3, 0.3e-3), densities=(880, 880), contents=(800e-6, 2800e-6))
    assert content == pytest.approx(1040e-6)


def test_a_heavier_additive_counts_for_more() -> None:
    """By hand: 2.2·880·800 + 0.3·950·2800 over 2.2·880 + 0.3·950 ppm = 1056.6 ppm."""
    content = blend_content(volumes=(2.2e-3, 0.3e-3), densities=(880, 950), contents=(800e-6, 2800e-6))
    assert content == pytest.approx((2.2 * 880 * 800 + 0.3 * 950 * 2800) / (2.2 * 880 + 0.3 * 950) * 1e-6)
    assert content == pytest.approx(1056.6e-6, rel=1e-4)


@given(oils=st.lists(st.tuples(st.floats(1e-5, 5e-3), DENSITY, CONTENT), min_size=1, max_size=5))
def test_a_blend_lies_between_its_oils(oils: list[tuple[float, float, float]]) -> None:
    """No blend is richer than its richest or leaner than its leanest part."""
    volumes, densities, contents = zip(*oils, strict=True)
    content = blend_content(volumes=volumes, densities=densities, contents=contents)
    assert min(contents) * (1 - 1e-9) - 1e-15 <= content <= max(contents) * (1 + 1e-9) + 1e-15


@given(total=SUMP, base=st.floats(0, 2e-3), target=st.floats(0, 2e-3), additive=CONTENT, density=DENSITY, heavier=DENSITY)
def test_the_dose_reaches_its_target(
    total: float, base: float, target: float, additive: float, density: float, heavier: float
) -> None:
    """Dose and blend are inverse: what the dose gives, the blend of it has, in the same volume."""
    assume(additive > target)
    dose = additive_dose(
        total=total,
        target=target,
        base_content=base,
        additive_content=additive,
        base_density=density,
        additive_density=heavier,
    )
    assert dose.additive + dose.base_oil == pytest.approx(total)
    assert isfinite(dose.additive)
    content = blend_content(volumes=(dose.base_oil, dose.additive), densities=(density, heavier), contents=(base, additive))
    assert content == pytest.approx(max(target, base), rel=1e-6, abs=1e-12)


def test_an_additive_too_lean_is_refused() -> None:
    """Percent typed as ppm leaves an additive leaner than the target."""
    with pytest.raises(OutsideValidity, match="percent and ppm") as refusal:
        additive_dose(
            total=2.5e-3,
            target=1200e-6,
            base_content=800e-6,
            additive_content=3e-6,
            base_density=880,
            additive_density=950,
        )
    assert refusal.value.field == "additive_content"


def test_impossible_blends_are_refused() -> None:
    """No oil, a negative volume, lists that do not match, a fill of nothing."""
    with pytest.raises(OutsideValidity):
        blend_content(volumes=(), densities=(), contents=())
    with pytest.raises(OutsideValidity):
        blend_content(volumes=(-1e-3,), densities=(880,), contents=(1e-3,))
    with pytest.raises(Contradiction):
        blend_content(volumes=(1e-3,), densities=(880, 880), contents=(1e-3,))
    with pytest.raises(OutsideValidity):
        additive_dose(
            total=0,
            target=1e-3,
            base_content=0,
            additive_content=2e-2,
            base_density=880,
            additive_density=950,
        )


@pytest.mark.parametrize("case", ["O10", "O12", "O13", "O15"])
@pytest.mark.parametrize(("warmer", "suits"), [(0.0, True), (5.0, True), (-1.0, False), (-6.0, False)])
def test_a_w_grade_starts_down_to_its_cranking_test(case: str, warmer: float, suits: bool) -> None:
    """SAE J300 rows: at the printed cranking temperature an oil still cranks, one degree below nothing is promised."""
    cranking, pumping = (CASES[case]["expected"][key]["value"] + 273.15 for key in ("cranking_temp", "pumping_temp"))
    assert pumping < cranking
    grade = OilGrade(cranking_temperature=cranking, pumping_temperature=pumping, hot_viscosity=9e-3)
    verdict = grade_for_climate(grade=grade, start_temperature=cranking + warmer, least_hot_viscosity=6e-3)
    assert verdict == (not suits, False, suits)


def test_an_oil_may_be_wrong_at_both_ends() -> None:
    """Too thick for the start and too thin for the hot engine are told apart."""
    grade = OilGrade(cranking_temperature=263.15, pumping_temperature=258.15, hot_viscosity=5e-3)
    verdict = grade_for_climate(grade=grade, start_temperature=253.15, least_hot_viscosity=6e-3)
    assert verdict == (True, True, False)
