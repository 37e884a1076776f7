"""The OpenAPI document: valid, the committed one, complete both ways, and every example in it is answered."""

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from openapi_schema_validator import OAS31Validator
from openapi_spec_validator import OpenAPIV31SpecValidator

from service.answers.combinations import EXAMPLE as COMBINED
from service.api.openapi import TOPICS, document, document_bytes
from service.api.post_route import PostRoute
from service.api.reference import WORDS
from service.app import create_app
from service.settings import Settings
from tests.client import Client

ROOT = Path(__file__).parents[2]
COMMITTED = ROOT / "openapi" / "openapi.json"
DOCUMENT = document()
NOT_FOR_PROGRAMS = {"/", "/docs", "/openapi.json", "/problems/{slug}"}
"""Pages for people, and the document itself."""


def examples() -> Iterator[tuple[str, str, Any]]:
    """Every example of a body: address, name, document."""
    for path, operations in DOCUMENT["paths"].items():
        content = operations.get("post", {}).get("requestBody", {}).get("content", {}).get("application/json", {})
        for name, example in content.get("examples", {}).items():
            yield path, name, example["value"]


EXAMPLES = list(examples())


def test_the_document_is_valid_openapi() -> None:
    """Referee: the validator of the OpenAPI 3.1 schema."""
    errors = list(OpenAPIV31SpecValidator(DOCUMENT).iter_errors())
    assert not errors, [error.message for error in errors]


def test_the_committed_document_is_the_served_one(client: Client) -> None:
    """Out of date? ``runstand openapi`` writes it."""
    assert COMMITTED.read_bytes() == document_bytes()
    assert client.get("/openapi.json").content == document_bytes()


def test_every_operation_has_a_name_of_its_own() -> None:
    names = [operation["operationId"] for operations in DOCUMENT["paths"].values() for operation in operations.values()]
    assert len(set(names)) == len(names)


def test_a_schema_is_named_after_what_it_is() -> None:
    """Two models of one name would be told apart by their modules, which are nobody's business."""
    assert not [name for name in DOCUMENT["components"]["schemas"] if not name.isalnum()]


def test_every_served_address_is_documented() -> None:
    """What the app routes, taken from the app itself: fixed pages, bodies, calculators, reference."""
    app = create_app(Settings(log_requests=False, metrics=True))
    served: set[str] = {topic.path for topic in TOPICS} | {f"/v1/{word}" for word in WORDS}
    for route in (*app.framework.router.routes, *app.front.routes):
        path = getattr(route, "path", None)
        if isinstance(path, str):
            served.add(path)
    posted = {route.path for route in app.front.routes if isinstance(route, PostRoute)}
    assert posted == {"/v1/batch", "/v1/combinations/stream", "/v1/verify"}
    assert {"/v1", "/health/live", "/health/ready", "/metrics"} <= served
    undocumented = {path for path in served - set(DOCUMENT["paths"]) - NOT_FOR_PROGRAMS if not path.startswith("/docs/")}
    assert not undocumented


def test_every_documented_calculator_is_served() -> None:
    app = create_app(Settings(log_requests=False))
    assert set(app.front.calculators.by_path) <= set(DOCUMENT["paths"])


PLAIN = sorted(path for path, operations in DOCUMENT["paths"].items() if "get" in operations and "post" not in operations)
IN_PATH = {
    "{version}": "2026.12",
    "{table}/{id}": "threads/M8x1.25",
    "{table}": "threads",
    "sources/{id}": "sources/derived",
    "methods/{id}": "methods/displacement",
    "findings/{id}": "findings/ratio-above-fuel",
}


@pytest.mark.parametrize("path", [path for path in PLAIN if path != "/metrics"])
def test_every_address_without_a_question_is_served(path: str, client: Client) -> None:
    address = path
    for template, value in IN_PATH.items():
        address = address.replace(template, value)
    assert "{" not in address
    reply = client.get(address)
    assert reply.status_code == 200, reply.text[:300]
    assert reply.headers["content-type"].partition(";")[0] in DOCUMENT["paths"][path]["get"]["responses"]["200"]["content"]


