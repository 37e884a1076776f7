"""Where the spark goes: total advance, the advance curve, and what a timing light shows.

The distance of a mark on the pulley is the geometry of ``dead_centre``: one way from degrees to millimetres for both.
"""

from collections.abc import Sequence
from itertools import pairwise
from math import pi
from typing import NamedTuple

from service.errors import Contradiction, OutsideValidity
from service.methods import Example, method
from service.units import Angle, Ratio, RotationalSpeed

DEGREE = pi / 180
MOST_TOTAL = 50 * DEGREE
"""No engine of this kind takes more advance; such a figure is another angle."""


class CurvePoint(NamedTuple):
    """One point of an advance curve: speed of a shaft and the advance that the weights add there."""

    speed: RotationalSpeed
    advance: Angle


class LightReading(NamedTuple):
    """What the timing light really saw: crank advance before top dead centre and crank speed over shown speed."""

    advance: Angle
    speed_ratio: Ratio


@method(
    id="total-advance",
    title="Total ignition advance",
    formula="φ_total = φ_static + φ_weights/i, with i = 1/2 for a distributor at half crank speed",
    symbols={
        "φ_static": "advance at rest [rad, crank]",
        "φ_weights": "advance that the weights add [rad, at their shaft]",
        "i": "turns of that shaft per turn of the crank",
    },
    source="common-practice",
    locator="crank degrees are twice distributor degrees; vacuum unit off",
    evidence="common-practice",
    valid="up to 50° of crank angle",
    example=Example(
        {"static_advance": 0.130900, "weight_advance": 0.191986, "shaft_ratio": 0.5},
        0.514872,
        by="by hand: 7.5° + 2 · 11° = 29.5°",
    ),
)
def total_advance(*, static_advance: Angle, weight_advance: Angle, shaft_ratio: Ratio) -> Angle:
    """Total advance in rad of crank angle before top dead centre, with the vacuum unit off.

    Raises:
        OutsideValidity: a shaft that does not turn, or a total above 50°.
    """
    total = static_advance + weight_advance / _turning(shaft_ratio)
    if not total <= MOST_TOTAL:
        raise OutsideValidity(
            "total_advance",
            f"A total of {total / DEGREE:.0f}° is more than any such engine takes; say whether the figures are "
            "crank or distributor degrees (1 at the distributor is 2 at the crank).",
            "at most 50° of crank angle",
        )
    return total


@method(
    id="advance-curve",
    title="Advance curve at the crank",
    formula="n_crank = n_shaft/i, φ_crank = φ_static + φ_shaft/i, straight between the points and level outside them",
    symbols={"n": "speed [rad/s]", "φ": "advance [rad]", "i": "turns of the shaft per turn of the crank"},
    source="common-practice",
    locator="weights and springs: straight between the kinks, level before the first and after the stop",
    evidence="common-practice",
    valid="speeds that rise from point to point",
    example=Example(
        {
            "points": (CurvePoint(52.36, 0.0), CurvePoint(157.08, 0.191986)),
            "static_advance": 0.130900,
            "shaft_ratio": 0.5,
            "speed": 209.44,
        },
        0.322886,
        by="by hand: half way from 1000 to 3000 crank rpm, 7.5° + 11°",
    ),
)
def advance_at(*, points: Sequence[CurvePoint], static_advance: Angle, shaft_ratio: Ratio, speed: RotationalSpeed) -> Angle:
    """Advance in rad of crank angle at a crank speed, from points taken at a shaft of the given ratio.

    Raises:
        OutsideValidity: no points, speeds that do not rise, or a total above 50°.
    """
    if not points:
        raise OutsideValidity("curve", "A curve needs at least one point of speed and advance.", "1 point or more")
    for index, (before, after) in enumerate(pairwise(points), start=1):
        if not after.speed - before.speed > 1e-6:
            raise OutsideValidity(
                f"curve/{index}/speed", "The speeds of a curve rise from point to point.", "above the point before"
            )
    shaft_speed = speed * _turning(shaft_ratio)
    if shaft_speed <= points[0].speed:
        added = points[0].advance
    elif shaft_speed >= points[-1].speed:
        added = points[-1].advance
    else:
        index = next(i for i, point in enumerate(points) if point.speed > shaft_speed)
        low, high = points[index - 1], points[index]
        added = low.advance + (high.advance - low.advance) * (shaft_speed - low.speed) / (high.speed - low.speed)
    return total_advance(static_advance=static_advance, weight_advance=added, shaft_ratio=shaft_ratio)


@method(
    id="timing-light",
    title="True advance from a timing light",
    formula="φ = φ_mark + φ_dial · (1/2 where the spark is wasted and the light counts every spark, else 1)",
    symbols={"φ_mark": "mark seen at the pointer [rad]", "φ_dial": "setting of the dial-back knob [rad]"},
    source="common-practice",
    locator="a dial-back light delays its flash by a share of the time between sparks and takes that for two turns",
    evidence="common-practice",
    valid="four-stroke engines; 0 to 60° on the dial",
    example=Example(
        {"mark": 0.0, "dial": 0.977384, "wasted_spark": True},
        {"advance": 0.488692, "speed_ratio": 0.5},
        by="by hand: 56° on the dial is 28° at the crank when every turn has a spark",
    ),
)
def timing_light(*, mark: Angle, dial: Angle, wasted_spark: bool) -> LightReading:
    """Advance in rad of crank angle, and the crank speed as a share of the one that the light shows.

    The dial is a delay. A light made for one spark in two turns takes the spark of every turn of a wasted-spark coil
    for that, shows twice the speed, and so delays by half the crank angle that its dial says.

    Raises:
        Contradiction: a dial turned on both a mark and a knob so far that the sum is no advance of an engine.
    """
    factor = 0.5 if wasted_spark else 1.0
    advance = mark + dial * factor
    if not abs(advance) <= 2 * MOST_TOTAL:
        raise Contradiction(("mark", "dial"), "Mark and dial together give no advance that an engine can have.")
    return LightReading(advance, factor)


def _turning(shaft_ratio: Ratio) -> Ratio:
    if not 0.01 <= shaft_ratio <= 2:
        raise OutsideValidity(
            "shaft_ratio",
            "The distributor turns once in two turns of the crank: send 0.5, or 1 on the crank itself.",
            "0.01 to 2",
        )
    return shaft_ratio
