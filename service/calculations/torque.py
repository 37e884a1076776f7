"""Tightening torque, preload and how far they use a bolt up: the long form of VDI 2230, both ways.

The torque works against three things: the pitch (about a tenth of it), the friction of the thread and the friction
under the head or nut. Only the first stretches the bolt, which is why torque is a poor measure of preload.
"""

from math import cos, pi

from service.calculations.limits import require_positive
from service.errors import OutsideValidity
from service.methods import Example, method
from service.units import Angle, Force, Length, Ratio, Torque

LOWEST_FRICTION: Ratio = 0.03
HIGHEST_FRICTION: Ratio = 0.6


def check_friction(field: str, value: Ratio) -> None:
    """Refuse a coefficient of friction that no thread has.

    Raises:
        OutsideValidity: the value is not within 0.03 to 0.6.
    """
    if not LOWEST_FRICTION <= value <= HIGHEST_FRICTION:
        raise OutsideValidity(
            field,
            "A coefficient of friction of a bolted joint lies within 0.03 and 0.6; oiled steel is near 0.14. "
            "A nut factor is another number: send the condition of the thread instead.",
            "0.03 to 0.6",
        )


def thread_force_ratio(*, pitch: Length, pitch_diameter: Length, thread_angle: Angle, thread_friction: Ratio) -> Ratio:
    """Tangential force in the thread per unit of preload: P/(π d2) + µ/cos(α/2), first order in the helix angle."""
    return pitch / (pi * pitch_diameter) + thread_friction / cos(thread_angle / 2.0)


def _torque_arm(
    pitch: Length,
    pitch_diameter: Length,
    thread_angle: Angle,
    thread_friction: Ratio,
    bearing_diameter: Length,
    bearing_friction: Ratio,
) -> Length:
    """Torque per unit of preload, in m."""
    require_positive(pitch=pitch, pitch_diameter=pitch_diameter, bearing_diameter=bearing_diameter)
    check_friction("thread_friction", thread_friction)
    check_friction("bearing_friction", bearing_friction)
    thread = (
        pitch_diameter
        / 2.0
        * thread_force_ratio(
            pitch=pitch, pitch_diameter=pitch_diameter, thread_angle=thread_angle, thread_friction=thread_friction
        )
    )
    return thread + bearing_diameter / 2.0 * bearing_friction


_TORQUE_SYMBOLS = {
    "T": "tightening torque [N·m]",
    "F": "preload [N]",
    "P": "pitch [m]",
    "d2": "pitch diameter [m]",
    "α": "included angle of the thread [rad]",
    "µG": "coefficient of friction in the thread",
    "DKm": "mean bearing diameter under the head or nut [m]",
    "µK": "coefficient of friction under the head or nut",
}


@method(
    id="bearing-diameter",
    title="Mean diameter at which the head or nut rubs",
    formula="DKm = (dw + dh) / 2",
    symbols={"dw": "outer diameter of the bearing face [m]", "dh": "diameter of the hole [m]"},
    source="vdi-2230-1-2015",
    locator="effective diameter of the bearing area",
    evidence="standard",
    example=Example({"head_diameter": 0.013, "hole_diameter": 0.009}, 0.011, by="by hand: (13 + 9)/2 mm"),
)
def bearing_diameter(*, head_diameter: Length, hole_diameter: Length) -> Length:
    """Mean bearing diameter in m of a flat head, nut or washer face on a round hole.

    Raises:
        OutsideValidity: the outer diameter does not exceed the hole.
    """
    if not 0 < hole_diameter < head_diameter:
        raise OutsideValidity(
            "head_diameter", "The bearing face must be wider than the hole; send both diameters.", "> hole diameter"
        )
    return (head_diameter + hole_diameter) / 2.0


@method(
    id="tightening-torque",
    title="Tightening torque for a preload (long form)",
    formula="T = F · (P/(2π) + d2 µG / (2 cos(α/2)) + DKm µK / 2); at 60° F · (0.159 P + 0.577 d2 µG + 0.5 DKm µK)",
    symbols=_TORQUE_SYMBOLS,
    source="vdi-2230-1-2015",
    locator="tightening torque, section 5.4.3",
    evidence="standard",
    valid="friction 0.03 to 0.6; first order in the helix angle, within 1 % of the exact tangent form",
    example=Example(
        {
            "preload": 20.2e3,
            "pitch": 1e-3,
            "pitch_diameter": 7.350e-3,
            "thread_angle": pi / 3,
            "thread_friction": 0.12,
            "bearing_diameter": 10.315e-3,
            "bearing_friction": 0.12,
        },
        26.1,
        by="VDI 2230 table, M8x1 class 8.8, µ 0.12: 20.2 kN and 26.1 N·m",
        rel_tol=6e-3,
    ),
)
def tightening_torque(
    *,
    preload: Force,
    pitch: Length,
    pitch_diameter: Length,
    thread_angle: Angle,
    thread_friction: Ratio,
    bearing_diameter: Length,
    bearing_friction: Ratio,
) -> Torque:
    """Torque in N·m at the head or nut that gives the preload.

    Raises:
        OutsideValidity: the preload or a size is not positive, or a friction is not within 0.03 to 0.6.
    """
    require_positive(preload=preload)
    return preload * _torque_arm(pitch, pitch_diameter, thread_angle, thread_friction, bearing_diameter, bearing_friction)


