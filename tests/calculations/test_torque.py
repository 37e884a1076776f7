"""Torque, preload, stress and wrench against published tables, worked examples and the exact tangent form."""

from math import atan, cos, isclose, isfinite, pi, radians, sqrt, tan
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.calculations.bolt_stress import bolt_stress, load_from_stress, preload_from_utilisation
from service.calculations.threads import Thread, metric_thread, unified_thread, whitworth_thread
from service.calculations.torque import (
    bearing_diameter,
    nut_factor,
    nut_factor_torque,
    preload_from_torque,
    rebased_torque,
    tightening_torque,
)
from service.errors import OutsideValidity
from tests.published.cases import INCH, POUND_FORCE, PSI, agrees, published, si

CASES = published("torque")

threads = st.sampled_from(
    [metric_thread(diameter=d * 1e-3, pitch=p * 1e-3) for d, p in ((3, 0.5), (8, 1.25), (10, 1.5), (28, 1.5), (40, 4))]
    + [unified_thread(diameter=3 / 8 * INCH, pitch=INCH / 24), whitworth_thread(diameter=INCH / 4, pitch=INCH / 26)]
)
frictions = st.floats(0.03, 0.6)


def cases(*kinds: str) -> list[Any]:
    return [pytest.param(case, id=name) for name, case in CASES.items() if case["kind"] in kinds]


def arguments(thread: Thread, friction: float, bearing: float) -> dict[str, float]:
    return {
        "pitch": thread.pitch,
        "pitch_diameter": thread.pitch_diameter,
        "thread_angle": thread.thread_angle,
        "thread_friction": friction,
        "bearing_diameter": bearing,
        "bearing_friction": friction,
    }


def stress_arguments(thread: Thread, friction: float) -> dict[str, float]:
    return {
        "stress_area": thread.stress_area,
        "pitch": thread.pitch,
        "pitch_diameter": thread.pitch_diameter,
        "thread_angle": thread.thread_angle,
        "thread_friction": friction,
    }


def exact_torque(thread: Thread, preload: float, friction: float, bearing: float) -> float:
    """The referee: the inclined plane with helix angle φ and friction angle ρ', F·d2/2·tan(φ + ρ') and the head."""
    helix = atan(thread.pitch / (pi * thread.pitch_diameter))
    angle = atan(friction / cos(thread.thread_angle / 2))
    return preload * (thread.pitch_diameter / 2 * tan(helix + angle) + bearing / 2 * friction)


@pytest.mark.parametrize("case", cases("vdi2230"))
def test_published_preloads_and_torques(case: dict[str, Any]) -> None:
    """VDI 2230 tables: preload at 90 % of yield and its torque, for fine and coarse threads and three classes."""
    given_ = case["given"]
    thread = metric_thread(diameter=si(given_["d"]), pitch=si(given_["P"]))
    bearing = bearing_diameter(head_diameter=si(given_["dw"]), hole_diameter=si(given_["dh"]))
    friction = si(given_["mu"])
    preload = preload_from_utilisation(
        utilisation=si(given_["nu"]), yield_strength=si(given_["Rp"]), **stress_arguments(thread, friction)
    )
    torque = tightening_torque(preload=preload, **arguments(thread, friction, bearing))
    assert agrees(case, "FM", preload)
    assert agrees(case, "MA", torque)


@pytest.mark.parametrize("case", [case for case in cases("load_from_stress") if case.id != "F22"])
def test_published_loads(case: dict[str, Any]) -> None:
    """ISO 898-1 proof and breaking loads are stress area times stress."""
    load = load_from_stress(stress_area=si(case["given"]["As"]), stress=si(case["given"]["stress"]))
    assert agrees(case, "load", load)


def test_misprinted_load_does_not_reproduce() -> None:
    """Case F22: a reprint of ISO 898-1 has 91130 N for M4 class 10.9; it is 9130 N, one digit too many."""
    case = CASES["F22"]
    load = load_from_stress(stress_area=si(case["given"]["As"]), stress=si(case["given"]["stress"]))
    assert agrees(case, "load", load, "correct")
    assert not agrees(case, "load", load)


