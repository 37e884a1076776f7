"""Drawing speed over time: a frame with axes, lines, stretches and labels, for light and dark, phone and paper."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from html import escape

STYLE = (
    "<style>text{font:13px system-ui,'DejaVu Sans',sans-serif;fill:currentColor}.s{font-size:11px}"
    ".grid{stroke:currentColor;stroke-opacity:.18;stroke-width:1}.axis{stroke:currentColor;stroke-width:1.2}"
    ".band{fill:#3b82c4;fill-opacity:.13}.line{fill:none;stroke:#1f6fb2;stroke-width:2;stroke-linejoin:round}"
    ".plan{fill:none;stroke:currentColor;stroke-opacity:.55;stroke-width:1.2;stroke-dasharray:5 3}"
    ".stop{stroke:#b3261e;stroke-width:1.6;stroke-dasharray:7 3;fill:none}.stage{stroke:currentColor;stroke-opacity:.5;"
    "stroke-width:1;stroke-dasharray:2 3}.lost{fill:#b3261e;fill-opacity:.16}.warn{fill:#b3261e}"
    "@media (prefers-color-scheme:dark){.line{stroke:#7cc0ff}.band{fill:#7cc0ff}.stop{stroke:#ff9b8f}.warn{fill:#ff9b8f}"
    ".lost{fill:#ff9b8f}}</style>"
)


@dataclass(frozen=True)
class Frame:
    """A plotting area and its scales: x in minutes, y in the unit of the axis."""

    left: float
    top: float
    width: float
    height: float
    x_end: float
    y_low: float
    y_high: float

    def x(self, minutes: float) -> float:
        """Place of a time."""
        return self.left + self.width * minutes / self.x_end

    def y(self, value: float) -> float:
        """Place of a value, cut off at the frame."""
        share = (value - self.y_low) / (self.y_high - self.y_low)
        return self.top + self.height * (1 - min(max(share, 0.0), 1.0))

    def line(self, points: Iterable[tuple[float, float]], style: str) -> str:
        """A line through times and values."""
        across, up, low, high = self.width / self.x_end, self.height / (self.y_high - self.y_low), self.y_low, self.y_high
        left, bottom = self.left, self.top + self.height
        text = " ".join([f"{left + across * t:.1f},{bottom - up * (min(max(v, low), high) - low):.1f}" for t, v in points])
        return f"<polyline class='{style}' points='{text}'/>"

    def level(self, value: float, style: str) -> str:
        """A line at one value."""
        return self.line(((0.0, value), (self.x_end, value)), style)

    def upright(self, minutes: float, style: str) -> str:
        """A line at one time."""
        x = f"{self.x(minutes):.1f}"
        return f"<line class='{style}' x1='{x}' x2='{x}' y1='{self.top:.1f}' y2='{self.top + self.height:.1f}'/>"

    def box(self, start: float, end: float, low: float, high: float, style: str) -> str:
        """A filled stretch of time and values."""
        x, y = self.x(start), self.y(high)
        width, height = max(self.x(end) - x, 1.0), max(self.y(low) - y, 0.0)
        return f"<rect class='{style}' x='{x:.1f}' y='{y:.1f}' width='{width:.1f}' height='{height:.1f}'/>"

    def axes(self, y_ticks: Sequence[float], x_label: str, y_label: str) -> str:
        """Grid, ticks and labels."""
        bottom = self.top + self.height
        parts = [label(self.left, self.top - 8, y_label, small=True)]
        for value in y_ticks:
            parts.append(self.level(value, "grid"))
            parts.append(label(self.left - 5, self.y(value) + 4, f"{value:g}", "end"))
        step = next(s for s in (1, 2, 5, 10, 20, 60, 120) if self.x_end / s <= 9)
        for minute in range(0, int(self.x_end) + 1, step):
            parts.append(self.upright(minute, "grid"))
            parts.append(label(self.x(minute), bottom + 16, str(minute), "middle"))
        parts.append(label(self.left + self.width, bottom + 31, x_label, "end", small=True))
        parts.append(
            f"<path class='axis' fill='none' d='M{self.left:.1f} {self.top:.1f}V{bottom:.1f}H{self.left + self.width:.1f}'/>"
        )
        return "".join(parts)


def label(x: float, y: float, text: str, anchor: str = "start", *, small: bool = False, style: str = "") -> str:
    """A text."""
    classes = " ".join(name for name in ("s" if small else "", style) if name)
    kind = f" class='{classes}'" if classes else ""
    return f"<text x='{x:.1f}' y='{y:.1f}' text-anchor='{anchor}'{kind}>{escape(text)}</text>"


def drawing(title: str, description: str, width: float, height: float, parts: Iterable[str]) -> str:
    """A whole drawing with its title and description for those who cannot see it."""
    return (
        f"<svg xmlns='http://www.w3.org/2000/svg' viewBox='0 0 {width:g} {height:g}' role='img' "
        f"aria-labelledby='t d'><title id='t'>{escape(title)}</title><desc id='d'>{escape(description)}</desc>"
        f"{STYLE}{''.join(parts)}</svg>"
    )


def round_ticks(high: float, most: int = 7) -> list[float]:
    """Round values from zero up to at least ``high``."""
    high = max(high, 1.0)
    step = next(s * 10**p for p in range(-2, 8) for s in (1, 2, 5) if high / (s * 10**p) <= most)
    count = int(-(-high // step))
    return [round(step * number, 6) for number in range(count + 1)]
