"""The break-in plan keeps its promises over the whole space of what may be asked."""

from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from service.calculations.break_in_limits import RPM, StopThresholds, oil_pressure_floor, oil_pressure_floors
from service.calculations.break_in_proof import knots, prove, speed_at
from service.calculations.break_in_schedule import (
    Body,
    break_in_body,
    check_band,
    cool_down,
    remaining_time,
    visiting_order,
)
from service.errors import Contradiction, OutsideValidity


def body(low: float, high: float, minutes: float, **more: Any) -> Body:
    return break_in_body(speed_low=low * RPM, speed_high=high * RPM, duration=minutes * 60, **more)


def test_visiting_order_is_van_der_corputs() -> None:
    """Van der Corput (1935): the first eight points of the binary radical inverse are 0, 1/2, 1/4, 3/4, 1/8, 5/8, 3/8, 7/8."""
    assert visiting_order(bands=8, cycles=1) == [0, 4, 2, 6, 1, 5, 3, 7]
    assert visiting_order(bands=2, cycles=2) == [0, 1, 0, 1]
    with pytest.raises(OutsideValidity):
        visiting_order(bands=1, cycles=1)


@given(bands=st.integers(2, 40), cycles=st.integers(1, 6))
def test_every_cycle_visits_every_band_once_and_never_twice_running(bands: int, cycles: int) -> None:
    order = visiting_order(bands=bands, cycles=cycles)
    for cycle in range(cycles):
        assert sorted(order[cycle * bands : (cycle + 1) * bands]) == list(range(bands))
    assert all(one != two for one, two in pairwise(order))


@given(bands=st.integers(2, 40), cycles=st.integers(1, 4), share=st.floats(0.0, 1.0))
def test_a_run_stopped_at_any_moment_has_visited_all_bands_alike(bands: int, cycles: int, share: float) -> None:
    """After any number of visits no band is more than one visit ahead of another."""
    order = visiting_order(bands=bands, cycles=cycles)
    counts = np.bincount(order[: int(share * len(order))], minlength=bands)
    assert counts.max() - counts.min() <= 1


@given(power=st.integers(2, 5), visits=st.integers(2, 32))
def test_the_first_visits_leave_no_wide_hole(power: int, visits: int) -> None:
    """Low discrepancy: after k visits of 2^m bands the widest unvisited stretch is below 2 · 2^m / k bands."""
    bands = 2**power
    seen = sorted(visiting_order(bands=bands, cycles=1)[: min(visits, bands)])
    holes = [b - a for a, b in zip([-1, *seen], [*seen, bands], strict=True)]
    assert max(holes) <= 2 * bands / min(visits, bands)


def test_twenty_minutes_for_a_flat_tappet_cam() -> None:
    """The trade's 2,000 to 2,800 rpm for 20 min: eight bands of 100 rpm, every one for more than a minute."""
    plan = body(2000, 2800, 20)
    assert [round(segment.speed / RPM) for segment in plan.segments[:7]] == [2050, 2450, 2250, 2650, 2150, 2550, 2350]
    proof = prove(body=plan)
    assert proof.total == 1200.0
    assert min(proof.band_times) >= 60
    assert proof.evenness > 0.8
    assert all(segment.start == int(segment.start) for segment in plan.segments)


def test_fifteen_minutes_to_four_thousand() -> None:
    """The other habit of the trade, 2,000 to 4,000 rpm for 15 min, is planned too."""
    proof = prove(body=body(2000, 4000, 15))
    assert proof.total == 900.0
    assert proof.coverage == pytest.approx(1.0)
    assert min(proof.band_times) > 15


