"""The order of work: what to measure, set, tighten, fill and watch, line by line, each with a box to tick and to write in.

A line is made from a section's answer, so its figures are the section's. Topics without lines (a displacement is not set by
hand) stand in the sheet as sections only.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any, TypeAlias

from service.answers.asking import Asked
from service.answers.envelope import STAGES
from service.quantities import LENGTH, text_of
from service.sheet.work_after import AT_ONCE, COLD, WARM, after_run, hand_over, oil_words, refill
from service.sheet.work_line import Line, as_row

LinesOf: TypeAlias = Callable[[Asked], Iterator[Line]]

ASSEMBLY: tuple[str, ...] = (
    "rod-",
    "case-main",
    "case-",
    "oil-pump",
    "strainer",
    "cylinder-head",
    "rocker",
    "flywheel",
    "generator-pulley",
)
"""How the names of fasteners begin, in the order in which an engine is closed up until its lash can be set."""

OUTSIDE: tuple[str, ...] = ("intake", "carburettor", "exhaust", "drain-plug")
"""What is fitted after the lash is set."""

OTHER_FASTENERS, SET_LASH, FIT_OUTSIDE = 70, 80, 90
"""Places of closing up: what is closed up stands before them in the order of assembly."""


def in_order(parts: Sequence[Asked]) -> list[dict[str, Any]]:
    """The lines of all sections in the order of the work, as they are answered."""
    found = [(line, asked.topic.name) for asked in parts for line in lines(asked)]
    if found:
        found += [(line, "") for line in hand_over(parts)]
    found.sort(key=lambda one: (STAGES.index(one[0].stage), one[0].place))
    return [as_row(line, section) for line, section in found]


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
    decision = result.get("decision") or "not decided, its uncertainty is not known"
    words = ": ".join([text for text in (" to ".join(ends), decision) if text])
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
    setting = result["setting"]
    if result["method"] == "preload":
        yield Line("closing-up", "Set the preload of every hydraulic tappet", None, setting, "wrench", SET_LASH)
    for valve, lash in (result.get("cold_lash") or {}).items():
        yield Line("closing-up", f"Set {valve} lash, stone cold", lash, setting, "feeler", SET_LASH)
        again = f"Check {valve} lash again, stone cold after six hours"
        yield Line("after-run", again, lash, "against the value set", "feeler", COLD + 1)
    for valve, lash in (result.get("hot_lash") or {}).items():
        first = f"Set {valve} lash for the first start, cold, as the manual says"
        yield Line("closing-up", first, None, "only the figure of the hot engine is held", "feeler", SET_LASH)
        yield Line("after-run", f"Set {valve} lash, engine hot as the manual says", lash, setting, "feeler", AT_ONCE + 1)


def _valve_order(asked: Asked) -> Iterator[Line]:
    for position in asked.answer.result["fewest_positions"]:
        mark, tool = position["pulley_mark"], "wrench on the crank nut"
        yield Line("closing-up", position["instruction"], mark, "mark on the pulley", tool, SET_LASH + 1)


def _fastener_place(name: str) -> int:
    """Where a fastener is tightened while the engine is closed up."""
    own = name.rpartition("/")[2]
    for first, names in ((0, ASSEMBLY), (FIT_OUTSIDE, OUTSIDE)):
        for place, start in enumerate(names, first):
            if own.startswith(start):
                return place
    return OTHER_FASTENERS


def _torque(asked: Asked) -> Iterator[Line]:
    result = asked.answer.result
    fastener = getattr(asked.request, "fastener", None) or "fastener"
    name = fastener.replace("-", " ")
    sequence = result.get("sequence")
    order = "in the order " + "-".join(map(str, sequence["order"])) if sequence and len(sequence["order"]) > 1 else ""
    full, wrench = f"Tighten {name} to the full torque", "torque wrench"
    if fastener.rpartition("/")[2].startswith("spark-plug"):  # priming wants them out
        yield Line("first-fire", full, result["wrench_setting"], "after priming, which is done with the plugs out", wrench, -1)
        return
    place = _fastener_place(fastener)
    for share in dict.fromkeys(step["share"] for step in sequence["passes"]) if sequence else [1.0]:
        if share < 1 and sequence:
            step = next(step for step in sequence["passes"] if step["share"] == share)
            yield Line("closing-up", f"Tighten {name} to {share:.0%}", step["torque"], order, wrench, place)
    yield Line("closing-up", full, result["wrench_setting"], order, wrench, place)


def _oil(asked: Asked) -> Iterator[Line]:
    result = asked.answer.result
    yield Line(
        "pre-start",
        "Fill oil in all, external parts by hand first",
        result["fill"]["total"],
        "; ".join([*oil_words(asked), "then verify on the stick"]),
        "measuring jug",
    )
    yield refill(result["fill"]["sump"])
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
            words = _rim(mark["arc"].si, result["marks"]["side"])
            yield Line("pre-start", f"Mark {name} advance on the pulley", mark["angle"], words, "tape")
    if result.get("total_advance") is not None:
        yield Line("first-fire", "Total advance while the run goes on, vacuum off", result["total_advance"], "", "timing light")


def _rim(arc: float, side: str) -> str:
    """How far along the rim and to which side: an advance mark passes the pointer before top dead centre."""
    other = "anticlockwise" if side == "clockwise" else "clockwise"
    way, passing = (side, "before") if arc >= 0 else (other, "after")
    return (
        f"{text_of(LENGTH(abs(arc)))} along the rim, {way} of the mark of top dead centre, facing the pulley: it turns {side} "
        f"and this mark passes the pointer {passing} that one"
    )


def _break_in_schedule(asked: Asked) -> Iterator[Line]:
    result = asked.answer.result
    if result["tappet"] != "roller" and getattr(asked.request, "spring", None) == "dual":
        words = "before the rockers go on and before priming; they are refitted after the run"
        yield Line("valve-train", "Take the inner springs out for the break-in", None, words, "spring compressor", 1)
    for gate in result["gates"]:
        yield Line("pre-start", gate["text"], None, "done" if gate["done"] else "")
    words = f"{text_of(result['speed_low'])} to {text_of(result['speed_high'])}, speed always changing"
    yield Line("first-fire", "Break in", result["remaining"], words, "card of the schedule, clock")
    for look in result["look_list"]:
        yield Line("first-fire", f"Look at {look['what']}", look["at"], f"good: {look['good']}", "")
    yield from after_run(asked)


def _break_in_assessment(asked: Asked) -> Iterator[Line]:
    result = asked.answer.result
    yield Line("after-run", "Credited break-in time", result["credited_time"], f"verdict: {result['verdict']}", "log")
    if result.get("remaining_time") is not None:
        yield Line("after-run", "Break-in time still to run", result["remaining_time"], "", "log")


def _cylinder_check(asked: Asked) -> Iterator[Line]:
    expected = asked.answer.result.get("expected_pressure")
    if expected:
        ends = f"{text_of(expected['low'])} to {text_of(expected['high'])}"
        task = "Compression of each cylinder, warm, throttle open"
        yield Line("after-run", task, expected["nominal"], ends, "compression gauge", WARM)


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
