"""Piston stop and marks on a rim against simulated readings and circles."""

from math import degrees, pi, radians, sin
from typing import Any

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from service.calculations.dead_centre import (
    angle_from_arc,
    angle_from_chord,
    dial_gauge_dead_band,
    piston_stop,
    rim_arc,
    rim_chord,
)
from service.calculations.slider_crank import crank_angle_at_drop
from service.errors import OutsideValidity

ENGINE: dict[str, Any] = {"stroke": 0.073, "rod_length": 0.136}


@given(st.floats(0.002, 0.05), st.floats(-0.005, 0.005), st.floats(-5, 5))
def test_piston_stop_finds_a_wheel_that_is_out(drop: float, pin_offset: float, out: float) -> None:
    """Readings simulated with a wheel out by a known angle give that angle and the stop's depth back."""
    before = crank_angle_at_drop(drop=drop, before=True, pin_offset=pin_offset, **ENGINE) - radians(out)
    after = crank_angle_at_drop(drop=drop, pin_offset=pin_offset, **ENGINE) + radians(out)
    assume(0 < before < pi and 0 < after < pi)
    found = piston_stop(stop_before=before, stop_after=after, pin_offset=pin_offset, **ENGINE)
    assert found.wheel_correction == pytest.approx(radians(out), abs=1e-9)
    assert found.drop == pytest.approx(drop, abs=1e-9)


@pytest.mark.parametrize(("drop", "error"), [(2, 0.006), (5, 0.015), (10, 0.031), (20, 0.065)])
def test_offset_error_of_the_midpoint(drop: float, error: float) -> None:
    """1.5 mm of offset misleads the midpoint by less than 0.07°: the handbook's table, worked apart."""
    before = crank_angle_at_drop(drop=drop * 1e-3, before=True, pin_offset=0.0015, **ENGINE)
    after = crank_angle_at_drop(drop=drop * 1e-3, pin_offset=0.0015, **ENGINE)
    found = piston_stop(stop_before=before, stop_after=after, pin_offset=0.0015, **ENGINE)
    assert abs(degrees(found.offset_error)) == pytest.approx(error, abs=0.0006)


def test_dial_gauge_sees_nothing_over_three_degrees() -> None:
    """0.02 mm hides ±1.7° round top dead centre, so the highest reading is no way to find it."""
    assert degrees(dial_gauge_dead_band(resolution=2e-5, **ENGINE)) / 2 == pytest.approx(1.7, abs=0.05)


@given(st.floats(0, pi), st.floats(0.03, 0.6))
def test_arc_and_chord_and_their_inverses(angle: float, diameter: float) -> None:
    """Both ways to lay off an angle come back; a chord is never longer than its arc."""
    arc, chord = rim_arc(angle=angle, diameter=diameter), rim_chord(angle=angle, diameter=diameter)
    assert angle_from_arc(arc=arc, diameter=diameter) == pytest.approx(angle, abs=1e-12)
    assert angle_from_chord(chord=chord, diameter=diameter) == pytest.approx(angle, abs=1e-7)
    assert chord <= arc * (1 + 1e-12) + 1e-15
    assert chord == pytest.approx(2 * (diameter / 2) * sin(angle / 2), abs=1e-12)


def test_one_degree_on_a_145_mm_pulley() -> None:
    """1.27 mm a degree: π · 145 / 360."""
    assert rim_arc(angle=radians(1), diameter=0.145) == pytest.approx(1.265e-3, abs=1e-6)


@pytest.mark.parametrize(
    ("before", "after", "field"), [(-0.2, 0.5, "stop_before"), (0.5, 0.0, "stop_after"), (0.5, 3.3, "stop_after")]
)
def test_readings_from_one_side_are_refused(before: float, after: float, field: str) -> None:
    """Both readings must lie on both sides of the wheel's zero; the refusal says what to do."""
    with pytest.raises(OutsideValidity, match="other") as refusal:
        piston_stop(stop_before=before, stop_after=after, **ENGINE)
    assert refusal.value.field == field


def test_senseless_marks_are_refused() -> None:
    """A chord over the diameter, half a turn and more as a chord, a rim of no size."""
    with pytest.raises(OutsideValidity):
        angle_from_chord(chord=0.2, diameter=0.15)
    with pytest.raises(OutsideValidity):
        rim_chord(angle=3.2, diameter=0.15)
    with pytest.raises(OutsideValidity):
        angle_from_arc(arc=0.01, diameter=0.0)
