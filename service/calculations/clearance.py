"""Is a measured size within its limits? Decisions that count the uncertainty of the measurement (ISO 14253-1)."""

from math import erf, sqrt
from typing import Literal, NamedTuple

from service.calculations.limits import require_not_negative, require_positive
from service.errors import Contradiction, MissingInput, OutsideValidity
from service.methods import Example, method
from service.units import Expansion, Length, Ratio, Temperature

REFERENCE_TEMPERATURE: Temperature = 293.15

# 95 % conformance on one side of a limit: the guard band in standard uncertainties as the standard gives it.
GUARD_FACTOR: Ratio = 1.65
CONFORMANCE_LIMIT: Ratio = 0.95

# A picometre: what is left of a size after its conversion from inches must not decide anything.
_TOUCH: Length = 1e-12

Verdict = Literal["accept", "reject", "undecided"]


class Decision(NamedTuple):
    """What a measurement proves about a tolerance.

    Attributes:
        verdict: ``accept`` or ``reject`` when proved at 95 %, else ``undecided``.
        guard_band: Width in m taken off at each limit.
        accept_low: Smallest reading in m that proves conformance, if there is a lower limit and such a reading.
        accept_high: Largest reading in m that proves conformance, likewise.
        margin_low: Reading less lower limit in m; below zero is out.
        margin_high: Upper limit less reading in m; below zero is out.
        conformance_probability: Probability that the true size is within the limits.
        gauge_capable: Whether any reading at all could prove conformance.
    """

    verdict: Verdict
    guard_band: Length
    accept_low: Length | None
    accept_high: Length | None
    margin_low: Length | None
    margin_high: Length | None
    conformance_probability: Ratio
    gauge_capable: bool


def _below(value: Length, limit: Length, deviation: Length) -> Ratio:
    """Probability that a normal variable about the value lies below the limit."""
    if deviation == 0:
        return 1.0 if value <= limit + _TOUCH else 0.0
    return 0.5 * (1.0 + erf((limit - value) / (deviation * sqrt(2.0))))


def _conformance(value: Length, low: Length | None, high: Length | None, deviation: Length) -> Ratio:
    # The share below a lower limit is taken by symmetry, so that a value on the limit itself counts as inside.
    below_low = 0.0 if low is None else 1.0 - _below(-value, -low, deviation)
    above_high = 0.0 if high is None else 1.0 - _below(value, high, deviation)
    return max(0.0, 1.0 - below_low - above_high)


def _acceptance_zone(
    low: Length | None, high: Length | None, guard: Length, deviation: Length
) -> tuple[Length | None, Length | None]:
    """Readings between which conformance is proved; call it only where some reading proves it."""
    if low is None or high is None:
        return (None if low is None else low + guard, None if high is None else high - guard)
    middle = (low + high) / 2.0
    edge = min(low + guard, middle)
    if _conformance(edge, low, high, deviation) < CONFORMANCE_LIMIT:
        # Both tails count: the edge moves inwards to where the probability reaches the limit.
        outer, inner = edge, middle
        for _ in range(60):
            half = (outer + inner) / 2.0
            if _conformance(half, low, high, deviation) < CONFORMANCE_LIMIT:
                outer = half
            else:
                inner = half
        edge = inner
    return edge, low + high - edge


