"""Advance, curve and timing light against tables by hand, numpy's interpolation and a simulated light."""

from math import degrees, isfinite, pi, radians

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.calculations.dead_centre import rim_arc, rim_chord
from service.calculations.ignition import CurvePoint, advance_at, timing_light, total_advance
from service.errors import Contradiction, OutsideValidity
from tests.published.cases import published

RPM = pi / 30
CASES = published("ignition")
STATIC = st.floats(-10, 30)


def test_published_mark_distance() -> None:
    """Case G17: 10° on 180 mm are 15.708 mm of tape."""
    case = CASES["G17"]
    arc = rim_arc(angle=radians(case["given"]["angle"]["value"]), diameter=case["given"]["D"]["value"] * 1e-3)
    assert arc * 1e3 == pytest.approx(case["expected"]["arc"]["value"], abs=case["tolerance"]["abs"])


def test_tape_and_caliper_differ_at_28_degrees() -> None:
    """By hand on 145 mm: π · 145 · 28/360 = 35.43 mm by tape, 145 · sin 14° = 35.08 mm by caliper."""
    assert rim_arc(angle=radians(28), diameter=0.145) * 1e3 == pytest.approx(35.43, abs=0.005)
    assert rim_chord(angle=radians(28), diameter=0.145) * 1e3 == pytest.approx(35.08, abs=0.005)


def test_distributor_degrees_count_twice() -> None:
    """By hand: 7.5° static and 11° in the distributor are 29.5°; the same 11° read at the crank are 18.5°."""
    static, weights = radians(7.5), radians(11)
    at_distributor = total_advance(static_advance=static, weight_advance=weights, shaft_ratio=0.5)
    at_crank = total_advance(static_advance=static, weight_advance=weights, shaft_ratio=1.0)
    assert degrees(at_distributor) == pytest.approx(29.5)
    assert degrees(at_crank) == pytest.approx(18.5)


def test_more_than_fifty_degrees_is_refused() -> None:
    """22° of crank advance taken for distributor degrees would make 52°; the message says which is which."""
    with pytest.raises(OutsideValidity, match="distributor degrees") as refusal:
        total_advance(static_advance=radians(8), weight_advance=radians(22), shaft_ratio=0.5)
    assert refusal.value.field == "total_advance"


@pytest.mark.parametrize(
    ("speed", "printed"), [(600, 7.5), (1000, 7.5), (1500, 13.0), (2000, 18.5), (3000, 29.5), (4500, 29.5)]
)
def test_curve_by_hand(speed: float, printed: float) -> None:
    """Distributor 0° at 500 and 11° at 1500 rpm with 7.5° static: level, straight, level at the crank."""
    points = (CurvePoint(500 * RPM, 0.0), CurvePoint(1500 * RPM, radians(11)))
    advance = advance_at(points=points, static_advance=radians(7.5), shaft_ratio=0.5, speed=speed * RPM)
    assert degrees(advance) == pytest.approx(printed)


@given(
    steps=st.lists(st.tuples(st.floats(50, 800), st.floats(0, 2.5)), min_size=1, max_size=6),
    static=st.floats(-10, 15),
    speed=st.floats(0, 12000),
)
def test_curve_agrees_with_numpy(steps: list[tuple[float, float]], static: float, speed: float) -> None:
    """numpy.interp, which is straight between and level outside, at every crank speed."""
    speeds = np.cumsum([step for step, _ in steps])
    advances = np.cumsum([rise for _, rise in steps])
    points = [CurvePoint(n * RPM, radians(a)) for n, a in zip(speeds.tolist(), advances.tolist(), strict=True)]
    ours = advance_at(points=points, static_advance=radians(static), shaft_ratio=0.5, speed=speed * RPM)
    theirs = static + 2 * float(np.interp(speed / 2, speeds, advances))
    assert degrees(ours) == pytest.approx(theirs, abs=1e-6)


def test_a_curve_that_goes_back_is_refused() -> None:
    """Speeds rise; the refusal names the point."""
    points = (CurvePoint(50.0, 0.0), CurvePoint(100.0, 0.1), CurvePoint(90.0, 0.15))
    with pytest.raises(OutsideValidity) as refusal:
        advance_at(points=points, static_advance=0.1, shaft_ratio=0.5, speed=100.0)
    assert refusal.value.field == "curve/2/speed"
    with pytest.raises(OutsideValidity):
        advance_at(points=(), static_advance=0.1, shaft_ratio=0.5, speed=100.0)
    with pytest.raises(OutsideValidity):
        advance_at(points=points[:2], static_advance=0.1, shaft_ratio=0.0, speed=100.0)


def simulated_light(advance: float, dial: float, wasted_spark: bool, speed: float) -> float:
    """Mark in crank degrees that stands at the pointer when a delayed light flashes, from times alone.

    The light measures the time between two sparks, takes it for two turns, and flashes late by dial/720 of it.
    """
    turn = 60 / speed
    between_sparks = turn if wasted_spark else 2 * turn
    delay = dial / 720 * between_sparks
    return advance - delay / turn * 360


@given(advance=st.floats(0, 50), dial=st.floats(0, 60), wasted_spark=st.booleans(), speed=st.floats(300, 6000))
def test_light_agrees_with_a_simulated_one(advance: float, dial: float, wasted_spark: bool, speed: float) -> None:
    """Whatever mark a simulated dial-back light shows, the arithmetic finds the advance again."""
    mark = simulated_light(advance, dial, wasted_spark, speed)
    reading = timing_light(mark=radians(mark), dial=radians(dial), wasted_spark=wasted_spark)
    assert degrees(reading.advance) == pytest.approx(advance, abs=1e-6)
    assert reading.speed_ratio == (0.5 if wasted_spark else 1.0)


def test_light_by_hand() -> None:
    """Top dead centre at the pointer with 28 on the dial is 28°, but 14° where every turn has a spark."""
    assert degrees(timing_light(mark=0.0, dial=radians(28), wasted_spark=False).advance) == pytest.approx(28)
    assert degrees(timing_light(mark=0.0, dial=radians(28), wasted_spark=True).advance) == pytest.approx(14)
    with pytest.raises(Contradiction):
        timing_light(mark=radians(170), dial=radians(60), wasted_spark=False)


@given(static=STATIC, weights=st.floats(0, 25), ratio=st.floats(0.3, 1))
def test_total_is_finite_or_refused(static: float, weights: float, ratio: float) -> None:
    """Every legal pair has a total of at most 50° or a reason."""
    try:
        total = total_advance(static_advance=radians(static), weight_advance=radians(weights), shaft_ratio=ratio)
    except OutsideValidity:
        assert static + weights / ratio > 50 - 1e-9
        return
    assert isfinite(total)
    assert degrees(total) == pytest.approx(static + weights / ratio, abs=1e-9)
