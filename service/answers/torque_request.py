"""The question about a torque, and the shape of its answer."""

from typing import Annotated

from pydantic import Field

from service.answers.envelope import BandOut, QuantityOut, Result
from service.answers.inputs import Id, Measured, Number, Request
from service.quantities import Quantity

_TORQUE = ("torque", "0.5 .. 1000 N*m", "5 .. 400 N*m", "25 N*m")
_TEMPERATURE = ("temperature", "-40 .. 400 degC", "-20 .. 220 degC", "120 degC")


class Adapter(Request):
    """A crow-foot or extension between wrench and fastener."""

    length: Annotated[
        Quantity,
        Measured(
            "length",
            "-500 .. 1000 mm",
            "10 .. 300 mm",
            "50 mm",
            "Between the centres of the wrench's drive and of the fastener; below zero where it folds back over the wrench.",
        ),
    ]
    wrench_length: Annotated[
        Quantity,
        Measured(
            "length", "30 .. 3000 mm", "100 .. 1000 mm", "300 mm", "From the centre of the drive to the middle of the grip."
        ),
    ]
    angle: (
        Annotated[
            Quantity,
            Measured("angle", "-180 .. 180 deg", "", "0 deg", "Between wrench and adapter; 0 makes the wrench longer."),
        ]
        | None
    ) = None


class Wrench(Request):
    """The torque wrench."""

    full_scale: Annotated[
        Quantity, Measured("torque", "0.5 .. 5000 N*m", "5 .. 1000 N*m", "100 N*m", "Largest torque on its scale.")
    ]
    tolerance: (
        Annotated[
            Quantity, Measured("fraction", "0.1 .. 30 %", "1 .. 10 %", "4 %", "Permissible deviation, as on its certificate.")
        ]
        | None
    ) = None
    months_since_check: (
        Annotated[int, Number(0, 600, integer=True, example=8, meaning="Months since the wrench was last checked.")] | None
    ) = None


class ClampedPart(Request):
    """One of the parts that the bolt clamps, in the order of the stack."""

    material: Annotated[Id, Field(description="Id of the table materials.", examples=["grey-iron"])]
    length: Annotated[Quantity, Measured("length", "0.1 .. 1000 mm", "0.5 .. 250 mm", "90 mm", "Clamped length of the part.")]
    temperature: Annotated[Quantity, Measured(*_TEMPERATURE, "When running.")] | None = None
    area: (
        Annotated[
            Quantity, Measured("area", "5 .. 20000 mm2", "50 .. 5000 mm2", "400 mm2", "Area of the part that is pressed.")
        ]
        | None
    ) = None


class Position(Request):
    """Where a fastener sits, from any origin, in the order of its number."""

    x: Annotated[Quantity, Measured("length", "-3000 .. 3000 mm", "", "40 mm", "To the right.")]
    y: Annotated[Quantity, Measured("length", "-3000 .. 3000 mm", "", "40 mm", "Upwards.")]


