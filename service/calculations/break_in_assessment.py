"""Verdict on a logged break-in run: what counts, what is left, what went wrong, and what to do next."""

from typing import NamedTuple

import numpy as np

from service.calculations import break_in_events as events
from service.calculations import break_in_sensors as sensors
from service.calculations.break_in_credit import Dwell, Parts, credited_parts, credited_time, longest_dwell, time_by_band
from service.calculations.break_in_events import Event
from service.calculations.break_in_limits import FLOOR_SLACK, SAME, CreditRules, StopThresholds, oil_pressure_floors
from service.calculations.break_in_log import Log, Mask
from service.calculations.break_in_pressure import Drift, MarginCell, margin_table, pressure_drift
from service.calculations.break_in_schedule import remaining_time
from service.calculations.break_in_sensors import SensorFault
from service.calculations.break_in_temperature import Plateau, Rise, fastest_rise, temperature_plateau
from service.calculations.break_in_verdict import Assessment, Wanted, conclude
from service.errors import OutsideValidity
from service.units import Duration, FloatArray, Pressure, RotationalSpeed


class _Trace(NamedTuple):
    """The samples with a trusted speed, and what is known at them."""

    sample: np.ndarray[tuple[int], np.dtype[np.int64]]
    time: FloatArray
    speed: FloatArray
    pressure: FloatArray | None
    measured: FloatArray | None
    floors: FloatArray
    margin: FloatArray | None
    oil: FloatArray | None
    head: FloatArray | None
    since: FloatArray
    gap_after: Mask


def assess(
    *,
    log: Log,
    wanted: Wanted,
    thresholds: StopThresholds,
    rules: CreditRules,
    viscosity: FloatArray | None = None,
) -> Assessment:
    """Assess one cleaned log against what the run was to be; ``viscosity`` is the oil's at every sample, if known.

    Raises:
        OutsideValidity: too little of the speed can be trusted.
    """
    trace, faults = _trace(log, thresholds, rules)
    wanted = _with_slack(wanted)
    time, speed, gap = trace.time, trace.speed, rules.gap
    edges, low = np.array(wanted.edges), wanted.edges[0]
    happened = _events(trace, thresholds)
    lost = [event for event in happened if event.kind in ("pressure-low", "no-pressure-after-start")]
    frozen = lost[0].start if lost else None
    until = np.inf if frozen is None else frozen
    by_speed = credited_time(time=time, speed=speed, floor_speed=low, gap=gap)
    allowed = None if trace.margin is None else trace.margin + FLOOR_SLACK * trace.floors
    parts = credited_parts(time=time, speed=speed, floor_speed=low, gap=gap, pressure_margin=allowed, until=until)
    steps = np.diff(time)
    credited = float(parts.lengths(steps).sum())
    bands = time_by_band(time=time, speed=speed, edges=edges, parts=parts)
    inside = events.run_proper(speed=speed, speed_low=low, rules=rules)
    below, early, above = _outside_times(trace, inside, wanted, rules)
    stops = events.find_stops(time=time, speed=speed, rules=rules)
    oil_rise, head_rise, plateau = _trends(trace, thresholds)
    result = Assessment(
        credited_time=credited,
        credited_by_speed=by_speed,
        remaining_time=remaining_time(required=wanted.duration, credited=wanted.credited + credited),
        fired_at=_fired_at(trace),
        running_time=float(steps[(trace.since[:-1] >= 0) & (trace.since[1:] >= 0) & ~trace.gap_after].sum()),
        time_to_floor=_time_to_floor(trace, low),
        time_below_floor=below,
        time_below_floor_early=early,
        time_above_band=above,
        band_times=tuple(bands.tolist()),
        covered=float(np.count_nonzero(bands > 0)) / bands.size,
        evenness=float(bands.min() / bands.mean()) if bands.any() else 0.0,
        dwell=_dwell(trace, low, rules),
        stops=tuple(stops),
        events=tuple(_on_log(event, trace) for event in happened),
        excursions=tuple(_on_log(event, trace) for event in _excursions(trace, inside, wanted, rules)),
        sensor_faults=tuple(faults),
        gaps=tuple((int(trace.sample[i]), int(trace.sample[i + 1])) for i in np.flatnonzero(trace.gap_after)),
        frozen_at=frozen,
        margins=tuple(_margins(trace)),
        lowest_margin=_lowest_margin(trace, thresholds, lost),
        drift=_drift(trace, viscosity),
        oil_rise=oil_rise,
        head_rise=head_rise,
        oil_plateau=plateau,
        verdict="continue",
        reasons=(),
    )
    return conclude(result=result, wanted=wanted, thresholds=thresholds, rules=rules)


