"""The real server with its bounded protocol, attacked through raw sockets: framing, sizes, silence, signals, faults.

The app behind it is the small one of ``toy_app``; deadlines are set short so that the whole file takes seconds.
"""

import json
import os
import signal
import socket
import statistics
import struct
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path

import httpx
import pytest

from service.api.serve import worker_context

pytestmark = pytest.mark.server

ROOT = Path(__file__).resolve().parents[2]
DEADLINE = 0.6  # s, for a header or a body


@dataclass
class Running:
    """One server process and its port."""

    process: subprocess.Popen[bytes]
    port: int

    @property
    def url(self) -> str:
        """Where it answers."""
        return f"http://127.0.0.1:{self.port}"


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@contextmanager
def server(**options: str) -> Iterator[Running]:
    """Start the server as a container does, wait until it answers, and see it end."""
    port = free_port()
    settings = {
        "APP": "tests.trust.toy_app:create",
        "PORT": str(port),
        "HEADER_DEADLINE": str(DEADLINE),
        "BODY_DEADLINE": str(DEADLINE),
        "SEND_DEADLINE": "1",
        "KEEP_ALIVE": "2",
        "DRAIN": "0.3",
        "LOG_REQUESTS": "false",
        "LOG_LEVEL": "warning",
        **options,
    }
    environment = os.environ | {f"RUNSTAND_{name}": value for name, value in settings.items()}
    process = subprocess.Popen(
        [sys.executable, "-m", "service.api.serve"],
        cwd=ROOT,
        env=environment,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
    )
    running = Running(process, port)
    try:
        wait_until_answering(running)
        yield running
    finally:
        if process.poll() is None:
            process.send_signal(signal.SIGTERM)
        process.communicate(timeout=20)


def wait_until_answering(running: Running, seconds: float = 20) -> None:
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        try:
            if exchange(running.port, b"GET /health/ready HTTP/1.1\r\nHost: a\r\nConnection: close\r\n\r\n").startswith(
                b"HTTP/1.1 200"
            ):
                return
        except OSError:
            time.sleep(0.02)
    raise AssertionError("the server does not answer")


def connect(port: int) -> socket.socket:
    connection = socket.create_connection(("127.0.0.1", port), timeout=5)
    connection.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
    return connection


def read_all(connection: socket.socket) -> bytes:
    """Everything until the server closes."""
    chunks = []
    while True:
        try:
            chunk = connection.recv(65_536)
        except ConnectionResetError:
            break
        if not chunk:
            break
        chunks.append(chunk)
    return b"".join(chunks)


def exchange(port: int, request: bytes) -> bytes:
    with connect(port) as connection:
        with suppress(BrokenPipeError, ConnectionResetError):  # it has heard enough; its answer may still be read
            connection.sendall(request)
        return read_all(connection)


def read_one(connection: socket.socket) -> bytes:
    """One answer of a connection that stays open."""
    answer = b""
    while b"\r\n\r\n" not in answer or len(answer.partition(b"\r\n\r\n")[2]) < announced_length(answer):
        chunk = connection.recv(65_536)
        if not chunk:
            break
        answer += chunk
    return answer


def announced_length(answer: bytes) -> int:
    (line,) = [line for line in answer.lower().split(b"\r\n") if line.startswith(b"content-length:")]
    return int(line.partition(b":")[2])


def status_of(answer: bytes) -> int:
    return int(answer.split(b" ", 2)[1])


def problem_in(answer: bytes) -> dict[str, object]:
    """The problem of an answer, after checking that it is a whole and readable one."""
    head, _, body = answer.partition(b"\r\n\r\n")
    assert b"application/problem+json" in head
    assert b"access-control-allow-origin: *" in head.lower()
    assert f"content-length: {len(body)}".encode() in head.lower()
    found = json.loads(body)
    assert isinstance(found, dict)
    assert found["status"] == status_of(answer)
    return found


@pytest.fixture(scope="module")
def bench() -> Iterator[Running]:
    with server() as running:
        yield running


CLOSE = b"Connection: close\r\n"
JSON = b"Content-Type: application/json\r\n"

