"""The figures of an assessment as they are answered; rows are the caller's, counted from 1 without the heading."""

from collections.abc import Callable
from math import isfinite
from typing import Any

import numpy as np

from service.answers.break_in_log import LogTable
from service.calculations.break_in_events import Event, Stop
from service.calculations.break_in_limits import CreditRules
from service.calculations.break_in_log import Log
from service.calculations.break_in_temperature import Rise
from service.calculations.break_in_verdict import Assessment, Wanted
from service.quantities import (
    DURATION,
    PERCENT,
    PRESSURE,
    RUN_TIME,
    SPEED,
    TEMPERATURE,
    TEMPERATURE_RATE,
    Measure,
)

MOST_EXCURSIONS = 100
MOST_FAULTS = 100
MOST_STOPS = 100


def rows_of(first: int, last: int, log: Log) -> dict[str, int] | None:
    """The caller's rows of two samples."""
    if first < 0:
        return None
    return {"first": int(log.row[first]) + 1, "last": int(log.row[last]) + 1}


def band_rows(result: Assessment, wanted: Wanted) -> list[dict[str, Any]]:
    """Credited time by speed band."""
    edges = wanted.edges
    return [
        {"low": SPEED(low), "high": SPEED(high), "time": DURATION(time)}
        for low, high, time in zip(edges[:-1], edges[1:], result.band_times, strict=True)
    ]


def dwell_row(result: Assessment, log: Log) -> dict[str, Any]:
    """The longest dwell with its rows."""
    dwell = result.dwell
    start = float(log.time[dwell.first]) if dwell.first >= 0 else 0.0
    return {
        "duration": DURATION(dwell.duration),
        "start": DURATION(start),
        "rows": rows_of(dwell.first, dwell.last, log),
        "within": SPEED(CreditRules().dwell_tolerance),
    }


def stop_row(stop: Stop) -> dict[str, Any]:
    """One stop of the engine."""
    return {
        "at": DURATION(stop.time),
        "kind": "planned" if stop.planned else "stall-or-kill",
        "speed_before": SPEED(stop.speed_before),
        "stood": None if stop.stood is None else DURATION(stop.stood),
        "restarted": stop.stood is not None,
    }


def count_early(counter: Callable[..., list[Stop]], result: Assessment, wanted: Wanted) -> int:
    """Stalls within the engine's first ten minutes, for the next assessment."""
    return len(counter(result=result, wanted=wanted, rules=CreditRules()))


def excursion_rows(result: Assessment, log: Log) -> tuple[list[dict[str, Any]], int]:
    """Losses of pressure, overheating, and speeds outside the band, in order; how many more there are."""
    every = sorted([*result.events, *result.excursions], key=lambda event: (event.start, event.kind))
    rows = [_event(event, log) for event in every[:MOST_EXCURSIONS]]
    return rows, max(0, len(every) - MOST_EXCURSIONS)


def _event(event: Event, log: Log) -> dict[str, Any]:
    extreme: Measure
    if event.kind in ("pressure-low", "no-pressure-after-start"):
        extreme = PRESSURE(event.extreme)
    elif event.kind in ("below-floor", "above-band"):
        extreme = SPEED(event.extreme)
    else:
        extreme = TEMPERATURE(event.extreme)
    return {
        "kind": event.kind,
        "start": DURATION(event.start),
        "duration": DURATION(event.duration),
        "rows": rows_of(event.first, event.last, log),
        "samples": event.samples,
        "extreme": extreme,
        "limit": None if event.limit is None else extreme.kind(event.limit),
    }


def margin_rows(result: Assessment) -> dict[str, Any] | None:
    """Oil pressure over its floor, by speed and temperature; ``None`` without a pressure."""
    if result.lowest_margin is None:
        return None
    table = [
        {
            "speed_low": SPEED(cell.speed_low),
            "speed_high": SPEED(cell.speed_high),
            "temperature_low": _known(cell.temperature_low),
            "temperature_high": _known(cell.temperature_high),
            "samples": cell.samples,
            "lowest": PRESSURE(cell.lowest),
            "mean": PRESSURE(cell.mean),
            "margin": PRESSURE(cell.lowest_margin),
        }
        for cell in result.margins
    ]
    drift = result.drift
    creeping = None
    if drift is not None:
        creeping = {"change": PERCENT(drift.change), "span": RUN_TIME(drift.span), "agreement": drift.agreement}
    return {"lowest": PRESSURE(result.lowest_margin), "by_speed_and_temperature": table, "drift": creeping}


def _known(temperature: float) -> Measure | None:
    return TEMPERATURE(temperature) if isfinite(temperature) else None


def temperature_rows(result: Assessment) -> dict[str, Any]:
    """Fastest rises, and where the oil settles."""
    plateau = result.oil_plateau
    settled = None
    if plateau is not None:
        settled = {
            "temperature": TEMPERATURE(plateau.temperature, 2 * plateau.standard_uncertainty),
            "time_constant": RUN_TIME(plateau.time_constant),
        }
    return {"oil_rise": _rise(result.oil_rise), "head_rise": _rise(result.head_rise), "oil_settles": settled}


def _rise(rise: Rise | None) -> dict[str, Any] | None:
    if rise is None:
        return None
    return {
        "rate": TEMPERATURE_RATE(rise.rate),
        "start": DURATION(rise.start),
        "end": DURATION(rise.end),
        "temperature": TEMPERATURE(rise.temperature),
    }


def fault_rows(result: Assessment, log: Log) -> list[dict[str, Any]]:
    """Faults of sensors, which are not the engine's."""
    return [
        {
            "channel": fault.channel,
            "kind": fault.kind,
            "start": DURATION(fault.start),
            "duration": DURATION(fault.duration),
            "rows": rows_of(fault.first, fault.last, log),
            "samples": fault.samples,
        }
        for fault in result.sensor_faults[:MOST_FAULTS]
    ]


def gap_rows(result: Assessment, log: Log) -> list[dict[str, Any]]:
    """Stretches without samples, which earn nothing."""
    return [
        {
            "start": DURATION(float(log.time[a])),
            "duration": DURATION(float(log.time[b] - log.time[a])),
            "rows": rows_of(a, b, log),
        }
        for a, b in result.gaps[:MOST_EXCURSIONS]
    ]


def log_row(table: LogTable, log: Log) -> dict[str, Any]:
    """What was read and what was left out of it."""
    return {
        "rows": table.rows,
        "units": dict(table.units),
        "ignored_columns": list(table.ignored),
        "length": RUN_TIME(float(log.time[-1])),
        "spacing": DURATION(log.spacing),
        "out_of_order": log.unordered,
        "duplicates": log.duplicates,
        "missing": dict(log.missing),
        "spikes": {name: int(rows.size) for name, rows in log.spikes.items()},
        "impossible": {name: int(rows.size) for name, rows in log.impossible.items()},
        "highest_speed": SPEED(_highest(log)),
    }


def _highest(log: Log) -> float:
    return float(np.nanmax(log.speed))
