"""What the rest of the house asks of the dataset: look-ups, families, sources, versions, and how they refuse."""

import timeit
from dataclasses import FrozenInstanceError
from typing import Any

import pytest

from service.errors import NotInDataset, UnknownDataset, WithdrawnDataset
from service.reference.dataset import Dataset, Library, Withdrawn


def test_a_fact_is_given_as_printed_and_in_si(dataset: Dataset) -> None:
    fact = dataset.entity("threads", "M8x1.25").fact("stress_area")
    assert (fact.value, fact.unit, fact.printed) == ("36.6", "mm2", "36.6 mm2")
    assert fact.si == pytest.approx(36.6e-6, rel=1e-15)
    assert (fact.source, fact.evidence) == ("iso-898-1-2013", "standard")


def test_a_fraction_of_an_inch_is_exact(dataset: Dataset) -> None:
    """7/16 in is 11.1125 mm: 25.4 mm to the inch by definition."""
    assert dataset.entity("threads", "7/16-20 UNF").si("diameter") == pytest.approx(0.0111125, rel=1e-15)


def test_numbers_and_texts_come_as_they_are(dataset: Dataset) -> None:
    engine = dataset.entity("engines", "air-cooled-flat-four-1600")
    assert engine.integer("cylinders") == 4
    assert engine.text("layout") == "flat-four"
    assert dataset.entity("conditions", "engine-oil").number("friction") == 0.14


def test_a_text_is_no_number(dataset: Dataset) -> None:
    with pytest.raises(NotInDataset):
        dataset.entity("engines", "air-cooled-flat-four").si("layout")


def test_an_unknown_property_names_those_that_are_known(dataset: Dataset) -> None:
    entity = dataset.entity("threads", "M8x1.25")
    assert not entity.has("colour")
    with pytest.raises(NotInDataset) as refused:
        entity.si("stress_aera")
    assert "stress_area" in refused.value.nearest


def test_an_unknown_id_names_the_nearest(dataset: Dataset) -> None:
    with pytest.raises(NotInDataset) as refused:
        dataset.entity("engines", "air-cooled-flat-for", field="engine")
    assert refused.value.field == "engine"
    assert refused.value.kind == "engine"
    assert "air-cooled-flat-four" in refused.value.nearest


def test_an_unknown_table_is_refused_too(dataset: Dataset) -> None:
    with pytest.raises(NotInDataset):
        dataset.entity("thread", "M8x1.25")
    assert dataset.find("thread", "M8x1.25") is None
    assert dataset.ids("thread") == ()
    assert dataset.entities("thread") == ()


def test_a_step_of_a_family_has_what_its_family_has(dataset: Dataset) -> None:
    found = dataset.of_engine("fasteners", "air-cooled-flat-four-1600", "cylinder-head-nut")
    assert found.id == "air-cooled-flat-four/cylinder-head-nut"
    assert dataset.lineage("air-cooled-flat-four-1600") == ("air-cooled-flat-four-1600", "air-cooled-flat-four")
    assert dataset.lineage("no-such-engine") == ()


def test_an_unknown_fastener_names_the_nearest_of_the_family(dataset: Dataset) -> None:
    with pytest.raises(NotInDataset) as refused:
        dataset.of_engine("fasteners", "air-cooled-flat-four-1600", "cylinder-head-bolt", field="fastener")
    assert refused.value.field == "fastener"
    assert "cylinder-head-nut" in refused.value.nearest


def test_where_sources_disagree_both_stand_and_one_is_in_force(dataset: Dataset) -> None:
    """SAE grade 5: 85,000 psi as a textbook prints it, against 586 MPa from memory."""
    grade = dataset.entity("property-classes", "grade-5")
    assert grade.fact("proof_stress").printed == "85000 psi"
    (other,) = grade.alternatives("proof_stress")
    assert other.printed == "586 MPa"
    assert not other.preferred
    assert other.note
    assert other in grade.facts
    assert grade.alternatives("mark") == ()


def test_nothing_can_be_changed(dataset: Dataset) -> None:
    entity = dataset.entity("threads", "M8x1.25")
    with pytest.raises(FrozenInstanceError):
        entity.fact("pitch").value = "1"  # type: ignore[misc]
    with pytest.raises(TypeError):
        entity.preferred["pitch"] = entity.fact("diameter")  # type: ignore[index]
    with pytest.raises(TypeError):
        dataset.entities_of["threads"]["M8x1.25"] = entity  # type: ignore[index]


def test_the_bibliography_is_looked_up_by_id(dataset: Dataset) -> None:
    source = dataset.source("iso-898-1-2013")
    assert source.document["number"] == "ISO 898-1:2013"
    with pytest.raises(NotInDataset):
        dataset.source("iso-898-1-1999")
    assert [one.id for one in dataset.sources] == sorted(one.id for one in dataset.sources)


def test_the_newest_version_answers_unless_another_is_pinned(library: Library) -> None:
    assert library.versions == tuple(sorted(library.versions))
    assert library.get() is library.newest
    assert library.get("2026.11").version == "2026.11"
    assert library.newest.version == library.versions[-1]


FORMS: list[Any] = [
    *("2026.10", "2026.1", "2026.12 ", " 2026.12", "2026.12/", "2026.12/..", "../2026.12", "..", ".", "", "/", "2026.12\0"),
    *("%2e%2e", "..%2f", "%2026.12", "2026.12%00", "\\\\host\\share", "//host/share", "file:///etc/passwd", "C:\\2026.12"),
    *("2026。12", "２０２６.12", "2026.12\n", "2026.12;", "2026.12'--", "releases.json", "sources.json", "newest", "latest"),
    *("....//", "..\\..", "\xc0\xae\xc0\xae", "2026.12" * 1000, "true", "None", "2026", "12", "2026.012", "02026.12"),
]


@pytest.mark.parametrize("text", FORMS)
def test_a_version_is_looked_up_and_never_joined_to_a_path(library: Library, text: str) -> None:
    with pytest.raises(UnknownDataset) as refused:
        library.get(text)
    assert refused.value.held == library.versions


def test_a_withdrawn_version_tells_why_and_what_came_after(library: Library) -> None:
    gone = {"2026.10": Withdrawn("2026.10", "a row was read wrongly", "2026.11")}
    with pytest.raises(WithdrawnDataset) as refused:
        Library(library.held, gone).get("2026.10")
    assert (refused.value.reason, refused.value.successor) == ("a row was read wrongly", "2026.11")


def test_a_look_up_takes_less_than_five_microseconds(dataset: Dataset) -> None:
    def look_up() -> float:
        return dataset.entity("threads", "M8x1.25", "thread").si("stress_area")

    best = min(timeit.repeat(look_up, number=2000, repeat=7)) / 2000
    assert best < 5e-6
