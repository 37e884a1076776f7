"""Springs, push rods and float against printed problems, eigenvalues, scipy and force balances."""

from math import pi, sqrt
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp
from scipy.linalg import eigh_tridiagonal

from service.calculations import helical_spring
from service.calculations.cam_lobe import Lobe, LobeTable, lobe_from_durations, lobe_table
from service.calculations.column import column_buckling, push_rod_load, tube_section
from service.calculations.valve_spring import (
    coil_bind_margin,
    float_speed,
    float_speed_at,
    nose_load,
    open_load,
    retainer_to_guide,
    valve_train_mass,
)
from service.errors import Contradiction, OutsideValidity
from tests.published.cases import agrees, published, si

CASES = published("valve_spring")
INCH, POUND, PSI, RPM = 0.0254, 4.4482216152605, 6894.757293168, pi / 30
HARROW = lobe_table(
    lobe=lobe_from_durations(
        cam_lift=0.0084,
        advertised_duration=276 * pi / 180,
        advertised_checking_lift=0.0003,
        checked_duration=236 * pi / 180,
    )
)


def figures(case: dict[str, Any]) -> dict[str, float]:
    return {name: si(value) for name, value in case["given"].items()}


@pytest.mark.parametrize("name", ["M11", "M09", "V02"])
def test_published_spring_rates(name: str) -> None:
    """Rates from wire and from loads as printed, and the coils that a rate means."""
    case = CASES[name]
    g = figures(case)
    if name == "M11":
        rate = helical_spring.spring_rate_from_wire(
            wire_diameter=g["d"], mean_diameter=g["D"], active_coils=g["Na"], shear_modulus=g["G"]
        )
        assert agrees(case, "deflection", g["F"] / rate)
    elif name == "M09":
        rate = helical_spring.spring_rate_from_loads(
            seat_load=0.0, installed_length=g["delta"], open_load=g["F"], open_length=0.0
        )
        coils = helical_spring.active_coils(rate=rate, wire_diameter=g["d"], mean_diameter=g["D"], shear_modulus=g["G"])
        assert agrees(case, "Na", coils)
    else:
        rate = helical_spring.spring_rate_from_loads(**g)
    assert agrees(case, "k", rate)


def test_misprinted_spring_does_not_reproduce() -> None:
    """M12 was printed with integer division: 16.0 N/mm is wrong, 16.20 is right."""
    case = CASES["M12"]
    g = figures(case)
    rate = helical_spring.spring_rate_from_wire(
        wire_diameter=g["d"], mean_diameter=g["D"], active_coils=g["Na"], shear_modulus=g["G"]
    )
    for key, found in (("k", rate), ("deflection", g["F"] / rate)):
        assert not agrees(case, key, found)
        assert agrees(case, key, found, "correct")


def test_published_wahl_factor() -> None:
    """M13: 1.2525 at spring index 6, and the index from the diameters."""
    case = CASES["M13"]
    assert agrees(case, "Kw", helical_spring.wahl_factor(index=case["given"]["C"]))
    assert helical_spring.spring_index(wire_diameter=0.005, mean_diameter=0.030) == pytest.approx(6)


def test_wahl_factor_against_the_curved_bar() -> None:
    """A stiff wire (index to infinity) has the straight bar's stress: the factor tends to 1."""
    assert helical_spring.wahl_factor(index=1e6) == pytest.approx(1.0, abs=2e-6)
    stress = helical_spring.spring_shear_stress(load=100.0, wire_diameter=0.001, mean_diameter=1.0)
    assert stress == pytest.approx(16 * (100.0 * 0.5) / (pi * 0.001**3), rel=2e-3)


def test_published_surge_frequency_and_a_chain_of_masses() -> None:
    """M15: 423.5 Hz, and the lowest eigenvalue of 400 masses between 401 springs (scipy)."""
    case = CASES["M15"]
    g = figures(case)
    wire = {"wire_diameter": g["d"], "mean_diameter": g["D"], "active_coils": g["Na"]}
    rate = helical_spring.spring_rate_from_wire(shear_modulus=g["G"], **wire)
    mass = helical_spring.active_mass(density=g["rho"], **wire)
    found = helical_spring.surge_frequency(rate=rate, mass=mass)
    assert agrees(case, "f", found)
    count = 400
    stiff, heavy = rate * (count + 1), mass / (count + 1)
    lowest = eigh_tridiagonal(
        np.full(count, 2 * stiff / heavy), np.full(count - 1, -stiff / heavy), select="i", select_range=(0, 0)
    )[0][0]
    assert found == pytest.approx(sqrt(lowest) / (2 * pi), rel=1e-4)


