"""What a cross-check over the whole build is: the values it looks at, its rule, and its predicate."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from service.answers.envelope import Answer, Rule
from service.quantities import Measure, Quantity
from service.sheet.sections import CONFLICTING_INPUTS


@dataclass(frozen=True)
class Build:
    """What the checks look at: the document's values by dotted path, and the results of the sections."""

    document: Mapping[str, Any]
    results: Mapping[str, Mapping[str, Any]]

    def value(self, path: str) -> Any:
        """A given value (quantities in SI) or a result (``results.<topic>.<name>``); None when there is none."""
        holder: Any = {"results": self.results, **self.document}
        for part in path.split("."):
            holder = holder.get(part) if isinstance(holder, Mapping) else getattr(holder, part, None)
            if holder is None:
                return None
        return holder.si if isinstance(holder, Quantity | Measure) else holder


@dataclass(frozen=True)
class CrossCheck:
    """A rule with its predicate: ``broken`` gets the needed values in order and answers with the message, or with None."""

    rule: Rule
    needs: tuple[str, ...]
    broken: Callable[..., str | None]

    def apply(self, sheet: Answer, build: Build) -> None:
        """Raise the finding, or list the check as not made."""
        values = [build.value(path) for path in self.needs]
        missing = [path for path, value in zip(self.needs, values, strict=True) if value is None]
        if missing:
            sheet.cannot_check(self.rule.code, missing)
        elif message := self.broken(*values):
            sheet.find(self.rule, self.needs, message)


COUNTED = ("compression.per_cylinder", "cylinder_check.gauge_pressures")
"""Lists that hold one entry for every cylinder."""


def check_counts(sheet: Answer, build: Build) -> None:
    """Hold the number of cylinders against everything that counts them."""
    cylinders = build.value("cylinders")
    if cylinders is None:
        return
    counts = {path: len(build.value(path) or ()) for path in COUNTED}
    counts["firing_order"] = len((build.value("firing_order") or "").split("-")) if build.value("firing_order") else 0
    for path, count in counts.items():
        if count and count != cylinders:
            named = path.rpartition(".")[2].replace("_", " ")
            message = f"The engine has {cylinders} cylinders, but the {named} has {count}."
            sheet.find(CONFLICTING_INPUTS, ("cylinders", path), message)
