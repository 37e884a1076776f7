"""How much oil goes in, whether the planned fill is enough, and what the dipstick says."""

from typing import Any

from service.answers.engine_facts import engine_fact
from service.answers.envelope import Answer, Rule
from service.answers.limits import above
from service.answers.nested import inside
from service.answers.oil_request import OilRequest
from service.calculations.oil import (
    Fill,
    Line,
    dipstick_drop,
    dipstick_scale,
    fill,
    line_volume,
    volume_on_dipstick,
)
from service.errors import MissingInput
from service.quantities import FLUID, LENGTH, SMALL_VOLUME, text_of
from service.reference.dataset import Dataset

# A sump stick is read to about a tenth of a litre.
FILL_TOLERANCE = 0.1e-3
# The marks of a stick lie about a litre apart; half of it above the upper one the crank reaches the oil.
MOST_OVER = 0.5e-3

OIL_COUNT_SHORT = Rule(
    code="oil-count-short",
    severity="fix",
    stage="pre-start",
    rule="planned fill more than 0.1 L under sump + filter + cooler + lines",
    reason="On the first start the external circuit takes its volume out of the sump: the level falls and the pump draws air.",
    remedy="Pour in the whole fill; run a minute, wait five, read the stick and top up.",
    source="common-practice",
    evidence="common-practice",
)

OIL_COUNT_OVER = Rule(
    code="oil-count-over",
    severity="caution",
    stage="pre-start",
    rule="planned fill more than 0.5 L over sump + filter + cooler + lines (asked about while one of these is not told)",
    reason="The crank dips into oil that stands too high and whips it to foam: the pump draws air, and oil is blown out of the "
    "breather and past seals and rings.",
    remedy="Pour in only the whole fill; after the first minutes wait five, read the stick, and drain to the upper mark.",
    source="common-practice",
    evidence="common-practice",
)


def oil_fill(request: OilRequest, dataset: Dataset, found: Answer) -> Fill:
    """The fill with its external part; what was not sent is taken as not fitted, and said so.

    Raises:
        MissingInput: no sump, and no engine of which it is known.
    """
    fact = None if request.sump else engine_fact(dataset, "oil-facts", request.engine, "sump")
    if request.sump:
        sump = request.sump.si
    elif fact is not None and fact.si is not None:
        sump = fact.si
        found.uses(fact)
        found.assume("sump", FLUID(sump), "fill of this engine family without external parts", fact.source, "from-memory")
    else:
        raise MissingInput("sump", "Send the fill of the bare engine, or an engine whose fill is known.", "2.5 L")
    filled = fill(
        sump=sump,
        oil_filter=request.filter.si if request.filter else 0.0,
        cooler=request.cooler.si if request.cooler else 0.0,
        lines=[Line(line.bore.si, line.length.si) for line in request.lines or ()],
    )
    found.rests_on(fill, line_volume)
    absent = [name for name in ("filter", "cooler", "lines") if getattr(request, name) is None]
    if absent:
        why = "Oil outside the engine: counted as not fitted; send 0 L, or no lines, if so."
        found.cannot_check("external-oil-not-counted", absent, why)
    _check_fill(request, filled, found)
    found.result["fill"] = {
        "total": FLUID(filled.total),
        "sump": FLUID(sump),
        "external": FLUID(filled.external),
        "filter": FLUID(request.filter.si if request.filter else 0.0),
        "cooler": FLUID(request.cooler.si if request.cooler else 0.0),
        "lines": FLUID(filled.lines),
    }
    return filled


def _check_fill(request: OilRequest, filled: Fill, found: Answer) -> None:
    if request.planned_fill is None:
        found.cannot_check(OIL_COUNT_SHORT.code, ["planned_fill"])
        return
    over = request.planned_fill.si - filled.total
    if over > MOST_OVER + 1e-9:
        untold = [name for name in ("filter", "cooler", "lines") if getattr(request, name) is None]
        maybe = f" Is it meant for {' and '.join(untold)}, of which nothing was sent?" if untold else ""
        found.find(
            OIL_COUNT_OVER,
            ("planned_fill",),
            f"{text_of(FLUID(request.planned_fill.si))} are planned, {text_of(FLUID(over))} more than the "
            f"{text_of(FLUID(filled.total))} of sump and external circuit.{maybe}",
            severity="ask" if untold else None,
        )
    if above(filled.total - request.planned_fill.si, FILL_TOLERANCE):
        found.find(
            OIL_COUNT_SHORT,
            ("planned_fill",),
            f"{text_of(FLUID(request.planned_fill.si))} are planned, but sump and external circuit take "
            f"{text_of(FLUID(filled.total))}; {text_of(FLUID(filled.total - request.planned_fill.si))} would be missing.",
        )


def dipstick(request: OilRequest, filled: Fill, found: Answer) -> dict[str, Any] | None:
    """The dipstick as a scale in litres, a reading on it, and how far the external circuit would draw the level down."""
    given = request.dipstick
    if given is None:
        return None
    found.rests_on(dipstick_scale)
    with inside("dipstick"):
        scale = dipstick_scale(
            low_mark=given.low_mark.si,
            low_volume=given.low_volume.si,
            high_mark=given.high_mark.si,
            high_volume=given.high_volume.si,
        )
        volume = volume_on_dipstick(scale=scale, reading=given.reading.si) if given.reading else None
    row: dict[str, Any] = {
        "volume_per_millimetre": SMALL_VOLUME(scale.volume_per_length * 1e-3),
        "drop_if_external_is_empty": LENGTH(dipstick_drop(scale=scale, volume=filled.external)),
    }
    if volume is not None:
        row["volume"] = FLUID(volume)
    return row
