"""Carburettor: main jet for other air or another mixture, mixture and stoichiometric ratio of a fuel."""

from collections.abc import Sequence
from math import pi, sqrt
from typing import NamedTuple

from service.calculations.limits import require_positive
from service.errors import OutsideValidity
from service.methods import Example, method
from service.units import Density, Length, MassFlow, Pressure, Ratio

_AIR_PER_OXYGEN = 28.9644 / 0.20946  # kg of air that carries one kmol of oxygen
_CARBON, _HYDROGEN, _OXYGEN = 12.011, 1.008, 15.999  # kg/kmol


@method(
    id="mixture-with-fixed-jets",
    title="Mixture of a carburettor whose jets stay as they are",
    formula="AFR₂ = AFR₁ · √(ρ₂ / ρ₁)",
    symbols={"AFR": "air-fuel ratio by mass", "ρ₁": "density at jetting [kg/m³]", "ρ₂": "density now [kg/m³]"},
    source="heywood-1988",
    locator="chapter 7, the elementary carburettor",
    evidence="derived",
    valid="main system at full throttle; the venturi's depression follows ρ v²",
    example=Example(
        {"air_fuel_ratio": 13.0, "jetting_density": 1.0, "air_density": 0.81},
        11.7,
        by="by hand: 13 · √0.81",
    ),
)
def mixture_with_fixed_jets(*, air_fuel_ratio: Ratio, jetting_density: Density, air_density: Density) -> Ratio:
    """Air-fuel ratio in air of another density, both in kg/m³, with the jets left alone: thin air makes it richer.

    Raises:
        OutsideValidity: a value is not positive.
    """
    require_positive(air_fuel_ratio=air_fuel_ratio, jetting_density=jetting_density, air_density=air_density)
    return air_fuel_ratio * sqrt(air_density / jetting_density)


@method(
    id="jet-area-ratio",
    title="Change of jet area for other air or another mixture",
    formula="A₂/A₁ = √(ρ₂/ρ₁) · AFR₁/AFR₂",
    symbols={
        "A": "flow area of the main jet [m²]",
        "ρ₁": "density at jetting [kg/m³]",
        "ρ₂": "density now [kg/m³]",
        "AFR₁": "mixture with the old jet in the old air",
        "AFR₂": "wanted mixture",
    },
    source="heywood-1988",
    locator="chapter 7, the elementary carburettor",
    evidence="derived",
    valid="main system at full throttle",
    example=Example({"jetting_density": 1.0, "air_density": 0.81}, 0.9, by="by hand: √0.81"),
)
def jet_area_ratio(*, jetting_density: Density, air_density: Density, mixture_ratio: Ratio = 1.0) -> Ratio:
    """Factor on the area (or marked flow) of a main jet; ``mixture_ratio`` is the wanted AFR over that at jetting.

    Raises:
        OutsideValidity: a value is not positive.
    """
    require_positive(jetting_density=jetting_density, air_density=air_density, mixture_ratio=mixture_ratio)
    return sqrt(air_density / jetting_density) / mixture_ratio


class Jet(NamedTuple):
    """A main jet: what would be exact, the nearest to be had, and what that one does to the mixture."""

    exact: float
    nearest: float
    mixture_change: Ratio
    """Air-fuel ratio with the nearest jet over that with the exact one: above 1 is leaner."""


@method(
    id="jet-by-diameter",
    title="Main jet marked by its diameter",
    formula="d₂ = d₁ · √(A₂/A₁)",
    symbols={"d": "jet diameter [m]", "A₂/A₁": "change of jet area"},
    source="geometry",
    locator="area of a circle",
    evidence="derived",
    example=Example(
        {"jet_diameter": 1.30e-3, "area_ratio": 0.914, "step": 0.05e-3},
        {"exact": 1.243e-3, "nearest": 1.25e-3, "mixture_change": 0.9887},
        by="by hand: 1.30 · √0.914 mm, (1.2428/1.25)²",
        rel_tol=3e-4,
    ),
)
def jet_by_diameter(*, jet_diameter: Length, area_ratio: Ratio, sizes: Sequence[float] = (), step: float = 0.0) -> Jet:
    """Main jet in m for a jet marked by its bore: the diameter goes with the square root of the area.

    Args:
        jet_diameter: The jet fitted now, in m.
        area_ratio: Wanted area over that of the jet fitted now.
        sizes: Jets in the drawer, in m; without them the nearest multiple of ``step``.
        step: Spacing of the marked sizes in m.

    Raises:
        OutsideValidity: a value is not positive.
    """
    require_positive(jet_diameter=jet_diameter, area_ratio=area_ratio)
    exact = jet_diameter * sqrt(area_ratio)
    nearest = _nearest(exact, sizes, step, "jet_diameter")
    return Jet(exact, nearest, (exact / nearest) * (exact / nearest))


