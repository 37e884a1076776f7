"""What is asked about the ignition: pulley, advance, points, timing light and the leads of the cap."""

from typing import Annotated, Literal, TypeAlias

from pydantic import Field

from service.answers.inputs import FiringOrder, Id, Measured, Number, Request, Rotation, Speed
from service.quantities import Quantity

StaticAdvance: TypeAlias = Annotated[
    Quantity,
    Measured("angle", "-10 .. 30 deg", "0 .. 12 deg", "7.5 deg", "Crank degrees before top dead centre; after it is negative."),
]
TotalAdvance: TypeAlias = Annotated[
    Quantity, Measured("angle", "5 .. 50 deg", "24 .. 34 deg", "28 deg", "Crank degrees before top dead centre, vacuum off.")
]
Dwell: TypeAlias = Annotated[
    Quantity, Measured("angle", "5 .. 350 deg", "20 .. 130 deg", "50 deg", "Degrees of the breaker cam with closed points.")
]
PointsGap: TypeAlias = Annotated[
    Quantity, Measured("length", "0.1 .. 1 mm", "0.3 .. 0.5 mm", "0.40 mm", "Points gap at the top of the lobe.")
]


class CurvePointRequest(Request):
    """One point of the weights' advance curve, vacuum off."""

    speed: Annotated[
        Quantity, Measured("rotational speed", "0 .. 12000 rpm", "200 .. 5000 rpm", "1500 rpm", "Speed of the shaft.")
    ]
    advance: Annotated[
        Quantity, Measured("angle", "0 .. 50 deg", "0 .. 30 deg", "11 deg", "Advance that the weights add there.")
    ]


class LightRequest(Request):
    """What a timing light shows."""

    mark: Annotated[
        Quantity,
        Measured("angle", "-60 .. 60 deg", "-10 .. 40 deg", "0 deg", "Mark at the pointer; top dead centre is 0."),
    ]
    dial: (
        Annotated[Quantity, Measured("angle", "0 .. 90 deg", "0 .. 60 deg", "28 deg", "Setting of the dial-back knob.")] | None
    ) = None
    wasted_spark: bool | None = None


class IgnitionRequest(Request):
    """A pulley and a total advance, and whatever else is known; every further field unlocks an answer or a check."""

    engine: Id | None = None
    pulley_diameter: Annotated[
        Quantity,
        Measured("length", "30 .. 600 mm", "100 .. 220 mm", "145 mm", "Diameter, not radius, of the marked rim."),
    ]
    rotation: Rotation | None = None
    total_advance: TotalAdvance | None = None
    static_advance: StaticAdvance | None = None
    static_timing_set: bool | None = None
    curve: Annotated[list[CurvePointRequest], Field(min_length=1, max_length=20)] | None = None
    curve_shaft: Literal["crank", "distributor"] | None = None
    speed: Speed | None = None
    compression_ratio: Annotated[float, Number(4, 14, (6, 10.5), example=8.5, meaning="Static compression ratio.")] | None = (
        None
    )

    dwell: Dwell | None = None
    dwell_percent: (
        Annotated[Quantity, Measured("fraction", "1 .. 99 %", "40 .. 80 %", "56 %", "Share of time with closed points.")] | None
    ) = None
    dwell_before: Dwell | None = None
    lobes: Annotated[int, Number(1, 16, (1, 8), integer=True, example=4, meaning="Lobes of the breaker cam.")] | None = None
    points_gap: PointsGap | None = None
    points_gap_after: PointsGap | None = None
    ignition: Literal["points", "electronic"] | None = None

    mark_distance: (
        Annotated[
            Quantity, Measured("length", "0 .. 900 mm", "1 .. 80 mm", "35.4 mm", "From the top-dead-centre mark to one found.")
        ]
        | None
    ) = None
    mark_tool: Literal["tape", "caliper"] | None = None
    light: LightRequest | None = None

    firing_order: FiringOrder | None = None
    leads: (
        Annotated[
            list[Annotated[int, Number(1, 36, integer=True, example=1, meaning="Cylinder of this lead.")]],
            Field(min_length=1, max_length=36),
        ]
        | None
    ) = None
    rotor_rotation: Literal["clockwise", "anticlockwise"] | None = None