@pytest.mark.parametrize("case", cases("torque_K", "torque_K_stress", "torque_K_proof"))
def test_published_short_form_torques(case: dict[str, Any]) -> None:
    """Torques by T = K F d of textbooks and of a bolt torque table."""
    given_ = case["given"]
    if "F" in given_:
        preload = si(given_["F"])
    else:
        stress = si(given_.get("stress") or given_["Sp"]) * si(given_.get("fraction", 1))
        preload = load_from_stress(stress_area=si(given_["At"]), stress=stress)
    torque = nut_factor_torque(nut_factor=si(given_["K"]), preload=preload, diameter=si(given_["d"]))
    assert agrees(case, "T", torque)


@pytest.mark.parametrize("case", cases("ac4313"))
def test_published_torque_bands_imply_nut_factors(case: dict[str, Any]) -> None:
    """AC 43.13-1B table 7-1: the torque band at 40,000 psi implies the band of nut factors."""
    given_ = case["given"]
    preload = load_from_stress(stress_area=si(given_["At"]), stress=si(given_["stress"]))
    for end in ("low", "high"):
        factor = nut_factor(torque=si(given_[f"T_{end}"]), preload=preload, diameter=si(given_["d"]))
        assert agrees(case, f"K_{end}", factor)


@pytest.mark.parametrize(
    ("name", "size", "per_inch"),
    [("1/4-20", 1 / 4, 20), ("5/16-18", 5 / 16, 18), ("3/8-16", 3 / 8, 16), ("7/16-14", 7 / 16, 14), ("1/2-13", 0.5, 13)],
)
def test_government_coarse_torques_imply_plated_oil_free_friction(name: str, size: float, per_inch: int) -> None:
    """Case F106: the coarse rows of AC 43.13-1B at 40,000 psi imply nut factors of 0.10 to 0.21 (cadmium plate)."""
    thread = unified_thread(diameter=size * INCH, pitch=INCH / per_inch)
    preload = load_from_stress(stress_area=thread.stress_area, stress=40_000 * PSI)
    band = str(CASES["F106"]["expected"][name]["value"]).split("-")
    low, high = (float(end) * POUND_FORCE * INCH for end in band)
    factors = [nut_factor(torque=torque, preload=preload, diameter=thread.diameter) for torque in (low, high)]
    assert 0.10 < factors[0] < factors[1] < 0.21
    # The long form gets there with a friction of 0.06 to 0.16, that of the plating, on a head as wide as 1.5 d.
    arm_low, arm_high = (
        tightening_torque(preload=1.0, **arguments(thread, friction, 1.28 * thread.diameter)) / thread.diameter
        for friction in (0.06, 0.16)
    )
    assert arm_low < factors[0] < factors[1] < arm_high


def test_textbook_nut_factors_lie_in_the_long_form() -> None:
    """Case F91: Shigley's table of nut factors (from memory) is the long form of a 3/8-16 with friction 0.08 to 0.24."""
    thread = unified_thread(diameter=3 / 8 * INCH, pitch=INCH / 16)
    frictions_of = {"antiseize": 0.085, "cadmium_plated": 0.12, "lubricated": 0.135, "zinc_plated": 0.15}
    for finish, friction in frictions_of.items():
        arm = tightening_torque(preload=1.0, **arguments(thread, friction, 1.25 * thread.diameter))
        assert nut_factor(torque=arm, preload=1.0, diameter=thread.diameter) == pytest.approx(
            CASES["F91"]["expected"][finish], abs=0.012
        )


def test_friction_classes_sit_in_order() -> None:
    """Shigley's finishes (case F91) rank from anti-seize to black steel, as the friction does."""
    table = CASES["F91"]["expected"]
    ranked = ["antiseize", "cadmium_plated", "lubricated", "zinc_plated", "nonplated_black"]
    assert sorted(table, key=table.__getitem__) == ranked


def test_m8_by_hand() -> None:
    """M8x1.25, µ 0.14, DKm 11 mm: 25 N·m gives 16.7 kN; by hand 25/(0.159·1.25 + 0.577·7.188·0.14 + 5.5·0.14) kN."""
    thread = metric_thread(diameter=8e-3, pitch=1.25e-3)
    preload = preload_from_torque(torque=25.0, **arguments(thread, 0.14, 0.011))
    by_hand = 25.0 / (1.25 / (2 * pi) + 0.57735 * 7.188 * 0.14 + 5.5 * 0.14) * 1e3
    assert preload == pytest.approx(by_hand, rel=1e-4)


