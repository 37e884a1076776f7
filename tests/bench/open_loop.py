"""Requests at a constant rate, whether the answers come or not: what a closed loop, which waits for its answers, cannot show.

    python tests/bench/open_loop.py 8000 --rate 2000 --seconds 5 --connections 256 < question.json

Each request has its time in a plan made beforehand, and its latency counts from that time, not from when a free connection
was found for it: a service that stalls is charged for everybody it kept waiting. It asks the loopback address only, over
connections that were opened before. ``question.json`` holds ``head`` and ``body``; a ``%s`` in the body
takes another number in each request.
"""

import argparse
import gc
import json
import re
import select
import socket
import sys
import time
from array import array
from collections import Counter, deque
from dataclasses import dataclass, field

PAUSE = 0.0001  # s between two looks at the sockets: the latencies are good to about twice that
PATIENCE = 3.0  # s for the answers that are still under way at the end
LENGTH = re.compile(rb"\r\ncontent-length: (\d+)", re.IGNORECASE)


@dataclass
class Question:
    """One request; ``fresh`` makes another question of it each time."""

    head: str
    body: str
    fresh: bool

    def request(self, number: int) -> bytes:
        """The octets of one request."""
        body = self.body % f"{80 + number % 900_000 / 100_000:.5f}" if self.fresh else self.body
        return f"{self.head}Host: 127.0.0.1\r\nContent-Length: {len(body)}\r\n\r\n{body}".encode()


class Line:
    """One open connection, which carries one request at a time."""

    def __init__(self, port: int) -> None:
        self.socket = socket.create_connection(("127.0.0.1", port))
        self.socket.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        self.socket.setblocking(False)
        self.due = 0.0
        self.buffer = b""

    def send(self, request: bytes, due: float) -> None:
        """Send one request that was due then."""
        self.due = due
        self.socket.send(request)

    def receive(self) -> int:
        """Read what is there: the status once the answer is whole, else 0.

        Raises:
            ConnectionError: the other side closed.
        """
        data = self.socket.recv(262_144)
        if not data:
            raise ConnectionResetError
        self.buffer = self.buffer + data if self.buffer else data
        end = self.buffer.find(b"\r\n\r\n")
        length = LENGTH.search(self.buffer, 0, end) if end > 0 else None
        if length is None or len(self.buffer) < end + 4 + int(length[1]):
            return 0
        status = int(self.buffer[9:12])
        self.buffer = b""
        return status


@dataclass
class Seen:
    """What came of the plan."""

    statuses: Counter[int] = field(default_factory=Counter)
    accepted: "array[float]" = field(default_factory=lambda: array("d"))
    shed: "array[float]" = field(default_factory=lambda: array("d"))
    lateness: "array[float]" = field(default_factory=lambda: array("d"))
    in_time: int = 0  # successes before the end of the plan
    lost: int = 0

    def answer(self, status: int, seconds: float, *, in_time: bool) -> None:
        """Count one answer."""
        self.statuses[status] += 1
        if status < 300:
            self.accepted.append(seconds)
            self.in_time += in_time
        else:
            self.shed.append(seconds)


def drive(lines: list[Line], question: Question, rate: float, seconds: float) -> tuple[Seen, int]:
    """Carry out the plan: what was seen, and how many requests it never came to send."""
    poll = select.epoll()
    by_number = {line.socket.fileno(): line for line in lines}
    for number in by_number:
        poll.register(number, select.EPOLLIN)
    idle = deque(lines)
    seen = Seen()
    total, sent = round(rate * seconds), 0
    start = time.perf_counter() + 0.05
    end = start + seconds
    now = time.perf_counter()
    while now < end or (now < end + PATIENCE and len(idle) + seen.lost < len(lines)):
        while sent < total and idle and (due := start + sent / rate) <= now < end:
            idle.popleft().send(question.request(sent), due)
            seen.lateness.append(now - due)
            sent += 1
            now = time.perf_counter()
        for number, _ in poll.poll(0):
            line = by_number[number]
            try:
                status = line.receive()
            except ConnectionError:
                poll.unregister(number)
                seen.lost += 1
                continue
            now = time.perf_counter()
            if status:
                seen.answer(status, now - line.due, in_time=now <= end)
                idle.append(line)
        time.sleep(PAUSE)
        now = time.perf_counter()
    return seen, total - sent


def milliseconds(values: "array[float]", share: float) -> float:
    """A quantile in ms, the nearest value that was really seen."""
    ranked = sorted(values)
    return round(ranked[min(len(ranked) - 1, int(len(ranked) * share))] * 1000, 3) if ranked else float("nan")


def main() -> None:
    """Run one plan and print what was seen as JSON."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n", 1)[0])
    parser.add_argument("port", type=int)
    parser.add_argument("--rate", type=float, required=True)
    parser.add_argument("--seconds", type=float, default=3.0)
    parser.add_argument("--connections", type=int, default=256)
    options = parser.parse_args()
    question = Question(**json.load(sys.stdin))
    lines = [Line(options.port) for _ in range(options.connections)]
    gc.disable()
    begun, used = time.perf_counter(), time.process_time()
    seen, unsent = drive(lines, question, options.rate, options.seconds)
    busy = (time.process_time() - used) / (time.perf_counter() - begun)
    figures = {
        "statuses": {str(status): count for status, count in sorted(seen.statuses.items())},
        "good_rate": seen.in_time / options.seconds,
        "accepted_p50": milliseconds(seen.accepted, 0.5),
        "accepted_p99": milliseconds(seen.accepted, 0.99),
        "shed_p99": milliseconds(seen.shed, 0.99),
        "sent_late_p99": milliseconds(seen.lateness, 0.99),
        "unsent": unsent,
        "lost": seen.lost,
        "generator_cores": round(busy, 2),
    }
    print(json.dumps(figures))


if __name__ == "__main__":
    main()
