"""The break-in plan over HTTP: shop units, refusals with their pointers, and its faces."""

import csv
import io
from typing import Any

import pytest

from tests.client import Client, faults

PATH = "/v1/break-in/schedule"


def test_get_and_post_give_one_answer(client: Client) -> None:
    got = client.get(f"{PATH}?tappet=flat&spring=dual&speed_low=2000rpm&duration=0.5%20h&open_load=160%20lbf")
    posted = client.post(
        PATH,
        {
            "tappet": "flat",
            "spring": "dual",
            "speed_low": {"value": 2000, "unit": "rpm"},
            "duration": "0.5 h",
            "open_load": "160 lbf",
        },
    )
    assert got.status_code == posted.status_code == 200
    assert got.json()["result"] == posted.json()["result"]


def test_segments_are_in_rpm_and_seconds_in_both_systems(client: Client) -> None:
    for units in ("metric", "us"):
        answer = client.get(f"{PATH}?tappet=flat&units={units}").json()
        run = next(stage for stage in answer["result"]["stages"] if stage["name"] == "run")
        assert {segment["speed"]["unit"] for segment in run["segments"]} == {"rpm"}
        assert {segment[name]["unit"] for segment in run["segments"] for name in ("start", "duration")} == {"s"}
        assert sum(segment["duration"]["value"] for segment in run["segments"]) == pytest.approx(1200)
    assert answer["result"]["pressure_floors"][2]["pressure"]["unit"] == "psi"
    assert answer["result"]["pressure_floors"][2]["pressure"]["value"] == pytest.approx(20, abs=0.1)  # 10 psi per 1,000 rpm


@pytest.mark.parametrize(
    ("document", "pointer", "code"),
    [
        ({}, "/tappet", "missing"),
        ({"tappet": "solid"}, "/tappet", "unknown-choice"),
        ({"tappet": "flat", "duration": 20}, "/duration", "unit-missing"),
        ({"tappet": "flat", "duration": "20 mm"}, "/duration", "unit-mismatch"),
        ({"tappet": "flat", "duration": "3 h"}, "/duration", "out-of-range"),
        ({"tappet": "flat", "speed_low": "1400 rpm"}, "/speed_low", "outside-validity"),
        ({"tappet": "flat", "speed_low": "3000 rpm", "speed_high": "2500 rpm"}, "/speed_low", "contradiction"),
        ({"tappet": "flat", "sped_low": "2000 rpm"}, "/sped_low", "unknown-name"),
        ({"tappet": "flat", "gates_done": ["everything"]}, "/gates_done/0", "unknown-choice"),
        ({"tappet": "flat", "credited": True}, "/credited", "not-a-quantity"),
    ],
)
def test_what_is_wrong_is_named(client: Client, document: dict[str, Any], pointer: str, code: str) -> None:
    assert (pointer, code) in faults(client.post(PATH, document))


def test_unknown_engine_names_the_nearest(client: Client) -> None:
    answer = client.get(f"{PATH}?engine=air-cooled-flat-for")
    assert answer.status_code == 404
    assert answer.json()["errors"][0]["did_you_mean"] == "air-cooled-flat-four"


def test_csv_is_a_program_for_a_bench(client: Client) -> None:
    """One clock from firing on, contiguous rows, the first from rest, the last to rest, the run between 2,000 and 2,800."""
    answer = client.get(f"{PATH}?tappet=flat&format=csv")
    assert answer.headers["content-type"].startswith("text/csv")
    rows = list(csv.DictReader(io.StringIO(answer.text)))
    clock = 0.0
    for row in rows:
        assert float(row["start [s]"]) == pytest.approx(clock)
        assert float(row["ramp [s]"]) + float(row["hold [s]"]) == pytest.approx(float(row["duration [s]"]))
        clock += float(row["duration [s]"])
    assert [rows[0]["stage"], rows[-1]["stage"]] == ["first_fire", "stop"]
    assert float(rows[-1]["speed [rpm]"]) == 0
    run = [float(row["speed [rpm]"]) for row in rows if row["stage"] == "run"]
    assert min(run) >= 2000
    assert max(run) <= 2800


def test_svg_shows_band_stages_and_stop_line(client: Client) -> None:
    answer = client.get(f"{PATH}?tappet=flat&format=svg")
    assert answer.headers["content-type"].startswith("image/svg+xml")
    for piece in ("<title", "<desc", 'role="img"', "class='band'", "class='stop'", "class='stage'", "cool-down"):
        assert piece in answer.text or piece.replace('"', "'") in answer.text
    assert "<script" not in answer.text


def test_card_has_boxes_to_tick_and_everything_a_stand_needs(client: Client) -> None:
    answer = client.get(f"{PATH}?engine=harrow-r17&format=html")
    assert answer.headers["content-type"].startswith("text/html")
    assert answer.text.count("class='tick'") > 60
    for heading in ("Before the first fire", "When to kill or stop", "Set points", "Normal in the first minutes", "Not normal"):
        assert heading in answer.text
    assert "Total timing while the run goes on" in answer.text
    assert "<script" not in answer.text


def test_a_finished_run_still_has_its_faces(client: Client) -> None:
    for face in ("csv", "svg", "html", "text"):
        assert client.get(f"{PATH}?tappet=flat&duration=20min&credited=20min&format={face}").status_code == 200


def test_same_question_same_bytes(client: Client) -> None:
    first, second = (client.get(f"{PATH}?tappet=flat") for _ in range(2))
    assert first.content == second.content
    assert first.headers["etag"] == second.headers["etag"]


def test_terminal_text_reads_as_a_list(client: Client) -> None:
    """Every set point in words, every gate with a box, every stop rule with what to do."""
    text = client.get(f"{PATH}?tappet=flat&gates_done=float-bowl&format=text").text
    assert "0:31 → 2450 rpm, hold 30 s" in text
    assert "[x] Float bowl filled by syringe" in text
    assert "KILL: head temperature 200 °C (392 °F)" in text
    assert "maker's manual" in text


@pytest.mark.parametrize("engine", ["tm-5-4310-389-14", "tcds-e-286"])
def test_no_plan_for_diesels_and_certificated_engines(engine: str, client: Client) -> None:
    """The diesel of a manual and the engine of a type certificate are refused by their field, in words that say why."""
    answer = client.post(PATH, {"engine": engine, "tappet": "hydraulic"})
    assert [pointer for pointer, _ in faults(answer)] == ["/engine"]
    assert "There is no run-in here" in answer.text