@given(thread=threads, friction=frictions, torque=st.floats(0.5, 1000))
def test_torque_and_preload_invert(thread: Thread, friction: float, torque: float) -> None:
    """Torque → preload → torque comes back for every friction and thread form."""
    given_ = arguments(thread, friction, 1.4 * thread.diameter)
    preload = preload_from_torque(torque=torque, **given_)
    assert isclose(tightening_torque(preload=preload, **given_), torque, rel_tol=1e-12)


@given(thread=threads, friction=st.floats(0.03, 0.25), preload=st.floats(1, 1e6))
def test_long_form_is_within_two_per_cent_of_the_exact_form(thread: Thread, friction: float, preload: float) -> None:
    """Referee: tan(φ + ρ') of the inclined plane; the first order is low, by under 2 % up to a friction of 0.25."""
    bearing = 1.4 * thread.diameter
    exact = exact_torque(thread, preload, friction, bearing)
    got = tightening_torque(preload=preload, **arguments(thread, friction, bearing))
    assert 0.98 * exact < got < exact


@pytest.mark.parametrize("friction", [0.08, 0.10, 0.14, 0.18])
def test_long_form_is_within_one_per_cent_for_engine_threads(friction: float) -> None:
    """Referee: for M8 to M14 and frictions of oiled and plated threads the exact form differs by less than 1 %."""
    for d, p in ((8, 1.25), (9, 1), (10, 1.5), (12, 1.5), (14, 1.5)):
        thread = metric_thread(diameter=d * 1e-3, pitch=p * 1e-3)
        got = tightening_torque(preload=1e4, **arguments(thread, friction, 1.37 * thread.diameter))
        assert got == pytest.approx(exact_torque(thread, 1e4, friction, 1.37 * thread.diameter), rel=0.01)


@given(thread=threads, low=frictions, high=frictions, torque=st.floats(0.5, 1000))
def test_more_friction_gives_less_preload(thread: Thread, low: float, high: float, torque: float) -> None:
    """At one torque the preload falls as friction rises."""
    low, high = sorted((low, high))
    bearing = 1.4 * thread.diameter
    assert preload_from_torque(torque=torque, **arguments(thread, low, bearing)) >= preload_from_torque(
        torque=torque, **arguments(thread, high, bearing)
    )


@given(friction=frictions, factor=st.floats(0.25, 4))
def test_torque_scales_with_the_cube_of_size(friction: float, factor: float) -> None:
    """At equal stress a joint twice as large takes eight times the torque."""
    large = metric_thread(diameter=factor * 0.01, pitch=factor * 0.0015)
    small = metric_thread(diameter=0.01, pitch=0.0015)
    torques = [
        tightening_torque(preload=1e8 * one.stress_area, **arguments(one, friction, 1.4 * one.diameter))
        for one in (small, large)
    ]
    assert isclose(torques[1], factor**3 * torques[0], rel_tol=1e-12)


@given(thread=threads, friction=frictions, utilisation=st.floats(0.01, 1), strength=st.floats(100e6, 1500e6))
def test_preload_and_utilisation_invert(thread: Thread, friction: float, utilisation: float, strength: float) -> None:
    """Utilisation → preload → utilisation comes back."""
    given_ = stress_arguments(thread, friction)
    preload = preload_from_utilisation(utilisation=utilisation, yield_strength=strength, **given_)
    stress = bolt_stress(preload=preload, yield_strength=strength, **given_)
    assert isclose(stress.utilisation, utilisation, rel_tol=1e-12)
    assert stress.equivalent > stress.tension


@given(thread=threads, friction=frictions, preload=st.floats(1, 1e6))
def test_equivalent_stress_is_mohrs(thread: Thread, friction: float, preload: float) -> None:
    """Referee: von Mises from the principal stresses of Mohr's circle of the same tension and shear."""
    stress = bolt_stress(preload=preload, yield_strength=640e6, **stress_arguments(thread, friction))
    radius = sqrt((stress.tension / 2) ** 2 + stress.shear**2)
    first, third = stress.tension / 2 + radius, stress.tension / 2 - radius
    mises = sqrt(((first - third) ** 2 + first**2 + third**2) / 2)
    assert isclose(stress.equivalent, mises, rel_tol=1e-9)


