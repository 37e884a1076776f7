"""The composition root: the only place where the parts of the house are put together."""

from dataclasses import dataclass

from fastapi import FastAPI
from starlette.exceptions import HTTPException
from starlette.middleware.exceptions import ExceptionMiddleware
from starlette.types import ASGIApp, Receive, Scope, Send

from service import quantities
from service.answers.topics import TOPICS
from service.api.batch import Batch
from service.api.calculators import Calculators
from service.api.combination_stream import CombinationStream
from service.api.front import Front
from service.api.guard import Guard
from service.api.health import PROCESS
from service.api.metrics import Metrics
from service.api.pages import answer_framework_refusal, page_routes
from service.api.reference import Reference
from service.api.verify import Verify
from service.methods import METHODS
from service.reference.loader import load_library
from service.settings import Settings
from service.sheet.sheet import TOPIC as BUILD_SHEET


@dataclass(frozen=True)
class Service:
    """The service as an ASGI app: the guard around what stands before the framework, around the framework with its pages."""

    framework: FastAPI
    front: Front
    guarded: ASGIApp

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        await self.guarded(scope, receive, send)


def create_app(settings: Settings | None = None) -> Service:
    """The service, ready to answer.

    Args:
        settings: How it is set up; read from the environment when not given.

    Raises:
        BrokenDataset: The dataset is not what its manifest says. A service with wrong numbers does not start.
    """
    settings = settings or Settings()
    library = load_library(settings.data, quantities.convert)
    metrics = Metrics() if settings.metrics else None
    framework = FastAPI(title="Runstand", openapi_url=None, docs_url=None, redoc_url=None, swagger_ui_oauth2_redirect_url=None)
    calculators = Calculators((*TOPICS, BUILD_SHEET), library, settings.body_deadline, settings.kept_answers)
    framework.router.routes[:] = page_routes(library, PROCESS, metrics)
    framework.router.redirect_slashes = False
    # Instead of the framework's own stack, whose outermost part would answer refusals and the unforeseen before the guard does.
    framework.middleware_stack = ExceptionMiddleware(framework.router, handlers={HTTPException: answer_framework_refusal})
    routes = (Reference(library, METHODS), Batch(calculators), CombinationStream(calculators), Verify(calculators))
    front = Front(framework, calculators, routes)
    return Service(framework, front, Guard(front, settings, PROCESS, metrics))
