"""Valve lash and temperature: why the cold figure depends on the push rod, and what a change of it asks for.

The clearance at a valve opens as case, barrel and head grow (the rocker's pivot moves out) and as the head grows from
seat to pivot; it closes as cam, tappet and push rod grow, and as the valve grows. A light-alloy case and head grow
about as much as an aluminium push rod and faster than a steel one.
"""

from dataclasses import dataclass
from math import sqrt
from typing import NamedTuple

from service.calculations.expansion import Segment, part_growth
from service.errors import OutsideValidity
from service.methods import Example, method
from service.units import Expansion, Length, Ratio, Temperature, TemperatureDifference


@dataclass(frozen=True, slots=True)
class ValveChain:
    """Everything between camshaft and valve seat that grows, for one valve.

    ``support``: cam bearing to rocker pivot (case, barrel, head). ``drive``: cam to rocker (base circle, tappet, push
    rod). ``seat``: valve seat to rocker pivot (head). ``valve``: seat to stem tip.
    """

    rocker_ratio: Ratio
    support: tuple[Segment, ...]
    drive: tuple[Segment, ...]
    seat: tuple[Segment, ...]
    valve: tuple[Segment, ...]


class ClearanceChange(NamedTuple):
    """Change of the clearance at the valve from cold to running, + opens it, with its share by body."""

    change: Length
    standard_uncertainty: Length
    bodies: tuple[tuple[str, Length], ...]


class SwapLash(NamedTuple):
    """Cold lash after a change of push-rod material."""

    computed: Length
    """Reference lash and difference; negative where even zero lash leaves more than before."""
    setting: Length
    difference: Length
    standard_uncertainty: Length
    hot_change: Length
    """How much wider the hot clearance is than it was with the old rods, at the setting."""


class ColdLash(NamedTuple):
    """Cold lash that leaves a wanted hot clearance; ``setting`` cannot be less than zero."""

    computed: Length
    setting: Length


def _weighted(chain: ValveChain) -> list[tuple[Segment, float]]:
    """Each segment with the clearance at the valve that a metre of its growth opens."""
    return [
        *((segment, chain.rocker_ratio) for segment in chain.support),
        *((segment, -chain.rocker_ratio) for segment in chain.drive),
        *((segment, 1.0) for segment in chain.seat),
        *((segment, -1.0) for segment in chain.valve),
    ]


@method(
    id="lash-change-by-growth",
    title="Change of valve clearance from cold to running",
    formula="ΔL = R · (Σ support − Σ drive) + (Σ seat − Σ valve), each L · α · (T − T_set)",
    symbols={
        "ΔL": "change of the clearance at the valve, + opens [m]",
        "R": "rocker ratio",
        "support": "case, barrel and head from cam bearing to rocker pivot",
        "drive": "cam base circle, tappet and push rod",
        "seat": "head from valve seat to rocker pivot",
        "valve": "valve from seat to stem tip",
    },
    source="callister-2007",
    locator="linear expansion, Appendix Table B.6, along the chain of parts",
    evidence="derived",
    valid="steady running; temperatures are assumed to 12 %, so the answer is good to about 0.1 mm",
    example=Example(
        {
            "chain": ValveChain(
                1.0,
                (Segment("head", 0.1, 21.5e-6, 393.15), Segment("barrel", 0.12, 11.4e-6, 443.15)),
                (Segment("push rod", 0.22, 12.3e-6, 383.15),),
                (),
                (),
            ),
            "setting_temperature": 293.15,
            "temperature_deviation": 0.12,
            "expansion_deviation": 0.03,
        },
        {"change": 0.17666e-3},
        by="by hand: 0.1·21.5·100 + 0.12·11.4·150 − 0.22·12.3·90 µm",
    ),
)
def lash_change(
    *,
    chain: ValveChain,
    setting_temperature: Temperature,
    temperature_deviation: Ratio,
    expansion_deviation: Ratio,
) -> ClearanceChange:
    """Change in m, with its standard uncertainty.

    ``temperature_deviation`` and ``expansion_deviation`` are relative standard uncertainties of the rise in temperature
    and of the coefficient. Pieces of one body share both errors; bodies are independent of each other.

    Raises:
        OutsideValidity: the rocker ratio is not positive, or a deviation is negative.
    """
    if chain.rocker_ratio <= 0:
        raise OutsideValidity("rocker_ratio", "The rocker ratio must be above zero, such as 1.1.", "> 0")
    if temperature_deviation < 0 or expansion_deviation < 0:
        raise OutsideValidity("temperature_deviation", "An uncertainty is zero or more.", "≥ 0")
    bodies: dict[str, float] = {}
    for segment, leverage in _weighted(chain):
        growth = part_growth(
            length=segment.length,
            expansion=segment.expansion,
            temperature_change=segment.temperature - setting_temperature,
        )
        name = segment.body or segment.name
        bodies[name] = bodies.get(name, 0.0) + leverage * growth
    squares = sum(growth * growth for growth in bodies.values())
    relative = sqrt(temperature_deviation * temperature_deviation + expansion_deviation * expansion_deviation)
    return ClearanceChange(sum(bodies.values()), sqrt(squares) * relative, tuple(bodies.items()))