class TorqueRequest(Request):
    """A fastener of the book, or a thread with its class and condition and how hard to tighten it.

    Either ``engine`` and ``fastener``; or ``thread``, ``property_class``, ``condition`` and one of ``torque``, ``preload``
    and ``utilisation``. The rest is optional and opens further checks.
    """

    engine: Annotated[Id, Field(description="Engine family.", examples=["air-cooled-flat-four"])] | None = None
    fastener: Annotated[Id, Field(description="Fastener of the family.", examples=["rocker-shaft-nut"])] | None = None
    thread: Annotated[Id, Field(description="Thread as on a drawing.", examples=["M8x1.25"])] | None = None
    property_class: Annotated[Id, Field(description="Class of the bolt or stud, not of the nut.", examples=["8.8"])] | None = (
        None
    )
    condition: (
        Annotated[Id, Field(description="Surface and lubricant of the thread as it is.", examples=["engine-oil"])] | None
    ) = None
    torque: Annotated[Quantity, Measured(*_TORQUE, "Torque at the fastener.")] | None = None
    preload: (
        Annotated[Quantity, Measured("force", "10 .. 2000000 N", "1000 .. 150000 N", "17 kN", "Wanted clamping force.")] | None
    ) = None
    utilisation: (
        Annotated[float, Number(0.01, 1, (0.2, 0.95), example=0.7, meaning="Wanted share of the yield strength.")] | None
    ) = None
    listed_torque: Annotated[Quantity, Measured(*_TORQUE, "Torque that the book lists.")] | None = None
    listed_condition: (
        Annotated[Id, Field(description="Condition of the thread that the book means.", examples=["dry"])] | None
    ) = None
    prevailing_torque: (
        Annotated[Quantity, Measured("torque", "0 .. 200 N*m", "0 .. 40 N*m", "4 N*m", "Torque that turns a self-locking nut.")]
        | None
    ) = None
    reused_nut: Annotated[bool, Field(description="The nut has been tightened before.")] | None = None
    thread_friction: (
        Annotated[float, Number(0.03, 0.6, (0.08, 0.25), example=0.14, meaning="Measured friction in the thread.")] | None
    ) = None
    bearing_friction: (
        Annotated[float, Number(0.03, 0.6, (0.08, 0.25), example=0.14, meaning="Measured friction under the head.")] | None
    ) = None
    head_diameter: (
        Annotated[Quantity, Measured("length", "3 .. 120 mm", "8 .. 45 mm", "13 mm", "Bearing face of head, nut or washer.")]
        | None
    ) = None
    hole_diameter: (
        Annotated[Quantity, Measured("length", "2 .. 100 mm", "5 .. 32 mm", "9 mm", "Hole under the bearing face.")] | None
    ) = None
    method: (
        Annotated[Id, Field(description="Id of the table tightening-methods.", examples=["torque-wrench-lubricated"])] | None
    ) = None
    adapter: Adapter | None = None
    wrench: Wrench | None = None
    engaged_length: (
        Annotated[
            Quantity, Measured("length", "1 .. 200 mm", "5 .. 60 mm", "16 mm", "Length of thread engaged in the part or nut.")
        ]
        | None
    ) = None
    parent_material: (
        Annotated[Id, Field(description="Material that holds the thread.", examples=["magnesium-az91d"])] | None
    ) = None
    parent_strength: (
        Annotated[Quantity, Measured("pressure", "20 .. 2000 MPa", "150 .. 1200 MPa", "200 MPa", "Its tensile strength.")]
        | None
    ) = None
    parts: Annotated[list[ClampedPart], Field(min_length=1, max_length=12)] | None = None
    bolt_material: Annotated[Id, Field(description="Material of the bolt or stud.", examples=["steel-4140"])] | None = None
    bolt_temperature: Annotated[Quantity, Measured(*_TEMPERATURE, "When running.")] | None = None
    assembly_temperature: (
        Annotated[Quantity, Measured("temperature", "-40 .. 60 degC", "0 .. 40 degC", "20 degC", "When tightened.")] | None
    ) = None
    layout: (
        Annotated[
            str,
            Field(
                max_length=20,
                pattern=r"^(circle|row)-\d{1,2}$|^grid-\d{1,2}x\d{1,2}$",
                description="circle-N (numbered around), row-N, or grid-RxC (numbered down each column).",
                examples=["circle-8"],
            ),
        ]
        | None
    ) = None
    positions: Annotated[list[Position], Field(min_length=1, max_length=64)] | None = None
    groups: Annotated[list[Annotated[int, Number(1, 64, integer=True)]], Field(min_length=1, max_length=64)] | None = None


class TorqueLimit(Result):
    """Preload and torque at 90 % of the yield strength."""

    preload: QuantityOut
    torque: QuantityOut


class Pass(Result):
    """One round over all fasteners."""

    share: float
    torque: QuantityOut
    order: list[int]


class Sequence(Result):
    """The order in which the fasteners are tightened, and the passes."""

    order: list[int]
    passes: list[Pass]
    by: str
    positions: list[dict[str, float]]


class OtherFigure(Result):
    """What another source lists, and why it is not in force."""

    torque: QuantityOut
    source: str
    why: str


class Listed(Result):
    """What the book lists, and the same at equal preload for the thread as it is."""

    torque: QuantityOut
    condition: str | None = None
    at_equal_preload: QuantityOut | None = None
    if_listed_dry: QuantityOut | None = None
    limit: QuantityOut | None = None
    others: list[OtherFigure] | None = None


class Stripping(Result):
    """Loads that strip the threads."""

    parent_thread: QuantityOut
    engagement_needed: QuantityOut
    bolt_thread: QuantityOut | None = None


class Hot(Result):
    """The joint when running."""

    preload_change: QuantityOut
    preload: BandOut


class TorqueResult(Result):
    """Torque, preload and how far the bolt is used; further keys as the inputs allow."""

    torque: QuantityOut
    torque_band: BandOut
    wrench_setting: QuantityOut
    preload: BandOut | None = None
    preload_band_of_method: BandOut | None = None
    preload_band_of_friction: BandOut | None = None
    nut_factor: float | None = None
    utilisation: float | None = None
    utilisation_high: float | None = None
    proof_utilisation: float | None = None
    equivalent_stress: QuantityOut | None = None
    stress_area: QuantityOut | None = None
    limit: TorqueLimit | None = None
    listed: Listed | None = None
    stripping: Stripping | None = None
    stretch: QuantityOut | None = None
    turn: QuantityOut | None = None
    hot: Hot | None = None
    sequence: Sequence | None = None
    advice: list[str]
