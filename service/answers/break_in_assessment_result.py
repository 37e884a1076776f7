"""What the assessment of a log answers."""

from typing import Any, Literal

from service.answers.envelope import QuantityOut, Result


class RowsOut(Result):
    """First and last row of the caller's log, counted from 1."""

    first: int
    last: int


class BandTimeOut(Result):
    """Credited time in one speed band."""

    low: QuantityOut
    high: QuantityOut
    time: QuantityOut


class BreakInAssessmentResult(Result):
    """Everything that the log shows."""

    verdict: Literal["stop-find-cause", "continue", "complete"]
    reasons: list[dict[str, Any]]
    next_steps: list[str]
    credited_time: QuantityOut
    credited_by_speed: QuantityOut
    credited_before: QuantityOut
    required_time: QuantityOut
    remaining_time: QuantityOut
    running_time: QuantityOut
    time_to_floor: QuantityOut | None = None
    time_below_floor: QuantityOut
    time_above_band: QuantityOut
    frozen_at: QuantityOut | None = None
    speed_bands: list[BandTimeOut]
    coverage: float
    evenness: float
    longest_dwell: dict[str, Any]
    stalls: list[dict[str, Any]]
    early_stalls: int
    stops: list[dict[str, Any]]
    stop_count: int
    restarts: int
    excursions: list[dict[str, Any]]
    more_excursions: int
    oil_pressure_margin: dict[str, Any] | None = None
    temperatures: dict[str, Any]
    sensor_faults: list[dict[str, Any]]
    gaps: list[dict[str, Any]]
    log: dict[str, Any]
    next_run: dict[str, Any] | None = None
    cannot_show: list[str]