@pytest.mark.parametrize("name", ["M06", "M16"])
def test_published_columns(name: str) -> None:
    """Euler loads of a solid link and of a push-rod tube, with the link's slenderness."""
    case = CASES[name]
    g = figures(case)
    outer = g["d"] if name == "M06" else g["OD"]
    wall = outer / 2 if name == "M06" else (g["OD"] - g["ID"]) / 2
    found = column_buckling(length=g["L"], outer_diameter=outer, wall=wall, elastic_modulus=g["E"], yield_strength=600e6)
    assert found.euler
    assert agrees(case, "P", found.load)
    if name == "M06":
        assert agrees(case, "slenderness", found.slenderness)


def test_published_braced_column() -> None:
    """M08: the unbraced axis governs at 110 kip with a factor of 2.5; a solid round bar of the same second moment."""
    case = CASES["M08"]
    g = figures(case)

    def euler(second_moment: float, length: float) -> float:
        outer = (64 * second_moment / pi) ** 0.25
        return column_buckling(
            length=length, outer_diameter=outer, wall=outer / 2, elastic_modulus=g["E"], yield_strength=1e12
        ).load

    assert agrees(case, "P_allow", min(euler(g["I1"], g["L"]), euler(g["I2"], g["L"] / 2)) / g["n"])


def test_handbook_push_rods() -> None:
    """Steel 9.5 × 1.0 × 280 gives way at 6.2 kN, aluminium 9.5 × 1.5 at 2.8 kN (handbook, worked apart)."""
    steel = column_buckling(length=0.280, outer_diameter=0.0095, wall=0.001, elastic_modulus=207e9, yield_strength=400e6)
    alloy = column_buckling(length=0.280, outer_diameter=0.0095, wall=0.0015, elastic_modulus=71e9, yield_strength=450e6)
    assert steel.load == pytest.approx(6.2e3, abs=50)
    assert not steel.euler
    assert alloy.load == pytest.approx(2.8e3, abs=50)
    assert alloy.euler


@given(st.floats(0.005, 0.015), st.floats(0.1, 0.5), st.floats(5e10, 2.2e11), st.floats(1.5e8, 1.2e9))
def test_euler_and_johnson_meet(outer: float, share: float, modulus: float, strength: float) -> None:
    """At the limiting slenderness both formulas give half the yield load, and a longer column never carries more."""
    section = tube_section(outer_diameter=outer, wall=outer * share)
    limit = sqrt(2 * pi * pi * modulus / strength) * section.gyration_radius
    tube = {"outer_diameter": outer, "wall": outer * share, "elastic_modulus": modulus, "yield_strength": strength}
    short = column_buckling(length=limit * (1 - 1e-9), **tube)
    long = column_buckling(length=limit * (1 + 1e-9), **tube)
    assert (short.euler, long.euler) == (False, True)
    assert short.load == pytest.approx(section.area * strength / 2, rel=1e-6)
    assert long.load == pytest.approx(short.load, rel=1e-6)
    assert column_buckling(length=limit * 1.2, **tube).load < long.load < column_buckling(length=limit * 0.8, **tube).load


def test_euler_load_is_the_lowest_eigenvalue_of_a_pinned_beam() -> None:
    """Finite differences of E I y'' = −F y with 800 points give the same load (scipy's tridiagonal eigenvalues)."""
    length, count = 0.30, 800
    section = tube_section(outer_diameter=0.008, wall=0.001)
    step = length / (count + 1)
    stiff = 205e9 * section.second_moment / step**2
    lowest = eigh_tridiagonal(np.full(count, 2 * stiff), np.full(count - 1, -stiff), select="i", select_range=(0, 0))[0][0]
    found = column_buckling(length=length, outer_diameter=0.008, wall=0.001, elastic_modulus=205e9, yield_strength=900e6)
    assert found.load == pytest.approx(lowest, rel=1e-5)


