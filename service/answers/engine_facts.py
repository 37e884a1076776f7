"""What the dataset says of an engine in tables that hold a few facts a family, such as its ignition and its oil."""

from service.reference.dataset import Dataset, Fact


def engine_fact(dataset: Dataset, table: str, engine: str | None, name: str) -> Fact | None:
    """The fact ``name`` of an engine, or else of the nearest family above it, or ``None`` where neither is held."""
    if engine is None:
        return None
    for owner in dataset.lineage(engine):
        for entity in dataset.entities(table):
            if entity.id.partition("/")[0] == owner and entity.has(name):
                return entity.fact(name)
    return None
