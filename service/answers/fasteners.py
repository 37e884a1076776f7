"""What a bolt, stud or nut is made of, put together from the dataset and the caller: thread, strength, friction, method."""

from dataclasses import dataclass

from service.answers.envelope import Answer, Rule
from service.calculations import threads
from service.calculations.threads import Thread
from service.calculations.torque import bearing_diameter
from service.errors import OutsideValidity
from service.quantities import LENGTH, Quantity
from service.reference.dataset import Dataset, Entity

PROPERTY_CLASS_UNKNOWN = Rule(
    code="property-class-unknown",
    severity="ask",
    stage="closing-up",
    rule="no property class was given; the lowest usual one is taken",
    reason="A mark read from the nut, or none at all, says nothing about the bolt: it may be the softest there is.",
    remedy="Read the mark on the head or the end of the stud, or have its hardness tested, and send it.",
    source="common-practice",
    evidence="common-practice",
)

UNMARKED = "unmarked"
DEFAULT_CONDITION = "as-received"


@dataclass(frozen=True, slots=True)
class Bolt:
    """Thread and head of a fastener.

    Attributes:
        thread: Basic sizes, the stress area as the standard tabulates it.
        head_diameter: Outer diameter of the bearing face of head or nut, in m.
        hole_diameter: Diameter of the hole under it, in m.
        bearing_diameter: Mean diameter at which it rubs, in m.
    """

    thread: Thread
    head_diameter: float
    hole_diameter: float
    bearing_diameter: float


@dataclass(frozen=True, slots=True)
class Strength:
    """Strength of a property class in Pa."""

    id: str
    yield_strength: float
    proof_stress: float | None


@dataclass(frozen=True, slots=True)
class Friction:
    """Coefficients of friction in the thread and under the head, and the range of the condition."""

    thread: float
    bearing: float
    low: float
    high: float
    lubricated: bool


@dataclass(frozen=True, slots=True)
class Tightening:
    """Everything that ties torque to preload for one fastener."""

    bolt: Bolt
    friction: Friction
    strength: Strength | None

    def arguments(self, thread: float | None = None, bearing: float | None = None) -> dict[str, float]:
        """Keyword arguments of the long form, with the nominal frictions or others."""
        return {
            "pitch": self.bolt.thread.pitch,
            "pitch_diameter": self.bolt.thread.pitch_diameter,
            "thread_angle": self.bolt.thread.thread_angle,
            "thread_friction": self.friction.thread if thread is None else thread,
            "bearing_diameter": self.bolt.bearing_diameter,
            "bearing_friction": self.friction.bearing if bearing is None else bearing,
        }

    def stress_arguments(self, strength: Strength) -> dict[str, float]:
        """Keyword arguments of the stress formulas."""
        thread = self.bolt.thread
        return {
            "stress_area": thread.stress_area,
            "yield_strength": strength.yield_strength,
            "pitch": thread.pitch,
            "pitch_diameter": thread.pitch_diameter,
            "thread_angle": thread.thread_angle,
            "thread_friction": self.friction.thread,
        }


_FORMS = {
    "iso-metric": threads.metric_thread,
    "unified": threads.unified_thread,
    "whitworth": threads.whitworth_thread,
}


def bolt_of(
    found: Answer, entity: Entity, *, head_diameter: Quantity | None = None, hole_diameter: Quantity | None = None
) -> Bolt:
    """The bolt of a thread of the dataset; head and hole as given, as tabulated, or by rule of thumb."""
    diameter = entity.si("diameter")
    found.uses(entity.fact("diameter"), entity.fact("stress_area"))
    if entity.has("pitch"):
        pitch = entity.si("pitch")
        found.uses(entity.fact("pitch"))
    else:
        pitch = 0.0254 / entity.number("threads_per_inch")
        found.uses(entity.fact("threads_per_inch"))
    form = _FORMS[entity.text("form")]
    found.rests_on(form)
    thread = form(diameter=diameter, pitch=pitch)._replace(stress_area=entity.si("stress_area"))
    head = _size(found, entity, "head_diameter", head_diameter, "head_bearing_diameter", 1.5 * diameter)
    hole = _size(found, entity, "hole_diameter", hole_diameter, "hole_diameter", 1.1 * diameter)
    found.rests_on(bearing_diameter)
    return Bolt(thread, head, hole, bearing_diameter(head_diameter=head, hole_diameter=hole))