@method(
    id="jet-by-flow",
    title="Main jet marked by its flow",
    formula="N₂ = N₁ · A₂/A₁",
    symbols={"N": "number on the jet, a flow", "A₂/A₁": "change of jet area"},
    source="geometry",
    locator="flow in proportion to the area",
    evidence="derived",
    example=Example(
        {"jet_flow": 130.0, "area_ratio": 0.914, "step": 5.0},
        {"exact": 118.82, "nearest": 120.0, "mixture_change": 0.99017},
        by="by hand: 130 · 0.914; 118.82/120",
    ),
)
def jet_by_flow(*, jet_flow: float, area_ratio: Ratio, sizes: Sequence[float] = (), step: float = 0.0) -> Jet:
    """Main jet for a jet marked by its flow: the number goes with the area itself.

    Args:
        jet_flow: The number on the jet fitted now, a flow.
        area_ratio: Wanted area over that of the jet fitted now.
        sizes: Numbers in the drawer; without them the nearest multiple of ``step``.
        step: Spacing of the marked numbers.

    Raises:
        OutsideValidity: a value is not positive.
    """
    require_positive(jet_flow=jet_flow, area_ratio=area_ratio)
    exact = jet_flow * area_ratio
    nearest = _nearest(exact, sizes, step, "jet_flow")
    return Jet(exact, nearest, exact / nearest)


@method(
    id="jet-trade-rule",
    title="Main jet for altitude by the trade's rule",
    formula="d₂ = d₁ · (1 − 0.02 · Δh / 1000 ft)",
    symbols={"d": "jet diameter [m]", "Δh": "climb [m]"},
    source="common-practice",
    locator="one jet size, about 2 %, for every 1000 ft",
    evidence="common-practice",
    valid="lore, shown beside the physics: density alone asks for 0.7 % per 1000 ft",
    example=Example({"jet_diameter": 1.30e-3, "climb": 304.8}, 1.274e-3, by="by hand: 1.30 · 0.98 mm"),
)
def jet_by_trade_rule(*, jet_diameter: Length, climb: Length) -> Length:
    """Main jet in m that lore fits after a climb in m (a descent is negative).

    Raises:
        OutsideValidity: the jet is not positive, or the climb leaves none.
    """
    require_positive(jet_diameter=jet_diameter)
    factor = 1 - 0.02 * climb / 304.8
    if not factor > 0:
        raise OutsideValidity("altitude", "The trade's rule leaves no jet at such a climb.", "climb < 15 240 m")
    return jet_diameter * factor


def _nearest(exact: float, sizes: Sequence[float], step: float, field: str) -> float:
    """The nearest size to be had; of two equally near the larger one, because rich is the safe side."""
    if sizes:
        for size in sizes:
            require_positive(sizes=size)
        return min(sizes, key=lambda size: (abs(size - exact), -size))
    require_positive(step=step)
    nearest = int(exact / step + 0.5) * step
    if nearest <= 0:
        raise OutsideValidity(field, "The jet that results is smaller than half a step of the marked sizes.", "> step")
    return nearest


