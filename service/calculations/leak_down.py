"""Leak-down by two restrictions in series: the tester's orifice feeds the leak of the cylinder.

The share of pressure lost depends on the tester. What belongs to the cylinder is the size of its leak, here the diameter of
one round hole that passes as much; from it follows what any other tester would show.
"""

from math import sqrt
from typing import Literal, NamedTuple, TypeAlias

from service.calculations.limits import require_positive
from service.calculations.orifice import flow_function
from service.errors import OutsideValidity
from service.methods import Example, method
from service.units import Length, Pressure, Ratio

STANDARD_SUPPLY: Pressure = 551_580.6  # 80 psi gauge
STANDARD_ORIFICE: Length = 0.001016  # 0.040 in
STANDARD_LIMIT: Ratio = 0.25  # of the supply
FRESH_LIMIT: Ratio = 0.10

_STEPS = 42  # halvings: of ten bar they leave a millionth of a pascal

LeakVerdict: TypeAlias = Literal["fresh", "usable", "leaks"]


@method(
    id="leak-share",
    title="Leak-down reading",
    formula="λ = (p_s − p_r) / p_s",
    symbols={"λ": "share of the supply that is lost", "p_s": "supply, gauge [Pa]", "p_r": "reading, gauge [Pa]"},
    source="faa-ac-43-13-1b",
    locator="paragraph 8-14, differential compression test",
    evidence="government",
    example=Example({"supply": 80.0, "reading": 60.0}, 0.25, by="FAA AC 43.13-1B para 8-14: 60/80 is the limit of 25 %"),
)
def leak_share(*, supply: Pressure, reading: Pressure) -> Ratio:
    """Share of the supply pressure that the cylinder loses, from gauge pressures.

    Raises:
        OutsideValidity: the supply is not positive or the reading not within 0 … supply.
    """
    require_positive(supply=supply)
    if not 0 <= reading <= supply:
        raise OutsideValidity(
            "reading",
            "The cylinder cannot hold more than the tester supplies; check that supply and reading are not exchanged.",
            "0 … supply",
        )
    return (supply - reading) / supply


@method(
    id="leak-diameter",
    title="Equivalent leak from a leak-down reading",
    formula="d = d_o · √(p₁ ψ(p₂/p₁) / (p₂ ψ(p_a/p₂)))",
    symbols={
        "d": "diameter of the hole that leaks as much [m]",
        "d_o": "orifice of the tester [m]",
        "p₁": "absolute supply [Pa]",
        "p₂": "absolute pressure in the cylinder [Pa]",
        "p_a": "station pressure [Pa]",
        "ψ": "flow function",
    },
    source="derived",
    locator="equal mass flow through two restrictions in series, same discharge coefficient",
    evidence="derived",
    valid="steady reading, piston held at top dead centre; 0.5 … 10 bar supply, 0.2 … 3 mm orifice",
    example=Example(
        {"supply": 6.0e5, "reading": 2.0e5, "orifice": 1.0e-3, "station_pressure": 1.0e5},
        1.5275e-3,
        by="by hand, both choked, so the areas are as the absolute pressures: √(7/3) mm",
    ),
)
def leak_diameter(*, supply: Pressure, reading: Pressure, orifice: Length, station_pressure: Pressure) -> Length:
    """Diameter in m of the round hole that leaks as much; supply and reading are gauge, the station pressure absolute.

    Raises:
        OutsideValidity: a value is not positive, the reading exceeds the supply, or the cylinder holds nothing.
    """
    require_positive(supply=supply, orifice=orifice, station_pressure=station_pressure)
    lost = leak_share(supply=supply, reading=reading)
    if reading <= 0:
        raise OutsideValidity(
            "reading",
            "The cylinder holds no pressure at all, so its leak has no size that this tester could show: a valve is open, "
            "the piston is not at top dead centre on compression, or the cylinder has a hole.",
            "> 0",
        )
    if lost == 0:
        return 0.0
    supply_absolute, cylinder_absolute = supply + station_pressure, reading + station_pressure
    filling = supply_absolute * flow_function(pressure_ratio=cylinder_absolute / supply_absolute)
    leaking = cylinder_absolute * flow_function(pressure_ratio=station_pressure / cylinder_absolute)
    if not leaking > 0:
        raise OutsideValidity("reading", "The reading is too small to tell the leak from an open hole.", "> 0")
    return orifice * sqrt(filling / leaking)


