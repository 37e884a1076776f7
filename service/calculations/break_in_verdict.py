"""What a logged run amounts to: the figures of an assessment, the reasons they give, and runs taken together."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal, NamedTuple, TypeAlias

from service.calculations.break_in_credit import Dwell
from service.calculations.break_in_events import Event, Stop
from service.calculations.break_in_limits import HEAT_SLACK, SAME, CreditRules, StopThresholds
from service.calculations.break_in_log import ROUNDED
from service.calculations.break_in_pressure import Drift, MarginCell
from service.calculations.break_in_sensors import SensorFault
from service.calculations.break_in_temperature import Plateau, Rise
from service.errors import OutsideValidity
from service.units import Duration, Pressure, Ratio, RotationalSpeed

Verdict: TypeAlias = Literal["stop-find-cause", "continue", "complete"]

Weight: TypeAlias = Literal["stop", "fix", "note"]

# Relative changes of the oil pressure at equal speed and temperature that are to be mended and that end the run, and the
# share of the compared pairs that must agree before either is said.
FALLING: Ratio = -0.10
FALLING_FAR: Ratio = -0.25
AGREEMENT: Ratio = 0.75

SLOW_START: Duration = 30.0  # from firing to the floor speed
LONG_DWELL: Duration = 120.0


class Wanted(NamedTuple):
    """What the run was to be.

    Attributes:
        duration: Time in s that has to be credited.
        edges: Edges of the speed bands in rad/s; the first is the floor speed.
        longest_dwell: Longest time in s at one speed.
        credited: Time in s that earlier runs have earned.
        ran_before: Running time in s of the earlier runs, for what counts as the first ten minutes.
        stalls_before: Stalls of the earlier runs within these first ten minutes.
        unresolved: Whether an earlier run ended in a stop whose cause nobody has confirmed as found.
    """

    duration: Duration
    edges: tuple[RotationalSpeed, ...]
    longest_dwell: Duration = 60.0
    credited: Duration = 0.0
    ran_before: Duration = 0.0
    stalls_before: int = 0
    unresolved: bool = False


class Reason(NamedTuple):
    """One reason behind the verdict: its code, how it weighs, and the moment in s it points to (−1 if to none)."""

    code: str
    weight: Weight
    at: Duration


@dataclass(frozen=True)
class Assessment:
    """All that a log shows of a run; times in s, samples are indices of the cleaned log.

    Attributes:
        credited_time: Time that counts in this run.
        credited_by_speed: What would count if the oil pressure had been proven all the time.
        remaining_time: Time left after this run and the earlier ones.
        fired_at: When it first ran; 0 if it never did.
        running_time: Time for which the engine is known to have run.
        time_to_floor: From firing to the floor speed, or ``None`` if it never got there.
        time_below_floor, time_below_floor_early: Running below the floor speed before the cool-down, all and early.
        time_above_band: Running above the upper speed.
        band_times: Credited time in each band.
        covered: Share of the bands with credited time.
        evenness: Shortest band time over the mean.
        dwell: Longest time at one speed.
        stops, events, excursions, sensor_faults, gaps: What happened, in order.
        frozen_at: When a loss of oil pressure ended the credit, or ``None``.
        margins: Oil pressure by speed and temperature; empty without pressure.
        lowest_margin: Lowest margin over the floor, once the pressure had built up, or ``None``.
        drift, oil_rise, head_rise, oil_plateau: Trends, or ``None`` where the log cannot show them.
        verdict, reasons: The conclusion.
    """

    credited_time: Duration
    credited_by_speed: Duration
    remaining_time: Duration
    fired_at: Duration
    running_time: Duration
    time_to_floor: Duration | None
    time_below_floor: Duration
    time_below_floor_early: Duration
    time_above_band: Duration
    band_times: tuple[Duration, ...]
    covered: Ratio
    evenness: Ratio
    dwell: Dwell
    stops: tuple[Stop, ...]
    events: tuple[Event, ...]
    excursions: tuple[Event, ...]
    sensor_faults: tuple[SensorFault, ...]
    gaps: tuple[tuple[int, int], ...]
    frozen_at: Duration | None
    margins: tuple[MarginCell, ...]
    lowest_margin: Pressure | None
    drift: Drift | None
    oil_rise: Rise | None
    head_rise: Rise | None
    oil_plateau: Plateau | None
    verdict: Verdict
    reasons: tuple[Reason, ...]


class EarlierRun(NamedTuple):
    """What the answer to an earlier log of the same engine said.

    Attributes:
        credited_time: Its credited time in s.
        running_time: Its running time in s.
        early_stalls: Its stalls within the engine's first ten minutes.
        verdict: Its verdict.
        cause_found: Whether the caller says that the cause of its stop was found and mended.
    """

    credited_time: Duration
    running_time: Duration
    early_stalls: int
    verdict: Verdict
    cause_found: bool


def with_earlier_runs(*, wanted: Wanted, earlier: Sequence[EarlierRun]) -> Wanted:
    """The task of a further run of the same engine; credit of a run that ended in a stop stays frozen, not lost.

    Raises:
        OutsideValidity: a run claims more credit than it ran, or a negative one.
    """
    for run in earlier:
        if not 0 <= run.credited_time <= run.running_time + 1e-6:
            raise OutsideValidity(
                "earlier/credited_time",
                "An earlier run cannot have earned less than nothing or more than it ran; send its answer back as it was.",
                "0 … its running time",
            )
    return wanted._replace(
        credited=wanted.credited + sum(run.credited_time for run in earlier),
        ran_before=wanted.ran_before + sum(run.running_time for run in earlier),
        stalls_before=wanted.stalls_before + sum(run.early_stalls for run in earlier),
        unresolved=wanted.unresolved or any(run.verdict == "stop-find-cause" and not run.cause_found for run in earlier),
    )


def early_stalls(*, result: Assessment, wanted: Wanted, rules: CreditRules) -> list[Stop]:
    """Stalls within the engine's first ten minutes of running, those of earlier runs counted in."""
    limit = rules.early - wanted.ran_before
    return [stop for stop in result.stops if not stop.planned and stop.time - result.fired_at <= limit]


