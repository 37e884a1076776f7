"""What the tightening adds to the number: scatter of preload, tolerance of the wrench, adapters, range, unit slips."""

from math import cos, sqrt
from typing import NamedTuple

from service.errors import OutsideValidity
from service.methods import Example, method
from service.units import Angle, Force, Length, Ratio, Torque

# Conformance of a setting tool is tested at 20, 60 and 100 % of its range, so nothing is known below a fifth of it.
LOWEST_TESTED_SHARE: Ratio = 0.2

# One pound-force foot in newton metres, exact: 0.3048 m × 0.45359237 kg × 9.80665 m/s².
POUND_FORCE_FOOT: Torque = 1.3558179483314004


class Band(NamedTuple):
    """A value with its lower and upper end, all in the same unit."""

    low: float
    nominal: float
    high: float


class ScaleUse(NamedTuple):
    """Where on the scale of a wrench a torque lies: the share of full scale, and whether wrenches are tested there."""

    share: Ratio
    within: bool


def _check_share(field: str, value: Ratio, what: str) -> None:
    if not 0 <= value < 1:
        raise OutsideValidity(field, f"{what} is a share of the value, from 0 to below 1: send 0.25 for ±25 %.", "0 to 1")


@method(
    id="symmetric-band",
    title="Band of a value with a relative half-width",
    formula="x (1 − s) … x (1 + s)",
    symbols={"x": "nominal value", "s": "half-width as a share of it"},
    source="nasa-std-5020",
    locator="preload variation about the nominal preload",
    evidence="standard",
    example=Example({"nominal": 16.7e3, "half_width": 0.25}, {"low": 12525.0, "high": 20875.0}, by="by hand: 16.7 kN ± 25 %"),
)
def symmetric_band(*, nominal: float, half_width: Ratio) -> Band:
    """Band about a nominal value, in its unit.

    Raises:
        OutsideValidity: the half-width is not within 0 and 1.
    """
    _check_share("half_width", half_width, "The half-width")
    return Band(nominal * (1.0 - half_width), nominal, nominal * (1.0 + half_width))


@method(
    id="wrench-tolerance",
    title="Permissible deviation of an indicating or setting torque wrench",
    formula="±4 % of the torque; ±6 % for wrenches up to 10 N·m",
    source="iso-6789-1-2017",
    locator="type II class A, permissible relative deviation",
    evidence="standard",
    valid="from 20 to 100 % of full scale, within the interval of its certificate",
    example=Example({"full_scale": 100.0}, 0.04, by="ISO 6789 type II class A above 10 N·m: ±4 %"),
)
def wrench_tolerance(*, full_scale: Torque) -> Ratio:
    """Permissible relative deviation of a setting wrench (type II class A) by its largest torque in N·m.

    Raises:
        OutsideValidity: the full scale is not positive.
    """
    if full_scale <= 0:
        raise OutsideValidity("full_scale", "The largest torque of the wrench must be above zero.", "> 0")
    # A scale converted from kgf·m or lbf·ft may miss 10 N·m by the last digit of the conversion.
    return 0.06 if full_scale <= 10.0 * (1.0 + 1e-9) else 0.04


@method(
    id="wrench-scale-use",
    title="Share of a wrench's scale that a torque uses",
    formula="share = T / T_max, tested from 20 to 100 %",
    symbols={"T": "torque set [N·m]", "T_max": "largest torque of the wrench [N·m]"},
    source="iso-6789-1-2017",
    locator="test points at 20, 60 and 100 % of the maximum",
    evidence="standard",
    example=Example({"torque": 25.0, "full_scale": 200.0}, {"share": 0.125}, by="by hand: 25/200"),
)
def wrench_scale_use(*, torque: Torque, full_scale: Torque) -> ScaleUse:
    """Share of the scale at which a torque lies, and whether it is in the tested part.

    Raises:
        OutsideValidity: the torque or the full scale is not positive.
    """
    if torque <= 0:
        raise OutsideValidity("torque", "The torque must be above zero.", "> 0")
    if full_scale <= 0:
        raise OutsideValidity("full_scale", "The largest torque of the wrench must be above zero.", "> 0")
    share = torque / full_scale
    slack = 1e-9
    return ScaleUse(share, LOWEST_TESTED_SHARE - slack <= share <= 1.0 + slack)


@method(
    id="preload-envelope",
    title="Preload band from the scatter of the method, the range of friction and the tolerance of the wrench",
    formula="low = min(F (1 − s), F − √((F − F_µhigh)² + (w F)²)); high = max(F (1 + s), F + √((F_µlow − F)² + (w F)²))",
    symbols={
        "F": "nominal preload [N]",
        "s": "scatter of the tightening method as published",
        "F_µlow, F_µhigh": "preload of the same torque at the lowest and highest friction of the condition [N]",
        "w": "permissible deviation of the wrench",
    },
    source="derived",
    locator="friction and wrench combined as independent (GUM 5.1.2); the published scatter already holds both",
    evidence="derived",
    valid="an envelope of two descriptions of the same scatter, not a probability",
    example=Example(
        {"nominal": 100.0, "at_high_friction": 70.0, "at_low_friction": 140.0, "wrench": 0.3, "scatter": 0.25},
        {"low": 100 - 42.426407, "high": 150.0},
        by="by hand: √(30² + 30²) = 42.426; √(40² + 30²) = 50",
    ),
)
def preload_envelope(*, nominal: Force, at_high_friction: Force, at_low_friction: Force, wrench: Ratio, scatter: Ratio) -> Band:
    """Band of preload in N that covers both what is published for the method and what the frictions would give.

    The published scatter of torque control (25 or 35 %) was measured on joints and already contains friction and
    wrench, so the two are not multiplied: each end is the farther of the two.

    Raises:
        OutsideValidity: a share is not within 0 and 1.
        OutsideValidity: the preloads are not in the order high friction, nominal, low friction.
    """
    _check_share("wrench", wrench, "The deviation of the wrench")
    published = symmetric_band(nominal=nominal, half_width=scatter)
    if not 0 < at_high_friction <= nominal <= at_low_friction:
        raise OutsideValidity("nominal", "More friction must give less preload than the nominal, and less more.")
    tool = wrench * nominal
    below = nominal - at_high_friction
    above = at_low_friction - nominal
    return Band(
        max(0.0, min(published.low, nominal - sqrt(below * below + tool * tool))),
        nominal,
        max(published.high, nominal + sqrt(above * above + tool * tool)),
    )


