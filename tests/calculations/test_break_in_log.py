"""Cleaning, credit, dwell, sensor faults and trends of a log, against brute force and library referees."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.optimize import curve_fit
from scipy.stats import theilslopes

from service.calculations.break_in_credit import credited_time, longest_dwell, not_negative, time_by_band
from service.calculations.break_in_limits import CELSIUS, RPM
from service.calculations.break_in_log import Log, clean_log, hampel_spikes, runs, unit_suspicions
from service.calculations.break_in_temperature import buckets, fastest_rise, temperature_plateau, theil_sen_slopes
from service.errors import Contradiction, OutsideValidity

Array = NDArray[np.float64]


def floats(values: object) -> Array:
    """An array of floats for the type checker."""
    return np.asarray(values, dtype=np.float64)


speeds = st.lists(st.floats(0, 400), min_size=2, max_size=60)


def simple(time: Array, speed: float = 2400.0, **channels: Array) -> Log:
    return clean_log(time=time, speed=np.full(time.size, speed * RPM), **channels)


def test_median_network_by_the_zero_one_principle() -> None:
    """Knuth: a network that finds the median of every sequence of zeros and ones finds it of every sequence."""
    from service.calculations.break_in_log import _median_of_seven

    for bits in range(128):
        seven = np.array([(bits >> k) & 1 for k in range(7)], dtype=np.float64)
        assert _median_of_seven(seven)[3] == np.median(seven)


@settings(max_examples=50)
@given(seed=st.integers(0, 10_000), spikes=st.integers(0, 5))
def test_hampel_is_the_plain_filter(seed: int, spikes: int) -> None:
    """The same samples as the textbook's loop of median and median absolute deviation."""
    rng = np.random.default_rng(seed)
    values = np.cumsum(rng.normal(0, 1, 80))
    values[rng.integers(0, 80, spikes)] += rng.normal(0, 60, spikes)
    padded = np.pad(values, 3, mode="reflect")
    expected = []
    for i in range(80):
        window = padded[i : i + 7]
        centre = np.median(window)
        scale = 1.4826 * np.median(np.abs(window - centre))
        expected.append(abs(values[i] - centre) > max(5.0, 4 * scale))
    assert hampel_spikes(values=values, least=5.0).tolist() == expected


def test_hampel_leaves_steps_ramps_and_short_series_alone() -> None:
    step = np.where(np.arange(100) < 50, 200.0, 0.0)
    assert not hampel_spikes(values=step, least=15.0).any()
    assert not hampel_spikes(values=np.linspace(0, 500, 100), least=5.0).any()
    assert not hampel_spikes(values=np.array([1.0, 900.0, 1.0]), least=5.0).any()


def test_order_duplicates_and_rows_are_on_record() -> None:
    """Rows keep the caller's count through sorting; the first of every time stays."""
    time = np.concatenate((np.arange(0.0, 100.0), [50.0, 20.0, 99.5]))
    log = clean_log(time=time, speed=floats(np.arange(time.size) + 100.0))
    assert log.duplicates == 2
    assert log.unordered == 2
    assert np.all(np.diff(log.time) > 0)
    assert log.row[-2:].tolist() == [99, 102] or log.row[-2:].tolist() == [102, 99]
    assert log.speed[50] == 150.0


def test_missing_and_impossible_readings() -> None:
    time = np.arange(0.0, 100.0)
    speed = np.full(100, 200.0)
    speed[[3, 4]] = np.nan
    speed[7] = 65535 * RPM
    pressure = np.full(100, 3e5)
    pressure[9] = -1e5
    log = clean_log(time=time, speed=speed, oil_pressure=pressure)
    assert log.missing == {"speed": 2, "oil_pressure": 0}
    assert log.impossible["speed"].tolist() == [7]
    assert log.impossible["oil_pressure"].tolist() == [9]
    assert np.isnan(log.speed[[3, 4, 7]]).all()


