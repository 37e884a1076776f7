"""Clearances at running temperature: bearings, pistons, rings."""

from math import pi
from typing import NamedTuple

from service.calculations.limits import require_not_negative, require_positive
from service.errors import OutsideValidity
from service.methods import Example, method
from service.units import Expansion, Length, Ratio, TemperatureDifference

# What must be left at the ring ends when ring and barrel are as hot as they get.
RING_GAP_RESERVE: Length = 0.05e-3


class RingGapBand(NamedTuple):
    """Ring gaps in m by the rule of the trade."""

    low: Length
    high: Length


def _check_expansion(field: str, value: Expansion) -> None:
    if not 0 <= value <= 1e-4:
        raise OutsideValidity(field, "Linear expansions lie within 0 and 100e-6 1/K; steel is near 12e-6.", "0 to 100e-6 1/K")


def _check_rise(field: str, value: TemperatureDifference) -> None:
    if not -100.0 <= value <= 400.0:
        raise OutsideValidity(field, "Send the rise above the temperature of measurement, −100 to 400 K.", "−100 to 400 K")


@method(
    id="hot-clearance",
    title="Diametral clearance at running temperature",
    formula="c_hot = (d + c)(1 + αo ΔTo) − d (1 + αi ΔTi)",
    symbols={
        "c": "cold diametral clearance [m]",
        "d": "diameter of the inner part [m]",
        "αo, αi": "expansion of the outer and the inner part [1/K]",
        "ΔTo, ΔTi": "their rise above the temperature of measurement [K]",
    },
    source="mechanics",
    locator="linear thermal expansion of bore and shaft",
    evidence="textbook",
    valid="parts free to grow, each at one temperature; a clamped shell follows its housing",
    example=Example(
        {
            "cold_clearance": 0.045e-3,
            "diameter": 0.055,
            "outer_expansion": 26.0e-6,
            "outer_temperature_rise": 73.0,
            "inner_expansion": 11.3e-6,
            "inner_temperature_rise": 73.0,
        },
        0.1041e-3,
        by="by hand: 0.045 + 55 · 14.7e-6 · 73 mm (magnesium case, steel journal)",
        rel_tol=2e-3,
    ),
)
def hot_clearance(
    *,
    cold_clearance: Length,
    diameter: Length,
    outer_expansion: Expansion,
    outer_temperature_rise: TemperatureDifference,
    inner_expansion: Expansion,
    inner_temperature_rise: TemperatureDifference,
) -> Length:
    """Diametral clearance in m with both parts hot; below zero the parts bind.

    Raises:
        OutsideValidity: the diameter is not positive, the cold clearance is negative, an expansion is not within 0 and
            100e-6 1/K or a rise not within −100 and 400 K.
    """
    require_positive(diameter=diameter)
    require_not_negative(cold_clearance=cold_clearance)
    _check_expansion("outer_expansion", outer_expansion)
    _check_expansion("inner_expansion", inner_expansion)
    _check_rise("outer_temperature_rise", outer_temperature_rise)
    _check_rise("inner_temperature_rise", inner_temperature_rise)
    outer = outer_expansion * outer_temperature_rise
    inner = inner_expansion * inner_temperature_rise
    # Written as a change, so that nothing is lost in the difference of two large diameters.
    return cold_clearance * (1.0 + outer) + diameter * (outer - inner)


