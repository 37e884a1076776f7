"""Speed as ratios, side by side in one run: each question against its empty twin, interleaved, on one worker each.

    python tests/bench/run.py            the table of DEVELOPERS.md
    python tests/bench/run.py --rounds 9 --seconds 3

Needs Debian's ``wrk``. Absolute figures drift from machine to machine and hour to hour; the ratios are what is compared.
"""

import argparse
import json
import os
import re
import shutil
import signal
import socket
import statistics
import subprocess
import sys
import tempfile
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[2]
BUILD = ROOT / "service" / "sheet" / "demo_build.json"
DISPLACEMENT = {"cylinders": 4, "bore": "86 mm", "stroke": {"value": 73, "unit": "mm"}}


FRESH_BORE = """
local asked = 0
request = function()
  asked = asked + 1
  local body = string.gsub(wrk.body, '"bore": "86 mm"', string.format('"bore": "%.5f mm"', 80 + (asked % 900000) / 100000))
  return wrk.format(nil, nil, nil, body)
end
"""


@dataclass
class Case:
    """One comparison: the request to the service and the size of its answer, which the twin gives as well."""

    name: str
    method: str
    path: str
    body: bytes = b""
    headers: tuple[tuple[str, str], ...] = ()
    goal: str = ""
    fresh: str = ""  # Lua that makes another question of every request, so that no kept answer serves it


def cases() -> list[Case]:
    """What is compared."""
    json_header = (("Content-Type", "application/json"),)
    small = json.dumps(DISPLACEMENT).encode()
    address = "/v1/displacement?cylinders=4&bore=86mm&stroke=73mm"
    return [
        Case("displacement, asked again", "POST", "/v1/displacement", small, json_header, "≥ 0.95"),
        Case("displacement, always another", "POST", "/v1/displacement", small, json_header, "", FRESH_BORE),
        Case("GET displacement", "GET", address),
        Case("GET displacement, 304", "GET", address, headers=(("If-None-Match", "*"),), goal="> GET"),
        Case(
            "compression, always another", "POST", "/v1/compression", _example("compression"), json_header, "≥ 0.8", FRESH_BORE
        ),
        Case("torque, asked again", "POST", "/v1/torque", _example("torque"), json_header, "≥ 0.8"),
        Case("reference row", "GET", "/v1/reference/threads/M8x1.25", goal="≥ 1.2"),
        Case("reference row, 304", "GET", "/v1/reference/threads/M8x1.25", headers=(("If-None-Match", "*"),), goal="> row"),
        Case("build sheet, asked again", "POST", "/v1/build-sheet", BUILD.read_bytes(), json_header, "≥ 0.33"),
        Case("build sheet, always another", "POST", "/v1/build-sheet", BUILD.read_bytes(), json_header, "≥ 0.33", FRESH_BORE),
        Case("build sheet as a page", "POST", "/v1/build-sheet?format=html", BUILD.read_bytes(), json_header, "", FRESH_BORE),
    ]


def _example(topic: str) -> bytes:
    from service.answers.topics import BY_NAME

    return json.dumps(BY_NAME[topic].examples[0].request).encode()


@contextmanager
def serving(app: str, **environment: str) -> Iterator[tuple[str, int]]:
    """One worker of an app on a free loopback port: its address and its process."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    env = os.environ | {"RUNSTAND_PORT": str(port), "RUNSTAND_LOG_LEVEL": "warning", "RUNSTAND_APP": app, **environment}
    with tempfile.TemporaryFile() as sink:
        command = [sys.executable, "-m", "service.api.serve"]
        server = subprocess.Popen(command, env=env | {"PYTHONPATH": str(ROOT)}, stdout=sink, cwd=ROOT)
        base = f"http://127.0.0.1:{port}"
        try:
            _wait(base, server)
            yield base, server.pid
        finally:
            server.send_signal(signal.SIGTERM)
            server.wait(timeout=15)


def _wait(base: str, server: "subprocess.Popen[bytes]") -> None:
    for _ in range(400):
        if server.poll() is not None:
            raise SystemExit(f"the server ended with {server.returncode}")
        try:
            urllib.request.urlopen(base + "/", timeout=1)
            return
        except urllib.error.HTTPError:
            return
        except OSError:
            time.sleep(0.02)
    raise SystemExit("the server did not start")


def load(url: str, case: Case, seconds: int, connections: int) -> tuple[float, float]:
    """Requests a second and the 99th percentile of the latency in ms, by wrk."""
    lua = f"wrk.method = {case.method!r}\n"
    with tempfile.NamedTemporaryFile("w", suffix=".lua", encoding="utf-8") as script:
        if case.body:
            body = case.body.decode().replace("]]", "] ]")
            lua += f"wrk.body = [[{body}]]\n"
        lua += "".join(f"wrk.headers[{name!r}] = {value!r}\n" for name, value in case.headers)
        script.write(lua + case.fresh)
        script.flush()
        command = ["wrk", "-t1", f"-c{connections}", f"-d{seconds}s", "--latency", "-s", script.name, url]
        out = subprocess.run(command, capture_output=True, text=True, check=True).stdout
    if "Non-2xx" in out and "If-None-Match" not in dict(case.headers):
        raise SystemExit(f"{case.name}: not every answer was a success\n{out}")
    rate = re.search(r"Requests/sec:\s+([\d.]+)", out)
    tail = re.search(r"99%\s+([\d.]+)(us|ms|s)", out)
    if rate is None or tail is None:
        raise SystemExit(out)
    return float(rate[1]), float(tail[1]) * {"us": 0.001, "ms": 1.0, "s": 1000.0}[tail[2]]


def size_of(base: str, case: Case) -> int:
    """Octets of the service's answer."""
    headers = {name: value for name, value in case.headers if name != "If-None-Match"}
    request = urllib.request.Request(base + case.path, case.body or None, headers, method=case.method)
    with urllib.request.urlopen(request) as answer:
        return len(answer.read())


