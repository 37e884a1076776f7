"""The fasteners in their places with the order of tightening, the passes, and the preload with its scatter: a wall card."""

from collections.abc import Mapping, Sequence
from functools import lru_cache
from html import escape
from math import dist
from typing import Any

from service.answers.asking import Asked
from service.faces.plate import folded
from service.quantities import UnitSystem, text_of

WIDTH, MARGIN = 400, 40
PATTERN_HEIGHT, LINE_HEIGHT = 260, 21
LARGEST, SMALLEST = 24.0, 7.0

STYLE = """svg{color:#1b1d1f;background:#fdfcf9;font:14px system-ui,"DejaVu Sans",sans-serif}
.s{fill:none;stroke:currentColor}.t{fill:currentColor}.b{font-weight:700}.m{text-anchor:middle}
.way{fill:none;stroke:#1f4f7a;opacity:.55}.nut{fill:#fdfcf9;stroke:currentColor}.quiet{fill:currentColor;font-size:11px}
.first{stroke-width:3}.band{fill:#1f4f7a;opacity:.3}.stop{fill:#9c1c13}.limit{stroke:#9c1c13;stroke-width:2}
@media (prefers-color-scheme:dark){svg{color:#ece8df;background:#17191b}.nut{fill:#17191b}.way{stroke:#93c7f5}
.band{fill:#93c7f5}.stop{fill:#ff9b8f}.limit{stroke:#ff9b8f}}"""
ON_PAPER = "@media print{svg{color:#000;background:#fff}.nut{fill:#fff}}"


def write(asked: Asked, system: UnitSystem) -> bytes:
    """The card as SVG in UTF-8; every figure is the one of the answer."""
    result = asked.answer.result
    sequence = result.get("sequence")
    torque = text_of(result["torque"], system)
    body: list[str] = []
    top = 12.0
    if sequence is not None and len(sequence["order"]) > 1:
        body.append(_pattern(sequence))
        top = PATTERN_HEIGHT + 8.0
    lines = _lines(asked, system)
    for style, text in lines:
        top += LINE_HEIGHT
        body.append(f"<text class='{style}' x='16' y='{top:.0f}'>{escape(text)}</text>")
    if "preload" in result:
        body.append(_preload(result, system, top + 26))
        top += 86
    height = int(top + 34)
    stamp = f"dataset {asked.dataset.version} · {asked.answer_id[:19]}"
    words = " ".join(text for _, text in lines)
    return (
        f"<svg xmlns='http://www.w3.org/2000/svg' viewBox='0 0 {WIDTH} {height}' role='img' "
        "aria-labelledby='title description'>"
        f"<title id='title'>Tightening to {escape(torque)}</title><desc id='description'>{escape(words)}</desc>"
        f"<style>{STYLE}{ON_PAPER}</style>{''.join(body)}"
        f"<text class='quiet' x='16' y='{height - 10}'>{escape(stamp)}</text></svg>"
    ).encode()


def _lines(asked: Asked, system: UnitSystem) -> list[tuple[str, str]]:
    """The written part: torque, passes, wrench setting, and whether to stop."""
    result = asked.answer.result
    lines = [("t b", f"Torque {text_of(result['torque'], system)}")]
    if result["wrench_setting"].si != result["torque"].si:
        lines.append(("t b", f"Set the wrench to {text_of(result['wrench_setting'], system)}"))
    sequence = result.get("sequence")
    if sequence is not None and len(sequence["order"]) > 1:
        order = " ".join(str(number) for number in sequence["order"])
        lines += [("t", row) for row in folded(f"Order of the fasteners: {order}", 46)]
        count = len(sequence["passes"])
        for number, one in enumerate(sequence["passes"], 1):
            last = " again, without backing off" if number == count > 1 else ""
            lines.append(("t", f"Pass {number}: {text_of(one['torque'], system)}{last}"))
    if any(finding.severity == "stop" for finding in asked.answer.findings):
        lines.append(("stop b", "Stop: read the findings of this answer first."))
    return lines


def pattern_alone(sequence: Mapping[str, Any]) -> str:
    """The fasteners with their turns and nothing else, for a page that has the words already.

    The same pattern comes again in every sheet of an engine family, so it is drawn once.
    """
    return _alone(tuple((place["x"], place["y"]) for place in sequence["positions"]), tuple(sequence["order"]))


