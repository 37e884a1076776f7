"""The oil-pressure floor in all its places: a reading, a plan and a logged run are held to the same facts of the dataset."""

from dataclasses import replace
from typing import Any

import pytest

from service.answers.asking import ask
from service.answers.break_in_assessment import TOPIC as ASSESSMENT
from service.answers.break_in_schedule import TOPIC as SCHEDULE
from service.answers.envelope import Answer
from service.answers.oil import TOPIC as OIL
from service.calculations.break_in_limits import RPM
from service.reference.dataset import Dataset
from tests.answers.reading import findings, si

PSI = 6894.757
FACTS = ("pressure_per_1000_rpm", "idle_pressure")
LEVELS = (2050, 2450, 2250, 2650, 2150, 2550, 2350, 2750)


def with_fact(dataset: Dataset, name: str, pressure: float) -> Dataset:
    """The dataset with another figure in the oil facts of the air-cooled flat four."""
    table = dataset.entities_of["oil-facts"]
    entity = table["air-cooled-flat-four"]
    changed = replace(entity, preferred={**entity.preferred, name: replace(entity.fact(name), si=pressure)})
    tables = {**dataset.entities_of, "oil-facts": {**table, entity.id: changed}}
    return replace(dataset, entities_of=tables)


def oil(dataset: Dataset, pressure: str, speed: str = "1000 rpm", **more: Any) -> Answer:
    reading = {"pressure": pressure, "speed": speed, "temperature": "90 degC"}
    return ask(OIL, {"sump": "2.5 L", "grade": "30", "reading": reading, **more}, dataset).answer


def log_at(per_1000: float, unit: str) -> str:
    """A run of twenty minutes whose oil pressure is the same for every 1,000 rpm."""
    rows = [f"{t},{n},{per_1000 * n / 1000}" for t in range(1212) for n in (LEVELS[t // 30 % 8] + t % 7,)]
    return "\n".join([f"time [s],rpm,oil pressure [{unit}]", *rows])


def assessed(dataset: Dataset, log: str, **schedule: Any) -> Answer:
    return ask(ASSESSMENT, {"schedule": {"tappet": "flat", **schedule}, "log": log}, dataset).answer


@pytest.mark.parametrize("pressure", ["69 kPa", "0.69 bar", "10 psi"])
@pytest.mark.parametrize("more", [{}, {"engine": "air-cooled-flat-four"}])
def test_a_reading_on_the_floor_is_not_under_it(dataset: Dataset, pressure: str, more: dict[str, str]) -> None:
    """10 psi, 0.69 bar and 69 kPa a thousand are the trade's one figure in three units."""
    assert "oil-pressure-low" not in findings(oil(dataset, pressure, **more))


@pytest.mark.parametrize(
    ("pressure", "read", "floor"),
    [
        ("68 kPa", "68.0 kPa (9.86 psi)", "69.0 kPa (10.01 psi)"),
        ("68.92 kPa", "68.92 kPa (9.996 psi)", "69.00 kPa (10.008 psi)"),
        ("40 kPa", "40 kPa (6 psi)", "69 kPa (10 psi)"),
    ],
)
def test_a_reading_under_the_floor_is_told_apart_from_it(dataset: Dataset, pressure: str, read: str, floor: str) -> None:
    """No message says that a figure is below itself; psi by hand, 1 psi = 6.894757 kPa."""
    (low,) = [finding for finding in oil(dataset, pressure).findings if finding.rule.code == "oil-pressure-low"]
    assert low.severity == "stop"
    assert low.message == f"{read} at 1000 rpm is below the floor of {floor}."


@pytest.mark.parametrize(("per_1000", "unit"), [(10, "psi"), (0.69, "bar"), (69, "kPa")])
@pytest.mark.parametrize("engine", [{}, {"engine": "air-cooled-flat-four"}])
def test_a_run_on_the_floor_earns_its_credit(dataset: Dataset, per_1000: float, unit: str, engine: dict[str, str]) -> None:
    """Every second of 1,211 s is at speed and on the floor: no stop, all of it counts."""
    answer = assessed(dataset, log_at(per_1000, unit), **engine)
    assert answer.result["verdict"] == "complete"
    assert si(answer.result["credited_time"]) == pytest.approx(1211)
    assert not {"run-pressure-low", "run-pressure-not-proven"} & set(findings(answer))


@pytest.mark.parametrize(("per_1000", "unit"), [(9.9, "psi"), (0.68, "bar"), (68, "kPa")])
def test_a_run_a_hundredth_under_the_floor_is_a_stop(dataset: Dataset, per_1000: float, unit: str) -> None:
    assert assessed(dataset, log_at(per_1000, unit)).result["verdict"] == "stop-find-cause"


def test_all_three_cite_the_facts_of_the_engine(dataset: Dataset) -> None:
    """Where the engine is named, its floor comes from the dataset and is cited: 10 psi = 68.948 kPa for 1,000 rpm."""
    engine = {"engine": "air-cooled-flat-four"}
    schedule = ask(SCHEDULE, engine, dataset).answer
    answers = (schedule, oil(dataset, "2.8 bar", "2500 rpm", **engine), assessed(dataset, log_at(20, "psi"), **engine))
    for answer in answers:
        assert {("fact", f"oil-facts/air-cooled-flat-four/{name}") for name in FACTS} <= set(answer.basis)
    (rule,) = [row for row in schedule.result["stop_rules"] if row["code"] == "pressure-low"]
    assert si(rule["limit"]) == pytest.approx(10 * PSI, rel=1e-6)


def test_a_changed_fact_changes_every_answer(dataset: Dataset) -> None:
    """With 20 psi a thousand 15 psi is too low; with 10 psi it is enough. 3,000 rpm then need 60 psi."""
    stern = with_fact(dataset, "pressure_per_1000_rpm", 20 * PSI)
    engine = {"engine": "air-cooled-flat-four"}
    assert "oil-pressure-low" not in findings(oil(dataset, "15 psi", **engine))
    assert "oil-pressure-low" in findings(oil(stern, "15 psi", **engine))
    assert "oil-pressure-low" not in findings(oil(stern, "15 psi"))  # without the engine its facts say nothing
    assert assessed(dataset, log_at(15, "psi"), **engine).result["verdict"] == "complete"
    assert assessed(stern, log_at(15, "psi"), **engine).result["verdict"] == "stop-find-cause"
    for result, name in (
        (oil(stern, "15 psi", speeds=["3000 rpm"], **engine).result, "pressure_floor"),
        (ask(SCHEDULE, engine, stern).answer.result, "pressure_floors"),
    ):
        (row,) = [row for row in result[name] if si(row["speed"]) == pytest.approx(3000 * RPM)]
        assert si(row["pressure"]) == pytest.approx(60 * PSI, rel=1e-6)


def test_a_changed_idle_pressure_changes_the_least(dataset: Dataset) -> None:
    """At 400 rpm 10 psi a thousand would be 28 kPa; the least pressure stands above it, 35 kPa or what the dataset says."""
    engine = {"engine": "air-cooled-flat-four", "speeds": ["400 rpm"]}
    for held, least in ((dataset, 35e3), (with_fact(dataset, "idle_pressure", 50e3), 50e3)):
        (row,) = oil(held, "2.8 bar", "2500 rpm", **engine).result["pressure_floor"]
        assert si(row["pressure"]) == pytest.approx(least)
