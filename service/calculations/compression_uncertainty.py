"""How sure a compression ratio is, which tool to improve, and what of it touches the spread between cylinders."""

from collections.abc import Mapping, Sequence
from math import sqrt
from typing import NamedTuple

from service.calculations.compression import RatioSensitivities
from service.errors import OutsideValidity
from service.methods import Example, method
from service.units import Ratio

COVERAGE = 2.0


class BudgetLine(NamedTuple):
    """One measurement in the variance budget; ``share`` is its part of the variance, 0 to 1."""

    quantity: str
    standard_uncertainty: float
    sensitivity: float
    contribution: float
    share: Ratio


class RatioUncertainty(NamedTuple):
    """Uncertainty of a compression ratio with its budget, largest contribution first."""

    standard: Ratio
    expanded: Ratio
    budget: tuple[BudgetLine, ...]


class RatioSpread(NamedTuple):
    """Compression ratios of the cylinders of one engine, taken together."""

    mean: Ratio
    lowest: Ratio
    highest: Ratio
    spread: Ratio


@method(
    id="compression-ratio-uncertainty",
    title="Uncertainty of the compression ratio and its variance budget",
    formula="u(r)² = Σ (∂r/∂x_i · u_i)²; U = 2 u",
    symbols={
        "u(r)": "combined standard uncertainty",
        "∂r/∂x_i": "sensitivity to a measurement",
        "u_i": "its standard uncertainty",
        "U": "expanded uncertainty, coverage factor 2",
    },
    source="jcgm-100-2008",
    locator="5.1.2, law of propagation, uncorrelated inputs",
    evidence="standard",
    valid="measurements independent of each other, and small against what they measure",
    example=Example(
        {
            "sensitivities": RatioSensitivities(2.0, 3.0, -0.4, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0),
            "standard_uncertainties": {"bore": 0.3, "stroke": 0.4, "chamber_volume": 2.0},
        },
        {"standard": 1.562050},
        by="by hand: √(0.6² + 1.2² + 0.8²) = √2.44",
        rel_tol=1e-6,
    ),
)
def ratio_uncertainty(*, sensitivities: RatioSensitivities, standard_uncertainties: Mapping[str, float]) -> RatioUncertainty:
    """Combined uncertainty; the mapping goes from a field of the sensitivities to its standard uncertainty in SI.

    Raises:
        OutsideValidity: a standard uncertainty is negative.
    """
    contributions = []
    for quantity, standard_uncertainty in sorted(standard_uncertainties.items()):
        if standard_uncertainty < 0:
            raise OutsideValidity(f"uncertainties/{quantity}", "An uncertainty is a half-width: zero or more.", "≥ 0")
        sensitivity: float = getattr(sensitivities, quantity)
        contributions.append((abs(sensitivity) * standard_uncertainty, quantity, standard_uncertainty, sensitivity))
    variance = sum(contribution * contribution for contribution, *_ in contributions)
    contributions.sort(key=lambda line: (-line[0], line[1]))
    budget = tuple(
        BudgetLine(quantity, uncertainty, sensitivity, part, part * part / variance if variance else 0.0)
        for part, quantity, uncertainty, sensitivity in contributions
    )
    standard = sqrt(variance)
    return RatioUncertainty(standard, COVERAGE * standard, budget)


@method(
    id="ratio-spread",
    title="Spread of the compression ratio over the cylinders",
    formula="spread = max r_i − min r_i",
    symbols={"r_i": "compression ratio of cylinder i"},
    source="common-practice",
    locator="range of the cylinders' ratios",
    evidence="common-practice",
    example=Example(
        {"ratios": (8.13, 8.22, 8.06, 8.16)},
        {"mean": 8.1425, "spread": 0.16},
        by="by hand: 8.22 − 8.06; 32.57/4",
        rel_tol=1e-9,
    ),
)
def ratio_spread(*, ratios: Sequence[Ratio]) -> RatioSpread:
    """Mean, extremes and range of the cylinders' ratios.

    Raises:
        OutsideValidity: there is no ratio.
    """
    if not ratios:
        raise OutsideValidity("cylinders", "Send at least one cylinder.", "≥ 1 cylinder")
    lowest, highest = min(ratios), max(ratios)
    return RatioSpread(sum(ratios) / len(ratios), lowest, highest, highest - lowest)


@method(
    id="ratio-spread-uncertainty",
    title="Uncertainty of the spread",
    formula="U(spread) = 2 · √2 · u_rep",
    symbols={"u_rep": "standard uncertainty of one cylinder's ratio by repeatability alone"},
    source="jcgm-100-2008",
    locator="5.2.2: an error common to both cancels in a difference",
    evidence="standard",
    valid="all cylinders measured with the same tools on the same day",
    example=Example({"repeatability": 0.01}, 0.0282843, by="by hand: 2·√2·0.01", rel_tol=1e-5),
)
def spread_uncertainty(*, repeatability: Ratio) -> Ratio:
    """Expanded uncertainty (coverage factor 2) of the difference of two cylinders.

    A burette that reads 0.3 cm³ short does so in every chamber: it shifts the mean and leaves the spread alone. So only
    what differs from one measurement to the next counts here.
    """
    return COVERAGE * sqrt(2) * repeatability
