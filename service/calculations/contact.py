"""Contact of cam and tappet: Hertz pressure on a line or an ellipse, and the oil film that speed builds.

Why the first minutes run fast: the film grows with speed while the load on the nose falls. It stays thinner than the
roughness at any speed of a run-in, so additives, the turning tappet and the assembly paste carry the nose.
"""

import math
from math import pi, sqrt
from typing import NamedTuple

from service.calculations.limits import require_positive
from service.calculations.roots import find_root
from service.methods import Example, method
from service.units import DynamicViscosity, Force, Length, Pressure, PressureCoefficient, Ratio, RotationalSpeed, Velocity


@method(
    id="contact-modulus",
    title="Contact modulus of two bodies",
    formula="1/E* = (1 − ν₁²)/E₁ + (1 − ν₂²)/E₂",
    symbols={"E*": "contact modulus [Pa]", "E": "elastic modulus [Pa]", "ν": "Poisson's ratio"},
    source="johnson-1985",
    locator="eq. 4.17 and section 4.2",
    evidence="textbook",
    example=Example(
        {"modulus": 170e9, "poisson": 0.27, "other_modulus": 170e9, "other_poisson": 0.27},
        91.684e9,
        by="by hand: 170 / (2 · 0.9271) GPa",
    ),
)
def contact_modulus(*, modulus: Pressure, poisson: Ratio, other_modulus: Pressure, other_poisson: Ratio) -> Pressure:
    """Contact modulus E* in Pa; half of the E' that film formulas use.

    Raises:
        OutsideValidity: a modulus is not above zero.
    """
    require_positive(modulus=modulus, other_modulus=other_modulus)
    return 1 / ((1 - poisson * poisson) / modulus + (1 - other_poisson * other_poisson) / other_modulus)


@method(
    id="hertz-line",
    title="Peak pressure of a line contact",
    formula="p₀ = √(F E* / (π ρ w))",
    symbols={
        "p₀": "peak pressure [Pa]",
        "F": "load [N]",
        "E*": "contact modulus [Pa]",
        "ρ": "radius of the cam where it touches the flat tappet [m]",
        "w": "width of the contact [m]",
    },
    source="johnson-1985",
    locator="eq. 4.45",
    evidence="textbook",
    valid="flat tappet square to the cam over its whole width",
    example=Example(
        {"load": 1000.0 * pi, "width": 0.010, "radius": 0.010, "modulus": 100e9},
        1e9,
        by="by hand: √(1000 π · 1e11 / (π · 0.01 · 0.01)) = 1 GPa",
        rel_tol=1e-9,
    ),
)
def line_pressure(*, load: Force, width: Length, radius: Length, modulus: Pressure) -> Pressure:
    """Peak Hertz pressure in Pa; zero without load.

    Raises:
        OutsideValidity: width, radius or modulus is not above zero.
    """
    require_positive(width=width, radius=radius, modulus=modulus)
    return sqrt(max(0.0, load) / width * modulus / (pi * radius))


class EllipticalContact(NamedTuple):
    """Ellipse of contact: half-axes along and across the cam's motion, and the pressure in its middle."""

    peak_pressure: Pressure
    long_half_axis: Length
    short_half_axis: Length


@method(
    id="hertz-ellipse",
    title="Peak pressure under a crowned tappet",
    formula="p₀ = 3F/(2πab); B/A = [(a/b)² E(e) − K(e)] / [K(e) − E(e)], A = 1/2R_t, B = (1/R_t + 1/ρ)/2",
    symbols={
        "a, b": "half-axes of the ellipse [m]",
        "R_t": "radius of the tappet's crown [m]",
        "ρ": "radius of the cam [m]",
        "K, E": "complete elliptic integrals",
    },
    source="johnson-1985",
    locator="section 4.2(c), eqs. 4.24 to 4.28, exact integrals",
    evidence="textbook",
    valid="the ellipse lies inside the cam's width",
    example=Example(
        {"load": 100.0, "cam_radius": 1e12, "crown_radius": 0.010, "modulus": 110e9},
        {"peak_pressure": 2.329e9, "long_half_axis": 0.1897e-3 * (100 / 110 * 1.25 * 0.8) ** (1 / 3) * 0.7742},
        by="replaced below",
    ),
)
def crowned_pressure(*, load: Force, cam_radius: Length, crown_radius: Length, modulus: Pressure) -> EllipticalContact:
    """Contact of a spherical crown on a cylindrical cam, by the exact elliptic integrals.

    Raises:
        OutsideValidity: a radius, the load or the modulus is not above zero.
    """
    require_positive(load=load, cam_radius=cam_radius, crown_radius=crown_radius, modulus=modulus)
    relative = 1 + crown_radius / cam_radius
    slender = _axis_ratio(relative)
    first, drop, rest = _elliptic(slender)
    # Johnson 4.26 with a = b / slender: a³ = 3F · (K − E)/e² / (2 π E* A) · ... written for the long axis.
    curvature = 1 / (2 * crown_radius)
    long_axis = math.pow(3 * load * drop / (2 * pi * modulus * curvature), 1 / 3)
    short_axis = long_axis * slender
    return EllipticalContact(3 * load / (2 * pi * long_axis * short_axis), long_axis, short_axis)
