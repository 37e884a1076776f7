"""Latency at 80 % of the capacity beside the empty twin's, and what becomes of twice the capacity on open connections.

    python tests/bench/load.py
    python tests/bench/load.py --rounds 9 --seconds 5 --only "always another"

Each round measures both capacities anew with wrk (closed loop), then both latencies at 80 % of them and the overload with
``open_loop.py``, one after another, so that a slow hour hits both alike. A round starts when the machine is
quiet, and the last column tells how many cores others took meanwhile: figures with more than 0.1 there are noise.
Nothing is asserted.
"""

import argparse
import json
import os
import statistics
import subprocess
import sys
import time
import urllib.request
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT))

from tests.bench.run import Case, cases, load, serving, size_of  # noqa: E402

GENERATOR = ROOT / "tests" / "bench" / "open_loop.py"
STEADY, OVERLOAD = 0.8, 2.0
ASKED = (
    "displacement, always another",
    "displacement, asked again",
    "compression, always another",
    "build sheet, always another",
)


@dataclass
class Round:
    """One round's figures, of the service and of its twin."""

    capacity: float
    twin_capacity: float
    steady: dict[str, Any]
    twin_steady: dict[str, Any]
    overload: dict[str, Any]
    healthy: bool
    others: float  # cores that processes other than these took

    @property
    def tail(self) -> float:
        """The 99th percentile at 80 %, as a multiple of the twin's."""
        return float(self.steady["accepted_p99"] / self.twin_steady["accepted_p99"])

    @property
    def goodput(self) -> float:
        """Successes a second at twice the capacity, as a share of the capacity."""
        return float(self.overload["good_rate"] / self.capacity)

    @property
    def shed(self) -> float:
        """Share of the answers at twice the capacity that were 503."""
        statuses = self.overload["statuses"]
        return float(statuses.get("503", 0) / sum(statuses.values()))

    @property
    def stretch(self) -> float:
        """The 99th percentile of what was accepted at twice the capacity, as a multiple of that at 80 %."""
        return float(self.overload["accepted_p99"] / self.steady["accepted_p99"])


@dataclass
class Meter:
    """Processor time of the whole machine and of the processes that belong to the measurement."""

    servers: tuple[int, ...]
    begun: float = field(default_factory=time.perf_counter)

    def __post_init__(self) -> None:
        self._all, self._own = busy(), self._of_servers() + _of_children()

    def others(self) -> float:
        """Cores taken since then by anything else."""
        taken = busy() - self._all - (self._of_servers() + _of_children() - self._own)
        return max(0.0, taken / (time.perf_counter() - self.begun))

    def _of_servers(self) -> float:
        return sum(_of_process(pid) for pid in self.servers)


def busy() -> float:
    """Seconds in which the machine's processors did something, since its start."""
    ticks = [int(part) for part in Path("/proc/stat").read_text(encoding="ascii").split("\n", 1)[0].split()[1:9]]
    return (sum(ticks) - ticks[3] - ticks[4]) / os.sysconf("SC_CLK_TCK")


def _of_process(pid: int) -> float:
    parts = Path(f"/proc/{pid}/stat").read_text(encoding="utf-8").rpartition(")")[2].split()
    return (int(parts[11]) + int(parts[12])) / os.sysconf("SC_CLK_TCK")


def _of_children() -> float:
    times = os.times()
    return times.user + times.system + times.children_user + times.children_system


def wait_until_quiet(cores: float = 0.1, seconds: int = 60) -> None:
    """Wait until nobody else works here, but not for ever."""
    for _ in range(seconds):
        before = busy()
        time.sleep(1)
        if busy() - before < cores:
            return


def open_loop(base: str, case: Case, path: str, rate: float, options: argparse.Namespace) -> dict[str, Any]:
    """What a constant rate of the case's requests meets."""
    body = case.body.decode()
    if case.fresh:
        body = body.replace("%", "%%").replace('"bore": "86 mm"', '"bore": "%s mm"')
    fields = "".join(f"{name}: {value}\r\n" for name, value in case.headers)
    question = {"head": f"{case.method} {path} HTTP/1.1\r\n{fields}", "body": body, "fresh": bool(case.fresh)}
    command = [sys.executable, str(GENERATOR), base.rpartition(":")[2], f"--rate={rate}", f"--seconds={options.seconds}"]
    command.append(f"--connections={options.connections}")
    found = subprocess.run(command, input=json.dumps(question), capture_output=True, text=True, check=True)
    figures: dict[str, Any] = json.loads(found.stdout)
    if figures["lost"] or set(figures["statuses"]) - {"200", "503"}:
        raise SystemExit(f"{case.name}: not what an answer should be\n{figures}")
    return figures


