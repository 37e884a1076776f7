"""Timing cards, rebuilt lobes, arc cams and valve-to-piston gaps against published cards, identities and scipy."""

from math import cos, pi, radians, sqrt
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.integrate import trapezoid
from scipy.interpolate import CubicSpline
from scipy.optimize import bisect, brentq, minimize_scalar

from service.calculations.arc_cam import ArcCam, arc_cam, arc_cam_from_duration, arc_cam_table
from service.calculations.cam_lobe import (
    Lobe,
    lobe_coefficients,
    lobe_from_durations,
    lobe_radius,
    lobe_table,
    relative_lift,
    tappet_contact,
    tappet_diameter_needed,
)
from service.calculations.piston_motion import piston_position
from service.calculations.roots import find_root
from service.calculations.valve_events import (
    TimingCard,
    cam_timing,
    timing_card,
    valve_lift,
    valve_to_piston,
    valve_to_piston_gap,
)
from service.errors import Contradiction, OutsideValidity
from tests.published.cases import published

CASES = published("valve_events")
DEGREE = pi / 180
INCH, FOOT = 0.0254, 0.3048
EVENT = st.floats(-30 * DEGREE, 130 * DEGREE)
HARROW: dict[str, Any] = {
    "cam_lift": 0.0084,
    "advertised_duration": 276 * DEGREE,
    "advertised_checking_lift": 0.0003,
    "checked_duration": 236 * DEGREE,
}


def test_published_card() -> None:
    """V01: events of an air-cooled twin give its printed durations and overlap."""
    case = CASES["V01"]
    found = cam_timing(**{name: radians(event["value"]) for name, event in case["given"].items()})
    for name, printed in case["expected"].items():
        assert getattr(found, name) / DEGREE == pytest.approx(printed["value"], abs=case["tolerance"]["abs"])


@given(EVENT, EVENT, EVENT, EVENT)
def test_card_and_timing_are_inverse(io: float, ic: float, eo: float, ec: float) -> None:
    """Durations, separation and advance give every card back."""
    found = cam_timing(intake_opening=io, intake_closing=ic, exhaust_opening=eo, exhaust_closing=ec)
    back = timing_card(
        intake_duration=found.intake_duration,
        exhaust_duration=found.exhaust_duration,
        lobe_separation=found.lobe_separation,
        advance=found.advance,
    )
    assert back == pytest.approx(TimingCard(io, ic, eo, ec), abs=1e-12)


@given(EVENT, EVENT, EVENT, EVENT, st.floats(-0.2, 0.2))
def test_advancing_the_camshaft(io: float, ic: float, eo: float, ec: float, turn: float) -> None:
    """Turning the camshaft earlier moves the advance only: durations, separation and overlap stay."""
    one = cam_timing(intake_opening=io, intake_closing=ic, exhaust_opening=eo, exhaust_closing=ec)
    other = cam_timing(intake_opening=io + turn, intake_closing=ic - turn, exhaust_opening=eo + turn, exhaust_closing=ec - turn)
    assert other.advance == pytest.approx(one.advance + turn, abs=1e-12)
    assert other.overlap == pytest.approx(one.overlap, abs=1e-12)
    assert other.lobe_separation == pytest.approx(one.lobe_separation, abs=1e-12)
    assert other.intake_duration == pytest.approx(one.intake_duration, abs=1e-12)


def test_impossible_events_are_refused() -> None:
    """A valve that never or always stands open names its event and how to count."""
    with pytest.raises(OutsideValidity, match="other side is negative") as refusal:
        cam_timing(intake_opening=-2.0, intake_closing=-2.0, exhaust_opening=1.0, exhaust_closing=0.5)
    assert refusal.value.field == "intake_closing"
    with pytest.raises(OutsideValidity) as duration:
        timing_card(intake_duration=4.0, exhaust_duration=0.0, lobe_separation=1.9)
    assert duration.value.field == "exhaust_duration"


@given(st.floats(0, 0.016), st.floats(0.7, 2.2), st.floats(0, 0.0015))
def test_lash_comes_off_the_lift_at_the_valve(cam_lift: float, ratio: float, lash: float) -> None:
    """Lift is the lever's less the lash, and the valve never goes below its seat."""
    found = valve_lift(cam_lift=cam_lift, rocker_ratio=ratio, lash=lash)
    assert found >= 0
    if ratio * cam_lift > lash:
        assert found + lash == pytest.approx(ratio * cam_lift, abs=1e-15)


def test_exponent_four_is_a_fifth_power() -> None:
    """(1 − x²)⁵ expanded by hand, over the whole lobe."""
    table = lobe_table(lobe=Lobe(1.0, 1.0, 4.0))
    assert np.allclose(table.lift, (1 - table.cam_angle**2) ** 5, atol=1e-12)


