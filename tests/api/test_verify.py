"""A stored answer asked again."""

import json
import shutil
from pathlib import Path
from typing import Any

import pytest

from service.answers.envelope import CALCULATION
from service.answers.topic import Topic
from service.api import calculators
from service.api.openapi import TOPICS as ASKED
from service.app import create_app
from service.settings import Settings
from tests.client import Client

QUESTION = {"cylinders": 4, "bore": "3 3/8 in", "stroke": "73 mm"}


@pytest.mark.parametrize("query", ["", "?units=us", "?dataset=2026.11", "?units=us&dataset=2026.11"])
def test_an_untouched_answer_is_the_same(client: Client, query: str) -> None:
    stored = client.post(f"/v1/displacement{query}", QUESTION).json()
    verified = client.post("/v1/verify", {"answer": stored}).json()
    assert (verified["verdict"], verified["differences"], verified["answer_id"]) == ("same", [], stored["answer_id"])


def test_an_altered_figure_is_found_and_named(client: Client) -> None:
    stored = client.post("/v1/displacement", QUESTION).json()
    stored["result"]["displacement"]["value"] = 1800.0
    verified = client.post("/v1/verify", {"answer": stored}).json()
    assert verified["verdict"] == "differs"
    assert [d["field"] for d in verified["differences"]] == ["displacement"]
    assert "altered" in verified["why"]


def test_an_altered_receipt_or_dataset_is_found(client: Client) -> None:
    stored: dict[str, Any] = client.post("/v1/displacement", QUESTION).json()
    forged = client.post("/v1/verify", {"answer": {**stored, "answer_id": "sha256:" + "0" * 64}}).json()
    assert (forged["verdict"], "receipt" in forged["why"]) == ("differs", True)
    other_sum = {"version": stored["dataset"]["version"], "sha256": "0" * 64}
    assert "another sum" in client.post("/v1/verify", {"answer": {**stored, "dataset": other_sum}}).json()["why"]
    gone = {"version": "1999.1", "sha256": "0" * 64}
    assert "not held" in client.post("/v1/verify", {"answer": {**stored, "dataset": gone}}).json()["why"]


@pytest.mark.parametrize("stored", [{}, {"inputs": 1}, {"inputs": {}, "links": {"self": "/v1/none"}}, {"links": []}])
def test_what_is_no_answer_is_refused(client: Client, stored: dict[str, Any]) -> None:
    assert client.post("/v1/verify", {"answer": stored}).status_code == 422
    assert client.post("/v1/verify", {"answer": stored, "path": "/v1/displacement"}).status_code == 422


SHALLOW = {"bore": "86 mm", "stroke": "73 mm", "chamber_volume": "52 cc", "deck_clearance": "0.7 mm"}


def test_a_finding_that_was_taken_out_or_reworded_is_found(client: Client) -> None:
    """Nobody hands over a sheet whose stop was deleted: no receipt sums the findings, so they are compared."""
    stored = client.post("/v1/compression?units=us", SHALLOW).json()
    assert stored["findings"][0]["severity"] == "stop"
    assert client.post("/v1/verify", {"answer": stored}).json()["verdict"] == "same"
    without = client.post("/v1/verify", {"answer": {**stored, "findings": []}}).json()
    assert without["verdict"] == "differs"
    assert without["differences"] == [{"field": "findings", "was": [], "now": ["quench-below-minimum"]}]
    softened = [{**stored["findings"][0], "severity": "note"}]
    assert client.post("/v1/verify", {"answer": {**stored, "findings": softened}}).json()["verdict"] == "differs"


def test_an_altered_text_or_a_figure_without_its_value_is_found(client: Client) -> None:
    """The text is what is read in the shop: value and text are both compared."""
    stored = client.post("/v1/compression", SHALLOW).json()
    result = stored["result"]
    reworded = {**result, "squish_clearance": {**result["squish_clearance"], "text": "1.20 mm (0.047 in)"}}
    verified = client.post("/v1/verify", {"answer": {**stored, "result": reworded}}).json()
    assert [d["field"] for d in verified["differences"]] == ["squish_clearance.text"]
    broken = {**result, "squish_clearance": {"text": "1.20 mm", "unit": "mm"}}
    assert client.post("/v1/verify", {"answer": {**stored, "result": broken}}).json()["verdict"] == "differs"


