"""Compression part of the cylinder check: the expected band at this altitude, agreement, and how it was taken."""

from typing import Annotated, NamedTuple

from service.answers.envelope import Answer, QuantityOut, Result, Rule
from service.answers.inputs import Altitude, Measured, Number, Request
from service.calculations import atmosphere, cranking
from service.calculations import cylinder_check as calculation
from service.errors import Contradiction
from service.quantities import DISTANCE, PERCENT, PRESSURE, Quantity, text_of

Band = tuple[float, float, float]

COMPRESSION_SPREAD = Rule(
    code="compression-spread",
    severity="fix",
    stage="after-run",
    rule="lowest cylinder below 80 % of the average (caution: more than 1.5 bar between best and worst)",
    reason="One cylinder works less and the others carry it; after a build it points to a valve, a ring or the lash.",
    remedy="Check the lash first, then a wet test on the low cylinder, then leak-down.",
    source="tm-1-1500-204-23-1",
    evidence="government",
)
COMPRESSION_OFF_BAND = Rule(
    code="compression-off-expected",
    severity="caution",
    stage="after-run",
    rule="gauge pressure outside the expected band at this altitude",
    reason="All low means cold, closed throttle, weak battery, late cam or unbedded rings; high means carbon, oil or ratio.",
    remedy="Repeat warm with open throttle and a full battery; compare with the ratio and cam that were built.",
    source="common-practice",
    evidence="common-practice",
)
LOW_NEIGHBOURS = Rule(
    code="low-neighbours",
    severity="fix",
    stage="after-run",
    rule="two neighbours both below 80 % of the mean of the others",
    reason="Two low neighbours share a leak: the joint or gasket between them, or a head that is warped or cracked.",
    remedy="Check the head nuts in their order, then take that head off and look at the joint.",
    source="common-practice",
    evidence="common-practice",
)
TEST_CONDITIONS = Rule(
    code="compression-test-conditions",
    severity="caution",
    stage="after-run",
    rule="compression taken cold, with the throttle shut, or with plugs in",
    reason="Each of these lowers the reading by a bar or more, and not alike on every cylinder.",
    remedy="Repeat warm, throttle and choke open, all plugs out, six or more compressions, same battery and gauge.",
    source="common-practice",
    evidence="common-practice",
)
CylinderNumber = Annotated[int, Number(1, 36, integer=True, example=3, meaning="Number of the cylinder.")]
GaugePressure = Annotated[
    Quantity, Measured("pressure", "0 .. 25 bar", "4 .. 14 bar", "9.2 bar", "Compression gauge, above the air outside.")
]


class ExpectedBand(Request):
    """What the maker, or this engine when it was sound, gives, and at which altitude."""

    low: GaugePressure
    high: GaugePressure
    altitude: Altitude | None = None


class WetTest(Request):
    """A cylinder read again with a spoon of oil in it."""

    cylinder: CylinderNumber
    gauge_pressure: GaugePressure


class Neighbours(Request):
    """Two cylinders that share a head or a joint."""

    first: CylinderNumber
    second: CylinderNumber


class Conditions(Request):
    """How the compression was taken."""

    warm: bool | None = None
    throttle_open: bool | None = None
    plugs_out: bool | None = None


class SpreadOut(Result):
    """How the cylinders agree."""

    mean: QuantityOut
    range: QuantityOut
    lowest_share_of_mean: QuantityOut
    agrees: bool


def expected_band(found: Answer, *, given: ExpectedBand | None, effective_ratio: float | None, station: float) -> Band | None:
    """Low, nominal and high gauge pressure in Pa at this air: of the maker, or from the effective ratio."""
    if given is not None:
        if given.low.si > given.high.si:
            raise Contradiction(("expected/low", "expected/high"), "The low end is above the high end; exchange them.")
        altitude = 0.0
        if given.altitude is None:
            reason = "The maker's figure is taken to be for sea level."
            found.assume("expected.altitude", DISTANCE(0.0), reason, "common-practice", "common-practice")
        else:
            altitude = given.altitude.si
        there = atmosphere.standard_pressure(altitude=altitude)
        found.rests_on(atmosphere.standard_pressure, calculation.compression_at_pressure)
        low, high = (
            calculation.compression_at_pressure(gauge_pressure=end.si, station_pressure=there, other_pressure=station)
            for end in (given.low, given.high)
        )
        return low, (low + high) / 2, high
    if effective_ratio is not None:
        computed = cranking_band(found, effective_ratio=effective_ratio, air=station)
        return max(computed.low, 0.0), max(computed.nominal, 0.0), max(computed.high, 0.0)
    found.cannot_check(COMPRESSION_OFF_BAND.code, ["effective_ratio"], "Or send the maker's band as expected.")
    return None


def cranking_band(found: Answer, *, effective_ratio: float, air: float) -> cranking.PressureBand:
    """What a gauge shows at cranking speed in air of this pressure in Pa, with what is assumed of it."""
    found.rests_on(cranking.cranking_pressure)
    exponent = f"Compression against cold walls at cranking speed, ± {cranking.EXPONENT_DEVIATION:g}."
    found.assume("exponent", cranking.EXPONENT, exponent, "common-practice", "common-practice")
    filling = f"Share of the air's pressure in the cylinder as the valve closes, ± {cranking.FILLING_DEVIATION:g}."
    found.assume("filling", cranking.FILLING, filling, "common-practice", "common-practice")
    return cranking.cranking_pressure(
        atmospheric_pressure=air,
        effective_ratio=effective_ratio,
        exponent=cranking.EXPONENT,
        exponent_deviation=cranking.EXPONENT_DEVIATION,
        filling=cranking.FILLING,
        filling_deviation=cranking.FILLING_DEVIATION,
    )


