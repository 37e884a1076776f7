"""What a measured clearance becomes when the parts are hot, and the checks that belong to its kind."""

from dataclasses import dataclass

from service.answers.clearance_request import ClearanceRequest
from service.answers.clearance_rules import MAIN_CLEARANCE_HOT, RING_GAP_SMALL, check_main_hot, check_piston, check_ring_gap
from service.answers.envelope import Answer
from service.calculations.hot_clearance import hot_clearance, piston_clearance_swap, ring_gap_minimum, ring_gap_rule
from service.quantities import FINE_CLEARANCE, TEMPERATURE, Quantity
from service.reference.dataset import Dataset

ROOM_TEMPERATURE = 293.15


@dataclass(frozen=True, slots=True)
class Warm:
    """Expansion in 1/K and rise in K of the outer and the inner part."""

    outer_expansion: float
    outer_temperature_rise: float
    inner_expansion: float
    inner_temperature_rise: float


# Usual material and part temperature of the outer and the inner part by the kind of fit.
_USUAL = {
    "main": (None, "case", "steel-1040", "journal"),
    "piston": ("grey-iron", "barrel", None, "piston-skirt"),
    "ring": ("grey-iron", "barrel", "grey-iron", "top-ring"),
}


def has_own_rule(request: ClearanceRequest, kind: str) -> bool:
    """Whether a fit of this kind has a rule that speaks without limits and uncertainty, and what that rule needs was sent."""
    if kind.startswith("ring-gap"):
        return request.bore is not None and kind != "ring-gap-oil"
    if kind.startswith("piston"):
        return request.maker_minimum is not None
    return kind == "rod-side-clearance" or (kind == "main-clearance" and request.diameter is not None)


def hot_checks(found: Answer, request: ClearanceRequest, dataset: Dataset, kind: str) -> None:
    """Add what belongs to a fit of this kind (``main-clearance``, ``piston-clearance``, ``ring-gap-top`` …)."""
    if kind.startswith("ring-gap"):
        _ring(found, request, dataset, kind)
    elif kind.startswith("piston"):
        _piston(found, request, dataset)
    else:
        _bearing(found, request, dataset, kind)


def _bearing(found: Answer, request: ClearanceRequest, dataset: Dataset, kind: str) -> None:
    main = kind == "main-clearance"
    if request.diameter is None and not main:
        return
    outer = request.outer_material
    if outer is None and main:
        outer = _case_material(found, request, dataset)
    missing = ["diameter"] if request.diameter is None else []
    missing += ["outer_material"] if outer is None else []
    missing += ["inner_material"] if request.inner_material is None and not main else []
    if missing or request.diameter is None:
        _not_hot(found, missing, main)
        return
    warm = _warm(found, request, dataset, "main" if main else "", outer)
    if warm is None:
        _not_hot(found, _untold_temperatures(request), main)
        return
    found.rests_on(hot_clearance)
    hot = hot_clearance(
        cold_clearance=request.measured.si,
        diameter=request.diameter.si,
        outer_expansion=warm.outer_expansion,
        outer_temperature_rise=warm.outer_temperature_rise,
        inner_expansion=warm.inner_expansion,
        inner_temperature_rise=warm.inner_temperature_rise,
    )
    found.result["hot_clearance"] = FINE_CLEARANCE(hot)
    if main and outer is not None and outer.startswith("magnesium"):
        check_main_hot(found, hot=hot)


def _not_hot(found: Answer, missing: list[str], main: bool) -> None:
    found.cannot_check(MAIN_CLEARANCE_HOT.code if main else "clearance-when-hot", missing, "The clearance when hot.")


def _untold_temperatures(request: ClearanceRequest) -> list[str]:
    return [name for name in ("outer_temperature", "inner_temperature") if getattr(request, name) is None]


def _case_material(found: Answer, request: ClearanceRequest, dataset: Dataset) -> str | None:
    """Magnesium, where the family's case is said to be of it."""
    for owner in dataset.lineage(request.engine or ""):
        engine = dataset.entity("engines", owner)
        if engine.has("case"):
            if not engine.text("case").startswith("magnesium"):
                return None
            found.uses(engine.fact("case"))
            fact = engine.fact("case")
            found.assume("outer_material", "magnesium-az91d", "usual case of this family", fact.source, "common-practice")
            return "magnesium-az91d"
    return None


