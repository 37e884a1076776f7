"""Getting oil to the bearings before the first fire: bursts within the starter's duty, or by hand first."""

from typing import Any

from service.answers.envelope import Answer, Rule
from service.answers.nested import inside
from service.answers.oil_request import OilRequest, PumpRequest
from service.calculations.oil import Fill
from service.calculations.priming import PrimingPlan, StarterDuty, gear_pump_displacement, priming_plan
from service.errors import Missing, MissingInput, OutsideValidity
from service.quantities import DURATION, FLUID, SMALL_VOLUME, SPEED, text_of
from service.reference.dataset import Dataset

EXTERNAL_TO_CARE_FOR = 0.4e-3
USUAL_PASSAGES = 0.15e-3
USUAL_CRANKING_SPEED = 20.943951023931955  # 200 rpm
USUAL_EFFICIENCY = 0.7
CAMSHAFT_RATIO = 0.5
GEAR_EXAMPLES = {"gear_diameter": "36 mm", "centre_distance": "30 mm", "gear_width": "21 mm"}
LEAST_DISPLACEMENT = 0.1e-6
USUAL_DUTY = StarterDuty(10.0, 60.0, 5)

COOLER_NOT_PRIMED = Rule(
    code="cooler-not-primed",
    severity="fix",
    stage="pre-start",
    rule="more than 0.4 L in filter, cooler and lines, not filled by hand or from a pressure pot before cranking",
    reason="The starter would have to pump for minutes before the first drop reaches a bearing.",
    remedy="Fill filter, cooler and lines by hand or from a pressure pot before the first turn.",
    source="common-practice",
    evidence="common-practice",
)
PRIMING_BEYOND_STARTER = Rule(
    code="priming-beyond-starter",
    severity="stop",
    stage="pre-start",
    rule="filling by the starter takes more bursts than its duty allows",
    reason="A starter that cranks on and on burns out, and the cam runs dry all the while.",
    remedy="Do not crank on: fill by hand or from a pressure pot at the gallery until the plan fits the duty.",
    source="ps-magazine-395",
    evidence="government",
)


def check_external(request: OilRequest, filled: Fill, found: Answer) -> None:
    """Whether a large external circuit is filled before the starter turns."""
    if filled.external <= EXTERNAL_TO_CARE_FOR:
        return
    if request.filled_by_hand is None:
        found.cannot_check(COOLER_NOT_PRIMED.code, ["filled_by_hand"])
    elif not request.filled_by_hand:
        found.find(
            COOLER_NOT_PRIMED,
            ("filled_by_hand",),
            f"Filter, cooler and lines hold {text_of(FLUID(filled.external))} and are empty.",
        )


def priming(request: OilRequest, filled: Fill, dataset: Dataset, found: Answer) -> dict[str, Any] | None:
    """The plan for the circuit as it stands, and for the one filled by hand; ``None`` without a pump."""
    displacement = _displacement(request.pump, found)
    if displacement is None or request.pump is None:
        why = "What to fill by cranking: or send the gears: diameter, centre distance, width."
        found.cannot_check("priming-plan", ["pump.displacement"], why)
        return None
    duty = _duty(request, dataset, found)
    passages = _given_or(request.passages, "passages", USUAL_PASSAGES, FLUID, "oil ways of a small engine", found)
    cranking = _given_or(
        request.cranking_speed, "cranking_speed", USUAL_CRANKING_SPEED, SPEED, "plugs out, good battery", found
    )

    def plan(volume: float) -> PrimingPlan:
        return priming_plan(
            volume=volume,
            pump_displacement=displacement,
            pump_ratio=_number(request.pump.ratio if request.pump else None, "pump.ratio", CAMSHAFT_RATIO, found),
            cranking_speed=cranking,
            efficiency=_number(request.pump.efficiency if request.pump else None, "pump.efficiency", USUAL_EFFICIENCY, found),
            duty=duty,
        )

    found.rests_on(priming_plan)
    empty = passages if request.filled_by_hand else passages + filled.external
    as_it_stands, by_hand = plan(empty), plan(passages)
    if not as_it_stands.within_duty:
        found.find(
            PRIMING_BEYOND_STARTER,
            ("pump", "filled_by_hand"),
            f"Pumping {text_of(FLUID(empty))} takes {as_it_stands.burst_count} bursts; the starter stands {duty.bursts}. "
            f"Fill at least {text_of(FLUID(as_it_stands.fill_by_hand))} by hand.",
        )
    return {
        **_shown(as_it_stands, empty),
        "pump_displacement": SMALL_VOLUME(displacement),
        "rest": DURATION(duty.rest),
        "filled_by_hand": _shown(by_hand, passages),
        "steps": _steps(as_it_stands if as_it_stands.within_duty else by_hand, duty),
    }


