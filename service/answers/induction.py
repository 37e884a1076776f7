"""Induction: air demand, inlet valve, venturi, main jet for other air, and the mixture for break-in and power."""

from typing import Annotated

from service.answers.air import Air, air_of
from service.answers.breathing import INLET_CHOKED, ValveDiameter, VenturiDiameter, VenturiOut, inlet_result, venturi_result
from service.answers.envelope import Answer, BandOut, QuantityOut, Result, Rule
from service.answers.inputs import (
    AirTemperature,
    Altitude,
    Cylinders,
    Id,
    Measured,
    Number,
    Request,
    Speed,
    StationPressure,
)
from service.answers.jetting import JetOut, MainJet, MixtureOut, jet_result, mixture_result
from service.answers.limits import above
from service.answers.topic import Example, Topic
from service.calculations import atmosphere
from service.calculations import induction as calculation
from service.quantities import (
    BAROMETER,
    DENSITY,
    DISTANCE,
    MASS_FLOW,
    TEMPERATURE,
    VOLUME_FLOW,
    Quantity,
    text_of,
)
from service.reference.dataset import Dataset

DEFAULT_CYLINDERS = 4
DEFAULT_EFFICIENCY = 0.80
HIGHEST_FUEL_PRESSURE = 28_000.0

FUEL_PRESSURE_HIGH = Rule(
    code="fuel-pressure-high",
    severity="fix",
    stage="pre-start",
    rule="fuel pressure at the carburettor above 0.28 bar (4 psi)",
    reason="The needle lifts off its seat: flooding, petrol in the oil, fire.",
    remedy="Shim or replace the pump, or fit a regulator; check with a gauge at the carburettor before first fire.",
    source="common-practice",
    evidence="common-practice",
)


class InductionRequest(Request):
    """The engine and its air; valve, venturi, jet, fuel and fuel pressure as far as they are known."""

    displacement: Annotated[
        Quantity, Measured("volume", "10 .. 60000 cm3", "100 .. 6000 cm3", "1696 cm3", "Swept volume of all cylinders.")
    ]
    speed: Speed
    cylinders: Cylinders | None = None
    volumetric_efficiency: (
        Annotated[
            float,
            Number(
                0.2, 1.2, (0.65, 0.95), example=0.8, meaning="Air drawn over air swept: 0.8 for 80 %. Usual 0.80 if left out."
            ),
        ]
        | None
    ) = None
    rev_limit: Speed | None = None
    valve_diameter: ValveDiameter | None = None
    flow_coefficient: (
        Annotated[
            float,
            Number(0.15, 0.6, (0.25, 0.45), example=0.33, meaning="Mean flow coefficient of the inlet valve over its lift."),
        ]
        | None
    ) = None
    venturi_diameter: VenturiDiameter | None = None
    venturis: (
        Annotated[int, Number(1, 16, (1, 8), integer=True, example=2, meaning="Equal venturis that share the flow.")] | None
    ) = None
    altitude: Altitude | None = None
    temperature: AirTemperature | None = None
    pressure: StationPressure | None = None
    humidity: Annotated[float, Number(0, 1, (0.05, 1), example=0.4, meaning="Relative humidity: 0.4 for 40 %.")] | None = None
    main_jet: MainJet | None = None
    jetting_altitude: Altitude | None = None
    jetting_temperature: AirTemperature | None = None
    air_fuel_ratio: (
        Annotated[
            float, Number(7, 22, (11, 15), example=12.8, meaning="Mixture by mass at full throttle in the air of the jetting.")
        ]
        | None
    ) = None
    fuel: Id | None = None
    fuel_pressure: (
        Annotated[
            Quantity,
            Measured("pressure", "0 .. 5 bar", "0.05 .. 0.5 bar", "0.2 bar", "Fuel pressure at the carburettor, gauge."),
        ]
        | None
    ) = None


class AirOut(Result):
    """The air that the engine breathes."""

    pressure: QuantityOut
    temperature: QuantityOut
    density: QuantityOut
    density_altitude: QuantityOut | None = None


class InductionResult(Result):
    """What the engine draws and whether valve, venturi and jet suit it."""

    air: AirOut
    airflow: QuantityOut
    airflow_volume: QuantityOut
    inlet_mach_index: float | None = None
    breathing_speed: BandOut | None = None
    suggested_valve_diameter: QuantityOut
    venturi: VenturiOut
    jet_correction: JetOut
    mixture: MixtureOut


def answer(request: InductionRequest, dataset: Dataset) -> Answer:
    """Air demand, inlet Mach index, venturi, main jet and mixture.

    Raises:
        MissingInput: a main jet that says neither diameter nor flow.
        Contradiction: a main jet that says both.
        NotInDataset: the fuel is not held.
        OutsideValidity: a value for which a formula makes no sense.
    """
    found = Answer(result={})
    now = air_of(
        found,
        altitude=request.altitude,
        pressure=request.pressure,
        temperature=request.temperature,
        humidity=request.humidity,
    )
    before = jetting_air(found, request, humidity=now.humidity)
    known = request.jetting_altitude is not None or request.jetting_temperature is not None
    climb = None
    if request.altitude is not None:
        climb = request.altitude.si - (request.jetting_altitude.si if request.jetting_altitude is not None else 0.0)
    found.result = {
        "air": {
            "pressure": BAROMETER(now.pressure),
            "temperature": TEMPERATURE(now.temperature),
            "density": DENSITY(now.density),
            "density_altitude": None if now.density_altitude is None else DISTANCE(now.density_altitude),
        },
        **_air_demand(found, request, now),
        "jet_correction": jet_result(found, jet=request.main_jet, before=before, now=now, known=known, climb=climb),
        "mixture": mixture_result(
            found, dataset, fuel=request.fuel, air_fuel_ratio=request.air_fuel_ratio, before=before, now=now
        ),
    }
    check_fuel_pressure(found, fuel_pressure=request.fuel_pressure)
    return found


