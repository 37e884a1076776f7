"""Power corrected to reference air by a named standard, with torque and brake mean effective pressure."""

from collections.abc import Callable, Mapping
from typing import Annotated, Literal, get_args

from service.answers.air import Air, air_of
from service.answers.envelope import Answer, BandOut, QuantityOut, Result, Rule, band
from service.answers.inputs import AirTemperature, Altitude, Measured, Number, Request, Speed
from service.answers.topic import Example, Topic
from service.calculations import atmosphere, brake_performance, induction
from service.calculations import power_correction as calculation
from service.calculations.power_correction import Standard
from service.errors import Contradiction, MissingInput, OutsideValidity
from service.quantities import BAROMETER, DISTANCE, HEATING_VALUE, POWER, PRESSURE, TORQUE, Quantity, text_of
from service.reference.dataset import Dataset

DEFAULT_EFFICIENCY = 0.80
DEFAULT_MIXTURE = 12.8
DEFAULT_HEATING_VALUE = 43.0e6  # J/kg, petrol
AGREEMENT = 0.02
METHODS: Mapping[str, Callable[..., float]] = {
    "sae-j1349": calculation.sae_j1349_factor,
    "iso-1585": calculation.iso_1585_factor,
    "din-70020": calculation.din_70020_factor,
}

BMEP_IMPLAUSIBLE = Rule(
    code="bmep-implausible",
    severity="ask",
    stage="after-run",
    rule="brake mean effective pressure above 11 bar without a blower",
    reason="A push-rod engine that breathes by itself makes 7 to 10 bar; more usually means a wrong unit, gear ratio or size.",
    remedy="Check power (metric against imperial horsepower), speed, displacement and the brake's ratio.",
    source="common-practice",
    evidence="common-practice",
)
OUTSIDE_CONDITIONS = Rule(
    code="correction-outside-conditions",
    severity="caution",
    stage="after-run",
    rule="inlet air outside 15 to 35 °C, or an ISO 1585 factor outside 0.93 to 1.07",
    reason="The standard does not accept a correction from such air; the figure is computed but not a rating.",
    remedy="Repeat the run in air nearer the reference, or quote the observed power with its air.",
    source="iso-1585-1992",
    evidence="from-memory",
)


class PowerCorrectionRequest(Request):
    """Full-throttle power (or torque and speed) as measured, the air it was measured in, and the standard."""

    standard: Standard
    pressure: Annotated[
        Quantity,
        Measured("pressure", "40 .. 110 kPa", "80 .. 106 kPa", "98 kPa", "Barometer at the place, not reduced to sea level."),
    ]
    temperature: AirTemperature
    humidity: Annotated[float, Number(0, 1, (0.05, 1), example=0.4, meaning="Relative humidity: 0.4 for 40 %.")]
    observed_power: (
        Annotated[Quantity, Measured("power", "0.5 .. 600 kW", "15 .. 120 kW", "45 kW", "Power at the brake, uncorrected.")]
        | None
    ) = None
    observed_torque: (
        Annotated[
            Quantity, Measured("torque", "0.5 .. 2000 N*m", "20 .. 300 N*m", "95 N*m", "Torque at the brake, uncorrected.")
        ]
        | None
    ) = None
    speed: Speed | None = None
    displacement: (
        Annotated[
            Quantity, Measured("volume", "10 .. 60000 cm3", "100 .. 6000 cm3", "1696 cm3", "Swept volume of all cylinders.")
        ]
        | None
    ) = None
    altitude: Altitude | None = None
    throttle: Literal["full", "part"] | None = None


class StandardOut(Result):
    """What one standard makes of the run; empty where it does not correct from such air."""

    factor: float | None = None
    corrected_power: QuantityOut | None = None
    refused: str | None = None


class PowerCorrectionResult(Result):
    """Corrected figures by the standard asked for, and what the others would give."""

    standard: str
    factor: float
    corrected_power: QuantityOut
    observed_power: QuantityOut
    corrected_torque: QuantityOut | None = None
    observed_torque: QuantityOut | None = None
    bmep: QuantityOut | None = None
    observed_bmep: QuantityOut | None = None
    dry_pressure: QuantityOut
    vapour_pressure: QuantityOut
    density_altitude: QuantityOut | None = None
    power_from_air: BandOut | None = None
    by_standard: dict[str, StandardOut]