def _shown(plan: PrimingPlan, volume: float) -> dict[str, Any]:
    return {
        "volume": FLUID(volume),
        "cranking": DURATION(plan.cranking),
        "burst_count": plan.burst_count,
        "bursts": [DURATION(burst) for burst in plan.bursts],
        "elapsed": DURATION(plan.elapsed),
        "within_duty": plan.within_duty,
        "fill_by_hand": FLUID(plan.fill_by_hand),
    }


def _steps(plan: PrimingPlan, duty: StarterDuty) -> list[str]:
    """What to do, in order; the cranking only where the starter stands it."""
    steps = [
        "Fill filter, cooler and lines by hand; pour the rest of the fill into the sump.",
        "Take the plugs out; disconnect the coil; take the wrench off the crank.",
    ]
    if plan.within_duty:
        last = f" (the last one {text_of(DURATION(plan.bursts[-1]))})" if plan.burst_count > 1 else ""
        steps.append(
            f"Crank {plan.burst_count} × up to {text_of(DURATION(duty.burst))}{last}, "
            f"with {text_of(DURATION(duty.rest))} of rest between; watch the gauge."
            if plan.burst_count
            else "Crank once, briefly, and watch the gauge."
        )
    else:
        steps.append("Do not crank: fill the oil ways from a pressure pot at the gallery first.")
    return [
        *steps,
        "Done when the gauge moves and oil shows at the farthest rocker.",
        f"No pressure after {duty.bursts} bursts: stop and find the fault; do not crank on.",
    ]


def _displacement(pump: PumpRequest | None, found: Answer) -> float | None:
    """Displacement of the pump, given or from its gears.

    Raises:
        MissingInput: some of the gear's figures without the others.
        OutsideValidity: gears that do not mesh.
    """
    if pump is None:
        return None
    if pump.displacement is not None:
        return pump.displacement.si
    gears = {"gear_diameter": pump.gear_diameter, "centre_distance": pump.centre_distance, "gear_width": pump.gear_width}
    missing = [name for name, value in gears.items() if value is None]
    if len(missing) == len(gears):
        return None
    if missing or pump.gear_diameter is None or pump.centre_distance is None or pump.gear_width is None:
        reason = "A pump's gears need diameter, centre distance and width."
        raise MissingInput.of([Missing(f"pump/{name}", reason, GEAR_EXAMPLES[name]) for name in missing])
    found.rests_on(gear_pump_displacement)
    with inside("pump"):
        displacement = gear_pump_displacement(
            gear_diameter=pump.gear_diameter.si, centre_distance=pump.centre_distance.si, gear_width=pump.gear_width.si
        )
    if displacement < LEAST_DISPLACEMENT:
        raise OutsideValidity(
            "pump/gear_diameter", "These gears would hardly mesh; measure outside diameter and shaft distance again.", ""
        )
    return displacement


def _duty(request: OilRequest, dataset: Dataset, found: Answer) -> StarterDuty:
    given = request.starter
    if given is not None:
        return StarterDuty(given.burst.si, given.rest.si, given.bursts)
    duty, entity = USUAL_DUTY, dataset.find("safety-limits", "starter-duty")
    if entity is not None and entity.has("limit") and entity.has("over"):
        found.uses(entity.fact("limit"), entity.fact("over"))
        duty = StarterDuty(entity.si("limit"), entity.si("over"), USUAL_DUTY.bursts)
    found.assume(
        "starter",
        {"burst": DURATION(duty.burst), "rest": DURATION(duty.rest), "bursts": duty.bursts},
        "short bursts with a minute between, then find the fault",
        "ps-magazine-395",
        "government",
    )
    return duty


def _given_or(given: Any, name: str, usual: float, kind: Any, reason: str, found: Answer) -> float:
    if given is not None:
        return float(given.si)
    found.assume(name, kind(usual), reason, "common-practice", "common-practice")
    return usual


def _number(given: float | None, name: str, usual: float, found: Answer) -> float:
    if given is not None:
        return given
    if all(entry["field"] != name for entry in found.assumptions):
        found.assume(name, usual, "usual of a gear pump on the camshaft", "common-practice", "common-practice")
    return usual
