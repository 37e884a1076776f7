"""Assessment as an answer: reading logs in the caller's words, the verdict with its findings, and runs taken together."""

import json
import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from pydantic import ValidationError

from service.answers.asking import Asked, ask
from service.answers.break_in_assessment import TOPIC
from service.answers.break_in_columns import LogFault
from service.answers.break_in_log import read_log
from service.answers.break_in_schedule import TOPIC as SCHEDULE
from service.answers.break_in_verdicts import BY_REASON
from service.calculations import break_in_verdict as verdicts
from service.calculations.break_in_limits import RPM
from service.calculations.break_in_proof import speed_at
from service.calculations.break_in_schedule import break_in_body
from service.errors import Contradiction, OutsideValidity, RunstandError
from service.faces import break_in_assessment_svg, json_face
from service.quantities import Measure
from service.reference.dataset import Dataset
from tests.answers.reading import findings, unchecked

Array = NDArray[np.float64]
BODY = break_in_body(speed_low=2000 * RPM, speed_high=2800 * RPM, duration=1200.0)


def run_log(seconds: float = 1300.0, step: float = 0.5) -> dict[str, Array]:
    """A run on plan as plain columns: s, rpm, psi, °F and °C; fired at 2 s, at the floor at 6 s, cooled from 1206 s on."""
    time = np.arange(0.0, seconds, step)
    body = speed_at(segments=BODY.segments, time=time - 6) / RPM
    knots = ([0, 2, 6, 1206, 1216, 1276, 1286, 1298, 1299.4], [0, 250, 2000, 2000, 1500, 1500, 1000, 1000, 0])
    rpm = np.where((time >= 6) & (time < 1206), body, np.interp(time, *knots)) + 8 * np.sin(time * 1.7)
    oil = 95 - 75 * np.exp(-time / 420)
    psi = np.minimum(62.0, 17.0 * rpm / 1000 * np.exp(-0.022 * (oil - 95))) + 0.3 * np.sin(time * 2.3)
    return {"t": time, "rpm": np.maximum(rpm, 0), "psi": psi, "oil_f": oil * 1.8 + 32, "cht": 160 - 140 * np.exp(-time / 150)}


def as_csv(log: dict[str, Array], heading: str = "time [s],rpm,oil pressure (psi),oil temp F,CHT °C") -> str:
    return "\n".join([heading, *(",".join(f"{cell:.3f}" for cell in row) for row in zip(*log.values(), strict=True))])


def assessed(dataset: Dataset, log: Any, **more: Any) -> Asked:
    return ask(TOPIC, {"schedule": {"tappet": "flat"}, "log": log, **more}, dataset)


def test_a_run_on_plan_is_complete(dataset: Dataset) -> None:
    question = assessed(dataset, as_csv(run_log()))
    result = question.answer.result
    assert result["verdict"] == "complete"
    assert result["credited_time"].si == pytest.approx(1200, abs=15)
    assert result["remaining_time"].si == 0
    assert findings(question.answer) == {}
    assert [entry["needs"] for entry in question.answer.unchecked] == [["rev_limit"]]
    assert any("Stone cold" in step for step in result["next_steps"])
    assert result["next_run"] is None


def test_a_stopped_run_gets_set_points_for_the_rest(dataset: Dataset) -> None:
    """846 s of log are 840 s of run: six minutes are left, and the new set points fill exactly what is left."""
    result = assessed(dataset, as_csv(run_log(846.0))).answer.result
    assert result["verdict"] == "continue"
    left = result["remaining_time"].si
    assert left == pytest.approx(360, abs=3)
    assert sum(segment["duration"].si for segment in result["next_run"]["segments"]) == pytest.approx(left)