def main() -> None:
    """Run every comparison and print the table."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n", 1)[0])
    parser.add_argument("--rounds", type=int, default=5)
    parser.add_argument("--seconds", type=int, default=2)
    parser.add_argument("--connections", type=int, default=16)
    options = parser.parse_args()
    if not shutil.which("wrk"):
        raise SystemExit("install Debian's package wrk")
    start_up()
    print("| question | share of its empty twin (median, spread) | goal | requests/s | p99 ms (twin) |")
    print("|---|---|---|---|---|")
    with serving("service.app:create_app") as (base, _):
        for case in cases():
            octets = size_of(base, case)
            with serving("tests.bench.twin:create_twin", TWIN_BYTES=str(octets)) as (twin, _):
                row = _compare(case, base + case.path, twin + "/twin", options)
            print(f"| {case.name} ({octets:,} octets) | {row}", flush=True)
        small = cases()[0]
        with serving("tests.bench.twin:create_tutorial") as (tutorial, _):
            body = json.dumps({"cylinders": 4, "bore": {"value": 86, "unit": "mm"}, "stroke": {"value": 73, "unit": "mm"}})
            other = Case("tutorial", "POST", "/tutorial", body.encode(), small.headers)
            ratios = [
                load(base + small.path, small, options.seconds, options.connections)[0]
                / load(tutorial + "/tutorial", other, options.seconds, options.connections)[0]
                for _ in range(options.rounds)
            ]
        print(f"| displacement, asked again, against the tutorial's way | {statistics.median(ratios):.1f} × | ≥ 6 × | | |")


def start_up(times: int = 5) -> None:
    """Seconds from the start of the process to the first answer, and what one worker then holds in memory."""
    seconds, resident = [], 0
    for _ in range(times):
        begun = time.perf_counter()
        with serving("service.app:create_app") as (base, pid):
            urllib.request.urlopen(base + "/v1/displacement?cylinders=4&bore=86mm&stroke=73mm").read()
            seconds.append(time.perf_counter() - begun)
            status = Path(f"/proc/{pid}/status").read_text(encoding="ascii")
            resident = int(status.split("VmRSS:")[1].split()[0]) // 1024
    spread = f"{min(seconds):.2f}–{max(seconds):.2f}"
    print(f"Start to first answer: {statistics.median(seconds):.2f} s ({spread}); one worker then holds {resident} MB.\n")


def _compare(case: Case, ours: str, twin: str, options: argparse.Namespace) -> str:
    ratios, rates, tails, twin_tails = [], [], [], []
    for _ in range(options.rounds):
        rate, tail = load(ours, case, options.seconds, options.connections)
        twin_rate, twin_tail = load(twin, case, options.seconds, options.connections)
        ratios.append(rate / twin_rate)
        rates.append(rate)
        tails.append(tail)
        twin_tails.append(twin_tail)
    spread = f"{min(ratios):.2f}–{max(ratios):.2f}"
    median = statistics.median
    latency = f"{median(tails):.1f} ({median(twin_tails):.1f})"
    return f"{median(ratios):.2f} ({spread}) | {case.goal} | {median(rates):,.0f} | {latency} |"


if __name__ == "__main__":
    main()
