"""The reference data over HTTP."""

from collections.abc import Mapping

from starlette.routing import BaseRoute

from service.methods import Method
from service.reference.dataset import Library


def reference_routes(library: Library, methods: Mapping[str, Method]) -> list[BaseRoute]:
    """The routes of the reference data."""
    return []
