"""The ``runstand`` command: serve, demo, sheet, openapi, dataset, evidence."""

import asyncio
import io
import json
import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Mapping
from dataclasses import replace
from enum import StrEnum
from pathlib import Path
from typing import Annotated, Any

import httpx
import typer
from rich.table import Table

from service import quantities
from service.answers.envelope import CALCULATION
from service.api.calculators import Controls, ProblemFound, asked_or_problem, limits_of, link_of
from service.api.openapi import document_bytes
from service.api.serve import serve as run_server
from service.api.strict_json import UnreadableJson, read_json
from service.app import create_app
from service.errors import BrokenDataset, RunstandError
from service.faces import evidence_page, json_face
from service.faces.evidence import read_wall
from service.faces.registry import faces_of
from service.quantities import UnitSystem
from service.reference import releases
from service.reference.loader import load_library
from service.settings import WrongSettings, read_settings
from service.sheet.sheet import TOPIC as BUILD_SHEET
from service.terminal import console, show_sheet, tell

ROOT = Path(__file__).parents[1]
OPENAPI_FILE = ROOT / "openapi" / "openapi.json"
WALL = ROOT / "tests" / "published" / "wall.json"
DEMO_BUILD = Path(__file__).parent / "sheet" / "demo_build.json"

app = typer.Typer(
    name="runstand",
    help="The numbers of building, first firing and breaking in a small air-cooled piston engine.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
)
dataset_app = typer.Typer(help="The reference dataset.", no_args_is_help=True)
app.add_typer(dataset_app, name="dataset")


class Units(StrEnum):
    """The systems of units, as a choice on the command line."""

    METRIC = "metric"
    US = "us"


UnitsOption = Annotated[Units, typer.Option(help="Units of the figures.")]


def main() -> None:
    """Entry point of the ``runstand`` command."""
    if isinstance(sys.stdout, io.TextIOWrapper):
        sys.stdout.reconfigure(errors="backslashreplace")  # a terminal without ³ or ° is told their numbers
    try:
        app()
    except BrokenDataset as error:
        tell(str(error), "The dataset is broken:")
        sys.exit(3)
    except (RunstandError, WrongSettings) as error:
        tell(str(error))
        sys.exit(2)
    except OSError as error:
        # Only a path that was typed is named: others tell of the machine.
        typed = any(Path(word) == Path(str(error.filename)) for word in sys.argv[1:])
        tell(f"{error.strerror or 'The machine refused a file or a socket'}.", f"{error.filename}:" if typed else "")
        sys.exit(2)


@app.command()
def serve(
    host: Annotated[str | None, typer.Option(help="Address to listen on.")] = None,
    port: Annotated[int | None, typer.Option(help="Port to listen on; 0 takes a free one.")] = None,
    workers: Annotated[int | None, typer.Option(help="Processes that share the port.")] = None,
) -> None:
    """Serve the API until Ctrl-C; everything else is set by RUNSTAND_… variables (see DEVELOPERS.md)."""
    given = {"host": host, "port": port, "workers": workers}
    raise typer.Exit(run_server(read_settings(**{name: value for name, value in given.items() if value is not None})))


@app.command()
def demo(
    once: Annotated[bool, typer.Option("--once", help="Leave after the sheet is shown.")] = False,
    units: UnitsOption = Units.METRIC,
) -> None:
    """Start the real server, send it the invented demo build, show the sheet, and stay up until Ctrl-C."""
    build = json.loads(DEMO_BUILD.read_bytes())
    port = _free_port()
    environment = os.environ | {"RUNSTAND_PORT": str(port), "RUNSTAND_HOST": "127.0.0.1", "RUNSTAND_LOG_REQUESTS": "false"}
    command = [sys.executable, "-m", "service.api.serve"]
    server = subprocess.Popen(command, env=environment | {"RUNSTAND_LOG_LEVEL": "warning"})  # noqa: S603 - our own module
    base = f"http://127.0.0.1:{port}"
    try:
        _wait_until_ready(base, server)
        answer = httpx.post(f"{base}/v1/build-sheet", params={"units": units.value}, json=build, timeout=30)
        if answer.status_code != 200:
            console.print_json(answer.text)
            raise typer.Exit(1)
        sheet = answer.json()
        show_sheet(sheet)
        _where_next(base, sheet, stays=not once)
        if not once:
            signal.pause()
    except KeyboardInterrupt:
        console.print("Stopped.")
    finally:
        server.terminate()
        server.wait(timeout=10)


@app.command()
def sheet(
    file: Annotated[Path, typer.Argument(help="A build document in JSON; - reads standard input.")],
    units: UnitsOption = Units.METRIC,
    face: Annotated[str, typer.Option("--format", help="table, text, html, csv or json.")] = "table",
    dataset: Annotated[str | None, typer.Option(help="Pins the version of the reference dataset.")] = None,
    server: Annotated[str, typer.Option(help="Address of a service, put before the permalink: https://bench.example.")] = "",
) -> None:
    """Make the build sheet of a file, without a server; its permalink opens it again at any service."""
    body = sys.stdin.buffer.read() if str(file) == "-" else file.read_bytes()
    version = load_library(read_settings().data, quantities.convert).get(dataset)
    try:
        asked = asked_or_problem(BUILD_SHEET, read_json(body, limits_of(BUILD_SHEET)), version, from_query=False)
    except UnreadableJson as error:
        tell(error.reason, error.pointer or "")
        raise typer.Exit(2) from None
    except ProblemFound as found:
        _, detail, errors, _ = found.problem
        for entry in errors or [{"detail": detail}]:
            tell(entry["detail"], entry.get("pointer", ""))
        raise typer.Exit(2) from None
    system: UnitSystem = "us" if units is Units.US else "metric"
    link = link_of(asked, Controls(system, dataset, None, None, None))
    asked = replace(asked, link=f"{server.rstrip('/')}{link}" if link else "")
    if face == "table":
        show_sheet(json.loads(json_face.write(asked, system)))
    elif face == "json":
        sys.stdout.buffer.write(json_face.write(asked, system, {"self": asked.link} if link else {}) + b"\n")
    elif face in faces_of(BUILD_SHEET.name):
        sys.stdout.buffer.write(faces_of(BUILD_SHEET.name)[face](asked, system))
    else:
        console.print(f"The formats are table, json, {', '.join(faces_of(BUILD_SHEET.name))}.")
        raise typer.Exit(2)