@method(
    id="stoichiometric-ratio",
    title="Stoichiometric air-fuel ratio of a fuel",
    formula="AFR = (1 + y/4 − z/2) · 138.28 / (12.011 + 1.008 y + 15.999 z)",
    symbols={
        "y": "hydrogen atoms per carbon atom",
        "z": "oxygen atoms per carbon atom",
        "138.28": "kg of dry air that carry one kmol of oxygen",
    },
    source="heywood-1988",
    locator="chapter 3, combustion stoichiometry",
    evidence="textbook",
    valid="fuels of carbon, hydrogen and oxygen",
    example=Example(
        {"hydrogen_per_carbon": 2.25, "oxygen_per_carbon": 0.0}, 15.13, by="Heywood, table D.4: iso-octane", rel_tol=2e-3
    ),
)
def stoichiometric_ratio(*, hydrogen_per_carbon: Ratio, oxygen_per_carbon: Ratio = 0.0) -> Ratio:
    """Kilograms of air that burn one kilogram of the fuel CHyOz completely.

    Raises:
        OutsideValidity: the fuel holds so much oxygen that it needs no air, or a value is negative.
    """
    if hydrogen_per_carbon < 0 or oxygen_per_carbon < 0:
        raise OutsideValidity(
            "hydrogen_per_carbon", "Atoms per carbon atom cannot be negative: iso-octane C8H18 has 18/8 = 2.25.", "≥ 0"
        )
    oxygen = 1 + hydrogen_per_carbon / 4 - oxygen_per_carbon / 2
    if not oxygen > 0:
        raise OutsideValidity(
            "oxygen_per_carbon", "A fuel with so much oxygen needs no air; ethanol C2H6O has 1/2.", "< 2 + y/2"
        )
    mass = _CARBON + _HYDROGEN * hydrogen_per_carbon + _OXYGEN * oxygen_per_carbon
    return oxygen * _AIR_PER_OXYGEN / mass


@method(
    id="excess-air-ratio",
    title="Excess-air ratio λ",
    formula="λ = AFR / AFR_st",
    symbols={"AFR": "air-fuel ratio by mass", "AFR_st": "stoichiometric air-fuel ratio"},
    source="heywood-1988",
    locator="chapter 3, relative air-fuel ratio",
    evidence="textbook",
    example=Example({"air_fuel_ratio": 12.5, "stoichiometric_ratio": 14.4}, 0.86806, by="by hand: 12.5/14.4"),
)
def excess_air_ratio(*, air_fuel_ratio: Ratio, stoichiometric_ratio: Ratio) -> Ratio:
    """λ: the air-fuel ratio over the stoichiometric one; below 1 is rich. Both must be above zero.

    Raises:
        OutsideValidity: a value is not positive.
    """
    require_positive(air_fuel_ratio=air_fuel_ratio, stoichiometric_ratio=stoichiometric_ratio)
    return air_fuel_ratio / stoichiometric_ratio


@method(
    id="jet-diameter-from-flow",
    title="Jet diameter for a fuel flow",
    formula="d = √(4 ṁ / (π C √(2 ρ Δp)))",
    symbols={
        "d": "jet diameter [m]",
        "ṁ": "fuel mass flow [kg/s]",
        "C": "discharge coefficient of the jet",
        "ρ": "density of the fuel [kg/m³]",
        "Δp": "pressure that drives the fuel through the jet [Pa]",
    },
    source="heywood-1988",
    locator="chapter 7, flow through the fuel orifice",
    evidence="textbook",
    valid="incompressible, level of the float chamber neglected",
    example=Example(
        {"fuel_flow": 0.4 / 60, "fuel_density": 780.0, "depression": 5550.0, "discharge_coefficient": 0.6},
        0.0022,
        by="H N Gupta, example 9.1: 2.2 mm",
        rel_tol=0.03,
    ),
)
def jet_diameter_from_flow(
    *, fuel_flow: MassFlow, fuel_density: Density, depression: Pressure, discharge_coefficient: Ratio
) -> Length:
    """Diameter in m of the jet that passes a fuel flow in kg/s under a depression in Pa.

    Raises:
        OutsideValidity: a value is not positive.
    """
    require_positive(
        fuel_flow=fuel_flow,
        fuel_density=fuel_density,
        depression=depression,
        discharge_coefficient=discharge_coefficient,
    )
    area = fuel_flow / (discharge_coefficient * sqrt(2 * fuel_density * depression))
    return sqrt(4 * area / pi)