def test_solid_and_hollow_sections() -> None:
    """A bar of 10 mm: 78.54 mm², I = π d⁴/64, k = d/4; a wall over half the diameter is refused."""
    bar = tube_section(outer_diameter=0.010, wall=0.005)
    assert bar.area == pytest.approx(78.5398e-6, rel=1e-6)
    assert bar.second_moment == pytest.approx(pi * 0.010**4 / 64, rel=1e-12)
    assert bar.gyration_radius == pytest.approx(0.0025, rel=1e-12)
    with pytest.raises(OutsideValidity) as wall:
        tube_section(outer_diameter=0.010, wall=0.006)
    assert wall.value.field == "wall"
    load = push_rod_load(rocker_ratio=1.1, open_load=555.0, cylinder_pressure=0.0, valve_diameter=0.03)
    assert load == pytest.approx(610.5)


@pytest.mark.parametrize(("lash", "rpm"), [(0.00015, 5716), (0.0, 5716)])
def test_handbook_float_speed(lash: float, rpm: float) -> None:
    """300 N seat, 28 N/mm, 330 g and the 8.4 mm lobe float at 5716 rpm (handbook, worked apart; ±0.5 % for its lash)."""
    found = float_speed(lobe=HARROW, rocker_ratio=1.1, seat_load=300.0, rate=28e3, effective_mass=0.33, lash=lash)
    assert found / RPM == pytest.approx(rpm, rel=5e-3)


def test_float_is_where_the_contact_force_vanishes() -> None:
    """Force balance along the lobe: just below the float speed the cam still pushes everywhere, just above it does not."""
    found = float_speed(lobe=HARROW, rocker_ratio=1.1, seat_load=300.0, rate=28e3, effective_mass=0.33)

    def least_push(crank_speed: float) -> float:
        inertia = 0.33 * 1.1 * HARROW.acceleration * (crank_speed / 2) ** 2
        return float(np.min(300.0 + 28e3 * 1.1 * HARROW.lift + inertia))

    assert least_push(found * 0.999) > 0 > least_push(found * 1.001)


def test_a_mass_let_go_above_the_float_speed_leaves_the_cam() -> None:
    """Newton's law integrated from the nose (scipy): 1 % above the float speed the valve outruns the lobe, below not."""
    nose = int(np.argmax(HARROW.lift))
    top = 1.1 * float(HARROW.lift[nose])
    spring = 300.0 + 28e3 * top
    bend = 1.1 * float(HARROW.acceleration[nose])
    at_nose = float_speed_at(spring_load=spring, effective_mass=0.33, valve_acceleration=bend) / 2

    def gap(cam_speed: float) -> float:
        """Valve lift over the lobe's lift a little after the nose, the valve moving freely on its spring."""
        span = 0.05 / cam_speed
        free = solve_ivp(lambda _, y: [y[1], -(300.0 + 28e3 * y[0]) / 0.33], (0, span), [top, 0.0], rtol=1e-11, atol=1e-14)
        return float(free.y[0, -1] - 1.1 * np.interp(0.05, HARROW.cam_angle, HARROW.lift))

    assert gap(at_nose * 1.02) > 0 > gap(at_nose * 0.98)


@given(st.floats(20, 4000), st.floats(2e3, 2e5), st.floats(0.05, 2), st.floats(0.7, 2.2))
def test_float_speed_scales(seat: float, rate: float, mass: float, ratio: float) -> None:
    """Four times the mass halves it; four times load and rate double it."""
    one = float_speed(lobe=HARROW, rocker_ratio=ratio, seat_load=seat, rate=rate, effective_mass=mass)
    heavy = float_speed(lobe=HARROW, rocker_ratio=ratio, seat_load=seat, rate=rate, effective_mass=4 * mass)
    stiff = float_speed(lobe=HARROW, rocker_ratio=ratio, seat_load=4 * seat, rate=4 * rate, effective_mass=mass)
    assert heavy == pytest.approx(one / 2, rel=1e-9)
    assert stiff == pytest.approx(one * 2, rel=1e-9)


@pytest.mark.parametrize(("rpm", "load"), [(800, 599), (1500, 570), (2000, 538), (2500, 498), (3000, 449)])
def test_handbook_nose_loads(rpm: float, load: float) -> None:
    """Speed takes load off the nose: the handbook's table from 599 N at 800 to 449 N at 3000 rpm, within 1 N."""
    nose = int(np.argmax(HARROW.lift))
    found = nose_load(
        rocker_ratio=1.1,
        open_load=555.0,
        effective_mass=0.33,
        nose_acceleration=float(HARROW.acceleration[nose]),
        cam_speed=rpm * RPM / 2,
    )
    assert found == pytest.approx(load, abs=1.0)


