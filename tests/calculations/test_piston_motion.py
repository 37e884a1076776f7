"""Slider-crank against published problems, a vector loop, root finding, finite differences and long-rod limits."""

import cmath
from math import asin, cos, degrees, pi, radians, sin, sqrt
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.optimize import brentq, minimize_scalar

from service.calculations.crank_loads import inertia_load, rod_forces
from service.calculations.piston_motion import (
    mean_piston_speed,
    peak_acceleration,
    piston_motion_at,
    piston_motion_table,
    piston_position,
    rod_motion_at,
    rod_ratio,
)
from service.calculations.slider_crank import crank_angle_at_drop, crank_radius, slider_crank
from service.errors import Contradiction, OutsideValidity
from tests.published.cases import agrees, published, si

CASES = published("piston_motion")
STROKE = st.floats(0.020, 0.250)
ROD = st.floats(0.040, 0.400)
OFFSET = st.floats(-0.010, 0.010)
TURN = st.floats(-2 * pi, 2 * pi)


def turns(stroke: float, rod_length: float, pin_offset: float = 0.0) -> bool:
    """Whether such a crank goes round, decided without the code under test: shorter than the stroke of r = l − |e|."""
    longest = sqrt((2 * rod_length - abs(pin_offset)) ** 2 - pin_offset**2) if rod_length > abs(pin_offset) else 0.0
    return stroke < longest * (1 - 1e-9)


def kinematics(case: dict[str, Any]) -> dict[str, float]:
    """Everything that a kinematic case can print, by the exact motion."""
    figures = {name: si(value) for name, value in case["given"].items()}
    stroke = figures["stroke"] if "stroke" in figures else 2 * figures["r"]
    rod_length = figures["l"] if "l" in figures else figures["rod"]
    speed = figures["omega"] if "omega" in figures else figures["rpm"]
    motion = piston_motion_at(crank_angle=figures["theta"], stroke=stroke, rod_length=rod_length, speed=speed)
    rod = rod_motion_at(crank_angle=figures["theta"], stroke=stroke, rod_length=rod_length, speed=speed)
    found = {"x": motion.position, "v": motion.velocity, "a": motion.acceleration, "rod_angle": rod.angle}
    found |= {"omega_rod": rod.rotational_speed, "alpha_rod": -rod.rotational_acceleration}
    found |= {f"{name}_approx": value for name, value in found.items()}
    return found | {"speed": motion.velocity, "mean_speed": mean_piston_speed(stroke=stroke, speed=speed)}


@pytest.mark.parametrize("name", ["K02", "K04", "K05", "K14", "K16", "K20", "C33", "G13", "G14", "G16"])
def test_published_motion(name: str) -> None:
    """Published velocities, accelerations, rod motions and drops reproduce within what their method allows."""
    case = CASES[name]
    found = kinematics(case)
    for key in case["expected"]:
        assert agrees(case, key, found[key]), (key, found[key])


def test_misprinted_motion_does_not_reproduce() -> None:
    """K13 repeats K02 with halved series terms: the printed figures are wrong, those of K02 are right."""
    case = CASES["K13"]
    found = kinematics(case)
    for key in case["expected"]:
        assert not agrees(case, key, found[key])
        assert agrees(case, key, found[key], "correct")


@pytest.mark.parametrize("name", ["K17", "K19"])
def test_published_mean_piston_speed(name: str) -> None:
    """Feet a minute as two textbooks of engines print them."""
    case = CASES[name]
    found = mean_piston_speed(stroke=si(case["given"]["stroke"]), speed=si(case["given"]["rpm"]))
    assert agrees(case, "mean_speed", found)


def test_published_inertia_force() -> None:
    """K07: 18.53 kN on the crosshead of a steam engine."""
    case = CASES["K07"]
    given_ = {name: si(value) for name, value in case["given"].items()}
    motion = piston_motion_at(
        crank_angle=given_["theta"], stroke=2 * given_["r"], rod_length=given_["l"], speed=given_["omega"]
    )
    assert agrees(case, "FI_approx", inertia_load(reciprocating_mass=given_["m"], acceleration=motion.acceleration))


