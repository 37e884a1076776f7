"""Buckling of a push rod: a tube on two ball ends."""

from math import pi, sqrt
from typing import NamedTuple

from service.calculations.limits import require_positive
from service.errors import OutsideValidity
from service.methods import Example, method
from service.units import Area, Force, Length, Pressure, Ratio, Stress


class Section(NamedTuple):
    """Cross-section of a round tube or rod."""

    area: Area
    second_moment: float
    """In m⁴."""
    gyration_radius: Length


def tube_section(*, outer_diameter: Length, wall: Length) -> Section:
    """Section of a tube; a solid rod has a wall of half its diameter.

    Raises:
        OutsideValidity: diameter or wall is not above zero, or the wall is over half the diameter.
    """
    require_positive(outer_diameter=outer_diameter, wall=wall)
    # A solid rod typed in inches may miss half its diameter by a rounding.
    if wall > outer_diameter / 2 * (1 + 1e-9):
        raise OutsideValidity(
            "wall", "The wall is at most half the outer diameter; a solid rod has exactly half.", "≤ outer_diameter/2"
        )
    inner = max(0.0, outer_diameter - 2 * wall)
    squares = outer_diameter * outer_diameter + inner * inner
    area = pi / 4 * (outer_diameter - inner) * (outer_diameter + inner)
    return Section(area, area * squares / 16, sqrt(squares) / 4)


class Buckling(NamedTuple):
    """Load at which the column gives way, its slenderness, and whether Euler's formula governs (else Johnson's)."""

    load: Force
    slenderness: Ratio
    euler: bool


@method(
    id="column-buckling",
    title="Buckling load of a push rod",
    formula="Euler F = π² E I / L² above slenderness √(2 π² E / S_y); below it Johnson F = A [S_y − (S_y λ / 2π)² / E]",
    symbols={
        "F": "buckling load [N]",
        "E": "elastic modulus [Pa]",
        "I": "second moment of area [m⁴]",
        "L": "length between the ball centres [m]",
        "λ": "slenderness L/k, k radius of gyration",
        "S_y": "yield strength [Pa]",
        "A": "section area [m²]",
    },
    source="shigley-mischke-1989",
    locator="ch. 4, long and intermediate columns with central loading",
    evidence="textbook",
    valid="both ends free to turn, load through the centre",
    example=Example(
        {
            "length": 30 * 0.0254,
            "outer_diameter": 0.625 * 0.0254,
            "wall": 0.3125 * 0.0254,
            "elastic_modulus": 30e6 * 6894.757,
            "yield_strength": 50e3 * 6894.757,
        },
        {"load": 2464.16 * 4.4482216, "slenderness": 192.0},
        by="Wentzell, Machine Design, example 3.5: 5/8 in link of 30 in, 2464.16 lbf",
    ),
)
def column_buckling(
    *, length: Length, outer_diameter: Length, wall: Length, elastic_modulus: Pressure, yield_strength: Stress
) -> Buckling:
    """Buckling load in N of a straight tube between two pivots.

    Raises:
        OutsideValidity: a value is not above zero, or the wall is over half the diameter.
    """
    require_positive(length=length, elastic_modulus=elastic_modulus, yield_strength=yield_strength)
    section = tube_section(outer_diameter=outer_diameter, wall=wall)
    slenderness = length / section.gyration_radius
    if slenderness * slenderness * yield_strength >= 2 * pi * pi * elastic_modulus:
        load = pi * pi * elastic_modulus * section.second_moment / (length * length)
        return Buckling(load, slenderness, euler=True)
    slope = yield_strength * slenderness / (2 * pi)
    return Buckling(section.area * (yield_strength - slope * slope / elastic_modulus), slenderness, euler=False)


@method(
    id="push-rod-load",
    title="Load on an exhaust push rod",
    formula="F = R (F_open + p A)",
    symbols={
        "F": "load along the push rod [N]",
        "R": "rocker ratio",
        "F_open": "spring load with the valve open [N]",
        "p": "cylinder pressure when the exhaust valve opens, above that in the port [Pa]",
        "A": "area of the exhaust valve [m²]",
    },
    source="mechanics",
    locator="lever; full spring load and gas load taken together, on the safe side",
    evidence="common-practice",
    example=Example(
        {"rocker_ratio": 1.1, "open_load": 555.0, "cylinder_pressure": 5e5, "valve_diameter": 0.030},
        999.3,
        by="by hand: 1.1 · (555 + 0.5 · π/4 · 900) N",
    ),
)
def push_rod_load(*, rocker_ratio: Ratio, open_load: Force, cylinder_pressure: Pressure, valve_diameter: Length) -> Force:
    """Load in N on the push rod of an exhaust valve."""
    return rocker_ratio * (open_load + cylinder_pressure * pi / 4 * valve_diameter * valve_diameter)
