"""Jets and mixture of the induction answer: main jet for other air, windows for power and break-in, ethanol."""

from typing import Annotated

from pydantic import Field

from service.answers.air import Air
from service.answers.envelope import Answer, QuantityOut, Result, Rule
from service.answers.inputs import Measured, Number, Request
from service.calculations import carburettor
from service.errors import Contradiction, MissingInput
from service.quantities import DENSITY, FINE_CLEARANCE, Quantity, text_of
from service.reference.dataset import Dataset

LARGEST_DENSITY_CHANGE = 0.08
HARMLESS_ETHANOL = 0.05
JET_STEP = 0.025e-3  # m
JET_FLOW_STEP = 5.0
PETROL_STOICHIOMETRIC = 14.7  # to which the trade's petrol figures belong
POWER_MIXTURE = (12.5, 13.2)
BREAK_IN_MIXTURE = (12.5, 13.5)
RICHEST_BREAK_IN = 11.5

JETS_FOR_OTHER_AIR = Rule(
    code="jets-for-other-air",
    severity="note",
    stage="pre-start",
    rule="air density differs by more than 8 % from that of the jetting",
    reason="With fixed jets the mixture follows the square root of density: thin air makes it rich, dense air lean.",
    remedy="Fit the main jet that the answer names and check the plugs.",
    source="heywood-1988",
    evidence="derived",
)
JET_LORE = Rule(
    code="jet-trade-rule-overcorrects",
    severity="note",
    stage="pre-start",
    rule="one jet size (2 %) for every 1000 ft goes more than half a jet further than density asks",
    reason="Jet diameter goes with the fourth root of density: 0.7 % for 1000 ft. The old rule ends lean in the mountains.",
    remedy="Start with the jet by density; go smaller only if the plugs stay black.",
    source="derived",
    evidence="derived",
)
MIXTURE_LEAN = Rule(
    code="mixture-lean",
    severity="fix",
    stage="first-fire",
    rule="mixture leaner than 13.5 : 1 of petrol during break-in",
    reason="A lean mixture burns hot and slow: new pistons seize and exhaust valves burn before the rings have bedded.",
    remedy="Fit the next larger main jet before the first load.",
    source="common-practice",
    evidence="common-practice",
)
MIXTURE_RICH = Rule(
    code="mixture-rich",
    severity="caution",
    stage="first-fire",
    rule="mixture richer than 11.5 : 1 of petrol",
    reason="Wet petrol washes the oil off new bores and thins the oil in the sump.",
    remedy="Fit the next smaller main jet; check float level, choke and fuel pressure first.",
    source="common-practice",
    evidence="common-practice",
)
ETHANOL_HOSES = Rule(
    code="ethanol-in-old-hoses",
    severity="caution",
    stage="pre-start",
    rule="fuel with more than 5 % ethanol",
    reason="Ethanol swells and cracks old hoses, diaphragms and float seals, draws water and leans the mixture.",
    remedy="Fit fuel hose rated for ethanol, check it for sweating, and re-jet for the fuel's stoichiometric ratio.",
    source="common-practice",
    evidence="common-practice",
)

JetDiameter = Annotated[
    Quantity, Measured("length", "0.2 .. 4 mm", "0.9 .. 2.0 mm", "1.30 mm", "Bore of a main jet; number 130 is 1.30 mm.")
]
JetFlow = Annotated[float, Number(5, 2000, (50, 400), example=130, meaning="Number of a main jet marked by its flow.")]


class MainJet(Request):
    """The main jet fitted now: its diameter, or its number if it is marked by flow; one of the two."""

    diameter: JetDiameter | None = None
    flow: JetFlow | None = None
    diameter_stock: Annotated[list[JetDiameter], Field(min_length=1, max_length=50)] | None = None
    flow_stock: Annotated[list[JetFlow], Field(min_length=1, max_length=50)] | None = None


