"""Combinations: every way to put candidate parts together, kept within limits, counted and ranked."""

from math import inf
from typing import Any

from service.answers.combinations_request import CombinationsRequest, CombinationsResult, Objective
from service.answers.envelope import Answer, Rule
from service.answers.topic import Example, Topic
from service.calculations import combinations as calculation
from service.calculations.combinations import Candidates, Goal, Ranking
from service.calculations.compression import compression_ratio
from service.errors import Contradiction, MissingInput, OutsideValidity
from service.quantities import ANGLE, CLEARANCE, LENGTH, SMALL_VOLUME, VELOCITY, VOLUME, Kind, Quantity
from service.reference.dataset import Dataset

NO_COMBINATION_FITS = Rule(
    code="no-combination-fits",
    severity="fix",
    stage="combination",
    rule="not one combination of the candidates keeps to every limit",
    reason="The limits contradict each other or the candidates.",
    remedy="See how many fail each limit; widen that limit or offer other parts.",
    source="derived",
    evidence="derived",
)
USUAL_BEST = 10
# Axis of the calculation → field of the question, and how its parts are shown. Too many are told at the first list.
FIELD_OF = {
    "bore": "bores",
    "stroke": "strokes",
    "rod_length": "rods",
    "chamber_volume": "heads",
    "deck_clearance": "deck_clearances",
    "barrel_height": "barrel_heights",
    "spacer_thickness": "spacers",
    "crown_volume": "crowns",
    "gasket_thickness": "gaskets",
    "intake_closing": "cams",
    "candidates": "bores",
}
PART_KIND: dict[str, Kind] = {
    "bore": LENGTH,
    "stroke": LENGTH,
    "rod_length": LENGTH,
    "chamber_volume": SMALL_VOLUME,
    "deck_clearance": CLEARANCE,
    "barrel_height": LENGTH,
    "spacer_thickness": CLEARANCE,
    "crown_volume": SMALL_VOLUME,
    "gasket_thickness": CLEARANCE,
    "intake_closing": ANGLE,
}
NUMBERED = {"chamber_volume": "head", "intake_closing": "cam"}
"""Axes of parts that may have a name, and how their number is called; with ``_name`` behind it, the name."""
QUANTITY_KIND: dict[str, Kind | None] = {
    "displacement": VOLUME,
    "compression_ratio": None,
    "effective_ratio": None,
    "squish_clearance": CLEARANCE,
    "deck_clearance": CLEARANCE,
    "clearance_volume": SMALL_VOLUME,
    "rod_ratio": None,
    "bore_stroke_ratio": None,
    "mean_piston_speed": VELOCITY,
}
TARGET_OF = {"displacement": "volume", "squish_clearance": "length", "mean_piston_speed": "velocity"}


def answer(request: CombinationsRequest, _dataset: Dataset) -> Answer:
    """The best combinations, counted.

    Raises:
        MissingInput: a target or list that the question needs is missing.
        OutsideValidity: too many combinations, or a limit on what cannot be computed.
        Contradiction: decks and barrel heights are both sent, or a limit's ends are crossed.
    """
    candidates, limits = candidates_of(request), limits_of(request)
    goal, target = request.objective.goal, target_of(request.objective)
    ranking = _ranked(request, candidates, limits, goal, target)
    found = Answer(
        result={
            "total": ranking.total,
            "accepted": ranking.accepted,
            "failed": dict(ranking.failed),
            "best": [_combination(rank, ranked, request) for rank, ranked in enumerate(ranking.best, start=1)],
        }
    )
    found.rests_on(calculation.best_combinations, compression_ratio)
    found.table = [_row(entry) for entry in found.result["best"]] or None
    if not ranking.accepted:
        worst = max(ranking.failed, key=lambda name: ranking.failed[name])
        message = f"None of {ranking.total} fits; {ranking.failed[worst]} fail {worst.replace('_', ' ')}."
        found.find(NO_COMBINATION_FITS, ("limits",), message)
    if request.crevice_volume is None:
        reason = "No crevice was given, so none is counted; the usual 0.5 cm³ lowers 8:1 by 0.06."
        found.assume("crevice_volume", SMALL_VOLUME(0.0), reason, "common-practice", "common-practice")
    if request.gaskets is not None:
        found.cannot_check("bore-of-the-rings", ["gaskets"], "Each ring is taken to have the bore of its barrel.")
    if request.cams is not None and request.checking_lift is None:
        reason = "Intake closings are taken as advertised; at a checking lift the effective ratio is some 0.8 higher."
        found.cannot_check("basis-of-the-effective-ratio", ["checking_lift"], reason)
    found.cannot_check("fit-of-the-parts", ["a trial assembly"], "Which parts bolt together only the parts themselves tell.")
    return found


