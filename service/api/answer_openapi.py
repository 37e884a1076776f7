"""The schemas that every answer and every refusal share."""

from typing import Any

_TEXT: dict[str, Any] = {"type": "string"}
_TEXTS: dict[str, Any] = {"type": "array", "items": _TEXT}
_OPEN: dict[str, Any] = {"type": "object", "additionalProperties": True}
"""Names that the question decides; a plain object would be taken for one that has none."""


def schemas() -> dict[str, Any]:
    """Envelope and problem, and what they are made of."""
    return {
        "Finding": _finding(),
        "Basis": _basis(),
        "Assumption": _assumption(),
        "Gap": _gap(),
        "Envelope": _envelope(),
        "Fault": _fault(),
        "Problem": _problem(),
        "Difference": _difference(),
        "ChangedRow": _changed_row(),
    }


def _envelope() -> dict[str, Any]:
    return _object(
        {
            "answer_id": {"type": "string", "pattern": "^sha256:[0-9a-f]{64}$"},
            "inputs": {**_OPEN, "description": "The inputs as understood: each quantity as given, and in SI."},
            "result": {**_OPEN, "description": "As the calculator's own result says."},
            "findings": _list("Finding"),
            "basis": _list("Basis"),
            "assumptions": _list("Assumption"),
            "unchecked": _list("Gap"),
            "cautions": _TEXTS,
            "dataset": _object({"version": _TEXT, "sha256": _TEXT}, "version", "sha256"),
            "calculation": {"type": "integer"},
            "links": {"type": "object", "additionalProperties": _TEXT},
        },
        *("answer_id", "inputs", "result", "findings", "basis", "assumptions", "unchecked"),
        *("cautions", "dataset", "calculation", "links"),
    )


def _finding() -> dict[str, Any]:
    return _object(
        {
            "code": _TEXT,
            "severity": {"type": "string", "enum": ["stop", "fix", "caution", "note", "ask"]},
            "stage": _TEXT,
            "fields": _TEXTS,
            "message": _TEXT,
            "reason": _TEXT,
            "remedy": _TEXT,
            "source": _TEXT,
        },
        *("code", "severity", "fields", "message", "reason", "remedy", "source"),
    )


def _basis() -> dict[str, Any]:
    kind = {"type": "string", "enum": ["method", "fact"]}
    return _object(
        {"kind": kind, "id": _TEXT, "source": _TEXT, "locator": _TEXT, "evidence": _TEXT},
        *("kind", "id", "source", "locator", "evidence"),
    )


def _assumption() -> dict[str, Any]:
    """A value that was supplied because the caller did not."""
    value = {
        "description": "A quantity, a number, a text, or several of them by name.",
        "anyOf": [_ref("QuantityOut"), {"type": ["number", "string", "boolean"]}, _OPEN],
    }
    return _object(
        {"field": _TEXT, "value": value, "reason": _TEXT, "source": _TEXT, "evidence": _TEXT},
        *("field", "value", "reason", "source", "evidence"),
    )


def _gap() -> dict[str, Any]:
    """A check that was not made."""
    check = {
        "type": "string",
        "pattern": "^[a-z0-9]+(-[a-z0-9]+)*$",
        "description": "The code of the rule that looks, as in /v1/findings; where none does, an id, and why says it in words.",
    }
    return _object({"check": check, "needs": _TEXTS, "why": _TEXT}, "check", "needs")


def _fault() -> dict[str, Any]:
    """One entry of a refusal's errors."""
    example = {
        "description": "What would do: a text, a number, a list or an object, as it would be sent.",
        "anyOf": [{"type": ["string", "number"]}, {"type": "array", "items": {}}, _OPEN],
    }
    return _object(
        {
            "pointer": {"type": "string", "description": "JSON Pointer of the input in a body."},
            "parameter": {"type": "string", "description": "Name of the input in an address."},
            "code": _TEXT,
            "detail": {"type": "string", "description": "What is wrong and what to send instead."},
            "example": example,
            "did_you_mean": _TEXT,
            "allowed": {**_TEXTS, "description": "The choices; of a figure the one range in words, such as 30 .. 200 mm."},
        },
        *("code", "detail"),
    )


def _problem() -> dict[str, Any]:
    return _object(
        {
            "type": _TEXT,
            "title": _TEXT,
            "status": {"type": "integer"},
            "detail": _TEXT,
            "instance": {
                "type": "string",
                "format": "uri-reference",
                "description": "The address of the route that refused; with status 500 the id of the request, urn:request:….",
            },
            "errors": {**_list("Fault"), "maxItems": 20},
            "did_you_mean": {"type": "string", "description": "The address that is nearest to one that is none."},
            "more_errors": {"type": "integer", "description": "How many there are beyond the first twenty."},
            "held": {**_TEXTS, "description": "The dataset versions that are held, where another was asked for."},
            "successor": {"type": "string", "description": "The dataset version to use in place of a withdrawn one."},
        },
        *("type", "title", "status", "detail"),
    )


def _difference() -> dict[str, Any]:
    """A part of an answer that is not what it was."""
    value = {"description": "A figure as written; a list or an object in brief; absent or null where there was none."}
    return _object({"field": _TEXT, "was": value, "now": value}, "field")


def _changed_row() -> dict[str, Any]:
    """A row of the dataset behind a difference."""
    side = {"type": ["string", "null"]}
    return _object({"row": _TEXT, "change": _TEXT, "was": side, "now": side, "cause": _TEXT}, "row", "change", "cause")


def _list(name: str) -> dict[str, Any]:
    return {"type": "array", "items": _ref(name)}


def _object(properties: dict[str, Any], *required: str) -> dict[str, Any]:
    return {"type": "object", "properties": properties, "required": list(required)}


def _ref(name: str) -> dict[str, Any]:
    return {"$ref": f"#/components/schemas/{name}"}
