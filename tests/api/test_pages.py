"""Index, documentation, problem pages, health and metrics."""

import re

import pytest

from service.api.problems import KINDS
from tests.client import Client


def test_the_index_names_every_calculator(client: Client) -> None:
    paths = {entry["path"] for entry in client.get("/v1").json()["calculators"]}
    assert "/v1/displacement" in paths
    home = client.get("/").text
    assert all(f"href='{path}'" in home for path in paths)


def test_the_documentation_asks_nothing_of_the_internet(client: Client) -> None:
    page = client.get("/docs")
    assert page.status_code == 200
    assets = re.findall(r'(?:src|href)="([^"]+)"', page.text)
    for asset in assets:
        assert asset.startswith(("/docs/", "data:"))
        if asset.startswith("/docs/"):
            assert client.get(asset).status_code == 200
    assert "default-src 'self'" in page.headers["content-security-policy"]


@pytest.mark.parametrize("slug", sorted(KINDS))
def test_every_type_of_problem_leads_to_a_page(client: Client, slug: str) -> None:
    page = client.get(f"/problems/{slug}")
    assert page.status_code == 200
    assert "<script" not in page.text


def test_an_unknown_address_names_the_nearest(client: Client) -> None:
    refused = client.get("/v1/displacment")
    assert (refused.status_code, refused.json()["did_you_mean"]) == (404, "/v1/displacement")
    assert client.get("/problems/none").status_code == 404


@pytest.mark.parametrize(
    ("address", "near"),
    [
        ("/v1/displacment", "/v1/displacement"),
        ("/v1/Torques", "/v1/torque"),
        ("/displacement", "/v1/displacement"),
        ("/v1/break-in", "/v1/break-in/schedule"),
        ("/v1/sheet", "/v1/build-sheet"),
        ("/v1/referense", "/v1/reference"),
        ("/v1/nothing", None),
        ("/v1/users", None),
        ("/v1/x", None),
        ("/v1/", None),
        ("/admin/login", None),
    ],
)
def test_only_an_address_that_is_near_is_named(client: Client, address: str, near: str | None) -> None:
    """A slip of the pen finds its way; a guess is not answered with another guess."""
    assert client.get(address).json().get("did_you_mean") == near


def test_health_tells_the_truth(client: Client) -> None:
    assert client.get("/health/live").json() == {"status": "live"}
    assert client.get("/health/ready").json() == {"status": "ready"}
    assert client.request("POST", "/health/live").status_code == 405


def test_metrics_count_requests_by_path_and_not_by_query(client: Client) -> None:
    client.get("/v1/displacement?cylinders=4&bore=86mm&stroke=73mm")
    for n in range(50):
        client.get(f"/junk/{n}")
    answer = client.get("/metrics")
    assert answer.headers["cache-control"] == "no-store"
    figures = answer.text
    assert "/v1/displacement" in figures
    assert "/junk/" not in figures
    assert "bore" not in figures
