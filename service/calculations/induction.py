"""Induction of a four-stroke: air demand, inlet valve and venturi."""

from math import pi, sqrt

from service.calculations.limits import require_positive
from service.errors import OutsideValidity
from service.methods import Example, method
from service.units import (
    Density,
    Length,
    MassFlow,
    Ratio,
    RotationalSpeed,
    Velocity,
    Volume,
    VolumeFlow,
)

INLET_FLOW_COEFFICIENT: Ratio = 0.33  # mean over the lift, of the valve's head area
MACH_INDEX_KNEE: Ratio = 0.6  # where volumetric efficiency begins to fall steeply
MACH_INDEX_KNEE_CAREFUL: Ratio = 0.5
HIGHEST_VOLUMETRIC_EFFICIENCY: Ratio = 1.2
SMALLEST_VENTURI: Length = 0.008

_ENGINE_SYMBOLS = {"V": "displacement [m³]", "n": "crankshaft speed [1/s]", "η_v": "volumetric efficiency"}
_AIR_SYMBOLS = {"ṁ": "air mass flow [kg/s]", "ρ": "density of the air outside [kg/m³]"}


def _require_efficiency(volumetric_efficiency: Ratio) -> None:
    if not 0 < volumetric_efficiency <= HIGHEST_VOLUMETRIC_EFFICIENCY:
        raise OutsideValidity(
            "volumetric_efficiency",
            "The volumetric efficiency of an engine that breathes by itself lies between 0 and 1.2; send 0.8 for 80 %.",
            "0 < … ≤ 1.2",
        )


@method(
    id="air-volume-flow",
    title="Air demand of a four-stroke by volume",
    formula="Q = V · n / 2 · η_v",
    symbols={"Q": "volume flow at the density of the air outside [m³/s]", **_ENGINE_SYMBOLS},
    source="heywood-1988",
    locator="chapter 2, volumetric efficiency",
    evidence="textbook",
    valid="four-stroke, 0 < η_v ≤ 1.2",
    example=Example(
        {"displacement": 97.16 * 0.0254**3, "speed": 4500 * pi / 30, "volumetric_efficiency": 0.8},
        101.2 * 0.3048**3 / 60,
        by="air-demand formula in³·rpm/3456: 101.2 ft³/min",
        rel_tol=5e-4,
    ),
)
def air_volume_flow(*, displacement: Volume, speed: RotationalSpeed, volumetric_efficiency: Ratio) -> VolumeFlow:
    """Air in m³/s, counted at the density outside, that the engine draws at a crankshaft speed in rad/s.

    Raises:
        OutsideValidity: a value is not positive or the volumetric efficiency exceeds 1.2.
    """
    require_positive(displacement=displacement, speed=speed)
    _require_efficiency(volumetric_efficiency)
    return displacement * speed / (4 * pi) * volumetric_efficiency


@method(
    id="air-mass-flow",
    title="Air demand of a four-stroke by mass",
    formula="ṁ = ρ · V · n / 2 · η_v",
    symbols={**_AIR_SYMBOLS, **_ENGINE_SYMBOLS},
    source="heywood-1988",
    locator="chapter 2, volumetric efficiency",
    evidence="textbook",
    valid="four-stroke, 0 < η_v ≤ 1.2",
    example=Example(
        {
            "displacement": 4200e-6,
            "speed": 3200 * pi / 30,
            "volumetric_efficiency": 0.7816,
            "air_density": 0.9e5 / (287 * 305),
        },
        27 * 12 / 3600,
        by="Mathur and Sharma, example 10.1: 27 kg/h of petrol at 12 : 1",
        rel_tol=2e-4,
    ),
)
def air_mass_flow(
    *, displacement: Volume, speed: RotationalSpeed, volumetric_efficiency: Ratio, air_density: Density
) -> MassFlow:
    """Air in kg/s that the engine draws at a crankshaft speed in rad/s.

    Raises:
        OutsideValidity: a value is not positive or the volumetric efficiency exceeds 1.2.
    """
    require_positive(air_density=air_density)
    flow = air_volume_flow(displacement=displacement, speed=speed, volumetric_efficiency=volumetric_efficiency)
    return air_density * flow


