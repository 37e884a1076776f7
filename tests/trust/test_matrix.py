"""Every path of the document × every method: exact ``Allow``, CORS and an id on all, HEAD like GET, 304 where it is due."""

import json
from typing import Any

import httpx
import pytest

from tests.client import Client
from tests.trust.fields import DOCUMENT, examples_of

METHODS = ("GET", "HEAD", "POST", "QUERY", "OPTIONS", "PUT", "PATCH", "DELETE", "TRACE", "FOO")
JSON = {"content-type": "application/json"}
# Placeholders of the document's addresses, by what every dataset holds.
PLACES = {
    "/v1/findings/{id}": "/v1/findings/ratio-above-fuel",
    "/v1/methods/{id}": "/v1/methods/displacement",
    "/v1/sources/{id}": "/v1/sources/geometry",
    "{version}": "2026.12",
    "{table}": "threads",
    "{id}": "M8x1.25",
}
# A log has no link of its own, being too long for most addresses; a short one can be asked all the same.
LOG = "/v1/break-in/assessment?schedule.tappet=flat&log=time+%5Bs%5D%2Cspeed+%5Brpm%5D%0A0%2C2000%0A600%2C2500%0A1200%2C2200"
EXTRA = ("/", "/v1", "/docs", "/health/live", "/health/ready", "/metrics", "/openapi.json")


def address(path: str) -> str:
    """The path with its placeholders filled."""
    for place, value in PLACES.items():
        path = path.replace(place, value)
    return path


def declared(path: str) -> set[str]:
    """The methods that the document declares, with those that go without saying."""
    named = {method.upper() for method in DOCUMENT["paths"].get(path, {"get": {}}) if method in ("get", "post")}
    return named | {"OPTIONS"} | ({"HEAD"} if "GET" in named else set()) | ({"QUERY"} if "POST" in named else set())


PATHS = sorted({*DOCUMENT["paths"], *EXTRA})


def send(client: Client, method: str, path: str) -> httpx.Response:
    """A request that a path of this kind can answer."""
    if method in ("POST", "QUERY") and path in DOCUMENT["paths"] and "post" in DOCUMENT["paths"][path]:
        return client.request(method, path, headers=JSON, content=json.dumps(examples_of(path)[0]))
    return client.request(method, asked_by_address(client, path))


def asked_by_address(client: Client, path: str) -> str:
    """An address that can be answered by GET: of a question, the one that its own answer names."""
    item: dict[str, Any] = DOCUMENT["paths"].get(path, {})
    if "post" in item and "get" in item:
        return str(client.post(path, examples_of(path)[0]).headers.get("content-location", LOG))
    return address(path)


@pytest.mark.parametrize("path", PATHS)
def test_the_methods_of_a_path_are_those_that_it_names(path: str, client: Client) -> None:
    allowed = declared(path)
    for method in METHODS:
        answer = send(client, method, path)
        assert answer.headers["access-control-allow-origin"] == "*", method
        assert answer.headers["x-content-type-options"] == "nosniff", method
        assert answer.headers["x-request-id"], method
        if method == "OPTIONS":
            assert answer.status_code == 204
            assert set(answer.headers["allow"].split(", ")) == allowed
        elif method in allowed:
            assert answer.status_code == 200, (method, answer.text[:200])
        else:
            assert answer.status_code == 405, (method, answer.text[:200])
            assert set(answer.headers["allow"].split(", ")) == allowed
            assert answer.headers["content-type"] == "application/problem+json"


@pytest.mark.parametrize("path", [path for path in PATHS if "GET" in declared(path)])
def test_head_is_get_without_its_body_and_an_unchanged_answer_is_304(path: str, client: Client) -> None:
    asked = asked_by_address(client, path)
    got, head = client.get(asked), client.request("HEAD", asked)
    changing = {"x-request-id", "date"} | ({"content-length"} if path == "/metrics" else set())
    assert head.content == b""
    assert {name: value for name, value in head.headers.items() if name not in changing} == {
        name: value for name, value in got.headers.items() if name not in changing
    }
    if "etag" not in got.headers:
        assert path.startswith(("/health", "/metrics")), "what cannot change is cached"
        return
    for method in ("GET", "HEAD"):
        for tags in (got.headers["etag"], f'"other", {got.headers["etag"]}', "*"):
            again = client.request(method, asked, headers={"if-none-match": tags})
            assert (again.status_code, again.content) == (304, b"")
            assert again.headers["etag"] == got.headers["etag"]
            assert again.headers["access-control-allow-origin"] == "*"
    assert client.get(asked, headers={"if-none-match": '"other"'}).status_code == 200
