"""The OpenAPI document (3.1), written from the list of topics and their models."""

from typing import Any

import orjson
from pydantic.json_schema import models_json_schema

from service.answers.inputs import Measured, Number, field_specs
from service.answers.topic import Topic
from service.answers.topics import TOPICS as QUESTIONS
from service.api.answer_openapi import schemas as answer_schemas
from service.api.negotiation import MEDIA
from service.api.problems import KINDS
from service.api.query import Node, tree_of
from service.api.reference_openapi import paths as reference_paths
from service.api.reference_openapi import schemas as reference_schemas
from service.api.service_openapi import MODELS
from service.api.service_openapi import paths as service_paths
from service.api.service_openapi import schemas as service_schemas
from service.faces.registry import faces_of
from service.sheet.sheet import TOPIC as BUILD_SHEET

TOPICS = (*QUESTIONS, BUILD_SHEET)
REF = "#/components/schemas/{model}"
_REFUSALS = ("unreadable", "not-in-dataset", "not-acceptable", "too-slow", "withdrawn-dataset", "too-large", "address-too-long")
_ALWAYS = (
    "no-key",
    "method-not-allowed",
    "unsupported-media-type",
    "invalid-input",
    "too-many-requests",
    "headers-too-large",
    "overloaded",
)
_KEY = {
    "type": "apiKey",
    "in": "header",
    "name": "X-Api-Key",
    "description": "Only where the operator has set up keys; otherwise everybody is let in.",
}


def document_bytes() -> bytes:
    """The document as it is served and committed."""
    return orjson.dumps(document(), option=orjson.OPT_INDENT_2 | orjson.OPT_SORT_KEYS) + b"\n"


def document() -> dict[str, Any]:
    """The OpenAPI document of everything a program asks for."""
    asked = [model for topic in TOPICS for model in (topic.request, topic.result)]
    models = [(model, "validation") for model in (*asked, *MODELS)]
    _, definitions = models_json_schema(models, ref_template=REF)  # type: ignore[arg-type]
    schemas = _without_null_defaults(definitions.get("$defs", {})) | answer_schemas() | reference_schemas() | service_schemas()
    calculators = {topic.path: _path(topic) for topic in TOPICS}
    refusals = _refusals()
    return {
        "openapi": "3.1.0",
        "info": {
            "title": "Runstand",
            "version": "1",
            "summary": "The numbers of building, first firing and breaking in a small air-cooled piston engine.",
            "description": (
                "Stateless. Quantities are text with a unit (`86 mm`, `3 3/8 in`) or `{value, unit}`; "
                "a bare number is refused. "
                "The maker's manual, local codes and licensed practice come first."
            ),
            "license": {"name": "MIT", "identifier": "MIT"},
        },
        "servers": [{"url": "/"}],
        "tags": [
            {"name": "calculators", "description": "Questions and answers."},
            {"name": "reference", "description": "Facts, sources, formulas, units and rules."},
            {"name": "service", "description": "What there is and how it fares."},
        ],
        "paths": _named(calculators | reference_paths(refusals) | service_paths(refusals)),
        "security": [{}, {"ApiKey": []}],
        "components": {"schemas": schemas, "securitySchemes": {"ApiKey": _KEY}},
    }


def _named(paths: dict[str, Any]) -> dict[str, Any]:
    """Every operation with a name that generators of clients can use."""
    for path, operations in paths.items():
        words = "_".join(path.replace("{", "by_").replace("}", "").replace("-", "_").strip("/").split("/"))
        for method, operation in operations.items():
            operation.setdefault("operationId", f"{method}_{words}")
    return paths


def _without_null_defaults(tree: Any) -> Any:
    """Schemas whose optional names simply may be absent: generators take a default of null for a name that always comes."""
    if isinstance(tree, dict):
        return {k: _without_null_defaults(v) for k, v in tree.items() if not (k == "default" and v is None)}
    return [_without_null_defaults(item) for item in tree] if isinstance(tree, list) else tree


