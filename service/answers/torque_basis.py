"""The torque that the book lists, and what becomes of it when the thread is not in the condition that the book means."""

from dataclasses import dataclass
from typing import Any

from service.answers.envelope import Answer
from service.answers.fasteners import friction_of
from service.answers.torque_request import TorqueRequest
from service.answers.torque_rules import TORQUE_BASIS_MISMATCH, TORQUE_BASIS_UNKNOWN
from service.calculations.torque import rebased_torque, tightening_torque
from service.errors import MissingInput
from service.quantities import TORQUE, text_of
from service.reference.dataset import Dataset, Entity

# Two conditions whose torques differ by less than this are one for the wrench.
_SAME = 0.03


@dataclass(frozen=True, slots=True)
class Listed:
    """What the book, or the dataset, lists for a fastener; torques in N·m. ``shown`` is its place in the answer."""

    entity: Entity | None
    torque: float | None
    condition: str | None
    frictions: dict[str, float]
    thread: str | None
    property_class: str | None
    limit: float | None
    source: str
    shown: dict[str, Any]


def listed_of(found: Answer, request: TorqueRequest, dataset: Dataset) -> Listed | None:
    """What is listed: by the dataset for engine and fastener, or by the caller's book, which stands before the dataset.

    Raises:
        MissingInput: a fastener without its engine.
        NotInDataset: engine, fastener or condition are not held.
    """
    entity = _fastener(request, dataset)
    if entity is None and request.listed_torque is None and request.listed_condition is None:
        return None
    torque, source = _torque(found, request, entity)
    condition = request.listed_condition or _text(found, entity, "condition")
    limit = _limit(found, entity)
    shown: dict[str, Any] = {} if torque is None else {"torque": TORQUE(torque), "condition": condition}
    if limit is not None:
        shown["limit"] = TORQUE(limit)
    if entity is not None and (others := entity.alternatives("torque")):
        shown["others"] = [{"torque": TORQUE(it.si or 0.0), "source": it.source, "why": it.note} for it in others]
    return Listed(
        entity=entity,
        torque=torque,
        condition=condition,
        frictions=_frictions(dataset, condition),
        thread=_text(found, entity, "thread"),
        property_class=_text(found, entity, "property_class"),
        limit=limit,
        source=source,
        shown=shown,
    )


def _fastener(request: TorqueRequest, dataset: Dataset) -> Entity | None:
    """The fastener that is asked about, as the dataset holds it for the engine or its family."""
    if request.fastener is None:
        return None
    if request.engine is None:
        raise MissingInput("engine", "A fastener is looked up in an engine family; send both.", "air-cooled-flat-four")
    dataset.entity("engines", request.engine, "engine")
    return dataset.of_engine("fasteners", request.engine, request.fastener, "fastener")


def _torque(found: Answer, request: TorqueRequest, entity: Entity | None) -> tuple[float | None, str]:
    """The listed torque in N·m and its source: the book's, the dataset's, or the caller's torque as that of the book."""
    source = "common-practice"
    listed = None
    if entity is not None:
        fact = entity.fact("torque")
        found.uses(fact)
        listed, source = fact.si, fact.source
    if request.listed_torque is not None:
        return request.listed_torque.si, source
    if listed is None and request.torque is not None:
        return request.torque.si, source
    return listed, source


def _frictions(dataset: Dataset, condition: str | None) -> dict[str, float]:
    """Thread friction in the condition that the torque is listed for; where that is not said, dry and oiled.

    They only compare two torques here, so what they rest on is cited where the friction of the answer is.
    """
    if condition is not None:
        return {condition: friction_of(Answer({}), dataset, condition, field="listed_condition").thread}
    held = [name for name in ("dry", "engine-oil") if dataset.find("conditions", name)]
    return {name: friction_of(Answer({}), dataset, name).thread for name in held}


def _limit(found: Answer, entity: Entity | None) -> float | None:
    for name in ("torque_limit", "torque_high"):
        if entity is not None and entity.has(name):
            found.uses(entity.fact(name))
            return entity.si(name)
    return None


def _text(found: Answer, entity: Entity | None, name: str) -> str | None:
    if entity is None or not entity.has(name):
        return None
    found.uses(entity.fact(name))
    return entity.text(name)


def applied_torque(found: Answer, request: TorqueRequest, arguments: dict[str, float], listed: Listed | None) -> float | None:
    """The torque in N·m to apply: the caller's own, or the listed one at equal preload; None if there is neither.

    ``arguments`` are those of the long form with the frictions of the thread as it is. A torque is never raised above
    what is listed for an oiled thread: the thread is to be oiled instead.
    """
    own = request.torque.si if request.torque is not None else None
    if listed is None or listed.torque is None:
        return own
    actual = tightening_torque(preload=1.0, **arguments)

    def equal(friction: float) -> float:
        meant = {**arguments, "thread_friction": friction, "bearing_friction": friction}
        return rebased_torque(
            torque=listed.torque or 0.0,
            listed_nut_factor=tightening_torque(preload=1.0, **meant),
            actual_nut_factor=actual,
        )

    if listed.condition is None:
        if "dry" in listed.frictions and (request.condition or request.listed_torque):
            found.rests_on(rebased_torque)
            dry = equal(listed.frictions["dry"])
            listed.shown["if_listed_dry"] = TORQUE(dry)
            message = (
                f"{text_of(TORQUE(listed.torque))} is listed without saying dry or oiled. If it is meant dry, "
                f"{text_of(TORQUE(dry))} gives the same preload in this thread."
            )
            found.find(TORQUE_BASIS_UNKNOWN, ("listed_condition",), message)
        return own if own is not None else listed.torque
    if request.condition is None and request.thread_friction is None and request.bearing_friction is None:
        return own if own is not None else listed.torque
    corrected = equal(listed.frictions[listed.condition])
    found.rests_on(rebased_torque)
    listed.shown["at_equal_preload"] = TORQUE(corrected)
    return _resolved(found, own, listed.torque, corrected)


def _resolved(found: Answer, own: float | None, listed: float, corrected: float) -> float:
    """The torque to apply where listed and corrected torque differ, with the finding if the caller's is not corrected."""
    fields = ("condition", "listed_condition", "torque")
    share = 100 * (listed / corrected - 1)
    if abs(corrected - listed) <= _SAME * listed:
        return own if own is not None else listed
    if corrected < listed:
        if own is None or abs(own - corrected) > _SAME * corrected:
            message = (
                f"{text_of(TORQUE(listed))} is listed for more friction than this thread has: it would pull {share:.0f} % "
                f"harder. Use {text_of(TORQUE(corrected))}."
            )
            found.find(TORQUE_BASIS_MISMATCH, fields, message)
        return own if own is not None else corrected
    message = (
        f"{text_of(TORQUE(listed))} is listed for less friction than this thread has: it would pull {-share:.0f} % less. "
        "Do not raise the torque; bring the thread to the listed condition."
    )
    found.find(TORQUE_BASIS_MISMATCH, fields, message)
    return own if own is not None else listed
