"""Dwell against printed figures and a simulated breaker: a real cam, a pivoted arm, and the moment the points part."""

from dataclasses import dataclass
from math import degrees, isfinite, pi, radians

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from service.calculations.contact_breaker import (
    dwell_after_gap_change,
    dwell_from_share,
    dwell_share,
    dwell_time,
    dwell_timing_shift,
)
from service.errors import OutsideValidity
from tests.published.cases import published

RPM = pi / 30
CASES = published("ignition")


@dataclass(frozen=True)
class Breaker:
    """A four-lobe cam with lobes of cosine shape under a round heel on a pivoted arm; lengths in mm.

    The gap is the opening of the points for the arm's angle above the one at which they touch.
    """

    angles: NDArray[np.float64]
    arm: NDArray[np.float64]
    points_radius: float = 24.0

    @classmethod
    def turned_once(cls, sharpness: float) -> "Breaker":
        """Turn the cam under the arm through one firing interval and note the arm's angle."""
        round_the_cam = np.linspace(0, 2 * pi, 1440, endpoint=False)
        radius = 8.5 + 0.75 * (0.5 + 0.5 * np.cos(4 * round_the_cam)) ** sharpness
        heel, pivot, length = 1.2, np.array([17.0, 0.0]), 18.0
        angles = np.linspace(-pi / 4, pi / 4, 361)
        arm = np.empty_like(angles)
        for index, turned in enumerate(angles):
            # The heel rests at the side of the cam, where the arm from the pivot meets it.
            x, y = radius * np.cos(round_the_cam + turned), radius * np.sin(round_the_cam + turned)
            low, high = radians(90.0), radians(170.0)
            for _ in range(40):
                middle = (low + high) / 2
                centre = pivot + length * np.array([np.cos(middle), np.sin(middle)])
                in_the_shaft = np.hypot(*centre) < 8.5
                inside = in_the_shaft or np.min((x - centre[0]) ** 2 + (y - centre[1]) ** 2) < heel * heel
                low, high = (low, middle) if inside else (middle, high)
            arm[index] = (low + high) / 2
        return cls(angles, arm)

    def adjusted_to(self, gap: float) -> tuple[float, float]:
        """Dwell and opening angle in rad of cam rotation when the widest gap is set to ``gap`` mm."""
        lift = (self.arm.max() - self.arm) * self.points_radius
        opening_at = lift.max() - gap
        is_open = lift > opening_at
        first, last = int(np.argmax(is_open)), len(is_open) - 1 - int(np.argmax(is_open[::-1]))
        opens = float(np.interp(opening_at, lift[first - 1 : first + 1], self.angles[first - 1 : first + 1]))
        closes = float(np.interp(-opening_at, -lift[last : last + 2], self.angles[last : last + 2]))
        return pi / 2 - (closes - opens), opens


@pytest.fixture(scope="module", params=[1.0, 0.8, 1.3], ids=["cosine", "broad", "sharp"])
def breaker(request: pytest.FixtureRequest) -> Breaker:
    return Breaker.turned_once(request.param)


def test_published_dwell_as_a_percentage() -> None:
    """Case G18: 52° on four lobes is 57.78 %."""
    case = CASES["G18"]
    share = dwell_share(dwell=radians(case["given"]["dwell"]["value"]), lobes=case["given"]["lobes"])
    assert share * 100 == pytest.approx(case["expected"]["percent"], abs=case["tolerance"]["abs"])


def test_dwell_as_a_time() -> None:
    """By hand: 50° at 3000 rpm are 50/(3 · 3000) s = 5.56 ms; on the crank itself half of that."""
    assert dwell_time(dwell=radians(50), speed=3000 * RPM, shaft_ratio=0.5) * 1e3 == pytest.approx(5.556, abs=1e-3)
    assert dwell_time(dwell=radians(50), speed=3000 * RPM, shaft_ratio=1.0) * 1e3 == pytest.approx(2.778, abs=1e-3)


@given(share=st.floats(0.001, 0.999), lobes=st.integers(1, 16))
def test_angle_and_percentage_are_inverse(share: float, lobes: int) -> None:
    """Percent to degrees and back for every number of lobes."""
    dwell = dwell_from_share(share=share, lobes=lobes)
    assert dwell_share(dwell=dwell, lobes=lobes) == pytest.approx(share)


@given(dwell=st.floats(0.01, 3), speed=st.floats(2, 1570), ratio=st.sampled_from([0.5, 1.0]))
def test_dwell_time_counts_the_turns(dwell: float, speed: float, ratio: float) -> None:
    """In that time the cam turns through the dwell."""
    assert dwell_time(dwell=dwell, speed=speed, shaft_ratio=ratio) * ratio * speed == pytest.approx(dwell)


