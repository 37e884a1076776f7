"""The composition root: the only place where the parts of the house are put together."""

from fastapi import FastAPI
from starlette.exceptions import HTTPException

from service import quantities
from service.answers.topics import TOPICS
from service.api.batch import Batch
from service.api.calculators import CalculatorLayer, Calculators
from service.api.combination_stream import CombinationStream
from service.api.guard import Guard
from service.api.health import PROCESS
from service.api.metrics import Metrics
from service.api.pages import answer_framework_refusal, page_routes
from service.api.reference import reference_routes
from service.api.verify import Verify
from service.methods import METHODS
from service.reference.loader import load_library
from service.settings import Settings
from service.sheet.sheet import TOPIC as BUILD_SHEET


def create_app(settings: Settings | None = None) -> FastAPI:
    """The service, ready to answer.

    Args:
        settings: How it is set up; read from the environment when not given.

    Raises:
        BrokenDataset: The dataset is not what its manifest says. A service with wrong numbers does not start.
    """
    settings = settings or Settings()
    library = load_library(settings.data, quantities.convert)
    metrics = Metrics() if settings.metrics else None
    app = FastAPI(title="Runstand", openapi_url=None, docs_url=None, redoc_url=None, swagger_ui_oauth2_redirect_url=None)
    calculators = Calculators((*TOPICS, BUILD_SHEET), library, settings.body_deadline, settings.kept_answers)
    app.router.routes[:] = [
        Batch(calculators),
        CombinationStream(calculators),
        Verify(calculators),
        *reference_routes(library, METHODS),
        *page_routes(library, PROCESS, metrics),
    ]
    app.router.redirect_slashes = False
    app.add_exception_handler(HTTPException, answer_framework_refusal)
    app.add_middleware(CalculatorLayer, calculators=calculators)
    app.add_middleware(Guard, settings=settings, health=PROCESS, metrics=metrics)
    return app