@method(
    id="lash-frost-rate",
    title="Change of valve clearance per degree when the whole engine is equally cold",
    formula="dL/dT = R · (Σ L α support − Σ L α drive) + (Σ L α seat − Σ L α valve)",
    symbols={"dL/dT": "change of the clearance per degree of the whole engine [m/K]", "R": "rocker ratio"},
    source="callister-2007",
    locator="linear expansion, Appendix Table B.6, along the chain of parts",
    evidence="derived",
    example=Example(
        {
            "chain": ValveChain(
                1.0,
                (Segment("head", 0.1, 21.5e-6, 393.15), Segment("barrel", 0.12, 11.4e-6, 443.15)),
                (Segment("push rod", 0.22, 12.3e-6, 383.15),),
                (),
                (),
            )
        },
        0.812e-6,
        by="by hand: 0.1·21.5 + 0.12·11.4 − 0.22·12.3 µm/K",
        rel_tol=1e-6,
    ),
)
def lash_change_per_kelvin(*, chain: ValveChain) -> float:
    """Change of the clearance in m per kelvin of the whole engine, running temperatures left aside."""
    return sum(leverage * segment.length * segment.expansion for segment, leverage in _weighted(chain))


@method(
    id="lash-after-swap",
    title="Cold lash after a change of push-rod material",
    formula="lash = lash_ref − R · L · ΔT · (α_ref − α_new)",
    symbols={
        "lash": "cold lash [m]",
        "lash_ref": "the maker's cold lash with the old push rods [m]",
        "R": "rocker ratio",
        "L": "length of the push rod [m]",
        "ΔT": "rise of the push rod's temperature from setting to running [K]",
        "α": "expansion of the new and of the old material [1/K]",
    },
    source="derived",
    locator="difference of two engines that are alike but for the push rod: all other growth cancels",
    evidence="derived",
    valid="same length of push rod; everything else left as it was",
    example=Example(
        {
            "reference_lash": 0.15e-3,
            "rocker_ratio": 1.1,
            "rod_length": 0.25,
            "reference_expansion": 23.4e-6,
            "expansion": 12.3e-6,
            "temperature_rise": 75.0,
            "temperature_deviation": 0.12,
            "expansion_deviation": 0.03,
        },
        {"computed": -0.07894e-3, "setting": 0.0, "difference": -0.22894e-3, "standard_uncertainty": 0.03197e-3},
        by="by hand: 0.15 − 1.1·250·75·11.1e-6 mm; √((0.2289·0.12)² + (20.625e3·0.03)²·(23.4² + 12.3²)·1e-12) mm",
        rel_tol=2e-3,
    ),
)
def lash_after_swap(
    *,
    reference_lash: Length,
    rocker_ratio: Ratio,
    rod_length: Length,
    reference_expansion: Expansion,
    expansion: Expansion,
    temperature_rise: TemperatureDifference,
    temperature_deviation: Ratio,
    expansion_deviation: Ratio,
) -> SwapLash:
    """Cold lash in m that keeps the hot clearance of the old push rods, and what setting it leads to.

    Raises:
        OutsideValidity: the reference lash is negative, or rod length or rocker ratio is not positive.
    """
    if reference_lash < 0:
        raise OutsideValidity("reference_lash", "Lash is a gap: zero or more.", "≥ 0")
    if rod_length <= 0 or rocker_ratio <= 0:
        field = "rod_length" if rod_length <= 0 else "rocker_ratio"
        raise OutsideValidity(field, "Push-rod length and rocker ratio must be above zero.", "> 0")
    reach = rocker_ratio * rod_length * temperature_rise
    # The rod closes the clearance as it grows: one that grows less asks for less lash.
    difference = reach * (expansion - reference_expansion)
    by_temperature = difference * temperature_deviation
    by_expansion = reach * expansion_deviation * sqrt(expansion * expansion + reference_expansion * reference_expansion)
    computed = reference_lash + difference
    setting = max(0.0, computed)
    return SwapLash(
        computed,
        setting,
        difference,
        sqrt(by_temperature * by_temperature + by_expansion * by_expansion),
        setting - computed,
    )


@method(
    id="lash-for-hot-clearance",
    title="Cold lash that leaves a wanted hot clearance",
    formula="lash = max(0, c_hot − ΔL)",
    symbols={
        "lash": "cold lash [m]",
        "c_hot": "clearance wanted when running [m]",
        "ΔL": "change of the clearance from cold to running [m]",
    },
    source="derived",
    locator="definition of the change; a lash cannot be negative",
    evidence="derived",
    example=Example(
        {"hot_clearance": 0.10e-3, "change": -0.178e-3},
        {"computed": 0.278e-3, "setting": 0.278e-3},
        by="by hand: 0.10 + 0.178 mm",
    ),
)
def lash_for_hot_clearance(*, hot_clearance: Length, change: Length) -> ColdLash:
    """Cold lash in m; where ``computed`` is negative, zero lash already leaves more than is wanted.

    Raises:
        OutsideValidity: a negative hot clearance is asked for.
    """
    if hot_clearance < 0:
        raise OutsideValidity("hot_clearance", "A negative hot clearance is a valve held open. Send zero or more.", "≥ 0")
    computed = hot_clearance - change
    return ColdLash(computed, max(0.0, computed))


def chain_gap(*, chain: ValveChain) -> Length:
    """By how much in m the two sides of the chain fail to close: both span the distance from cam to rocker pivot.

    The push rod leans, tappet bore and rocker cup are not points: up to some 15 mm are no error.
    """
    return abs(sum(segment.length for segment in chain.support) - sum(segment.length for segment in chain.drive))