@pytest.mark.parametrize("query", ["", "?units=us"])
def test_an_answer_too_long_for_an_address_tells_where_it_was_asked(
    client: Client, query: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A large build has no GET address; it can be verified as it was stored all the same."""
    monkeypatch.setattr(calculators, "LONGEST_LINK", 20)
    stored = client.post(f"/v1/displacement{query}", {**QUESTION, "bore": "85.31 mm"}).json()
    assert stored["links"] == {"question": f"/v1/displacement{query}"}
    verified = client.post("/v1/verify", {"answer": stored}).json()
    assert (verified["verdict"], verified["differences"]) == ("same", [])


LOG = "time [s],speed [rpm],oil pressure [psi]\n0,0,0\n" + "\n".join(
    f"{5 * k},{2050 + 100 * (k // 6 % 7)},{45 + k % 3}" for k in range(1, 60)
)


@pytest.mark.parametrize("query", ["", "?units=us"])
@pytest.mark.parametrize(
    ("path", "question"),
    [
        ("/v1/break-in/assessment", {"schedule": {"tappet": "flat"}, "log": LOG}),
        ("/v1/build-sheet", {"bore": "86 mm", "tappet": "flat", "break_in_assessment": {"log": LOG}}),
    ],
)
def test_an_answer_to_a_log_is_asked_again_with_the_log_beside_it(
    client: Client, path: str, question: dict[str, Any], query: str
) -> None:
    """The answer keeps the log's sum alone: the shop sends the log's file with the sheet that it stored."""
    stored = client.post(path + query, question).json()
    verified = client.post("/v1/verify", {"answer": stored, "log": LOG})
    assert verified.status_code == 200, verified.text
    assert (verified.json()["verdict"], verified.json()["answer_id"]) == ("same", stored["answer_id"])
    for log, code in ((None, "missing"), (LOG.replace("2050", "2051"), "another-log")):
        refused = client.post("/v1/verify", {"answer": stored, **({"log": log} if log else {})})
        assert refused.status_code == 422
        assert [(e["pointer"], e["code"]) for e in refused.json()["errors"]] == [("/log", code)]


@pytest.mark.parametrize(
    ("part", "forged", "field"),
    [
        ("cautions", [], "cautions"),
        ("basis", [], "basis"),
        ("unchecked", [], "unchecked"),
        ("assumptions", [{"field": "bore", "value": 1}], "assumptions"),
        ("signed_off", True, "signed_off"),
    ],
)
def test_whatever_was_taken_out_of_an_answer_is_named(client: Client, part: str, forged: Any, field: str) -> None:
    """Cautions, basis, assumptions and gaps belong to the answer as its figures do."""
    stored = client.post("/v1/compression?units=us", {**SHALLOW, "altitude": "500 m"}).json()
    assert part == "signed_off" or stored[part] != forged
    verified = client.post("/v1/verify", {"answer": {**stored, part: forged}}).json()
    assert verified["verdict"] == "differs"
    assert "altered" in verified["why"]
    assert {d["field"].split(".")[0] for d in verified["differences"]} == {field}
    del stored[part if part in stored else "findings"]
    assert client.post("/v1/verify", {"answer": stored}).json()["verdict"] == "differs"


def test_an_input_that_was_altered_beside_what_was_given_is_named(client: Client) -> None:
    """The SI value is what other programs read; 86 mm is 0.086 m."""
    stored = client.post("/v1/compression", SHALLOW).json()
    stored["inputs"]["bore"]["si"]["value"] = 0.09
    verified = client.post("/v1/verify", {"answer": stored}).json()
    assert verified["verdict"] == "differs"
    assert verified["differences"] == [{"field": "inputs.bore.si.value", "was": 0.09, "now": 0.086}]


def test_the_verdict_follows_its_reason(client: Client) -> None:
    """With other formulas, or a dataset that is not held, nobody can say that an answer is the same."""
    stored = client.post("/v1/displacement", QUESTION).json()
    later = client.post("/v1/verify", {"answer": {**stored, "calculation": CALCULATION + 1}}).json()
    assert (later["verdict"], "formulas have changed" in later["why"]) == ("differs", True)
    gone = {**stored["dataset"], "version": "1999.1"}
    other = client.post("/v1/verify", {"answer": {**stored, "dataset": gone}}).json()
    assert (other["verdict"], "not held" in other["why"]) == ("differs", True)


def test_a_withdrawn_version_is_told_with_its_reason_and_successor(client: Client, tmp_path: Path) -> None:
    stored = client.post("/v1/displacement?dataset=2026.11", QUESTION).json()
    folder = Path(shutil.copytree(Path(__file__).parents[2] / "data", tmp_path / "data"))
    releases = json.loads((folder / "releases.json").read_text("utf-8"))
    releases[0] |= {"status": "withdrawn", "reason": "two rows were read wrongly", "successor": "2026.12"}
    (folder / "releases.json").write_text(json.dumps(releases) + "\n", "utf-8")
    later = type(client)(create_app(Settings(data=folder, log_requests=False)))
    verified = later.post("/v1/verify", {"answer": stored}).json()
    later.close()
    assert verified["verdict"] == "differs"
    assert "two rows were read wrongly" in verified["why"]
    assert "2026.12" in verified["why"]


@pytest.mark.parametrize("query", ["", "?units=us"])
def test_the_units_are_those_of_the_stored_figures(client: Client, query: str) -> None:
    """An answer out of a file may have lost its links: path and figures are enough."""
    stored = client.post(f"/v1/displacement{query}", QUESTION).json()
    verified = client.post("/v1/verify", {"answer": {**stored, "links": {}}, "path": "/v1/displacement"}).json()
    assert (verified["verdict"], verified["differences"]) == ("same", [])
    stored["result"]["displacement"]["value"] += 1
    altered = client.post("/v1/verify", {"answer": {**stored, "links": {}}, "path": "/v1/displacement"}).json()
    assert [d["field"] for d in altered["differences"]] == ["displacement"]


@pytest.mark.parametrize("link", ["http://[", "//[::1", "/v1/none?units=us"])
def test_a_link_that_is_none_is_refused(client: Client, link: str) -> None:
    stored = client.post("/v1/displacement", QUESTION).json()
    assert client.post("/v1/verify", {"answer": {**stored, "links": {"self": link}}}).status_code == 422


def test_a_verdict_comes_as_json_alone(client: Client) -> None:
    stored = client.post("/v1/displacement", QUESTION).json()
    assert client.post("/v1/verify", {"answer": stored}, headers={"accept": "text/csv"}).status_code == 406


@pytest.mark.parametrize("query", ["", "?units=us"])
@pytest.mark.parametrize("topic", ASKED, ids=lambda topic: topic.name)
def test_no_untouched_answer_is_called_altered(client: Client, topic: Topic, query: str) -> None:
    """Every example of every calculator, as a batch answers it and as a script that knows one kind of number stored it."""
    for example in topic.examples:
        item = {"path": topic.path, "input": example.request}
        (answered,) = client.post(f"/v1/batch{query}", {"items": [item]}).json()["items"]
        log = example.request.get("log")
        stored = _plain_numbers(answered["answer"])
        verified = client.post("/v1/verify", {"answer": stored, **({"log": log} if log else {})}).json()
        assert (verified["verdict"], verified["differences"]) == ("same", []), example.title


def _plain_numbers(tree: Any) -> Any:
    """A document as JavaScript writes it again: 86.0 becomes 86."""
    if isinstance(tree, dict):
        return {name: _plain_numbers(part) for name, part in tree.items()}
    if isinstance(tree, list):
        return [_plain_numbers(part) for part in tree]
    return int(tree) if isinstance(tree, float) and tree.is_integer() and abs(tree) < 1e15 else tree