@pytest.mark.parametrize("name", ["K09", "K10"])
def test_published_piston_forces(name: str) -> None:
    """Net piston force, rod force and side thrust of two petrol engines."""
    case = CASES[name]
    given_ = {key: (si(value) if key != "gravity" else 0.0) for key, value in case["given"].items()}
    gravity = case["given"]["gravity"]
    forces = rod_forces(
        gas_force=pi / 4 * given_["D"] ** 2 * given_["p"],
        reciprocating_mass=given_["m"],
        crank_angle=given_["theta"],
        stroke=2 * given_["r"],
        rod_length=given_["l"],
        speed=given_["rpm"],
        weight=given_["m"] * (gravity["value"] if isinstance(gravity, dict) else gravity),
    )
    assert agrees(case, "FP", forces.piston_force)
    assert agrees(case, "FQ", forces.rod_force)
    assert agrees(case, "FN", forces.side_thrust)


def test_published_side_thrust_and_the_sign_of_the_offset() -> None:
    """M04: an offset of 2 mm away from the thrust side takes the side thrust at 90° from 4.05 to 3.765 kN."""
    case = CASES["M04"]
    given_ = {name: si(value) for name, value in case["given"].items()}
    gas = given_["p"] * pi / 4 * given_["bore"] ** 2 - given_["Ff"]

    def forces(pin_offset: float) -> tuple[float, float]:
        crank = slider_crank(stroke=given_["stroke"], rod_length=given_["l"], pin_offset=pin_offset)
        found = rod_forces(
            gas_force=gas,
            reciprocating_mass=0.0,
            crank_angle=pi / 2 - crank.top_angle,
            stroke=given_["stroke"],
            rod_length=given_["l"],
            speed=0.0,
            pin_offset=pin_offset,
        )
        return found.rod_force, found.side_thrust

    assert agrees(case, "Fr", forces(0.0)[0])
    assert agrees(case, "Ft", forces(0.0)[1])
    assert agrees(case, "Ft_offset", forces(-given_["offset"])[1])
    assert forces(given_["offset"])[1] > forces(0.0)[1]


@given(STROKE, ROD, OFFSET)
def test_the_radius_gives_back_the_stroke(stroke: float, rod_length: float, pin_offset: float) -> None:
    """The closed radius satisfies S = √((l+r)² − e²) − √((l−r)² − e²), the handbook's implicit form."""
    assume(turns(stroke, rod_length, pin_offset))
    r = crank_radius(stroke=stroke, rod_length=rod_length, pin_offset=pin_offset)
    top, bottom = sqrt((rod_length + r) ** 2 - pin_offset**2), sqrt((rod_length - r) ** 2 - pin_offset**2)
    assert top - bottom == pytest.approx(stroke, rel=1e-9)


def test_the_radius_agrees_with_scipy() -> None:
    """Brent's method on the implicit stroke finds the same radius."""

    def surplus(r: float) -> float:
        return sqrt((0.136 + r) ** 2 - 0.002**2) - sqrt((0.136 - r) ** 2 - 0.002**2) - 0.073

    assert crank_radius(stroke=0.073, rod_length=0.136, pin_offset=0.002) == pytest.approx(
        brentq(surplus, 0.03, 0.04), rel=1e-10
    )


@given(STROKE, ROD, OFFSET, TURN)
def test_position_closes_the_vector_loop(stroke: float, rod_length: float, pin_offset: float, angle: float) -> None:
    """Crank and rod as complex numbers end in the piston pin: an independent way to the same drop."""
    assume(turns(stroke, rod_length, pin_offset))
    crank = slider_crank(stroke=stroke, rod_length=rod_length, pin_offset=pin_offset)
    drop = piston_position(crank_angle=angle, stroke=stroke, rod_length=rod_length, pin_offset=pin_offset)
    # Real axis up the cylinder, imaginary axis toward the side to which the crank pin swings after top dead centre.
    pin = complex(crank.top_height - drop, -pin_offset)
    crank_pin = cmath.rect(crank.radius, angle + crank.top_angle)
    assert abs(pin - crank_pin) == pytest.approx(rod_length, rel=1e-9)
    assert 0 <= drop <= stroke * (1 + 1e-9)


