"""Every field of every question, found in the OpenAPI document, with a document that holds it."""

import copy
import json
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from service.api.openapi import document

DOCUMENT = document()
PLACE = "@@place@@"


@dataclass(frozen=True)
class Field:
    """One leaf of one question: a number, or a free text."""

    path: str
    steps: tuple[str | int, ...]
    kind: str  # quantity, number, integer or text
    unit: str
    example: Any

    @property
    def pointer(self) -> str:
        """JSON Pointer of the field."""
        return "".join(f"/{step}" for step in self.steps)

    def body(self, form: str) -> bytes:
        """The example as JSON with the field's value replaced by a raw text."""
        changed = copy.deepcopy(self.example)
        holder = changed
        for step, following in zip(self.steps, self.steps[1:], strict=False):
            if isinstance(step, int):
                while len(holder) <= step:
                    holder.append([] if isinstance(following, int) else {})
            elif not isinstance(holder.get(step), list | dict):
                holder[step] = [] if isinstance(following, int) else {}
            holder = holder[step]
        if isinstance(holder, list):
            holder[:] = [*holder[: int(self.steps[-1])], PLACE, *holder[int(self.steps[-1]) + 1 :]]
        else:
            holder[self.steps[-1]] = PLACE
        return json.dumps(changed).replace(f'"{PLACE}"', form).encode("utf-8", "surrogatepass")


def examples_of(path: str) -> list[Any]:
    """The examples of a question in the document."""
    content = DOCUMENT["paths"][path]["post"]["requestBody"]["content"]["application/json"]
    return [example["value"] for example in content["examples"].values()]


def questions() -> list[str]:
    """The paths that take a question as a JSON body."""
    return [path for path, item in DOCUMENT["paths"].items() if "requestBody" in item.get("post", {})]


def numeric_fields() -> list[Field]:
    """All numeric leaves of all questions."""
    return [field for field in _fields() if field.kind != "text"]


def text_fields() -> list[Field]:
    """All leaves that take a free text."""
    return [field for field in _fields() if field.kind == "text"]


def _fields() -> list[Field]:
    """All leaves; of alternatives each, of a list the first item, of a mapping one more entry."""
    found: list[Field] = []
    for path in questions():
        schema = DOCUMENT["paths"][path]["post"]["requestBody"]["content"]["application/json"]["schema"]
        for steps, kind, unit in dict.fromkeys(_leaves(schema, ())):
            example = max(examples_of(path), key=lambda document: _depth_held(document, steps))
            found.append(Field(path, steps, kind, unit, example))
    return found


def _leaves(schema: dict[str, Any], steps: tuple[str | int, ...]) -> Iterator[tuple[tuple[str | int, ...], str, str]]:
    if "$ref" in schema:
        schema = {**DOCUMENT["components"]["schemas"][schema["$ref"].rpartition("/")[2]], **schema}
    if len(steps) > 8:
        return
    if "x-dimension" in schema:
        unit = next(form["properties"]["unit"]["enum"][0] for form in schema["oneOf"] if "properties" in form)
        yield steps, "quantity", unit
        return
    if schema.get("type") in ("number", "integer"):
        yield steps, schema["type"], ""
    if schema.get("type") == "string" and "enum" not in schema and "const" not in schema:
        yield steps, "text", ""
    for alternative in (*schema.get("anyOf", ()), *schema.get("oneOf", ()), *schema.get("allOf", ())):
        yield from _leaves(alternative, steps)
    for name, inner in schema.get("properties", {}).items():
        yield from _leaves(inner, (*steps, name))
    if isinstance(schema.get("items"), dict):
        yield from _leaves(schema["items"], (*steps, 0))
    if isinstance(schema.get("additionalProperties"), dict):
        yield from _leaves(schema["additionalProperties"], (*steps, "one-more"))


def _depth_held(document: Any, steps: tuple[str | int, ...]) -> int:
    held = 0
    for step in steps:
        in_object = isinstance(document, dict) and step in document
        in_list = isinstance(document, list) and isinstance(step, int) and step < len(document)
        if not in_object and not in_list:
            break
        document = document[step]
        held += 1
    return held