def test_the_same_log_in_every_form_gives_the_same_answer(dataset: Dataset) -> None:
    """CSV, columns and rows, a list of quantities; commas, semicolons, tabs, clock times, a row of units, other units."""
    log = run_log(400.0, 1.0)
    plain = assessed(dataset, as_csv(log)).answer.result
    rows = [[round(float(cell), 3) for cell in row] for row in zip(*log.values(), strict=True)]
    clock = "\n".join(
        ["Time,Engine RPM,Oil Press psi,oil_temp_F,head temperature [degC]"]
        + [f"12:{int(t) // 60:02d}:{t % 60:06.3f},{r:.3f},{p:.3f},{o:.3f},{c:.3f}" for t, r, p, o, c in rows]
    )
    semicolon = "t (min);revs [rpm];oil pressure [bar];sump temp [°C];CHT1 [C]\n" + "\n".join(
        f"{t / 60:.6f};{r:.3f};{p * 0.0689476:.6f};{(o - 32) / 1.8:.4f};{c:.3f}".replace(".", ",") for t, r, p, o, c in rows
    )
    unit_row = "time\trpm\toil pressure\toil temp\tcht\ns\trpm\tpsi\tF\tC\n" + "\n".join(
        "\t".join(map(str, row)) for row in rows
    )
    names = ("time", "speed", "oil_pressure", "oil_temperature", "head_temperature")
    units = ("s", "rpm", "psi", "degF", "degC")
    objects = [{n: {"value": v, "unit": u} for n, v, u in zip(names, row, units, strict=True)} for row in rows]
    texts = [{n: f"{v:.3f} {u}" for n, v, u in zip(names, row, units, strict=True)} for row in rows]
    table = {"columns": ["time [s]", "speed [rpm]", "oil pressure [psi]", "oil temperature [degF]", "cht [degC]"], "rows": rows}
    forms = [
        clock,
        semicolon,
        unit_row,
        objects,
        texts,
        table,
        {"csv": as_csv(log)},
        as_csv(log).replace("\n", "\r\n") + "\r\n",
    ]
    for form in forms:
        other = assessed(dataset, form).answer.result
        assert other["credited_time"].si == pytest.approx(plain["credited_time"].si, abs=0.01)
        assert other["oil_pressure_margin"]["lowest"].si == pytest.approx(plain["oil_pressure_margin"]["lowest"].si, rel=1e-3)
        assert other["verdict"] == plain["verdict"]


def test_blanks_and_nan_are_missing_readings() -> None:
    text = "time [s],rpm,oil pressure [psi],note\n0,900,,cold\n1,NaN,30,\n2,2000,n/a,x\n3,2050,-,y\n"
    table = read_log(text)
    assert np.isnan(table.channels["oil_pressure"]).tolist() == [True, False, True, True]
    assert np.isnan(table.channels["speed"]).tolist() == [False, True, False, False]
    assert table.ignored == ("note",)
    fast = read_log("time [s],rpm,oil pressure [psi]\n0,900,\n1,,30\n2,2000,31\n")
    assert np.isnan(fast.channels["oil_pressure"]).tolist() == [True, False, False]
    assert np.isnan(fast.channels["speed"]).tolist() == [False, True, False]


def test_of_several_head_sensors_the_hottest_counts() -> None:
    table = read_log("time [s],rpm,CHT1 [C],CHT2 [C]\n0,900,100,120\n1,900,130,\n")
    assert table.channels["head_temperature"].tolist() == pytest.approx([393.15, 403.15])


def test_clock_times_run_past_midnight() -> None:
    table = read_log("time,rpm\n23:59:59,900\n00:00:01,950\n")
    assert np.diff(table.channels["time"]).tolist() == [2.0]


