"""Geometry of the slider-crank with an offset piston pin, and the crank angle of a piston height.

The crank angle is counted from the piston's own top dead centre in the direction of rotation. The pin offset is
positive toward the thrust side, the side of the cylinder on which the piston leans during the power stroke. After top
dead centre the crank pin swings to the other side, hence the plus sign in ``r sin t + e``.
"""

from math import asin, hypot, pi, sqrt
from typing import NamedTuple

from service.calculations.limits import require_positive
from service.errors import Contradiction, OutsideValidity
from service.methods import Example, method
from service.units import Angle, Length


class SliderCrank(NamedTuple):
    """The mechanism of one cylinder: crank radius, rod, signed pin offset, and where its top dead centre lies."""

    radius: Length
    rod_length: Length
    pin_offset: Length
    top_angle: Angle
    """Angle of the crank from upright when the piston stands at its top."""
    top_height: Length
    """Height of the piston pin above the crankshaft at top dead centre."""


@method(
    id="crank-radius",
    title="Crank radius that gives a stroke with an offset pin",
    formula="r = (S/2) · √(1 − e² / (l² − S²/4))",
    symbols={
        "r": "crank radius [m]",
        "S": "stroke [m]",
        "l": "rod length, centre to centre [m]",
        "e": "pin offset [m]",
    },
    source="derived",
    locator="S = √((l+r)² − e²) − √((l−r)² − e²), solved for r",
    evidence="derived",
    valid="l > r + |e|",
    example=Example(
        {"stroke": 0.06, "rod_length": 0.05, "pin_offset": 0.024},
        0.024,
        by="by hand: √(7.4² − 2.4²) − √(2.6² − 2.4²) = 7 − 1 = 6 cm",
        rel_tol=1e-12,
    ),
)
def crank_radius(*, stroke: Length, rod_length: Length, pin_offset: Length = 0.0) -> Length:
    """Crank radius in m; half the stroke without offset, a little less with one.

    Raises:
        OutsideValidity: stroke or rod length is not above zero.
        Contradiction: the rod is too short to go round with this stroke and offset.
    """
    require_positive(stroke=stroke, rod_length=rod_length)
    offset = abs(pin_offset)
    rise = rod_length * rod_length - stroke * stroke / 4
    # The longest stroke has r = l − |e|, so that rise = l |e|; beyond it the formula answers another mechanism.
    if rise > rod_length * offset:
        return stroke / 2 * sqrt(1 - offset * offset / rise)
    fields = ("stroke", "rod_length", "pin_offset") if offset else ("stroke", "rod_length")
    raise Contradiction(
        fields,
        "A crank with this rod cannot go round: the rod must be longer than half the stroke plus the pin offset. "
        "Send the rod length from centre to centre, and the stroke, not the throw.",
    )


def slider_crank(*, stroke: Length, rod_length: Length, pin_offset: Length = 0.0) -> SliderCrank:
    """The mechanism from what is measured on the bench; lengths in m.

    Raises:
        OutsideValidity, Contradiction: see ``crank_radius``.
    """
    radius = crank_radius(stroke=stroke, rod_length=rod_length, pin_offset=pin_offset)
    reach = rod_length + radius
    return SliderCrank(
        radius, rod_length, pin_offset, -asin(pin_offset / reach), sqrt((reach - pin_offset) * (reach + pin_offset))
    )


@method(
    id="crank-angle-at-drop",
    title="Crank angle at which the piston has dropped by a given distance",
    formula="φ = ±acos((r² + d² − l²) / (2 r d)) − atan(e/y) + asin(e/(l+r)), d² = y² + e²",
    symbols={"y": "height of the pin above the crankshaft [m]", "d": "distance from crankshaft to pin [m]"},
    source="geometry",
    locator="law of cosines in the triangle crankshaft, crank pin, piston pin",
    evidence="derived",
    valid="0 ≤ drop ≤ stroke",
    example=Example(
        {"drop": 0.04, "stroke": 0.06, "rod_length": 0.05},
        pi / 2,
        by="by hand: 3-4-5 triangle, crank at right angles",
        rel_tol=1e-9,
    ),
)
def crank_angle_at_drop(
    *, drop: Length, stroke: Length, rod_length: Length, pin_offset: Length = 0.0, before: bool = False
) -> Angle:
    """Crank angle in rad (0..~π) after top dead centre, or before it, at which the piston stands ``drop`` down.

    Raises:
        OutsideValidity: the drop is not between zero and the stroke.
        Contradiction: see ``crank_radius``.
    """
    if not 0 <= drop <= stroke:
        raise OutsideValidity("drop", "The piston drops by zero to one stroke; send a drop in that range.", "0 to stroke")
    crank = slider_crank(stroke=stroke, rod_length=rod_length, pin_offset=pin_offset)
    height = crank.top_height - drop
    distance = hypot(height, pin_offset)
    swing = _corner(crank.radius, distance, rod_length)
    shift = -asin(pin_offset / distance) - crank.top_angle
    return swing - shift if before else swing + shift


def _corner(radius: Length, distance: Length, rod_length: Length) -> Angle:
    """Angle at the crankshaft between crank and piston pin; by half-angle sines, exact near both dead centres."""
    half_square = (rod_length - distance + radius) * (rod_length + distance - radius) / (4 * radius * distance)
    return 2 * asin(sqrt(min(1.0, max(0.0, half_square))))