def check_conditions(found: Answer, *, conditions: Conditions | None) -> None:
    """Whether the readings were taken as they must be."""
    told = {} if conditions is None else conditions.model_dump(exclude_none=True)
    missing = [f"conditions.{name}" for name in Conditions.model_fields if name not in told]
    if missing:
        found.cannot_check(TEST_CONDITIONS.code, missing)
    wrong = [name for name, kept in told.items() if not kept]
    if wrong:
        words = {"warm": "cold", "throttle_open": "with the throttle shut", "plugs_out": "with plugs in"}
        found.find(
            TEST_CONDITIONS,
            [f"conditions.{name}" for name in wrong],
            f"Taken {' and '.join(words[name] for name in wrong)}: the readings are lower than they should be.",
        )


class Agreement(NamedTuple):
    """How the cylinders agree, and which of them, by number, stand out."""

    spread: calculation.CompressionSpread
    low: frozenset[int]
    """Below 80 % of the mean."""
    in_low_pair: frozenset[int]
    """Of two neighbours that are low together."""
    lowest: frozenset[int]
    """The lowest, where the cylinders do not agree."""


def agreement_of(found: Answer, *, pressures: list[float], neighbours: list[Neighbours]) -> Agreement | None:
    """How the cylinders agree, with the findings of spread and neighbours."""
    if len(pressures) < 2:
        why = "One cylinder has nothing to agree with; send the readings of all."
        found.cannot_check(COMPRESSION_SPREAD.code, [], why)
        return None
    spread = calculation.compression_spread(pressures=pressures)
    found.rests_on(calculation.compression_spread)
    lowest = [number for number, pressure in enumerate(pressures, start=1) if pressure == spread.lowest]
    check_spread(found, spread=spread, lowest=lowest)
    pairs: set[int] = set()
    if neighbours:
        found.rests_on(calculation.neighbours_share)
        for pair in neighbours:
            if check_neighbours(found, pressures=pressures, first=pair.first, second=pair.second):
                pairs |= {pair.first, pair.second}
    elif len(pressures) > 2:
        found.cannot_check(LOW_NEIGHBOURS.code, ["neighbours"])
    stand_out = frozenset() if spread.agrees else frozenset(lowest)
    return Agreement(spread, frozenset(spread.low_cylinders), frozenset(pairs), stand_out)


def check_spread(found: Answer, *, spread: calculation.CompressionSpread, lowest: list[int]) -> None:
    """Whether the cylinders agree within the manual's rule, and within the trade's; ``lowest`` are their numbers."""
    if spread.low_cylinders:
        numbers = ", ".join(map(str, spread.low_cylinders))
        found.find(
            COMPRESSION_SPREAD,
            [f"gauge_pressures.{number - 1}" for number in spread.low_cylinders],
            f"Cylinder {numbers}: below 80 % of the average {text_of(PRESSURE(spread.mean))}; the lowest has "
            f"{text_of(PERCENT(spread.lowest_share_of_mean))} of it.",
        )
    elif not spread.agrees:
        found.find(
            COMPRESSION_SPREAD,
            [f"gauge_pressures.{number - 1}" for number in lowest],
            f"Cylinder {', '.join(map(str, lowest))}: {text_of(PRESSURE(spread.range))} below the best; more than "
            f"{text_of(PRESSURE(calculation.LARGEST_RANGE))} is worth a second look.",
            severity="caution",
        )


def check_neighbours(found: Answer, *, pressures: list[float], first: int, second: int) -> bool:
    """Whether two neighbours are low together."""
    share = calculation.neighbours_share(pressures=pressures, first=first, second=second)
    low = share < calculation.LOWEST_SHARE_OF_MEAN
    if low:
        found.find(
            LOW_NEIGHBOURS,
            (f"gauge_pressures.{first - 1}", f"gauge_pressures.{second - 1}"),
            f"Cylinders {first} and {second} have at most {text_of(PERCENT(share))} of the others.",
        )
    return low


def spread_out(spread: calculation.CompressionSpread) -> dict[str, object]:
    """The spread as it is answered."""
    return {
        "mean": PRESSURE(spread.mean),
        "range": PRESSURE(spread.range),
        "lowest_share_of_mean": PERCENT(spread.lowest_share_of_mean),
        "agrees": spread.agrees,
    }


def check_band(found: Answer, *, pressures: list[float], expected: Band) -> None:
    """Whether the readings lie in the expected band; cylinders low and high are named apart."""
    places = [calculation.against_band(pressure=pressure, low=expected[0], high=expected[2]) for pressure in pressures]
    for side in ("below", "above"):
        numbers = [number for number, place in enumerate(places, start=1) if place == side]
        if numbers:
            named = f"Cylinder {', '.join(map(str, numbers))}" if len(numbers) < len(pressures) else "Every cylinder"
            found.find(
                COMPRESSION_OFF_BAND,
                [f"gauge_pressures.{number - 1}" for number in numbers],
                f"{named} {side} the expected {text_of(PRESSURE(expected[0]))} to {text_of(PRESSURE(expected[2]))}.",
                severity="caution" if side == "below" else "note",
            )
