"""The question about compression: one cylinder as measured, and what is wanted beyond its ratio."""

from typing import Annotated, Literal, TypeAlias

from pydantic import Field

from service.answers.inputs import Altitude, Bore, Id, Measured, Number, Request, RodLength, Speed, Stroke
from service.quantities import Quantity

Unknown: TypeAlias = Literal["chamber_volume", "deck_clearance", "spacer_thickness", "crown_volume", "gasket_thickness"]

ChamberVolume: TypeAlias = Annotated[
    Quantity,
    Measured("volume", "5 .. 300 cm3", "30 .. 90 cm3", "52 cm3", "Chamber in the head to its sealing face, plug in."),
]
DeckClearance: TypeAlias = Annotated[
    Quantity,
    Measured("length", "-5 .. 15 mm", "0.5 .. 2.5 mm", "1.2 mm", "Piston to barrel top: + below, − above, spacer not counted."),
]
CrownVolume: TypeAlias = Annotated[
    Quantity, Measured("volume", "-80 .. 80 cm3", "-25 .. 25 cm3", "3 cm3", "Piston crown: + dish, − dome.")
]
SpacerThickness: TypeAlias = Annotated[
    Quantity, Measured("length", "0 .. 12 mm", "0 .. 2.5 mm", "0.8 mm", "All spacers under the barrel together.")
]
GasketThickness: TypeAlias = Annotated[
    Quantity, Measured("length", "0 .. 6 mm", "0 .. 2 mm", "0.8 mm", "Compressed thickness of the ring in the head joint.")
]
CreviceVolume: TypeAlias = Annotated[
    Quantity, Measured("volume", "0 .. 3 cm3", "0 .. 1.5 cm3", "0.5 cm3", "Between top land and barrel, above the top ring.")
]
IntakeClosing: TypeAlias = Annotated[
    Quantity,
    Measured("angle", "-40 .. 110 deg", "20 .. 85 deg", "62 deg", "Crank degrees after bottom dead centre."),
]
Duration: TypeAlias = Annotated[
    Quantity, Measured("angle", "100 .. 400 deg", "180 .. 310 deg", "276 deg", "Intake duration in crank degrees.")
]
CheckingLift: TypeAlias = Annotated[
    Quantity, Measured("length", "0.05 .. 3 mm", "0.5 .. 1.3 mm", "0.050 in", "Lift at which the cam was checked.")
]
TargetRatio: TypeAlias = Annotated[float, Number(4, 14, (6.5, 10), example=7.5, meaning="Compression ratio that is wanted.")]
Ratio: TypeAlias = Annotated[float, Number(3, 14, (6.5, 10), example=7.5, meaning="Compression ratio of the reference.")]
Advance: TypeAlias = Annotated[
    Quantity, Measured("angle", "5 .. 50 deg", "24 .. 34 deg", "28 deg", "Total advance before top dead centre, crank degrees.")
]
ChargeTemperature: TypeAlias = Annotated[
    Quantity,
    Measured("temperature", "-20 .. 170 degC", "40 .. 120 degC", "75 degC", "Charge in the cylinder at intake closing."),
]


def _length_uncertainty(meaning: str) -> Measured:
    return Measured("length", "0 .. 1 mm", "0 .. 0.2 mm", "0.03 mm", meaning)


def _volume_uncertainty(meaning: str) -> Measured:
    return Measured("volume", "0 .. 10 cm3", "0 .. 2 cm3", "0.5 cm3", meaning)


class Gasket(Request):
    """The ring between barrel and head."""

    thickness: GasketThickness
    bore: (
        Annotated[Quantity, Measured("length", "19 .. 210 mm", "50 .. 115 mm", "88 mm", "Inside diameter of the ring.")] | None
    ) = None


class CylinderMeasured(Request):
    """What was measured of one cylinder; what is left out is as for all."""

    chamber_volume: ChamberVolume | None = None
    deck_clearance: DeckClearance | None = None
    crown_volume: CrownVolume | None = None


class Uncertainties(Request):
    """Expanded uncertainties (coverage 2) of the measurements, as from the tool's paper or the table of gauges."""

    bore: Annotated[Quantity, _length_uncertainty("Of the bore.")] | None = None
    stroke: Annotated[Quantity, _length_uncertainty("Of the stroke.")] | None = None
    chamber_volume: Annotated[Quantity, _volume_uncertainty("Of a chamber, from one reading to the next.")] | None = None
    chamber_volume_common: (
        Annotated[Quantity, _volume_uncertainty("Of all chambers alike: burette bias, plug, plate.")] | None
    ) = None
    deck_clearance: Annotated[Quantity, _length_uncertainty("Of the deck clearance.")] | None = None
    spacer_thickness: Annotated[Quantity, _length_uncertainty("Of the spacers together.")] | None = None
    crown_volume: Annotated[Quantity, _volume_uncertainty("Of the crown.")] | None = None
    gasket_bore: Annotated[Quantity, _length_uncertainty("Of the ring's bore.")] | None = None
    gasket_thickness: Annotated[Quantity, _length_uncertainty("Of the ring, compressed.")] | None = None
    crevice_volume: Annotated[Quantity, _volume_uncertainty("Of the crevice.")] | None = None


