"""Valve lash: looked up for an engine, computed from the growth of the parts, or carried over to other push rods."""

from service.answers import lash_rules as rules
from service.answers.engine_kind import check_certificate
from service.answers.envelope import Answer
from service.answers.lash_chain import Chains, chains_of, family_of, rod_material
from service.answers.lash_hot import (
    COVERAGE,
    EXPANSION_DEVIATION,
    TEMPERATURE_DEVIATION,
    VALVES,
    add_frost,
    add_hot,
    changes_of,
    hot_wanted,
)
from service.answers.lash_request import LashRequest, PushRod, Valve
from service.answers.lash_result import LashResult
from service.answers.topic import Example, Topic
from service.calculations import lash as calculation
from service.errors import Missing, MissingInput, NotInDataset
from service.quantities import CLEARANCE, FINE_CLEARANCE, TEMPERATURE, text_of
from service.reference.dataset import Dataset, Entity

USUAL_SETTING = 293.15
FIGURES = ("any", "aluminium", "steel")
NO_PUSH_RODS = Missing("pushrod_material", "Say what the push rods are made of.", "aluminium")
ZERO = "Zero: the push rod turns freely between the fingers, with no play."
PRELOAD_TURNS = (0.5, 1.0)
PRELOAD = "by the maker's preload; where none is given, half a turn to one turn of the adjuster is common practice."
PRELOAD_NOTES = (
    "Zero is where the push rod, moved up and down, has no play left; do not feel for drag by turning it.",
    "A full tappet is slow to give way: wait until it has bled down before the engine is turned on, or a valve is held open.",
    "No lash, growth or change of push rods is computed: the tappet takes all that up, with steel as with aluminium rods.",
)
WARM_UP = (
    "Set and check it stone cold. While the engine warms up the exhaust valve is hot long before head and case: a published "
    "shop test of a liquid-cooled engine saw the clearance wander by 0.08 to 0.13 mm over 30 minutes. After a run wait until "
    "the whole engine is at the temperature of the shop."
)


def answer(request: LashRequest, dataset: Dataset) -> Answer:
    """The cold lash, how it feels to the hand, and what it becomes when hot.

    Raises:
        MissingInput: neither engine, parts nor a known lash, or no push-rod material.
        NotInDataset: engine or material is not held.
    """
    found = Answer(result={})
    valves = VALVES if request.valve is None else (request.valve,)
    if request.engine is not None:
        dataset.entity("engines", request.engine, field="engine")
        check_certificate(found, dataset, request.engine)
    if request.tappet == "hydraulic":
        return _preload(found, request)
    row = _looked_up(request, dataset)
    if request.engine is None and request.reference_lash is None and request.lengths is None:
        reason = "Name the engine, send the lengths of its parts, or a lash that is known for other push rods."
        rods = [] if request.pushrod_material else [NO_PUSH_RODS]
        raise MissingInput("engine", reason, "air-cooled-flat-four", *rods)
    if row is not None and row.text("state") == "hot":
        return _hot_figure(found, row, valves)
    material = _material(request, row)
    family = family_of(found, request, dataset)
    chains = None if family is None or material is None else chains_of(found, request, dataset, family, material)
    setting = _setting_temperature(found, request)
    if request.reference_lash is not None and material is not None:
        cold = _swapped(found, request, dataset, chains, material, setting)
    elif row is not None and request.lengths is None:
        cold = _from_table(found, row)
    else:
        cold = _grown(found, request, chains, setting)
    found.result["cold_lash"] = {valve: CLEARANCE(cold[valve]) for valve in valves}
    found.result.setdefault("setting", _feel(max(cold[valve] for valve in valves)))
    if chains is None:
        needs = ["lengths"] if request.lengths is None else []
        found.cannot_check("hot-clearance", needs, "The lengths of this engine's parts are not held.")
    else:
        add_hot(found, request, chains, cold, valves, setting)
    if material is not None:
        _check(found, request, chains, material, cold, valves, setting)
        add_frost(found, request, chains, valves, setting)
        found.result["notes"] = [WARM_UP, *_words(row)]
    return found