@method(
    id="piston-clearance-swap",
    title="Cold clearance of another piston type by difference",
    formula="c_new = c_known + B (α_new − α_known) ΔT",
    symbols={
        "c_known": "cold clearance that is known to be right for the known piston [m]",
        "B": "bore [m]",
        "α": "effective expansion of the skirt [1/K]",
        "ΔT": "rise of the skirt [K]",
    },
    source="derived",
    locator="equal hot clearance at equal temperatures",
    evidence="derived",
    valid="same bore, barrel and load; the minimum of the piston's maker rules: profile and struts are not in it",
    example=Example(
        {
            "known_clearance": 0.045e-3,
            "bore": 0.086,
            "known_expansion": 16.0e-6,
            "new_expansion": 22.5e-6,
            "skirt_temperature_rise": 110.0,
        },
        0.10649e-3,
        by="by hand: 0.045 + 86 · 6.5e-6 · 110 mm",
    ),
)
def piston_clearance_swap(
    *,
    known_clearance: Length,
    bore: Length,
    known_expansion: Expansion,
    new_expansion: Expansion,
    skirt_temperature_rise: TemperatureDifference,
) -> Length:
    """Cold clearance in m at which the new piston runs with the hot clearance of the known one.

    Only the difference is worth anything: the absolute hot clearance depends on the skirt's profile. Never below
    zero.

    Raises:
        OutsideValidity: the bore or the known clearance is not positive, an expansion is not within 0 and 100e-6 1/K or
            the rise not within −100 and 400 K.
    """
    require_positive(bore=bore, known_clearance=known_clearance)
    _check_expansion("known_expansion", known_expansion)
    _check_expansion("new_expansion", new_expansion)
    _check_rise("skirt_temperature_rise", skirt_temperature_rise)
    return max(0.0, known_clearance + bore * (new_expansion - known_expansion) * skirt_temperature_rise)


@method(
    id="ring-gap-minimum",
    title="Smallest ring gap that stays open when hot",
    formula="gap = π B (αr ΔTr − αb ΔTb) + reserve",
    symbols={
        "B": "bore [m]",
        "αr, αb": "expansion of ring and barrel [1/K]",
        "ΔTr, ΔTb": "their rise above the temperature of measurement [K]",
        "reserve": "what is left between the ends, 0.05 mm",
    },
    source="mechanics",
    locator="growth of ring and bore along the circumference",
    evidence="derived",
    example=Example(
        {
            "bore": 0.086,
            "ring_expansion": 11.4e-6,
            "ring_temperature_rise": 240.0,
            "barrel_expansion": 11.4e-6,
            "barrel_temperature_rise": 140.0,
        },
        0.358e-3,
        by="by hand: π · 86 · 11.4e-6 · 100 + 0.05 mm",
        rel_tol=1e-3,
    ),
)
def ring_gap_minimum(
    *,
    bore: Length,
    ring_expansion: Expansion,
    ring_temperature_rise: TemperatureDifference,
    barrel_expansion: Expansion,
    barrel_temperature_rise: TemperatureDifference,
    reserve: Length = RING_GAP_RESERVE,
) -> Length:
    """Smallest cold ring gap in m, measured with the ring square in its own barrel; never below the reserve.

    Raises:
        OutsideValidity: the bore is not positive, the reserve is negative, an expansion is not within 0 and 100e-6 1/K
            or a rise not within −100 and 400 K.
    """
    require_positive(bore=bore)
    require_not_negative(reserve=reserve)
    _check_expansion("ring_expansion", ring_expansion)
    _check_expansion("barrel_expansion", barrel_expansion)
    _check_rise("ring_temperature_rise", ring_temperature_rise)
    _check_rise("barrel_temperature_rise", barrel_temperature_rise)
    growth = ring_expansion * ring_temperature_rise - barrel_expansion * barrel_temperature_rise
    return max(0.0, pi * bore * growth) + reserve


@method(
    id="ring-gap-rule",
    title="Ring gap by the rule of the trade",
    formula="0.0035 B … 0.0045 B",
    symbols={"B": "bore [m]"},
    source="common-practice",
    locator="about four thousandths of the bore for a top ring, naturally aspirated petrol; air-cooled high in the band",
    evidence="common-practice",
    valid="where the maker of the rings gives no figure",
    example=Example({"bore": 0.1}, {"low": 0.35e-3, "high": 0.45e-3}, by="by hand: 100 mm · 0.0035 and 0.0045"),
)
def ring_gap_rule(*, bore: Length, low: Ratio = 0.0035, high: Ratio = 0.0045) -> RingGapBand:
    """Band of ring gaps in m as a share of the bore.

    Raises:
        OutsideValidity: the bore is not positive or the shares are not in order.
    """
    require_positive(bore=bore)
    if not 0 < low < high:
        raise OutsideValidity("low", "The shares of the bore must be above zero and in order.", "0 < low < high")
    return RingGapBand(low * bore, high * bore)