WEBSOCKET = (
    b"GET /question HTTP/1.1\r\nHost: a\r\nUpgrade: websocket\r\nConnection: Upgrade\r\n"
    b"Sec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\nSec-WebSocket-Version: 13\r\n\r\n"
)
FRAMING = {
    "no Host": (b"GET /question HTTP/1.1\r\n\r\n", 400),
    "two Hosts": (b"GET /question HTTP/1.1\r\nHost: a\r\nHost: b\r\n\r\n", 400),
    "two equal Hosts": (b"GET /question HTTP/1.1\r\nHost: a\r\nhost: a\r\n\r\n", 400),
    "two Hosts, HTTP/1.0": (b"GET /question HTTP/1.0\r\nHost: a\r\nHost: b\r\n\r\n", 400),
    "no Host, HTTP/1.0": (b"GET /question HTTP/1.0\r\n\r\n", 200),
    "length and chunks": (
        b"POST /question HTTP/1.1\r\nHost: a\r\n" + JSON + b"Content-Length: 4\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\n",
        400,
    ),
    "chunks and length": (
        b"POST /question HTTP/1.1\r\nHost: a\r\n" + JSON + b"Transfer-Encoding: chunked\r\nContent-Length: 4\r\n\r\n0\r\n\r\n",
        400,
    ),
    "two lengths": (b"POST /question HTTP/1.1\r\nHost: a\r\nContent-Length: 2\r\nContent-Length: 3\r\n\r\n{}", 400),
    "signed length": (b"POST /question HTTP/1.1\r\nHost: a\r\nContent-Length: +2\r\n\r\n{}", 400),
    "negative length": (b"POST /question HTTP/1.1\r\nHost: a\r\nContent-Length: -1\r\n\r\n{}", 400),
    "length beyond 64 bits": (b"POST /question HTTP/1.1\r\nHost: a\r\nContent-Length: 99999999999999999999\r\n\r\n{}", 400),
    "unknown coding": (b"POST /question HTTP/1.1\r\nHost: a\r\n" + JSON + b"Transfer-Encoding: gzip\r\n\r\n{}", 400),
    "chunked not last": (
        b"POST /question HTTP/1.1\r\nHost: a\r\n" + JSON + b"Transfer-Encoding: chunked, identity\r\n\r\n0\r\n\r\n",
        400,
    ),
    "bad chunk size": (
        b"POST /question HTTP/1.1\r\nHost: a\r\n" + JSON + b"Transfer-Encoding: chunked\r\n\r\nzz\r\n{}\r\n0\r\n\r\n",
        400,
    ),
    "space before colon": (b"GET /question HTTP/1.1\r\nHost : a\r\n\r\n", 400),
    "folded header": (b"GET /question HTTP/1.1\r\nHost: a\r\nX-Note: one\r\n two\r\n\r\n", 400),
    "NUL in a header": (b"GET /question HTTP/1.1\r\nHost: a\r\nX-Note: a\x00b\r\n\r\n", 400),
    "control in the address": (b"GET /ques\x01tion HTTP/1.1\r\nHost: a\r\n\r\n", 400),
    "octets beyond ASCII in the address": (b"GET /\xff\xfe HTTP/1.1\r\nHost: a\r\n\r\n", 400),
    "no address": (b"GET HTTP/1.1\r\nHost: a\r\n\r\n", 400),
    "unknown method": (b"BREW /question HTTP/1.1\r\nHost: a\r\n\r\n", 400),
    "CONNECT": (b"CONNECT parts.example:443 HTTP/1.1\r\nHost: a\r\n\r\n", 400),
    "HTTP/2.0 in clear": (b"GET /question HTTP/2.0\r\nHost: a\r\n\r\n", 400),
    "HTTP/2 preface": (b"PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n", 400),
    "HTTP/1.2": (b"GET /question HTTP/1.2\r\nHost: a\r\n\r\n", 400),
    "TLS hello": (b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03" + b"\x00" * 64, 400),
    "rubbish": (b"\x00\x01\x02\x03\r\n\r\n", 400),
    "300 kB of header": (b"GET /question HTTP/1.1\r\nHost: a\r\nX-Note: " + b"x" * 300_000 + b"\r\n\r\n", 431),
    "20,000 fields": (b"GET /question HTTP/1.1\r\nHost: a\r\n" + b"a:b\r\n" * 20_000 + b"\r\n", 431),
    "300 kB of address": (b"GET /" + b"x" * 300_000 + b" HTTP/1.1\r\nHost: a\r\n\r\n", 414),
    "9 kB of address": (b"GET /" + b"x" * 9_000 + b" HTTP/1.1\r\nHost: a\r\n" + CLOSE + b"\r\n", 414),
    "20,001 single octets as chunks": (
        b"POST /question HTTP/1.1\r\nHost: a\r\n" + JSON + b"Transfer-Encoding: chunked\r\n\r\n" + b"1\r\n \r\n" * 20_001,
        413,
    ),
    "WebSocket": (WEBSOCKET, 200),
    "trailer that wants to be a header": (
        b"POST /question HTTP/1.1\r\nHost: a\r\n"
        + JSON
        + CLOSE
        + b"Transfer-Encoding: chunked\r\n\r\n2\r\n{}\r\n0\r\nContent-Encoding: gzip\r\n\r\n",
        200,
    ),
}


@pytest.mark.parametrize(("request_", "status"), FRAMING.values(), ids=FRAMING.keys())
def test_framing_is_clear_or_refused_and_the_connection_closed(bench: Running, request_: bytes, status: int) -> None:
    """Two readings of where a request ends let one caller put words into another's mouth (RFC 9112, 11.2)."""
    answer = exchange(bench.port, request_)
    assert status_of(answer) == status
    if status >= 400:
        problem_in(answer)
    assert answer.count(b"\r\ndate: ") == 1


def test_a_refused_request_behind_a_good_one_leaves_the_good_ones_answer_whole(bench: Running) -> None:
    good = b"GET /slow?s=0.1 HTTP/1.1\r\nHost: a\r\n\r\n"
    answer = exchange(bench.port, good + b"GET /question HTTP/1.1\r\nHost: a\r\nHost: b\r\n\r\n")
    assert status_of(answer) == 200
    assert answer.endswith(b'{"done":true}')


@pytest.mark.parametrize("body", [b"zz\r\n{}\r\n0\r\n\r\n", b"2\r\n{}garbage"])
def test_good_requests_before_a_faulty_body_are_answered_and_then_it_is_refused(bench: Running, body: bytes) -> None:
    """All in one packet: what came before owes nothing to what came after; each answer stands in its place."""
    good = b"GET /question HTTP/1.1\r\nHost: a\r\n\r\n" * 3
    faulty = b"POST /question HTTP/1.1\r\nHost: a\r\n" + JSON + b"Transfer-Encoding: chunked\r\n\r\n" + body
    answers = exchange(bench.port, good + faulty).split(b"HTTP/1.1 ")[1:]
    assert [int(answer[:3]) for answer in answers] == [200, 200, 200, 400]
    assert all(answer.endswith(b'{"octets":0}') for answer in answers[:3])
    assert b"connection: close" in answers[3]
    problem_in(b"HTTP/1.1 " + answers[3])


def test_a_faulty_body_of_an_answered_request_gets_no_second_answer(bench: Running) -> None:
    head = b"POST /nothing HTTP/1.1\r\nHost: a\r\n" + JSON + b"Transfer-Encoding: chunked\r\n\r\n"
    with connect(bench.port) as connection:
        connection.sendall(head)
        assert status_of(read_one(connection)) == 404
        connection.sendall(b"zz\r\n")
        assert read_all(connection) == b""


def test_twenty_pipelined_requests_are_answered_in_order(bench: Running) -> None:
    requests = b"GET /question HTTP/1.1\r\nHost: a\r\n\r\n" * 19 + b"GET /question HTTP/1.1\r\nHost: a\r\n" + CLOSE + b"\r\n"
    assert exchange(bench.port, requests).count(b"HTTP/1.1 200") == 20


def test_a_thousand_pipelined_requests_are_cut_short(bench: Running) -> None:
    answer = exchange(bench.port, b"GET /slow?s=0.001 HTTP/1.1\r\nHost: a\r\n\r\n" * 1000)
    assert 1 <= answer.count(b"HTTP/1.1 200") <= 34


@pytest.mark.parametrize(
    ("sent", "status"),
    [
        (b"", None),
        (b"\r\n", None),
        (b"GET /quest", 408),
        (b"GET /question HTTP/1.1\r\nHost: a\r\nX-No", 408),
        (b"POST /question HTTP/1.1\r\nHost: a\r\n" + JSON + b'Content-Length: 100\r\n\r\n{"bore": ', 408),
        (b"POST /question HTTP/1.1\r\nHost: a\r\n" + JSON + b"Transfer-Encoding: chunked\r\n\r\n5\r\n{", 408),
        (b"POST /nothing HTTP/1.1\r\nHost: a\r\nContent-Length: 100\r\n\r\n{", 404),
    ],
    ids=["nothing", "blank line", "half a line", "half a header", "half a body", "half a chunk", "half a body nobody reads"],
)
def test_what_is_sent_by_half_is_closed_in_time(bench: Running, sent: bytes, status: int | None) -> None:
    """The server library alone keeps each of these open for ever."""
    with connect(bench.port) as connection:
        connection.sendall(sent)
        begun = time.monotonic()
        answer = read_all(connection)
        taken = time.monotonic() - begun
    assert taken < DEADLINE + 2.5
    if status is None:
        assert answer == b""
    else:
        assert status_of(answer) == status
    if status == 408:
        problem_in(answer)
        assert taken > DEADLINE * 0.8


def drip_until_closed(connection: socket.socket, piece: bytes, pause: float = 0.1) -> int:
    """Send piece after piece until the server has closed; return the octets sent, at most 100 million."""
    sent = 0
    with suppress(OSError):
        for _ in range(100_000_000 // len(piece) if pause == 0 else 60):
            connection.sendall(piece)
            sent += len(piece)
            time.sleep(pause)
    return sent


@pytest.mark.parametrize("end_of_header", [b"", b"\r\n"], ids=["header", "body"])
def test_dripping_does_not_win_time(bench: Running, end_of_header: bytes) -> None:
    with connect(bench.port) as connection:
        connection.sendall(b"POST /question HTTP/1.1\r\nHost: a\r\n" + JSON + b"Content-Length: 1000\r\n" + end_of_header)
        begun = time.monotonic()
        drip_until_closed(connection, b"x")
        assert time.monotonic() - begun < 4


def test_blank_lines_do_not_keep_an_idle_connection(bench: Running) -> None:
    with connect(bench.port) as connection:
        connection.sendall(b"GET /question HTTP/1.1\r\nHost: a\r\n\r\n")
        assert read_one(connection).startswith(b"HTTP/1.1 200")
        begun = time.monotonic()
        drip_until_closed(connection, b"\r\n")
        assert time.monotonic() - begun < 4


def test_an_idle_connection_is_closed_after_its_time(bench: Running) -> None:
    with connect(bench.port) as connection:
        connection.sendall(b"GET /question HTTP/1.1\r\nHost: a\r\n\r\n")
        begun = time.monotonic()
        assert read_all(connection).startswith(b"HTTP/1.1 200")
        assert 1.5 < time.monotonic() - begun < 4


def test_a_caller_who_does_not_read_is_cut_off(bench: Running) -> None:
    """A 16 MB answer that nobody fetches must not hold its memory and its place among the 64 for ever."""
    with connect(bench.port) as connection:
        connection.sendall(b"GET /big HTTP/1.1\r\nHost: a\r\n\r\n")
        time.sleep(2.0)
        assert len(read_all(connection)) < 16_000_000


def test_a_slow_reader_gets_everything(bench: Running) -> None:
    with connect(bench.port) as connection:
        connection.sendall(b"GET /big HTTP/1.1\r\nHost: a\r\n" + CLOSE + b"\r\n")
        received = 0
        for _ in range(4):
            received += len(connection.recv(1_000_000))
            time.sleep(0.2)
        received += len(read_all(connection))
    assert received > 16_000_000


def test_silent_connections_shut_nobody_out(bench: Running) -> None:
    """200 sockets that say nothing, 100 that say half, and one that asks: it is answered at once."""
    with ExitStack() as crowd:
        for number in range(300):
            silent = crowd.enter_context(connect(bench.port))
            if number >= 200:
                silent.sendall(b"GET /question HTTP/1.1\r\n")
        begun = time.monotonic()
        answer = exchange(bench.port, b"GET /question HTTP/1.1\r\nHost: a\r\n" + CLOSE + b"\r\n")
        assert status_of(answer) == 200
        assert time.monotonic() - begun < 0.5


def test_a_body_too_large_is_refused_before_it_is_read_and_the_caller_hears_why(bench: Running) -> None:
    with connect(bench.port) as connection:
        connection.sendall(b"POST /question HTTP/1.1\r\nHost: a\r\n" + JSON + b"Content-Length: 5000000\r\n\r\n")
        answer = read_one(connection)
    assert status_of(answer) == 413
    whole = httpx.post(f"{bench.url}/question", content=b" " * 5_000_000, headers={"content-type": "application/json"})
    assert whole.status_code == 413
    assert whole.headers["content-type"] == "application/problem+json"


def test_a_body_without_end_is_cut_off(bench: Running) -> None:
    with connect(bench.port) as connection:
        connection.sendall(b"POST /question HTTP/1.1\r\nHost: a\r\n" + JSON + b"Transfer-Encoding: chunked\r\n\r\n")
        sent = drip_until_closed(connection, b"10000\r\n" + b" " * 65_536 + b"\r\n", pause=0)
    assert sent < 50_000_000


def test_expect_continue_is_honoured_and_a_refusal_comes_without_it(bench: Running) -> None:
    head = b"POST /question HTTP/1.1\r\nHost: a\r\n" + JSON + b"Expect: 100-continue\r\n"
    with connect(bench.port) as connection:
        connection.sendall(head + b"Content-Length: 2\r\n\r\n")
        assert connection.recv(1024).startswith(b"HTTP/1.1 100 Continue")
        connection.sendall(b"{}")
        assert status_of(read_one(connection)) == 200
    with connect(bench.port) as connection:
        connection.sendall(head + b"Content-Length: 5000000\r\n\r\n")
        assert status_of(read_one(connection)) == 413


def test_a_failure_in_mid_answer_ends_without_the_last_chunk(bench: Running) -> None:
    answer = exchange(bench.port, b"GET /half HTTP/1.1\r\nHost: a\r\n\r\n")
    assert b"first" in answer
    assert not answer.endswith(b"0\r\n\r\n")
    assert b"secret" not in answer


def test_under_overload_on_open_connections_some_are_shed_and_the_served_are_quick() -> None:
    """Work that holds the processor is queued in the event loop, where no counter sees it; its waiting time does."""
    with server(LONGEST_WAIT="0.05") as running:
        outcomes: list[tuple[int, float]] = []
        all_open = threading.Barrier(60)

        def caller() -> None:
            with connect(running.port) as connection:
                connection.sendall(b"GET /question HTTP/1.1\r\nHost: a\r\n\r\n")
                read_one(connection)
                all_open.wait()
                for _ in range(4):
                    begun = time.monotonic()
                    connection.sendall(b"GET /work?ms=5 HTTP/1.1\r\nHost: a\r\n\r\n")
                    answer = read_one(connection)
                    outcomes.append((status_of(answer), time.monotonic() - begun))

        threads = [threading.Thread(target=caller) for _ in range(60)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        statuses = [status for status, _ in outcomes]
        assert len(outcomes) == 240
        assert set(statuses) == {200, 503}
        assert max(taken for status, taken in outcomes if status == 200) < 1.0, "240 in a row would take 1.2 s"
        assert httpx.get(f"{running.url}/question").status_code == 200


QUESTION = b"GET /question HTTP/1.1\r\nHost: a\r\n\r\n"


@pytest.fixture
def narrow() -> Iterator[Running]:
    """A server in which eight may wait."""
    with server(CONCURRENCY="8", LONGEST_WAIT="10") as running:
        yield running


@contextmanager
def held(running: Running, opened: int, new: int = 0) -> Iterator[list[socket.socket]]:
    """Connections of a worker whose processor is held by one request: some that have asked before, some that have not."""
    with ExitStack() as stack:
        lines = [stack.enter_context(connect(running.port)) for _ in range(opened + new)]
        for line in lines[:opened]:
            line.sendall(QUESTION)
            assert status_of(read_one(line)) == 200
        holder = stack.enter_context(connect(running.port))
        holder.sendall(b"GET /work?ms=900 HTTP/1.1\r\nHost: a\r\n\r\n")
        time.sleep(0.2)
        yield lines
        assert status_of(read_one(holder)) == 200


def fields_of(answer: bytes) -> set[bytes]:
    """The header fields that are the same in every answer of a kind."""
    lines = answer.partition(b"\r\n\r\n")[0].split(b"\r\n")[1:]
    return {line for line in lines if not line.startswith((b"date:", b"x-request-id:"))}


def test_as_many_are_served_as_may_wait_and_the_rest_is_turned_away(narrow: Running) -> None:
    """Synchronous work queues in the sockets, where a count of what runs sees nothing; the protocol counts what it has read."""
    with held(narrow, opened=30, new=10) as lines:
        for line in lines:
            line.sendall(QUESTION)
        answers = [read_one(line) for line in lines]
    statuses = [status_of(answer) for answer in answers]
    assert statuses.count(200) == 8
    assert statuses.count(503) == 32
    figures = exchange(narrow.port, b"GET /metrics HTTP/1.1\r\nHost: a\r\n" + CLOSE + b"\r\n")
    assert b"runstand_requests_shed_total 32\n" in figures
    assert b'status="503"} 32\n' in figures
    assert httpx.get(f"{narrow.url}/question").status_code == 200


def test_who_is_turned_away_at_the_door_hears_what_the_guard_would_say(narrow: Running) -> None:
    """An open connection is answered by the protocol, the first request of a new one by the guard: the same octets."""
    with held(narrow, opened=12, new=12) as lines:
        for line in lines:
            line.sendall(QUESTION)
        answers = [read_one(line) for line in lines]
    at_the_door = [answer for answer in answers[:12] if status_of(answer) == 503]
    by_the_guard = [answer for answer in answers[12:] if status_of(answer) == 503]
    assert at_the_door
    assert by_the_guard
    assert fields_of(at_the_door[0]) == fields_of(by_the_guard[0])
    assert b"retry-after: 1" in fields_of(at_the_door[0])
    assert problem_in(at_the_door[0]) == problem_in(by_the_guard[0])
    ids = {line for answer in at_the_door for line in answer.split(b"\r\n") if line.startswith(b"x-request-id: ")}
    assert len(ids) == len(at_the_door)


def test_health_is_answered_and_the_callers_id_kept_while_others_are_turned_away(narrow: Running) -> None:
    with held(narrow, opened=20) as lines:
        for line in lines[:18]:
            line.sendall(QUESTION)
        lines[18].sendall(b"GET /health/ready HTTP/1.1\r\nHost: a\r\n\r\n")
        lines[19].sendall(b"GET /question HTTP/1.1\r\nHost: a\r\nX-Request-Id: shop-17\r\n\r\n")
        answers = [read_one(line) for line in lines]
    assert [status_of(answer) for answer in answers].count(503) >= 10
    assert status_of(answers[18]) == 200
    (own,) = [answer for answer in answers if b"x-request-id: shop-17\r\n" in answer]
    assert own is answers[19]


def test_a_connection_that_was_turned_away_goes_on(narrow: Running) -> None:
    """The body that came with it is dropped, however late, and the connection stays open as long as any idle one."""
    head = b"POST /question HTTP/1.1\r\nHost: a\r\n" + JSON + b"Content-Length: 4\r\n\r\n"
    with held(narrow, opened=30) as lines:
        for line in lines[:8]:
            line.sendall(QUESTION)
        for line in lines[8:]:
            line.sendall(head + b"{ ")
        turned_away = [line for line in lines if line.recv(65_536, socket.MSG_PEEK).startswith(b"HTTP/1.1 503")]
        assert len(turned_away) == 22
        for line in turned_away:
            assert status_of(read_one(line)) == 503
        time.sleep(DEADLINE * 0.5)
        for line in turned_away:
            line.sendall(b" }")
        time.sleep(DEADLINE * 2)
        for line in turned_away[:5]:
            line.sendall(head + b"{  }")
            answer = read_one(line)
            assert answer.startswith(b"HTTP/1.1 200")
            assert answer.endswith(b'{"octets":4}')


def test_pipelined_requests_are_turned_away_in_their_order() -> None:
    with server(CONCURRENCY="1") as running:
        answer = exchange(
            running.port, b"GET /slow?s=0.1 HTTP/1.1\r\nHost: a\r\n\r\nGET /question HTTP/1.1\r\nHost: a\r\n" + CLOSE + b"\r\n"
        )
    assert [status_of(part) for part in answer.split(b"HTTP/1.1")[1:]] == [200, 503]


def test_who_leaves_before_the_answer_is_counted_out(narrow: Running) -> None:
    """Neither too few nor too many may wait afterwards: eight are served, and the ninth is turned away."""
    for _ in range(3):
        for _ in range(8):
            with connect(narrow.port) as line:
                line.sendall(b"GET /slow?s=0.2 HTTP/1.1\r\nHost: a\r\n\r\n" * 2)
        time.sleep(0.6)
    with ExitStack() as stack:
        lines = [stack.enter_context(connect(narrow.port)) for _ in range(9)]
        for line in lines:
            line.sendall(b"GET /slow?s=0.4 HTTP/1.1\r\nHost: a\r\n\r\n")
            time.sleep(0.01)
        assert [status_of(read_one(line)) for line in lines] == [200] * 8 + [503]


def test_who_leaves_while_others_of_the_line_wait_is_no_fault_of_the_app() -> None:
    """Two requests in one packet and a reset: the rest of the first answer has nowhere to go, and the log stays silent."""
    with server() as running:
        for _ in range(20):
            line = connect(running.port)
            line.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
            line.sendall(b"GET /drip HTTP/1.1\r\nHost: a\r\n\r\n" * 2)
            assert line.recv(100).startswith(b"HTTP/1.1 200")
            line.close()
        time.sleep(0.8)
        assert httpx.get(f"{running.url}/question").status_code == 200
        running.process.send_signal(signal.SIGTERM)
        _, told = running.process.communicate(timeout=20)
    assert told == b""


def test_a_real_fault_of_the_app_is_still_told() -> None:
    with server() as running:
        exchange(running.port, b"GET /half HTTP/1.1\r\nHost: a\r\n\r\n")
        running.process.send_signal(signal.SIGTERM)
        _, told = running.process.communicate(timeout=20)
    assert b"ZeroDivisionError" in told


# Signals and faults


@pytest.mark.parametrize("workers", ["1", "2"])
def test_a_signal_to_stop_loses_no_request_in_flight(workers: str) -> None:
    """Readiness turns false first, everything sent is answered, then the process ends by itself with success."""
    with server(WORKERS=workers, DRAIN="0.4") as running:
        statuses: list[int] = []
        opened = [connect(running.port) for _ in range(30)]
        for connection in opened:
            connection.sendall(b"GET /slow?s=0.8 HTTP/1.1\r\nHost: a\r\n\r\n")
        time.sleep(0.2)
        running.process.send_signal(signal.SIGTERM)
        begun = time.monotonic()
        if workers == "1":
            time.sleep(0.15)
            answer = exchange(running.port, b"GET /health/ready HTTP/1.1\r\nHost: a\r\n\r\n")
            assert status_of(answer) == 503, "not ready, yet still answering"
            answer = exchange(running.port, b"GET /question HTTP/1.1\r\nHost: a\r\n\r\n")
            assert status_of(answer) == 200
            assert b"connection: close" in answer
        for connection in opened:
            statuses.append(status_of(read_all(connection)))
            connection.close()
        assert statuses == [200] * 30
        assert running.process.wait(timeout=6) == 0
        assert time.monotonic() - begun < 5


def test_kept_alive_callers_lose_nothing_while_the_service_stops() -> None:
    """Ten callers ask without pause over kept connections; after the signal each ends with a whole answer that closes."""
    with server() as running:
        torn: list[str] = []
        answered = [0]
        stop_at = time.monotonic() + 4

        def caller() -> None:
            with connect(running.port) as connection:
                while time.monotonic() < stop_at:
                    try:
                        connection.sendall(b"GET /question HTTP/1.1\r\nHost: a\r\n\r\n")
                        answer = read_one(connection)
                    except OSError as error:
                        torn.append(repr(error))
                        return
                    if not answer.endswith(b'{"octets":0}'):
                        torn.append(repr(answer))
                        return
                    answered[0] += 1
                    if b"connection: close" in answer:
                        return

        threads = [threading.Thread(target=caller) for _ in range(10)]
        for thread in threads:
            thread.start()
        time.sleep(0.3)
        running.process.send_signal(signal.SIGTERM)
        for thread in threads:
            thread.join()
        assert running.process.wait(timeout=6) == 0
        assert torn == []
        assert answered[0] > 20


def test_a_half_sent_body_does_not_hold_the_process_at_its_end() -> None:
    with server(HEADER_DEADLINE="30", BODY_DEADLINE="30", GRACE="1") as running, connect(running.port) as connection:
        connection.sendall(b"POST /question HTTP/1.1\r\nHost: a\r\n" + JSON + b"Content-Length: 9\r\n\r\n{")
        time.sleep(0.2)
        running.process.send_signal(signal.SIGTERM)
        begun = time.monotonic()
        answer = read_all(connection)
        assert running.process.wait(timeout=6) == 0
        assert time.monotonic() - begun < 4
        assert status_of(answer) == 503
        problem_in(answer)


def children_of(pid: int) -> list[int]:
    """The processes that one process started."""
    return [int(child) for child in Path(f"/proc/{pid}/task/{pid}/children").read_text().split()]


def workers_of(running: Running) -> list[int]:
    """The processes that serve: forked from the one that holds the imports."""
    return [worker for source in sources_of(running) for worker in children_of(source)]


def sources_of(running: Running) -> list[int]:
    """The process that holds the imports."""
    children = children_of(running.process.pid)
    return [pid for pid in children if b"forkserver" in Path(f"/proc/{pid}/cmdline").read_bytes()]


def start_of_a_worker(running: Running) -> float:
    """When the worker that happens to answer was started; 0 where the connection went with a killed one."""
    try:
        answer = exchange(running.port, b"GET /metrics HTTP/1.1\r\nHost: a\r\n" + CLOSE + b"\r\n")
    except OSError:
        return 0.0
    (line,) = [line for line in answer.split(b"\n") if line.startswith(b"process_start_time_seconds ")] or [b" 0"]
    return float(line.split()[1])


def test_a_killed_worker_of_two_is_back_within_two_seconds() -> None:
    """Twenty times with the real app, from the kill to the first answer of the new worker; the other one answers meanwhile."""
    with server(WORKERS="2", APP="service.app:create_app") as running:
        wait_for(lambda: len(workers_of(running)) == 2, 10)
        taken = []
        for number in range(20):
            answers: list[float] = []
            begun, victim = time.time(), workers_of(running)[number % 2]
            os.kill(victim, signal.SIGKILL)

            def back(answers: list[float] = answers, begun: float = begun) -> bool:
                answers.append(start_of_a_worker(running))
                return answers[-1] > begun

            wait_for(back, 5)
            taken.append(time.time() - begun)
            if number:  # in the first round the other one may still be starting
                assert any(0 < start < begun for start in answers), "the other one answered meanwhile"
            assert len(workers_of(running)) == 2
            assert victim not in workers_of(running)
        assert statistics.median(taken) < 2, "the rest of the machine may be busy now and then"


def runs(pid: int) -> bool:
    """Whether a process is there and not only its exit code."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except (FileNotFoundError, ProcessLookupError):
        return False


def refuses(port: int) -> bool:
    """Whether nobody listens any more."""
    try:
        connect(port).close()
    except ConnectionError:
        return True
    return False


def test_workers_end_with_their_supervisor_and_lose_nothing() -> None:
    """Killed, it tells nobody; the port must become free for the next one, after what is in flight was answered."""
    with server(WORKERS="2") as running:
        wait_for(lambda: len(workers_of(running)) == 2, 20)
        workers = workers_of(running)
        with connect(running.port) as connection:
            connection.sendall(b"GET /slow?s=0.6 HTTP/1.1\r\nHost: a\r\n\r\n")
            time.sleep(0.1)
            running.process.kill()
            assert status_of(read_one(connection)) == 200
        wait_for(lambda: refuses(running.port), 20)
        wait_for(lambda: not any(runs(worker) for worker in workers), 20)


def test_when_the_source_of_the_workers_dies_new_ones_come_and_the_old_ones_go() -> None:
    """They were forked from it, not from the supervisor, which cannot wait for them; it lets go of them instead."""
    with server(WORKERS="2") as running:
        wait_for(lambda: len(workers_of(running)) == 2, 20)
        old = workers_of(running)
        (source,) = sources_of(running)
        os.kill(source, signal.SIGKILL)
        wait_for(lambda: source not in sources_of(running) and len(sources_of(running)) == 1, 20)
        wait_for(lambda: len(workers_of(running)) == 2, 20)
        new = workers_of(running)
        assert not set(old) & set(new)
        wait_for(lambda: not any(runs(worker) for worker in old), 20)
        wait_until_answering(running)
        running.process.send_signal(signal.SIGTERM)
        assert running.process.wait(timeout=20) == 0
        wait_for(lambda: refuses(running.port), 20)
        assert not any(runs(worker) for worker in new)


def test_where_nothing_can_be_written_workers_start_anew(monkeypatch: pytest.MonkeyPatch) -> None:
    """A read-only container without /tmp has no room for the socket of the process that workers are forked from."""

    def nowhere() -> str:
        raise FileNotFoundError

    assert worker_context("service.app").get_start_method() == "forkserver"
    monkeypatch.setattr(tempfile, "gettempdir", nowhere)
    assert worker_context("service.app").get_start_method() == "spawn"


def wait_for(condition: Callable[[], bool], seconds: float) -> None:
    """Ask again until it is so."""
    until = time.monotonic() + seconds
    while not condition():
        assert time.monotonic() < until
        time.sleep(0.005)


@pytest.mark.parametrize("workers", ["1", "2"])
@pytest.mark.parametrize("app", ["tests.trust.toy_app:broken", "tests.trust.toy_app:absent"])
def test_a_broken_app_ends_the_process_instead_of_serving(app: str, workers: str) -> None:
    """A worker that cannot start must not be started again and again; the message names the file and line."""
    settings = {"RUNSTAND_APP": app, "RUNSTAND_PORT": str(free_port()), "RUNSTAND_WORKERS": workers}
    ended = subprocess.run(
        [sys.executable, "-m", "service.api.serve"],
        cwd=ROOT,
        env=os.environ | settings,
        capture_output=True,
        timeout=20,
        check=False,
    )
    assert ended.returncode == 3
    assert b"The service does not start" in ended.stderr
    if app.endswith("broken"):
        assert b"threads.csv, line 17" in ended.stderr
        assert b"Traceback" not in ended.stderr
