"""Problem details (RFC 9457): one shape for every refusal, in the caller's words, without an echo of what came in."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import orjson

MEDIA_TYPE = "application/problem+json"
MOST_ERRORS = 20  # more help nobody and cost processor time


@dataclass(frozen=True, slots=True)
class ProblemKind:
    """A kind of problem: the end of its ``type`` address, its status and title, and what the caller can do."""

    slug: str
    status: int
    title: str
    advice: str


KINDS: dict[str, ProblemKind] = {
    kind.slug: kind
    for kind in (
        ProblemKind(
            "unreadable",
            400,
            "The request could not be read",
            "Send one JSON object in UTF-8, without NaN, Infinity or repeated keys.",
        ),
        ProblemKind("bad-framing", 400, "The HTTP request is malformed", "Send exactly one Host header and one length."),
        ProblemKind("no-key", 401, "An API key is needed", "Send the key in the X-Api-Key header, never in the address."),
        ProblemKind("not-found", 404, "There is nothing here", "GET /v1 lists what there is."),
        ProblemKind(
            "not-in-dataset",
            404,
            "The reference dataset does not hold this",
            "Look it up under /v1/reference; the nearest ids are named.",
        ),
        ProblemKind(
            "unknown-dataset",
            404,
            "This dataset version is not held here",
            "GET /v1/versions lists the versions that this build holds.",
        ),
        ProblemKind("method-not-allowed", 405, "The method is not allowed here", "The Allow header names the methods."),
        ProblemKind(
            "not-acceptable",
            406,
            "The answer has no such form",
            "Ask for one of the listed media types, or leave the Accept header out.",
        ),
        ProblemKind("too-slow", 408, "The request did not arrive in time", "Send the whole request within five seconds."),
        ProblemKind("withdrawn-dataset", 410, "This dataset version was withdrawn", "Use the successor that the answer names."),
        ProblemKind("too-large", 413, "The body is too large", "Send less; the limit is in the detail."),
        ProblemKind("address-too-long", 414, "The address is too long", "Send the question as a POST body instead."),
        ProblemKind(
            "unsupported-media-type",
            415,
            "The body is in a form that is not read here",
            "Send application/json (with curl: --json '{…}').",
        ),
        ProblemKind(
            "invalid-input",
            422,
            "Some inputs were not accepted",
            "Each entry of errors names the field, the reason and what to send instead.",
        ),
        ProblemKind("too-many-requests", 429, "The quota is used up", "Wait as long as Retry-After says."),
        ProblemKind("headers-too-large", 431, "The header is too large", "Send fewer or shorter header fields."),
        ProblemKind(
            "internal",
            500,
            "Something went wrong on our side",
            "Tell the operator the request id; it finds the log line.",
        ),
        ProblemKind("overloaded", 503, "The service is busy", "Wait as long as Retry-After says, then ask again."),
    )
}


def problem_bytes(
    status: int,
    type_slug: str,
    title: str,
    detail: str,
    request_id: str | None = None,
    errors: Iterable[Mapping[str, Any]] = (),
    route: str = "",
    **extra: Any,
) -> bytes:
    """Body of one problem; ``errors`` is cut to the first twenty, ``extra`` are further members such as ``allowed``.

    ``instance`` is the id of the request where one is told, else the address of the route that refused, so that the same
    request is refused with the same bytes. Where no route was reached there is none: an unknown path is not repeated.
    """
    body: dict[str, Any] = {"type": f"/problems/{type_slug}", "title": title, "status": status, "detail": detail}
    if request_id is not None:
        body["instance"] = f"urn:request:{request_id}"
    elif route:
        body["instance"] = route
    listed = list(errors)
    if listed:
        body["errors"] = listed[:MOST_ERRORS]
        if len(listed) > MOST_ERRORS:
            body["more_errors"] = len(listed) - MOST_ERRORS
    body.update(extra)
    return orjson.dumps(body)


def problem_of(
    slug: str,
    detail: str,
    errors: Iterable[Mapping[str, Any]] = (),
    request_id: str | None = None,
    route: str = "",
    **extra: Any,
) -> tuple[int, bytes]:
    """Status and body of a problem of one of the known ``KINDS``."""
    kind = KINDS[slug]
    return kind.status, problem_bytes(kind.status, slug, kind.title, detail or kind.advice, request_id, errors, route, **extra)
