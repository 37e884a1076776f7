"""A measured clearance against its limits, with the uncertainty of the measurement; and what it becomes when hot."""

from dataclasses import dataclass
from typing import Any

from service.answers.clearance_hot import has_own_rule, hot_checks
from service.answers.clearance_request import ClearanceRequest, ClearanceResult
from service.answers.clearance_rules import CLEARANCE_OUT, check_decision, check_rod_side, check_temperatures
from service.answers.envelope import Answer
from service.answers.topic import Example, Topic
from service.calculations.clearance import capable_uncertainty, decide, length_at_reference_temperature
from service.errors import Missing, MissingInput, OutsideValidity
from service.quantities import FINE_CLEARANCE
from service.reference.dataset import Dataset, Entity

NO_UNCERTAINTY = Missing(
    "uncertainty",
    "Without its uncertainty a reading decides nothing; send it, or the kind of gauge (gauge: feeler, micrometer …).",
    "0.010 mm",
)


@dataclass(frozen=True, slots=True)
class Limits:
    """Limits in m, and the fit of the dataset that they come from."""

    low: float | None
    high: float | None
    fit: Entity | None


def answer(request: ClearanceRequest, dataset: Dataset) -> Answer:
    """The decision about a reading, and the checks that belong to its kind of fit.

    Raises:
        MissingInput: no limits, or neither uncertainty nor gauge, and no rule of this fit that needs none of them.
        Contradiction: the limits are not in order.
        NotInDataset: engine, fit, gauge or material are not held.
        OutsideValidity: the gauge measures no length.
    """
    found = Answer(result={})
    kind = (request.fit or "").rsplit("/", 1)[-1]
    measured, limits = request.measured.si, None
    try:
        limits = _limits(found, request, dataset)
        uncertainty = _uncertainty(found, request, dataset)
    except MissingInput as missing:
        if not has_own_rule(request, kind):
            raise
        found.result["measured"] = FINE_CLEARANCE(measured)
        found.cannot_check(CLEARANCE_OUT.code, missing.fields, str(missing))
    else:
        _decide(found, limits, measured, uncertainty, kind)
    if kind == "rod-side-clearance":
        check_rod_side(found, clearance=measured)
    hot_checks(found, request, dataset, kind)
    _warmth(found, request, dataset)
    found.result["advice"] = _advice(found, request, dataset, limits.fit if limits else None)
    return found


def _decide(found: Answer, limits: Limits, measured: float, uncertainty: float, kind: str) -> None:
    """The decision about the reading, with its margins."""
    found.rests_on(decide)
    decision = decide(measured=measured, uncertainty=uncertainty, low=limits.low, high=limits.high)
    found.result.update(
        decision=decision.verdict,
        measured=FINE_CLEARANCE(measured, uncertainty),
        guard_band=FINE_CLEARANCE(decision.guard_band),
        conformance_probability=decision.conformance_probability,
        gauge_capable=decision.gauge_capable,
    )
    for name in ("margin_low", "margin_high", "accept_low", "accept_high"):
        if (value := getattr(decision, name)) is not None:
            found.result[name] = FINE_CLEARANCE(value)
    if limits.low is not None:
        found.result["low"] = FINE_CLEARANCE(limits.low)
    if limits.high is not None:
        found.result["high"] = FINE_CLEARANCE(limits.high)
    if limits.low is not None and limits.high is not None:
        found.rests_on(capable_uncertainty)
        found.result["capable_uncertainty"] = FINE_CLEARANCE(capable_uncertainty(low=limits.low, high=limits.high))
    check_decision(found, decision=decision, measured=measured, low=limits.low, high=limits.high, fit=kind)
    _wear(found, limits.fit, measured, uncertainty)


def _limits(found: Answer, request: ClearanceRequest, dataset: Dataset) -> Limits:
    """The caller's limits, or those of the fit of the engine."""
    fit = None
    if request.engine is not None and request.fit is not None:
        dataset.entity("engines", request.engine, "engine")
        given = request.low is not None or request.high is not None
        names = [name for owner in dataset.lineage(request.engine) for name in dataset.names_of_engine("fits", owner)]
        if not given or request.fit in names:
            fit = dataset.of_engine("fits", request.engine, request.fit, "fit")
    if request.low is not None or request.high is not None:
        return Limits(request.low.si if request.low else None, request.high.si if request.high else None, fit)
    if fit is None:
        unsure = [NO_UNCERTAINTY] if request.uncertainty is None and request.gauge is None else []
        raise MissingInput("low", "Send low, high or both; or engine and fit to look them up.", "0.07 mm", *unsure)
    found.uses(fit.fact("low"))
    high = None
    if fit.has("high"):
        high = fit.si("high")
        found.uses(fit.fact("high"))
    return Limits(fit.si("low"), high, fit)


