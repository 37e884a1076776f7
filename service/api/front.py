"""What stands before the framework: the calculators, looked up by their path, and the routes that this service made itself.

The framework's own stack and its search through the routes take as long as a small answer does, while a dictionary takes no
time. What is left to the framework are the pages.
"""

from collections.abc import Sequence

from starlette.routing import BaseRoute, Match
from starlette.types import ASGIApp, Receive, Scope, Send

from service.api.calculators import Calculators


class Front:
    """Plain ASGI around the framework.

    Args:
        app: What answers all else.
        calculators: By their paths.
        routes: Tried in this order when no calculator has the path.
    """

    def __init__(self, app: ASGIApp, calculators: Calculators, routes: Sequence[BaseRoute]) -> None:
        self.app = app
        self.calculators = calculators
        self.routes = routes

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer, or hand on."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        served = self.calculators.by_path.get(scope["path"])
        if served is not None:
            scope["route"] = served  # the label of figures and log lines
            await self.calculators.handle(served, scope, receive, send)
            return
        for route in self.routes:
            match, found = route.matches(scope)
            if match is Match.FULL:
                scope.update(found)
                await route.handle(scope, receive, send)
                return
        await self.app(scope, receive, send)
