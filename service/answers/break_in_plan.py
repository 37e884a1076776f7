"""The set points of a plan with their proof, worked out once for equal limits: most plans asked for are the usual ones."""

from functools import lru_cache
from typing import Any, NamedTuple

from service.answers.break_in_procedure import Limits
from service.calculations.break_in_limits import RPM
from service.calculations.break_in_proof import prove
from service.calculations.break_in_schedule import Body, Segment, cool_down
from service.quantities import DURATION, SPEED, SPEED_RAMP

RAISE_TIME = 4.0
COOL_STEPS = ((1500 * RPM, 60.0), (1000 * RPM, 30.0))


class Plan(NamedTuple):
    """What belongs to one set of limits; shared between answers, so never to be changed.

    Attributes:
        body: The set points of the run, or ``None`` where nothing is left.
        proof: The measured limits.
        bands: Speed bands with their time.
        run, down: Set points of run and cool-down as they are answered.
        down_time: Length of the cool-down in s.
        table: The whole plan on one clock, as a bench controller reads it.
    """

    body: Body | None
    proof: dict[str, Any] | None
    bands: list[dict[str, Any]]
    run: list[dict[str, Any]]
    down: list[dict[str, Any]]
    down_time: float
    table: list[dict[str, Any]]


@lru_cache(maxsize=256)
def plan_of(limits: Limits) -> Plan:
    """The plan of some limits.

    Raises:
        OutsideValidity, Contradiction: limits that cannot be kept together.
    """
    body = limits.body() if limits.remaining > 0 else None
    segments = body.segments if body else ()
    last = segments[-1].speed if segments else limits.speed_low
    down = cool_down(from_speed=last, steps=COOL_STEPS, ramp_rate=limits.ramp_rate)
    proof, bands = _proof(limits, body) if body else (None, [])
    return Plan(
        body,
        proof,
        bands,
        [segment_row(segment) for segment in segments],
        [segment_row(segment) for segment in down],
        down[-1].start + down[-1].duration,
        _table(limits, segments, down),
    )


def clock(seconds: float) -> str:
    """Minutes and seconds as a stopwatch shows them."""
    whole = int(seconds + 0.5)
    return f"{whole // 60}:{whole % 60:02d}"


def segment_row(segment: Segment) -> dict[str, Any]:
    """A set point as it is answered."""
    say = f"{clock(segment.start)} → {segment.speed / RPM:.0f} rpm"
    return {
        "start": DURATION(segment.start),
        "duration": DURATION(segment.duration),
        "speed": SPEED(segment.speed),
        "ramp": DURATION(segment.ramp),
        "say": f"{say}, hold {segment.hold:.0f} s" if segment.hold >= 3 else f"{say} and back",
    }


def _proof(limits: Limits, body: Body) -> tuple[dict[str, Any], list[dict[str, Any]]]:
    """The limits as they were measured on the finished set points, and the time in every band."""
    proof = prove(body=body)
    kept = proof.keeps(
        speed_low=limits.speed_low,
        speed_high=limits.speed_high,
        duration=limits.remaining,
        longest_dwell=limits.longest_dwell,
        ramp_rate=limits.ramp_rate,
        resumed=limits.resumed,
    )
    row = {
        "holds": all(kept.values()),
        "promises": kept,
        "total": DURATION(proof.total),
        "longest_dwell": DURATION(proof.longest_dwell),
        "longest_step": DURATION(proof.longest_step),
        "steepest_ramp": SPEED_RAMP(proof.steepest_ramp),
        "lowest_speed": SPEED(proof.lowest_speed),
        "highest_speed": SPEED(proof.highest_speed),
        "coverage": proof.coverage,
        "evenness": proof.evenness,
    }
    bands = [
        {"low": SPEED(low), "high": SPEED(high), "time": DURATION(time)}
        for low, high, time in zip(body.edges[:-1], body.edges[1:], proof.band_times, strict=True)
    ]
    return row, bands


def _table(limits: Limits, run: tuple[Segment, ...], down: tuple[Segment, ...]) -> list[dict[str, Any]]:
    """One clock from firing on, one set point a row, from rest to rest."""
    rows = [_line("first_fire", Segment(0.0, RAISE_TIME, 0.0, limits.speed_low, RAISE_TIME, -1), 0.0)]
    rows += [_line("run", segment, RAISE_TIME) for segment in run]
    rows += [_line("cool_down", segment, RAISE_TIME + limits.remaining) for segment in down]
    end = RAISE_TIME + limits.remaining + down[-1].start + down[-1].duration
    return [*rows, _line("stop", Segment(0.0, 0.0, down[-1].speed, 0.0, 0.0, -1), end)]


def _line(stage: str, segment: Segment, offset: float) -> dict[str, Any]:
    return {
        "stage": stage,
        "start": DURATION(offset + segment.start),
        "duration": DURATION(segment.duration),
        "from_speed": SPEED(segment.from_speed),
        "speed": SPEED(segment.speed),
        "ramp": DURATION(segment.ramp),
        "hold": DURATION(max(0.0, segment.hold)),
    }