@pytest.mark.parametrize(
    ("time", "field", "hint"),
    [
        (np.linspace(0, 20, 1200), "log/time", "minutes"),  # 20 min sent as 20 s
        (np.linspace(0, 1.2e6, 1200), "log/time", "milliseconds"),  # 20 min sent in ms
        (np.linspace(0, 0.33, 1200), "log/time", "hours"),
        (np.array([0.0]), "log/time", "60 s"),
        (np.concatenate((np.linspace(0, 600, 600), [np.nan])), "log/time", "Row 601"),
    ],
)
def test_wrong_time_units_are_refused_with_the_unit_to_name(time: Array, field: str, hint: str) -> None:
    with pytest.raises(OutsideValidity, match=hint) as refused:
        simple(time)
    assert refused.value.field == field


@pytest.mark.parametrize("factor", [60.0, 1000.0])
def test_time_that_changes_its_unit_is_refused(factor: float) -> None:
    steps = np.concatenate((np.full(100, 1.0), np.full(100, 1 / factor)))
    with pytest.raises(Contradiction, match="one unit"):
        simple(np.concatenate(([0.0], np.cumsum(steps))))


def test_psi_sent_as_bar_is_refused() -> None:
    """40 psi read as 40 bar cannot be; the refusal names the likely slip."""
    time = np.arange(0.0, 100.0)
    with pytest.raises(OutsideValidity, match="psi"):
        simple(time, oil_pressure=np.full(100, 40e5))


def test_a_log_without_speed_is_refused() -> None:
    with pytest.raises(OutsideValidity, match="speed"):
        clean_log(time=np.arange(0.0, 100.0), speed=np.full(100, np.nan))


@pytest.mark.parametrize(
    ("channels", "speed", "field", "word"),
    [
        ({}, 2.4, "speed", "thousands"),
        ({}, 40.0, "speed", "second"),
        ({"oil_pressure": 40e3}, 2400.0, "oil_pressure", "psi"),  # 40 psi sent as 40 kPa
        ({"oil_pressure": 1200e3}, 2400.0, "oil_pressure", "larger"),
        ({"oil_temperature": CELSIUS + 170}, 2400.0, "oil_temperature", "°F"),
        ({"oil_temperature": CELSIUS + 32}, 2400.0, "oil_temperature", "°C"),  # 90 °C sent as 90 °F
        ({"head_temperature": CELSIUS + 350}, 2400.0, "head_temperature", "°F"),
    ],
)
def test_unit_slips_are_suspected(channels: dict[str, float], speed: float, field: str, word: str) -> None:
    time = np.arange(0.0, 900.0)
    log = simple(time, speed=speed, **{name: np.full(900, value) for name, value in channels.items()})
    found = unit_suspicions(log=log)
    assert [suspicion.field for suspicion in found] == [field]
    assert word in found[0].suspected


def test_a_sound_log_raises_no_suspicion() -> None:
    time = np.arange(0.0, 900.0)
    log = simple(
        time,
        oil_pressure=np.full(900, 300e3),
        oil_temperature=np.full(900, CELSIUS + 90),
        head_temperature=np.full(900, CELSIUS + 150),
    )
    assert unit_suspicions(log=log) == []


@given(bits=st.lists(st.booleans(), max_size=40), cuts=st.lists(st.booleans(), min_size=40, max_size=40))
def test_runs_are_maximal_and_unbroken(bits: list[bool], cuts: list[bool]) -> None:
    mask = np.array(bits, dtype=np.bool_)
    gap = np.array(cuts[: max(0, len(bits) - 1)], dtype=np.bool_)
    expected: list[tuple[int, int]] = []
    for i, on in enumerate(bits):
        if on and expected and expected[-1][1] == i - 1 and not gap[i - 1]:
            expected[-1] = (expected[-1][0], i)
        elif on:
            expected.append((i, i))
    first, last = runs(mask, gap)
    assert list(zip(first.tolist(), last.tolist(), strict=True)) == expected


