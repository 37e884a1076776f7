"""Finding top dead centre with a piston stop, and marking degrees on the rim of a pulley or flywheel."""

from math import asin, cos, pi, sin, sqrt
from typing import NamedTuple

from service.calculations.limits import require_positive
from service.calculations.slider_crank import crank_angle_at_drop, slider_crank
from service.errors import Contradiction, OutsideValidity
from service.methods import Example, method
from service.units import Angle, Length


class StopResult(NamedTuple):
    """Where top dead centre lies on the degree wheel as it is mounted, and what the stop looked like."""

    wheel_correction: Angle
    """Reading of the wheel at true top dead centre, after is positive: turn the wheel by this much to zero it."""
    half_angle: Angle
    """Crank angle from true top dead centre to the stop, either way."""
    drop: Length
    """Piston drop at the stop."""
    offset_error: Angle
    """How far the midpoint misses top dead centre because of the pin offset; already taken off the correction."""


@method(
    id="piston-stop",
    title="Top dead centre by a piston stop",
    formula="c = (after − before)/2 − ε, ε = asin(e/(l+r)) − asin(e/d), half = (after + before)/2",
    symbols={
        "c": "wheel reading at true top dead centre, after positive [rad]",
        "before, after": "readings before and after top dead centre with the piston on the stop [rad]",
        "d": "distance from crankshaft to piston pin on the stop [m]",
        "e": "pin offset, + toward the thrust side [m]",
    },
    source="geometry",
    locator="equal piston heights lie symmetrically about the line from crankshaft to pin",
    evidence="derived",
    valid="the same stop from both sides, read turning toward the stop",
    example=Example(
        {
            "stop_before": 38.0 * pi / 180,
            "stop_after": 42.0 * pi / 180,
            "stroke": 0.073,
            "rod_length": 0.136,
        },
        {"wheel_correction": 2.0 * pi / 180, "half_angle": 40.0 * pi / 180},
        by="by hand: (42 − 38)/2 = 2°, (42 + 38)/2 = 40°",
        rel_tol=1e-9,
    ),
)
def piston_stop(
    *, stop_before: Angle, stop_after: Angle, stroke: Length, rod_length: Length, pin_offset: Length = 0.0
) -> StopResult:
    """Top dead centre from two readings of the wheel, both counted away from its zero, with the piston on one stop.

    Raises:
        OutsideValidity: a reading is not between zero and 180°: both lie on the same side.
        Contradiction: see ``slider_crank.crank_radius``.
    """
    for field, reading in (("stop_before", stop_before), ("stop_after", stop_after)):
        if not 0 < reading < pi:
            raise OutsideValidity(
                field,
                "The two readings must lie on both sides of the wheel's zero, each 0 to 180°. Turn the crank the other "
                "way onto the same stop, or set the wheel nearer to top dead centre first, and send both readings.",
                "0 to 180 deg",
            )
    crank = slider_crank(stroke=stroke, rod_length=rod_length, pin_offset=pin_offset)
    half = (stop_before + stop_after) / 2
    across = crank.radius * sin(half)
    distance = crank.radius * cos(half) + sqrt((rod_length - across) * (rod_length + across))
    if distance <= abs(pin_offset):
        raise Contradiction(
            ("stop_before", "stop_after", "pin_offset"), "The piston cannot stand that low; check both readings."
        )
    height = sqrt((distance - pin_offset) * (distance + pin_offset))
    # The line from crankshaft to pin leans toward the thrust side, before the upright, by more the lower the piston.
    error = -asin(pin_offset / distance) - crank.top_angle
    return StopResult((stop_after - stop_before) / 2 - error, half, max(0.0, crank.top_height - height), error)


@method(
    id="dial-gauge-dead-band",
    title="Crank angle over which the piston seems to stand still",
    formula="φ(d) − φ(−d), d the smallest movement that the gauge shows",
    symbols={"φ": "crank angle at a piston drop [rad]"},
    source="geometry",
    locator="slider-crank solved for the angle at a small drop",
    evidence="derived",
    example=Example(
        {"resolution": 2e-5, "stroke": 0.073, "rod_length": 0.136},
        2 * 1.684 * pi / 180,
        by="by hand: φ ≈ √(2 d / (r (1 + r/l))) = √(0.04 / 46.296) = 1.684° each way",
        rel_tol=1e-3,
    ),
)
def dial_gauge_dead_band(*, resolution: Length, stroke: Length, rod_length: Length, pin_offset: Length = 0.0) -> Angle:
    """Whole crank angle in rad round top dead centre within which the piston moves less than ``resolution``.

    Raises:
        OutsideValidity, Contradiction: see ``slider_crank.crank_angle_at_drop``.
    """
    before = crank_angle_at_drop(drop=resolution, stroke=stroke, rod_length=rod_length, pin_offset=pin_offset, before=True)
    return before + crank_angle_at_drop(drop=resolution, stroke=stroke, rod_length=rod_length, pin_offset=pin_offset)


@method(
    id="rim-arc",
    title="Degrees as a length along the rim, with a tape",
    formula="s = D φ / 2",
    symbols={"s": "arc along the rim [m]", "D": "diameter of the rim [m]", "φ": "angle [rad]"},
    source="geometry",
    locator="arc of a circle",
    evidence="standard",
    example=Example({"angle": pi / 18, "diameter": 0.180}, 0.015708, by="by hand: π · 180 · 10/360 mm"),
)
def rim_arc(*, angle: Angle, diameter: Length) -> Length:
    """Length in m along the rim of the given diameter for an angle of the crank."""
    return diameter * angle / 2


@method(
    id="rim-chord",
    title="Degrees as a straight distance across the rim, with a caliper",
    formula="c = D sin(φ/2)",
    symbols={"c": "chord between two marks [m]", "D": "diameter of the rim [m]", "φ": "angle, at most 180° [rad]"},
    source="geometry",
    locator="chord of a circle",
    evidence="standard",
    valid="0 ≤ φ ≤ π",
    example=Example({"angle": pi / 3, "diameter": 0.150}, 0.075, by="by hand: the chord of 60° is the radius"),
)
def rim_chord(*, angle: Angle, diameter: Length) -> Length:
    """Straight distance in m between two marks on the rim.

    Raises:
        OutsideValidity: the angle is not between zero and 180°.
    """
    if not 0 <= angle <= pi:
        raise OutsideValidity("angle", "A chord spans 0 to 180°; measure the rest of the way round.", "0 to 180 deg")
    return diameter * sin(angle / 2)


def angle_from_arc(*, arc: Length, diameter: Length) -> Angle:
    """Angle in rad between two marks whose distance along the rim is ``arc``.

    Raises:
        OutsideValidity: the diameter is not above zero.
    """
    require_positive(diameter=diameter)
    return 2 * arc / diameter


def angle_from_chord(*, chord: Length, diameter: Length) -> Angle:
    """Angle in rad (0..π) between two marks whose straight distance is ``chord``.

    Raises:
        OutsideValidity: the chord is not between zero and the diameter, or the diameter is not above zero.
    """
    require_positive(diameter=diameter)
    if not 0 <= chord <= diameter:
        raise OutsideValidity(
            "chord", "A chord is never longer than the diameter; send the distance with a caliper.", "0 to diameter"
        )
    return 2 * asin(chord / diameter)
