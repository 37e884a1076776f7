"""Valve springs in place: loads over the lift, room to coil bind and to the guide, and the speed of float."""

from math import sqrt

import numpy as np

from service.calculations.cam_lobe import LobeTable
from service.calculations.limits import require_not_negative, require_positive
from service.errors import OutsideValidity
from service.methods import Example, method
from service.units import Force, Inertia, Length, Mass, Ratio, RotationalSpeed, Stiffness


@method(
    id="spring-open-load",
    title="Spring load with the valve open",
    formula="F_open = F_seat + k s_v",
    symbols={"F_seat": "load with the valve shut [N]", "k": "rate [N/m]", "s_v": "valve lift [m]"},
    source="shigley-mischke-1989",
    locator="ch. 10, linear spring",
    evidence="textbook",
    example=Example({"seat_load": 300.0, "rate": 28000.0, "valve_lift": 0.0091}, 554.8, by="by hand: 300 + 28 · 9.1 N"),
)
def open_load(*, seat_load: Force, rate: Stiffness, valve_lift: Length) -> Force:
    """Load in N of the spring at a valve lift in m: the load on the seat and what the lift adds."""
    return seat_load + rate * valve_lift


@method(
    id="coil-bind-margin",
    title="Room left before the coils touch",
    formula="b = L_inst − s_v − L_solid",
    symbols={"L_inst": "installed length [m]", "s_v": "full valve lift [m]", "L_solid": "solid length [m]"},
    source="geometry",
    locator="difference of lengths",
    evidence="common-practice",
    example=Example(
        {"installed_length": 0.0355, "valve_lift": 0.0091, "solid_length": 0.024}, 0.0024, by="by hand: 35.5 − 9.1 − 24 mm"
    ),
)
def coil_bind_margin(*, installed_length: Length, valve_lift: Length, solid_length: Length) -> Length:
    """Travel in m left at full lift; zero or less means that the spring goes solid."""
    return installed_length - valve_lift - solid_length


@method(
    id="retainer-to-guide",
    title="Gap between spring retainer and valve guide at full lift",
    formula="g = g₀ − s_v",
    symbols={"g₀": "gap from retainer to guide or its seal with the valve shut [m]", "s_v": "full valve lift [m]"},
    source="geometry",
    locator="difference of lengths",
    evidence="common-practice",
    example=Example({"shut_gap": 0.0112, "valve_lift": 0.0091}, 0.0021, by="by hand: 11.2 − 9.1 mm"),
)
def retainer_to_guide(*, shut_gap: Length, valve_lift: Length) -> Length:
    """Gap in m between retainer and guide at full lift; zero or less means that they meet."""
    return shut_gap - valve_lift


@method(
    id="valve-train-mass",
    title="Valve train mass as felt at the valve",
    formula="m = m_valve + m_retainer + m_spring/3 + J/r² + (m_push rod + m_tappet)/R²",
    symbols={"J": "inertia of the rocker about its shaft [kg·m²]", "r": "rocker arm to the valve [m]", "R": "rocker ratio"},
    source="norton-2009",
    locator="equivalent mass of a cam follower train; a third of a spring's mass moves with its end",
    evidence="textbook",
    valid="all parts rigid",
    example=Example(
        {
            "valve_mass": 0.080,
            "retainer_mass": 0.025,
            "spring_mass": 0.060,
            "rocker_inertia": 3.2e-5,
            "valve_arm": 0.040,
            "rocker_ratio": 1.1,
            "push_rod_mass": 0.060,
            "tappet_mass": 0.080,
        },
        0.26070,
        by="by hand: 80 + 25 + 20 + 20 + 140/1.21 g",
    ),
)
def valve_train_mass(
    *,
    valve_mass: Mass,
    retainer_mass: Mass,
    spring_mass: Mass,
    rocker_ratio: Ratio,
    push_rod_mass: Mass,
    tappet_mass: Mass,
    rocker_inertia: Inertia = 0.0,
    valve_arm: Length = 0.0,
) -> Mass:
    """Mass in kg that the spring has to bring back, all motions referred to the valve's.

    Push rod and tappet move at 1/R of the valve's speed, so their kinetic energy counts by 1/R².

    Raises:
        OutsideValidity: a mass is negative, the ratio is not above zero, or the rocker has inertia but no arm.
    """
    require_not_negative(
        valve_mass=valve_mass,
        retainer_mass=retainer_mass,
        spring_mass=spring_mass,
        push_rod_mass=push_rod_mass,
        tappet_mass=tappet_mass,
        rocker_inertia=rocker_inertia,
    )
    require_positive(rocker_ratio=rocker_ratio)
    rocker = 0.0
    if rocker_inertia:
        require_positive(valve_arm=valve_arm)
        rocker = rocker_inertia / (valve_arm * valve_arm)
    cam_side = (push_rod_mass + tappet_mass) / (rocker_ratio * rocker_ratio)
    return valve_mass + retainer_mass + spring_mass / 3 + rocker + cam_side