def _size(found: Answer, entity: Entity, field: str, given: Quantity | None, name: str, by_rule: float) -> float:
    if given is not None:
        return given.si
    if entity.has(name):
        found.uses(entity.fact(name))
        fact = entity.fact(name)
        found.assume(field, LENGTH(entity.si(name)), "usual for this thread", fact.source, "from-memory")
        return entity.si(name)
    reason = "not known for this thread: 1.5 (bearing face) and 1.1 (hole) of the diameter"
    found.assume(field, LENGTH(by_rule), reason, "common-practice", "common-practice")
    return by_rule


def strength_of(found: Answer, dataset: Dataset, name: str, diameter: float, field: str = "property_class") -> Strength:
    """Strength of a property class at a diameter; classes may differ by size.

    Raises:
        NotInDataset: the class is not held.
        OutsideValidity: the class is not tabulated in this size, or is a nut's.
    """
    plain = dataset.entity("property-classes", name, field)
    variants = [
        one
        for one in dataset.entities("property-classes")
        if one.id == plain.id or (one.has("base") and one.text("base") == plain.id)
    ]
    entity = next((one for one in variants if _holds(one, diameter)), None)
    if entity is None:
        raise OutsideValidity(field, "This class is not tabulated for a thread of this size; send another class.")
    if not entity.has("yield_strength"):
        raise OutsideValidity(field, "This is the mark of a nut; send the class of the bolt or stud, such as 8.8.")
    found.uses(entity.fact("yield_strength"))
    proof = None
    if entity.has("proof_stress"):
        proof = entity.si("proof_stress")
        found.uses(entity.fact("proof_stress"))
    return Strength(entity.id, entity.si("yield_strength"), proof)


def _holds(entity: Entity, diameter: float) -> bool:
    slack = 1e-9
    above = entity.si("diameter_above") if entity.has("diameter_above") else 0.0
    up_to = entity.si("diameter_up_to") if entity.has("diameter_up_to") else 1.0
    return above + slack < diameter <= up_to + slack


def weakest_strength(found: Answer, dataset: Dataset, diameter: float) -> Strength | None:
    """The class to assume when none is given, with the finding that asks for it; None if the dataset has none."""
    if dataset.find("property-classes", UNMARKED) is None:
        return None
    strength = strength_of(found, dataset, UNMARKED, diameter)
    found.assume(
        "property_class", UNMARKED, "not given: taken as soft as old unmarked studs", "common-practice", "common-practice"
    )
    found.find(PROPERTY_CLASS_UNKNOWN, ("property_class",), "No property class was given; unmarked (soft) is assumed.")
    return strength


def friction_of(found: Answer, dataset: Dataset, name: str, *, reused_nut: bool = False, field: str = "condition") -> Friction:
    """Friction of a condition of the thread, raised for a nut that has been tightened before.

    Raises:
        NotInDataset: the condition is not held.
        OutsideValidity: the condition only adds to another one.
    """
    entity = dataset.entity("conditions", name, field)
    if not entity.has("friction"):
        raise OutsideValidity(field, "This only adds to another condition: send that one, and reused_nut as true.")
    low, nominal, high = (entity.number(key) for key in ("friction_low", "friction", "friction_high"))
    found.uses(*(entity.fact(key) for key in ("friction_low", "friction", "friction_high")))
    if reused_nut:
        increment = next((one for one in dataset.entities("conditions") if one.has("increment")), None)
        if increment is None:
            why = "This dataset does not say how much a reused nut adds."
            found.cannot_check("friction-of-reused-nut", ["thread_friction"], why)
        else:
            found.uses(increment.fact("increment"))
            low += increment.number("increment_low")
            nominal += increment.number("increment")
            high += increment.number("increment_high")
    lubricated = entity.has("lubricated") and entity.text("lubricated") == "yes"
    return Friction(nominal, nominal, low, high, lubricated)


def scatter_of(found: Answer, dataset: Dataset, name: str | None, *, lubricated: bool) -> tuple[str, float]:
    """Id and half-width of the preload scatter of a tightening method; the torque wrench if none is named.

    Raises:
        NotInDataset: the method is not held.
    """
    chosen = name or ("torque-wrench-lubricated" if lubricated else "torque-wrench-unlubricated")
    entity = dataset.entity("tightening-methods", chosen, "method")
    fact = entity.fact("scatter")
    found.uses(fact)
    if name is None:
        found.assume("method", chosen, "a torque wrench unless told otherwise", fact.source, "common-practice")
    return chosen, entity.si("scatter")
