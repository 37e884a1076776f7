"""Today's OpenAPI document against the released one: nothing that a caller relies on may be gone."""

import copy
import importlib.util
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from service.api.openapi import document_bytes

HERE = Path(__file__).parent
RELEASED = HERE.parents[1] / "openapi" / "released-1.json"
_SPEC = importlib.util.spec_from_file_location("breaking_changes", HERE / "breaking_changes.py")
assert _SPEC is not None
assert _SPEC.loader is not None
_MODULE = importlib.util.module_from_spec(_SPEC)
_SPEC.loader.exec_module(_MODULE)
breaking_changes: Callable[[Any, Any], list[str]] = _MODULE.breaking_changes

Change = Callable[[Any], Any]


def released() -> Any:
    return json.loads(RELEASED.read_bytes())


def schema(document: Any, name: str) -> Any:
    return document["components"]["schemas"][name]


def get(document: Any) -> Any:
    return document["paths"]["/v1/displacement"]["get"]


def post(document: Any) -> Any:
    return document["paths"]["/v1/displacement"]["post"]


REQUEST = "DisplacementRequest"
RESULT = "DisplacementResult"
BREAKS: dict[str, tuple[Change, str]] = {
    "an address is gone": (lambda d: d["paths"].pop("/v1/lash"), "/v1/lash is gone"),
    "an operation is gone": (lambda d: d["paths"]["/v1/lash"].pop("get"), "GET /v1/lash is gone"),
    "a parameter is gone": (lambda d: get(d)["parameters"].pop(0), "parameter cylinders is gone"),
    "a parameter is needed": (lambda d: get(d)["parameters"][0].update(required=True), "parameter cylinders is needed now"),
    "a parameter is shorter": (
        lambda d: next(p for p in get(d)["parameters"] if p["name"] == "bore")["schema"].update(maxLength=3),
        "maxLength is narrower",
    ),
    "a choice is gone": (
        lambda d: next(p for p in get(d)["parameters"] if p["name"] == "units")["schema"].update(enum=["metric"]),
        "fewer choices",
    ),
    "a form is gone": (lambda d: get(d)["responses"]["200"]["content"].pop("text/csv"), "text/csv is gone"),
    "a status is gone": (lambda d: get(d)["responses"].pop("304"), "status 304 is gone"),
    "a field of a question is gone": (lambda d: schema(d, REQUEST)["properties"].pop("bore"), "bore is gone"),
    "a field of a question is needed": (lambda d: schema(d, REQUEST)["required"].append("unheard_of"), "unheard_of is needed"),
    "a number of a question is narrower": (
        lambda d: schema(d, REQUEST)["properties"]["cylinders"].update(maximum=1),
        "maximum is narrower",
    ),
    "a field of an answer is gone": (lambda d: schema(d, RESULT)["properties"].pop("displacement"), "displacement is gone"),
    "a field of an answer may be missing": (lambda d: schema(d, RESULT).update(required=[]), "displacement may be missing"),
    "a field of an answer is of another type": (
        lambda d: schema(d, "Envelope")["properties"]["calculation"].update(type="string"),
        "type is another",
    ),
    "an answer has a choice that nobody knows": (
        lambda d: schema(d, "Finding")["properties"]["severity"]["enum"].append("panic"),
        "other choices are answered",
    ),
    "an answer comes in one more form": (
        lambda d: schema(d, RESULT)["properties"]["spigot_wall"]["anyOf"].append({"type": "string"}),
        "anyOf has other members",
    ),
    "a quantity is taken in one form less": (
        lambda d: schema(d, REQUEST)["properties"]["bore"]["anyOf"].pop(),
        "anyOf has other members",
    ),
    "what took anything takes a text only": (
        lambda d: schema(d, "BatchItem")["properties"]["input"].update(additionalProperties={"type": "string"}),
        "other fields are narrower",
    ),
    "a problem loses a field": (lambda d: schema(d, "Problem")["properties"].pop("errors"), "errors is gone"),
    "a body takes another form": (
        lambda d: post(d)["requestBody"].update(content={"application/xml": {"schema": {}}}),
        "application/json is gone",
    ),
}
HARMLESS: dict[str, Change] = {
    "a new address": lambda d: d["paths"].update({"/v1/new": {"get": {"responses": {}}}}),
    "a new parameter": lambda d: get(d)["parameters"].append({"in": "query", "name": "new", "schema": {"type": "string"}}),
    "a new field in an answer": lambda d: schema(d, RESULT)["properties"].update(new={"type": "number"}),
    "a new field in a question": lambda d: schema(d, REQUEST)["properties"].update(new={"type": "string"}),
    "other words": lambda d: get(d).update(summary="Other words."),
}


def test_todays_document_breaks_nothing_that_was_released() -> None:
    assert breaking_changes(released(), json.loads(document_bytes())) == []


@pytest.mark.parametrize("name", BREAKS)
def test_a_break_is_caught(name: str) -> None:
    change, words = BREAKS[name]
    today = copy.deepcopy(released())
    change(today)
    assert any(words in found for found in breaking_changes(released(), today)), breaking_changes(released(), today)


@pytest.mark.parametrize("name", HARMLESS)
def test_what_only_adds_breaks_nothing(name: str) -> None:
    today = copy.deepcopy(released())
    HARMLESS[name](today)
    assert breaking_changes(released(), today) == []
