"""The door: the answer to a request that is turned away before a task or an answer is made for it.

Shedding helps only where it costs much less than answering. Through the app a refusal costs as much as a kept answer, and
a worker that is asked twice what it can do would spend itself on refusals. So while too many requests wait, the protocol
answers with ready octets, in which only the date and the id change. They are those that the guard would send.

Here as well: the answer to what cannot become a request, whose end or meaning is not certain.
"""

from typing import Final

from uvicorn.protocols.http.httptools_impl import STATUS_LINE

from service.api.guard import EVERY_ANSWER, POLICY, RETRY, Receive, Scope, Send, problem_fields
from service.api.problems import MEDIA_TYPE
from service.api.refusal import Headers, Refusal


def _lines(fields: Headers) -> bytes:
    return b"".join([b"%s: %s\r\n" % field for field in fields])


_STATUS, TURNED_AWAY = Refusal("overloaded").answer()
_HEAD: Final = STATUS_LINE[_STATUS] + _lines([*problem_fields(TURNED_AWAY), RETRY, POLICY, *EVERY_ANSWER])


def turned_away(request_id: str, server_fields: Headers) -> bytes:
    """The whole answer as it goes to the wire."""
    return b"%s%sx-request-id: %s\r\n\r\n%s" % (_HEAD, _lines(server_fields), request_id.encode(), TURNED_AWAY)


async def answer_refusal(refusal: Refusal, _: Scope, __: Receive, send: Send) -> None:
    """Stand in for the app where the body of a request that waits for its turn turned out to be faulty."""
    status, body = refusal.answer()
    await send({"type": "http.response.start", "status": status, "headers": refusal_fields(body)})
    await send({"type": "http.response.body", "body": body})


def refusal_fields(body: bytes) -> Headers:
    """What describes the answer to what cannot become a request; it closes the connection."""
    return [
        (b"content-type", MEDIA_TYPE.encode()),
        (b"content-length", str(len(body)).encode()),
        (b"access-control-allow-origin", b"*"),
        (b"cache-control", b"no-store"),
        (b"x-content-type-options", b"nosniff"),
        (b"connection", b"close"),
    ]
