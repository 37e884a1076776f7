"""Squish clearance, cold and running, against hand arithmetic and bodies in motion."""

from math import pi

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.calculations.expansion import Segment, chain_growth
from service.calculations.piston_motion import piston_motion_at
from service.calculations.squish import inertia_at_top_dead_centre, rod_stretch, running_squish, squish_clearance
from service.errors import Contradiction, OutsideValidity

approx = pytest.approx
MM = 1e-3


def test_cold_squish_adds_every_height() -> None:
    """1.20 deck + 0.80 spacer + 0.30 ring + 0.20 step = 2.50 mm (by hand)."""
    cold = squish_clearance(deck_clearance=1.2 * MM, spacer_thickness=0.8 * MM, gasket_thickness=0.3 * MM, step_height=0.2 * MM)
    assert cold == approx(2.5 * MM)


def test_a_proud_piston_is_refused_only_where_the_step_is_known() -> None:
    """Without the depth of the head's step the answer is negative and for a finding to judge; with it, it is impossible."""
    assert squish_clearance(deck_clearance=-0.3 * MM) == approx(-0.3 * MM)
    assert squish_clearance(deck_clearance=-0.3 * MM, step_height=1.3 * MM) == approx(1.0 * MM)
    with pytest.raises(Contradiction, match=r"0\.10 mm inside the head"):
        squish_clearance(deck_clearance=-0.3 * MM, step_height=0.2 * MM)


def test_inertia_agrees_with_the_motion_of_the_piston() -> None:
    """5500 rpm, 73 mm stroke, 136 mm rod: m · a of the exact slider-crank at its top; 0.62 kg make 9.5 kN."""
    speed = 5500 * pi / 30
    force = inertia_at_top_dead_centre(reciprocating_mass=0.62, stroke=0.073, rod_length=0.136, speed=speed)
    motion = piston_motion_at(crank_angle=0.0, stroke=0.073, rod_length=0.136, speed=speed)
    assert force == approx(0.62 * abs(motion.acceleration), rel=1e-9)
    assert force == approx(9500, rel=0.005)


def test_stretch_is_a_bar_in_tension() -> None:
    """A steel bar of 100 mm² and 200 mm under 10 kN at 200 GPa stretches 0.1 mm (by hand)."""
    assert rod_stretch(force=10e3, rod_length=0.2, elastic_modulus=200e9, section_area=100e-6) == approx(0.1 * MM)


def test_running_squish_of_the_example_engine() -> None:
    """1.20 cold + 0.041 thermal − 0.049 stretch − 0.10 play − 0.05 rock = 1.042 mm (by hand)."""
    running = running_squish(cold=1.2 * MM, thermal=0.041 * MM, stretch=0.049 * MM, play=0.1 * MM, rock=0.05 * MM)
    assert running.running == approx(1.042 * MM)
    assert sum(running[:-1]) == approx(running.running)


def test_material_chain_decides_the_margin() -> None:
    """Iron barrel and alloy case about cancel the steel rod; an all-aluminium barrel opens 0.15 mm and more.

    By hand: case 75 mm · 26 · 70 K + barrel 130 · 11.4 · 140 − throw 36.5 · 11.3 · 80 − rod 136 · 12.3 · 80
    − pin height 35 · 19.5 · 200 = 136.5 + 207.5 − 33.0 − 133.8 − 136.5 = +40.7 µm.
    """
    inner = [
        Segment("throw", 36.5 * MM, 11.3e-6, 373.15),
        Segment("rod", 136 * MM, 12.3e-6, 373.15),
        Segment("pin height", 35 * MM, 19.5e-6, 493.15),
    ]

    def thermal(barrel: float) -> float:
        outer = [Segment("case", 75 * MM, 26e-6, 363.15), Segment("barrel", 130 * MM, barrel, 433.15)]
        return chain_growth(segments=outer, reference_temperature=293.15) - chain_growth(
            segments=inner, reference_temperature=293.15
        )

    assert thermal(11.4e-6) == approx(40.7e-6, abs=0.2e-6)
    assert thermal(21.5e-6) - thermal(11.4e-6) > 0.15 * MM


@given(speed=st.floats(10, 1600), mass=st.floats(0.05, 5), stroke=st.floats(0.02, 0.25), rod=st.floats(0.126, 0.4))
def test_speed_takes_squish_with_its_square(speed: float, mass: float, stroke: float, rod: float) -> None:
    """Doubling the speed makes four times the force, over the whole legal range."""
    once = inertia_at_top_dead_centre(reciprocating_mass=mass, stroke=stroke, rod_length=rod, speed=speed)
    twice = inertia_at_top_dead_centre(reciprocating_mass=mass, stroke=stroke, rod_length=rod, speed=2 * speed)
    assert twice == approx(4 * once)


def test_refusals() -> None:
    """No section, a rod shorter than the throw, a negative stretch: each names its field."""
    with pytest.raises(OutsideValidity):
        rod_stretch(force=1.0, rod_length=0.1, elastic_modulus=2e11, section_area=0.0)
    with pytest.raises(Contradiction):
        inertia_at_top_dead_centre(reciprocating_mass=1.0, stroke=0.2, rod_length=0.1, speed=100.0)
    with pytest.raises(OutsideValidity) as refusal:
        running_squish(cold=1 * MM, thermal=0.0, stretch=0.0, play=-0.1 * MM)
    assert refusal.value.field == "lost_motion"
