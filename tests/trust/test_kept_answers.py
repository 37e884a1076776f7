"""Answers kept by their question must not tell one request's answer to another: each order of asking gives the same replies."""

from collections.abc import Iterator

import pytest

from service.answers.topic import Topic
from service.answers.topics import TOPICS
from service.app import create_app
from service.settings import Settings
from tests.client import Client

ADDRESS = "/v1/displacement?cylinders=4&bore=86mm&stroke=73mm"
JSON = {"content-type": "application/json"}


@pytest.fixture
def fresh() -> Iterator[Client]:
    """A service that has kept nothing yet."""
    client = Client(create_app(Settings(log_requests=False)))
    yield client
    client.close()


@pytest.mark.parametrize("topic", TOPICS, ids=lambda topic: topic.name)
def test_a_post_without_a_body_is_refused_whatever_was_asked_before(topic: Topic, client: Client) -> None:
    """The same path, query and Accept as an answered GET: only the method tells them apart."""
    address = client.post(topic.path, topic.examples[0].request).headers.get("content-location", topic.path)
    client.get(address)
    for method in ("POST", "QUERY"):
        assert client.request(method, address, headers=JSON).status_code in (400, 422)


def test_a_get_is_answered_from_its_address_whatever_body_comes_with_it(fresh: Client) -> None:
    plain = fresh.get(ADDRESS)
    other = fresh.request("GET", ADDRESS, headers=JSON, content=b'{"cylinders": 2, "bore": "70 mm", "stroke": "60 mm"}')
    assert other.content == plain.content


def test_head_has_the_header_of_get_and_no_body_before_and_after_it_is_kept(fresh: Client) -> None:
    head, got, again = (fresh.request(method, ADDRESS) for method in ("HEAD", "GET", "HEAD"))
    assert head.content == again.content == b""
    for name in ("etag", "content-length", "content-type", "vary", "cache-control"):
        assert head.headers[name] == got.headers[name] == again.headers[name]


def test_not_modified_only_for_a_get_of_the_same_face(fresh: Client) -> None:
    """RFC 9110, 13.1.2 and 15.4.5: 304 is for GET and HEAD, without a body, with the fields a 200 would have carried."""
    got = fresh.get(ADDRESS)
    same = {"If-None-Match": got.headers["etag"]}
    unchanged = fresh.get(ADDRESS, headers=same)
    assert (unchanged.status_code, unchanged.content) == (304, b"")
    for name in ("etag", "vary", "cache-control"):
        assert unchanged.headers[name] == got.headers[name]
    assert fresh.get(ADDRESS, headers={**same, "Accept": "text/csv"}).status_code == 200
    assert fresh.get(ADDRESS + "&units=us", headers=same).status_code == 200
    question = {"cylinders": 4, "bore": "86 mm", "stroke": "73 mm"}
    for match in (got.headers["etag"], "*"):
        assert [fresh.post("/v1/displacement", question, headers={"If-None-Match": match}).status_code for _ in "12"] == [
            200,
            200,
        ]


def test_an_answer_sent_twice_carries_no_field_of_another_request(fresh: Client) -> None:
    """The kept header is copied for each answer: an id or a length must not pile up in it."""
    answers = [fresh.get(ADDRESS, headers={"X-Request-Id": f"bench-{number}"}) for number in range(3)]
    assert [answer.headers.get_list("x-request-id") for answer in answers] == [["bench-0"], ["bench-1"], ["bench-2"]]
    assert {len(answer.headers.raw) for answer in answers} == {len(answers[0].headers.raw)}
