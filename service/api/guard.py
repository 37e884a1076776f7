"""The one middleware: everything that holds for every request, whatever it asks.

It bounds the address and the header, sheds what cannot be served in time, gives each request an id, lets browsers of any
site read every answer, answers HEAD and OPTIONS, turns refusals and the unforeseen into problems, and
writes one line and one figure a request. It is plain ASGI, because each framework middleware
costs a third of the throughput.
"""

import asyncio
import logging
import os
import re
import time
from collections.abc import Awaitable, Callable, MutableMapping
from datetime import UTC, datetime
from typing import Any, Final

import orjson

from service.api.body import ClientGone
from service.api.health import PROCESS, Health
from service.api.keys import HEADER as KEY_HEADER
from service.api.keys import ApiKeys, for_one_caller
from service.api.metrics import Metrics
from service.api.problems import MEDIA_TYPE
from service.api.rate_limit import RateLimiter, caller_of
from service.api.refusal import Headers, Refusal
from service.settings import Settings

Scope = MutableMapping[str, Any]
Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]

_SANE_ID: Final = re.compile(rb"[A-Za-z0-9._-]{1,64}")
ALWAYS_ANSWERED: Final = frozenset({"/health/live", "/health/ready", "/metrics"})
POLICY: Final = (b"content-security-policy", b"default-src 'none'; frame-ancestors 'none'")
_EXPOSED: Final = (
    "ETag",
    "Link",
    "Allow",
    "Accept-Post",
    "Dataset-Version",
    "Calculation-Version",
    "Content-Location",
    "Retry-After",
    "RateLimit",
    "RateLimit-Policy",
    "X-Request-Id",
)
RETRY: Final = (b"retry-after", b"1")
EVERY_ANSWER: Final[Headers] = [
    (b"access-control-allow-origin", b"*"),
    (b"access-control-expose-headers", ", ".join(_EXPOSED).encode()),
    (b"x-content-type-options", b"nosniff"),
]
_PREFLIGHT: Final[Headers] = [
    (b"access-control-allow-methods", b"GET, HEAD, POST, QUERY, OPTIONS"),
    (b"access-control-allow-headers", b"Accept, Content-Type, If-None-Match, X-Api-Key, X-Request-Id"),
    (b"access-control-max-age", b"600"),
]
_NEVER_SENT: Final = 499  # in the log only: the caller left before the answer

logger = logging.getLogger("runstand")


def write_line(line: bytes) -> None:
    """Write one line to standard output; a line within the pipe's atomic size is never torn between workers."""
    try:
        os.write(1, line)
    except OSError:
        logger.debug("standard output is closed; the line of a request is lost")


