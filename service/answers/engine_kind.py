"""Engines that the house must not serve as one of its own: diesels, and engines under a type certificate."""

from service.answers.envelope import Answer, Rule
from service.errors import OutsideValidity
from service.reference.dataset import Dataset, Fact

CERTIFICATES = "faa-tcds"
"""The source of the facts of engines that are under a type certificate."""

NOT_A_PETROL_ENGINE = Rule(
    code="not-a-petrol-engine",
    severity="stop",
    stage="combination",
    rule="the engine is no petrol engine",
    reason="Fuel, ignition and first fire are told here for spark ignition: a diesel has none of them, needs its fuel bled and "
    "its injection timed, and runs away where it draws oil.",
    remedy="Work by the maker's manual for fuel, timing, priming, first start and run-in.",
    source="common-practice",
    evidence="common-practice",
)
AIRCRAFT_ENGINE = Rule(
    code="aircraft-engine",
    severity="stop",
    stage="combination",
    rule="the engine is under a type certificate",
    reason="Work on a certificated engine needs the certificate holder's data and a licensed person; the figures here are for "
    "reference only.",
    remedy="Leave the work to a licensed person with the certificate holder's current manuals.",
    source="faa-tcds",
    evidence="common-practice",
)
DIESEL = "This engine is a diesel; fuel, ignition and first fire are told here for spark ignition only."
NO_RUN_IN = (
    "There is no run-in here for an engine under a type certificate: the certificate holder's data rule it.",
    "There is no run-in here for a diesel: fuel, start and speeds are told for spark ignition. Use the maker's manual.",
)
"""Why there is none; a sheet has its stop for either, and says no more of it than that."""
CERTIFICATED = "This engine is under an aircraft type certificate; the figures are for reference only."


def diesel(dataset: Dataset, engine: str | None) -> Fact | None:
    """The fact that an engine, or its family, is a diesel; ``None`` where it is none or that is not held."""
    fact = next((owned for owned in _facts(dataset, engine, "cycle")), None)
    return fact if fact is not None and fact.value == "diesel" else None


def certificated(dataset: Dataset, engine: str | None) -> Fact | None:
    """The fact that an engine is known from its type certificate; ``None`` where it is not."""
    return next((fact for fact in _facts(dataset, engine, "title") if fact.source == CERTIFICATES), None)


def _facts(dataset: Dataset, engine: str | None, name: str) -> list[Fact]:
    owners = () if engine is None else dataset.lineage(engine)
    entities = [dataset.entity("engines", owner) for owner in owners]
    return [entity.fact(name) for entity in entities if entity.has(name)]


def check_certificate(found: Answer, dataset: Dataset, engine: str | None) -> None:
    """Whether an engine is one that only a licensed person may work on."""
    if (fact := certificated(dataset, engine)) is not None:
        found.uses(fact)
        found.find(AIRCRAFT_ENGINE, ("engine",), CERTIFICATED)


def check_engine(found: Answer, dataset: Dataset, engine: str | None) -> None:
    """Whether an engine is one that a build sheet is for."""
    check_certificate(found, dataset, engine)
    if (fact := diesel(dataset, engine)) is not None:
        found.uses(fact)
        found.find(NOT_A_PETROL_ENGINE, ("engine",), DIESEL)


def refuse_other_engines(dataset: Dataset, engine: str | None) -> None:
    """Refuse a run-in for an engine that the trade's tables are not for.

    Raises:
        OutsideValidity: it is a diesel or under a type certificate.
    """
    if certificated(dataset, engine) is not None:
        raise OutsideValidity("engine", NO_RUN_IN[0], "a petrol engine that is under no type certificate")
    if diesel(dataset, engine) is not None:
        raise OutsideValidity("engine", NO_RUN_IN[1], "a petrol engine that is under no type certificate")