def conclude(*, result: Assessment, wanted: Wanted, thresholds: StopThresholds, rules: CreditRules) -> Assessment:
    """The assessment with its verdict and every reason once, the weightiest first."""
    reasons = [
        *_engine_reasons(result, wanted, rules),
        *_trend_reasons(result, thresholds),
        *_running_reasons(result, wanted, rules),
        *_sensor_reasons(result),
    ]
    order = ("stop", "fix", "note")
    reasons.sort(key=lambda reason: (order.index(reason.weight), reason.at))
    once: dict[str, Reason] = {}
    for reason in reasons:
        once.setdefault(reason.code, reason)
    if any(reason.weight == "stop" for reason in once.values()):
        verdict: Verdict = "stop-find-cause"
    else:
        # What is left within the distance of two samples may have been run: the log cannot show it.
        verdict = "complete" if result.remaining_time <= rules.gap else "continue"
    return replace(result, verdict=verdict, reasons=tuple(once.values()))


def _engine_reasons(result: Assessment, wanted: Wanted, rules: CreditRules) -> list[Reason]:
    """Loss of pressure, heat and stalls."""
    weights: dict[str, Weight] = {"oil-warm": "note"}
    reasons = [Reason(event.kind, weights.get(event.kind, "stop"), event.start) for event in result.events]
    if wanted.unresolved:
        reasons.append(Reason("earlier-stop-unresolved", "stop", -1.0))
    early = early_stalls(result=result, wanted=wanted, rules=rules)
    if early and len(early) + wanted.stalls_before >= 2:
        reasons.append(Reason("second-stall", "stop", early[-1].time))
    for stop in result.stops:
        if not stop.planned:
            reasons.append(Reason("stopped-from-speed" if stop.stood is None else "stall", "fix", stop.time))
        if stop.stood is not None and stop.stood > rules.long_stop:
            reasons.append(Reason("stood-long-without-prime", "fix", stop.time))
    return reasons


def _trend_reasons(result: Assessment, thresholds: StopThresholds) -> list[Reason]:
    """What creeps: rates of rise, the oil's settling temperature, falling pressure."""
    reasons: list[Reason] = []
    settled = result.oil_plateau.temperature if result.oil_plateau else None
    if result.oil_rise and result.oil_rise.rate > thresholds.oil_rise * (1 + SAME):
        # a sump that warms quickly but settles cool is healthy; without a plateau in sight nobody can know that
        harmless = settled is not None and settled <= thresholds.oil_caution + HEAT_SLACK
        reasons.append(Reason("oil-rising-fast", "note" if harmless else "stop", result.oil_rise.start))
    if result.head_rise and result.head_rise.rate > thresholds.head_rise * (1 + SAME):
        reasons.append(Reason("head-rising-fast", "stop", result.head_rise.start))
    if settled is not None and settled > thresholds.oil_caution + HEAT_SLACK:
        weight: Weight = "fix" if settled > thresholds.oil_stop + HEAT_SLACK else "note"
        reasons.append(Reason("oil-will-be-hot", weight, -1.0))
    drift = result.drift
    if drift and drift.change <= FALLING and drift.agreement >= AGREEMENT:
        reasons.append(Reason("pressure-creeping-down", "stop" if drift.change <= FALLING_FAR else "fix", -1.0))
    return reasons


def _running_reasons(result: Assessment, wanted: Wanted, rules: CreditRules) -> list[Reason]:
    """How the run was driven and logged."""
    reasons: list[Reason] = []
    if result.time_to_floor is None:
        reasons.append(Reason("floor-never-reached", "fix", -1.0))
    elif result.time_to_floor > SLOW_START:
        reasons.append(Reason("slow-start", "fix", result.fired_at))
    if result.time_below_floor_early > rules.slow_allowed:
        reasons.append(Reason("slow-running-early", "fix", -1.0))
    if result.dwell.duration > wanted.longest_dwell + ROUNDED:
        weight: Weight = "fix" if result.dwell.duration > max(LONG_DWELL, wanted.longest_dwell) else "note"
        reasons.append(Reason("dwell-too-long", weight, -1.0))
    if result.time_above_band > rules.slow_allowed:
        reasons.append(Reason("ran-above-band", "note", -1.0))
    if result.gaps:
        reasons.append(Reason("gaps-not-credited", "note", -1.0))
    if result.remaining_time <= 0 and result.covered < 1:
        reasons.append(Reason("bands-missing", "note", -1.0))
    return reasons


def _sensor_reasons(result: Assessment) -> list[Reason]:
    """Sensors to mend before the next run."""
    reasons: list[Reason] = []
    seen: set[str] = set()
    for fault in result.sensor_faults:
        code = f"sensor-{fault.kind}"
        if f"{fault.channel} {code}" not in seen:
            weight: Weight = "note" if fault.kind in ("spikes", "impossible") else "fix"
            reasons.append(Reason(code, weight, fault.start))
        seen.add(f"{fault.channel} {code}")
    if result.credited_by_speed - result.credited_time > 1.0 and result.frozen_at is None:
        reasons.append(Reason("pressure-not-proven", "fix", -1.0))
    return reasons