@method(
    id="float-speed",
    title="Crank speed at which the valve train leaves the cam",
    formula="ω = 2 √(F / (m |d²s_v/da²|)), least over the lobe; F = F_seat + k s_v",
    symbols={
        "ω": "speed of the crank [rad/s]",
        "F": "spring load at that lift [N]",
        "m": "valve train mass felt at the valve [kg]",
        "d²s_v/da²": "valve acceleration by the cam angle [m/rad²]",
    },
    source="norton-2009",
    locator="follower jump: spring force equal to inertia force",
    evidence="textbook",
    valid="rigid parts, no surge: optimistic; keep 15 % in hand",
    example=Example(
        {"spring_load": 600.0, "effective_mass": 0.3, "valve_acceleration": -0.02},
        632.46,
        by="by hand: 2 √(600 / (0.3 · 0.02)) = 2 √100000",
    ),
)
def float_speed_at(*, spring_load: Force, effective_mass: Mass, valve_acceleration: Length) -> RotationalSpeed:
    """Speed of the crank in rad/s at which this point of the lobe lets go.

    Raises:
        OutsideValidity: the mass is not above zero, or the acceleration is not negative: the spring is not needed there.
    """
    require_positive(spring_load=spring_load, effective_mass=effective_mass)
    if not valve_acceleration < 0:
        raise OutsideValidity(
            "valve_acceleration", "The spring only holds the train where the cam slows it; send a negative one.", "< 0"
        )
    return 2 * sqrt(spring_load / (effective_mass * -valve_acceleration))


def float_speed(
    *, lobe: LobeTable, rocker_ratio: Ratio, seat_load: Force, rate: Stiffness, effective_mass: Mass, lash: Length = 0.0
) -> RotationalSpeed:
    """Least speed of the crank in rad/s at which the valve train leaves the cam, over the whole lobe.

    Raises:
        OutsideValidity: mass, ratio or seat load is not above zero, or the lash takes up the whole lift.
    """
    require_positive(rocker_ratio=rocker_ratio, seat_load=seat_load, effective_mass=effective_mass)
    lift = rocker_ratio * lobe.lift - lash
    slowing = (lobe.acceleration < 0) & (lift > 0)
    if not np.any(slowing):
        raise OutsideValidity("lash", "The lash takes up the whole lift; send the lash at the valve, not a lift.")
    needed = effective_mass * rocker_ratio * -lobe.acceleration[slowing]
    return 2 * sqrt(float(np.min((seat_load + rate * lift[slowing]) / needed)))


@method(
    id="cam-nose-load",
    title="Load between cam nose and tappet",
    formula="F = R (F_open + m R s'' ω_c²), s'' < 0",
    symbols={
        "F": "load on the nose [N]",
        "R": "rocker ratio",
        "m": "valve train mass felt at the valve [kg]",
        "s''": "tappet acceleration by the cam angle at the nose [m/rad²]",
        "ω_c": "speed of the camshaft [rad/s]",
    },
    source="norton-2009",
    locator="force balance of the follower; the parts' inertia takes load off the nose",
    evidence="textbook",
    valid="below the float speed",
    example=Example(
        {
            "rocker_ratio": 1.1,
            "open_load": 555.0,
            "effective_mass": 0.33,
            "nose_acceleration": -0.0164,
            "cam_speed": 100.0,
        },
        545.0,
        by="by hand: 1.1 · (555 − 0.33 · 1.1 · 0.0164 · 10000) = 1.1 · 495.47 N",
    ),
)
def nose_load(
    *,
    rocker_ratio: Ratio,
    open_load: Force,
    effective_mass: Mass,
    nose_acceleration: Length,
    cam_speed: RotationalSpeed,
) -> Force:
    """Load in N on the cam's nose; zero or less above the float speed.

    ``nose_acceleration`` is the tappet's second derivative by the cam angle in m/rad²; speed therefore unloads the nose.
    """
    return rocker_ratio * (open_load + effective_mass * rocker_ratio * nose_acceleration * cam_speed * cam_speed)
