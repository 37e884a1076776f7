"""uvicorn's httptools protocol with what it leaves open closed: time, size and framing of what arrives.

uvicorn waits for ever for the rest of a half-sent header or body, takes any size of header, any number of ``Host`` fields
and answers framing faults as plain text. None of that can be mended inside an ASGI app, which is called
only when the header is complete.

The usual request arrives whole in one piece and arms no timer here: clocks start only when a piece ends in the middle
of a header or body.
"""

import asyncio
import time
from functools import partial
from typing import Any, Final

import httptools
from uvicorn.config import Config
from uvicorn.protocols.http.httptools_impl import STATUS_LINE, HttpToolsProtocol, RequestResponseCycle
from uvicorn.server import ServerState

from service.api.door import TURNED_AWAY, answer_refusal, refusal_fields, turned_away
from service.api.guard import ALWAYS_ANSWERED, request_id_of
from service.api.health import PROCESS
from service.api.refusal import Refusal
from service.settings import Settings

_LINGER: Final = 1.0  # s in which a refused caller may read why, before the connection goes
_IDLE_LINGER: Final = 0.25  # s for a request that is on its way while the service stops
_BODY_ON_THE_WIRE: Final = 24 * 1024 * 1024  # octets of one body, wanted or not, after which the connection goes
_CHUNKS: Final = 10_000  # pieces of one chunked body; a body of single octets costs a hundred times a whole one
_PIPELINED: Final = 32  # requests of one connection that may wait for the answer to an earlier one
_QUEUE: Final = 16  # requests already waiting in this worker from which on a new one notes when it came

_BETWEEN, _HEADER, _BODY = range(3)


class ServerConfig(Config):
    """uvicorn's configuration together with the settings that its protocol needs; goes to worker processes whole."""

    def __init__(self, *, settings: Settings, **options: Any) -> None:
        super().__init__(**options)
        self.settings = settings
        self.waiting = 0  # requests that this worker has read and not yet answered


class _Malformed(Exception):
    """Raised in a callback of the parser, which stops parsing and hands it on as the context of its own error."""

    def __init__(self, refusal: Refusal) -> None:
        super().__init__(refusal.slug)
        self.refusal = refusal