class Checking(Request):
    """The cam at a checking lift; its effective ratio is never mixed with that of the advertised closing."""

    lift: CheckingLift
    intake_closing: IntakeClosing | None = None
    duration: Duration | None = None


class Running(Request):
    """What the squish clearance loses and gains between bench and full speed."""

    speed: Speed
    reciprocating_mass: Annotated[
        Quantity, Measured("mass", "0.05 .. 5 kg", "0.3 .. 0.9 kg", "0.62 kg", "Piston, pin, rings and small end.")
    ]
    rod_section: Annotated[
        Quantity, Measured("area", "20 .. 2000 mm2", "60 .. 300 mm2", "127 mm2", "Least cross-section of the rod's shank.")
    ]
    rod_material: Id | None = None
    case_length: (
        Annotated[
            Quantity, Measured("length", "0 .. 300 mm", "40 .. 150 mm", "75 mm", "Crankshaft centre to the barrel's seat.")
        ]
        | None
    ) = None
    case_material: Id | None = None
    barrel_length: (
        Annotated[Quantity, Measured("length", "30 .. 400 mm", "80 .. 200 mm", "130 mm", "Barrel from seat to top.")] | None
    ) = None
    barrel_material: Id | None = None
    compression_height: (
        Annotated[Quantity, Measured("length", "10 .. 150 mm", "25 .. 60 mm", "38 mm", "Pin centre to the flat of the crown.")]
        | None
    ) = None
    piston_material: Id | None = None
    lost_motion: (
        Annotated[
            Quantity,
            Measured("length", "0 .. 1 mm", "0 .. 0.3 mm", "0.1 mm", "Main, rod and pin play, if measured pushed down."),
        ]
        | None
    ) = None
    piston_rock: (
        Annotated[Quantity, Measured("length", "0 .. 1 mm", "0 .. 0.3 mm", "0.05 mm", "Rise of the crown's edge by rocking.")]
        | None
    ) = None


class OctaneReference(Request):
    """A build of the same kind that is known to run clean; what is left out is as in the new one."""

    octane: Annotated[float, Number(60, 130, (80, 105), example=91, meaning="Octane number of the fuel that it runs clean on.")]
    compression_ratio: Ratio
    ignition_advance: Advance | None = None
    speed: Speed | None = None
    altitude: Altitude | None = None
    charge_temperature: ChargeTemperature | None = None
    intake_closing: IntakeClosing | None = None


class Octane(Request):
    """The octane need of this build as a difference from a known-good one."""

    reference: OctaneReference | None = None
    ignition_advance: Advance | None = None
    speed: Speed | None = None
    charge_temperature: ChargeTemperature | None = None


class CompressionRequest(Request):
    """Bore, stroke, chamber and deck; the rest as far as it is there, and what is wanted beyond the ratio."""

    bore: Bore
    stroke: Stroke
    chamber_volume: ChamberVolume | None = None
    deck_clearance: DeckClearance | None = None
    crown_volume: CrownVolume | None = None
    gasket: Gasket | None = None
    spacer_thickness: SpacerThickness | None = None
    spacer_pieces: Annotated[int, Number(0, 10, integer=True, example=1, meaning="Spacers under a barrel.")] | None = None
    crevice_volume: CreviceVolume | None = None
    top_land_diameter: (
        Annotated[Quantity, Measured("length", "19 .. 200 mm", "49 .. 110 mm", "85.5 mm", "Piston above the top ring.")] | None
    ) = None
    step_height: (
        Annotated[
            Quantity,
            Measured("length", "0 .. 30 mm", "0 .. 10 mm", "1.5 mm", "Squish land of the head above its sealing face."),
        ]
        | None
    ) = None
    per_cylinder: Annotated[list[CylinderMeasured], Field(min_length=1, max_length=36)] | None = None
    uncertainties: Uncertainties | None = None
    target_ratio: TargetRatio | None = None
    solve_for: Unknown | None = None
    rod_length: RodLength | None = None
    intake_closing: IntakeClosing | None = None
    duration: Duration | None = None
    lobe_centre: (
        Annotated[
            Quantity,
            Measured("angle", "80 .. 130 deg", "98 .. 115 deg", "104 deg", "Intake lobe centre after top dead centre."),
        ]
        | None
    ) = None
    checking: Checking | None = None
    altitude: Altitude | None = None
    fuel: Id | None = None
    running: Running | None = None
    octane: Octane | None = None
