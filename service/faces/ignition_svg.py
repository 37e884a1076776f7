"""The pulley with its timing marks, seen from the end that carries them, as a drawing to take to the engine."""

from html import escape
from math import cos, sin
from typing import Any

from service.answers.asking import Asked
from service.quantities import Measure, UnitSystem, text_of

WIDTH, RADIUS, CENTRE_X, CENTRE_Y = 400, 170.0, 200.0, 222.0
SHOWN = 1.75  # rad of the rim that are drawn to either side of the pointer
LINE_HEIGHT, FIRST_LINE = 21, 290

STYLE = """svg{color:#1b1d1f;background:#fdfcf9;font:14px system-ui,"DejaVu Sans",sans-serif}
.rim{fill:none;stroke:currentColor}.ink{fill:currentColor}.quiet{fill:currentColor;font-size:11px}
.total{fill:none;stroke:#9c1c13}.total-text{fill:#9c1c13}.static{fill:none;stroke:#1f4f7a}.static-text{fill:#1f4f7a}
@media (prefers-color-scheme:dark){svg{color:#ece8df;background:#17191b}.total{stroke:#ff9b8f}.total-text{fill:#ff9b8f}
.static{stroke:#93c7f5}.static-text{fill:#93c7f5}}"""


def write(asked: Asked, system: UnitSystem) -> bytes:
    """The drawing as SVG in UTF-8; every figure is the one of the answer."""
    marks = asked.answer.result["marks"]
    clockwise = marks["side"] == "clockwise"
    lines = _lines(asked, system)
    height = FIRST_LINE + LINE_HEIGHT * len(lines) + 20
    attributes = f"viewBox='0 0 {WIDTH} {height}' role='img' aria-labelledby='title description'"
    parts = [
        f"<svg xmlns='http://www.w3.org/2000/svg' {attributes}>",
        f"<title id='title'>Timing marks, total advance {escape(text_of(marks['total']['angle'], system))}</title>",
        f"<desc id='description'>{escape('; '.join(text.strip() for _, text in lines))}</desc>",
        f"<style>{STYLE}</style>",
        _pulley(clockwise),
        _mark(0.0, "rim", "0", 20, clockwise),
    ]
    if marks["static"] is not None:
        parts.append(_mark(marks["static"]["angle"].si, "static", "S", 38, clockwise))
    parts.append(_mark(marks["total"]["angle"].si, "total", "T", 20, clockwise))
    parts.append(_tape_and_caliper(marks["total"]["angle"].si, clockwise))
    parts += [
        f"<text class='{style}' x='20' y='{FIRST_LINE + LINE_HEIGHT * index}' xml:space='preserve'>{escape(text)}</text>"
        for index, (style, text) in enumerate(lines)
    ]
    stamp = f"dataset {asked.dataset.version} · {asked.answer_id[:19]}"
    parts.append(f"<text class='quiet' x='20' y='{height - 10}'>{escape(stamp)}</text></svg>")
    return "".join(parts).encode()


def _lines(asked: Asked, system: UnitSystem) -> list[tuple[str, str]]:
    """The written part: what each mark is and where it stands, by tape and by caliper."""
    marks: dict[str, Any] = asked.answer.result["marks"]
    diameter = asked.inputs["pulley_diameter"]["given"]
    lines = [("ink", f"Pulley {diameter['value']:g} {diameter['unit']}, turns {marks['side']}"), ("ink", "0  top dead centre")]
    for name, letter, style in (("total", "T", "total-text"), ("static", "S", "static-text")):
        if (mark := marks[name]) is not None:
            side = "before" if mark["angle"].si >= 0 else "after"
            lines += [
                (style, f"{letter}  {name} {_unsigned(mark['angle'], system)} {side} top dead centre"),
                (style, f"     tape {_unsigned(mark['arc'], system)}"),
                (style, f"     caliper {_unsigned(mark['chord'], system)}"),
            ]
    if any(finding.severity == "stop" for finding in asked.answer.findings):
        lines.append(("total-text", "Stop: read the findings of this answer first."))
    return lines


