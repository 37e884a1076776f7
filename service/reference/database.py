"""The embedded database: SQLModel declares it, core inserts fill it, and it is read-only ever after.

It lives in memory, so it needs neither a writable disk nor a folder for temporary files. Its keys and foreign keys are a
second net under the checks in Python; look-ups are answered from what came out of it.
"""

from collections.abc import Iterable
from types import TracebackType

from sqlalchemy import Engine, create_engine, event, insert, select, text
from sqlalchemy.exc import IntegrityError
from sqlalchemy.pool import StaticPool
from sqlmodel import SQLModel

from service.errors import BrokenDataset
from service.reference.dataset import Fact, Source
from service.reference.rows import EntityRecord, FactRecord, SourceRecord
from service.reference.tables import TABLES


class Database:
    """A version's facts in SQLite; a context manager that closes it."""

    def __init__(self, facts: Iterable[Fact], sources: Iterable[Source]) -> None:
        self.engine: Engine = create_engine("sqlite://", poolclass=StaticPool, connect_args={"check_same_thread": False})
        event.listen(self.engine, "connect", _demand_foreign_keys)
        tables = [SQLModel.metadata.tables[name] for name in ("source", "entity", "fact")]
        SQLModel.metadata.create_all(self.engine, tables=tables)
        self._fill(list(facts), sources)

    def __enter__(self) -> "Database":
        return self

    def __exit__(self, kind: type[BaseException] | None, fault: BaseException | None, trace: TracebackType | None) -> None:
        self.engine.dispose()

    def facts(self) -> list[Fact]:
        """Every fact, in the order in which they went in."""
        columns = list(SQLModel.metadata.tables["fact"].columns)[: len(Fact.__slots__)]
        with self.engine.connect() as connection:
            rows = connection.execute(select(*columns).order_by(text("fact.rowid"))).all()
        return [
            Fact(table, id, name, value, unit, source, locator, evidence, preferred == "yes", note, si, line)
            for table, id, name, value, unit, source, locator, evidence, preferred, note, si, line in rows
        ]

    def _fill(self, facts: list[Fact], sources: Iterable[Source]) -> None:
        entities = dict.fromkeys((fact.table, fact.id) for fact in facts)
        try:
            with self.engine.begin() as connection:
                connection.execute(insert(SourceRecord), [_source_record(source) for source in sources])
                connection.execute(insert(EntityRecord), [{"reference_table": t, "id": i} for t, i in entities])
                # The driver takes rows as they are; SQLAlchemy would make a dictionary of each.
                connection.exec_driver_sql(str(insert(FactRecord).compile(self.engine)), [_cells(fact) for fact in facts])
        except IntegrityError as fault:
            raise BrokenDataset(f"the database refuses the facts: {fault.orig}") from fault
        with self.engine.connect() as connection:
            connection.execute(text("PRAGMA query_only = ON"))


def _demand_foreign_keys(connection: object, _record: object) -> None:
    connection.execute("PRAGMA foreign_keys = ON")  # type: ignore[attr-defined]


def _source_record(source: Source) -> dict[str, str]:
    return dict.fromkeys(SourceRecord.model_fields, "") | {"id": source.id, "title": source.title}


def _cells(fact: Fact) -> tuple[str | float | None, ...]:
    """A fact in the order of the columns, with the entity that it names where it names one."""
    target = TABLES[fact.table].properties[fact.property].table
    return (
        fact.table,
        fact.id,
        fact.property,
        fact.value,
        fact.unit,
        fact.source,
        fact.locator,
        fact.evidence,
        "yes" if fact.preferred else "no",
        fact.note,
        fact.si,
        fact.line,
        target or None,
        fact.value if target else None,
    )
