"""Motion of the piston: the exact slider-crank with an offset piston pin.

The crank angle is counted from the piston's own top dead centre in the direction of rotation, so that position and
velocity are zero at angle zero whatever the offset. Position is the drop below top dead centre; velocity and
acceleration are positive away from the head.

The pin offset is positive toward the thrust side, the side of the cylinder on which the piston leans during the power
stroke. After top dead centre the crank pin swings to the other side, hence the plus sign in ``r sin t + e`` below.
"""

from math import asin, cos, pi, sin, sqrt
from typing import NamedTuple

import numpy as np

from service.calculations.limits import require_positive
from service.calculations.slider_crank import SliderCrank, slider_crank
from service.errors import OutsideValidity
from service.methods import Example, method
from service.units import (
    Acceleration,
    Angle,
    FloatArray,
    Length,
    Ratio,
    RotationalAcceleration,
    RotationalSpeed,
    Velocity,
)


class PistonMotion(NamedTuple):
    """Piston at one crank angle: drop below top dead centre, velocity and acceleration away from the head."""

    position: Length
    velocity: Velocity
    acceleration: Acceleration


class RodMotion(NamedTuple):
    """Connecting rod at one crank angle: tilt from the cylinder axis and its rates."""

    angle: Angle
    rotational_speed: RotationalSpeed
    rotational_acceleration: RotationalAcceleration


class MotionTable(NamedTuple):
    """Piston motion over one four-stroke cycle, one row a crank angle, all in SI units."""

    crank_angle: FloatArray
    position: FloatArray
    velocity: FloatArray
    acceleration: FloatArray


class PeakAcceleration(NamedTuple):
    """Largest acceleration of the piston, as a magnitude, and the crank angle (−π..π) where it occurs."""

    acceleration: Acceleration
    crank_angle: Angle


@method(
    id="slider-crank-position",
    title="Piston drop below top dead centre",
    formula="x = √((l+r)² − e²) − r cos t − √(l² − (r sin t + e)²), t = φ − asin(e / (l+r))",
    symbols={
        "x": "drop below top dead centre [m]",
        "φ": "crank angle after top dead centre [rad]",
        "r": "crank radius [m]",
        "l": "rod length [m]",
        "e": "pin offset, + toward the thrust side [m]",
    },
    source="heywood-1988",
    locator="ch. 2, geometrical properties of reciprocating engines; offset added",
    evidence="textbook",
    valid="l > r + |e|",
    example=Example(
        {"crank_angle": pi / 2, "stroke": 0.06, "rod_length": 0.05},
        0.04,
        by="by hand: 3 + 5 − √(5² − 3²) = 4 cm",
        rel_tol=1e-12,
    ),
)
def piston_position(*, crank_angle: Angle, stroke: Length, rod_length: Length, pin_offset: Length = 0.0) -> Length:
    """Drop of the piston below its top dead centre in m, at any crank angle in rad after top dead centre.

    Raises:
        OutsideValidity, Contradiction: see ``crank_radius``.
    """
    crank = slider_crank(stroke=stroke, rod_length=rod_length, pin_offset=pin_offset)
    angle = crank_angle + crank.top_angle
    side = crank.radius * sin(angle) + pin_offset
    height = crank.radius * cos(angle) + sqrt((rod_length - side) * (rod_length + side))
    return max(0.0, crank.top_height - height)