@pytest.mark.parametrize(
    ("log", "code", "word"),
    [
        ("time,rpm\n0,900\n1,950\n", "unit-missing", "time [s]"),
        ("time [s],rpm,oil pressure\n0,900,3\n", "unit-missing", "oil pressure"),
        ("time [s],rpm,oil pressure [rpm]\n0,900,3\n", "unit-mismatch", "Column 3"),
        ("time [s],rpm,oil pressure [pis]\n0,900,3\n", "unit-unknown", "Column 3"),
        ("time [s],boost [bar]\n0,1\n", "missing-column", "speed"),
        ("rpm,boost [bar]\n0,1\n", "missing-column", "time"),
        ("time [s],rpm,speed [rpm]\n0,1,1\n", "ambiguous-column", "speed"),
        ("time [s],rpm\n0,900\n1,fast\n2,1_000\n", "unreadable-cell", "row 2, column 2"),
        ("time [s],rpm\n0,900\n1,950,7\n", "unreadable-cell", "row 2 has 3 cells"),
        ("time [s],rpm\n0,900\n1,inf\n", "unreadable-cell", "row 2"),
        ("time [s],rpm\n0,900\n1,true\n", "unreadable-cell", "row 2"),
        ("time [s],rpm\n0,[900\n1,950]\n", "unreadable-cell", "row 1"),
        ("time [s],rpm\n", "not-a-log", "no rows"),
        ("", "not-a-log", "heading"),
        (7, "not-a-log", "CSV"),
        ({"columns": ["time [s]", "rpm"], "rows": [[0, 900], [1]]}, "unreadable-cell", "Row 2"),
        ({"columns": ["time [s]", "rpm"], "rows": [[0, "900"]]}, "unreadable-cell", "Row 1"),
        ({"columns": ["time [s]", "rpm"], "rows": []}, "not-a-log", "rows"),
        ({"columns": "time", "rows": [[1]]}, "not-a-log", "columns"),
        ([{"time": 0, "speed": "900 rpm"}], "unit-missing", "Row 1, time"),
        ([{"time": "0 s", "speed": "900 Nm"}], "unit-mismatch", "Row 1, speed"),
        ([{"time": "0 s", "sped": "900 rpm"}], "unknown-name", "Row 1"),
        ([{"time": "0 s", "speed": True}], "not-a-quantity", "Row 1"),
        ([3], "not-a-log", "Row 1"),
        ([], "too-many-rows", "rows"),
    ],
)
def test_what_cannot_be_read_is_named(log: Any, code: str, word: str) -> None:
    with pytest.raises(LogFault) as fault:
        read_log(log)
    assert fault.value.code == code
    assert word in fault.value.detail


@settings(max_examples=80, deadline=None)
@given(
    rows=st.lists(
        st.tuples(st.floats(0, 9e3), st.floats(0, 9e3) | st.none(), st.floats(0, 90) | st.none()), min_size=1, max_size=30
    ),
    delimiter=st.sampled_from([",", ";", "\t"]),
)
def test_reading_gives_back_what_was_written(rows: list[tuple[float, float | None, float | None]], delimiter: str) -> None:
    """Any numbers and blanks, any delimiter: the same values come back; Python's own float is the referee."""
    lines = [delimiter.join("" if cell is None else repr(cell) for cell in row) for row in rows]
    table = read_log("\n".join([delimiter.join(("time [s]", "speed [rad/s]", "oil pressure [Pa]")), *lines]))
    for name, column in zip(("time", "speed", "oil_pressure"), zip(*rows, strict=True), strict=True):
        expected = [np.nan if cell is None else cell for cell in column]
        assert table.channels[name].tolist() == pytest.approx(expected, nan_ok=True)


@settings(max_examples=150, deadline=None)
@given(text=st.text(alphabet="time,speed [rpm]s0123456789.\n;\t:-\"'#", max_size=200))
def test_no_text_breaks_the_reader(text: str) -> None:
    """Any text is read or refused in words; nothing else may happen."""
    try:
        rows = read_log(text).rows
    except LogFault as fault:
        rows = len(fault.detail)
    assert rows > 0


def _leaves(tree: Any) -> list[float]:
    if isinstance(tree, Measure):
        return [tree.si]
    if isinstance(tree, float):
        return [tree]
    if isinstance(tree, dict | list | tuple):
        return [leaf for item in (tree.values() if isinstance(tree, dict) else tree) for leaf in _leaves(item)]
    return []