def _uncertainty(found: Answer, request: ClearanceRequest, dataset: Dataset) -> float:
    """The caller's uncertainty in m, or what is usual for the gauge."""
    if request.uncertainty is not None:
        return request.uncertainty.si
    if request.gauge is None:
        raise MissingInput(*NO_UNCERTAINTY)
    entity = dataset.entity("gauges", request.gauge, "gauge")
    fact = entity.fact("uncertainty")
    if fact.unit != "mm":
        raise OutsideValidity("gauge", "This gauge measures no length; send the uncertainty of the reading instead.")
    found.uses(fact)
    found.assume(
        "uncertainty", FINE_CLEARANCE(entity.si("uncertainty")), "usual for this gauge", fact.source, "common-practice"
    )
    return entity.si("uncertainty")


def _wear(found: Answer, fit: Entity | None, measured: float, uncertainty: float) -> None:
    """Say how the reading stands to the wear limit."""
    if fit is None or not fit.has("wear_limit"):
        return
    found.uses(fit.fact("wear_limit"))
    limit = fit.si("wear_limit")
    decision = decide(measured=measured, uncertainty=uncertainty, high=limit)
    found.result["wear"] = {"limit": FINE_CLEARANCE(limit), "decision": decision.verdict}


def _warmth(found: Answer, request: ClearanceRequest, dataset: Dataset) -> None:
    """What the temperatures of part and gauge do to the reading."""
    if request.part_temperature is None or request.gauge_temperature is None:
        if request.part_temperature is not None or request.gauge_temperature is not None:
            missing = "gauge_temperature" if request.part_temperature is not None else "part_temperature"
            found.cannot_check("temperatures-differ", [missing])
        return
    check_temperatures(found, difference=request.part_temperature.si - request.gauge_temperature.si)
    if request.diameter is None:
        found.cannot_check("error-by-temperature", ["diameter"], "How far the temperatures falsify the reading.")
        return
    steel = dataset.entity("materials", "steel-1040")
    supplied = next((entry["value"] for entry in found.assumptions if entry["field"] == "inner_material"), None)
    part = dataset.entity("materials", request.inner_material or supplied or "steel-1040", "inner_material")
    found.uses(steel.fact("expansion"), part.fact("expansion"))
    if request.inner_material is None and supplied is None:
        found.assume("inner_material", "steel-1040", "a crank journal", part.fact("expansion").source, "common-practice")
    found.rests_on(length_at_reference_temperature)
    at_20 = length_at_reference_temperature(
        reading=request.diameter.si,
        part_expansion=part.si("expansion"),
        part_temperature=request.part_temperature.si,
        gauge_expansion=steel.si("expansion"),
        gauge_temperature=request.gauge_temperature.si,
    )
    found.result["diameter_at_20_degrees"] = FINE_CLEARANCE(at_20)


def _advice(found: Answer, request: ClearanceRequest, dataset: Dataset, fit: Entity | None) -> list[str]:
    """What the dataset says about measuring it."""
    advice: list[str] = []
    gauge = dataset.find("gauges", request.gauge) if request.gauge else None
    for entity, name in ((fit, "condition"), (gauge, "advice")):
        if entity is not None and entity.has(name):
            advice.append(entity.text(name))
            found.uses(entity.fact(name))
    return advice


_DEMONSTRATION: dict[str, Any] = {"engine": "air-cooled-flat-four", "fit": "crank-end-play"}

TOPIC = Topic(
    name="clearance",
    path="/v1/clearance",
    title="Clearance",
    summary="Whether a measured clearance is within its limits once the uncertainty of the reading is counted, and what it "
    "becomes when hot.",
    request=ClearanceRequest,
    result=ClearanceResult,
    answer=answer,
    examples=(
        Example(
            "Is an end play of 0.149 mm good?",
            {"measured": "0.149 mm", "uncertainty": "0.010 mm", "low": "0.06 mm", "high": "0.15 mm"},
        ),
        Example("End play of a family, by dial gauge", {**_DEMONSTRATION, "measured": "0.10 mm", "gauge": "dial-gauge"}),
        Example(
            "Main bearing in a magnesium case, hot",
            {
                "engine": "air-cooled-flat-four",
                "fit": "main-clearance",
                "measured": "0.045 mm",
                "uncertainty": "0.010 mm",
                "diameter": "55 mm",
            },
        ),
        Example(
            "Top ring in its barrel",
            {
                "engine": "air-cooled-flat-four",
                "fit": "ring-gap-top",
                "measured": "0.015 in",
                "gauge": "feeler",
                "bore": "86 mm",
            },
        ),
        Example(
            "A forged piston in place of a strutted one",
            {
                "fit": "piston-clearance",
                "measured": "0.10 mm",
                "uncertainty": "0.010 mm",
                "low": "0.09 mm",
                "maker_minimum": "0.09 mm",
                "bore": "86 mm",
                "known_clearance": "0.045 mm",
                "known_material": "piston-strutted",
                "inner_material": "aluminium-2618",
            },
        ),
    ),
    stage="measuring",
    in_sheet="list",
    cautions=("cleaning",),
)
