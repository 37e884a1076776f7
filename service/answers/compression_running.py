"""Beyond the static ratio: effective ratio and gauge pressure, squish at speed, and octane by difference."""

from dataclasses import replace
from math import degrees, pi
from typing import Any

from service.answers.air import pressure_of
from service.answers.compression_geometry import Cylinder
from service.answers.compression_readings import cranking_band
from service.answers.compression_request import Checking, CompressionRequest, Octane, OctaneReference, Running
from service.answers.compression_rules import check_cam, check_running_squish
from service.answers.envelope import Answer, band
from service.calculations import cranking, octane, squish
from service.calculations.atmosphere import standard_pressure
from service.calculations.expansion import Segment, chain_growth, part_growth
from service.errors import Contradiction, Missing, MissingInput, OutsideValidity
from service.quantities import ANGLE, DISTANCE, FINE_CLEARANCE, FORCE, LENGTH, PRESSURE, SPEED, TEMPERATURE, Quantity
from service.reference.dataset import Dataset, Entity

NO_ROD = Missing("rod_length", "The effective ratio needs the length of the connecting rod.", "136 mm")
MEASURED_AT = 293.15
FULL_THROTTLE = 0.95  # of the air's pressure in the cylinder at intake closing; cancels in the difference
USUAL_ADVANCE = 28 * pi / 180
USUAL_SPEED = 3000 * pi / 30
USUAL_CHARGE = 348.15
USUAL_CLOSING = 60 * pi / 180
USUAL_ROD_RATIO = 1.85
PRINTED_AGREES = 1.0  # degrees within which a closing and a cam card say the same


def closing_of(found: Answer, request: CompressionRequest) -> float | None:
    """Advertised intake closing in rad after bottom dead centre, as given or from duration and lobe centre.

    Raises:
        MissingInput: a duration without its lobe centre.
        Contradiction: closing and cam card disagree.
    """
    if request.duration is None:
        return None if request.intake_closing is None else request.intake_closing.si
    closing = _from_card(found, request, request.duration)
    if request.intake_closing is not None and abs(degrees(closing - request.intake_closing.si)) > PRINTED_AGREES:
        raise Contradiction(
            ("intake_closing", "duration", "lobe_centre"),
            f"Duration and lobe centre make an intake closing of {degrees(closing):.0f}°, not "
            f"{degrees(request.intake_closing.si):.0f}°. Send one of the two; a lift of its own belongs in checking.",
        )
    return closing


def _never_closes(checking: Checking) -> list[Missing]:
    """What is missing where nothing says when the valve closes at the checking lift."""
    if checking.intake_closing is not None or checking.duration is not None:
        return []
    reason = "Send when the valve closes at the checking lift, or the duration there."
    return [Missing("checking/intake_closing", reason, "42 deg")]


def _from_card(found: Answer, request: CompressionRequest, duration: Quantity) -> float:
    if request.lobe_centre is None:
        reason = "A duration needs the lobe centre to say when the valve closes."
        rod = [NO_ROD] if request.rod_length is None else []
        raise MissingInput("lobe_centre", reason, "104 deg", *rod)
    found.rests_on(cranking.intake_closing_angle)
    return cranking.intake_closing_angle(duration=duration.si, lobe_centre=request.lobe_centre.si)


def add_effective(
    found: Answer, request: CompressionRequest, cylinder: Cylinder, clearance: float, fuel: Entity | None
) -> None:
    """Effective ratios at the advertised closing and at a checking lift, apart, and the gauge pressure of the first.

    Raises:
        MissingInput: the rod length, or what says when the valve closes, is missing.
    """
    closing = closing_of(found, request)
    if closing is None and request.checking is None:
        why = "What is squeezed, and what a gauge shows, depends on when the intake valve closes."
        for check in ("effective-ratio", "cranking-pressure"):
            needs = ["intake_closing", "rod_length"] if request.rod_length is None else ["intake_closing"]
            found.cannot_check(check, needs, why)
        return
    if request.rod_length is None:
        raise MissingInput(*NO_ROD, *([] if request.checking is None else _never_closes(request.checking)))
    shape = {"bore": cylinder.bore, "stroke": cylinder.stroke, "rod_length": request.rod_length.si}
    if closing is not None:
        effective = cranking.effective_ratio(**shape, clearance_volume=clearance, intake_closing=closing)
        found.rests_on(cranking.effective_ratio)
        found.result["effective_ratio"] = effective
        found.result["intake_closing"] = ANGLE(closing)
        check_cam(found, effective=effective, fuel=fuel)
        _add_gauge(found, request, effective)
    else:
        found.cannot_check("cranking-pressure", ["intake_closing"], "The gauge follows the advertised closing, not a lift's.")
    checking = request.checking
    if checking is not None:
        at_lift = checking.intake_closing.si if checking.intake_closing is not None else None
        if at_lift is None and checking.duration is not None:
            at_lift = _from_card(found, request, checking.duration)
        if at_lift is None:
            raise MissingInput.of(_never_closes(checking))
        found.rests_on(cranking.effective_ratio)
        found.result["at_checking_lift"] = {
            "lift": LENGTH(checking.lift.si),
            "intake_closing": ANGLE(at_lift),
            "effective_ratio": cranking.effective_ratio(**shape, clearance_volume=clearance, intake_closing=at_lift),
        }