@method(
    id="preload-from-torque",
    title="Preload that a torque gives",
    formula="F = T / (P/(2π) + d2 µG / (2 cos(α/2)) + DKm µK / 2)",
    symbols=_TORQUE_SYMBOLS,
    source="vdi-2230-1-2015",
    locator="tightening torque, section 5.4.3, solved for the preload",
    evidence="standard",
    valid="friction 0.03 to 0.6; take a prevailing torque off first",
    example=Example(
        {
            "torque": 142.0,
            "pitch": 1.5e-3,
            "pitch_diameter": 13.026e-3,
            "thread_angle": pi / 3,
            "thread_friction": 0.12,
            "bearing_diameter": 17.57e-3,
            "bearing_friction": 0.12,
        },
        64.8e3,
        by="VDI 2230 table, M14x1.5 class 8.8, µ 0.12: 64.8 kN and 142 N·m",
        rel_tol=6e-3,
    ),
)
def preload_from_torque(
    *,
    torque: Torque,
    pitch: Length,
    pitch_diameter: Length,
    thread_angle: Angle,
    thread_friction: Ratio,
    bearing_diameter: Length,
    bearing_friction: Ratio,
) -> Force:
    """Preload in N from the torque at the head or nut.

    Raises:
        OutsideValidity: the torque or a size is not positive, or a friction is not within 0.03 to 0.6.
    """
    require_positive(torque=torque)
    return torque / _torque_arm(pitch, pitch_diameter, thread_angle, thread_friction, bearing_diameter, bearing_friction)


@method(
    id="nut-factor",
    title="Nut factor of a tightening",
    formula="K = T / (F d)",
    symbols={"K": "nut factor", "T": "torque [N·m]", "F": "preload [N]", "d": "nominal diameter [m]"},
    source="shigley-mischke-1989",
    locator="bolt torque, T = K F d solved for K",
    evidence="textbook",
    example=Example(
        {"torque": 5.649, "preload": 6476.5, "diameter": 0.00635},
        0.137,
        by="AC 43.13-1B table 7-1, 1/4-28: 50 lbf·in at 0.0364 in² × 40,000 psi",
        rel_tol=4e-3,
    ),
)
def nut_factor(*, torque: Torque, preload: Force, diameter: Length) -> Ratio:
    """Nut factor K, a plain number near 0.2; it sums up pitch and both frictions for one size.

    Raises:
        OutsideValidity: an argument is not positive.
    """
    require_positive(torque=torque, preload=preload, diameter=diameter)
    return torque / (preload * diameter)


@method(
    id="nut-factor-torque",
    title="Torque by the nut factor (short form)",
    formula="T = K F d",
    symbols={"T": "torque [N·m]", "K": "nut factor", "F": "preload [N]", "d": "nominal diameter [m]"},
    source="shigley-mischke-1989",
    locator="bolt torque, T = K F d",
    evidence="textbook",
    valid="K holds for one size, finish and lubricant only",
    example=Example(
        {"nut_factor": 0.2, "preload": 111205.5, "diameter": 0.01905},
        423.69,
        by="3/4-16 UNF, 25,000 lbf, K 0.2: 3750 lbf·in",
    ),
)
def nut_factor_torque(*, nut_factor: Ratio, preload: Force, diameter: Length) -> Torque:
    """Torque in N·m that gives a preload in N to a thread of a nominal diameter in m, by its nut factor.

    Raises:
        OutsideValidity: an argument is not positive.
    """
    require_positive(nut_factor=nut_factor, preload=preload, diameter=diameter)
    return nut_factor * preload * diameter


@method(
    id="torque-rebased",
    title="Torque for another condition of the thread at equal preload",
    formula="T2 = T1 · K2 / K1",
    symbols={"T1": "listed torque [N·m]", "K1": "nut factor it was listed for", "K2": "nut factor of the thread"},
    source="mechanics",
    locator="T = K F d at equal F and d",
    evidence="derived",
    example=Example({"torque": 34.0, "listed_nut_factor": 0.20, "actual_nut_factor": 0.15}, 25.5, by="by hand: 34 · 0.15/0.20"),
)
def rebased_torque(*, torque: Torque, listed_nut_factor: Ratio, actual_nut_factor: Ratio) -> Torque:
    """Torque in N·m that gives with the actual friction the preload that the listed torque was meant to give.

    Raises:
        OutsideValidity: an argument is not positive.
    """
    require_positive(torque=torque, listed_nut_factor=listed_nut_factor, actual_nut_factor=actual_nut_factor)
    return torque * actual_nut_factor / listed_nut_factor
