"""Decisions with uncertainty against scipy, Monte Carlo and hand arithmetic."""

from math import isclose

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.stats import norm

from service.calculations.clearance import capable_uncertainty, decide, length_at_reference_temperature
from service.errors import Contradiction, MissingInput, OutsideValidity

MILLIMETRE = 1e-3
sizes = st.floats(0, 1.5e-3)
uncertainties = st.floats(1e-6, 0.5e-3)


def test_end_play_by_hand() -> None:
    """0.149 mm in 0.06 to 0.15 with U 0.010: guard 0.00825 by hand, undecided, P = Φ(0.2) = 0.5793 (normal table)."""
    decision = decide(measured=0.149e-3, uncertainty=0.010e-3, low=0.06e-3, high=0.15e-3)
    assert decision.verdict == "undecided"
    assert decision.guard_band == pytest.approx(0.00825e-3)
    assert decision.conformance_probability == pytest.approx(0.5793, abs=5e-5)
    assert decision.gauge_capable
    assert decision.margin_high == pytest.approx(0.001e-3)
    assert decision.margin_low == pytest.approx(0.089e-3)


@pytest.mark.parametrize(
    ("reading", "verdict"),
    [(0.068, "undecided"), (0.0683, "accept"), (0.1417, "accept"), (0.1418, "undecided"), (0.1583, "reject"), (0.05, "reject")],
)
def test_the_zones(reading: float, verdict: str) -> None:
    """By hand with g = 0.00825: accepted from 0.06825 to 0.14175, rejected below 0.05175 and above 0.15825."""
    decision = decide(measured=reading * 1e-3, uncertainty=0.010e-3, low=0.06e-3, high=0.15e-3)
    assert decision.verdict == verdict


@given(measured=sizes, uncertainty=uncertainties, low=sizes, high=sizes)
def test_probability_against_scipy(measured: float, uncertainty: float, low: float, high: float) -> None:
    """Referee scipy.stats.norm: the probability of conformance for both limits and for each alone."""
    assume(low < high)
    deviation = uncertainty / 2
    both = decide(measured=measured, uncertainty=uncertainty, low=low, high=high).conformance_probability
    expected = norm.cdf(high, measured, deviation) - norm.cdf(low, measured, deviation)
    assert both == pytest.approx(expected, abs=1e-12)
    above = decide(measured=measured, uncertainty=uncertainty, low=low).conformance_probability
    assert above == pytest.approx(norm.sf(low, measured, deviation), abs=1e-12)
    below = decide(measured=measured, uncertainty=uncertainty, high=high).conformance_probability
    assert below == pytest.approx(norm.cdf(high, measured, deviation), abs=1e-12)


@pytest.mark.parametrize(("reading", "uncertainty"), [(0.149, 0.010), (0.07, 0.02), (0.12, 0.05), (0.06, 0.004)])
def test_probability_against_monte_carlo(reading: float, uncertainty: float) -> None:
    """Fixed-seed simulation of the true size about the reading: the share within the limits is the probability."""
    true_size = np.random.default_rng(14253).normal(reading, uncertainty / 2, 400_000)
    share = float(np.mean((true_size >= 0.06) & (true_size <= 0.15)))
    decision = decide(
        measured=reading * MILLIMETRE, uncertainty=uncertainty * MILLIMETRE, low=0.06 * MILLIMETRE, high=0.15 * MILLIMETRE
    )
    assert decision.conformance_probability == pytest.approx(share, abs=0.003)


@given(measured=sizes, uncertainty=uncertainties, low=sizes, high=sizes)
def test_verdicts_prove_what_they_say(measured: float, uncertainty: float, low: float, high: float) -> None:
    """Accepted means at least 95 % conformance, rejected at most 5 %, by scipy and not by the decision itself."""
    assume(low < high)
    decision = decide(measured=measured, uncertainty=uncertainty, low=low, high=high)
    probability = norm.cdf(high, measured, uncertainty / 2) - norm.cdf(low, measured, uncertainty / 2)
    if decision.verdict == "accept":
        assert probability >= 0.95 - 1e-9
        assert decision.gauge_capable
    if decision.verdict == "reject":
        assert probability <= 0.05 + 1e-9


@given(uncertainty=uncertainties, low=st.floats(0, 0.5e-3), width=st.floats(1e-6, 1e-3))
def test_acceptance_zone_is_where_readings_are_accepted(uncertainty: float, low: float, width: float) -> None:
    """A reading just inside the stated zone is accepted and one just outside is not; without a zone none is."""
    high = low + width
    assume(low < high)
    middle = decide(measured=(low + high) / 2, uncertainty=uncertainty, low=low, high=high)
    if not middle.gauge_capable:
        assert middle.verdict != "accept"
        assert middle.accept_low is None
        assert middle.accept_high is None
        return
    assert middle.accept_low is not None
    assert middle.accept_high is not None
    assume(middle.accept_high - middle.accept_low > 1e-9)
    for edge, inwards in ((middle.accept_low, 1), (middle.accept_high, -1)):
        inside = decide(measured=edge + inwards * 2e-10, uncertainty=uncertainty, low=low, high=high)
        outside = decide(measured=edge - inwards * 2e-10, uncertainty=uncertainty, low=low, high=high)
        assert inside.verdict == "accept"
        assert outside.verdict == "undecided"


