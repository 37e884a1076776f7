"""Assessment over HTTP: a log in the caller's words, refusals, faces, and a very long log."""

import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from tests.client import Client, faults

PATH = "/v1/break-in/assessment"
ROOT = Path(__file__).parents[2]
LEVELS = (2050, 2450, 2250, 2650, 2150, 2550, 2350, 2750)


def csv_log(seconds: int = 700, step: float = 1.0, heading: str = "time [s], RPM, oil pressure (psi), oil temp F") -> str:
    """Started at 2 s, then a new set point every 30 s."""
    rows = [f"0,0,0,68", "2,900,40,68"]  # noqa: F541 - one shape for all rows
    count = int((seconds - 5) / step)
    for k in range(count):
        t = 5 + k * step
        rows.append(f"{t:.2f},{LEVELS[int(t / 30) % 8] + (k * 7) % 11},{58 - t / 100 + (k % 5) / 10:.1f},{68 + t / 8:.1f}")
    return "\n".join([heading, *rows])


def test_a_log_in_shop_words(client: Client) -> None:
    """695 s at speed and pressure, °F and psi as typed: credited, and twenty minutes less that are left."""
    answer = client.post(PATH, {"schedule": {"tappet": "flat"}, "log": csv_log()})
    assert answer.status_code == 200, answer.text
    result = answer.json()["result"]
    assert result["verdict"] == "continue"
    minutes = result["credited_time"]["value"]
    assert result["credited_time"]["unit"] == "min"
    assert minutes * 60 == pytest.approx(695, abs=3)
    assert minutes + result["remaining_time"]["value"] == pytest.approx(20)
    assert answer.json()["inputs"]["log"]["units"] == {
        "time": "s",
        "speed": "rpm",
        "oil_pressure": "psi",
        "oil_temperature": "degF",
    }


def test_us_units_say_the_same(client: Client) -> None:
    document = {"schedule": {"tappet": "flat"}, "log": csv_log()}
    metric, us = client.post(PATH, document).json(), client.post(f"{PATH}?units=us", document).json()
    margin = us["result"]["oil_pressure_margin"]["lowest"]
    assert margin["unit"] == "psi"
    assert margin["value"] * 6.894757 == pytest.approx(metric["result"]["oil_pressure_margin"]["lowest"]["value"])
    assert us["answer_id"] == metric["answer_id"]


def test_a_short_log_can_be_asked_in_the_address(client: Client) -> None:
    log = "time [s],rpm\n" + "\n".join(f"{t},{2050 + 400 * (t // 30 % 2)}" for t in range(0, 100, 2))
    answer = client.get(PATH, params={"schedule.tappet": "flat", "log": log})
    assert answer.status_code == 200, answer.text
    assert answer.json()["result"]["credited_time"]["value"] * 60 == pytest.approx(98, abs=0.1)


def test_schedule_and_earlier_answers_are_sent_back_as_they_were(client: Client) -> None:
    plan = client.get("/v1/break-in/schedule?tappet=flat&duration=20min").json()
    first = client.post(PATH, {"schedule": plan, "log": csv_log()}).json()
    second = client.post(PATH, {"schedule": plan, "log": csv_log(), "earlier": [first]}).json()
    assert second["result"]["verdict"] == "complete"
    assert second["result"]["credited_before"]["value"] == pytest.approx(first["result"]["credited_time"]["value"])


@pytest.mark.parametrize(
    ("changes", "pointer", "code"),
    [
        ({"log": "time [s],rpm\n0,900\n1,quick\n"}, "/log", "unreadable-cell"),
        ({"log": "time,rpm\n0,900\n"}, "/log", "unit-missing"),
        ({"log": 5}, "/log", "not-a-log"),
        ({"log": csv_log(40)}, "/log/time", "outside-validity"),
        ({"schedule": {}}, "/tappet", "missing"),
        ({"schedule": {"tappet": "flat", "duration": 20}}, "/schedule/duration", "unit-missing"),
        ({"schedule": 3}, "/schedule", "not-an-object"),
        ({"earlier": [{"credited_time": "20 min", "running_time": "5 min"}]}, "/earlier/credited_time", "outside-validity"),
        ({"earlier": [{"credited": "20 min"}]}, "/earlier/0/credited", "unknown-name"),
        ({"logg": "x"}, "/logg", "unknown-name"),
    ],
)
def test_what_is_wrong_is_named(client: Client, changes: dict[str, Any], pointer: str, code: str) -> None:
    answer = client.post(PATH, {"schedule": {"tappet": "flat"}, "log": csv_log(), **changes})
    assert (pointer, code) in faults(answer)


