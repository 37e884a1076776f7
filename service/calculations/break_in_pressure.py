"""Oil pressure of a logged run: its margin over the floor by speed and temperature, and whether it is creeping away."""

from typing import NamedTuple

import numpy as np

from service.calculations.break_in_limits import CELSIUS, RPM
from service.methods import Example, method
from service.units import Duration, FloatArray, Pressure, Ratio, RotationalSpeed, Temperature, TemperatureDifference

SPEED_CLASS: RotationalSpeed = 250 * RPM
TEMPERATURE_CLASS: TemperatureDifference = 10.0
COLDEST = 10
"""Classes below 0 °C, one of which stands for an unknown temperature."""
WARM_CLASSES = 64

# Readings are compared in pairs of the same speed and oil temperature.
FINE_SPEED: RotationalSpeed = 100 * RPM
SAME_TEMPERATURE: TemperatureDifference = 0.5
LIKE_TEMPERATURE: TemperatureDifference = 15.0  # where the viscosity is known and taken out
BELOW_RELIEF: Ratio = 0.93  # of the highest pressure: above it the relief valve, not the engine, sets the reading
APART: Duration = 120.0
LEAST_PAIRS = 40
MOST_POINTS = 4000  # of the log, and per class of speed: all pairs of a long log would be too many
MOST_PER_CELL = 100


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
    warm_class = np.where(np.isfinite(warmth), (warmth - CELSIUS) / TEMPERATURE_CLASS + COLDEST, 0.0)
    cell = np.floor(speed / SPEED_CLASS).astype(np.int32) * WARM_CLASSES + np.floor(warm_class).astype(np.int32)
    count = np.bincount(cell)
    total = np.bincount(cell, weights=pressure)
    lowest = np.full(count.size, np.inf)
    lowest_margin = np.full(count.size, np.inf)
    np.minimum.at(lowest, cell, pressure)
    np.minimum.at(lowest_margin, cell, margin)
    cells = []
    for number in np.flatnonzero(count).tolist():
        fast, warm = divmod(number, WARM_CLASSES)
        cold = (warm - COLDEST) * TEMPERATURE_CLASS + CELSIUS if warm else np.nan
        cells.append(
            MarginCell(
                fast * SPEED_CLASS,
                (fast + 1) * SPEED_CLASS,
                cold,
                cold + TEMPERATURE_CLASS,
                int(count[number]),
                float(lowest[number]),
                float(total[number] / count[number]),
                float(lowest_margin[number]),
            )
        )
    return cells


class Drift(NamedTuple):
    """Creeping change of the oil pressure at the same speed and temperature.

    Attributes:
        change: Relative change between readings far apart in time; negative while the pressure falls.
        span: Longest time in s between two readings compared.
        agreement: Share of the pairs far apart that changed in the same sense.
        pairs: How many pairs far apart were compared.
    """

    change: float
    span: Duration
    agreement: float
    pairs: int


@method(
    id="oil-pressure-drift",
    title="Creeping change of the oil pressure",
    formula="median of (p_j / n_j ν_j) / (p_i / n_i ν_i) − 1 over pairs at the same speed (100 rpm) and oil temperature",
    symbols={"p": "oil pressure", "n": "speed", "ν": "viscosity at the oil's temperature, or 1 where it is not known"},
    source="derived",
    locator="pairs at equal conditions, so that warming oil is not taken for wear; only the half furthest apart in time",
    evidence="derived",
    valid="pairs at least 120 s apart, within 0.5 K (15 K where the viscosity is known), below the relief pressure",
    example=Example(
        {
            "time": np.arange(0.0, 610.0, 5.0),
            "speed": np.concatenate((np.full(120, 220.0), np.full(2, 290.0))),
            "pressure": np.concatenate((np.full(60, 300e3), np.full(60, 270e3), np.full(2, 400e3))),
            "oil_temperature": np.full(122, 360.0),
        },
        {"change": -0.1, "span": 595.0, "agreement": 1.0},
        by="by hand: 3.0 bar for five minutes, then 2.7 bar at the same speed and temperature",
    ),
)
def pressure_drift(
    *,
    time: FloatArray,
    speed: FloatArray,
    pressure: FloatArray,
    oil_temperature: FloatArray,
    viscosity: FloatArray | None = None,
) -> Drift | None:
    """Compare pressures at equal speed and temperature over time, or ``None`` where there are too few to compare.

    ``viscosity`` is the oil's at every sample, in any unit: with it readings of a warming engine can be compared too.
    """
    with np.errstate(invalid="ignore"):
        known = (speed > FINE_SPEED) & np.isfinite(oil_temperature) & (pressure > 10e3)
    if np.count_nonzero(known) < LEAST_PAIRS:
        return None
    known &= pressure < BELOW_RELIEF * np.quantile(pressure[known], 0.995)
    chosen = np.flatnonzero(known)
    chosen = chosen[:: max(1, chosen.size // MOST_POINTS)]
    time, speed, warmth = time[chosen], speed[chosen], oil_temperature[chosen]
    thickness = 1.0 if viscosity is None else viscosity[chosen]
    logs = np.log(pressure[chosen] / (speed * thickness))
    return _compare(time, speed, warmth, logs, SAME_TEMPERATURE if viscosity is None else LIKE_TEMPERATURE)


def _compare(
    time: FloatArray, speed: FloatArray, warmth: FloatArray, logs: FloatArray, alike_within: TemperatureDifference
) -> Drift | None:
    """Median change of the logarithms over the pairs that are alike and far apart in time."""
    order = np.lexsort((time, np.floor(speed / FINE_SPEED)))
    bounds = np.flatnonzero(np.diff(np.floor(speed[order] / FINE_SPEED))) + 1
    changes, distances = [], []
    for members in np.split(order, bounds):
        chosen = members[:: max(1, members.size // MOST_PER_CELL)]
        one, two = np.triu_indices(chosen.size, 1)
        apart = time[chosen[two]] - time[chosen[one]]
        alike = np.abs(warmth[chosen[two]] - warmth[chosen[one]]) <= alike_within
        fit = alike & (apart >= APART)
        changes.append((logs[chosen[two]] - logs[chosen[one]])[fit])
        distances.append(apart[fit])
    change, distance = np.concatenate(changes or [np.zeros(0)]), np.concatenate(distances or [np.zeros(0)])
    if not change.size:
        return None
    far = change[distance >= distance.max() / 2]
    if far.size < LEAST_PAIRS:
        return None
    middle = float(np.median(far))
    agreement = float(np.count_nonzero(np.sign(far) == np.sign(middle))) / far.size
    return Drift(float(np.expm1(middle)), float(distance.max()), agreement, int(far.size))
