"""The break-in run as set points: every speed band visited over and over in an even, wandering order, and none held long.

The band between two speeds is cut into equal bands. They are visited in van der Corput's order, so that neighbouring
holds lie far apart and a run that is stopped at any moment has covered the whole band evenly; every second cycle goes
the order mirrored. All cycles are whole where the time allows it, so that every band gets the same number of holds.
"""

from math import ceil, floor
from typing import NamedTuple

from service.calculations.break_in_limits import RPM
from service.errors import Contradiction, OutsideValidity
from service.methods import Example, method
from service.units import Duration, Ratio, RotationalAcceleration, RotationalSpeed

FLAT_TAPPET_FLOOR = 1500 * RPM
"""No flat tappet is run in below this speed: the nose load is highest and the splash smallest at low speed."""

ROLLER_FLOOR: RotationalSpeed = 1000 * RPM
HIGHEST_SPEED: RotationalSpeed = 4500 * RPM
SHARE_OF_REV_LIMIT: Ratio = 0.8
NARROWEST: RotationalSpeed = 200 * RPM  # the least distance of the upper speed from the lower
NARROWEST_BAND: RotationalSpeed = 100 * RPM
SAME_SPEED: RotationalSpeed = 75 * RPM  # speeds within this of each other count as one dwell
SHORTEST_HOLD: Duration = 10.0  # wider bands are taken rather than shorter holds
TOUCH: Duration = 1.0  # how long the upper end of the band is held when it is only touched
ROUNDING: Duration = 2.0  # kept free of the longest dwell, so that set points can start on whole seconds
SHORTEST_ROOM: Duration = 0.5  # the least hold that a slow ramp must leave within the longest dwell


class Segment(NamedTuple):
    """One set point: go from one speed to the next at a steady rate and stay there until the segment ends.

    Attributes:
        start: Start in s, from the start of the run.
        duration: Duration in s, the ramp included.
        from_speed: Speed in rad/s at the start.
        speed: Speed in rad/s at the end: the set point.
        ramp: Time in s that the change of speed takes.
        band: Index of the speed band from the bottom, −1 outside the run.
    """

    start: Duration
    duration: Duration
    from_speed: RotationalSpeed
    speed: RotationalSpeed
    ramp: Duration
    band: int

    @property
    def hold(self) -> Duration:
        """Time in s at the set point."""
        return self.duration - self.ramp


class Body(NamedTuple):
    """The run between first fire and cool-down.

    Attributes:
        segments: The set points in order.
        edges: Edges of the speed bands in rad/s, one more than there are bands.
        hold: The usual hold in s; single ones differ by up to a second so that set points start on whole seconds.
    """

    segments: tuple[Segment, ...]
    edges: tuple[RotationalSpeed, ...]
    hold: Duration


@method(
    id="break-in-visiting-order",
    title="Order in which the speed bands are visited",
    formula="φ(k) = Σ d_j 2^(−j−1) with k = Σ d_j 2^j; bands in the order of 2^m φ(k), without those ≥ n; then n − 1 − b",
    symbols={"k": "number of the visit", "d_j": "its binary digits", "m": "digits of n − 1", "n": "number of bands"},
    source="van-der-corput-1935",
    locator="radical inverse in base 2",
    evidence="from-memory",
    valid="whole numbers from zero",
    example=Example({"visit": 6}, 0.375, by="by hand: 6 = 110₂, mirrored at the point 0.011₂ = 3/8"),
)
def radical_inverse(*, visit: int) -> Ratio:
    """Van der Corput's number of a visit, from 0 to 1: its binary digits mirrored at the point.

    Raises:
        OutsideValidity: the number of the visit is negative.
    """
    if visit < 0:
        raise OutsideValidity("visit", "Visits are counted from zero.", "≥ 0")
    return int(f"{visit:b}"[::-1], 2) / (1 << max(1, visit.bit_length()))


def visiting_order(*, bands: int, cycles: int) -> list[int]:
    """Bands in the order of their visits; each cycle visits every band once and never the one just left.

    Raises:
        OutsideValidity: fewer than two bands or no cycle.
    """
    if bands < 2 or cycles < 1:
        raise OutsideValidity("band_width", "The run needs at least two speed bands; send a narrower band width.", "≥ 2")
    places = 2 ** (bands - 1).bit_length()
    straight = [band for visit in range(places) if (band := int(places * radical_inverse(visit=visit))) < bands]
    mirrored = [bands - 1 - band for band in straight]
    order: list[int] = []
    for cycle in range(cycles):
        visits = mirrored if cycle % 2 else straight
        if order and order[-1] == visits[0]:
            visits = visits[1:] + visits[:1]
        order.extend(visits)
    return order


