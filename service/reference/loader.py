"""From the files of ``data/`` to a :class:`Library`: sums first, then every row by validation, then SQLite, then frozen.

A dataset that is not exactly what its manifest says stops the start-up with a :class:`BrokenDataset` that names file, line,
column, what was found and what is allowed. There is no half-loaded dataset.
"""

from collections.abc import Collection, Mapping
from pathlib import Path
from types import MappingProxyType
from typing import Any

from pydantic import TypeAdapter, ValidationError

from service.errors import BrokenDataset
from service.reference import files, integrity
from service.reference.database import Database
from service.reference.dataset import Cause, Dataset, Entity, Fact, Library, Source, Withdrawn
from service.reference.manifests import Checked, Release, check_manifest, read_releases
from service.reference.rows import FactRow, SourceRow
from service.reference.schema import Convert, Unacceptable
from service.reference.tables import TABLES

FACT_COLUMNS = tuple(FactRow.model_fields)
ALL_TABLES = {f"{table}.csv" for table in TABLES}
FACT_ROWS = TypeAdapter(list[FactRow])
CAUSE_COLUMNS = ("table", "id", "property", "source", "cause")


def load_library(folder: Path, convert: Convert, cited: Collection[str] | None = None) -> Library:
    """All versions in a folder, verified, validated and converted.

    Args:
        folder: The folder that holds ``sources.json``, ``releases.json`` and one folder a version.
        convert: Takes a number and a unit to its dimension and the number in SI.
        cited: Source ids that formulas and rules cite; when given, a source that neither they nor a fact cite is refused.

    Raises:
        BrokenDataset: The first fault found, by name and place.
    """
    releases = read_releases(folder)
    bibliography = read_bibliography(folder)
    newest = releases.current[-1].version
    files.require(files.entries(folder / newest, newest) & ALL_TABLES, ALL_TABLES, newest)
    # Every sum of every version before the first row: a damaged file is found in milliseconds.
    checked = [check_manifest(folder, release, bibliography) for release in releases.current]
    held = {it.version: _load(it, bibliography, convert) for it in checked}
    integrity.check_citations(held.values(), bibliography, cited)
    withdrawn = {one.version: Withdrawn(one.version, one.reason, one.successor) for one in releases.withdrawn}
    return Library(MappingProxyType(held), MappingProxyType(withdrawn))


def load_version(folder: Path, version: str, convert: Convert) -> Dataset:
    """One version, without asking whether it was released: what a person who edits a table wants to know."""
    bibliography = read_bibliography(folder)
    return _load(check_manifest(folder, Release(version), bibliography), bibliography, convert)


def read_bibliography(folder: Path) -> Mapping[str, Source]:
    """The bibliography, sorted by id.

    Raises:
        BrokenDataset: An entry lacks a field, has one too many, or stands twice.
    """
    name = "sources.json"
    document = files.json_document(files.read(folder / name, name), name)
    if not isinstance(document, list):
        raise files.broken(name, type(document).__name__, "a list of CSL-JSON entries")
    found: dict[str, Source] = {}
    for number, entry in enumerate(document, start=1):
        where = f"{name}, entry {number}"
        row = _validated(SourceRow, _flat(entry, where), where)
        if row.id in found:
            raise files.broken(where, row.id, "every id once")
        found[row.id] = Source(row.id, row.title, MappingProxyType(entry))
    return MappingProxyType(dict(sorted(found.items())))


def _load(checked: Checked, bibliography: Mapping[str, Source], convert: Convert) -> Dataset:
    contents, version = checked.contents, checked.version
    facts: list[Fact] = []
    for table in TABLES:
        if f"{table}.csv" in contents:
            facts += _facts(contents[f"{table}.csv"], table, version, bibliography, convert)
    integrity.check_facts(facts, version)
    with Database(facts, bibliography.values()) as database:
        facts = database.facts()
    return Dataset(
        version=version,
        sha256=checked.sha256,
        released=checked.released,
        entities_of=_entities(facts),
        bibliography=bibliography,
        causes=_causes(contents, version),
    )


