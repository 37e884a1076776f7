"""How the piston moves, what that loads, and how fast it may go; where top dead centre is and how degrees look on the rim."""

from math import pi
from typing import Annotated, Any, Literal

from pydantic import Field

from service.answers.envelope import Answer, QuantityOut, Result, Rule
from service.answers.inputs import Bore, Id, Measured, Number, Request, RodLength, Speed, Stroke
from service.answers.piston_motion_checks import check_motion
from service.answers.topic import Example, Topic
from service.calculations import crank_loads, dead_centre
from service.calculations import piston_motion as calculation
from service.calculations.displacement import piston_area
from service.errors import MissingInput
from service.quantities import ACCELERATION, ANGLE, FORCE, LENGTH, VELOCITY, Quantity, Series, text_of
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

Angle720 = Annotated[
    Quantity, Measured("angle", "-720 .. 720 deg", "", "62 deg", "Crank angle after top dead centre; before it negative.")
]
PinOffset = Annotated[
    Quantity,
    Measured(
        "length",
        "-10 .. 10 mm",
        "-2.5 .. 2.5 mm",
        "1.5 mm",
        "Piston pin off the cylinder's axis, positive toward the thrust side (the wall that the piston leans on in the power "
        "stroke), negative away from it.",
    ),
]
ReciprocatingMass = Annotated[
    Quantity, Measured("mass", "0.05 .. 5 kg", "0.3 .. 0.9 kg", "0.59 kg", "Piston, pin, rings and small end of the rod.")
]
RotatingMass = Annotated[
    Quantity, Measured("mass", "0 .. 3 kg", "0.15 .. 0.6 kg", "0.44 kg", "Rod's big end with its cap, shells and bolts.")
]
CapMass = Annotated[
    Quantity, Measured("mass", "0 .. 3 kg", "0.05 .. 0.3 kg", "0.12 kg", "The part of it that the bolts hold on: the cap.")
]
BoltPreload = Annotated[
    Quantity,
    Measured("force", "100 .. 200000 N", "5 .. 40 kN", "15 kN", "Least preload of one rod bolt, tool scatter taken off."),
]
StopReading = Annotated[
    Quantity, Measured("angle", "0 .. 180 deg", "5 .. 90 deg", "41 deg", "Reading of the wheel, counted away from its zero.")
]
PulleyDiameter = Annotated[
    Quantity, Measured("length", "30 .. 600 mm", "100 .. 220 mm", "145 mm", "Diameter of the rim that is marked.")
]


class PistonMotionRequest(Request):
    """Stroke, rod and a speed (or the rev limit); the rest opens the motion at an angle, loads, limits and marks."""

    stroke: Stroke
    rod_length: RodLength
    speed: Speed | None = None
    rev_limit: Speed | None = None
    pin_offset: PinOffset | None = None
    crank_angle: Angle720 | None = None
    points: (
        Annotated[int, Number(2, 1440, integer=True, example=720, meaning="Rows of a table of the motion over 720 degrees.")]
        | None
    ) = None
    reciprocating_mass: ReciprocatingMass | None = None
    rotating_mass: RotatingMass | None = None
    cap_mass: CapMass | None = None
    rod_bolt_preload: BoltPreload | None = None
    rod_bolts: Annotated[int, Number(1, 8, (2, 4), integer=True, example=2, meaning="Bolts of one rod.")] | None = None
    bore: Bore | None = None
    cylinder_pressure: (
        Annotated[
            Quantity, Measured("pressure", "-100 .. 20000 kPa", "-100 .. 8000 kPa", "4000 kPa", "Gauge pressure on the piston.")
        ]
        | None
    ) = None
    piston: Annotated[Literal["cast", "forged"], Field(description="How the piston was made.")] | None = None
    ring_height: (
        Annotated[Quantity, Measured("length", "0.3 .. 8 mm", "1 .. 3 mm", "2 mm", "Axial height of the top ring.")] | None
    ) = None
    engine: Annotated[Id, Field(description="Engine family.", examples=["air-cooled-flat-four"])] | None = None
    rod_clearance_measured: (
        Annotated[bool, Field(description="Rod to cam, case and barrel skirt measured at 1.5 mm or more.")] | None
    ) = None
    skirt_below_pin: (
        Annotated[
            Quantity, Measured("length", "5 .. 150 mm", "20 .. 60 mm", "38 mm", "Pin's centre to the skirt's lower edge.")
        ]
        | None
    ) = None
    counterweight_radius: (
        Annotated[
            Quantity, Measured("length", "20 .. 250 mm", "40 .. 100 mm", "58 mm", "Crankshaft's centre to its outer edge.")
        ]
        | None
    ) = None
    top_found_by: Annotated[Literal["piston-stop", "dial-gauge"], Field(description="How the wheel was zeroed.")] | None = None
    stop_before: StopReading | None = None
    stop_after: StopReading | None = None
    pulley_diameter: PulleyDiameter | None = None


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
        found.cannot_check("inertia-load", ["reciprocating_mass"])
        return
    most = crank_loads.inertia_load(reciprocating_mass=mass.si, acceleration=peak)
    at_angle = found.result.get("acceleration")
    here = crank_loads.inertia_load(reciprocating_mass=mass.si, acceleration=at_angle.si) if at_angle else most
    found.rests_on(crank_loads.inertia_load)
    found.result |= {"inertia_load": FORCE(here), "peak_inertia_load": FORCE(most)}
    if request.cylinder_pressure is None:
        return
    if request.bore is None or request.crank_angle is None:
        field = "bore" if request.bore is None else "crank_angle"
        raise MissingInput(
            field, "Forces under gas pressure need the bore and a crank angle.", "86 mm" if field == "bore" else "25 deg"
        )
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
