"""The ``instance`` of a refusal: the route that refused, the same for the same request, and no echo (RFC 9457, 3.1.5)."""

import pytest

from service.api.batch import Batch
from service.api.reference import Reference
from service.app import create_app
from service.settings import Settings
from tests.client import Client


@pytest.mark.parametrize(
    ("address", "status", "instance"),
    [
        ("/v1/displacement", 422, "/v1/displacement"),
        ("/v1/displacement?bore=86&stroke=ouch", 422, "/v1/displacement"),
        ("/v1/break-in/schedule?nothing=1", 422, "/v1/break-in/schedule"),
        ("/v1/displacement?dataset=1999.01&cylinders=4", 404, "/v1/displacement"),
        ("/v1/displacement?cylinders=4&bore=86mm&stroke=69mm&format=pdf", 406, "/v1/displacement"),
        ("/v1/reference/threads/M99x9", 404, "/v1/reference/threads"),
        ("/v1/reference/threads/M8x1.25?colour=red", 422, "/v1/reference/threads/M8x1.25"),
        ("/v1/reference/threads/3%2F8-24%20UNF?format=csv", 406, "/v1/reference/threads/3/8-24%20UNF"),
        ("/v1/reference/treads?limit=1", 404, "/v1/reference"),
        ("/v1/reference/threads?limit=0", 422, "/v1/reference/threads"),
        ("/v1/datasets/1999.01", 404, "/v1/datasets"),
        ("/v1/datasets/2026.12/mistake", 404, "/v1/datasets/2026.12"),
        ("/v1/datasets/2026.12/changes?cursor=x", 422, "/v1/datasets/2026.12/changes"),
        ("/v1/methods/swept-volum", 404, "/v1/methods"),
        ("/v1/units/length", 404, "/v1/units"),
    ],
)
def test_a_refusal_names_the_route_that_refused_and_nothing_made_up(
    client: Client, address: str, status: int, instance: str
) -> None:
    """What there is in the address is named, what there is not is not repeated; the same request has the same bytes."""
    refused = client.get(address)
    assert refused.status_code == status
    assert refused.json()["instance"] == instance
    assert client.get(address).content == refused.content


def test_a_method_that_a_route_does_not_take_is_refused_by_that_route(client: Client) -> None:
    """Every kind of route says who refused: a calculator, a list, a page, a body route."""
    assert client.request("DELETE", "/v1/displacement").json()["instance"] == "/v1/displacement"
    assert client.request("POST", "/v1/reference/threads").json()["instance"] == "/v1/reference/threads"
    assert client.request("POST", "/v1").json()["instance"] == "/v1"
    assert client.get("/v1/batch").json()["instance"] == "/v1/batch"


def test_a_body_that_is_not_read_is_refused_by_its_route(client: Client) -> None:
    """415 and 400 come from the route that would have read the body."""
    sent = client.request("POST", "/v1/displacement", content=b"bore", headers={"content-type": "text/plain"})
    assert (sent.status_code, sent.json()["instance"]) == (415, "/v1/displacement")
    sent = client.request("POST", "/v1/verify", content=b"{", headers={"content-type": "application/json"})
    assert (sent.status_code, sent.json()["instance"]) == (400, "/v1/verify")


@pytest.mark.parametrize("address", ["/v1/nothing", "/nowhere/at/all", "/problems/nothing"])
def test_where_there_is_no_route_nothing_of_the_address_comes_back(client: Client, address: str) -> None:
    """An unknown path has no instance, since it could only be an echo."""
    refused = client.get(address)
    assert refused.status_code == 404
    assert "instance" not in refused.json()


def test_each_question_of_a_batch_names_the_calculator_that_refused_it(client: Client) -> None:
    """The instance within a batch is that of the question; a path that is none was refused by the batch itself."""
    items = [{"path": "/v1/displacement", "input": {}}, {"path": "/v1/nothing", "input": {}}]
    answered = client.post("/v1/batch", {"items": items}).json()["items"]
    assert [entry["problem"]["instance"] for entry in answered] == ["/v1/displacement", "/v1/batch"]
    assert client.post("/v1/batch", {"items": []}).json()["instance"] == "/v1/batch"


@pytest.mark.parametrize("path", ["/v1/reference/threads", "/v1/batch"])
def test_what_nobody_foresaw_tells_an_id_and_nothing_of_the_inside(path: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """A fault behind the framework is a problem like any other, with the request's id as its instance."""

    def fail(*_: object) -> None:
        raise RuntimeError("secret of the house")

    monkeypatch.setattr(Reference, "page", fail)
    monkeypatch.setattr(Batch, "answer", fail)
    client = Client(create_app(Settings(log_requests=False)))
    sent = {"headers": {"x-request-id": "shop-18", "content-type": "application/json"}}
    broken = client.request("POST", path, content=b"{}", **sent) if path == "/v1/batch" else client.get(path, **sent)
    client.close()
    assert (broken.status_code, broken.headers["content-type"]) == (500, "application/problem+json")
    assert broken.json()["instance"] == "urn:request:shop-18"
    assert "secret" not in broken.text
