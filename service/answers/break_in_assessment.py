"""Assessment of a logged break-in run: what counts, what is left, what went wrong and what to do next."""

from dataclasses import replace
from typing import Annotated, Any, Literal

import numpy as np
from pydantic import BeforeValidator, Field

from service.answers import break_in_figures as figures
from service.answers.break_in_log import LONGEST_CSV, LogGiven
from service.answers.break_in_plan import segment_row
from service.answers.break_in_procedure import Limits, credit_rules_of, limits_of, thresholds_of
from service.answers.break_in_request import BreakInScheduleRequest, ScheduleGiven
from service.answers.break_in_texts import CANNOT_SHOW
from service.answers.break_in_verdicts import DOUBLED, next_steps, report
from service.answers.envelope import Answer, QuantityOut, Result
from service.answers.inputs import Id, Measured, Number, Request
from service.answers.oil_viscosity import middle_of_grade
from service.answers.plausibility import UNIT_SUSPECT
from service.answers.topic import Example, Topic
from service.calculations.break_in_assessment import assess
from service.calculations.break_in_credit import credited_time, longest_dwell, time_by_band
from service.calculations.break_in_limits import oil_pressure_floor
from service.calculations.break_in_log import Log, clean_log, hampel_limits, unit_suspicions
from service.calculations.break_in_pressure import pressure_drift
from service.calculations.break_in_schedule import remaining_time
from service.calculations.break_in_temperature import temperature_plateau, theil_sen_slopes
from service.calculations.break_in_verdict import Assessment, EarlierRun, Wanted, early_stalls, with_earlier_runs
from service.calculations.viscosity import viscosity_at
from service.quantities import DURATION, RUN_TIME, Quantity
from service.reference.dataset import Dataset
from service.units import FloatArray

_EARLIER_NAMES = ("credited_time", "running_time", "early_stalls", "verdict", "cause_found")


def as_earlier_run(given: Any) -> Any:
    """An earlier answer sent back, whole or its result, as what counts of it; ``cause_found`` may stand beside it."""
    if not isinstance(given, dict):
        return given
    inside = given.get("result")
    merged = {**inside, **{k: v for k, v in given.items() if k == "cause_found"}} if isinstance(inside, dict) else given
    if "speed_bands" not in merged and "next_steps" not in merged:
        return merged
    picked = {name: merged[name] for name in _EARLIER_NAMES if merged.get(name) is not None}
    for name, value in picked.items():
        if isinstance(value, dict):
            picked[name] = {key: value[key] for key in ("value", "unit") if key in value}
    return picked


class EarlierRunRequest(Request):
    """What counts of the answer to an earlier log of the same engine; the whole answer may be sent."""

    credited_time: Annotated[Quantity, Measured("duration", "0 .. 36000 s", "", "14 min", "Credited time of that run.")]
    running_time: (
        Annotated[Quantity, Measured("duration", "0 .. 36000 s", "", "15 min", "Running time of that run.")] | None
    ) = None
    early_stalls: (
        Annotated[int, Number(0, 1000, integer=True, meaning="Its stalls in the engine's first ten minutes.")] | None
    ) = None
    verdict: Literal["stop-find-cause", "continue", "complete"] | None = None
    cause_found: Annotated[bool, Field(description="The cause of its stop was found and mended.")] | None = None


class BreakInAssessmentRequest(Request):
    """The schedule that was to be run (as answered, or its inputs), and the log of what was run."""

    schedule: ScheduleGiven
    log: LogGiven
    earlier: (
        Annotated[
            list[Annotated[EarlierRunRequest, BeforeValidator(as_earlier_run)]],
            Field(max_length=20, description="Answers to earlier logs of the same engine, in order."),
        ]
        | None
    ) = None
    grade: Id | None = None


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


