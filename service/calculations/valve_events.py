"""The timing card of a camshaft both ways, lift at the valve, and the gap between valve and piston.

Events are crank angles counted outward from the dead centre that they belong to: intake opening before top, intake
closing after bottom, exhaust opening before bottom, exhaust closing after top dead centre; negative on the other side.
Lobe centres and advance are crank angles; the lobe separation is the angle between the lobes on the camshaft.
"""

from math import cos, pi
from typing import NamedTuple

import numpy as np

from service.calculations.cam_lobe import LobeTable
from service.calculations.limits import require_not_negative, require_positive
from service.calculations.slider_crank import slider_crank
from service.errors import OutsideValidity
from service.methods import Example, method
from service.units import Angle, FloatArray, Length, Ratio

DEGREE = pi / 180


class TimingCard(NamedTuple):
    """The four events in rad of the crank."""

    intake_opening: Angle
    intake_closing: Angle
    exhaust_opening: Angle
    exhaust_closing: Angle


class CamTiming(NamedTuple):
    """Durations, lobe centres (intake after, exhaust before overlap top dead centre), separation, overlap, advance."""

    intake_duration: Angle
    exhaust_duration: Angle
    intake_lobe_centre: Angle
    exhaust_lobe_centre: Angle
    lobe_separation: Angle
    overlap: Angle
    advance: Angle


@method(
    id="cam-timing",
    title="Durations, lobe centres, separation and overlap from a timing card",
    formula="dur = O + 180° + C; ICL = dur_in/2 − IO; ECL = dur_ex/2 − EC; LSA = (ICL + ECL)/2; overlap = IO + EC; "
    "advance = (ECL − ICL)/2",
    symbols={
        "IO": "intake opens before top dead centre",
        "IC": "intake closes after bottom dead centre",
        "EO": "exhaust opens before bottom dead centre",
        "EC": "exhaust closes after top dead centre",
        "ICL, ECL": "lobe centres after and before top dead centre [crank angle]",
        "LSA": "lobe separation [cam angle]",
    },
    source="geometry",
    locator="symmetric lobes; two turns of the crank to one of the cam",
    evidence="common-practice",
    valid="symmetric lobes; all events at one checking lift",
    example=Example(
        {
            "intake_opening": 32.5 * DEGREE,
            "intake_closing": 60.5 * DEGREE,
            "exhaust_opening": 70.5 * DEGREE,
            "exhaust_closing": 32.5 * DEGREE,
        },
        {
            "intake_duration": 273.0 * DEGREE,
            "exhaust_duration": 283.0 * DEGREE,
            "overlap": 65.0 * DEGREE,
            "intake_lobe_centre": 104.0 * DEGREE,
            "exhaust_lobe_centre": 109.0 * DEGREE,
            "lobe_separation": 106.5 * DEGREE,
            "advance": 2.5 * DEGREE,
        },
        by="TM 5-4310-389-14, valve timing; the sums by hand",
        rel_tol=1e-9,
    ),
)
def cam_timing(*, intake_opening: Angle, intake_closing: Angle, exhaust_opening: Angle, exhaust_closing: Angle) -> CamTiming:
    """What a timing card means, in rad. ``overlap`` is negative when the exhaust shuts before the intake opens.

    Raises:
        OutsideValidity: a valve would be open for no or more than 540° of the crank.
    """
    intake = intake_opening + pi + intake_closing
    exhaust = exhaust_opening + pi + exhaust_closing
    for field, duration in (("intake_closing", intake), ("exhaust_closing", exhaust)):
        if not 0 < duration < 3 * pi:
            raise OutsideValidity(
                field,
                "These events hold the valve open for no or more than 540° of the crank. Count intake opening before "
                "top, intake closing after bottom, exhaust opening before bottom, exhaust closing after top dead "
                "centre; an event on the other side is negative.",
                "duration 0 to 540 deg",
            )
    intake_centre = intake / 2 - intake_opening
    exhaust_centre = exhaust / 2 - exhaust_closing
    return CamTiming(
        intake,
        exhaust,
        intake_centre,
        exhaust_centre,
        (intake_centre + exhaust_centre) / 2,
        intake_opening + exhaust_closing,
        (exhaust_centre - intake_centre) / 2,
    )


@method(
    id="timing-card",
    title="Timing card from durations, lobe separation and advance",
    formula="IO = dur_in/2 − (LSA − adv); IC = dur_in/2 + (LSA − adv) − 180°; EC = dur_ex/2 − (LSA + adv); "
    "EO = dur_ex/2 + (LSA + adv) − 180°",
    symbols={"LSA": "lobe separation [cam angle]", "adv": "advance of the camshaft [crank angle]"},
    source="geometry",
    locator="cam timing, solved for the events",
    evidence="common-practice",
    valid="symmetric lobes",
    example=Example(
        {
            "intake_duration": 276.0 * DEGREE,
            "exhaust_duration": 276.0 * DEGREE,
            "lobe_separation": 108.0 * DEGREE,
            "advance": 4.0 * DEGREE,
        },
        {
            "intake_opening": 34.0 * DEGREE,
            "intake_closing": 62.0 * DEGREE,
            "exhaust_opening": 70.0 * DEGREE,
            "exhaust_closing": 26.0 * DEGREE,
        },
        by="by hand: 138 − 104, 138 + 104 − 180, 138 + 112 − 180, 138 − 112",
        rel_tol=1e-9,
    ),
)
def timing_card(*, intake_duration: Angle, exhaust_duration: Angle, lobe_separation: Angle, advance: Angle = 0.0) -> TimingCard:
    """The four events in rad of the crank. Advance turns both lobes earlier.

    Raises:
        OutsideValidity: a duration is not above zero.
    """
    require_positive(intake_duration=intake_duration, exhaust_duration=exhaust_duration)
    intake_centre, exhaust_centre = lobe_separation - advance, lobe_separation + advance
    return TimingCard(
        intake_duration / 2 - intake_centre,
        intake_duration / 2 + intake_centre - pi,
        exhaust_duration / 2 + exhaust_centre - pi,
        exhaust_duration / 2 - exhaust_centre,
    )


