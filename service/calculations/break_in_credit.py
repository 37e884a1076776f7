"""What of a run counts: time above the floor speed with oil pressure, by speed band, and the longest dwell.

Between two samples every reading is taken as a straight line, and the moments at which it crosses a limit are exact.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from service.methods import Example, method
from service.units import Duration, FloatArray, RotationalSpeed

PIECE = 32_768  # samples worked on at once


class Parts(NamedTuple):
    """The counted part of every interval between two samples, as fractions of it from 0 to 1."""

    begin: FloatArray
    end: FloatArray

    def lengths(self, steps: FloatArray) -> FloatArray:
        """Counted time of every interval in s."""
        lengths: FloatArray = (self.end - self.begin) * steps
        return lengths


def not_negative(before: FloatArray, after: FloatArray) -> Parts:
    """Where a straight line from one value to the next is zero or more; nowhere if either is NaN."""
    with np.errstate(divide="ignore", invalid="ignore"):
        crossing = before / (before - after)
    begin = np.where(before >= 0, 0.0, np.where(after > 0, crossing, 1.0))
    end = np.where(after >= 0, 1.0, np.where(before >= 0, crossing, 0.0))
    empty = (begin >= end) | np.isnan(before) | np.isnan(after)
    begin[empty] = 0.0
    end[empty] = 0.0
    return Parts(begin, end)


@method(
    id="break-in-credit",
    title="Credited time of a logged run",
    formula="t = Σ Δt_i · |{λ ∈ [0, 1]: n(λ) ≥ n₀ and p(λ) ≥ p₀(n(λ))}|, over Δt_i ≤ gap, up to the first loss of pressure",
    symbols={"n": "speed", "n₀": "floor speed", "p": "oil pressure", "p₀": "its floor at that speed", "gap": "5 s"},
    source="derived",
    locator="piecewise linear readings; rules of credit common practice",
    evidence="derived",
    example=Example(
        {
            "time": np.array([0.0, 4.0, 8.0, 20.0]),
            "speed": np.array([180.0, 220.0, 220.0, 220.0]),
            "floor_speed": 200.0,
            "gap": 5.0,
        },
        6.0,
        by="by hand: the floor is crossed at 2 s, 4 s and then nothing of the 12 s gap: 2 + 4",
    ),
)
def credited_time(
    *,
    time: FloatArray,
    speed: FloatArray,
    floor_speed: RotationalSpeed,
    gap: Duration,
    pressure_margin: FloatArray | None = None,
    until: Duration = np.inf,
) -> Duration:
    """Time in s that counts. ``pressure_margin`` is pressure less its floor in Pa, NaN where it is not known."""
    parts = credited_parts(
        time=time, speed=speed, floor_speed=floor_speed, gap=gap, pressure_margin=pressure_margin, until=until
    )
    return float(parts.lengths(np.diff(time)).sum())


def credited_parts(
    *,
    time: FloatArray,
    speed: FloatArray,
    floor_speed: RotationalSpeed,
    gap: Duration,
    pressure_margin: FloatArray | None = None,
    until: Duration = np.inf,
) -> Parts:
    """The part of every interval that counts (see :func:`credited_time`)."""
    above = speed - floor_speed
    begin, end = not_negative(above[:-1], above[1:])
    if pressure_margin is not None:
        pressed = not_negative(pressure_margin[:-1], pressure_margin[1:])
        begin, end = np.maximum(begin, pressed.begin), np.minimum(end, pressed.end)
    steps = np.diff(time)
    end = np.minimum(end, np.clip((until - time[:-1]) / steps, 0.0, 1.0)) if np.isfinite(until) else end
    end = np.where(steps <= gap, np.maximum(begin, end), begin)
    return Parts(begin, end)


@method(
    id="time-by-speed-band",
    title="Time spent in each speed band",
    formula="t_b = Σ Δt_i · |{λ: n_b ≤ n(λ) < n_{b+1}}|",
    symbols={"n": "speed, a straight line between samples", "n_b": "lower edge of band b"},
    source="derived",
    locator="piecewise linear readings",
    evidence="derived",
    example=Example(
        {
            "time": np.array([0.0, 4.0]),
            "speed": np.array([100.0, 300.0]),
            "edges": np.array([100.0, 150.0, 200.0, 250.0, 300.0]),
        },
        1.0,
        by="by hand: 200 rad/s in 4 s, so 1 s in each band of 50 rad/s",
    ),
)
def time_by_band(*, time: FloatArray, speed: FloatArray, edges: FloatArray, parts: Parts | None = None) -> FloatArray:
    """Time in s in every band between rising edges (the last includes its upper edge), of the counted parts only."""
    times = np.zeros(edges.size - 1)
    for start in range(0, time.size - 1, PIECE):  # in pieces, so that a long log needs little memory
        stop = min(start + PIECE, time.size - 1)
        piece = slice(start, stop + 1)
        some = None if parts is None else Parts(parts.begin[start:stop], parts.end[start:stop])
        times += _piece_by_band(time[piece], speed[piece], edges, some)
    return times


def _piece_by_band(time: FloatArray, speed: FloatArray, edges: FloatArray, parts: Parts | None) -> FloatArray:
    steps = np.diff(time)
    rise = np.diff(speed)
    begin = speed[:-1] if parts is None else speed[:-1] + rise * parts.begin
    end = speed[1:] if parts is None else speed[:-1] + rise * parts.end
    lasting = steps if parts is None else parts.lengths(steps)
    known = np.isfinite(begin) & np.isfinite(end) & (lasting > 0)
    low, high, lasting = np.minimum(begin, end)[known], np.maximum(begin, end)[known], lasting[known]
    bands = edges.size - 1
    first = np.searchsorted(edges, low, side="right") - 1
    last = np.searchsorted(edges, high, side="right") - 1
    first[low == edges[-1]] = bands - 1
    last[high == edges[-1]] = bands - 1
    whole = (first == last) & (first >= 0) & (first < bands)
    times: FloatArray = np.bincount(first[whole], weights=lasting[whole], minlength=bands).astype(np.float64)
    crossing = first != last
    low, high, lasting = low[crossing], high[crossing], lasting[crossing]
    rate = lasting / (high - low)
    for band in range(bands):
        inside = np.minimum(high, edges[band + 1]) - np.maximum(low, edges[band])
        times[band] += float((np.maximum(inside, 0.0) * rate).sum())
    return times


class Dwell(NamedTuple):
    """The longest time at one speed.

    Attributes:
        duration: Its length in s; zero if no two samples agree.
        first, last: Its first and last sample, or −1.
    """

    duration: Duration
    first: int
    last: int


@method(
    id="longest-dwell",
    title="Longest time at one speed",
    formula="max t_j − t_i such that max n − min n ≤ 75 rpm over the samples i … j",
    symbols={"t": "time", "n": "speed"},
    source="common-practice",
    locator="speed never held during the run-in; 75 rpm is what a hand on the throttle wanders",
    evidence="common-practice",
    example=Example(
        {
            "time": np.array([0.0, 1.0, 2.0, 3.0, 4.0]),
            "speed": np.array([200.0, 205.0, 207.0, 220.0, 222.0]),
            "tolerance": 8.0,
            "gap": 5.0,
        },
        {"duration": 2.0, "first": 0.0, "last": 2.0},
        by="by hand: 200, 205 and 207 lie within 8; with 220 they do not",
    ),
)
def longest_dwell(
    *,
    time: FloatArray,
    speed: FloatArray,
    tolerance: RotationalSpeed,
    gap: Duration,
    floor_speed: RotationalSpeed = 0.0,
) -> Dwell:
    """The longest stretch of samples at or above the floor speed whose speeds lie within the tolerance, without a gap.

    Every start is extended by powers of two, the largest first. The lowest and highest speed of 2^k samples are worked out
    anew for each power: that costs less than it would take to keep them all.
    """
    size = time.size
    if size == 0:
        return Dwell(0.0, -1, -1)
    usable = np.isfinite(speed) & (speed >= floor_speed)
    stretch_end = _stretch_ends(usable, np.diff(time) > gap)
    known = np.where(usable, speed, 0.0)
    end = np.arange(size, dtype=np.int32)
    low = np.full(size, np.inf)
    high = np.full(size, -np.inf)
    for power in range(_largest_power(known, int((stretch_end - end).max()), tolerance), -1, -1):
        span = 1 << power
        lowest, highest = _extremes(known, power)
        at = np.minimum(end, size - span)
        new_low = np.minimum(low, lowest[at])
        new_high = np.maximum(high, highest[at])
        fits = np.flatnonzero((end + span <= stretch_end) & (new_high - new_low <= tolerance))
        end[fits] += span
        low[fits], high[fits] = new_low[fits], new_high[fits]
    last = np.maximum(end - 1, np.arange(size, dtype=np.int32))
    lasting = time[last] - time
    best = int(np.argmax(lasting))
    if not lasting[best] > 0:
        return Dwell(0.0, -1, -1)
    return Dwell(float(lasting[best]), best, int(last[best]))


def _stretch_ends(usable: NDArray[np.bool_], gap_after: NDArray[np.bool_]) -> NDArray[np.int32]:
    """For every sample the index after the last that can be reached from it over usable samples without a gap."""
    size = usable.size
    broken = ~usable
    broken[:-1] |= gap_after
    marks = np.where(broken, np.arange(size, dtype=np.int32), np.int32(size - 1))
    last = np.minimum.accumulate(marks[::-1])[::-1]
    ends: NDArray[np.int32] = np.where(usable[last], last + 1, last).astype(np.int32)
    return ends


def _extremes(speed: FloatArray, power: int) -> tuple[FloatArray, FloatArray]:
    """Lowest and highest of every 2^power neighbouring samples."""
    lowest = highest = speed
    for doubling in range(power):
        span = 1 << doubling
        lowest = np.minimum(lowest[:-span], lowest[span:])
        highest = np.maximum(highest[:-span], highest[span:])
    return lowest, highest


def _largest_power(speed: FloatArray, longest: int, tolerance: RotationalSpeed) -> int:
    """The largest power of two of samples that a stretch may hold and of which some lie within the tolerance."""
    lowest = highest = speed
    power = 0
    while 2 << power <= longest:
        span = 1 << power
        lowest, highest = np.minimum(lowest[:-span], lowest[span:]), np.maximum(highest[:-span], highest[span:])
        if not (highest - lowest <= tolerance).any():
            break
        power += 1
    return power
