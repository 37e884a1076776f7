"""What is asked about the oil: the circuit, the oil itself, the climate, the gauge's readings and the pump."""

from typing import Annotated, Literal, TypeAlias

from pydantic import Field

from service.answers.inputs import Id, Measured, Number, Request, Speed, Tappet, Words
from service.quantities import Quantity

OilVolume: TypeAlias = Annotated[Quantity, Measured("volume", "0 .. 10 L", "0 .. 2 L", "0.35 L", "Oil that this part holds.")]
OilTemperature: TypeAlias = Annotated[
    Quantity, Measured("temperature", "-40 .. 180 degC", "-10 .. 125 degC", "90 degC", "Temperature of the oil in the sump.")
]
GaugePressure: TypeAlias = Annotated[
    Quantity,
    # The hard range is wide: psi typed as bar is to be asked about, not to sink a whole build sheet.
    Measured("pressure", "0 .. 150 bar", "0.3 .. 6 bar", "2.8 bar", "Oil pressure above the air's, as a gauge shows it."),
]
Content: TypeAlias = Annotated[
    Quantity, Measured("fraction", "0 .. 40000 ppm", "600 .. 2500 ppm", "1200 ppm", "Share of the oil's mass.")
]
StickLength: TypeAlias = Annotated[
    Quantity, Measured("length", "0 .. 500 mm", "0 .. 150 mm", "20 mm", "Wetted length from the tip of the dipstick.")
]


class LineRequest(Request):
    """One hose or pipe of the oil circuit; feed and return are two lines."""

    bore: Annotated[
        Quantity, Measured("length", "3 .. 40 mm", "8 .. 19 mm", "12.7 mm", "Inside diameter; the outside is larger.")
    ]
    length: Annotated[Quantity, Measured("length", "0.05 .. 10 m", "0.1 .. 4 m", "1.8 m", "Length of this line, one way.")]


class ReadingRequest(Request):
    """Oil pressure of the running engine with the speed and oil temperature at which it was read."""

    pressure: GaugePressure
    speed: Speed
    temperature: OilTemperature


class DipstickRequest(Request):
    """Two known fills with their readings, and a reading to turn into litres."""

    low_mark: StickLength
    low_volume: Annotated[Quantity, Measured("volume", "0.1 .. 20 L", "1 .. 6 L", "1.8 L", "Oil in the sump at the low mark.")]
    high_mark: StickLength
    high_volume: Annotated[
        Quantity, Measured("volume", "0.1 .. 20 L", "1 .. 6 L", "2.5 L", "Oil in the sump at the high mark.")
    ]
    reading: StickLength | None = None


class AdditiveRequest(Request):
    """An anti-wear additive for the base oil."""

    phosphorus: Annotated[
        Quantity, Measured("fraction", "500 .. 200000 ppm", "1500 .. 40000 ppm", "25000 ppm", "Phosphorus in the additive.")
    ]
    volume: OilVolume | None = None
    density: (
        Annotated[Quantity, Measured("density", "700 .. 1300 kg/m3", "840 .. 1050 kg/m3", "950 kg/m3", "Density at 15 °C.")]
        | None
    ) = None


class PumpRequest(Request):
    """The oil pump, by its displacement or by its gears, and how it is driven."""

    displacement: (
        Annotated[Quantity, Measured("volume", "0.5 .. 60 cm3", "4 .. 15 cm3", "6 cm3", "Oil moved by one turn of the pump.")]
        | None
    ) = None
    gear_diameter: (
        Annotated[Quantity, Measured("length", "10 .. 100 mm", "25 .. 50 mm", "36 mm", "Outside diameter of a gear.")] | None
    ) = None
    centre_distance: (
        Annotated[Quantity, Measured("length", "8 .. 90 mm", "20 .. 40 mm", "30 mm", "From shaft to shaft.")] | None
    ) = None
    gear_width: Annotated[Quantity, Measured("length", "3 .. 80 mm", "15 .. 35 mm", "21 mm", "Width of the gears.")] | None = (
        None
    )
    ratio: (
        Annotated[float, Number(0.1, 3, (0.4, 1.2), example=0.5, meaning="Turns of the pump per turn of the crank.")] | None
    ) = None
    efficiency: (
        Annotated[float, Number(0.05, 1, (0.4, 0.95), example=0.7, meaning="Share of its displacement delivered.")] | None
    ) = None


