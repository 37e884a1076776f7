"""Valve springs in place: rate and loads, room at full lift, float and surge, the push rod, and the contact on the cam."""

from typing import Any

from service.answers.envelope import Answer, QuantityOut, Result
from service.answers.topic import Example, Topic
from service.answers.valve_spring_contact import MASSES, add_contact, motion_needs
from service.answers.valve_spring_push_rod import add_push_rod
from service.answers.valve_spring_request import ValveSpringRequest
from service.answers.valve_spring_rules import (
    FLOAT_MARGIN,
    RETAINER_TO_GUIDE,
    SPRING_RATE_DISAGREES,
    SPRING_SURGE,
    check_coil_bind,
    check_float,
    check_retainer,
    check_surge,
)
from service.answers.valve_train import RebuiltLobe, lash_of, rebuilt_lobe, rocker_ratio_of
from service.calculations import helical_spring
from service.calculations import valve_spring as calculation
from service.calculations.valve_events import valve_lift
from service.errors import Missing, MissingInput
from service.quantities import CLEARANCE, DENSITY, FORCE, FREQUENCY, LENGTH, MASS, SPEED, STIFFNESS, text_of
from service.reference.dataset import Dataset

STEEL_DENSITY = 7850.0
RATE_SLACK = 0.05


class PushRodOut(Result):
    """Buckling of the push rod against its load."""

    load: QuantityOut
    capacity: QuantityOut
    factor: float
    slenderness: float
    formula: str


class ContactOut(Result):
    """The nose of the cam at one crank speed; ``crowned_pressure`` where the tappet's crown is known."""

    speed: QuantityOut
    nose_load: QuantityOut
    line_pressure: QuantityOut | None = None
    crowned_pressure: QuantityOut | None = None
    entrainment_speed: QuantityOut
    film: QuantityOut | None = None
    film_ratio: float | None = None


class ValveSpringResult(Result):
    """Rate and loads; margins, float, surge, push rod and contact as far as the inputs allow."""

    rate: QuantityOut
    seat_load: QuantityOut
    valve_lift: QuantityOut | None = None
    open_load: QuantityOut | None = None
    coil_bind_margin: QuantityOut | None = None
    retainer_clearance: QuantityOut | None = None
    effective_mass: QuantityOut | None = None
    float_speed: QuantityOut | None = None
    surge_frequency: QuantityOut | None = None
    surge_ratio: float | None = None
    push_rod: PushRodOut | None = None
    contact: list[ContactOut] | None = None


def answer(request: ValveSpringRequest, dataset: Dataset) -> Answer:
    """The spring with every check that the inputs allow.

    Raises:
        MissingInput: neither the rate nor a second load with its length.
        Contradiction: loads and lengths of no spring, or a lobe that cannot be.
        OutsideValidity: a value of no part.
    """
    found = Answer(result={})
    rate = _rate(found, request)
    found.result = {"rate": STIFFNESS(rate), "seat_load": FORCE(request.seat_load.si)}
    lift = _full_lift(found, request)
    load: float | None = None
    if lift is not None:
        load = calculation.open_load(seat_load=request.seat_load.si, rate=rate, valve_lift=lift)
        found.rests_on(calculation.open_load)
        found.result |= {"valve_lift": LENGTH(lift), "open_load": FORCE(load)}
    _margins(found, request, lift)
    lobe = _lobe(found, request)
    mass = _effective_mass(found, request)
    _float(found, request, lobe, mass, rate)
    _surge(found, request, rate)
    add_push_rod(found, request, load, dataset)
    add_contact(found, request, lobe, mass, load, dataset)
    return found


