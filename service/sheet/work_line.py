"""A line of work on the build sheet, and its place among the others of its stage."""

from dataclasses import dataclass
from typing import Any

from service.answers.asking import Asked
from service.answers.envelope import Stage
from service.quantities import Measure


@dataclass(frozen=True)
class Line:
    """One line of work: the stage, what to do, the figure or words to hold it against, what with, and where it is from.

    ``place`` orders the lines of one stage; lines of the same place stand as their sections do.
    """

    stage: Stage
    task: str
    value: Measure | None = None
    words: str = ""
    tool: str = ""
    place: int = 0


def hydraulic(asked: Asked) -> bool:
    """Whether this question was asked of an engine with hydraulic tappets."""
    return getattr(asked.request, "tappet", None) == "hydraulic"


def as_row(line: Line, section: str) -> dict[str, Any]:
    """A line as it is answered; ``section`` names the answer that its figure is from."""
    return {
        "stage": line.stage,
        "task": line.task,
        "value": line.value,
        "words": line.words,
        "tool": line.tool,
        "section": section,
    }
