"""What drawings for the bench share: one style sheet for light, dark and paper, the frame with its words, and folded lines."""

from collections.abc import Iterable, Sequence
from html import escape
from math import cos, radians, sin

from service.answers.asking import Asked

WIDTH, LINE_HEIGHT = 400, 21
LINE_LENGTH, SMALL_LENGTH = 48, 62  # characters
Line = tuple[str, str]

STYLE = """svg{color:#1b1d1f;background:#fdfcf9;font:14px system-ui,"DejaVu Sans",sans-serif}
.s{fill:none;stroke:currentColor}.t{fill:currentColor}.b{font-weight:700}.m{text-anchor:middle}
.quiet{fill:currentColor;font-size:11px}.one{fill:none;stroke:#1f4f7a}.one-t{fill:#1f4f7a}
.two{fill:none;stroke:#9c1c13}.two-t{fill:#9c1c13}.spot{fill:#fdfcf9;stroke:currentColor}.stop{fill:#9c1c13}
@media (prefers-color-scheme:dark){svg{color:#ece8df;background:#17191b}.spot{fill:#17191b}.one{stroke:#93c7f5}
.one-t{fill:#93c7f5}.two{stroke:#ff9b8f}.two-t,.stop{fill:#ff9b8f}}
@media print{svg{color:#000;background:#fff}.spot{fill:#fff}}"""


def plate(asked: Asked, title: str, picture: Iterable[str], first_line: float, lines: Sequence[Line]) -> bytes:
    """A whole drawing: the picture, below it the words in lines of their styles, and the stamp. Texts are plain here."""
    rows = [(style, row) for style, text in lines for row in folded(text, SMALL_LENGTH if style == "quiet" else LINE_LENGTH)]
    height = int(first_line + LINE_HEIGHT * len(rows) + 16)
    words = "".join(
        f"<text class='{style}' x='16' y='{first_line + LINE_HEIGHT * number:.0f}'>{escape(row)}</text>"
        for number, (style, row) in enumerate(rows)
    )
    stamp = f"dataset {asked.dataset.version} · {asked.answer_id[:19]}"
    described = " ".join(f"{text}." if not text.endswith(".") else text for _, text in lines)
    return (
        f"<svg xmlns='http://www.w3.org/2000/svg' viewBox='0 0 {WIDTH} {height}' role='img' "
        f"aria-labelledby='title description'><title id='title'>{escape(title)}</title>"
        f"<desc id='description'>{escape(described)}</desc><style>{STYLE}</style>{''.join(picture)}{words}"
        f"<text class='quiet' x='16' y='{height - 8}'>{escape(stamp)}</text></svg>"
    ).encode()


def stop_line(asked: Asked) -> list[Line]:
    """What whoever takes only the drawing to the engine must know, if there is a stop."""
    stops = any(finding.severity == "stop" for finding in asked.answer.findings)
    return [("stop b", "Stop: read the findings of this answer first.")] if stops else []


def folded(text: str, width: int) -> list[str]:
    """A text in lines of at most so many characters."""
    rows = [""]
    for word in text.split():
        if len(rows[-1]) + len(word) + 1 > width and rows[-1]:
            rows.append("")
        rows[-1] = f"{rows[-1]} {word}".strip()
    return rows


def on_circle(centre: tuple[float, float], radius: float, degrees: float) -> tuple[float, float]:
    """A point of a circle, by degrees clockwise from its top."""
    turn = radians(degrees)
    return centre[0] + radius * sin(turn), centre[1] - radius * cos(turn)


def turning(centre: tuple[float, float], radius: float, *, clockwise: bool) -> str:
    """An arrow inside a circle that shows the way of rotation."""
    side = 1 if clockwise else -1
    (x0, y0), (x1, y1) = (on_circle(centre, radius, side * angle) for angle in (-38, 38))
    tip, low, high = (on_circle(centre, radius + out, side * at) for out, at in ((0, 50), (-6, 36), (6, 36)))
    corners = " ".join(f"{x:.1f},{y:.1f}" for x, y in (tip, low, high))
    return (
        f"<path class='s' stroke-width='2' d='M{x0:.1f} {y0:.1f}"
        f"A{radius:g} {radius:g} 0 0 {int(clockwise)} {x1:.1f} {y1:.1f}'/>"
        f"<polygon class='t' points='{corners}'/>"
    )
