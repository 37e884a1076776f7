"""The ``runstand`` command, run as a person runs it."""

import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from tests.client import Client

ROOT = Path(__file__).parents[1]


DEMO = ROOT / "service" / "sheet" / "demo_build.json"


def _run(*words: str, given: str = "", **environment: str) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-c", "from service.cli import main; main()", *words]
    return subprocess.run(
        command,
        cwd=ROOT,
        env=os.environ | environment,
        input=given,
        capture_output=True,
        encoding="utf-8",
        timeout=60,
        check=False,
    )


def test_the_dataset_check_names_both_versions() -> None:
    checked = _run("dataset", "check")
    assert checked.returncode == 0
    assert "2026.11" in checked.stdout
    assert "2026.12" in checked.stdout


def test_the_difference_of_two_versions_has_causes() -> None:
    assert "Added" in _run("dataset", "diff", "2026.11", "2026.12").stdout
    unknown = _run("dataset", "diff", "2026.11", "1999.1")
    assert (unknown.returncode, "not held" in unknown.stdout) == (2, True)


def test_a_sheet_from_a_file_and_from_standard_input_is_the_same() -> None:
    build = ROOT / "service" / "sheet" / "demo_build.json"
    from_file = _run("sheet", str(build), "--format", "json")
    from_input = _run("sheet", "-", "--format", "json", given=build.read_text(encoding="utf-8"))
    assert from_file.returncode == 0
    assert from_file.stdout == from_input.stdout
    assert json.loads(from_file.stdout)["result"]["sections"]["displacement"]


@pytest.mark.parametrize(
    ("options", "start"), [((), "/v1/"), (("--server", "http://bench.example/"), "http://bench.example/v1/")]
)
def test_a_printed_sheet_has_the_permalink_that_the_service_answers(
    options: tuple[str, ...], start: str, client: Client
) -> None:
    build = ROOT / "service" / "sheet" / "demo_build.json"
    page = _run("sheet", str(build), "--format", "html", *options).stdout
    found = re.search(r"<p class='mono receipt'>([^<]+)</p>", page)
    assert found is not None
    link = found[1].replace("&amp;", "&")
    assert link.startswith(f"{start}build-sheet?in=")
    path = link[link.index("/v1/") :]
    assert path == client.post("/v1/build-sheet", json.loads(build.read_bytes())).json()["links"]["self"]
    assert json.loads(_run("sheet", str(build), "--format", "json", *options).stdout)["links"] == {"self": link}


def test_the_table_of_a_sheet_shows_work_findings_and_gaps() -> None:
    shown = _run("sheet", str(ROOT / "service" / "sheet" / "demo_build.json")).stdout
    for words in ("Closing up", "torque wrench", "Findings", "Missing", "would unlock"):
        assert words in shown


@pytest.mark.parametrize(
    ("given", "told"),
    [('{"bore": 3.5}', "/bore"), ('{"bore": "86 mm"', "not valid JSON"), ("[1]", "Send an object"), ("", "empty")],
)
def test_a_wrong_document_is_told_in_plain_words(given: str, told: str) -> None:
    refused = _run("sheet", "-", given=given)
    assert refused.returncode == 2
    assert told in refused.stdout
    assert "Traceback" not in refused.stderr


def test_an_unknown_format_or_version_is_told() -> None:
    build = str(ROOT / "service" / "sheet" / "demo_build.json")
    assert "html" in _run("sheet", build, "--format", "docx").stdout
    assert "not held" in _run("sheet", build, "--dataset", "1999.1").stdout


