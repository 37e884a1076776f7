"""The order of work: what to measure, set, tighten, fill and watch, line by line, each with a box to tick and to write in.

A line is made from a section's answer, so its figures are the section's. Topics without lines (a displacement is not set by
hand) stand in the sheet as sections only.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any, TypeAlias

from service.answers.asking import Asked
from service.answers.envelope import Stage
from service.quantities import Measure, text_of


@dataclass(frozen=True)
class Line:
    """One line of work: the stage, what to do, the figure or words to hold it against, what with, and where it is from."""

    stage: Stage
    task: str
    value: Measure | None = None
    words: str = ""
    tool: str = ""


Result: TypeAlias = Mapping[str, Any]
LinesOf: TypeAlias = Callable[[Asked], Iterator[Line]]


def lines(asked: Asked) -> list[Line]:
    """The lines of work that follow from one answered section."""
    write = _LINES.get(asked.topic.name)
    return list(write(asked)) if write else []


def _compression(asked: Asked) -> Iterator[Line]:
    result = asked.answer.result
    yield Line(
        "measuring", "Chamber volume of each cylinder, plug fitted", result["contributions"]["chamber"], "", "burette and plate"
    )
    yield Line(
        "trial-assembly",
        "Squish clearance, piston to head at top dead centre",
        result["squish_clearance"],
        "",
        "solder or deck bridge",
    )
    per_cylinder = result.get("per_cylinder")
    for cylinder in per_cylinder["cylinders"] if per_cylinder else []:
        words = f"ratio {cylinder['compression_ratio']:.2f}"
        yield Line(
            "trial-assembly",
            f"Cylinder {cylinder['cylinder']}: squish and ratio",
            cylinder["squish_clearance"],
            words,
            "deck bridge",
        )


def _clearance(asked: Asked) -> Iterator[Line]:
    result = asked.answer.result
    fit = getattr(asked.request, "fit", None) or "clearance"
    ends = [text_of(result[end]) for end in ("low", "high") if result.get(end) is not None]
    words = f"{' to '.join(ends)}: {result['decision']}"
    yield Line(
        "measuring",
        f"Measure {fit.replace('-', ' ')}",
        result["measured"],
        words,
        getattr(asked.request, "gauge", None) or "gauge",
    )


def _shims(asked: Asked) -> Iterator[Line]:
    result = asked.answer.result
    if result.get("shims") is None:
        return  # no set of the stock fits; the finding says which thickness is wanted
    stack = " + ".join(text_of(shim) for shim in result["shims"])
    yield Line("trial-assembly", "Fit the shims", result["total"], stack, "micrometer")
    yield Line("trial-assembly", "End play with these shims, gland nut at full torque", result["end_play"], "", "dial gauge")


def _valve_events(asked: Asked) -> Iterator[Line]:
    result = asked.answer.result
    for event in ("intake_opening", "intake_closing", "exhaust_opening", "exhaust_closing"):
        yield Line("valve-train", f"Check the timing card: {event.replace('_', ' ')}", result[event], "", "degree wheel")
    gaps = result.get("valve_to_piston") or {}
    for valve, gap in gaps.items():
        if gap:
            yield Line("valve-train", f"Piston to {valve} valve at its nearest", gap["gap"], "", "clay or solder")


def _valve_spring(asked: Asked) -> Iterator[Line]:
    result = asked.answer.result
    yield Line("valve-train", "Seat load of each spring at its installed length", result["seat_load"], "", "spring tester")
    for name, task in (
        ("coil_bind_margin", "Coil bind margin at full lift"),
        ("retainer_clearance", "Retainer to guide at full lift"),
    ):
        if result.get(name) is not None:
            yield Line("valve-train", task, result[name], "", "feeler")


def _lash(asked: Asked) -> Iterator[Line]:
    result = asked.answer.result
    for valve, lash in result["cold_lash"].items():
        if lash is not None:
            yield Line("valve-train", f"Set {valve} lash, stone cold", lash, result.get("setting") or "", "feeler")
            yield Line(
                "after-run", f"Check {valve} lash again, stone cold after six hours", lash, "against the value set", "feeler"
            )


def _valve_order(asked: Asked) -> Iterator[Line]:
    for position in asked.answer.result["fewest_positions"]:
        yield Line(
            "valve-train", position["instruction"], position["pulley_mark"], "mark on the pulley", "wrench on the crank nut"
        )


def _torque(asked: Asked) -> Iterator[Line]:
    result = asked.answer.result
    fastener = getattr(asked.request, "fastener", None)
    name = fastener.replace("-", " ") if fastener else "fastener"
    sequence = result.get("sequence")
    order = "in the order " + "-".join(map(str, sequence["order"])) if sequence and len(sequence["order"]) > 1 else ""
    for share in dict.fromkeys(step["share"] for step in sequence["passes"]) if sequence else [1.0]:
        if share < 1 and sequence:
            step = next(step for step in sequence["passes"] if step["share"] == share)
            yield Line("closing-up", f"Tighten {name} to {share:.0%}", step["torque"], order, "torque wrench")
    yield Line("closing-up", f"Tighten {name} to the full torque", result["wrench_setting"], order, "torque wrench")


def _oil(asked: Asked) -> Iterator[Line]:
    result = asked.answer.result
    yield Line(
        "pre-start",
        "Fill oil in all, external parts by hand first",
        result["fill"]["total"],
        "then verify on the stick",
        "measuring jug",
    )
    for row in result["pressure_floor"]:
        yield Line(
            "first-fire", f"Oil pressure at {text_of(row['speed'])}, at least", row["pressure"], "below it: stop", "gauge"
        )


def _ignition(asked: Asked) -> Iterator[Line]:
    result = asked.answer.result
    if result.get("dwell"):
        yield Line("pre-start", "Set dwell first", result["dwell"]["angle"], "", "dwell meter")
    if result.get("static_advance") is not None:
        yield Line("pre-start", "Set static timing, turning forward only", result["static_advance"], "", "test lamp")
    for name, mark in (result.get("marks") or {}).items():
        if isinstance(mark, Mapping):
            words = f"{text_of(mark['arc'])} along the rim"
            yield Line("pre-start", f"Mark {name} advance on the pulley", mark["angle"], words, "tape")
    if result.get("total_advance") is not None:
        yield Line("first-fire", "Total advance while the run goes on, vacuum off", result["total_advance"], "", "timing light")


def _break_in_schedule(asked: Asked) -> Iterator[Line]:
    result = asked.answer.result
    for gate in result["gates"]:
        yield Line("pre-start", gate["text"], None, "done" if gate["done"] else "")
    words = f"{text_of(result['speed_low'])} to {text_of(result['speed_high'])}, speed always changing"
    yield Line("first-fire", "Break in", result["remaining"], words, "card of the schedule, clock")
    for look in result["look_list"]:
        yield Line("first-fire", f"Look at {look['what']}", look["at"], f"good: {look['good']}", "")


def _break_in_assessment(asked: Asked) -> Iterator[Line]:
    result = asked.answer.result
    yield Line("after-run", "Credited break-in time", result["credited_time"], f"verdict: {result['verdict']}", "log")
    if result.get("remaining_time") is not None:
        yield Line("after-run", "Break-in time still to run", result["remaining_time"], "", "log")


def _cylinder_check(asked: Asked) -> Iterator[Line]:
    expected = asked.answer.result.get("expected_pressure")
    if expected:
        ends = f"{text_of(expected['low'])} to {text_of(expected['high'])}"
        yield Line(
            "after-run", "Compression of each cylinder, warm, throttle open", expected["nominal"], ends, "compression gauge"
        )


_LINES: Mapping[str, LinesOf] = {
    "compression": _compression,
    "clearance": _clearance,
    "shims": _shims,
    "valve_events": _valve_events,
    "valve_spring": _valve_spring,
    "lash": _lash,
    "valve_order": _valve_order,
    "torque": _torque,
    "oil": _oil,
    "ignition": _ignition,
    "break_in_schedule": _break_in_schedule,
    "break_in_assessment": _break_in_assessment,
    "cylinder_check": _cylinder_check,
}

HAND_OVER: tuple[Line, ...] = (
    Line(
        "after-run",
        "Drain the oil hot, open strainer or filter, look at the magnet",
        None,
        "fine grey paste is normal, flakes are not",
    ),
    Line("hand-over", "Oil used: grade and phosphorus", None, ""),
    Line("hand-over", "Total advance as set", None, ""),
    Line("hand-over", "Cold lash as set, and how to set it", None, ""),
    Line("hand-over", "Speed limit for the first 800 km: three quarters of the rev limit", None, ""),
    Line("hand-over", "Next oil change at 50 to 100 km, then 500 km; lash at 500 and 1,000 km", None, ""),
    Line("hand-over", "Open findings explained to the customer", None, "signature"),
)
"""What every build ends with, whatever is known of it."""


def as_row(line: Line, section: str) -> dict[str, Any]:
    """A line as it is answered; ``section`` names the answer that its figure is from."""
    return {
        "stage": line.stage,
        "task": line.task,
        "value": line.value,
        "words": line.words,
        "tool": line.tool,
        "section": section,
    }
