"""The timing card as the degree wheel shows it: how far each valve is open round the two turns, and what to read where."""

from collections.abc import Iterator
from math import degrees
from typing import Any

from service.answers.asking import Asked
from service.faces.plate import WIDTH, Line, on_circle, plate, stop_line, turning
from service.quantities import Measure, UnitSystem, text_of

CENTRE, FIRST_LINE = (WIDTH / 2, 146.0), 310
RADII = {"intake": 104.0, "exhaust": 80.0}
STYLES = {"intake": "one", "exhaust": "two"}
EVENTS = (
    ("intake", "opening", "opens", -1, "top"),
    ("intake", "closing", "closes", 1, "bottom"),
    ("exhaust", "opening", "opens", -1, "bottom"),
    ("exhaust", "closing", "closes", 1, "top"),
)


def write(asked: Asked, system: UnitSystem) -> bytes:
    """The drawing as SVG in UTF-8; every figure is the one of the answer."""
    result = asked.answer.result
    title = f"Valve events: intake {text_of(result['intake_duration'], system)}, exhaust " + text_of(
        result["exhaust_duration"], system
    )
    return plate(asked, title, _wheel(result), FIRST_LINE, _lines(asked, system))


def _lines(asked: Asked, system: UnitSystem) -> list[Line]:
    """What to read on the wheel, and the gap between valve and piston where it is known."""
    result = asked.answer.result
    lines: list[Line] = []
    for valve in ("intake", "exhaust"):
        told = [_event(result, event, system) for event in EVENTS if event[0] == valve]
        lines.append((f"{STYLES[valve]}-t b", f"{valve.capitalize()} {' and '.join(told)}"))
        lines.append(("t", f"open for {_text(result, f'{valve}_duration', system)}, fullest {_centre(result, valve, system)}"))
    lines.append(("t", f"overlap {_text(result, 'overlap', system)}, lobes {_text(result, 'lobe_separation', system)} apart"))
    for valve, gap in (result.get("valve_to_piston") or {}).items():
        lines.append(("t", f"{valve} valve to piston {text_of(gap['gap'], system)} at the nearest"))
    return lines + stop_line(asked)


def _text(result: dict[str, Any], name: str, system: UnitSystem) -> str:
    return text_of(result[name], system)


def _event(result: dict[str, Any], event: tuple[str, str, str, int, str], system: UnitSystem) -> str:
    """An event by the dead centre that it is counted from; before and after are said in place of a minus sign."""
    valve, name, verb, side, centre = event
    measure = result[f"{valve}_{name}"]
    after = (measure.si >= 0) == (side > 0)
    angle = text_of(Measure(measure.kind, abs(measure.si)), system)
    return f"{verb} {angle} {'after' if after else 'before'} {centre}"


def _centre(result: dict[str, Any], valve: str, system: UnitSystem) -> str:
    return f"{_text(result, f'{valve}_lobe_centre', system)} {'after' if valve == 'intake' else 'before'} top"


def _wheel(result: dict[str, Any]) -> Iterator[str]:
    """The wheel with its dead centres, and an arc for each valve from where it opens to where it closes."""
    x, y = CENTRE
    yield f"<circle class='s' opacity='.35' cx='{x:g}' cy='{y:g}' r='62'/>"
    yield f"<path class='s' stroke-dasharray='3 3' d='M{x:g} {y - 122:g}V{y + 122:g}'/>"
    yield f"<text class='t m' x='{x:g}' y='{y - 128:g}'>top dead centre</text>"
    yield f"<text class='t m' x='{x:g}' y='{y + 136:g}'>bottom dead centre</text>"
    yield turning(CENTRE, 40, clockwise=True)
    for valve, opens in (
        ("intake", -degrees(result["intake_opening"].si)),
        ("exhaust", 180 - degrees(result["exhaust_opening"].si)),
    ):
        yield _arc(valve, opens, opens + degrees(result[f"{valve}_duration"].si))


def _arc(valve: str, start: float, end: float) -> str:
    """The open time of a valve, with a bar across each end, and its name at the middle of the lobe."""
    style, radius = STYLES[valve], RADII[valve]
    middle = (start + end) / 2  # an arc of the drawing goes less than once round, so two halves are drawn
    half = f"A{radius:g} {radius:g} 0 {int(end - start > 360)} 1"
    (x0, y0), (x, y), (x1, y1) = (on_circle(CENTRE, radius, angle) for angle in (start, middle, end))
    bars = "".join(
        "M{:.1f} {:.1f}L{:.1f} {:.1f}".format(*on_circle(CENTRE, radius - 7, at), *on_circle(CENTRE, radius + 7, at))
        for at in (start, end)
    )
    side = 20 if valve == "intake" else -18  # the outer arc has its name outside, the inner one inside
    word_x, word_y = on_circle(CENTRE, radius + side, middle)
    anchor = "start" if (word_x >= CENTRE[0]) == (side > 0) else "end"
    return (
        f"<path class='{style}' stroke-width='5' d='M{x0:.1f} {y0:.1f}{half} {x:.1f} {y:.1f}{half} {x1:.1f} {y1:.1f}'/>"
        f"<path class='{style}' stroke-width='3' d='{bars}'/><circle class='{style}-t' cx='{x:.1f}' cy='{y:.1f}' r='6'/>"
        f"<text class='{style}-t' x='{word_x:.1f}' y='{word_y + 5:.1f}' text-anchor='{anchor}'>{valve}</text>"
    )
