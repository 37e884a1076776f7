"""Break-in schedule: from priming to the road, with set points that prove their own limits."""

from typing import Any, Literal

from service.answers import break_in_stages as staging
from service.answers import break_in_texts as texts
from service.answers.break_in_plan import RAISE_TIME, plan_of
from service.answers.break_in_procedure import WIDE_BAND_FROM, Limits, credit_rules_of, limits_of, thresholds_of
from service.answers.break_in_request import BreakInScheduleRequest
from service.answers.break_in_rules import check_plan, check_rev_limit
from service.answers.engine_facts import engine_fact
from service.answers.envelope import Answer, QuantityOut, Result
from service.answers.topic import Example, Topic
from service.calculations.break_in_limits import RPM
from service.calculations.break_in_proof import prove
from service.calculations.break_in_schedule import Body, radical_inverse, remaining_time
from service.quantities import ANGLE, DURATION, ROAD_DISTANCE, RUN_TIME, SPEED, SPEED_RAMP
from service.reference.dataset import Dataset

USUAL_ADVANCE_SPEED = 3000 * RPM


class SegmentOut(Result):
    """One set point: where to go, how long the change takes (``ramp``), and how long change and stay take together.

    ``start`` counts from the start of its stage: in the run from the lower speed on, some seconds after firing.
    """

    start: QuantityOut
    duration: QuantityOut
    speed: QuantityOut
    ramp: QuantityOut
    say: str


class WorkStepOut(Result):
    """One step of a stage, with when it is due and why."""

    text: str
    at: QuantityOut | None = None
    why: str
    distance: QuantityOut | None = None
    state: str | None = None


class StageOut(Result):
    """One stage; set points stand where the engine runs."""

    name: Literal["priming", "first_fire", "run", "cool_down", "after_run"]
    title: str
    start: QuantityOut | None = None
    duration: QuantityOut | None = None
    steps: list[WorkStepOut]
    segments: list[SegmentOut] | None = None
    cautions: list[str]


class BandTimeShareOut(Result):
    """One speed band with the time that the plan spends in it."""

    low: QuantityOut
    high: QuantityOut
    time: QuantityOut


class ProofOut(Result):
    """The plan's limits, measured on its finished set points."""

    holds: bool
    promises: dict[str, bool]
    total: QuantityOut
    longest_dwell: QuantityOut
    longest_step: QuantityOut
    steepest_ramp: QuantityOut
    lowest_speed: QuantityOut
    highest_speed: QuantityOut
    coverage: float
    evenness: float


class StopRuleOut(Result):
    """When to stop."""

    code: str
    sign: str
    limit: QuantityOut | None = None
    lasting: QuantityOut | None = None
    act: Literal["kill", "stop", "watch", "evacuate"]
    why: str


class BreakInScheduleResult(Result):
    """The whole break-in as a plan."""

    procedure: str
    tappet: str
    engine: str | None = None
    habit: dict[str, str]
    duration: QuantityOut
    credited: QuantityOut
    remaining: QuantityOut
    speed_low: QuantityOut
    speed_high: QuantityOut
    longest_dwell: QuantityOut
    ramp_rate: QuantityOut
    band_width: QuantityOut
    usual_hold: QuantityOut
    gates: list[dict[str, Any]]
    stages: list[StageOut]
    bands: list[BandTimeShareOut]
    proof: ProofOut | None = None
    look_list: list[dict[str, Any]]
    normal: list[str]
    not_normal: list[str]
    timing: dict[str, Any]
    stop_rules: list[StopRuleOut]
    pressure_floors: list[dict[str, QuantityOut]]
    rings: dict[str, str] | None = None
    road: list[dict[str, Any]]
    cautions: list[str]


def answer(request: BreakInScheduleRequest, dataset: Dataset) -> Answer:
    """The plan with its proof, its stages and its stop rules.

    Raises:
        MissingInput: neither tappets nor an engine are named.
        NotInDataset: an engine or procedure that is not held.
        OutsideValidity, Contradiction: a band that would harm the engine, or limits that cannot be kept together.
    """
    found = Answer(result={})
    limits = limits_of(request, dataset, found)
    rules = credit_rules_of(dataset, found)
    thresholds = thresholds_of(dataset, request.engine, found)
    found.rests_on(remaining_time)
    check_plan(request, limits, rules, dataset, found)
    if request.rev_limit is None:
        usual = engine_fact(dataset, "engines", request.engine, "speed_limit")
        check_rev_limit(limits, usual.si if usual else None, found)
    plan = plan_of(limits)
    if plan.body is not None:
        found.rests_on(radical_inverse, prove)
    found.result = {
        "procedure": limits.procedure,
        "tappet": limits.tappet,
        "engine": request.engine,
        "habit": habit(limits),
        "duration": RUN_TIME(limits.duration),
        "credited": RUN_TIME(limits.credited),
        "remaining": RUN_TIME(limits.remaining),
        "speed_low": SPEED(limits.speed_low),
        "speed_high": SPEED(limits.speed_high),
        "longest_dwell": DURATION(limits.longest_dwell),
        "ramp_rate": SPEED_RAMP(limits.ramp_rate),
        "band_width": SPEED(limits.band_width),
        "usual_hold": DURATION(limits.usual_hold),
        "gates": staging.gates(request, dataset, found),
        "stages": staging.stages(request, limits, plan, rules, dataset, found),
        "bands": plan.bands,
        "proof": plan.proof,
        "look_list": staging.look_list(),
        "normal": list(texts.NORMAL),
        "not_normal": list(texts.NOT_NORMAL),
        "timing": _timing(request, limits, plan.body, dataset, found),
        "stop_rules": staging.stop_rules(thresholds),
        "pressure_floors": staging.pressure_floors(limits, thresholds, found),
        "rings": _rings(request, dataset, found),
        "road": _road(dataset, found),
        "cautions": staging.stage_cautions(dataset, ("priming", "fuel", "first-fire", "running", "after-run")),
    }
    found.table = plan.table
    return found


