"""Assessment of a logged break-in run: what counts, what is left, what went wrong and what to do next."""

from dataclasses import replace
from typing import Any

import numpy as np

from service.answers import break_in_figures as figures
from service.answers.break_in_assessment_request import BreakInAssessmentRequest
from service.answers.break_in_assessment_result import BreakInAssessmentResult
from service.answers.break_in_log import LONGEST_CSV
from service.answers.break_in_plan import segment_row
from service.answers.break_in_procedure import Limits, credit_rules_of, limits_of, thresholds_of
from service.answers.break_in_request import BreakInScheduleRequest
from service.answers.break_in_texts import CANNOT_SHOW
from service.answers.break_in_verdicts import DOUBLED, next_steps, report
from service.answers.envelope import Answer
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
from service.errors import Contradiction
from service.quantities import DURATION, RUN_TIME, text_of
from service.reference.dataset import Dataset
from service.units import FloatArray

AS_TOLD = 3.1
"""How far two statements of one credited time may differ, in s: it is told in tenths of a minute."""


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
    """The task: bands of the whole plan, required time, and what earlier runs have earned.

    The credit that the schedule names is that of the earlier runs: it counts only where these are not sent themselves.

    Raises:
        Contradiction: the schedule names another credit than the earlier runs have earned.
    """
    own = _own_credit(request, limits)
    wanted = Wanted(limits.duration, limits.whole().edges, limits.longest_dwell, own, own)
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


def _own_credit(request: BreakInAssessmentRequest, limits: Limits) -> float:
    """The credit before this run in s as the schedule has it; none where the earlier runs stand for it."""
    if not request.earlier:
        return limits.credited
    earned = sum(run.credited_time.si for run in request.earlier)
    if limits.credited > 0 and abs(limits.credited - earned) > AS_TOLD:
        reason = (
            f"The schedule says that {text_of(RUN_TIME(limits.credited))} were credited before, but the earlier runs add up to "
            f"{text_of(RUN_TIME(earned))}. Send all earlier runs and leave credited out, or credited alone."
        )
        raise Contradiction(("schedule/credited", "earlier"), reason)
    return 0.0


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
        why = "Oil pressure during the run: the credit rests on speed alone; a missing reading is never a pass."
        found.cannot_check("run-pressure-low", ["log.oil_pressure"], why)
    if "oil_temperature" in log.others:
        found.rests_on(theil_sen_slopes, temperature_plateau)
        if "oil_pressure" in log.others:
            found.rests_on(pressure_drift)
    else:
        found.cannot_check("run-oil-hot", ["log.oil_temperature"], "Oil temperature, its rise and where it settles.")
    if "head_temperature" not in log.others:
        found.cannot_check("run-head-hot", ["log.head_temperature"], "Temperature of the heads and its rise.")
    if log.sparse:
        why = f"Samples are {log.spacing:.0f} s apart; two seconds or less would show them."
        found.cannot_check("run-sensor-spikes", [], why)


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