def _path(topic: Topic) -> dict[str, Any]:
    common = {"tags": ["calculators"], "summary": topic.title, "description": topic.summary}
    examples = {f"example{n}": {"summary": e.title, "value": e.request} for n, e in enumerate(topic.examples, 1)}
    body = {
        "required": True,
        "content": {"application/json": {"schema": {"$ref": REF.format(model=topic.request.__name__)}, "examples": examples}},
    }
    return {
        "get": {
            **common,
            "operationId": f"get_{topic.name}",
            "parameters": [*_parameters(topic), *_controls(topic, packed=True)],
            "responses": _responses(topic, cached=True),
        },
        "post": {
            **common,
            "operationId": f"post_{topic.name}",
            "parameters": _controls(topic, packed=False),
            "requestBody": body,
            "responses": _responses(topic, cached=False),
        },
    }


def _parameters(topic: Topic) -> list[dict[str, Any]]:
    """The flat names of the query; what has no fixed name (lists of objects) is described in prose."""
    found: list[dict[str, Any]] = []
    specs = field_specs(topic.request)
    for name, node in tree_of(topic.request).children.items():
        for path, leaf in _leaves(name, node):
            schema: dict[str, Any] = {"type": {"number": "number", "boolean": "boolean"}.get(leaf.form, "string")}
            spec = specs.get(name)
            described = ""
            if isinstance(spec, Measured | Number):
                described = spec.meaning
                if isinstance(spec.example, str if schema["type"] == "string" else float | int) and spec.example != "":
                    schema["examples"] = [spec.example]
            if isinstance(spec, Measured):
                schema["maxLength"] = 40
            # Which of them are needed together depends on the question, so none is marked as required here.
            found.append({"name": path, "in": "query", "required": False, "description": described, "schema": schema})
    return found


def _leaves(name: str, node: Node) -> list[tuple[str, Node]]:
    if node.form == "object":
        return [leaf for key, child in node.children.items() for leaf in _leaves(f"{name}.{key}", child)]
    if node.form == "list" and node.item is not None and node.item.form == "object":
        return [leaf for key, child in node.item.children.items() for leaf in _leaves(f"{name}.0.{key}", child)]
    return [(name, node)]


def _controls(topic: Topic, *, packed: bool) -> list[dict[str, Any]]:
    faces = ["json", *faces_of(topic.name)]
    controls = [
        ("units", "Units of the answer.", {"type": "string", "enum": ["metric", "us"], "default": "metric"}),
        ("dataset", "Pins the version of the reference dataset.", {"type": "string", "pattern": r"^[0-9]{4}\.[0-9]{1,3}$"}),
        ("format", "Face of the answer; stands before the Accept header.", {"type": "string", "enum": faces}),
    ]
    if packed:
        controls.append(("in", "The whole question, packed; as answered in links.self.", {"type": "string"}))
    return [
        {"name": name, "in": "query", "required": False, "description": words, "schema": schema}
        for name, words, schema in controls
    ]


def _responses(topic: Topic, *, cached: bool) -> dict[str, Any]:
    content: dict[str, Any] = {
        "application/json": {
            "schema": {
                "allOf": [
                    {"$ref": REF.format(model="Envelope")},
                    {
                        "type": "object",
                        "properties": {"result": {"$ref": REF.format(model=topic.result.__name__)}},
                        "required": ["result"],
                    },
                ]
            }
        }
    }
    for face in faces_of(topic.name):
        content[MEDIA[face]] = {"schema": {"type": "string"}}
    responses: dict[str, Any] = {"200": {"description": "The answer.", "headers": _headers(cached), "content": content}}
    if cached:
        responses["304"] = {"description": "Unchanged; the caller's copy is good."}
    responses |= _refusals()
    return responses


def _refusals() -> dict[str, Any]:
    """What any address may answer instead of 200."""
    return {
        str(KINDS[slug].status): {
            "description": KINDS[slug].title,
            "content": {"application/problem+json": {"schema": {"$ref": REF.format(model="Problem")}}},
        }
        for slug in (*_REFUSALS, *_ALWAYS)
    }


def _headers(cached: bool) -> dict[str, Any]:
    names = {"Dataset-Version": "Version of the reference dataset.", "Calculation-Version": "Version of the formulas."}
    names |= {"ETag": "Weak entity tag."} if cached else {"Content-Location": "The GET address that asks the same."}
    return {name: {"description": words, "schema": {"type": "string"}} for name, words in names.items()}
