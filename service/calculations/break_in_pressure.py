"""Oil pressure of a logged run: its margin over the floor by speed and temperature, and whether it is creeping away."""

from typing import NamedTuple

import numpy as np

from service.calculations.break_in_limits import CELSIUS, RPM
from service.methods import method
from service.units import Duration, FloatArray, Pressure, RotationalSpeed, Temperature

SPEED_CLASS = 250 * RPM
TEMPERATURE_CLASS = 10.0
FINE_SPEED = 100 * RPM
FINE_TEMPERATURE = 4.0
MOST_PER_CELL = 48
APART = 60.0
SPAN = 180.0


class MarginCell(NamedTuple):
    """Oil pressure at about one speed and one temperature.

    Attributes:
        speed_low, speed_high: The class of speed in rad/s.
        temperature_low, temperature_high: The class of oil temperature in K; NaN where it was not logged.
        samples: How many.
        lowest: Lowest pressure in Pa.
        mean: Mean pressure in Pa.
        lowest_margin: Lowest margin over the floor in Pa.
    """

    speed_low: RotationalSpeed
    speed_high: RotationalSpeed
    temperature_low: Temperature
    temperature_high: Temperature
    samples: int
    lowest: Pressure
    mean: Pressure
    lowest_margin: Pressure


def margin_table(
    *, speed: FloatArray, pressure: FloatArray, margin: FloatArray, oil_temperature: FloatArray | None
) -> list[MarginCell]:
    """Pressure and margin in every class of speed (250 rpm) and oil temperature (10 K) that the log holds."""
    warmth = np.full(speed.size, np.nan) if oil_temperature is None else oil_temperature
    known = np.isfinite(margin) & np.isfinite(speed)
    speed, pressure, margin, warmth = speed[known], pressure[known], margin[known], warmth[known]
    if speed.size == 0:
        return []
    of_speed = np.floor(speed / SPEED_CLASS).astype(np.int64)
    of_warmth = np.where(np.isfinite(warmth), np.floor((warmth - CELSIUS) / TEMPERATURE_CLASS), -99).astype(np.int64)
    cell = of_speed * 1000 + of_warmth + 500
    ids, inverse = np.unique(cell, return_inverse=True)
    count = np.bincount(inverse)
    mean = np.bincount(inverse, weights=pressure) / count
    lowest = np.full(ids.size, np.inf)
    lowest_margin = np.full(ids.size, np.inf)
    np.minimum.at(lowest, inverse, pressure)
    np.minimum.at(lowest_margin, inverse, margin)
    cells = []
    for number, key in enumerate(ids.tolist()):
        fast, warm = divmod(key, 1000)
        cold = (warm - 500) * TEMPERATURE_CLASS + CELSIUS if warm != 401 else np.nan
        cells.append(
            MarginCell(
                fast * SPEED_CLASS,
                (fast + 1) * SPEED_CLASS,
                cold,
                cold + TEMPERATURE_CLASS,
                int(count[number]),
                float(lowest[number]),
                float(mean[number]),
                float(lowest_margin[number]),
            )
        )
    return cells


class Drift(NamedTuple):
    """Creeping change of the oil pressure at the same speed and temperature.

    Attributes:
        rate: Relative change in 1/s; negative while it falls.
        change: Relative change over the time compared.
        agreement: Share of the compared pairs that change in the same sense.
        pairs: How many pairs were compared.
        span: Time in s between the first and the last reading compared.
    """

    rate: float
    change: float
    agreement: float
    pairs: int
    span: Duration


@method(
    id="oil-pressure-drift",
    title="Creeping change of the oil pressure",
    formula="median of ln(p_j / p_i) / (t_j − t_i) over pairs at the same speed (100 rpm) and oil temperature (4 K)",
    symbols={"p": "oil pressure", "t": "time"},
    source="sen-1968",
    locator="Theil–Sen slope, pairs restricted to equal conditions, so that warming oil is not taken for wear",
    evidence="derived",
    valid="pairs at least 60 s apart; nothing is said while the oil is still warming through",
)
def pressure_drift(*, time: FloatArray, speed: FloatArray, pressure: FloatArray, oil_temperature: FloatArray) -> Drift | None:
    """Compare pressures at equal speed and temperature over time, or ``None`` where there are too few to compare."""
    known = np.isfinite(speed) & np.isfinite(oil_temperature) & (pressure > 10e3)
    time, speed, pressure, warmth = time[known], speed[known], pressure[known], oil_temperature[known]
    if time.size < 40:
        return None
    thin = max(1, time.size // 4000)
    time, speed, pressure, warmth = time[::thin], speed[::thin], pressure[::thin], warmth[::thin]
    cell = np.floor(speed / FINE_SPEED).astype(np.int64) * 1000 + np.floor(warmth / FINE_TEMPERATURE).astype(np.int64)
    order = np.argsort(cell, kind="stable")
    bounds = np.flatnonzero(np.diff(cell[order])) + 1
    slopes = []
    first, last = np.inf, -np.inf
    for members in np.split(order, bounds):
        if members.size < 2 or time[members[-1]] - time[members[0]] < APART:
            continue
        chosen = members[:: max(1, members.size // MOST_PER_CELL)]
        one, two = np.triu_indices(chosen.size, 1)
        apart = time[chosen[two]] - time[chosen[one]]
        far = apart >= APART
        logs = np.log(pressure[chosen])
        slopes.append((logs[two] - logs[one])[far] / apart[far])
        first, last = min(first, float(time[chosen[0]])), max(last, float(time[chosen[-1]]))
    together = np.concatenate(slopes) if slopes else np.zeros(0)
    if together.size < 30 or last - first < SPAN:
        return None
    rate = float(np.median(together))
    agreement = float(np.count_nonzero(np.sign(together) == np.sign(rate))) / together.size
    return Drift(rate, float(np.expm1(rate * (last - first))), agreement, int(together.size), last - first)
