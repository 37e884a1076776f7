"""What a builder says to a bore before a barrel is bought: its wall, the registers that take it, and a limit of a class."""

from collections.abc import Mapping

from service.answers.envelope import Answer, Rule
from service.answers.limits import above, below
from service.errors import Contradiction
from service.quantities import CLEARANCE, LENGTH, VOLUME, text_of
from service.reference.dataset import Dataset

LEAST_WALL = 0.0035
REBORE = 0.001
PAIRS = (("spigot_diameter", "case_register"), ("barrel_top_diameter", "head_register"))
IRONS = ("grey-iron", "ductile-iron", "chilled-iron")

BARREL_WALL_THIN = Rule(
    code="barrel-wall-thin",
    severity="caution",
    stage="combination",
    rule="less than 3.5 mm of wall at the spigot of a cast-iron barrel",
    reason="A thin wall is pulled out of round by the studs, seals badly and runs hot.",
    remedy="Choose barrels with a larger spigot (and have the registers machined for them), or stay with the smaller bore.",
    source="common-practice",
    evidence="common-practice",
)
REGISTER_MACHINING = Rule(
    code="register-machining",
    severity="stop",
    stage="combination",
    rule="a barrel larger than its register in case or head (stop); or a bore more than 1 mm above the engine family's while "
    "nothing of spigots and registers is measured (fix)",
    reason="The barrel does not go in, or stands on the edge of its register and leaks; machining cannot be undone.",
    remedy="Measure spigot, barrel top and both registers; have case and heads machined before the barrels go in.",
    source="common-practice",
    evidence="common-practice",
)
DISPLACEMENT_ABOVE_LIMIT = Rule(
    code="displacement-above-limit",
    severity="note",
    stage="combination",
    rule="displacement above the limit of class or insurance that was sent",
    reason="A class, a registration or an insurance may end at a displacement; which one counts is local law.",
    remedy="Ask whoever set the limit before parts are bought; a smaller bore or stroke keeps to it.",
    source="derived",
    evidence="derived",
)


def check_wall(found: Answer, *, bore: float, spigot: float | None, material: str | None) -> None:
    """The wall of the barrel where it goes into the case.

    Raises:
        Contradiction: the spigot is no larger than the bore.
    """
    if spigot is None:
        found.cannot_check(BARREL_WALL_THIN.code, ["spigot_diameter"])
        return
    wall = (spigot - bore) / 2
    if wall <= 0:
        raise Contradiction(
            ("spigot_diameter", "bore"), "The spigot is the outside of the barrel; it must be larger than the bore."
        )
    found.result["spigot_wall"] = CLEARANCE(wall)
    if material is not None and material not in IRONS:
        found.cannot_check(BARREL_WALL_THIN.code, [], "The limit is one of cast-iron barrels.")
        return
    if material is None:
        found.assume("barrel_material", IRONS[0], "Usual of barrels.", "common-practice", "common-practice")
    if below(wall, LEAST_WALL):
        found.find(
            BARREL_WALL_THIN,
            ("spigot_diameter", "bore"),
            f"A spigot of {text_of(LENGTH(spigot))} leaves {text_of(CLEARANCE(wall))} of wall about a bore of "
            f"{text_of(LENGTH(bore))}; {text_of(CLEARANCE(LEAST_WALL))} is the least for cast iron.",
        )


def check_registers(
    found: Answer, dataset: Dataset, *, engine: str | None, bore: float, sizes: Mapping[str, float | None]
) -> None:
    """Barrels against their registers; ``sizes`` holds the diameters by the names of their fields."""
    measured = 0
    for barrel_name, register_name in PAIRS:
        barrel, register = sizes[barrel_name], sizes[register_name]
        if barrel is None or register is None:
            continue
        measured += 1
        if above(barrel, register):
            found.find(
                REGISTER_MACHINING,
                (barrel_name, register_name),
                f"A barrel of {text_of(LENGTH(barrel))} does not go into the {register_name.removesuffix('_register')}'s "
                f"register of {text_of(LENGTH(register))}: "
                f"{text_of(CLEARANCE(barrel - register))} and the fit are to be machined.",
            )
    open_fields = [name for name, size in sizes.items() if size is None]
    if not open_fields:
        return
    stock = _family_bore(found, dataset, engine)
    if not measured and stock is not None and above(bore - stock, REBORE):
        found.find(
            REGISTER_MACHINING,
            ("bore", "engine", *open_fields),
            f"A bore of {text_of(LENGTH(bore))} is {text_of(CLEARANCE(bore - stock))} above the family's "
            f"{text_of(LENGTH(stock))}, and nothing of spigots and registers is measured.",
            severity="fix",  # whether they fit is not known: to be measured before the next stage, while a proved misfit stops
        )
    else:
        found.cannot_check(REGISTER_MACHINING.code, open_fields)


def _family_bore(found: Answer, dataset: Dataset, engine: str | None) -> float | None:
    """The bore that the dataset holds of an engine, or of the nearest family above it."""
    if engine is None:
        return None
    dataset.entity("engines", engine, field="engine")
    for owner in dataset.lineage(engine):
        entity = dataset.entity("engines", owner)
        if entity.has("bore"):
            found.uses(entity.fact("bore"))
            return entity.si("bore")
    return None


def check_limit(found: Answer, *, displacement: float, limit: float | None) -> None:
    """The displacement against a limit of the caller's own."""
    if limit is not None and above(displacement, limit):
        found.find(
            DISPLACEMENT_ABOVE_LIMIT,
            ("displacement_limit", "bore", "stroke"),
            f"{text_of(VOLUME(displacement))} are {text_of(VOLUME(displacement - limit))} above the limit of "
            f"{text_of(VOLUME(limit))}.",
        )
