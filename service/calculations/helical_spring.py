"""Helical compression springs of round wire: rate, stress, mass and surge."""

from math import pi, sqrt

from service.calculations.limits import require_not_negative, require_positive
from service.errors import Contradiction, OutsideValidity
from service.methods import Example, method
from service.units import Density, Force, Frequency, Length, Mass, Pressure, Ratio, Stiffness, Stress


@method(
    id="spring-rate-from-loads",
    title="Rate of a spring from two loads",
    formula="k = (F₂ − F₁) / (L₁ − L₂)",
    symbols={"k": "rate [N/m]", "F": "loads [N]", "L": "lengths at these loads [m]"},
    source="shigley-mischke-1989",
    locator="ch. 10, linear spring",
    evidence="textbook",
    example=Example(
        {
            "seat_load": 50 * 4.4482216,
            "installed_length": 1.703 * 0.0254,
            "open_load": 100 * 4.4482216,
            "open_length": 1.422 * 0.0254,
        },
        177.94 * 175.126835,
        by="TM 5-4320-234-34: 50 lb at 1.703 in, 100 lb at 1.422 in; 50/0.281 lbf/in",
    ),
)
def spring_rate_from_loads(*, seat_load: Force, installed_length: Length, open_load: Force, open_length: Length) -> Stiffness:
    """Rate in N/m of a spring that carries the first load at the longer and the second at the shorter length.

    Raises:
        Contradiction: the shorter length does not carry the higher load.
    """
    travel, gain = installed_length - open_length, open_load - seat_load
    if not (travel > 0 and gain > 0):
        raise Contradiction(
            ("seat_load", "installed_length", "open_load", "open_length"),
            "A spring carries more load at the shorter length. Send the load at the installed length, and the higher "
            "load at the length with the valve open.",
        )
    return gain / travel


@method(
    id="spring-rate-from-wire",
    title="Rate of a helical spring from its wire",
    formula="k = G d⁴ / (8 D³ N)",
    symbols={
        "k": "rate [N/m]",
        "G": "shear modulus [Pa]",
        "d": "wire diameter [m]",
        "D": "mean coil diameter [m]",
        "N": "active coils",
    },
    source="shigley-mischke-1989",
    locator="ch. 10, deflection of helical springs",
    evidence="textbook",
    example=Example(
        {"wire_diameter": 1.016e-3, "mean_diameter": 11.584e-3, "active_coils": 14.0, "shear_modulus": 81e9},
        496.0,
        by="Jindal, Machine Design, example 8-7: 0.496 N/mm",
        rel_tol=2e-3,
    ),
)
def spring_rate_from_wire(
    *, wire_diameter: Length, mean_diameter: Length, active_coils: Ratio, shear_modulus: Pressure
) -> Stiffness:
    """Rate in N/m of round-wire springs.

    Raises:
        OutsideValidity: a value is not above zero.
        Contradiction: the coil is not wider than its wire.
    """
    require_positive(active_coils=active_coils, shear_modulus=shear_modulus)
    index = spring_index(wire_diameter=wire_diameter, mean_diameter=mean_diameter)
    return shear_modulus * wire_diameter / (8 * index * index * index * active_coils)


def active_coils(*, rate: Stiffness, wire_diameter: Length, mean_diameter: Length, shear_modulus: Pressure) -> Ratio:
    """Active coils of a spring of known rate: the rate formula solved for N.

    Raises:
        OutsideValidity: a value is not above zero.
        Contradiction: the coil is not wider than its wire.
    """
    require_positive(rate=rate, shear_modulus=shear_modulus)
    index = spring_index(wire_diameter=wire_diameter, mean_diameter=mean_diameter)
    return shear_modulus * wire_diameter / (8 * index * index * index * rate)