@app.command()
def openapi(
    check: Annotated[bool, typer.Option("--check", help="Only tell whether the committed file is true.")] = False,
) -> None:
    """Write openapi/openapi.json from the code."""
    fresh = document_bytes()
    if check:
        if not OPENAPI_FILE.exists() or OPENAPI_FILE.read_bytes() != fresh:
            console.print("openapi/openapi.json is out of date: run: runstand openapi")
            raise typer.Exit(1)
        console.print("openapi/openapi.json is true.")
        return
    OPENAPI_FILE.parent.mkdir(exist_ok=True)
    OPENAPI_FILE.write_bytes(fresh)
    console.print(f"Wrote {OPENAPI_FILE.relative_to(ROOT)} ({len(fresh):,} octets).")


@app.command()
def evidence(
    file: Annotated[Path, typer.Argument(help="The page to write.")] = Path("evidence.html"),
    check: Annotated[bool, typer.Option("--check", help="Write nothing; leave with 1 when a figure deviates.")] = False,
) -> None:
    """Ask every published case through the API and write the page of expected and answered figures."""
    if not WALL.exists():
        console.print("The published cases are part of the clone (tests/published), not of the installed package.")
        raise typer.Exit(2)
    if not check:
        file.open("ab").close()  # whether it can be written shows now and not after every case was asked
    wall = read_wall(WALL)
    with asyncio.Runner() as runner:
        transport = httpx.ASGITransport(create_app(read_settings(log_requests=False)))
        http = httpx.AsyncClient(transport=transport, base_url="http://localhost")

        def ask(path: str, document: Mapping[str, Any] | None) -> Any:
            question = http.get(path) if document is None else http.post(path, json=document)
            return runner.run(question).json()

        results = [(case, case.judge(ask, wall.folder)) for case in wall.cases if case.applicable]
    for case, judged in results:
        for figure in judged:
            if figure.verdict == "deviates":
                tell(f"{figure.name} is {figure.expected}, answered {figure.answered:.7g}", f"{case}:")
    numbers = evidence_page.counts(wall, results)
    console.print(", ".join(f"{number} {name}" for name, number in numbers.items()) + ".")
    if not check:
        version = load_library(read_settings().data, quantities.convert).newest.version
        file.write_bytes(evidence_page.write(wall, results, f"Dataset {version}, calculation {CALCULATION}"))
        console.print(f"Wrote {file}.")
    elif numbers["deviating figures"]:
        raise typer.Exit(1)


@dataset_app.command("check")
def dataset_check() -> None:
    """Verify every version: sums, every row, every source, and a cause for every difference."""
    library = releases.check(read_settings().data, quantities.convert)
    for version in library.versions:
        held = library.get(version)
        rows = sum(1 for _ in held.facts())
        console.print(f"{version}  {rows:5} facts in {len(held.tables)} tables  sha256 {held.sha256}")


@dataset_app.command("diff")
def dataset_diff(since: str, until: str) -> None:
    """Show every row that differs between two versions, with its cause."""
    table = Table("change", "row", "was", "is", "cause")
    for change in load_library(read_settings().data, quantities.convert).diff(since, until):
        before, after = (fact.printed if fact else "" for fact in (change.before, change.after))
        table.add_row(change.kind, "/".join(change.fact.key[:3]), before, after, change.cause)
    console.print(table)


@dataset_app.command("release")
def dataset_release(version: str, released: Annotated[str, typer.Argument(help="The day, as 2026-12-01.")]) -> None:
    """Write the manifest of a version that is not released yet; a released one is never touched."""
    releases.release(read_settings().data, version, quantities.convert, released=released)
    console.print(f"Released {version}.")


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def _wait_until_ready(base: str, server: subprocess.Popen[bytes]) -> None:
    for _ in range(200):
        if server.poll() is not None:
            raise typer.Exit(server.returncode)
        try:
            if httpx.get(f"{base}/health/ready", timeout=1).status_code == 200:
                return
        except httpx.HTTPError:
            time.sleep(0.05)
    console.print("The server did not become ready.")
    raise typer.Exit(1)


def _where_next(base: str, sheet: dict[str, Any], *, stays: bool) -> None:
    link = sheet["links"].get("self", "")
    console.print(f"\nDataset {sheet['dataset']['version']}, calculation {sheet['calculation']}, {sheet['answer_id']}")
    if stays:
        console.print(f"Documentation  {base}/docs", soft_wrap=True)
        if link:
            console.print(f"To print       {base}{link}&format=html", soft_wrap=True)
        console.print("Ctrl-C stops the server.")
