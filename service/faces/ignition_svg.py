"""The pulley with its timing marks, seen from the end that carries them, as a drawing to take to the engine."""

from html import escape
from math import cos, pi, sin
from typing import Any

from service.answers.asking import Asked
from service.quantities import Measure, UnitSystem, text_of

WIDTH, RADIUS, CENTRE_X, CENTRE_Y = 400, 130.0, 200.0, 205.0
LINE_HEIGHT, FIRST_LINE = 21, 372

STYLE = """svg{color:#1b1d1f;background:#fdfcf9;font:14px system-ui,"DejaVu Sans",sans-serif}
.s{fill:none;stroke:currentColor}.t{fill:currentColor}.total{fill:none;stroke:#9c1c13}.total-text{fill:#9c1c13}
.static{fill:none;stroke:#1f4f7a}.static-text{fill:#1f4f7a}.quiet{fill:currentColor;font-size:11px}
@media (prefers-color-scheme:dark){svg{color:#ece8df;background:#17191b}.total{stroke:#ff9b8f}.total-text{fill:#ff9b8f}
.static{stroke:#93c7f5}.static-text{fill:#93c7f5}}"""


def write(asked: Asked, system: UnitSystem) -> bytes:
    """The drawing as SVG in UTF-8; every figure is the one of the answer."""
    marks = asked.answer.result["marks"]
    clockwise = marks["side"] == "clockwise"
    lines = _lines(asked, system)
    height = FIRST_LINE + LINE_HEIGHT * len(lines) + 24
    total = text_of(marks["total"]["angle"], system)
    parts = [
        f"<svg xmlns='http://www.w3.org/2000/svg' viewBox='0 0 {WIDTH} {height}' role='img' "
        "aria-labelledby='title description'>",
        f"<title id='title'>Timing marks on the pulley, total advance {escape(total)}</title>",
        f"<desc id='description'>{escape(' '.join(text for _, text in lines))}</desc>",
        f"<style>{STYLE}</style>",
        _pulley(clockwise),
        _mark(0.0, "s", "0", 20, clockwise),
    ]
    if marks["static"] is not None:
        parts.append(_mark(marks["static"]["angle"].si, "static", "S", 38, clockwise))
    parts.append(_mark(marks["total"]["angle"].si, "total", "T", 20, clockwise))
    parts.append(_tape_and_caliper(marks["total"]["angle"].si, clockwise))
    parts += [
        f"<text class='{style}' x='16' y='{FIRST_LINE + LINE_HEIGHT * index}'>{escape(text)}</text>"
        for index, (style, text) in enumerate(lines)
    ]
    stamp = f"dataset {asked.dataset.version} · {asked.answer_id[:19]}"
    parts.append(f"<text class='quiet' x='16' y='{height - 10}'>{escape(stamp)}</text></svg>")
    return "".join(parts).encode()


def _lines(asked: Asked, system: UnitSystem) -> list[tuple[str, str]]:
    """The written part: what each mark is and where it stands, by tape and by caliper."""
    result = asked.answer.result
    marks: dict[str, Any] = result["marks"]
    diameter = asked.inputs["pulley_diameter"]["given"]
    lines = [("t", f"Pulley {diameter['value']:g} {diameter['unit']}, turning {marks['side']}; 0 is top dead centre.")]
    for name, letter, style in (("total", "T", "total-text"), ("static", "S", "static-text")):
        if (mark := marks[name]) is not None:
            side = "before" if mark["angle"].si >= 0 else "after"
            lines += [
                (style, f"{letter}  {name} {text_of(mark['angle'], system)} {side} top dead centre"),
                (style, f"     tape {_distance(mark['arc'], system)}, caliper {_distance(mark['chord'], system)}"),
            ]
    stops = sum(finding.severity == "stop" for finding in asked.answer.findings)
    if stops:
        lines.append(("total-text", "Stop: read the findings of this answer before the engine turns."))
    return lines


