"""The question about combinations: lists of parts to choose from, limits, what is best; and the form of the answer."""

from typing import Annotated, Literal, TypeAlias

from pydantic import Field

from service.answers.compression_request import (
    ChamberVolume,
    CheckingLift,
    CreviceVolume,
    CrownVolume,
    DeckClearance,
    GasketThickness,
    IntakeClosing,
    SpacerThickness,
)
from service.answers.envelope import QuantityOut, Result
from service.answers.inputs import Bore, Cylinders, Measured, Number, Request, RodLength, Speed, Stroke, Words
from service.quantities import Quantity

MOST_CANDIDATES = 60
BarrelHeight: TypeAlias = Annotated[
    Quantity,
    Measured(
        "length",
        "60 .. 700 mm",
        "120 .. 350 mm",
        "173.7 mm",
        "Crankshaft centre to barrel top, less the piston's compression height.",
    ),
]
QuantityName: TypeAlias = Literal[
    "displacement",
    "compression_ratio",
    "effective_ratio",
    "squish_clearance",
    "rod_ratio",
    "bore_stroke_ratio",
    "mean_piston_speed",
]


class Head(Request):
    """A head by its chamber, with the name that the builder gives it."""

    chamber_volume: ChamberVolume
    name: Words | None = None


class Cam(Request):
    """A cam by its intake closing, all cams at the same lift."""

    intake_closing: IntakeClosing
    name: Words | None = None


class RatioLimit(Request):
    """Least and greatest value of a plain number."""

    low: Annotated[float, Number(0, 30, example=7.0, meaning="Least.")] | None = None
    high: Annotated[float, Number(0, 30, example=8.0, meaning="Greatest.")] | None = None


class DisplacementLimit(Request):
    """Least and greatest displacement."""

    low: Annotated[Quantity, Measured("volume", "0 .. 60000 cm3", example="1600 cm3", meaning="Least.")] | None = None
    high: Annotated[Quantity, Measured("volume", "0 .. 60000 cm3", example="1800 cm3", meaning="Greatest.")] | None = None


class LengthLimit(Request):
    """Least and greatest length."""

    low: Annotated[Quantity, Measured("length", "-5 .. 30 mm", example="1.0 mm", meaning="Least.")] | None = None
    high: Annotated[Quantity, Measured("length", "-5 .. 30 mm", example="1.6 mm", meaning="Greatest.")] | None = None


class SpeedLimit(Request):
    """Least and greatest mean piston speed."""

    low: Annotated[Quantity, Measured("velocity", "0 .. 200 m/s", example="10 m/s", meaning="Least.")] | None = None
    high: Annotated[Quantity, Measured("velocity", "0 .. 200 m/s", example="15 m/s", meaning="Greatest.")] | None = None


class Limits(Request):
    """What every combination must keep to."""

    displacement: DisplacementLimit | None = None
    compression_ratio: RatioLimit | None = None
    effective_ratio: RatioLimit | None = None
    squish_clearance: LengthLimit | None = None
    rod_ratio: RatioLimit | None = None
    bore_stroke_ratio: RatioLimit | None = None
    mean_piston_speed: SpeedLimit | None = None


class Objective(Request):
    """What is best: the least, the most, or the nearest to a target given in the field of its kind."""

    quantity: Annotated[QuantityName, Field(description="What is compared.", examples=["displacement"])]
    goal: Annotated[
        Literal["least", "most", "nearest"], Field(description="Nearest needs a target beside it.", examples=["most"])
    ]
    ratio: Annotated[float, Number(0, 30, example=7.6, meaning="Target where the quantity is a plain number.")] | None = None
    volume: (
        Annotated[Quantity, Measured("volume", "0 .. 60000 cm3", example="1750 cm3", meaning="Target displacement.")] | None
    ) = None
    length: Annotated[Quantity, Measured("length", "-5 .. 30 mm", example="1.2 mm", meaning="Target squish.")] | None = None
    velocity: (
        Annotated[Quantity, Measured("velocity", "0 .. 200 m/s", example="13 m/s", meaning="Target piston speed.")] | None
    ) = None


class CombinationsRequest(Request):
    """Candidates part by part; every combination of them is tried."""

    cylinders: Cylinders
    bores: Annotated[list[Bore], Field(min_length=1, max_length=MOST_CANDIDATES)]
    strokes: Annotated[list[Stroke], Field(min_length=1, max_length=MOST_CANDIDATES)]
    heads: Annotated[list[Head], Field(min_length=1, max_length=MOST_CANDIDATES)]
    rods: Annotated[list[RodLength], Field(min_length=1, max_length=MOST_CANDIDATES)] | None = None
    deck_clearances: Annotated[list[DeckClearance], Field(min_length=1, max_length=MOST_CANDIDATES)] | None = None
    barrel_heights: Annotated[list[BarrelHeight], Field(min_length=1, max_length=MOST_CANDIDATES)] | None = None
    spacers: Annotated[list[SpacerThickness], Field(min_length=1, max_length=MOST_CANDIDATES)] | None = None
    crowns: Annotated[list[CrownVolume], Field(min_length=1, max_length=MOST_CANDIDATES)] | None = None
    gaskets: Annotated[list[GasketThickness], Field(min_length=1, max_length=MOST_CANDIDATES)] | None = None
    cams: Annotated[list[Cam], Field(min_length=1, max_length=MOST_CANDIDATES)] | None = None
    checking_lift: CheckingLift | None = None
    crevice_volume: CreviceVolume | None = None
    speed: Speed | None = None
    limits: Limits | None = None
    objective: Objective
    best: Annotated[int, Number(1, 100, integer=True, example=10, meaning="How many combinations to show; 10 if left out.")] | (
        None
    ) = None


class PartsOut(Result):
    """The parts of a combination; a head or cam by its figure, its place in the list from 1, and its name if it has one."""

    bore: QuantityOut
    stroke: QuantityOut
    chamber_volume: QuantityOut
    rod_length: QuantityOut | None = None
    deck_clearance: QuantityOut | None = None
    barrel_height: QuantityOut | None = None
    spacer_thickness: QuantityOut | None = None
    crown_volume: QuantityOut | None = None
    gasket_thickness: QuantityOut | None = None
    intake_closing: QuantityOut | None = None
    head: int
    head_name: str | None = None
    cam: int | None = None
    cam_name: str | None = None


class MadeOut(Result):
    """What a combination makes."""

    displacement: QuantityOut
    compression_ratio: float
    squish_clearance: QuantityOut
    deck_clearance: QuantityOut
    clearance_volume: QuantityOut
    bore_stroke_ratio: float
    effective_ratio: float | None = None
    rod_ratio: float | None = None
    mean_piston_speed: QuantityOut | None = None


class CombinationOut(Result):
    """One combination with its rank; ``number`` counts from 1 through the lists, the last one turning fastest."""

    rank: int
    number: int
    parts: PartsOut
    makes: MadeOut


class CombinationsResult(Result):
    """How many there are, fit, and fail each limit; and the best in order."""

    total: int
    accepted: int
    failed: dict[str, int]
    best: list[CombinationOut]
