"""Golden answers: five hundred and more requests with the SHA-256 of their answers, kept in ``golden.jsonl``.

``python -m tests.trust.golden`` asks all of them and prints one sum over all answers, so that processes, machines and
versions of Python can be compared. With ``--write`` it makes the file anew: do that only together with a higher
``CALCULATION`` or a new dataset version, and look at what has changed.
"""

import asyncio
import copy
import hashlib
import json
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import quote

from service import quantities
from service.answers.topic import Topic
from service.answers.topics import TOPICS
from service.app import create_app
from service.faces.registry import faces_of
from service.reference.dataset import Library
from service.reference.loader import load_library
from service.settings import Settings
from service.sheet.sheet import TOPIC as BUILD_SHEET

FILE = Path(__file__).parent / "golden.jsonl"
LONGEST_REFUSED = 600


def app() -> Any:
    """The service as it runs."""
    return create_app(Settings(log_requests=False))


async def ask(service: Any, request: dict[str, Any]) -> tuple[int, list[tuple[bytes, bytes]], bytes]:
    """Status, header and body of the answer to one request, without any client library between."""
    path, _, query = request["path"].partition("?")
    body = request.get("body", "").encode()
    headers = [(b"host", b"runstand.test")]
    if body:
        headers += [(b"content-type", b"application/json"), (b"content-length", str(len(body)).encode())]
    scope = {
        "type": "http",
        "asgi": {"version": "3.0", "spec_version": "2.3"},
        "http_version": "1.1",
        "method": request["method"],
        "scheme": "http",
        "path": path,
        "raw_path": path.encode(),
        "query_string": query.encode(),
        "root_path": "",
        "headers": headers,
        "client": ("192.0.2.1", 1),
        "server": ("runstand.test", 80),
    }
    status, header, chunks = 0, [], []

    async def receive() -> dict[str, Any]:
        return {"type": "http.request", "body": body, "more_body": False}

    async def send(message: dict[str, Any]) -> None:
        nonlocal status, header
        if message["type"] == "http.response.start":
            status, header = message["status"], message["headers"]
        else:
            chunks.append(message.get("body", b""))

    await service(scope, receive, send)
    return status, header, b"".join(chunks)


async def sums(service: Any, requests: list[dict[str, Any]]) -> list[str]:
    """The sum of each answer: status, the header fields that belong to it, and every octet of the body."""
    found = []
    for request in requests:
        status, header, body = await ask(service, request)
        kept = sorted(field for field in header if field[0] not in (b"x-request-id", b"date"))
        found.append(hashlib.sha256(repr((status, kept)).encode() + body).hexdigest())
    return found


def read() -> list[dict[str, Any]]:
    """The requests with their sums."""
    return [json.loads(line) for line in FILE.read_text(encoding="utf-8").splitlines()]


def candidates() -> Iterator[dict[str, Any]]:
    """Questions of every topic, then rows of the reference data, then requests that are refused."""
    library = load_library(Settings().data, quantities.convert)
    for topic in (*TOPICS, BUILD_SHEET):
        for example in topic.examples:
            yield from _questions(topic, example.request, library)
    for table in library.newest.tables:
        ids = sorted(library.newest.entities_of[table])
        for address in (f"/v1/reference/{table}", *(f"/v1/reference/{table}/{quote(id, safe='/')}" for id in ids[:5])):
            yield {"method": "GET", "path": address}
    for line in (FILE.parent / "bad_requests.jsonl").read_text(encoding="utf-8").splitlines():
        case = json.loads(line)
        if len(line) < LONGEST_REFUSED and "base64" not in case:
            yield {name: case[name] for name in ("method", "path", "body") if case.get(name)}


def _questions(topic: Topic, question: dict[str, Any], library: Library) -> Iterator[dict[str, Any]]:
    """One example in every face, both systems of units and every version, then with one quantity a little larger."""
    body = json.dumps(question, ensure_ascii=False)
    for units in ("metric", "us"):
        for face in ("json", *sorted(faces_of(topic.name))):
            yield {"method": "POST", "path": f"{topic.path}?units={units}&format={face}", "body": body}
    for version in library.versions:
        yield {"method": "POST", "path": f"{topic.path}?dataset={quote(version)}", "body": body}
    for changed in _varied(question):
        yield {"method": "POST", "path": topic.path, "body": json.dumps(changed, ensure_ascii=False)}


def _varied(document: dict[str, Any]) -> Iterator[dict[str, Any]]:
    """The document with the figure of each of its first quantities raised by a hundredth."""
    for name, value in list(document.items())[:8]:
        changed = copy.deepcopy(document)
        if isinstance(value, str) and value.split()[0].replace(".", "", 1).isdigit() and len(value.split()) > 1:
            figure, unit = value.split(maxsplit=1)
            changed[name] = {"value": round(float(figure) * 1.01, 6), "unit": unit}
            yield changed


def write() -> None:
    """Make the file anew from what the service answers now; a failure of the service is no golden answer."""

    async def go() -> list[dict[str, Any]]:
        service = app()
        kept: dict[str, dict[str, Any]] = {}
        for request in candidates():
            if (await ask(service, request))[0] < 500:
                (found,) = await sums(service, [request])
                kept[json.dumps(request)] = {**request, "sha256": found}
        return list(kept.values())

    lines = [json.dumps(entry, ensure_ascii=False) + "\n" for entry in asyncio.run(go())]
    FILE.write_text("".join(lines), encoding="utf-8", newline="\n")


def digest() -> str:
    """One sum over the answers to all golden requests."""
    return hashlib.sha256("\n".join(asyncio.run(sums(app(), read()))).encode()).hexdigest()


if __name__ == "__main__":
    if "--write" in sys.argv:
        write()
    sys.stdout.write(digest() + "\n")