def answer(request: PowerCorrectionRequest, _dataset: Dataset) -> Answer:
    """Power in reference air, torque and brake mean effective pressure.

    Raises:
        MissingInput: neither power nor torque with speed.
        Contradiction: power, torque and speed do not agree, or a part-throttle run.
        OutsideValidity: air from which the standard does not correct.
    """
    found = Answer(result={})
    check_throttle(found, throttle=request.throttle)
    power = _observed_power(found, request)
    air = air_of(
        found,
        altitude=request.altitude,
        pressure=request.pressure,
        temperature=request.temperature,
        humidity=request.humidity,
    )
    vapour = atmosphere.vapour_pressure(temperature=air.temperature, relative_humidity=air.humidity)
    found.rests_on(atmosphere.saturation_pressure, atmosphere.vapour_pressure, METHODS[request.standard])
    factor = calculation.correction_factor(
        standard=request.standard, pressure=air.pressure, vapour_pressure=vapour, temperature=air.temperature
    )
    check_conditions(found, standard=request.standard, factor=factor, temperature=air.temperature)
    found.result = {
        "standard": request.standard,
        "factor": factor,
        "corrected_power": POWER(power * factor),
        "observed_power": POWER(power),
        **_at_speed(found, request, power, factor),
        "dry_pressure": BAROMETER(air.pressure - vapour),
        "vapour_pressure": BAROMETER(vapour),
        "density_altitude": None if air.density_altitude is None else DISTANCE(air.density_altitude),
        **_mean_pressure(found, request, power, factor, air),
        "by_standard": {name: _by_standard(found, name, power, air, vapour) for name in get_args(Standard)},
    }
    return found


def check_throttle(found: Answer, *, throttle: str | None) -> None:
    """Only full throttle can be corrected.

    Raises:
        Contradiction: the run was made at part throttle.
    """
    if throttle == "part":
        raise Contradiction(
            ("throttle", "standard"),
            "No standard corrects a part-throttle figure: the throttle, not the air, set the power. Measure at full throttle.",
        )
    if throttle is None:
        reason = "Only a full-throttle figure can be corrected; the throttle was not told."
        found.assume("throttle", "full", reason, "sae-j1349-1990", "standard")


def check_conditions(found: Answer, *, standard: Standard, factor: float, temperature: float) -> None:
    """Whether the standard accepts a correction from this air."""
    reasons = calculation.outside_test_conditions(standard=standard, factor=factor, temperature=temperature)
    if reasons:
        found.find(OUTSIDE_CONDITIONS, ("temperature", "pressure"), f"For {standard} {' and '.join(reasons)}.")


def check_mean_pressure(found: Answer, *, mean_effective_pressure: float) -> None:
    """Whether an engine that breathes by itself can have this brake mean effective pressure in Pa."""
    if mean_effective_pressure > brake_performance.HIGHEST_PLAUSIBLE_PRESSURE:
        found.find(
            BMEP_IMPLAUSIBLE,
            ("observed_power", "speed", "displacement"),
            f"{text_of(PRESSURE(mean_effective_pressure))} is more than such an engine makes "
            f"({text_of(PRESSURE(brake_performance.HIGHEST_PLAUSIBLE_PRESSURE))}).",
        )


def _observed_power(found: Answer, request: PowerCorrectionRequest) -> float:
    """Power in W as measured, from power or from torque and speed."""
    power, torque, speed = request.observed_power, request.observed_torque, request.speed
    if torque is None:
        if power is None:
            raise MissingInput("observed_power", "Send the power at the brake, or its torque with the speed.", "45 kW")
        return power.si
    if speed is None:
        if power is None:
            raise MissingInput("speed", "Torque alone is no power; send the speed at which it was measured.", "4500 rpm")
        raise MissingInput("speed", "To use power and torque together the speed is needed.", "4500 rpm")
    from_torque = brake_performance.power_from_torque(torque=torque.si, speed=speed.si)
    found.rests_on(brake_performance.power_from_torque)
    if power is None:
        return from_torque
    if abs(from_torque - power.si) > AGREEMENT * power.si:
        raise Contradiction(
            ("observed_power", "observed_torque", "speed"),
            "Power is torque times speed, and these do not agree within 2 %; leave out the one you are least sure of.",
        )
    return power.si


