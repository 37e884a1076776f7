"""Sending one complete response, and the header fields that every cacheable answer carries."""

from collections.abc import Awaitable, Callable, Mapping
from hashlib import sha256
from typing import Any

from service.answers.envelope import CALCULATION
from service.api.negotiation import CONTENT_TYPES
from service.api.problems import MEDIA_TYPE

Send = Callable[[dict[str, Any]], Awaitable[None]]
Headers = list[tuple[bytes, bytes]]

VARY = (b"vary", b"Accept, Accept-Encoding")
PINNED = (b"cache-control", b"public, max-age=86400")
IMMUTABLE = (b"cache-control", b"public, max-age=31536000, immutable")
UNPINNED = (b"cache-control", b"public, max-age=300")
NOT_STORED = (b"cache-control", b"no-store")


async def respond(send: Send, status: int, headers: Headers, body: bytes = b"") -> None:
    """Send a response whose body is complete."""
    if status not in (204, 304):
        headers.append((b"content-length", b"%d" % len(body)))
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": body})


async def respond_problem(send: Send, status: int, body: bytes, headers: Headers | None = None) -> None:
    """Send a problem; it is never stored by a cache."""
    await respond(send, status, [(b"content-type", MEDIA_TYPE.encode()), NOT_STORED, *(headers or [])], body)


def entity_tag(*parts: bytes) -> bytes:
    """A weak entity tag over everything that decides an answer; weak, because compression makes other bytes of it."""
    return b'W/"%b"' % sha256(b"\0".join(parts)).hexdigest()[:32].encode()


def matches(if_none_match: bytes | None, tag: bytes) -> bool:
    """Whether ``If-None-Match`` names the tag (weak comparison, RFC 9110, 8.8.3.2)."""
    if if_none_match is None:
        return False
    if if_none_match == tag:
        return True
    bare = tag.removeprefix(b"W/")
    return any(part.strip().removeprefix(b"W/") in (bare, b"*") for part in if_none_match.split(b","))


def answer_headers(face: str, dataset_version: str) -> Headers:
    """The fields that every answer carries, whatever its face."""
    headers = [
        (b"content-type", CONTENT_TYPES[face]),
        (b"dataset-version", dataset_version.encode()),
        (b"calculation-version", b"%d" % CALCULATION),
        VARY,
    ]
    if face == "html":
        headers.append((b"content-security-policy", PAGE_POLICY))
    return headers


PAGE_POLICY = (
    b"default-src 'none'; style-src 'unsafe-inline'; img-src data:; base-uri 'none'; form-action 'none'; frame-ancestors *"
)


def header_map(headers: list[tuple[bytes, bytes]]) -> Mapping[bytes, bytes]:
    """The header fields of a request by name; of a repeated one the first counts."""
    return dict(reversed(headers))