@given(STROKE, ROD, OFFSET, TURN)
def test_velocity_and_acceleration_are_the_derivatives(
    stroke: float, rod_length: float, pin_offset: float, angle: float
) -> None:
    """Central differences of the position and of the velocity at 1 rad/s agree with the closed forms."""
    assume(turns(stroke, rod_length, pin_offset) and rod_length > 0.6 * stroke + 2 * abs(pin_offset))
    geometry = {"stroke": stroke, "rod_length": rod_length, "pin_offset": pin_offset}
    step = 1e-5
    before = piston_motion_at(crank_angle=angle - step, speed=1.0, **geometry)
    after = piston_motion_at(crank_angle=angle + step, speed=1.0, **geometry)
    here = piston_motion_at(crank_angle=angle, speed=1.0, **geometry)
    assert here.velocity == pytest.approx((after.position - before.position) / (2 * step), abs=1e-6 * stroke)
    assert here.acceleration == pytest.approx((after.velocity - before.velocity) / (2 * step), abs=1e-6 * stroke)


@given(STROKE, ROD, OFFSET, TURN)
def test_rod_rates_are_the_derivatives_of_its_tilt(stroke: float, rod_length: float, pin_offset: float, angle: float) -> None:
    """Central differences of the rod's angle and of its speed agree with the closed forms."""
    assume(turns(stroke, rod_length, pin_offset) and rod_length > 0.6 * stroke + 2 * abs(pin_offset))
    geometry = {"stroke": stroke, "rod_length": rod_length, "pin_offset": pin_offset}
    step = 1e-5
    before = rod_motion_at(crank_angle=angle - step, speed=1.0, **geometry)
    after = rod_motion_at(crank_angle=angle + step, speed=1.0, **geometry)
    here = rod_motion_at(crank_angle=angle, speed=1.0, **geometry)
    assert here.rotational_speed == pytest.approx((after.angle - before.angle) / (2 * step), abs=1e-6)
    slope = (after.rotational_speed - before.rotational_speed) / (2 * step)
    assert here.rotational_acceleration == pytest.approx(slope, abs=1e-6)


@given(STROKE, ROD, OFFSET, TURN)
def test_mirror_symmetry(stroke: float, rod_length: float, pin_offset: float, angle: float) -> None:
    """Turning backwards with the offset on the other side is the same motion."""
    assume(turns(stroke, rod_length, pin_offset))
    one = piston_position(crank_angle=angle, stroke=stroke, rod_length=rod_length, pin_offset=pin_offset)
    other = piston_position(crank_angle=-angle, stroke=stroke, rod_length=rod_length, pin_offset=-pin_offset)
    assert one == pytest.approx(other, abs=1e-12)


@given(STROKE, ROD, TURN, st.floats(0.1, 10), st.floats(0.1, 10))
def test_scaling(stroke: float, rod_length: float, angle: float, size: float, pace: float) -> None:
    """An engine s times as large at p times the speed moves s·p and accelerates s·p² times as much."""
    assume(turns(stroke, rod_length))
    one = piston_motion_at(crank_angle=angle, stroke=stroke, rod_length=rod_length, speed=100.0)
    other = piston_motion_at(crank_angle=angle, stroke=stroke * size, rod_length=rod_length * size, speed=100.0 * pace)
    assert other.position == pytest.approx(one.position * size, abs=1e-12)
    assert other.velocity == pytest.approx(one.velocity * size * pace, rel=1e-9, abs=1e-9)
    assert other.acceleration == pytest.approx(one.acceleration * size * pace**2, rel=1e-9, abs=1e-6)


@given(STROKE, TURN)
def test_a_very_long_rod_gives_simple_harmonic_motion(stroke: float, angle: float) -> None:
    """With a rod a thousand strokes long the piston moves as r (1 − cos φ)."""
    found = piston_motion_at(crank_angle=angle, stroke=stroke, rod_length=1000 * stroke, speed=1.0)
    r = stroke / 2
    assert found.position == pytest.approx(r * (1 - cos(angle)), abs=1e-3 * r)
    assert found.velocity == pytest.approx(r * sin(angle), abs=1e-3 * r)
    assert found.acceleration == pytest.approx(r * cos(angle), abs=1e-3 * r)


