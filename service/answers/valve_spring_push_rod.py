"""The push rod of the exhaust valve: does it buckle under spring and gas?"""

from service.answers.envelope import Answer, Rule
from service.answers.valve_spring_request import ValveSpringRequest
from service.answers.valve_train import rocker_ratio_of
from service.calculations.column import column_buckling, push_rod_load
from service.errors import NotInDataset, OutsideValidity
from service.quantities import FORCE, PRESSURE, STRESS, text_of
from service.reference.dataset import Dataset

MATERIAL = {"steel": "steel-4140", "aluminium": "aluminium-7075"}
YIELD = {"steel": 400e6, "aluminium": 450e6}
OPENING_PRESSURE = 5e5
LEAST_FACTOR = 3.0

PUSH_ROD_BUCKLING = Rule(
    code="push-rod-buckling",
    severity="fix",
    stage="valve-train",
    rule="buckling load below 3 times the load of open spring and gas on the exhaust push rod",
    reason="A rod that bows loses valve motion, and one that buckles leaves the valve to the piston.",
    remedy="Fit push rods of a larger diameter or of steel.",
    source="shigley-mischke-1989",
    evidence="textbook",
)


def add_push_rod(found: Answer, request: ValveSpringRequest, open_load: float | None, dataset: Dataset) -> None:
    """Buckling load, its formula and factor, or what they need."""
    needed = {
        "push_rod_length": request.push_rod_length,
        "push_rod_diameter": request.push_rod_diameter,
        "push_rod_wall": request.push_rod_wall,
        "pushrod_material": request.pushrod_material,
        "exhaust_valve_diameter": request.exhaust_valve_diameter,
        "valve_lift": open_load,
    }
    missing = [name for name, value in needed.items() if value is None]
    length, outer, wall = request.push_rod_length, request.push_rod_diameter, request.push_rod_wall
    valve, kind = request.exhaust_valve_diameter, request.pushrod_material
    if length is None or outer is None or wall is None or valve is None or kind is None or open_load is None:
        found.cannot_check(PUSH_ROD_BUCKLING.code, missing)
        return
    if kind not in MATERIAL:
        raise NotInDataset("pushrod_material", "push-rod material", kind, MATERIAL)
    if wall.si > outer.si / 2 * (1 + 1e-9):
        raise OutsideValidity(
            "push_rod_wall", "The wall is at most half the diameter; a solid rod has exactly half.", "≤ push_rod_diameter/2"
        )
    material = dataset.entity("materials", MATERIAL[kind], field="pushrod_material")
    found.uses(material.fact("modulus"))
    buckling = column_buckling(
        length=length.si,
        outer_diameter=outer.si,
        wall=wall.si,
        elastic_modulus=material.si("modulus"),
        yield_strength=_yield(found, request, kind),
    )
    load = push_rod_load(
        rocker_ratio=rocker_ratio_of(found, request),
        open_load=open_load,
        cylinder_pressure=_pressure(found, request),
        valve_diameter=valve.si,
    )
    found.rests_on(column_buckling, push_rod_load)
    factor = buckling.load / load
    found.result["push_rod"] = {
        "load": FORCE(load),
        "capacity": FORCE(buckling.load),
        "factor": factor,
        "slenderness": buckling.slenderness,
        "formula": "Euler" if buckling.euler else "Johnson",
    }
    if factor < LEAST_FACTOR:
        found.find(
            PUSH_ROD_BUCKLING,
            ("push_rod_diameter", "push_rod_wall", "push_rod_length", "pushrod_material"),
            f"The push rod buckles at {text_of(FORCE(buckling.load))}, {factor:.1f} times its load of {text_of(FORCE(load))}; "
            f"{LEAST_FACTOR:g} times is the least.",
        )


def _yield(found: Answer, request: ValveSpringRequest, kind: str) -> float:
    if request.push_rod_yield is not None:
        return request.push_rod_yield.si
    found.assume("push_rod_yield", STRESS(YIELD[kind]), f"Usual {kind} push rods.", "common-practice", "from-memory")
    return YIELD[kind]


def _pressure(found: Answer, request: ValveSpringRequest) -> float:
    if request.opening_pressure is not None:
        return request.opening_pressure.si
    reason = "Full load, when the exhaust valve opens."
    found.assume("opening_pressure", PRESSURE(OPENING_PRESSURE), reason, "common-practice", "from-memory")
    return OPENING_PRESSURE
