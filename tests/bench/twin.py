"""The referees of the speed figures: an empty twin, and the same question answered the way a tutorial would.

The twin reads the same body and answers as many constant bytes.
"""

import os
from math import pi
from typing import Any

from fastapi import FastAPI, Request, Response
from pydantic import BaseModel

ANSWER = b"x" * int(os.environ.get("TWIN_BYTES", "1000"))


def create_twin(_settings: object = None) -> FastAPI:
    """An empty FastAPI app: one route, constant bytes."""
    app = FastAPI(openapi_url=None)

    @app.api_route("/twin", methods=["GET", "POST"])
    async def twin(request: Request) -> Response:
        await request.body()
        return Response(ANSWER, media_type="application/json")

    return app


class Length(BaseModel):
    """A quantity as a tutorial writes it."""

    value: float
    unit: str


class Question(BaseModel):
    """The displacement question as a tutorial writes it."""

    cylinders: int
    bore: Length
    stroke: Length


class Answer(BaseModel):
    """The displacement answer as a tutorial writes it."""

    displacement: float
    unit: str
    piston_area: float
    ratio: float


def create_tutorial(_settings: object = None) -> FastAPI:
    """Displacement as a tutorial would serve it: sync handler, pint on the request path, two middlewares."""
    import pint

    units: Any = pint.UnitRegistry()
    app = FastAPI()

    @app.middleware("http")
    async def stamp(request: Request, call_next: Any) -> Response:
        response: Response = await call_next(request)
        response.headers["x-process"] = "1"
        return response

    @app.middleware("http")
    async def allow(request: Request, call_next: Any) -> Response:
        response: Response = await call_next(request)
        response.headers["access-control-allow-origin"] = "*"
        return response

    @app.post("/tutorial", response_model=Answer)
    def displacement(question: Question) -> Answer:
        bore = units.Quantity(question.bore.value, question.bore.unit).to("m").magnitude
        stroke = units.Quantity(question.stroke.value, question.stroke.unit).to("m").magnitude
        area = pi / 4 * bore**2
        swept = units.Quantity(area * stroke * question.cylinders, "m**3").to("cm**3").magnitude
        return Answer(displacement=swept, unit="cm3", piston_area=area, ratio=bore / stroke)

    return app
