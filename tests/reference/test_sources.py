"""Every fact has a source and says how well it is known; every source is used and says how it was seen."""

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from service.quantities import convert
from service.reference.dataset import Dataset, Fact, Library
from service.reference.tables import TABLES

PROJECT = Path(__file__).parents[2]


def facts(library: Library) -> Iterator[Fact]:
    for version in library.versions:
        yield from library.get(version).facts()


def test_no_source_is_unused(library: Library) -> None:
    """Facts cite it, or a formula, a rule or an assumption somewhere in the code does."""
    cited = {fact.source for fact in facts(library)}
    for module in (PROJECT / "service").rglob("*.py"):
        cited |= set(re.findall(r'"([a-z0-9-]+)"', module.read_text("utf-8")))
    assert sorted(source.id for source in library.newest.sources if source.id not in cited) == []


def test_no_fact_cites_what_the_bibliography_lacks(library: Library) -> None:
    known = {source.id for source in library.newest.sources}
    assert {fact.source for fact in facts(library)} <= known


def test_every_source_says_how_it_was_seen_and_what_may_be_reused(dataset: Dataset) -> None:
    for source in dataset.sources:
        custom = source.document["custom"]
        assert isinstance(custom, dict), source.id
        assert set(custom) == {"access", "reuse", "seen"}, source.id
        assert all(custom.values()), source.id


def test_what_is_from_memory_does_not_call_itself_read(dataset: Dataset) -> None:
    """A source that was never opened cannot stand behind a fact graded as read in it."""
    unopened = {it.id for it in dataset.sources if "from memory; the text was not opened" in str(it.document["custom"])}
    read = {"standard", "textbook", "government", "handbook"}
    wrong = [
        (fact.table, fact.id, fact.property) for fact in dataset.facts() if fact.source in unopened and fact.evidence in read
    ]
    assert wrong == []


@pytest.mark.parametrize("source", ["common-practice", "derived", "invented"])
def test_what_has_no_document_is_graded_as_such(dataset: Dataset, source: str) -> None:
    grades = {fact.evidence for fact in dataset.facts() if fact.source == source}
    assert grades <= {source, "from-memory"}


def test_only_the_demonstration_engine_is_invented(dataset: Dataset) -> None:
    invented = {fact.id.partition("/")[0] for fact in dataset.facts() if fact.evidence == "invented"}
    assert invented == {"harrow-r17"}
    assert {fact.evidence for fact in dataset.facts() if fact.id.startswith("harrow-r17")} == {"invented"}


def test_every_table_is_filled_in_every_version(library: Library) -> None:
    for version in library.versions:
        assert set(library.get(version).tables) == set(TABLES), version


def test_every_unit_of_a_property_measures_the_same(library: Library) -> None:
    """A property may be printed in several units, but they must be of one dimension; a gauge's and a hazard's may not."""
    mixed = {("gauges", "uncertainty"), ("safety-limits", "limit"), ("safety-limits", "limit_high")}
    for name, table in TABLES.items():
        for key, it in table.properties.items():
            dimensions = {convert(1.0, unit)[0] for unit in it.units}
            assert len(dimensions) <= 1 or (name, key) in mixed, (name, key, dimensions)


def test_where_sources_disagree_the_reason_is_told(library: Library) -> None:
    others = [fact for fact in facts(library) if not fact.preferred]
    assert len(others) >= 12
    assert all(len(fact.note) > 20 for fact in others)
