"""Clients generated from the OpenAPI document: TypeScript types that compile, a Python client that asks the real server."""

import os
import socket
import subprocess
import sys
import time
import venv
from collections.abc import Iterator
from pathlib import Path
from urllib.error import URLError
from urllib.request import urlopen

import pytest

ROOT = Path(__file__).parents[2]
DOCUMENT = ROOT / "openapi" / "openapi.json"
pytestmark = [pytest.mark.server, pytest.mark.slow]

TYPED_QUESTION = """
import type { components, paths } from "./runstand";
type Question = components["schemas"]["DisplacementRequest"];
const question: Question = { cylinders: 4, bore: "86 mm", stroke: "86 mm" };
type Answer = paths["/v1/displacement"]["post"]["responses"][200]["content"]["application/json"];
export const receipt = (answer: Answer): string => answer.answer_id + question.cylinders;
export const bore = (answer: Answer): string => answer.result.bore.text;
export const assumed = (answer: Answer): string[] => answer.assumptions.map((it) => `${it.field}: ${it.reason}`);
type Problem = paths["/v1/displacement"]["post"]["responses"][422]["content"]["application/problem+json"];
export const faults = (problem: Problem): string[] =>
  (problem.errors ?? []).map((it) => [it.pointer ?? it.parameter ?? "", it.detail, ...(it.allowed ?? [])].join());
type Batch = paths["/v1/batch"]["post"]["responses"][200]["content"]["application/json"];
export const results = (batch: Batch): (components["schemas"]["DisplacementResult"] | undefined)[] =>
  batch.items.map((it) => it.answer?.result as components["schemas"]["DisplacementResult"] | undefined);
type Sheet = paths["/v1/build-sheet"]["post"]["responses"][200]["content"]["application/json"]["result"];
export const lines = (sheet: Sheet): string[] => sheet.work.map((it) => `${it.stage} ${it.task} ${it.value?.text ?? it.words}`);
export const stages = (sheet: Sheet): string[] => sheet.stages.map((it) => it.title);
export const missing = (sheet: Sheet): string[] => sheet.missing.map((it) => it.input);
export const ratio = (sheet: Sheet): number | undefined => sheet.sections.compression?.compression_ratio;
export const nuts = (sheet: Sheet): string[] => (sheet.sections.torque ?? []).map((it) => it.torque.text);
"""
MISTYPED_QUESTION = TYPED_QUESTION.replace("cylinders: 4", 'cylinders: "four"')
ASK = """
import sys
from runstand_client import Client
from runstand_client.api.calculators import post_displacement
from runstand_client.models import DisplacementRequest
question = DisplacementRequest.from_dict({"cylinders": 4, "bore": "100 mm", "stroke": "127 mm"})
answer = post_displacement.sync_detailed(client=Client(base_url=sys.argv[1]), body=question)
assert answer.status_code == 200, answer.content
print(answer.parsed.to_dict()["result"]["displacement"]["value"])
"""


def run(*command: str, folder: Path) -> str:
    done = subprocess.run(command, cwd=folder, capture_output=True, text=True, timeout=80, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


@pytest.fixture(scope="module")
def base() -> Iterator[str]:
    """A real server on a free port."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = int(probe.getsockname()[1])
    environment = os.environ | {"RUNSTAND_PORT": str(port), "RUNSTAND_HOST": "127.0.0.1", "RUNSTAND_LOG_LEVEL": "warning"}
    server = subprocess.Popen([sys.executable, "-m", "service.api.serve"], env=environment, cwd=ROOT)
    address = f"http://127.0.0.1:{port}"
    try:
        for _ in range(200):
            try:
                urlopen(f"{address}/health/ready", timeout=1).close()
                break
            except URLError:
                time.sleep(0.05)
        yield address
    finally:
        server.terminate()
        server.wait(timeout=15)


def test_the_document_passes_a_linter_of_openapi(tmp_path: Path) -> None:
    """Referee: Spectral's rules for OpenAPI. There is nobody to name as a contact: whoever runs the service is."""
    run("npm", "install", "--no-audit", "--no-fund", "@stoplight/spectral-cli@6", folder=tmp_path)
    (tmp_path / "rules.yaml").write_text("extends: spectral:oas\nrules:\n  info-contact: off\n", encoding="utf-8")
    found = run("npx", "spectral", "lint", str(DOCUMENT), "--ruleset", "rules.yaml", "--fail-severity", "hint", folder=tmp_path)
    assert "No results with a severity of 'hint' or higher found!" in found


def test_the_typescript_types_compile_and_catch_a_wrong_question(tmp_path: Path) -> None:
    run("npm", "install", "--no-audit", "--no-fund", "typescript@5", "openapi-typescript@7", folder=tmp_path)
    run("npx", "openapi-typescript", str(DOCUMENT), "-o", "runstand.d.ts", folder=tmp_path)
    (tmp_path / "right.ts").write_text(TYPED_QUESTION, encoding="utf-8")
    (tmp_path / "wrong.ts").write_text(MISTYPED_QUESTION, encoding="utf-8")
    run("npx", "tsc", "--noEmit", "--strict", "right.ts", folder=tmp_path)
    wrong = subprocess.run(
        ["npx", "tsc", "--noEmit", "--strict", "wrong.ts"],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert wrong.returncode != 0
    assert "not assignable to type 'number'" in wrong.stdout


def test_the_python_client_asks_the_real_server(tmp_path: Path, base: str) -> None:
    """Published: 100 × 127 mm, four cylinders: 3990 cm³ (243 in³)."""
    venv.create(tmp_path / "venv", with_pip=True)
    python = str(tmp_path / "venv" / "bin" / "python")
    run(python, "-m", "pip", "install", "-q", "--disable-pip-version-check", "openapi-python-client", folder=tmp_path)
    (tmp_path / "config.yml").write_text("package_name_override: runstand_client\npost_hooks: []\n", encoding="utf-8")
    generator = str(tmp_path / "venv" / "bin" / "openapi-python-client")
    output = ("--meta", "none", "--output-path", "runstand_client")
    run(generator, "generate", "--path", str(DOCUMENT), "--config", "config.yml", *output, folder=tmp_path)
    (tmp_path / "ask.py").write_text(ASK, encoding="utf-8")
    assert float(run(python, "ask.py", base, folder=tmp_path)) == pytest.approx(3990, abs=1)