def test_there_are_examples_for_every_body() -> None:
    asked = {path for path, operations in DOCUMENT["paths"].items() if "post" in operations}
    assert asked == {path for path, _, _ in EXAMPLES}


@pytest.mark.parametrize(("path", "name", "example"), EXAMPLES, ids=[f"{path}-{name}" for path, name, _ in EXAMPLES])
def test_every_example_is_answered_in_a_documented_form(path: str, name: str, example: Any, client: Client) -> None:
    reply = client.post(path, example)
    assert reply.status_code == 200, f"{path} {name}: {reply.text[:300]}"
    content = DOCUMENT["paths"][path]["post"]["responses"]["200"]["content"]
    assert reply.headers["content-type"].partition(";")[0] in content
    if path == "/v1/batch":
        assert reply.json()["summary"]["failed"] == 0


def _validator(schema: dict[str, Any]) -> OAS31Validator:
    return OAS31Validator({**schema, "components": DOCUMENT["components"]})


BUILDS = [ROOT / "service" / "sheet" / "demo_build.json", ROOT / "tests" / "sheet" / "sound_build.json"]
ASKED = [*EXAMPLES, *(("/v1/build-sheet", path.name, json.loads(path.read_bytes())) for path in BUILDS)]


@pytest.mark.parametrize(("path", "name", "question"), ASKED, ids=[f"{path}-{name}" for path, name, _ in ASKED])
def test_an_answer_has_the_form_that_its_schema_says(path: str, name: str, question: Any, client: Client) -> None:
    """Referee: the validator of OpenAPI 3.1 schemas; of a stream of CSV there is none to check."""
    content = DOCUMENT["paths"][path]["post"]["responses"]["200"]["content"]
    if "application/json" in content:
        faults = list(_validator(content["application/json"]["schema"]).iter_errors(client.post(path, question).json()))
        assert not faults, [f"{fault.json_path}: {fault.message[:200]}" for fault in faults]


MANY = {"bores": ["86 mm"] * 60, "strokes": ["69 mm"] * 60, "rods": ["136 mm"] * 60, "barrel_heights": ["173.7 mm"] * 60}
REFUSED: list[tuple[str, Any]] = [
    ("/v1/displacement", {"cylinders": "four", "bore": 86, "stroek": "1 mm"}),
    ("/v1/displacement", {"cylinders": 4, "bore": "9 m", "stroke": "69 mm"}),
    ("/v1/torque", {"engine": "harrow-r17", "fastener": "nut"}),
    ("/v1/combinations", {"cylinders": 4}),
    ("/v1/combinations", {**COMBINED, **MANY}),
    ("/v1/displacement?dataset=1999.01", {}),
]


@pytest.mark.parametrize(("path", "question"), REFUSED)
def test_a_refusal_has_the_form_of_a_problem(path: str, question: Any, client: Client) -> None:
    """Also what is allowed: always a list, of the choices or of the one range in words."""
    reply = client.post(path, question)
    assert reply.status_code in (404, 422)
    faults = list(_validator({"$ref": "#/components/schemas/Problem"}).iter_errors(reply.json()))
    assert not faults, [f"{fault.json_path}: {fault.message[:200]}" for fault in faults]


def test_an_object_of_an_answer_says_what_it_holds() -> None:
    """A bare object is no name at all to a generator of types."""

    def bare(tree: Any, place: str) -> Iterator[str]:
        if isinstance(tree, dict):
            if tree.get("type") == "object" and not tree.keys() & {"properties", "additionalProperties"}:
                yield place
            for key, part in tree.items():
                yield from bare(part, f"{place}/{key}")
        elif isinstance(tree, list):
            for part in tree:
                yield from bare(part, place)

    assert not list(bare({name: DOCUMENT[name] for name in ("components", "paths")}, ""))


def test_a_stored_answer_of_the_batch_example_is_verified_as_the_same(client: Client) -> None:
    example = next(value for path, _, value in EXAMPLES if path == "/v1/batch")
    answer = client.post("/v1/batch", example).json()["items"][0]["answer"]
    verified = client.post("/v1/verify", {"answer": answer}).json()
    assert verified["verdict"] == "same", verified
    assert set(verified) == set(json.loads(COMMITTED.read_bytes())["components"]["schemas"]["Verified"]["properties"])
