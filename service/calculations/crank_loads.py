"""What the motion of the piston loads: rod, bolts, cylinder wall, and the crank speeds that stay below a limit."""

from math import cos, pi, sqrt, tan
from typing import NamedTuple

from service.calculations.limits import require_not_negative, require_positive
from service.calculations.piston_motion import peak_acceleration, piston_motion_at, rod_motion_at
from service.calculations.slider_crank import slider_crank
from service.errors import Contradiction
from service.methods import Example, method
from service.units import Acceleration, Angle, Force, Length, Mass, Ratio, RotationalSpeed, Velocity


class RodForces(NamedTuple):
    """Forces at the piston pin at one crank angle: down on the pin, along the rod, sideways on the cylinder wall."""

    piston_force: Force
    rod_force: Force
    """Compression is positive."""
    side_thrust: Force
    """Against the thrust side is positive."""


@method(
    id="inertia-load",
    title="Inertia load of the reciprocating parts",
    formula="F = m a",
    symbols={"F": "load on the rod [N]", "m": "reciprocating mass [kg]", "a": "acceleration of the piston [m/s²]"},
    source="mechanics",
    locator="Newton's second law",
    evidence="textbook",
    example=Example(
        {"reciprocating_mass": 180.0, "acceleration": 102.966},
        18533.9,
        by="Khurmi & Gupta, example 15.6: 52.4² · 0.1 · 0.375 = 102.97 m/s², 18.53 kN",
        rel_tol=3e-4,
    ),
)
def inertia_load(*, reciprocating_mass: Mass, acceleration: Acceleration) -> Force:
    """Force in N that accelerates the reciprocating mass; it pulls on the rod near top dead centre."""
    return reciprocating_mass * acceleration


@method(
    id="rod-forces",
    title="Force along the rod and side thrust of the piston",
    formula="P = F_gas + W − m a, Q = P / cos b, N = P tan b, l sin b = r sin t + e",
    symbols={
        "P": "force down on the piston pin [N]",
        "W": "weight of the reciprocating parts when the cylinder stands upright [N]",
        "Q": "compression of the rod [N]",
        "N": "side thrust [N]",
        "b": "tilt of the rod [rad]",
    },
    source="heywood-1988",
    locator="ch. 2 and 15; equilibrium of the piston pin",
    evidence="textbook",
    valid="l > r + |e|; friction left out",
    example=Example(
        {
            "gas_force": pi / 4 * 0.065 * 0.065 * 5e6 - 900.0,
            "reciprocating_mass": 0.0,
            "crank_angle": pi / 2,
            "stroke": 0.060,
            "rod_length": 0.120,
            "speed": 0.0,
        },
        {"rod_force": 16206.0, "side_thrust": 4050.0},
        by="H N Gupta, Internal Combustion Engines, example 13.2",
        rel_tol=8e-4,
    ),
)
def rod_forces(
    *,
    gas_force: Force,
    reciprocating_mass: Mass,
    crank_angle: Angle,
    stroke: Length,
    rod_length: Length,
    speed: RotationalSpeed,
    pin_offset: Length = 0.0,
    weight: Force = 0.0,
) -> RodForces:
    """Forces at the piston pin at one crank angle, from the gas force on the crown less friction.

    ``weight`` counts only in a cylinder that stands upright. Raises as ``slider_crank.crank_radius`` does.
    """
    motion = piston_motion_at(crank_angle=crank_angle, stroke=stroke, rod_length=rod_length, speed=speed, pin_offset=pin_offset)
    tilt = rod_motion_at(
        crank_angle=crank_angle, stroke=stroke, rod_length=rod_length, speed=speed, pin_offset=pin_offset
    ).angle
    force = gas_force + weight - inertia_load(reciprocating_mass=reciprocating_mass, acceleration=motion.acceleration)
    return RodForces(force, force / cos(tilt), force * tan(tilt))


@method(
    id="rod-joint-load",
    title="Load that parts the rod from its cap",
    formula="F = m_rec a_max + (m_rot − m_cap) r ω²",
    symbols={
        "m_rec": "reciprocating mass: piston, pin, rings, small end [kg]",
        "m_rot": "rotating mass of the rod [kg]",
        "m_cap": "mass of the cap, which the bolts do not carry [kg]",
        "a_max": "peak acceleration of the piston [m/s²]",
    },
    source="taylor-1985",
    locator="vol. II, connecting-rod bolts: inertia at overlap top dead centre, where no gas load opposes",
    evidence="textbook",
    valid="l > r + |e|, m_cap ≤ m_rot",
    example=Example(
        {
            "reciprocating_mass": 0.6,
            "rotating_mass": 0.45,
            "cap_mass": 0.15,
            "stroke": 0.08,
            "rod_length": 0.16,
            "speed": 500.0,
        },
        10500.0,
        by="by hand: 0.6·0.04·500²·1.25 + 0.3·0.04·500² = 7500 + 3000 N",
    ),
)
def rod_joint_load(
    *,
    reciprocating_mass: Mass,
    rotating_mass: Mass,
    cap_mass: Mass,
    stroke: Length,
    rod_length: Length,
    speed: RotationalSpeed,
    pin_offset: Length = 0.0,
) -> Force:
    """Largest separating load in N on the bolts of one rod, at top dead centre between exhaust and intake.

    Raises:
        OutsideValidity: a mass is negative; and see ``slider_crank.crank_radius``.
        Contradiction: the cap is heavier than the rotating part of the rod; and see ``slider_crank.crank_radius``.
    """
    require_not_negative(reciprocating_mass=reciprocating_mass, cap_mass=cap_mass)
    if cap_mass > rotating_mass:
        raise Contradiction(
            ("rotating_mass", "cap_mass"),
            "The cap is a part of the rod's rotating mass, so it cannot be heavier. Send the whole big end and the cap alone.",
        )
    crank = slider_crank(stroke=stroke, rod_length=rod_length, pin_offset=pin_offset)
    peak = peak_acceleration(stroke=stroke, rod_length=rod_length, speed=speed, pin_offset=pin_offset)
    turning = (rotating_mass - cap_mass) * crank.radius * speed * speed
    return inertia_load(reciprocating_mass=reciprocating_mass, acceleration=peak.acceleration) + turning


