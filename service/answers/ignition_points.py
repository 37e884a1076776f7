"""The contact breaker: dwell as an angle, a share and a time, and what a change of gap or dwell does to the timing."""

from typing import Any

from service.answers.engine_facts import engine_fact
from service.answers.envelope import Answer, Rule, band
from service.answers.ignition_request import IgnitionRequest
from service.calculations.contact_breaker import (
    dwell_after_gap_change,
    dwell_from_share,
    dwell_share,
    dwell_time,
    dwell_timing_shift,
)
from service.calculations.ignition import DEGREE
from service.errors import Contradiction, Missing, MissingInput, OutsideValidity
from service.quantities import ANGLE, CLEARANCE, PERCENT, Kind, text_of
from service.reference.dataset import Dataset

DISTRIBUTOR_RATIO = 0.5
DWELL_TIME = Kind("duration", "ms", "ms", 1, 1, fine=True)
USUAL_DWELL = (42 * DEGREE, 58 * DEGREE)
USUAL_PLUG_GAPS = {"points": (0.6e-3, 0.7e-3), "electronic": (0.8e-3, 0.9e-3)}
# A change that moves the spark by less than this is within what a strobe can show.
NO_DWELL = Missing("dwell", "The effect of another gap needs the dwell at the present one.", "50 deg")
SHIFT_TO_MENTION = 1 * DEGREE

DWELL_POINTS_DISAGREE = Rule(
    code="dwell-points-disagree",
    severity="ask",
    stage="pre-start",
    rule="dwell outside 42° to 58° on a four-lobe cam",
    reason="Bent shaft, wrong points, or a meter read on the wrong scale.",
    remedy="Check the meter's number of cylinders and whether it shows percent; then points, gap and shaft play.",
    source="common-practice",
    evidence="common-practice",
)
TIMING_AFTER_DWELL = Rule(
    code="timing-after-dwell",
    severity="fix",
    stage="pre-start",
    rule="the dwell changed so that the spark moved by a degree or more",
    reason="Points that close for longer open later: one degree more dwell is one crank degree later.",
    remedy="Dwell first, timing second: set the timing again after every change of dwell or gap.",
    source="common-practice",
    evidence="common-practice",
)


def lobes_of(request: IgnitionRequest, dataset: Dataset, found: Answer) -> int | None:
    """Lobes of the breaker cam, as sent or as known of the engine."""
    if request.lobes is not None:
        return request.lobes
    fact = engine_fact(dataset, "ignition", request.engine, "lobes")
    if fact is None or fact.si is None:
        return None
    found.uses(fact)
    found.assume("lobes", int(fact.si), "of this engine family", fact.source, "common-practice")
    return int(fact.si)


def dwell(request: IgnitionRequest, lobes: int | None, found: Answer) -> dict[str, Any] | None:
    """The dwell in its three forms; ``None`` where it was not sent.

    Raises:
        MissingInput: a dwell without the number of lobes.
        Contradiction: angle and percentage that do not agree.
    """
    if request.dwell is None and request.dwell_percent is None:
        found.cannot_check(DWELL_POINTS_DISAGREE.code, ["dwell"])
        return None
    if lobes is None:
        raise MissingInput("lobes", "A dwell says nothing without the number of lobes of the breaker cam.", "4")
    angle = _angle(request, lobes)
    share = dwell_share(dwell=angle, lobes=lobes)
    found.rests_on(dwell_share)
    row: dict[str, Any] = {"angle": ANGLE(angle), "percent": PERCENT(share), "time": None}
    if request.speed is not None:
        row["time"] = DWELL_TIME(dwell_time(dwell=angle, speed=request.speed.si, shaft_ratio=DISTRIBUTOR_RATIO))
        found.rests_on(dwell_time)
    else:
        found.cannot_check("dwell-time", ["speed"], "The dwell as a time.")
    _check(request, angle, lobes, found)
    return row


def _check(request: IgnitionRequest, angle: float, lobes: int, found: Answer) -> None:
    if lobes == 4 and not USUAL_DWELL[0] <= angle <= USUAL_DWELL[1]:
        found.find(
            DWELL_POINTS_DISAGREE,
            ("dwell",),
            f"{text_of(ANGLE(angle))} on four lobes is outside {text_of(ANGLE(USUAL_DWELL[0]))} to "
            f"{text_of(ANGLE(USUAL_DWELL[1]))}.",
        )
    if request.dwell_before is not None:
        _mention_shift(angle - request.dwell_before.si, ("dwell_before", "dwell"), found)


