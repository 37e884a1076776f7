"""The cam's timing card both ways, lift at the valve, the lobe behind the card, and the gap between valve and piston."""

from math import isclose
from typing import Any

from service.answers.envelope import Answer, QuantityOut, Result
from service.answers.topic import Example, Topic
from service.answers.valve_events_request import EVENTS, ValveEventsRequest
from service.answers.valve_events_rules import check_card, check_clay, check_lobe, check_valve_to_piston
from service.answers.valve_train import (
    RebuiltLobe,
    lash_of,
    lobe_needs,
    rebuilt_lobe,
    rocker_ratio_of,
    widened,
)
from service.calculations import valve_events as calculation
from service.calculations.cam_lobe import LobeTable, lobe_radius, tappet_contact, tappet_diameter_needed
from service.errors import Missing, MissingInput
from service.quantities import ANGLE, CLEARANCE, LENGTH, LIFT_RATE
from service.reference.dataset import Dataset


class LiftOut(Result):
    """Full lift at the valves, less the lash."""

    intake: QuantityOut
    exhaust: QuantityOut


class LobeOut(Result):
    """A lobe: rebuilt from the card (an estimate), or exact for the intake of a cam of arcs."""

    estimate: bool
    exponent: float | None = None
    half_width: QuantityOut
    lift_rate: QuantityOut
    tappet_diameter_needed: QuantityOut
    least_radius: QuantityOut | None = None
    nose_radius: QuantityOut | None = None


class GapOut(Result):
    """Least gap between one valve and the piston, and the crank angle after overlap top dead centre where it occurs."""

    gap: QuantityOut
    crank_angle: QuantityOut | None = None
    measured: bool


class ValveToPistonOut(Result):
    """Both valves, as far as they are known."""

    intake: GapOut | None = None
    exhaust: GapOut | None = None


class ValveEventsResult(Result):
    """Card and timing, whichever was given; lift, lobe and gaps when asked for."""

    intake_opening: QuantityOut
    intake_closing: QuantityOut
    exhaust_opening: QuantityOut
    exhaust_closing: QuantityOut
    intake_duration: QuantityOut
    exhaust_duration: QuantityOut
    intake_lobe_centre: QuantityOut
    exhaust_lobe_centre: QuantityOut
    lobe_separation: QuantityOut
    overlap: QuantityOut
    advance: QuantityOut
    lift: LiftOut | None = None
    lobe: LobeOut | None = None
    """That of the intake; the exhaust's too unless ``exhaust_lobe`` says otherwise."""
    exhaust_lobe: LobeOut | None = None
    """Where the exhaust's lift or duration is not the intake's."""
    valve_to_piston: ValveToPistonOut | None = None


def answer(request: ValveEventsRequest, _dataset: Dataset) -> Answer:
    """Card and timing, with what lift, lobe and head say.

    Raises:
        MissingInput: neither all four events nor durations with the separation.
        OutsideValidity, Contradiction: events or durations that no camshaft has.
    """
    found = Answer(result={})
    card, timing = _card_and_timing(found, request)
    found.result = {name: ANGLE(value) for name, value in {**card._asdict(), **timing._asdict()}.items()}
    if request.cam_lift is not None or request.exhaust_cam_lift is not None:
        _lift(found, request)
    lobe = rebuilt_lobe(found, request, duration=timing.intake_duration, duration_field="intake_duration")
    if lobe is not None:
        _lobes(found, request, lobe, timing)
    _valve_to_piston(found, request, lobe, timing)
    return found


def _card_and_timing(found: Answer, request: ValveEventsRequest) -> tuple[calculation.TimingCard, calculation.CamTiming]:
    events = [getattr(request, name) for name in EVENTS]
    cam = (request.intake_duration, request.exhaust_duration, request.lobe_separation)
    if all(event is not None for event in events):
        card = calculation.TimingCard(*(event.si for event in events))
        timing = calculation.cam_timing(**card._asdict())
        found.rests_on(calculation.cam_timing)
        check_card(found, request, timing._asdict(), EVENTS)
        return card, timing
    if all(figure is not None for figure in cam):
        if request.advance is None:
            found.assume("advance", ANGLE(0.0), "Camshaft fitted straight up.", "common-practice", "common-practice")
        card = calculation.timing_card(
            intake_duration=cam[0].si,  # type: ignore[union-attr]
            exhaust_duration=cam[1].si,  # type: ignore[union-attr]
            lobe_separation=cam[2].si,  # type: ignore[union-attr]
            advance=request.advance.si if request.advance else 0.0,
        )
        found.rests_on(calculation.timing_card)
        check_card(found, request, card._asdict(), ("intake_duration", "exhaust_duration", "lobe_separation"))
        return card, calculation.cam_timing(**card._asdict())
    started = any(figure is not None for figure in cam) and sum(event is not None for event in events) < 2
    names = ("intake_duration", "exhaust_duration", "lobe_separation") if started else EVENTS
    reason = "All four events of the card are needed, or both durations with the lobe separation."
    examples = {"lobe_separation": "108 deg", "intake_duration": "276 deg", "exhaust_duration": "276 deg"}
    missing = [name for name in names if getattr(request, name) is None]
    raise MissingInput.of([Missing(name, reason, examples.get(name, "34 deg")) for name in missing])


