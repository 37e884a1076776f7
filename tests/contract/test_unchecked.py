"""What could not be checked is named by the code of the rule that looks, or by an id with its words beside it."""

import json
import re
from collections.abc import Iterator
from itertools import chain, combinations
from typing import Any

import pytest

from service.answers.topic import Topic
from service.answers.topics import TOPICS
from service.faces.rows import not_checked
from service.sheet.sheet import TOPIC as BUILD_SHEET
from tests.client import Client
from tests.trust import golden

AN_ID = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*")
A_FIELD = re.compile(r"[a-z0-9_]+(\.[a-z0-9_]+)*|a trial assembly")


def gaps(client: Client, path: str, document: Any) -> Iterator[dict[str, Any]]:
    """Every entry of ``unchecked`` of one answer; a refused question has none."""
    answered = client.post(path, document)
    if answered.status_code == 200 and answered.headers["content-type"] == "application/json":
        yield from answered.json()["unchecked"]


def thinned(topic: Topic) -> Iterator[dict[str, Any]]:
    """Every example of a topic, whole and without each one of its fields."""
    for example in topic.examples:
        yield example.request
        for name in example.request:
            yield {key: value for key, value in example.request.items() if key != name}


@pytest.fixture(scope="module")
def known(client: Client) -> set[str]:
    """The codes of ``/v1/findings``."""
    return {entry["code"] for entry in client.get("/v1/findings").json()["findings"]}


@pytest.mark.parametrize("topic", [*TOPICS, BUILD_SHEET], ids=lambda topic: topic.name)
def test_a_gap_is_named_by_a_code_or_by_an_id_with_its_words(topic: Topic, client: Client, known: set[str]) -> None:
    for document in thinned(topic):
        for entry in gaps(client, topic.path, document):
            assert AN_ID.fullmatch(entry["check"]), entry
            assert entry["check"] in known or entry.get("why"), entry
            assert "why" not in entry or (entry["why"][0].isupper() and entry["why"].endswith(".")), entry
            assert all(A_FIELD.fullmatch(name) for name in entry["needs"]), entry


def thinner(topic: Topic) -> Iterator[dict[str, Any]]:
    """Every example of a topic without each pair of its fields."""
    for example in topic.examples:
        for gone in combinations(example.request, 2):
            yield {key: value for key, value in example.request.items() if key not in gone}


@pytest.mark.parametrize("topic", TOPICS, ids=lambda topic: topic.name)
def test_no_gap_asks_for_what_was_sent(topic: Topic, client: Client) -> None:
    """What a check still needs is not among the fields of the request: the examples, and all of them with one or two less."""
    for document in chain(thinned(topic), thinner(topic)):
        for entry in gaps(client, topic.path, document):
            assert not set(entry["needs"]) & set(document), (entry, document)


def test_no_gap_of_a_golden_answer_asks_for_what_was_sent(client: Client) -> None:
    paths = {topic.path for topic in TOPICS}
    asked = 0
    for request in golden.read():
        if request["method"] == "POST" and request["path"] in paths and request.get("body", "").startswith("{"):
            try:
                document = json.loads(request["body"])
            except ValueError:
                continue  # a request that is refused for that
            for entry in gaps(client, request["path"], document):
                asked += 1
                assert not set(entry["needs"]) & set(document), (entry, document)
    assert asked > 100


def test_the_gaps_of_every_golden_answer_have_ids(client: Client, known: set[str]) -> None:
    seen: set[str] = set()
    for request in golden.read():
        if request["method"] == "POST" and request.get("body", "").startswith("{") and "format=" not in request["path"]:
            try:
                document = json.loads(request["body"])
            except ValueError:
                continue  # a request that is refused for that
            for entry in gaps(client, request["path"], document):
                assert AN_ID.fullmatch(entry["check"]), entry
                seen.add(entry["check"])
    assert len(seen & known) > 10


def test_people_read_words_and_not_the_id() -> None:
    """On the faces for people the id reads as words, with what the rule looks for and why it matters."""
    gap = {"check": "wrench-overdue", "needs": ["wrench.months_since_check"], "why": "Nobody knows."}
    (line,) = not_checked([gap])
    assert line == (
        "wrench overdue: needs wrench.months_since_check "
        "(Looks for: the torque wrench was last checked more than twelve months ago. Nobody knows.)"
    )
    assert list(not_checked([{"check": "dwell-time", "needs": []}])) == ["dwell time"]