@given(st.floats(0.010, 0.090), st.floats(0, 0.02), st.floats(0.010, 0.090), st.floats(0, 0.03))
def test_margins_are_what_is_left(installed: float, lift: float, solid: float, gap: float) -> None:
    """Solid length plus lift plus margin make the installed length; so with the retainer's gap."""
    margin = coil_bind_margin(installed_length=installed, valve_lift=lift, solid_length=solid)
    assert solid + lift + margin == pytest.approx(installed, abs=1e-15)
    assert retainer_to_guide(shut_gap=gap, valve_lift=lift) + lift == pytest.approx(gap, abs=1e-15)


@given(st.floats(20, 2000), st.floats(1e-3, 0.02), st.floats(2e3, 2e5))
def test_rate_and_open_load_are_inverse(seat: float, lift: float, rate: float) -> None:
    """The rate of two loads is the rate that made the second of them."""
    opened = open_load(seat_load=seat, rate=rate, valve_lift=lift)
    found = helical_spring.spring_rate_from_loads(
        seat_load=seat, installed_length=0.04, open_load=opened, open_length=0.04 - lift
    )
    assert found == pytest.approx(rate, rel=1e-9)


def test_masses_before_the_rocker_count_by_its_ratio_squared() -> None:
    """Kinetic energy of all parts at 1 m/s of the valve is half the effective mass."""
    masses = {"valve_mass": 0.08, "retainer_mass": 0.02, "spring_mass": 0.06, "push_rod_mass": 0.05, "tappet_mass": 0.09}
    found = valve_train_mass(rocker_ratio=1.4, rocker_inertia=4e-5, valve_arm=0.035, **masses)
    tappet_speed = 1 / 1.4
    kinetic = (0.08 + 0.02 + 0.06 / 3) / 2 + (0.05 + 0.09) * tappet_speed**2 / 2 + 4e-5 * (1 / 0.035) ** 2 / 2
    assert found == pytest.approx(2 * kinetic, rel=1e-12)


def test_refusals_name_the_field() -> None:
    """Swapped loads, missing mass, a lash that eats the lift, a rocker without arm, a wire thicker than its coil."""
    with pytest.raises(Contradiction) as swapped:
        helical_spring.spring_rate_from_loads(seat_load=500, installed_length=0.04, open_load=300, open_length=0.03)
    assert set(swapped.value.fields) == {"seat_load", "open_load", "installed_length", "open_length"}
    with pytest.raises(OutsideValidity) as mass:
        helical_spring.surge_frequency(rate=1e4, mass=0.0)
    assert mass.value.field == "mass"
    with pytest.raises(OutsideValidity) as lash:
        float_speed(lobe=HARROW, rocker_ratio=1.0, seat_load=300.0, rate=28e3, effective_mass=0.3, lash=0.02)
    assert lash.value.field == "lash"
    with pytest.raises(OutsideValidity) as arm:
        valve_train_mass(
            valve_mass=0.1, retainer_mass=0, spring_mass=0, rocker_ratio=1, push_rod_mass=0, tappet_mass=0, rocker_inertia=1
        )
    assert arm.value.field == "valve_arm"
    with pytest.raises(Contradiction):
        helical_spring.spring_index(wire_diameter=0.02, mean_diameter=0.01)
    with pytest.raises(OutsideValidity) as rising:
        float_speed_at(spring_load=500, effective_mass=0.3, valve_acceleration=0.01)
    assert rising.value.field == "valve_acceleration"
    with pytest.raises(OutsideValidity):
        helical_spring.wahl_factor(index=1.0)


def test_lobe_without_slowing_is_refused() -> None:
    """A table that never slows the tappet holds no float speed; every real lobe does."""
    straight = LobeTable(np.array([-1.0, 0.0, 1.0]), np.array([0.0, 1e-3, 0.0]), np.zeros(3), np.zeros(3))
    with pytest.raises(OutsideValidity):
        float_speed(lobe=straight, rocker_ratio=1.0, seat_load=300.0, rate=28e3, effective_mass=0.3)
    assert np.min(lobe_table(lobe=Lobe(0.008, 1.2, 8.0)).acceleration) < 0
