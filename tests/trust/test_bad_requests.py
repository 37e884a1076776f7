"""Bad requests kept as data: each is refused with the status, kind, code and place that its line names.

``bad_requests.jsonl`` is meant for authors of clients too: one request a line (``body`` as text or ``base64``) with what the
service must answer. Nothing in an answer may show a path, a module, an exception or what was sent.
"""

import base64
import json
from pathlib import Path
from typing import Any

import pytest

from tests.client import Client
from tests.trust.leaks import assert_nothing_leaks

CASES: list[dict[str, Any]] = [
    json.loads(line) for line in (Path(__file__).parent / "bad_requests.jsonl").read_text(encoding="utf-8").splitlines()
]


def test_there_are_at_least_three_hundred() -> None:
    assert len(CASES) >= 300
    assert len({case["what"] for case in CASES}) == len(CASES)


@pytest.mark.parametrize("case", CASES, ids=[case["what"] for case in CASES])
def test_a_bad_request_is_refused_for_its_reason(case: dict[str, Any], client: Client) -> None:
    body = base64.b64decode(case["base64"]) if "base64" in case else case.get("body", "").encode()
    answer = client.request(case["method"], case["path"], headers=case.get("headers", {}), content=body)
    assert answer.status_code == case["status"], answer.text
    assert answer.headers["content-type"] == "application/problem+json"
    assert answer.headers["access-control-allow-origin"] == "*"
    assert answer.headers["cache-control"] == "no-store"
    assert len(answer.content) <= 4096
    problem = answer.json()
    assert problem["status"] == case["status"]
    assert problem["type"] == f"/problems/{case['type']}"
    for member in ("code", "pointer", "parameter"):
        if member in case:
            assert problem["errors"][0].get(member) == case[member], problem
    if answer.status_code in (405, 415, 503):
        needed = {405: "allow", 415: "accept-post", 503: "retry-after"}[answer.status_code]
        assert needed in answer.headers or "accept-encoding" in answer.headers
    assert_nothing_leaks(answer)