def _unsigned(measure: Measure, system: UnitSystem) -> str:
    """A figure without its sign; the side is said beside it."""
    return text_of(Measure(measure.kind, abs(measure.si)), system)


def _at(angle: float, radius: float, clockwise: bool) -> tuple[float, float]:
    """Point of the drawing at a crank angle ahead of the pointer; ahead is the side to which the pulley turns."""
    turn = angle if clockwise else -angle
    return CENTRE_X + radius * sin(turn), CENTRE_Y - radius * cos(turn)


def _arc(start: float, end: float, radius: float, clockwise: bool) -> str:
    """Path of an arc from one crank angle to a larger one; the rim's own ends may be more than half a turn apart."""
    (x0, y0), (x1, y1) = _at(start, radius, clockwise), _at(end, radius, clockwise)
    large, sweep = int(end - start > 3.1416), int(clockwise)
    return f"M{x0:.1f} {y0:.1f}A{radius:g} {radius:g} 0 {large} {sweep} {x1:.1f} {y1:.1f}"


def _pulley(clockwise: bool) -> str:
    """The upper part of the rim, the pointer and the arrow of rotation."""
    (tip_x, tip_y), (back_x, back_y), (front_x, front_y) = (
        _at(turn, radius, clockwise) for turn, radius in ((0.68, 95), (0.5, 89), (0.5, 101))
    )
    return (
        f"<path class='rim' stroke-width='3' d='{_arc(-SHOWN, SHOWN, RADIUS, clockwise)}'/>"
        f"<path class='rim' stroke-width='1.5' d='{_arc(-SHOWN, SHOWN, RADIUS - 10, clockwise)}'/>"
        f"<path class='rim' stroke-width='2' d='{_arc(-0.6, 0.58, 95, clockwise)}'/>"
        f"<path class='ink' d='M{tip_x:.1f} {tip_y:.1f}L{back_x:.1f} {back_y:.1f}L{front_x:.1f} {front_y:.1f}Z'/>"
        f"<path class='ink' d='M{CENTRE_X:g} {CENTRE_Y - RADIUS - 3:g}l-6 -14h12Z'/>"
        f"<text class='ink' x='{CENTRE_X:g}' y='{CENTRE_Y - 62:g}' text-anchor='middle'>turns this way</text>"
        f"<path class='rim' d='M{CENTRE_X - 12:g} {CENTRE_Y:g}h24m-12 -12v24'/>"
    )


def _mark(angle: float, style: str, letter: str, distance: float, clockwise: bool) -> str:
    """A notch on the rim and its letter; the letter of top dead centre stands beside the pointer."""
    (x0, y0), (x1, y1) = _at(angle, RADIUS - 14, clockwise), _at(angle, RADIUS + 4, clockwise)
    text_x, text_y = _at(angle, RADIUS + distance, clockwise)
    if letter == "0":
        text_x += -16 if clockwise else 16
    fill = "ink" if style == "rim" else f"{style}-text"
    return (
        f"<path class='{style}' stroke-width='4' d='M{x0:.1f} {y0:.1f}L{x1:.1f} {y1:.1f}'/>"
        f"<text class='{fill}' x='{text_x:.1f}' y='{text_y + 5:.1f}' text-anchor='middle' font-weight='700'>{letter}</text>"
    )


def _tape_and_caliper(angle: float, clockwise: bool) -> str:
    """The total as a tape lies round the rim (full line) and as a caliper spans it (dashed)."""
    (x0, y0), (x1, y1) = _at(0.0, RADIUS, clockwise), _at(angle, RADIUS, clockwise)
    return (
        f"<path class='total' stroke-width='2.5' d='{_arc(0.0, angle, RADIUS + 5, clockwise)}'/>"
        f"<path class='total' stroke-width='1.5' stroke-dasharray='5 3' d='M{x0:.1f} {y0:.1f}L{x1:.1f} {y1:.1f}'/>"
    )
