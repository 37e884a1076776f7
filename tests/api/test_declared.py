"""What a refusal shows as an example would do, and every choice that it names is one."""

from typing import Any

import pytest
from pydantic import ValidationError

from service.answers.topic import Topic
from service.api.declared import choices_at, example_at
from service.api.openapi import TOPICS
from service.errors import NotInDataset
from tests.client import Client


def faults_at(topic: Topic, name: str, value: Any) -> list[str]:
    """What the question's own model finds wrong with one field."""
    try:
        topic.request.model_validate({name: value})
    except ValidationError as error:
        return [fault["msg"] for fault in error.errors() if fault["loc"][:1] == (name,)]
    return []


@pytest.mark.parametrize("topic", TOPICS, ids=[topic.name for topic in TOPICS])
def test_an_example_is_accepted_where_it_is_shown(topic: Topic) -> None:
    shown = {name: example_at(topic.request, (name,)) for name in topic.request.model_fields}
    assert any(example is not None for example in shown.values())
    for name, example in shown.items():
        if example is not None:
            assert faults_at(topic, name, example) == [], (name, example)
        for choice in choices_at(topic.request, (name,)):
            assert faults_at(topic, name, choice) == [], (name, choice)


def test_places_inside_objects_and_lists_are_found() -> None:
    (combinations,) = [topic for topic in TOPICS if topic.name == "combinations"]
    assert example_at(combinations.request, ("heads", 0, "chamber_volume")) == "52 cm3"
    assert choices_at(combinations.request, ("objective", "goal")) == ["least", "most", "nearest"]
    assert example_at(combinations.request, ("objective", "beauty")) is None
    assert choices_at(combinations.request, ("bores", 0)) == []


@pytest.mark.parametrize("order", ["1432", "1,4,3,2", "a-b"])
def test_a_firing_order_in_another_form_is_shown_one(client: Client, order: str) -> None:
    (error,) = client.get("/v1/valve-order", params={"firing_order": order}).json()["errors"]
    assert error["example"] == "1-4-3-2"


@pytest.mark.parametrize(
    ("asked", "nearest"),
    [
        ("head-nut", "cylinder-head-nut"),  # holds every word, though rod-nut is spelled more like it
        ("cylinder-haed-nut", "cylinder-head-nut"),
        ("Rod-Nut", "rod-nut"),
        ("8.9", "8.8"),  # the same digits in another order are another class
    ],
)
def test_the_id_that_says_more_comes_before_the_one_that_is_spelled_like_it(asked: str, nearest: str) -> None:
    known = ["rod-nut", "cylinder-head-nut", "cylinder-head-nut-8mm", "rocker-shaft-nut", "8.8", "9.8", "10.9"]
    assert NotInDataset("fastener", "fastener", asked, known).nearest[0] == nearest


def test_what_is_like_nothing_has_no_nearest() -> None:
    assert NotInDataset("fastener", "fastener", "-", ["rod-nut"]).nearest == ()