def _noise(rng: np.random.Generator, size: int) -> Array:
    """Readings without sense: levels, blanks, spikes, sometimes a value that stands still."""
    kind = rng.uniform(size=size)
    values = np.where(kind < 0.5, rng.choice([0.0, 250.0, 900.0, 2000.0, 2400.0, 2800.0], size), rng.uniform(0, 3000, size))
    values = np.where(kind > 0.97, rng.uniform(-1e9, 1e9, size), values)
    values = np.where((kind > 0.9) & (kind < 0.95), np.nan, values)
    return np.where(rng.uniform(size=size) < rng.uniform(), rng.uniform(0, 3000), values)


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    seed=st.integers(0, 2**32 - 1),
    size=st.integers(2, 2000),
    step=st.sampled_from([0.02, 0.6, 1.0, 2.5, 7.0, 60.0, 200.0]),
    scales=st.tuples(*(st.sampled_from([1.0, 0.05]) for _ in range(3))),
)
def test_no_log_breaks_the_assessment(
    dataset: Dataset, seed: int, size: int, step: float, scales: tuple[float, float, float]
) -> None:
    """Any readings whatever are judged with finite figures, or refused in words; the drawing is drawn."""
    rng = np.random.default_rng(seed)
    columns = [np.arange(size) * step, *(_noise(rng, size) * scale for scale in (1.0, *scales))]
    rows = [[None if np.isnan(cell) else float(cell) for cell in row] for row in zip(*columns, strict=True)]
    headings = ["time [s]", "rpm", "oil pressure [kPa]", "oil temp [C]", "CHT [C]"]
    try:
        question = assessed(dataset, {"columns": headings, "rows": rows}, grade="30")
    except RunstandError:
        return  # refused in words: another test reads them
    result = question.answer.result
    assert np.isfinite(_leaves(result)).all()
    assert 0 <= result["credited_time"].si <= result["credited_by_speed"].si + 1e-6
    assert result["credited_by_speed"].si <= size * step
    assert json_face.write(question)
    assert break_in_assessment_svg.write(question, "us").endswith(b"</svg>")


def test_loss_of_pressure_stops_and_says_so(dataset: Dataset) -> None:
    log = run_log()
    log["psi"] = np.where((log["t"] >= 906) & (log["t"] < 920), 5.0, log["psi"])
    question = assessed(dataset, as_csv(log))
    result = question.answer.result
    assert result["verdict"] == "stop-find-cause"
    assert findings(question.answer)["run-pressure-low"] == "stop"
    assert result["frozen_at"].si == pytest.approx(906, abs=0.6)
    assert result["next_run"] is None
    row = next(row for row in result["excursions"] if row["kind"] == "pressure-low")
    assert row["rows"]["first"] == 1813  # 906 s at two rows a second, counted from 1
    assert "Do not restart" in result["next_steps"][0]
    message = next(f.message for f in question.answer.findings if f.rule.code == "run-pressure-low")
    assert message.startswith("Oil pressure under its floor")
    assert "15:06" in message


def test_earlier_answers_are_sent_back(dataset: Dataset) -> None:
    """Fourteen minutes, then the rest: together twenty; an unresolved stop of the first run blocks the verdict."""
    log = run_log()
    first = json.loads(json_face.write(assessed(dataset, as_csv({n: c[log["t"] < 846] for n, c in log.items()}))))
    rest = {name: channel[log["t"] < 420] for name, channel in log.items()}
    for form in (first, first["result"]):
        question = assessed(dataset, as_csv(rest), earlier=[form])
        assert question.answer.result["verdict"] == "complete"
        assert question.answer.result["credited_before"].si == pytest.approx(840, abs=3)
    first["result"]["verdict"] = "stop-find-cause"
    assert assessed(dataset, as_csv(rest), earlier=[first]).answer.result["verdict"] == "stop-find-cause"
    assert assessed(dataset, as_csv(rest), earlier=[{**first, "cause_found": True}]).answer.result["verdict"] == "complete"


def test_the_schedule_may_be_the_answer_of_the_schedule(dataset: Dataset) -> None:
    plan = json.loads(json_face.write(ask(SCHEDULE, {"tappet": "flat", "duration": "15 min"}, dataset)))
    for form in (plan, plan["result"]):
        result = ask(TOPIC, {"schedule": form, "log": as_csv(run_log())}, dataset).answer.result
        assert result["required_time"].si == 900


def test_slips_of_the_unit_are_asked_about(dataset: Dataset) -> None:
    """Pressure in psi sent as kPa, a tachometer that counts double, °C sent as °F."""
    log = run_log()
    kpa = assessed(dataset, as_csv(log, "time [s],rpm,oil pressure (kPa),oil temp F,CHT °C"))
    assert findings(kpa.answer)["unit-suspect"] == "ask"
    doubled = assessed(dataset, as_csv({**log, "rpm": 2 * log["rpm"]}))
    assert findings(doubled.answer)["wasted-spark-doubling-log"] == "ask"
    fahrenheit = {**log, "oil_f": (log["oil_f"] - 32) / 1.8}
    assert findings(assessed(dataset, as_csv(fahrenheit)).answer)["unit-suspect"] == "ask"


