"""Valve events over HTTP: the published card, shop units, both ways to ask, faces, refusals at their place."""

from typing import Any

import pytest

from tests.client import Client, faults
from tests.published.cases import published

PATH = "/v1/valve-events"
CASES = published("valve_events")
CAM: dict[str, Any] = {
    "intake_duration": "276 deg",
    "exhaust_duration": "276 deg",
    "lobe_separation": "108 deg",
    "advance": "4 deg",
}


def test_published_card(client: Client) -> None:
    """V01: 32.5/60.5/70.5/32.5 are 273° and 283° with 65° of overlap."""
    case = CASES["V01"]
    result = client.post(PATH, case["given"]).json()["result"]
    for name, printed in case["expected"].items():
        assert result[name]["value"] == pytest.approx(printed["value"], abs=case["tolerance"]["abs"])


def test_published_arc_cam(client: Client) -> None:
    """K21: 55° from the start of lift to the nose is 220° of the crank; the nose radius comes back."""
    given = CASES["K21"]["given"]
    half = 2 * given["alpha"]["value"] - 90
    card = {"intake_opening": half, "intake_closing": half, "exhaust_opening": half, "exhaust_closing": half}
    question: dict[str, Any] = {name: {"value": value, "unit": "deg"} for name, value in card.items()}
    question |= {"cam_lift": given["lift"], "base_circle_radius": given["base_r"], "nose_radius": given["nose_r"]}
    lobe = client.post(f"{PATH}?units=us", question).json()["result"]["lobe"]
    assert lobe["half_width"]["value"] == pytest.approx(given["alpha"]["value"])
    assert lobe["nose_radius"]["value"] == pytest.approx(given["nose_r"]["value"])
    assert lobe["nose_radius"]["unit"] == "in"


def test_a_card_and_its_way_back(client: Client) -> None:
    """Durations give events; the events asked again give the durations."""
    forth = client.post(PATH, CAM).json()["result"]
    events = {name: forth[name] for name in ("intake_opening", "intake_closing", "exhaust_opening", "exhaust_closing")}
    plain = {name: {"value": event["value"], "unit": event["unit"]} for name, event in events.items()}
    assert [event["value"] for event in events.values()] == pytest.approx([34, 62, 70, 26])
    back = client.post(PATH, plain).json()["result"]
    for name in CAM:
        assert back[name]["value"] == pytest.approx(float(CAM[name].split()[0]), abs=1e-9)


def test_shop_units_and_get(client: Client) -> None:
    """Inches and thousandths in the address line; the same receipt as the body in millimetres would not give."""
    query = CAM | {"cam_lift": '0.330"', "rocker_ratio": "1.25", "lash": "6 thou"}
    got = client.get(PATH, params=query | {"units": "us"}).json()["result"]
    assert got["lift"]["intake"]["value"] == pytest.approx(0.330 * 1.25 - 0.006, rel=1e-9)
    posted = client.post(PATH, CAM | {"cam_lift": '0.330"', "rocker_ratio": 1.25, "lash": "6 thou"})
    assert posted.json()["answer_id"] == client.get(PATH, params=query).json()["answer_id"]


@pytest.mark.parametrize("face", ["html", "text", "csv"])
def test_faces_have_the_figures(client: Client, face: str) -> None:
    """Lobe separation and intake closing on every face, as in the JSON answer."""
    page = client.get(PATH, params=CAM | {"format": face})
    result = client.get(PATH, params=CAM).json()["result"]
    assert page.status_code == 200
    for name in ("lobe_separation", "intake_closing"):
        assert result[name]["text"] in page.text


@pytest.mark.parametrize(
    ("changes", "field", "code"),
    [
        ({"intake_duration": "138"}, "intake_duration", "unit-missing"),
        ({"intake_duration": "276 mm"}, "intake_duration", "unit-mismatch"),
        ({"intake_duration": "60 deg"}, "intake_duration", "out-of-range"),
        ({"rocker_ratio": "1.1"}, "rocker_ratio", "not-a-number"),
        ({"rocker_ratio": 3}, "rocker_ratio", "out-of-range"),
    ],
)
def test_faults_are_named_at_their_place(client: Client, changes: dict[str, Any], field: str, code: str) -> None:
    """422 with a pointer to the field and a code."""
    assert faults(client.post(PATH, CAM | changes))[0] == (f"/{field}", code)


def test_a_missing_event_is_named_with_an_example(client: Client) -> None:
    """Three events of four: 422 for the fourth, with what would do."""
    answer = client.post(PATH, {"intake_opening": "34 deg", "intake_closing": "62 deg", "exhaust_opening": "70 deg"})
    assert answer.status_code == 422
    error = answer.json()["errors"][0]
    assert error["pointer"] == "/exhaust_closing"
    assert error["example"]


def test_durations_that_no_lobe_has_name_their_fields(client: Client) -> None:
    """422 for all four figures of the lobe, in the words of the caller."""
    answer = client.post(PATH, CAM | {"cam_lift": "8 mm", "checked_duration": "120 deg"})
    assert {pointer for pointer, _ in faults(answer)} == {
        "/intake_duration",
        "/checking_lift",
        "/checked_duration",
        "/second_checking_lift",
    }


def test_lift_at_the_valve_typed_as_cam_lift_is_asked_about(client: Client) -> None:
    """12 mm at the tappet is unusual: used, and asked about."""
    findings = client.post(PATH, CAM | {"cam_lift": "12 mm"}).json()["findings"]
    assert [(finding["severity"], finding["fields"]) for finding in findings] == [("ask", ["cam_lift"])]
