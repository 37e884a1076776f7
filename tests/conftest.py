"""What most tests share: the dataset, and the app spoken to through httpx's ASGI transport without a socket."""

import asyncio
import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import httpx
import pytest
from fastapi import FastAPI
from hypothesis import settings

from service import quantities
from service.app import create_app
from service.reference.dataset import Dataset, Library
from service.reference.loader import load_library
from service.settings import Settings

# The same examples on every machine and every run; `HYPOTHESIS_PROFILE=explore pytest` looks for new ones.
settings.register_profile("fixed", derandomize=True, deadline=None)
settings.register_profile("explore", deadline=None, max_examples=1000)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "fixed"))

DATA = Path(__file__).parents[1] / "data"


class Client:
    """A synchronous face on httpx's asynchronous client, so that tests stay plain functions."""

    def __init__(self, app: FastAPI) -> None:
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


@pytest.fixture(scope="session")
def library() -> Library:
    """Every version of the reference dataset."""
    return load_library(DATA, quantities.convert)


@pytest.fixture(scope="session")
def dataset(library: Library) -> Dataset:
    """The newest version of the reference dataset."""
    return library.newest


@pytest.fixture(scope="session")
def client() -> Iterator[Client]:
    """The whole app, without a socket."""
    client = Client(create_app(Settings(log_requests=False)))
    yield client
    client.close()
