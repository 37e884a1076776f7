"""Many questions in one request: the order is kept, and each has its own status."""

from typing import Annotated, Any

import orjson
from pydantic import Field

from service.answers.inputs import Id, Request
from service.api.calculators import Controls, ProblemFound, Served, from_body, link_of, links_of, read_controls
from service.api.negotiation import face_for
from service.api.post_route import PostRoute
from service.api.problems import problem_of
from service.api.responses import Headers, answer_headers
from service.api.strict_json import JsonLimits
from service.faces import json_face
from service.reference.dataset import Dataset

MOST_ITEMS = 100
MOST_OCTETS = 4 * 1024 * 1024
"""Of all answers together: a hundred sheets would be four times as much, held until a slow reader has taken it."""


class BatchItem(Request):
    """One question of a batch: where it would be asked, and its document."""

    id: Id | None = None
    path: str
    input: dict[str, Any]


class BatchRequest(Request):
    """Up to a hundred questions."""

    items: Annotated[list[BatchItem], Field(min_length=1, max_length=MOST_ITEMS)]


class Batch(PostRoute):
    """The route of the batch; one bad question does not spoil the others."""

    path = "/v1/batch"
    # The body bounds its texts and names; each question is bounded once more as it is alone, and refused alone.
    json_limits = JsonLimits(depth=200, elements=50_000, names=50_000, string=PostRoute.body_limit)

    def answer(self, query_string: bytes, body: bytes) -> tuple[Headers, bytes]:
        """The answers in the order of the questions, each with its status."""
        controls, extra = read_controls(query_string)
        if extra or controls.packed is not None or controls.compare is not None:
            raise ProblemFound(("invalid-input", "A batch takes only units= and dataset= in its address.", [], {}))
        face_for(controls.format, None, ("json",))
        dataset = self.calculators.dataset(controls.dataset)
        questions = self.read(body, BatchRequest).items
        items = self._all(questions, controls, dataset)
        failed = sum(item["status"] != 200 for item in items)
        summary = {"answered": len(items) - failed, "failed": failed}
        headers = [*answer_headers("json", dataset.version), (b"batch-failed", b"%d" % failed)]
        return headers, orjson.dumps({"summary": summary, "items": items})

    def _all(self, questions: list[BatchItem], controls: Controls, dataset: Dataset) -> list[dict[str, Any]]:
        """Answer in order until the batch is full; what no longer fits, and all after it, is refused without being asked."""
        items: list[dict[str, Any]] = []
        octets, full = 0, False
        for index, item in enumerate(questions):
            status, written = _FULL if full else self._one(item, index, controls, dataset)
            if not full and octets + len(written) > MOST_OCTETS:
                full, (status, written) = True, _FULL
            octets += len(written)
            name = item.id if item.id is not None else str(index)
            items.append({"id": name, "status": status, "answer" if status == 200 else "problem": orjson.Fragment(written)})
        return items

    def _one(self, item: BatchItem, index: int, controls: Controls, dataset: Dataset) -> tuple[int, bytes]:
        """Status and body of one question, which is read just as if it had come alone."""
        try:
            asked = from_body(self._served(item, index), orjson.dumps(item.input), dataset)
            return 200, json_face.write(asked, controls.units, links_of(asked, controls, link_of(asked, controls)))
        except ProblemFound as found:
            slug, detail, errors, more = found.problem
            route = item.path if item.path in self.calculators.by_path else self.path
            return problem_of(slug, detail, [_within(error, index) for error in errors], route=route, **more)

    def _served(self, item: BatchItem, index: int) -> Served:
        served = self.calculators.by_path.get(item.path)
        if served is None:
            error = {"pointer": f"/items/{index}/path", "code": "unknown-id", "detail": "There is no such calculator."}
            raise ProblemFound(("not-found", "GET /v1 lists the calculators.", [error], {}))
        return served


_FULL = problem_of(
    "too-large",
    f"The answers of a batch come to {MOST_OCTETS // 1024**2} MiB at most; ask this question alone or in a smaller batch.",
    route=Batch.path,
)


def _within(error: dict[str, Any], index: int) -> dict[str, Any]:
    """The error of one question with its pointer in the whole batch."""
    pointer = error.get("pointer", "")
    return error if pointer.startswith("/items/") else {**error, "pointer": f"/items/{index}/input{pointer}"}
