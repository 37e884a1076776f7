"""Thread geometry against the tables of the standards and against the profile drawn out of triangles."""

from math import isclose, pi, radians, sqrt, tan
from typing import Any

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from service.calculations.threads import Thread, medium_fit_limits, metric_thread, unified_thread, whitworth_thread
from service.errors import OutsideValidity
from tests.published.cases import INCH, agrees, published, si

CASES = published("torque")

diameters = st.floats(3e-3, 40e-3)
pitches = st.floats(0.35e-3, 4e-3)


def cases(kind: str) -> list[Any]:
    return [pytest.param(case, id=name) for name, case in CASES.items() if case["kind"] == kind]


@pytest.mark.parametrize("case", cases("iso_thread"))
def test_metric_sizes_of_the_tables(case: dict[str, Any]) -> None:
    """Every published size and stress area of ISO 724 and ISO 898-1 comes out within its printed rounding."""
    thread = metric_thread(diameter=si(case["given"]["d"]), pitch=si(case["given"]["P"]))
    got = {
        "d2": thread.pitch_diameter,
        "d3": thread.root_diameter,
        "D1": thread.nut_minor_diameter,
        "As": thread.stress_area,
    }
    for name in case["expected"]:
        assert agrees(case, name, got[name]), name


@pytest.mark.parametrize("case", cases("un_area"))
def test_unified_stress_areas_of_the_tables(case: dict[str, Any]) -> None:
    """The stress areas tabulated with ASME B1.1 come out within their last printed digit."""
    thread = unified_thread(diameter=si(case["given"]["d"]), pitch=INCH / case["given"]["tpi"]["value"])
    assert agrees(case, "At", thread.stress_area)


@pytest.mark.parametrize(
    ("per_inch", "diameter", "effective", "minor"),
    [(26, 1 / 4, 0.2254, 0.2007), (22, 5 / 16, 0.2834, 0.2543), (20, 3 / 8, 0.3430, 0.3110), (18, 7 / 16, 0.4019, 0.3664)],
)
def test_whitworth_fine_sizes(per_inch: int, diameter: float, effective: float, minor: float) -> None:
    """Effective and minor diameters of British Standard Fine threads as BS 84 tabulates them (from memory)."""
    thread = whitworth_thread(diameter=diameter * INCH, pitch=INCH / per_inch)
    assert thread.pitch_diameter / INCH == pytest.approx(effective, abs=1.01e-4)
    assert thread.root_diameter / INCH == pytest.approx(minor, abs=1.01e-4)


@given(diameter=diameters, pitch=pitches)
def test_metric_profile_from_triangles(diameter: float, pitch: float) -> None:
    """The coefficients follow from the sharp 60° triangle: H = P/(2 tan 30°), truncated by H/8 and H/4, root at H/6."""
    assume(pitch < 0.39 * diameter)
    height = pitch / (2 * tan(radians(30)))
    thread = metric_thread(diameter=diameter, pitch=pitch)
    sharp = diameter + 2 * height / 8
    assert isclose(thread.pitch_diameter, sharp - height, rel_tol=1e-12)
    assert isclose(thread.nut_minor_diameter, sharp - 2 * height * 3 / 4, rel_tol=1e-12)
    assert isclose(thread.root_diameter, sharp - 2 * height * 5 / 6, rel_tol=1e-12)


@given(diameter=diameters, pitch=pitches, factor=st.floats(0.5, 2))
def test_sizes_scale(diameter: float, pitch: float, factor: float) -> None:
    """A thread twice as large is twice as large all over, whatever its form, and its area four times."""
    assume(pitch < 0.39 * diameter)
    for form in (metric_thread, unified_thread, whitworth_thread):
        small, large = form(diameter=diameter, pitch=pitch), form(diameter=factor * diameter, pitch=factor * pitch)
        assert isclose(large.pitch_diameter, factor * small.pitch_diameter, rel_tol=1e-12)
        assert isclose(large.stress_area, factor * factor * small.stress_area, rel_tol=1e-12)


@given(diameter=diameters, pitch=pitches)
def test_sizes_are_in_order(diameter: float, pitch: float) -> None:
    """Root < hole < pitch < nominal diameter, and the stress area lies between root and pitch cylinder."""
    assume(pitch < 0.39 * diameter)
    for form in (metric_thread, unified_thread, whitworth_thread):
        thread = form(diameter=diameter, pitch=pitch)
        assert 0 < thread.root_diameter <= thread.nut_minor_diameter < thread.pitch_diameter < diameter
        assert thread.root_diameter < thread.stress_diameter < thread.pitch_diameter
        assert isclose(pi / 4 * thread.stress_diameter**2, thread.stress_area, rel_tol=1e-12)


