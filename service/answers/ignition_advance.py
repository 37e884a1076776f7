"""Total advance and advance curve, and whether they suit the compression ratio and the first start."""

from typing import Any

from service.answers.engine_facts import engine_fact
from service.answers.envelope import Answer, Rule
from service.answers.ignition_marks import mark
from service.answers.ignition_request import IgnitionRequest
from service.answers.limits import above
from service.calculations.break_in_limits import RPM
from service.calculations.ignition import DEGREE, CurvePoint, advance_at, total_advance
from service.errors import Contradiction, Missing, MissingInput
from service.quantities import ANGLE, SPEED, text_of
from service.reference.dataset import Dataset

USUAL_SPEEDS = tuple(n * RPM for n in (900, 1500, 3000))
MOST_ADVANCE = 32 * DEGREE
MOST_ADVANCE_HIGH_RATIO = 28 * DEGREE
NO_SHAFT = Missing(
    "curve_shaft", "Say whose degrees and speeds these are: one degree at the distributor is two at the crank.", "distributor"
)
HIGH_RATIO = 9.0

ADVANCE_VS_RATIO = Rule(
    code="advance-vs-ratio",
    severity="caution",
    stage="pre-start",
    rule="total advance above 32°, or above 28° with a compression ratio above 9",
    reason="Too early a spark knocks at full load, where it is not heard over an open exhaust.",
    remedy="Set the total, not the idle, and back it off.",
    source="common-practice",
    evidence="common-practice",
)
STATIC_TIMING_ABSENT = Rule(
    code="static-timing-absent",
    severity="stop",
    stage="pre-start",
    rule="no static timing set and written down before the first start",
    reason="Long cranking wipes the oil off the cam, and a backfire can set the carburettor on fire.",
    remedy="Set it with a lamp, turning the engine forward only, and write it down.",
    source="common-practice",
    evidence="common-practice",
)
DISTRIBUTOR_DEGREES = Rule(
    code="distributor-degrees",
    severity="ask",
    stage="pre-start",
    rule="a total advance of 10° to 17°, of which the double is usual",
    reason="A distributor turns at half crank speed: 14° there are 28° at the crank.",
    remedy="Say crank degrees; double a figure that was read at the distributor.",
    source="common-practice",
    evidence="common-practice",
)


def check_advance(found: Answer, *, total: float, ratio: float | None) -> None:
    """Whether the total is early for the compression ratio, or looks like distributor degrees."""
    if 10 * DEGREE <= total <= 17 * DEGREE:
        found.find(
            DISTRIBUTOR_DEGREES,
            ("total_advance",),
            f"{text_of(ANGLE(total))} is little for a total; {text_of(ANGLE(2 * total))} at the crank would be usual.",
        )
    if above(total, MOST_ADVANCE):
        message = f"A total of {text_of(ANGLE(total))} is above {text_of(ANGLE(MOST_ADVANCE))}, the most for such engines."
        found.find(ADVANCE_VS_RATIO, ("total_advance",), message)
    elif ratio is None:
        found.cannot_check(ADVANCE_VS_RATIO.code, ["compression_ratio"])
    elif above(ratio, HIGH_RATIO) and above(total, MOST_ADVANCE_HIGH_RATIO):
        found.find(
            ADVANCE_VS_RATIO,
            ("total_advance", "compression_ratio"),
            f"{text_of(ANGLE(total))} with a ratio of {ratio:.1f} is above {text_of(ANGLE(MOST_ADVANCE_HIGH_RATIO))}.",
        )


def check_static(request: IgnitionRequest, dataset: Dataset, found: Answer) -> None:
    """Whether the static timing is set, and not earlier than the engine stands."""
    if request.static_timing_set is False:
        found.find(STATIC_TIMING_ABSENT, ("static_timing_set",), "The static timing is not set yet.")
    elif request.static_timing_set is None and request.static_advance is None:
        found.cannot_check(STATIC_TIMING_ABSENT.code, ["static_advance"])
    limit = engine_fact(dataset, "ignition", request.engine, "static_advance_limit")
    if limit is None or limit.si is None or request.static_advance is None:
        return
    found.uses(limit)
    if above(request.static_advance.si, limit.si):
        found.find(
            ADVANCE_VS_RATIO,
            ("static_advance",),
            f"{text_of(ANGLE(request.static_advance.si))} static is above this engine's {text_of(ANGLE(limit.si))}.",
        )


def find_total(request: IgnitionRequest, static: float | None, dataset: Dataset, found: Answer) -> float:
    """Total advance as sent, from static and curve, or as known of the engine.

    Raises:
        MissingInput: none of these.
        Contradiction: the total sent and the one from the curve do not agree.
    """
    from_curve = None
    if request.curve and static is not None:
        ratio = _shaft_ratio(request)
        most = max(point.advance.si for point in request.curve)
        from_curve = total_advance(static_advance=static, weight_advance=most, shaft_ratio=ratio)
        found.rests_on(total_advance)
    if request.total_advance is not None:
        if static is not None and static > request.total_advance.si:
            raise Contradiction(("static_advance", "total_advance"), "The total is the static advance and more.")
        if from_curve is not None and above(abs(from_curve - request.total_advance.si), 2 * DEGREE):
            raise Contradiction(
                ("total_advance", "static_advance", "curve"),
                f"Static advance and curve make {text_of(ANGLE(from_curve))}; leave out the total, or correct the figures.",
            )
        return request.total_advance.si
    if from_curve is not None:
        return from_curve
    fact = engine_fact(dataset, "ignition", request.engine, "total_advance")
    if fact is None or fact.si is None:
        raise MissingInput("total_advance", "Send the total advance, or static_advance with the curve, or an engine.", "28 deg")
    found.uses(fact)
    found.assume("total_advance", ANGLE(fact.si), "of this engine family", fact.source, "common-practice")
    return fact.si


def curve(request: IgnitionRequest, static: float | None, diameter: float, found: Answer) -> list[dict[str, Any]] | None:
    """Advance at the usual speeds and the one asked for; ``None`` without a curve.

    Raises:
        MissingInput: a curve without the static advance, or without saying whose degrees it has.
    """
    if request.curve is None:
        return None
    if static is None:
        shaft = [NO_SHAFT] if request.curve_shaft is None else []
        raise MissingInput("static_advance", "A curve starts from the static advance.", "7.5 deg", *shaft)
    ratio = _shaft_ratio(request)
    points = [CurvePoint(point.speed.si, point.advance.si) for point in request.curve]
    speeds = sorted({*USUAL_SPEEDS, *([request.speed.si] if request.speed else [])})
    rows = []
    for speed in speeds:
        advance = advance_at(points=points, static_advance=static, shaft_ratio=ratio, speed=speed)
        arc = mark(advance, diameter)["arc"]
        rows.append({"speed": SPEED(speed), "advance": ANGLE(advance), "arc": arc})
    found.rests_on(advance_at)
    found.table = rows
    return rows


def _shaft_ratio(request: IgnitionRequest) -> float:
    """Turns of the curve's shaft per turn of the crank.

    Raises:
        MissingInput: it is not said whose degrees and speeds the curve has.
    """
    if request.curve_shaft is None:
        raise MissingInput(*NO_SHAFT)
    return 0.5 if request.curve_shaft == "distributor" else 1.0
