"""What single things cost in processor time, the best of several runs: the promises that are not requests a second.

    python tests/bench/costs.py

It prints a table with the promise beside each figure, and asserts nothing: a shared machine makes a liar of any timed test.
"""

import asyncio
import contextlib
import json
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from time import process_time

import numpy as np

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT))

from service import quantities  # noqa: E402
from service.answers.asking import ask  # noqa: E402
from service.answers.topics import BY_NAME  # noqa: E402
from service.api.strict_json import UnreadableJson, read_json  # noqa: E402
from service.calculations.piston_motion import piston_motion_table  # noqa: E402
from service.calculations.shims import choose_shims  # noqa: E402
from service.faces import json_face  # noqa: E402
from service.faces.registry import faces_of  # noqa: E402
from service.quantities import NotAQuantity, parse_text  # noqa: E402
from service.reference.loader import load_library  # noqa: E402
from service.settings import Settings  # noqa: E402
from service.sheet.sheet import TOPIC as BUILD_SHEET  # noqa: E402
from tests.trust import golden  # noqa: E402

Row = tuple[str, str, str]

GOOD = b'{"cylinders": 4, "bore": {"value": 94, "unit": "mm"}, "stroke": {"value": 69, "unit": "mm"}}'
HOSTILE = {
    "87,000 empty lists": b"[" + b"[]," * 87_000 + b"1]",
    "262,000 brackets": b"[" * 262_000,
    "a name repeated in the last of 20 objects": b"["
    + b",".join(b"{" + b",".join(b'"%x":1' % name for name in range(240)) + b"}" for _ in range(20))
    + b',{"a":1,"a":2}]',
    "escaped colons": b'["' + b'","'.join([b"\\u003a" * 190] * 220) + b'"]',
    "a number of 262,000 digits": b"1" * 262_000,
    "a text of 43,000 escapes": b'"' + b"\\u0041" * 43_000 + b'"',
    "a text of 9,000 escaped marks that never ends": b"," * 5_001 + b'"' + b'\\"' * 9_000 + b"x" * 200_000,
    "2,400 nested objects": b"[" + b'{"a":{}},' * 2_400 + b"1]",
}


def cost(call: Callable[[], object], times: int = 1, tries: int = 7) -> float:
    """Seconds of processor time of one call, the best of several tries."""
    best = float("inf")
    for _ in range(tries):
        begun = process_time()
        for _ in range(times):
            call()
        best = min(best, (process_time() - begun) / times)
    return best


def reading(body: bytes) -> Callable[[], None]:
    """A reader of one body that does not mind a refusal."""

    def read() -> None:
        with contextlib.suppress(UnreadableJson):
            read_json(body)

    return read


def start_up() -> Iterator[Row]:
    """The dataset at start, in fresh processes."""
    program = (
        "import time; from pathlib import Path; from service.quantities import convert; convert(1.0, 'mm');"
        "t = time.process_time();"
        "from service.reference.loader import load_library; load_library(Path('data'), convert); print(time.process_time() - t)"
    )
    command = [sys.executable, "-c", program]
    best = min(float(subprocess.check_output(command, cwd=ROOT, text=True)) for _ in range(5))
    yield "verify, validate and build both datasets, importing SQLModel", f"{best:.2f} s", "≤ 0.6 s"


def calculations() -> Iterator[Row]:
    """Tables, shims and the grammar of quantities."""
    table = cost(lambda: piston_motion_table(stroke=0.073, rod_length=0.136, speed=500.0, pin_offset=0.001), 20)
    yield "720 points of piston motion", f"{table * 1e3:.2f} ms", "< 3 ms"
    odd = [((500 + (step * 7919) % 19501) * 1e-7, 10) for step in range(30)]
    gap = sum(thickness for thickness, _ in odd) / 30 * 4 + 0.1e-3
    shims = cost(lambda: choose_shims(gap=gap, low=0.07e-3, high=0.13e-3, pick=4, stock=odd))
    yield "4 shims from 30 kinds without a common step", f"{shims * 1e3:.1f} ms", "< 50 ms"
    yield "a quantity from text", f"{cost(lambda: parse_text('3 3/8 in', 'length'), 5_000) * 1e6:.1f} µs", "≤ 50 µs"

    def hostile_text() -> None:
        with contextlib.suppress(NotAQuantity):
            parse_text("9**9**9**9**9**9**9**9**9**9**9 m", "length")

    yield "a hostile text for a quantity", f"{cost(hostile_text, 500) * 1e6:.0f} µs", "bounded"


def bodies() -> Iterator[Row]:
    """Hostile bodies within the cap, against a good one."""
    unit = cost(reading(GOOD), 2_000)
    yield "reading a small body strictly", f"{unit * 1e6:.1f} µs", ""
    for name, body in HOSTILE.items():
        yield f"refusing {name}", f"{cost(reading(body)) * 1e3:.2f} ms", "≤ 30 requests of 0.15 ms = 4.5 ms"


