"""Compression readings: against the expected band, against each other, at another altitude, dry and wet."""

from collections.abc import Sequence
from typing import Literal, NamedTuple, TypeAlias

from service.calculations.limits import require_not_negative, require_positive
from service.errors import Contradiction, OutsideValidity
from service.methods import Example, method
from service.units import Pressure, Ratio

LOWEST_SHARE_OF_MEAN: Ratio = 0.80
LARGEST_RANGE: Pressure = 150_000.0  # between best and worst cylinder
WET_TEST_GAIN: Pressure = 150_000.0  # more than a spoon of oil adds by filling the chamber

Band: TypeAlias = Literal["below", "within", "above"]
WetTest: TypeAlias = Literal["rings", "valve-or-gasket", "repeat"]


class CompressionSpread(NamedTuple):
    """How the cylinders of one engine agree, all gauge pressures in Pa."""

    mean: Pressure
    lowest: Pressure
    highest: Pressure
    range: Pressure
    lowest_share_of_mean: Ratio
    low_cylinders: tuple[int, ...]
    """Numbers, from 1, of the cylinders below 80 % of the mean."""
    agrees: bool
    """Lowest at least 80 % of the mean and no more than 1.5 bar between best and worst."""


@method(
    id="compression-spread",
    title="Agreement of the cylinders in a compression test",
    formula="min p ≥ 0.80 · mean p and max p − min p ≤ 1.5 bar",
    symbols={"p": "gauge pressure of a cylinder [Pa]"},
    source="tm-1-1500-204-23-1",
    locator="compression test: no cylinder 20 % below the average; the 1.5 bar are common practice",
    evidence="government",
    valid="all taken alike: warm, throttle open, all plugs out, same battery, same gauge",
    example=Example(
        {"pressures": (9.0e5, 9.5e5, 9.0e5, 6.5e5)},
        {"mean": 8.5e5, "lowest": 6.5e5, "highest": 9.5e5, "range": 3.0e5, "lowest_share_of_mean": 0.764706},
        by="by hand: 34.0/4 and 6.5/8.5",
    ),
)
def compression_spread(*, pressures: Sequence[Pressure]) -> CompressionSpread:
    """Agreement of the cylinders from their gauge pressures in Pa, in the order of their numbers.

    Raises:
        OutsideValidity: fewer than two cylinders, a negative reading, or none that holds pressure.
    """
    if len(pressures) < 2:
        raise OutsideValidity("gauge_pressures", "A spread needs the readings of at least two cylinders.", "≥ 2 readings")
    for pressure in pressures:
        require_not_negative(gauge_pressures=pressure)
    mean = sum(pressures) / len(pressures)
    if not mean > 0:
        raise OutsideValidity(
            "gauge_pressures",
            "No cylinder shows any pressure; check that the gauge holds its reading and the starter turns the engine.",
            "> 0",
        )
    lowest, highest = min(pressures), max(pressures)
    # A share that is 0.8 by the readings must not fail by the last bit of the division.
    limit = LOWEST_SHARE_OF_MEAN * mean * (1 - 1e-12)
    low = tuple(number for number, pressure in enumerate(pressures, start=1) if pressure < limit)
    agrees = not low and highest - lowest <= LARGEST_RANGE * (1 + 1e-12)
    return CompressionSpread(mean, lowest, highest, highest - lowest, lowest / mean, low, agrees)


@method(
    id="compression-at-altitude",
    title="Compression reading at another air pressure",
    formula="p₂ = (p₁ + p_a1) · p_a2/p_a1 − p_a2 = p₁ · p_a2/p_a1",
    symbols={"p": "gauge reading [Pa]", "p_a1": "station pressure of the reading [Pa]", "p_a2": "the other one [Pa]"},
    source="derived",
    locator="absolute pressures in proportion at the same compression and leakage",
    evidence="derived",
    example=Example(
        {"gauge_pressure": 9.3e5, "station_pressure": 101325.0, "other_pressure": 84556.0},
        7.761e5,
        by="by hand: 9.3 · 84.556/101.325 bar",
    ),
)
def compression_at_pressure(*, gauge_pressure: Pressure, station_pressure: Pressure, other_pressure: Pressure) -> Pressure:
    """Gauge reading in Pa that the same engine would give where the air has another absolute pressure.

    Raises:
        OutsideValidity: the reading is negative or an air pressure not positive.
    """
    require_not_negative(gauge_pressure=gauge_pressure)
    require_positive(station_pressure=station_pressure, other_pressure=other_pressure)
    return gauge_pressure * other_pressure / station_pressure