def test_shear_is_that_of_a_plastic_rod() -> None:
    """By hand for M10 at 20 kN, µ 0.12: thread torque over π/12·d0³, the plastic polar modulus."""
    thread = metric_thread(diameter=10e-3, pitch=1.5e-3)
    stress = bolt_stress(preload=20e3, yield_strength=640e6, **stress_arguments(thread, 0.12))
    thread_torque = 20e3 * (1.5e-3 / (2 * pi) + 0.57735 * 9.026e-3 * 0.12)
    modulus = pi / 12 * ((9.026e-3 + 8.160e-3) / 2) ** 3
    assert stress.shear == pytest.approx(thread_torque / modulus, rel=2e-4)
    assert stress.tension == pytest.approx(20e3 / 58.0e-6, rel=1e-3)


@given(torque=st.floats(0.5, 1000), listed=st.floats(0.05, 0.5), actual=st.floats(0.05, 0.5))
def test_rebasing_keeps_the_preload(torque: float, listed: float, actual: float) -> None:
    """Listed torque at the listed nut factor and re-based torque at the actual one clamp alike; and back again."""
    new = rebased_torque(torque=torque, listed_nut_factor=listed, actual_nut_factor=actual)
    assert isclose(torque / (listed * 0.01), new / (actual * 0.01), rel_tol=1e-12)
    back = rebased_torque(torque=new, listed_nut_factor=actual, actual_nut_factor=listed)
    assert isclose(back, torque, rel_tol=1e-12)


@given(preload=st.floats(1, 1e6), factor=st.floats(0.03, 0.8), diameter=st.floats(3e-3, 0.04))
def test_nut_factor_inverts(preload: float, factor: float, diameter: float) -> None:
    """K → torque → K comes back."""
    torque = nut_factor_torque(nut_factor=factor, preload=preload, diameter=diameter)
    assert isclose(nut_factor(torque=torque, preload=preload, diameter=diameter), factor, rel_tol=1e-12)


@given(thread=threads, friction=frictions, torque=st.floats(0.5, 1000))
def test_everything_stays_finite(thread: Thread, friction: float, torque: float) -> None:
    """Over the whole legal range every result is a finite number above zero."""
    preload = preload_from_torque(torque=torque, **arguments(thread, friction, 1.4 * thread.diameter))
    stress = bolt_stress(preload=preload, yield_strength=100e6, **stress_arguments(thread, friction))
    assert all(isfinite(value) and value > 0 for value in (preload, *stress))


@pytest.mark.parametrize("friction", [0.0, 0.029, 0.61, 14.0, -0.1, float("nan")])
def test_frictions_of_no_thread_are_refused(friction: float) -> None:
    """Outside 0.03 to 0.6 the refusal names the field and the usual slip, a nut factor."""
    thread = metric_thread(diameter=8e-3, pitch=1.25e-3)
    with pytest.raises(OutsideValidity, match="nut factor") as refusal:
        tightening_torque(preload=1e4, **arguments(thread, friction, 0.011))
    assert refusal.value.field == "thread_friction"


@pytest.mark.parametrize("utilisation", [0.0, -0.5, 1.0001, 90.0])
def test_utilisation_typed_in_per_cent_is_refused(utilisation: float) -> None:
    """A utilisation is a share; 90 is refused with what to send."""
    thread = metric_thread(diameter=8e-3, pitch=1.25e-3)
    with pytest.raises(OutsideValidity, match=r"0\.9") as refusal:
        preload_from_utilisation(utilisation=utilisation, yield_strength=640e6, **stress_arguments(thread, 0.12))
    assert refusal.value.field == "utilisation"


def test_a_bearing_face_no_wider_than_its_hole_is_refused() -> None:
    """The head must bear on something."""
    with pytest.raises(OutsideValidity):
        bearing_diameter(head_diameter=9e-3, hole_diameter=9e-3)


@pytest.mark.parametrize("field", ["torque", "preload", "diameter"])
def test_nut_factor_of_nothing_is_refused(field: str) -> None:
    """Zero torque, preload or diameter has no nut factor; the field is named."""
    given_ = {"torque": 25.0, "preload": 16e3, "diameter": 8e-3, field: 0.0}
    with pytest.raises(OutsideValidity) as refusal:
        nut_factor(**given_)
    assert refusal.value.field == field


def test_radian_thread_angle_is_the_included_angle() -> None:
    """The factor 0.577 of the standard is 1/(2 cos 30°), that is an included angle of 60°."""
    thread = metric_thread(diameter=8e-3, pitch=1.25e-3)
    assert thread.thread_angle == pytest.approx(radians(60))
    assert 1 / (2 * cos(thread.thread_angle / 2)) == pytest.approx(0.577, abs=5e-4)