def test_first_two_harmonics_of_the_acceleration() -> None:
    """Fourier analysis of the table gives 1 and λ + λ³/4 + 15 λ⁵/128 (Taylor vol. II): no series is used to make it."""
    table = piston_motion_table(stroke=0.08, rod_length=0.16, speed=1.0)
    spectrum = 2 * np.fft.rfft(table.acceleration / 0.04).real / 720
    assert spectrum[2] == pytest.approx(1.0, rel=1e-9)
    ratio = 0.25
    assert spectrum[4] == pytest.approx(ratio + ratio**3 / 4 + 15 * ratio**5 / 128, rel=1e-4)


@given(STROKE, ROD, OFFSET)
def test_table_agrees_with_single_angles(stroke: float, rod_length: float, pin_offset: float) -> None:
    """The vectorised table and the scalar function are one motion; the table is periodic over a turn."""
    assume(turns(stroke, rod_length, pin_offset))
    geometry = {"stroke": stroke, "rod_length": rod_length, "pin_offset": pin_offset}
    table = piston_motion_table(speed=300.0, points=16, **geometry)
    for row in range(16):
        one = piston_motion_at(crank_angle=float(table.crank_angle[row]), speed=300.0, **geometry)
        assert table.position[row] == pytest.approx(one.position, abs=1e-12)
        assert table.velocity[row] == pytest.approx(one.velocity, abs=1e-7)
        assert table.acceleration[row] == pytest.approx(one.acceleration, rel=1e-8, abs=1e-4)
    assert np.allclose(table.position[:8], table.position[8:], atol=1e-12)


@given(STROKE, ROD, OFFSET)
def test_peak_is_the_extremum_of_the_motion(stroke: float, rod_length: float, pin_offset: float) -> None:
    """No angle of a fine table exceeds the peak, and the motion at the peak's angle has it."""
    assume(turns(stroke, rod_length, pin_offset))
    geometry = {"stroke": stroke, "rod_length": rod_length, "pin_offset": pin_offset}
    peak = peak_acceleration(speed=1.0, **geometry)
    table = piston_motion_table(speed=1.0, points=1440, **geometry)
    assert float(np.max(np.abs(table.acceleration))) <= peak.acceleration * (1 + 1e-9)
    there = piston_motion_at(crank_angle=peak.crank_angle, speed=1.0, **geometry)
    assert abs(there.acceleration) == pytest.approx(peak.acceleration, rel=1e-6)


def test_peak_angle_agrees_with_scipy() -> None:
    """Bounded search by scipy finds the peak of an offset engine at the same angle."""
    geometry = {"stroke": 0.073, "rod_length": 0.136, "pin_offset": 0.004}
    peak = peak_acceleration(speed=1.0, **geometry)
    search = minimize_scalar(
        lambda angle: -piston_motion_at(crank_angle=angle, speed=1.0, **geometry).acceleration,
        bounds=(-0.3, 0.3),
        method="bounded",
        options={"xatol": 1e-10},
    )
    assert peak.crank_angle == pytest.approx(search.x, abs=1e-6)


@given(STROKE, st.floats(1.0, 4.0))
def test_peak_without_offset_is_the_textbook_formula(stroke: float, ratio: float) -> None:
    """It is r ω² (1 + r/l) at top dead centre for every rod longer than the stroke."""
    found = peak_acceleration(stroke=stroke, rod_length=stroke * ratio, speed=200.0)
    assert found.acceleration == pytest.approx(stroke / 2 * 200.0**2 * (1 + 0.5 / ratio), rel=1e-12)
    assert found.crank_angle == pytest.approx(0.0, abs=1e-9)


def test_handbook_example() -> None:
    """86 × 73 with 136 mm rods at 5500 rpm: 13.38 m/s, 15 358 m/s², rod ratio 1.863 (handbook, worked apart)."""
    speed = 5500 * pi / 30
    assert mean_piston_speed(stroke=0.073, speed=speed) == pytest.approx(13.38, abs=0.005)
    assert peak_acceleration(stroke=0.073, rod_length=0.136, speed=speed).acceleration == pytest.approx(15358, abs=1)
    assert rod_ratio(stroke=0.073, rod_length=0.136) == pytest.approx(1.863, abs=5e-4)