@method(
    id="valve-lift",
    title="Lift at the valve",
    formula="s_v = max(0, R s − lash)",
    symbols={"s_v": "valve lift [m]", "R": "rocker ratio at half lift", "s": "lift at the tappet [m]"},
    source="mechanics",
    locator="lever less the free play, lash measured at the valve",
    evidence="common-practice",
    example=Example({"cam_lift": 0.008, "rocker_ratio": 1.1, "lash": 0.00015}, 0.00865, by="by hand: 8.8 − 0.15 mm"),
)
def valve_lift(*, cam_lift: Length, rocker_ratio: Ratio, lash: Length = 0.0) -> Length:
    """Lift of the valve in m for a lift at the tappet.

    Raises:
        OutsideValidity: cam lift or lash is negative, or the ratio is not above zero.
    """
    require_not_negative(cam_lift=cam_lift, lash=lash)
    require_positive(rocker_ratio=rocker_ratio)
    return max(0.0, rocker_ratio * cam_lift - lash)


class ValveToPiston(NamedTuple):
    """Least gap between valve and piston along the valve's axis, and the crank angle after overlap top dead centre."""

    gap: Length
    crank_angle: Angle


@method(
    id="valve-to-piston",
    title="Gap between valve and piston",
    formula="g(φ) = c₀ + x(φ) cos β − R s(φ)",
    symbols={
        "g": "gap along the valve's axis [m]",
        "c₀": "gap at top dead centre with the valve shut [m]",
        "x": "piston drop [m]",
        "β": "angle between valve and cylinder axis [rad]",
        "R s": "valve lift without lash [m]",
    },
    source="derived",
    locator="geometry; the least gap is sought over ±60° of the crank about overlap top dead centre",
    evidence="derived",
    valid="valve pocket and head of the valve parallel; float and stretch not in it",
    example=Example(
        {"clearance_at_top": 0.005, "piston_drop": 0.002, "valve_angle": pi / 3, "valve_lift": 0.0035},
        0.0025,
        by="by hand: 5 + 2 · ½ − 3.5 mm",
        rel_tol=1e-9,
    ),
)
def valve_to_piston_gap(*, clearance_at_top: Length, piston_drop: Length, valve_angle: Angle, valve_lift: Length) -> Length:
    """Gap in m along the valve's axis at one crank angle; zero or less means contact."""
    return clearance_at_top + piston_drop * cos(valve_angle) - valve_lift


def valve_to_piston(
    *,
    clearance_at_top: Length,
    valve_angle: Angle,
    lobe: LobeTable,
    lobe_centre: Angle,
    rocker_ratio: Ratio,
    stroke: Length,
    rod_length: Length,
    pin_offset: Length = 0.0,
) -> ValveToPiston:
    """Least gap in m over ±60° of the crank about overlap top dead centre and where it occurs, for one valve.

    Lash is left out, on the safe side.

    ``lobe_centre`` is the crank angle of full lift after overlap top dead centre: negative for the exhaust.

    Raises:
        OutsideValidity: the valve leans 90° or more, or the ratio is not above zero.
        Contradiction: see ``slider_crank.crank_radius``.
    """
    require_positive(rocker_ratio=rocker_ratio)
    if not abs(valve_angle) < pi / 2:
        raise OutsideValidity("valve_angle", "The angle between valve and cylinder axis is below 90°.", "0 to 90 deg")
    crank = slider_crank(stroke=stroke, rod_length=rod_length, pin_offset=pin_offset)
    angle = lobe_centre + 2 * lobe.cam_angle
    near = np.abs(angle) <= pi / 3
    at_top = ValveToPiston(clearance_at_top, 0.0)
    if not np.any(near):
        return at_top
    angle, lift = angle[near], rocker_ratio * lobe.lift[near]
    turned = angle + crank.top_angle
    side = crank.radius * np.sin(turned) + pin_offset
    height = crank.radius * np.cos(turned) + np.sqrt((rod_length - side) * (rod_length + side))
    found = _lowest(angle, clearance_at_top + (crank.top_height - height) * cos(valve_angle) - lift)
    return min(found, at_top) if not angle[0] < 0 < angle[-1] else found


def _lowest(angle: FloatArray, gap: FloatArray) -> ValveToPiston:
    """Lowest point of a table, by the parabola through its three lowest rows unless it lies at an end."""
    least = int(np.argmin(gap))
    if not 0 < least < len(gap) - 1:
        return ValveToPiston(float(gap[least]), float(angle[least]))
    before, here, after = (float(value) for value in gap[least - 1 : least + 2])
    bend = before - 2 * here + after
    shift = (before - after) / 2 / bend if bend > 0 else 0.0
    step = float(angle[least + 1] - angle[least])
    return ValveToPiston(here - (before - after) * shift / 4, float(angle[least]) + shift * step)