def _with_slack(wanted: Wanted) -> Wanted:
    """The task with the ends of its band drawn out by what a change of unit may cost: on the end is inside."""
    low, *inner, high = wanted.edges
    return wanted._replace(edges=(low * (1 - SAME), *inner, high * (1 + SAME)))


def _trace(log: Log, thresholds: StopThresholds, rules: CreditRules) -> tuple[_Trace, list[SensorFault]]:
    """The trusted samples, and the sensor faults whose samples are not among them."""
    speed, faults = sensors.tachometer_faults(log=log, rules=rules)
    pressure, stuck = sensors.stuck_pressure(log=log, speed=speed, thresholds=thresholds)
    faults += sensors.stuck_speed(log=log) + stuck + sensors.temperature_faults(log=log) + sensors.cleaned_faults(log=log)
    sample = np.flatnonzero(np.isfinite(speed)).astype(np.int64)
    if sample.size < 2:
        raise OutsideValidity("log/speed", "The tachometer's signal was lost nearly all the time; mend it and log again.")
    pick = slice(None) if sample.size == speed.size else sample  # a slice copies nothing, which counts in a long log
    time, speed = log.time[pick], speed[pick]
    known = None if pressure is None else _bridged(log.time, pressure, rules.gap)[pick]
    measured = None if log.measured_pressure is None else log.measured_pressure[pick]
    floors = oil_pressure_floors(speed=speed, thresholds=thresholds)
    margin = None if known is None else known - floors
    oil, head = (None if (c := log.channel(n)) is None else c[pick] for n in ("oil_temperature", "head_temperature"))
    since = events.since_start(time=time, speed=speed, rules=rules)
    trace = _Trace(sample, time, speed, known, measured, floors, margin, oil, head, since, np.diff(time) > rules.gap)
    return trace, sorted(faults, key=lambda fault: (fault.start, fault.channel, fault.kind))


def _bridged(time: FloatArray, values: FloatArray, gap: Duration) -> FloatArray:
    """Readings with straight lines across blanks no longer than the gap limit; NaN across longer ones."""
    known = np.flatnonzero(np.isfinite(values))
    if known.size == values.size or known.size < 2:
        return values
    bridged = np.interp(time, time[known], values[known], left=np.nan, right=np.nan)
    after = np.minimum(np.searchsorted(known, np.arange(values.size)), known.size - 1)
    before = np.maximum(after - (known[after] > np.arange(values.size)), 0)
    bridged[time[known[after]] - time[known[before]] > gap] = np.nan
    return bridged


def _events(trace: _Trace, thresholds: StopThresholds) -> list[Event]:
    """Losses of pressure and overheating in order of time."""
    found: list[Event] = []
    if trace.pressure is not None:
        found += events.pressure_events(
            time=trace.time,
            pressure=trace.pressure,
            measured=trace.measured,
            floors=trace.floors,
            since=trace.since,
            gap_after=trace.gap_after,
            thresholds=thresholds,
        )
    limits = (
        ("head-hot", trace.head, thresholds.head_stop),
        ("oil-hot", trace.oil, thresholds.oil_stop),
        ("oil-warm", trace.oil, thresholds.oil_caution),
    )
    for kind, temperature, limit in limits:
        if temperature is not None:
            found += events.heat_events(
                time=trace.time, temperature=temperature, limit=limit, kind=kind, gap_after=trace.gap_after
            )
    return sorted(found, key=lambda event: (event.start, event.kind))


def _excursions(trace: _Trace, inside: Mask, wanted: Wanted, rules: CreditRules) -> list[Event]:
    """Stretches of the run proper below and above its speed band."""
    return events.excursions(
        time=trace.time,
        speed=trace.speed,
        speed_low=wanted.edges[0],
        speed_high=wanted.edges[-1],
        inside=inside,
        gap_after=trace.gap_after,
        rules=rules,
    )


def _fired_at(trace: _Trace) -> Duration:
    """When the engine first ran, in s; the start of the log if it never did."""
    runs = trace.since >= 0
    return float(trace.time[np.argmax(runs)]) if runs.any() else 0.0


