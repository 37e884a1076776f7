"""The part of the OpenAPI document that is neither calculator nor reference: many at once, stored answers, the service."""

from collections.abc import Mapping
from typing import Any

from pydantic import BaseModel

from service.answers.combinations import TOPIC as COMBINATIONS
from service.answers.combinations_request import CombinationsRequest
from service.answers.displacement import TOPIC as DISPLACEMENT
from service.api.batch import Batch, BatchRequest
from service.api.combination_stream import CombinationStream
from service.api.metrics import MEDIA_TYPE as METRICS_TYPE
from service.api.verify import Verify, VerifyRequest

MODELS: tuple[type[BaseModel], ...] = (BatchRequest, VerifyRequest)
"""Bodies that no calculator has."""

REFUSED_UNREAD = ("400", "405", "408", "431")
"""Statuses of a request that is malformed, of another method, too slow or too large: whatever it asks, even how it fares."""

_TEXT: dict[str, Any] = {"type": "string"}
_COUNT: dict[str, Any] = {"type": "integer", "minimum": 0}
_VERSION: dict[str, Any] = {"type": "string", "pattern": r"^[0-9]{4}\.[0-9]{1,3}$"}


def schemas() -> dict[str, Any]:
    """What these addresses answer."""
    item = _object({"id": _TEXT, "status": _COUNT, "answer": _ref("Envelope"), "problem": _ref("Problem")}, "id", "status")
    differences, causes = ({"type": "array", "items": _ref(name)} for name in ("Difference", "ChangedRow"))
    newest = {"version": _VERSION, "same": {"type": "boolean"}, "differences": differences, "causes": causes}
    verified = {
        "verdict": {"type": "string", "enum": ["same", "differs"]},
        "why": _TEXT,
        "answer_id": {"type": "string", "pattern": "^sha256:[0-9a-f]{64}$"},
        "dataset": _object({"version": _VERSION, "sha256": _TEXT}, "version", "sha256"),
        "calculation": _COUNT,
        "differences": differences,
        "newest": _object(newest, *newest),
    }
    calculator = _object({"name": _TEXT, "path": _TEXT, "title": _TEXT, "summary": _TEXT}, "name", "path", "title", "summary")
    index = {
        "service": _TEXT,
        "calculators": {"type": "array", "items": calculator},
        "reference": _TEXT,
        "datasets": {"type": "array", "items": _VERSION},
        "units": _TEXT,
        "documentation": _TEXT,
        "openapi": _TEXT,
    }
    summary = _object({"answered": _COUNT, "failed": _COUNT}, "answered", "failed")
    return {
        "BatchAnswer": _object({"summary": summary, "items": {"type": "array", "items": item}}, "summary", "items"),
        "Verified": _object(verified, *verified),
        "ServiceIndex": _object(index, *index),
        "HealthState": _object({"status": _TEXT, "reasons": {"type": "array", "items": _TEXT}}, "status"),
    }


def paths(refusals: Mapping[str, Any]) -> dict[str, Any]:
    """The addresses; ``refusals`` are the responses that any of them may give."""
    unread = {status: refusals[status] for status in REFUSED_UNREAD}
    question = DISPLACEMENT.examples[0].request
    batch = {"items": [{"id": "first", "path": DISPLACEMENT.path, "input": question}]}
    stored = {
        "inputs": question,
        "result": {},
        "findings": [],
        "dataset": {"version": "2026.12"},
        "links": {"question": DISPLACEMENT.path},
    }
    stream = _post(
        "Every combination as a stream of CSV",
        "The question of /v1/combinations, answered row by row for as long as the caller listens. The columns number, head and "
        "cam count from 1 as there; head_name and cam_name stand beside them where any of the heads or cams has a name.",
        (CombinationsRequest, {e.title: e.request for e in COMBINATIONS.examples}),
        ("text/csv", _TEXT),
        refusals,
    )
    return {
        Batch.path: _post(
            "Many questions in one request",
            "Up to a hundred questions; the order is kept, and each has its own status. What no longer fits into 4 MiB of "
            "answers has the status 413 and is to be asked alone or in a smaller batch.",
            (BatchRequest, {"One question": batch}),
            ("application/json", _ref("BatchAnswer")),
            refusals,
        ),
        CombinationStream.path: stream,
        Verify.path: _post(
            "A stored answer asked again",
            "Whether the same inputs still give the same answer, whole; if not, what differs and why.",
            (VerifyRequest, {"An answer whose figures were lost": {"answer": stored}}),
            ("application/json", _ref("Verified")),
            refusals,
            controls=False,
        ),
        "/v1": _get("What there is", "Calculators, datasets and documentation.", {"200": ("ServiceIndex", "")}, refusals),
        "/health/live": _get("Whether the process lives", "It answers at all.", {"200": ("HealthState", "")}, unread),
        "/health/ready": _get(
            "Whether requests are welcome",
            "False from the signal to stop, and as long as something is missing.",
            {"200": ("HealthState", ""), "503": ("HealthState", "")},
            unread,
        ),
        "/metrics": _get(
            "Figures of one worker", "Prometheus text; served where it is set up.", {"200": ("", METRICS_TYPE)}, unread
        ),
    }


def _post(
    title: str,
    more: str,
    question: tuple[type[BaseModel], Mapping[str, Any]],
    answer: tuple[str, dict[str, Any]],
    refusals: Mapping[str, Any],
    *,
    controls: bool = True,
) -> dict[str, Any]:
    model, examples = question
    media, schema = answer
    content = {
        "schema": _ref(model.__name__),
        "examples": {f"example{n}": {"summary": words, "value": it} for n, (words, it) in enumerate(examples.items(), 1)},
    }
    units = {"type": "string", "enum": ["metric", "us"], "default": "metric"}
    asked = [("units", "Units of the answer.", units), ("dataset", "Pins the version of the reference dataset.", _VERSION)]
    parameters = [
        {"name": name, "in": "query", "required": False, "description": words, "schema": it} for name, words, it in asked
    ]
    return {
        "post": {
            "tags": ["calculators"],
            "summary": title,
            "description": more,
            "parameters": parameters if controls else [],
            "requestBody": {"required": True, "content": {"application/json": content}},
            "responses": {"200": {"description": "The answer.", "content": {media: {"schema": schema}}}, **refusals},
        }
    }


def _get(title: str, more: str, answers: Mapping[str, tuple[str, str]], refusals: Mapping[str, Any]) -> dict[str, Any]:
    responses = {
        status: {
            "description": "The answer." if status == "200" else "Not now.",
            "content": {media or "application/json": {"schema": _ref(model) if model else _TEXT}},
        }
        for status, (model, media) in answers.items()
    }
    return {"get": {"tags": ["service"], "summary": title, "description": more, "responses": {**refusals, **responses}}}


def _object(properties: dict[str, Any], *required: str) -> dict[str, Any]:
    return {"type": "object", "properties": properties, "required": list(required)}


def _ref(name: str) -> dict[str, Any]:
    return {"$ref": f"#/components/schemas/{name}"}