@settings(max_examples=60)
@given(values=speeds, floor=st.floats(1, 399), seed=st.integers(0, 1000))
def test_credit_against_dense_sampling(values: list[float], floor: float, seed: int) -> None:
    """The exact crossings agree with 20,000 samples of the same straight lines."""
    rng = np.random.default_rng(seed)
    time = np.cumsum(rng.uniform(0.2, 7.0, len(values)))
    speed = np.array(values)
    dense = np.linspace(time[0], time[-1], 20_000)
    inside = np.searchsorted(time, dense, side="right") - 1
    near = np.diff(time)[np.minimum(inside, len(values) - 2)] <= 5.0
    expected = ((np.interp(dense, time, speed) >= floor) & near).mean() * (time[-1] - time[0])
    got = credited_time(time=time, speed=speed, floor_speed=floor, gap=5.0)
    assert got == pytest.approx(expected, abs=(time[-1] - time[0]) / 20_000 * 2 * len(values))


@given(values=speeds, low=st.floats(1, 300), more=st.floats(1, 90))
def test_credit_falls_as_the_floor_rises(values: list[float], low: float, more: float) -> None:
    time = floats(np.arange(len(values)) * 2.0)
    speed = np.array(values)
    lower = credited_time(time=time, speed=speed, floor_speed=low, gap=5.0)
    assert credited_time(time=time, speed=speed, floor_speed=low + more, gap=5.0) <= lower + 1e-9


def test_credit_needs_pressure_and_ends_at_the_freeze() -> None:
    """By hand: pressure margin crosses zero at 5 s of 10; frozen at 8 s: 8 − 5 = 3 s count."""
    time, speed = np.arange(0.0, 11.0), np.full(11, 250.0)
    margin = time - 5.0
    assert credited_time(time=time, speed=speed, floor_speed=200.0, gap=5.0, pressure_margin=margin) == 5.0
    assert credited_time(time=time, speed=speed, floor_speed=200.0, gap=5.0, pressure_margin=margin, until=8.0) == 3.0
    margin[7] = np.nan  # a reading that is not known proves nothing on either side of it
    assert credited_time(time=time, speed=speed, floor_speed=200.0, gap=5.0, pressure_margin=margin) == 3.0


def test_not_negative_of_lines() -> None:
    parts = not_negative(np.array([1.0, -1.0, -1.0, 0.0, -2.0]), np.array([-1.0, 3.0, -1.0, 0.0, 0.0]))
    assert parts.begin.tolist() == [0.0, 0.25, 0.0, 0.0, 0.0]
    assert parts.end.tolist() == [0.5, 1.0, 0.0, 1.0, 0.0]


@settings(max_examples=60)
@given(values=speeds)
def test_band_times_add_up_and_agree_with_dense_sampling(values: list[float]) -> None:
    time = floats(np.arange(len(values)) * 1.5)
    speed = np.array(values)
    edges = np.linspace(0, 400, 9)
    times = time_by_band(time=time, speed=speed, edges=edges)
    assert times.sum() == pytest.approx(time[-1])
    dense = np.interp(np.linspace(0, time[-1], 40_000), time, speed)
    counts, _ = np.histogram(dense, edges)
    assert times == pytest.approx(counts / 40_000 * time[-1], abs=time[-1] / 40_000 * 3 * len(values))


@settings(max_examples=150)
@given(
    values=st.lists(st.integers(0, 40), min_size=1, max_size=40),
    tolerance=st.integers(0, 20),
    floor=st.integers(0, 15),
    seed=st.integers(0, 100),
)
def test_longest_dwell_against_brute_force(values: list[int], tolerance: int, floor: int, seed: int) -> None:
    """All pairs of samples are tried: the longest stretch above the floor, within the tolerance and without a gap."""
    rng = np.random.default_rng(seed)
    time = np.cumsum(rng.choice([0.5, 1.0, 2.0, 6.0], len(values)))
    speed = np.array(values, dtype=np.float64)
    best = 0.0
    for i in range(len(values)):
        for j in range(i, len(values)):
            window = speed[i : j + 1]
            whole = not (np.diff(time[i : j + 1]) > 5.0).any()
            if window.min() >= floor and np.ptp(window) <= tolerance and whole:
                best = max(best, time[j] - time[i])
    found = longest_dwell(time=time, speed=speed, tolerance=tolerance, gap=5.0, floor_speed=floor)
    assert found.duration == pytest.approx(best)
    if best > 0:
        assert time[found.last] - time[found.first] == pytest.approx(best)


