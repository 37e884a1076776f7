"""What a builder says to a timing card, a lobe on its tappet, and valves near the piston."""

from collections.abc import Mapping

from service.answers.envelope import Answer, Rule, Severity
from service.answers.valve_events_request import ValveEventsRequest
from service.answers.valve_train import degrees
from service.quantities import ANGLE, CLEARANCE, LENGTH, text_of

CARD_SLACK_DEGREES = 2.0
TAPPET_EDGE_MARGIN = 0.001
LEAST_GAP = {"intake": 0.0015, "exhaust": 0.0020}
CAUTION_ABOVE = 0.0005
CLAY_SLACK = 0.001

CARD_SUMS_DISAGREE = Rule(
    code="card-sums-disagree",
    severity="ask",
    stage="valve-train",
    rule="a stated duration, separation or advance is more than 2° off what the card's events add up to",
    reason="Swapped events (before for after, top for bottom) and cam degrees for crank degrees are the usual slips.",
    remedy="Read the card again: intake before top and after bottom, exhaust before bottom and after top, in crank degrees.",
    source="geometry",
    evidence="derived",
)
TAPPET_EDGE = Rule(
    code="tappet-edge",
    severity="stop",
    stage="valve-train",
    rule="largest lift rate (mm/rad) above the tappet's radius less 1 mm",
    reason="The lobe would ride on the edge of the tappet and dig in.",
    remedy="Fit tappets of a larger face, or a cam with a lower lift rate.",
    source="norton-2009",
    evidence="textbook",
)
LOBE_NEEDS_ROLLER = Rule(
    code="lobe-needs-roller",
    severity="stop",
    stage="valve-train",
    rule="radius of curvature r_b + s + s'' of the lobe not above zero somewhere",
    reason="A flat tappet cannot follow a hollow or pointed lobe; it would jump and hammer.",
    remedy="Check base circle radius and durations; such a lobe belongs to a roller tappet.",
    source="norton-2009",
    evidence="textbook",
)
VALVE_TO_PISTON = Rule(
    code="valve-to-piston",
    severity="stop",
    stage="trial-assembly",
    rule="least gap below 1.5 mm at the intake or 2.0 mm at the exhaust valve (caution up to 0.5 mm more)",
    reason="Float and stretch use it up, and the exhaust valve is chased by the piston.",
    remedy="Deepen the valve pockets, retard or change the cam, or add deck; then measure with clay.",
    source="common-practice",
    evidence="common-practice",
)

CLAY_OFF_COMPUTED = Rule(
    code="clay-off-computed",
    severity="ask",
    stage="trial-assembly",
    rule="gap by clay more than 1 mm off the gap computed from the gap at top dead centre",
    reason="One of the two is wrong: a cam a tooth off, the head or its gasket not as it will run, clay on the wrong valve, or "
    "a slip of the pen.",
    remedy="Check the cam's timing marks and the gap at top dead centre, then take the clay again with the head tightened.",
    source="common-practice",
    evidence="common-practice",
)


def check_card(found: Answer, request: ValveEventsRequest, summed: Mapping[str, float], given: tuple[str, ...]) -> None:
    """What was stated besides the figures that the answer rests on (``given``), against what those add up to."""
    for name, sum_ in summed.items():
        stated = getattr(request, name, None)
        if stated is None or abs(degrees(stated.si - sum_)) <= CARD_SLACK_DEGREES:
            continue
        halved = abs(degrees(2 * stated.si - sum_)) <= 2 * CARD_SLACK_DEGREES and name.endswith("duration")
        hint = " It looks like cam degrees." if halved else ""
        found.find(
            CARD_SUMS_DISAGREE,
            (name, *given),
            f"The other figures give {text_of(ANGLE(sum_))} for the {name.replace('_', ' ')}, "
            f"not {text_of(ANGLE(stated.si))}.{hint}",
        )


def check_lobe(
    found: Answer,
    *,
    lobe: str,
    field: str,
    tappet_diameter: float | None,
    eccentricity: float,
    needed: float,
    least_radius: float | None,
) -> None:
    """A lobe on its tappet: the edge, and whether a flat tappet can follow at all.

    ``lobe`` names it in the message ("Intake lobe"); ``field`` is the input that makes it what it is.
    """
    if tappet_diameter is None:
        found.cannot_check(TAPPET_EDGE.code, ["tappet_diameter"], f"{lobe} on its tappet.")
    elif eccentricity > tappet_diameter / 2 - TAPPET_EDGE_MARGIN + 1e-9:
        found.find(
            TAPPET_EDGE,
            ("tappet_diameter", field),
            f"{lobe}: the contact wanders {text_of(LENGTH(eccentricity))} off the tappet's centre; a face of "
            f"{text_of(LENGTH(tappet_diameter))} is too small, {text_of(LENGTH(needed))} is the least.",
        )
    if least_radius is None:
        found.cannot_check(LOBE_NEEDS_ROLLER.code, ["base_circle_radius"], f"{lobe} and its least radius.")
    elif least_radius <= 0:
        found.find(
            LOBE_NEEDS_ROLLER,
            ("base_circle_radius", field),
            f"{lobe}: the least radius comes out as {text_of(LENGTH(least_radius))}.",
        )


def check_valve_to_piston(found: Answer, *, valve: str, gap: float, measured: bool, fields: tuple[str, ...]) -> None:
    """One valve's least gap, measured with clay or computed, against its limit."""
    limit = LEAST_GAP[valve]
    if gap >= limit + CAUTION_ABOVE - 1e-9:
        return
    severity: Severity = "stop" if gap < limit - 1e-9 else "caution"
    then = "" if measured else " A clay check is needed in any case."
    found.find(
        VALVE_TO_PISTON,
        fields,
        f"{valve.capitalize()} valve to piston {text_of(CLEARANCE(gap))} at the nearest; {text_of(CLEARANCE(limit))} is the "
        f"least, {text_of(CLEARANCE(limit + CAUTION_ABOVE))} is sound.{then}",
        severity,
    )


def check_clay(found: Answer, *, valve: str, clay: float, computed: float) -> None:
    """The gap by clay against the computed one."""
    if abs(clay - computed) > CLAY_SLACK + 1e-9:
        found.find(
            CLAY_OFF_COMPUTED,
            (f"{valve}_clay", f"{valve}_gap_at_top"),
            f"{valve.capitalize()} valve to piston {text_of(CLEARANCE(clay))} by clay, but {text_of(CLEARANCE(computed))} "
            "from the gap at top dead centre; which of the two is right?",
        )