@given(low=st.floats(0, 1e-3), width=st.floats(1e-6, 1e-3))
def test_gauge_is_capable_up_to_half_the_tolerance(low: float, width: float) -> None:
    """Two-sided 95 % needs 1.96 u each way (normal table): U up to 0.51 of the width, so half of it always serves."""
    high = low + width
    assume(high > low)
    middle = (low + high) / 2
    half = (high - low) / 2
    assert decide(measured=middle, uncertainty=half, low=low, high=high).verdict == "accept"
    limit = capable_uncertainty(low=low, high=high)
    assert isclose(limit, (high - low) / norm.ppf(0.975), rel_tol=1e-6)
    assert not decide(measured=middle, uncertainty=limit * 1.001, low=low, high=high).gauge_capable
    assert decide(measured=middle, uncertainty=limit * 0.999, low=low, high=high).gauge_capable


@given(measured=sizes, uncertainty=uncertainties, low=sizes, high=sizes)
def test_mirror_image(measured: float, uncertainty: float, low: float, high: float) -> None:
    """Turning the scale round turns nothing but the names of the limits."""
    assume(low < high)
    one = decide(measured=measured, uncertainty=uncertainty, low=low, high=high)
    other = decide(measured=-measured, uncertainty=uncertainty, low=-high, high=-low)
    assert one.verdict == other.verdict
    assert one.conformance_probability == pytest.approx(other.conformance_probability, abs=1e-12)
    assert one.margin_low == other.margin_high


@given(measured=sizes, uncertainty=uncertainties, more=uncertainties, limit=sizes)
def test_more_uncertainty_never_proves_more(measured: float, uncertainty: float, more: float, limit: float) -> None:
    """A verdict against one limit holds with a better gauge; uncertainty counts against who must prove."""
    worse = decide(measured=measured, uncertainty=uncertainty + more, low=limit)
    better = decide(measured=measured, uncertainty=uncertainty, low=limit)
    assert worse.verdict in ("undecided", better.verdict)


def test_a_perfect_gauge_decides_at_the_limit() -> None:
    """With U = 0 a size on the limit conforms, also where one of the two was typed in inches (0.006 in = 0.1524 mm)."""
    assert decide(measured=0.15e-3, uncertainty=0.0, low=0.06e-3, high=0.15e-3).verdict == "accept"
    assert decide(measured=0.006 * 0.0254, uncertainty=0.0, high=0.1524e-3).verdict == "accept"
    assert decide(measured=0.1524e-3, uncertainty=0.0, low=0.006 * 0.0254).verdict == "accept"
    assert decide(measured=0.151e-3, uncertainty=0.0, low=0.06e-3, high=0.15e-3).verdict == "reject"


def test_questions_without_an_answer_are_refused() -> None:
    """No limit, limits swapped, a negative uncertainty."""
    with pytest.raises(MissingInput) as missing:
        decide(measured=0.1e-3, uncertainty=0.01e-3)
    assert missing.value.field == "low"
    with pytest.raises(Contradiction, match="swapped"):
        decide(measured=0.1e-3, uncertainty=0.01e-3, low=0.15e-3, high=0.06e-3)
    with pytest.raises(OutsideValidity):
        decide(measured=0.1e-3, uncertainty=-0.01e-3, low=0.06e-3)
    with pytest.raises(Contradiction):
        capable_uncertainty(low=0.1e-3, high=0.1e-3)


def test_a_warm_journal_reads_long() -> None:
    """55 mm of steel at 30 °C is about 6 µm longer than at 20 °C (ISO 1; 11.7e-6 of Callister's table)."""
    length = length_at_reference_temperature(
        reading=0.055,
        part_expansion=11.7e-6,
        part_temperature=303.15,
        gauge_expansion=0.0,
        gauge_temperature=293.15,
    )
    assert 0.055 - length == pytest.approx(6.4e-6, abs=0.1e-6)


@given(reading=st.floats(1e-3, 0.2), expansion=st.floats(0, 3e-5), temperature=st.floats(233, 473))
def test_part_and_gauge_of_one_metal_at_one_temperature_need_no_correction(
    reading: float, expansion: float, temperature: float
) -> None:
    """Whatever the shop's temperature, steel measured with steel of the same warmth reads its length at 20 °C."""
    length = length_at_reference_temperature(
        reading=reading,
        part_expansion=expansion,
        part_temperature=temperature,
        gauge_expansion=expansion,
        gauge_temperature=temperature,
    )
    assert isclose(length, reading, rel_tol=1e-12)


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("reading", 0.0),
        ("part_expansion", 0.01),
        ("gauge_expansion", -1e-6),
        ("part_temperature", 30.0),
        ("gauge_temperature", 900.0),
    ],
)
def test_impossible_corrections_are_refused(field: str, value: float) -> None:
    """Each value outside its range is refused by its own name."""
    given_ = {
        "reading": 0.055,
        "part_expansion": 11.7e-6,
        "part_temperature": 303.15,
        "gauge_expansion": 11.7e-6,
        "gauge_temperature": 293.15,
    }
    with pytest.raises(OutsideValidity) as refusal:
        length_at_reference_temperature(**{**given_, field: value})
    assert refusal.value.field == field
