"""Where more than one input is missing, each has its own entry: nobody learns of the second by sending the first."""

from typing import Any

import pytest

from service.errors import Missing, MissingInput
from tests.client import Client, faults

BARREL = {"bore": "86 mm", "stroke": "69 mm"}
MEASURED = {**BARREL, "chamber_volume": "50 cm3", "deck_clearance": "1.5 mm"}
SPRING = {"seat_load": "300 N", "installed_length": "36 mm"}


@pytest.mark.parametrize(
    ("path", "document", "missing"),
    [
        ("/v1/displacement", {"cylinders": 4}, ["/bore", "/stroke"]),
        ("/v1/compression", BARREL, ["/chamber_volume", "/deck_clearance"]),
        ("/v1/compression", {**MEASURED, "duration": "280 deg"}, ["/lobe_centre", "/rod_length"]),
        ("/v1/compression", {**MEASURED, "checking": {"lift": "1 mm"}}, ["/rod_length", "/checking/intake_closing"]),
        ("/v1/lash", {}, ["/engine", "/pushrod_material"]),
        ("/v1/torque", {}, ["/thread", "/torque"]),
        ("/v1/clearance", {"measured": "0.1 mm"}, ["/low", "/uncertainty"]),
        ("/v1/shims", {"gap": "1.2 mm", "pick": 3, "stock": {"0.24 mm": 4}}, ["/low", "/high"]),
        ("/v1/valve-spring", SPRING, ["/open_load", "/open_length"]),
        (
            "/v1/valve-events",
            {"intake_opening": "34 deg", "intake_closing": "62 deg"},
            ["/exhaust_opening", "/exhaust_closing"],
        ),
        ("/v1/valve-events", {"intake_duration": "276 deg"}, ["/exhaust_duration", "/lobe_separation"]),
        (
            "/v1/valve-order",
            {"firing_order": "1-4-3-2", "intake_opening": "34 deg"},
            ["/intake_closing", "/exhaust_opening", "/exhaust_closing"],
        ),
        (
            "/v1/oil",
            {"sump": "2.5 L", "pump": {"gear_diameter": "36 mm"}},
            ["/pump/centre_distance", "/pump/gear_width"],
        ),
        (
            "/v1/piston-motion",
            {
                "stroke": "69 mm",
                "rod_length": "137 mm",
                "speed": "3000 rpm",
                "reciprocating_mass": "500 g",
                "cylinder_pressure": "10 bar",
            },
            ["/bore", "/crank_angle"],
        ),
        (
            "/v1/ignition",
            {
                "pulley_diameter": "145 mm",
                "total_advance": "28 deg",
                "curve": [{"speed": "600 rpm", "advance": "0 deg"}, {"speed": "1500 rpm", "advance": "10 deg"}],
            },
            ["/static_advance", "/curve_shaft"],
        ),
        (
            "/v1/ignition",
            {"pulley_diameter": "145 mm", "total_advance": "28 deg", "lobes": 4, "points_gap_after": "0.3 mm"},
            ["/points_gap", "/dwell"],
        ),
    ],
)
def test_every_missing_input_has_its_entry_with_an_example(
    client: Client, path: str, document: dict[str, Any], missing: list[str]
) -> None:
    refused = client.post(path, document)
    assert faults(refused) == [(pointer, "missing") for pointer in missing]
    assert all(error["example"] and error["detail"].endswith((".", "?", ")")) for error in refused.json()["errors"])


def test_what_is_named_as_missing_and_its_example_are_accepted(client: Client) -> None:
    """The examples of a refusal, sent back, make an answer: it named all that was missing."""
    errors = client.post("/v1/compression", BARREL).json()["errors"]
    sent = BARREL | {error["pointer"][1:]: error["example"] for error in errors}
    assert client.post("/v1/compression", sent).status_code == 200


def test_a_section_of_the_sheet_waits_for_all_that_it_needs(client: Client) -> None:
    """The build sheet names both measurements that the ratio waits for."""
    sheet = client.post("/v1/build-sheet", {"engine": "air-cooled-flat-four", "bore": "85.5 mm", "stroke": "69 mm"}).json()
    waiting = {entry["input"] for entry in sheet["result"]["missing"] if "compression" in " ".join(entry["unlocks"]).lower()}
    assert {"compression.chamber_volume", "compression.deck_clearance"} <= waiting


def test_a_reason_shared_by_two_inputs_is_told_once() -> None:
    both = MissingInput.of([Missing("bore", "Two are needed."), Missing("stroke", "Two are needed.", "69 mm")])
    assert (str(both), both.field, both.fields) == ("Two are needed.", "bore", ("bore", "stroke"))
