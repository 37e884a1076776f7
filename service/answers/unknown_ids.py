"""All ids of a question that the dataset does not hold: a calculation meets them one by one, a caller hears of them at once."""

from collections.abc import Iterator, Mapping

from service.answers.inputs import Request
from service.errors import NotInDataset
from service.reference.dataset import Dataset

TABLES: Mapping[str, str] = {
    "engine": "engines",
    "thread": "threads",
    "property_class": "property-classes",
    "condition": "conditions",
    "listed_condition": "conditions",
    "method": "tightening-methods",
    "fuel": "fuels",
    "oil": "oils",
    "gauge": "gauges",
    "procedure": "break-in-procedures",
    "barrel_material": "materials",
    "inner_material": "materials",
    "known_material": "materials",
}
"""Fields that hold an id of a table, wherever a question has them."""


def unknown_ids(request: Request, dataset: Dataset) -> Iterator[NotInDataset]:
    """An error for every field of a question that names what its table does not hold."""
    for field, table in TABLES.items():
        given = getattr(request, field, None)
        if isinstance(given, str) and table in dataset.tables:
            try:
                dataset.entity(table, given, field)
            except NotInDataset as unknown:
                yield unknown