@method(
    id="slider-crank-motion",
    title="Velocity and acceleration of the piston",
    formula="v = ω dx/dt, a = ω² d²x/dt² of x = √((l+r)² − e²) − r cos t − √(l² − (r sin t + e)²)",
    symbols={
        "v": "velocity away from the head [m/s]",
        "a": "acceleration away from the head [m/s²]",
        "ω": "speed of the crank [rad/s]",
        "t": "crank angle from upright [rad]",
    },
    source="mechanics",
    locator="closed derivatives of the loop closure of the slider-crank, no series",
    evidence="textbook",
    valid="l > r + |e|",
    example=Example(
        {"crank_angle": pi / 4, "stroke": 0.508, "rod_length": 0.508, "speed": 1.0},
        {"velocity": 9.744 * 0.0254},
        by="university worksheet: crank 10 in, rod 20 in, 45°, 1 rad/s: 9.744 in/s",
        rel_tol=6e-5,
    ),
)
def piston_motion_at(
    *, crank_angle: Angle, stroke: Length, rod_length: Length, speed: RotationalSpeed, pin_offset: Length = 0.0
) -> PistonMotion:
    """Position, velocity and acceleration of the piston at one crank angle, at a steady crank speed.

    Raises:
        OutsideValidity, Contradiction: see ``crank_radius``.
    """
    crank = slider_crank(stroke=stroke, rod_length=rod_length, pin_offset=pin_offset)
    angle = crank_angle + crank.top_angle
    along, across = crank.radius * cos(angle), crank.radius * sin(angle)
    side = across + pin_offset
    upright = sqrt((rod_length - side) * (rod_length + side))
    first = side * along / upright
    second = (along * along - side * across + first * first) / upright
    return PistonMotion(
        position=max(0.0, crank.top_height - along - upright),
        velocity=speed * (across + first),
        acceleration=speed * speed * (along + second),
    )


def rod_motion_at(
    *, crank_angle: Angle, stroke: Length, rod_length: Length, speed: RotationalSpeed, pin_offset: Length = 0.0
) -> RodMotion:
    """Tilt of the rod in rad, positive when its big end is away from the thrust side, with its rates.

    Differentiating ``l sin b = r sin t + e`` twice gives the rates; raises as ``crank_radius`` does.
    """
    crank = slider_crank(stroke=stroke, rod_length=rod_length, pin_offset=pin_offset)
    angle = crank_angle + crank.top_angle
    tilt_sine = (crank.radius * sin(angle) + pin_offset) / rod_length
    tilt_cosine = sqrt((1 - tilt_sine) * (1 + tilt_sine))
    rate = speed * crank.radius * cos(angle) / (rod_length * tilt_cosine)
    turn = speed * speed * crank.radius * sin(angle) / rod_length
    return RodMotion(asin(tilt_sine), rate, (tilt_sine * rate * rate - turn) / tilt_cosine)


def piston_motion_table(
    *, stroke: Length, rod_length: Length, speed: RotationalSpeed, pin_offset: Length = 0.0, points: int = 720
) -> MotionTable:
    """Piston motion over 720° from firing top dead centre in ``points`` equal steps, as arrays of that length.

    Raises:
        OutsideValidity: ``points`` is not 2 to 7200; and see ``crank_radius``.
        Contradiction: see ``crank_radius``.
    """
    if not 2 <= points <= 7200:
        raise OutsideValidity("points", "A table has 2 to 7200 rows; 720 gives one a degree.", "2-7200")
    crank = slider_crank(stroke=stroke, rod_length=rod_length, pin_offset=pin_offset)
    crank_angle = np.arange(points, dtype=np.float64) * (4 * pi / points)
    along, across = (
        crank.radius * np.cos(crank_angle + crank.top_angle),
        crank.radius * np.sin(crank_angle + crank.top_angle),
    )
    side = across + pin_offset
    upright = np.sqrt((rod_length - side) * (rod_length + side))
    first = side * along / upright
    second = (along * along - side * across + first * first) / upright
    return MotionTable(
        crank_angle,
        np.maximum(0.0, crank.top_height - along - upright),
        speed * (across + first),
        speed * speed * (along + second),
    )