def answer(request: BreakInAssessmentRequest, dataset: Dataset) -> Answer:
    """The verdict on a log, with every figure behind it.

    Raises:
        MissingInput, NotInDataset, Contradiction: from the schedule (see there).
        OutsideValidity: the log is no run, or the earlier runs cannot be.
    """
    found = Answer(result={})
    limits = limits_of(request.schedule, dataset, found)
    thresholds = thresholds_of(dataset, request.schedule.engine, found)
    rules = credit_rules_of(dataset, found)
    log = cleaned(request)
    wanted = _wanted(request, limits)
    result = assess(
        log=log, wanted=wanted, thresholds=thresholds, rules=rules, viscosity=_viscosity(request, log, dataset, found)
    )
    found.rests_on(credited_time, time_by_band, longest_dwell, hampel_limits, remaining_time)
    _check_units(log, wanted, found)
    report(result, wanted, found)
    _unchecked(log, found)
    found.result = _result(request, result, log, limits, wanted)
    found.result["next_steps"] = next_steps(result, limits, rules)
    found.table = [
        {"speed_low": band["low"], "speed_high": band["high"], "credited": band["time"]} for band in found.result["speed_bands"]
    ]
    return found


def cleaned(request: BreakInAssessmentRequest) -> Log:
    """The log in order and without spikes.

    Raises:
        OutsideValidity, Contradiction: it is no run in the units that were sent.
    """
    return clean_log(**dict(request.log.channels))


def _wanted(request: BreakInAssessmentRequest, limits: Limits) -> Wanted:
    """The task: bands of the whole plan, required time, and what earlier runs have earned."""
    wanted = Wanted(limits.duration, limits.whole().edges, limits.longest_dwell, limits.credited, limits.credited)
    runs = [
        EarlierRun(
            run.credited_time.si,
            run.running_time.si if run.running_time else run.credited_time.si,
            run.early_stalls or 0,
            run.verdict or "continue",
            bool(run.cause_found),
        )
        for run in request.earlier or ()
    ]
    return with_earlier_runs(wanted=wanted, earlier=runs)


def _viscosity(request: BreakInAssessmentRequest, log: Log, dataset: Dataset, found: Answer) -> FloatArray | None:
    """The oil's viscosity at every sample, from its grade, over a table of two-degree steps."""
    temperature = log.channel("oil_temperature")
    if request.grade is None or temperature is None or not np.isfinite(temperature).any():
        return None
    oil, facts = middle_of_grade(request.grade, dataset)
    found.uses(*facts)
    low, high = max(250.0, float(np.nanmin(temperature))), min(420.0, float(np.nanmax(temperature)))
    steps = np.linspace(low, max(high, low + 1.0), 60)
    table = np.array([viscosity_at(line=oil.line, temperature=float(step)) for step in steps])
    viscosity: FloatArray = np.interp(temperature, steps, table)
    return viscosity


def _check_units(log: Log, wanted: Wanted, found: Answer) -> None:
    """Slips of the unit are asked about and never guessed."""
    for suspicion in unit_suspicions(log=log):
        name = suspicion.field.replace("_", " ")
        found.find(UNIT_SUSPECT, ("log",), f"The {name} looks like {suspicion.suspected}; is its unit right?")
    running = log.speed[np.isfinite(log.speed) & (log.speed > 0.5 * wanted.edges[0])]
    middle = (wanted.edges[0] + wanted.edges[-1]) / 2
    if running.size and 1.8 <= float(np.median(running)) / middle <= 2.2:
        found.find(DOUBLED, ("log",), "The median of the speed is about twice the middle of the band.")


def _unchecked(log: Log, found: Answer) -> None:
    """What the log does not show because a channel is missing."""
    if "oil_pressure" in log.others:
        found.rests_on(oil_pressure_floor)
    else:
        why = "The credit rests on speed alone; a missing reading is never a pass."
        found.cannot_check("oil pressure during the run", ["log.oil_pressure"], why)
    if "oil_temperature" in log.others:
        found.rests_on(theil_sen_slopes, temperature_plateau)
        if "oil_pressure" in log.others:
            found.rests_on(pressure_drift)
    else:
        found.cannot_check("oil temperature, its rise and where it settles", ["log.oil_temperature"])
    if "head_temperature" not in log.others:
        found.cannot_check("head temperature", ["log.head_temperature"])
    if log.sparse:
        found.cannot_check("spikes", ["log"], f"Samples are {log.spacing:.0f} s apart; two seconds or less would show them.")


