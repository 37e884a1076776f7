"""The build against what the dataset holds of its engine or family: what cannot be, and what is asked about."""

from service.answers.engine_facts import engine_fact
from service.answers.engine_kind import check_engine
from service.answers.envelope import UNIT_SLIPS, Answer, Rule
from service.answers.inputs import Request
from service.answers.limits import below
from service.answers.plausibility import IMPLAUSIBLE
from service.quantities import ANGLE, LENGTH, TORQUE, Measure, text_of
from service.reference.dataset import Dataset, Fact
from service.sheet.cross_check import Build
from service.sheet.pool import Pool, as_input

FIRING_ORDER_OFF_FAMILY = Rule(
    code="firing-order-off-family",
    severity="fix",
    stage="pre-start",
    rule="the firing order is not that of the engine or its family",
    reason="Crankshaft and camshaft fix the firing order: leads in another fire on the intake stroke, into the carburettor.",
    remedy="Take the order of the family; keep another only where crankshaft or camshaft were made for it.",
    source="common-practice",
    evidence="common-practice",
)
ROTATION_OFF_FAMILY = Rule(
    code="rotation-off-family",
    severity="ask",
    stage="pre-start",
    rule="the engine is said to turn the other way than its family",
    reason="Marks, firing order, oil pump and fan all follow from the way it turns; seen from the other end it is the reverse.",
    remedy="Say how it turns as seen from the pulley; send another way only where camshaft and pump were made for it.",
    source="common-practice",
    evidence="common-practice",
)
STATIC_TIMING_LATE = Rule(
    code="static-timing-late",
    severity="ask",
    stage="pre-start",
    rule="the static timing is later than the engine or its family has it",
    reason="Late timing overheats heads and exhaust valves within minutes of the first fire; some distributors have a setting "
    "of their own.",
    remedy="Read the mark again; where this distributor has its own static setting, go by its maker.",
    source="common-practice",
    evidence="common-practice",
)


HEAD_STUDS_NOT_NAMED = Rule(
    code="head-studs-not-named",
    severity="note",
    stage="closing-up",
    rule="more than one kind of cylinder head nut is listed and the build names none",
    reason="A case has one kind of head stud: the torque of the thicker one stretches the thinner or pulls it out of the case.",
    remedy="Measure the studs and name the nut that this case has under torque.",
    source="common-practice",
    evidence="common-practice",
)
OF_AN_INPUT = (*UNIT_SLIPS, IMPLAUSIBLE.code)
"""Codes of what is asked of a single figure."""

FILLED_IN = ("cylinders", "bore", "stroke")
"""What a build may leave to its engine."""


def fill_in(request: Request, pool: Pool, dataset: Dataset) -> list[tuple[str, Fact]]:
    """Take sizes of the engine that the build gives nowhere from the dataset; what was taken, to be named as assumed.

    A build that tells its displacement is not given bore or stroke: they would answer for another engine.
    """
    engine = pool.value("engine")
    sections = [value for value in request.__dict__.values() if isinstance(value, Request)]
    if engine is None or any(getattr(section, "displacement", None) is not None for section in sections):
        return []
    taken = []
    for name in FILLED_IN:
        fact = engine_fact(dataset, "engines", engine, name)
        given = pool.value(name) is not None or any(getattr(section, name, None) is not None for section in sections)
        if given or fact is None:
            continue
        pool.derived[name] = as_input(_measured(fact))
        taken.append((name, fact))
    return taken


def _measured(fact: Fact) -> Measure | int:
    """A length, or a number of cylinders."""
    return LENGTH(fact.si) if fact.si is not None and fact.unit else int(float(fact.value))


def name_filled_in(sheet: Answer, taken: list[tuple[str, Fact]]) -> None:
    """Name what was taken from the dataset, of which nobody is asked whether it was typed wrongly."""
    names = {name for name, _ in taken}
    sheet.findings = [f for f in sheet.findings if f.rule.code not in OF_AN_INPUT or not names.issuperset(f.fields)]
    for name, fact in taken:
        sheet.uses(fact)
        sheet.assume(name, _measured(fact), "not given: that of this engine, or its family", fact.source, fact.evidence)  # type: ignore[arg-type]


