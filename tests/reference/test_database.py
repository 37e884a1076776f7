"""The embedded database holds exactly the facts, with keys that bite, and nobody can write to it."""

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import pytest
from sqlalchemy import text
from sqlalchemy.exc import OperationalError

from service.errors import BrokenDataset
from service.reference.database import Database
from service.reference.dataset import Dataset, Fact
from service.reference.rows import FactRecord, FactRow


@pytest.fixture
def database(dataset: Dataset) -> Iterator[Database]:
    with Database(dataset.facts(), dataset.sources) as database:
        yield database


def test_what_went_in_comes_out(database: Database, dataset: Dataset) -> None:
    assert database.facts() == list(dataset.facts())


@pytest.mark.parametrize(
    "statement", ["DELETE FROM fact", "UPDATE fact SET value = '1'", "DROP TABLE fact", "CREATE TABLE x (y)"]
)
def test_it_cannot_be_written_to(database: Database, statement: str) -> None:
    with pytest.raises(OperationalError, match="readonly"), database.engine.begin() as connection:
        connection.execute(text(statement))


def test_foreign_keys_are_demanded_and_whole(database: Database) -> None:
    with database.engine.connect() as connection:
        assert connection.execute(text("PRAGMA foreign_keys")).scalar() == 1
        assert connection.execute(text("PRAGMA foreign_key_check")).all() == []
        assert connection.execute(text("PRAGMA integrity_check")).scalar() == "ok"


BROKEN = {
    "the same line twice": lambda facts: [*facts, facts[0]],
    "the same fact twice": lambda facts: [*facts, replace(facts[0], line=99_999)],
    "an unknown source": lambda facts: [*facts, replace(facts[0], line=99_999, source="hearsay")],
    "a reference to nothing": lambda facts: [
        replace(fact, value="M9x7") if fact.property == "thread" else fact for fact in facts
    ],
}


@pytest.mark.parametrize("name", BROKEN)
def test_its_keys_refuse_what_the_checks_would_have_found(dataset: Dataset, name: str) -> None:
    facts: list[Fact] = BROKEN[name](list(dataset.facts()))
    with pytest.raises(BrokenDataset, match="the database refuses the facts"):
        Database(facts, dataset.sources)


def test_a_table_model_does_not_check_what_its_constructor_is_given() -> None:
    """Why rows enter by validation: SQLModel's table models take anything, the plain model beside them does not."""
    nonsense: dict[str, Any] = dict.fromkeys(FactRow.model_fields, "=1+1")
    FactRecord(reference_table="threads", line=1, **nonsense)
    with pytest.raises(ValueError, match="validation error"):
        FactRow.model_validate(nonsense)
