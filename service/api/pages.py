"""What is not a question: the index, the documentation, the problem pages, health and metrics."""

import gzip
from collections.abc import Callable
from difflib import get_close_matches
from functools import cache, partial
from html import escape
from pathlib import Path
from typing import Any

import orjson
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from service.answers.topics import TOPICS
from service.api.health import Health
from service.api.metrics import Metrics
from service.api.openapi import TOPICS as ASKED
from service.api.openapi import document_bytes
from service.api.problems import KINDS, MEDIA_TYPE, problem_of
from service.api.reference import WORDS
from service.api.refusal import Refusal
from service.api.responses import PAGE_POLICY, entity_tag, matches
from service.faces.page import page
from service.reference.dataset import Library

STATIC = Path(__file__).parent / "static"
DOCS_POLICY = "default-src 'self'; style-src 'self' 'unsafe-inline'; img-src 'self' data:; frame-ancestors 'self'"
_ADDRESSES = [topic.path.removeprefix("/v1/") for topic in ASKED] + ["batch", "combinations/stream", "verify", *WORDS]
_STATIC_TYPES = {".js": "text/javascript", ".css": "text/css", ".html": "text/html; charset=utf-8", ".png": "image/png"}


def page_routes(library: Library, health: Health, metrics: Metrics | None) -> list[BaseRoute]:
    """The routes of this module."""
    routes: list[BaseRoute] = [
        Route("/", _fixed(_home, "text/html; charset=utf-8", PAGE_POLICY.decode()), methods=["GET"]),
        Route("/v1", _fixed(partial(_index, library), "application/json"), methods=["GET"]),
        Route("/openapi.json", _fixed(document_bytes, "application/json"), methods=["GET"]),
        Route("/docs", _fixed((STATIC / "docs.html").read_bytes, _STATIC_TYPES[".html"], DOCS_POLICY), methods=["GET"]),
        Route("/problems/{slug}", _problem_page, methods=["GET"]),
        Route("/health/live", _live, methods=["GET"]),
        Route("/health/ready", _ready(health), methods=["GET"]),
    ]
    for asset in sorted(STATIC.iterdir()):
        name = asset.name.removesuffix(".gz")  # what others wrote is kept packed
        suffix = Path(name).suffix
        if suffix in _STATIC_TYPES and name != "docs.html":
            answer = _fixed(partial(_asset, asset), _STATIC_TYPES[suffix])
            routes.append(Route(f"/docs/{name}", answer, methods=["GET"]))
    if metrics is not None:
        routes.append(Route("/metrics", _metrics(metrics), methods=["GET"]))
    return routes


async def answer_framework_refusal(request: Request, error: Exception) -> Response:
    """A path or method that no route takes, as a problem; a misspelt path names the nearest."""
    status = getattr(error, "status_code", 404)
    headers = dict(getattr(error, "headers", None) or {})
    if status == 405:
        named = not request.path_params  # what the caller put into the address is not repeated
        status, body = problem_of("method-not-allowed", "", route=request.url.path if named else "")
    else:
        # Without what all addresses begin with, which would make any two of them look alike.
        asked = request.url.path[:80].removeprefix("/v1").strip("/").lower()
        near = get_close_matches(asked, _ADDRESSES, n=1, cutoff=0.6)
        extra: dict[str, Any] = {"did_you_mean": f"/v1/{near[0]}"} if near else {}
        status, body = problem_of("not-found", "", **extra)
    return Response(body, status, headers | {"cache-control": "no-store"}, MEDIA_TYPE)


def _fixed(make: Callable[[], bytes], media_type: str, policy: str = "") -> Callable[[Request], Response]:
    """An answer whose bytes are made once, when they are first asked for: the start does not wait for them."""
    shared = {"cache-control": "public, max-age=300"} | ({"content-security-policy": policy} if policy else {})

    @cache
    def made() -> tuple[bytes, bytes]:
        body = make()
        return body, entity_tag(body)

    async def answer(request: Request) -> Response:
        body, tag = made()
        headers = shared | {"etag": tag.decode()}
        if matches((request.headers.get("if-none-match") or "").encode("latin-1"), tag):
            return Response(status_code=304, headers=headers)
        return Response(body, media_type=media_type, headers=headers)

    return answer  # type: ignore[return-value]


def _asset(file: Path) -> bytes:
    content = file.read_bytes()
    return gzip.decompress(content) if file.suffix == ".gz" else content


async def _live(_request: Request) -> Response:
    return Response(b'{"status":"live"}', media_type="application/json", headers={"cache-control": "no-store"})


def _ready(health: Health) -> Callable[[Request], Response]:
    async def ready(_request: Request) -> Response:
        status, body = health.answer()
        return Response(orjson.dumps(body), status, media_type="application/json", headers={"cache-control": "no-store"})

    return ready  # type: ignore[return-value]


def _metrics(metrics: Metrics) -> Callable[[Request], Response]:
    async def figures(_request: Request) -> Response:
        figures_type = "text/plain; version=0.0.4; charset=utf-8"
        return Response(metrics.render(), media_type=figures_type, headers={"cache-control": "no-store"})

    return figures  # type: ignore[return-value]


async def _problem_page(request: Request) -> Response:
    kind = KINDS.get(request.path_params["slug"])
    if kind is None:
        raise Refusal("not-found")
    body = page(kind.title, f"<p>Status {kind.status}. {escape(kind.advice)}</p>", f"/problems/{kind.slug}")
    headers = {"content-security-policy": PAGE_POLICY.decode(), "cache-control": "public, max-age=86400"}
    return Response(body, media_type="text/html; charset=utf-8", headers=headers)


def _index(library: Library) -> bytes:
    """What there is, for a program that starts here."""
    return orjson.dumps(
        {
            "service": "runstand",
            "calculators": [{"name": t.name, "path": t.path, "title": t.title, "summary": t.summary} for t in TOPICS],
            "reference": "/v1/reference",
            "datasets": list(library.versions),
            "units": "/v1/units",
            "documentation": "/docs",
            "openapi": "/openapi.json",
        }
    )


def _home() -> bytes:
    """What there is, for a person who opens the address in a browser."""
    items = "".join(f"<li><a href='{t.path}'>{escape(t.path)}</a> — {escape(t.summary)}</li>" for t in TOPICS)
    body = (
        "<p>The numbers of building, first firing and breaking in a small air-cooled piston engine.</p>"
        f"<p><a href='/docs'>Documentation</a> · <a href='/v1/reference'>Reference data</a></p><ul>{items}</ul>"
    )
    return page("Runstand", body, "/v1")