@method(
    id="decision-with-uncertainty",
    title="Decision of conformance with a guard band",
    formula="u = U/2, g = 1.65 u; accept if low + g ≤ y ≤ high − g and P ≥ 0.95; reject if y < low − g or y > high + g; "
    "else undecided; P = Φ((high − y)/u) − Φ((low − y)/u)",
    symbols={
        "y": "measured value [m]",
        "U": "expanded uncertainty, coverage factor 2 [m]",
        "u": "standard uncertainty [m]",
        "g": "guard band [m]",
        "P": "probability of conformance",
    },
    source="iso-14253-1-2017",
    locator="decision rules, default conformance probability 95 %, guard band 1.65 u",
    evidence="standard",
    valid="normal distribution about the reading, no knowledge of the process beyond it",
    example=Example(
        {"measured": 0.149e-3, "uncertainty": 0.010e-3, "low": 0.06e-3, "high": 0.15e-3},
        {"guard_band": 0.00825e-3, "conformance_probability": 0.5793},
        by="by hand: 1.65 · 0.005 mm; Φ(0.2) of a printed normal table",
    ),
)
def decide(*, measured: Length, uncertainty: Length, low: Length | None = None, high: Length | None = None) -> Decision:
    """Decide whether a measured size conforms; the uncertainty counts against whoever must prove something.

    In a tolerance narrower than the guard bands need, both tails count, so a reading is accepted only where the
    probability of conformance reaches 95 % as well. ``gauge_capable`` is false where no reading can do that: it is
    so when U exceeds about half of the tolerance width. A reading can still prove that a part is out.

    Raises:
        MissingInput: neither limit is given.
        Contradiction: the lower limit is not below the upper one.
        OutsideValidity: the uncertainty is negative.
    """
    if low is None and high is None:
        raise MissingInput("low", "Send at least one limit: low, high or both.", "0.06 mm")
    if low is not None and high is not None and low >= high:
        raise Contradiction(("low", "high"), "The lower limit must be below the upper one; are they swapped?")
    require_not_negative(uncertainty=uncertainty)
    deviation = uncertainty / 2.0
    guard = GUARD_FACTOR * deviation
    probability = _conformance(measured, low, high, deviation)
    capable = low is None or high is None or _conformance((low + high) / 2.0, low, high, deviation) >= CONFORMANCE_LIMIT
    inside = (low is None or measured >= low + guard - _TOUCH) and (high is None or measured <= high - guard + _TOUCH)
    outside = (low is not None and measured < low - guard - _TOUCH) or (high is not None and measured > high + guard + _TOUCH)
    verdict: Verdict = "undecided"
    if inside and probability >= CONFORMANCE_LIMIT:
        verdict = "accept"
    elif outside:
        verdict = "reject"
    accept_low, accept_high = _acceptance_zone(low, high, guard, deviation) if capable else (None, None)
    return Decision(
        verdict=verdict,
        guard_band=guard,
        accept_low=accept_low,
        accept_high=accept_high,
        margin_low=None if low is None else measured - low,
        margin_high=None if high is None else high - measured,
        conformance_probability=probability,
        gauge_capable=capable,
    )


@method(
    id="length-at-reference-temperature",
    title="Length at 20 °C from a reading at another temperature",
    formula="L20 = L · (1 + αg (tg − 20 °C)) / (1 + αp (tp − 20 °C))",
    symbols={
        "L": "reading of the gauge [m]",
        "αp, αg": "linear expansion of part and gauge [1/K]",
        "tp, tg": "temperature of part and gauge [K]",
    },
    source="iso-1-2022",
    locator="reference temperature 20 °C",
    evidence="standard",
    valid="part and gauge each at one temperature, −60 to 400 °C",
    example=Example(
        {
            "reading": 0.055,
            "part_expansion": 11.7e-6,
            "part_temperature": 303.15,
            "gauge_expansion": 0.0,
            "gauge_temperature": 293.15,
        },
        0.0549936,
        by="by hand: 55 mm · 11.7e-6 · 10 K = 6.4 µm too long",
        rel_tol=1e-6,
    ),
)
def length_at_reference_temperature(
    *,
    reading: Length,
    part_expansion: Expansion,
    part_temperature: Temperature,
    gauge_expansion: Expansion,
    gauge_temperature: Temperature,
) -> Length:
    """Length in m that the part has at 20 °C.

    Raises:
        OutsideValidity: the reading is not positive, an expansion is not within 0 and 100e-6 1/K, or a temperature is
            not within −60 and 400 °C.
    """
    require_positive(reading=reading)
    for field, expansion in (("part_expansion", part_expansion), ("gauge_expansion", gauge_expansion)):
        if not 0 <= expansion <= 1e-4:
            raise OutsideValidity(field, "Linear expansions lie within 0 and 100e-6 1/K; steel is near 12e-6.", "0–1e-4")
    for field, temperature in (("part_temperature", part_temperature), ("gauge_temperature", gauge_temperature)):
        if not 213.0 <= temperature <= 673.2:
            raise OutsideValidity(field, "Send a temperature of −60 to 400 °C.", "−60 to 400 °C")
    gauge = 1.0 + gauge_expansion * (gauge_temperature - REFERENCE_TEMPERATURE)
    part = 1.0 + part_expansion * (part_temperature - REFERENCE_TEMPERATURE)
    return reading * gauge / part


@method(
    id="capable-uncertainty",
    title="Largest uncertainty with which a tolerance can be proved",
    formula="U = (high − low) / 1.96",
    symbols={"U": "expanded uncertainty, coverage factor 2 [m]"},
    source="derived",
    locator="2 Φ((high − low)/U) − 1 = 0.95 for a reading in the middle",
    evidence="derived",
    example=Example({"low": 0.07e-3, "high": 0.13e-3}, 0.0306122e-3, by="by hand: 0.06/1.96 mm"),
)
def capable_uncertainty(*, low: Length, high: Length) -> Length:
    """Largest expanded uncertainty in m with which a reading in the middle still proves conformance at 95 %.

    Raises:
        Contradiction: the lower limit is not below the upper one.
    """
    if low >= high:
        raise Contradiction(("low", "high"), "The lower limit must be below the upper one; are they swapped?")
    # 1.959964 is the two-sided 95 % point of the normal distribution.
    return (high - low) / 1.959964
