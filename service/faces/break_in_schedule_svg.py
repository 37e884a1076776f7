"""The break-in plan as a drawing: speed over time with the band, the stages, and the pressure floor at every speed."""

from typing import Any

from service.answers.asking import Asked
from service.answers.break_in_plan import clock
from service.calculations.break_in_limits import RPM
from service.faces.break_in_chart import Frame, drawing, label, round_ticks
from service.quantities import UnitSystem, shown, text_of

WIDTH, HEIGHT = 480.0, 380.0


def write(asked: Asked, system: UnitSystem) -> bytes:
    """The drawing as a document of its own."""
    return draw(asked, system).encode()


def draw(asked: Asked, system: UnitSystem) -> str:
    """The drawing, to stand alone or inside a page."""
    result, table = asked.answer.result, asked.answer.table or []
    points = trace(table)
    end = points[-1][0] * 1.02
    ticks = round_ticks(max(speed for _, speed in points))
    frame = Frame(56, 44, WIDTH - 56 - 66, HEIGHT - 44 - 92, end, 0.0, ticks[-1])
    low, high = result["speed_low"].si / RPM, result["speed_high"].si / RPM
    run = next(stage for stage in result["stages"] if stage["name"] == "run")
    start, stop = run["start"].si / 60, (run["start"].si + run["duration"].si) / 60
    parts = [
        label(8, 18, f"Break-in: {text_of(result['remaining'], system)} at {low:.0f} to {high:.0f} rpm"),
        frame.box(start, stop, low, high, "band"),
        frame.axes(ticks, "minutes from firing", "rpm"),
        frame.level(low, "stop"),
        label(frame.left + 4, frame.y(low) + 14, f"floor {low:.0f} rpm: below it nothing counts", small=True, style="warn"),
        *_stages(frame, result),
        frame.line(points, "line"),
        *_pressure_axis(frame, result, system),
        *_proof(result, system),
    ]
    description = ". ".join(row["say"] for row in run["segments"])
    return drawing(f"Break-in plan, {low:.0f} to {high:.0f} rpm", description, WIDTH, HEIGHT, parts)


def trace(table: list[dict[str, Any]]) -> list[tuple[float, float]]:
    """Minutes from firing and rpm along the plan."""
    points = []
    for row in table:
        start, ramp, duration = row["start"].si, row["ramp"].si, row["duration"].si
        points += [(start / 60, row["from_speed"].si / RPM)]
        points += [((start + ramp) / 60, row["speed"].si / RPM), ((start + duration) / 60, row["speed"].si / RPM)]
    return points


def _stages(frame: Frame, result: dict[str, Any]) -> list[str]:
    """Upright lines where a stage begins, with its name above."""
    parts = []
    for stage in result["stages"]:
        if stage["start"] is None or stage["name"] == "run":
            continue
        minutes = stage["start"].si / 60
        anchor = "start" if stage["name"] == "first_fire" else "end"
        height = frame.top - 4 if stage["name"] != "after_run" else frame.top + 10
        name = f"{stage['title'].lower()} {clock(stage['start'].si)}" if stage["name"] != "first_fire" else ""
        parts += [frame.upright(minutes, "stage"), label(frame.x(minutes), height, name, anchor, small=True)]
    return parts


def _pressure_axis(frame: Frame, result: dict[str, Any], system: UnitSystem) -> list[str]:
    """The stop line of the oil pressure: the floor that belongs to each speed, at the right edge."""
    edge = frame.left + frame.width
    unit = shown(result["pressure_floors"][0]["pressure"], system)["unit"]
    parts = [label(edge + 4, frame.top - 8, f"kill: {unit}", small=True, style="warn")]
    for row in result["pressure_floors"][1:]:
        speed = row["speed"].si / RPM
        if speed <= frame.y_high:
            pressure = shown(row["pressure"], system)["value"]
            parts.append(label(edge + 4, frame.y(speed) + 4, f"< {pressure:.0f}", small=True, style="warn"))
    return parts


def _proof(result: dict[str, Any], system: UnitSystem) -> list[str]:
    proof = result["proof"]
    if proof is None:
        return [label(8, HEIGHT - 24, "Nothing is left to run.")]
    dwell, most = text_of(proof["longest_dwell"], system), text_of(result["longest_dwell"], system)
    lines = (
        f"longest dwell {dwell} of {most}, steepest ramp {text_of(proof['steepest_ramp'], system)}",
        f"band covered {proof['coverage']:.0%}, shortest band time {proof['evenness']:.0%} of the mean",
    )
    return [label(8, HEIGHT - 24 + 16 * number, text, small=True) for number, text in enumerate(lines)]