def test_longest_dwell_of_nothing() -> None:
    empty = np.zeros(0)
    assert longest_dwell(time=empty, speed=empty, tolerance=1.0, gap=5.0).duration == 0
    lost = np.full(5, np.nan)
    assert longest_dwell(time=np.arange(5.0), speed=lost, tolerance=1.0, gap=5.0).first == -1


@settings(max_examples=50)
@given(seed=st.integers(0, 10_000), size=st.integers(3, 30))
def test_theil_sen_against_scipy(seed: int, size: int) -> None:
    """scipy.stats.theilslopes gives the same slope; lost readings are left out of both."""
    rng = np.random.default_rng(seed)
    time = np.cumsum(rng.uniform(0.5, 2.0, size))
    values = 3 * time + rng.normal(0, 5, size)
    lost = rng.uniform(size=size) < 0.2
    if size - lost.sum() < 2:
        return
    expected = theilslopes(values[~lost], time[~lost]).slope
    values[lost] = np.nan
    got = theil_sen_slopes(time=time[None, :], values=values[None, :])[0]
    assert got == pytest.approx(expected)


def test_fastest_rise_finds_the_steep_two_minutes() -> None:
    """Flat at 80 °C, then 12 K/min from 600 s to 720 s; only warm windows count."""
    time = np.arange(0.0, 1200.0, 0.5)
    oil = CELSIUS + 80 + np.clip(time - 600, 0, 120) * 0.2 + np.random.default_rng(1).normal(0, 0.3, time.size)
    rise = fastest_rise(time=time, temperature=oil, above=CELSIUS + 70)
    assert rise is not None
    assert rise.rate * 60 == pytest.approx(12, rel=0.05)
    assert rise.start == pytest.approx(600, abs=20)
    assert fastest_rise(time=time, temperature=oil, above=CELSIUS + 150) is None
    assert fastest_rise(time=time[:100], temperature=oil[:100], above=0.0) is None
    slow = fastest_rise(time=time[::20], temperature=oil[::20], above=CELSIUS + 70)  # a reading every 10 s
    assert slow is not None
    assert slow.rate * 60 == pytest.approx(12, rel=0.15)


@pytest.mark.parametrize(("settled", "constant"), [(118.0, 300.0), (95.0, 200.0), (130.0, 420.0)])
def test_plateau_against_scipy(settled: float, constant: float) -> None:
    """Seven to twelve minutes of warming: the truth within 1 K, and the same least squares as scipy's curve_fit."""
    time = np.arange(0.0, 720.0, 1.0)
    truth = CELSIUS + settled - (settled - 20) * np.exp(-time / constant)
    reading = truth + np.random.default_rng(7).normal(0, 0.3, time.size)
    fit = temperature_plateau(time=time, temperature=reading)
    assert fit is not None
    assert fit.temperature == pytest.approx(CELSIUS + settled, abs=1.0)
    assert fit.time_constant == pytest.approx(constant, rel=0.03)
    thin = slice(None, None, max(1, time.size // 400))
    best, covariance = curve_fit(lambda t, a, b, tau: a + b * np.exp(-t / tau), time[thin], reading[thin], p0=(370, -70, 300))
    assert fit.temperature == pytest.approx(best[0], abs=0.02)
    assert fit.standard_uncertainty == pytest.approx(np.sqrt(covariance[0, 0]), rel=0.1)


def test_plateau_is_not_made_up() -> None:
    """A straight rise, a cooling curve, and five minutes of data settle nothing."""
    time = np.arange(0.0, 720.0, 1.0)
    assert temperature_plateau(time=time, temperature=300 + 0.1 * time) is None
    assert temperature_plateau(time=time, temperature=300 + 50 * np.exp(-time / 200)) is None
    assert temperature_plateau(time=time[:300], temperature=350 - 50 * np.exp(-time[:300] / 200)) is None


def test_buckets_are_means() -> None:
    times, means = buckets(time=np.array([0.0, 1.0, 5.0, 13.0]), values=np.array([2.0, 4.0, np.nan, 6.0]), width=4.0)
    assert times[[0, 3]].tolist() == [0.5, 13.0]
    assert means[[0, 3]].tolist() == [3.0, 6.0]
    assert np.isnan(means[[1, 2]]).all()
