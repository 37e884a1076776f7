"""Values for more than one section: shared inputs, answers by yes or no, and what earlier sections have worked out."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from service.answers.asking import Asked
from service.quantities import Measure, Quantity, to_unit
from service.sheet.document import Checks

PASSED_ON: tuple[tuple[str, str, str], ...] = (
    ("displacement", "displacement", "induction.displacement"),
    ("displacement", "displacement", "power_correction.displacement"),
    ("displacement", "bore", "bore"),
    ("displacement", "stroke", "stroke"),
    ("valve_events", "intake_closing", "intake_closing"),
    ("valve_events", "intake_opening", "valve_order.intake_opening"),
    ("valve_events", "exhaust_opening", "valve_order.exhaust_opening"),
    ("valve_events", "exhaust_closing", "valve_order.exhaust_closing"),
    ("valve_events", "intake_duration", "valve_spring.duration"),
    ("compression", "compression_ratio", "compression_ratio"),
    ("compression", "effective_ratio", "cylinder_check.effective_ratio"),
    ("valve_spring", "open_load", "break_in_schedule.open_load"),
    ("torque:rod-nut", "preload.low", "piston_motion.rod_bolt_preload"),
)
"""Results that later sections take as inputs: where from (with the fastener, for a torque), which, and where to."""

LOBE_INPUTS = (
    "cam_lift",
    "lash",
    "checking_lift",
    "checked_duration",
    "second_checking_lift",
    "base_circle_radius",
    "nose_radius",
)
"""Inputs of the valve events that describe the lobe on which the springs stand too."""

GATES: Mapping[str, tuple[str, ...]] = {
    "oil-filled": ("oil_filled_with_external",),
    "pressure-on-cranking": ("pressure_seen_on_cranking",),
    "oil-at-rockers": ("oil_seen_at_rockers",),
    "static-timing": ("static_timing_recorded",),
    "float-bowl": ("float_bowl_filled",),
    "fuel-leaks": ("fuel_leak_checked",),
    "fan-and-tinware": ("fan_and_shroud_fitted",),
    "exhaust-outside": ("exhaust_led_outside", "carbon_monoxide_alarm"),
    "extinguishers": ("extinguisher_in_reach", "class_d_or_sand_in_reach"),
    "tappets-turn": ("tappets_turn",),
    "lash-cold": ("lash_set_cold",),
    "gauge-live": ("pressure_gauge_fitted",),
    "log-running": ("log_running",),
    "second-person": ("second_person",),
    "kill-switch": ("kill_switch_in_reach",),
}
"""Which answers must all be yes before a gate of the first fire is open."""


def gates_done(checks: Checks) -> list[str]:
    """The gates of which every word is borne out by an answer; powder or sand is wanted only where magnesium may lie about."""
    yes = {name for name in Checks.model_fields if getattr(checks, name)}
    if checks.magnesium_chips_about is False:
        yes.add("class_d_or_sand_in_reach")
    return [gate for gate, answers in GATES.items() if yes.issuperset(answers)]


@dataclass
class Pool:
    """Values for more than one section: what the document gives, and what earlier sections have worked out."""

    given: Mapping[str, Any]
    derived: dict[str, Any] = field(default_factory=dict)
    copied: dict[str, str] = field(default_factory=dict)

    def value(self, place: str) -> Any:
        """The value for a place, or None; what was given stands before what was worked out."""
        given = self.given.get(place)
        return given if given is not None else self.derived.get(place)

    def elsewhere(self, place: str) -> tuple[str, Any] | None:
        """Where else in the document this input stands, and as what; None where it stands nowhere else."""
        if self.given.get(place) is not None:
            return place, self.given[place]
        return (self.copied[place], self.derived[place]) if place in self.copied else None

    def take_checks(self, checks: Checks | None) -> None:
        """Hand the answers by yes or no to the sections that ask for them."""
        if checks is None:
            return
        fitted = checks.pressure_gauge_fitted
        gauge = None if fitted is None else "gauge" if fitted else "none"
        for target, check, value in (
            ("piston_motion.rod_clearance_measured", "rod_clearance_measured", checks.rod_clearance_measured),
            ("ignition.static_timing_set", "static_timing_recorded", checks.static_timing_recorded),
            ("break_in_schedule.new_cam", "new_cam", checks.new_cam),
            ("oil.pressure_gauge", "pressure_gauge_fitted", gauge),
        ):
            if value is not None:
                self.derived[target], self.copied[target] = value, f"checks.{check}"
        if done := gates_done(checks):
            self.derived["break_in_schedule.gates_done"] = done

    def pass_on(self, asked: Asked) -> None:
        """Keep what later sections take from this answer."""
        name = asked.topic.name
        fastener = getattr(asked.request, "fastener", None)
        origins = {name, f"{name}:{fastener}"}
        for origin, result, target in PASSED_ON:
            value = _at(asked.answer.result, result) if origin in origins else None
            if value is not None:
                self.derived[target] = as_input(value)
        if name == "break_in_schedule":
            self.derived["break_in_assessment.schedule"] = asked.request
        if name == "valve_events":
            for lobe in LOBE_INPUTS:
                if (value := getattr(asked.request, lobe)) is not None:
                    self.derived[f"valve_spring.{lobe}"] = value
                    self.copied[f"valve_spring.{lobe}"] = f"valve_events.{lobe}"


def _at(tree: Any, path: str) -> Any:
    for part in path.split("."):
        tree = tree.get(part) if isinstance(tree, Mapping) else None
    return tree


def as_input(value: Any) -> Any:
    """A result in the form of an input."""
    if isinstance(value, Measure):
        kind = value.kind
        return Quantity(to_unit(value.si, kind.dimension, kind.metric), kind.metric, value.si, kind.dimension)
    return value
