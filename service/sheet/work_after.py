"""The lines of work after the run in the order of doing (hot, warm, stone cold, by distance), and the hand-over."""

import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from service.answers.asking import Asked
from service.quantities import PPM, SPEED, Measure, text_of
from service.sheet.work_line import Line, hydraulic

AT_ONCE, HOT, WARM, COLD, LATER, BY_DISTANCE = 10, 20, 30, 40, 50, 60
PLACES: Mapping[str, int] = {
    "while-warm": AT_ONCE,
    "hot-oil": HOT,
    "stone-cold": COLD + 2,
    "before-the-road": LATER,
    "road": BY_DISTANCE,
}
"""Where a task of the break-in schedule stands by the state that it asks for."""

COMPRESSION, LASH, INNER_SPRINGS = "compression test", "check the lash", "refit inner springs"
"""How the tasks of the schedule begin that need a word more."""

WHILE_WARM = "after the refill, still warm from the run; if it has cooled, warm it up again"
NO_LASH = "hydraulic tappets: nothing to set; one that ticks on lacks oil or preload"
PRELOAD_INSTEAD = "hydraulic tappets have preload instead of lash"
THREE_QUARTERS = 0.75
HOUR, MINUTE = 3600.0, 60.0
_GRADE = re.compile(r"(?:SAE ?)?\d{1,2}W?(?:[ /-]?\d{1,2})?", re.IGNORECASE)

USUAL_DRAIN = Line(
    "after-run",
    "Drain the oil hot, open strainer or filter, look at the magnet; refill",
    None,
    "at once after the run; fine grey paste is normal, flakes are not",
    place=HOT,
)
"""What every build ends with where no break-in schedule says so."""


def after_run(asked: Asked) -> Iterator[Line]:
    """The tasks after the run of a break-in schedule, each with when it is due."""
    dual = getattr(asked.request, "spring", None) == "dual"
    for stage in asked.answer.result["stages"]:
        for step in stage["steps"] if stage["name"] == "after_run" else ():
            text, words = step["text"], [due(step), step["why"]]
            place = PLACES.get(step.get("state") or "", LATER)
            if text.startswith(COMPRESSION):
                place, words = WARM, [WHILE_WARM, f"at the latest {words[0]}", words[1]]
            elif text.startswith(LASH):
                place, words = COLD, [words[0], NO_LASH if hydraulic(asked) else words[1]]
            elif hydraulic(asked) and "lash" in text.lower():
                words.append(PRELOAD_INSTEAD)
            elif text.startswith(INNER_SPRINGS):
                if asked.answer.result["tappet"] == "roller":
                    continue  # the run was made with all springs in
                words = words if dual else [words[0], "if the springs are dual and the run was made without the inner ones"]
            yield Line("after-run", text[:1].upper() + text[1:], None, "; ".join(words), place=place)


def due(step: Mapping[str, Any]) -> str:
    """When a task is due: by distance where it has one, else by the time after the run."""
    if step.get("distance") is not None:
        return f"at {text_of(step['distance'])}"
    at = step.get("at")
    if at is None:
        return "after the run"
    for size, unit in ((HOUR, "h"), (MINUTE, "min")):
        if at.si >= size:
            return f"{at.si / size:g} {unit} after the run"
    return f"at once, within {at.si:g} s"


def oil_words(asked: Asked) -> list[str]:
    """Grade and phosphorus of the oil, as far as they are known."""
    grade = getattr(asked.request, "grade", None)
    words = []
    if grade is not None and _GRADE.fullmatch(grade):
        words.append(grade if grade.upper().startswith("SAE") else f"SAE {grade}")
    elif usual := next((entry["value"] for entry in asked.answer.assumptions if entry["field"] == "grade"), None):
        words.append(f"SAE {usual}, usual of this family")
    if (oil := getattr(asked.request, "oil", None)) is not None:
        words.append(asked.dataset.entity("oils", oil).text("title"))
    phosphorus = asked.answer.result["additives"]["phosphorus"]
    if phosphorus is not None:
        words.append(f"{text_of(PPM(phosphorus.si))} phosphorus")
    return words


def hand_over(parts: Sequence[Asked]) -> Iterator[Line]:
    """What every build ends with, with the figures that are known of it."""
    of_topic = {asked.topic.name: asked for asked in parts}
    if "break_in_schedule" not in of_topic:
        yield USUAL_DRAIN
    oil, ignition = of_topic.get("oil"), of_topic.get("ignition")
    preload = any(hydraulic(asked) for asked in parts)
    yield Line("hand-over", "Oil used: grade and phosphorus", None, ", ".join(oil_words(oil)) if oil else "")
    advance = ignition.answer.result["total_advance"] if ignition else None
    yield Line("hand-over", "Total advance as set", advance, "planned" if advance else "")
    if preload:
        yield Line("hand-over", "Preload of the hydraulic tappets as set, in turns", None, "")
    else:
        yield Line("hand-over", "Lash as set, cold or hot, and how to set it", None, "")
    limit = _rev_limit(parts)
    yield Line(
        "hand-over",
        "Speed limit for the first 800 km: three quarters of the rev limit",
        None if limit is None else SPEED(THREE_QUARTERS * limit.si),
        "" if limit is None else f"of {text_of(SPEED(limit.si))}",
    )
    lash = "" if preload else "; lash at 500 and 1,000 km"
    yield Line("hand-over", f"Next oil change at 50 to 100 km, then 500 km{lash}", None, "")
    yield Line("hand-over", "Open findings explained to the customer", None, "signature")


def _rev_limit(parts: Sequence[Asked]) -> Any:
    """The rev limit of this build, where it was given; the usual one of a family is no fact about a build."""
    given = (getattr(asked.request, "rev_limit", None) for asked in parts)
    return next((limit for limit in given if limit is not None), None)


def refill(sump: Measure) -> Line:
    """The second filling, once strainer and filter are closed again."""
    words = "more if filter or cooler were emptied; verify it on the stick"
    return Line("after-run", "Refill with fresh oil, strainer and drain plug closed", sump, words, "measuring jug", HOT + 1)
