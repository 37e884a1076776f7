"""The ``runstand`` command, run as a person runs it."""

import json
import re
import subprocess
import sys
from pathlib import Path

import pytest

from tests.client import Client

ROOT = Path(__file__).parents[1]


def _run(*words: str, given: str = "") -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-c", "from service.cli import main; main()", *words]
    return subprocess.run(command, cwd=ROOT, input=given, capture_output=True, text=True, timeout=60, check=False)


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


@pytest.mark.server
def test_the_demo_starts_the_real_server_and_leaves() -> None:
    shown = _run("demo", "--once", "--units", "us")
    assert shown.returncode == 0, shown.stderr
    assert "103.5 in³ (1696.2 cm³)" in shown.stdout
    assert "sha256:" in shown.stdout
