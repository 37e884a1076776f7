"""Combinations over HTTP: the best few as JSON and CSV, and the whole set as a stream."""

import asyncio
import csv
import io
from typing import Any

import httpx
import pytest

from service.app import create_app
from service.settings import Settings
from tests.client import Client, faults

approx = pytest.approx
SHOP: dict[str, Any] = {
    "cylinders": 4,
    "bores": ["85.5 mm", "86 mm", "88 mm"],
    "strokes": ["69 mm", "73 mm"],
    "rods": ["136 mm", "137 mm"],
    "heads": [{"chamber_volume": "52 cm3"}, {"chamber_volume": "56 cm3"}],
    "deck_clearances": ["1.2 mm"],
    "spacers": ["0 mm", "0.5 mm"],
    "limits": {"compression_ratio": {"low": 7.0, "high": 8.0}},
    "objective": {"quantity": "displacement", "goal": "most"},
    "best": 5,
}


def test_get_and_post_are_one_answer(client: Client) -> None:
    """Lists by commas, heads by number, limits by dots: the same question typed into the address line."""
    posted = client.post("/v1/combinations", SHOP)
    asked = client.get(
        "/v1/combinations?cylinders=4&bores=85.5mm,86mm,88mm&strokes=69mm,73mm&rods=136mm,137mm"
        "&heads.0.chamber_volume=52cc&heads.1.chamber_volume=56cc&deck_clearances=1.2mm&spacers=0mm,0.5mm"
        "&limits.compression_ratio.low=7.0&limits.compression_ratio.high=8.0"
        "&objective.quantity=displacement&objective.goal=most&best=5"
    )
    assert posted.status_code == asked.status_code == 200, asked.text
    assert asked.json()["result"] == posted.json()["result"]
    assert client.get(posted.headers["content-location"]).json()["answer_id"] == posted.json()["answer_id"]


def test_ranked_and_counted(client: Client) -> None:
    """48 combinations; the best are the largest, and each holds what its parts make."""
    result = client.post("/v1/combinations", SHOP).json()["result"]
    assert result["total"] == 48
    assert result["accepted"] + result["failed"]["compression_ratio"] == 48
    # By hand: π/4·8.8²·7.3·4 = 1776.0 cm³.
    assert result["best"][0]["makes"]["displacement"]["value"] == approx(1776.0, abs=0.05)


def test_best_as_csv(client: Client) -> None:
    """A row a combination, best first."""
    text = client.post("/v1/combinations?format=csv&units=us", SHOP).text
    rows = list(csv.DictReader(io.StringIO(text)))
    assert [row["rank"] for row in rows] == ["1", "2", "3", "4", "5"]
    assert float(rows[0]["displacement [in3]"]) == approx(1776.0 / 16.387, abs=0.01)


def test_the_stream_holds_every_combination_that_fits(client: Client) -> None:
    """As many rows as are accepted, in the order of the lists, all within the limit, with the digits of the JSON."""
    answer = client.post("/v1/combinations/stream", SHOP)
    assert answer.status_code == 200
    assert answer.headers["content-type"].startswith("text/csv")
    assert "content-length" not in answer.headers
    rows = list(csv.DictReader(io.StringIO(answer.text)))
    ranked = client.post("/v1/combinations", {**SHOP, "best": 100}).json()["result"]
    assert len(rows) == ranked["accepted"]
    numbers = [int(row["number"]) for row in rows]
    assert numbers == sorted(entry["number"] for entry in ranked["best"])
    by_number = {entry["number"]: entry for entry in ranked["best"]}
    for row in rows:
        entry = by_number[int(row["number"])]
        assert 7.0 <= float(row["compression_ratio"]) <= 8.0
        assert float(row["compression_ratio"]) == entry["makes"]["compression_ratio"]
        assert float(row["displacement [cm3]"]) == entry["makes"]["displacement"]["value"]
        assert float(row["chamber_volume [cm3]"]) == entry["parts"]["chamber_volume"]["value"]


def test_the_stream_in_us_units(client: Client) -> None:
    """The headings say the unit."""
    head = client.post("/v1/combinations/stream?units=us", SHOP).text.splitlines()[0]
    assert head.startswith("number,bore [in],stroke [in],rod_length [in],chamber_volume [in3],head,deck_clearance [in]")


def test_heads_of_equal_volume_are_told_apart(client: Client) -> None:
    """By number everywhere, counted from 1, and by the name that was sent; a name is quoted as RFC 4180 wants it."""
    heads = [{"chamber_volume": "52 cm3"}, {"chamber_volume": "52 cm3", "name": 'opened, "late"'}]
    cams = [{"intake_closing": "55 deg", "name": "mild"}, {"intake_closing": "55 deg", "name": "=1+1"}]
    few = {"bores": ["86 mm"], "strokes": ["69 mm"], "rods": ["136 mm"], "spacers": ["0 mm"], "limits": {}}
    question = {**SHOP, **few, "heads": heads, "cams": cams}
    streamed = list(csv.DictReader(io.StringIO(client.post("/v1/combinations/stream", question).text)))
    told = [[row[name] for name in ("number", "head", "head_name", "cam", "cam_name")] for row in streamed]
    assert told == [
        ["1", "1", "", "1", "mild"],
        ["2", "1", "", "2", "'=1+1"],
        ["3", "2", 'opened, "late"', "1", "mild"],
        ["4", "2", 'opened, "late"', "2", "'=1+1"],
    ]
    best = client.post("/v1/combinations", question).json()["result"]["best"]
    parts = {entry["number"]: [entry["parts"].get(name) for name in ("head", "head_name", "cam", "cam_name")] for entry in best}
    assert parts[2] == [1, None, 2, "=1+1"]
    assert parts[3] == [2, 'opened, "late"', 1, "mild"]
    ranked = list(csv.DictReader(io.StringIO(client.post("/v1/combinations?format=csv", question).text)))
    assert sorted([row[name] for name in ("number", "head", "head_name", "cam", "cam_name")] for row in ranked) == told


