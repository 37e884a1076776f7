"""Getting oil to the bearings before the first fire, within what a starter stands."""

from math import ceil, pi
from typing import NamedTuple

from service.errors import OutsideValidity
from service.methods import Example, method
from service.units import Duration, Length, Ratio, RotationalSpeed, Volume


class StarterDuty(NamedTuple):
    """What a starter stands: longest burst, shortest rest between two, and how many in a row."""

    burst: Duration
    rest: Duration
    bursts: int


class PrimingPlan(NamedTuple):
    """Cranking that fills the passages.

    ``cranking`` is the time on the starter, ``bursts`` its division, ``elapsed`` with the rests between them.
    ``within_duty`` is false when it takes more bursts than the starter stands; then ``fill_by_hand`` is the least
    volume that must go in by hand or from a pressure pot so that the rest can be cranked in.
    """

    cranking: Duration
    bursts: tuple[Duration, ...]
    burst_count: int
    elapsed: Duration
    within_duty: bool
    fill_by_hand: Volume


@method(
    id="gear-pump-displacement",
    title="Displacement of a gear pump from its gears",
    formula="V = π · a · (D - a) · b",
    symbols={
        "V": "volume per revolution [m³]",
        "a": "distance between the shafts [m]",
        "D": "outside diameter of a gear [m]",
        "b": "width of the gears [m]",
    },
    source="geometry",
    locator="two equal gears: pitch circle times working depth times width, 2π m² z b",
    evidence="derived",
    valid="two equal gears in mesh; backlash and trapped oil neglected (a few percent)",
    example=Example(
        {"gear_diameter": 0.036, "centre_distance": 0.030, "gear_width": 0.020},
        11.31e-6,
        by="by hand: 2π m² z b with module 3 mm, 10 teeth, 20 mm",
    ),
)
def gear_pump_displacement(*, gear_diameter: Length, centre_distance: Length, gear_width: Length) -> Volume:
    """Volume in m³ that a pump of two equal gears moves in one revolution.

    Raises:
        OutsideValidity: gears that do not mesh, or no width.
    """
    if not centre_distance < gear_diameter < 2 * centre_distance:
        raise OutsideValidity(
            "gear_diameter",
            "Two gears mesh when their outside diameter lies between one and two shaft distances.",
            "between one and two centre distances",
        )
    if not gear_width > 0:
        raise OutsideValidity("gear_width", "The gears have a width above zero.", "> 0")
    return pi * centre_distance * (gear_diameter - centre_distance) * gear_width


@method(
    id="priming-time",
    title="Cranking time that fills the oil passages",
    formula="t = V/(V_g · i · n · η)",
    symbols={
        "t": "time on the starter [s]",
        "V": "empty volume [m³]",
        "V_g": "pump displacement per pump revolution [m³]",
        "i": "pump revolutions per crank revolution",
        "n": "cranking speed [rev/s]",
        "η": "volumetric efficiency at cranking speed",
    },
    source="mechanics",
    locator="volume over volume flow",
    evidence="derived",
    example=Example(
        {
            "volume": 1.2e-3,
            "pump_displacement": 6e-6,
            "pump_ratio": 0.5,
            "cranking_speed": 20.944,
            "efficiency": 0.8,
        },
        150.0,
        by="by hand: 1200 cm³ / (6 cm³ · 100/60 per s · 0.8 = 8 cm³/s)",
    ),
)
def priming_time(
    *,
    volume: Volume,
    pump_displacement: Volume,
    pump_ratio: Ratio,
    cranking_speed: RotationalSpeed,
    efficiency: Ratio,
) -> Duration:
    """Time in s for the pump to move a volume at cranking speed.

    Raises:
        OutsideValidity: a negative volume, or a pump that moves nothing.
    """
    if not volume >= 0:
        raise OutsideValidity("volume", "The volume to fill is zero or more.", "≥ 0")
    return volume / _flow(pump_displacement, pump_ratio, cranking_speed, efficiency)