def _result(request: BreakInAssessmentRequest, result: Assessment, log: Log, limits: Limits, wanted: Wanted) -> dict[str, Any]:
    shown, more = figures.excursion_rows(result, log)
    stalls = [stop for stop in result.stops if not stop.planned]
    return {
        "verdict": result.verdict,
        "reasons": [{"code": r.code, "weight": r.weight, "at": DURATION(r.at) if r.at >= 0 else None} for r in result.reasons],
        "next_steps": [],
        "credited_time": RUN_TIME(result.credited_time),
        "credited_by_speed": RUN_TIME(result.credited_by_speed),
        "credited_before": RUN_TIME(wanted.credited),
        "required_time": RUN_TIME(wanted.duration),
        "remaining_time": RUN_TIME(result.remaining_time),
        "running_time": RUN_TIME(result.running_time),
        "time_to_floor": None if result.time_to_floor is None else DURATION(result.time_to_floor),
        "time_below_floor": DURATION(result.time_below_floor),
        "time_above_band": DURATION(result.time_above_band),
        "frozen_at": None if result.frozen_at is None else DURATION(result.frozen_at),
        "speed_bands": figures.band_rows(result, wanted),
        "coverage": result.covered,
        "evenness": result.evenness,
        "longest_dwell": figures.dwell_row(result, log),
        "stalls": [figures.stop_row(stop) for stop in stalls[: figures.MOST_STOPS]],
        "early_stalls": figures.count_early(early_stalls, result, wanted),
        "stops": [figures.stop_row(stop) for stop in result.stops[: figures.MOST_STOPS]],
        "stop_count": len(result.stops),
        "restarts": sum(stop.stood is not None for stop in result.stops),
        "excursions": shown,
        "more_excursions": more,
        "oil_pressure_margin": figures.margin_rows(result),
        "temperatures": figures.temperature_rows(result),
        "sensor_faults": figures.fault_rows(result, log),
        "gaps": figures.gap_rows(result, log),
        "log": figures.log_row(request.log, log),
        "next_run": _next_run(result, limits),
        "cannot_show": list(CANNOT_SHOW),
    }


def _next_run(result: Assessment, limits: Limits) -> dict[str, Any] | None:
    """The set points of what is left, by the same generator; none while a cause is to be found or nothing is left."""
    if result.verdict != "continue":
        return None
    done = limits.duration - result.remaining_time
    rest = replace(limits, credited=max(done, 1e-9), remaining=result.remaining_time)
    return {
        "credited": RUN_TIME(done),
        "duration": RUN_TIME(result.remaining_time),
        "segments": [segment_row(segment) for segment in rest.body().segments],
    }


def plan_of(schedule: BreakInScheduleRequest, dataset: Dataset) -> Limits:
    """The limits of the schedule, for faces that draw the plan."""
    return limits_of(schedule, dataset, Answer(result={}))


_SHORT_LOG = "\n".join(
    [
        "time [s],rpm,oil pressure (psi),oil temp F",
        "0,0,0,68",
        "2,900,30,68",
        *(f"{5 + 5 * k},{(2050, 2450, 2250, 2650, 2150, 2550)[k // 6 % 6]},{55 - k // 10},{70 + k}" for k in range(60)),
        "305,1500,30,132",
        "365,1400,28,134",
        "370,1000,24,134",
        "390,0,0,134",
    ]
)

TOPIC = Topic(
    name="break_in_assessment",
    path="/v1/break-in/assessment",
    title="Break-in assessment",
    summary="What a logged run counts for: credited and remaining time, what went wrong, the verdict and the next steps.",
    request=BreakInAssessmentRequest,
    result=BreakInAssessmentResult,
    answer=answer,
    examples=(
        Example("The first five minutes of a run", {"schedule": {"tappet": "flat"}, "log": _SHORT_LOG}),
        Example(
            "The rest after an earlier run, without a gauge",
            {
                "schedule": {"tappet": "flat", "duration": "20 min"},
                "log": {
                    "columns": ["time [min]", "speed [rpm]"],
                    "rows": [[k / 20, (2050, 2650, 2350)[k // 10 % 3]] for k in range(130)],
                },
                "earlier": [{"credited_time": "14 min", "running_time": "15 min", "verdict": "continue"}],
            },
        ),
    ),
    body_limit=16_777_216,
    longest_text=LONGEST_CSV,
    cautions=("running", "after-run"),
    stage="after-run",
    in_sheet="once",
)