@method(
    id="peak-piston-acceleration",
    title="Largest acceleration of the piston",
    formula="max |a(φ)|, where da/dφ = 0; r ω² (1 + r/l) at top dead centre without offset",
    symbols={"a": "acceleration of the piston [m/s²]", "φ": "crank angle after top dead centre [rad]"},
    source="taylor-1985",
    locator="vol. II, engine balance: piston acceleration; the extremum itself is solved here",
    evidence="textbook",
    valid="l > r + |e|",
    example=Example(
        {"stroke": 0.073, "rod_length": 0.136, "speed": 5500 * pi / 30},
        {"acceleration": 15358.0, "crank_angle": 0.0},
        by="by hand: 0.0365 · 575.96² · (1 + 36.5/136)",
    ),
)
def peak_acceleration(
    *, stroke: Length, rod_length: Length, speed: RotationalSpeed, pin_offset: Length = 0.0
) -> PeakAcceleration:
    """Exact extremum of the piston's acceleration.

    With rods of ordinary length it lies at, or with an offset next to, top dead centre. Rods shorter than the stroke
    have it elsewhere, so there the cycle is searched first.

    Raises:
        OutsideValidity, Contradiction: see ``crank_radius``.
    """
    crank = slider_crank(stroke=stroke, rod_length=rod_length, pin_offset=pin_offset)
    angle = crank.top_angle
    if rod_length < 2 * (crank.radius + abs(pin_offset)):
        table = piston_motion_table(stroke=stroke, rod_length=rod_length, speed=1.0, pin_offset=pin_offset)
        half = np.abs(table.acceleration[:360])
        angle += 2 * pi / 360 * int(np.argmax(half))
    for _ in range(20):
        second, third, fourth = _upper_derivatives(crank, angle)
        step = third / fourth if fourth else 0.0
        angle -= max(-0.02, min(0.02, step))
        if abs(step) < 1e-13:
            break
    second = _upper_derivatives(crank, angle)[0]
    crank_angle = (angle - crank.top_angle + pi) % (2 * pi) - pi
    return PeakAcceleration(speed * speed * abs(second), crank_angle)


def _upper_derivatives(crank: SliderCrank, angle: Angle) -> tuple[float, float, float]:
    """Second to fourth derivative of the pin height by the angle of the crank from upright, in m/rad^n.

    With ``s = r sin t + e`` and ``c² = l² − s²``, every derivative of c follows from differentiating ``c c' = −s s'``.
    """
    radius, rod_length, pin_offset = crank.radius, crank.rod_length, crank.pin_offset
    along, across = radius * cos(angle), radius * sin(angle)
    s = across + pin_offset
    c = sqrt((rod_length - s) * (rod_length + s))
    c1 = -s * along / c
    c2 = -(along * along - s * across + c1 * c1) / c
    c3 = -(-3 * along * across - s * along + 3 * c1 * c2) / c
    c4 = -(3 * across * across - 4 * along * along + s * across + 4 * c1 * c3 + 3 * c2 * c2) / c
    return -along + c2, across + c3, along + c4


@method(
    id="mean-piston-speed",
    title="Mean piston speed",
    formula="c_m = S ω / π",
    symbols={"c_m": "mean piston speed [m/s]", "S": "stroke [m]", "ω": "speed of the crank [rad/s]"},
    source="heywood-1988",
    locator="ch. 2: mean piston speed 2 L N",
    evidence="textbook",
    example=Example(
        {"stroke": 5.5 * 0.0254, "speed": 1200 * pi / 30},
        1100 * 0.3048 / 60,
        by="Kates, Diesel and High Compression Gas Engines, ch. 8: 1100 ft/min",
    ),
)
def mean_piston_speed(*, stroke: Length, speed: RotationalSpeed) -> Velocity:
    """Distance that the piston travels in one turn, two strokes, over the time of one turn, in m/s."""
    return stroke * speed / pi


def rod_ratio(*, stroke: Length, rod_length: Length) -> Ratio:
    """Rod length over stroke, as the trade counts it.

    Raises:
        OutsideValidity: the stroke is not above zero.
    """
    require_positive(stroke=stroke)
    return rod_length / stroke
