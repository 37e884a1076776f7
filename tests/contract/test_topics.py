"""What every topic promises: its room on every floor, examples that run both ways, answers that fit their models."""

import json
from pathlib import Path
from typing import Any

import pytest

from service.answers.envelope import RULES
from service.answers.topic import Example, Topic
from service.answers.topics import TOPICS
from service.reference.dataset import Library
from service.sheet.sheet import TOPIC as BUILD_SHEET
from tests.client import Client

ROOT = Path(__file__).parents[2]
EVERY = (*TOPICS, BUILD_SHEET)
EXAMPLES = [pytest.param(t, e, id=f"{t.name}-{n}") for t in EVERY for n, e in enumerate(t.examples)]
ENVELOPE = {
    "answer_id",
    "inputs",
    "result",
    "findings",
    "basis",
    "assumptions",
    "unchecked",
    "cautions",
    "dataset",
    "calculation",
    "links",
}


@pytest.mark.parametrize("topic", TOPICS, ids=lambda topic: topic.name)
def test_a_topic_has_its_room_on_every_floor(topic: Topic) -> None:
    rooms = [
        ROOT / "service" / "calculations" / f"{topic.name}.py",
        ROOT / "service" / "answers" / f"{topic.name}.py",
        ROOT / "tests" / "calculations" / f"test_{topic.name}.py",
        ROOT / "tests" / "answers" / f"test_{topic.name}.py",
        ROOT / "tests" / "api" / f"test_{topic.name}.py",
    ]
    assert [room.relative_to(ROOT).as_posix() for room in rooms if not room.exists()] == []
    assert topic.path == "/v1/" + topic.name.replace("break_in_", "break-in/").replace("_", "-")


@pytest.mark.parametrize(("topic", "example"), EXAMPLES)
def test_an_example_runs_and_fits_its_model(topic: Topic, example: Example, client: Client) -> None:
    answer = client.post(topic.path, example.request)
    assert answer.status_code == 200, answer.text
    document = answer.json()
    assert set(document) == ENVELOPE
    topic.result.model_validate(document["result"])
    assert "null" not in json.dumps(document["result"])


@pytest.mark.parametrize(("topic", "example"), EXAMPLES)
def test_the_link_of_an_answer_gives_the_same_answer(topic: Topic, example: Example, client: Client) -> None:
    posted = client.post(topic.path, example.request)
    link = posted.headers.get("content-location")
    if link is None:
        # Only a question too long for an address (a log) goes without.
        assert topic.name == "break_in_assessment"
        return
    assert posted.json()["links"]["self"] == link
    got = client.get(link)
    assert got.status_code == 200, got.text
    assert got.json() == posted.json()


@pytest.mark.parametrize(("topic", "example"), EXAMPLES)
def test_units_change_what_is_shown_but_not_the_receipt(topic: Topic, example: Example, client: Client) -> None:
    metric, us = client.post(topic.path, example.request), client.post(f"{topic.path}?units=us", example.request)
    assert us.json()["answer_id"] == metric.json()["answer_id"]
    assert _keys(us.json()["result"]) == _keys(metric.json()["result"])


@pytest.mark.parametrize(("topic", "example"), EXAMPLES)
def test_every_reference_of_a_basis_leads_somewhere(topic: Topic, example: Example, client: Client, library: Library) -> None:
    document = client.post(topic.path, example.request).json()
    sources = {source.id for source in library.newest.sources}
    for entry in document["basis"]:
        assert entry["source"] in sources, entry
        if entry["kind"] == "fact":
            table, entity, name = entry["id"].split("/")[0], "/".join(entry["id"].split("/")[1:-1]), entry["id"].split("/")[-1]
            assert library.newest.entity(table, entity).fact(name).source == entry["source"]


def test_every_rule_cites_a_source_and_says_what_to_do(library: Library) -> None:
    sources = {source.id for source in library.newest.sources}
    for rule in RULES.values():
        assert rule.source in sources, rule.code
        assert rule.remedy.endswith((".", "!")), rule.code
        assert rule.code == rule.code.lower().replace("_", "-")


def _keys(tree: Any) -> Any:
    if isinstance(tree, dict):
        return {key: _keys(value) for key, value in tree.items()}
    return [_keys(item) for item in tree] if isinstance(tree, list) else None