class Guard:
    """Plain ASGI middleware around the whole app.

    Args:
        app: What answers.
        settings: The bounds.
        health: State of this process; while it drains, every answer closes its connection.
        metrics: Where figures are counted, or None.
        write: Takes the log line of a request.
    """

    def __init__(
        self,
        app: App,
        settings: Settings,
        health: Health = PROCESS,
        metrics: Metrics | None = None,
        write: Callable[[bytes], None] = write_line,
    ) -> None:
        self.app = app
        self.settings = settings
        self.health = health
        self.metrics = metrics
        self.write = write if settings.log_requests else None
        self.keys = ApiKeys(settings.api_key_hashes)
        self.limiter = RateLimiter(settings.rate_limit) if settings.rate_limit else None
        self.in_flight = 0

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request, or hand on what is not one."""
        if scope["type"] != "http":
            scope.setdefault("state", {})["guard"] = self  # so that the protocol can count and log what it turns away
            await self.app(scope, receive, send)
            return
        begun = time.perf_counter()
        headers = dict(scope["headers"])
        reply = Reply(send, scope["method"], request_id_of(headers), closing=self.health.draining)
        state = scope.setdefault("state", {})
        state["request_id"] = reply.request_id
        inner = scope if scope["method"] != "HEAD" else {**scope, "method": "GET"}
        busy = self.in_flight
        self.in_flight = busy + 1
        try:
            self._admit(scope, headers, state, busy, reply)
            if scope["method"] == "OPTIONS" and b"access-control-request-method" in headers:
                await reply.empty(204, _PREFLIGHT)
            else:
                await self.app(inner, receive, reply)
        except Refusal as refusal:
            await reply.problem(*refusal.answer(), refusal.headers)
        except ClientGone:
            pass
        except asyncio.CancelledError:
            # The grace after a signal to stop is over.
            await reply.refuse_if_possible("overloaded", "The service is stopping.")
            raise
        except Exception as error:
            logger.error("request %s failed", reply.request_id, exc_info=error)
            if reply.status:
                raise  # half an answer is on the wire: only closing the connection tells the caller
            await reply.refuse_if_possible("internal", "")
        finally:
            self.in_flight -= 1
            self._record(inner, reply, begun)

    def _admit(self, scope: Scope, headers: dict[bytes, bytes], state: dict[str, Any], busy: int, reply: "Reply") -> None:
        """Let the request in or raise its refusal; the cheapest checks come first."""
        settings = self.settings
        if scope["path"] in ALWAYS_ANSWERED:
            return
        received = state.get("received")
        late = received is not None and time.monotonic() - received > settings.longest_wait
        if late or busy >= settings.concurrency or "crowded" in state:
            self._shed()
        if len(scope.get("raw_path") or b"") + len(scope["query_string"]) >= settings.address_limit:
            raise Refusal("address-too-long", f"An address may have {settings.address_limit:,} octets; send a POST.")
        fields = scope["headers"]
        if len(fields) > settings.header_count_limit:
            raise Refusal("headers-too-large", f"A request may have {settings.header_count_limit} header fields.")
        if sum([len(name) + len(value) for name, value in fields]) > settings.header_limit:
            raise Refusal("headers-too-large", f"A header may have {settings.header_limit:,} octets.")
        if scope["method"] != "OPTIONS" and (self.keys or self.limiter):
            self._admit_caller(scope, headers, reply)

    def _shed(self) -> None:
        if self.metrics is not None:
            self.metrics.shed += 1
        raise Refusal("overloaded", "", [RETRY])

    def _admit_caller(self, scope: Scope, headers: dict[bytes, bytes], reply: "Reply") -> None:
        """Check the key and count against the quota, where either is set."""
        self.keys.check(headers.get(KEY_HEADER))
        reply.keyed = bool(self.keys)
        if self.limiter is not None:
            reply.extra += self.limiter.count(caller_of(scope.get("client")))

    def record_turned_away(self, method: str, path: bytes, request_id: str, octets: int) -> None:
        """Count and log a request that the protocol has answered 503 before it came here."""
        if self.metrics is not None:
            self.metrics.shed += 1
            self.metrics.observe(method, None, 503, 0.0, octets)
        self._write_line(request_id, method, path, 503, 0.0, octets)

    def _record(self, scope: Scope, reply: "Reply", begun: float) -> None:
        """Count the request and write its line."""
        seconds = time.perf_counter() - begun
        route = getattr(scope.get("route"), "path", None)
        status = reply.status or _NEVER_SENT
        if self.metrics is not None:
            self.metrics.in_flight = self.in_flight
            self.metrics.observe(reply.method, route, status, seconds, reply.octets)
        self._write_line(reply.request_id, reply.method, route or scope.get("raw_path") or b"", status, seconds, reply.octets)

    def _write_line(self, request_id: str, method: str, path: str | bytes, status: int, seconds: float, octets: int) -> None:
        """Write one request's line; a ``path`` in octets is the caller's own, not that of a route."""
        if self.write is None:
            return
        line = {
            "at": datetime.now(UTC).isoformat(timespec="milliseconds"),
            "id": request_id,
            "method": method[:16],
            "path": path if isinstance(path, str) else path[:64].decode("ascii", "replace"),
            "status": status,
            "ms": round(seconds * 1000, 3),
            "bytes": octets,
        }
        self.write(orjson.dumps(line, option=orjson.OPT_APPEND_NEWLINE))


class Reply:
    """The way of one answer to the wire: adds what every answer carries, and keeps what the log needs.

    It is called like the ASGI ``send`` that it stands in for.
    """

    __slots__ = ("_dropped", "closing", "extra", "keyed", "method", "octets", "request_id", "send", "status")

    def __init__(self, send: Send, method: str, request_id: str, *, closing: bool) -> None:
        self.send = send
        self.method = method
        self.request_id = request_id
        self.closing = closing
        self.extra: Headers = []
        self.keyed = False
        self.status = 0
        self.octets = 0
        self._dropped = method == "HEAD"

    async def __call__(self, message: Message) -> None:
        """Take one ASGI message from the app and pass it on, completed."""
        if message["type"] == "http.response.start":
            await self._start(message["status"], list(message.get("headers", ())))
        elif not self._dropped:
            self.octets += len(message.get("body", b""))
            await self.send(message)
        elif not message.get("more_body", False):
            await self.send({"type": "http.response.body"})

    async def _start(self, status: int, headers: Headers) -> None:
        if status == 405:
            headers = _complete_allow(headers)
            if self.method == "OPTIONS":
                # The routes know their methods; asking for them is no mistake.
                status, self._dropped = 204, True
                headers = [field for field in headers if field[0] == b"allow"]
        if not any([name == b"content-security-policy" for name, _ in headers]):  # noqa: C419 - half the time of a generator
            headers.append(POLICY)
        if self.keyed:
            headers = for_one_caller(headers)
        headers += EVERY_ANSWER
        headers += self.extra
        headers.append((b"x-request-id", self.request_id.encode()))
        if self.closing:
            headers.append((b"connection", b"close"))
        self.status = status
        await self.send({"type": "http.response.start", "status": status, "headers": headers})

    async def problem(self, status: int, body: bytes, headers: Headers) -> None:
        """Answer with a problem; its length is told even where HEAD keeps it back."""
        await self._start(status, [*problem_fields(body), *headers])
        await self({"type": "http.response.body", "body": body})

    async def empty(self, status: int, headers: Headers) -> None:
        """Answer without a body."""
        await self._start(status, list(headers))
        await self({"type": "http.response.body"})

    async def refuse_if_possible(self, slug: str, detail: str) -> None:
        """Answer with a problem that carries the request's id, unless an answer has begun."""
        if not self.status:
            await self.problem(*Refusal(slug, detail).answer(self.request_id), [(b"connection", b"close")])


def problem_fields(body: bytes) -> Headers:
    """What describes a problem in its header."""
    return [
        (b"content-type", MEDIA_TYPE.encode()),
        (b"content-length", str(len(body)).encode()),
        (b"cache-control", b"no-store"),
    ]


def request_id_of(headers: dict[bytes, bytes]) -> str:
    """The caller's own id where it is sane, else a new one."""
    offered = headers.get(b"x-request-id")
    if offered is not None and _SANE_ID.fullmatch(offered):
        return offered.decode()
    return os.urandom(8).hex()


def _complete_allow(headers: Headers) -> Headers:
    """Add to ``Allow`` the methods that this middleware answers for every route."""
    completed: Headers = []
    for name, value in headers:
        if name != b"allow":
            completed.append((name, value))
            continue
        methods = {part.strip() for part in value.split(b",") if part.strip()} | {b"OPTIONS"}
        if b"GET" in methods:
            methods.add(b"HEAD")
        completed.append((name, b", ".join(sorted(methods))))
    return completed
