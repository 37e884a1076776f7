"""How the piston moves, what that loads, and how fast it may go; where top dead centre is and how degrees look on the rim."""

from math import pi
from typing import Any

from service.answers.envelope import Answer, QuantityOut, Result, Rule
from service.answers.piston_motion_checks import check_motion
from service.answers.piston_motion_request import PistonMotionRequest
from service.answers.topic import Example, Topic
from service.calculations import crank_loads, dead_centre
from service.calculations import piston_motion as calculation
from service.calculations.displacement import piston_area
from service.errors import Missing, MissingInput
from service.quantities import ACCELERATION, ANGLE, FORCE, LENGTH, VELOCITY, Series, text_of
from service.reference.dataset import Dataset

TABLE_POINTS = 720
GAUGE_RESOLUTION = 2e-5
# Decimals in SI beyond which a figure that passes through zero is the last bits of a sine, which differ by machine.
_POSITION_DIGITS, _VELOCITY_DIGITS, _ACCELERATION_DIGITS, _ANGLE_DIGITS = 13, 10, 6, 12

TOP_BY_DIAL_GAUGE = Rule(
    code="top-by-dial-gauge",
    severity="fix",
    stage="trial-assembly",
    rule="top dead centre was found by the highest reading of a dial gauge",
    reason="Near the top the piston stands still: a dial gauge shows nothing over more than three degrees.",
    remedy="Use a piston stop from both sides, and halve the two readings of the wheel.",
    source="geometry",
    evidence="derived",
)


class SeriesOut(Result):
    """A column of numbers with its unit."""

    unit: str
    values: list[float]


class MotionTableOut(Result):
    """The motion over 720° as columns of equal length."""

    crank_angle: SeriesOut
    position: SeriesOut
    velocity: SeriesOut
    acceleration: SeriesOut


class SpeedLimitsOut(Result):
    """Crank speeds at which the piston reaches a limit."""

    at_piston_speed: QuantityOut
    at_piston_acceleration: QuantityOut


class TopDeadCentreOut(Result):
    """Top dead centre by piston stop."""

    wheel_correction: QuantityOut
    instruction: str
    half_angle: QuantityOut
    drop: QuantityOut
    offset_error: QuantityOut
    dial_gauge_dead_band: QuantityOut


class RimOut(Result):
    """Degrees on the rim: one degree along it, and the crank angle by tape and by caliper."""

    one_degree: QuantityOut
    arc: QuantityOut | None = None
    chord: QuantityOut | None = None


class PistonMotionResult(Result):
    """Figures of the whole turn; those at an angle, the loads, the table and the marks when asked for."""

    rod_ratio: float
    mean_piston_speed: QuantityOut
    peak_acceleration: QuantityOut
    peak_angle: QuantityOut
    speed_limits: SpeedLimitsOut
    position: QuantityOut | None = None
    velocity: QuantityOut | None = None
    acceleration: QuantityOut | None = None
    rod_angle: QuantityOut | None = None
    inertia_load: QuantityOut | None = None
    peak_inertia_load: QuantityOut | None = None
    rod_force: QuantityOut | None = None
    side_thrust: QuantityOut | None = None
    joint_load: QuantityOut | None = None
    bolt_margin: float | None = None
    skirt_clearance: QuantityOut | None = None
    top_dead_centre: TopDeadCentreOut | None = None
    rim: RimOut | None = None
    table: MotionTableOut | None = None


def geometry_of(request: PistonMotionRequest) -> dict[str, float]:
    """Stroke, rod and offset as the calculations take them."""
    offset = request.pin_offset.si if request.pin_offset else 0.0
    return {"stroke": request.stroke.si, "rod_length": request.rod_length.si, "pin_offset": offset}


def speed_of(request: PistonMotionRequest) -> float:
    """The speed asked for, or else the rev limit.

    Raises:
        MissingInput: neither is given.
    """
    chosen = request.speed or request.rev_limit
    if chosen is None:
        raise MissingInput("speed", "A crank speed is needed; send speed, or the rev limit of the build.", "5500 rpm")
    return chosen.si


