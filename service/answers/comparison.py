"""Two answers to the same question: which figures differ, and which rows of the dataset are the cause."""

from collections.abc import Iterator, Mapping
from typing import Any

from service.answers.asking import Asked, answered
from service.quantities import UnitSystem
from service.reference.dataset import Library

MOST_DIFFERENCES = 200


def differences(was: Any, now: Any, field: str = "") -> Iterator[dict[str, Any]]:
    """Every figure that differs between two written results, by dotted field.

    A quantity is compared by value and unit, then by its text and uncertainty.
    """
    if isinstance(was, Mapping) and isinstance(now, Mapping):
        if "text" in was and "unit" in was and "text" in now:
            old, new = ((each.get("value"), each.get("unit")) for each in (was, now))
            if old != new:
                yield {"field": field, "was": f"{old[0]} {old[1]}", "now": f"{new[0]} {new[1]}"}
                return
            for key in ("text", "uncertainty"):
                if was.get(key) != now.get(key):
                    yield {"field": f"{field}.{key}", "was": was.get(key), "now": now.get(key)}
            return
        for key in dict.fromkeys([*was, *now]):
            yield from differences(was.get(key), now.get(key), f"{field}.{key}" if field else str(key))
    elif isinstance(was, list) and isinstance(now, list) and len(was) == len(now):
        for index, (old, new) in enumerate(zip(was, now, strict=True)):
            yield from differences(old, new, f"{field}.{index}")
    elif was != now:
        yield {"field": field, "was": _brief(was), "now": _brief(now)}


def _brief(value: Any) -> Any:
    if isinstance(value, Mapping):
        return value.get("text", f"{len(value)} figures")
    return f"{len(value)} entries" if isinstance(value, list) else value


def causes(library: Library, one: Asked, other: Asked) -> list[dict[str, Any]]:
    """The rows that differ between the datasets of two answers and that either of them rests on."""
    cited = {entry_id for kind, entry_id in [*one.answer.basis, *other.answer.basis] if kind == "fact"}
    first, second = sorted((one.dataset.version, other.dataset.version), key=library.versions.index)
    return [
        {
            "row": "/".join(change.fact.key[:3]),
            "change": change.kind,
            "was": change.before.printed if change.before else None,
            "now": change.after.printed if change.after else None,
            "cause": change.cause,
        }
        for change in library.diff(first, second)
        if "/".join(change.fact.key[:3]) in cited
    ]


def compared(library: Library, asked: Asked, version: str, system: UnitSystem) -> dict[str, Any]:
    """The same question under another version: its answer, the figures that differ, and the rows behind them.

    Raises:
        RunstandError: the version is not held, or does not hold what the question names.
    """
    other = answered(asked.topic, asked.request, library.get(version))
    found = list(differences(other.result_in(system), asked.result_in(system)))
    return {
        "dataset": {"version": other.dataset.version, "sha256": other.dataset.sha256},
        "answer_id": other.answer_id,
        "same": not found,
        "differences": found[:MOST_DIFFERENCES],
        "causes": causes(library, asked, other) if found else [],
        "result": other.result_in(system),
    }
