"""Reference rows as bytes: made once each, then only joined and sent."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any
from urllib.parse import quote

import orjson

from service.api.responses import Headers, entity_tag
from service.faces.csv_face import encode
from service.quantities import convert
from service.reference.dataset import Dataset, Entity, Fact
from service.reference.schema import DECIMAL
from service.reference.tables import TABLES
from service.vocabulary import DIMENSIONS

COLUMNS = ("id", "property", "value", "unit", "si", "si_unit", "source", "locator", "evidence", "preferred", "note", "dataset")


@dataclass(frozen=True, slots=True)
class Line:
    """One fact with its bytes in either face."""

    fact: Fact
    json: bytes
    csv: bytes


@dataclass(frozen=True, slots=True)
class Ready:
    """A document that is sent as it is: its bytes, its entity tag and the address of its pinned form."""

    body: bytes
    tag: bytes
    location: bytes = b""


class Page:
    """What an address answers: the bytes, their entity tag, and how long they hold."""

    def __init__(self, dataset: Dataset, body: Callable[[], bytes], tag: bytes, face: str, cache: tuple[bytes, bytes]) -> None:
        self.dataset = dataset
        self.body = body
        self.tag = tag
        self.face = face
        self.cache = cache
        self.extra: Headers = []
        self.lasting = False  # whether the same address has the same answer for as long as this process runs


@dataclass(frozen=True, slots=True)
class Known:
    """An answer that was given before: sent again without reading the address."""

    headers: Headers
    tag: bytes
    body: Callable[[], bytes]


class Rows:
    """The rows of every version. What is asked for first is made first; nothing is made twice."""

    def __init__(self) -> None:
        self._lines: dict[tuple[str, str], tuple[Line, ...]] = {}
        self._entities: dict[tuple[str, str, str], Ready] = {}

    def lines(self, dataset: Dataset, table: str) -> tuple[Line, ...]:
        """Every fact of a table in the order of its file."""
        key = dataset.version, table
        found = self._lines.get(key)
        if found is None:
            facts = [fact for entity in dataset.entities(table) for fact in entity.facts]
            found = tuple(Line(fact, orjson.dumps(_row(fact, dataset)), _csv(fact, dataset)) for fact in facts)
            self._lines[key] = found
        return found

    def entity(self, dataset: Dataset, entity: Entity) -> Ready:
        """One thing with all its facts, in JSON."""
        key = dataset.version, entity.table, entity.id
        found = self._entities.get(key)
        if found is None:
            body = orjson.dumps(_document(entity, dataset))
            location = address(entity.table, entity.id, dataset.version).encode()
            found = self._entities[key] = Ready(body, entity_tag(body), location)
        return found


def csv_page(lines: Iterable[Line]) -> bytes:
    """Rows as CSV with their heading."""
    return _HEADING + b"".join([line.csv for line in lines])


def address(table: str, id: str, version: str) -> str:
    """The address of a thing below a pinned version."""
    return f"/v1/reference/{table}/{quote(id)}?dataset={version}"


def stamp(dataset: Dataset) -> dict[str, str]:
    """Version and sum, as every answer carries them."""
    return {"version": dataset.version, "sha256": dataset.sha256}


def plain(fact: Fact) -> dict[str, Any]:
    """A fact as it is answered: the printed value with its unit, a number the same in SI, and where it is from."""
    number = fact.si is not None and DECIMAL.fullmatch(fact.value) is not None
    in_si = {} if fact.si is None else {"si": {"value": _rounded(fact.si), "unit": si_unit(fact.unit)}}
    return {
        "value": float(fact.value) if number else fact.value,
        "unit": fact.unit,
        "printed": fact.printed,
        **in_si,
        "source": fact.source,
        "locator": fact.locator,
        "evidence": fact.evidence,
        "preferred": fact.preferred,
        "note": fact.note,
    }


def si_unit(unit: str) -> str:
    """The SI unit of what a printed unit measures."""
    return DIMENSIONS[convert(1.0, unit)[0]].si if unit else "1"


def _rounded(si: float) -> float:
    return float(f"{si:.12g}")


def _row(fact: Fact, dataset: Dataset) -> dict[str, Any]:
    return {
        "id": fact.id,
        "property": fact.property,
        **plain(fact),
        "links": {"self": address(fact.table, fact.id, dataset.version), "source": f"/v1/sources/{fact.source}"},
    }


def _document(entity: Entity, dataset: Dataset) -> dict[str, Any]:
    version = dataset.version
    links = {"self": address(entity.table, entity.id, version), "table": f"/v1/reference/{entity.table}?dataset={version}"}
    properties: dict[str, Any] = {}
    for name in entity.properties:
        fact = entity.fact(name)
        properties[name] = {**plain(fact), "others": [plain(other) for other in entity.alternatives(name)]}
        target = TABLES[entity.table].properties[name].table
        if target:
            links[name] = address(target, fact.value, version)
    return {"table": entity.table, "id": entity.id, "properties": properties, "dataset": stamp(dataset), "links": links}


def _csv(fact: Fact, dataset: Dataset) -> bytes:
    number = fact.si is not None and DECIMAL.fullmatch(fact.value) is not None
    value = _Number(fact.value) if number else fact.value
    si = None if fact.si is None else _rounded(fact.si)
    unit = None if si is None else si_unit(fact.unit)
    preferred = "yes" if fact.preferred else "no"
    place = [fact.source, fact.locator, fact.evidence, preferred, fact.note, dataset.version]
    return encode([[fact.id, fact.property, value, fact.unit, si, unit, *place]])


class _Number:
    """A printed number: written digit by digit as it stands in the source, and no text to a spreadsheet's guard."""

    def __init__(self, printed: str) -> None:
        self.printed = printed

    def __str__(self) -> str:
        return self.printed


_HEADING = encode([COLUMNS])
