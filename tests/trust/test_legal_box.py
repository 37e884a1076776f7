"""Every question over the whole box of what it allows: an answer with finite figures, or a clear refusal, never a failure.

The hard ranges of the fields promise that no combination of them breaks a calculation; this is where the promise is kept.
"""

import json
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from service import quantities
from service.answers.topic import Topic
from service.api.openapi import TOPICS as ASKED
from service.reference.loader import load_library
from service.settings import Settings
from tests.client import Client
from tests.trust.documents import documents
from tests.trust.leaks import assert_nothing_leaks

DATASET = load_library(Settings().data, quantities.convert).newest


@pytest.mark.parametrize("topic", ASKED, ids=lambda topic: topic.name)
def test_every_legal_document_is_answered_or_refused(topic: Topic, client: Client) -> None:
    @settings(max_examples=300, deadline=None, derandomize=True, database=None, suppress_health_check=list(HealthCheck))
    @given(documents(topic, DATASET), st.sampled_from(["metric", "us"]))
    def ask(document: Any, units: str) -> None:
        answer = client.post(f"{topic.path}?units={units}", document)
        assert answer.status_code in (200, 404, 422), answer.text
        read = json.loads(answer.content, parse_constant=lambda name: pytest.fail(f"{name} in an answer"))
        if answer.status_code == 200:
            assert '"value":null' not in answer.text, "a figure that is none was written as null"
            assert read["answer_id"].startswith("sha256:")
        else:
            assert read["errors"]
            assert_nothing_leaks(answer)
        assert len(answer.content) < 2_000_000

    ask()
