"""The app spoken to without a socket, and what a refusal of it says."""

import asyncio
from typing import Any

import httpx

from service.app import Service


class Client:
    """A synchronous face on httpx's asynchronous client, so that tests stay plain functions."""

    def __init__(self, app: Service) -> None:
        self._runner = asyncio.Runner()
        transport = httpx.ASGITransport(app, raise_app_exceptions=False)
        self._http = httpx.AsyncClient(transport=transport, base_url="http://runstand.test")

    def request(self, method: str, path: str, **options: Any) -> httpx.Response:
        """Send one request and wait for its answer."""
        return self._runner.run(self._http.request(method, path, **options))

    def get(self, path: str, **options: Any) -> httpx.Response:
        """GET a path; ``params`` and ``headers`` as in httpx."""
        return self.request("GET", path, **options)

    def post(self, path: str, document: Any, **options: Any) -> httpx.Response:
        """POST a document as JSON."""
        return self.request("POST", path, json=document, **options)

    def close(self) -> None:
        """End the client and its event loop."""
        self._runner.run(self._http.aclose())
        self._runner.close()


def faults(refused: httpx.Response) -> list[tuple[str, str]]:
    """Pointer and code of every fault that a refused question names.

    A refusal is 422, or 404 where the only fault is an id that the dataset does not hold.
    """
    assert refused.headers["content-type"] == "application/problem+json", refused.text
    found = [(error["pointer"], error["code"]) for error in refused.json()["errors"]]
    only_unknown_ids = {code for _, code in found} == {"unknown-id"}
    assert refused.status_code == (404 if only_unknown_ids else 422), refused.text
    return found
