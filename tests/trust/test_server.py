"""The real server with its bounded protocol, attacked through raw sockets: framing, sizes, silence, signals, faults.

The app behind it is the small one of ``toy_app``; deadlines are set short so that the whole file takes seconds.
"""

import json
import os
import signal
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path

import httpx
import pytest

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


def test_a_killed_worker_of_two_is_back_within_two_seconds() -> None:
    """The other one goes on answering meanwhile. Each worker is known by the start time in its figures."""

    def worker_seen() -> str | None:
        try:
            answer = exchange(running.port, b"GET /metrics HTTP/1.1\r\nHost: a\r\n" + CLOSE + b"\r\n")
        except OSError:
            return None
        return next((line for line in answer.decode().splitlines() if line.startswith("process_start_time_seconds ")), None)

    def two_workers(without: set[str], seconds: float) -> set[str]:
        seen: set[str] = set()
        until = time.monotonic() + seconds
        while len(seen) < 2 and time.monotonic() < until:
            found = worker_seen()
            if found is not None and found not in without:
                seen.add(found)
        return seen

    def workers() -> list[int]:
        """The processes that serve; the other child is Python's own keeper of shared resources."""
        children = Path(f"/proc/{running.process.pid}/task/{running.process.pid}/children").read_text().split()
        return [int(pid) for pid in children if b"spawn_main" in command(pid)]

    def command(pid: str) -> bytes:
        """What a process was started with; nothing when it has ended since its number was read."""
        try:
            return Path(f"/proc/{pid}/cmdline").read_bytes()
        except (FileNotFoundError, ProcessLookupError):
            return b""

    with server(WORKERS="2") as running:
        assert len(two_workers(set(), 10)) == 2
        taken = []
        for _ in range(3):
            before = workers()
            assert len(before) == 2
            os.kill(before[0], signal.SIGKILL)
            begun = time.monotonic()
            answered = 0
            while workers() == before or len(workers()) < 2:
                answered += worker_seen() is not None
                assert time.monotonic() - begun < 6
            taken.append(time.monotonic() - begun)
            assert answered > 0, "the other worker answered meanwhile"
            assert len(two_workers(set(), 20)) == 2, "and the new one serves"
        assert min(taken) < 2, "the rest of the machine may be busy once, not three times"


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
