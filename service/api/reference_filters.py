"""Which rows of a table pass a filter: numbers are compared as numbers, and what cannot be is refused with what can."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from difflib import get_close_matches
from math import isclose
from typing import Any, get_args

from service.api.calculators import ProblemFound
from service.api.reference_rows import Line
from service.methods import Evidence
from service.quantities import NotAQuantity, convert, parse_text
from service.reference.dataset import Dataset, Fact
from service.reference.schema import Property, Unacceptable, as_number
from service.reference.tables import TABLES

FILTERS: Mapping[str, Callable[[Fact], str]] = {
    "id": lambda fact: fact.id,
    "property": lambda fact: fact.property,
    "value": lambda fact: fact.value,
    "unit": lambda fact: fact.unit,
    "source": lambda fact: fact.source,
    "evidence": lambda fact: fact.evidence,
    "preferred": lambda fact: "yes" if fact.preferred else "no",
}
OF_ENGINE = "engine"
"""The filter of tables whose ids are ``<engine>/<name>``."""
_SAME = 1e-9  # of a value in SI, so that the last bits of a conversion do not count


def goes_by_engine(table: str) -> bool:
    """Whether the ids of a table begin with that of an engine."""
    return TABLES[table].parent == "engines"


def chosen(lines: Sequence[Line], dataset: Dataset, table: str, filters: Mapping[str, str]) -> list[Line]:
    """The rows that pass every filter: by a column, by what the thing's property has in force, or by the engine they are for.

    Raises:
        NotInDataset: The engine of a table that goes by engines is not held.
        ProblemFound: A filter wants what its column can never hold; names every such filter.
    """
    _refuse_what_never_is(table, filters)
    found = list(lines)
    for name, wanted in filters.items():
        if name == "value":
            fits = _test(wanted, _dimensions(TABLES[table].properties.values()))
            found = [line for line in found if fits(line.fact)]
        elif name in FILTERS:
            column = FILTERS[name]
            found = [line for line in found if column(line.fact) == wanted]
        elif name == OF_ENGINE and goes_by_engine(table):
            fitting = dataset.ids_for_engine(table, wanted)
            found = [line for line in found if line.fact.id in fitting]
        else:
            fits = _test(wanted, _dimensions([TABLES[table].properties[name]]))
            fitting = frozenset(it.id for it in dataset.entities(table) if it.has(name) and fits(it.fact(name)))
            found = [line for line in found if line.fact.id in fitting]
    return found


def _test(wanted: str, dimensions: Sequence[str]) -> Callable[[Fact], bool]:
    """Whether a fact has a value: the same text, the same printed number or, with a unit, the same in SI."""
    number = _number(wanted)
    if number is not None:
        return lambda fact: fact.value == wanted or (fact.si is not None and as_number(fact.value) == number)
    in_si = {dimension: si for dimension in dimensions if (si := _in_si(wanted, dimension)) is not None}

    def fits(fact: Fact) -> bool:
        if fact.si is None or not fact.unit:
            return fact.value == wanted
        si = in_si.get(convert(1.0, fact.unit)[0])
        return si is not None and isclose(si, fact.si, rel_tol=_SAME)

    return fits


def _number(text: str) -> float | None:
    try:
        return as_number(text)
    except Unacceptable:
        return None


def _in_si(text: str, dimension: str) -> float | None:
    try:
        return parse_text(text, dimension).si
    except NotAQuantity:
        return None


def _dimensions(properties: Iterable[Property]) -> tuple[str, ...]:
    """What the units of some properties measure, each once."""
    return tuple(dict.fromkeys(convert(1.0, unit)[0] for it in properties for unit in it.units))


def _refuse_what_never_is(table: str, filters: Mapping[str, str]) -> None:
    """Refuse a value that no row of the table could ever have: an empty list would look like an answer.

    Raises:
        ProblemFound: There is such a filter.
    """
    properties = TABLES[table].properties
    closed: dict[str, tuple[str, ...]] = {
        **{name: it.choices for name, it in properties.items() if it.choices},
        "property": tuple(properties),
        "unit": tuple(dict.fromkeys(unit for it in properties.values() for unit in it.units)),
        "evidence": get_args(Evidence),
        "preferred": ("yes", "no"),
    }
    errors = []
    for name, wanted in filters.items():
        if name in closed:
            errors += [] if wanted in closed[name] else [_not_a_choice(name, wanted, closed[name])]
        elif name in properties and name not in FILTERS:
            errors += _not_a_number(name, wanted, properties[name])
    if errors:
        raise ProblemFound(("invalid-input", "", errors, {}))


def _not_a_choice(name: str, wanted: str, choices: tuple[str, ...]) -> dict[str, Any]:
    near = get_close_matches(wanted[:60].lower(), choices, n=1, cutoff=0.5)
    entry = {"parameter": name, "code": "unknown-choice", "detail": "This column never holds that.", "allowed": list(choices)}
    return {**entry, "did_you_mean": near[0]} if near else entry


def _not_a_number(name: str, wanted: str, it: Property) -> list[dict[str, Any]]:
    """The error of a text where a number is wanted, bare as it is printed or with a unit; empty where it will do."""
    if it.kind not in ("dimension", "number", "integer") or _number(wanted) is not None:
        return []
    if it.kind != "dimension":
        return [{"parameter": name, "code": "not-a-number", "detail": "This is a plain number, such as 4 or 0.5."}]
    faults: list[NotAQuantity] = []
    for dimension in _dimensions([it]):
        try:
            parse_text(wanted, dimension)
        except NotAQuantity as error:
            faults.append(error)
        else:
            return []
    fault = faults[0]
    near = {"did_you_mean": fault.did_you_mean} if fault.did_you_mean else {}
    return [{"parameter": name, "code": fault.code, "detail": fault.detail, **near, "allowed": list(it.units)}]