@settings(max_examples=300, deadline=None)
@given(
    low=st.floats(1500, 4000),
    width=st.floats(200, 3000),
    minutes=st.floats(2, 120),
    dwell=st.floats(5, 600),
    ramp=st.floats(5, 1000),
    band=st.floats(50, 500),
    hold=st.floats(5, 120),
    resumed=st.booleans(),
)
@example(low=2000, width=800, minutes=20, dwell=60, ramp=50, band=100, hold=30, resumed=False)
@example(low=1500, width=3000, minutes=2, dwell=600, ramp=5, band=50, hold=5, resumed=True)
@example(low=1500, width=3000, minutes=120, dwell=5, ramp=1000, band=50, hold=5, resumed=False)
def test_the_promises_hold_over_the_whole_space(
    low: float, width: float, minutes: float, dwell: float, ramp: float, band: float, hold: float, resumed: bool
) -> None:
    """Within the band, dwell and ramp within their limits, exact total, full coverage, one piece; or a clear refusal."""
    limits: dict[str, Any] = {"longest_dwell": dwell, "ramp_rate": ramp * RPM}
    try:
        plan = body(low, low + width, minutes, band_width=band * RPM, usual_hold=hold, resumed=resumed, **limits)
    except (Contradiction, OutsideValidity) as refused:
        slow_ramp = dwell - 150 / ramp < 2
        too_short = minutes * 60 < 3 * width / ramp + 60
        if not (slow_ramp or (too_short and not resumed)):
            pytest.fail(refused.reason)
        return
    proof = prove(body=plan)
    kept = proof.keeps(speed_low=low * RPM, speed_high=(low + width) * RPM, duration=minutes * 60, resumed=resumed, **limits)
    assert all(kept.values()), kept
    assert sum(proof.band_times) == pytest.approx(minutes * 60)
    assert all(segment.duration > 0 and segment.hold >= -1e-9 for segment in plan.segments)


@settings(max_examples=100, deadline=None)
@given(low=st.floats(1500, 3500), width=st.floats(300, 1000), left=st.floats(0.5, 1199))
def test_whatever_is_left_of_a_run_can_be_planned(low: float, width: float, left: float) -> None:
    """A resumed run may be of any length; its total is what was left, to the second."""
    plan = body(low, low + width, left / 60, resumed=True)
    assert prove(body=plan).total == pytest.approx(left, abs=1e-9)


@pytest.mark.parametrize("done", [0.0, 300.0, 840.0, 1050.0, 1170.0])
def test_remaining_time_after_a_stop_is_covered_from_end_to_end(done: float) -> None:
    """After 0, 5, 14, 17.5 and 19.5 of 20 minutes the plan for the rest still spans the whole band."""
    left = remaining_time(required=1200.0, credited=done)
    proof = prove(body=body(2000, 2800, left / 60, resumed=True))
    assert proof.total == left == 1200.0 - done
    assert proof.coverage == pytest.approx(1.0)
    assert min(proof.band_times) > 0


def test_remaining_time_refuses_nonsense() -> None:
    assert remaining_time(required=1200.0, credited=1500.0) == 0.0
    with pytest.raises(OutsideValidity):
        remaining_time(required=1200.0, credited=-1.0)
    with pytest.raises(OutsideValidity):
        remaining_time(required=0.0, credited=0.0)


def test_the_same_question_gives_the_same_plan() -> None:
    assert body(2000, 2800, 20) == body(2000, 2800, 20)


def test_the_proof_finds_a_broken_plan() -> None:
    """A proof that cannot fail proves nothing: each promise is broken on purpose and caught."""
    plan = body(2000, 2800, 20)
    limits: dict[str, Any] = {
        "speed_low": 2000 * RPM,
        "speed_high": 2800 * RPM,
        "duration": 1200.0,
        "longest_dwell": 60.0,
        "ramp_rate": 50 * RPM,
    }

    def broken(number: int, **changes: Any) -> set[str]:
        segments = list(plan.segments)
        segments[number] = segments[number]._replace(**changes)
        kept = prove(body=plan._replace(segments=tuple(segments))).keeps(**limits)
        return {name for name, good in kept.items() if not good}

    assert broken(5, speed=2900 * RPM) >= {"speed_within_band", "continuous"}
    assert "ramp_within_limit" in broken(5, ramp=0.5)
    assert "total_is_exact" in broken(-1, duration=100.0)
    assert "dwell_within_limit" in broken(-1, duration=100.0)
    assert "never_same_band_twice" in broken(3, band=plan.segments[2].band)
    assert "continuous" in broken(4, start=plan.segments[4].start + 1)
    short = prove(body=plan._replace(segments=plan.segments[:3]))
    assert not short.keeps(**limits)["band_covered"]


def test_longest_dwell_of_the_proof_is_exact() -> None:
    """Dense sampling (100 Hz) of the plan never finds a longer stretch within 75 rpm than the proof, and one as long."""
    plan = body(2000, 2800, 8)
    proof = prove(body=plan)
    time = np.arange(0, 480, 0.01)
    speed = speed_at(segments=plan.segments, time=time)
    longest, start = 0.0, 0
    for end in range(time.size):
        while np.ptp(speed[start : end + 1]) > 75 * RPM * (1 + 1e-9):
            start += 50
        longest = max(longest, time[end] - time[start])
    assert longest <= proof.longest_dwell + 1e-6
    assert longest == pytest.approx(proof.longest_dwell, abs=0.6)


