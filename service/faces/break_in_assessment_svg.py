"""A logged run over its plan: speed, what does not count, and the oil pressure over its floor."""

from typing import Any, cast

import numpy as np

from service.answers.asking import Asked
from service.answers.break_in_assessment import cleaned, plan_of
from service.answers.break_in_assessment_request import BreakInAssessmentRequest
from service.answers.break_in_procedure import thresholds_of
from service.answers.envelope import Answer
from service.calculations.break_in_limits import RPM, StopThresholds, oil_pressure_floors
from service.calculations.break_in_log import Log
from service.calculations.break_in_proof import knots
from service.faces.break_in_chart import Frame, drawing, label, round_ticks
from service.quantities import PRESSURE, UnitSystem, as_json, text_of
from service.units import FloatArray

WIDTH = 480.0
COLUMNS = 380
UNCOUNTED = ("below-floor", "pressure-low", "no-pressure-after-start")


def write(asked: Asked, system: UnitSystem) -> bytes:
    """The drawing as a document of its own."""
    return draw(asked, system).encode()


def draw(asked: Asked, system: UnitSystem) -> str:
    """The drawing, to stand alone or inside a page."""
    request = cast("BreakInAssessmentRequest", asked.request)
    log, result = cleaned(request), asked.answer.result
    limits = plan_of(request.schedule, asked.dataset)
    pressure = log.channel("oil_pressure")
    height = 470.0 if pressure is not None else 330.0
    end = float(log.time[-1]) / 60 * 1.01
    low, high = limits.speed_low / RPM, limits.speed_high / RPM
    ticks = round_ticks(max(high * 1.05, _quantile(log.speed) / RPM))
    frame = Frame(56, 62, WIDTH - 56 - 16, 200, end, 0.0, ticks[-1])
    segments = limits.body().segments if limits.remaining > 0 else ()
    parts = [
        label(8, 18, f"{result['verdict']}: {text_of(result['credited_time'], system)} credited"),
        label(
            8, 35, f"{text_of(result['remaining_time'], system)} left of {text_of(result['required_time'], system)}", small=True
        ),
        *_lost(frame, result),
        frame.box(0.0, end, low, high, "band"),
        frame.axes(ticks, "minutes of the log", "rpm; red stretches do not count"),
        frame.level(low, "stop"),
    ]
    if segments:
        at, speeds = knots(segments=segments)
        shift = _start(log, limits.speed_low)
        points = [(float(t + shift) / 60, float(v) / RPM) for t, v in zip(at, speeds, strict=True) if (t + shift) / 60 <= end]
        parts.append(frame.line(points, "plan"))
    parts += [frame.line(run, "line") for run in thinned(log.time, log.speed / RPM, COLUMNS)]
    if pressure is not None:
        thresholds = thresholds_of(asked.dataset, request.schedule.engine, Answer(result={}))
        parts += _pressure(log, pressure, thresholds, end, system)
    description = "; ".join(result["next_steps"][:4])
    return drawing(f"Break-in log over plan: {result['verdict']}", description, WIDTH, height, parts)


def _quantile(values: FloatArray) -> float:
    known = values[np.isfinite(values)]
    return float(np.quantile(known, 0.999)) if known.size else 0.0


def _start(log: Log, floor: float) -> float:
    """The moment at which the log first reaches the floor speed: there the plan begins."""
    reached = np.flatnonzero(log.speed >= floor)
    return float(log.time[reached[0]]) if reached.size else 0.0


def _lost(frame: Frame, result: dict[str, Any]) -> list[str]:
    """Stretches that earn nothing."""
    stretches = [(row["start"].si, row["duration"].si) for row in result["gaps"]]
    stretches += [(row["start"].si, row["duration"].si) for row in result["excursions"] if row["kind"] in UNCOUNTED]
    if result["frozen_at"] is not None:
        stretches.append((result["frozen_at"].si, frame.x_end * 60 - result["frozen_at"].si))
    return [frame.box(start / 60, (start + long) / 60, frame.y_low, frame.y_high, "lost") for start, long in stretches]


def _pressure(log: Log, pressure: FloatArray, thresholds: StopThresholds, end: float, system: UnitSystem) -> list[str]:
    """The second panel: oil pressure and its floor."""
    unit = as_json(PRESSURE(0.0), system)
    factor = float(as_json(PRESSURE(1e5), system)["value"]) / 1e5
    floors = oil_pressure_floors(speed=log.speed, thresholds=thresholds)
    ticks = round_ticks(_quantile(pressure) * factor * 1.05, 5)
    frame = Frame(56, 322, WIDTH - 56 - 16, 96, end, 0.0, ticks[-1])
    parts = [frame.axes(ticks, "", f"oil pressure, {unit['unit']}; dashed: its floor at the speed")]
    parts += [frame.line(run, "stop") for run in thinned(log.time, floors * factor, COLUMNS // 2)]
    return parts + [frame.line(run, "line") for run in thinned(log.time, pressure * factor, COLUMNS)]


def thinned(time: FloatArray, values: FloatArray, columns: int) -> list[list[tuple[float, float]]]:
    """Lines through the lowest and highest reading of every column of the drawing, broken where readings are missing."""
    known = np.flatnonzero(np.isfinite(values))
    if known.size == 0:
        return []
    column = (time[known] / max(float(time[-1]), 1e-9) * columns).astype(np.int64)
    starts = np.flatnonzero(np.concatenate((np.ones(1, np.bool_), np.diff(column) > 0)))
    lows = np.minimum.reduceat(values[known], starts)
    highs = np.maximum.reduceat(values[known], starts)
    at = time[known][starts] / 60
    wide = 5.0 / 60 + 2 * float(time[-1]) / 60 / columns
    lines: list[list[tuple[float, float]]] = [[]]
    previous = float(at[0])
    for moment, low, high in zip(at.tolist(), lows.tolist(), highs.tolist(), strict=True):
        if moment - previous > wide:
            lines.append([])
        lines[-1] += [(moment, low), (moment, high)] if high > low else [(moment, low)]
        previous = moment
    return lines