def _ring(found: Answer, request: ClearanceRequest, dataset: Dataset, kind: str) -> None:
    """The gap that the ring needs: by heat for the top ring, by the trade's rule for the others but the oil ring."""
    if request.bore is None:
        found.cannot_check(RING_GAP_SMALL.code, ["bore"])
        return
    bore = request.bore.si
    rule = ring_gap_rule(bore=bore)
    found.rests_on(ring_gap_rule)
    shown = {"rule_low": FINE_CLEARANCE(rule.low), "rule_high": FINE_CLEARANCE(rule.high)}
    found.result["ring_gap"] = shown
    if kind == "ring-gap-oil":
        return
    minimum = 0.0
    if kind != "ring-gap-second" or request.inner_temperature is not None:
        warm = _warm(found, request, dataset, "ring", request.outer_material)
        if warm is None:
            found.cannot_check(RING_GAP_SMALL.code, _untold_temperatures(request), "The thermal minimum of the ring gap.")
        else:
            found.rests_on(ring_gap_minimum)
            minimum = ring_gap_minimum(
                bore=bore,
                ring_expansion=warm.inner_expansion,
                ring_temperature_rise=warm.inner_temperature_rise,
                barrel_expansion=warm.outer_expansion,
                barrel_temperature_rise=warm.outer_temperature_rise,
            )
            shown["minimum"] = FINE_CLEARANCE(minimum)
    check_ring_gap(found, gap=request.measured.si, minimum=minimum, bore=bore)


def _piston(found: Answer, request: ClearanceRequest, dataset: Dataset) -> None:
    """The maker's minimum, and the cold clearance of another piston type by difference."""
    if request.maker_minimum is None:
        found.cannot_check("piston-fit-tight", ["maker_minimum"])
    else:
        check_piston(found, clearance=request.measured.si, minimum=request.maker_minimum.si)
    needs = ("bore", "known_clearance", "known_material", "inner_material")
    missing = [name for name in needs if getattr(request, name) is None]
    if (
        missing
        or request.bore is None
        or request.known_clearance is None
        or request.known_material is None
        or request.inner_material is None
    ):
        why = "A piston's hot clearance is known only as a difference from a piston that is known to be right."
        found.cannot_check("cold-clearance-of-piston-type", missing, why)
        return
    known = dataset.entity("materials", request.known_material, "known_material")
    new = dataset.entity("materials", request.inner_material, "inner_material")
    found.uses(known.fact("expansion"), new.fact("expansion"))
    skirt = _temperature(found, dataset, "inner_temperature", request.inner_temperature, "piston-skirt")
    if skirt is None:
        why = "This dataset holds no usual temperature of the skirt."
        found.cannot_check("cold-clearance-of-piston-type", ["inner_temperature"], why)
        return
    found.rests_on(piston_clearance_swap)
    cold = piston_clearance_swap(
        known_clearance=request.known_clearance.si,
        bore=request.bore.si,
        known_expansion=known.si("expansion"),
        new_expansion=new.si("expansion"),
        skirt_temperature_rise=skirt - ROOM_TEMPERATURE,
    )
    found.result["piston_cold_clearance"] = FINE_CLEARANCE(cold)


def _warm(found: Answer, request: ClearanceRequest, dataset: Dataset, kind: str, outer: str | None) -> Warm | None:
    """Materials and temperatures as given, or usual for the kind; None where a temperature is not known."""
    usual = _USUAL.get(kind, (None, "", None, ""))
    outer_name, inner_name = outer or usual[0], request.inner_material or usual[2]
    outer_hot = _temperature(found, dataset, "outer_temperature", request.outer_temperature, usual[1])
    inner_hot = _temperature(found, dataset, "inner_temperature", request.inner_temperature, usual[3])
    if outer_name is None or inner_name is None or outer_hot is None or inner_hot is None:
        return None
    expansions = []
    for field, name, given in (
        ("outer_material", outer_name, outer),
        ("inner_material", inner_name, request.inner_material),
    ):
        entity = dataset.entity("materials", name, field)
        found.uses(entity.fact("expansion"))
        expansions.append(entity.si("expansion"))
        if given is None:
            found.assume(field, name, "usual for this part", entity.fact("expansion").source, "common-practice")
    return Warm(expansions[0], outer_hot - ROOM_TEMPERATURE, expansions[1], inner_hot - ROOM_TEMPERATURE)


def _temperature(found: Answer, dataset: Dataset, field: str, given: Quantity | None, part: str) -> float | None:
    """A running temperature in K, as given or as the dataset takes it for the part."""
    if given is not None:
        return given.si
    entity = dataset.find("part-temperatures", part)
    if entity is None:
        return None
    fact = entity.fact("temperature")
    found.uses(fact)
    found.assume(field, TEMPERATURE(entity.si("temperature")), "usual when warm", fact.source, "common-practice")
    return entity.si("temperature")
