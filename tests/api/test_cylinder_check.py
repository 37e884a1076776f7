"""Cylinder check over HTTP: lists in the address, the table, refusals at their place."""

import csv
import io
from typing import Any

import pytest

from tests.client import Client, faults
from tests.published.cases import published

PATH = "/v1/cylinder-check"
CASES = published("cylinder_check")
READINGS: dict[str, Any] = {"gauge_pressures": ["130 psi", "134 psi", "92 psi", "131 psi"], "altitude": "1000 ft"}


def test_published_limit_of_the_leak_test(client: Client) -> None:
    """60 of 80 psi is the 25 % of AC 43.13-1B (case S01): usable, one psi less is not."""
    limit = CASES["S01"]["expected"]["p_cyl"]
    supply = CASES["S01"]["given"]["p_in"]
    question = {"altitude": "0 m", "leak_down": {"supply": supply, "orifice": "0.040 in", "readings": [limit, "59 psi"]}}
    answer = client.post(PATH, question)
    assert answer.status_code == 200, answer.text
    leaks = [row["leak"] for row in answer.json()["result"]["cylinders"]]
    assert [leak["verdict"] for leak in leaks] == ["usable", "leaks"]
    assert leaks[0]["standard_share"]["value"] == pytest.approx(25, abs=1e-6)
    assert [finding["code"] for finding in answer.json()["findings"]] == ["leak-down"]


def test_readings_in_the_address_line(client: Client) -> None:
    """A list of readings is separated by commas; GET and POST say the same."""
    got = client.get(PATH, params={"gauge_pressures": "130psi,134psi,92psi,131psi", "altitude": "1000ft"})
    posted = client.post(PATH, READINGS)
    assert got.status_code == 200, got.text
    assert got.json() == posted.json()
    assert posted.json()["result"]["cylinders"][2]["verdict"] == "fault"


def test_fields_of_the_finding_lead_to_the_reading(client: Client) -> None:
    """The finding names the third reading, and the rule its source."""
    finding = next(f for f in client.post(PATH, READINGS).json()["findings"] if f["code"] == "compression-spread")
    assert finding["fields"] == ["gauge_pressures.2"]
    assert finding["severity"] == "fix"
    assert finding["source"] == "tm-1-1500-204-23-1"


def test_the_table_has_a_line_for_every_cylinder(client: Client) -> None:
    """CSV: one line a cylinder, the unit in the heading, the same digits as JSON."""
    rows = list(csv.reader(io.StringIO(client.post(f"{PATH}?format=csv&units=us", READINGS).text)))
    assert rows[0] == ["cylinder", "gauge_pressure [psi]", "share_of_mean [%]", "verdict", "next_steps"]
    assert [row[0] for row in rows[1:]] == ["1", "2", "3", "4"]
    assert [float(row[1]) for row in rows[1:]] == pytest.approx([130, 134, 92, 131])
    assert rows[3][3] == "fault"


@pytest.mark.parametrize("face", ["text", "html"])
def test_pages_say_what_to_do(client: Client, face: str) -> None:
    """The page and the terminal text carry verdict, remedy and caution."""
    page = client.post(f"{PATH}?format={face}", READINGS).text
    assert "fault" in page
    assert "Check the lash first" in page
    assert "ignition dead" in page


@pytest.mark.parametrize(
    ("question", "pointer", "code"),
    [
        ({}, "/gauge_pressures", "missing"),
        ({"gauge_pressures": []}, "/gauge_pressures", "too-few"),
        ({"gauge_pressures": ["9 bar", 9]}, "/gauge_pressures/1", "unit-missing"),
        ({"gauge_pressures": ["9 bar", "130 bar"]}, "/gauge_pressures/1", "out-of-range"),
        ({"leak_down": {"supply": "60 psi", "readings": ["50 psi", "80 psi"]}}, "/leak_down/readings/1", "outside-validity"),
        ({**READINGS, "leak_down": {"readings": ["70 psi"]}}, "/leak_down/readings", "contradiction"),
        ({**READINGS, "neighbours": [{"first": 1, "second": 9}]}, "/neighbours", "outside-validity"),
        ({**READINGS, "expected": {"low": "10 bar", "high": "8 bar"}}, "/expected/low", "contradiction"),
        ({**READINGS, "conditions": {"warm": "yes"}}, "/conditions/warm", "not-a-choice"),
    ],
)
def test_a_wrong_input_is_refused_where_it_stands(client: Client, question: dict[str, Any], pointer: str, code: str) -> None:
    """Problem details name the pointer and the code of the fault."""
    assert (pointer, code) in faults(client.post(PATH, question))


def test_psi_typed_as_bar_is_asked_about(client: Client) -> None:
    """20 bar is legal but unusual."""
    findings = client.post(PATH, {"gauge_pressures": ["20 bar", "20 bar"], "altitude": "0 m"}).json()["findings"]
    assert findings[0]["severity"] == "ask"
    assert findings[0]["fields"] == ["gauge_pressures.0"]


def test_an_older_dataset_answers_too(client: Client) -> None:
    """The check rests on methods, not on facts, so every version held gives the same figures."""
    versions = [entry["version"] for entry in client.get("/v1/versions").json()["datasets"] if entry["status"] == "current"]
    results = [client.post(f"{PATH}?dataset={version}", READINGS).json()["result"] for version in versions]
    assert len(results) == len(versions) >= 1
    assert all(result == results[0] for result in results)
