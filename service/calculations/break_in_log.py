"""Cleaning of a logged run: order, duplicates, impossible readings, spikes and gaps, with every removal on record.

Nothing that is removed is ever filled in again: a lost sample is lost, and a run of lost samples earns nothing.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from service.calculations.break_in_limits import CELSIUS, RPM
from service.errors import Contradiction, OutsideValidity
from service.methods import Example, method
from service.units import Duration, FloatArray

Mask = NDArray[np.bool_]
Rows = NDArray[np.int64]

LONGEST_LOG: Duration = 36_000.0
SHORTEST_LOG: Duration = 60.0
DENSE: Duration = 2.0
"""Samples further apart than this, in s, are too few to tell a spike from a quick change of speed."""

LEAST_SAMPLES = 3  # out of order in a row; fewer are noise
LEAST_DURATION: Duration = 2.0  # shorter stretches are noise
ROUNDED: Duration = 0.01  # how far a logger's times, rounded in whatever unit, may be off

# A sorting network: exchanges of two of seven places each, after which the median stands in place 3.
_MEDIAN_OF_SEVEN = ((0, 5), (0, 3), (1, 6), (2, 4), (0, 1), (3, 5), (2, 6), (2, 3), (3, 6), (4, 5), (1, 4), (1, 3), (3, 4))
# What a sensor in order can read, in SI.
_POSSIBLE = {
    "speed": (0.0, 12000 * RPM),
    "oil_pressure": (-30e3, 1500e3),
    "oil_temperature": (CELSIUS - 40, CELSIUS + 180),
    "head_temperature": (CELSIUS - 40, CELSIUS + 400),
}
# The deviation in SI from its neighbours below which a reading is never a spike.
_SPIKE_FLOOR = {"speed": 150 * RPM, "oil_pressure": 30e3, "oil_temperature": 3.0, "head_temperature": 3.0}
_UNIT_HINT = {
    "speed": "the speed is usually sent in rpm",
    "oil_pressure": "is it in psi or kPa, but sent as bar?",
    "oil_temperature": "is it in °F, but sent as °C?",
    "head_temperature": "is it in °F, but sent as °C?",
}


@dataclass(frozen=True)
class Log:
    """A cleaned log: time strictly rising in s from the first sample, channels in SI with NaN where a reading is missing.

    Attributes:
        time: Time in s since the first sample.
        row: The caller's row of each sample, counted from 0.
        speed: Speed in rad/s.
        others: The optional channels: ``oil_pressure`` (gauge, Pa), ``oil_temperature`` and ``head_temperature`` (K).
        spacing: Median distance of two samples in s.
        unordered: Rows that stood before an earlier one.
        duplicates: Rows dropped because their time occurred before.
        missing: Blank readings by channel.
        impossible: Rows by channel whose reading no sensor in order could give.
        spikes: Rows by channel that the spike filter removed.
        measured_pressure: The oil pressure with its spikes, where there were any: no removed reading may hide a loss.
    """

    time: FloatArray
    row: Rows
    speed: FloatArray
    others: Mapping[str, FloatArray]
    spacing: Duration
    unordered: int = 0
    duplicates: int = 0
    missing: Mapping[str, int] = field(default_factory=dict)
    impossible: Mapping[str, Rows] = field(default_factory=dict)
    spikes: Mapping[str, Rows] = field(default_factory=dict)
    measured_pressure: FloatArray | None = None

    def channel(self, name: str) -> FloatArray | None:
        """One channel by name, or ``None`` if it was not logged."""
        return self.speed if name == "speed" else self.others.get(name)

    @property
    def sparse(self) -> bool:
        """Whether the samples are too far apart for the spike filter."""
        return self.spacing > DENSE


def _median_of_seven(values: FloatArray) -> FloatArray:
    """Running median of seven, the ends mirrored: a sorting network over seven shifted copies."""
    padded = np.pad(values, 3, mode="reflect")
    size = values.size
    lanes = [padded[shift : shift + size] for shift in range(7)]
    for low, high in _MEDIAN_OF_SEVEN:
        lanes[low], lanes[high] = np.minimum(lanes[low], lanes[high]), np.maximum(lanes[low], lanes[high])
    return lanes[3]


@method(
    id="hampel-filter",
    title="Spikes in a log",
    formula="|x_i − m_i| > max(f, 4 · 1.4826 · median |x_j − m_i|), m_i the median of the seven samples about i",
    symbols={"x": "reading", "m": "running median", "f": "least deviation that is a spike"},
    source="hampel-1974",
    locator="median and median absolute deviation as the robust centre and scale",
    evidence="from-memory",
    valid="seven samples or more, at most 2 s apart; spikes of up to three samples",
    example=Example(
        {"windows": np.array([[1.0, 2.0, 3.0, 90.0, 5.0, 6.0, 7.0]]), "centre": np.array([5.0]), "least": 1.0},
        11.8608,
        by="by hand: deviations 4, 3, 2, 85, 0, 1, 2 have the median 2; 4 · 1.4826 · 2",
    ),
)
def hampel_limits(*, windows: FloatArray, centre: FloatArray, least: float) -> FloatArray:
    """How far the middle of each window of seven may lie from its median; never less than ``least``."""
    limits: FloatArray = np.maximum(least, 4 * 1.4826 * np.median(np.abs(windows - centre[:, None]), axis=1))
    return limits


def hampel_spikes(*, values: FloatArray, least: float) -> Mask:
    """Which samples are spikes; ``least`` is the deviation that no sensor's noise reaches, in the unit of the values."""
    spikes = np.zeros(values.size, dtype=np.bool_)
    if values.size < 7:
        return spikes
    centre = _median_of_seven(values)
    suspects = np.flatnonzero(np.abs(values - centre) > least)
    if suspects.size == 0:
        return spikes
    windows = np.lib.stride_tricks.sliding_window_view(np.pad(values, 3, mode="reflect"), 7)[suspects]
    limits = hampel_limits(windows=windows, centre=centre[suspects], least=least)
    spikes[suspects] = np.abs(values[suspects] - centre[suspects]) > limits
    return spikes


