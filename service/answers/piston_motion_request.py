"""What is asked of the motion of the piston: the fields with their ranges."""

from typing import Annotated, Literal

from pydantic import Field

from service.answers.inputs import Bore, Id, Measured, Number, Request, RodLength, Speed, Stroke
from service.quantities import Quantity

Angle720 = Annotated[
    Quantity, Measured("angle", "-720 .. 720 deg", "", "62 deg", "Crank angle after top dead centre; before it negative.")
]
PinOffset = Annotated[
    Quantity,
    Measured(
        "length",
        "-10 .. 10 mm",
        "-2.5 .. 2.5 mm",
        "1.5 mm",
        "Piston pin off the cylinder's axis, positive toward the thrust side (the wall that the piston leans on in the power "
        "stroke), negative away from it.",
    ),
]
ReciprocatingMass = Annotated[
    Quantity, Measured("mass", "0.05 .. 5 kg", "0.3 .. 0.9 kg", "0.59 kg", "Piston, pin, rings and small end of the rod.")
]
RotatingMass = Annotated[
    Quantity, Measured("mass", "0 .. 3 kg", "0.15 .. 0.6 kg", "0.44 kg", "Rod's big end with its cap, shells and bolts.")
]
CapMass = Annotated[
    Quantity, Measured("mass", "0 .. 3 kg", "0.05 .. 0.3 kg", "0.12 kg", "The part of it that the bolts hold on: the cap.")
]
BoltPreload = Annotated[
    Quantity,
    Measured("force", "100 .. 200000 N", "5 .. 40 kN", "15 kN", "Least preload of one rod bolt, tool scatter taken off."),
]
StopReading = Annotated[
    Quantity, Measured("angle", "0 .. 180 deg", "5 .. 90 deg", "41 deg", "Reading of the wheel, counted away from its zero.")
]
PulleyDiameter = Annotated[
    Quantity, Measured("length", "30 .. 600 mm", "100 .. 220 mm", "145 mm", "Diameter of the rim that is marked.")
]


class PistonMotionRequest(Request):
    """Stroke, rod and a speed (or the rev limit); the rest opens the motion at an angle, loads, limits and marks."""

    stroke: Stroke
    rod_length: RodLength
    speed: Speed | None = None
    rev_limit: Speed | None = None
    pin_offset: PinOffset | None = None
    crank_angle: Angle720 | None = None
    points: (
        Annotated[int, Number(2, 1440, integer=True, example=720, meaning="Rows of a table of the motion over 720 degrees.")]
        | None
    ) = None
    reciprocating_mass: ReciprocatingMass | None = None
    rotating_mass: RotatingMass | None = None
    cap_mass: CapMass | None = None
    rod_bolt_preload: BoltPreload | None = None
    rod_bolts: Annotated[int, Number(1, 8, (2, 4), integer=True, example=2, meaning="Bolts of one rod.")] | None = None
    bore: Bore | None = None
    cylinder_pressure: (
        Annotated[
            Quantity, Measured("pressure", "-100 .. 20000 kPa", "-100 .. 8000 kPa", "4000 kPa", "Gauge pressure on the piston.")
        ]
        | None
    ) = None
    piston: Annotated[Literal["cast", "forged"], Field(description="How the piston was made.")] | None = None
    ring_height: (
        Annotated[Quantity, Measured("length", "0.3 .. 8 mm", "1 .. 3 mm", "2 mm", "Axial height of the top ring.")] | None
    ) = None
    engine: Annotated[Id, Field(description="Engine family.", examples=["air-cooled-flat-four"])] | None = None
    rod_clearance_measured: (
        Annotated[bool, Field(description="Rod to cam, case and barrel skirt measured at 1.5 mm or more.")] | None
    ) = None
    skirt_below_pin: (
        Annotated[
            Quantity, Measured("length", "5 .. 150 mm", "20 .. 60 mm", "38 mm", "Pin's centre to the skirt's lower edge.")
        ]
        | None
    ) = None
    counterweight_radius: (
        Annotated[
            Quantity, Measured("length", "20 .. 250 mm", "40 .. 100 mm", "58 mm", "Crankshaft's centre to its outer edge.")
        ]
        | None
    ) = None
    top_found_by: Annotated[Literal["piston-stop", "dial-gauge"], Field(description="How the wheel was zeroed.")] | None = None
    stop_before: StopReading | None = None
    stop_after: StopReading | None = None
    pulley_diameter: PulleyDiameter | None = None