class StarterRequest(Request):
    """What the starter stands in a row."""

    burst: Annotated[Quantity, Measured("duration", "2 .. 15 s", "5 .. 10 s", "10 s", "Longest time on the button.")]
    rest: Annotated[Quantity, Measured("duration", "30 .. 900 s", "60 .. 300 s", "60 s", "Shortest pause between two.")]
    bursts: Annotated[int, Number(1, 8, (2, 5), integer=True, example=5, meaning="Most bursts in a row.")]


class OilRequest(Request):
    """The oil circuit and whatever else is known; every further field unlocks an answer or a check."""

    engine: Id | None = None
    sump: (
        Annotated[Quantity, Measured("volume", "0.3 .. 20 L", "1.5 .. 6 L", "2.5 L", "Fill of the bare engine, from dry.")]
        | None
    ) = None
    filter: OilVolume | None = None
    cooler: OilVolume | None = None
    lines: Annotated[list[LineRequest], Field(max_length=20)] | None = None
    planned_fill: (
        Annotated[Quantity, Measured("volume", "0.1 .. 40 L", "1.5 .. 8 L", "3.8 L", "Oil that is to be poured in.")] | None
    ) = None
    filled_by_hand: bool | None = None
    dipstick: DipstickRequest | None = None

    grade: Words | None = None
    oil: Id | None = None
    viscosity_40: (
        Annotated[
            Quantity,
            Measured("kinematic viscosity", "5 .. 600 mm2/s", "50 .. 220 mm2/s", "95 mm2/s", "At 40 °C, from the oil sheet."),
        ]
        | None
    ) = None
    viscosity_100: (
        Annotated[
            Quantity,
            Measured("kinematic viscosity", "2 .. 60 mm2/s", "7 .. 20 mm2/s", "11 mm2/s", "At 100 °C, from the oil sheet."),
        ]
        | None
    ) = None
    density: (
        Annotated[Quantity, Measured("density", "700 .. 1100 kg/m3", "840 .. 930 kg/m3", "885 kg/m3", "Density at 15 °C.")]
        | None
    ) = None
    temperatures: Annotated[list[OilTemperature], Field(min_length=1, max_length=20)] | None = None
    start_temperature: (
        Annotated[
            Quantity, Measured("temperature", "-40 .. 60 degC", "-25 .. 40 degC", "5 degC", "Coldest start that is planned.")
        ]
        | None
    ) = None
    oil_temperature: OilTemperature | None = None

    tappet: Tappet | None = None
    phosphorus: Content | None = None
    zinc: Content | None = None
    additive: AdditiveRequest | None = None
    target_phosphorus: (
        Annotated[
            Quantity, Measured("fraction", "100 .. 5000 ppm", "1000 .. 1500 ppm", "1200 ppm", "Phosphorus wanted in the sump.")
        ]
        | None
    ) = None

    pressure_gauge: Literal["gauge", "lamp", "none"] | None = None
    speeds: Annotated[list[Speed], Field(min_length=1, max_length=20)] | None = None
    reading: ReadingRequest | None = None
    earlier: ReadingRequest | None = None
    relief_pressure: (
        Annotated[Quantity, Measured("pressure", "1 .. 15 bar", "2.5 .. 6 bar", "4 bar", "Gauge pressure at which it opens.")]
        | None
    ) = None

    pump: PumpRequest | None = None
    passages: (
        Annotated[Quantity, Measured("volume", "0 .. 3 L", "0.05 .. 0.5 L", "0.15 L", "Oil ways of the case, pump to rockers.")]
        | None
    ) = None
    cranking_speed: (
        Annotated[
            Quantity, Measured("rotational speed", "40 .. 500 rpm", "150 .. 280 rpm", "200 rpm", "Crank speed on the starter.")
        ]
        | None
    ) = None
    starter: StarterRequest | None = None
