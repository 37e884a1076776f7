"""Zinc and phosphorus in the oil against what the tappets need, and the dose of an additive that brings it there."""

from typing import Any

from service.answers.envelope import Answer, Rule
from service.answers.oil_request import OilRequest
from service.calculations.oil import additive_dose, blend_content
from service.errors import Contradiction, OutsideValidity
from service.quantities import DENSITY, FLUID, PPM, VOLUME, text_of
from service.reference.dataset import Dataset, Entity

LEAST_PHOSPHORUS = 1000e-6
LEAST_ZINC = 1100e-6
MOST_PHOSPHORUS = 2000e-6
SLACK = 1e-9  # the last bits of a conversion: 1100 ppm is 1100 ppm
USUAL_TARGET = 1200e-6
ADDITIVE_DENSITY = 950.0
BASE_DENSITY = 880.0

ZINC_LOW_FLAT_TAPPET = Rule(
    code="zinc-low-flat-tappet",
    severity="fix",
    stage="pre-start",
    rule="flat tappets and less than 1000 ppm phosphorus (or, where only zinc is known, 1100 ppm zinc) in the run-in oil",
    reason="Between nose and tappet there is hardly a film at any speed: the additive's layer carries the load.",
    remedy="Take a run-in oil, or dose an anti-wear additive to 1000 to 1500 ppm phosphorus.",
    source="common-practice",
    evidence="common-practice",
)
ZINC_EXCESS = Rule(
    code="zinc-excess",
    severity="note",
    stage="pre-start",
    rule="more than 2000 ppm phosphorus",
    reason="Beyond this nothing is gained, and corrosive wear is reported.",
    remedy="Take less additive.",
    source="common-practice",
    evidence="common-practice",
)


def additives(request: OilRequest, total: float, dataset: Dataset, found: Answer) -> dict[str, Any]:
    """Content of the fill as it is planned, and the dose that would reach the target.

    Raises:
        Contradiction: as much additive as the whole fill.
        OutsideValidity: the additive is no richer than the target.
    """
    typical = dataset.find("oils", request.oil) if request.oil else None
    phosphorus = _content(request.phosphorus, typical, "phosphorus", found)
    zinc = _content(request.zinc, typical, "zinc", found)
    row: dict[str, Any] = {"phosphorus": phosphorus, "zinc": zinc, "dose": None}
    additive = request.additive
    if additive is not None and additive.volume is not None and additive.volume.si >= total:
        raise Contradiction(
            ("additive/volume", "sump"),
            f"{text_of(FLUID(additive.volume.si))} of additive leave no room for oil in a fill of {text_of(FLUID(total))}. "
            "Send what is poured in as additive, and the whole fill as sump, filter, cooler and lines.",
        )
    if additive is not None and phosphorus is not None:
        row["dose"] = _dose(request, typical, phosphorus, total, found)
        if additive.volume is not None:
            share = additive.volume.si
            phosphorus = blend_content(
                volumes=(total - share, share),
                densities=(_base_density(request, typical), _additive_density(request)),
                contents=(phosphorus, additive.phosphorus.si),
            )
            found.rests_on(blend_content)
            row["phosphorus"] = phosphorus
            zinc = row["zinc"] = None  # the additive's zinc was not asked for
    _check(request, phosphorus, zinc, found)
    return {name: PPM(value) if isinstance(value, float) else value for name, value in row.items()}


def _check(request: OilRequest, phosphorus: float | None, zinc: float | None, found: Answer) -> None:
    if phosphorus is not None and phosphorus > MOST_PHOSPHORUS * (1 + SLACK):
        found.find(
            ZINC_EXCESS,
            ("additive",) if request.additive and request.additive.volume else ("phosphorus",),
            f"The oil has {text_of(PPM(phosphorus))} phosphorus; beyond {text_of(PPM(MOST_PHOSPHORUS))} nothing is gained.",
        )
    needed = [] if request.tappet else ["tappet"]
    if phosphorus is None and zinc is None:
        needed.append("phosphorus")
    if needed:
        found.cannot_check(ZINC_LOW_FLAT_TAPPET.code, needed, "Anti-wear additive for the tappets.")
        return
    if request.tappet == "roller":
        return
    if phosphorus is not None and phosphorus < LEAST_PHOSPHORUS * (1 - SLACK):
        found.find(
            ZINC_LOW_FLAT_TAPPET,
            ("tappet", "phosphorus"),
            f"Sliding tappets with {text_of(PPM(phosphorus))} phosphorus; they need {text_of(PPM(LEAST_PHOSPHORUS))} or more.",
        )
    elif phosphorus is None and zinc is not None and zinc < LEAST_ZINC * (1 - SLACK):
        found.find(
            ZINC_LOW_FLAT_TAPPET,
            ("tappet", "zinc"),
            f"Sliding tappets with {text_of(PPM(zinc))} zinc; they need {text_of(PPM(LEAST_ZINC))} or more.",
        )


def _content(given: Any, typical: Entity | None, name: str, found: Answer) -> float | None:
    """Content as sent, or the lower end of what is typical of the oil: the leaner one is the safe side."""
    if given is not None:
        return float(given.si)
    if typical is not None and typical.has(f"{name}_low"):
        fact = typical.fact(f"{name}_low")
        found.uses(fact)
        found.assume(name, PPM(typical.si(f"{name}_low")), "low end of such oils; the sheet says", fact.source, "from-memory")
        return typical.si(f"{name}_low")
    return None


def _dose(request: OilRequest, typical: Entity | None, phosphorus: float, total: float, found: Answer) -> dict[str, Any]:
    """Additive and base oil that together make the fill with the wanted content.

    Raises:
        OutsideValidity: the additive is no richer than the target.
    """
    target = request.target_phosphorus.si if request.target_phosphorus else USUAL_TARGET
    if request.target_phosphorus is None:
        found.assume("target_phosphorus", PPM(target), "within 1000 to 1500 ppm", "common-practice", "common-practice")
    if request.additive is None or request.additive.density is None:
        found.assume(
            "additive.density", DENSITY(ADDITIVE_DENSITY), "usual of concentrates", "common-practice", "common-practice"
        )
    try:
        dose = additive_dose(
            total=total,
            target=target,
            base_content=phosphorus,
            additive_content=request.additive.phosphorus.si if request.additive else 0.0,
            base_density=_base_density(request, typical),
            additive_density=_additive_density(request),
        )
    except OutsideValidity as refusal:
        raise OutsideValidity("additive/phosphorus", refusal.reason, refusal.allowed) from None
    found.rests_on(additive_dose)
    return {"target_phosphorus": PPM(target), "additive": VOLUME(dose.additive), "base_oil": FLUID(dose.base_oil)}


def _base_density(request: OilRequest, typical: Entity | None) -> float:
    if request.density is None and typical is not None and typical.has("density"):
        return typical.si("density")
    return request.density.si if request.density else BASE_DENSITY


def _additive_density(request: OilRequest) -> float:
    given = request.additive.density if request.additive else None
    return given.si if given else ADDITIVE_DENSITY
