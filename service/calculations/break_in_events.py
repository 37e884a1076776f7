"""What happened during a logged run: stops and stalls, loss of oil pressure, overheating, and speeds outside the band."""

from typing import NamedTuple

import numpy as np

from service.calculations.break_in_limits import FLOOR_SLACK, HEAT_SLACK, CreditRules, StopThresholds
from service.calculations.break_in_log import LEAST_DURATION, ROUNDED, Mask, Rows, is_lasting, runs
from service.units import Duration, FloatArray, Ratio, RotationalSpeed, Temperature

THERE: Ratio = 0.5  # of the least pressure: a gauge that shows more than its own error shows pressure


class Event(NamedTuple):
    """A stretch of samples in which something was out of order.

    Attributes:
        kind: What (``pressure-low``, ``no-pressure-after-start``, ``head-hot``, ``oil-hot``, ``oil-warm``,
            ``below-floor``, ``above-band``).
        start, duration: When, in s.
        first, last: Samples from and to which.
        samples: How many.
        extreme: The worst reading in SI: lowest speed or margin of pressure, highest temperature.
        limit: The limit in SI that it passed, where there is one; of a loss of pressure the floor at its worst reading.
    """

    kind: str
    start: Duration
    duration: Duration
    first: int
    last: int
    samples: int
    extreme: float
    limit: float | None = None


class Stop(NamedTuple):
    """The engine stopped.

    Attributes:
        time: Last moment in s at which it ran.
        sample: The last sample at which it ran.
        planned: Whether it had been slowed down first.
        speed_before: Speed in rad/s ten seconds before.
        stood: How long in s it stood until it ran again; ``None`` if it did not.
    """

    time: Duration
    sample: int
    planned: bool
    speed_before: RotationalSpeed
    stood: Duration | None


def find_stops(*, time: FloatArray, speed: FloatArray, rules: CreditRules) -> list[Stop]:
    """Every stop; an engine that ran above 1,300 rpm ten seconds earlier was not shut down but stalled (or was killed)."""
    running = speed >= rules.running
    last = np.flatnonzero(running[:-1] & ~running[1:])
    begun = np.flatnonzero(~running[:-1] & running[1:]) + 1
    following = np.searchsorted(begun, last)
    before = np.interp(np.maximum(time[last] - rules.look_back, time[0]), time, speed)
    stops = []
    for sample, again, slow in zip(last.tolist(), following.tolist(), before.tolist(), strict=True):
        at = float(time[sample])
        stood = float(time[begun[again]]) - at if again < begun.size else None
        stops.append(Stop(at, sample, slow < rules.idle_before_stop, slow, stood))
    return stops


def since_start(*, time: FloatArray, speed: FloatArray, rules: CreditRules) -> FloatArray:
    """Time in s since the engine last began to run, for every sample; −1 where it stands."""
    running = speed >= rules.running
    begins = running & ~np.concatenate((np.zeros(1, np.bool_), running[:-1]))
    latest = np.maximum.accumulate(np.where(begins, np.arange(time.size), 0))
    since: FloatArray = np.where(running, time - time[latest], -1.0)
    return since


def _lasting(kind: str, mask: Mask, badness: FloatArray, time: FloatArray, gap_after: Mask) -> list[Event]:
    """Runs of the mask that last long enough to be more than noise; the worst of each is where badness is highest."""
    first, last = runs(mask, gap_after)
    keep = is_lasting(first=first, last=last, time=time)
    return [_event(kind, int(a), int(b), badness, time) for a, b in zip(first[keep], last[keep], strict=True)]


def _event(kind: str, first: int, last: int, badness: FloatArray, time: FloatArray) -> Event:
    worst = float(np.nanmax(badness[first : last + 1]))
    start = float(time[first])
    return Event(kind, start, float(time[last]) - start, first, last, last - first + 1, worst)


def pressure_events(
    *,
    time: FloatArray,
    pressure: FloatArray,
    floors: FloatArray,
    since: FloatArray,
    gap_after: Mask,
    thresholds: StopThresholds,
    measured: FloatArray | None = None,
) -> list[Event]:
    """Losses of oil pressure while running, from ten seconds after each start.

    ``measured`` are the readings with their spikes, where some were removed: one spike is no loss, but three in a row are.
    """
    read = pressure if measured is None else np.fmin(pressure, measured)
    with np.errstate(invalid="ignore"):
        low = (read < floors * (1 - FLOOR_SLACK)) & (since >= thresholds.pressure_delay)
        there = pressure > THERE * thresholds.least_pressure
    events = []
    for event in _lasting("pressure-low", low, floors - read, time, gap_after):
        if event.duration < thresholds.pressure_grace - ROUNDED:
            continue
        begun = event.start - float(since[event.first])
        built_up = there & (time >= begun) & (time <= event.start)
        kind = "pressure-low" if built_up.any() else "no-pressure-after-start"
        worst = event.first + int(np.nanargmax((floors - read)[event.first : event.last + 1]))
        events.append(event._replace(kind=kind, extreme=float(read[worst] - floors[worst]), limit=float(floors[worst])))
    return events


def heat_events(*, time: FloatArray, temperature: FloatArray, limit: Temperature, kind: str, gap_after: Mask) -> list[Event]:
    """Stretches in which a temperature was above its limit."""
    with np.errstate(invalid="ignore"):
        hot = temperature > limit + HEAT_SLACK
    return [event._replace(limit=limit) for event in _lasting(kind, hot, temperature, time, gap_after)]


def excursions(
    *,
    time: FloatArray,
    speed: FloatArray,
    speed_low: RotationalSpeed,
    speed_high: RotationalSpeed,
    inside: Mask,
    gap_after: Mask,
    rules: CreditRules,
) -> list[Event]:
    """Stretches below and above the band, among the samples ``inside`` the run proper.

    A dip of less than 75 rpm that is over within two seconds is the wander of the throttle and is left out.
    """
    found = []
    for kind, mask, badness, limit in (
        ("below-floor", inside & (speed < speed_low), -speed, speed_low),
        ("above-band", inside & (speed > speed_high), speed, speed_high),
    ):
        first, last = runs(mask, gap_after)
        lasting: Mask = time[last] - time[first] >= LEAST_DURATION - ROUNDED
        for a, b, long in zip(first.tolist(), last.tolist(), lasting.tolist(), strict=True):
            event = _event(kind, a, b, badness, time)
            extreme = abs(event.extreme)
            deep = max(speed_low - extreme, extreme - speed_high) >= rules.dwell_tolerance
            if long or deep:
                found.append(event._replace(extreme=extreme, limit=limit))
    return sorted(found, key=lambda event: event.first)


def run_proper(*, speed: FloatArray, speed_low: RotationalSpeed, rules: CreditRules) -> Mask:
    """Samples of a running engine from the first to the last at the floor speed: without warm start and cool-down."""
    reached: Rows = np.flatnonzero(speed >= speed_low).astype(np.int64)
    inside = np.zeros(speed.size, np.bool_)
    if reached.size:
        inside[reached[0] : reached[-1] + 1] = True
    return inside & (speed >= rules.running)
