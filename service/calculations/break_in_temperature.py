"""How fast a temperature rises and where it will settle."""

from typing import NamedTuple

import numpy as np

from service.calculations.break_in_limits import HEAT_SLACK
from service.methods import Example, method
from service.units import Duration, FloatArray, Temperature, TemperatureDifference, TemperatureRate

BUCKET: Duration = 4.0  # readings are averaged over so long before slopes are taken
WINDOW: Duration = 120.0  # over which a rate of rise is told
LEAST_BUCKETS = 10
PLATEAU_FROM: Duration = 360.0  # a shorter warm-up does not tell where it will settle
MOST_POINTS = 400  # of a fit


def buckets(*, time: FloatArray, values: FloatArray, width: Duration) -> tuple[FloatArray, FloatArray]:
    """Mean time and value of the readings in equal stretches of time, NaN for a stretch without a reading."""
    known = np.isfinite(values)
    if not known.any():
        return np.zeros(0), np.zeros(0)
    number = np.floor(time[known] / width).astype(np.int64)
    size = int(number[-1]) + 1
    count = np.bincount(number, minlength=size).astype(np.float64)
    with np.errstate(invalid="ignore"):
        times = np.bincount(number, weights=time[known], minlength=size) / count
        means = np.bincount(number, weights=values[known], minlength=size) / count
    return times, means


@method(
    id="theil-sen-slope",
    title="Rate of rise",
    formula="median of (y_j − y_i) / (t_j − t_i) over all pairs i < j",
    symbols={"y": "reading", "t": "time"},
    source="sen-1968",
    locator="the median of the slopes of all pairs",
    evidence="from-memory",
    valid="two readings or more; up to a quarter of them may be wrong",
    example=Example(
        {"time": np.array([[0.0, 1.0, 2.0, 3.0]]), "values": np.array([[0.0, 2.0, 4.0, 60.0]])},
        11.0,
        by="by hand: slopes 2, 2, 2, 20, 29, 56 → (2 + 20)/2",
    ),
)
def theil_sen_slopes(*, time: FloatArray, values: FloatArray) -> FloatArray:
    """Slope of every row; both arrays have one window a row, NaN where a reading is missing."""
    one, two = np.triu_indices(time.shape[1], 1)
    slopes = np.sort((values[:, two] - values[:, one]) / (time[:, two] - time[:, one]), axis=1)  # NaN goes last
    count = np.count_nonzero(np.isfinite(slopes), axis=1)
    rows = np.arange(slopes.shape[0])
    middle = np.maximum(count - 1, 0)
    median: FloatArray = (slopes[rows, middle // 2] + slopes[rows, (middle + 1) // 2]) / 2
    return median


class Rise(NamedTuple):
    """The fastest lasting rise of a temperature.

    Attributes:
        rate: Rate in K/s; negative if it only fell.
        start, end: The two minutes in question, in s.
        temperature: Mean temperature in K of these two minutes.
    """

    rate: TemperatureRate
    start: Duration
    end: Duration
    temperature: Temperature


def fastest_rise(*, time: FloatArray, temperature: FloatArray, above: Temperature) -> Rise | None:
    """The fastest rise over two minutes that were warmer than a limit on the mean, or ``None`` if none was."""
    spacing = float(np.median(np.diff(time))) if time.size > 1 else BUCKET
    width = max(BUCKET, spacing)
    times, means = buckets(time=time, values=temperature, width=width)
    span = round(WINDOW / width)
    if span < 3 or times.size < span:
        return None
    step = max(1, span // 8)
    at = np.lib.stride_tricks.sliding_window_view(times, span)[::step]
    readings = np.lib.stride_tricks.sliding_window_view(means, span)[::step]
    known = np.count_nonzero(np.isfinite(readings), axis=1)
    centre = np.nansum(readings, axis=1) / np.maximum(known, 1)
    usable = np.flatnonzero((known >= min(LEAST_BUCKETS, span)) & (centre > above + HEAT_SLACK))
    if usable.size == 0:
        return None
    slopes = theil_sen_slopes(time=at[usable], values=readings[usable])
    best = int(np.argmax(slopes))
    window = usable[best]
    return Rise(
        float(slopes[best]),
        float(np.nanmin(at[window])),
        float(np.nanmax(at[window])),
        float(centre[window]),
    )


class Plateau(NamedTuple):
    """Where a warming temperature settles.

    Attributes:
        temperature: Settled temperature in K.
        standard_uncertainty: Of that temperature, from the scatter about the curve, in K.
        time_constant: Time in s in which 63 % of the way is done.
    """

    temperature: Temperature
    standard_uncertainty: TemperatureDifference
    time_constant: Duration


@method(
    id="temperature-plateau",
    title="Temperature at which the oil will settle",
    formula="T(t) = T∞ − (T∞ − T₀) e^(−t/τ), least squares in T∞, T₀ and τ",
    symbols={"T∞": "settled temperature [K]", "T₀": "temperature at the start [K]", "τ": "time constant [s]"},
    source="derived",
    locator="first-order warming; the linear part solved in closed form, τ by narrowing a grid",
    evidence="derived",
    valid="six minutes of warming or more at about the same load; none is given while the curve does not bend",
    example=Example(
        {"time": np.arange(0.0, 720.0, 6.0), "temperature": 391.15 - 98.0 * np.exp(-np.arange(0.0, 720.0, 6.0) / 300.0)},
        {"temperature": 391.15, "time_constant": 300.0},
        by="the curve it was made of: from 20 °C to 118 °C with 300 s",
    ),
)
def temperature_plateau(*, time: FloatArray, temperature: FloatArray) -> Plateau | None:
    """Fit the warm-up of one uninterrupted run, or ``None`` where it tells nothing yet."""
    known = np.isfinite(temperature) & np.isfinite(time)
    time, temperature = time[known], temperature[known]
    if time.size < 20 or time[-1] - time[0] < PLATEAU_FROM:
        return None
    thin = max(1, time.size // MOST_POINTS)
    time, temperature = time[::thin] - time[0], temperature[::thin]
    longest = 2 * float(time[-1])
    low, high = 20.0, longest
    for _ in range(6):
        grid = np.geomspace(low, high, 25)
        best = int(np.argmin(_squares(time, temperature, grid)))
        low, high = float(grid[max(best - 1, 0)]), float(grid[min(best + 1, 24)])
    constant = float(grid[best])
    if constant > 0.98 * longest:
        return None
    decay = np.exp(-time / constant)
    centred = decay - decay.mean()
    slope = float((centred * temperature).sum() / (centred * centred).sum())
    settled = float(temperature.mean() - slope * decay.mean())
    if slope >= 0:
        return None
    jacobian = np.stack((np.ones_like(time), decay, slope * decay * time / (constant * constant)), axis=1)
    rest = temperature - settled - slope * decay
    variance = float((rest * rest).sum()) / max(time.size - 3, 1)
    spread = variance * float(np.linalg.pinv(jacobian.T @ jacobian)[0, 0])
    return Plateau(settled, float(np.sqrt(max(spread, 0.0))), constant)


def _squares(time: FloatArray, temperature: FloatArray, constants: FloatArray) -> FloatArray:
    """Residual sum of squares of the best line in e^(−t/τ) for every τ."""
    decay = np.exp(-time[None, :] / constants[:, None])
    decay -= decay.mean(axis=1, keepdims=True)
    reading = temperature - temperature.mean()
    cross = decay @ reading
    squares: FloatArray = (reading * reading).sum() - cross * cross / np.maximum((decay * decay).sum(axis=1), 1e-300)
    return squares
