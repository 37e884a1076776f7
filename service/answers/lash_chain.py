"""The chain of parts between camshaft and valve seat: as measured, else as the engine's family has it."""

from typing import NamedTuple

from service.answers.envelope import Answer
from service.answers.lash_request import LashRequest, PushRod
from service.calculations.expansion import Segment
from service.calculations.lash import ValveChain
from service.errors import NotInDataset
from service.quantities import LENGTH, Quantity
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
    engine = request.engine or USUAL_FAMILY
    if not any(dataset.names_of_engine("valve-train-parts", owner) for owner in dataset.lineage(engine)):
        return None
    if request.engine is None:
        reason = "No engine was named, so lengths not given are those of a light-alloy flat four."
        found.assume("engine", USUAL_FAMILY, reason, "common-practice", "from-memory")
    return engine


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
            found.assume("rocker_ratio", entity.number("rocker_ratio"), "As the engine's family.", "common-practice", "from-memory")
            return entity.number("rocker_ratio")
    found.assume("rocker_ratio", 1.0, "No ratio is known for this engine.", "common-practice", "from-memory")
    return 1.0


def chains_of(
    found: Answer, request: LashRequest, dataset: Dataset, engine: str, material: PushRod, *, cite: bool = True
) -> Chains:
    """The chains of both valves; every part that was not measured is the family's, and named as an assumption.

    Raises:
        NotInDataset: a material is not held.
    """
    parts = _Parts(found, request, dataset, engine, rod_material(found, dataset, engine, material), cite)
    ratio = ratio_of(found if cite else Answer(result={}), request, dataset, engine)
    sides = {side: tuple(parts.segment(name) for name in names) for side, names in SIDES.items()}
    parts.say_assumed()
    shared = (sides["support"], sides["drive"], sides["seat"])
    return Chains(ValveChain(ratio, *shared, sides["intake"]), ValveChain(ratio, *shared, sides["exhaust"]))


class _Parts:
    """Looks up the parts of one chain and keeps what was assumed of them."""

    def __init__(
        self, found: Answer, request: LashRequest, dataset: Dataset, engine: str, rod: Entity, cite: bool
    ) -> None:
        self.found, self.request, self.dataset, self.engine, self.rod, self.cite = found, request, dataset, engine, rod, cite
        self.assumed: list[str] = []

    def segment(self, name: str) -> Segment:
        """One part with its length, expansion and running temperature."""
        entity = self.dataset.of_engine("valve-train-parts", self.engine, name.replace("_", "-"), field=f"lengths/{name}")
        warm_id = entity.text("temperature")
        length: Quantity | None = getattr(self.request.lengths, name, None)
        warm: Quantity | None = getattr(self.request.temperatures, name, None)
        material = self._material(name, entity)
        temperature = self.dataset.entity("part-temperatures", warm_id, field=f"temperatures/{name}")
        if self.cite:
            self.found.uses(material.fact("expansion"))
            if length is None:
                self.found.uses(entity.fact("length"))
                self.assumed.append(f"{name.replace('_', ' ')} {entity.fact('length').printed}")
            if warm is None:
                self.found.uses(temperature.fact("temperature"))
        return Segment(
            name,
            entity.si("length") if length is None else length.si,
            material.si("expansion"),
            temperature.si("temperature") if warm is None else warm.si,
            # Pieces of one temperature are pieces of one body: they err together.
            body=warm_id if warm is None else name,
        )

    def _material(self, name: str, entity: Entity) -> Entity:
        if name == "push_rod":
            return self.rod
        asked: str | None = getattr(self.request.materials, name, None)
        return self.dataset.entity("materials", asked or entity.text("material"), field=f"materials/{name}")

    def say_assumed(self) -> None:
        """Name the lengths and temperatures that were not sent."""
        if not self.cite:
            return
        if self.assumed:
            reason = f"Typical lengths of the family, from memory: {', '.join(self.assumed)}."
            whole = sum(segment.length for segment in (self.segment_of(n) for n in SIDES["support"]))
            self.found.assume("lengths", LENGTH(whole), reason, "common-practice", "from-memory")
        if self.request.temperatures is None:
            reason = "Parts of a warm engine under load, assumed to 12 % of their rise."
            self.found.assume("temperatures", "part-temperatures", reason, "common-practice", "common-practice")

    def segment_of(self, name: str) -> Segment:
        """A part again, without citing it twice."""
        cite, self.cite = self.cite, False
        try:
            return self.segment(name)
        finally:
            self.cite = cite


def has_chain(dataset: Dataset, engine: str) -> bool:
    """Whether every part of the chain is held for an engine."""
    try:
        for names in SIDES.values():
            for name in names:
                dataset.of_engine("valve-train-parts", engine, name.replace("_", "-"))
    except NotInDataset:
        return False
    return True
