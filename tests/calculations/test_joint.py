"""The joint around the bolt against worked textbook examples, a linear solve and the thread cut out as a shape."""

from math import degrees, isclose, pi, radians, tan

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from service.calculations.joint import (
    compliance,
    preload_from_turn,
    sleeve_area,
    stretch,
    stripping_areas,
    stripping_load,
    thermal_preload_change,
    turn_of_nut,
)
from service.calculations.threads import medium_fit_limits, metric_thread
from service.errors import OutsideValidity
from tests.published.cases import published

CASES = published("torque")
INCH, POUND_FORCE = 0.0254, 4.4482216152605
PSI = POUND_FORCE / (INCH * INCH)
forces = st.floats(100, 1e6)
compliances = st.floats(1e-10, 1e-7)


def number(case: str, side: str, key: str) -> float:
    entry = CASES[case][side][key]
    return float(entry["value"] if isinstance(entry, dict) else entry)


def test_published_stretch_and_turn() -> None:
    """Case F93, Wentzell example 6.2: 0.01204 in of stretch and 43.35° for 85 % of proof over a 5 in grip."""
    area = number("F93", "given", "At") * INCH * INCH
    preload = number("F93", "given", "Sp") * PSI * number("F93", "given", "fraction") * area
    bolt = compliance(length=number("F93", "given", "L") * INCH, area=area, youngs_modulus=number("F93", "given", "E") * PSI)
    turn = turn_of_nut(
        preload=preload, bolt_compliance=bolt, parts_compliance=0.0, pitch=number("F93", "given", "pitch") * INCH
    )
    tolerance = CASES["F93"]["tolerance"]["rel"]
    length = stretch(preload=preload, bolt_compliance=bolt)
    assert length / INCH == pytest.approx(number("F93", "expected", "stretch"), rel=tolerance)
    assert degrees(turn) == pytest.approx(number("F93", "expected", "angle"), rel=tolerance)


def test_published_half_turn_on_a_magnesium_tube() -> None:
    """Case F95, Hibbeler example 4.8: half a turn of a 20 tpi bolt on a magnesium tube, forces and stresses."""
    g = {key: number("F95", "given", key) for key in CASES["F95"]["given"]}
    bolt_area = pi * (g["rb"] * INCH) ** 2
    tube_area = pi * ((g["ro"] * INCH) ** 2 - (g["ri"] * INCH) ** 2)
    preload = preload_from_turn(
        turn=2 * pi * g["turns"],
        bolt_compliance=compliance(length=g["L"] * INCH, area=bolt_area, youngs_modulus=g["Eb"] * 1e3 * PSI),
        parts_compliance=compliance(length=g["L"] * INCH, area=tube_area, youngs_modulus=g["Et"] * 1e3 * PSI),
        pitch=INCH / g["tpi"],
    )
    tolerance = CASES["F95"]["tolerance"]["rel"]
    assert preload / POUND_FORCE / 1e3 == pytest.approx(number("F95", "expected", "F"), rel=tolerance)
    assert preload / bolt_area / PSI / 1e3 == pytest.approx(number("F95", "expected", "stress_bolt"), rel=tolerance)
    assert preload / tube_area / PSI / 1e3 == pytest.approx(number("F95", "expected", "stress_tube"), rel=tolerance)


def test_published_bolt_and_sleeve_heated() -> None:
    """Case T15, Hibbeler example 4.12: a steel bolt in an aluminium sleeve gains 20.3 kN over 65 K."""
    g = {key: number("T15", "given", key) for key in CASES["T15"]["given"]}
    length = 0.15  # of the example; it cancels out
    change = thermal_preload_change(
        parts_growth=g["alpha_s"] * 1e-6 * length * g["dT"],
        bolt_growth=g["alpha_b"] * 1e-6 * length * g["dT"],
        bolt_compliance=compliance(length=length, area=g["Ab"] * 1e-6, youngs_modulus=g["Eb"] * 1e9),
        parts_compliance=compliance(length=length, area=g["As"] * 1e-6, youngs_modulus=g["Es"] * 1e9),
    )
    assert change / 1e3 == pytest.approx(number("T15", "expected", "F"), abs=CASES["T15"]["tolerance"]["abs"])


