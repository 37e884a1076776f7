"""Contact breaker: dwell as an angle, a share and a time, and what gap and dwell do to each other and to the timing."""

from math import acos, cos, pi, sqrt
from typing import NamedTuple

from service.errors import OutsideValidity
from service.methods import Example, method
from service.units import Angle, Duration, Length, Ratio, RotationalSpeed


class DwellBand(NamedTuple):
    """Dwell expected at another gap: for the usual shape of a cam, and for the shapes on either side of it."""

    low: Angle
    nominal: Angle
    high: Angle


def firing_interval(*, lobes: int) -> Angle:
    """Angle in rad of the breaker cam from one spark to the next: a turn over its lobes.

    Raises:
        OutsideValidity: there is no lobe.
    """
    if lobes < 1:
        raise OutsideValidity("lobes", "A breaker cam has at least one lobe.", "1 or more")
    return 2 * pi / lobes


@method(
    id="dwell-share",
    title="Dwell as a share of the firing interval",
    formula="d = θ/(2π/z)",
    symbols={"d": "share of the time with closed points", "θ": "dwell [rad, at the cam]", "z": "lobes"},
    source="geometry",
    locator="share of a turn over the number of lobes",
    evidence="standard",
    valid="dwell below the firing interval",
    example=Example({"dwell": 0.9075712, "lobes": 4}, 0.57778, by="by hand: 52°/90°"),
)
def dwell_share(*, dwell: Angle, lobes: int) -> Ratio:
    """Share of the time in which the points are closed.

    Raises:
        OutsideValidity: a dwell that is not positive or that leaves the points no time to open.
    """
    interval = firing_interval(lobes=lobes)
    if not 0 < dwell < interval:
        raise OutsideValidity(
            "dwell",
            f"With {lobes} lobes a cycle of the points is {interval * 180 / pi:.0f}°, so this dwell would never let "
            "them open and close. If the meter shows percent, send dwell_percent; if it is set for another number of "
            "cylinders, read that scale.",
            f"above 0 and below {interval * 180 / pi:.0f}°",
        )
    return dwell / interval


@method(
    id="dwell-from-share",
    title="Dwell angle from a percentage",
    formula="θ = d · 2π/z",
    symbols={"θ": "dwell [rad, at the cam]", "d": "share of the time with closed points", "z": "lobes"},
    source="geometry",
    locator="share of a turn over the number of lobes",
    evidence="standard",
    example=Example({"share": 0.5, "lobes": 4}, 0.7853982, by="by hand: half of 90° is 45°"),
)
def dwell_from_share(*, share: Ratio, lobes: int) -> Angle:
    """Dwell in rad of cam angle.

    Raises:
        OutsideValidity: a share outside 0 to 1.
    """
    if not 0 < share < 1:
        raise OutsideValidity(
            "dwell_percent", "Points are closed for more than none and less than all of the time.", "0 to 100 %"
        )
    return share * firing_interval(lobes=lobes)


@method(
    id="dwell-time",
    title="Time for the coil to charge",
    formula="t = θ/(i · ω)",
    symbols={"t": "time [s]", "θ": "dwell [rad, at the cam]", "i": "cam turns per crank turn", "ω": "crank speed [rad/s]"},
    source="geometry",
    locator="angle over angular speed",
    evidence="standard",
    example=Example(
        {"dwell": 0.8726646, "speed": 314.15927, "shaft_ratio": 0.5},
        5.5556e-3,
        by="by hand: 50°/(3 · 3000) s, since the distributor turns 3 n degrees per second",
    ),
)
def dwell_time(*, dwell: Angle, speed: RotationalSpeed, shaft_ratio: Ratio) -> Duration:
    """Time in s in which the points are closed.

    Raises:
        OutsideValidity: an engine or a cam that stands still.
    """
    if not speed >= 1:
        raise OutsideValidity("speed", "Dwell is a time only while the engine turns.", "at least 10 rpm")
    _check_turning(shaft_ratio)
    return dwell / (shaft_ratio * speed)