def _on_log(event: Event, trace: _Trace) -> Event:
    """The event with samples of the whole log instead of the trusted ones."""
    return event._replace(first=int(trace.sample[event.first]), last=int(trace.sample[event.last]))


def _outside_times(trace: _Trace, inside: Mask, wanted: Wanted, rules: CreditRules) -> tuple[Duration, Duration, Duration]:
    """Time below the floor, the same within the engine's first ten minutes, and time above the band."""
    counted = inside[:-1] & inside[1:] & ~trace.gap_after
    parts = Parts(np.zeros(counted.size), counted.astype(np.float64))
    low, high = wanted.edges[0], wanted.edges[-1]
    edges = np.array((0.0, low, high, max(2 * high, float(trace.speed.max()) + 1)))
    below, _, above = time_by_band(time=trace.time, speed=trace.speed, edges=edges, parts=parts).tolist()
    young = counted & (trace.time[1:] <= _fired_at(trace) + max(0.0, rules.early - wanted.ran_before))
    parts = Parts(np.zeros(counted.size), young.astype(np.float64))
    early = float(time_by_band(time=trace.time, speed=trace.speed, edges=edges, parts=parts)[0])
    return below, early, above


def _time_to_floor(trace: _Trace, low: RotationalSpeed) -> Duration | None:
    """Time in s from a start to the floor speed, or ``None`` if the floor was never reached."""
    reached = trace.since[trace.speed >= low]
    return float(reached[0]) if reached.size else None


def _dwell(trace: _Trace, low: RotationalSpeed, rules: CreditRules) -> Dwell:
    """The longest dwell at or above the floor speed, with samples of the whole log."""
    within = rules.dwell_tolerance * (1 + SAME)
    dwell = longest_dwell(time=trace.time, speed=trace.speed, tolerance=within, gap=rules.gap, floor_speed=low)
    if dwell.first < 0:
        return dwell
    return dwell._replace(first=int(trace.sample[dwell.first]), last=int(trace.sample[dwell.last]))


def _margins(trace: _Trace) -> list[MarginCell]:
    """Pressure and margin by class of speed and temperature, from ten seconds after each start; empty without pressure."""
    if trace.pressure is None or trace.margin is None:
        return []
    warm = trace.since >= 10.0
    return margin_table(
        speed=trace.speed[warm],
        pressure=trace.pressure[warm],
        margin=trace.margin[warm],
        oil_temperature=None if trace.oil is None else trace.oil[warm],
    )


def _lowest_margin(trace: _Trace, thresholds: StopThresholds, lost: list[Event]) -> Pressure | None:
    """The least pressure in Pa above its floor once the pressure must be there, or ``None`` where it is not known."""
    if trace.margin is None:
        return None
    margins = trace.margin[(trace.since >= thresholds.pressure_delay) & np.isfinite(trace.margin)]
    lowest = [float(margins.min())] if margins.size else []
    return min((*lowest, *(event.extreme for event in lost)), default=None)


def _drift(trace: _Trace, viscosity: FloatArray | None) -> Drift | None:
    """The creep of the pressure, or ``None`` where pressure or oil temperature was not logged."""
    if trace.pressure is None or trace.oil is None:
        return None
    return pressure_drift(
        time=trace.time,
        speed=trace.speed,
        pressure=trace.pressure,
        oil_temperature=trace.oil,
        viscosity=None if viscosity is None else viscosity[trace.sample],
    )


def _trends(trace: _Trace, thresholds: StopThresholds) -> tuple[Rise | None, Rise | None, Plateau | None]:
    """Fastest rises of oil and head, and where the oil of the last uninterrupted running settles."""
    oil = head = plateau = None
    if trace.head is not None:
        head = fastest_rise(time=trace.time, temperature=trace.head, above=thresholds.head_rise_above)
    if trace.oil is not None:
        oil = fastest_rise(time=trace.time, temperature=trace.oil, above=thresholds.oil_rise_above)
        standing = np.flatnonzero(trace.since < 0)
        running = trace.since >= 60.0
        last = int(np.flatnonzero(running)[-1]) if running.any() else 0
        before = standing[standing < last]
        running[: int(before[-1]) + 1 if before.size else 0] = False
        plateau = temperature_plateau(time=trace.time[running], temperature=trace.oil[running])
    return oil, head, plateau