@given(preload=forces, bolt=compliances, parts=compliances, pitch=st.floats(0.35e-3, 4e-3))
def test_turn_and_preload_invert(preload: float, bolt: float, parts: float, pitch: float) -> None:
    """Preload → turn → preload comes back."""
    turn = turn_of_nut(preload=preload, bolt_compliance=bolt, parts_compliance=parts, pitch=pitch)
    again = preload_from_turn(turn=turn, bolt_compliance=bolt, parts_compliance=parts, pitch=pitch)
    assert isclose(again, preload, rel_tol=1e-12)


@given(bolt=compliances, parts=compliances, grown=st.floats(-1e-3, 1e-3), bolt_grown=st.floats(-1e-3, 1e-3))
def test_heat_by_linear_solve(bolt: float, parts: float, grown: float, bolt_grown: float) -> None:
    """Referee: equilibrium and equal length of bolt and parts solved as two linear equations."""
    # Unknowns: bolt force and force on the parts. F_b − F_p = 0; F_b c_b + growth_b = growth_p − F_p c_p.
    scale = 1e-8
    solution = np.linalg.solve(
        np.array([[1.0, -1.0], [bolt / scale, parts / scale]]), np.array([0.0, (grown - bolt_grown) / scale])
    )
    change = thermal_preload_change(parts_growth=grown, bolt_growth=bolt_grown, bolt_compliance=bolt, parts_compliance=parts)
    assert isclose(change, float(solution[0]), rel_tol=1e-9, abs_tol=1e-6)


def thread_width_by_shape(diameter: float, pitch: float, pitch_diameter: float, outside: bool) -> float:
    """Width of metal per pitch on the cylinder of the diameter, from the straight flanks of the drawn profile.

    The flank of the bolt's thread runs through (axial P/4, pitch radius) at 30° to the radius; its tooth is narrower
    outwards, that of the hole is wider outwards.
    """
    sign = 1.0 if outside else -1.0

    def flank(axial: float) -> float:
        return (axial - pitch / 4) / tan(radians(30)) * sign + pitch_diameter / 2 - diameter / 2

    return 2 * float(brentq(flank, -pitch, pitch))


@pytest.mark.parametrize(("diameter", "pitch"), [(6, 1.0), (8, 1.25), (10, 1.5), (12, 1.5), (14, 1.25), (28, 1.5)])
def test_stripping_areas_from_the_shape_of_the_thread(diameter: float, pitch: float) -> None:
    """Referee: shear cylinders at the bolt's crest and at the hole's crest cut out of the flanks as drawn."""
    thread = metric_thread(diameter=diameter * 1e-3, pitch=pitch * 1e-3)
    limits = medium_fit_limits(
        diameter=thread.diameter,
        pitch=thread.pitch,
        pitch_diameter=thread.pitch_diameter,
        nut_minor_diameter=thread.nut_minor_diameter,
    )
    engagement = 2 * thread.diameter
    areas = stripping_areas(engagement=engagement, pitch=thread.pitch, **limits._asdict())
    turns = engagement / thread.pitch
    hole = thread_width_by_shape(limits.bolt_major_minimum, thread.pitch, limits.nut_pitch_maximum, outside=True)
    bolt = thread_width_by_shape(limits.nut_minor_maximum, thread.pitch, limits.bolt_pitch_minimum, outside=False)
    assert areas.nut_thread == pytest.approx(pi * limits.bolt_major_minimum * hole * turns, rel=1e-9)
    assert areas.bolt_thread == pytest.approx(pi * limits.nut_minor_maximum * bolt * turns, rel=1e-9)


