"""A stored answer asked again."""

from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    from tests.conftest import Client

QUESTION = {"cylinders": 4, "bore": "3 3/8 in", "stroke": "73 mm"}


@pytest.mark.parametrize("query", ["", "?units=us", "?dataset=2026.11", "?units=us&dataset=2026.11"])
def test_an_untouched_answer_is_the_same(client: "Client", query: str) -> None:
    stored = client.post(f"/v1/displacement{query}", QUESTION).json()
    verified = client.post("/v1/verify", {"answer": stored}).json()
    assert (verified["verdict"], verified["differences"], verified["answer_id"]) == ("same", [], stored["answer_id"])


def test_an_altered_figure_is_found_and_named(client: "Client") -> None:
    stored = client.post("/v1/displacement", QUESTION).json()
    stored["result"]["displacement"]["value"] = 1800.0
    verified = client.post("/v1/verify", {"answer": stored}).json()
    assert verified["verdict"] == "differs"
    assert [d["field"] for d in verified["differences"]] == ["displacement"]
    assert "altered" in verified["why"]


def test_an_altered_receipt_or_dataset_is_found(client: "Client") -> None:
    stored: dict[str, Any] = client.post("/v1/displacement", QUESTION).json()
    forged = client.post("/v1/verify", {"answer": {**stored, "answer_id": "sha256:" + "0" * 64}}).json()
    assert (forged["verdict"], "receipt" in forged["why"]) == ("differs", True)
    other_sum = {"version": stored["dataset"]["version"], "sha256": "0" * 64}
    assert "another sum" in client.post("/v1/verify", {"answer": {**stored, "dataset": other_sum}}).json()["why"]
    gone = {"version": "1999.1", "sha256": "0" * 64}
    assert "not held" in client.post("/v1/verify", {"answer": {**stored, "dataset": gone}}).json()["why"]


@pytest.mark.parametrize("stored", [{}, {"inputs": 1}, {"inputs": {}, "links": {"self": "/v1/none"}}, {"links": []}])
def test_what_is_no_answer_is_refused(client: "Client", stored: dict[str, Any]) -> None:
    assert client.post("/v1/verify", {"answer": stored}).status_code == 422
    assert client.post("/v1/verify", {"answer": stored, "path": "/v1/displacement"}).status_code == 422