@given(st.floats(2.05, 60))
def test_the_lobe_falls_steadily_and_meets_the_base_circle_smoothly(exponent: float) -> None:
    """One at the nose, zero with zero slope and curvature at the base circle, falling in between, for every exponent."""
    table = lobe_table(lobe=Lobe(1.0, 1.0, exponent), points=401)
    half = table.lift[200:]
    assert half[0] == 1.0
    assert np.all(np.diff(half) <= 1e-9)
    assert abs(table.lift[-1]) < 1e-8
    assert abs(table.velocity[-1]) < 1e-6
    assert abs(table.acceleration[-1]) < 1e-4
    assert np.allclose(table.lift, table.lift[::-1])


@given(st.floats(3.5, 20), st.floats(0.002, 0.016), st.floats(0.8, 2.0))
def test_lobe_rows_are_derivatives(exponent: float, lift: float, half_width: float) -> None:
    """Integrating velocity and acceleration over the lobe's half gives lift and velocity back (trapezoid rule, scipy)."""
    table = lobe_table(lobe=Lobe(lift, half_width, exponent), points=8001)
    angle, half = table.cam_angle[4000:], slice(4000, None)
    assert trapezoid(table.velocity[half], angle) == pytest.approx(-lift, rel=1e-5)
    rise = trapezoid(table.acceleration[half], angle)
    assert abs(rise) < 1e-5 * float(np.max(np.abs(table.acceleration)))


@given(
    st.floats(0.004, 0.016),
    st.floats(230, 310),
    st.one_of(st.just(0.0), st.floats(1e-5, 4e-4)),
    st.floats(0.80, 0.89),
)
def test_both_durations_come_back(lift: float, duration: float, low: float, share: float) -> None:
    """Searching the rebuilt lobe with scipy for both checking lifts finds both durations."""
    try:
        lobe = lobe_from_durations(
            cam_lift=lift,
            advertised_duration=duration * DEGREE,
            advertised_checking_lift=low,
            checked_duration=share * duration * DEGREE,
        )
    except Contradiction:
        assume(False)
    if low > 0:
        place = brentq(lambda x: relative_lift(place=x, exponent=lobe.exponent) - low / lift, 0, 1)
        assert 4 * place * lobe.half_width / DEGREE == pytest.approx(duration, rel=1e-7)
    place = brentq(lambda x: relative_lift(place=x, exponent=lobe.exponent) - 0.00127 / lift, 0, 1)
    assert 4 * place * lobe.half_width / DEGREE == pytest.approx(share * duration, rel=1e-7)


def test_handbook_lobe() -> None:
    """276/236° with 8.4 mm gives exponent 8.08, 10.55 mm/rad, so a tappet over 23.1 mm (handbook, worked apart)."""
    lobe = lobe_from_durations(**HARROW)
    assert lobe.exponent == pytest.approx(8.08, abs=0.005)
    contact = tappet_contact(table=lobe_table(lobe=lobe), base_circle_radius=0.0155)
    assert contact.eccentricity == pytest.approx(10.55e-3, abs=5e-6)
    assert tappet_diameter_needed(eccentricity=contact.eccentricity) == pytest.approx(23.1e-3, abs=5e-5)
    assert contact.least_radius == pytest.approx(6.8e-3, abs=5e-5)


@given(st.floats(0.004, 0.012), st.floats(3, 12))
def test_tappet_contact_agrees_with_the_cams_outline(lift: float, exponent: float) -> None:
    """Envelope of the tappet's face: the outline's distance from its tangent's foot and its arc length say the same.

    The contact lies at (ds/da, r_b + s) in the tappet's frame; turned back by the cam angle this is the outline, whose
    curvature is taken by scipy's spline, without the formula under test.
    """
    base = 0.020
    table = lobe_table(lobe=Lobe(lift, 1.3, exponent), points=2001)
    contact = tappet_contact(table=table, base_circle_radius=base)
    reach = (base + table.lift) + 1j * table.velocity
    outline = reach * np.exp(1j * table.cam_angle)
    spline = CubicSpline(table.cam_angle, np.column_stack([outline.real, outline.imag]))
    first, second = spline(table.cam_angle, 1), spline(table.cam_angle, 2)
    cross = first[:, 0] * second[:, 1] - first[:, 1] * second[:, 0]
    speed = np.hypot(first[:, 0], first[:, 1])
    assume(contact.least_radius > 0.001)
    inside = slice(20, -20)
    radius = speed[inside] ** 3 / cross[inside]
    assert float(np.min(radius)) == pytest.approx(contact.least_radius, rel=2e-3)