def test_magnesium_case_example() -> None:
    """M8x1.25, 16 mm deep in a case of 200 MPa: 269 mm² and 32.3 kN with the tabulated limits, hand arithmetic."""
    areas = stripping_areas(
        engagement=16e-3,
        pitch=1.25e-3,
        bolt_major_minimum=7.760e-3,
        bolt_pitch_minimum=7.042e-3,
        nut_pitch_maximum=7.348e-3,
        nut_minor_maximum=6.912e-3,
    )
    by_hand = pi * 12.8 * 7.760 * (0.625 + 0.57735 * (7.760 - 7.348))
    assert areas.nut_thread * 1e6 == pytest.approx(by_hand, rel=1e-4)
    load = stripping_load(shear_area=areas.nut_thread, tensile_strength=200e6)
    assert load == pytest.approx(32.3e3, rel=2e-3)


@given(engagement=st.floats(1e-3, 0.05), factor=st.floats(1, 5))
def test_deeper_thread_holds_in_proportion(engagement: float, factor: float) -> None:
    """Twice the engagement strips at twice the load, in the hole and on the bolt."""
    sizes = {
        "pitch": 1.25e-3,
        "bolt_major_minimum": 7.760e-3,
        "bolt_pitch_minimum": 7.042e-3,
        "nut_pitch_maximum": 7.348e-3,
        "nut_minor_maximum": 6.912e-3,
    }
    short, deep = (stripping_areas(engagement=length, **sizes) for length in (engagement, factor * engagement))
    assert isclose(deep.nut_thread, factor * short.nut_thread, rel_tol=1e-12)
    assert isclose(deep.bolt_thread, factor * short.bolt_thread, rel_tol=1e-12)
    assert short.nut_thread > short.bolt_thread


def test_threads_that_do_not_meet_are_refused() -> None:
    """A bolt smaller than its hole engages nothing, nor one whose flanks miss; both are refused."""
    sizes = {"engagement": 16e-3, "pitch": 1.25e-3, "bolt_pitch_minimum": 7.042e-3, "nut_pitch_maximum": 7.348e-3}
    for major, minor in ((6.5e-3, 6.9e-3), (7.0e-3, 0.0)):
        with pytest.raises(OutsideValidity, match="does not engage"):
            stripping_areas(bolt_major_minimum=major, nut_minor_maximum=minor, **sizes)
    with pytest.raises(OutsideValidity, match="does not engage"):
        stripping_areas(bolt_major_minimum=7.0e-3, nut_minor_maximum=6.9e-3, **{**sizes, "nut_pitch_maximum": 9e-3})


@given(face=st.floats(5e-3, 0.05), share=st.floats(0.5, 0.9), length=st.floats(1e-3, 0.3))
def test_sleeve_lies_between_the_face_and_a_cone(face: float, share: float, length: float) -> None:
    """Referee: the sleeve is stiffer than a tube as wide as the face and softer than one wide by a 45° cone's mean."""
    area = sleeve_area(bearing_outer_diameter=face, hole_diameter=share * face, clamped_length=length)
    tube = pi / 4 * (face * face - (share * face) ** 2)
    cone = pi / 4 * ((face + length / 2) ** 2 - (share * face) ** 2)
    assert tube < area < cone


def test_face_inside_its_hole_is_refused() -> None:
    """A head that falls through clamps nothing."""
    with pytest.raises(OutsideValidity, match="wider than the hole"):
        sleeve_area(bearing_outer_diameter=9e-3, hole_diameter=9e-3, clamped_length=0.03)


@pytest.mark.parametrize("field", ["preload", "bolt_compliance", "pitch"])
def test_nothing_to_turn_is_refused(field: str) -> None:
    """Zero preload, compliance or pitch is refused by name; so are parts of negative compliance."""
    given_ = {"preload": 1e4, "bolt_compliance": 1e-9, "parts_compliance": 1e-9, "pitch": 1e-3}
    with pytest.raises(OutsideValidity) as refusal:
        turn_of_nut(**{**given_, field: 0.0})
    assert refusal.value.field == field
    with pytest.raises(OutsideValidity):
        turn_of_nut(**{**given_, "parts_compliance": -1e-9})
