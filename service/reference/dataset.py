"""What the rest of the house sees of the reference data: versions of it, looked up in memory, and what differs between two."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from service.errors import NotInDataset, UnknownDataset, WithdrawnDataset
from service.reference.facts import Entity, Fact, Source

__all__ = ["Cause", "Change", "Dataset", "Entity", "Fact", "Library", "Source", "Withdrawn", "changes"]

SINGULAR: Mapping[str, str] = {
    "threads": "thread",
    "property-classes": "property class",
    "conditions": "condition of the thread",
    "tightening-methods": "tightening method",
    "wrench-classes": "wrench class",
    "materials": "material",
    "oil-grades": "oil grade",
    "oils": "oil",
    "fuels": "fuel",
    "engines": "engine",
    "fasteners": "fastener",
    "fits": "fit",
    "valve-train-parts": "valve-train part",
    "lash": "push-rod material of this engine",
    "break-in-procedures": "break-in procedure",
    "gauges": "gauge",
}


@dataclass(frozen=True, slots=True, eq=False)
class Dataset:
    """One version of the reference data; equal to itself alone, so that what is worked out of it once is found at once."""

    version: str
    sha256: str
    released: str
    entities_of: Mapping[str, Mapping[str, Entity]] = field(repr=False)
    bibliography: Mapping[str, Source] = field(repr=False)
    causes: tuple["Cause", ...] = field(default=(), repr=False)

    @property
    def tables(self) -> tuple[str, ...]:
        """Names of the tables."""
        return tuple(self.entities_of)

    def find(self, table: str, id: str) -> Entity | None:
        """An entity, or ``None``."""
        return self.entities_of.get(table, {}).get(id)

    def entity(self, table: str, id: str, field: str = "id") -> Entity:
        """An entity.

        Args:
            table: Name of the table.
            id: Id as the caller wrote it.
            field: The caller's field that holds the id, for the error.

        Raises:
            NotInDataset: It is not held; names the nearest ids.
        """
        held = self.entities_of.get(table)
        if held is None:
            raise NotInDataset(field, "table", table, self.entities_of)
        try:
            return held[id]
        except KeyError:
            raise NotInDataset(field, SINGULAR.get(table, table), id, held) from None

    def of_engine(self, table: str, engine: str, name: str, field: str = "id") -> Entity:
        """What a table says of ``name`` for an engine: its own entry, or else that of its family.

        Raises:
            NotInDataset: Neither is held; names the nearest of both.
        """
        known: list[str] = []
        for owner in self.lineage(engine):
            if found := self.find(table, f"{owner}/{name}"):
                return found
            known += self.names_of_engine(table, owner)
        raise NotInDataset(field, SINGULAR.get(table, table), name, known)

    def names_of_engine(self, table: str, engine: str) -> tuple[str, ...]:
        """The second halves of the ids ``<engine>/<name>`` of a table."""
        start = f"{engine}/"
        return tuple(id[len(start) :] for id in self.ids(table) if id.startswith(start))

    def ids_for_engine(self, table: str, engine: str, field: str = "engine") -> frozenset[str]:
        """What a table says of an engine: every name as :meth:`of_engine` finds it, its own entry or its family's.

        Raises:
            NotInDataset: The engine is not held; names the nearest.
        """
        self.entity("engines", engine, field)
        found: dict[str, str] = {}
        for owner in self.lineage(engine):
            for name in self.names_of_engine(table, owner):
                found.setdefault(name, f"{owner}/{name}")
        return frozenset(found.values())

    def lineage(self, engine: str) -> tuple[str, ...]:
        """An engine and the families above it, nearest first."""
        owners: list[str] = []
        entity = self.find("engines", engine)
        while entity is not None and entity.id not in owners:
            owners.append(entity.id)
            entity = self.find("engines", entity.text("family")) if entity.has("family") else None
        return tuple(owners)

    def ids(self, table: str) -> tuple[str, ...]:
        """Ids of a table in the order of its file."""
        return tuple(self.entities_of.get(table, {}))

    def entities(self, table: str) -> tuple[Entity, ...]:
        """Entities of a table in the order of its file."""
        return tuple(self.entities_of.get(table, {}).values())

    def facts(self) -> Iterator[Fact]:
        """Every fact, table by table, in the order of the files."""
        for held in self.entities_of.values():
            for entity in held.values():
                yield from entity.facts

    def source(self, id: str) -> Source:
        """An entry of the bibliography.

        Raises:
            NotInDataset: It is not held.
        """
        try:
            return self.bibliography[id]
        except KeyError:
            raise NotInDataset("source", "source", id, self.bibliography) from None

    @property
    def sources(self) -> tuple[Source, ...]:
        """The bibliography, sorted by id."""
        return tuple(self.bibliography.values())


@dataclass(frozen=True, slots=True)
class Cause:
    """Why rows of this version differ from the version before: ``*`` stands for every table, id, property or source."""

    table: str
    id: str
    property: str
    source: str
    cause: str
    line: int = 0

    def covers(self, key: tuple[str, str, str, str]) -> bool:
        """Whether this cause speaks of the fact with that key."""
        return all(
            mine in ("*", theirs) for mine, theirs in zip((self.table, self.id, self.property, self.source), key, strict=True)
        )


@dataclass(frozen=True, slots=True)
class Change:
    """One row that differs between two versions."""

    kind: str
    before: Fact | None
    after: Fact | None
    cause: str

    @property
    def fact(self) -> Fact:
        """The row as it stands in the version that has it, the later one if both do."""
        one = self.after or self.before
        assert one is not None  # noqa: S101 - a change has at least one side by construction
        return one


@dataclass(frozen=True, slots=True)
class Withdrawn:
    """A version that was taken back."""

    version: str
    reason: str
    successor: str


@dataclass(frozen=True, slots=True)
class Library:
    """All versions that this build holds, oldest first."""

    held: Mapping[str, Dataset] = field(hash=False)
    withdrawn: Mapping[str, Withdrawn] = field(default_factory=dict, hash=False)

    @property
    def versions(self) -> tuple[str, ...]:
        """The versions held, oldest first."""
        return tuple(self.held)

    @property
    def newest(self) -> Dataset:
        """The version that answers when none is asked for."""
        return self.held[self.versions[-1]]

    def get(self, version: str | None = None) -> Dataset:
        """A version, or the newest.

        Raises:
            WithdrawnDataset: It was taken back.
            UnknownDataset: It is not held. The text asked for is only ever looked up, never joined to a path.
        """
        if version is None:
            return self.newest
        found = self.held.get(version)
        if found is not None:
            return found
        gone = self.withdrawn.get(version)
        if gone is not None:
            raise WithdrawnDataset(gone.version, gone.reason, gone.successor)
        raise UnknownDataset(self.held)

    def diff(self, since: str, until: str) -> tuple[Change, ...]:
        """Every row that differs between two versions, with the cause that the later one gives.

        Raises:
            WithdrawnDataset: One of them was taken back.
            UnknownDataset: One of them is not held.
        """
        before, after = self.get(since), self.get(until)
        order = self.versions
        first, last = sorted((order.index(since), order.index(until)))
        causes = [cause for version in reversed(order[first + 1 : last + 1]) for cause in self.held[version].causes]
        return changes(before, after, causes)


def changes(before: Dataset, after: Dataset, causes: list[Cause]) -> tuple[Change, ...]:
    """Row by row what differs, sorted by table, id, property and source. A cause that is nowhere given is left empty."""
    old = {fact.key: fact for fact in before.facts()}
    new = {fact.key: fact for fact in after.facts()}
    found = []
    for key in sorted(old.keys() | new.keys()):
        was, now = old.get(key), new.get(key)
        if was is not None and now is not None and _content(was) == _content(now):
            continue
        kind = "changed" if was and now else "added" if now else "removed"
        cause = next((it.cause for it in causes if it.covers(key)), "")
        found.append(Change(kind, was, now, cause))
    return tuple(found)


def _content(fact: Fact) -> tuple[object, ...]:
    return fact.value, fact.unit, fact.locator, fact.evidence, fact.preferred, fact.note