def _add_gauge(found: Answer, request: CompressionRequest, effective: float) -> None:
    air = pressure_of(found, altitude=request.altitude, pressure=None)
    gauge = cranking_band(found, effective_ratio=effective, air=air)
    found.result["cranking_pressure"] = band(*(PRESSURE(pressure) for pressure in gauge))


def add_running_squish(
    found: Answer, running: Running, cylinder: Cylinder, request: CompressionRequest, dataset: Dataset
) -> None:
    """Squish clearance at full speed and temperature.

    Raises:
        MissingInput: the rod length is missing.
        NotInDataset: a material is not held.
    """
    if request.rod_length is None:
        raise MissingInput("rod_length", "The squish at speed needs the length of the connecting rod.", "136 mm")
    rod = request.rod_length.si
    material = _material(found, dataset, running.rod_material, "steel-4140", "running/rod_material")
    force = squish.inertia_at_top_dead_centre(
        reciprocating_mass=running.reciprocating_mass.si, stroke=cylinder.stroke, rod_length=rod, speed=running.speed.si
    )
    modulus = material.si("modulus")
    stretch = squish.rod_stretch(force=force, rod_length=rod, elastic_modulus=modulus, section_area=running.rod_section.si)
    thermal = _thermal(found, running, cylinder.stroke, rod, material, dataset)
    parts = squish.running_squish(
        cold=cylinder.squish(),
        thermal=thermal,
        stretch=stretch,
        play=0.0 if running.lost_motion is None else running.lost_motion.si,
        rock=0.0 if running.piston_rock is None else running.piston_rock.si,
    )
    found.uses(material.fact("modulus"))
    found.rests_on(squish.inertia_at_top_dead_centre, squish.rod_stretch, squish.running_squish)
    for name in ("lost_motion", "piston_rock"):
        if getattr(running, name) is None:
            found.cannot_check("running-squish", [f"running.{name}"], f"The {name.replace('_', ' ')} is taken as zero.")
    found.result["running_squish"] = {
        **{name: FINE_CLEARANCE(value) for name, value in parts._asdict().items()},
        "inertia_force": FORCE(force),
    }
    check_running_squish(found, squish=parts.running)


def _material(found: Answer, dataset: Dataset, asked: str | None, usual: str, field: str) -> Entity:
    entity = dataset.entity("materials", asked or usual, field=field)
    if asked is None:
        found.assume(field.replace("/", "."), usual, "Usual material of this part.", "common-practice", "common-practice")
    return entity


def _thermal(found: Answer, running: Running, stroke: float, rod: float, rod_material: Entity, dataset: Dataset) -> float:
    """Growth of case and barrel less that of throw, rod and piston; zero, and said so, where lengths are missing."""
    lengths = {name: getattr(running, name) for name in ("case_length", "barrel_length", "compression_height")}
    missing = [f"running.{name}" for name, value in lengths.items() if value is None]
    if missing or dataset.find("part-temperatures", "piston-skirt") is None:
        found.cannot_check("running-squish", missing or ["dataset"], "The growth by heat is taken as zero.")
        return 0.0
    barrel = _material(found, dataset, running.barrel_material, "grey-iron", "running/barrel_material")
    case = _material(found, dataset, running.case_material, "magnesium-az91d", "running/case_material")
    piston = _material(found, dataset, running.piston_material, "aluminium-4032", "running/piston_material")
    crank = _material(found, dataset, None, "steel-1040", "running/crank_material")
    reason = "Shop temperature, at which the cold clearance was measured."
    found.assume("running.assembly_temperature", TEMPERATURE(MEASURED_AT), reason, "iso-1-2022", "standard")
    warm = {at: _warm(found, dataset, at) for at in ("case", "barrel", "journal", "piston-skirt")}

    def segment(length: float, material: Entity, at: str) -> Segment:
        found.uses(material.fact("expansion"))
        return Segment(material.id, length, material.si("expansion"), warm[at])

    outer = [
        segment(lengths["case_length"].si, case, "case"),
        segment(lengths["barrel_length"].si, barrel, "barrel"),
    ]
    inner = [
        segment(stroke / 2, crank, "journal"),
        segment(rod, rod_material, "journal"),
        segment(lengths["compression_height"].si, piston, "piston-skirt"),
    ]
    found.rests_on(part_growth)
    return chain_growth(segments=outer, reference_temperature=MEASURED_AT) - chain_growth(
        segments=inner, reference_temperature=MEASURED_AT
    )


