"""What heat and frost make of a cold lash, and why: the growth of the parts in figures and in a sentence."""

from typing import Any

from service.answers import lash_rules as rules
from service.answers.envelope import Answer
from service.answers.lash_chain import Chains
from service.answers.lash_request import LashRequest, Valve
from service.calculations import lash as calculation
from service.calculations.expansion import Segment, chain_growth
from service.quantities import CLEARANCE, FINE_CLEARANCE, Measure, text_of

USUAL_HOT = 0.10e-3
TEMPERATURE_DEVIATION = 0.12
EXPANSION_DEVIATION = 0.03
COVERAGE = 2.0
FROST_LASH = 0.05e-3
VALVES: tuple[Valve, ...] = ("intake", "exhaust")


def changes_of(chains: Chains, setting: float) -> dict[Valve, calculation.ClearanceChange]:
    """Change of the clearance of either valve from the setting temperature to running."""
    both: dict[Valve, calculation.ValveChain] = {"intake": chains.intake, "exhaust": chains.exhaust}
    return {
        valve: calculation.lash_change(
            chain=both[valve],
            setting_temperature=setting,
            temperature_deviation=TEMPERATURE_DEVIATION,
            expansion_deviation=EXPANSION_DEVIATION,
        )
        for valve in VALVES
    }


def hot_wanted(found: Answer, request: LashRequest) -> float:
    """The clearance wanted hot in m; the usual one where none is sent, named once among the assumptions."""
    if request.hot_clearance is not None:
        return request.hot_clearance.si
    if all(entry["field"] != "hot_clearance" for entry in found.assumptions):
        reason = "Usual clearance of a hot exhaust valve."
        found.assume("hot_clearance", CLEARANCE(USUAL_HOT), reason, "common-practice", "common-practice")
    return USUAL_HOT


def add_hot(
    found: Answer,
    request: LashRequest,
    chains: Chains,
    cold: dict[Valve, float],
    valves: tuple[Valve, ...],
    setting: float,
) -> None:
    """What heat does to the clearance, what the model alone would set, and why."""
    changes = changes_of(chains, setting)
    found.rests_on(calculation.lash_change, calculation.lash_for_hot_clearance)
    own = cold if request.cold_lash is None else dict.fromkeys(VALVES, request.cold_lash.si)
    hot = {v: CLEARANCE(own[v] + changes[v].change, COVERAGE * changes[v].standard_uncertainty) for v in valves}
    wanted = hot_wanted(found, request)
    modelled = {v: calculation.lash_for_hot_clearance(hot_clearance=wanted, change=changes[v].change) for v in VALVES}
    found.result["hot_clearance_change"] = {
        v: FINE_CLEARANCE(changes[v].change, COVERAGE * changes[v].standard_uncertainty) for v in valves
    }
    found.result["hot_clearance"] = dict(hot)
    found.result["model"] = {
        "hot_clearance": CLEARANCE(wanted),
        **{v: _modelled(modelled[v], changes[v]) for v in valves},
    }
    found.table = [
        {"part": body, **{f"opens_{v}": FINE_CLEARANCE(dict(changes[v].bodies).get(body, 0.0)) for v in valves}}
        for body in dict.fromkeys(body for v in valves for body, _ in changes[v].bodies)
    ]
    found.result["growth"] = found.table
    found.result.setdefault("reason", _why(chains, changes["exhaust"], modelled["exhaust"], wanted, setting))
    rules.check_lengths(found, gap=calculation.chain_gap(chain=chains.intake))
    if "exhaust" in valves:
        rules.check_hot(found, hot=hot["exhaust"])


def _modelled(cold: calculation.ColdLash, change: calculation.ClearanceChange) -> dict[str, Measure]:
    sure = COVERAGE * change.standard_uncertainty
    return {"cold_lash": CLEARANCE(cold.setting), "computed": FINE_CLEARANCE(cold.computed, sure)}


def _why(chains: Chains, change: calculation.ClearanceChange, cold: calculation.ColdLash, wanted: float, setting: float) -> str:
    """The figures in a sentence: who moves by how much, what is left, and what that asks of the cold lash."""

    def grown(segments: tuple[Segment, ...]) -> float:
        return chain_growth(segments=segments, reference_temperature=setting)

    chain = chains.exhaust
    out, back = chain.rocker_ratio * grown(chain.support), chain.rocker_ratio * grown(chain.drive)
    eaten = grown(chain.valve) - grown(chain.seat)
    moved = "opens" if change.change >= 0 else "closes"
    asked = (
        f"To leave {_mm(wanted)} hot it takes {_mm(cold.setting)} cold"
        if cold.computed > 0
        else f"So even zero, cold, leaves {_mm(change.change)} hot"
    )
    return (
        f"From cold to running, case, barrel and head move the rocker out by {_mm(out)}; cam, tappet and push rod follow by "
        f"{_mm(back)}; the exhaust valve grows {_mm(eaten)} more than the head about it. What is left {moved} its clearance "
        f"by {_mm(abs(change.change))}. {asked}; by the model alone, ± {_mm(COVERAGE * change.standard_uncertainty)}."
    )


def _mm(length: float) -> str:
    return text_of(CLEARANCE(length))


def add_frost(found: Answer, request: LashRequest, chains: Chains | None, valves: tuple[Valve, ...], setting: float) -> None:
    """What a start colder than the setting does to the clearance."""
    if chains is None:
        return
    both = {"intake": chains.intake, "exhaust": chains.exhaust}
    rate = {valve: calculation.lash_change_per_kelvin(chain=both[valve]) for valve in valves}
    found.rests_on(calculation.lash_change_per_kelvin)
    frost: dict[str, Any] = {"change_per_10_kelvin_colder": {valve: FINE_CLEARANCE(-10 * rate[valve]) for valve in valves}}
    if request.start_temperature is not None:
        colder = request.start_temperature.si - setting
        frost["change_at_start"] = {valve: FINE_CLEARANCE(colder * rate[valve]) for valve in valves}
    if request.pushrod_material == "steel":
        frost["cold_lash_in_frost"] = CLEARANCE(FROST_LASH)
    found.result["frost"] = frost
