"""Many questions in one request: the order is kept, and each has its own status."""

from typing import Annotated, Any

import orjson
from pydantic import Field

from service.answers.inputs import Id, Request
from service.answers.topic import Topic
from service.api.calculators import Controls, ProblemFound, asked_or_problem, link_of, read_controls
from service.api.post_route import PostRoute
from service.api.problems import problem_of
from service.api.responses import Headers, answer_headers
from service.api.strict_json import JsonLimits
from service.faces import json_face
from service.reference.dataset import Dataset

MOST_ITEMS = 100


class BatchItem(Request):
    """One question of a batch: where it would be asked, and its document."""

    id: Id | None = None
    path: Id
    input: dict[str, Any]


class BatchRequest(Request):
    """Up to a hundred questions."""

    items: Annotated[list[BatchItem], Field(min_length=1, max_length=MOST_ITEMS)]


class Batch(PostRoute):
    """The route of the batch; one bad question does not spoil the others."""

    path = "/v1/batch"
    json_limits = JsonLimits(elements=50_000)

    def answer(self, query_string: bytes, body: bytes) -> tuple[Headers, bytes]:
        """The answers in the order of the questions, each with its status."""
        controls, extra = read_controls(query_string)
        if extra or controls.packed is not None or controls.compare is not None:
            raise ProblemFound(("invalid-input", "A batch takes only units= and dataset= in its address.", [], {}))
        dataset = self.calculators.dataset(controls.dataset)
        questions = self.read(body, BatchRequest).items
        items = [self._one(item, index, controls, dataset) for index, item in enumerate(questions)]
        failed = sum(item["status"] != 200 for item in items)
        summary = {"answered": len(items) - failed, "failed": failed}
        headers = [*answer_headers("json", dataset.version), (b"batch-failed", b"%d" % failed)]
        return headers, orjson.dumps({"summary": summary, "items": items})

    def _one(self, item: BatchItem, index: int, controls: Controls, dataset: Dataset) -> dict[str, Any]:
        entry: dict[str, Any] = {"id": item.id if item.id is not None else str(index)}
        try:
            asked = asked_or_problem(self._topic(item, index), item.input, dataset, from_query=False)
            link = link_of(asked, controls)
            return {**entry, "status": 200, "answer": json_face.envelope(asked, controls.units, {"self": link} if link else {})}
        except ProblemFound as found:
            slug, detail, errors, more = found.problem
            route = item.path if item.path in self.calculators.by_path else self.path
            status, problem = problem_of(slug, detail, [_within(error, index) for error in errors], route=route, **more)
            return {**entry, "status": status, "problem": orjson.Fragment(problem)}

    def _topic(self, item: BatchItem, index: int) -> Topic:
        served = self.calculators.by_path.get(item.path)
        if served is None:
            error = {"pointer": f"/items/{index}/path", "code": "unknown-id", "detail": "There is no such calculator."}
            raise ProblemFound(("not-found", "GET /v1 lists the calculators.", [error], {}))
        return served.topic


def _within(error: dict[str, Any], index: int) -> dict[str, Any]:
    """The error of one question with its pointer in the whole batch."""
    pointer = error.get("pointer", "")
    return error if pointer.startswith("/items/") else {**error, "pointer": f"/items/{index}/input{pointer}"}
