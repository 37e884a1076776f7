"""What a topic is: one question with its request, its answer and examples that the tests and the documentation run."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Literal

from service.answers.envelope import Answer, Result, Stage
from service.answers.inputs import Request
from service.reference.dataset import Dataset


@dataclass(frozen=True)
class Example:
    """A question that works, in the form in which a caller sends it."""

    title: str
    request: dict[str, Any]


@dataclass(frozen=True)
class Topic:
    """One calculator.

    Attributes:
        name: The topic's one name: of its modules, and in answers.
        path: Where it is served.
        title: What it is, in a few words.
        summary: What it asks and answers, for the documentation.
        request: The model of the question.
        result: The model that describes the result.
        answer: Answers a validated question from a dataset.
        examples: Questions that work; the first one is shown.
        body_limit: Most octets of a body; more than the usual only where a log is sent.
        longest_text: Most characters of one text of the body; more than the usual only where a log is sent as CSV.
        cautions: Stages of the work (ids of the ``cautions`` table) whose cautions go with every answer.
        stage: Where its section stands in the build sheet.
        in_sheet: Whether the sheet asks it once, as a list of questions, or not at all.
    """

    name: str
    path: str
    title: str
    summary: str
    request: type[Request]
    result: type[Result]
    answer: Callable[[Any, Dataset], Answer]
    examples: tuple[Example, ...]
    body_limit: int = 262_144
    longest_text: int = 200
    cautions: tuple[str, ...] = ()
    stage: Stage = "combination"
    in_sheet: Literal["once", "list", "never"] = "once"