def clean_log(
    *,
    time: FloatArray,
    speed: FloatArray,
    oil_pressure: FloatArray | None = None,
    oil_temperature: FloatArray | None = None,
    head_temperature: FloatArray | None = None,
) -> Log:
    """The log in order of time, without duplicates, impossible readings and spikes; NaN is a missing reading.

    Raises:
        OutsideValidity: the log is too short or too long to be a run in seconds, or has no usable speed.
        Contradiction: the time changes its unit in the middle of the log.
    """
    keep, unordered, duplicates = _in_order(time)
    since = time[keep] - (time[keep[0]] if keep.size else 0.0)
    _check_span(since)
    given = {
        "speed": speed,
        "oil_pressure": oil_pressure,
        "oil_temperature": oil_temperature,
        "head_temperature": head_temperature,
    }
    spacing = float(np.median(np.diff(since)))
    channels: dict[str, FloatArray] = {}
    missing: dict[str, int] = {}
    impossible: dict[str, Rows] = {}
    spikes: dict[str, Rows] = {}
    measured_pressure = None
    for name, values in given.items():
        if values is None:
            continue
        channel = values if unordered == duplicates == 0 else values[keep]
        missing[name] = int(np.count_nonzero(np.isnan(channel)))
        wrong = _impossible(name, channel)
        channel = _blanked(channel, wrong)
        spiked = _spikes(name, channel, since) if spacing <= DENSE else np.zeros(0, np.int64)
        if name == "oil_pressure" and spiked.size:
            measured_pressure = channel
        channels[name] = _blanked(channel, spiked)
        impossible[name], spikes[name] = keep[wrong], keep[spiked]
    if np.count_nonzero(np.isfinite(channels["speed"])) < 2:
        raise OutsideValidity("log/speed", "The log has no usable speed; send the engine speed in every row, in rpm.")
    return Log(
        time=since,
        row=keep,
        speed=channels.pop("speed"),
        others=channels,
        spacing=spacing,
        unordered=unordered,
        duplicates=duplicates,
        missing=missing,
        impossible={name: rows for name, rows in impossible.items() if rows.size},
        spikes={name: rows for name, rows in spikes.items() if rows.size},
        measured_pressure=measured_pressure,
    )


def _in_order(time: FloatArray) -> tuple[Rows, int, int]:
    """Rows in order of time with the first of every time only; how many were out of order, how many dropped."""
    if not np.all(np.isfinite(time)):
        row = int(np.flatnonzero(~np.isfinite(time))[0]) + 1
        raise OutsideValidity("log/time", f"Row {row} has no time; every row needs one, in seconds.")
    steps = np.diff(time)
    if np.all(steps > 0):
        return np.arange(time.size, dtype=np.int64), 0, 0
    order = np.argsort(time, kind="stable").astype(np.int64)
    first = np.concatenate((np.ones(1, np.bool_), np.diff(time[order]) > 0)) if time.size else np.ones(0, np.bool_)
    return order[first], int(np.count_nonzero(steps < 0)), int(np.count_nonzero(~first))


def _check_span(time: FloatArray) -> None:
    """Refuse a log whose length says that the time is in another unit."""
    span = float(time[-1]) if time.size > 1 else 0.0
    if span < SHORTEST_LOG:
        reason = (
            f"The log covers {span:.3g} s; a verdict needs at least 60 s. If the time is in minutes or hours, "
            'name that unit, such as "min".'
        )
        raise OutsideValidity("log/time", reason, "60 s to 10 h")
    if span > LONGEST_LOG:
        reason = (
            f'The log covers {span:.3g} s, more than 10 h. If the time is in milliseconds, name that unit ("ms"); '
            "otherwise send the runs one by one."
        )
        raise OutsideValidity("log/time", reason, "60 s to 10 h")
    steps = np.diff(time)
    half = steps.size // 2
    if half >= 5:
        early, late = float(np.median(steps[:half])), float(np.median(steps[half:]))
        ratio = max(early, late) / max(min(early, late), 1e-12)
        if any(abs(ratio / unit - 1) < 0.02 for unit in (60.0, 1000.0)):
            reason = (
                f"The samples are {early:.3g} s apart in the first half and {late:.3g} s in the second: the time seems "
                "to change its unit within the log. Send all times in one unit."
            )
            raise Contradiction(("log/time",), reason)


