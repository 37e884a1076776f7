"""What a builder says to stroke, rod and speed: limits of piston speed and acceleration, bolts, skirt and castings."""

from service.answers.envelope import Answer, Rule, Severity
from service.answers.limits import above, below
from service.answers.piston_motion_request import PistonMotionRequest
from service.calculations import crank_loads
from service.quantities import ACCELERATION, CLEARANCE, FORCE, LENGTH, SPEED, VELOCITY, text_of
from service.reference.dataset import Dataset

PISTON_SPEED_LIMIT = {"cast": 15.0, "forged": 20.0}
ACCELERATION_LIMIT = 25_000.0
THICK_RING = 0.0015
LOW_ROD_RATIO, VERY_LOW_ROD_RATIO = 1.60, 1.50
BOLT_FACTOR = 1.5
LEAST_SKIRT_CLEARANCE = 0.0015
STROKE_SLACK = 0.0002

PISTON_SPEED_HIGH = Rule(
    code="piston-speed-high",
    severity="caution",
    stage="combination",
    rule="mean piston speed at the rev limit above 15 m/s with cast, 20 m/s with forged pistons",
    reason="Rings, skirts and rod bolts live shorter; textbooks give this as the upper range of road engines.",
    remedy="Lower the rev limit, or fit forged pistons and a shorter stroke.",
    source="taylor-1985",
    evidence="from-memory",
)
PISTON_ACCELERATION_HIGH = Rule(
    code="piston-acceleration-high",
    severity="caution",
    stage="combination",
    rule="peak acceleration of the piston above 25 000 m/s² with rings of 1.5 mm or more",
    reason="Near this the inertia of a ring lifts it off the lower side of its groove: it flutters and leaks.",
    remedy="Lower the rev limit, fit thinner rings, or a longer rod.",
    source="taylor-1985",
    evidence="from-memory",
)
ROD_RATIO_LOW = Rule(
    code="rod-ratio-low",
    severity="note",
    stage="combination",
    rule="rod length below 1.60 strokes (caution below 1.50)",
    reason="More side thrust and skirt wear, and a larger second-order force.",
    remedy="Fit longer rods, if piston and deck height allow them; otherwise look at the skirts sooner.",
    source="common-practice",
    evidence="common-practice",
)
ROD_BOLT_MARGIN = Rule(
    code="rod-bolt-margin",
    severity="stop",
    stage="combination",
    rule="1.5 times the separating load above the sum of the least bolt preloads",
    reason="The joint would open once a turn, and the bolts break by fatigue.",
    remedy="Lower the rev limit, lighten piston and pin, or fit bolts of a higher class with their own torque.",
    source="vdi-2230-1-2015",
    evidence="derived",
)
STROKE_CLEARANCE_UNVERIFIED = Rule(
    code="stroke-clearance-unverified",
    severity="stop",
    stage="trial-assembly",
    rule="stroke above that of the engine family and no recorded measurement of rod to cam, case and barrel skirt",
    reason="It cannot be computed without the castings; what touches by hand breaks by power.",
    remedy="Turn the trial assembly over by hand and measure rod to cam, case and skirt: 1.5 mm or more everywhere.",
    source="common-practice",
    evidence="common-practice",
)
SKIRT_MEETS_COUNTERWEIGHT = Rule(
    code="skirt-meets-counterweight",
    severity="stop",
    stage="combination",
    rule="less than 1.5 mm between piston skirt and counterweight at bottom dead centre",
    reason="Rod stretch, play and heat take up a millimetre; then the skirt is struck once a turn.",
    remedy="Fit longer rods or shorter skirts, or have the counterweights turned down and the crank balanced.",
    source="geometry",
    evidence="derived",
)


def check_motion(
    found: Answer, request: PistonMotionRequest, *, speed: float, geometry: dict[str, float], dataset: Dataset
) -> None:
    """Every check of the topic, at the rev limit where one is given and else at the speed asked for."""
    at = request.rev_limit.si if request.rev_limit else speed
    check_rod_ratio(found, ratio=found.result["rod_ratio"])
    _speed_limits(found, request, at, geometry)
    _rod_bolts(found, request, at, geometry)
    _skirt(found, request, geometry)
    check_stroke(
        found,
        dataset,
        engine=request.engine,
        stroke=geometry["stroke"],
        measured=request.rod_clearance_measured,
    )


def check_rod_ratio(found: Answer, *, ratio: float) -> None:
    """A rod that is short for its stroke."""
    if below(ratio, LOW_ROD_RATIO):
        severity: Severity = "caution" if below(ratio, VERY_LOW_ROD_RATIO) else "note"
        message = f"The rod is {ratio:.2f} strokes long; below {LOW_ROD_RATIO:.2f} side thrust and wear grow."
        found.find(ROD_RATIO_LOW, ("rod_length", "stroke"), message, severity)