@method(
    id="leak-reading",
    title="Reading of a tester on a known leak",
    formula="p₂ where d_o² p₁ ψ(p₂/p₁) = d² p₂ ψ(p_a/p₂)",
    symbols={
        "p₂": "absolute pressure in the cylinder [Pa]",
        "d_o": "orifice of the tester [m]",
        "p₁": "absolute supply [Pa]",
        "d": "equivalent leak [m]",
        "p_a": "station pressure [Pa]",
        "ψ": "flow function",
    },
    source="derived",
    locator="equal mass flow through two restrictions in series, same discharge coefficient",
    evidence="derived",
    valid="steady reading",
    example=Example(
        {"supply": 6.0e5, "leak": 1.527525e-3, "orifice": 1.0e-3, "station_pressure": 1.0e5},
        2.0e5,
        by="by hand, both choked: 7 bar · (1/1.527525)² = 3 bar absolute",
    ),
)
def leak_reading(*, supply: Pressure, leak: Length, orifice: Length, station_pressure: Pressure) -> Pressure:
    """Gauge pressure in Pa that a tester shows on a cylinder that leaks like a round hole of a diameter in m.

    Raises:
        OutsideValidity: the leak is negative or another value not positive.
    """
    require_positive(supply=supply, orifice=orifice, station_pressure=station_pressure)
    if not leak >= 0:
        raise OutsideValidity("leak", "The equivalent leak cannot be negative.", "≥ 0")
    supply_absolute = supply + station_pressure
    share = (leak / orifice) * (leak / orifice)
    low, high = station_pressure, supply_absolute
    for _ in range(_STEPS):
        # Filling falls and leaking rises with the pressure in the cylinder, so there is one balance.
        middle = (low + high) / 2
        filling = supply_absolute * flow_function(pressure_ratio=middle / supply_absolute)
        leaking = share * middle * flow_function(pressure_ratio=station_pressure / middle)
        low, high = (middle, high) if filling > leaking else (low, middle)
    return (low + high) / 2 - station_pressure


class StandardLeak(NamedTuple):
    """A leak as the tester of AC 43.13-1B would show it: 80 psi through 0.040 in."""

    leak: Length
    reading: Pressure
    share: Ratio
    verdict: LeakVerdict


@method(
    id="standard-leak-share",
    title="Leak-down reading turned into that of the AC 43.13-1B tester",
    formula="leak from the reading; reading of that leak at 80 psi through 0.040 in",
    symbols={},
    source="faa-ac-43-13-1b",
    locator="paragraph 8-14, orifice of 0.040 in, 80 psi, limit of 25 %",
    evidence="derived",
    valid="as for the equivalent leak",
    example=Example(
        {"supply": 551_580.6, "reading": 413_685.4, "orifice": 0.001016, "station_pressure": 101325.0},
        {"reading": 413_685.4, "share": 0.25},
        by="FAA AC 43.13-1B para 8-14: 60/80 on this very tester",
    ),
)
def on_standard_tester(*, supply: Pressure, reading: Pressure, orifice: Length, station_pressure: Pressure) -> StandardLeak:
    """A reading of any tester turned into that of AC 43.13-1B, whose limit is a quarter of the supply.

    Raises:
        OutsideValidity: as for :func:`leak_diameter`.
    """
    leak = leak_diameter(supply=supply, reading=reading, orifice=orifice, station_pressure=station_pressure)
    standard = leak_reading(supply=STANDARD_SUPPLY, leak=leak, orifice=STANDARD_ORIFICE, station_pressure=station_pressure)
    share = leak_share(supply=STANDARD_SUPPLY, reading=min(max(standard, 0.0), STANDARD_SUPPLY))
    return StandardLeak(leak, standard, share, verdict_of(share=share))


def verdict_of(*, share: Ratio) -> LeakVerdict:
    """What a share lost on the standard tester means: up to 10 % fresh (trade), up to 25 % usable (AC 43.13-1B)."""
    if share > STANDARD_LIMIT * (1 + 1e-9):
        return "leaks"
    return "fresh" if share <= FRESH_LIMIT * (1 + 1e-9) else "usable"
