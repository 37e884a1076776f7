"""The wall: each published case that the service can answer, asked through the API; the others with their reason."""

from collections.abc import Mapping
from html import unescape
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from service.cli import app
from service.faces.evidence import Case, Judged, Wall, read_wall
from tests.client import Client

FILE = Path(__file__).parent / "wall.json"
WALL: Wall = read_wall(FILE)
ASKED = tuple(case for case in WALL.cases if case.applicable)
LEFT_OUT = tuple(case for case in WALL.cases if not case.applicable)
MISPRINTED = tuple(case for case in WALL.cases if case.entry["printed"] == "wrong-in-print")


def judged(case: Case, client: Client) -> list[Judged]:
    """The figures of a case as the API answers them; a refusal fails with its text."""

    def ask(path: str, document: Mapping[str, Any] | None) -> Any:
        reply = client.get(path) if document is None else client.post(path, document)
        assert reply.status_code == 200, f"{case}\n{path} refused: {reply.text[:500]}"
        return reply.json()

    return case.judge(ask, WALL.folder)


@pytest.mark.parametrize("case", ASKED, ids=lambda case: str(case.id))
def test_the_service_answers_what_is_published(case: Case, client: Client) -> None:
    figures = judged(case, client)
    assert figures, f"{case}: nothing is compared"
    wrong = [
        f"{f.name}: expected {f.expected} ({f.tolerance}), answered {f.answered:.7g} {f.unit}"
        for f in figures
        if f.verdict != "agrees"
    ]
    assert not wrong, f"{case}\n" + "\n".join(wrong)


def test_every_case_of_the_collection_is_asked_or_has_a_reason() -> None:
    """208 cases were collected; none is lost on the way, and each that is not asked says why in a sentence."""
    assert len(ASKED) + len(LEFT_OUT) == 208
    assert len({case.id for case in WALL.cases}) == 208
    assert len(ASKED) >= 180
    for case in LEFT_OUT:
        assert len(str(case.entry["why"]).split()) >= 5, case
        assert not case.entry.get("figures"), case


def test_every_case_names_its_source_and_how_it_is_known() -> None:
    for case in WALL.cases:
        assert case.entry["source"], case.id
        assert case.entry["provenance"], case.id


def test_every_asked_case_says_why_its_tolerance_is_what_it_is() -> None:
    for case in ASKED:
        assert case.entry["tolerance_because"], case
        for figure in case.entry["figures"]:
            assert "rows" in figure or "tolerance" in figure or {"low", "high"} <= set(figure), case


@pytest.mark.parametrize("case", [case for case in MISPRINTED if case.applicable], ids=lambda case: str(case.id))
def test_a_misprint_does_not_come_out(case: Case, client: Client) -> None:
    """The right figure agrees, and what the print says is further from the answer than any rounding."""
    marked = [figure for figure in judged(case, client) if figure.wrong_in_print]
    assert marked, f"{case}: no figure is marked as wrong in print"
    for figure in marked:
        printed = float(figure.wrong_in_print.partition(" ")[0])
        assert abs(figure.answered - printed) > 0.01 * abs(printed), case
        assert figure.verdict == "agrees", case


def test_a_wrong_answer_is_noticed(client: Client) -> None:
    """The judgement can fail: an answer 1 % beside the truth deviates in every case that is printed to three figures."""
    case = next(case for case in ASKED if case.id == "D04")

    def ask(path: str, document: Mapping[str, Any] | None) -> Any:
        answer = client.post(path, document).json()
        answer["result"]["displacement"]["value"] *= 1.01
        return answer

    assert {figure.verdict for figure in case.judge(ask, WALL.folder)} == {"deviates"}


def test_the_evidence_command_writes_a_page_with_every_case(tmp_path: Path) -> None:
    page = tmp_path / "evidence.html"
    done = CliRunner().invoke(app, ["evidence", str(page)])
    assert done.exit_code == 0, done.output
    text = unescape(page.read_text(encoding="utf-8"))
    assert f"{len(ASKED)} asked" in done.output.replace("\n", " ")
    for case in WALL.cases:
        assert f">{case.id}</th>" in text
        assert str(case.entry["source"]) in text
    for case in LEFT_OUT:
        assert str(case.entry["why"]) in text
    assert "<script" not in text


def test_the_evidence_command_checks_without_writing(tmp_path: Path) -> None:
    page = tmp_path / "evidence.html"
    done = CliRunner().invoke(app, ["evidence", str(page), "--check"])
    assert done.exit_code == 0, done.output
    assert not page.exists()