def test_asme_area_is_about_one_per_cent_below_the_metric_rule() -> None:
    """3/8-24 UNF: ASME B1.1 prints 0.0878 in²; the metric rule on the same profile gives 0.0888 in² by hand."""
    unified = unified_thread(diameter=3 / 8 * INCH, pitch=INCH / 24)
    metric = metric_thread(diameter=3 / 8 * INCH, pitch=INCH / 24)
    assert unified.stress_area / INCH**2 == pytest.approx(0.0878, abs=5e-5)
    assert metric.stress_area / INCH**2 == pytest.approx(pi / 4 * (0.375 - 0.938194 / 24) ** 2, rel=1e-6)


@pytest.mark.parametrize(
    ("diameter", "pitch", "bolt_major", "bolt_pitch", "nut_pitch", "nut_minor"),
    [
        (6.0, 1.0, 5.794, 5.212, 5.500, 5.153),
        (8.0, 1.25, 7.760, 7.042, 7.348, 6.912),
        (10.0, 1.5, 9.732, 8.862, 9.206, 8.676),
        (12.0, 1.75, 11.701, 10.679, 11.063, 10.441),
        (14.0, 1.5, 13.732, 12.854, 13.216, 12.676),
    ],
)
def test_limits_of_medium_fit(
    diameter: float, pitch: float, bolt_major: float, bolt_pitch: float, nut_pitch: float, nut_minor: float
) -> None:
    """6g and 6H limits of ISO 965-2 (from memory) within 10 µm: the standard rounds to preferred numbers."""
    thread = metric_thread(diameter=diameter * 1e-3, pitch=pitch * 1e-3)
    limits = limits_of(thread)
    printed = (bolt_major, bolt_pitch, nut_pitch, nut_minor)
    assert [value * 1e3 for value in limits] == pytest.approx(printed, abs=0.0101)


def limits_of(thread: Thread) -> tuple[float, float, float, float]:
    return medium_fit_limits(
        diameter=thread.diameter,
        pitch=thread.pitch,
        pitch_diameter=thread.pitch_diameter,
        nut_minor_diameter=thread.nut_minor_diameter,
    )


@given(diameter=diameters, pitch=pitches)
def test_limits_leave_play_and_overlap(diameter: float, pitch: float) -> None:
    """A 6g bolt always enters a 6H hole, and standard pitches still overlap when both are at their worst."""
    assume(0.06 * diameter < pitch < 0.25 * diameter)
    thread = metric_thread(diameter=diameter, pitch=pitch)
    bolt_major, bolt_pitch, nut_pitch, nut_minor = limits_of(thread)
    assert bolt_major < diameter
    assert bolt_pitch < thread.pitch_diameter < nut_pitch
    assert nut_minor < bolt_major


def test_unified_limits_are_near_the_metric_formulas() -> None:
    """3/8-24 UNF 2A by the formulas of ASME B1.1 (from memory) in inches, within 0.002 in."""
    pitch = 1 / 24
    thread = unified_thread(diameter=3 / 8 * INCH, pitch=pitch * INCH)
    pitch_tolerance = 0.0015 * 0.375 ** (1 / 3) + 0.0015 * sqrt(0.375) + 0.015 * pitch ** (2 / 3)
    allowance = 0.3 * pitch_tolerance
    bolt_major, bolt_pitch, nut_pitch, _ = limits_of(thread)
    assert bolt_major / INCH == pytest.approx(0.375 - allowance - 0.060 * pitch ** (2 / 3), abs=0.0005)
    assert bolt_pitch / INCH == pytest.approx(thread.pitch_diameter / INCH - allowance - pitch_tolerance, abs=0.002)
    assert nut_pitch / INCH == pytest.approx(thread.pitch_diameter / INCH + 1.3 * pitch_tolerance, abs=0.002)


@pytest.mark.parametrize(("diameter", "pitch"), [(0.0, 1e-3), (-8e-3, 1e-3), (8e-3, 0.0), (8e-3, 16e-3), (8e-3, -1e-3)])
def test_impossible_threads_are_refused(diameter: float, pitch: float) -> None:
    """No diameter, no pitch, or threads per inch typed as the pitch (16 for 16 tpi): refused, saying what to send."""
    for form in (metric_thread, unified_thread, whitworth_thread):
        with pytest.raises(OutsideValidity) as refusal:
            form(diameter=diameter, pitch=pitch)
        assert refusal.value.field == ("diameter" if diameter <= 0 else "pitch")


def test_threads_per_inch_typed_as_pitch_says_so() -> None:
    """The message for a pitch of 16 names the threads per inch."""
    with pytest.raises(OutsideValidity, match="threads per inch"):
        metric_thread(diameter=9.525e-3, pitch=16e-3)


def test_limits_of_a_watch_thread_are_refused() -> None:
    """Below a pitch of 0.2 mm the tolerance formulas mean nothing."""
    with pytest.raises(OutsideValidity, match=r"0\.2 to 6 mm"):
        medium_fit_limits(diameter=1e-3, pitch=1e-4, pitch_diameter=0.9e-3, nut_minor_diameter=0.85e-3)