def _facts(content: bytes, table: str, version: str, bibliography: Mapping[str, Source], convert: Convert) -> list[Fact]:
    """The facts of one file, each validated and converted."""
    name = f"{version}/{table}.csv"
    schema = TABLES[table].properties
    facts = []
    for line, row in _fact_rows(content, name):
        known = schema.get(row.property)
        if known is None:
            raise files.broken(files.at(name, line, "property"), row.property, ", ".join(schema))
        if row.source not in bibliography:
            raise files.broken(files.at(name, line, "source"), row.source, "an id of sources.json")
        try:
            si = known.si(row.value, row.unit, convert)
        except Unacceptable as fault:
            raise files.broken(files.at(name, line, fault.column), fault.found, fault.allowed) from fault
        facts.append(
            Fact(
                table=table,
                id=row.id,
                property=row.property,
                value=row.value,
                unit=row.unit,
                source=row.source,
                locator=row.locator,
                evidence=row.evidence.value,
                preferred=row.preferred.value == "yes",
                note=row.note,
                si=si,
                line=line,
            )
        )
    return facts


def _fact_rows(content: bytes, name: str) -> list[tuple[int, FactRow]]:
    """Lines and rows of one file, validated together: a tenth of the time of one after the other."""
    read = files.csv_rows(content, name, FACT_COLUMNS)
    try:
        rows = FACT_ROWS.validate_python([cells for _, cells in read])
    except ValidationError as faults:
        place, column = faults.errors(include_url=False, include_context=False)[0]["loc"][:2]
        raise _fault(faults, f"{name}, line {read[int(place)][0]}", str(column)) from faults
    return [(line, row) for (line, _), row in zip(read, rows, strict=True)]


def _causes(contents: Mapping[str, bytes], version: str) -> tuple[Cause, ...]:
    if "changes.csv" not in contents:
        return ()
    name = f"{version}/changes.csv"
    causes = [Cause(**cells, line=line) for line, cells in files.csv_rows(contents["changes.csv"], name, CAUSE_COLUMNS)]
    for cause in causes:
        if not cause.cause.strip():
            raise files.broken(files.at(name, cause.line, "cause"), cause.cause, "the reason, in words")
    # The more a cause says about the row, the nearer it is: exact rows first, sweeping ones last.
    return tuple(sorted(causes, key=lambda it: (it.table, it.id, it.property, it.source).count("*")))


def _entities(facts: list[Fact]) -> Mapping[str, Mapping[str, Entity]]:
    """Facts grouped by table and id, frozen."""
    grouped: dict[str, dict[str, list[Fact]]] = {}
    for fact in facts:
        grouped.setdefault(fact.table, {}).setdefault(fact.id, []).append(fact)
    return MappingProxyType(
        {
            table: MappingProxyType({id: _entity(table, id, group) for id, group in by_id.items()})
            for table, by_id in grouped.items()
        }
    )


def _entity(table: str, id: str, facts: list[Fact]) -> Entity:
    preferred = {fact.property: fact for fact in facts if fact.preferred}
    others: dict[str, tuple[Fact, ...]] = {}
    for fact in facts:
        if not fact.preferred:
            others[fact.property] = (*others.get(fact.property, ()), fact)
    return Entity(table, id, MappingProxyType(preferred), MappingProxyType(others))


def _validated(model: type[SourceRow], cells: Mapping[str, Any], where: str) -> SourceRow:
    """A row that has passed its model. The table models of SQLModel skip validation in their constructor: this never does."""
    try:
        return model.model_validate(cells)
    except ValidationError as faults:
        column = faults.errors(include_url=False)[0]["loc"]
        raise _fault(faults, where, str(column[0]) if column else "row") from faults


def _fault(faults: ValidationError, where: str, column: str) -> BrokenDataset:
    first = faults.errors(include_url=False, include_context=False)[0]
    found = first["input"] if isinstance(first["input"], str) else type(first["input"]).__name__
    return files.broken(f"{where}, column {column}", found, first["msg"])


def _flat(entry: Any, where: str) -> dict[str, Any]:
    """A CSL-JSON entry with its nested fields as plain text."""
    if not isinstance(entry, dict):
        raise files.broken(where, type(entry).__name__, "an object")
    flat = {key: value for key, value in entry.items() if key not in ("author", "issued", "custom")}
    custom = entry.get("custom")
    if not isinstance(custom, dict):
        raise files.broken(f"{where}, field custom", type(custom).__name__, "an object with access, reuse and seen")
    try:
        flat["author"] = "; ".join(one.get("literal") or f"{one['family']}, {one['given']}" for one in entry.get("author", ()))
        flat["issued"] = "-".join(str(int(part)) for part in entry["issued"]["date-parts"][0]) if "issued" in entry else ""
    except (AttributeError, KeyError, IndexError, TypeError, ValueError) as fault:
        raise files.broken(where, type(fault).__name__, "author and issued in the form of CSL-JSON") from fault
    return flat | custom