def test_knots_of_a_plan_trace_its_segments() -> None:
    plan = body(2000, 2800, 20)
    time, speed = knots(segments=plan.segments)
    assert np.all(np.diff(time) > 0)
    for segment in plan.segments:
        at = np.interp([segment.start + segment.ramp, segment.start + segment.duration], time, speed)
        assert at == pytest.approx([segment.speed, segment.speed])


def test_too_short_a_run_is_refused_and_says_what_to_send() -> None:
    with pytest.raises(OutsideValidity, match="more time") as refused:
        break_in_body(speed_low=1500 * RPM, speed_high=4500 * RPM, duration=120.0, ramp_rate=10 * RPM)
    assert refused.value.field == "duration"


def test_a_ramp_too_slow_for_the_dwell_is_refused() -> None:
    with pytest.raises(Contradiction, match="faster ramp") as refused:
        body(2000, 2800, 20, ramp_rate=5 * RPM, longest_dwell=20.0)
    assert set(refused.value.fields) == {"ramp_rate", "longest_dwell"}


@pytest.mark.parametrize(
    ("low", "high", "flat", "limit", "field"),
    [
        (1400, 2500, True, None, "speed_low"),
        (900, 2500, False, None, "speed_low"),
        (2000, 4600, True, None, "speed_high"),
        (2000, 3700, True, 4500, "rev_limit"),
        (2800, 2000, True, None, "speed_high"),
        (2000, 2100, True, None, "speed_high"),
    ],
)
def test_bands_that_harm_are_refused(low: float, high: float, flat: bool, limit: float | None, field: str) -> None:
    with pytest.raises((OutsideValidity, Contradiction)) as refused:
        check_band(speed_low=low * RPM, speed_high=high * RPM, flat_tappet=flat, rev_limit=limit * RPM if limit else None)
    problem = refused.value
    assert field in getattr(problem, "fields", (getattr(problem, "field", ""),))


@pytest.mark.parametrize(("low", "high", "flat"), [(1500, 2500, True), (2000, 4000, True), (1200, 2500, False)])
def test_both_habits_of_the_trade_are_legal(low: float, high: float, flat: bool) -> None:
    check_band(speed_low=low * RPM, speed_high=high * RPM, flat_tappet=flat, rev_limit=5600 * RPM)


def test_cool_down_never_rises() -> None:
    """1,500 rpm for 60 s, 1,000 rpm for 30 s; from below 1,500 rpm the first step stays where it is."""
    steps = ((1500 * RPM, 60.0), (1000 * RPM, 30.0))
    down = cool_down(from_speed=2450 * RPM, steps=steps, ramp_rate=50 * RPM, start=1200.0)
    assert [segment.hold for segment in down] == pytest.approx([60, 30])
    assert down[0].start == 1200.0
    assert down[1].start == pytest.approx(1200 + 19 + 60)  # 950 rpm at 50 rpm/s take 19 s
    slow = cool_down(from_speed=1250 * RPM, steps=steps, ramp_rate=50 * RPM)
    assert slow[0].speed == 1250 * RPM


def test_oil_pressure_floor_is_the_trades_rule() -> None:
    """10 psi per 1,000 rpm; the technical manual's 26 psi at 2,850 rpm (TM 5-3895-376-14&P 6-3) agrees within 10 %."""
    rule = StopThresholds()
    psi = 6894.757

    def floor(rpm: float) -> float:
        return oil_pressure_floor(
            speed=rpm * RPM, pressure_per_speed=rule.pressure_per_speed, least_pressure=rule.least_pressure
        )

    assert floor(1000) / psi == pytest.approx(10, rel=0.002)
    assert floor(2850) / psi == pytest.approx(26, rel=0.10)
    assert floor(400) == 35e3
    speeds = np.array([0.0, 800.0, 2000.0]) * RPM
    assert oil_pressure_floors(speed=speeds, thresholds=rule) == pytest.approx([floor(0), floor(800), floor(2000)])
    with pytest.raises(OutsideValidity):
        floor(-1)
