"""What a build sheet answers: its sections by topic, the stages and lines of the work, what is missing and what is refused."""

from collections.abc import Sequence
from typing import Any

from pydantic import create_model

from service.answers.envelope import QuantityOut, Result, Stage
from service.answers.topic import Topic


class SheetStage(Result):
    """A stage of the work with the places of its sections in the document, and its cautions."""

    stage: Stage
    title: str
    sections: list[str]
    cautions: list[str]


class SheetLine(Result):
    """A line of work with the figure or the words to hold it against; ``section`` is the topic that the figure is from."""

    stage: Stage
    task: str
    value: QuantityOut | None = None
    words: str
    tool: str
    section: str


class SheetGap(Result):
    """An input that is missing, and the titles of the sections that it would unlock."""

    input: str
    unlocks: list[str]


class SheetRefusal(Result):
    """A section whose inputs make no sense together, with the reason."""

    section: str
    reason: str
    fields: list[str]


class SheetResult(Result):
    """All of a sheet but its sections."""

    identity: dict[str, str]
    stages: list[SheetStage]
    work: list[SheetLine]
    missing: list[SheetGap]
    refused: list[SheetRefusal]


def sheet_result(topics: Sequence[Topic]) -> type[Result]:
    """The model of a sheet of these topics: each answered section by its topic's name, many questions as a list."""
    fields: dict[str, Any] = {
        topic.name: (list[topic.result] | None if topic.in_sheet == "list" else topic.result | None, None)  # type: ignore[name-defined]
        for topic in topics
    }
    sections = create_model("SheetSections", __base__=Result, __doc__="What was answered, by topic.", **fields)
    words = "The sections by topic, the stages of the work, and what is missing with what it would unlock."
    return create_model("BuildSheetResult", __base__=SheetResult, __doc__=words, sections=(sections, ...))