def _impossible(name: str, channel: FloatArray) -> Rows:
    """The readings that no sensor in order could give; a channel that consists of them is refused."""
    low, high = _POSSIBLE[name]
    with np.errstate(invalid="ignore"):
        wrong = np.flatnonzero((channel < low) | (channel > high)).astype(np.int64)
    if 2 * wrong.size > np.count_nonzero(np.isfinite(channel)):
        reason = f"Most readings of the {name.replace('_', ' ')} are impossible; {_UNIT_HINT[name]} Name the right unit."
        raise OutsideValidity(f"log/{name}", reason)
    return wrong


def _spikes(name: str, channel: FloatArray, time: FloatArray) -> Rows:
    """The samples of a channel that are spikes among the readings that are present.

    An oil pressure that is away for as long as a loss of pressure takes is no spike.
    """
    present = np.flatnonzero(np.isfinite(channel)).astype(np.int64)
    spiked = hampel_spikes(values=channel[present], least=_SPIKE_FLOOR[name])
    if name == "oil_pressure" and spiked.any():
        first, last = runs(spiked, np.zeros(spiked.size - 1, np.bool_))
        lasting = is_lasting(first=first, last=last, time=time[present])
        for a, b in zip(first[lasting].tolist(), last[lasting].tolist(), strict=True):
            spiked[a : b + 1] = False
    return present[spiked]


def _blanked(channel: FloatArray, samples: Rows) -> FloatArray:
    """The channel with some samples blank; the same array where there are none, never a change of the caller's."""
    if samples.size == 0:
        return channel
    blanked = channel.copy()
    blanked[samples] = np.nan
    return blanked


def runs(mask: Mask, gap_after: Mask) -> tuple[Rows, Rows]:
    """First and last sample of every unbroken run of true samples; a gap after a sample breaks the run.

    ``gap_after[i]`` says that the distance of the samples i and i + 1 is a gap; it is one shorter than ``mask``.
    """
    if mask.size == 0:
        return np.zeros(0, np.int64), np.zeros(0, np.int64)
    joined = mask[:-1] & mask[1:] & ~gap_after
    starts = mask & ~np.concatenate((np.zeros(1, np.bool_), joined))
    ends = mask & ~np.concatenate((joined, np.zeros(1, np.bool_)))
    return np.flatnonzero(starts).astype(np.int64), np.flatnonzero(ends).astype(np.int64)


def is_lasting(*, first: Rows, last: Rows, time: FloatArray) -> Mask:
    """Which runs, from their first to their last sample, last long enough to be more than noise."""
    lasting: Mask = (last - first + 1 >= LEAST_SAMPLES) & (time[last] - time[first] >= LEAST_DURATION - ROUNDED)
    return lasting


@dataclass(frozen=True, slots=True)
class Suspicion:
    """A channel whose readings look as if they were in another unit than the one sent.

    Attributes:
        field: The channel.
        reading: Its typical reading in SI.
        suspected: What it may be, in words.
    """

    field: str
    reading: float
    suspected: str


def unit_suspicions(*, log: Log) -> list[Suspicion]:
    """Channels that look like another unit; a guess that is only ever asked about, never used."""
    suspicions: list[Suspicion] = []

    def typical(name: str) -> float | None:
        values = log.channel(name)
        present = values[np.isfinite(values)] if values is not None else np.zeros(0)
        return float(np.quantile(present, 0.95)) if present.size else None

    speed = typical("speed")
    if speed is not None and speed < 20 * RPM:
        suspicions.append(Suspicion("speed", speed, "thousands of rpm"))
    elif speed is not None and speed < 100 * RPM:
        suspicions.append(Suspicion("speed", speed, "revolutions per second"))
    pressure = typical("oil_pressure")
    if pressure is not None and 1e3 < pressure < 70e3:
        suspicions.append(Suspicion("oil_pressure", pressure, "bar sent as psi, or psi sent as kPa"))
    elif pressure is not None and pressure > 1000e3:
        suspicions.append(Suspicion("oil_pressure", pressure, "a larger unit than the gauge has, such as psi sent as bar"))
    for name, hot, warm in (("oil_temperature", 160.0, 45.0), ("head_temperature", 300.0, 70.0)):
        temperature = typical(name)
        if temperature is not None and temperature > CELSIUS + hot:
            suspicions.append(Suspicion(name, temperature, "°F sent as °C"))
        elif temperature is not None and temperature < CELSIUS + warm and log.time[-1] > 600:
            suspicions.append(Suspicion(name, temperature, "°C sent as °F, or the sensor is not where the heat is"))
    return suspicions