def test_lobe_refusals_say_what_to_send() -> None:
    """Cam degrees, swapped durations, lifts above the nose and impossible pairs are refused with the fields."""
    with pytest.raises(Contradiction, match="longer one") as swapped:
        lobe_from_durations(**(HARROW | {"checked_duration": 280 * DEGREE}))
    assert "checked_duration" in swapped.value.fields
    with pytest.raises(Contradiction, match="30 to 60"):
        lobe_from_durations(**(HARROW | {"checked_duration": 150 * DEGREE}))
    with pytest.raises(OutsideValidity) as high:
        lobe_from_durations(**(HARROW | {"cam_lift": 0.001}))
    assert high.value.field == "checking_lift"
    with pytest.raises(OutsideValidity) as flat:
        lobe_coefficients(exponent=2.0)
    assert flat.value.field == "exponent"
    with pytest.raises(OutsideValidity) as long:
        lobe_from_durations(**(HARROW | {"advertised_duration": 4.1 * pi, "checked_duration": 3.6 * pi}))
    assert long.value.field == "advertised_duration"


def test_published_arc_cam() -> None:
    """K21: centre of the flank, acceleration and velocity scale of the nose of a cam of arcs."""
    case = CASES["K21"]
    given_ = case["given"]
    cam = arc_cam(
        base_circle_radius=given_["base_r"]["value"] * INCH,
        nose_radius=given_["nose_r"]["value"] * INCH,
        cam_lift=given_["lift"]["value"] * INCH,
        half_width=radians(given_["alpha"]["value"]),
    )
    rel = case["tolerance"]["rel"]
    speed = given_["rpm"]["value"] * pi / 30
    table = arc_cam_table(cam=cam)
    nose = int(np.argmax(table.lift))
    assert cam.flank_centre / INCH == pytest.approx(case["expected"]["OP"]["value"], rel=rel)
    assert -table.acceleration[nose] * speed**2 / FOOT == pytest.approx(case["expected"]["a_nose"]["value"], rel=rel)
    assert cam.nose_centre * speed / FOOT == pytest.approx(case["expected"]["v_coeff_nose"]["value"], rel=rel)


@given(st.floats(0.010, 0.030), st.floats(0.1, 0.6), st.floats(0.2, 0.5), st.floats(0.9, 1.4))
def test_arc_cam_has_the_radii_it_was_made_of(base: float, nose_share: float, lift_share: float, half: float) -> None:
    """Lift, slope and the radius of curvature r_b + s + s'' of the arcs: continuous lift, nose radius, flank radius."""
    try:
        cam = arc_cam(base_circle_radius=base, nose_radius=base * nose_share, cam_lift=base * lift_share, half_width=half)
    except Contradiction:
        assume(False)
    table = arc_cam_table(cam=cam, points=2001)
    radius = lobe_radius(base_circle_radius=base, lift=0.0, acceleration=0.0) + table.lift + table.acceleration
    assert radius[1000] == pytest.approx(base * nose_share, rel=1e-9)
    assert radius[0] == pytest.approx(cam.flank_radius, rel=1e-9)
    assert table.lift[1000] == pytest.approx(base * lift_share, rel=1e-9)
    assert table.lift[0] == pytest.approx(0.0, abs=1e-12)
    steepest = float(np.max(np.abs(table.velocity)))
    assert float(np.max(np.abs(np.diff(table.lift)))) <= steepest * (table.cam_angle[1] - table.cam_angle[0]) * 1.001
    assert np.all(np.abs(np.diff(table.velocity)) <= np.max(np.abs(table.acceleration)) * half / 1000 * 1.001)


@given(st.floats(0.010, 0.030), st.floats(0.1, 0.6), st.floats(0.2, 0.5), st.floats(0.9, 1.4), st.floats(0.01, 0.9))
def test_the_duration_at_a_lift_leads_back_to_the_cam(
    base: float, nose_share: float, lift_share: float, half: float, place: float
) -> None:
    """The angle where a known cam's flank, s = OP (1 − cos t), reaches a lift is a quarter of the duration at that lift."""
    nose, full = base * nose_share, base * lift_share
    try:
        cam = arc_cam(base_circle_radius=base, nose_radius=nose, cam_lift=full, half_width=half)
    except Contradiction:
        assume(False)

    def from_duration(duration: float, checking_lift: float) -> ArcCam:
        return arc_cam_from_duration(
            base_circle_radius=base, nose_radius=nose, cam_lift=full, duration=duration, checking_lift=checking_lift
        )

    turned = place * cam.flank_angle
    lift = cam.flank_centre * (1 - cos(turned))
    assume(lift > 1e-6)
    assert from_duration(4 * (half - turned), lift).half_width == pytest.approx(half, rel=1e-6)
    assert from_duration(4 * half, 0.0) == cam