def test_a_build_with_a_log_is_taken_as_the_service_takes_it(client: Client, tmp_path: Path) -> None:
    """A log is one long text, which the bounds of plain questions would refuse."""
    rows = "".join(f"{second},2000\n" for second in range(1200))
    build = json.loads(DEMO.read_bytes()) | {"break_in_assessment": {"log": f"time [s],speed [rpm]\n{rows}"}}
    file = tmp_path / "build.json"
    file.write_text(json.dumps(build), encoding="utf-8")
    shown = _run("sheet", str(file), "--format", "json")
    assert shown.returncode == 0, shown.stdout
    assert json.loads(shown.stdout)["answer_id"] == client.post("/v1/build-sheet", build).json()["answer_id"]


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("sheet", "no/such/build.json"), "no/such/build.json: No such file or directory."),
        (("sheet", "tests"), "tests: Is a directory."),
        (("evidence", "no/such/page.html"), "no/such/page.html: No such file or directory."),
        (("serve", "--port", "99999"), "port (RUNSTAND_PORT)"),
        (("serve", "--workers", "0"), "workers (RUNSTAND_WORKERS)"),
    ],
)
def test_what_cannot_be_done_is_told_in_one_line(words: tuple[str, ...], told: str) -> None:
    refused = _run(*words, COLUMNS="200")
    assert refused.returncode == 2
    assert told in refused.stdout
    assert refused.stdout.count("\n") == 1
    assert refused.stderr == ""


@pytest.mark.parametrize("words", [("serve",), ("sheet", str(DEMO)), ("dataset", "check")])
def test_a_wrong_variable_is_told_in_one_line(words: tuple[str, ...]) -> None:
    refused = _run(*words, COLUMNS="200", RUNSTAND_PORT="abc")
    assert (refused.returncode, refused.stderr) == (2, "")
    assert refused.stdout.startswith("port (RUNSTAND_PORT): ")
    assert refused.stdout.count("\n") == 1


def test_the_server_alone_tells_a_wrong_variable_in_one_line() -> None:
    """The container starts this module and not the command."""
    started = subprocess.run(
        [sys.executable, "-m", "service.api.serve"],
        cwd=ROOT,
        env=os.environ | {"RUNSTAND_PORT": "abc"},
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert started.returncode == 2
    assert "port (RUNSTAND_PORT)" in started.stderr
    assert started.stderr.count("\n") == 1


def test_units_are_a_choice() -> None:
    assert _run("sheet", str(DEMO), "--units", "furlong").returncode == 2
    assert "in³" in _run("sheet", str(DEMO), "--units", "us", "--format", "text").stdout


def test_an_output_without_the_signs_of_the_trade_gets_every_figure() -> None:
    """The faces are octets in UTF-8 whatever the terminal writes; its tables spell what it lacks."""
    plain = _run("sheet", str(DEMO), "--format", "text", PYTHONIOENCODING="ascii")
    assert plain.returncode == 0, plain.stderr
    assert plain.stdout == _run("sheet", str(DEMO), "--format", "text").stdout
    tables = _run("sheet", str(DEMO), PYTHONIOENCODING="ascii", COLUMNS="200")
    assert tables.returncode == 0, tables.stderr
    assert "cm\\xb3" in tables.stdout


@pytest.mark.parametrize("name", ["[bold]x[/]", "[link=https://parts.example]x[/link]", "[/]", "twin :smile: [red]"])
def test_texts_of_the_builder_are_shown_as_they_stand(name: str) -> None:
    build = json.loads(DEMO.read_bytes())
    build["identity"]["name"] = name
    shown = _run("sheet", "-", given=json.dumps(build), COLUMNS="200")
    assert shown.returncode == 0, shown.stderr
    assert f"{name} — Findings" in shown.stdout


@pytest.mark.parametrize("name", ["\x1b[2Jbuild", "\u202ebuild", "[bold]build[/]"])
def test_what_a_terminal_would_obey_is_not_told_to_it(name: str) -> None:
    """A pointer repeats the name that the document repeats."""
    refused = _run("sheet", "-", given=f"{{{json.dumps(name)}: 1, {json.dumps(name)}: 2}}")
    assert (refused.returncode, refused.stderr) == (2, "")
    assert "repeated" in refused.stdout
    assert "build" in refused.stdout
    assert "[bold]" not in name or name.replace("/", "~1") in refused.stdout
    assert not {"\x1b", "\u202e"} & set(refused.stdout)


@pytest.mark.server
def test_the_demo_starts_the_real_server_and_leaves() -> None:
    shown = _run("demo", "--once", "--units", "us")
    assert shown.returncode == 0, shown.stderr
    assert "103.5 in³ (1696.2 cm³)" in shown.stdout
    assert "sha256:" in shown.stdout
