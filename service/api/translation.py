"""Every fault of a question in the caller's words: pydantic's errors and the domain's, as problems.

Nothing of the raw input comes back except the names of fields, and those only when they are plain words.
"""

import re
from collections.abc import Callable, Mapping
from difflib import get_close_matches
from typing import Any

from pydantic import BaseModel, ValidationError

from service.api.declared import choices_at, example_at
from service.api.problems import MOST_ERRORS
from service.api.query import tree_of
from service.api.strict_json import UnreadableJson
from service.errors import (
    BrokenDataset,
    Contradiction,
    MissingInput,
    NotInDataset,
    OutsideValidity,
    RunstandError,
    UnknownDataset,
    WithdrawnDataset,
)

Problem = tuple[str, str, list[dict[str, Any]], dict[str, Any]]
"""Slug, detail, errors and further members of a problem."""

_PLAIN_NAME = re.compile(r"[A-Za-z0-9_.\-]{1,60}\Z")

_WORDS: Mapping[str, tuple[str, str]] = {
    "missing": ("missing", "This is needed."),
    "extra_forbidden": ("unknown-name", "This question has no such name."),
    "literal_error": ("unknown-choice", "This is not one of the choices."),
    "string_type": ("not-a-text", "Send a text."),
    "string_too_short": ("too-short", "The text is empty."),
    "string_too_long": ("too-long", "The text is too long."),
    "string_pattern_mismatch": ("not-a-text", "The text holds characters that cannot be read out, or has the wrong form."),
    "bool_type": ("not-a-choice", "Send true or false."),
    "model_type": ("not-an-object", "Send an object."),
    "model_attributes_type": ("not-an-object", "Send an object."),
    "dict_type": ("not-an-object", "Send an object."),
    "list_type": ("not-a-list", "Send a list."),
    "tuple_type": ("not-a-list", "Send a list."),
    "too_long": ("too-many", "The list is too long."),
    "too_short": ("too-few", "The list is too short."),
    "int_type": ("not-a-number", "Send a whole number, without quotes."),
    "float_type": ("not-a-number", "Send a plain number, without quotes."),
    "finite_number": ("not-a-number", "Send a finite number."),
}

_SHOWN = frozenset({"missing", "not-a-text", "not-a-number", "not-an-object", "not-a-list", "too-short", "too-few"})
"""Codes of the faults that an example tells more about than words do."""


def pointer(location: tuple[int | str, ...]) -> str:
    """The JSON Pointer of a place in the body; names that are no plain words are not repeated."""
    return "".join(f"/{part}" if isinstance(part, int) or _PLAIN_NAME.match(part) else "/(unreadable)" for part in location)


def unreadable(error: UnreadableJson) -> Problem:
    """The problem of a body that is not the JSON this service reads, with the place where it has one."""
    errors = [] if error.pointer is None else [{"pointer": error.pointer, "code": "unreadable", "detail": error.reason}]
    return "unreadable", error.reason, errors, {}


def invalid(error: ValidationError, model: type[BaseModel], from_query: bool) -> Problem:
    """The problem of a document that is no such request, with every fault named."""
    faults = error.errors(include_url=False)
    errors = [_one(dict(fault), model, from_query) for fault in faults[:MOST_ERRORS]]
    return "invalid-input", "", errors, {"more_errors": len(faults) - MOST_ERRORS} if len(faults) > MOST_ERRORS else {}


def _one(fault: dict[str, Any], model: type[BaseModel], from_query: bool) -> dict[str, Any]:
    location = tuple(part for part in fault["loc"] if part != "[key]")
    code, detail = _WORDS.get(fault["type"], (fault["type"].replace("_", "-"), ""))
    context = fault.get("ctx") or {}
    entry: dict[str, Any] = {**_where(location, from_query), "code": code, "detail": detail or fault["msg"]}
    for key in ("example", "did_you_mean", "allowed"):
        value = context.get(key)
        shown = value() if callable(value) else value  # what takes time to find is found for what is shown
        if shown not in (None, ""):
            entry[key] = [shown] if key == "allowed" and isinstance(shown, str) else shown
    if code == "unknown-choice" and "expected" in context:
        entry |= _choices(context["expected"], fault.get("input"))
    if code in _SHOWN:
        entry |= _declared(model, location, entry)
    if code == "unknown-name":
        near = _nearest_name(location, model)
        if near:
            entry["did_you_mean"] = near
    return entry


