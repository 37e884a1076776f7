"""The address line as a question: ``gasket.bore=88mm&lines.0.length=3.6m`` ⇄ the same document as JSON.

The tree of a request model is compiled once. Decoding turns texts into the plain JSON types that the model wants and leaves
every judgement to it; encoding writes a validated request as the address that asks the same again.
"""

import base64
import re
import types
import zlib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from difflib import get_close_matches
from functools import cache
from typing import Annotated, Any, Literal, Union, get_args, get_origin
from urllib.parse import quote

import orjson
from pydantic import BaseModel

from service.answers.inputs import Measured, Number
from service.quantities import Quantity

LONGEST_FLAT_QUERY = 2_000
LARGEST_UNPACKED = 262_144
_SAFE = re.compile(r"[A-Za-z0-9._*/,:-]+\Z")
_NUMBER = re.compile(r"-?\d{1,15}(\.\d{1,20})?\Z", re.ASCII)
_INDEX = re.compile(r"(0|[1-9]\d{0,3})\Z", re.ASCII)


class BadQuery(ValueError):
    """Query names that are unknown or repeated; ``errors`` are ready for the problem's list.

    ``document`` holds what could be read, so that the other faults can be named too.
    """

    def __init__(self, errors: list[dict[str, Any]], document: dict[str, Any] | None = None) -> None:
        super().__init__("query")
        self.errors = errors
        self.document = document


class _Twice(Exception):
    """A value that the query has given before in another form, such as ``pressures=…`` after ``pressures.0=…``."""


@dataclass(frozen=True)
class Node:
    """What stands at one name of a request: a leaf, a nested object, a list or a mapping."""

    form: Literal["text", "number", "boolean", "object", "list", "mapping"]
    children: Mapping[str, "Node"] = field(default_factory=dict)
    item: "Node | None" = None


@cache
def tree_of(model: type[BaseModel]) -> Node:
    """The tree of a request model."""
    children = {name: _node(info.annotation, info.metadata) for name, info in model.model_fields.items()}
    return Node("object", children)


def _node(annotation: Any, metadata: Iterable[Any] = ()) -> Node:
    for spec in metadata:
        if isinstance(spec, Measured):
            return Node("text")
        if isinstance(spec, Number):
            return Node("number")
    origin, arguments = get_origin(annotation), get_args(annotation)
    if origin is Annotated:
        return _node(arguments[0], arguments[1:])
    if origin in (Union, types.UnionType):
        return _node(next(argument for argument in arguments if argument is not types.NoneType))
    if origin in (tuple, list):
        return Node("list", item=_node(arguments[0]))
    if origin is dict or (isinstance(origin, type) and issubclass(origin, Mapping)):
        return Node("mapping", item=_node(arguments[1]))
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return tree_of(annotation)
    if annotation is bool:
        return Node("boolean")
    if annotation in (int, float):
        return Node("number")
    return Node("text")


def decode(pairs: Iterable[tuple[str, str]], model: type[BaseModel]) -> dict[str, Any]:
    """The document that the query's pairs ask; ``pairs`` are without the control names such as ``units``.

    Raises:
        BadQuery: a name is unknown, repeated, or stands for an object.
    """
    document: dict[str, Any] = {}
    errors: list[dict[str, Any]] = []
    seen: set[str] = set()
    for name, text in pairs:
        if name in seen:
            errors.append({"parameter": name[:60], "code": "repeated", "detail": "Send each name once."})
            continue
        seen.add(name)
        try:
            node = _place(document, tree_of(model), name)
            if node is None:
                errors.append(unknown_name(name, tree_of(model).children))
            else:
                holder, key, leaf = node
                holder[key] = _leaf(leaf, text)
        except _Twice:
            errors.append({"parameter": name[:60], "code": "repeated", "detail": "This is said twice; send it once."})
    for name, value in document.items():
        errors += _gaps(value, tree_of(model).children[name], name)
    read = {name: _lists(value, tree_of(model).children[name]) for name, value in document.items()}
    if errors:
        raise BadQuery(errors, read)
    return read


def unknown_name(name: str, known: Iterable[str]) -> dict[str, Any]:
    """The error for a query name that this question does not have, with the nearest one; the name is not echoed."""
    error: dict[str, Any] = {"parameter": "", "code": "unknown-name", "detail": "This question has no such name."}
    near = get_close_matches(name[:60], list(known), n=1, cutoff=0.5)
    if near:
        error["did_you_mean"] = near[0]
    error["parameter"] = name if re.fullmatch(r"[A-Za-z0-9_.\-]{1,60}", name) else "(unreadable)"
    return error


def _place(document: dict[str, Any], tree: Node, name: str) -> tuple[dict[str, Any], str, Node] | None:
    """Where a dotted name stands: the dict that holds it, its key and its node."""
    holder, node = document, tree
    parts = name.split(".")
    if len(parts) > 6:
        return None
    for depth, part in enumerate(parts):
        if node.form == "object" and part in node.children:
            child = node.children[part]
        elif node.form == "list" and node.item and _INDEX.match(part):
            child = node.item
        else:
            return None
        if depth == len(parts) - 1:
            if part in holder:
                raise _Twice
            return (holder, part, child) if _is_leaf(child) else None
        if child.form not in ("object", "list"):
            return None
        following = holder.setdefault(part, {})
        if not isinstance(following, dict):
            raise _Twice
        holder, node = following, child
    return None


def _is_leaf(node: Node) -> bool:
    if node.form == "list":
        return node.item is not None and node.item.form in {"text", "number", "boolean"}
    return node.form != "object"


