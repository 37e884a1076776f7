"""What the questions about cam, valve and spring share: their fields, and the lobe that they are answered on."""

from math import pi
from typing import Annotated, NamedTuple, TypeAlias

from service.answers.envelope import Answer
from service.answers.inputs import Measured, Number, Request
from service.calculations.arc_cam import arc_cam, arc_cam_from_duration, arc_cam_table
from service.calculations.cam_lobe import Lobe, LobeTable, lobe_coefficients, lobe_from_durations, lobe_table
from service.errors import MissingInput
from service.quantities import LENGTH, Quantity

CHECKING_LIFT = 0.0003
TABLE_POINTS = 361
SECOND_CHECKING_LIFT = 0.00127

CamLift: TypeAlias = Annotated[
    Quantity, Measured("length", "2 .. 16 mm", "6 .. 10 mm", "8.4 mm", "Lift at the tappet, not at the valve.")
]
RockerRatio: TypeAlias = Annotated[
    float, Number(0.7, 2.2, (1.0, 1.6), example=1.1, meaning="Valve lift over tappet lift, at half lift.")
]
Lash: TypeAlias = Annotated[
    Quantity, Measured("length", "0 .. 1.5 mm", "0 .. 0.3 mm", "0.15 mm", "Cold clearance at the valve.")
]
CamDuration: TypeAlias = Annotated[
    Quantity,
    Measured("angle", "120 .. 400 deg", "230 .. 310 deg", "276 deg", "Crank degrees, at the checking lift of the card."),
]
CheckedDuration: TypeAlias = Annotated[
    Quantity,
    Measured("angle", "100 .. 340 deg", "190 .. 270 deg", "236 deg", "Crank degrees at the higher checking lift (0.050 in)."),
]
CardLift: TypeAlias = Annotated[
    Quantity, Measured("length", "0 .. 3 mm", "0 .. 1.5 mm", "0.3 mm", "Tappet lift at which the card's events are taken.")
]
HigherLift: TypeAlias = Annotated[
    Quantity, Measured("length", "0.1 .. 3 mm", "0.5 .. 1.5 mm", "0.050 in", "Tappet lift of the checked duration.")
]
BaseCircleRadius: TypeAlias = Annotated[
    Quantity, Measured("length", "6 .. 40 mm", "12 .. 20 mm", "15.5 mm", "Radius, not diameter, of the cam's heel.")
]
NoseRadius: TypeAlias = Annotated[
    Quantity, Measured("length", "0.5 .. 30 mm", "2 .. 12 mm", "3.2 mm", "Nose of a cam that is ground from circular arcs.")
]


class LobeRequest(Request):
    """The fields of a question that a lobe is rebuilt from."""

    cam_lift: CamLift | None = None
    rocker_ratio: RockerRatio | None = None
    lash: Lash | None = None
    checking_lift: CardLift | None = None
    checked_duration: CheckedDuration | None = None
    second_checking_lift: HigherLift | None = None
    base_circle_radius: BaseCircleRadius | None = None
    nose_radius: NoseRadius | None = None


class RebuiltLobe(NamedTuple):
    """A lobe as a table, and as the estimate that it is unless the cam is made of arcs."""

    table: LobeTable
    estimate: Lobe | None


