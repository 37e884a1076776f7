"""The oil-pressure floor of an engine as the dataset has it, and the words for a reading that is under it."""

from typing import NamedTuple

from service.answers.engine_facts import engine_fact
from service.answers.envelope import Answer
from service.calculations.break_in_limits import RPM, StopThresholds, oil_pressure_floor, under_floor
from service.quantities import BAROMETER, PRESSURE, Kind, text_of
from service.reference.dataset import Dataset

CLOSE_PRESSURE = Kind("pressure", "kPa", "psi", 2, 3)
"""Digits enough to tell a reading from a floor that it misses by the least that counts."""


class Floor(NamedTuple):
    """What the oil pressure of a warm engine must not fall under: gauge pressure in Pa per rad/s, and at least."""

    per_speed: float
    least: float

    def at(self, speed: float) -> float:
        """The floor in Pa at a speed."""
        return oil_pressure_floor(speed=speed, pressure_per_speed=self.per_speed, least_pressure=self.least)

    def misses(self, pressure: float, speed: float) -> bool:
        """Whether a gauge pressure is under the floor at a speed."""
        return under_floor(pressure=pressure, floor=self.at(speed))


def floor_of(dataset: Dataset, engine: str | None, found: Answer) -> Floor:
    """The floor of the engine's family, or the trade's where the dataset holds none or no engine is named."""
    usual = StopThresholds()
    per_speed, least = usual.pressure_per_speed, usual.least_pressure
    fact = engine_fact(dataset, "oil-facts", engine, "pressure_per_1000_rpm")
    if fact is not None and fact.si is not None:
        found.uses(fact)
        per_speed = fact.si / (1000 * RPM)
    fact = engine_fact(dataset, "oil-facts", engine, "idle_pressure")
    if fact is not None and fact.si is not None:
        found.uses(fact)
        least = fact.si
    return Floor(per_speed, least)


def told_apart(pressure: float, floor: float) -> tuple[str, str]:
    """A pressure and the floor that it is under in digits that show the difference, in kPa and in psi."""
    missing = floor - pressure
    kind = PRESSURE if missing > 7e3 else BAROMETER if missing > 1e2 else CLOSE_PRESSURE
    return text_of(kind(pressure)), text_of(kind(floor))