def _lift(found: Answer, request: ValveEventsRequest) -> None:
    """Full lift at both valves."""
    ratio, lash = rocker_ratio_of(found, request), lash_of(found, request)
    intake = request.cam_lift or request.exhaust_cam_lift
    exhaust = request.exhaust_cam_lift or request.cam_lift
    for name, given, used in (("cam_lift", request.cam_lift, exhaust), ("exhaust_cam_lift", request.exhaust_cam_lift, intake)):
        if given is None and used is not None:
            reason = "Taken equal to that of the other valve."
            found.assume(name, LENGTH(used.si), reason, "common-practice", "common-practice")
    found.rests_on(calculation.valve_lift)
    found.result["lift"] = {
        name: LENGTH(calculation.valve_lift(cam_lift=lift.si, rocker_ratio=ratio, lash=lash))
        for name, lift in (("intake", intake), ("exhaust", exhaust))
        if lift is not None
    }


def _lobes(found: Answer, request: ValveEventsRequest, lobe: RebuiltLobe, timing: calculation.CamTiming) -> None:
    """The intake lobe, and the exhaust's where its lift or duration is another."""
    lift = request.exhaust_cam_lift
    other_lift = lift is not None and request.cam_lift is not None and not isclose(lift.si, request.cam_lift.si)
    other_duration = not isclose(timing.exhaust_duration, timing.intake_duration)
    if not (other_lift or other_duration):
        found.result["lobe"] = _lobe(found, request, lobe, "Intake and exhaust lobe", "cam_lift")
        return
    found.result["lobe"] = _lobe(found, request, lobe, "Intake lobe", "cam_lift")
    own = "exhaust_duration" if request.exhaust_duration else "exhaust_opening"
    exhaust = lobe._replace(table=_lobe_of(found, request, lobe, timing, "exhaust"))
    shown = _lobe(found, request, exhaust, "Exhaust lobe", "exhaust_cam_lift" if other_lift else own)
    found.result["exhaust_lobe"] = shown | {"estimate": True}


def _lobe(found: Answer, request: ValveEventsRequest, lobe: RebuiltLobe, name: str, field: str) -> dict[str, Any]:
    """Lobe, tappet and the radii of the lobe; ``name`` and the ``field`` that makes it are for the findings."""
    base = request.base_circle_radius
    # The eccentricity does not depend on the base circle; without one its radii are left out.
    contact = tappet_contact(table=lobe.table, base_circle_radius=base.si if base else 1.0)
    needed = tappet_diameter_needed(eccentricity=contact.eccentricity)
    found.rests_on(tappet_diameter_needed)
    shown: dict[str, Any] = {
        "estimate": lobe.estimate is not None,
        "half_width": ANGLE(float(lobe.table.cam_angle[-1])),
        "lift_rate": LIFT_RATE(contact.eccentricity),
        "tappet_diameter_needed": LENGTH(needed),
    }
    if lobe.estimate is not None:
        shown["exponent"] = lobe.estimate.exponent
    if base is not None:
        found.rests_on(lobe_radius)
        shown |= {"least_radius": LENGTH(contact.least_radius), "nose_radius": LENGTH(contact.nose_radius)}
    check_lobe(
        found,
        lobe=name,
        field=field,
        tappet_diameter=request.tappet_diameter.si if request.tappet_diameter else None,
        eccentricity=contact.eccentricity,
        needed=needed,
        least_radius=contact.least_radius if base else None,
    )
    return shown


