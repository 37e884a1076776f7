"""Cams ground from circular arcs (base, flank, nose) under a flat tappet: the exact motion of old industrial engines."""

from math import atan2, cos, sin
from typing import NamedTuple

import numpy as np

from service.calculations.cam_lobe import LobeTable
from service.calculations.limits import require_positive
from service.errors import Contradiction, OutsideValidity
from service.methods import Example, method
from service.units import Angle, Length


class ArcCam(NamedTuple):
    """A symmetric cam of three arcs: radii, half of the cam angle that lifts, and where flank and nose are centred."""

    base_circle_radius: Length
    nose_radius: Length
    flank_radius: Length
    half_width: Angle
    nose_centre: Length
    """Distance of the nose's centre from the cam's centre."""
    flank_centre: Length
    """Distance of the flank's centre from the cam's centre."""
    flank_angle: Angle
    """Cam angle over which the tappet rides on the flank, from the start of lift."""


@method(
    id="arc-cam",
    title="Cam of circular arcs under a flat tappet",
    formula="OQ = r_b + L − r_n; OP = (OQ² − d²) / (2 (d − OQ cos α)), d = r_b − r_n; R = OP + r_b; "
    "flank s = OP (1 − cos t), nose s = OQ cos(α − t) − d",
    symbols={
        "r_b, r_n, R": "radii of base circle, nose and flank [m]",
        "L": "lift [m]",
        "α": "half of the cam angle that lifts [rad]",
        "OQ, OP": "distances of the centres of nose and flank from the cam's centre [m]",
        "t": "cam angle from the start of lift [rad]",
    },
    source="norton-2009",
    locator="circular-arc cam with a flat-faced follower; also Bevan, Theory of Machines, ch. 9",
    evidence="textbook",
    valid="flanks that bulge: OQ cos α < d",
    example=Example(
        {
            "base_circle_radius": 1.125 * 0.0254,
            "nose_radius": 0.125 * 0.0254,
            "cam_lift": 0.5 * 0.0254,
            "half_width": 0.9599310885968813,
        },
        {"flank_centre": 4.477 * 0.0254, "nose_centre": 1.5 * 0.0254},
        by="Bevan, ch. 9 example 5: OP = 4.477 in at half-angle 55°",
        rel_tol=3e-4,
    ),
)
def arc_cam(*, base_circle_radius: Length, nose_radius: Length, cam_lift: Length, half_width: Angle) -> ArcCam:
    """The cam whose flanks run smoothly into base circle and nose.

    Raises:
        OutsideValidity: a value is not above zero, or half the lift's cam angle is 90° or more.
        Contradiction: no bulging flank joins this base circle and nose.
    """
    require_positive(base_circle_radius=base_circle_radius, nose_radius=nose_radius, cam_lift=cam_lift)
    if not 0 < half_width < np.pi / 2:
        raise OutsideValidity(
            "half_width", "A cam of arcs lifts over less than 180° of the cam, 360° of the crank.", "0 to 90 deg of the cam"
        )
    apart = base_circle_radius - nose_radius
    nose_centre = base_circle_radius + cam_lift - nose_radius
    bulge = apart - nose_centre * cos(half_width)
    if apart <= 0 or bulge <= 1e-9 * apart:
        raise Contradiction(
            ("base_circle_radius", "nose_radius", "cam_lift"),
            "No bulging flank joins this nose to this base circle: a flat tappet would need a larger base circle, a "
            "smaller nose or a longer duration. Send radii, not diameters, and the lift at the tappet.",
        )
    flank_centre = (nose_centre * nose_centre - apart * apart) / (2 * bulge)
    # Equal tappet velocity where flank and nose meet: OP sin t = OQ sin(α − t).
    flank_angle = atan2(nose_centre * sin(half_width), flank_centre + nose_centre * cos(half_width))
    return ArcCam(
        base_circle_radius,
        nose_radius,
        flank_centre + base_circle_radius,
        half_width,
        nose_centre,
        flank_centre,
        flank_angle,
    )


def arc_cam_table(*, cam: ArcCam, points: int = 721) -> LobeTable:
    """Lift and its derivatives over the lobe, in an odd number of points; the acceleration jumps where the arcs meet."""
    cam_angle = np.linspace(-cam.half_width, cam.half_width, points | 1)
    from_nose = np.abs(cam_angle)
    turned = cam.half_width - from_nose
    flank = turned <= cam.flank_angle
    apart = cam.base_circle_radius - cam.nose_radius
    lift = np.where(flank, cam.flank_centre * (1 - np.cos(turned)), cam.nose_centre * np.cos(from_nose) - apart)
    rate = np.where(flank, cam.flank_centre * np.sin(turned), cam.nose_centre * np.sin(from_nose))
    bend = np.where(flank, cam.flank_centre * np.cos(turned), -cam.nose_centre * np.cos(from_nose))
    return LobeTable(cam_angle, np.maximum(lift, 0.0), -np.sign(cam_angle) * rate, bend)
