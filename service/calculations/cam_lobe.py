"""A cam lobe rebuilt from its card: an estimate of the real lobe, from lift and two durations.

The lift over the nose is a five-term polynomial that meets the base circle with four vanishing derivatives. Its first
exponent beside 2 says how full the lobe is; it follows from the two durations. The real lobe differs: take lifts as
good to a few hundredths of a millimetre and accelerations to about ±10 %.
"""

import math
from functools import lru_cache
from math import pi
from typing import NamedTuple

import numpy as np

from service.calculations.limits import require_positive
from service.calculations.roots import find_root
from service.errors import Contradiction, OutsideValidity
from service.methods import Example, method
from service.units import Angle, FloatArray, Length, Ratio

LOWEST_EXPONENT, HIGHEST_EXPONENT = 2.05, 60.0
LOBE_FIELDS = ("advertised_duration", "advertised_checking_lift", "checked_duration", "checking_lift")


class Lobe(NamedTuple):
    """A symmetric lobe: lift at the tappet, half-width in cam angle from nose to base circle, leading exponent."""

    lift: Length
    half_width: Angle
    exponent: Ratio


class LobeTable(NamedTuple):
    """Motion of a flat tappet over the lobe; arrays of one length, cam angle counted from the nose."""

    cam_angle: FloatArray
    lift: FloatArray
    velocity: FloatArray
    """First derivative by the cam angle in m/rad, which is also how far the contact moves off the tappet's centre."""
    acceleration: FloatArray
    """Second derivative by the cam angle in m/rad²; negative over the nose."""


@method(
    id="lobe-coefficients",
    title="Polynomial of an estimated cam lobe",
    formula="s/L = 1 + Σ Cᵢ x^pᵢ, p = 2, k, k+2, k+4, k+6, Cᵢ = −Π_{j≠i} pⱼ/(pⱼ − pᵢ), x = a/β",
    symbols={
        "s": "tappet lift [m]",
        "L": "lift at the nose [m]",
        "a": "cam angle from the nose [rad]",
        "β": "half-width [rad]",
        "k": "leading exponent",
    },
    source="norton-2009",
    locator="polynomial cam profiles; symmetric 2-p-q-r-s form",
    evidence="textbook",
    valid="2.05 ≤ k ≤ 60",
    example=Example(
        {"exponent": 4.0},
        {"square": -5.0, "first": 10.0, "second": -10.0, "third": 5.0, "fourth": -1.0},
        by="by hand: k = 4 gives (1 − x²)⁵ = 1 − 5x² + 10x⁴ − 10x⁶ + 5x⁸ − x¹⁰",
        rel_tol=1e-12,
    ),
)
def lobe_coefficients(*, exponent: Ratio) -> "LobeCoefficients":
    """Coefficients of x², x^k, x^(k+2), x^(k+4) and x^(k+6).

    Raises:
        OutsideValidity: the exponent is not 2.05 to 60.
    """
    if not LOWEST_EXPONENT <= exponent <= HIGHEST_EXPONENT:
        raise OutsideValidity("exponent", "The exponent of an estimated lobe is 2.05 to 60; cams have 4 to 15.", "2.05-60")
    powers = (2.0, exponent, exponent + 2, exponent + 4, exponent + 6)
    found = []
    for own in powers:
        coefficient = -1.0
        for other in powers:
            if other != own:
                coefficient *= other / (other - own)
        found.append(coefficient)
    return LobeCoefficients(*found)


class LobeCoefficients(NamedTuple):
    """Coefficients of the lobe polynomial, from x² upward."""

    square: Ratio
    first: Ratio
    second: Ratio
    third: Ratio
    fourth: Ratio


def relative_lift(*, place: Ratio, exponent: Ratio) -> Ratio:
    """Lift as a share of the full lift at ``place``, the share of the half-width from nose (0) to base circle (1)."""
    if place >= 1:
        return 0.0
    return _relative_lift(abs(place), exponent, lobe_coefficients(exponent=exponent))