class JetOut(Result):
    """What other air asks of the main jet; ``mixture_change`` above 1 is leaner than with the exact jet."""

    density_ratio: float
    area_factor: float
    diameter_factor: float
    exact_diameter: QuantityOut | None = None
    nearest_diameter: QuantityOut | None = None
    trade_rule_diameter: QuantityOut | None = None
    exact_flow: float | None = None
    nearest_flow: float | None = None
    mixture_change: float | None = None


class WindowOut(Result):
    """A window of the mixture by its two ends."""

    richest: float
    leanest: float


class MixtureOut(Result):
    """Air-fuel ratios by mass, and λ of the break-in window."""

    power: WindowOut
    break_in: WindowOut
    break_in_excess_air: WindowOut
    stoichiometric: float
    now: float | None = None


def jet_result(
    found: Answer, *, jet: MainJet | None, before: Air, now: Air, known: bool, climb: float | None
) -> dict[str, object]:
    """What the air of today asks of the main jet; ``known`` says whether the caller told the air of the jetting.

    Raises:
        MissingInput: a jet that says neither diameter nor flow.
        Contradiction: a jet that says both.
    """
    area = carburettor.jet_area_ratio(jetting_density=before.density, air_density=now.density)
    found.rests_on(carburettor.jet_area_ratio)
    result: dict[str, object] = {
        "density_ratio": now.density / before.density,
        "area_factor": area,
        "diameter_factor": area**0.5,
    }
    if jet is not None:
        result |= _by_diameter(found, jet, area, climb) if jet.flow is None else _by_flow(found, jet, area)
    check_jetting(found, before=before, now=now, known=known)
    return result


def _by_diameter(found: Answer, jet: MainJet, area: float, climb: float | None) -> dict[str, object]:
    """The jet marked by its diameter, by density and by lore."""
    if jet.diameter is None:
        raise MissingInput(
            "main_jet/diameter", "Say what the jet's number is: its diameter (130 is 1.30 mm) or its flow.", "1.30 mm"
        )
    stock = tuple(size.si for size in jet.diameter_stock or ())
    if not stock:
        reason = "Spacing of the marked sizes; send diameter_stock to choose from your drawer."
        found.assume("main_jet.step", FINE_CLEARANCE(JET_STEP), reason, "common-practice", "common-practice")
    chosen = carburettor.jet_by_diameter(jet_diameter=jet.diameter.si, area_ratio=area, sizes=stock, step=JET_STEP)
    found.rests_on(carburettor.jet_by_diameter)
    result: dict[str, object] = {
        "exact_diameter": FINE_CLEARANCE(chosen.exact),
        "nearest_diameter": FINE_CLEARANCE(chosen.nearest),
        "mixture_change": chosen.mixture_change,
    }
    if climb is not None:
        lore = carburettor.jet_by_trade_rule(jet_diameter=jet.diameter.si, climb=climb)
        found.rests_on(carburettor.jet_by_trade_rule)
        result["trade_rule_diameter"] = FINE_CLEARANCE(lore)
        further = abs(lore - jet.diameter.si) > abs(chosen.exact - jet.diameter.si)
        if further and abs(lore - chosen.exact) > JET_STEP / 2:
            found.find(
                JET_LORE,
                ("main_jet.diameter", "altitude"),
                f"The old rule gives a jet of {text_of(FINE_CLEARANCE(lore))}, density asks for "
                f"{text_of(FINE_CLEARANCE(chosen.exact))}.",
            )
    return result


def _by_flow(found: Answer, jet: MainJet, area: float) -> dict[str, object]:
    """The jet marked by its flow."""
    if jet.diameter is not None:
        raise Contradiction(
            ("main_jet/diameter", "main_jet/flow"), "A jet is marked by its diameter or by its flow; leave one of them out."
        )
    stock = tuple(jet.flow_stock or ())
    if not stock:
        reason = "Spacing of the marked numbers; send flow_stock to choose from your drawer."
        found.assume("main_jet.step", JET_FLOW_STEP, reason, "common-practice", "common-practice")
    chosen = carburettor.jet_by_flow(jet_flow=jet.flow or 0.0, area_ratio=area, sizes=stock, step=JET_FLOW_STEP)
    found.rests_on(carburettor.jet_by_flow)
    return {"exact_flow": chosen.exact, "nearest_flow": chosen.nearest, "mixture_change": chosen.mixture_change}


