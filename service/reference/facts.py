"""Facts, the things they are about and the sources they come from: frozen, and read in a fraction of a microsecond."""

import builtins
from collections.abc import Mapping
from dataclasses import dataclass, field

from service.errors import NotInDataset


@dataclass(frozen=True, slots=True)
class Source:
    """An entry of the bibliography; ``document`` is its CSL-JSON as it stands in the file."""

    id: str
    title: str
    document: Mapping[str, object] = field(hash=False, compare=False)


@dataclass(frozen=True, slots=True)
class Fact:
    """One fact: as printed, and once more in SI. ``line`` is its line in the table's file."""

    table: str
    id: str
    property: str
    value: str
    unit: str
    source: str
    locator: str
    evidence: str
    preferred: bool
    note: str
    si: float | None
    line: int

    @builtins.property
    def printed(self) -> str:
        """Value and unit as in the source."""
        return f"{self.value} {self.unit}".rstrip()

    @builtins.property
    def key(self) -> tuple[str, str, str, str]:
        """What makes a fact the same fact in two versions."""
        return self.table, self.id, self.property, self.source


@dataclass(frozen=True, slots=True)
class Entity:
    """Everything the dataset says about one thing."""

    table: str
    id: str
    preferred: Mapping[str, Fact] = field(hash=False, repr=False)
    others: Mapping[str, tuple[Fact, ...]] = field(hash=False, repr=False)

    def has(self, name: str) -> bool:
        """Whether a property is known."""
        return name in self.preferred

    def fact(self, name: str) -> Fact:
        """The fact in force.

        Raises:
            NotInDataset: Nothing is known of this property.
        """
        try:
            return self.preferred[name]
        except KeyError:
            raise NotInDataset(name, f"property of {self.id}", name, self.preferred) from None

    def si(self, name: str) -> float:
        """The value in force in SI."""
        value = self.fact(name).si
        if value is None:
            raise NotInDataset(name, f"number of {self.id}", name, ())
        return value

    def number(self, name: str) -> float:
        """The value in force of a property without a unit."""
        return self.si(name)

    def integer(self, name: str) -> int:
        """The value in force of a whole-number property."""
        return int(self.si(name))

    def text(self, name: str) -> str:
        """The value in force as printed, without its unit."""
        return self.fact(name).value

    def alternatives(self, name: str) -> tuple[Fact, ...]:
        """What other sources say, with the reason why they are not in force in ``note``."""
        return self.others.get(name, ())

    @property
    def properties(self) -> tuple[str, ...]:
        """Names of the known properties, in the order of the file."""
        return tuple(self.preferred)

    @property
    def facts(self) -> tuple[Fact, ...]:
        """All facts, in the order of the file."""
        both = [*self.preferred.values(), *(fact for group in self.others.values() for fact in group)]
        return tuple(sorted(both, key=lambda fact: fact.line))