@method(
    id="volumetric-efficiency",
    title="Volumetric efficiency from a measured air flow",
    formula="η_v = 2 ṁ / (ρ V n)",
    symbols={"η_v": _ENGINE_SYMBOLS["η_v"], **_AIR_SYMBOLS, **_ENGINE_SYMBOLS},
    source="heywood-1988",
    locator="chapter 2, volumetric efficiency",
    evidence="textbook",
    valid="four-stroke",
    example=Example(
        {
            "air_flow": 27 * 12 / 3600,
            "displacement": 4200e-6,
            "speed": 3200 * pi / 30,
            "air_density": 0.9e5 / (287 * 305),
        },
        0.7816,
        by="Mathur and Sharma, example 10.1",
        rel_tol=2e-4,
    ),
)
def volumetric_efficiency(*, air_flow: MassFlow, displacement: Volume, speed: RotationalSpeed, air_density: Density) -> Ratio:
    """Volumetric efficiency of a four-stroke that draws an air flow in kg/s at a crankshaft speed in rad/s.

    Raises:
        OutsideValidity: a value is not positive.
    """
    require_positive(air_flow=air_flow, displacement=displacement, speed=speed, air_density=air_density)
    return 4 * pi * air_flow / (air_density * displacement * speed)


@method(
    id="inlet-mach-index",
    title="Mean inlet Mach index",
    formula="Z = (B/D)² · c_m / (C_i a) = 2 V₁ n / (π/4 D² C_i a)",
    symbols={
        "Z": "mean inlet Mach index",
        "B": "bore [m]",
        "D": "head diameter of the inlet valve [m]",
        "c_m": "mean piston speed [m/s]",
        "V₁": "swept volume of one cylinder [m³]",
        "n": "crankshaft speed [1/s]",
        "C_i": "mean flow coefficient of the valve over its lift, about 0.33",
        "a": "speed of sound in the inlet [m/s]",
    },
    source="taylor-1985",
    locator="volume I, chapter 6, inlet Mach index",
    evidence="from-memory",
    valid="one inlet valve per cylinder; C_i 0.25 … 0.45",
    example=Example(
        {
            "swept_volume": 424.05e-6,
            "speed": 5000 * pi / 30,
            "valve_diameter": 0.038,
            "sound_speed": 340.3,
            "flow_coefficient": 0.33,
        },
        0.555,
        by="by hand: (86/38)² · 2·0.073·5000/60 / (0.33 · 340.3)",
        rel_tol=2e-3,
    ),
)
def inlet_mach_index(
    *,
    swept_volume: Volume,
    speed: RotationalSpeed,
    valve_diameter: Length,
    sound_speed: Velocity,
    flow_coefficient: Ratio = INLET_FLOW_COEFFICIENT,
) -> Ratio:
    """Mean inlet Mach index of one cylinder with one inlet valve; breathing falls off above about 0.5 to 0.6.

    Raises:
        OutsideValidity: a value is not positive.
    """
    require_positive(
        swept_volume=swept_volume,
        speed=speed,
        valve_diameter=valve_diameter,
        sound_speed=sound_speed,
        flow_coefficient=flow_coefficient,
    )
    valve_area = pi / 4 * valve_diameter * valve_diameter
    return swept_volume * speed / pi / (valve_area * flow_coefficient * sound_speed)


