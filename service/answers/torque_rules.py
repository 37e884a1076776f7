"""What can be wrong with a tightening: the rules of the torque topic with the predicates that raise them."""

from service.answers.envelope import Answer, Rule
from service.answers.limits import above, below
from service.answers.plausibility import FTLB_AS_NM
from service.calculations.tightening import looks_like_other_torque_unit, wrench_scale_use
from service.quantities import FORCE, TORQUE, text_of

TORQUE_BASIS_MISMATCH = Rule(
    code="torque-basis-mismatch",
    severity="fix",
    stage="closing-up",
    rule="a torque is listed for one condition of the thread, the thread has another, and the value is not corrected",
    reason="Dry to oiled takes a quarter of the friction away: the same torque pulls the bolt a third harder. "
    "The reverse leaves it loose.",
    remedy="Use the torque corrected to equal preload, or bring the thread to the condition that the book means.",
    source="vdi-2230-1-2015",
    evidence="derived",
)
TORQUE_BASIS_UNKNOWN = Rule(
    code="torque-basis-unknown",
    severity="ask",
    stage="closing-up",
    rule="a torque is listed without saying whether the thread is dry or oiled",
    reason="The preload differs by a third between the two.",
    remedy="Find what the book says about lubrication, and send listed_condition.",
    source="common-practice",
    evidence="common-practice",
)
BOLT_OVER_YIELD = Rule(
    code="bolt-over-yield",
    severity="stop",
    stage="closing-up",
    rule="equivalent stress at nominal preload above 0.90 of yield (stop); at the upper end of the scatter above 0.90, "
    "for a thread in light alloy above 0.80 (caution; a note where torque and condition are the listed ones)",
    reason="The bolt stretches for good and loses its clamp; a stud may neck and break later.",
    remedy="Use a lower torque, a lubricant that scatters less, a better method of tightening, or a stronger bolt.",
    source="vdi-2230-1-2015",
    evidence="common-practice",
)
REUSED_NUT = Rule(
    code="nut-reused",
    severity="fix",
    stage="closing-up",
    rule="a nut that has been tightened before, where the listed fastening takes new ones",
    reason="A nut that has yielded rubs more and holds less: it comes loose, or the wrench clicks before the bolt is tight.",
    remedy="Fit new nuts.",
    source="common-practice",
    evidence="common-practice",
)
PARENT_THREAD_WEAK = Rule(
    code="parent-thread-weak",
    severity="stop",
    stage="closing-up",
    rule="strip load of the thread in the case below 1.25 of the largest preload including its rise with heat",
    reason="The stud pulls out when the engine is hot.",
    remedy="Fit an insert or a stepped stud, or engage more thread; never more torque.",
    source="fed-std-h28-2b",
    evidence="common-practice",
)
BOLT_THREAD_WEAK = Rule(
    code="bolt-thread-weak",
    severity="fix",
    stage="closing-up",
    rule="strip load of the bolt's own thread below 1.25 of the largest preload including its rise with heat",
    reason="Too few turns carry the load: the threads shear off one by one.",
    remedy="Engage more thread; at least 0.8 of the diameter in steel.",
    source="fed-std-h28-2b",
    evidence="common-practice",
)
WRENCH_LOW_IN_RANGE = Rule(
    code="wrench-low-in-range",
    severity="fix",
    stage="closing-up",
    rule="torque below 20 % of the wrench's full scale",
    reason="Torque wrenches are tested from 20 to 100 % of their range; below it nothing is known.",
    remedy="Use a smaller wrench.",
    source="iso-6789-1-2017",
    evidence="standard",
)
WRENCH_TOO_SMALL = Rule(
    code="wrench-too-small",
    severity="fix",
    stage="closing-up",
    rule="torque above the wrench's full scale",
    reason="The wrench cannot give the torque; forced past its scale it is damaged.",
    remedy="Use a larger wrench.",
    source="iso-6789-1-2017",
    evidence="standard",
)
WRENCH_OVERDUE = Rule(
    code="wrench-overdue",
    severity="caution",
    stage="closing-up",
    rule="the torque wrench was last checked more than twelve months ago",
    reason="A spring that sat under load reads low; twelve months or 5,000 clicks is the default interval.",
    remedy="Have it checked before closing the engine.",
    source="iso-6789-1-2017",
    evidence="standard",
)
TORQUE_ABOVE_LIMIT = Rule(
    code="torque-above-limit",
    severity="stop",
    stage="closing-up",
    rule="the torque is above the highest that is listed for the fastener",
    reason="The limit is there for the part that gives first: a case thread, a shaft, a sealing ring.",
    remedy="Stay at the listed torque; if the joint needs more, something else is wrong.",
    source="common-practice",
    evidence="common-practice",
)


