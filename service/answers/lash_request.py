"""The question about valve lash: an engine and its push rods, parts measured one by one, or a lash known for other rods."""

from typing import Annotated, Literal, TypeAlias

from service.answers.inputs import Id, Measured, Number, Request, Tappet
from service.quantities import Quantity

PushRod: TypeAlias = Literal["steel", "aluminium"]
Valve: TypeAlias = Literal["intake", "exhaust"]


def _part(plausible: str, example: str, meaning: str) -> Measured:
    return Measured("length", "1 .. 500 mm", plausible, example, meaning)


def _warm(example: str) -> Measured:
    return Measured("temperature", "-40 .. 900 degC", "40 .. 750 degC", example, "Of the part, engine warm under load.")


Lash: TypeAlias = Annotated[Quantity, Measured("length", "0 .. 1.5 mm", "0 .. 0.3 mm", "0.15 mm", "Gap at the valve stem.")]
Outdoors: TypeAlias = Annotated[
    Quantity, Measured("temperature", "-60 .. 60 degC", "-40 .. 45 degC", "20 degC", "Of the whole engine, cold.")
]


class Lengths(Request):
    """Lengths along the valve train; what is left out is that of the engine's family."""

    case: Annotated[Quantity, _part("30 .. 200 mm", "85 mm", "Camshaft to the barrel's seat.")] | None = None
    barrel: Annotated[Quantity, _part("80 .. 250 mm", "130 mm", "Barrel between case and head.")] | None = None
    head: Annotated[Quantity, _part("40 .. 200 mm", "120 mm", "Sealing face to the rocker's pivot.")] | None = None
    base_circle: Annotated[Quantity, _part("8 .. 25 mm", "15 mm", "Radius of the cam's base circle.")] | None = None
    tappet: Annotated[Quantity, _part("15 .. 90 mm", "45 mm", "Tappet from face to push-rod seat.")] | None = None
    push_rod: Annotated[Quantity, _part("150 .. 350 mm", "275 mm", "Push rod from ball to ball.")] | None = None
    seat_to_pivot: Annotated[Quantity, _part("40 .. 160 mm", "100 mm", "Valve seat to the height of the pivot.")] | None = None
    intake_valve: Annotated[Quantity, _part("60 .. 160 mm", "110 mm", "Intake valve from seat to tip.")] | None = None
    exhaust_stem: Annotated[Quantity, _part("40 .. 140 mm", "80 mm", "Cool part of the exhaust valve.")] | None = None
    exhaust_head: Annotated[Quantity, _part("10 .. 60 mm", "30 mm", "Glowing part of the exhaust valve.")] | None = None


class Materials(Request):
    """Materials along the valve train, ids of the table of materials; the push rod's is its own field."""

    case: Id | None = None
    barrel: Id | None = None
    head: Id | None = None
    base_circle: Id | None = None
    tappet: Id | None = None
    seat_to_pivot: Id | None = None
    intake_valve: Id | None = None
    exhaust_stem: Id | None = None
    exhaust_head: Id | None = None


class Temperatures(Request):
    """Temperatures of the parts when running; what is left out is that of the table of part temperatures."""

    case: Annotated[Quantity, _warm("90 degC")] | None = None
    barrel: Annotated[Quantity, _warm("160 degC")] | None = None
    head: Annotated[Quantity, _warm("150 degC")] | None = None
    base_circle: Annotated[Quantity, _warm("90 degC")] | None = None
    tappet: Annotated[Quantity, _warm("90 degC")] | None = None
    push_rod: Annotated[Quantity, _warm("95 degC")] | None = None
    seat_to_pivot: Annotated[Quantity, _warm("150 degC")] | None = None
    intake_valve: Annotated[Quantity, _warm("170 degC")] | None = None
    exhaust_stem: Annotated[Quantity, _warm("240 degC")] | None = None
    exhaust_head: Annotated[Quantity, _warm("600 degC")] | None = None


class LashRequest(Request):
    """Push rods of one material, with an engine (look-up), parts (growth) or a lash known for other rods (swap).

    Hydraulic tappets have no lash: they are set by preload, whatever else is sent.
    """

    pushrod_material: PushRod | None = None
    engine: Id | None = None
    valve: Valve | None = None
    reference_lash: Lash | None = None
    reference_material: PushRod | None = None
    lengths: Lengths | None = None
    materials: Materials | None = None
    temperatures: Temperatures | None = None
    rocker_ratio: (
        Annotated[float, Number(0.7, 2.2, (1.0, 1.6), example=1.1, meaning="Valve lift over push-rod lift.")] | None
    ) = None
    hot_clearance: (
        Annotated[Quantity, Measured("length", "0 .. 1 mm", "0.05 .. 0.3 mm", "0.10 mm", "Gap wanted when running.")] | None
    ) = None
    setting_temperature: Outdoors | None = None
    start_temperature: Outdoors | None = None
    cold_lash: Lash | None = None
    preload_turns: (
        Annotated[
            float, Number(0, 5, (0.25, 2), example=0.75, meaning="Of a hydraulic tappet past zero play, as its maker says.")
        ]
        | None
    ) = None
    tappet: Tappet | None = None