def _distance(measure: Measure, system: UnitSystem) -> str:
    """A distance without its sign; the side is said beside it."""
    return text_of(Measure(measure.kind, abs(measure.si)), system)


def _at(angle: float, radius: float, clockwise: bool) -> tuple[float, float]:
    """Point of the drawing at a crank angle ahead of the pointer; ahead is the side to which the pulley turns."""
    turn = angle if clockwise else -angle
    return CENTRE_X + radius * sin(turn), CENTRE_Y - radius * cos(turn)


def _pulley(clockwise: bool) -> str:
    """Rim, hub, pointer and the arrow of rotation."""
    start, end = _at(-0.9, 62, clockwise), _at(0.9, 62, clockwise)
    tip, back, front = _at(0.9, 62, clockwise), _at(0.72, 55, clockwise), _at(0.72, 69, clockwise)
    sweep = 1 if clockwise else 0
    top = CENTRE_Y - RADIUS
    return (
        f"<circle class='s' stroke-width='3' cx='{CENTRE_X}' cy='{CENTRE_Y}' r='{RADIUS}'/>"
        f"<circle class='s' stroke-width='1.5' cx='{CENTRE_X}' cy='{CENTRE_Y}' r='{RADIUS - 9}'/>"
        f"<circle class='s' stroke-width='2' cx='{CENTRE_X}' cy='{CENTRE_Y}' r='22'/>"
        f"<path class='s' stroke-width='2' d='M{start[0]:.1f} {start[1]:.1f}A62 62 0 0 {sweep} {end[0]:.1f} {end[1]:.1f}'/>"
        f"<path class='t' d='M{tip[0]:.1f} {tip[1]:.1f}L{back[0]:.1f} {back[1]:.1f}L{front[0]:.1f} {front[1]:.1f}Z'/>"
        f"<path class='t' d='M{CENTRE_X} {top - 3}l-6 -14h12Z'/>"
        f"<text class='t' x='{CENTRE_X}' y='{CENTRE_Y + 52}' text-anchor='middle'>turns {'→' if clockwise else '←'} at the top</text>"
    )


def _mark(angle: float, style: str, letter: str, distance: float, clockwise: bool) -> str:
    """A notch on the rim and its letter; the letter of top dead centre stands beside the pointer."""
    inner, outer = _at(angle, RADIUS - 13, clockwise), _at(angle, RADIUS + 4, clockwise)
    text_x, text_y = _at(angle, RADIUS + distance, clockwise)
    if letter == "0":
        text_x -= 16 if clockwise else -16
    fill = "t" if style == "s" else f"{style}-text"
    return (
        f"<path class='{style}' stroke-width='4' d='M{inner[0]:.1f} {inner[1]:.1f}L{outer[0]:.1f} {outer[1]:.1f}'/>"
        f"<text class='{fill}' x='{text_x:.1f}' y='{text_y + 5:.1f}' text-anchor='middle' font-weight='700'>{letter}</text>"
    )


def _tape_and_caliper(angle: float, clockwise: bool) -> str:
    """The total as a tape lies round the rim (full line) and as a caliper spans it (dashed)."""
    (x0, y0), (x1, y1) = _at(0.0, RADIUS, clockwise), _at(angle, RADIUS, clockwise)
    (a0, b0), (a1, b1) = (_at(turn, RADIUS + 4, clockwise) for turn in (0.0, angle))
    sweep, large = (1 if clockwise else 0), (1 if angle > pi else 0)
    reach = RADIUS + 4
    return (
        f"<path class='total' stroke-width='2' d='M{a0:.1f} {b0:.1f}A{reach} {reach} 0 {large} {sweep} {a1:.1f} {b1:.1f}'/>"
        f"<path class='total' stroke-width='1.5' stroke-dasharray='5 3' d='M{x0:.1f} {y0:.1f}L{x1:.1f} {y1:.1f}'/>"
    )