@method(
    id="priming-plan",
    title="Priming within the duty of the starter",
    formula="k = ⌈t/t_burst⌉; elapsed = t + (k - 1) · t_rest; V_hand = V - k_max · t_burst · q where k > k_max",
    symbols={
        "k": "number of bursts",
        "k_max": "most bursts in a row",
        "t_burst, t_rest": "longest burst and shortest rest [s]",
        "q": "flow of the pump at cranking speed [m³/s]",
        "V_hand": "volume that must be filled by hand [m³]",
    },
    source="ps-magazine-395",
    locator="short bursts with minutes between, then find the fault",
    evidence="government",
    valid="plugs out, ignition dead, plan ends as soon as the gauge moves and oil shows at the farthest rocker",
    example=Example(
        {
            "volume": 1.2e-3,
            "pump_displacement": 6e-6,
            "pump_ratio": 0.5,
            "cranking_speed": 20.944,
            "efficiency": 0.8,
            "duty": StarterDuty(10.0, 60.0, 5),
        },
        {"cranking": 150.0, "burst_count": 15, "elapsed": 990.0, "fill_by_hand": 0.8e-3},
        by="by hand: 8 cm³/s; 15 bursts of 10 s, 14 rests; 5 bursts move 0.4 L, so 0.8 L by hand",
        rel_tol=1e-4,
    ),
)
def priming_plan(
    *,
    volume: Volume,
    pump_displacement: Volume,
    pump_ratio: Ratio,
    cranking_speed: RotationalSpeed,
    efficiency: Ratio,
    duty: StarterDuty,
) -> PrimingPlan:
    """Bursts and rests that fill a volume, or the verdict that the starter must not be asked to.

    Raises:
        OutsideValidity: as ``priming_time``, or a duty that allows no cranking.
    """
    if not (1 <= duty.burst <= 30 and duty.rest >= 0 and 1 <= duty.bursts <= 20):
        raise OutsideValidity(
            "duty",
            "A starter cranks for seconds at a time, a few times in a row: up to 10 s, 60 s of rest, 5 tries.",
            "bursts of 1 to 30 s, 1 to 20 of them",
        )
    time = priming_time(
        volume=volume,
        pump_displacement=pump_displacement,
        pump_ratio=pump_ratio,
        cranking_speed=cranking_speed,
        efficiency=efficiency,
    )
    # A hair over a whole number of bursts is rounding, not another burst.
    count = max(ceil(time / duty.burst - 1e-3), 1 if time > 0 else 0)
    if count > duty.bursts:
        possible = duty.bursts * duty.burst * _flow(pump_displacement, pump_ratio, cranking_speed, efficiency)
        return PrimingPlan(time, (), count, time + (count - 1) * duty.rest, False, max(volume - possible, 0.0))
    bursts = tuple(min(duty.burst, time - index * duty.burst) for index in range(count))
    return PrimingPlan(time, bursts, count, time + max(count - 1, 0) * duty.rest, True, 0.0)


def _flow(pump_displacement: Volume, pump_ratio: Ratio, cranking_speed: RotationalSpeed, efficiency: Ratio) -> float:
    """Volume flow of the pump in m³/s."""
    for field, value, least, allowed in (
        ("pump_displacement", pump_displacement, 1e-8, "at least 0.01 cm³ per revolution"),
        ("pump_ratio", pump_ratio, 0.01, "at least 0.01"),
        ("cranking_speed", cranking_speed, 1.0, "at least 10 rpm"),
        ("efficiency", efficiency, 0.01, "0.01 to 1"),
    ):
        if not value >= least:
            raise OutsideValidity(
                field, "So small a value would crank without end; a pump that primes has a size and turns.", allowed
            )
    if efficiency > 1:
        raise OutsideValidity("efficiency", "A pump delivers at most its own volume.", "0.01 to 1")
    return pump_displacement * pump_ratio * cranking_speed / (2 * pi) * efficiency
