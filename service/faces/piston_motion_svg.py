"""Position, velocity and acceleration of the piston over 720° as three curves above each other."""

from html import escape
from typing import cast

from service.answers.asking import Asked
from service.answers.piston_motion import TABLE_POINTS, motion_columns
from service.answers.piston_motion_request import PistonMotionRequest
from service.quantities import Measure, Series, UnitSystem, resolved, series_json, text_of

WIDTH, LEFT, RIGHT, TOP, PANEL, GAP = 420, 62.0, 404.0, 66.0, 138.0, 38.0
STYLE = """svg{color:#1b1d1f;background:#fdfcf9;font:13px system-ui,"DejaVu Sans",sans-serif}
text{fill:currentColor}.head{font-size:15px;font-weight:600}.quiet{font-size:11px}.end{text-anchor:end}.mid{text-anchor:middle}
.frame{fill:none;stroke:currentColor;stroke-opacity:.35}.zero{stroke:currentColor;stroke-opacity:.35;stroke-dasharray:3 3}
.curve{fill:none;stroke:#1f4f7a;stroke-width:2}.peak{fill:#9c1c13}
@media (prefers-color-scheme:dark){svg{color:#ece8df;background:#17191b}.curve{stroke:#93c7f5}.peak{fill:#ff9b8f}}"""
TITLES = {
    "position": "Drop below top dead centre",
    "velocity": "Velocity away from the head",
    "acceleration": "Acceleration away from the head",
}


def write(asked: Asked, system: UnitSystem) -> bytes:
    """The drawing as SVG in UTF-8; ends of the axes and figures are those of the answer."""
    columns = motion_columns(cast("PistonMotionRequest", asked.request), TABLE_POINTS)
    result = asked.answer.result
    peak: Measure = result["peak_acceleration"]
    head = f"Piston motion at {_speed(asked)}"
    lines = (
        f"mean piston speed {text_of(result['mean_piston_speed'], system)}",
        f"peak acceleration {text_of(peak, system)}",
    )
    height = TOP + 3 * (PANEL + GAP) + 34
    attributes = f"viewBox='0 0 {WIDTH} {height:g}' role='img' aria-labelledby='title description'"
    parts = [
        f"<svg xmlns='http://www.w3.org/2000/svg' {attributes}>",
        f"<title id='title'>{escape(head)}</title>",
        f"<desc id='description'>{escape('; '.join(lines))}; curves over 720 degrees of the crank.</desc>",
        f"<style>{STYLE}</style>",
        f"<text class='head' x='12' y='20'>{escape(head)}</text>",
        *(f"<text class='quiet' x='12' y='{36 + 15 * row}'>{escape(line)}</text>" for row, line in enumerate(lines)),
    ]
    for place, name in enumerate(TITLES):
        parts.append(_panel(TOP + place * (PANEL + GAP) + 14, TITLES[name], columns[name], system))
    axis = TOP + 3 * (PANEL + GAP) - GAP + 14
    parts += [
        f"<text class='quiet mid' x='{_across(turn):.1f}' y='{axis + 15:.1f}'>{turn}°</text>" for turn in range(0, 721, 180)
    ]
    parts.append(
        f"<text class='quiet mid' x='{(LEFT + RIGHT) / 2}' y='{axis + 31:.1f}'>crank angle after top dead centre</text>"
    )
    stamp = f"dataset {asked.dataset.version} · {asked.answer_id[:19]}"
    parts.append(f"<text class='quiet' x='12' y='{height - 6:g}'>{escape(stamp)}</text></svg>")
    return "".join(parts).encode()


def _speed(asked: Asked) -> str:
    given = asked.inputs.get("speed") or asked.inputs["rev_limit"]
    return f"{given['given']['value']:g} {given['given']['unit']}"


def _across(degrees: float) -> float:
    return LEFT + (RIGHT - LEFT) * degrees / 720


def _panel(top: float, title: str, series: Series, system: UnitSystem) -> str:
    """One curve in its frame, with its least and greatest figure at the ends of the axis."""
    written = series_json(series, system)
    values: list[float] = written["values"]
    low, high = min(values), max(values)
    span = (high - low) or 1.0

    def down(value: float) -> float:
        return top + PANEL * (1 - (value - low) / span)

    label = resolved()[series.kind.dimension][written["unit"]].label
    step = 720 / len(values)
    points = " ".join(f"{_across(step * row):.1f},{down(value):.1f}" for row, value in enumerate([*values, values[0]]))
    zero = down(0.0)
    digits = 2 if high < 100 else 0
    return "".join(
        (
            f"<text x='{LEFT}' y='{top - 6:.1f}'>{escape(title)} [{escape(label)}]</text>",
            f"<rect class='frame' x='{LEFT}' y='{top:.1f}' width='{RIGHT - LEFT}' height='{PANEL}'/>",
            *(
                f"<line class='frame' x1='{_across(turn):.1f}' x2='{_across(turn):.1f}' y1='{top:.1f}' y2='{top + PANEL:.1f}'/>"
                for turn in (180, 360, 540)
            ),
            f"<line class='zero' x1='{LEFT}' x2='{RIGHT}' y1='{zero:.1f}' y2='{zero:.1f}'/>",
            f"<polyline class='curve' points='{points}'/>",
            f"<text class='quiet end' x='{LEFT - 5}' y='{top + 9:.1f}'>{high:.{digits}f}</text>",
            f"<text class='quiet end' x='{LEFT - 5}' y='{top + PANEL:.1f}'>{low:.{digits}f}</text>",
        )
    )