def test_wrong_time_unit_is_refused(dataset: Dataset) -> None:
    log = run_log()
    with pytest.raises(OutsideValidity, match="minutes"):
        assessed(dataset, as_csv({**log, "t": log["t"] / 60}))
    with pytest.raises(OutsideValidity, match="milliseconds"):
        assessed(dataset, as_csv({**log, "t": log["t"] * 1000}))


def test_what_the_log_cannot_show_is_said(dataset: Dataset) -> None:
    log = run_log(400.0)
    question = assessed(dataset, as_csv({"t": log["t"], "rpm": log["rpm"]}, "time [s],rpm"))
    needs = {entry["needs"][0] for entry in question.answer.unchecked}
    assert needs - {"rev_limit"} == {"log.oil_pressure", "log.oil_temperature", "log.head_temperature"}
    assert any("tappet" in text for text in question.answer.result["cannot_show"])
    sparse = {name: channel[::20] for name, channel in log.items()}
    assert unchecked(assessed(dataset, as_csv(sparse)).answer)["run-sensor-spikes"] == []


def test_grade_lets_the_pressure_be_compared_while_it_warms(dataset: Dataset) -> None:
    log = run_log()
    cool = {**log, "psi": np.where(log["t"] > 300, log["psi"] * (1 - 0.25 * (log["t"] - 300) / 1000), log["psi"])}
    question = assessed(dataset, as_csv(cool), grade="30")
    assert question.answer.result["oil_pressure_margin"]["drift"] is not None
    assert question.answer.result["oil_pressure_margin"]["drift"]["change"].si < 0
    assert any(key[0] == "fact" and "oil-grades" in key[1] for key in question.answer.basis)


def test_the_log_does_not_come_back_whole(dataset: Dataset) -> None:
    question = assessed(dataset, as_csv(run_log()))
    echoed = question.inputs["log"]
    assert echoed["rows"] == 2600
    assert echoed["units"]["oil_pressure"] == "psi"
    assert len(echoed["sha256"]) == 64
    assert len(json_face.write(question)) < 60_000


def test_an_unknown_field_of_the_schedule_is_refused(dataset: Dataset) -> None:
    with pytest.raises(ValidationError) as refused:
        ask(TOPIC, {"schedule": {"tapet": "flat"}, "log": as_csv(run_log())}, dataset)
    assert refused.value.errors()[0]["loc"] == ("schedule", "tapet")


def test_every_reason_has_words_and_a_remedy() -> None:
    """A reason without a rule would be a verdict nobody can act on: all codes that the calculations can give are known."""
    text = Path(verdicts.__file__).read_text(encoding="utf-8")
    given = set(re.findall(r'Reason\(\s*"([a-z-]+)"', text)) | {
        "stall",
        "stopped-from-speed",
        *(f"sensor-{kind}" for kind in ("lost", "doubled", "halved", "stuck", "jump", "spikes", "impossible")),
        *("pressure-low", "no-pressure-after-start", "head-hot", "oil-hot", "oil-warm"),
    }
    assert given == set(BY_REASON)


def test_credit_of_earlier_runs_counts_once(dataset: Dataset) -> None:
    """14 min before and 96 s = 1.6 min now are 15.6 min of twenty: 4.4 min are left, however the 14 min are told."""
    log = "time [s],rpm\n" + "\n".join(f"{t},{(2050, 2450, 2250, 2650)[t // 30]}" for t in range(97))
    earlier = [{"credited_time": "14 min", "running_time": "15 min", "verdict": "continue"}]
    plan = json.loads(json_face.write(ask(SCHEDULE, {"tappet": "flat", "credited": "14 min"}, dataset)))
    for schedule, more in (
        ({"tappet": "flat", "credited": "14 min"}, {"earlier": earlier}),
        ({"tappet": "flat", "credited": "14 min"}, {}),
        ({"tappet": "flat", "credited": "14 min"}, {"earlier": []}),
        ({"tappet": "flat"}, {"earlier": earlier}),
        ({"tappet": "flat", "credited": "14.05 min"}, {"earlier": earlier}),  # told in tenths of a minute
        (plan, {"earlier": earlier}),
    ):
        result = ask(TOPIC, {"schedule": schedule, "log": log, **more}, dataset).answer.result
        assert result["credited_before"].si == pytest.approx(840)
        assert result["remaining_time"].si / 60 == pytest.approx(4.4)
        assert result["verdict"] == "continue"
        assert result["next_run"]["duration"].si == pytest.approx(264)