def answer(request: PistonMotionRequest, dataset: Dataset) -> Answer:
    """The motion with its loads, limits, marks and findings.

    Raises:
        MissingInput: neither speed nor rev limit; one stop reading without the other.
        Contradiction: the crank cannot go round.
        OutsideValidity: both stop readings lie on one side.
    """
    speed = speed_of(request)
    geometry = geometry_of(request)
    found = Answer(result={})
    if request.pin_offset is None:
        found.assume("pin_offset", LENGTH(0.0), "Pin on the cylinder's axis.", "common-practice", "common-practice")
    peak = calculation.peak_acceleration(speed=speed, **geometry)
    found.rests_on(calculation.mean_piston_speed, calculation.peak_acceleration)
    found.result = {
        "rod_ratio": calculation.rod_ratio(stroke=geometry["stroke"], rod_length=geometry["rod_length"]),
        "mean_piston_speed": VELOCITY(calculation.mean_piston_speed(stroke=geometry["stroke"], speed=speed)),
        "peak_acceleration": ACCELERATION(peak.acceleration),
        "peak_angle": ANGLE(round(peak.crank_angle, _ANGLE_DIGITS)),
    }
    check_motion(found, request, speed=speed, geometry=geometry, dataset=dataset)
    _at_angle(found, request, speed, geometry)
    _loads(found, request, speed, geometry, peak.acceleration)
    _marks(found, request, geometry)
    if request.points is not None:
        found.result["table"] = motion_columns(request, request.points)
        found.rests_on(calculation.piston_position, calculation.piston_motion_at)
    return found


def motion_columns(request: PistonMotionRequest, points: int) -> dict[str, Series]:
    """The motion over 720° as columns, from firing top dead centre."""
    table = calculation.piston_motion_table(speed=speed_of(request), points=points, **geometry_of(request))
    return {
        "crank_angle": Series(ANGLE, tuple(table.crank_angle.tolist())),
        "position": Series(LENGTH, tuple(table.position.round(_POSITION_DIGITS).tolist())),
        "velocity": Series(VELOCITY, tuple(table.velocity.round(_VELOCITY_DIGITS).tolist())),
        "acceleration": Series(ACCELERATION, tuple(table.acceleration.round(_ACCELERATION_DIGITS).tolist())),
    }


def _at_angle(found: Answer, request: PistonMotionRequest, speed: float, geometry: dict[str, float]) -> None:
    if request.crank_angle is None:
        return
    angle = request.crank_angle.si
    motion = calculation.piston_motion_at(crank_angle=angle, speed=speed, **geometry)
    rod = calculation.rod_motion_at(crank_angle=angle, speed=speed, **geometry)
    found.rests_on(calculation.piston_position, calculation.piston_motion_at)
    found.result |= {
        "position": LENGTH(round(motion.position, _POSITION_DIGITS)),
        "velocity": VELOCITY(round(motion.velocity, _VELOCITY_DIGITS)),
        "acceleration": ACCELERATION(round(motion.acceleration, _ACCELERATION_DIGITS)),
        "rod_angle": ANGLE(round(rod.angle, _ANGLE_DIGITS)),
    }


def _loads(found: Answer, request: PistonMotionRequest, speed: float, geometry: dict[str, float], peak: float) -> None:
    """Inertia at the angle (or at its peak), and with a pressure on the piston the forces on rod and wall."""
    mass = request.reciprocating_mass
    if mass is None:
        found.cannot_check("inertia-load", ["reciprocating_mass"], "The load of the moving parts on rod and bolts.")
        return
    most = crank_loads.inertia_load(reciprocating_mass=mass.si, acceleration=peak)
    at_angle = found.result.get("acceleration")
    here = crank_loads.inertia_load(reciprocating_mass=mass.si, acceleration=at_angle.si) if at_angle else most
    found.rests_on(crank_loads.inertia_load)
    found.result |= {"inertia_load": FORCE(here), "peak_inertia_load": FORCE(most)}
    if request.cylinder_pressure is None:
        return
    if request.bore is None or request.crank_angle is None:
        reason = "Forces under gas pressure need the bore and a crank angle."
        missing = [] if request.bore else [Missing("bore", reason, "86 mm")]
        missing += [] if request.crank_angle else [Missing("crank_angle", reason, "25 deg")]
        raise MissingInput.of(missing)
    forces = crank_loads.rod_forces(
        gas_force=request.cylinder_pressure.si * piston_area(bore=request.bore.si),
        reciprocating_mass=mass.si,
        crank_angle=request.crank_angle.si,
        speed=speed,
        **geometry,
    )
    found.rests_on(crank_loads.rod_forces)
    found.result |= {"rod_force": FORCE(forces.rod_force), "side_thrust": FORCE(forces.side_thrust)}