def _rate(found: Answer, request: ValveSpringRequest) -> float:
    """The rate as given, or from the two loads; with both they are held against each other."""
    given = request.spring_rate
    if request.open_load is None or request.open_length is None:
        if given is None:
            reason = "The spring's rate is needed, or a second load with its length."
            missing = [] if request.open_load else [Missing("open_load", reason, "555 N")]
            missing += [] if request.open_length else [Missing("open_length", reason, "27 mm")]
            raise MissingInput.of(missing)
        return given.si
    rate = helical_spring.spring_rate_from_loads(
        seat_load=request.seat_load.si,
        installed_length=request.installed_length.si,
        open_load=request.open_load.si,
        open_length=request.open_length.si,
    )
    found.rests_on(helical_spring.spring_rate_from_loads)
    if given is not None and abs(given.si - rate) > RATE_SLACK * rate:
        found.find(
            SPRING_RATE_DISAGREES,
            ("spring_rate", "seat_load", "installed_length", "open_load", "open_length"),
            f"The loads give {text_of(STIFFNESS(rate))}, not {text_of(STIFFNESS(given.si))}; the loads are used.",
        )
    return rate


def _full_lift(found: Answer, request: ValveSpringRequest) -> float | None:
    if request.valve_lift is not None:
        return request.valve_lift.si
    if request.cam_lift is None:
        found.cannot_check("open-load", ["valve_lift", "cam_lift"], "The full lift at the valve is not known.")
        return None
    found.rests_on(valve_lift)
    ratio = rocker_ratio_of(found, request)
    return valve_lift(cam_lift=request.cam_lift.si, rocker_ratio=ratio, lash=lash_of(found, request))


def _margins(found: Answer, request: ValveSpringRequest, lift: float | None) -> None:
    """Room to coil bind and from the retainer to the guide at full lift."""
    if lift is None or request.solid_length is None:
        needs = [name for name, value in (("valve_lift", lift), ("solid_length", request.solid_length)) if value is None]
        found.cannot_check("coil-bind", needs)
    else:
        margin = calculation.coil_bind_margin(
            installed_length=request.installed_length.si, valve_lift=lift, solid_length=request.solid_length.si
        )
        found.rests_on(calculation.coil_bind_margin)
        found.result["coil_bind_margin"] = CLEARANCE(margin)
        check_coil_bind(found, margin=margin)
    if lift is None or request.retainer_gap is None:
        needs = [name for name, value in (("valve_lift", lift), ("retainer_gap", request.retainer_gap)) if value is None]
        found.cannot_check(RETAINER_TO_GUIDE.code, needs)
    else:
        gap = calculation.retainer_to_guide(shut_gap=request.retainer_gap.si, valve_lift=lift)
        found.rests_on(calculation.retainer_to_guide)
        found.result["retainer_clearance"] = CLEARANCE(gap)
        check_retainer(found, gap=gap)


def _lobe(found: Answer, request: ValveSpringRequest) -> RebuiltLobe | None:
    if request.duration is None:
        found.cannot_check("lobe", ["duration"], "Float speed and nose contact need the cam's durations and lift.")
        return None
    return rebuilt_lobe(found, request, duration=request.duration.si, duration_field="duration")


def _effective_mass(found: Answer, request: ValveSpringRequest) -> float | None:
    """All moving masses as felt at the valve, or None with what is missing listed."""
    missing = [name for name in MASSES if getattr(request, name) is None]
    if missing:
        found.cannot_check("valve-train-mass", missing, "What the spring has to turn back.")
        return None
    inertia, arm = request.rocker_inertia, request.valve_arm
    if inertia is not None and arm is None:
        raise MissingInput("valve_arm", "The rocker's inertia needs the length of its arm to the valve.", "35 mm")
    if inertia is None:
        needs = ["rocker_inertia"] if arm else ["rocker_inertia", "valve_arm"]
        found.cannot_check("rocker-inertia", needs, "Left out: the float speed comes out higher.")
    mass = calculation.valve_train_mass(
        rocker_ratio=rocker_ratio_of(found, request),
        rocker_inertia=inertia.si if inertia else 0.0,
        valve_arm=arm.si if arm else 0.0,
        **{name: getattr(request, name).si for name in MASSES},
    )
    found.rests_on(calculation.valve_train_mass)
    found.result["effective_mass"] = MASS(mass)
    return mass