def _warm(found: Answer, dataset: Dataset, part: str) -> float:
    """The running temperature of a part in K, as the dataset takes it."""
    fact = dataset.entity("part-temperatures", part, field="temperature").fact("temperature")
    found.uses(fact)
    kelvin = fact.si or MEASURED_AT
    name = f"running.{part.replace('-', '_')}_temperature"
    found.assume(name, TEMPERATURE(kelvin), "Usual when warm.", fact.source, "common-practice")
    return kelvin


def add_octane(found: Answer, asked: Octane, request: CompressionRequest, cylinder: Cylinder, ratio: float) -> None:
    """Octane need from a known-good build, with its slopes.

    Raises:
        MissingInput: no reference; the answer says why there is no absolute number.
        OutsideValidity: a value is outside what the comparison was made for.
    """
    if asked.reference is None:
        octane.refuse_absolute_octane()
        return
    if not octane.LOWEST_RATIO <= ratio <= octane.HIGHEST_RATIO:
        reason = f"The octane comparison holds for ratios of 3 to 14, and this build has {ratio:.1f}:1. Leave octane out."
        raise OutsideValidity("octane", reason, "3 to 14")
    point = _knock_point(found, asked, request, cylinder, ratio)
    anchor = _reference_point(asked.reference, point)
    of_anchor = octane.end_gas_integral(point=anchor)

    def needed(at: octane.KnockPoint, integral: float, number: float) -> float:
        return octane.octane_by_difference(
            reference_octane=number, reference_integral=integral, integral=octane.end_gas_integral(point=at)
        )

    number = needed(point, of_anchor, asked.reference.octane)
    here = octane.end_gas_integral(point=point)
    steps: dict[str, octane.KnockPoint] = {
        "half_a_ratio_less": replace(point, compression_ratio=point.compression_ratio - 0.5),
        "two_degrees_less_advance": replace(point, ignition_advance=point.ignition_advance - pi / 90),
        "rpm_500_more": replace(point, speed=point.speed + 500 * pi / 30),
        "charge_20_kelvin_hotter": replace(point, charge_temperature=point.charge_temperature + 20),
    }
    difference = number - asked.reference.octane
    sure = octane.octane_difference_uncertainty(difference=difference)
    found.rests_on(octane.self_ignition_time, octane.end_gas_integral, octane.octane_by_difference)
    found.rests_on(octane.octane_difference_uncertainty)
    found.result["octane"] = {
        "low": number - sure,
        "nominal": number,
        "high": number + sure,
        "difference": difference,
        "levers": {name: needed(at, here, number) - number for name, at in steps.items()},
        "why": "Only the difference from a build that runs clean is given: what the model gets wrong for both cancels. "
        "An octane number without such a reference comes out 10 to 20 numbers wrong for hot air-cooled heads. The band is "
        "three numbers to either side, and wider by two thirds of the difference: the model's slopes are no surer than that.",
    }


def _knock_point(
    found: Answer, asked: Octane, request: CompressionRequest, cylinder: Cylinder, ratio: float
) -> octane.KnockPoint:
    def usual(name: str, given: Quantity | None, value: float, shown: Any) -> float:
        if given is not None:
            return given.si
        reason = "Usual value; taken for both builds unless the reference says otherwise, so most of it cancels."
        found.assume(name, shown(value), reason, "common-practice", "common-practice")
        return value

    closing = closing_of(found, request)
    height = usual("altitude", request.altitude, 0.0, DISTANCE)
    reason = "Pressure in the cylinder at full throttle as a share of the air's; taken for both builds, so it cancels."
    found.assume("octane.full_throttle", FULL_THROTTLE, reason, "common-practice", "common-practice")
    found.rests_on(standard_pressure)
    return octane.KnockPoint(
        bore=cylinder.bore,
        stroke=cylinder.stroke,
        rod_length=usual("rod_length", request.rod_length, USUAL_ROD_RATIO * cylinder.stroke, LENGTH),
        compression_ratio=ratio,
        intake_closing=usual("intake_closing", None, USUAL_CLOSING, ANGLE) if closing is None else closing,
        ignition_advance=usual("octane.ignition_advance", asked.ignition_advance, USUAL_ADVANCE, ANGLE),
        speed=usual("octane.speed", asked.speed, USUAL_SPEED, SPEED),
        intake_pressure=FULL_THROTTLE * standard_pressure(altitude=height),
        charge_temperature=usual("octane.charge_temperature", asked.charge_temperature, USUAL_CHARGE, TEMPERATURE),
    )


def _reference_point(reference: OctaneReference, point: octane.KnockPoint) -> octane.KnockPoint:
    """The reference build; what it does not say is as in the new one."""
    given = {
        name: getattr(reference, name)
        for name in ("ignition_advance", "speed", "charge_temperature", "intake_closing")
        if getattr(reference, name) is not None
    }
    changed = {name: value.si for name, value in given.items()}
    if reference.altitude is not None:
        changed["intake_pressure"] = FULL_THROTTLE * standard_pressure(altitude=reference.altitude.si)
    return replace(point, compression_ratio=reference.compression_ratio, **changed)
