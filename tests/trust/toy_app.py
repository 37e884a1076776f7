"""A small app behind the real guard, so that the edge is tested apart from any answer."""

import asyncio
import time
from collections.abc import Callable
from contextlib import asynccontextmanager
from typing import Any

from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, Response, StreamingResponse
from starlette.routing import Route

from service.api.body import read_body, require_content_type
from service.api.guard import Guard, write_line
from service.api.health import PROCESS, Health
from service.api.metrics import Metrics
from service.api.strict_json import read_json
from service.errors import BrokenDataset
from service.settings import Settings


async def question(request: Request) -> Response:
    """Reads a body as the service does and tells its size."""
    if request.method == "GET":
        return JSONResponse({"octets": 0})
    require_content_type(request.scope)
    body = await read_body(request.scope, request.receive, limit=262_144, deadline=request.app.state.body_deadline)
    read_json(body)
    return JSONResponse({"octets": len(body)})


async def slow(request: Request) -> Response:
    """Takes its time without holding the processor."""
    await asyncio.sleep(float(request.query_params.get("s", "0.2")))
    return JSONResponse({"done": True})


async def work(request: Request) -> Response:
    """Holds the processor, like every calculation."""
    until = time.perf_counter() + float(request.query_params.get("ms", "2")) / 1000
    while time.perf_counter() < until:
        pass
    return JSONResponse({"done": True})


async def boom(_: Request) -> Response:
    """Fails in a way that nobody foresaw."""
    raise ZeroDivisionError("a secret of the inside")


async def half(_: Request) -> Response:
    """Fails in the middle of its answer."""

    async def pieces() -> Any:
        yield b"first"
        raise ZeroDivisionError("a secret of the inside")

    return StreamingResponse(pieces(), media_type="text/plain")


async def drip(_: Request) -> Response:
    """Comes in pieces over some time."""

    async def pieces() -> Any:
        for _ in range(40):
            yield b"x" * 1000
            await asyncio.sleep(0.01)

    return StreamingResponse(pieces(), media_type="text/plain")


async def page(_: Request) -> Response:
    """Brings a content security policy of its own."""
    return HTMLResponse("<p>sheet</p>", headers={"content-security-policy": "default-src 'self'"})


async def kept(_: Request) -> Response:
    """May be kept by every cache on the way, like the service's answers."""
    return JSONResponse({}, headers={"cache-control": "public, max-age=300", "vary": "Accept, Accept-Encoding"})


async def big(_: Request) -> Response:
    """More than fits into the buffers on the way."""
    return Response(b"x" * 16_000_000, media_type="text/plain")


async def ready(request: Request) -> Response:
    """Whether requests should come."""
    status, body = request.app.state.health.answer()
    return JSONResponse(body, status_code=status)


async def figures(request: Request) -> Response:
    """The figures of this worker."""
    return Response(request.app.state.metrics.render(), media_type="text/plain")


@asynccontextmanager
async def lifespan(_: Starlette) -> Any:
    """Nothing to prepare; needed because the server insists on a lifespan."""
    yield


def broken(_: Settings) -> Starlette:
    """An app whose dataset is not what it should be."""
    raise BrokenDataset("threads.csv, line 17: 58,0 is no number.")


def create(settings: Settings, write: Callable[[bytes], None] = write_line, health: Health = PROCESS) -> Starlette:
    """The app, put together as the real one is."""
    app = Starlette(
        lifespan=lifespan,
        routes=[
            Route("/question", question, methods=["GET", "POST"]),
            Route("/slow", slow),
            Route("/work", work),
            Route("/boom", boom),
            Route("/half", half),
            Route("/drip", drip),
            Route("/page", page),
            Route("/kept", kept),
            Route("/big", big),
            Route("/things/{thing}", page),
            Route("/health/ready", ready),
            Route("/metrics", figures),
        ],
    )
    app.state.metrics = Metrics()
    app.state.health = health
    app.state.body_deadline = settings.body_deadline
    app.add_middleware(Guard, settings=settings, metrics=app.state.metrics, write=write, health=health)
    return app