def _valve_to_piston(
    found: Answer, request: ValveEventsRequest, lobe: RebuiltLobe | None, timing: calculation.CamTiming
) -> None:
    """Least gap of each valve: as measured with clay, or computed from the gap at top dead centre."""
    gaps: dict[str, Any] = {}
    for valve, clay, at_top, centre in (
        ("intake", request.intake_clay, request.intake_gap_at_top, timing.intake_lobe_centre),
        ("exhaust", request.exhaust_clay, request.exhaust_gap_at_top, -timing.exhaust_lobe_centre),
    ):
        if clay is not None:
            gaps[valve] = {"gap": CLEARANCE(clay.si), "measured": True}
            check_valve_to_piston(found, valve=valve, gap=clay.si, measured=True, fields=(f"{valve}_clay",))
        if at_top is None or lobe is None or request.stroke is None or request.rod_length is None:
            if clay is None:
                inputs = {f"{valve}_gap_at_top": at_top, "stroke": request.stroke, "rod_length": request.rod_length}
                needed = [f"{valve}_clay", *(name for name, value in inputs.items() if value is None), *lobe_needs(request)]
                why = f"Needed for the {valve} valve: the clay, or the rest to compute it."
                found.cannot_check("valve-to-piston", needed, why)
            continue
        least = calculation.valve_to_piston(
            clearance_at_top=at_top.si,
            valve_angle=_valve_angle(found, request),
            lobe=_lobe_of(found, request, lobe, timing, valve),
            lobe_centre=centre,
            rocker_ratio=rocker_ratio_of(found, request),
            stroke=request.stroke.si,
            rod_length=request.rod_length.si,
            pin_offset=request.pin_offset.si if request.pin_offset else 0.0,
        )
        found.rests_on(calculation.valve_to_piston_gap)
        if clay is not None:
            check_clay(found, valve=valve, clay=clay.si, computed=least.gap)
            continue
        gaps[valve] = {"gap": CLEARANCE(least.gap), "crank_angle": ANGLE(least.crank_angle), "measured": False}
        fields = (f"{valve}_gap_at_top", "cam_lift", "rocker_ratio")
        check_valve_to_piston(found, valve=valve, gap=least.gap, measured=False, fields=fields)
    if gaps:
        found.result["valve_to_piston"] = gaps


def _valve_angle(found: Answer, request: ValveEventsRequest) -> float:
    if request.valve_angle is None:
        if all(entry["field"] != "valve_angle" for entry in found.assumptions):
            found.assume("valve_angle", ANGLE(0.0), "Valves along the cylinder.", "common-practice", "common-practice")
        return 0.0
    return request.valve_angle.si


def _lobe_of(
    found: Answer, request: ValveEventsRequest, lobe: RebuiltLobe, timing: calculation.CamTiming, valve: str
) -> LobeTable:
    """The lobe of one valve; the exhaust's has the intake's shape over its own duration and lift."""
    if valve == "intake":
        return lobe.table
    if all(entry["field"] != "exhaust_lobe" for entry in found.assumptions):
        reason = "Same fullness as the intake lobe over the exhaust's own duration and lift."
        found.assume("exhaust_lobe", "shape of the intake lobe", reason, "derived", "derived")
    lift = request.exhaust_cam_lift or request.cam_lift
    factor = timing.exhaust_duration / timing.intake_duration
    return widened(lobe, factor=factor, lift=lift.si if lift else 0.0)


TOPIC = Topic(
    name="valve_events",
    path="/v1/valve-events",
    title="Valve events",
    summary="A cam's timing card both ways, lift at the valve, tappet diameter, and the gap between valves and piston.",
    request=ValveEventsRequest,
    result=ValveEventsResult,
    answer=answer,
    stage="valve-train",
    cautions=("assembly",),
    examples=(
        Example(
            "What do the events of this card mean?",
            {
                "intake_opening": "32.5 deg",
                "intake_closing": "60.5 deg",
                "exhaust_opening": "70.5 deg",
                "exhaust_closing": "32.5 deg",
            },
        ),
        Example(
            "276/236° on 108° with 4° of advance: events, lift, tappet and gap to the piston",
            {
                "intake_duration": "276 deg",
                "exhaust_duration": "276 deg",
                "lobe_separation": "108 deg",
                "advance": "4 deg",
                "cam_lift": "8.4 mm",
                "rocker_ratio": 1.1,
                "lash": "0.15 mm",
                "checking_lift": "0.3 mm",
                "checked_duration": "236 deg",
                "base_circle_radius": "15.5 mm",
                "tappet_diameter": "25 mm",
                "stroke": "73 mm",
                "rod_length": "136 mm",
                "valve_angle": "10 deg",
                "intake_gap_at_top": "5.2 mm",
                "exhaust_gap_at_top": "5.2 mm",
            },
        ),
        Example(
            "A cam ground from arcs, events at no lift",
            {
                "intake_opening": "10 deg",
                "intake_closing": "30 deg",
                "exhaust_opening": "30 deg",
                "exhaust_closing": "10 deg",
                "cam_lift": "0.5 in",
                "base_circle_radius": "1.125 in",
                "nose_radius": "0.125 in",
            },
        ),
    ),
)