@method(
    id="wrench-setting-with-adapter",
    title="Wrench setting with a crow-foot or extension",
    formula="T_set = T · L / (L + E cos β)",
    symbols={
        "T": "torque at the fastener [N·m]",
        "L": "length of the wrench, from its drive to the middle of the grip [m]",
        "E": "length of the adapter between the centres of drive and fastener [m]; below zero folded back",
        "β": "angle between wrench and adapter, 0 when it lengthens the wrench [rad]",
    },
    source="navedtra-14315",
    locator="torque adapters and extensions",
    evidence="government",
    valid="hand in the middle of the grip, wrench pulled square",
    example=Example(
        {"torque": 15.2529, "wrench_length": 0.254, "adapter_length": 0.0381, "adapter_angle": 0.0},
        13.2634,
        by="135 lbf·in with a 10 in wrench and a 1.5 in adapter: 117.39 lbf·in",
    ),
)
def wrench_setting(
    *, torque: Torque, wrench_length: Length, adapter_length: Length = 0.0, adapter_angle: Angle = 0.0
) -> Torque:
    """Torque in N·m to set on the wrench so that the fastener gets the torque through the adapter.

    Raises:
        OutsideValidity: the torque or the wrench length is not positive, or the adapter folds back so far that less
            than a fifth of the wrench remains as lever.
    """
    if torque <= 0:
        raise OutsideValidity("torque", "The torque must be above zero.", "> 0")
    if wrench_length <= 0:
        raise OutsideValidity(
            "adapter/wrench_length",
            "Send the length of the wrench from the centre of its drive to the middle of the grip.",
            "> 0",
        )
    lever = wrench_length + adapter_length * cos(adapter_angle)
    if lever < 0.2 * wrench_length:
        raise OutsideValidity(
            "adapter/length",
            "The adapter folds back so far that less than a fifth of the wrench is left as lever. Turn it to a right "
            "angle, where the setting does not change, or use a longer wrench.",
            "L + E cos β ≥ 0.2 L",
        )
    # As a ratio of lengths, so that no adapter leaves the torque exactly as it is.
    return torque / (lever / wrench_length)


@method(
    id="prevailing-torque",
    title="Torque of a self-locking nut",
    formula="T = T_clamp + T_prevailing",
    source="faa-ac-43-13-1b",
    locator="chapter 7, torque of self-locking nuts: the friction drag is added",
    evidence="government",
    example=Example({"torque": 30.0, "prevailing": 4.0}, 34.0, by="by hand: 30 + 4 N·m"),
)
def with_prevailing_torque(*, torque: Torque, prevailing: Torque) -> Torque:
    """Torque in N·m to apply to a self-locking nut that turns with the prevailing torque before it seats.

    Raises:
        OutsideValidity: the torque is not positive or the prevailing torque is negative.
    """
    if torque <= 0:
        raise OutsideValidity("torque", "The torque must be above zero.", "> 0")
    if prevailing < 0:
        raise OutsideValidity("prevailing_torque", "The prevailing torque cannot be negative; send 0 for none.", ">= 0")
    return torque + prevailing


def clamping_torque(*, torque: Torque, prevailing: Torque) -> Torque:
    """The part in N·m of an applied torque that clamps, once the nut's prevailing torque is taken off.

    Raises:
        OutsideValidity: the prevailing torque is negative or eats up the whole torque.
    """
    if prevailing < 0:
        raise OutsideValidity("prevailing_torque", "The prevailing torque cannot be negative; send 0 for none.", ">= 0")
    if torque <= prevailing:
        raise OutsideValidity(
            "torque", "The prevailing torque of the nut eats up the whole torque; send the total torque.", "> prevailing"
        )
    return torque - prevailing


@method(
    id="torque-unit-slip",
    title="Torque that looks as if typed in the other unit",
    formula="|T · 1.3558 − T_table| ≤ 3 % of T_table, or |T / 1.3558 − T_table| ≤ 3 %",
    symbols={"T": "torque as understood [N·m]", "T_table": "torque listed for the fastener [N·m]"},
    source="common-practice",
    locator="a lbf·ft figure typed as N·m, or the reverse",
    evidence="common-practice",
    example=Example({"torque": 14.0, "listed": 19.0}, 1.0, by="by hand: 14 lbf·ft = 18.98 N·m"),
)
def looks_like_other_torque_unit(*, torque: Torque, listed: Torque) -> bool:
    """Whether a torque, read in lbf·ft instead of N·m or the reverse, would be the listed one within 3 %.

    Raises:
        OutsideValidity: a torque is not positive.
    """
    if torque <= 0 or listed <= 0:
        raise OutsideValidity("torque", "The torque must be above zero.", "> 0")
    return any(abs(candidate - listed) <= 0.03 * listed for candidate in (torque * POUND_FORCE_FOOT, torque / POUND_FORCE_FOOT))
