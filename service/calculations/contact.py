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
        {"load": 100.0, "cam_radius": 1e12, "crown_radius": 0.010, "modulus": 75e9},
        {"peak_pressure": 1.02866e9, "long_half_axis": 2.15443e-4, "short_half_axis": 2.15443e-4},
        by="by hand, ball on a plane: a³ = 3 F R / 4 E* = 1e-11 m³, p₀ = 3 F / 2 π a²",
        rel_tol=1e-5,
    ),
)
def crowned_pressure(*, load: Force, cam_radius: Length, crown_radius: Length, modulus: Pressure) -> EllipticalContact:
    """Contact of a spherical crown on a cylindrical cam, by the exact elliptic integrals.

    Raises:
        OutsideValidity: a radius, the load or the modulus is not above zero.
    """
    require_positive(load=load, cam_radius=cam_radius, crown_radius=crown_radius, modulus=modulus)
    slenderness = _slenderness(1 + crown_radius / cam_radius)
    across = _elliptic(slenderness)[1]
    # Johnson 4.26a with A = 1/2R_t: 1/2R_t = 3 F D / (2 π a³ E*), D = (K − E)/e².
    long_axis = math.cbrt(3 * load * across * crown_radius / (pi * modulus))
    short_axis = long_axis * slenderness
    return EllipticalContact(3 * load / (2 * pi * long_axis * short_axis), long_axis, short_axis)


def _slenderness(curvature_ratio: Ratio) -> Ratio:
    """Short over long half-axis of the contact of bodies whose relative curvatures have the ratio B/A ≥ 1."""

    def surplus(slenderness: float) -> float:
        whole, across = _elliptic(slenderness)
        return (whole - across) / (slenderness * slenderness * across) - curvature_ratio

    # The ellipse is never more drawn out than the curvatures are.
    return find_root(surplus, 1 / curvature_ratio, 1.0) if curvature_ratio > 1 else 1.0


def _elliptic(slenderness: Ratio) -> tuple[float, float]:
    """Complete elliptic integrals K and D = (K − E)/e² with e² = 1 − slenderness², by the arithmetic-geometric mean."""
    square = (1 - slenderness) * (1 + slenderness)
    mean, other, weight, total = 1.0, slenderness, 1.0, 0.0
    while True:
        gap = (mean - other) / 2
        mean, other = mean - gap, sqrt(mean * other)
        total += weight * gap * gap
        weight *= 2
        if gap <= 1e-9 * mean:
            break
    whole = pi / (2 * mean)
    return whole, whole * (0.5 + (total / square if square else 0.0))


@method(
    id="entrainment-speed",
    title="Speed at which oil is drawn between cam and flat tappet",
    formula="u = ½ ω_c |r_b + s + 2 d²s/da²|",
    symbols={
        "u": "entrainment speed [m/s]",
        "ω_c": "speed of the camshaft [rad/s]",
        "r_b": "base circle radius [m]",
        "s": "tappet lift [m]",
        "a": "cam angle [rad]",
    },
    source="dowson-higginson-1977",
    locator="application to cams and flat followers; mean surface speed relative to the contact",
    evidence="from-memory",
    valid="flat tappet; its turning about its own axis left out",
    example=Example(
        {"cam_speed": 100.0, "base_circle_radius": 0.015, "lift": 0.008, "acceleration": -0.016},
        0.45,
        by="by hand: 50 · |15 + 8 − 32| mm/s",
        rel_tol=1e-9,
    ),
)
def entrainment_speed(
    *, cam_speed: RotationalSpeed, base_circle_radius: Length, lift: Length, acceleration: Length
) -> Velocity:
    """Entrainment speed in m/s at a point of the lobe; ``acceleration`` is d²s/da² in m/rad²."""
    return cam_speed / 2 * abs(base_circle_radius + lift + 2 * acceleration)


@method(
    id="line-contact-film",
    title="Least oil film of a line contact",
    formula="h/ρ = 2.65 U^0.7 G^0.54 W^−0.13, U = η u/(E'ρ), G = α E', W = F/(E' ρ w), E' = 2 E*",
    symbols={
        "h": "least film thickness [m]",
        "ρ": "radius of the cam at the contact [m]",
        "η": "viscosity of the oil at the contact's inlet [Pa·s]",
        "u": "entrainment speed [m/s]",
        "α": "pressure-viscosity coefficient [1/Pa]",
        "F/w": "load on a metre of width [N/m]",
    },
    source="dowson-higginson-1977",
    locator="minimum film thickness, line contact",
    evidence="from-memory",
    valid="a fluid film; below a film ratio of 1 the number only ranks speeds and oils",
    example=Example(
        {
            "load": 1000.0,
            "width": 0.010,
            "radius": 0.010,
            "modulus": 1e11,
            "viscosity": 0.010,
            "pressure_viscosity": 2e-8,
            "speed": 1.0,
        },
        1.0394e-7,
        by="by hand: 2.65 · (5e-12)^0.7 · 4000^0.54 · (5e-5)^−0.13 · 10 mm",
        rel_tol=3e-4,
    ),
)
def line_film(
    *,
    load: Force,
    width: Length,
    radius: Length,
    modulus: Pressure,
    viscosity: DynamicViscosity,
    pressure_viscosity: PressureCoefficient,
    speed: Velocity,
) -> Length:
    """Least film in m; ``modulus`` is the contact modulus E*. Zero where nothing is drawn in.

    Raises:
        OutsideValidity: a value other than the speed is not above zero.
    """
    require_positive(
        load=load,
        width=width,
        radius=radius,
        modulus=modulus,
        viscosity=viscosity,
        pressure_viscosity=pressure_viscosity,
    )
    if speed <= 0:
        return 0.0
    effective = 2 * modulus
    motion = math.pow(viscosity * speed / (effective * radius), 0.7)
    material = math.pow(pressure_viscosity * effective, 0.54)
    return 2.65 * radius * motion * material * math.pow(load / (effective * radius * width), -0.13)


@method(
    id="film-ratio",
    title="Film ratio",
    formula="λ = h / σ",
    symbols={"λ": "film ratio", "h": "least film [m]", "σ": "root mean square roughness of both faces together [m]"},
    source="hamrock-dowson-1981",
    locator="lubrication regimes: below about 1 the faces touch",
    evidence="textbook",
    example=Example({"film": 7e-8, "roughness": 2.8e-7}, 0.25, by="by hand: 70 / 280 nm"),
)
def film_ratio(*, film: Length, roughness: Length) -> Ratio:
    """Film over roughness.

    Raises:
        OutsideValidity: the roughness is not above zero.
    """
    require_positive(roughness=roughness)
    return film / roughness