class BoundedProtocol(HttpToolsProtocol):
    """One connection."""

    config: ServerConfig

    def __init__(
        self,
        config: Config,
        server_state: ServerState,
        app_state: dict[str, Any],
        _loop: asyncio.AbstractEventLoop | None = None,
    ) -> None:
        super().__init__(config, server_state, app_state, _loop)
        self._settings = self.config.settings
        self._phase = _BETWEEN
        self._clock: asyncio.TimerHandle | None = None
        self._reader_clock: asyncio.TimerHandle | None = None
        self._header_octets = 0
        self._body_octets = 0
        self._chunks = 0
        self._waiting = 0
        self._deaf = False
        self._in_turn: RequestResponseCycle | None = None  # the request whose turn it is; the last one read is ``cycle``

    # The connection

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Start the clock: who says nothing has as long as who says half."""
        super().connection_made(transport)
        self._start_clock()

    def connection_lost(self, exc: Exception | None) -> None:
        """Stop the clocks."""
        self._stop_clock()
        self.config.waiting -= self._waiting
        self._waiting = 0
        self.resume_writing()
        if self._in_turn is not None and not self._in_turn.response_complete:
            self._in_turn.disconnected = True  # the library tells only the last one, which may wait behind this one
            self._in_turn.message_event.set()
        super().connection_lost(exc)

    def data_received(self, data: bytes) -> None:
        """Feed the parser, within bounds."""
        self._unset_keepalive_if_required()
        if self._phase == _BODY or self._deaf:
            self._body_octets += len(data)
            if self._body_octets > _BODY_ON_THE_WIRE:
                self.transport.abort()
                return
        else:
            self._header_octets += len(data)
        if not self._deaf:
            self._feed(data)

    def _feed(self, data: bytes) -> None:
        try:
            self.parser.feed_data(data)
        except httptools.HttpParserUpgrade:
            # No other protocol is spoken here, and the answer to the request itself says so.
            self.cycle.keep_alive = False
        except httptools.HttpParserError as error:
            cause = error.__context__
            self._refuse(cause.refusal if isinstance(cause, _Malformed) else Refusal("bad-framing"))
            return
        if self._phase == _HEADER and self._header_octets > self._settings.header_limit:
            self._refuse(self._too_much_header())
        elif self._clock is None and (self._phase != _BETWEEN or (self._idle() and self.timeout_keep_alive_task is None)):
            # A part has begun, or blank lines came where a request was awaited.
            self._start_clock()

    def pause_writing(self) -> None:
        """The caller does not read: wait for so long and no longer, or silent readers would fill the house."""
        super().pause_writing()
        self._reader_clock = self.loop.call_later(self._settings.send_deadline, self.transport.abort)

    def resume_writing(self) -> None:
        """The caller reads again."""
        if self._reader_clock is not None:
            self._reader_clock.cancel()
            self._reader_clock = None
        super().resume_writing()

    def shutdown(self) -> None:
        """Close an idle connection, but not in the face of a request that is on its way."""
        if self._idle():
            self.loop.call_later(_IDLE_LINGER, self._close_if_idle)
        else:
            self.cycle.keep_alive = False

    def _close_if_idle(self) -> None:
        if self._idle():
            self.transport.close()
        else:
            self.cycle.keep_alive = False

    def _idle(self) -> bool:
        cycle: RequestResponseCycle | None = self.cycle
        return cycle is None or cycle.response_complete

    # Callbacks of the parser

    def on_message_begin(self) -> None:
        """A request line begins."""
        self._phase = _HEADER
        super().on_message_begin()

    def on_header(self, name: bytes, value: bytes) -> None:
        """One field; their number is bounded here, before a list of a hundred thousand grows."""
        if self._phase == _BODY:
            return  # a trailer, which must not become a header after the fact
        super().on_header(name, value)
        if len(self.headers) > self._settings.header_count_limit:
            raise _Malformed(self._too_much_header())

    def on_headers_complete(self) -> None:
        """The header is there: check what decides where a request ends and whom it is for, then start the app."""
        self._stop_clock()
        version = self.parser.get_http_version()
        hosts = [name for name, _ in self.headers].count(b"host")
        if version not in ("1.1", "1.0"):
            raise _Malformed(Refusal("bad-framing", "This service speaks HTTP/1.1 and HTTP/1.0."))
        if hosts > 1 or (hosts == 0 and version == "1.1"):
            raise _Malformed(Refusal("bad-framing", "A request carries exactly one Host field."))
        if len(self.pipeline) >= _PIPELINED:
            raise _Malformed(Refusal("overloaded"))
        crowded = self.config.waiting >= self._settings.concurrency
        if crowded and self._can_turn_away():
            self._turn_away()
        else:
            if crowded:
                self.scope["state"]["crowded"] = True
            elif self.config.waiting >= _QUEUE:
                self.scope["state"]["received"] = time.monotonic()
            super().on_headers_complete()
            self.config.waiting += 1
            self._waiting += 1
        self._phase = _BODY
        self._header_octets = self._body_octets = self._chunks = 0

    def on_chunk_header(self) -> None:
        """One piece of a chunked body begins."""
        self._chunks += 1
        if self._chunks > _CHUNKS:
            raise _Malformed(Refusal("too-large", f"The body comes in more than {_CHUNKS:,} pieces."))

    def on_message_complete(self) -> None:
        """The request is whole."""
        self._phase = _BETWEEN
        self._stop_clock()
        self.scope["state"]["whole"] = True  # nothing of it is still to come, so reading it needs no clock
        super().on_message_complete()
        if self._idle():
            super().on_response_complete()  # answered before its end: only now the wait for the next one begins

    def on_response_complete(self) -> None:
        """The request is answered, and waits no longer unless it went with its connection."""
        if self._waiting:
            self._waiting -= 1
            self.config.waiting -= 1
        super().on_response_complete()

    def _start_asgi_task(self, cycle: RequestResponseCycle, app: Any) -> None:
        self._in_turn = cycle
        super()._start_asgi_task(cycle, app)

    # Shedding

    def _can_turn_away(self) -> bool:
        """Whether the request is the plain next one of an open connection; any other is shed by the guard, which knows more."""
        cycle: RequestResponseCycle | None = self.cycle
        return (
            cycle is not None
            and cycle.response_complete
            and cycle.keep_alive
            and not self.flow.write_paused
            and not self.expect_100_continue
            and self.parser.should_keep_alive()
            and not self.parser.should_upgrade()
            and self.parser.get_method() != b"HEAD"
            and self._path().decode("ascii", "replace") not in ALWAYS_ANSWERED
            and not PROCESS.draining
            and "guard" in self.app_state
        )

    def _turn_away(self) -> None:
        """Answer 503 at once; the connection's last cycle, which is complete, takes what comes of the body and drops it."""
        request_id = request_id_of(dict(self.headers))
        self.transport.write(turned_away(request_id, self.server_state.default_headers))
        method = self.parser.get_method().decode("ascii")
        self.app_state["guard"].record_turned_away(method, self._path(), request_id, len(TURNED_AWAY))

    def _path(self) -> bytes:
        return self.url.partition(b"?")[0]

    # Bounds

    def _start_clock(self) -> None:
        """Give the part that is under way its time; each part gets it once, however it drips in."""
        # The body has a little longer here than in the app, which answers better.
        seconds = self._settings.body_deadline + 1.0 if self._phase == _BODY else self._settings.header_deadline
        self._clock = self.loop.call_later(seconds, self._out_of_time)

    def _stop_clock(self) -> None:
        if self._clock is not None:
            self._clock.cancel()
            self._clock = None

    def _out_of_time(self) -> None:
        if self._phase == _BETWEEN or (self._phase == _BODY and self.cycle.response_complete):
            self.transport.close()
        else:
            self._refuse(Refusal("too-slow"))

    def _too_much_header(self) -> Refusal:
        if not self.headers:
            return Refusal("address-too-long", f"An address may have {self._settings.address_limit:,} octets.")
        limits = f"{self._settings.header_limit:,} octets and {self._settings.header_count_limit} fields"
        return Refusal("headers-too-large", f"A header may have {limits}.")

    def _refuse(self, refusal: Refusal) -> None:
        """Answer what cannot become a request, listen no longer, and close."""
        self._deaf = True
        self._stop_clock()
        if not self._idle():
            self.cycle.keep_alive = False
            if self._phase != _BODY:
                return  # the faulty request came behind a good one, whose answer comes first and closes
            if self.pipeline:
                self.pipeline[0] = (self.cycle, partial(answer_refusal, refusal))  # when its turn comes
                return
            if self.cycle.response_started:
                self.transport.close()
                return
            self.cycle.disconnected = True
            self.cycle.message_event.set()
        if self._phase != _BODY or not self._idle():  # else it has its answer, and only the end of its body is at fault
            self._write_refusal(refusal)
        self.transport.write_eof()
        self.loop.call_later(_LINGER, self.transport.close)

    def _write_refusal(self, refusal: Refusal) -> None:
        status, body = refusal.answer()
        fields = [*self.server_state.default_headers, *refusal_fields(body)]
        self.transport.write(b"".join((STATUS_LINE[status], *(b"%s: %s\r\n" % field for field in fields), b"\r\n", body)))