@method(
    id="break-in-remaining-time",
    title="Break-in time still to run",
    formula="t = max(0, t_required − Σ t_credited)",
    symbols={"t": "remaining time [s]", "t_credited": "credited time of one run [s]"},
    source="common-practice",
    locator="a stopped run is continued, never made up by longer holds",
    evidence="common-practice",
    example=Example({"required": 1200.0, "credited": 840.0}, 360.0, by="by hand: 20 min − 14 min"),
)
def remaining_time(*, required: Duration, credited: Duration) -> Duration:
    """Time in s that the next run has to fill.

    Raises:
        OutsideValidity: a time is negative.
    """
    if not credited >= 0:
        raise OutsideValidity("credited", "The credited time cannot be negative; send zero for a first run.", "≥ 0")
    if not required > 0:
        raise OutsideValidity("duration", "The break-in time must be above zero, such as 20 min.", "> 0")
    return max(0.0, required - credited)


def check_band(
    *,
    speed_low: RotationalSpeed,
    speed_high: RotationalSpeed,
    flat_tappet: bool,
    rev_limit: RotationalSpeed | None = None,
) -> None:
    """Refuse a speed band that would harm the engine or that leaves no room to change speed.

    Raises:
        OutsideValidity: the band is too low for flat tappets, too high to run without load, or above the rev limit.
        Contradiction: the ends are swapped or too close together.
    """
    slack = 1e-9
    lowest = FLAT_TAPPET_FLOOR if flat_tappet else ROLLER_FLOOR
    if speed_low < lowest - slack:
        reason = (
            "Flat tappets are never run in below 1500 rpm: the load on the cam's nose is highest and the oil splash "
            "smallest at low speed. Send 2000 rpm, or what the cam's maker asks."
            if flat_tappet
            else "Below 1000 rpm little oil reaches barrels and rockers. Send 1200 rpm."
        )
        raise OutsideValidity("speed_low", reason, "≥ 1500 rpm" if flat_tappet else "≥ 1000 rpm")
    if speed_high > HIGHEST_SPEED + slack:
        reason = "Without load the run-in stays at or below 4500 rpm; send 2800 rpm, or up to 4000 rpm if you must."
        raise OutsideValidity("speed_high", reason, "≤ 4500 rpm")
    if rev_limit is not None and speed_high > SHARE_OF_REV_LIMIT * rev_limit + slack:
        reason = "The upper speed must stay within 80 % of the rev limit; send a lower one, or the right rev limit."
        raise Contradiction(("speed_high", "rev_limit"), reason)
    if speed_high - speed_low < NARROWEST - slack:
        reason = (
            "The upper speed must be at least 200 rpm above the lower, because the speed has to keep changing; "
            "send for example 2000 rpm and 2800 rpm."
        )
        raise Contradiction(("speed_low", "speed_high"), reason)


def break_in_body(
    *,
    speed_low: RotationalSpeed,
    speed_high: RotationalSpeed,
    duration: Duration,
    longest_dwell: Duration = 60.0,
    ramp_rate: RotationalAcceleration = 50 * RPM,
    band_width: RotationalSpeed = 100 * RPM,
    usual_hold: Duration = 30.0,
    resumed: bool = False,
) -> Body:
    """Set points that fill exactly the duration, cover the band from end to end and keep every limit.

    The bands are made wider where the duration is too short to visit all; what is left of a resumed run may even be too
    short for that (``resumed``), then it covers what it can. The band itself is the caller's to check
    (:func:`check_band`).

    Raises:
        OutsideValidity: the duration is too short to cover the band once.
        Contradiction: the ramp is so slow that the speed hardly changes within the longest dwell.
    """
    width = speed_high - speed_low
    usual = _usual_hold(longest_dwell, ramp_rate, usual_hold, width / ramp_rate)
    shortest = min(SHORTEST_HOLD, usual)
    most = max(2, floor(width / max(band_width, NARROWEST_BAND) + 1e-9))
    if not duration > 0:
        raise OutsideValidity("duration", "The break-in time must be above zero, such as 20 min.", "> 0")
    for bands in range(most, 1, -1):
        edges = (*tuple(speed_low + width * k / bands for k in range(bands)), speed_high)
        tour = _Tour(edges, cycles=ceil(duration / (bands * usual)))
        if tour.hold(duration, ramp_rate, cycles=1) >= shortest:
            break
    else:
        if not resumed:
            reason = (
                "The time is too short to cover the speed band once at this ramp; send more time, a narrower band or "
                "a faster ramp."
            )
            raise OutsideValidity("duration", reason)
    hold, points = tour.choose(duration, ramp_rate, shortest, usual)
    spare = longest_dwell - hold - 2 * SAME_SPEED / ramp_rate - TOUCH
    whole_seconds = hold >= SHORTEST_HOLD / 2 and spare >= ROUNDING - 1e-9
    return Body(_segments(points, speed_low, duration, ramp_rate, hold, whole_seconds), edges, hold)