def _relative_lift(place: Ratio, exponent: Ratio, terms: LobeCoefficients) -> Ratio:
    square = place * place
    first, second, third, fourth = terms[1:]
    tail = first + square * (second + square * (third + square * fourth))
    return 1 + terms[0] * square + math.pow(place, exponent) * tail


def _place_of_lift(share: Ratio, exponent: Ratio, terms: LobeCoefficients) -> Ratio:
    """Where over the half-width the lift has fallen to ``share``: one place, because the polynomial falls steadily."""
    if share < 1e-9:
        return 1.0
    zeroth, first, second, third, fourth = terms

    def surplus(place: float) -> float:
        # At the base circle the terms cancel to a last bit that may exceed the share, so there it is set.
        if place >= 1:
            return -share
        square = place * place
        tail = first + square * (second + square * (third + square * fourth))
        return 1 + zeroth * square + math.pow(place, exponent) * tail - share

    return find_root(surplus, 0.0, 1.0, precision=1e-13)


def lobe_from_durations(
    *,
    cam_lift: Length,
    advertised_duration: Angle,
    advertised_checking_lift: Length,
    checked_duration: Angle,
    checking_lift: Length = 0.00127,
    fields: tuple[str, str, str, str] = LOBE_FIELDS,
) -> Lobe:
    """The lobe that has the given lift and both durations.

    Durations are crank angles between the points where the tappet has risen by the checking lift; 0.050 in (1.27 mm)
    is the usual second one. The lobe turns at half the crank's speed. ``fields`` are the names under which the caller
    sent durations and lifts, for a refusal.

    Raises:
        OutsideValidity: a checking lift is not below the cam lift, or a length or angle is not above zero.
        Contradiction: the shorter duration does not belong to the higher checking lift, or no lobe has both.
    """
    require_positive(cam_lift=cam_lift, advertised_duration=advertised_duration, checked_duration=checked_duration)
    for field, lift in ((fields[1], advertised_checking_lift), (fields[3], checking_lift)):
        if not 0 <= lift < cam_lift:
            raise OutsideValidity(
                field, "A duration is checked below full lift; send a lift between zero and the cam lift.", "< cam lift"
            )
    if not (checked_duration < advertised_duration and advertised_checking_lift < checking_lift):
        raise Contradiction(
            fields,
            "The advertised duration is the longer one, at the lower checking lift. Send both in degrees of the crank "
            "with the tappet lift that each is checked at.",
        )
    if advertised_duration > 4 * pi:
        raise OutsideValidity(fields[0], "A duration is below 720 crank degrees.", "< 720 deg")
    low_share, high_share = advertised_checking_lift / cam_lift, checking_lift / cam_lift
    exponent = _exponent(low_share, high_share, checked_duration / advertised_duration)
    if exponent is None:
        raise Contradiction(
            fields,
            "No smooth lobe has both durations. They usually differ by 30 to 60 crank degrees; check that neither is "
            "in cam degrees and that the checking lifts are at the tappet.",
        )
    place = _place_of_lift(low_share, exponent, lobe_coefficients(exponent=exponent))
    return Lobe(cam_lift, advertised_duration / 4 / place, exponent)


@lru_cache(maxsize=1024)
def _exponent(low_share: Ratio, high_share: Ratio, wanted: Ratio) -> Ratio | None:
    """The exponent whose two durations have the wanted ratio; kept, because one build asks for its lobe several times."""

    def surplus(exponent: float) -> float:
        terms = lobe_coefficients(exponent=exponent)
        return _place_of_lift(high_share, exponent, terms) / _place_of_lift(low_share, exponent, terms) - wanted

    if not surplus(LOWEST_EXPONENT) < 0 < surplus(HIGHEST_EXPONENT):
        return None
    return find_root(surplus, LOWEST_EXPONENT, HIGHEST_EXPONENT, precision=1e-11)


