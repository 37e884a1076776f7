"""How much oil goes in, whether the planned fill is enough, and what the dipstick says."""

from typing import Any

from service.answers.engine_facts import engine_fact
from service.answers.envelope import Answer, Rule
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
        found.cannot_check("oil in the external circuit", absent, "Counted as not fitted; send 0 L, or no lines, if so.")
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
        found.cannot_check("planned fill against what the circuit takes", ["planned_fill"])
    elif request.planned_fill.si < filled.total - FILL_TOLERANCE:
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
