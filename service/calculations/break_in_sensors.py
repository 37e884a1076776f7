"""Faults of sensors told apart from faults of the engine.

An engine has inertia, oil has heat, a pump keeps pumping while the shaft turns: a reading that breaks these is the
sensor's. Where a log cannot tell, the engine is blamed, because stopping for nothing costs less than a camshaft.
"""

from typing import NamedTuple

import numpy as np

from service.calculations.break_in_limits import RPM, CreditRules, StopThresholds, oil_pressure_floors
from service.calculations.break_in_log import Log, Mask, runs
from service.units import Duration, FloatArray, Ratio, RotationalSpeed, TemperatureDifference

IMPOSSIBLE_RISE = 8000 * RPM
"""No small engine gains or loses 8,000 rpm in a second without load; a tachometer's wire does."""

# How long a reading may stand still to its last digit before its sensor is at fault.
STUCK_PRESSURE: Duration = 60.0
STUCK_TEMPERATURE: Duration = 300.0
STUCK_SPEED: Duration = 120.0

FINE_LEVELS = 100  # different readings; a tachometer with fewer steps than that may well stand still
SPEED_MOVED: RotationalSpeed = 300 * RPM  # a change of speed with which a healthy pressure moves too
SUDDEN: TemperatureDifference = 20.0  # within two seconds; neither metal nor oil warms so fast
RESTART: Duration = 3.0  # no engine stops and is running again sooner
PRESSURE_KEPT: Ratio = 0.6  # of the pressure; only a pump that still turns holds as much


class SensorFault(NamedTuple):
    """A stretch in which a sensor, not the engine, is at fault.

    Attributes:
        channel: Which sensor.
        kind: ``lost`` (no signal), ``doubled``, ``halved``, ``stuck``, ``jump``, ``spikes`` or ``impossible``.
        start, duration: When, in s.
        first, last: Samples from and to which.
        samples: How many readings are affected.
    """

    channel: str
    kind: str
    start: Duration
    duration: Duration
    first: int
    last: int
    samples: int


def tachometer_faults(*, log: Log, rules: CreditRules) -> tuple[FloatArray, list[SensorFault]]:
    """The speed without the stretches in which the tachometer was lost, doubled or halved, and these stretches."""
    speed = log.speed
    faults: list[SensorFault] = []
    for kind, mask in (("lost", _lost(log, rules)), *_doubled_or_halved(log)):
        first, last = runs(mask, np.zeros(mask.size - 1, np.bool_))
        faults += [_fault(log, "speed", kind, int(a), int(b)) for a, b in zip(first, last, strict=True)]
        speed = np.where(mask, np.nan, speed) if mask.any() else speed
    return speed, faults


def _fault(log: Log, channel: str, kind: str, first: int, last: int) -> SensorFault:
    start = float(log.time[first])
    return SensorFault(channel, kind, start, float(log.time[last]) - start, first, last, last - first + 1)


def _lost(log: Log, rules: CreditRules) -> Mask:
    """Samples at a standstill that the engine cannot have made: the pressure stayed up, or it was back in an instant."""
    mask = np.zeros(log.speed.size, np.bool_)
    known = np.flatnonzero(np.isfinite(log.speed))
    speed, time = log.speed[known], log.time[known]
    pressure = log.others.get("oil_pressure")
    first, last = runs(speed < rules.running, np.zeros(speed.size - 1, np.bool_))
    for a, b in zip(first.tolist(), last.tolist(), strict=True):
        if a == 0 or speed[a - 1] < 1000 * RPM:
            continue
        back = float(speed[b + 1]) if b + 1 < speed.size else 0.0
        away = float(time[min(b + 1, speed.size - 1)] - time[a - 1])
        at_once = back > 1500 * RPM and away <= RESTART
        if at_once or _pressure_stayed(pressure, known[a - 1], known[a], known[b], log.time):
            mask[known[a : b + 1]] = True
    return mask


def _pressure_stayed(pressure: FloatArray | None, before: int, first: int, last: int, time: FloatArray) -> bool:
    """Whether the oil pressure 3 s after the drop and later is still most of what it was: then the pump still turned."""
    if pressure is None:
        return False
    earlier = pressure[max(0, before - 5) : before + 1]
    after = pressure[first : last + 1][time[first : last + 1] >= time[first] + RESTART]
    earlier, after = earlier[np.isfinite(earlier)], after[np.isfinite(after)]
    if not earlier.size or not after.size:
        return False
    level = float(np.median(earlier))
    moving = bool(np.ptp(after) > 0) or after.size < 3  # a sender that froze with the tachometer proves nothing
    return level > 50e3 and moving and float(after.min()) >= PRESSURE_KEPT * level


