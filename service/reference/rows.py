"""The rows of the reference database, declared once: what a bibliography entry, an entity and a fact are made of.

Rows enter by validation only; building a table model by its constructor would skip every check. The plain models validate,
the table models beside them give SQLite its columns, keys and foreign keys.
"""

from enum import StrEnum
from typing import Annotated, Any

from pydantic import StringConstraints
from sqlalchemy import ForeignKeyConstraint, UniqueConstraint
from sqlmodel import Field, SQLModel

WORDS = r"[a-z0-9]+(-[a-z0-9]+)*"


class Evidence(StrEnum):
    """How well a fact is known here."""

    standard = "standard"
    handbook = "handbook"
    government = "government"
    textbook = "textbook"
    common_practice = "common-practice"
    derived = "derived"
    from_memory = "from-memory"
    invented = "invented"


class Preferred(StrEnum):
    """``yes`` for the fact in force, ``no`` for one that another source contradicts."""

    yes = "yes"
    no = "no"


SourceId = Annotated[str, StringConstraints(pattern=rf"^{WORDS}$", max_length=60)]
# Threads are written as on a drawing (M8x1.25, 3/8-24 UNF); everything else is lower-case words, with one level below a family.
EntityId = Annotated[str, StringConstraints(pattern=r"^[A-Za-z0-9][A-Za-z0-9. /-]*$", max_length=80)]
PropertyName = Annotated[str, StringConstraints(pattern=r"^[a-z][a-z0-9]*(_[a-z0-9]+)*$", max_length=60)]
UnitCode = Annotated[str, StringConstraints(pattern=r"^[!-~]*$", max_length=12)]
# One line of printable text without blanks at its ends, and none of the characters that a spreadsheet would run.
Text = Annotated[str, StringConstraints(pattern=r"^[^\s=+@\x00-\x1f\x7f]([^\x00-\x1f\x7f]*\S)?$", max_length=400)]
Note = Annotated[str, StringConstraints(pattern=r"^([^\s=+@\x00-\x1f\x7f]([^\x00-\x1f\x7f]*\S)?)?$", max_length=400)]


class SourceRow(SQLModel):
    """A bibliography entry in the terms of CSL-JSON; ``custom`` holds access, terms of reuse and how it was seen."""

    model_config = {"extra": "forbid"}

    id: SourceId = Field(primary_key=True)
    type: Text
    title: Text
    author: Note = ""
    publisher: Note = ""
    issued: Note = ""
    edition: Note = ""
    number: Note = ""
    access: Text
    reuse: Text
    seen: Text


class FactRow(SQLModel):
    """One fact, as printed, with its own unit, source, place in the source and grade of evidence."""

    model_config = {"extra": "forbid"}

    id: EntityId
    property: PropertyName
    value: Text
    unit: UnitCode
    source: SourceId
    locator: Text
    evidence: Evidence
    preferred: Preferred
    note: Note


class SourceRecord(SourceRow, table=True):
    """The bibliography in SQLite."""

    __tablename__ = "source"


class EntityRecord(SQLModel, table=True):
    """A thing that facts are about: the rows of one table that share an id."""

    __tablename__ = "entity"

    reference_table: str = Field(primary_key=True)
    id: str = Field(primary_key=True)


class FactRecord(SQLModel, table=True):
    """The facts in SQLite. A fact that names another entity carries a foreign key to it."""

    __tablename__ = "fact"
    __table_args__: Any = (
        UniqueConstraint("reference_table", "id", "property", "source"),
        ForeignKeyConstraint(["reference_table", "id"], ["entity.reference_table", "entity.id"]),
        ForeignKeyConstraint(["target_table", "target_id"], ["entity.reference_table", "entity.id"]),
    )

    # In the order of the fields of a Fact, so that a row becomes one without renaming.
    reference_table: str = Field(primary_key=True)
    id: str
    property: str
    value: str
    unit: str
    source: str = Field(foreign_key="source.id")
    locator: str
    evidence: str
    preferred: str
    note: str
    si: float | None = None
    line: int = Field(primary_key=True)
    target_table: str | None = None
    target_id: str | None = None