def _at_speed(found: Answer, request: PowerCorrectionRequest, power: float, factor: float) -> dict[str, object]:
    """Torque before and after correction, where the speed is known."""
    if request.speed is None:
        return {}
    torque = brake_performance.torque_from_power(power=power, speed=request.speed.si)
    found.rests_on(brake_performance.torque_from_power)
    return {"corrected_torque": TORQUE(torque * factor), "observed_torque": TORQUE(torque)}


def _mean_pressure(found: Answer, request: PowerCorrectionRequest, power: float, factor: float, air: Air) -> dict[str, object]:
    """Mean effective pressures and the power that the air could make, where displacement and speed are known."""
    if request.displacement is None or request.speed is None:
        needs = [name for name in ("displacement", "speed") if getattr(request, name) is None]
        found.cannot_check(BMEP_IMPLAUSIBLE.code, needs)
        return {}
    volume, speed = request.displacement.si, request.speed.si
    observed = brake_performance.mean_effective_pressure(power=power, displacement=volume, speed=speed)
    found.rests_on(brake_performance.mean_effective_pressure, induction.air_mass_flow, brake_performance.power_from_air)
    check_mean_pressure(found, mean_effective_pressure=observed)
    flow = induction.air_mass_flow(
        displacement=volume, speed=speed, volumetric_efficiency=DEFAULT_EFFICIENCY, air_density=air.density
    )
    estimate = brake_performance.power_from_air(
        air_flow=flow, air_fuel_ratio=DEFAULT_MIXTURE, heating_value=DEFAULT_HEATING_VALUE
    )
    reason = "For power_from_air, a rough band to compare with, never a measurement."
    found.assume("volumetric_efficiency", DEFAULT_EFFICIENCY, reason, "common-practice", "common-practice")
    found.assume("air_fuel_ratio", DEFAULT_MIXTURE, reason, "common-practice", "common-practice")
    found.assume("heating_value", HEATING_VALUE(DEFAULT_HEATING_VALUE), reason, "en-228-2012", "from-memory")
    return {
        "bmep": PRESSURE(observed * factor),
        "observed_bmep": PRESSURE(observed),
        "power_from_air": band(POWER(estimate.low), POWER(estimate.nominal), POWER(estimate.high)),
    }


def _by_standard(found: Answer, standard: Standard, power: float, air: Air, vapour: float) -> dict[str, object]:
    """Factor and power by one standard, or why it does not correct from this air."""
    try:
        factor = calculation.correction_factor(
            standard=standard, pressure=air.pressure, vapour_pressure=vapour, temperature=air.temperature
        )
    except OutsideValidity as refusal:
        return {"refused": refusal.reason}
    found.rests_on(METHODS[standard])
    return {"factor": factor, "corrected_power": POWER(power * factor)}


TOPIC = Topic(
    name="power_correction",
    path="/v1/power-correction",
    title="Power correction",
    summary="Observed full-throttle power corrected by SAE J1349, ISO 1585 or DIN 70020, with torque and BMEP.",
    request=PowerCorrectionRequest,
    result=PowerCorrectionResult,
    answer=answer,
    examples=(
        Example(
            "What does it make in reference air?",
            {
                "standard": "sae-j1349",
                "observed_power": "45 kW",
                "speed": "4500 rpm",
                "displacement": "1696 cm3",
                "pressure": "98 kPa",
                "temperature": "28 degC",
                "humidity": 0.45,
                "throttle": "full",
            },
        ),
        Example(
            "From torque, in shop units",
            {
                "standard": "din-70020",
                "observed_torque": "72 lb-ft",
                "speed": "4200 rpm",
                "pressure": "29.1 inHg",
                "temperature": "77 degF",
                "humidity": 0.3,
                "altitude": "600 ft",
            },
        ),
    ),
    cautions=("running",),
    stage="after-run",
)