def _doubled_or_halved(log: Log) -> list[tuple[str, Mask]]:
    """Stretches that begin and end with a jump by a factor of two, faster than any engine changes its speed."""
    known = np.flatnonzero(np.isfinite(log.speed))
    speed, time = log.speed[known], log.time[known]
    found = {"doubled": np.zeros(log.speed.size, np.bool_), "halved": np.zeros(log.speed.size, np.bool_)}
    steps = np.diff(speed)
    sudden = (np.abs(steps) > IMPOSSIBLE_RISE * np.diff(time)) & (np.minimum(speed[:-1], speed[1:]) > 500 * RPM)
    ratio = speed[1:] / np.maximum(speed[:-1], 1e-9)
    up = sudden & (np.abs(ratio - 2) < 0.15)
    down = sudden & (np.abs(ratio - 0.5) < 0.04)
    edges = np.flatnonzero(up | down)
    number = 0
    while number + 1 < edges.size:
        one, two = int(edges[number]), int(edges[number + 1])
        if up[one] != up[two]:
            found["doubled" if up[one] else "halved"][known[one + 1] : known[two] + 1] = True
            number += 2
        else:
            number += 1
    return list(found.items())


def stuck_speed(*, log: Log) -> list[SensorFault]:
    """Stretches in which a fine-stepped speed did not move by its last digit for two minutes.

    They are named, not taken out: a governed engine could do it, and the long dwell is named beside it.
    """
    known = log.speed[np.isfinite(log.speed)]
    if np.unique(known[:: max(1, known.size // 2000)]).size < FINE_LEVELS:
        return []
    return [_fault(log, "speed", "stuck", a, b) for a, b in _flat(log.time, log.speed, STUCK_SPEED) if log.speed[a] > 0]


def stuck_pressure(*, log: Log, speed: FloatArray, thresholds: StopThresholds) -> tuple[FloatArray | None, list[SensorFault]]:
    """The pressure without the stretches in which it did not move by the last digit while the speed did.

    A flat reading below the floor stays: it may be a dead sender or no oil at all, and only a second gauge can tell.
    """
    pressure = log.others.get("oil_pressure")
    if pressure is None:
        return None, []
    faults: list[SensorFault] = []
    stretches = _flat(log.time, pressure, STUCK_PRESSURE)
    if not stretches:
        return pressure, faults
    pressure = pressure.copy()
    floors = oil_pressure_floors(speed=speed, thresholds=thresholds)
    for first, last in stretches:
        moved = speed[first : last + 1]
        moved = moved[np.isfinite(moved)]
        if moved.size < 2 or np.ptp(moved) < SPEED_MOVED or _at_relief(pressure, first):
            continue
        faults.append(_fault(log, "oil_pressure", "stuck", first, last))
        with np.errstate(invalid="ignore"):
            stretch = slice(first, last + 1)
            pressure[stretch] = np.where(pressure[stretch] >= floors[stretch], np.nan, pressure[stretch])
    return pressure, faults


def _at_relief(pressure: FloatArray, sample: int) -> bool:
    """Whether a coarse gauge may well stand still here, at the top of its readings: the relief valve holds it."""
    known = pressure[np.isfinite(pressure)]
    levels = np.unique(known)
    return 2 < levels.size <= 100 and float(pressure[sample]) >= 0.97 * float(levels[-1])


def _flat(time: FloatArray, values: FloatArray, least: Duration) -> list[tuple[int, int]]:
    """First and last sample of every stretch of equal readings that lasts at least so long; blanks in between count."""
    known = np.flatnonzero(np.isfinite(values))
    if known.size < 3:
        return []
    same = np.diff(values[known]) == 0
    first, last = runs(same, np.zeros(same.size - 1, np.bool_))
    begin, end = known[first], known[last + 1]
    lasting = time[end] - time[begin] >= least
    return [(int(a), int(b)) for a, b in zip(begin[lasting], end[lasting], strict=True)]


def temperature_faults(*, log: Log) -> list[SensorFault]:
    """Temperature sensors that stand still to the last digit or jump faster than metal and oil can warm."""
    faults = []
    for channel in ("oil_temperature", "head_temperature"):
        values = log.others.get(channel)
        if values is None:
            continue
        known = np.flatnonzero(np.isfinite(values))
        steps = np.abs(np.diff(values[known]))
        moving = steps[steps > 0]
        fine = moving.size == 0 or float(moving.min()) < 0.4  # a gauge of whole degrees may well stand still
        if fine:
            faults += [_fault(log, channel, "stuck", a, b) for a, b in _flat(log.time, values, STUCK_TEMPERATURE)]
        jumps = np.flatnonzero((steps > SUDDEN) & (np.diff(log.time[known]) <= 2.0))
        faults += [_fault(log, channel, "jump", int(known[j]), int(known[j + 1])) for j in jumps]
    return faults


def cleaned_faults(*, log: Log) -> list[SensorFault]:
    """Spikes and impossible readings that the cleaning removed, one entry for each channel."""
    faults = []
    for kind, removed in (("spikes", log.spikes), ("impossible", log.impossible)):
        for channel, rows in removed.items():
            at = np.flatnonzero(np.isin(log.row, rows))
            faults.append(_fault(log, channel, kind, int(at[0]), int(at[-1]))._replace(samples=int(at.size)))
    return faults