def rebuilt_lobe(found: Answer, request: LobeRequest, *, duration: float, duration_field: str) -> RebuiltLobe | None:
    """The lobe of the given duration, or None (with what is missing listed) when too little is known of it.

    Raises:
        MissingInput: a nose radius without the base circle.
        Contradiction: no lobe has these durations, or no flank joins these arcs.
        OutsideValidity: a checking lift is not below the cam lift.
    """
    if request.cam_lift is None:
        found.cannot_check("lobe", ["cam_lift"], "Without it no lobe can be rebuilt.")
        return None
    if request.nose_radius is not None:
        if request.base_circle_radius is None:
            raise MissingInput("base_circle_radius", "A cam of arcs needs the radius of its base circle too.", "15.5 mm")
        if request.checking_lift is None:
            reason = "Events taken where the tappet begins to rise, as for the old cams of arcs."
            found.assume("checking_lift", LENGTH(0.0), reason, "common-practice", "common-practice")
        cam = arc_cam_from_duration(
            base_circle_radius=request.base_circle_radius.si,
            nose_radius=request.nose_radius.si,
            cam_lift=request.cam_lift.si,
            duration=duration,
            checking_lift=request.checking_lift.si if request.checking_lift else 0.0,
            duration_field=duration_field,
        )
        found.rests_on(arc_cam)
        # The eccentricity peaks in a corner, where flank and nose meet: eight times the points find it to 0.01 mm.
        return RebuiltLobe(arc_cam_table(cam=cam, points=8 * TABLE_POINTS), None)
    if request.checked_duration is None:
        found.cannot_check("lobe", ["checked_duration"], "A second duration, at 0.050 in, shows how full the lobe is.")
        return None
    card_lift = assumed_checking_lift(found, request.checking_lift)
    if request.second_checking_lift is None:
        reason = "0.050 in, the usual second checking lift."
        found.assume("second_checking_lift", LENGTH(SECOND_CHECKING_LIFT), reason, "common-practice", "common-practice")
    lobe = lobe_from_durations(
        cam_lift=request.cam_lift.si,
        advertised_duration=duration,
        advertised_checking_lift=card_lift,
        checked_duration=request.checked_duration.si,
        checking_lift=request.second_checking_lift.si if request.second_checking_lift else SECOND_CHECKING_LIFT,
        fields=(duration_field, "checking_lift", "checked_duration", "second_checking_lift"),
    )
    found.rests_on(lobe_coefficients)
    return RebuiltLobe(lobe_table(lobe=lobe, points=TABLE_POINTS), lobe)


def lobe_needs(request: LobeRequest) -> list[str]:
    """What is still missing for a lobe besides the duration of its card."""
    needs = ["cam_lift"] if request.cam_lift is None else []
    if request.checked_duration is None and request.nose_radius is None:
        needs.append("checked_duration")
    return needs


def assumed_checking_lift(found: Answer, given: Quantity | None) -> float:
    """The lift at which the card was taken; 0.3 mm where nobody says."""
    if given is not None:
        return given.si
    reason = "Makers give events at 0.1 to 0.5 mm of tappet lift; ask for it."
    found.assume("checking_lift", LENGTH(CHECKING_LIFT), reason, "common-practice", "from-memory")
    return CHECKING_LIFT


def widened(lobe: RebuiltLobe, *, factor: float, lift: float) -> LobeTable:
    """The same shape of lobe, wider by a factor and of another lift: what is assumed of the other valve's lobe."""
    table = lobe.table
    high = lift / float(table.lift[len(table.lift) // 2])
    return LobeTable(
        table.cam_angle * factor,
        table.lift * high,
        table.velocity * (high / factor),
        table.acceleration * (high / (factor * factor)),
    )


def rocker_ratio_of(found: Answer, request: LobeRequest) -> float:
    """The rocker ratio, 1 where none is given; named once among the assumptions."""
    if request.rocker_ratio is None:
        if all(entry["field"] != "rocker_ratio" for entry in found.assumptions):
            found.assume("rocker_ratio", 1.0, "Rocker with equal arms.", "common-practice", "common-practice")
        return 1.0
    return request.rocker_ratio


def lash_of(found: Answer, request: LobeRequest) -> float:
    """The cold lash, none where it is not given: the highest lift; named once among the assumptions."""
    if request.lash is None:
        if all(entry["field"] != "lash" for entry in found.assumptions):
            found.assume("lash", LENGTH(0.0), "No lash: the highest lift.", "common-practice", "common-practice")
        return 0.0
    return request.lash.si


def degrees(angle: float) -> float:
    """An angle in degrees, for messages."""
    return angle * 180 / pi