def _declared(model: type[BaseModel], location: tuple[int | str, ...], entry: Mapping[str, Any]) -> dict[str, Any]:
    """An example that would do, where none is shown yet, and the choices, as the request declares them."""
    example, choices = example_at(model, location), choices_at(model, location)
    shown: dict[str, Any] = {} if example is None or "example" in entry else {"example": example}
    return {**shown, "allowed": choices} if choices else shown


def _choices(expected: str, given: Any) -> dict[str, Any]:
    """The choices, as pydantic quotes them, with the one that is nearest to what was sent."""
    allowed = re.findall("'([^']*)'", expected)
    near = get_close_matches(given[:60].lower(), allowed, n=1, cutoff=0.6) if isinstance(given, str) else []
    return {"did_you_mean": near[0], "allowed": allowed} if near else {"allowed": allowed}


def _where(location: tuple[int | str, ...], from_query: bool) -> dict[str, str]:
    if from_query:
        return {"parameter": ".".join(pointer((part,))[1:] for part in location)}
    return {"pointer": pointer(location)}


def _nearest_name(location: tuple[int | str, ...], model: type[BaseModel]) -> str:
    """The known name nearest to an unknown one, looked for where the unknown one stands."""
    node = tree_of(model)
    for part in location[:-1]:
        node = (node.item if isinstance(part, int) else node.children.get(part)) or node
    near = get_close_matches(str(location[-1])[:60], list(node.children), n=1, cutoff=0.5)
    return near[0] if near else ""


def refused(error: RunstandError, from_query: bool) -> Problem:
    """The problem of a question that makes no sense, or that names what the dataset does not hold."""
    return TRANSLATIONS[type(error)](error, from_query)


def _at(field: str, from_query: bool) -> dict[str, str]:
    return _where(tuple(int(p) if p.isdecimal() else p for p in re.split(r"[./]", field) if p), from_query)


def _outside(error: Any, from_query: bool) -> Problem:
    entry = {**_at(error.field, from_query), "code": "outside-validity", "detail": error.reason}
    if error.allowed:
        entry["allowed"] = [error.allowed]
    return "invalid-input", "", [entry], {}


def _contradiction(error: Any, from_query: bool) -> Problem:
    errors = [{**_at(field, from_query), "code": "contradiction", "detail": error.reason} for field in error.fields]
    return "invalid-input", "", errors, {}


def _missing(error: Any, from_query: bool) -> Problem:
    errors = []
    for one in error.missing:
        entry = {**_at(one.field, from_query), "code": "missing", "detail": one.reason}
        errors.append({**entry, "example": one.example} if one.example else entry)
    return "invalid-input", "", errors, {}


def _not_in_dataset(error: Any, from_query: bool) -> Problem:
    entry: dict[str, Any] = {**_at(error.field, from_query), "code": "unknown-id", "detail": str(error)}
    if error.nearest:
        entry["did_you_mean"] = error.nearest[0]
    entry["allowed"] = list(error.nearest or error.known)
    return "not-in-dataset", f"The dataset holds no such {error.kind}.", [entry], {}


def _unknown_dataset(error: Any, _from_query: bool) -> Problem:
    return "unknown-dataset", "", [], {"held": list(error.held)}


def _withdrawn(error: Any, _from_query: bool) -> Problem:
    return "withdrawn-dataset", str(error), [], {"successor": error.successor}


def _broken(_error: Any, _from_query: bool) -> Problem:
    return "internal", "", [], {}


TRANSLATIONS: Mapping[type[RunstandError], Callable[[Any, bool], Problem]] = {
    OutsideValidity: _outside,
    Contradiction: _contradiction,
    MissingInput: _missing,
    NotInDataset: _not_in_dataset,
    UnknownDataset: _unknown_dataset,
    WithdrawnDataset: _withdrawn,
    BrokenDataset: _broken,
}