@lru_cache(maxsize=128)
def _alone(points: tuple[tuple[float, float], ...], order: tuple[int, ...]) -> str:
    turns = ", ".join(map(str, order))
    return (
        f"<svg xmlns='http://www.w3.org/2000/svg' viewBox='0 0 {WIDTH} {PATTERN_HEIGHT}' role='img' "
        "aria-labelledby='title description'><title id='title'>Order of tightening</title>"
        f"<desc id='description'>The fasteners in the order {turns}.</desc>"
        f"<style>{STYLE}{ON_PAPER}</style>{_drawn(points, order)}</svg>"
    )


def _pattern(sequence: Mapping[str, Any]) -> str:
    return _drawn([(place["x"], place["y"]) for place in sequence["positions"]], sequence["order"])


def _drawn(points: Sequence[tuple[float, float]], order: Sequence[int]) -> str:
    """The fasteners where they sit, each with its turn, joined in the order of tightening."""
    places = _fitted(points)
    radius = _radius(places)
    way = " ".join(f"{places[number - 1][0]:.1f},{places[number - 1][1]:.1f}" for number in order)
    parts = [f"<polyline class='way' points='{way}'/>"]
    for turn, number in enumerate(order, 1):
        x, y = places[number - 1]
        first = " first" if turn == 1 else ""
        parts.append(
            f"<circle class='nut{first}' cx='{x:.1f}' cy='{y:.1f}' r='{radius:.1f}'/>"
            f"<text class='t b m' x='{x:.1f}' y='{y + radius * 0.35:.1f}' font-size='{radius:.1f}'>{turn}</text>"
        )
        if radius > 14:
            label = f"no. {number}"
            parts.append(f"<text class='quiet m' x='{x:.1f}' y='{y + radius + 12:.1f}'>{label}</text>")
    parts.append("<text class='quiet' x='16' y='16'>in the circles: when; below them: which</text>")
    return "".join(parts)


def _fitted(points: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    """The points in the drawing's coordinates: centred, in proportion, y downwards."""
    lefts, lows = [x for x, _ in points], [y for _, y in points]
    wide, high = max(lefts) - min(lefts), max(lows) - min(lows)
    room_x, room_y = WIDTH - 2 * MARGIN, PATTERN_HEIGHT - 2 * MARGIN - 16
    scale = min(room_x / wide if wide else float("inf"), room_y / high if high else float("inf"))
    if scale == float("inf"):
        scale = 0.0
    middle_x, middle_y = (max(lefts) + min(lefts)) / 2, (max(lows) + min(lows)) / 2
    return [(WIDTH / 2 + (x - middle_x) * scale, PATTERN_HEIGHT / 2 - (y - middle_y) * scale) for x, y in points]


def _radius(places: Sequence[tuple[float, float]]) -> float:
    """The largest circles that do not touch."""
    gaps = [dist(a, b) for index, a in enumerate(places) for b in places[index + 1 :]]
    return max(SMALLEST, min(LARGEST, 0.33 * min(gaps, default=LARGEST * 3)))


def _preload(result: Mapping[str, Any], system: UnitSystem, top: float) -> str:
    """The band of preload as a bar, with the limit at 90 % of yield where the bolt's class is known."""
    band, limit = result["preload"], result.get("limit")
    most: float = max(band["high"].si, limit["preload"].si if limit else 0.0)
    left, length = 16.0, WIDTH - 32.0

    def at(force: float) -> float:
        return left + length * force / (1.08 * most)

    low, nominal, high = (at(band[end].si) for end in ("low", "nominal", "high"))
    words = f"Preload {text_of(band['low'], system)} to {text_of(band['high'], system)}"
    parts = [
        f"<text class='t' x='{left}' y='{top:.0f}'>{escape(words)}</text>",
        f"<line class='s' x1='{left}' y1='{top + 22:.0f}' x2='{left + length}' y2='{top + 22:.0f}'/>",
        f"<rect class='band' x='{low:.1f}' y='{top + 14:.0f}' width='{high - low:.1f}' height='16'/>",
        f"<line class='s' stroke-width='2' x1='{nominal:.1f}' y1='{top + 11:.0f}' x2='{nominal:.1f}' y2='{top + 33:.0f}'/>",
    ]
    if limit:
        place, said = at(limit["preload"].si), f"90 % of yield: {text_of(limit['preload'], system)}"
        end = "end" if place > WIDTH / 2 else "start"
        parts += [
            f"<line class='limit' x1='{place:.1f}' y1='{top + 8:.0f}' x2='{place:.1f}' y2='{top + 36:.0f}'/>",
            f"<text class='stop' font-size='11' text-anchor='{end}' x='{place:.1f}' y='{top + 48:.0f}'>{escape(said)}</text>",
        ]
    return "".join(parts)