def healthy(base: str) -> bool:
    """Whether it is ready, and answers, at once."""
    paths = ("/health/ready", "/v1/displacement?cylinders=4&bore=86mm&stroke=73mm")
    return all(urllib.request.urlopen(base + path, timeout=1).status == 200 for path in paths)


def one_round(case: Case, ours: tuple[str, int], twin: tuple[str, int], options: argparse.Namespace) -> Round:
    """Both capacities, both latencies at 80 %, and the overload."""
    wait_until_quiet()
    meter = Meter((ours[1], twin[1]))
    capacity = load(ours[0] + case.path, case, 2, 16)[0]
    twin_capacity = load(twin[0] + "/twin", case, 2, 16)[0]
    steady = open_loop(ours[0], case, case.path, STEADY * capacity, options)
    twin_steady = open_loop(twin[0], case, "/twin", STEADY * twin_capacity, options)
    overload = open_loop(ours[0], case, case.path, OVERLOAD * capacity, options)
    return Round(capacity, twin_capacity, steady, twin_steady, overload, healthy(ours[0]), meter.others())


def spread(rounds: list[Round], figure: Callable[[Round], float], digits: int) -> str:
    """Median and range of one figure."""
    values = [figure(one) for one in rounds]
    return f"{statistics.median(values):.{digits}f} ({min(values):.{digits}f}–{max(values):.{digits}f})"


def table_row(case: Case, rounds: list[Round]) -> str:
    """One line of the table."""

    def middle(figure: Callable[[Round], float]) -> float:
        return statistics.median(figure(one) for one in rounds)

    cells = [
        case.name,
        f"{middle(lambda one: one.capacity):,.0f} ({middle(lambda one: one.twin_capacity):,.0f})",
        f"{middle(lambda one: one.steady['accepted_p50']):.2f} ({middle(lambda one: one.twin_steady['accepted_p50']):.2f})",
        f"{middle(lambda one: one.steady['accepted_p99']):.1f} ({middle(lambda one: one.twin_steady['accepted_p99']):.1f})",
        spread(rounds, lambda one: one.tail, 2),
        spread(rounds, lambda one: one.goodput, 2),
        f"{middle(lambda one: one.shed):.0%}",
        f"{middle(lambda one: one.overload['accepted_p99']):.0f} ms, " + spread(rounds, lambda one: one.stretch, 0) + " ×",
        "yes" if all(one.healthy for one in rounds) else "no",
        f"{middle(lambda one: one.others):.2f}; {max(one.overload['generator_cores'] for one in rounds):.2f}",
    ]
    return "| " + " | ".join(cells) + " |"


def main() -> None:
    """Run every question and print the table."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n", 1)[0])
    parser.add_argument("--rounds", type=int, default=5)
    parser.add_argument("--seconds", type=float, default=3.0)
    parser.add_argument("--connections", type=int, default=256, help="open before the load begins")
    parser.add_argument("--only", default="", help="questions with these words in their names")
    options = parser.parse_args()
    chosen = [case for case in cases() if case.name in ASKED and options.only in case.name]
    print(
        "| question | capacity/s (twin) | p50 at 80 %, ms (twin) | p99 at 80 %, ms (twin) | p99 ÷ twin's, goal ≤ 1.5 "
        "| goodput at 200 %, goal ≥ 0.55 | shed | p99 of accepted, ÷ that at 80 %, goal ≤ 50 | healthy after "
        "| cores: others; generator |\n" + "|---" * 10 + "|"
    )
    with serving("service.app:create_app") as ours:
        for case in chosen:
            with serving("tests.bench.twin:create_twin", TWIN_BYTES=str(size_of(ours[0], case))) as twin:
                rounds = [one_round(case, ours, twin, options) for _ in range(options.rounds)]
            print(table_row(case, rounds), flush=True)


if __name__ == "__main__":
    main()