def lobe_table(*, lobe: Lobe, points: int = 721) -> LobeTable:
    """Lift and its derivatives from base circle over the nose to base circle, in an odd number of points."""
    place = np.linspace(-1.0, 1.0, points | 1)
    terms = lobe_coefficients(exponent=lobe.exponent)
    size = np.abs(place)
    square = place * place
    k = lobe.exponent
    # x^(k−2) serves all three rows; an exponent near 2 makes it 1 at the nose, which 0.0**tiny would not give.
    power = size ** (k - 2)
    lift = 1 + terms.square * square + power * square * _series(terms[1:], square, (1.0, 1.0, 1.0, 1.0))
    slope = 2 * terms.square * place + power * place * _series(terms[1:], square, (k, k + 2, k + 4, k + 6))
    bend = 2 * terms.square + power * _series(
        terms[1:], square, (k * (k - 1), (k + 2) * (k + 1), (k + 4) * (k + 3), (k + 6) * (k + 5))
    )
    width = lobe.half_width
    return LobeTable(
        place * width,
        lobe.lift * np.maximum(lift, 0.0),
        lobe.lift / width * slope,
        lobe.lift / (width * width) * bend,
    )


def _series(terms: tuple[float, ...], square: FloatArray, weights: tuple[float, ...]) -> FloatArray:
    """Horner's sum of the four upper terms, each times its weight."""
    total = np.full_like(square, terms[3] * weights[3])
    for term, weight in zip(terms[2::-1], weights[2::-1], strict=True):
        total = total * square + term * weight
    return total


@method(
    id="lobe-radius",
    title="Radius of curvature of a cam under a flat tappet",
    formula="ρ = r_b + s + d²s/da²",
    symbols={
        "ρ": "radius of curvature [m]",
        "r_b": "base circle radius [m]",
        "s": "tappet lift [m]",
        "a": "cam angle [rad]",
    },
    source="norton-2009",
    locator="flat-faced translating follower, radius of curvature",
    evidence="textbook",
    valid="a flat tappet square to the cam",
    example=Example(
        {"base_circle_radius": 1.125 * 0.0254, "lift": 0.5 * 0.0254, "acceleration": -1.5 * 0.0254},
        0.125 * 0.0254,
        by="Bevan, ch. 9 example 5: the nose arc of 0.125 in, centred 1.5 in from the cam's centre",
        rel_tol=1e-9,
    ),
)
def lobe_radius(*, base_circle_radius: Length, lift: Length, acceleration: Length) -> Length:
    """Radius in m of the cam where it touches a flat tappet; below zero it cannot be ground for one.

    ``acceleration`` is the second derivative of the lift by the cam angle in m/rad².
    """
    return base_circle_radius + lift + acceleration


class TappetContact(NamedTuple):
    """What a lobe asks of a flat tappet."""

    eccentricity: Length
    """Largest distance of the contact from the tappet's centre: the largest lift rate in m/rad."""
    least_radius: Length
    """Least radius of curvature of the lobe; a flat tappet needs it above zero."""
    nose_radius: Length


def tappet_contact(*, table: LobeTable, base_circle_radius: Length) -> TappetContact:
    """Largest eccentricity (the lift rate ds/da) and least radius of curvature over the lobe, in m.

    Raises:
        OutsideValidity: the base circle radius is not above zero.
    """
    require_positive(base_circle_radius=base_circle_radius)
    radius = base_circle_radius + table.lift + table.acceleration
    nose = int(np.argmax(table.lift))
    return TappetContact(float(np.max(np.abs(table.velocity))), float(np.min(radius)), float(radius[nose]))


@method(
    id="tappet-diameter",
    title="Least diameter of a flat tappet",
    formula="d = 2 (e + m)",
    symbols={"d": "tappet diameter [m]", "e": "contact eccentricity [m]", "m": "margin to the edge, 1 mm [m]"},
    source="common-practice",
    locator="contact kept 1 mm off the edge of the tappet",
    evidence="common-practice",
    example=Example({"eccentricity": 0.01055}, 0.0231, by="by hand: 2 · (10.55 + 1) mm", rel_tol=1e-9),
)
def tappet_diameter_needed(*, eccentricity: Length, edge_margin: Length = 0.001) -> Length:
    """Least diameter in m of a flat tappet that the lobe does not run off."""
    return 2 * (eccentricity + edge_margin)