@method(
    id="bolt-separation-margin",
    title="Bolt preload over the load that parts the joint",
    formula="s = Σ F_V,min / F",
    symbols={"s": "margin", "F_V,min": "least preload of each bolt [N]", "F": "separating load [N]"},
    source="vdi-2230-1-2015",
    locator="residual clamping load; stiffness ratio left out, on the safe side",
    evidence="derived",
    example=Example({"least_preload": 12000.0, "bolts": 2, "separating_load": 16000.0}, 1.5, by="by hand: 2 · 12000 / 16000"),
)
def separation_margin(*, least_preload: Force, bolts: int, separating_load: Force) -> Ratio:
    """How many times the bolts of one rod, each at its least preload, hold the separating load.

    Raises:
        OutsideValidity: the separating load is not above zero.
    """
    require_positive(separating_load=separating_load)
    return least_preload * bolts / separating_load


@method(
    id="speed-at-piston-speed",
    title="Crank speed at a mean piston speed",
    formula="ω = π c_m / S",
    symbols={"ω": "speed of the crank [rad/s]", "c_m": "mean piston speed [m/s]", "S": "stroke [m]"},
    source="heywood-1988",
    locator="ch. 2: mean piston speed, solved for the speed",
    evidence="textbook",
    example=Example(
        {"mean_piston_speed": 1100 * 0.3048 / 60, "stroke": 5.5 * 0.0254},
        1200 * pi / 30,
        by="Kates, Diesel and High Compression Gas Engines, ch. 8: 1100 ft/min is 1200 rpm with 5 1/2 in",
    ),
)
def speed_at_mean_piston_speed(*, mean_piston_speed: Velocity, stroke: Length) -> RotationalSpeed:
    """Speed of the crank in rad/s at which the piston has the given mean speed.

    Raises:
        OutsideValidity: the stroke is not above zero.
    """
    require_positive(stroke=stroke)
    return pi * mean_piston_speed / stroke


@method(
    id="speed-at-piston-acceleration",
    title="Crank speed at a peak acceleration of the piston",
    formula="ω = √(a / a₁), a₁ the peak acceleration at 1 rad/s; without offset a₁ = r (1 + r/l)",
    symbols={"ω": "speed of the crank [rad/s]", "a": "allowed peak acceleration [m/s²]"},
    source="taylor-1985",
    locator="vol. II: piston acceleration grows with the square of the speed",
    evidence="textbook",
    example=Example(
        {"acceleration": 12500.0, "stroke": 0.08, "rod_length": 0.16},
        500.0,
        by="by hand: √(12500 / (0.04 · 1.25)) = 500 rad/s",
    ),
)
def speed_at_peak_acceleration(
    *, acceleration: Acceleration, stroke: Length, rod_length: Length, pin_offset: Length = 0.0
) -> RotationalSpeed:
    """Speed of the crank in rad/s at which the piston's peak acceleration reaches the given one.

    Raises:
        OutsideValidity: the acceleration is negative; and see ``slider_crank.crank_radius``.
        Contradiction: see ``slider_crank.crank_radius``.
    """
    require_not_negative(acceleration=acceleration)
    at_one = peak_acceleration(stroke=stroke, rod_length=rod_length, speed=1.0, pin_offset=pin_offset)
    return sqrt(acceleration / at_one.acceleration)


@method(
    id="skirt-to-counterweight",
    title="Gap between piston skirt and counterweight at bottom dead centre",
    formula="g = √((l − r)² − e²) − h − R",
    symbols={
        "g": "gap [m]",
        "h": "skirt below the centre of the piston pin [m]",
        "R": "radius of the counterweight [m]",
    },
    source="geometry",
    locator="height of the piston pin at bottom dead centre; l − S/2 − h − R without offset",
    evidence="derived",
    valid="a counterweight that passes under the skirt; rod, case and cam are not in it",
    example=Example(
        {"stroke": 0.08, "rod_length": 0.136, "skirt_below_pin": 0.032, "counterweight_radius": 0.062},
        0.002,
        by="by hand: 136 − 40 − 32 − 62 = 2 mm",
        rel_tol=1e-9,
    ),
)
def skirt_to_counterweight(
    *,
    stroke: Length,
    rod_length: Length,
    skirt_below_pin: Length,
    counterweight_radius: Length,
    pin_offset: Length = 0.0,
) -> Length:
    """Gap in m, negative when the parts meet. Raises as ``slider_crank.crank_radius`` does."""
    crank = slider_crank(stroke=stroke, rod_length=rod_length, pin_offset=pin_offset)
    return crank.top_height - stroke - skirt_below_pin - counterweight_radius
