"""The reference data's part of the OpenAPI document."""

from collections.abc import Mapping
from typing import Any

from service.api.reference import WORDS
from service.api.reference_filters import FILTERS, OF_ENGINE, goes_by_engine
from service.api.reference_query import MOST_ROWS, ROWS
from service.reference.tables import TABLES

_TEXT: dict[str, Any] = {"type": "string"}
_OBJECT: dict[str, Any] = {"type": "object", "additionalProperties": True}
_COUNT: dict[str, Any] = {"type": "integer", "minimum": 0}
_LINKS: dict[str, Any] = {"type": "object", "additionalProperties": _TEXT}
_VERSION: dict[str, Any] = {"type": "string", "pattern": r"^[0-9]{4}\.[0-9]{1,3}$"}
_STAMP: dict[str, Any] = {
    "type": "object",
    "properties": {"version": _VERSION, "sha256": {"type": "string", "pattern": "^[0-9a-f]{64}$"}},
    "required": ["version", "sha256"],
}
_SI: dict[str, Any] = {
    "type": "object",
    "description": "The same in SI; absent where the value is a text.",
    "properties": {"value": {"type": "number"}, "unit": _TEXT},
    "required": ["value", "unit"],
}


def schemas() -> dict[str, Any]:
    """What the answers of the reference data are made of."""
    fact = {
        "value": {"type": ["number", "string"]},
        "unit": _TEXT,
        "printed": _TEXT,
        "si": _SI,
        "source": _TEXT,
        "locator": _TEXT,
        "evidence": _TEXT,
        "preferred": {"type": "boolean"},
        "note": _TEXT,
    }
    other = _closed(fact)
    kinds = {"type": "string", "enum": ["added", "removed", "changed"]}
    change = {"change": kinds, **dict.fromkeys(("table", "id", "property", "source", "cause"), _TEXT)}
    return {
        "ReferenceFact": _closed({**fact, "others": {"type": "array", "items": other}}),
        "ReferenceRow": _closed({"id": _TEXT, "property": _TEXT, **fact, "links": _LINKS}),
        "ReferenceEntity": _closed(
            {
                "table": {"type": "string", "enum": list(TABLES)},
                "id": _TEXT,
                "properties": {"type": "object", "additionalProperties": _ref("ReferenceFact")},
                "dataset": _STAMP,
                "links": _LINKS,
            }
        ),
        "ReferenceTable": _closed(
            {
                "table": {"type": "string", "enum": list(TABLES)},
                "title": _TEXT,
                "rows": {"type": "array", "items": _ref("ReferenceRow"), "maxItems": MOST_ROWS},
                "count": _COUNT,
                "dataset": _STAMP,
                "links": _LINKS,
            }
        ),
        "ReferenceChange": {
            "type": "object",
            "description": "A row that differs: added has no before, removed no after.",
            "properties": {**change, "before": other, "after": other},
            "required": list(change),
            "additionalProperties": False,
        },
        "ReferenceChanges": _closed(
            {
                "since": _VERSION,
                "until": _VERSION,
                "changes": {"type": "array", "items": _ref("ReferenceChange"), "maxItems": MOST_ROWS},
                "count": _COUNT,
                "dataset": _STAMP,
                "links": _LINKS,
            }
        ),
    }