def _preload(found: Answer, request: LashRequest) -> Answer:
    """Hydraulic tappets: no lash, no growth, no change with other push rods; the oil in them takes it all up."""
    low, high = PRELOAD_TURNS if request.preload_turns is None else (request.preload_turns, request.preload_turns)
    found.result["method"] = "preload"
    found.result["preload"] = {"turns_low": low, "turns_high": high}
    turns = PRELOAD if request.preload_turns is None else f"by {low:g} turn of the adjuster, the figure given by its maker."
    found.result["setting"] = f"With the cam on its base circle take up the play to zero, then turn on {turns}"
    found.result["reason"] = "Hydraulic tappets take up the growth of the engine themselves; lash would only hammer them."
    found.result["notes"] = list(PRELOAD_NOTES)
    if request.preload_turns is None:
        found.assume("preload_turns", f"{low:g} to {high:g}", "common practice", "common-practice", "from-memory")
        why = "The preload that the maker of these tappets gives."
        found.cannot_check("preload-of-hydraulic-tappets", ["preload_turns"], why)
    return found


def _looked_up(request: LashRequest, dataset: Dataset) -> Entity | None:
    """The family's own figure, where the dataset has one for these push rods."""
    if request.engine is None or request.reference_lash is not None:
        return None
    owners = dataset.lineage(request.engine)
    names = [name for name in FIGURES if any(dataset.find("lash", f"{owner}/{name}") for owner in owners)]
    if "any" in names:
        return dataset.of_engine("lash", request.engine, "any", field="pushrod_material")
    if request.pushrod_material is None and names:
        raise MissingInput("pushrod_material", "The lash of this engine depends on its push rods.", names[0])
    if request.pushrod_material in names:
        return dataset.of_engine("lash", request.engine, str(request.pushrod_material), field="pushrod_material")
    if request.lengths is None:
        raise NotInDataset("engine", "lash of an engine", request.engine, [i.partition("/")[0] for i in dataset.ids("lash")])
    return None


def _material(request: LashRequest, row: Entity | None) -> PushRod | None:
    """The push rods' material; none is needed where the family's figure holds for any."""
    if request.pushrod_material is None and (row is None or row.text("push_rod") != "any"):
        raise MissingInput(*NO_PUSH_RODS)
    return request.pushrod_material


def _hot_figure(found: Answer, row: Entity, valves: tuple[Valve, ...]) -> Answer:
    """A figure that its source gives for the hot engine: no cold lash follows from it."""
    found.uses(*(row.fact(valve) for valve in valves), row.fact("state"), row.fact("setting"))
    found.result["method"] = "look-up"
    found.result["hot_lash"] = {valve: CLEARANCE(row.si(valve)) for valve in valves}
    found.result["setting"] = row.text("setting")
    found.result["reason"] = "The source gives this lash for the warm engine; set it warm, as the manual says."
    found.cannot_check("cold-lash", [], "Only a hot figure is held for this engine.")
    return found


def _setting_temperature(found: Answer, request: LashRequest) -> float:
    if request.setting_temperature is not None:
        return request.setting_temperature.si
    found.assume("setting_temperature", TEMPERATURE(USUAL_SETTING), "Shop temperature.", "iso-1-2022", "standard")
    return USUAL_SETTING


def _from_table(found: Answer, row: Entity) -> dict[Valve, float]:
    found.uses(row.fact("intake"), row.fact("exhaust"), row.fact("setting"))
    found.result["method"] = "look-up"
    found.result["setting"] = row.text("setting")
    return {valve: row.si(valve) for valve in VALVES}


def _words(row: Entity | None) -> list[str]:
    return [row.text("advice")] if row is not None and row.has("advice") else []


