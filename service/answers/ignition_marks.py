"""Marks on the pulley: where to make them, what a found one means, and what a timing light shows."""

from typing import Any

from service.answers.envelope import Answer, Rule
from service.answers.ignition_request import IgnitionRequest
from service.answers.nested import inside
from service.calculations.dead_centre import angle_from_arc, angle_from_chord, rim_arc, rim_chord
from service.calculations.ignition import DEGREE, timing_light
from service.errors import MissingInput, OutsideValidity
from service.quantities import ANGLE, LENGTH, text_of
from service.reference.dataset import Dataset

WASTED_SPARK_DOUBLING = Rule(
    code="wasted-spark-doubling",
    severity="ask",
    stage="pre-start",
    rule="a dial-back light shows more than 40°, half of which is usual, and it is not said whether the spark is wasted",
    reason="Such a light counts two sparks a cycle, so its dial shows twice the crank degrees.",
    remedy="Say whether every turn has a spark (wasted_spark); use a light with a two-stroke setting.",
    source="common-practice",
    evidence="common-practice",
)


def side(request: IgnitionRequest, dataset: Dataset, found: Answer) -> str:
    """Side of the top-dead-centre mark on which advance lies: a mark that passes the pointer first lies ahead of it."""
    if request.rotation is not None:
        return request.rotation
    entity = next((e for owner in dataset.lineage(request.engine or "") if (e := dataset.find("engines", owner))), None)
    if entity is not None and entity.has("rotation"):
        found.uses(entity.fact("rotation"))
        return "anticlockwise" if entity.text("rotation").startswith("anticlockwise") else "clockwise"
    found.assume("rotation", "clockwise", "usual, seen from the pulley", "common-practice", "common-practice")
    return "clockwise"


def mark(angle: float, diameter: float) -> dict[str, Any]:
    """The mark of an angle; after top dead centre lies on the other side and is shown as negative."""
    sign = -1.0 if angle < 0 else 1.0
    arc, chord = (rim(angle=abs(angle), diameter=diameter) for rim in (rim_arc, rim_chord))
    return {"angle": ANGLE(angle), "arc": LENGTH(sign * arc), "chord": LENGTH(sign * chord)}


def light(request: IgnitionRequest, total: float, found: Answer) -> dict[str, Any]:
    """How to set a dial-back light for the total, and the true advance behind what one shows."""
    found.rests_on(timing_light)
    row: dict[str, Any] = {
        "dial_for_total": ANGLE(total),
        "dial_for_total_wasted_spark": ANGLE(2 * total),
        "advance": None,
        "shown_speed_times": None,
    }
    given = request.light
    if given is None:
        return row
    dial = given.dial.si if given.dial else 0.0
    with inside("light"):
        reading = timing_light(mark=given.mark.si, dial=dial, wasted_spark=bool(given.wasted_spark))
    row["advance"], row["shown_speed_times"] = ANGLE(reading.advance), reading.speed_ratio
    if given.wasted_spark is None and dial > 0:
        if reading.advance > 40 * DEGREE:
            found.find(
                WASTED_SPARK_DOUBLING,
                ("light.wasted_spark",),
                f"The light shows {text_of(ANGLE(reading.advance))}; with a wasted spark it is "
                f"{text_of(ANGLE(given.mark.si + dial / 2))}.",
            )
        else:
            found.cannot_check(WASTED_SPARK_DOUBLING.code, ["light.wasted_spark"])
    return row


def found_mark(request: IgnitionRequest, found: Answer) -> Any:
    """The angle of a mark that was found on the rim, or ``None``.

    Raises:
        MissingInput: it is not said whether the distance is by tape or by caliper.
        OutsideValidity: the distance does not fit on the pulley.
    """
    if request.mark_distance is None:
        return None
    if request.mark_tool is None:
        raise MissingInput("mark_tool", "Round the rim with a tape, or straight across with a caliper?", "tape")
    diameter, distance = request.pulley_diameter.si, request.mark_distance.si
    try:
        if request.mark_tool == "caliper":
            angle = angle_from_chord(chord=distance, diameter=diameter)
            found.rests_on(rim_chord)
        else:
            angle = angle_from_arc(arc=distance, diameter=diameter)
            found.rests_on(rim_arc)
    except OutsideValidity as refusal:
        raise OutsideValidity("mark_distance", refusal.reason, refusal.allowed) from None
    if angle > 180 * DEGREE:
        raise OutsideValidity("mark_distance", "This is more than half way round the pulley; measure the other way.", "")
    return ANGLE(angle)
