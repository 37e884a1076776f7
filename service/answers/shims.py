"""The shims from the drawer that bring an end play into its limits, and the next best."""

from dataclasses import dataclass
from typing import Annotated, Any

from pydantic import Field, GetCoreSchemaHandler, GetJsonSchemaHandler
from pydantic.json_schema import JsonSchemaValue
from pydantic_core import CoreSchema, PydanticCustomError, core_schema

from service.answers.envelope import Answer, QuantityOut, Result, Rule
from service.answers.inputs import Id, Measured, Number, Request
from service.answers.topic import Example, Topic
from service.calculations.shims import MOST_KINDS, ShimStack, best_shims, choose_shims
from service.errors import Missing, MissingInput
from service.quantities import FINE_CLEARANCE, Quantity, parse_text, text_of
from service.reference.dataset import Dataset

SHIMS_DO_NOT_FIT = Rule(
    code="shims-do-not-fit",
    severity="fix",
    stage="trial-assembly",
    rule="no set of so many shims from the stock leaves an end play within the limits",
    reason="Forcing the nearest set leaves the crank tight or loose.",
    remedy="Get a shim of the thickness that is named, or have one ground; measure every shim before use.",
    source="derived",
    evidence="derived",
)
SHIM_PLAY_UNPROVED = Rule(
    code="shim-play-unproved",
    severity="caution",
    stage="trial-assembly",
    rule="the end play left lies nearer to a limit than the uncertainty of the measured gap",
    reason="The gap was measured with that uncertainty; the play may be out although the sum is right.",
    remedy="Measure the play again with the shims in and the gland nut at full torque.",
    source="iso-14253-1-2017",
    evidence="derived",
)

_PLAY = ("length", "0 .. 1.5 mm", "0.02 .. 0.5 mm", "0.10 mm")


@dataclass(frozen=True)
class MeasuredText(Measured):
    """A quantity as the key of a mapping: checked like any other, and kept as the text that was sent."""

    def text(self, given: Any) -> str:
        """The text, once it is known to be a quantity within its range."""
        self.parse(given)
        if isinstance(given, str) and given != given.strip():
            context = {"example": self.example, "did_you_mean": given.strip()}
            raise PydanticCustomError("not-a-quantity", "Write the thickness without blanks before or after it.", context)
        return str(given)

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        """Validate with :meth:`text`."""
        return core_schema.no_info_plain_validator_function(self.text)

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: GetJsonSchemaHandler) -> JsonSchemaValue:
        """The text form of a quantity."""
        return {"type": "string", "maxLength": 40, "description": self.meaning, "examples": [self.example]}


class ShimsRequest(Request):
    """The gap measured without shims, the limits of the play, how many shims are fitted, and the drawer."""

    gap: Annotated[
        Quantity, Measured("length", "0.01 .. 20 mm", "0.3 .. 5 mm", "1.18 mm", "Play measured with no shims fitted.")
    ]
    low: Annotated[Quantity, Measured(*_PLAY, "Least end play.")] | None = None
    high: Annotated[Quantity, Measured(*_PLAY, "Most end play.")] | None = None
    engine: Annotated[Id, Field(description="Engine family, for its limits.", examples=["air-cooled-flat-four"])] | None = None
    pick: Annotated[int, Number(1, 6, (1, 4), integer=True, example=3, meaning="How many shims are fitted at once.")]
    stock: Annotated[
        dict[
            Annotated[str, MeasuredText("length", "0.05 .. 2 mm", "0.1 .. 1.5 mm", "0.34 mm", "Thickness of the shim.")],
            Annotated[int, Number(0, 1000, integer=True, example=2, meaning="How many there are.")],
        ],
        Field(
            min_length=1,
            max_length=MOST_KINDS,
            description="Thickness with its unit, and how many of it there are.",
            examples=[{"0.34 mm": 2, "0.36 mm": 2}],
        ),
    ]
    target: Annotated[Quantity, Measured(*_PLAY, "Wanted end play; the middle of the limits unless given.")] | None = None
    uncertainty: (
        Annotated[
            Quantity,
            Measured("length", "0 .. 0.5 mm", "0.001 .. 0.05 mm", "0.015 mm", "Expanded uncertainty of the gap (k = 2)."),
        ]
        | None
    ) = None


class Stack(Result):
    """A set of shims, thinnest first."""

    shims: list[QuantityOut]
    total: QuantityOut
    end_play: QuantityOut


class ShimsResult(Result):
    """The set to fit, if there is one, and the next best by end play."""

    shims: list[QuantityOut] | None = None
    total: QuantityOut | None = None
    end_play: QuantityOut | None = None
    next_best: list[Stack]
    nearest: list[Stack] | None = None
    total_needed_low: QuantityOut
    total_needed_high: QuantityOut
    low: QuantityOut
    high: QuantityOut