@method(
    id="valve-diameter-for-mach-index",
    title="Inlet valve for a Mach index",
    formula="D = B · √(c_m / (Z C_i a))",
    symbols={
        "D": "head diameter of the inlet valve [m]",
        "B": "bore [m]",
        "c_m": "mean piston speed [m/s]",
        "Z": "mean inlet Mach index",
        "C_i": "mean flow coefficient of the valve over its lift",
        "a": "speed of sound in the inlet [m/s]",
    },
    source="taylor-1985",
    locator="volume I, chapter 6, inlet Mach index, solved for the valve",
    evidence="from-memory",
    valid="one inlet valve per cylinder",
    example=Example(
        {
            "swept_volume": 424.05e-6,
            "speed": 5000 * pi / 30,
            "mach_index": 0.5,
            "sound_speed": 340.3,
            "flow_coefficient": 0.33,
        },
        0.04003,
        by="by hand: 86 · √(12.167 / (0.5 · 0.33 · 340.3)) mm",
        rel_tol=1e-3,
    ),
)
def valve_diameter_for_mach_index(
    *,
    swept_volume: Volume,
    speed: RotationalSpeed,
    mach_index: Ratio,
    sound_speed: Velocity,
    flow_coefficient: Ratio = INLET_FLOW_COEFFICIENT,
) -> Length:
    """Head diameter in m of the one inlet valve that gives a cylinder this Mach index at a speed in rad/s.

    Raises:
        OutsideValidity: a value is not positive.
    """
    require_positive(
        swept_volume=swept_volume,
        speed=speed,
        mach_index=mach_index,
        sound_speed=sound_speed,
        flow_coefficient=flow_coefficient,
    )
    return 2 / pi * sqrt(swept_volume * speed / (mach_index * flow_coefficient * sound_speed))


@method(
    id="venturi-mean-speed",
    title="Mean air speed in the venturis",
    formula="v = Q / (k · π/4 · d²)",
    symbols={"v": "mean speed [m/s]", "Q": "air demand [m³/s]", "k": "number of venturis", "d": "venturi diameter [m]"},
    source="geometry",
    locator="continuity",
    evidence="textbook",
    valid="averaged over the cycle; with one venturi per cylinder it is four times as high during the inlet stroke",
    example=Example(
        {"air_flow": 0.056549, "venturi_diameter": 0.028, "venturis": 2},
        45.92,
        by="by hand: 56 549 cm³/s over 2 · 6.1575 cm²",
        rel_tol=2e-4,
    ),
)
def venturi_mean_speed(*, air_flow: VolumeFlow, venturi_diameter: Length, venturis: int) -> Velocity:
    """Speed in m/s of the air in equal venturis that share a volume flow in m³/s, averaged over the cycle.

    Raises:
        OutsideValidity: the flow or number is not positive or the venturi is smaller than 8 mm.
    """
    require_positive(air_flow=air_flow, venturis=venturis)
    if not venturi_diameter >= SMALLEST_VENTURI:
        raise OutsideValidity(
            "venturi_diameter",
            "A venturi is at least 8 mm wide; send the diameter of the choke, not of a jet or emulsion tube.",
            "≥ 8 mm",
        )
    return air_flow / (venturis * pi / 4 * venturi_diameter * venturi_diameter)


@method(
    id="choke-trade-rule",
    title="Venturi by the trade's rule",
    formula="d = 20 · √(V₁ · n / 1000)",
    symbols={
        "d": "venturi diameter [mm]",
        "V₁": "swept volume of the one cylinder that the venturi feeds [L]",
        "n": "crankshaft speed at peak power [rpm]",
    },
    source="common-practice",
    locator="carburettor tuning, one venturi per cylinder",
    evidence="common-practice",
    valid="a starting point, ± 2 mm; one venturi per cylinder, or one that cylinders drawing in turn share",
    example=Example({"swept_volume": 0.5e-3, "speed": 5000 * pi / 30}, 0.03162, by="by hand: 20 · √2.5 mm", rel_tol=1e-3),
)
def choke_by_trade_rule(*, swept_volume: Volume, speed: RotationalSpeed) -> Length:
    """Venturi diameter in m that the trade fits to a cylinder of a swept volume in m³ for a speed in rad/s.

    Raises:
        OutsideValidity: a value is not positive.
    """
    require_positive(swept_volume=swept_volume, speed=speed)
    return 0.020 * sqrt(swept_volume * 1000 * (speed * 30 / pi) / 1000)