def _ranked(
    request: CombinationsRequest,
    candidates: Candidates,
    limits: dict[str, tuple[float, float]],
    goal: Goal,
    target: float | None,
) -> Ranking:
    """The search, with the calculation's names turned into the question's."""
    try:
        return calculation.best_combinations(
            candidates=candidates,
            limits=limits,
            quantity=request.objective.quantity,
            goal=goal,
            target=target,
            most=request.best or USUAL_BEST,
        )
    except (OutsideValidity, Contradiction) as refusal:
        raise in_the_question(refusal) from None


def in_the_question(refusal: OutsideValidity | Contradiction) -> OutsideValidity | Contradiction:
    """A refusal of the calculation with the names of the question's fields."""
    if isinstance(refusal, Contradiction):
        return Contradiction([FIELD_OF.get(field, field) for field in refusal.fields], refusal.reason)
    return OutsideValidity(FIELD_OF.get(refusal.field, refusal.field), refusal.reason, refusal.allowed)


def candidates_of(request: CombinationsRequest) -> Candidates:
    """The lists in SI, under the names of the calculation."""
    axes: dict[str, tuple[float, ...]] = {}
    for axis in calculation.AXES:
        sent = getattr(request, FIELD_OF[axis])
        if sent is not None:
            axes[axis] = tuple(_part(item, axis).si for item in sent)
    if "deck_clearance" not in axes and "barrel_height" not in axes:
        reason = "Send the deck clearances as measured, or barrel heights from which stroke and rod make them."
        raise MissingInput("deck_clearances", reason, "1.2 mm")
    return Candidates(
        axes=axes,
        cylinders=request.cylinders,
        speed=None if request.speed is None else request.speed.si,
        crevice_volume=0.0 if request.crevice_volume is None else request.crevice_volume.si,
    )


def _part(item: Any, axis: str) -> Quantity:
    """A candidate's figure, bare or in a head or cam."""
    found: Quantity = item if isinstance(item, Quantity) else getattr(item, axis)
    return found


def limits_of(request: CombinationsRequest) -> dict[str, tuple[float, float]]:
    """The limits in SI.

    Raises:
        Contradiction: a limit's low end is above its high end.
    """
    limits: dict[str, tuple[float, float]] = {}
    if request.limits is None:
        return limits
    for name in type(request.limits).model_fields:
        limit = getattr(request.limits, name)
        if limit is None:
            continue
        low, high = (_si_or(end, other) for end, other in ((limit.low, -inf), (limit.high, inf)))
        if low > high:
            fields = (f"limits/{name}/low", f"limits/{name}/high")
            raise Contradiction(fields, "The low end of this limit is above its high end; swap them.")
        limits[name] = (low, high)
    return limits


def _si_or(end: Quantity | float | None, otherwise: float) -> float:
    if end is None:
        return otherwise
    return end.si if isinstance(end, Quantity) else end


