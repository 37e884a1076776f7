"""The chain of parts between camshaft and valve seat: as measured, else as the engine's family has it."""

from functools import lru_cache
from typing import NamedTuple

from service.answers.envelope import Answer
from service.answers.lash_request import LashRequest, Lengths, PushRod, Temperatures
from service.calculations.expansion import Segment
from service.calculations.lash import ValveChain
from service.quantities import LENGTH, TEMPERATURE, Quantity
from service.reference.dataset import Dataset, Entity

USUAL_FAMILY = "air-cooled-flat-four"
USUAL_ROD: dict[PushRod, str] = {"steel": "steel-4140", "aluminium": "aluminium-7075"}
SIDES = {
    "support": ("case", "barrel", "head"),
    "drive": ("base_circle", "tappet", "push_rod"),
    "seat": ("seat_to_pivot",),
    "intake": ("intake_valve",),
    "exhaust": ("exhaust_stem", "exhaust_head"),
}


class Chains(NamedTuple):
    """The chain of either valve, with one push-rod material."""

    intake: ValveChain
    exhaust: ValveChain

    @property
    def light_alloy(self) -> bool:
        """Whether case and head are of light alloy."""
        return all(s.expansion > 18e-6 for s in self.intake.support if s.name in ("case", "head"))

    @property
    def push_rod(self) -> Segment:
        """The push rod."""
        return next(segment for segment in self.intake.drive if segment.name == "push_rod")


def family_of(found: Answer, request: LashRequest, dataset: Dataset) -> str | None:
    """The engine whose parts stand in for what was not measured, or ``None`` where the dataset has none."""
    if request.engine is not None and _has_parts(dataset, request.engine):
        return request.engine
    if request.lengths is None and (request.engine is not None or request.reference_lash is None):
        return None
    if not _has_parts(dataset, USUAL_FAMILY):
        return None
    reason = "What was not sent of the parts is as in a light-alloy flat four."
    found.assume("engine", USUAL_FAMILY, reason, "common-practice", "from-memory")
    return USUAL_FAMILY


def _has_parts(dataset: Dataset, engine: str) -> bool:
    return any(dataset.find("valve-train-parts", f"{owner}/push-rod") for owner in dataset.lineage(engine))


def rod_material(found: Answer, dataset: Dataset, engine: str | None, material: PushRod) -> Entity:
    """The alloy that stands for the push rods' material."""
    for owner in dataset.lineage(engine) if engine else ():
        row = dataset.find("lash", f"{owner}/{material}")
        if row is not None and row.has("rod_material"):
            found.uses(row.fact("rod_material"))
            return dataset.entity("materials", row.text("rod_material"), field="pushrod_material")
    return dataset.entity("materials", USUAL_ROD[material], field="pushrod_material")


def ratio_of(found: Answer, request: LashRequest, dataset: Dataset, engine: str) -> float:
    """The rocker ratio: as sent, as the family has it, or one."""
    if request.rocker_ratio is not None:
        return request.rocker_ratio
    for owner in dataset.lineage(engine):
        entity = dataset.find("engines", owner)
        if entity is not None and entity.has("rocker_ratio"):
            found.uses(entity.fact("rocker_ratio"))
            found.assume(
                "rocker_ratio", entity.number("rocker_ratio"), "As the engine's family.", "common-practice", "from-memory"
            )
            return entity.number("rocker_ratio")
    found.assume("rocker_ratio", 1.0, "No ratio is known for this engine.", "common-practice", "from-memory")
    return 1.0


def chains_of(found: Answer, request: LashRequest, dataset: Dataset, engine: str, material: PushRod) -> Chains:
    """The chains of both valves; every length that was not sent is the family's, and named as an assumption.

    Raises:
        NotInDataset: a material, or a part of this engine, is not held.
    """
    if (request.lengths, request.materials, request.temperatures, request.rocker_ratio) == (None, None, None, None):
        chains, cited = _of_family(dataset, engine, material)
        found.take_in(cited)
        return chains
    return _built(found, request, dataset, engine, material)


@lru_cache(maxsize=128)
def _of_family(dataset: Dataset, engine: str, material: PushRod) -> tuple[Chains, Answer]:
    """The chains of a family as it is, with what they rest on: the usual question, built once."""
    cited = Answer(result={})
    return _built(cited, LashRequest(pushrod_material=material), dataset, engine, material), cited


def _built(found: Answer, request: LashRequest, dataset: Dataset, engine: str, material: PushRod) -> Chains:
    rod = rod_material(found, dataset, engine, material)
    segments = {
        name: _segment(found, request, dataset, engine, name, rod if name == "push_rod" else None)
        for names in SIDES.values()
        for name in names
    }
    typical = {name: LENGTH(part.length) for name, part in segments.items() if _not_sent(request.lengths, name)}
    if typical:
        reason = "Typical of the engine's class; measure them to do better."
        found.assume("lengths", typical, reason, "common-practice", "from-memory")
    warm = {name: TEMPERATURE(part.temperature) for name, part in segments.items() if _not_sent(request.temperatures, name)}
    if warm:
        reason = "Parts of a warm engine under load, assumed to 12 % of their rise."
        found.assume("temperatures", warm, reason, "common-practice", "common-practice")
    ratio = ratio_of(found, request, dataset, engine)
    side = {side: tuple(segments[name] for name in names) for side, names in SIDES.items()}
    shared = (side["support"], side["drive"], side["seat"])
    return Chains(ValveChain(ratio, *shared, side["intake"]), ValveChain(ratio, *shared, side["exhaust"]))


def _not_sent(parts: Lengths | Temperatures | None, name: str) -> bool:
    return getattr(parts, name, None) is None


def _segment(found: Answer, request: LashRequest, dataset: Dataset, engine: str, name: str, material: Entity | None) -> Segment:
    """One part with its length, expansion and running temperature."""
    entity = dataset.of_engine("valve-train-parts", engine, name.replace("_", "-"), field=f"lengths/{name}")
    sent: Quantity | None = getattr(request.lengths, name, None)
    warm: Quantity | None = getattr(request.temperatures, name, None)
    if material is None:
        asked: str | None = getattr(request.materials, name, None)
        material = dataset.entity("materials", asked or entity.text("material"), field=f"materials/{name}")
    usual = dataset.entity("part-temperatures", entity.text("temperature"), field=f"temperatures/{name}")
    found.uses(material.fact("expansion"))
    if sent is None:
        found.uses(entity.fact("length"))
    if warm is None:
        found.uses(usual.fact("temperature"))
    return Segment(
        name=name,
        length=entity.si("length") if sent is None else sent.si,
        expansion=material.si("expansion"),
        temperature=usual.si("temperature") if warm is None else warm.si,
        body=name if warm is not None else usual.id,  # pieces of one temperature are of one body and err together
    )