def test_more_dwell_is_later_by_simulation(breaker: Breaker) -> None:
    """Closing the gap of a simulated breaker retards the spark by half the change at the cam: as much at the crank."""
    dwell, opens = breaker.adjusted_to(0.42)
    more_dwell, opens_later = breaker.adjusted_to(0.36)
    assert more_dwell > dwell
    simulated = -(opens_later - opens) / 0.5
    shift = dwell_timing_shift(dwell_change=more_dwell - dwell, shaft_ratio=0.5)
    assert shift < 0
    # The arm swings on a pivot, so the two flanks are not quite alike.
    assert simulated == pytest.approx(shift, rel=0.15)
    assert shift == pytest.approx(-(more_dwell - dwell))


@pytest.mark.parametrize("gap", [0.30, 0.35, 0.45, 0.50])
def test_dwell_after_a_gap_change_by_simulation(breaker: Breaker, gap: float) -> None:
    """From one pair of a simulated breaker: the dwell at another gap lies in the band, near the nominal."""
    known_dwell, _ = breaker.adjusted_to(0.40)
    true_dwell, _ = breaker.adjusted_to(gap)
    band = dwell_after_gap_change(gap=gap * 1e-3, known_gap=0.40e-3, known_dwell=known_dwell, lobes=4)
    assert band.low - radians(0.3) <= true_dwell <= band.high + radians(0.3)
    assert degrees(band.nominal) == pytest.approx(degrees(true_dwell), abs=1.2)


def test_range_of_a_government_manual() -> None:
    """TM 10-3930-653-14&P prints 0.45-0.55 mm and 49-55°: the wide gap goes with the small dwell, middle with middle."""
    known = {"known_gap": 0.50e-3, "known_dwell": radians(52), "lobes": 4}
    wide = dwell_after_gap_change(gap=0.55e-3, **known)  # type: ignore[arg-type]
    narrow = dwell_after_gap_change(gap=0.45e-3, **known)  # type: ignore[arg-type]
    assert degrees(wide.nominal) == pytest.approx(49, abs=1)
    assert degrees(narrow.nominal) == pytest.approx(55, abs=1)


@given(
    gap=st.floats(0.1e-3, 1e-3),
    known_gap=st.floats(0.1e-3, 1e-3),
    share=st.floats(0.3, 0.9),
    lobes=st.integers(1, 12),
)
def test_band_is_ordered_and_a_smaller_gap_means_more_dwell(gap: float, known_gap: float, share: float, lobes: int) -> None:
    """Over the legal range: finite, in order, and on the right side of the known dwell."""
    known_dwell = dwell_from_share(share=share, lobes=lobes)
    try:
        band = dwell_after_gap_change(gap=gap, known_gap=known_gap, known_dwell=known_dwell, lobes=lobes)
    except OutsideValidity as refusal:
        assert "never close" in refusal.reason  # noqa: PT017
        assert gap > known_gap
        return
    assert all(isfinite(value) for value in band)
    assert 0 <= band.low <= band.nominal + 1e-9
    assert band.nominal <= band.high + 1e-9 <= 2 * pi / lobes + 2e-9
    if gap < known_gap:
        assert band.low >= known_dwell - 1e-9
    else:
        assert band.high <= known_dwell + 1e-9


@pytest.mark.parametrize(("dwell", "lobes"), [(58.0, 8), (90.0, 4), (0.0, 4), (-5.0, 4)])
def test_a_dwell_that_leaves_no_spark_is_refused(dwell: float, lobes: int) -> None:
    """58 % on eight lobes typed as degrees does not fit in 45°: the refusal says what to send."""
    with pytest.raises(OutsideValidity, match="percent") as refusal:
        dwell_share(dwell=radians(dwell), lobes=lobes)
    assert refusal.value.field == "dwell"


def test_other_impossible_breakers_are_refused() -> None:
    """No lobes, no gap, a standing engine, all of the time closed, a cam that does not turn."""
    with pytest.raises(OutsideValidity):
        dwell_share(dwell=0.5, lobes=0)
    with pytest.raises(OutsideValidity):
        dwell_from_share(share=1.0, lobes=4)
    with pytest.raises(OutsideValidity):
        dwell_time(dwell=0.5, speed=0.0, shaft_ratio=0.5)
    with pytest.raises(OutsideValidity):
        dwell_timing_shift(dwell_change=0.1, shaft_ratio=0.0)
    with pytest.raises(OutsideValidity) as refusal:
        dwell_after_gap_change(gap=0.0, known_gap=0.4e-3, known_dwell=0.8, lobes=4)
    assert refusal.value.field == "gap"
