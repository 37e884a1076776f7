"""What is asked of a camshaft's timing card: the fields with their ranges."""

from typing import Annotated

from service.answers.inputs import Measured, RodLength, Stroke
from service.answers.piston_motion_request import PinOffset
from service.answers.valve_train import CamDuration, CamLift, LobeRequest
from service.quantities import Quantity

EVENTS = ("intake_opening", "intake_closing", "exhaust_opening", "exhaust_closing")


def event(meaning: str, example: str, hard: str = "-40 .. 130 deg") -> Measured:
    """An event of the card."""
    return Measured("angle", hard, "0 .. 90 deg", example, f"{meaning} Crank degrees; on the other side negative.")


def _gap(meaning: str) -> Measured:
    return Measured("length", "0.2 .. 30 mm", "3 .. 10 mm", "5 mm", meaning)


def _clay(meaning: str) -> Measured:
    return Measured("length", "0 .. 30 mm", "1 .. 8 mm", "2.6 mm", meaning)


class ValveEventsRequest(LobeRequest):
    """The four events, or durations with separation and advance; with both, they are held against each other.

    Lifts, the second duration and the measures of tappet and head open the lobe, the tappet and the gap to the piston.
    """

    intake_opening: Annotated[Quantity, event("Before top dead centre.", "34 deg")] | None = None
    intake_closing: Annotated[Quantity, event("After bottom dead centre.", "62 deg", "-40 .. 110 deg")] | None = None
    exhaust_opening: Annotated[Quantity, event("Before bottom dead centre.", "70 deg")] | None = None
    exhaust_closing: Annotated[Quantity, event("After top dead centre.", "26 deg")] | None = None
    intake_duration: CamDuration | None = None
    exhaust_duration: CamDuration | None = None
    lobe_separation: (
        Annotated[Quantity, Measured("angle", "80 .. 130 deg", "98 .. 115 deg", "108 deg", "Between the lobes, cam degrees.")]
        | None
    ) = None
    advance: (
        Annotated[Quantity, Measured("angle", "-20 .. 20 deg", "-4 .. 8 deg", "4 deg", "Of the camshaft, crank degrees.")]
        | None
    ) = None
    exhaust_cam_lift: CamLift | None = None
    tappet_diameter: (
        Annotated[Quantity, Measured("length", "10 .. 50 mm", "18 .. 32 mm", "25 mm", "Of the tappet's face.")] | None
    ) = None
    stroke: Stroke | None = None
    rod_length: RodLength | None = None
    pin_offset: PinOffset | None = None
    valve_angle: (
        Annotated[Quantity, Measured("angle", "0 .. 60 deg", "0 .. 30 deg", "10 deg", "Between valve and cylinder axis.")]
        | None
    ) = None
    intake_gap_at_top: Annotated[Quantity, _gap("Intake valve shut, piston at top, along the valve.")] | None = None
    exhaust_gap_at_top: Annotated[Quantity, _gap("Exhaust valve shut, piston at top, along the valve.")] | None = None
    intake_clay: Annotated[Quantity, _clay("Thinnest clay or solder under the intake valve.")] | None = None
    exhaust_clay: Annotated[Quantity, _clay("Thinnest clay or solder under the exhaust valve.")] | None = None
