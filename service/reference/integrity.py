"""What must hold between the rows of a version, beyond each row by itself."""

from collections.abc import Collection, Iterable, Mapping

from service.reference import files
from service.reference.dataset import Dataset, Fact, Source
from service.reference.tables import TABLES


def check_facts(facts: list[Fact], version: str) -> None:
    """Once each, one in force, complete, ascending, and every reference led somewhere.

    Raises:
        BrokenDataset: The first fault by file, line and column.
    """
    ids: dict[str, set[str]] = {table: set() for table in TABLES}
    for fact in facts:
        ids[fact.table].add(fact.id)
    _once_each(facts, version)
    _one_in_force(facts, version)
    _references(facts, ids, version)
    _complete_and_ascending(facts, version)


def check_citations(versions: Iterable[Dataset], bibliography: Mapping[str, Source], cited: Collection[str] | None) -> None:
    """No source that nothing cites, once it is known what formulas and rules cite.

    Raises:
        BrokenDataset: Names the source.
    """
    if cited is None:
        return
    used = set(cited) | {fact.source for dataset in versions for fact in dataset.facts()}
    for unused in sorted(bibliography.keys() - used):
        raise files.broken("sources.json", unused, "sources that a fact, a formula or a rule cites")


def _place(fact: Fact, version: str, column: str) -> str:
    return files.at(f"{version}/{fact.table}.csv", fact.line, column)


def _once_each(facts: list[Fact], version: str) -> None:
    seen: dict[tuple[str, str, str, str], Fact] = {}
    for fact in facts:
        first = seen.setdefault(fact.key, fact)
        if first is not fact:
            allowed = f"one fact a source; line {first.line} has {first.property} of {first.id} from {first.source}"
            raise files.broken(_place(fact, version, "id"), fact.id, allowed)


def _one_in_force(facts: list[Fact], version: str) -> None:
    in_force: dict[tuple[str, str, str], Fact] = {}
    for fact in facts:
        if fact.preferred:
            first = in_force.setdefault((fact.table, fact.id, fact.property), fact)
            if first is not fact:
                allowed = f"no, because line {first.line} is in force"
                raise files.broken(_place(fact, version, "preferred"), "yes", allowed)
    for fact in facts:
        if not fact.preferred:
            if not fact.note:
                raise files.broken(_place(fact, version, "note"), "", "the reason why this fact is not in force")
            if (fact.table, fact.id, fact.property) not in in_force:
                allowed = "yes for one of the facts that disagree"
                raise files.broken(_place(fact, version, "preferred"), "no", allowed)


def _references(facts: list[Fact], ids: Mapping[str, set[str]], version: str) -> None:
    for fact in facts:
        table = TABLES[fact.table]
        target = table.properties[fact.property].table
        if target and fact.value not in ids[target]:
            raise files.broken(_place(fact, version, "value"), fact.value, f"an id of {target}.csv")
        if table.parent and fact.id.partition("/")[0] not in ids[table.parent]:
            raise files.broken(_place(fact, version, "id"), fact.id, f"an id of {table.parent}.csv before the /")


def _complete_and_ascending(facts: list[Fact], version: str) -> None:
    entities: dict[tuple[str, str], dict[str, Fact]] = {}
    for fact in facts:
        held = entities.setdefault((fact.table, fact.id), {})
        if fact.preferred:
            held[fact.property] = fact
    for (table, id), held in entities.items():
        for name in TABLES[table].required:
            if name not in held:
                where = f"{version}/{table}.csv"
                raise files.broken(f"{where}, id {id}", ", ".join(held), f"the property {name} too")
        for name, low in held.items():
            if name == "low" or name.endswith("_low"):
                _ascending(low, [held.get(name.removesuffix("_low")), held.get(name.removesuffix("low") + "high")], version)


def _ascending(low: Fact, others: list[Fact | None], version: str) -> None:
    """Low, nominal and high of one thing in their order."""
    last = low
    for fact in others:
        if fact is None or fact is low or fact.si is None or last.si is None:
            continue
        if fact.si < last.si:
            raise files.broken(_place(fact, version, "value"), fact.printed, f"at least {last.property}, {last.printed}")
        last = fact