def target_of(objective: Objective) -> float | None:
    """The target in SI where one is needed.

    Raises:
        MissingInput: the goal is the nearest, and the target is not in the field of its kind.
    """
    if objective.goal != "nearest":
        return None
    field = TARGET_OF.get(objective.quantity, "ratio")
    target = getattr(objective, field)
    if target is None:
        example = {"ratio": "7.6", "volume": "1750 cm3", "length": "1.2 mm", "velocity": "13 m/s"}[field]
        raise MissingInput(f"objective/{field}", "To come nearest to something, send the target here.", example)
    return _si_or(target, 0.0)


def _combination(rank: int, ranked: calculation.Ranked, request: CombinationsRequest) -> dict[str, Any]:
    """One combination with its parts as they were sent and what they make."""
    parts: dict[str, Any] = {}
    for axis, place in ranked.parts.items():
        item = getattr(request, FIELD_OF[axis])[place]
        parts[axis] = PART_KIND[axis](_part(item, axis).si)
        if axis in NUMBERED:
            parts[NUMBERED[axis]] = place + 1
            if names := names_of(request, axis):
                parts[f"{NUMBERED[axis]}_name"] = names[place]
    return {
        "rank": rank,
        "number": ranked.combination + 1,
        "parts": parts,
        "makes": {name: quantity_of(name, value) for name, value in ranked.quantities.items()},
    }


def names_of(request: CombinationsRequest, axis: str) -> list[str | None]:
    """The names of the parts of an axis as they were sent; empty where not one has a name."""
    names = [item.name for item in getattr(request, FIELD_OF[axis])]
    return names if any(name is not None for name in names) else []


def quantity_of(name: str, value: float) -> Any:
    """A computed quantity as it is answered: a measure, or a plain number."""
    kind = QUANTITY_KIND[name]
    return value if kind is None else kind(value)


def _row(entry: dict[str, Any]) -> dict[str, Any]:
    """A combination as a row; what parts and products share (a deck as sent and as made) stands once."""
    return {"rank": entry["rank"], "number": entry["number"], **entry["parts"], **entry["makes"]}


EXAMPLE: dict[str, Any] = {
    "cylinders": 4,
    "bores": ["85.5 mm", "86 mm", "88 mm"],
    "strokes": ["69 mm", "73 mm", "74 mm"],
    "rods": ["136 mm", "137 mm"],
    "heads": [{"name": "plain", "chamber_volume": "52 cm3"}, {"name": "opened", "chamber_volume": "56 cm3"}],
    "barrel_heights": ["173.7 mm"],
    "spacers": ["0 mm", "0.5 mm", "1.0 mm"],
    "cams": [{"name": "mild", "intake_closing": "55 deg"}, {"name": "276", "intake_closing": "62 deg"}],
    "speed": "5000 rpm",
    "crevice_volume": "0.5 cm3",
    "limits": {
        "compression_ratio": {"low": 7.2, "high": 8.0},
        "squish_clearance": {"low": "1.0 mm", "high": "2.0 mm"},
        "mean_piston_speed": {"high": "15 m/s"},
    },
    "objective": {"quantity": "displacement", "goal": "most"},
    "best": 5,
}

TOPIC = Topic(
    name="combinations",
    path="/v1/combinations",
    title="Combinations of parts",
    summary="Every combination of candidate bores, strokes, rods, heads, spacers and cams, kept within limits and counted; the "
    "best in order here, all of them as a stream of CSV at /v1/combinations/stream.",
    request=CombinationsRequest,
    result=CombinationsResult,
    answer=answer,
    examples=(
        Example("The largest engine within the limits", EXAMPLE),
        Example(
            "Nearest to 7.6:1",
            {
                "cylinders": 4,
                "bores": ["86 mm"],
                "strokes": ["73 mm"],
                "heads": [{"chamber_volume": "50 cm3"}, {"chamber_volume": "54 cm3"}, {"chamber_volume": "57 cm3"}],
                "deck_clearances": ["1.2 mm"],
                "objective": {"quantity": "compression_ratio", "goal": "nearest", "ratio": 7.6},
            },
        ),
    ),
    cautions=("choosing-parts",),
    in_sheet="never",
)
