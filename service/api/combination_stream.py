"""Every combination of candidate parts as a stream of CSV, for as long as the caller listens."""

import asyncio
from collections.abc import Iterator

from starlette.types import Receive

from service.answers.combinations_request import CombinationsRequest
from service.api.calculators import ProblemFound, read_controls
from service.api.post_route import PostRoute
from service.api.responses import NOT_STORED, Headers, Send, answer_headers
from service.api.strict_json import JsonLimits
from service.api.translation import refused
from service.errors import RunstandError
from service.faces.combinations_stream import chunks


class CombinationStream(PostRoute):
    """The route of the whole set: the question of ``/v1/combinations``, answered row by row."""

    path = "/v1/combinations/stream"
    face = "csv"
    json_limits = JsonLimits()

    def answer(self, query_string: bytes, body: bytes) -> tuple[Headers, bytes]:
        """The whole stream at once, for callers inside the house."""
        headers, first, rest = self._start(query_string, body)
        return headers, first + b"".join(rest)

    async def reply(self, query_string: bytes, body: bytes, receive: Receive, send: Send) -> None:
        """Send piece by piece; between two pieces others get their turn, and a caller who left ends it."""
        headers, first, rest = self._start(query_string, body)
        await send({"type": "http.response.start", "status": 200, "headers": headers})
        await send({"type": "http.response.body", "body": first, "more_body": True})
        gone = asyncio.ensure_future(_until_gone(receive))
        try:
            for piece in rest:
                if gone.done():
                    return
                await send({"type": "http.response.body", "body": piece, "more_body": True})
                await asyncio.sleep(0)
            await send({"type": "http.response.body", "body": b""})
        finally:
            gone.cancel()

    def _start(self, query_string: bytes, body: bytes) -> tuple[Headers, bytes, Iterator[bytes]]:
        """Headers, heading and the rest; everything that can be refused is refused here.

        Raises:
            ProblemFound: the question is refused.
        """
        controls, extra = read_controls(query_string)
        if extra or controls.packed is not None or controls.compare is not None or controls.format is not None:
            raise ProblemFound(("invalid-input", "A stream takes only units= and dataset= in its address.", [], {}))
        dataset = self.calculators.dataset(controls.dataset)
        request = self.read(body, CombinationsRequest)
        pieces = chunks(request, controls.units)
        try:
            first = next(pieces)
        except RunstandError as error:
            raise ProblemFound(refused(error, from_query=False)) from None
        return [*answer_headers("csv", dataset.version), NOT_STORED], first, pieces


async def _until_gone(receive: Receive) -> None:
    """Wait for the caller to leave."""
    while (await receive())["type"] != "http.disconnect":
        continue