def _leaf(node: Node, text: str) -> Any:
    """The text as the JSON type that the node wants; what does not fit stays text and is refused by the model."""
    if node.form == "number" and _NUMBER.match(text):
        return int(text) if "." not in text else float(text)
    if node.form == "boolean" and text in {"true", "false"}:
        return text == "true"
    if node.form == "list" and node.item:
        return [_leaf(node.item, part.strip()) for part in text.split(",")]
    if node.form == "mapping" and node.item:
        pairs = [part.rpartition(":") for part in text.split(",")]
        entries = {key.strip(): _leaf(node.item, value.strip()) for key, _, value in pairs}
        if len(entries) < len(pairs):
            raise _Twice
        return entries
    return text


def _gaps(value: Any, node: Node, name: str) -> Iterator[dict[str, Any]]:
    """An error for every list whose items are not numbered from 0 on: renumbered, they would answer under another name."""
    if not isinstance(value, dict) or node.form == "mapping":
        return
    if node.form == "list" and sorted(map(int, value)) != list(range(len(value))):
        first = next(index for index in range(len(value)) if str(index) not in value)
        detail = "The items of a list are numbered 0, 1, 2 and so on, without gaps."
        yield {"parameter": f"{name}.{first}"[:60], "code": "missing", "detail": detail}
    for key, item in value.items():
        child = node.item if node.form == "list" else node.children.get(key)
        if child is not None:
            yield from _gaps(item, child, f"{name}.{key}")


def _lists(value: Any, node: Node) -> Any:
    """Indexed objects (``{"0": …, "1": …}``) turned into lists, in the order of their indices."""
    if not isinstance(value, dict):
        return value
    if node.form == "list" and node.item:
        return [_lists(value[key], node.item) for key in sorted(value, key=int)]
    if node.form == "object":
        return {key: _lists(item, node.children[key]) for key, item in value.items()}
    return value


def encode(request: BaseModel) -> str:
    """The query that asks the same again: flat names, or ``in=…`` packed when that would be long."""
    pairs: list[str] = []
    if _flatten(request, "", pairs):
        flat = "&".join(pairs)
        if len(flat) <= LONGEST_FLAT_QUERY:
            return flat
    return "in=" + pack(document_of(request))


def _flatten(value: Any, name: str, pairs: list[str]) -> bool:
    """Add the pairs of a value; false when it has no flat form, such as a number of too many digits for a text."""
    if isinstance(value, BaseModel):
        given = value.model_fields_set
        dot = f"{name}." if name else ""
        return all(
            _flatten(item, f"{dot}{key}", pairs) for key, item in value.__dict__.items() if key in given and item is not None
        )
    if isinstance(value, tuple | list):
        if value and isinstance(value[0], BaseModel):
            return all(_flatten(item, f"{name}.{index}", pairs) for index, item in enumerate(value))
        texts = [_text(item) for item in value]
        if not texts or any("," in text for text in texts) or not all(map(_reads_back, value)):
            return False
        pairs.append(f"{name}={','.join(quote(text, safe='*/') for text in texts)}")
        return True
    if isinstance(value, Mapping):
        entries = [(str(key), _text(item)) for key, item in value.items()]
        if not entries or any("," in k or "," in v or ":" in v for k, v in entries):
            return False
        if not all(map(_reads_back, value.values())):
            return False
        pairs.append(f"{name}={quote(','.join(f'{k}:{v}' for k, v in entries), safe='*/,:')}")
        return True
    text = _text(value)
    if not _reads_back(value):
        return False
    pairs.append(f"{name}={text}" if _SAFE.match(text) else f"{name}={quote(text, safe='*/,:')}")
    return True


def plain(value: float) -> str:
    """A number without an exponent, as short as it can be."""
    text = repr(value)
    if "e" in text:
        text = format(Decimal(text), "f")
    return text.removesuffix(".0")


def _reads_back(value: Any) -> bool:
    """Whether the text of a number is read as that number again: no more digits than texts may have."""
    number = value.value if isinstance(value, Quantity) else value
    if not isinstance(number, float) or number == 0 or 1e-4 <= abs(number) < 1e15:
        return True  # seventeen digits at most, four zeros before them
    return _NUMBER.match(plain(number)) is not None


def _text(value: Any) -> str:
    if isinstance(value, Quantity):
        return f"{plain(value.value)}{'' if value.unit[0].isalpha() else ' '}{value.unit}"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return plain(value)
    return str(value)


def document_of(value: Any) -> Any:
    """A validated request as the plain document that a caller would send."""
    if isinstance(value, BaseModel):
        given = value.model_fields_set
        return {k: document_of(v) for k, v in value.__dict__.items() if k in given and v is not None}
    if isinstance(value, tuple | list):
        return [document_of(item) for item in value]
    if isinstance(value, Mapping):
        return {str(key): document_of(item) for key, item in value.items()}
    if isinstance(value, Quantity):
        return _text(value) if _reads_back(value) else {"value": value.value, "unit": value.unit}
    return value.document() if hasattr(value, "document") else value


def pack(document: Any) -> str:
    """A document as text for an address: JSON, deflated, base64url."""
    return base64.urlsafe_b64encode(zlib.compress(orjson.dumps(document), 9)).rstrip(b"=").decode()


def unpack(text: str) -> bytes:
    """The JSON of a packed document.

    Raises:
        BadQuery: it is none, or would unpack to more than a body may hold.
    """
    error = {"parameter": "in", "code": "unreadable", "detail": "This is not a packed question; use a link as it was answered."}
    try:
        data = base64.b64decode(text.encode("ascii") + b"=" * (-len(text) % 4), altchars=b"-_", validate=True)
        inflater = zlib.decompressobj()
        unpacked = inflater.decompress(data, LARGEST_UNPACKED)
    except (ValueError, zlib.error):
        raise BadQuery([error]) from None
    if inflater.unconsumed_tail or not inflater.eof:
        raise BadQuery([error])
    return unpacked