def check_wrench(found: Answer, *, setting: float, full_scale: float) -> None:
    """Whether the setting in N·m lies in the tested part of the wrench's scale."""
    use = wrench_scale_use(torque=setting, full_scale=full_scale)
    found.rests_on(wrench_scale_use)
    if use.within:
        return
    rule, limit = (WRENCH_LOW_IN_RANGE, "it is tested from 20 % up") if use.share < 1 else (WRENCH_TOO_SMALL, "it ends there")
    message = f"{text_of(TORQUE(setting))} is {100 * use.share:.3g} % of the wrench's {text_of(TORQUE(full_scale))}; {limit}."
    found.find(rule, ("wrench.full_scale", "torque"), message)


def check_wrench_age(found: Answer, *, months: int, allowed: int) -> None:
    """Whether the wrench was checked in time."""
    if months > allowed:
        message = f"The wrench was checked {months} months ago; {allowed} months are allowed."
        found.find(WRENCH_OVERDUE, ("wrench.months_since_check",), message)


def check_unit(found: Answer, *, torque: float, listed: float) -> None:
    """Whether a torque in N·m looks like the listed one typed in the other unit."""
    found.rests_on(looks_like_other_torque_unit)
    if looks_like_other_torque_unit(torque=torque, listed=listed):
        message = (
            f"{text_of(TORQUE(torque))} was understood; {text_of(TORQUE(listed))} is listed. "
            "The figure is the listed one in the other unit."
        )
        found.find(FTLB_AS_NM, ("torque",), message)


def check_limit(found: Answer, *, torque: float, limit: float) -> None:
    """Whether a torque in N·m is above the highest that is listed."""
    if above(torque, limit):
        message = f"{text_of(TORQUE(torque))} is above the listed limit of {text_of(TORQUE(limit))}."
        found.find(TORQUE_ABOVE_LIMIT, ("torque",), message)


def check_yield(found: Answer, *, nominal: float, high: float, in_alloy: bool, as_listed: bool) -> None:
    """Whether the utilisation of the yield strength is too high at nominal preload or at the upper end of its band.

    A builder who follows the book is not warned of the book: ``as_listed`` makes the upper end a note.
    """
    fields = ("torque", "property_class", "condition")
    if above(nominal, 0.90):
        message = f"At nominal preload the bolt is at {100 * nominal:.0f} % of its yield strength; 90 % is the limit."
        found.find(BOLT_OVER_YIELD, fields, message)
    elif above(high, 0.80 if in_alloy else 0.90):
        message = (
            f"At nominal preload the bolt is at {100 * nominal:.0f} % of its yield strength, at the upper end of the "
            f"scatter at {100 * high:.0f} %; {80 if in_alloy else 90} % is the limit there."
        )
        if as_listed:
            message = f"The listed torque runs this bolt near yield at the end of the scatter. {message}"
        found.find(BOLT_OVER_YIELD, fields, message, severity="note" if as_listed else "caution")


def check_reuse(found: Answer, *, reused: bool, advice: str) -> None:
    """Whether a nut is used again where the list says new ones."""
    if reused and "new nut" in advice.casefold():
        found.find(REUSED_NUT, ("reused_nut",), "The nut has been tightened before; new ones are listed for this fastening.")


def check_stripping(found: Answer, *, parent: float, bolt: float | None, most: float) -> None:
    """Whether the threads hold 1.25 times the largest preload, all in N."""
    load = f"{text_of(FORCE(most))}; 1.25 times of it is the least"
    if below(parent, 1.25 * most):
        message = f"The thread in the part strips at {text_of(FORCE(parent))}; the largest preload is {load}."
        found.find(PARENT_THREAD_WEAK, ("engaged_length", "parent_material", "torque"), message)
    if bolt is not None and below(bolt, 1.25 * most):
        message = f"The thread of the bolt strips at {text_of(FORCE(bolt))}; the largest preload is {load}."
        found.find(BOLT_THREAD_WEAK, ("engaged_length", "property_class", "torque"), message)


def is_alloy(material: str) -> bool:
    """Whether a material of the dataset is a light alloy, by its id."""
    return material.startswith(("aluminium", "magnesium", "piston"))
