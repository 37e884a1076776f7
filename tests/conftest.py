"""What most tests share: the dataset, and the app spoken to through httpx's ASGI transport without a socket."""

import os
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import settings

from service import quantities
from service.app import create_app
from service.reference.dataset import Dataset, Library
from service.reference.loader import load_library
from service.settings import Settings
from tests.client import Client

# The same examples on every machine and every run; `HYPOTHESIS_PROFILE=explore pytest` looks for new ones.
settings.register_profile("fixed", derandomize=True, deadline=None)
settings.register_profile("explore", deadline=None, max_examples=1000)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "fixed"))

DATA = Path(__file__).parents[1] / "data"


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