def _usual_hold(longest: Duration, ramp_rate: RotationalAcceleration, wanted: Duration, sweep: Duration) -> Duration:
    """The hold that keeps the longest dwell, counting the slow ends of the ramps before and after it."""
    room = longest - 2 * SAME_SPEED / ramp_rate - TOUCH
    if room < SHORTEST_ROOM:
        reason = (
            "At this ramp the speed stays within 75 rpm for longer than the longest dwell; "
            "send a faster ramp, such as 50 rpm/s, or a longer dwell, such as 60 s."
        )
        raise Contradiction(("ramp_rate", "longest_dwell"), reason)
    usual = min(wanted, room - ROUNDING if room >= 8 else room)
    stepped = longest - sweep - ROUNDING  # a bench that jumps instead of ramping must keep the longest dwell too
    return min(usual, stepped) if stepped >= SHORTEST_HOLD else usual


class _Point(NamedTuple):
    speed: RotationalSpeed
    band: int
    touch: bool


class _Tour:
    """The set points of some cycles, before their holds are known. It starts at the lower end and touches the upper."""

    def __init__(self, edges: tuple[RotationalSpeed, ...], cycles: int) -> None:
        self.bands = len(edges) - 1
        self.points: list[_Point] = []
        self.ends: list[int] = []
        self.travel: list[RotationalSpeed] = []
        at, travelled = edges[0], 0.0
        for visit, band in enumerate(visiting_order(bands=self.bands, cycles=cycles)):
            if band == self.bands - 1 and visit < self.bands:
                self.points.append(_Point(edges[-1], band, touch=True))
                travelled, at = travelled + abs(edges[-1] - at), edges[-1]
            centre = (edges[band] + edges[band + 1]) / 2
            self.points.append(_Point(centre, band, touch=False))
            travelled, at = travelled + abs(centre - at), centre
            if (visit + 1) % self.bands == 0:
                self.ends.append(len(self.points))
                self.travel.append(travelled)

    def hold(self, duration: Duration, ramp_rate: RotationalAcceleration, cycles: int) -> Duration:
        """The hold with which so many whole cycles fill the duration; negative where the ramps alone are longer."""
        ramps = self.travel[cycles - 1] / ramp_rate
        return (duration - TOUCH - ramps) / (cycles * self.bands)

    def choose(
        self, duration: Duration, ramp_rate: RotationalAcceleration, shortest: Duration, usual: Duration
    ) -> tuple[Duration, list[_Point]]:
        """The hold and the points of the fewest whole cycles, or of a last cycle cut short where none fits."""
        for cycles in range(1, len(self.ends) + 1):
            hold = self.hold(duration, ramp_rate, cycles)
            if hold <= usual:
                if hold >= shortest:
                    return hold, self.points[: self.ends[cycles - 1]]
                break
        return usual if len(self.ends) > 1 else shortest, self.points


def _segments(
    points: list[_Point],
    speed_low: RotationalSpeed,
    duration: Duration,
    ramp_rate: RotationalAcceleration,
    hold: Duration,
    whole_seconds: bool,
) -> tuple[Segment, ...]:
    """Set points one after the other until the duration is full; on whole seconds, for a stopwatch, where there is room."""
    rest = TOUCH if whole_seconds else 1e-6
    segments: list[Segment] = []
    start, planned, speed = 0.0, 0.0, speed_low
    for number, point in enumerate(points, 1):
        ramp = abs(point.speed - speed) / ramp_rate
        planned += ramp + (TOUCH if point.touch else hold)
        end = float(floor(planned + 0.5)) if whole_seconds else planned
        if number == len(points) or end > duration - rest:
            end = duration
        target = point.speed
        if start + ramp > end:
            target = speed + (point.speed - speed) * (end - start) / ramp
            ramp = end - start
        segments.append(Segment(start, end - start, speed, target, ramp, point.band))
        start, speed = end, target
        if end == duration:
            break
    return tuple(segments)


def cool_down(
    *,
    from_speed: RotationalSpeed,
    steps: tuple[tuple[RotationalSpeed, Duration], ...],
    ramp_rate: RotationalAcceleration,
    start: Duration = 0.0,
) -> tuple[Segment, ...]:
    """Set points after the run: each step's speed, never above the one before, and how long it is held in s."""
    segments: list[Segment] = []
    speed = from_speed
    for step_speed, held in steps:
        target = min(step_speed, speed)
        ramp = (speed - target) / ramp_rate
        segments.append(Segment(start, ramp + held, speed, target, ramp, -1))
        start, speed = start + ramp + held, target
    return tuple(segments)
