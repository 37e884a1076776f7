"""The pulley as the builder sees it, with the marks at which to set the valves and which valves those are."""

from collections.abc import Iterator
from math import degrees
from typing import Any

from service.answers.asking import Asked
from service.faces.plate import WIDTH, Line, on_circle, plate, stop_line, turning
from service.quantities import UnitSystem, text_of

CENTRE, RADIUS, FIRST_LINE = (WIDTH / 2, 150.0), 92.0, 282


def write(asked: Asked, system: UnitSystem) -> bytes:
    """The drawing as SVG in UTF-8; every figure is the one of the answer."""
    steps = asked.answer.result["fewest_positions"]
    title = f"Valves to set at {len(steps)} {'position' if len(steps) == 1 else 'positions'} of the crank"
    return plate(asked, title, _pulley(asked.answer.result), FIRST_LINE, _lines(asked, system))


def _lines(asked: Asked, system: UnitSystem) -> list[Line]:
    """The way round: each step with its mark and the valves to set."""
    result = asked.answer.result
    lines: list[Line] = []
    for number, step in enumerate(result["fewest_positions"], 1):
        lines.append(("t", f"{number}. Mark {text_of(step['pulley_mark'], system)}: {step['instruction']}"))
    lines.append(("quiet", f"Seen at the pulley; marks lie {result['mark_side']}."))
    if result["unreached"]:
        valves = ", ".join(f"{entry['valve']} of {entry['cylinder']}" for entry in result["unreached"])
        lines.append(("stop b", f"Not reached at any of these positions: {valves}."))
    return lines + stop_line(asked)


def _pulley(result: dict[str, Any]) -> Iterator[str]:
    """The rim with the pointer at its top, a short notch at every position, and the numbers of the steps at theirs."""
    marks_clockwise = result["mark_side"].startswith("clockwise")
    x, y = CENTRE
    yield f"<circle class='s' stroke-width='3' cx='{x:g}' cy='{y:g}' r='{RADIUS:g}'/>"
    yield f"<circle class='s' cx='{x:g}' cy='{y:g}' r='{RADIUS - 9:g}'/>"
    yield f"<path class='s' d='M{x - 8:g} {y:g}h16m-8 -8v16'/>"
    yield f"<path class='t' d='M{x:g} {y - RADIUS - 2:g}l-6 -13h12Z'/>"
    yield turning(CENTRE, 52, clockwise=not marks_clockwise)
    yield f"<text class='quiet m' x='{x:g}' y='{y + 26:g}'>turns this way</text>"
    steps: dict[float, list[int]] = {}
    for number, step in enumerate(result["fewest_positions"], 1):
        steps.setdefault(_side(step, clockwise=marks_clockwise), []).append(number)
    for at in sorted({_side(position, clockwise=marks_clockwise) for position in result["positions"]}):
        (x0, y0), (x1, y1) = (on_circle(CENTRE, radius, at) for radius in (RADIUS - 9, RADIUS + 3))
        yield f"<path class='one' stroke-width='{4 if at in steps else 1.5}' d='M{x0:.1f} {y0:.1f}L{x1:.1f} {y1:.1f}'/>"
    for at, numbers in steps.items():
        yield _numbers(at, numbers)


def _numbers(at: float, numbers: list[int]) -> str:
    """The numbers of the steps beside their mark; at the top they stand beside the pointer."""
    text = ", ".join(map(str, numbers))
    half = 7.0 + 5 * len(text)
    x, y = on_circle(CENTRE, RADIUS + 14 + half * abs(on_circle((0, 0), 1, at)[0]), at)
    if abs(on_circle((0, 0), 1, at)[0]) < 0.2 and y < CENTRE[1]:
        x += (half + 12) * (1 if x >= CENTRE[0] else -1)
    return (
        f"<rect class='spot' x='{x - half:.1f}' y='{y - 11:.1f}' width='{2 * half:.1f}' height='22' rx='11'/>"
        f"<text class='t b m' x='{x:.1f}' y='{y + 5:.1f}'>{text}</text>"
    )


def _side(position: dict[str, Any], *, clockwise: bool) -> float:
    """Where a mark lies on the drawing: degrees clockwise from the top."""
    mark = degrees(position["pulley_mark"].si)
    return round(mark if clockwise else -mark, 6) % 360
