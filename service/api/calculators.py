"""Every calculator behind one handler, which GET, HEAD, POST and QUERY share.

It reads the question strictly, asks the answers floor, and sends one face of the answer. It leaves out FastAPI's
own body parsing and response validation, which cost more than the answers themselves (see DEVELOPERS.md, "Speed").
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, cast
from urllib.parse import parse_qsl

import orjson
from pydantic import BaseModel, ValidationError
from starlette.types import Receive, Scope
from starlette.types import Send as StarletteSend

from service.answers.asking import Asked, ask
from service.answers.comparison import compared
from service.answers.envelope import CALCULATION
from service.answers.topic import Topic
from service.answers.unknown_ids import unknown_ids
from service.api import query
from service.api.answer_cache import AnswerCache, Kept
from service.api.body import read_body, require_content_type
from service.api.negotiation import face_for
from service.api.problems import problem_of
from service.api.refusal import Refusal
from service.api.responses import (
    PINNED,
    UNPINNED,
    Headers,
    Send,
    answer_headers,
    entity_tag,
    header_map,
    matches,
    respond,
    respond_problem,
)
from service.api.strict_json import DEFAULT_LIMITS, JsonLimits, UnreadableJson, read_json
from service.api.translation import Problem, invalid, refused, unreadable
from service.errors import NotInDataset, RunstandError
from service.faces import json_face
from service.faces.registry import Face, faces_of
from service.quantities import UnitSystem
from service.reference.dataset import Dataset, Library

ALLOW = b"GET, HEAD, POST, QUERY, OPTIONS"
CONTROLS = ("units", "dataset", "format", "in", "compare_dataset")
KEPT_ON_304 = (b"etag", b"cache-control", b"vary", b"dataset-version", b"calculation-version")
LONGEST_LINK = 7_000


class ProblemFound(Exception):
    """A question that is refused, as the problem to answer."""

    def __init__(self, problem: Problem) -> None:
        super().__init__(problem[0])
        self.problem = problem


@dataclass(frozen=True)
class Controls:
    """What the query says about the answer rather than the question."""

    units: UnitSystem
    dataset: str | None
    format: str | None
    packed: str | None
    compare: str | None


@dataclass(frozen=True)
class Served:
    """One topic with what is made once for it: its faces and the bounds of its bodies."""

    topic: Topic
    faces: Mapping[str, Face]
    offered: tuple[str, ...]
    limits: JsonLimits

    @property
    def path(self) -> str:
        """The path, as the label of figures and log lines."""
        return self.topic.path


class Calculators:
    """All topics, answered by path."""

    def __init__(self, topics: tuple[Topic, ...], library: Library, body_deadline: float, kept_octets: int = 0) -> None:
        self.library = library
        self.body_deadline = body_deadline
        self.kept = AnswerCache(kept_octets)
        self.by_path = {topic.path: _served(topic) for topic in topics}

    async def handle(self, served: Served, scope: Scope, receive: Receive, send: StarletteSend) -> None:
        """Answer one request."""
        sender = cast("Send", send)
        try:
            await self._answer(served, scope, receive, sender)
        except ProblemFound as found:
            slug, detail, errors, extra = found.problem
            await respond_problem(sender, *problem_of(slug, detail, errors, route=served.path, **extra))
        except Refusal as refusal:
            refusal.route = served.path
            raise

    async def _answer(self, served: Served, scope: Scope, receive: Receive, send: Send) -> None:
        method = scope["method"]
        if method == "OPTIONS":
            await respond(send, 204, [(b"allow", ALLOW), (b"accept-query", b'"application/json"')])
            return
        if method not in ("GET", "HEAD", "POST", "QUERY"):
            raise Refusal("method-not-allowed", "", [(b"allow", ALLOW)])
        headers = header_map(scope["headers"])
        accept = headers.get(b"accept") or b"*/*"
        query_string = scope["query_string"]
        body = b""
        if method in ("POST", "QUERY"):
            require_content_type(scope)
            body = await read_body(scope, receive, limit=served.topic.body_limit, deadline=self.body_deadline)
        key = (method, scope["path"], query_string, accept, body)  # a POST without a body is not the GET of its address
        kept = self.kept.get(key)
        if kept is None:
            kept = self._worked_out(served, method, query_string, accept, body)
            self.kept.keep(key, kept)
        tag = dict(kept.headers).get(b"etag")
        if tag is not None and matches(headers.get(b"if-none-match"), tag):
            await respond(send, 304, [pair for pair in kept.headers if pair[0] in KEPT_ON_304])
        else:
            await respond(send, 200, list(kept.headers), kept.body)

    def _worked_out(self, served: Served, method: str, query_string: bytes, accept: bytes, body: bytes) -> Kept:
        """The answer to a question that is not kept.

        Raises:
            ProblemFound: the question is refused.
        """
        controls, pairs = read_controls(query_string)
        dataset = self.dataset(controls.dataset)
        face = face_for(controls.format, accept, served.offered)
        if controls.compare is not None and face != "json":
            fault = {"parameter": "compare_dataset", "code": "json-only", "detail": "Two answers are compared as JSON alone."}
            raise ProblemFound(("invalid-input", "", [fault], {}))
        extra: Headers
        if method == "GET":
            asked = from_query(served, controls, pairs, dataset)
            tag = entity_tag(served.path.encode(), query_string, face.encode(), dataset.sha256.encode(), b"%d" % CALCULATION)
            link = link_of(asked, controls)
            extra = [(b"etag", tag), PINNED if controls.dataset else UNPINNED]
        else:
            if pairs or controls.packed is not None:
                raise ProblemFound(("invalid-input", "", [_body_name(pairs[0][0] if pairs else "in")], {}))
            asked = from_body(served, body, dataset)
            link = link_of(asked, controls)
            same = link if face == "json" else f"{link}&format={face}"  # what has this very body
            extra = [(b"content-location", same.encode())] if link else []
        if face == "json":
            written = self._json(asked, controls, link)
        else:
            written = served.faces[face](replace(asked, link=link), controls.units)
        return Kept((*answer_headers(face, dataset.version), *extra), written)

    def _json(self, asked: Asked, controls: Controls, link: str) -> bytes:
        """The envelope, with the answer under a second dataset where that was asked for."""
        links = links_of(asked, controls, link)
        if controls.compare is None:
            return json_face.write(asked, controls.units, links)
        try:
            other = compared(self.library, asked, controls.compare, controls.units)
        except RunstandError as error:
            raise ProblemFound(refused(error, from_query=True)) from None
        return orjson.dumps({**json_face.envelope(asked, controls.units, links), "compared": other})

    def dataset(self, version: str | None) -> Dataset:
        """The dataset of a version, or the newest.

        Raises:
            ProblemFound: it is not held, or was withdrawn.
        """
        try:
            return self.library.get(version)
        except RunstandError as error:
            raise ProblemFound(refused(error, from_query=True)) from None


def _served(topic: Topic) -> Served:
    faces = faces_of(topic.name)
    return Served(topic, faces, ("json", *faces), limits_of(topic))


def limits_of(topic: Topic) -> JsonLimits:
    """What a document that asks the topic may hold."""
    if topic.longest_text > DEFAULT_LIMITS.string:
        return JsonLimits(elements=400_000, string=topic.longest_text)
    return DEFAULT_LIMITS


def read_controls(query_string: bytes) -> tuple[Controls, list[tuple[str, str]]]:
    """The control names of a query, and the pairs that are the question.

    Raises:
        ProblemFound: the query cannot be read, or a control is repeated or has an unknown value.
    """
    if not query_string:
        return Controls("metric", None, None, None, None), []
    try:
        given = "&".join(filter(None, query_string.decode("ascii").split("&")))  # a script's && or trailing & says nothing
        pairs = parse_qsl(given, keep_blank_values=True, strict_parsing=bool(given), errors="strict", max_num_fields=400)
    except ValueError:
        detail = "The query could not be read: names and values are percent-encoded UTF-8, joined by = and &."
        raise ProblemFound(("unreadable", detail, [], {})) from None
    controls: dict[str, str] = {}
    question: list[tuple[str, str]] = []
    errors: list[dict[str, Any]] = []
    for name, value in pairs:
        if name not in CONTROLS:
            question.append((name, value))
        elif name in controls:
            errors.append({"parameter": name, "code": "repeated", "detail": "Send each name once."})
        else:
            controls[name] = value
    if controls.get("units", "metric") not in ("metric", "us"):
        words = {"detail": "The systems of units are metric and us.", "allowed": ["metric", "us"]}
        errors.append({"parameter": "units", "code": "unknown-choice", **words})
    if errors:
        raise ProblemFound(("invalid-input", "", errors, {}))
    system: UnitSystem = "us" if controls.get("units") == "us" else "metric"
    read = Controls(system, *(controls.get(name) for name in CONTROLS[1:]))
    return read, question


def from_query(served: Served, controls: Controls, pairs: list[tuple[str, str]], dataset: Dataset) -> Asked:
    """The answer to a question in the address line.

    Raises:
        ProblemFound: the question is refused.
    """
    try:
        if controls.packed is not None:
            if pairs:
                raise query.BadQuery([_body_name(pairs[0][0])])
            return from_body(served, query.unpack(controls.packed), dataset)
        document = query.decode(pairs, served.topic.request)
    except query.BadQuery as error:
        others = [] if error.document is None else _faults(served.topic, error.document)
        raise ProblemFound(("invalid-input", "", [*error.errors, *others], {})) from None
    return asked_or_problem(served.topic, document, dataset, from_query=True)


def _faults(topic: Topic, document: dict[str, Any]) -> list[dict[str, Any]]:
    """What else is wrong with a question of which some names were not understood."""
    try:
        topic.request.model_validate(document)
    except ValidationError as error:
        return invalid(error, topic.request, from_query=True)[2]
    return []


def from_body(served: Served, body: bytes, dataset: Dataset) -> Asked:
    """The answer to a question in a JSON body.

    Raises:
        ProblemFound: the question is refused.
    """
    try:
        document = read_json(body, served.limits)
    except UnreadableJson as error:
        raise ProblemFound(unreadable(error)) from None
    return asked_or_problem(served.topic, document, dataset, from_query=False)


def asked_or_problem(topic: Topic, document: object, dataset: Dataset, *, from_query: bool) -> Asked:
    """The answer to a document.

    Raises:
        ProblemFound: the document is no such question, or the question makes no sense.
    """
    try:
        return ask(topic, document, dataset)
    except ValidationError as error:
        raise ProblemFound(invalid(error, topic.request, from_query)) from None
    except NotInDataset as error:
        slug, detail, errors, extra = refused(error, from_query)
        others = unknown_ids(topic.request.model_validate(document), dataset)
        errors += [fault for other in others if other.field != error.field for fault in refused(other, from_query)[2]]
        raise ProblemFound((slug, detail, errors, extra)) from None
    except RunstandError as error:
        raise ProblemFound(refused(error, from_query)) from None


def link_of(asked: Asked, controls: Controls) -> str:
    """The address that asks the same again, or an empty text when it would be too long for one."""
    if asked.topic.longest_text > DEFAULT_LIMITS.string and _holds_log(asked.request):
        return ""  # a log is too long for an address
    parts = [query.encode(asked.request)]
    if controls.units != "metric":
        parts.append(f"units={controls.units}")
    if controls.dataset:
        parts.append(f"dataset={controls.dataset}")
    if controls.compare:
        parts.append(f"compare_dataset={controls.compare}")
    link = f"{asked.topic.path}?{'&'.join(part for part in parts if part)}"
    return link if len(link) <= LONGEST_LINK else ""


def links_of(asked: Asked, controls: Controls, link: str) -> dict[str, str]:
    """The address that asks the same again or, where that is too long for one, where the question was posted."""
    if link:
        return {"self": link}
    return {"question": asked.topic.path if controls.units == "metric" else f"{asked.topic.path}?units={controls.units}"}


def _holds_log(request: BaseModel) -> bool:
    """Whether a log stands in the question or in one of its sections."""
    return any(
        hasattr(value, "echo") or (isinstance(value, BaseModel) and _holds_log(value)) for value in request.__dict__.values()
    )


def _body_name(name: str) -> dict[str, Any]:
    return {**query.unknown_name(name, CONTROLS), "detail": "With a body, or with in=, the question stands there alone."}