def _marks(found: Answer, request: PistonMotionRequest, geometry: dict[str, float]) -> None:
    """Top dead centre by piston stop, and degrees on the rim."""
    if request.top_found_by == "dial-gauge":
        band = dead_centre.dial_gauge_dead_band(resolution=GAUGE_RESOLUTION, **geometry)
        found.rests_on(dead_centre.dial_gauge_dead_band)
        message = f"A dial gauge that shows 0.02 mm stands still over {text_of(ANGLE(band))} of the crank."
        found.find(TOP_BY_DIAL_GAUGE, ("top_found_by",), message)
    before, after = request.stop_before, request.stop_after
    if before and after:
        found.result["top_dead_centre"] = _top_dead_centre(before.si, after.si, geometry)
        found.rests_on(dead_centre.piston_stop, dead_centre.dial_gauge_dead_band)
    elif before or after:
        missing = "stop_after" if before else "stop_before"
        raise MissingInput(missing, "A piston stop is read twice, turning onto it from both sides.", "41 deg")
    if request.pulley_diameter is None:
        return
    diameter = request.pulley_diameter.si
    rim: dict[str, Any] = {"one_degree": LENGTH(dead_centre.rim_arc(angle=pi / 180, diameter=diameter))}
    found.rests_on(dead_centre.rim_arc)
    if request.crank_angle is not None:
        angle = abs(request.crank_angle.si)
        rim["arc"] = LENGTH(dead_centre.rim_arc(angle=angle, diameter=diameter))
        if angle <= pi:
            rim["chord"] = LENGTH(dead_centre.rim_chord(angle=angle, diameter=diameter))
            found.rests_on(dead_centre.rim_chord)
    found.result["rim"] = rim


def _top_dead_centre(before: float, after: float, geometry: dict[str, float]) -> dict[str, Any]:
    stop = dead_centre.piston_stop(stop_before=before, stop_after=after, **geometry)
    band = dead_centre.dial_gauge_dead_band(resolution=GAUGE_RESOLUTION, **geometry)
    side = "after" if stop.wheel_correction > 0 else "before"
    turn = text_of(ANGLE(abs(stop.wheel_correction)))
    instruction = (
        "The wheel's zero is at top dead centre."
        if abs(stop.wheel_correction) < pi / 3600
        else f"Top dead centre is where the wheel reads {turn} {side} its zero; turn the wheel on the shaft by that much."
    )
    return {
        "wheel_correction": ANGLE(round(stop.wheel_correction, _ANGLE_DIGITS)),
        "instruction": instruction,
        "half_angle": ANGLE(stop.half_angle),
        "drop": LENGTH(stop.drop),
        "offset_error": ANGLE(round(stop.offset_error, _ANGLE_DIGITS)),
        "dial_gauge_dead_band": ANGLE(band),
    }


TOPIC = Topic(
    name="piston_motion",
    path="/v1/piston-motion",
    title="Piston motion",
    summary="Where the piston is, how fast it moves and what that loads; speed limits, top dead centre and marks on the rim.",
    request=PistonMotionRequest,
    result=PistonMotionResult,
    answer=answer,
    stage="combination",
    cautions=("choosing-parts",),
    examples=(
        Example(
            "What do the rods see at 5500 rpm?",
            {
                "stroke": "73 mm",
                "rod_length": "136 mm",
                "speed": "5500 rpm",
                "reciprocating_mass": "590 g",
                "rotating_mass": "440 g",
                "cap_mass": "120 g",
                "rod_bolt_preload": "15 kN",
            },
        ),
        Example(
            "Where is the piston at 62° after bottom dead centre?",
            {"stroke": "73 mm", "rod_length": "136 mm", "speed": "3000 rpm", "crank_angle": "242 deg", "pin_offset": "1.5 mm"},
        ),
        Example(
            "Top dead centre by piston stop, and 28° on the pulley",
            {
                "stroke": "73 mm",
                "rod_length": "136 mm",
                "speed": "900 rpm",
                "stop_before": "38 deg",
                "stop_after": "42 deg",
                "crank_angle": "-28 deg",
                "pulley_diameter": "145 mm",
            },
        ),
        Example(
            "The motion as a table of twelve rows",
            {"stroke": "2.75 in", "rod_length": "5 in", "speed": "3600 rpm", "points": 12},
        ),
    ),
)