@method(
    id="vacuum-at-altitude",
    title="Idle vacuum at another air pressure",
    formula="v₂ = v₁ · p_a2/p_a1",
    symbols={"v": "vacuum below the air outside [Pa]", "p_a1": "station pressure of the figure [Pa]", "p_a2": "other [Pa]"},
    source="derived",
    locator="the engine needs about the same share of the air outside",
    evidence="derived",
    valid="steady idle, same throttle flow",
    example=Example(
        {"vacuum": 17.0, "station_pressure": 101325.0, "other_pressure": 84556.0},
        14.19,
        by="by hand: 17 · 84.556/101.325 inHg",
        rel_tol=3e-4,
    ),
)
def vacuum_at_pressure(*, vacuum: Pressure, station_pressure: Pressure, other_pressure: Pressure) -> Pressure:
    """Idle vacuum, in the unit that it comes in, where the air has another absolute pressure in Pa.

    Raises:
        OutsideValidity: the vacuum is negative, above the air pressure, or an air pressure not positive.
    """
    require_not_negative(vacuum=vacuum)
    require_positive(station_pressure=station_pressure, other_pressure=other_pressure)
    if vacuum > station_pressure:
        raise OutsideValidity(
            "vacuum",
            "A vacuum cannot exceed the pressure of the air outside; send the depression that the gauge shows.",
            "0 … station_pressure",
        )
    return vacuum * other_pressure / station_pressure


def against_band(*, pressure: Pressure, low: Pressure, high: Pressure) -> Band:
    """Where a gauge pressure lies against the expected band, all in Pa.

    Raises:
        Contradiction: the band is upside down.
    """
    if low > high:
        raise Contradiction(("low", "high"), "The low end of the band is above its high end; exchange them.")
    # The ends belong to the band, also after a conversion has moved them by a last bit.
    if pressure < low * (1 - 1e-9):
        return "below"
    return "above" if pressure > high * (1 + 1e-9) else "within"


class WetReading(NamedTuple):
    """What a spoon of oil in a cylinder changed, as a gauge pressure in Pa, and what it points to."""

    gain: Pressure
    points_to: WetTest


@method(
    id="wet-compression-test",
    title="Wet compression test",
    formula="p_wet − p_dry ≥ 1.5 bar: rings or bore; less: a valve or the head joint",
    symbols={"p": "gauge pressure [Pa]"},
    source="common-practice",
    locator="compression test with a spoon of oil, about 5 cm³",
    evidence="common-practice",
    valid="taken alike at once after the dry reading; oil on a domed or horizontal piston may miss part of the rings",
    example=Example({"dry": 6.0e5, "wet": 8.5e5}, {"gain": 2.5e5}, by="by hand: 8.5 − 6.0 bar"),
)
def wet_test(*, dry: Pressure, wet: Pressure) -> WetReading:
    """What a spoon of oil in a low cylinder tells, from gauge pressures in Pa before and after.

    Oil seals rings for a few turns: a gain of 1.5 bar or more points to rings or bore, less to a valve or the head joint.
    A reading that falls by more than that was not taken alike and has to be repeated.

    Raises:
        OutsideValidity: a reading is negative.
    """
    require_not_negative(dry=dry, wet=wet)
    gain = wet - dry
    if gain >= WET_TEST_GAIN * (1 - 1e-12):
        return WetReading(gain, "rings")
    return WetReading(gain, "repeat" if gain < -WET_TEST_GAIN else "valve-or-gasket")


@method(
    id="low-neighbours",
    title="Two neighbours low against the others",
    formula="s = max(p_i, p_j) / mean of the others; below 0.80 the joint between them leaks",
    symbols={"s": "share", "p_i, p_j": "gauge pressures of the neighbours [Pa]"},
    source="common-practice",
    locator="compression test, two adjacent cylinders low: head joint or gasket between them",
    evidence="common-practice",
    valid="cylinders that share a head or joint, with at least one other cylinder to compare with",
    example=Example({"pressures": (9.0e5, 9.0e5, 5.0e5, 5.4e5), "first": 3, "second": 4}, 0.6, by="by hand: 5.4/9.0"),
)
def neighbours_share(*, pressures: Sequence[Pressure], first: int, second: int) -> Ratio:
    """Better one of two neighbours over the mean of all the other cylinders.

    The others are the measure because two low cylinders of four pull the mean of all down and so hide themselves.

    Args:
        pressures: Gauge pressures in Pa in the order of the cylinder numbers.
        first: Number, from 1, of one cylinder.
        second: Number of its neighbour.

    Raises:
        OutsideValidity: a number that is not a cylinder, a cylinder paired with itself, or no other that holds pressure.
    """
    count = len(pressures)
    if first == second or not 1 <= first <= count or not 1 <= second <= count:
        raise OutsideValidity(
            "neighbours",
            "Each pair names two different cylinders of those that were measured, numbered from 1.",
            f"1 … {count}",
        )
    others = [pressure for number, pressure in enumerate(pressures, start=1) if number not in (first, second)]
    if not sum(others) > 0:
        raise OutsideValidity(
            "neighbours", "A pair is judged against the other cylinders; at least one of them must hold pressure.", ""
        )
    return max(pressures[first - 1], pressures[second - 1]) * len(others) / sum(others)