def check_family(sheet: Answer, build: Build, dataset: Dataset) -> None:
    """Every check of the build against its engine or family."""
    sections = [section for section in build.document.values() if isinstance(section, Request)]
    named = [build.value("engine"), *(getattr(section, "engine", None) for section in sections)]
    for own in dict.fromkeys(named):
        check_engine(sheet, dataset, own)
    engine = build.value("engine")
    if engine is None or dataset.find("engines", engine) is None:
        return
    _firing_order(sheet, build, dataset, engine)
    _rotation(sheet, build, dataset, engine)
    _static_advance(sheet, build, dataset, engine)
    _head_studs(sheet, build, dataset, engine)


def _given(build: Build, name: str, sections: tuple[str, ...]) -> tuple[str, object] | None:
    """Where an input stands, at the top or in a section, and what it says."""
    places = (name, *(f"{section}.{name}" for section in sections))
    return next(((place, value) for place in places if (value := build.value(place)) is not None), None)


def _firing_order(sheet: Answer, build: Build, dataset: Dataset, engine: str) -> None:
    given = _given(build, "firing_order", ("valve_order", "ignition"))
    fact = engine_fact(dataset, "engines", engine, "firing_order")
    if given is None or fact is None:
        return
    sheet.uses(fact)
    place, order = given
    if _from_one(str(order)) != _from_one(fact.value):
        message = f"{order} is sent; this engine, or its family, fires {fact.value}."
        sheet.find(FIRING_ORDER_OFF_FAMILY, (place, "engine"), message)


def _from_one(order: str) -> list[str]:
    """A firing order turned so that it begins with cylinder 1: 4-3-2-1 and 1-4-3-2 are one order."""
    cylinders = order.split("-")
    start = cylinders.index("1") if "1" in cylinders else 0
    return cylinders[start:] + cylinders[:start]


def _rotation(sheet: Answer, build: Build, dataset: Dataset, engine: str) -> None:
    given = _given(build, "rotation", ("valve_order", "ignition"))
    fact = engine_fact(dataset, "engines", engine, "rotation")
    if given is None or fact is None:
        return
    sheet.uses(fact)
    place, rotation = given
    if not fact.value.startswith(str(rotation)):
        message = f"It is said to turn {rotation}; this engine, or its family, turns {fact.value}. Is it seen from the pulley?"
        sheet.find(ROTATION_OFF_FAMILY, (place, "engine"), message)


def _static_advance(sheet: Answer, build: Build, dataset: Dataset, engine: str) -> None:
    """Late timing; too early a timing is found where the ignition is answered."""
    given = _given(build, "static_advance", ("ignition",))
    fact = engine_fact(dataset, "ignition", engine, "static_advance_low")
    if given is None or fact is None or fact.si is None:
        return
    sheet.uses(fact)
    place, advance = given
    if isinstance(advance, float) and below(advance, fact.si):
        least = text_of(ANGLE(fact.si))
        message = f"{text_of(ANGLE(advance))} static is sent; {least} is the latest that is usual of this engine. Is it right?"
        sheet.find(STATIC_TIMING_LATE, (place, "engine"), message)


def _head_studs(sheet: Answer, build: Build, dataset: Dataset, engine: str) -> None:
    """Which of the listed head nuts it is, where the build leaves all of them to the list."""
    if build.value("torque") is not None:
        return
    ids = sorted(dataset.ids_for_engine("fasteners", engine))
    nuts = [dataset.entity("fasteners", id) for id in ids if id.rpartition("/")[2].startswith("cylinder-head-nut")]
    if len(nuts) > 1:
        listed = "; ".join(f"{nut.text('title')}, {text_of(TORQUE(nut.si('torque')))}" for nut in nuts)
        message = f"{len(nuts)} kinds are listed: {listed}. Tighten only the one that your case has. Which studs has it?"
        sheet.find(HEAD_STUDS_NOT_NAMED, ("torque",), message)


def not_asked(build: Build, dataset: Dataset) -> frozenset[str]:
    """Codes of the checks that this engine has nothing for: side valves have no rockers to look at."""
    fact = engine_fact(dataset, "engines", build.value("engine"), "valve_gear")
    return frozenset({"no-oil-at-rockers"}) if fact is not None and fact.value == "side-valve" else frozenset()
