"""Every operation of the OpenAPI document under generated requests, good and bad, with a fixed seed.

Referee: schemathesis, which reads the document as any client does. A request of its making may be refused, but only as the
document says, and the answer must be what the document promises.
"""

from typing import Any, cast

import httpx
import pytest
import schemathesis
from hypothesis import HealthCheck, settings
from schemathesis.checks import CHECKS, CheckFunction
from schemathesis.generation.modes import GenerationMode

from service import quantities
from service.app import create_app
from service.reference.loader import load_library
from service.settings import Settings
from tests.client import Client
from tests.trust.leaks import INSIDE

EXAMPLES = 300

_app = create_app(Settings(log_requests=False))
schema = schemathesis.openapi.from_asgi("/openapi.json", _app)
schema.config.seed = 86_073
schema.config.generation.update(modes=[GenerationMode.POSITIVE, GenerationMode.NEGATIVE])

VERSIONS = load_library(Settings().data, quantities.convert).versions


@schema.hook
def map_query(_context: Any, query: Any) -> Any:
    """Mostly versions that are held: a random one is refused before anything else is looked at."""
    if query and isinstance(query.get("dataset"), str):
        query["dataset"] = VERSIONS[len(query["dataset"]) % len(VERSIONS)]
    return query


PROMISES = [
    cast("CheckFunction", CHECKS.get_one(name))
    for name in (
        "not_a_server_error",
        "status_code_conformance",
        "content_type_conformance",
        "response_headers_conformance",
        "response_schema_conformance",
    )
]


client = Client(_app)


def send(case: schemathesis.Case[Any]) -> httpx.Response:
    """Send the case through the tests' own client, which costs a fifth of the generator's."""
    asked = case.as_transport_kwargs()
    body = {"json": asked["json"]} if asked.get("json") is not None else {"content": asked.get("data") or b""}
    return client.request(asked["method"], asked["url"], params=asked.get("params"), headers=dict(asked["headers"]), **body)


@pytest.mark.slow
@schema.parametrize()
@settings(
    max_examples=EXAMPLES,
    deadline=None,
    derandomize=True,
    database=None,
    suppress_health_check=list(HealthCheck),
)
def test_every_operation_keeps_what_the_document_promises(case: schemathesis.Case[Any]) -> None:
    answer = send(case)
    case.validate_response(answer, checks=PROMISES)
    assert INSIDE.search(answer.text) is None