def _swapped(
    found: Answer, request: LashRequest, dataset: Dataset, chains: Chains | None, material: PushRod, setting: float
) -> dict[Valve, float]:
    """The known lash carried over to the new push rods: only what differs between them counts."""
    if chains is None or request.reference_lash is None:
        raise MissingInput("lengths/push_rod", "The change needs the length of the push rod.", "275 mm")
    old: PushRod | None = request.reference_material
    if old is None:
        old = "steel" if material == "aluminium" else "aluminium"
        found.assume("reference_material", old, "The other of the two materials.", "common-practice", "common-practice")
    rod = chains.push_rod
    before = rod_material(found, dataset, request.engine, old)
    found.uses(before.fact("expansion"))
    swap = calculation.lash_after_swap(
        reference_lash=request.reference_lash.si,
        rocker_ratio=chains.intake.rocker_ratio,
        rod_length=rod.length,
        reference_expansion=before.si("expansion"),
        expansion=rod.expansion,
        temperature_rise=rod.temperature - setting,
        temperature_deviation=TEMPERATURE_DEVIATION,
        expansion_deviation=EXPANSION_DEVIATION,
    )
    found.rests_on(calculation.lash_after_swap)
    sure = COVERAGE * swap.standard_uncertainty
    found.result["method"] = "swap"
    found.result["swap"] = {
        "reference_lash": CLEARANCE(request.reference_lash.si),
        "reference_material": old,
        "difference": FINE_CLEARANCE(swap.difference, sure),
        "computed": FINE_CLEARANCE(swap.computed, sure),
        "hot_clearance_against_reference": FINE_CLEARANCE(swap.hot_change, sure),
    }
    found.result["reason"] = (
        f"Everything but the push rods grows as before. {old.capitalize()} rods close the clearance by "
        f"{text_of(FINE_CLEARANCE(abs(swap.difference)))} {'less' if swap.difference > 0 else 'more'} than {material} ones "
        "would, so the cold lash changes by "
        f"{text_of(FINE_CLEARANCE(swap.difference, sure))}."
        + (" Zero is the least that can be set; hot it is then a little wider than before." if swap.computed < 0 else "")
    )
    return dict.fromkeys(VALVES, swap.setting)


def _grown(found: Answer, request: LashRequest, chains: Chains | None, setting: float) -> dict[Valve, float]:
    """The cold lash that leaves the wanted clearance hot; one figure for both valves, that of the exhaust."""
    if chains is None:
        raise MissingInput("engine", "The growth needs the parts of a family to fill the gaps.", "air-cooled-flat-four")
    found.result["method"] = "growth"
    wanted = hot_wanted(found, request)
    limit = calculation.lash_for_hot_clearance(hot_clearance=wanted, change=changes_of(chains, setting)["exhaust"].change)
    return dict.fromkeys(VALVES, limit.setting)


def _feel(lash: float) -> str:
    if lash < rules.NEARLY_ZERO:
        return ZERO
    return f"A feeler of {text_of(CLEARANCE(lash))} passes with a light drag; the next blade does not."


def _check(
    found: Answer,
    request: LashRequest,
    chains: Chains | None,
    material: PushRod,
    cold: dict[Valve, float],
    valves: tuple[Valve, ...],
    setting: float,
) -> None:
    """The rules of the trade on the lash that was sent, or else on the one answered."""
    own = {valve: cold[valve] for valve in valves}
    if request.cold_lash is not None:
        own = {valves[-1]: request.cold_lash.si}
    for valve, lash in own.items():
        alloy = None if chains is None else chains.light_alloy
        rules.check_cold(found, material=material, lash=lash, valve=valve, light_alloy=alloy)
    start = None if request.start_temperature is None else request.start_temperature.si
    rules.check_frost(found, material=material, lash=min(own.values()), setting=setting, start=start)


TOPIC = Topic(
    name="lash",
    path="/v1/lash",
    title="Valve lash",
    summary="Cold valve lash by engine and push-rod material, from the growth of the parts, or carried over from other push "
    "rods; how it feels to the hand, what it becomes when hot and in frost, and why.",
    request=LashRequest,
    result=LashResult,
    answer=answer,
    examples=(
        Example("Aluminium push rods", {"engine": "air-cooled-flat-four", "pushrod_material": "aluminium"}),
        Example(
            "Steel push rods, started in frost",
            {"engine": "air-cooled-flat-four", "pushrod_material": "steel", "start_temperature": "-15 degC"},
        ),
        Example(
            "From aluminium to steel push rods",
            {"reference_lash": "0.006 in", "reference_material": "aluminium", "pushrod_material": "steel"},
        ),
        Example(
            "Parts measured",
            {
                "pushrod_material": "aluminium",
                "lengths": {"case": "88 mm", "barrel": "128 mm", "head": "118 mm", "push_rod": "273 mm"},
                "materials": {"case": "magnesium-as41"},
                "temperatures": {"head": "165 degC"},
                "rocker_ratio": 1.1,
                "hot_clearance": "0.10 mm",
            },
        ),
    ),
    cautions=("assembly",),
    stage="closing-up",
)
