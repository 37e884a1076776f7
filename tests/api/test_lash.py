"""Valve lash over HTTP: what a shop asks and what it reads."""

from typing import Any

import pytest

from tests.client import Client, faults

approx = pytest.approx


def test_the_two_questions_of_the_shop(client: Client) -> None:
    """0.006 in with aluminium push rods, zero with steel: typed into the address line, read in inches."""
    aluminium = client.get("/v1/lash?engine=air-cooled-flat-four&pushrod_material=aluminium&units=us").json()["result"]
    assert aluminium["cold_lash"]["intake"]["text"] == "0.006 in (0.15 mm)"
    assert aluminium["cold_lash"]["exhaust"]["value"] == approx(0.006)
    steel = client.get("/v1/lash?engine=air-cooled-flat-four&pushrod_material=steel").json()["result"]
    assert steel["cold_lash"]["exhaust"]["value"] == 0
    assert "no play" in steel["setting"]
    assert steel["hot_clearance_change"]["exhaust"]["uncertainty"]["coverage"] == 2


def test_a_swap_by_get_and_post(client: Client) -> None:
    """The maker's 0.006 in carried over to steel rods: one answer either way."""
    question = {"reference_lash": "0.006 in", "reference_material": "aluminium", "pushrod_material": "steel"}
    posted = client.post("/v1/lash", question)
    asked = client.get("/v1/lash", params=question)
    assert posted.json()["result"] == asked.json()["result"]
    assert posted.json()["result"]["cold_lash"]["exhaust"]["value"] == 0
    assert posted.json()["result"]["swap"]["difference"]["value"] == approx(-0.229, abs=0.001)
    assert client.get(posted.headers["content-location"]).json()["answer_id"] == posted.json()["answer_id"]


def test_common_practice_is_labelled(client: Client) -> None:
    """The looked-up figure carries its evidence; the model's facts carry theirs."""
    answer = client.get("/v1/lash?engine=air-cooled-flat-four&pushrod_material=steel").json()
    basis = {entry["id"]: entry for entry in answer["basis"]}
    assert basis["lash/air-cooled-flat-four/steel/exhaust"]["evidence"] == "common-practice"
    assert basis["lash-change-by-growth"]["kind"] == "method"
    assert basis["materials/magnesium-az91d/expansion"]["source"] == "callister-2007"
    assert {"lengths", "temperatures", "rocker_ratio"} <= {entry["field"] for entry in answer["assumptions"]}
    assert answer["cautions"]


def test_thousandths_typed_as_millimetres_are_asked_about(client: Client) -> None:
    """0.6 mm of lash is legal and unlikely: answered, and asked."""
    answer = client.get("/v1/lash?engine=air-cooled-flat-four&pushrod_material=steel&cold_lash=0.6 mm").json()
    assert [finding["severity"] for finding in answer["findings"]] == ["ask", "caution"]
    refused = client.get("/v1/lash?engine=air-cooled-flat-four&pushrod_material=steel&cold_lash=6 mm")
    assert refused.status_code == 422
    assert refused.json()["errors"][0]["code"] == "out-of-range"


@pytest.mark.parametrize(
    ("document", "status", "pointer", "code"),
    [
        ({"pushrod_material": "steel"}, 422, "/engine", "missing"),
        ({"engine": "air-cooled-flat-four"}, 422, "/pushrod_material", "missing"),
        ({"engine": "air-cooled-flat-four", "pushrod_material": "wood"}, 422, "/pushrod_material", "unknown-choice"),
        ({"engine": "air-cooled-flat-for", "pushrod_material": "steel"}, 404, "/engine", "unknown-id"),
        ({"reference_lash": 6, "pushrod_material": "steel"}, 422, "/reference_lash", "unit-missing"),
        ({"reference_lash": "0.15 N", "pushrod_material": "steel"}, 422, "/reference_lash", "unit-mismatch"),
        (
            {"pushrod_material": "steel", "lengths": {"push_rod": "0 mm"}},
            422,
            "/lengths/push_rod",
            "out-of-range",
        ),
        ({"engine": "air-cooled-flat-four", "push_rod": "steel"}, 422, "/push_rod", "unknown-name"),
    ],
)
def test_wrong_input_is_named(client: Client, document: dict[str, Any], status: int, pointer: str, code: str) -> None:
    """The place and the kind of the slip."""
    refused = client.post("/v1/lash", document)
    assert refused.status_code == status
    assert faults(refused) == [(pointer, code)]


def test_growth_as_csv(client: Client) -> None:
    """One row a part, so that a spreadsheet can add it up."""
    text = client.get("/v1/lash?engine=air-cooled-flat-four&pushrod_material=aluminium&format=csv").text
    lines = text.splitlines()
    assert lines[0] == "part,opens_intake [mm],opens_exhaust [mm]"
    total = sum(float(line.split(",")[2].lstrip("'")) for line in lines[1:])
    assert total == approx(-0.0565, abs=1e-4)


def test_the_older_dataset_answers_too(client: Client) -> None:
    """Pinned to the earlier version the trade's figures are the same."""
    answer = client.get("/v1/lash?engine=air-cooled-flat-four&pushrod_material=aluminium&dataset=2026.11")
    assert answer.headers["dataset-version"] == "2026.11"
    assert answer.json()["result"]["cold_lash"]["intake"]["text"] == "0.15 mm (0.006 in)"


def test_a_near_choice_is_offered(client: Client) -> None:
    """The other spelling of the metal is the likeliest slip of all."""
    error = client.get("/v1/lash?engine=air-cooled-flat-four&pushrod_material=aluminum").json()["errors"][0]
    assert (error["did_you_mean"], error["allowed"]) == ("aluminium", ["steel", "aluminium"])
