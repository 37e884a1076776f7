"""Proof of a plan: its limits are measured anew on the finished set points, with the rulers that judge a logged run."""

import itertools
from typing import NamedTuple

import numpy as np

from service.calculations.break_in_credit import longest_dwell, time_by_band
from service.calculations.break_in_schedule import SAME_SPEED, Body, Segment
from service.methods import Example, method
from service.units import Duration, FloatArray, Ratio, RotationalAcceleration, RotationalSpeed


class Proof(NamedTuple):
    """What was measured on the set points of a run.

    Attributes:
        total: Length in s.
        longest_dwell: Longest time in s within 75 rpm.
        longest_step: Longest set point in s, its ramp included.
        steepest_ramp: Largest rate of change of speed in rad/s².
        lowest_speed, highest_speed: Ends of the speeds passed through, in rad/s.
        coverage: Share of the band passed through.
        band_times: Time in s in every band.
        evenness: Shortest band time over the mean.
        same_band_twice: Set points that stay in the band of the one before (the touch of the upper end apart).
        largest_break: Largest jump of time (s) or speed (rad/s) between set points; zero if the plan hangs together.
    """

    total: Duration
    longest_dwell: Duration
    longest_step: Duration
    steepest_ramp: RotationalAcceleration
    lowest_speed: RotationalSpeed
    highest_speed: RotationalSpeed
    coverage: Ratio
    band_times: tuple[Duration, ...]
    evenness: Ratio
    same_band_twice: int
    largest_break: float

    def keeps(
        self,
        *,
        speed_low: RotationalSpeed,
        speed_high: RotationalSpeed,
        duration: Duration,
        longest_dwell: Duration,
        ramp_rate: RotationalAcceleration,
        resumed: bool = False,
    ) -> dict[str, bool]:
        """Every promise by name and whether the measured figures keep it."""
        slack = 1 + 1e-9
        return {
            "total_is_exact": abs(self.total - duration) <= 1e-6,
            "dwell_within_limit": self.longest_dwell <= longest_dwell * slack,
            "ramp_within_limit": self.steepest_ramp <= ramp_rate * slack,
            "speed_within_band": speed_low <= self.lowest_speed * slack and self.highest_speed <= speed_high * slack,
            "band_covered": resumed or self.coverage >= 1 - 1e-9,
            "never_same_band_twice": self.same_band_twice == 0,
            "continuous": self.largest_break <= 1e-6,
        }


def knots(*, segments: tuple[Segment, ...]) -> tuple[FloatArray, FloatArray]:
    """Times in s and speeds in rad/s between which the plan is straight, without repeated times."""
    times, speeds = [segments[0].start], [segments[0].from_speed]
    for segment in segments:
        for moment in (segment.start + segment.ramp, segment.start + segment.duration):
            if moment > times[-1]:
                times.append(moment)
                speeds.append(segment.speed)
    return np.array(times), np.array(speeds)


def speed_at(*, segments: tuple[Segment, ...], time: FloatArray) -> FloatArray:
    """Planned speed in rad/s at every time; the first and last speed before and after the plan."""
    at, speeds = knots(segments=segments)
    planned: FloatArray = np.interp(time, at, speeds)
    return planned


@method(
    id="break-in-proof",
    title="Limits of the break-in plan, measured on its set points",
    formula="max |dn/dt|; max dwell within 75 rpm; Σ Δt; share of the band passed through; time by band",
    symbols={"n": "speed", "t": "time"},
    source="derived",
    locator="the plan is a chain of straight lines, so every figure is exact",
    evidence="derived",
    example=Example(
        {
            "body": Body(
                segments=(Segment(0.0, 10.0, 200.0, 210.0, 2.0, 0), Segment(10.0, 20.0, 210.0, 240.0, 6.0, 1)),
                edges=(200.0, 220.0, 240.0),
                hold=11.0,
            )
        },
        {"total": 30.0, "steepest_ramp": 5.0, "lowest_speed": 200.0, "highest_speed": 240.0, "coverage": 1.0},
        by="by hand: 10 rad/s in 2 s, held 8 s; 30 rad/s in 6 s, held 14 s",
    ),
)
def prove(*, body: Body) -> Proof:
    """Measure the finished set points, without using what made them."""
    segments = body.segments
    time, speed = knots(segments=segments)
    rises = np.diff(speed) / np.diff(time)
    low, high = float(speed.min()), float(speed.max())
    edges = np.array(body.edges)
    band_times = time_by_band(time=time, speed=speed, edges=edges)
    breaks = [
        max(abs(after.start - before.start - before.duration), abs(after.from_speed - before.speed))
        for before, after in itertools.pairwise(segments)
    ]
    holds = [segment for segment in segments if segment.speed != body.edges[-1] and segment.hold > 0]
    dense_time, dense_speed = _with_crossings(time, speed)
    dwell = longest_dwell(time=dense_time, speed=dense_speed, tolerance=SAME_SPEED * (1 + 1e-9), gap=np.inf)
    return Proof(
        total=segments[-1].start + segments[-1].duration - segments[0].start,
        longest_dwell=dwell.duration,
        longest_step=max(segment.duration for segment in segments),
        steepest_ramp=float(np.abs(rises).max()),
        lowest_speed=low,
        highest_speed=high,
        coverage=(min(high, body.edges[-1]) - max(low, body.edges[0])) / (body.edges[-1] - body.edges[0]),
        band_times=tuple(float(seconds) for seconds in band_times),
        evenness=float(band_times.min() / band_times.mean()),
        same_band_twice=sum(one.band == two.band for one, two in itertools.pairwise(holds)),
        largest_break=max(breaks, default=0.0),
    )


def _with_crossings(time: FloatArray, speed: FloatArray) -> tuple[FloatArray, FloatArray]:
    """The knots and the moments at which a ramp is 75 rpm away from any set point: there the longest dwell ends."""
    levels = np.unique(np.round(speed, 9))
    marks = np.concatenate((levels - SAME_SPEED, levels + SAME_SPEED))
    moving = np.flatnonzero(np.diff(speed) != 0)
    start, rise = speed[moving, None], np.diff(speed)[moving, None]
    share = (marks[None, :] - start) / rise
    inside = (share > 0) & (share < 1)
    crossings = (time[moving, None] + share * np.diff(time)[moving, None])[inside]
    everything = np.unique(np.concatenate((time, crossings)))
    return everything, np.interp(everything, time, speed)