def test_nothing_of_a_broken_cell_is_echoed(client: Client) -> None:
    answer = client.post(PATH, {"schedule": {"tappet": "flat"}, "log": "time [s],rpm\n0,900\n1,<script>\n"})
    assert "<script>" not in answer.text


@pytest.mark.parametrize("face", ["csv", "svg", "html", "text"])
def test_every_face(client: Client, face: str) -> None:
    answer = client.post(f"{PATH}?format={face}", {"schedule": {"tappet": "flat"}, "log": csv_log()})
    assert answer.status_code == 200
    assert "<script" not in answer.text


def test_page_puts_the_next_steps_first(client: Client) -> None:
    """Verdict, steps, chart, figures, what was not checked; the digits are those of the JSON."""
    document = {"schedule": {"tappet": "flat"}, "log": csv_log()}
    page = client.post(f"{PATH}?format=html", document).text
    result = client.post(PATH, document).json()["result"]
    assert page.index(result["next_steps"][0]) < page.index("<svg") < page.index("Time by speed band")
    assert result["remaining_time"]["text"] in page
    assert "run head hot: needs log.head_temperature" in page


def test_chart_draws_log_over_plan(client: Client) -> None:
    answer = client.post(f"{PATH}?format=svg&units=us", {"schedule": {"tappet": "flat"}, "log": csv_log()})
    for piece in ("class='plan'", "class='line'", "class='band'", "psi", "continue"):
        assert piece in answer.text


@pytest.mark.slow
def test_two_hundred_thousand_rows(client: Client) -> None:
    """The largest log of the promise is read, judged and credited; what it costs stands in tests/bench/costs.py."""
    document = {"schedule": {"tappet": "flat"}, "log": csv_log(4003, 0.02)}
    assert document["log"].count("\n") > 199_000  # type: ignore[attr-defined]
    answer = client.post(PATH, document)
    assert answer.status_code == 200, answer.text
    assert answer.json()["result"]["credited_time"]["value"] > 0


@pytest.mark.slow
def test_memory_of_a_very_long_log() -> None:
    """A process that reads and judges 200,000 rows of CSV stays within 150 MB at its peak."""
    program = (
        "from pathlib import Path\n"
        "from service import quantities\n"
        "from service.answers.asking import ask\n"
        "from service.answers.break_in_assessment import TOPIC\n"
        "from service.faces import json_face\n"
        "from service.reference.loader import load_library\n"
        "levels = (2050, 2450, 2250, 2650, 2150, 2550, 2350, 2750)\n"
        "lines = (f'{k * 0.02:.2f},{levels[k // 1500 % 8] + k * 7 % 11},{58 - k / 9000 + k % 5 / 10:.1f},{180 + k / 9000:.1f}'"
        " for k in range(200_000))\n"
        "text = 'time [s],rpm,oil pressure [psi],oil temp F\\n' + '\\n'.join(lines)\n"
        "dataset = load_library(Path('data'), quantities.convert).newest\n"
        "asked = ask(TOPIC, {'schedule': {'tappet': 'flat'}, 'log': text}, dataset)\n"
        "json_face.write(asked)\n"
        "assert asked.inputs['log']['rows'] == 200_000\n"
        "print(next(line.split()[1] for line in open('/proc/self/status') if line.startswith('VmHWM')))\n"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True, cwd=ROOT, timeout=120)
    assert int(done.stdout) / 1024 <= 150
