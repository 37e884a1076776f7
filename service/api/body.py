"""Reading a request's body within its bounds of size, time and kind."""

import asyncio
from collections.abc import Awaitable, Callable, Mapping
from typing import Any

from service.api.refusal import Refusal

Scope = Mapping[str, Any]
Receive = Callable[[], Awaitable[Mapping[str, Any]]]

JSON_TYPES = (b"application/json",)


class ClientGone(Exception):
    """The caller closed the connection before the body was complete; nobody is left to answer."""


async def read_body(scope: Scope, receive: Receive, *, limit: int = 262_144, deadline: float = 5.0) -> bytes:
    """Read the whole body of a request.

    Args:
        scope: The ASGI scope, for the length that the caller announced.
        receive: The ASGI channel.
        limit: Most octets that are read.
        deadline: Seconds for the whole of it.

    Raises:
        Refusal: It is, or is announced to be, larger than the limit (413), or did not arrive in time (408).
        ClientGone: The connection was closed before the end.
    """
    announced = header(scope, b"content-length")
    if announced is not None and _number(announced) > limit:
        raise _too_large(limit)
    if scope.get("state", {}).get("whole"):
        return await _collect(receive, limit)
    try:
        async with asyncio.timeout(deadline):
            return await _collect(receive, limit)
    except TimeoutError:
        # What is still to come could be taken for the next request, so the connection ends with this answer.
        raise Refusal("too-slow", f"The body did not arrive within {deadline:g} s.", [(b"connection", b"close")]) from None


async def _collect(receive: Receive, limit: int) -> bytes:
    chunks: list[bytes] = []
    size = 0
    while True:
        message = await receive()
        if message["type"] == "http.disconnect":
            raise ClientGone
        chunk = message.get("body", b"")
        size += len(chunk)
        if size > limit:
            raise _too_large(limit)
        if not message.get("more_body", False):
            return b"".join([*chunks, chunk]) if chunks else bytes(chunk)
        chunks.append(chunk)


def _number(announced: bytes) -> int:
    """The announced length; the server has refused what is no number, and a long one is longer than any limit."""
    return int(announced) if announced.isdigit() and len(announced) < 19 else 1 << 62


def _too_large(limit: int) -> Refusal:
    return Refusal("too-large", f"The body is larger than the {limit:,} octets that are read here.")


def require_content_type(scope: Scope, accepted: tuple[bytes, ...] = JSON_TYPES) -> None:
    """Refuse a body whose media type is not among the accepted ones, or that is compressed.

    Raises:
        Refusal: 415, with ``Accept-Post`` (or ``Accept-Encoding``) naming what is read.
    """
    stated = header(scope, b"content-type") or b""
    media_type, _, parameters = stated.partition(b";")
    if media_type.strip().lower() not in accepted:
        names = ", ".join(kind.decode() for kind in accepted)
        raise Refusal("unsupported-media-type", f"The body is read as {names}.", [(b"accept-post", names.encode())])
    if parameters and not _is_utf8(parameters):
        raise Refusal("unsupported-media-type", "The body is read as UTF-8.", [(b"accept-post", accepted[0])])
    coding = header(scope, b"content-encoding")
    if coding is not None and coding.strip().lower() not in (b"", b"identity"):
        raise Refusal("unsupported-media-type", "The body must not be compressed.", [(b"accept-encoding", b"identity")])


def _is_utf8(parameters: bytes) -> bool:
    for parameter in parameters.split(b";"):
        name, _, value = parameter.strip().lower().partition(b"=")
        if name == b"charset" and value.strip(b'"') not in (b"utf-8", b"utf8"):
            return False
    return True


def header(scope: Scope, name: bytes) -> bytes | None:
    """The first value of a header field, its name in lower case."""
    for key, value in scope["headers"]:
        if key == name:
            return bytes(value)
    return None