def paths(refusals: Mapping[str, Any]) -> dict[str, Any]:
    """The addresses below ``/v1`` that are looked up; ``refusals`` are the responses that any address may give."""
    table = _in_path("table", "Name of the table.", {"type": "string", "enum": list(TABLES)})
    id_words = "Id as written, such as M8x1.25 or 3/8-24 UNF; a slash in it stays or is sent as %2F."
    version = _in_path("version", "A version that /v1/versions lists.", _VERSION)
    filters = [_in_query(name, f"Only rows with this {name}.", _TEXT) for name in FILTERS]
    by_engine = [name for name in TABLES if goes_by_engine(name)]
    engine_words = f"Only what holds for this engine: its own rows, else its family's. For {', '.join(by_engine)}."
    filters.append(_in_query(OF_ENGINE, engine_words, {**_TEXT, "examples": ["air-cooled-flat-four"]}))
    found = {
        "/v1/datasets": _get("Versions of the reference dataset", _OBJECT, refusals, []),
        "/v1/datasets/{version}": _get("A version with its tables and sum", _OBJECT, refusals, [version]),
        "/v1/datasets/{version}/changes": _get(
            "What differs from another version, row by row, with the cause",
            _ref("ReferenceChanges"),
            refusals,
            [version, _in_query("since", "The version to compare with; left out, the one before.", _VERSION), *_paging()],
            csv=True,
        ),
        "/v1/reference": _get("The tables and what they may hold", _OBJECT, refusals, [_pin()]),
        "/v1/reference/{table}": _get(
            "Rows of a table, one fact each",
            _ref("ReferenceTable"),
            refusals,
            [table, *filters, *_paging(), _pin()],
            csv=True,
            more="A property of the table is a filter too: form=unified keeps the facts of all unified threads. "
            "Numbers are compared as numbers: diameter=8, 8.0 and 8 mm are the same.",
        ),
        "/v1/reference/{table}/{id}": _get(
            "One thing with all its facts, the ones not in force beside those that are",
            _ref("ReferenceEntity"),
            refusals,
            [table, _in_path("id", id_words, _TEXT), _pin()],
        ),
    }
    for word in WORDS:
        if word not in ("datasets", "reference"):
            pin = [_pin()] if word == "sources" else []
            found[f"/v1/{word}"] = _get(_TITLES[word], _OBJECT, refusals, pin)
            if word not in ("units", "versions"):
                one = _in_path("id", "Id as listed.", _TEXT)
                found[f"/v1/{word}/{{id}}"] = _get(f"{_TITLES[word]}: one of them", _OBJECT, refusals, [one, *pin])
    return found


_TITLES: Mapping[str, str] = {
    "sources": "The bibliography, and what rests on each source",
    "methods": "The formulas: symbols, source, range and worked example",
    "units": "The closed vocabulary of units with their spellings",
    "findings": "The rules behind the findings",
    "versions": "The pairs of dataset and calculation that this build holds",
}


def _get(
    title: str,
    schema: dict[str, Any],
    refusals: Mapping[str, Any],
    parameters: list[dict[str, Any]],
    *,
    csv: bool = False,
    more: str = "",
) -> dict[str, Any]:
    faces = ["json", "csv"] if csv else ["json"]
    content: dict[str, Any] = {"application/json": {"schema": schema}}
    if csv:
        content["text/csv"] = {"schema": _TEXT}
    face = _in_query("format", "Form of the answer; stands before the Accept header.", {"type": "string", "enum": faces})
    answers = {"200": {"description": "The answer.", "content": content}, "304": {"description": "Unchanged."}}
    described = {"summary": title, "description": more or f"{title}."}
    return {
        "get": {"tags": ["reference"], **described, "parameters": [*parameters, face], "responses": {**answers, **refusals}}
    }


def _paging() -> list[dict[str, Any]]:
    limit = {"type": "integer", "minimum": 1, "maximum": MOST_ROWS, "default": ROWS}
    return [
        _in_query("limit", "Most rows of a page; without it a table as CSV comes whole.", limit),
        _in_query("cursor", "From links.next; it carries the version, so that pages never mix two.", _TEXT),
    ]


def _pin() -> dict[str, Any]:
    return _in_query("dataset", "Pins the version of the reference dataset.", _VERSION)


def _in_query(name: str, words: str, schema: dict[str, Any]) -> dict[str, Any]:
    return {"name": name, "in": "query", "required": False, "description": words, "schema": schema}


def _in_path(name: str, words: str, schema: dict[str, Any]) -> dict[str, Any]:
    return {"name": name, "in": "path", "required": True, "description": words, "schema": schema}


def _closed(properties: dict[str, Any]) -> dict[str, Any]:
    required = [name for name in properties if name != "si"]
    return {"type": "object", "properties": properties, "required": required, "additionalProperties": False}


def _ref(name: str) -> dict[str, Any]:
    return {"$ref": f"#/components/schemas/{name}"}