def jetting_air(found: Answer, request: InductionRequest, *, humidity: float) -> Air:
    """The air of the jetting, as moist as today's: standard at its altitude, dry and at sea level if nothing is known."""
    if request.jetting_altitude is None and request.jetting_temperature is None:
        density = atmosphere.SEA_LEVEL_DENSITY
        reason = "Jetted in the standard air of sea level."
        found.assume("jetting_altitude", DISTANCE(0.0), reason, "us-standard-atmosphere-1976", "common-practice")
        return Air(atmosphere.SEA_LEVEL_PRESSURE, atmosphere.SEA_LEVEL_TEMPERATURE, 0.0, density, 0.0)
    reason = "As moist as the air of today, so that the moisture changes no jet."
    found.assume("jetting_humidity", humidity, reason, "common-practice", "common-practice")
    return air_of(
        found,
        altitude=request.jetting_altitude,
        temperature=request.jetting_temperature,
        humidity=humidity,
        prefix="jetting_",
    )


def _air_demand(found: Answer, request: InductionRequest, now: Air) -> dict[str, object]:
    """What the engine draws, through which valve and which venturi."""
    efficiency = request.volumetric_efficiency
    if efficiency is None:
        efficiency = DEFAULT_EFFICIENCY
        reason = "Usual for a small push-rod engine near peak power, 0.65 to 0.95."
        found.assume("volumetric_efficiency", efficiency, reason, "common-practice", "common-practice")
    cylinders = request.cylinders
    if cylinders is None:
        cylinders = DEFAULT_CYLINDERS
        found.assume("cylinders", cylinders, "A four-cylinder engine.", "common-practice", "common-practice")
    volume_flow = calculation.air_volume_flow(
        displacement=request.displacement.si, speed=request.speed.si, volumetric_efficiency=efficiency
    )
    mass_flow = calculation.air_mass_flow(
        displacement=request.displacement.si,
        speed=request.speed.si,
        volumetric_efficiency=efficiency,
        air_density=now.density,
    )
    found.rests_on(calculation.air_volume_flow, calculation.air_mass_flow)
    swept = request.displacement.si / cylinders
    if request.rev_limit is None:
        found.cannot_check(INLET_CHOKED.code, ["rev_limit"], "The index is that at the speed sent.")
    return {
        "airflow": MASS_FLOW(mass_flow),
        "airflow_volume": VOLUME_FLOW(volume_flow),
        **inlet_result(
            found,
            swept=swept,
            limit=(request.rev_limit or request.speed).si,
            temperature=now.temperature,
            valve_diameter=request.valve_diameter,
            flow_coefficient=request.flow_coefficient,
        ),
        "venturi": venturi_result(
            found,
            swept=swept,
            speed=request.speed.si,
            volume_flow=volume_flow,
            venturi_diameter=request.venturi_diameter,
            venturis=request.venturis,
        ),
    }


def check_fuel_pressure(found: Answer, *, fuel_pressure: Quantity | None) -> None:
    """Whether the needle valve holds the fuel pressure."""
    if fuel_pressure is None:
        found.cannot_check(FUEL_PRESSURE_HIGH.code, ["fuel_pressure"])
    elif above(fuel_pressure.si, HIGHEST_FUEL_PRESSURE):
        found.find(
            FUEL_PRESSURE_HIGH,
            ("fuel_pressure",),
            f"{text_of(BAROMETER(fuel_pressure.si))} at the carburettor; its needle holds about "
            f"{text_of(BAROMETER(HIGHEST_FUEL_PRESSURE))}.",
        )


TOPIC = Topic(
    name="induction",
    path="/v1/induction",
    title="Induction",
    summary="Air demand, inlet Mach index and valve size, venturi, main jet for other air, mixture for break-in and power.",
    request=InductionRequest,
    result=InductionResult,
    answer=answer,
    examples=(
        Example(
            "Are the valves and the carburettor big enough?",
            {
                "displacement": "1696 cm3",
                "speed": "5000 rpm",
                "cylinders": 4,
                "volumetric_efficiency": 0.8,
                "valve_diameter": "38 mm",
                "venturi_diameter": "28 mm",
                "venturis": 2,
                "altitude": "100 m",
                "temperature": "25 degC",
            },
        ),
        Example(
            "Which main jet at 1500 m?",
            {
                "displacement": "1696 cm3",
                "speed": "4500 rpm",
                "altitude": "1500 m",
                "temperature": "15 degC",
                "main_jet": {"diameter": "1.30 mm"},
                "jetting_altitude": "0 m",
                "jetting_temperature": "15 degC",
                "air_fuel_ratio": 12.8,
            },
        ),
        Example(
            "A flow-marked jet and the drawer that I have",
            {
                "displacement": "103.5 cu in",
                "speed": "4600 rpm",
                "altitude": "5000 ft",
                "temperature": "80 degF",
                "main_jet": {"flow": 130, "flow_stock": [115, 120, 125, 130]},
                "jetting_altitude": "500 ft",
                "fuel_pressure": "3 psi",
            },
        ),
    ),
    cautions=("fuel",),
    stage="pre-start",
)
