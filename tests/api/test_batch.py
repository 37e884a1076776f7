"""The batch: order kept, each question with its own status."""

from typing import Any

import pytest

from service.api.batch import MOST_OCTETS
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


LOG = "time [s],speed [rpm],oil pressure [psi]\n0,0,0\n" + "\n".join(
    f"{5 * k},{2050 + 100 * (k // 6 % 7)},{45 + k % 3}" for k in range(1, 60)
)
JUDGED: dict[str, Any] = {"path": "/v1/break-in/assessment", "input": {"schedule": {"tappet": "flat"}, "log": LOG}}


@pytest.mark.parametrize("query", ["", "?units=us"])
def test_an_answer_without_an_address_tells_where_it_was_asked(client: Client, query: str) -> None:
    """A log is too long for an address: alone and in a batch the answer is the same, and can be verified."""
    (item,) = client.post(f"/v1/batch{query}", {"items": [JUDGED]}).json()["items"]
    assert item["answer"] == client.post(JUDGED["path"] + query, JUDGED["input"]).json()
    assert item["answer"]["links"] == {"question": JUDGED["path"] + query}
    verified = client.post("/v1/verify", {"answer": item["answer"], "log": LOG}).json()
    assert (verified["verdict"], verified["differences"]) == ("same", [])


def test_a_text_too_long_for_one_question_spoils_no_other(client: Client) -> None:
    """Each question is bounded as it is alone: a log may be long where a log is asked for, remarks may not."""
    sheet = {"path": "/v1/build-sheet", "input": {"bore": "86 mm"}}
    crowded = {"path": "/v1/displacement", "input": {f"name{k}": 1 for k in range(300)}}
    nested: list[Any] = []
    for _ in range(60):
        nested = [nested]
    items = [
        GOOD,
        JUDGED,
        {**GOOD, "input": {**GOOD["input"], "remarks": "x" * 201}},
        {"path": "/v1/" + "n" * 5_000, "input": {}},
        crowded,
        {**sheet, "input": {"bore": nested}},
        {**GOOD, "input": {"bore": [1] * 6_000}},
        GOOD,
    ]
    answered = client.post("/v1/batch", {"items": items})
    assert answered.status_code == 200, answered.text
    listed = answered.json()["items"]
    assert [item["status"] for item in listed] == [200, 200, 400, 404, 400, 400, 400, 200]
    assert listed[2]["problem"]["errors"][0]["pointer"] == "/items/2/input/remarks"
    alone = client.post(GOOD["path"], items[2]["input"])
    assert (alone.status_code, alone.json()["detail"]) == (400, listed[2]["problem"]["detail"])
    assert listed[3]["problem"]["errors"][0]["pointer"] == "/items/3/path"
    assert "nnnn" not in answered.text


def test_a_name_sent_twice_is_pointed_at(client: Client) -> None:
    """What cannot be read at all is refused as a whole, and says where."""
    body = b'{"items": [{"path": "/v1/displacement", "input": {"bore": "86 mm", "bore": "87 mm"}}]}'
    refused = client.request("POST", "/v1/batch", content=body, headers={"content-type": "application/json"})
    assert refused.status_code == 400
    assert refused.json()["errors"][0]["pointer"] == "/items/0/input/bore"


def test_a_batch_answers_no_more_than_fits_into_its_answer(client: Client) -> None:
    """A hundred sheets would be 16 MB: what comes after 4 MiB is to be asked again, and the same batch always ends there."""
    sheet: dict[str, Any] = {"path": "/v1/build-sheet", "input": {**GOOD["input"], "tappet": "flat"}}
    one = len(client.post(sheet["path"], sheet["input"]).content)
    answered = client.post("/v1/batch", {"items": [sheet] * 100})
    assert answered.status_code == 200
    items = answered.json()["items"]
    fitting = MOST_OCTETS // one
    assert [item["status"] for item in items] == [200] * fitting + [413] * (100 - fitting)
    assert len(answered.content) < MOST_OCTETS + 100_000
    assert "smaller batch" in items[-1]["problem"]["detail"]
    assert answered.headers["batch-failed"] == str(100 - fitting)
    assert client.post("/v1/batch", {"items": [sheet] * 100}).content == answered.content


def test_a_batch_comes_as_json_or_says_that_it_does_not(client: Client) -> None:
    question = {"items": [GOOD]}
    assert client.post("/v1/batch?format=csv", question).status_code == 406
    assert client.post("/v1/batch", question, headers={"accept": "text/csv"}).status_code == 406
    assert client.post("/v1/batch?format=json", question, headers={"accept": "application/json"}).status_code == 200