def check_jetting(found: Answer, *, before: Air, now: Air, known: bool) -> None:
    """Whether the air of today is that of the jetting."""
    if not known:
        found.cannot_check(JETS_FOR_OTHER_AIR.code, ["jetting_altitude"])
    elif abs(now.density / before.density - 1) > LARGEST_DENSITY_CHANGE:
        found.find(
            JETS_FOR_OTHER_AIR,
            ("jetting_altitude", "altitude", "temperature"),
            f"The air weighs {text_of(DENSITY(now.density))}, at jetting {text_of(DENSITY(before.density))}: "
            f"{(now.density / before.density - 1) * 100:+.0f} %.",
        )


def mixture_result(
    found: Answer, dataset: Dataset, *, fuel: str | None, air_fuel_ratio: float | None, before: Air, now: Air
) -> dict[str, object]:
    """The windows of the mixture for this fuel, and the mixture that the jets give in the air of today.

    Raises:
        NotInDataset: the fuel is not held.
    """
    stoichiometric = PETROL_STOICHIOMETRIC
    if fuel is None:
        found.assume("stoichiometric_ratio", stoichiometric, "Petrol without ethanol.", "heywood-1988", "from-memory")
        found.cannot_check(ETHANOL_HOSES.code, ["fuel"])
    else:
        entity = dataset.entity("fuels", fuel, field="fuel")
        stoichiometric = entity.number("afr")
        found.uses(entity.fact("afr"))
        if entity.has("ethanol_max") and entity.number("ethanol_max") > HARMLESS_ETHANOL:
            found.uses(entity.fact("ethanol_max"))
            share = f"{entity.number('ethanol_max') * 100:.0f} %"
            found.find(ETHANOL_HOSES, ("fuel",), f"This fuel may hold {share} ethanol.")
    scale = stoichiometric / PETROL_STOICHIOMETRIC
    excess_air = [
        carburettor.excess_air_ratio(air_fuel_ratio=scale * end, stoichiometric_ratio=stoichiometric)
        for end in BREAK_IN_MIXTURE
    ]
    result: dict[str, object] = {
        "power": _window(*(scale * end for end in POWER_MIXTURE)),
        "break_in": _window(*(scale * end for end in BREAK_IN_MIXTURE)),
        "break_in_excess_air": _window(*excess_air),
        "stoichiometric": stoichiometric,
    }
    found.rests_on(carburettor.excess_air_ratio)
    if air_fuel_ratio is None:
        found.cannot_check(MIXTURE_LEAN.code, ["air_fuel_ratio"])
        return result
    mixture = carburettor.mixture_with_fixed_jets(
        air_fuel_ratio=air_fuel_ratio, jetting_density=before.density, air_density=now.density
    )
    found.rests_on(carburettor.mixture_with_fixed_jets)
    check_mixture(found, mixture=mixture, scale=scale)
    return result | {"now": mixture}


def _window(richest: float, leanest: float) -> dict[str, float]:
    return {"richest": richest, "leanest": leanest}


def check_mixture(found: Answer, *, mixture: float, scale: float) -> None:
    """Whether a mixture suits break-in; ``scale`` turns petrol's figures into those of the fuel."""
    if mixture > BREAK_IN_MIXTURE[1] * scale:
        found.find(
            MIXTURE_LEAN,
            ("air_fuel_ratio",),
            f"In this air the jets give {mixture:.1f} : 1; for break-in no leaner than {BREAK_IN_MIXTURE[1] * scale:.1f} : 1.",
        )
    elif mixture < RICHEST_BREAK_IN * scale:
        found.find(
            MIXTURE_RICH,
            ("air_fuel_ratio",),
            f"In this air the jets give {mixture:.1f} : 1; richer than {RICHEST_BREAK_IN * scale:.1f} : 1 washes the bores.",
        )
