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
        """Every fact, in the order of the tables and of their lines."""
        columns = FactRecord.__table__.columns  # type: ignore[attr-defined]
        with self.engine.connect() as connection:
            rows = connection.execute(select(*columns)).all()
        place = {table: number for number, table in enumerate(TABLES)}
        facts = [
            Fact(
                table=row.reference_table,
                id=row.id,
                property=row.property,
                value=row.value,
                unit=row.unit,
                source=row.source,
                locator=row.locator,
                evidence=row.evidence,
                preferred=row.preferred == "yes",
                note=row.note,
                si=row.si,
                line=row.line,
            )
            for row in rows
        ]
        return sorted(facts, key=lambda fact: (place[fact.table], fact.line))

    def _fill(self, facts: list[Fact], sources: Iterable[Source]) -> None:
        try:
            with self.engine.begin() as connection:
                connection.execute(insert(SourceRecord), [_source_record(source) for source in sources])
                entities = dict.fromkeys((fact.table, fact.id) for fact in facts)
                connection.execute(insert(EntityRecord), [{"reference_table": t, "id": i} for t, i in entities])
                connection.execute(insert(FactRecord), [_fact_record(fact) for fact in facts])
        except IntegrityError as fault:
            raise BrokenDataset(f"the database refuses the facts: {fault.orig}") from fault
        with self.engine.connect() as connection:
            connection.execute(text("PRAGMA query_only = ON"))


def _demand_foreign_keys(connection: object, _record: object) -> None:
    connection.execute("PRAGMA foreign_keys = ON")  # type: ignore[attr-defined]


def _source_record(source: Source) -> dict[str, str]:
    return dict.fromkeys(SourceRecord.model_fields, "") | {"id": source.id, "title": source.title}


def _fact_record(fact: Fact) -> dict[str, object]:
    target = TABLES[fact.table].properties[fact.property].table
    return {
        "reference_table": fact.table,
        "line": fact.line,
        "id": fact.id,
        "property": fact.property,
        "value": fact.value,
        "unit": fact.unit,
        "source": fact.source,
        "locator": fact.locator,
        "evidence": fact.evidence,
        "preferred": "yes" if fact.preferred else "no",
        "note": fact.note,
        "si": fact.si,
        "target_table": target or None,
        "target_id": fact.value if target else None,
    }
