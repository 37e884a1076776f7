"""Cams ground from circular arcs (base, flank, nose) under a flat tappet: the exact motion of old industrial engines."""

from math import acos, atan2, cos, sin
from typing import NamedTuple

import numpy as np

from service.calculations.cam_lobe import LobeTable
from service.calculations.limits import require_positive
from service.calculations.roots import find_root
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


def arc_cam_from_duration(
    *,
    base_circle_radius: Length,
    nose_radius: Length,
    cam_lift: Length,
    duration: Angle,
    checking_lift: Length,
    duration_field: str = "duration",
) -> ArcCam:
    """The cam of arcs that has risen by the checking lift a quarter of the duration (crank angle) before and after its nose.

    The tappet already moves outside of the checked part, so the lifting part of the cam is wider than half the duration.
    ``duration_field`` is the name under which the caller sent the duration, for a refusal.

    Raises:
        OutsideValidity: the checking lift is not below the cam lift, or the duration is too long for a cam of arcs.
        Contradiction: no cam of these arcs has this duration at this lift.
    """
    require_positive(base_circle_radius=base_circle_radius, nose_radius=nose_radius, cam_lift=cam_lift)
    if not 0 <= checking_lift < cam_lift:
        reason = "A duration is checked below full lift; send a lift between zero and the cam lift."
        raise OutsideValidity("checking_lift", reason, "< cam lift")
    quarter = duration / 4
    if not 0 < quarter < np.pi / 2:
        reason = "A cam of arcs lifts over less than 360 degrees of the crank."
        raise OutsideValidity(duration_field, reason, "0 to 360 deg of the crank")

    def cam_of(half_width: Angle) -> ArcCam:
        return arc_cam(base_circle_radius=base_circle_radius, nose_radius=nose_radius, cam_lift=cam_lift, half_width=half_width)

    if checking_lift == 0:
        return cam_of(quarter)

    def surplus(half_width: Angle) -> Length:
        return _lift_from_nose(cam_of(half_width), quarter) - checking_lift

    # A flank begins to bulge where OQ cos α = d; the wider the cam, the higher the tappet stands at the checked angle.
    apart = base_circle_radius - nose_radius
    flat = acos(apart / (apart + cam_lift)) if apart > 0 else 0.0
    low, high = max(quarter, flat + 1e-6), np.pi / 2 - 1e-6
    if not (apart > 0 and low < high and surplus(low) <= 0 <= surplus(high)):
        raise Contradiction(
            (duration_field, "checking_lift", "cam_lift", "base_circle_radius", "nose_radius"),
            "No cam of these arcs has this duration at this lift. Send radii, not diameters, the duration in degrees of the "
            "crank, and the tappet lift at which it was taken.",
        )
    return cam_of(find_root(surplus, low, high))


def _lift_from_nose(cam: ArcCam, from_nose: Angle) -> Length:
    """Tappet lift at a cam angle from the nose, within the lifting part."""
    turned = cam.half_width - from_nose
    if turned <= cam.flank_angle:
        return cam.flank_centre * (1 - cos(turned))
    return cam.nose_centre * cos(from_nose) - (cam.base_circle_radius - cam.nose_radius)


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
