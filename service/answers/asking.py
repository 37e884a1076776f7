"""From a question to an answer with everything that belongs to it: the one way in for routes, batch and sheet."""

from dataclasses import dataclass
from functools import cached_property, lru_cache
from hashlib import sha256
from typing import Any

import orjson

from service.answers import plausibility
from service.answers.envelope import CALCULATION, Answer, echo, order_findings
from service.answers.inputs import Request
from service.answers.topic import Topic
from service.quantities import UnitSystem, shown
from service.reference.dataset import Dataset


@dataclass(frozen=True)
class Asked:
    """A question with its answer and the dataset that it rests on.

    ``link`` is the address that asks the same again, for faces that show it; empty where there is none. ``receipt`` is that
    of the sheet that shows this question; empty for a question that stands alone.
    """

    topic: Topic
    request: Request
    dataset: Dataset
    answer: Answer
    link: str = ""
    receipt: str = ""

    @cached_property
    def inputs(self) -> dict[str, Any]:
        """The inputs as they were understood."""
        return echo(self.request)

    @cached_property
    def inputs_json(self) -> bytes:
        """The inputs as they were understood, written once for answer and receipt."""
        return orjson.dumps(self.inputs)

    @cached_property
    def _written(self) -> dict[UnitSystem, Any]:
        return {}

    def result_in(self, system: UnitSystem) -> Any:
        """The result in a system of units, written once for receipt, answer and page."""
        if system not in self._written:
            self._written[system] = shown(self.answer.result, system)
        return self._written[system]

    @cached_property
    def result_json(self) -> bytes:
        """The result in metric units as JSON, for answer and receipt."""
        return orjson.dumps(self.result_in("metric"))

    @cached_property
    def answer_id(self) -> str:
        """The receipt: one sum over topic, inputs, dataset, calculation and result, whatever units were asked for."""
        if self.receipt:
            return self.receipt
        head = f"{self.topic.name}\n{self.dataset.sha256}\n{CALCULATION}\n".encode()
        return "sha256:" + sha256(b"%b%b\n%b" % (head, self.inputs_json, self.result_json)).hexdigest()


@lru_cache(maxsize=256)
def cautions_of(dataset: Dataset, stages: tuple[str, ...]) -> tuple[str, ...]:
    """The dataset's cautions for some stages of the work, in the order of the stages."""
    cautions = dataset.entities("cautions")
    return tuple(entry.text("text") for stage in stages for entry in cautions if entry.text("stage") == stage)


def ask(topic: Topic, document: object, dataset: Dataset) -> Asked:
    """Validate a document as the topic's request and answer it.

    Raises:
        pydantic.ValidationError: the document is no such request; names every fault.
        RunstandError: the question makes no sense or the dataset does not hold what it names.
    """
    return answered(topic, topic.request.model_validate(document), dataset)


def answered(topic: Topic, request: Request, dataset: Dataset) -> Asked:
    """Answer a request that is valid already.

    Raises:
        RunstandError: the question makes no sense or the dataset does not hold what it names.
    """
    answer = topic.answer(request, dataset)
    unusual = plausibility.findings(request)
    if unusual or answer.findings:
        answer.findings = order_findings([*unusual, *answer.findings])
    answer.cautions += cautions_of(dataset, topic.cautions)
    return Asked(topic, request, dataset, answer)
