"""Which faces each topic has: JSON, CSV, HTML and plain text for all, and the drawings and cards of some."""

from collections.abc import Callable, Mapping
from typing import TypeAlias

from service.answers.asking import Asked
from service.faces import (
    break_in_assessment_page,
    break_in_assessment_svg,
    break_in_schedule_card,
    break_in_schedule_svg,
    break_in_schedule_text,
    build_sheet_csv,
    build_sheet_html,
    build_sheet_text,
    csv_face,
    html_face,
    ignition_svg,
    piston_motion_csv,
    piston_motion_svg,
    text_face,
    torque_svg,
    valve_events_svg,
    valve_order_svg,
)
from service.quantities import UnitSystem

Face: TypeAlias = Callable[[Asked, UnitSystem], bytes]

GENERAL: Mapping[str, Face] = {"csv": csv_face.write, "html": html_face.write, "text": text_face.write}

# A topic's own drawing or card, by topic and face; it stands before the general one.
SPECIAL: Mapping[tuple[str, str], Face] = {
    ("break_in_assessment", "html"): break_in_assessment_page.write,
    ("break_in_assessment", "svg"): break_in_assessment_svg.write,
    ("break_in_schedule", "html"): break_in_schedule_card.write,
    ("break_in_schedule", "svg"): break_in_schedule_svg.write,
    ("break_in_schedule", "text"): break_in_schedule_text.write,
    ("build_sheet", "csv"): build_sheet_csv.write,
    ("build_sheet", "html"): build_sheet_html.write,
    ("build_sheet", "text"): build_sheet_text.write,
    ("ignition", "svg"): ignition_svg.write,
    ("piston_motion", "csv"): piston_motion_csv.write,
    ("piston_motion", "svg"): piston_motion_svg.write,
    ("torque", "svg"): torque_svg.write,
    ("valve_events", "svg"): valve_events_svg.write,
    ("valve_order", "svg"): valve_order_svg.write,
}


def faces_of(topic: str) -> dict[str, Face]:
    """The faces of a topic besides JSON, by the name that ``?format=`` takes."""
    special = {face: write for (name, face), write in SPECIAL.items() if name == topic}
    return {**GENERAL, **special}