@given(STROKE, ROD, OFFSET, st.floats(0, 1), st.booleans())
def test_angle_at_drop_undoes_position(stroke: float, rod_length: float, pin_offset: float, share: float, before: bool) -> None:
    """The drop at the angle of a drop is that drop, before and after top dead centre."""
    assume(turns(stroke, rod_length, pin_offset))
    geometry = {"stroke": stroke, "rod_length": rod_length, "pin_offset": pin_offset}
    angle = crank_angle_at_drop(drop=stroke * share, before=before, **geometry)
    back = piston_position(crank_angle=-angle if before else angle, **geometry)
    assert back == pytest.approx(stroke * share, abs=1e-9 * stroke)
    assert angle >= -1e-7


def test_bottom_dead_centre_is_not_half_a_turn_away_with_an_offset() -> None:
    """With the pin toward the thrust side the down stroke takes asin(e/(l−r)) − asin(e/(l+r)) less than 180°.

    The crank pin passes both dead centres in line with the piston pin; an offset to the other side, as in the old
    engines with their cylinders set over, makes the down stroke the longer one.
    """
    geometry = {"drop": 0.073, "stroke": 0.073, "rod_length": 0.136}
    r = crank_radius(stroke=0.073, rod_length=0.136, pin_offset=0.002)
    lean = asin(0.002 / (0.136 - r)) - asin(0.002 / (0.136 + r))
    assert crank_angle_at_drop(pin_offset=0.002, before=False, **geometry) == pytest.approx(pi - lean, abs=1e-6)
    assert crank_angle_at_drop(pin_offset=-0.002, before=False, **geometry) == pytest.approx(pi + lean, abs=1e-6)
    assert degrees(lean) == pytest.approx(0.487, abs=0.001)


@pytest.mark.parametrize(
    ("stroke", "rod_length", "pin_offset", "fields"),
    [
        (0.100, 0.050, 0.0, ("stroke", "rod_length")),
        (0.100, 0.0505, 0.010, ("stroke", "rod_length", "pin_offset")),
        (0.250, 0.040, 0.0, ("stroke", "rod_length")),
    ],
)
def test_a_crank_that_cannot_turn_is_refused(
    stroke: float, rod_length: float, pin_offset: float, fields: tuple[str, ...]
) -> None:
    """The refusal names the measures that do not go together and what to send."""
    with pytest.raises(Contradiction, match="not the throw") as refusal:
        piston_position(crank_angle=1.0, stroke=stroke, rod_length=rod_length, pin_offset=pin_offset)
    assert refusal.value.fields == fields


def test_senseless_values_are_refused() -> None:
    """Zero lengths, a drop beyond the stroke and a table of one row name their field."""
    with pytest.raises(OutsideValidity) as stroke:
        crank_radius(stroke=0.0, rod_length=0.1)
    assert stroke.value.field == "stroke"
    with pytest.raises(OutsideValidity) as drop:
        crank_angle_at_drop(drop=0.08, stroke=0.073, rod_length=0.136)
    assert drop.value.field == "drop"
    with pytest.raises(OutsideValidity) as points:
        piston_motion_table(stroke=0.073, rod_length=0.136, speed=1.0, points=1)
    assert points.value.field == "points"
    with pytest.raises(OutsideValidity):
        rod_ratio(stroke=-1.0, rod_length=0.136)


def test_radians_are_counted_from_the_pistons_own_top() -> None:
    """At angle zero the piston is at its top with any offset, and 1° later it has dropped, either way."""
    for pin_offset in (-0.005, 0.0, 0.005):
        geometry = {"stroke": 0.073, "rod_length": 0.136, "pin_offset": pin_offset}
        assert piston_position(crank_angle=0.0, **geometry) == pytest.approx(0.0, abs=1e-15)
        assert piston_motion_at(crank_angle=0.0, speed=500.0, **geometry).velocity == pytest.approx(0.0, abs=1e-9)
        assert piston_position(crank_angle=radians(1), **geometry) > 5e-6
        assert piston_position(crank_angle=radians(-1), **geometry) > 5e-6