def test_two_credits_that_differ_are_refused(dataset: Dataset) -> None:
    log = "time [s],rpm\n" + "\n".join(f"{t},{2050 + t}" for t in range(97))
    question = {"schedule": {"tappet": "flat", "credited": "10 min"}, "log": log, "earlier": [{"credited_time": "14 min"}]}
    with pytest.raises(Contradiction, match=r"10\.0 min.* 14\.0 min") as refused:
        ask(TOPIC, question, dataset)
    assert refused.value.fields == ("schedule/credited", "earlier")


@pytest.mark.parametrize(("step", "end"), [(1, 902), (2, 904)])
def test_two_seconds_without_pressure_stop_the_run(dataset: Dataset, step: int, end: int) -> None:
    """0.8 bar at 900 to 902 s, at 2,050 to 2,650 rpm: the credit is frozen at 15 min, and reading and floor are told."""
    rows = ["time [s],rpm,oil pressure [bar]"]
    for t in range(0, 1250, step):
        rpm = (2050, 2450, 2250, 2650)[t // 30 % 4]
        rows.append(f"{t},{rpm},{0.8 if 900 <= t <= end else 3 + t % 7 / 100:.2f}")
    answer = assessed(dataset, "\n".join(rows)).answer
    assert answer.result["verdict"] == "stop-find-cause"
    assert answer.result["frozen_at"].si == 900
    assert answer.result["credited_time"].si == pytest.approx(900, abs=step)
    assert "run-sensor-spikes" not in findings(answer)
    (message,) = [f.message for f in answer.findings if f.rule.code == "run-pressure-low"]
    # 2,250 rpm at 69 kPa a thousand are 155 kPa by hand
    assert f"down to 80 kPa (12 psi) where the floor is 155 kPa (23 psi), for {end - 900} s from 15:00 on" in message
    (row,) = [row for row in answer.result["excursions"] if row["kind"] == "pressure-low"]
    assert row["limit"].si == pytest.approx(155.25e3)


def test_pressure_that_is_too_low_from_the_start_is_not_called_none(dataset: Dataset) -> None:
    """0.66 bar a thousand, 1.4 to 1.7 bar: at 2,600 rpm 172 kPa where 179 are the least, by hand."""
    rows = [f"{t},{rpm},{0.66 * rpm / 1000:.4f}" for t in range(300) for rpm in (2100 + t * 40 % 501 // 10 * 10,)]
    answer = assessed(dataset, "\n".join(["time [s],rpm,oil pressure [bar]", *rows])).answer
    assert [code for code, severity in findings(answer).items() if severity == "stop"] == ["run-pressure-low"]
    (message,) = [f.message for f in answer.findings if f.rule.code == "run-pressure-low"]
    assert "down to 172 kPa (25 psi) where the floor is 179 kPa (26 psi)" in message


@pytest.mark.parametrize(("unit", "limit", "over"), [("C", 200, 200.2), ("F", 392, 392.3)])
def test_the_limit_of_the_head_is_the_same_in_both_units(dataset: Dataset, unit: str, limit: float, over: float) -> None:
    """392 °F are 200 °C: on it nothing is said; just over it the message shows by how much."""
    rows = [(t, (2050, 2450, 2250, 2650)[t // 30 % 4]) for t in range(1250)]
    for head, hot in ((limit, False), (over, True)):
        log = "\n".join([f"time [s],rpm,CHT [{unit}]", *(f"{t},{rpm},{head}" for t, rpm in rows)])
        answer = assessed(dataset, log).answer
        assert ("run-head-hot" in findings(answer)) is hot
        for finding in answer.findings:
            if finding.rule.code == "run-head-hot":
                up, limit_told = re.findall(r"([\d.]+) °C", finding.message)
                assert float(up) > float(limit_told) == 200.0
