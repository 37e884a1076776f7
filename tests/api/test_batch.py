"""The batch: order kept, each question with its own status."""

from typing import Any

from tests.client import Client

GOOD: dict[str, Any] = {"path": "/v1/displacement", "input": {"cylinders": 4, "bore": "86 mm", "stroke": "73 mm"}}


def test_one_bad_question_does_not_spoil_the_others(client: Client) -> None:
    bad = {"id": "bad", "path": "/v1/displacement", "input": {"cylinders": 4, "bore": 86}}
    answer = client.post("/v1/batch", {"items": [GOOD, bad, {"path": "/v1/nothing", "input": {}}, {**GOOD, "id": "last"}]})
    assert answer.status_code == 200
    assert answer.headers["batch-failed"] == "2"
    items = answer.json()["items"]
    assert [(item["id"], item["status"]) for item in items] == [("0", 200), ("bad", 422), ("2", 404), ("last", 200)]
    assert items[1]["problem"]["errors"][0]["pointer"] == "/items/1/input/bore"
    assert items[0]["answer"] == client.post("/v1/displacement", GOOD["input"]).json()


def test_a_batch_is_bounded_and_pinned_as_a_whole(client: Client) -> None:
    assert client.post("/v1/batch", {"items": [GOOD] * 100}).json()["summary"] == {"answered": 100, "failed": 0}
    assert client.post("/v1/batch", {"items": [GOOD] * 101}).status_code == 422
    assert client.post("/v1/batch", {"items": []}).status_code == 422
    pinned = client.post("/v1/batch?dataset=2026.11&units=us", {"items": [GOOD]}).json()["items"][0]["answer"]
    assert pinned["dataset"]["version"] == "2026.11"
    assert pinned["result"]["bore"]["unit"] == "in"
    assert client.post("/v1/batch?dataset=1.1", {"items": [GOOD]}).status_code == 404


def test_a_batch_takes_only_bodies(client: Client) -> None:
    refused = client.get("/v1/batch")
    assert (refused.status_code, set(refused.headers["allow"].split(", "))) == (405, {"POST", "QUERY", "OPTIONS"})
    assert client.post("/v1/batch?bore=86mm", {"items": [GOOD]}).status_code == 422
    assert client.post("/v1/batch", {"items": [{"path": 4, "input": []}]}).status_code == 422