def answer(request: ShimsRequest, dataset: Dataset) -> Answer:
    """The best stack from the stock.

    Raises:
        MissingInput: no limits.
        OutsideValidity: the stock holds too few shims.
        Contradiction: the limits or the target are not in order.
    """
    found = Answer(result={})
    low, high = _limits(found, request, dataset)
    stock = [(parse_text(text, "length").si, count) for text, count in request.stock.items()]
    choice = choose_shims(
        gap=request.gap.si,
        low=low,
        high=high,
        pick=request.pick,
        stock=stock,
        target=request.target.si if request.target else None,
    )
    found.rests_on(best_shims)
    if request.target is None:
        middle = FINE_CLEARANCE((low + high) / 2)
        found.assume("target", middle, "the middle of the limits", "derived", "derived")
    if choice.best is not None:
        best = _shown(choice.best)
        found.result.update(shims=best["shims"], total=best["total"], end_play=best["end_play"])
    else:
        found.result["nearest"] = [_shown(stack) for stack in choice.nearest]
        plays = " or ".join(text_of(FINE_CLEARANCE(stack.end_play)) for stack in choice.nearest)
        needed = (
            f"{text_of(FINE_CLEARANCE(max(0.0, request.gap.si - high)))} to {text_of(FINE_CLEARANCE(request.gap.si - low))}"
        )
        found.find(SHIMS_DO_NOT_FIT, ("stock", "gap"), f"{needed} of shims are needed; the nearest sets leave {plays}.")
    found.result["next_best"] = [_shown(stack) for stack in choice.alternatives]
    found.result["total_needed_low"] = FINE_CLEARANCE(max(0.0, request.gap.si - high))
    found.result["total_needed_high"] = FINE_CLEARANCE(request.gap.si - low)
    found.result["low"] = FINE_CLEARANCE(low)
    found.result["high"] = FINE_CLEARANCE(high)
    stacks = choice.nearest if choice.best is None else (choice.best, *choice.alternatives)
    found.table = [
        {
            "rank": rank,
            "shims": " + ".join(f"{thickness * 1e3:.4g} mm" for thickness in stack.thicknesses),
            "total": FINE_CLEARANCE(stack.total),
            "end_play": FINE_CLEARANCE(stack.end_play),
        }
        for rank, stack in enumerate(stacks, 1)
    ]
    _check_proof(found, request, choice.best, low, high)
    return found


def _limits(found: Answer, request: ShimsRequest, dataset: Dataset) -> tuple[float, float]:
    """Limits in m as given, or the end play of the family."""
    low, high = request.low, request.high
    if low is not None and high is not None:
        return low.si, high.si
    if request.engine is None:
        examples = {"low": "0.07 mm", "high": "0.13 mm"}
        missing = [name for name in examples if getattr(request, name) is None]
        reason = "Send both limits of the end play, or the engine."
        raise MissingInput.of([Missing(name, reason, examples[name]) for name in missing])
    dataset.entity("engines", request.engine, "engine")
    fit = dataset.of_engine("fits", request.engine, "crank-end-play", "engine")
    found.uses(fit.fact("low"), fit.fact("high"))
    source = fit.fact("low").source
    if low is None:
        found.assume("low", FINE_CLEARANCE(fit.si("low")), "crank end play of the family", source, "common-practice")
    if high is None:
        found.assume("high", FINE_CLEARANCE(fit.si("high")), "crank end play of the family", source, "common-practice")
    return (low.si if low else fit.si("low")), (high.si if high else fit.si("high"))


def _shown(stack: ShimStack) -> dict[str, object]:
    return {
        "shims": [FINE_CLEARANCE(thickness) for thickness in stack.thicknesses],
        "total": FINE_CLEARANCE(stack.total),
        "end_play": FINE_CLEARANCE(stack.end_play),
    }


def _check_proof(found: Answer, request: ShimsRequest, best: ShimStack | None, low: float, high: float) -> None:
    """Whether the play left stands clear of its limits by the uncertainty of the gap."""
    if request.uncertainty is None:
        found.cannot_check("shim-play-unproved", ["uncertainty"])
        return
    if best is None:
        return
    margin = min(best.end_play - low, high - best.end_play)
    if margin < request.uncertainty.si - 1e-12:
        play, away, known = (text_of(FINE_CLEARANCE(x)) for x in (best.end_play, margin, request.uncertainty.si))
        message = f"{play} is {away} from its limit; the gap is known to {known}."
        found.find(SHIM_PLAY_UNPROVED, ("gap", "uncertainty"), message)


TOPIC = Topic(
    name="shims",
    path="/v1/shims",
    title="Shims",
    summary="Which shims of the stock bring the end play into its limits, exact, with the next best.",
    request=ShimsRequest,
    result=ShimsResult,
    answer=answer,
    examples=(
        Example(
            "Three shims for a gap of 1.18 mm",
            {
                "gap": "1.18 mm",
                "low": "0.07 mm",
                "high": "0.13 mm",
                "pick": 3,
                "stock": {"0.24 mm": 2, "0.30 mm": 2, "0.32 mm": 2, "0.34 mm": 2, "0.36 mm": 2},
            },
        ),
        Example(
            "In thousandths, limits of the family",
            {
                "engine": "air-cooled-flat-four",
                "gap": "47 thou",
                "pick": 3,
                "stock": {"0.0125 in": 3, "0.014 in": 3},
                "uncertainty": "0.0005 in",
            },
        ),
    ),
    stage="trial-assembly",
    in_sheet="once",
    cautions=("assembly",),
)