def _speed_limits(found: Answer, request: PistonMotionRequest, at: float, geometry: dict[str, float]) -> None:
    """Piston speed and acceleration at the rev limit, and the crank speeds at their limits."""
    if request.piston is None:
        found.assume("piston", "cast", "The lower limit is used.", "common-practice", "common-practice")
    kind = request.piston or "cast"
    limit = PISTON_SPEED_LIMIT[kind]
    by_speed = crank_loads.speed_at_mean_piston_speed(mean_piston_speed=limit, stroke=geometry["stroke"])
    by_acceleration = crank_loads.speed_at_peak_acceleration(acceleration=ACCELERATION_LIMIT, **geometry)
    found.rests_on(crank_loads.speed_at_mean_piston_speed, crank_loads.speed_at_peak_acceleration)
    found.result["speed_limits"] = {"at_piston_speed": SPEED(by_speed), "at_piston_acceleration": SPEED(by_acceleration)}
    fields = ("rev_limit" if request.rev_limit else "speed", "stroke")
    if above(at, by_speed):
        mean = limit * at / by_speed
        found.find(
            PISTON_SPEED_HIGH,
            fields,
            f"{text_of(VELOCITY(mean))} mean piston speed at {text_of(SPEED(at))}; {kind} pistons reach "
            f"{text_of(VELOCITY(limit))} at {text_of(SPEED(by_speed))}.",
        )
    if request.ring_height is None:
        found.cannot_check(PISTON_ACCELERATION_HIGH.code, ["ring_height"], "The limit holds for rings of 1.5 mm or more.")
    elif not below(request.ring_height.si, THICK_RING) and above(at, by_acceleration):
        peak = ACCELERATION_LIMIT * (at / by_acceleration) * (at / by_acceleration)
        found.find(
            PISTON_ACCELERATION_HIGH,
            (*fields, "ring_height"),
            f"{text_of(ACCELERATION(peak))} at {text_of(SPEED(at))}; rings of {text_of(LENGTH(request.ring_height.si))} "
            f"flutter above about {text_of(ACCELERATION(ACCELERATION_LIMIT))}, reached at {text_of(SPEED(by_acceleration))}.",
        )


def _rod_bolts(found: Answer, request: PistonMotionRequest, at: float, geometry: dict[str, float]) -> None:
    """The load that parts the rod joint, against the preload of its bolts."""
    masses = (request.reciprocating_mass, request.rotating_mass, request.cap_mass)
    names = ("reciprocating_mass", "rotating_mass", "cap_mass")
    missing = [name for name, mass in zip(names, masses, strict=True) if mass is None]
    if len(missing) == len(names) or request.reciprocating_mass is None:
        preload = [] if request.rod_bolt_preload else ["rod_bolt_preload"]
        found.cannot_check(ROD_BOLT_MARGIN.code, missing + preload)
        return
    if request.rotating_mass is None or request.cap_mass is None:
        found.cannot_check(ROD_BOLT_MARGIN.code, missing)
        return
    load = crank_loads.rod_joint_load(
        reciprocating_mass=request.reciprocating_mass.si,
        rotating_mass=request.rotating_mass.si,
        cap_mass=request.cap_mass.si,
        speed=at,
        **geometry,
    )
    found.rests_on(crank_loads.rod_joint_load)
    found.result["joint_load"] = FORCE(load)
    if request.rod_bolt_preload is None:
        found.cannot_check(ROD_BOLT_MARGIN.code, ["rod_bolt_preload"], "The torque calculator gives it.")
        return
    if request.rod_bolts is None:
        found.assume("rod_bolts", 2, "Two bolts a rod.", "common-practice", "common-practice")
    bolts = request.rod_bolts or 2
    margin = crank_loads.separation_margin(least_preload=request.rod_bolt_preload.si, bolts=bolts, separating_load=load)
    found.rests_on(crank_loads.separation_margin)
    found.result["bolt_margin"] = margin
    if below(margin, BOLT_FACTOR):
        found.find(
            ROD_BOLT_MARGIN,
            ("rod_bolt_preload", "rev_limit" if request.rev_limit else "speed"),
            f"{bolts} bolts of at least {text_of(FORCE(request.rod_bolt_preload.si))} hold {margin:.2f} times the separating "
            f"load of {text_of(FORCE(load))} at {text_of(SPEED(at))}; {BOLT_FACTOR:g} times is the least.",
        )


def _skirt(found: Answer, request: PistonMotionRequest, geometry: dict[str, float]) -> None:
    if request.skirt_below_pin is None or request.counterweight_radius is None:
        needs = [name for name in ("skirt_below_pin", "counterweight_radius") if getattr(request, name) is None]
        found.cannot_check(SKIRT_MEETS_COUNTERWEIGHT.code, needs)
        return
    gap = crank_loads.skirt_to_counterweight(
        skirt_below_pin=request.skirt_below_pin.si, counterweight_radius=request.counterweight_radius.si, **geometry
    )
    found.rests_on(crank_loads.skirt_to_counterweight)
    found.result["skirt_clearance"] = CLEARANCE(gap)
    if below(gap, LEAST_SKIRT_CLEARANCE):
        found.find(
            SKIRT_MEETS_COUNTERWEIGHT,
            ("skirt_below_pin", "counterweight_radius", "rod_length", "stroke"),
            f"{text_of(CLEARANCE(gap))} at bottom dead centre; {text_of(CLEARANCE(LEAST_SKIRT_CLEARANCE))} is the least.",
        )


def check_stroke(found: Answer, dataset: Dataset, *, engine: str | None, stroke: float, measured: bool | None) -> None:
    """A stroke beyond the family's, whose clearance only a trial assembly can show."""
    if engine is not None:
        dataset.entity("engines", engine, field="engine")
    if measured:
        return
    if engine is None:
        found.cannot_check(STROKE_CLEARANCE_UNVERIFIED.code, ["engine", "rod_clearance_measured"])
        return
    family = next((entity for id in dataset.lineage(engine) if (entity := dataset.entity("engines", id)).has("stroke")), None)
    if family is None:
        found.cannot_check(
            STROKE_CLEARANCE_UNVERIFIED.code, ["rod_clearance_measured"], "The dataset holds no stroke of this engine."
        )
        return
    stock = family.si("stroke")
    found.uses(family.fact("stroke"))
    if above(stroke - stock, STROKE_SLACK):
        found.find(
            STROKE_CLEARANCE_UNVERIFIED,
            ("stroke", "engine", "rod_clearance_measured"),
            f"The stroke of {text_of(LENGTH(stroke))} is above the family's {text_of(LENGTH(stock))}, and no measurement of "
            "rod to cam, case and barrel skirt is recorded.",
        )