@method(
    id="dwell-timing-shift",
    title="Change of timing when the dwell changes",
    formula="Δφ = -Δθ/(2 i)",
    symbols={
        "Δφ": "change of advance [rad, crank]; negative is retard",
        "Δθ": "change of dwell [rad, at the cam]",
        "i": "cam turns per crank turn",
    },
    source="common-practice",
    locator="dwell first, timing second: one degree more dwell is one crank degree later",
    evidence="common-practice",
    valid="cam lobes of equal flanks: half of the change lies at the opening of the points",
    example=Example(
        {"dwell_change": 0.0523599, "shaft_ratio": 0.5}, -0.0523599, by="by hand: 3° more dwell, 3° later at the crank"
    ),
)
def dwell_timing_shift(*, dwell_change: Angle, shaft_ratio: Ratio) -> Angle:
    """Change of ignition advance in rad of crank angle.

    Raises:
        OutsideValidity: a cam that does not turn with the crank.
    """
    _check_turning(shaft_ratio)
    return -dwell_change / (2 * shaft_ratio)


@method(
    id="dwell-after-gap-change",
    title="Dwell at another points gap",
    formula="cos(z θₒ/2) = 1 - (g/g₀)(1 - cos(z θₒ₀/2)), θ = 2π/z - θₒ; band from θₒ ∝ g and θₒ ∝ √g",
    symbols={
        "g": "points gap at the top of the lobe [m]",
        "θₒ": "angle with open points [rad, at the cam]",
        "θ": "dwell [rad, at the cam]",
        "z": "lobes",
    },
    source="derived",
    locator="harmonic lobe through one known pair; the range of TM 10-3930-653-14&P (0.45-0.55 mm, 49-55°) agrees",
    evidence="derived",
    valid="small changes of gap; the shape of the lobe is assumed, so measure the dwell afterwards",
    example=Example(
        {"gap": 0.45e-3, "known_gap": 0.50e-3, "known_dwell": 0.9075712, "lobes": 4},
        {"nominal": 0.948},
        by="TM 10-3930-653-14&P: 0.45 mm goes with the upper end of 49-55°, 0.50 mm with the middle",
        rel_tol=0.02,
    ),
)
def dwell_after_gap_change(*, gap: Length, known_gap: Length, known_dwell: Angle, lobes: int) -> DwellBand:
    """Dwell in rad of cam angle at another gap, from one pair of gap and dwell of the same breaker.

    A smaller gap closes the points for longer. The band spans lobes with straight flanks and with a round nose.

    Raises:
        OutsideValidity: a gap that is not positive, or so wide that the points would never close.
    """
    for field, value in (("gap", gap), ("known_gap", known_gap)):
        if not value > 0:
            raise OutsideValidity(field, "Points have a gap above zero at the top of the lobe.", "> 0")
    interval = firing_interval(lobes=lobes)
    open_before = interval * (1 - dwell_share(dwell=known_dwell, lobes=lobes))
    growth = gap / known_gap
    cosine = 1 - growth * (1 - cos(lobes * open_before / 2))
    if not cosine > -1:
        raise OutsideValidity(
            "gap", "At this gap the points would never close on this cam; check the gap and its unit.", "a smaller gap"
        )
    opened = (2 / lobes * acos(cosine), open_before * growth, open_before * sqrt(growth))
    # A lobe that never lets the points close has no dwell, not a negative one.
    low, high = max(interval - max(opened), 0.0), interval - min(opened)
    return DwellBand(low, interval - opened[0], high)


def _check_turning(shaft_ratio: Ratio) -> None:
    if not 0.01 <= shaft_ratio <= 2:
        raise OutsideValidity("shaft_ratio", "The breaker cam turns once in two turns of the crank: send 0.5.", "0.01 to 2")
