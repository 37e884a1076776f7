"""What the assessment of a log asks for: the schedule, the log, and what earlier runs have earned."""

from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field

from service.answers.break_in_log import LogGiven
from service.answers.break_in_request import ScheduleGiven
from service.answers.inputs import Id, Measured, Number, Request
from service.quantities import Quantity

_EARLIER_NAMES = ("credited_time", "running_time", "early_stalls", "verdict", "cause_found")


def as_earlier_run(given: Any) -> Any:
    """An earlier answer sent back, whole or its result, as what counts of it; ``cause_found`` may stand beside it."""
    if not isinstance(given, dict):
        return given
    inside = given.get("result")
    merged = {**inside, **{k: v for k, v in given.items() if k == "cause_found"}} if isinstance(inside, dict) else given
    if "speed_bands" not in merged and "next_steps" not in merged:
        return merged
    picked = {name: merged[name] for name in _EARLIER_NAMES if merged.get(name) is not None}
    for name, value in picked.items():
        if isinstance(value, dict):
            picked[name] = {key: value[key] for key in ("value", "unit") if key in value}
    return picked


class EarlierRunRequest(Request):
    """What counts of the answer to an earlier log of the same engine; the whole answer may be sent."""

    credited_time: Annotated[Quantity, Measured("duration", "0 .. 36000 s", "", "14 min", "Credited time of that run.")]
    running_time: (
        Annotated[Quantity, Measured("duration", "0 .. 36000 s", "", "15 min", "Running time of that run.")] | None
    ) = None
    early_stalls: (
        Annotated[int, Number(0, 1000, integer=True, meaning="Its stalls in the engine's first ten minutes.")] | None
    ) = None
    verdict: Literal["stop-find-cause", "continue", "complete"] | None = None
    cause_found: Annotated[bool, Field(description="The cause of its stop was found and mended.")] | None = None


class BreakInAssessmentRequest(Request):
    """The schedule that was to be run (as answered, or its inputs), and the log of what was run."""

    schedule: ScheduleGiven
    log: LogGiven
    earlier: (
        Annotated[
            list[Annotated[EarlierRunRequest, BeforeValidator(as_earlier_run)]],
            Field(max_length=20, description="Answers to earlier logs of the same engine, in order."),
        ]
        | None
    ) = None
    grade: Id | None = None