def timing_shift(request: IgnitionRequest, lobes: int | None, found: Answer) -> Any:
    """Change of advance since an earlier dwell, or ``None``."""
    if request.dwell_before is None or lobes is None or (request.dwell is None and request.dwell_percent is None):
        return None
    found.rests_on(dwell_timing_shift)
    return ANGLE(_shift(_angle(request, lobes) - request.dwell_before.si))


def after_gap_change(request: IgnitionRequest, lobes: int | None, found: Answer) -> dict[str, Any] | None:
    """Dwell and timing to expect when the gap is set anew; ``None`` where no other gap is asked for.

    Raises:
        MissingInput: another gap without the present gap and its dwell.
        OutsideValidity: a gap at which the points would never close.
    """
    if request.points_gap_after is None:
        return None
    if request.points_gap is None:
        dwell = [NO_DWELL] if request.dwell is None and request.dwell_percent is None else []
        raise MissingInput("points_gap", "The effect of another gap needs the present gap with its dwell.", "0.40 mm", *dwell)
    if lobes is None or (request.dwell is None and request.dwell_percent is None):
        raise MissingInput(*NO_DWELL)
    known = _angle(request, lobes)
    try:
        expected = dwell_after_gap_change(
            gap=request.points_gap_after.si, known_gap=request.points_gap.si, known_dwell=known, lobes=lobes
        )
    except OutsideValidity as refusal:
        raise OutsideValidity("points_gap_after", refusal.reason, refusal.allowed) from None
    found.rests_on(dwell_after_gap_change, dwell_timing_shift)
    _mention_shift(expected.nominal - known, ("points_gap", "points_gap_after"), found)
    return {
        "dwell": band(*(ANGLE(value) for value in expected)),
        "timing_shift": band(*(ANGLE(value) for value in sorted(_shift(dwell - known) for dwell in expected))),
    }


def plug_gap(request: IgnitionRequest, dataset: Dataset, found: Answer) -> dict[str, Any] | None:
    """Plug gap to set for the kind of ignition; ``None`` where it is not said."""
    if request.ignition is None:
        found.cannot_check("plug-gap", ["ignition"], "The gap of the plugs depends on the ignition.")
        return None
    name = "plug_gap" if request.ignition == "points" else "plug_gap_electronic"
    low, high = USUAL_PLUG_GAPS[request.ignition]
    facts = [engine_fact(dataset, "ignition", request.engine, f"{name}_{end}") for end in ("low", "high")]
    if facts[0] is not None and facts[1] is not None and facts[0].si is not None and facts[1].si is not None:
        found.uses(facts[0], facts[1])
        low, high = facts[0].si, facts[1].si
    else:
        found.assume(
            "plug_gap",
            {"low": CLEARANCE(low), "high": CLEARANCE(high)},
            f"usual with {request.ignition}",
            "common-practice",
            "common-practice",
        )
    advice = "The higher the compression ratio, the nearer the low end."
    return {"low": CLEARANCE(low), "high": CLEARANCE(high), "advice": advice}


def _angle(request: IgnitionRequest, lobes: int) -> float:
    """The dwell in rad; angle and percentage must agree within half a degree."""
    from_share = dwell_from_share(share=request.dwell_percent.si, lobes=lobes) if request.dwell_percent else None
    if request.dwell is None:
        return from_share or 0.0
    if from_share is not None and abs(from_share - request.dwell.si) > DEGREE / 2:
        raise Contradiction(
            ("dwell", "dwell_percent"),
            f"With {lobes} lobes these are not the same dwell; send the one that the meter shows.",
        )
    return request.dwell.si


def _shift(dwell_change: float) -> float:
    return dwell_timing_shift(dwell_change=dwell_change, shaft_ratio=DISTRIBUTOR_RATIO)


def _mention_shift(dwell_change: float, fields: tuple[str, ...], found: Answer) -> None:
    shift = _shift(dwell_change)
    if abs(shift) >= SHIFT_TO_MENTION:
        direction = "later" if shift < 0 else "earlier"
        found.find(TIMING_AFTER_DWELL, fields, f"The spark comes about {text_of(ANGLE(abs(shift)))} {direction} at the crank.")