def test_what_is_best_is_a_choice_that_a_refusal_names(client: Client) -> None:
    refused = client.post("/v1/combinations", {**SHOP, "objective": {}}).json()["errors"]
    assert [error["pointer"] for error in refused] == ["/objective/quantity", "/objective/goal"]
    assert refused[0]["allowed"][:2] == ["displacement", "compression_ratio"]
    assert refused[1]["allowed"] == ["least", "most", "nearest"]
    (whole,) = client.post("/v1/combinations", {k: v for k, v in SHOP.items() if k != "objective"}).json()["errors"]
    assert whole["example"] == {"quantity": "displacement", "goal": "most"}
    assert client.post("/v1/combinations", {**SHOP, "objective": whole["example"]}).status_code == 200


def test_a_stream_is_refused_before_it_starts(client: Client) -> None:
    """Wrong questions get a problem, not half a stream."""
    nothing = {key: value for key, value in SHOP.items() if key != "deck_clearances"}
    refused = client.post("/v1/combinations/stream", nothing)
    assert refused.status_code == 422
    assert refused.json()["errors"][0]["pointer"] == "/deck_clearances"
    assert client.post("/v1/combinations/stream?format=json", SHOP).status_code == 422
    assert client.post("/v1/combinations/stream?dataset=1999.1", SHOP).status_code == 404
    assert client.get("/v1/combinations/stream").status_code == 405
    cam = {**SHOP, "rods": None, "cams": [{"intake_closing": "62 deg"}]}
    without = client.post("/v1/combinations/stream", {key: value for key, value in cam.items() if value is not None})
    assert without.json()["errors"][0]["pointer"] == "/rods"


def test_nothing_fits_is_a_heading_alone(client: Client) -> None:
    """An empty set is an answer."""
    document = {**SHOP, "limits": {"compression_ratio": {"low": 14.0}}}
    assert len(client.post("/v1/combinations/stream", document).text.splitlines()) == 1


def test_a_caller_who_leaves_ends_the_stream() -> None:
    """After the caller has gone, at most one more piece is computed, however many there would have been."""
    many = {
        **SHOP,
        "bores": [f"{80 + i / 10} mm" for i in range(50)],
        "strokes": [f"{64 + i / 10} mm" for i in range(50)],
        "limits": {},
    }
    app = create_app(Settings(log_requests=False))
    body = httpx.Request("POST", "http://runstand.test/", json=many).content
    sent: list[dict[str, Any]] = []
    left = asyncio.Event()

    async def receive() -> dict[str, Any]:
        if not sent:
            return {"type": "http.request", "body": body, "more_body": False}
        await left.wait()
        return {"type": "http.disconnect"}

    async def send(message: Any) -> None:
        sent.append(message)
        if len(sent) == 4:
            left.set()
            await asyncio.sleep(0)

    scope = {
        "type": "http",
        "asgi": {"version": "3.0"},
        "http_version": "1.1",
        "method": "POST",
        "scheme": "http",
        "path": "/v1/combinations/stream",
        "raw_path": b"/v1/combinations/stream",
        "query_string": b"",
        "root_path": "",
        "headers": [(b"content-type", b"application/json"), (b"content-length", str(len(body)).encode())],
        "client": ("127.0.0.1", 1),
        "server": ("runstand.test", 80),
    }
    asyncio.run(app(scope, receive, send))
    assert 4 <= len(sent) <= 6


@pytest.mark.parametrize(
    ("changes", "pointer", "code"),
    [
        ({"bores": []}, "/bores", "too-few"),
        ({"bores": ["86"]}, "/bores/0", "unit-missing"),
        ({"bores": "86 mm"}, "/bores", "not-a-list"),
        ({"heads": [{"name": "bare"}]}, "/heads/0/chamber_volume", "missing"),
        ({"best": 101}, "/best", "out-of-range"),
        ({"objective": {"quantity": "beauty", "goal": "most"}}, "/objective/quantity", "unknown-choice"),
        ({"objective": {"quantity": "displacement", "goal": "nearest"}}, "/objective/volume", "missing"),
        ({"limits": {"mean_piston_speed": {"high": "15 m/s"}}}, "/limits/mean_piston_speed", "outside-validity"),
    ],
)
def test_wrong_input_is_named(client: Client, changes: dict[str, Any], pointer: str, code: str) -> None:
    """The place and the kind of the slip."""
    assert faults(client.post("/v1/combinations", {**SHOP, **changes})) == [(pointer, code)]


def test_a_stream_is_csv_and_refuses_to_be_anything_else(client: Client) -> None:
    """An Accept header that a stream cannot serve is told so, as everywhere."""
    for accept, status in (("application/json", 406), ("text/html", 406), ("text/csv", 200), ("*/*", 200), ("text/*", 200)):
        assert client.post("/v1/combinations/stream", SHOP, headers={"accept": accept}).status_code == status, accept
