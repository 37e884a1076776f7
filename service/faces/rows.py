"""An answer as rows of name and text, the common ground of the faces that people read."""

import re
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from service.answers.envelope import RULES
from service.quantities import Measure, UnitSystem, shown


def flat(tree: Any, system: UnitSystem, name: str = "") -> Iterator[tuple[str, Any]]:
    """Every leaf of a result with its dotted name; measures in their written form (a dict of value, unit and text).

    What is not known has no row. Entries of a list are counted from one, as a person counts; a list of plain words or
    numbers is one leaf.
    """
    if tree is None:
        return
    if isinstance(tree, Measure) or not isinstance(tree, Mapping | list | tuple):
        yield name, shown(tree, system)
        return
    if isinstance(tree, list | tuple) and tree and all(isinstance(item, str | int | float) for item in tree):
        yield name, (", " if not isinstance(tree[0], str) else "; ").join(words(shown(item, system)) for item in tree)
        return
    pairs = tree.items() if isinstance(tree, Mapping) else enumerate(tree, start=1)
    for key, value in pairs:
        yield from flat(value, system, f"{name}.{key}" if name else str(key))


def words(value: Any) -> str:
    """A written leaf as a person reads it."""
    if isinstance(value, str):
        return value
    if isinstance(value, Mapping):
        if "values" in value:
            return f"{len(value['values'])} values in {value['unit']}"
        return str(value["text"])
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:.4g}"
    return str(value)


def heading(name: str) -> str:
    """A field's name as words: ``cold_lash.intake`` → ``cold lash, intake``; ``deck_0_1_mm_more`` → ``deck 0.1 mm more``."""
    return ", ".join(re.sub(r"(?<=\d)_(?=\d)", ".", part).replace("_", " ") for part in name.split("."))


def assumed(assumptions: Iterable[Mapping[str, Any]], system: UnitSystem) -> Iterator[str]:
    """What the service supplied because the caller did not, each as a line: field, value and reason."""
    for entry in assumptions:
        figures = flat(entry["value"], system)
        value = ", ".join(f"{heading(name)} {words(figure)}" if name else words(figure) for name, figure in figures)
        yield f"{entry['field']} {value}: {entry['reason']}"


def not_checked(unchecked: Iterable[Mapping[str, Any]]) -> Iterator[str]:
    """The checks that could not be made, each as a line in words: what, what it needs, what the rule looks for, and why."""
    for entry in unchecked:
        rule = RULES.get(entry["check"])
        said = [f"Looks for: {rule.rule}."] if rule else []
        said += [entry["why"]] if "why" in entry else []
        needs = f": needs {', '.join(entry['needs'])}" if entry["needs"] else ""
        reason = f" ({' '.join(said)})" if said else ""
        yield f"{entry['check'].replace('-', ' ')}{needs}{reason}"
