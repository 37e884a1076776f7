"""What a torque does to the joint around the bolt: the thread in the part, stretch, turn of the nut, and heat."""

from dataclasses import dataclass
from math import isclose, pi
from typing import Any

from service.answers.envelope import Answer, band
from service.answers.fasteners import Bolt, Strength
from service.answers.torque_request import TorqueRequest
from service.answers.torque_rules import BOLT_THREAD_WEAK, PARENT_THREAD_WEAK, check_stripping
from service.calculations.expansion import part_growth
from service.calculations.joint import (
    compliance,
    sleeve_area,
    stretch,
    stripping_areas,
    stripping_load,
    thermal_preload_change,
    turn_of_nut,
)
from service.calculations.threads import medium_fit_limits
from service.calculations.tightening import Band
from service.errors import OutsideValidity
from service.quantities import ANGLE, FINE_CLEARANCE, FORCE, LENGTH, STRESS, TEMPERATURE
from service.reference.dataset import Dataset, Entity

STEEL_MODULUS, STEEL_EXPANSION = 207e9, 11.7e-6
ROOM_TEMPERATURE = 293.15
SIXTY_DEGREES = pi / 3


@dataclass(frozen=True, slots=True)
class Stack:
    """Compliance in m/N and thermal growth in m of the bolt and of the clamped parts."""

    bolt: float
    parts: float
    bolt_growth: float | None
    parts_growth: float | None


def join(found: Answer, request: TorqueRequest, dataset: Dataset, bolt: Bolt, strength: Strength | None, preload: Band) -> None:
    """Add stretch, turn, heat and stripping to the answer, as far as the inputs allow."""
    most = preload.high
    stack = _stack(found, request, dataset, bolt)
    if stack is None:
        found.cannot_check("stretch-and-turn", ["parts"], "Stretch, turn of the nut and rise of preload with heat.")
    else:
        found.rests_on(stretch, turn_of_nut)
        turn = turn_of_nut(
            preload=preload.nominal, bolt_compliance=stack.bolt, parts_compliance=stack.parts, pitch=bolt.thread.pitch
        )
        found.result["stretch"] = FINE_CLEARANCE(stretch(preload=preload.nominal, bolt_compliance=stack.bolt))
        found.result["turn"] = ANGLE(turn)
        most = _heat(found, stack, preload)
    _strip(found, request, dataset, bolt, strength, most)


def _stack(found: Answer, request: TorqueRequest, dataset: Dataset, bolt: Bolt) -> Stack | None:
    if request.parts is None:
        return None
    grip = sum(part.length.si for part in request.parts)
    modulus, expansion = STEEL_MODULUS, STEEL_EXPANSION
    if request.bolt_material is not None:
        steel = _elastic(found, dataset, request.bolt_material, "bolt_material")
        modulus, expansion = steel.si("modulus"), steel.si("expansion")
    else:
        found.assume("bolt_material", "steel", "207 GPa and 11.7e-6/K", "callister-2007", "textbook")
    cold = request.assembly_temperature.si if request.assembly_temperature else ROOM_TEMPERATURE
    if request.assembly_temperature is None:
        found.assume("assembly_temperature", TEMPERATURE(cold), "room temperature", "iso-1-2022", "common-practice")
    parts_compliance = 0.0
    parts_growth: float | None = 0.0
    for index, part in enumerate(request.parts):
        material = _elastic(found, dataset, part.material, f"parts/{index}/material")
        if part.area is not None:
            area = part.area.si
        else:
            found.rests_on(sleeve_area)
            area = sleeve_area(bearing_outer_diameter=bolt.head_diameter, hole_diameter=bolt.hole_diameter, clamped_length=grip)
        parts_compliance += compliance(length=part.length.si, area=area, youngs_modulus=material.si("modulus"))
        if part.temperature is None or parts_growth is None:
            parts_growth = None
        else:
            parts_growth += part_growth(
                length=part.length.si,
                expansion=material.si("expansion"),
                temperature_change=part.temperature.si - cold,
            )
    bolt_growth = None
    if request.bolt_temperature is not None:
        bolt_growth = part_growth(length=grip, expansion=expansion, temperature_change=request.bolt_temperature.si - cold)
    bolt_compliance = compliance(length=grip, area=bolt.thread.stress_area, youngs_modulus=modulus)
    return Stack(bolt_compliance, parts_compliance, bolt_growth, parts_growth)


