"""What would break a caller between two OpenAPI documents: the released one and today's.

A change breaks a caller when what was sent before is refused now, or what was read is gone or of another type: an address,
an operation, a parameter or a field taken away, something needed that was not, a narrower choice or type in a question, a
field of an answer that may be missing or is of another type, a form or a status that is no longer answered.
"""

from collections.abc import Iterator, Mapping
from typing import Any

Schema = Mapping[str, Any]
Document = Mapping[str, Any]
NARROWER_WHEN_HIGHER = ("minimum", "exclusiveMinimum", "minLength", "minItems", "minProperties")
NARROWER_WHEN_LOWER = ("maximum", "exclusiveMaximum", "maxLength", "maxItems", "maxProperties")


def breaking_changes(released: Document, today: Document) -> list[str]:
    """Every break, as a sentence that names its place."""
    return list(Comparison(released, today).run())


class Comparison:
    """Two documents side by side; a pair of referenced schemas is looked at once."""

    def __init__(self, released: Document, today: Document) -> None:
        self.released = released
        self.today = today
        self._seen: set[tuple[str, str, bool]] = set()

    def run(self) -> Iterator[str]:
        """All breaks."""
        for path, operations in self.released["paths"].items():
            if path not in self.today["paths"]:
                yield f"{path} is gone"
                continue
            for method, was in operations.items():
                now = self.today["paths"][path].get(method)
                place = f"{method.upper()} {path}"
                yield from self._operation(place, was, now) if now else [f"{place} is gone"]

    def _operation(self, place: str, was: Schema, now: Schema) -> Iterator[str]:
        before = {(it["in"], it["name"]): it for it in was.get("parameters", ())}
        after = {(it["in"], it["name"]): it for it in now.get("parameters", ())}
        for key, parameter in before.items():
            if key not in after:
                yield f"{place}: parameter {key[1]} is gone"
            else:
                yield from self._schema(f"{place}?{key[1]}", parameter["schema"], after[key]["schema"], asked=True)
        for key, parameter in after.items():
            if parameter.get("required") and not before.get(key, {}).get("required"):
                yield f"{place}: parameter {key[1]} is needed now"
        yield from self._contents(f"{place} body", was.get("requestBody", {}), now.get("requestBody", {}), asked=True)
        if now.get("requestBody", {}).get("required") and not was.get("requestBody", {}).get("required"):
            yield f"{place}: a body is needed now"
        for status, answer in was["responses"].items():
            if status not in now["responses"]:
                yield f"{place}: status {status} is gone"
            else:
                yield from self._contents(f"{place} {status}", answer, now["responses"][status], asked=False)

    def _contents(self, place: str, was: Schema, now: Schema, *, asked: bool) -> Iterator[str]:
        for media, content in was.get("content", {}).items():
            if media not in now.get("content", {}):
                yield f"{place}: {media} is gone"
            else:
                yield from self._schema(place, content.get("schema", {}), now["content"][media].get("schema", {}), asked=asked)

    def _schema(self, place: str, was: Schema, now: Schema, *, asked: bool) -> Iterator[str]:
        """Compare two schemas; ``asked`` for what a caller sends, else for what a caller reads."""
        if "$ref" in was or "$ref" in now:
            pair = (str(was.get("$ref", place)), str(now.get("$ref", place)), asked)
            if pair in self._seen:
                return
            self._seen.add(pair)
            was, now = _resolved(was, self.released), _resolved(now, self.today)
        yield from _values(place, was, now, asked=asked)
        yield from self._fields(place, was, now, asked=asked)
        for inner in ("items", "additionalProperties"):
            if isinstance(was.get(inner), Mapping) and isinstance(now.get(inner), Mapping):
                yield from self._schema(f"{place}/*", was[inner], now[inner], asked=asked)
        for joint in ("allOf", "anyOf", "oneOf"):
            earlier, later = was.get(joint, []), now.get(joint, [])
            fewer, more = len(earlier) > len(later), len(earlier) < len(later)
            # A question may be taken in more forms and an answer given in fewer; of "all of", it is the other way round.
            if fewer if asked == (joint != "allOf") else more:
                yield f"{place}: {joint} has other members"
            for one, other in zip(earlier, later, strict=False):
                yield from self._schema(place, one, other, asked=asked)

    def _fields(self, place: str, was: Schema, now: Schema, *, asked: bool) -> Iterator[str]:
        fields = now.get("properties", {})
        for name, field in was.get("properties", {}).items():
            if name not in fields:
                yield f"{place}: {name} is gone"
            else:
                yield from self._schema(f"{place}/{name}", field, fields[name], asked=asked)
        needed_before, needed_now = set(was.get("required", ())), set(now.get("required", ()))
        changed, words = (
            (needed_now - needed_before, "is needed now") if asked else (needed_before - needed_now, "may be missing now")
        )
        yield from (f"{place}: {name} {words}" for name in sorted(changed) if name in was.get("properties", {}) or asked)
        others_before, others_now = was.get("additionalProperties", True), now.get("additionalProperties", True)
        if asked and others_before is not False and others_now is False:
            yield f"{place}: other fields are refused now"
        elif asked and others_before is True and others_now is not True:
            yield f"{place}: other fields are narrower now"


def _values(place: str, was: Schema, now: Schema, *, asked: bool) -> Iterator[str]:
    """Types, choices and limits: what is sent may only be allowed more, what is read may only be fewer."""
    before, after = _types(was), _types(now)
    read_otherwise = not asked and before and (after - before or not after)
    if read_otherwise or (asked and after and (before - after or not (before or _made_of_others(was)))):
        yield f"{place}: the type is another"
    choices_before, choices_now = _choices(was), _choices(now)
    if asked and choices_now is not None and (choices_before is None or choices_before - choices_now):
        yield f"{place}: fewer choices are taken"
    if not asked and choices_before is not None and (choices_now is None or choices_now - choices_before):
        yield f"{place}: other choices are answered"
    if asked:
        if "pattern" in now and now["pattern"] != was.get("pattern"):
            yield f"{place}: the pattern is another"
        for names, sign in ((NARROWER_WHEN_HIGHER, 1), (NARROWER_WHEN_LOWER, -1)):
            for name in names:
                if name in now and (name not in was or sign * now[name] > sign * was[name]):
                    yield f"{place}: {name} is narrower"


def _made_of_others(schema: Schema) -> bool:
    return any(joint in schema for joint in ("allOf", "anyOf", "oneOf", "$ref", "enum", "const"))


def _types(schema: Schema) -> set[str]:
    types = schema.get("type", [])
    return {types} if isinstance(types, str) else set(types)


def _choices(schema: Schema) -> set[str] | None:
    if "const" in schema:
        return {repr(schema["const"])}
    return {repr(choice) for choice in schema["enum"]} if "enum" in schema else None


def _resolved(schema: Schema, document: Document) -> Schema:
    if "$ref" not in schema:
        return schema
    found: Schema = document["components"]["schemas"][str(schema["$ref"]).rpartition("/")[2]]
    return found