def test_arc_cam_refusals() -> None:
    """A nose larger than the base circle, a hollow flank and half a turn of lift are refused."""
    with pytest.raises(Contradiction, match="diameters"):
        arc_cam(base_circle_radius=0.015, nose_radius=0.016, cam_lift=0.008, half_width=1.0)
    with pytest.raises(Contradiction):
        arc_cam(base_circle_radius=0.015, nose_radius=0.005, cam_lift=0.010, half_width=0.5)
    with pytest.raises(OutsideValidity) as width:
        arc_cam(base_circle_radius=0.015, nose_radius=0.005, cam_lift=0.010, half_width=1.6)
    assert width.value.field == "half_width"


@pytest.mark.parametrize(("centre", "printed_at"), [(104, 7), (-112, -7)])
def test_valve_to_piston_agrees_with_scipy(centre: float, printed_at: float) -> None:
    """A bounded search over single angles finds the same gap at the handbook's ±7°, intake and exhaust."""
    lobe = lobe_from_durations(**HARROW)
    geometry = {"stroke": 0.073, "rod_length": 0.136}
    found = valve_to_piston(
        clearance_at_top=0.005,
        valve_angle=radians(10),
        lobe=lobe_table(lobe=lobe),
        lobe_centre=radians(centre),
        rocker_ratio=1.1,
        **geometry,
    )

    def gap(angle: float) -> float:
        place = abs(angle - radians(centre)) / 2 / lobe.half_width
        return valve_to_piston_gap(
            clearance_at_top=0.005,
            piston_drop=piston_position(crank_angle=angle, **geometry),
            valve_angle=radians(10),
            valve_lift=1.1 * lobe.lift * relative_lift(place=place, exponent=lobe.exponent),
        )

    search = minimize_scalar(gap, bounds=(-1.0, 1.0), method="bounded", options={"xatol": 1e-9})
    assert found.gap == pytest.approx(search.fun, abs=1e-8)
    assert found.crank_angle == pytest.approx(search.x, abs=1e-3)
    assert found.crank_angle / DEGREE == pytest.approx(printed_at, abs=0.5)


def test_valves_shut_at_top_dead_centre_keep_their_gap() -> None:
    """A lobe that ends before top dead centre never comes nearer than the gap measured with the valve shut."""
    table = lobe_table(lobe=Lobe(0.008, 50 * DEGREE, 8.0))
    geometry = {"stroke": 0.073, "rod_length": 0.136, "rocker_ratio": 1.1, "valve_angle": 0.2, "clearance_at_top": 0.004}
    assert valve_to_piston(lobe=table, lobe_centre=-105 * DEGREE, **geometry) == (0.004, 0.0)
    assert valve_to_piston(lobe=table, lobe_centre=-170 * DEGREE, **geometry) == (0.004, 0.0)


@given(st.floats(0.0002, 0.03), st.floats(0, 0.6), st.floats(80, 130))
def test_more_room_at_top_is_more_room_everywhere(room: float, lean: float, centre: float) -> None:
    """A thicker measured gap adds to the least gap one for one; retarding the intake never brings it nearer."""
    table = lobe_table(lobe=lobe_from_durations(**HARROW))
    geometry = {"stroke": 0.073, "rod_length": 0.136, "rocker_ratio": 1.1, "valve_angle": lean, "lobe": table}
    one = valve_to_piston(clearance_at_top=room, lobe_centre=centre * DEGREE, **geometry)  # type: ignore[arg-type]
    two = valve_to_piston(clearance_at_top=room + 0.001, lobe_centre=centre * DEGREE, **geometry)  # type: ignore[arg-type]
    late = valve_to_piston(clearance_at_top=room, lobe_centre=(centre + 4) * DEGREE, **geometry)  # type: ignore[arg-type]
    assert two.gap == pytest.approx(one.gap + 0.001, abs=1e-9)
    assert late.gap >= one.gap - 1e-9


@pytest.mark.parametrize("root", [0.2, 0.739, 1e-6, 0.999])
def test_root_finder_agrees_with_scipy(root: float) -> None:
    """Straight, steep, flat and curved functions give bisection's root; a bracket without a root is the program's mistake."""
    for function in (
        lambda x: x - root,
        lambda x: (x - root) ** 3,
        lambda x: cos(x) - cos(root),
        lambda x: sqrt(x) - sqrt(root),
        lambda x: np.tanh(1e4 * (x - root)),
    ):
        found = find_root(function, 0.0, 1.0)
        assert found == pytest.approx(bisect(function, 0.0, 1.0), abs=1e-5)
    assert find_root(lambda x: x, 0.0, 1.0) == 0.0
    assert find_root(lambda x: x - 1, 0.0, 1.0) == 1.0
    with pytest.raises(ValueError, match="no sign change"):
        find_root(lambda x: x + 1, 0.0, 1.0)
