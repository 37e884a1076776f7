"""Engines that are none of the house's: diesels, and engines under a type certificate."""

from typing import Any

import pytest

from service.answers import break_in_assessment, break_in_schedule, lash, torque
from service.answers.asking import ask
from service.answers.engine_kind import certificated, diesel
from service.answers.topic import Topic
from service.errors import OutsideValidity
from service.reference.dataset import Dataset, Library
from tests.answers.reading import findings


def test_diesels_are_those_whose_manual_says_so(library: Library) -> None:
    """Every engine of every dataset: the fact of its own, or of its family."""
    for version in library.versions:
        dataset = library.get(version)
        found = {id for id in dataset.ids("engines") if diesel(dataset, id) is not None}
        assert found >= {"tm-5-4310-389-14"}
        assert not [id for id in found if id.startswith(("air-cooled", "harrow", "tcds"))]
    assert diesel(library.newest, None) is None


def test_certificated_engines_are_those_of_type_certificate_data_sheets(dataset: Dataset) -> None:
    """The ids of the data sheets begin with tcds; no other engine rests on one."""
    for id in dataset.ids("engines"):
        assert (certificated(dataset, id) is not None) == id.startswith("tcds-"), id


@pytest.mark.parametrize("engine", ["tm-5-4310-389-14", "tm-9-2815-200-35", "tcds-e-286"])
def test_there_is_no_run_in_for_them(engine: str, dataset: Dataset) -> None:
    """Neither a plan nor the assessment of a log: the first fire of a diesel, and an aircraft engine, are others' work."""
    plan: dict[str, Any] = {"engine": engine, "tappet": "flat"}
    log = "time [s],rpm\n0,2000\n2,2100\n4,2200\n6,2100"
    for topic, question in (
        (break_in_schedule.TOPIC, plan),
        (break_in_assessment.TOPIC, {"schedule": plan, "log": log}),
    ):
        with pytest.raises(OutsideValidity) as refused:
            ask(topic, question, dataset)
        assert refused.value.field == "engine"
        assert "There is no run-in here" in str(refused.value)


@pytest.mark.parametrize(
    ("topic", "question"),
    [
        (torque.TOPIC, {"thread": "M8x1.25", "torque": "20 N*m", "property_class": "8.8"}),
        (lash.TOPIC, {"tappet": "hydraulic"}),
    ],
)
def test_figures_for_a_certificated_engine_carry_the_stop(topic: Topic, question: dict[str, Any], dataset: Dataset) -> None:
    """Torque and lash are answered for reference, with the stop; for another engine they carry none."""
    assert findings(ask(topic, {**question, "engine": "tcds-e-286"}, dataset).answer)["aircraft-engine"] == "stop"
    assert "aircraft-engine" not in findings(ask(topic, {**question, "engine": "harrow-r17"}, dataset).answer)
