"""What the service rests on, as documents: versions, tables, sources, methods, units and rules."""

from collections import Counter
from collections.abc import Mapping
from dataclasses import asdict, is_dataclass
from enum import Enum
from typing import Any

import numpy as np

from service.answers.envelope import CALCULATION, RULES, SEVERITIES, STAGES
from service.api.reference_rows import plain, stamp
from service.methods import Method
from service.quantities import resolved
from service.reference.dataset import Change, Dataset, Library
from service.reference.schema import Property
from service.reference.tables import TABLES
from service.vocabulary import VOCABULARY


def datasets(library: Library) -> dict[str, Any]:
    """Every version, oldest first, the withdrawn ones with their reason and successor."""
    return {
        "newest": library.newest.version,
        "datasets": _releases(library),
        "links": {"self": "/v1/datasets"},
    }


def dataset(held: Dataset, library: Library) -> dict[str, Any]:
    """One version with its tables."""
    tables = {}
    for name in held.tables:
        tables[name] = {
            "title": TABLES[name].title,
            "entities": len(held.ids(name)),
            "facts": sum(len(entity.facts) for entity in held.entities(name)),
            "link": f"/v1/reference/{name}?dataset={held.version}",
        }
    return {**_release(held, library), "tables": tables}


def change(it: Change) -> dict[str, Any]:
    """One row that differs, with its cause."""
    fact = it.fact
    sides = {"before": it.before, "after": it.after}
    return {
        "change": it.kind,
        "table": fact.table,
        "id": fact.id,
        "property": fact.property,
        "source": fact.source,
        **{side: plain(held) for side, held in sides.items() if held is not None},
        "cause": it.cause,
    }


def tables(held: Dataset) -> dict[str, Any]:
    """Every table with what its properties may hold."""
    found = {}
    for name in held.tables:
        table = TABLES[name]
        found[name] = {
            "title": table.title,
            "entities": len(held.ids(name)),
            "properties": {key: _property(value) for key, value in table.properties.items()},
            **({"ids_begin_with": table.parent} if table.parent else {}),
            "link": f"/v1/reference/{name}?dataset={held.version}",
        }
    return {"tables": found, "dataset": stamp(held), "links": {"self": f"/v1/reference?dataset={held.version}"}}


def sources(held: Dataset, methods: Mapping[str, Method]) -> dict[str, dict[str, Any]]:
    """The bibliography by id, each entry with what rests on it."""
    facts = Counter(fact.source for fact in held.facts())
    cited: dict[str, list[str]] = {}
    for method in sorted(methods.values(), key=lambda it: it.id):
        cited.setdefault(method.source, []).append(method.id)
    rules: dict[str, list[str]] = {}
    for rule in sorted(RULES.values(), key=lambda it: it.code):
        rules.setdefault(rule.source, []).append(rule.code)
    return {
        source.id: {
            **source.document,
            "used_by": {
                "facts": facts[source.id],
                "methods": cited.get(source.id, []),
                "findings": rules.get(source.id, []),
            },
            "link": f"/v1/sources/{source.id}",
        }
        for source in held.sources
    }


def methods(found: Mapping[str, Method]) -> dict[str, dict[str, Any]]:
    """Every formula by id: symbols, source, validity and worked example."""
    return {
        method.id: {**_as_json(asdict(method)), "link": f"/v1/methods/{method.id}"}
        for method in sorted(found.values(), key=lambda it: it.id)
    }


def units() -> dict[str, Any]:
    """The closed vocabulary: dimensions, units, their spellings, and their exact relation to SI."""
    found = {}
    for dimension in VOCABULARY:
        relations = resolved()[dimension.name]
        found[dimension.name] = {
            "si": dimension.si,
            "units": [
                {
                    "unit": unit.code,
                    "label": unit.shown,
                    "aliases": sorted(unit.aliases),
                    "factor": relations[unit.code].factor,
                    "offset": relations[unit.code].offset,
                }
                for unit in dimension.units
            ],
        }
    return {"relation": "si = value * factor + offset", "dimensions": found, "links": {"self": "/v1/units"}}


def findings() -> dict[str, dict[str, Any]]:
    """Every rule by its code, in the order of severity and of the work."""
    order = sorted(RULES.values(), key=lambda it: (SEVERITIES.index(it.severity), STAGES.index(it.stage), it.code))
    return {rule.code: {**asdict(rule), "link": f"/v1/findings/{rule.code}"} for rule in order}


def versions(library: Library) -> dict[str, Any]:
    """The pairs of dataset and calculation that this build holds: the same pair gives the same answers.

    A version that was withdrawn is told with its reason and successor; it is in no pair, because nothing is answered under it.
    """
    return {
        "api": ["v1"],
        "calculation": {"current": CALCULATION, "held": [CALCULATION]},
        "datasets": _releases(library),
        "pairs": [{"dataset": version, "calculation": CALCULATION} for version in library.versions],
        "links": {"self": "/v1/versions"},
    }


def _releases(library: Library) -> list[dict[str, Any]]:
    """Every version, the withdrawn ones among them."""
    entries = [_release(library.get(version), library) for version in library.versions]
    entries += [
        {"version": gone.version, "status": "withdrawn", "reason": gone.reason, "successor": gone.successor}
        for gone in library.withdrawn.values()
    ]
    return sorted(entries, key=lambda entry: entry["version"])


def _release(held: Dataset, library: Library) -> dict[str, Any]:
    order = library.versions
    place = order.index(held.version)
    links = {"self": f"/v1/datasets/{held.version}", "reference": f"/v1/reference?dataset={held.version}"}
    if place:
        links["changes"] = f"/v1/datasets/{held.version}/changes?since={order[place - 1]}"
    return {
        "version": held.version,
        "status": "current",
        "released": held.released,
        "sha256": held.sha256,
        "facts": sum(1 for _ in held.facts()),
        "links": links,
    }


def _property(it: Property) -> dict[str, Any]:
    found: dict[str, Any] = {"kind": it.kind, "required": it.required}
    if it.units:
        found["units"] = list(it.units)
    if it.low is not None or it.high is not None:
        found["range_si"] = [it.low, it.high]
    if it.choices:
        found["choices"] = list(it.choices)
    if it.table:
        found["table"] = it.table
    return found


def _as_json(value: Any) -> Any:
    """A worked example's values, whatever they are, as JSON has them."""
    if isinstance(value, Enum):
        return value.value
    if is_dataclass(value) and not isinstance(value, type):
        return _as_json(asdict(value))
    if isinstance(value, np.ndarray | np.generic):
        return value.tolist()
    if isinstance(value, Mapping):
        return {str(key): _as_json(item) for key, item in value.items() if item is not None}
    if hasattr(value, "_asdict"):
        return _as_json(value._asdict())
    if isinstance(value, list | tuple | set | frozenset):
        return [_as_json(item) for item in value]
    return value if isinstance(value, str | int | float | bool | None) else str(value)