def requests() -> Iterator[Row]:
    """Hostile questions through the whole app, against a new good question of the same kind."""
    service = golden.app()

    def asked(path: str, document: Callable[[int], object]) -> float:
        """Seconds of one request; each try asks anew, since an answer is kept."""
        best = float("inf")
        for number in range(9):
            request = {"method": "POST", "path": path, "body": json.dumps(document(number))}
            begun = process_time()
            asyncio.run(golden.ask(service, request))
            best = min(best, process_time() - begun)
        return best

    for name, path, good, hostile in _questions():
        unit = asked(path, good)
        taken = asked(path, hostile)
        yield f"{path}: {name}", f"{taken * 1e3:.2f} ms, {taken / unit:.1f} good ones", "≤ 30 good ones"


def _questions() -> Iterator[tuple[str, str, Callable[[int], object], Callable[[int], object]]]:
    """What is hostile, where, a good question, and the hostile one; each a little different from try to try."""
    units = [f"{number} ft-lb-inx{number}" for number in range(64)]
    lists = dict.fromkeys(("bores", "strokes", "rods", "spacers", "crowns", "gaskets"), units)

    def displacement(number: int) -> object:
        return {"cylinders": 4, "bore": f"{80 + number} mm", "stroke": "73 mm"}

    def combinations(number: int) -> object:
        example = BY_NAME["combinations"].examples[0].request
        return {**example, "best": 1 + number}

    yield "256 unknown names", "/v1/displacement", displacement, lambda n: {f"bor{n}{k}": 1 for k in range(256)}
    yield "1,200 long texts", "/v1/displacement", displacement, lambda n: {f"k{n}{k}": "x" * 190 for k in range(1_200)}
    yield "two unknown units", "/v1/displacement", displacement, lambda n: {"bore": f"{n} ft-lb-ix", "stroke": "7 lb-xy"}
    yield "384 unknown units", "/v1/combinations", combinations, lambda n: {**lists, "best": n}


def answers() -> Iterator[Row]:
    """The sheet, its page, and logs."""
    dataset = load_library(Settings().data, quantities.convert).newest
    build = json.loads((ROOT / "service" / "sheet" / "demo_build.json").read_bytes())
    sheet = ask(BUILD_SHEET, build, dataset)
    yield "the demo's sheet, worked out", f"{cost(lambda: ask(BUILD_SHEET, build, dataset)) * 1e3:.1f} ms", "≤ 2 ms"
    whole = cost(lambda: json_face.write(ask(BUILD_SHEET, build, dataset)))
    yield "the demo's sheet, worked out and written as JSON", f"{whole * 1e3:.1f} ms", ""
    page = cost(lambda: faces_of(BUILD_SHEET.name)["html"](sheet, "metric"))
    yield "the demo's sheet as a page", f"{page * 1e3:.1f} ms", "≤ 3 ms"
    thread = cost(lambda: dataset.entity("threads", "M8x1.25").si("stress_area"), 20_000)
    yield "a fact of the dataset", f"{thread * 1e6:.2f} µs", "≤ 5 µs"
    assessment = BY_NAME["break_in_assessment"]
    for rows, step, promise in ((12_000, 0.1, "≤ 25 ms beyond parsing"), (200_000, 0.02, "≤ 0.5 s")):
        document = {"schedule": {"tappet": "flat"}, "log": _log(rows, step)}
        taken = cost(lambda document=document: ask(assessment, document, dataset), tries=3)  # type: ignore[misc]
        yield f"a log of {rows:,} rows of CSV, read and judged", f"{taken * 1e3:.0f} ms", promise


def _log(rows: int, step: float) -> str:
    """A good run of the given length as CSV, with a little noise from a fixed seed."""
    rng = np.random.default_rng(7)
    time = np.arange(rows) * step
    speed = 2400 + 350 * np.sin(time / 20) + rng.normal(0, 8, rows)
    oil = 20 + 75 * (1 - np.exp(-time / 400))
    pressure = 420 - 2 * oil + rng.normal(0, 3, rows)
    body = "\n".join(f"{t:.2f},{n:.0f},{p:.0f},{o:.1f}" for t, n, p, o in zip(time, speed, pressure, oil, strict=True))
    return "time [s],rpm,oil pressure [kPa],oil temperature [degC]\n" + body


def main() -> None:
    """Print the table."""
    print("| what | processor time | promise |\n|---|---|---|")
    for part in (start_up, calculations, bodies, requests, answers):
        for what, figure, promise in part():
            print(f"| {what} | {figure} | {promise} |", flush=True)


if __name__ == "__main__":
    main()