def habit(limits: Limits) -> dict[str, str]:
    """What the plan is, which of the trade's two habits it is nearer to, and what speaks for this one and for the other."""
    plan = f"{limits.speed_low / RPM:.0f} to {limits.speed_high / RPM:.0f} rpm for {limits.duration / 60:g} min"
    if limits.tappet == "roller":
        return {
            "name": "rings-only",
            "is": f"{plan}; roller tappets: only the rings need the run",
            "why": "roller tappets need no run to mate",
            "other": "no habit disagrees",
        }
    wide = limits.speed_high >= WIDE_BAND_FROM
    near = f"near the trade's wider band ({texts.WIDE})" if wide else f"near the trade's narrower band ({texts.NARROW})"
    narrow_why, wide_why = f"for the narrower band speak {texts.WHY_NARROW}", f"for the wider band speak {texts.WHY_WIDE}"
    return {
        "name": "wide-band" if wide else "narrow-band",
        "is": f"{plan}, {near}",
        "why": wide_why if wide else narrow_why,
        "other": narrow_why if wide else wide_why,
    }


def _timing(
    request: BreakInScheduleRequest, limits: Limits, body: Body | None, dataset: Dataset, found: Answer
) -> dict[str, Any]:
    """How to set total timing while the run goes on, and the moments of the plan that suit it."""
    advance = request.total_advance.si if request.total_advance else None
    if advance is None:
        fact = engine_fact(dataset, "ignition", request.engine, "total_advance")
        if fact is not None and fact.si is not None:
            found.uses(fact)
            advance = fact.si
            found.assume("total_advance", ANGLE(advance), "usual of this engine family", fact.source, "common-practice")
        else:
            why = "The total timing to set during the run: send it, or the engine."
            found.cannot_check("timing-during-the-run", ["total_advance"], why)
    fast = engine_fact(dataset, "ignition", request.engine, "advance_speed")
    full_at = fast.si if fast is not None and fast.si is not None else USUAL_ADVANCE_SPEED
    top = max((s.speed for s in body.segments if s.hold >= 5), default=limits.speed_low) if body else limits.speed_low
    moments = [s for s in body.segments if s.speed == top and s.hold >= 5][:4] if body else []
    return {
        "total_advance": None if advance is None else ANGLE(advance),
        "full_advance_from": SPEED(full_at),
        "highest_hold": SPEED(top),
        "moments": [DURATION(s.start + s.ramp) for s in moments],
        "moments_count_from": f"the start of the run, as the set points do; it is {RAISE_TIME:g} s after firing",
        "steps": [
            "Vacuum hose off and plugged, light on the first cylinder's lead, leads tied back from fan and belt.",
            "Read at the highest set points; loosen the clamp just enough, turn the distributor two degrees at a time.",
            "More than planned: retard at once. Less than planned: advance in small steps, never past the planned total.",
            "Clamp it, read it again at the next high set point, write it down.",
            "The band ends below full advance: read the total after the run in one short pull, then cool down."
            if top < full_at
            else "The band reaches full advance: what is read at the top is the total.",
        ],
    }


def _rings(request: BreakInScheduleRequest, dataset: Dataset, found: Answer) -> dict[str, str] | None:
    """What the rings need after the run."""
    if request.rings is None:
        found.cannot_check("ring-bedding", ["rings"], "How the rings are bedded in after the run.")
        return None
    entity = dataset.find("ring-bedding", request.rings if request.rings == "chromed-barrels" else f"{request.rings}-rings")
    if entity is None:
        return None
    found.uses(entity.fact("advice"))
    return {"title": entity.text("title"), "advice": entity.text("advice")}


def _road(dataset: Dataset, found: Answer) -> list[dict[str, Any]]:
    """The first distances on the road."""
    rows = []
    for phase in dataset.entities("road-phases"):
        found.uses(phase.fact("advice"))
        rows.append(
            {
                "from": ROAD_DISTANCE(phase.si("distance_from")),
                "to": ROAD_DISTANCE(phase.si("distance_to")),
                "speed_low": SPEED(phase.si("speed_low")) if phase.has("speed_low") else None,
                "speed_high": SPEED(phase.si("speed_high")) if phase.has("speed_high") else None,
                "share_of_rev_limit": phase.si("share_of_speed_limit") if phase.has("share_of_speed_limit") else None,
                "advice": phase.text("advice"),
            }
        )
    return rows


TOPIC = Topic(
    name="break_in_schedule",
    path="/v1/break-in/schedule",
    title="Break-in schedule",
    summary="The run-in from priming to the road: set points by the second, stop rules, what to look at and when.",
    request=BreakInScheduleRequest,
    result=BreakInScheduleResult,
    answer=answer,
    examples=(
        Example("Flat tappets, single springs", {"tappet": "flat", "spring": "single", "lubrication": "moly-paste"}),
        Example(
            "The trade's other habit",
            {"tappet": "flat", "speed_low": "2000 rpm", "speed_high": "4000 rpm", "duration": "15 min"},
        ),
        Example("What is left after a stop", {"engine": "air-cooled-flat-four", "credited": "14 min", "stood": "20 min"}),
        Example("Roller tappets", {"tappet": "roller", "rings": "iron", "air_temperature": "21 degC"}),
    ),
    cautions=("priming", "fuel", "first-fire", "running", "after-run"),
    stage="first-fire",
)