def _elastic(found: Answer, dataset: Dataset, name: str, field: str) -> Entity:
    """A material whose stiffness and expansion are both known.

    Raises:
        NotInDataset: the material is not held.
        OutsideValidity: its stiffness is not tabulated.
    """
    material = dataset.entity("materials", name, field)
    if not material.has("modulus"):
        raise OutsideValidity(field, "The stiffness of this material is not tabulated; send a plain metal.")
    found.uses(material.fact("modulus"), material.fact("expansion"))
    return material


def _heat(found: Answer, stack: Stack, preload: Band) -> float:
    """Add the hot preload; the largest preload of the joint, cold or hot, in N."""
    if stack.bolt_growth is None or stack.parts_growth is None:
        needs = {"bolt_temperature": stack.bolt_growth, "parts.temperature": stack.parts_growth}
        missing = [name for name, growth in needs.items() if growth is None]
        found.cannot_check("preload-rise-with-heat", missing, "The preload of the hot joint.")
        return preload.high
    found.rests_on(part_growth, thermal_preload_change)
    change = thermal_preload_change(
        parts_growth=stack.parts_growth,
        bolt_growth=stack.bolt_growth,
        bolt_compliance=stack.bolt,
        parts_compliance=stack.parts,
    )
    hot = [max(0.0, end + change) for end in preload]
    found.result["hot"] = {"preload_change": FORCE(change), "preload": band(*(FORCE(end) for end in hot))}
    return max(preload.high, hot[2])


def _strip(found: Answer, request: TorqueRequest, dataset: Dataset, bolt: Bolt, strength: Strength | None, most: float) -> None:
    """Add the stripping loads and their checks, for threads of 60 degrees."""
    if not isclose(bolt.thread.thread_angle, SIXTY_DEGREES):
        why = "The stripping loads are those of 60° threads; this one is a Whitworth form of 55°."
        for check in (PARENT_THREAD_WEAK, BOLT_THREAD_WEAK):
            found.cannot_check(check.code, [], why)
        return
    missing = [name for name in ("engaged_length", "parent_material") if getattr(request, name) is None]
    if request.parent_strength is not None:
        missing = [name for name in missing if name != "parent_material"]
    if missing or request.engaged_length is None:
        found.cannot_check("parent-thread-weak", missing)
        return
    if request.parent_strength is not None:
        tensile = request.parent_strength.si
    else:
        material = dataset.entity("materials", request.parent_material or "", "parent_material")
        if not material.has("strength"):
            found.cannot_check("parent-thread-weak", ["parent_strength"], "The strength of this material is not tabulated.")
            return
        tensile = material.si("strength")
        found.uses(material.fact("strength"))
    thread = bolt.thread
    limits = medium_fit_limits(
        diameter=thread.diameter,
        pitch=thread.pitch,
        pitch_diameter=thread.pitch_diameter,
        nut_minor_diameter=thread.nut_minor_diameter,
    )
    areas = stripping_areas(engagement=request.engaged_length.si, pitch=thread.pitch, **limits._asdict())
    found.rests_on(medium_fit_limits, stripping_areas, stripping_load)
    parent = stripping_load(shear_area=areas.nut_thread, tensile_strength=tensile)
    own = None
    if strength is None:
        found.cannot_check("bolt-thread-weak", ["property_class"])
    else:
        own = stripping_load(shear_area=areas.bolt_thread, tensile_strength=strength.yield_strength)
        reason = "its yield strength, on the safe side of its tensile strength"
        found.assume("bolt_strength", STRESS(strength.yield_strength), reason, "fed-std-h28-2b", "common-practice")
    needed = request.engaged_length.si * 1.25 * most / parent
    stripping: dict[str, Any] = {"parent_thread": FORCE(parent), "engagement_needed": LENGTH(needed)}
    if own is not None:
        stripping["bolt_thread"] = FORCE(own)
    found.result["stripping"] = stripping
    check_stripping(found, parent=parent, bolt=own, most=most)