def spring_index(*, wire_diameter: Length, mean_diameter: Length) -> Ratio:
    """Mean coil diameter over wire diameter; springs that can be wound have 4 to 12.

    Raises:
        OutsideValidity: a diameter is not above zero.
        Contradiction: the coil is not wider than its wire.
    """
    require_positive(wire_diameter=wire_diameter, mean_diameter=mean_diameter)
    if mean_diameter <= wire_diameter:
        raise Contradiction(
            ("wire_diameter", "mean_diameter"),
            "The mean coil diameter is larger than the wire. Send the outside diameter less one wire.",
        )
    return mean_diameter / wire_diameter


@method(
    id="wahl-factor",
    title="Stress factor of a coiled wire",
    formula="K = (4C − 1)/(4C − 4) + 0.615/C",
    symbols={"K": "Wahl factor", "C": "spring index"},
    source="shigley-mischke-1989",
    locator="ch. 10, curvature effect, Wahl",
    evidence="textbook",
    valid="C > 1",
    example=Example({"index": 6.0}, 1.2525, by="by hand: 23/20 + 0.1025"),
)
def wahl_factor(*, index: Ratio) -> Ratio:
    """Factor by which curvature and direct shear raise the stress in the wire.

    Raises:
        OutsideValidity: the index is not above 1.
    """
    if not index > 1:
        raise OutsideValidity("index", "A spring index is above 1: coil diameter over wire diameter.", "> 1")
    return (4 * index - 1) / (4 * index - 4) + 0.615 / index


@method(
    id="spring-shear-stress",
    title="Shear stress in the wire of a spring",
    formula="τ = K · 8 F D / (π d³)",
    symbols={"τ": "stress at the inside of the coil [Pa]", "F": "load [N]", "K": "Wahl factor"},
    source="shigley-mischke-1989",
    locator="ch. 10, stresses in helical springs",
    evidence="textbook",
    example=Example(
        {"load": 300.0, "wire_diameter": 0.005, "mean_diameter": 0.030},
        229.65e6,
        by="by hand: 1.2525 · 8 · 300 · 30 / (π · 125) = 229.6 N/mm²",
    ),
)
def spring_shear_stress(*, load: Force, wire_diameter: Length, mean_diameter: Length) -> Stress:
    """Stress in Pa; raises as ``spring_index`` does."""
    factor = wahl_factor(index=spring_index(wire_diameter=wire_diameter, mean_diameter=mean_diameter))
    return factor * 8 * load * mean_diameter / (pi * wire_diameter * wire_diameter * wire_diameter)


@method(
    id="spring-active-mass",
    title="Mass of the active coils",
    formula="m = π² d² D N ρ / 4",
    symbols={"m": "mass [kg]", "ρ": "density of the wire [kg/m³]"},
    source="geometry",
    locator="wire of length π D N",
    evidence="textbook",
    example=Example(
        {"wire_diameter": 0.004, "mean_diameter": 0.026, "active_coils": 5.0, "density": 7850.0},
        0.040288,
        by="by hand: 9.8696 · 16 · 26 · 5 · 7850e-9 / 4 kg",
    ),
)
def active_mass(*, wire_diameter: Length, mean_diameter: Length, active_coils: Ratio, density: Density) -> Mass:
    """Mass in kg of the coils that move."""
    return pi * pi / 4 * wire_diameter * wire_diameter * mean_diameter * active_coils * density


@method(
    id="spring-surge",
    title="Surge frequency of a valve spring",
    formula="f = ½ √(k / m)",
    symbols={"f": "lowest natural frequency [Hz]", "k": "rate [N/m]", "m": "mass of the active coils [kg]"},
    source="shigley-mischke-1989",
    locator="ch. 10, critical frequency, both ends on plates",
    evidence="textbook",
    example=Example({"rate": 28903.0, "mass": 0.0403}, 423.4, by="by hand: ½ √(28903 / 0.0403)", rel_tol=1e-3),
)
def surge_frequency(*, rate: Stiffness, mass: Mass) -> Frequency:
    """Lowest natural frequency in Hz of a spring held at both ends.

    Raises:
        OutsideValidity: the rate is negative or the mass is not above zero.
    """
    require_not_negative(rate=rate)
    require_positive(mass=mass)
    return 0.5 * sqrt(rate / mass)
