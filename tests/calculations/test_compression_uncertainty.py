"""Uncertainty of a compression ratio against the package `uncertainties`, a Monte Carlo and the law itself."""

from math import pi, sqrt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from uncertainties import ufloat

from service.calculations.compression import RatioSensitivities, clearance_volume, ratio_sensitivities
from service.calculations.compression_uncertainty import ratio_spread, ratio_uncertainty, spread_uncertainty
from service.errors import OutsideValidity

approx = pytest.approx

ENGINE = {
    "bore": 0.086,
    "stroke": 0.073,
    "chamber_volume": 52e-6,
    "deck_clearance": 1.2e-3,
    "gasket_bore": 0.088,
    "gasket_thickness": 0.4e-3,
    "crown_volume": 1e-6,
    "crevice_volume": 0.5e-6,
}
# Standard uncertainties of shop tools: bore gauge, caliper, burette with plate, depth micrometer, ring, default crevice.
TOOLS = {
    "bore": 4e-6,
    "stroke": 20e-6,
    "chamber_volume": 0.25e-6,
    "deck_clearance": 15e-6,
    "gasket_bore": 20e-6,
    "gasket_thickness": 20e-6,
    "crown_volume": 0.1e-6,
    "crevice_volume": 0.15e-6,
}


def slopes(**engine: float) -> RatioSensitivities:
    room = clearance_volume(**{name: value for name, value in engine.items() if name != "stroke"}).total
    return ratio_sensitivities(
        bore=engine["bore"],
        stroke=engine["stroke"],
        clearance_volume=room,
        height=engine["deck_clearance"],
        gasket_bore=engine.get("gasket_bore"),
        gasket_thickness=engine.get("gasket_thickness", 0.0),
    )


def test_against_the_package_uncertainties() -> None:
    """Automatic differentiation of the whole formula gives the same standard uncertainty to 1e-9."""
    u = {name: ufloat(value, TOOLS[name]) for name, value in ENGINE.items()}
    area = pi / 4 * u["bore"] ** 2
    ring = pi / 4 * u["gasket_bore"] ** 2
    room = (
        u["chamber_volume"]
        + area * u["deck_clearance"]
        + ring * u["gasket_thickness"]
        + u["crown_volume"]
        + u["crevice_volume"]
    )
    ratio = 1 + area * u["stroke"] / room
    ours = ratio_uncertainty(sensitivities=slopes(**ENGINE), standard_uncertainties=TOOLS)
    assert ours.standard == approx(ratio.std_dev, rel=1e-9)
    parts = dict(ratio.error_components().items())
    for line in ours.budget:
        assert line.contribution == approx(abs(parts[u[line.quantity]]), rel=1e-9), line.quantity


def test_against_monte_carlo() -> None:
    """200 000 draws with a fixed seed: the spread of the ratio agrees with the linear law within 1 %."""
    rng = np.random.default_rng(20260701)
    draw = {name: rng.normal(value, TOOLS[name], 200_000) for name, value in ENGINE.items()}
    area = pi / 4 * draw["bore"] ** 2
    room = (
        draw["chamber_volume"]
        + area * draw["deck_clearance"]
        + pi / 4 * draw["gasket_bore"] ** 2 * draw["gasket_thickness"]
        + draw["crown_volume"]
        + draw["crevice_volume"]
    )
    ratio = 1 + area * draw["stroke"] / room
    ours = ratio_uncertainty(sensitivities=slopes(**ENGINE), standard_uncertainties=TOOLS)
    assert ours.standard == approx(float(np.std(ratio)), rel=0.01)


def test_the_tool_to_improve_is_the_burette() -> None:
    """86 × 73 mm, 52 cm³ chamber to 0.5 cm³, deck to 0.03 mm, crevice 0.5 ± 0.3: U = 0.073 on 8.13.

    By hand: ∂r/∂V = −424.04/59.47² = −0.1199 per cm³; chamber 0.0300, crevice 0.0180, deck 0.1199·5.809·0.015 = 0.0104.
    The variance is 67 % chamber, 24 % crevice, 8 % deck: a better burette helps, a better micrometer does not.
    """
    engine = {"bore": 0.086, "stroke": 0.073, "chamber_volume": 52e-6, "deck_clearance": 1.2e-3, "crevice_volume": 0.5e-6}
    tools = {name: TOOLS[name] for name in engine}
    ours = ratio_uncertainty(sensitivities=slopes(**engine), standard_uncertainties=tools)
    assert ours.expanded == approx(0.073, abs=0.001)
    assert [line.quantity for line in ours.budget[:3]] == ["chamber_volume", "crevice_volume", "deck_clearance"]
    assert [line.share for line in ours.budget[:3]] == approx([0.67, 0.24, 0.08], abs=0.01)
    assert sum(line.share for line in ours.budget[3:]) < 0.01


@given(st.dictionaries(st.sampled_from(sorted(TOOLS)), st.floats(0, 1e-6), max_size=8))
def test_shares_are_shares(tools: dict[str, float]) -> None:
    """Shares add up to one unless nothing is uncertain, and stand in falling order."""
    ours = ratio_uncertainty(sensitivities=slopes(**ENGINE), standard_uncertainties=tools)
    shares = [line.share for line in ours.budget]
    assert shares == sorted(shares, reverse=True)
    assert sum(shares) == approx(1.0) or ours.standard == 0
    assert ours.expanded == 2 * ours.standard


def test_common_bias_moves_the_mean_and_not_the_spread() -> None:
    """A burette that reads 0.3 cm³ short in every chamber: Monte Carlo of four chambers, biased and repeatable parts apart.

    The difference of two cylinders scatters by √2 times the repeatability alone, whatever the bias.
    """
    rng = np.random.default_rng(7)
    bias = rng.normal(0, 0.3e-6, (100_000, 1))
    repeat = rng.normal(0, 0.1e-6, (100_000, 2))
    ratio = 1 + 424.04e-6 / (59.47e-6 + bias + repeat)
    one = 0.1e-6 * 424.04e-6 / 59.47e-6**2
    assert 2 * float(np.std(ratio[:, 0] - ratio[:, 1])) == approx(spread_uncertainty(repeatability=one), rel=0.01)
    assert float(np.std(ratio[:, 0])) == approx(one * sqrt(10), rel=0.02)


@given(st.lists(st.floats(4, 14), min_size=1, max_size=16))
def test_spread_of_cylinders(ratios: list[float]) -> None:
    """The mean lies between the extremes; order does not matter; equal cylinders have no spread."""
    spread = ratio_spread(ratios=ratios)
    assert spread.lowest <= spread.mean * (1 + 1e-12)
    assert spread.mean <= spread.highest * (1 + 1e-12)
    assert spread.spread == ratio_spread(ratios=ratios[::-1]).spread >= 0
    assert ratio_spread(ratios=[ratios[0]] * 3).spread == 0


def test_refusals() -> None:
    """No cylinder has no spread, and an uncertainty is not negative; nothing uncertain gives zero, not a division."""
    with pytest.raises(OutsideValidity):
        ratio_spread(ratios=[])
    with pytest.raises(OutsideValidity):
        ratio_uncertainty(sensitivities=slopes(**ENGINE), standard_uncertainties={"bore": -1e-6})
    certain = ratio_uncertainty(sensitivities=slopes(**ENGINE), standard_uncertainties={"bore": 0.0})
    assert certain.standard == 0
    assert certain.budget[0].share == 0