def _float(found: Answer, request: ValveSpringRequest, lobe: RebuiltLobe | None, mass: float | None, rate: float) -> None:
    if lobe is None or mass is None:
        needs = motion_needs(request)
        found.cannot_check(FLOAT_MARGIN.code, needs, "The lobe and all moving masses are needed.")
        return
    speed = calculation.float_speed(
        lobe=lobe.table,
        rocker_ratio=rocker_ratio_of(found, request),
        seat_load=request.seat_load.si,
        rate=rate,
        effective_mass=mass,
        lash=lash_of(found, request),
    )
    found.rests_on(calculation.float_speed_at)
    found.result["float_speed"] = SPEED(speed)
    check_float(found, float_speed=speed, rev_limit=request.rev_limit.si if request.rev_limit else None)


def _surge(found: Answer, request: ValveSpringRequest, rate: float) -> None:
    """Surge by the mass of the active coils, or of the whole spring, which is on the low side."""
    wire, mean, coils = request.wire_diameter, request.mean_diameter, request.active_coils
    if wire is not None and mean is not None and coils is not None:
        helical_spring.spring_index(wire_diameter=wire.si, mean_diameter=mean.si)
        mass = helical_spring.active_mass(
            wire_diameter=wire.si, mean_diameter=mean.si, active_coils=coils, density=STEEL_DENSITY
        )
        found.rests_on(helical_spring.active_mass)
        found.assume("wire_density", DENSITY(STEEL_DENSITY), "Spring steel.", "shigley-mischke-1989", "textbook")
    elif request.spring_mass is not None:
        mass = request.spring_mass.si
        reason = "All coils taken as active: the surge frequency comes out on the low side."
        found.assume("active_mass", MASS(mass), reason, "derived", "derived")
    else:
        needs = ("spring_mass", "wire_diameter", "mean_diameter", "active_coils")
        found.cannot_check(SPRING_SURGE.code, [name for name in needs if getattr(request, name) is None])
        return
    frequency = helical_spring.surge_frequency(rate=rate, mass=mass)
    found.rests_on(helical_spring.surge_frequency)
    found.result["surge_frequency"] = FREQUENCY(frequency)
    if request.rev_limit is None:
        found.cannot_check(SPRING_SURGE.code, ["rev_limit"])
        return
    found.result["surge_ratio"] = check_surge(found, frequency=frequency, rev_limit=request.rev_limit.si)


_HARROW: dict[str, Any] = {
    "installed_length": "36 mm",
    "seat_load": "300 N",
    "spring_rate": "28 N/mm",
    "solid_length": "24.5 mm",
    "retainer_gap": "11.5 mm",
    "cam_lift": "8.4 mm",
    "rocker_ratio": 1.1,
    "lash": "0.15 mm",
    "duration": "276 deg",
    "checking_lift": "0.3 mm",
    "checked_duration": "236 deg",
    "valve_mass": "80 g",
    "retainer_mass": "25 g",
    "spring_mass": "60 g",
    "push_rod_mass": "60 g",
    "tappet_mass": "85 g",
    "rocker_inertia": "0.6 kg*cm2",
    "valve_arm": "35 mm",
    "rev_limit": "4500 rpm",
}

TOPIC = Topic(
    name="valve_spring",
    path="/v1/valve-spring",
    title="Valve spring",
    summary="Spring rate, loads, coil bind, float and surge; push-rod buckling; contact and film between cam and tappet.",
    request=ValveSpringRequest,
    result=ValveSpringResult,
    answer=answer,
    stage="valve-train",
    cautions=("assembly",),
    examples=(
        Example(
            "Rate and open load from two loads",
            {
                "installed_length": "1.703 in",
                "seat_load": "50 lbf",
                "open_length": "1.422 in",
                "open_load": "100 lbf",
                "valve_lift": "0.281 in",
                "solid_length": "1.3 in",
            },
        ),
        Example("Will it float below 4500 rpm?", _HARROW),
        Example(
            "Push rod, nose pressure and film by speed",
            _HARROW
            | {
                "push_rod_length": "280 mm",
                "push_rod_diameter": "9.5 mm",
                "push_rod_wall": "1 mm",
                "pushrod_material": "steel",
                "exhaust_valve_diameter": "32 mm",
                "tappet": "flat",
                "base_circle_radius": "15.5 mm",
                "lobe_width": "14 mm",
                "crown_radius": "1000 mm",
            },
        ),
    ),
)
