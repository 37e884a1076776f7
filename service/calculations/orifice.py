"""Air through a restriction: isentropic nozzle flow, choked and subcritical.

The one-dimensional flow of an ideal gas (γ = 1.4) without losses. A real hole passes less, by its discharge coefficient.
"""

from math import sqrt

from service.calculations.atmosphere import DRY_AIR_GAS_CONSTANT, HEAT_CAPACITY_RATIO
from service.calculations.limits import require_positive
from service.errors import OutsideValidity
from service.methods import Example, method
from service.units import MassFlux, Pressure, Ratio, Temperature, Velocity

_G = HEAT_CAPACITY_RATIO
CRITICAL_PRESSURE_RATIO: Ratio = float((2 / (_G + 1)) ** (_G / (_G - 1)))  # 0.5283
_CHOKED_FLOW: Ratio = sqrt(_G) * float((2 / (_G + 1)) ** ((_G + 1) / (2 * (_G - 1))))  # 0.6847


@method(
    id="flow-function",
    title="Flow function of a restriction",
    formula="ψ = √(2γ/(γ−1) · (x^(2/γ) − x^((γ+1)/γ))), constant below x = 0.5283 where the flow is choked",
    symbols={"ψ": "flow function", "x": "absolute pressure behind over before the restriction", "γ": "1.4"},
    source="heywood-1988",
    locator="appendix C, flow through a restriction",
    evidence="from-memory",
    valid="0 ≤ x ≤ 1",
    example=Example({"pressure_ratio": 0.5}, 0.684731, by="by hand: √1.4 · (2/2.4)^3", rel_tol=1e-5),
)
def flow_function(*, pressure_ratio: Ratio) -> Ratio:
    """Dimensionless mass flow of a restriction for the absolute pressure behind it over that before it, 0 … 1.

    Raises:
        OutsideValidity: the ratio is not within 0 … 1.
    """
    if not 0 <= pressure_ratio <= 1:
        raise OutsideValidity(
            "pressure_ratio", "The pressure behind a restriction cannot exceed the pressure before it.", "0 … 1"
        )
    if pressure_ratio <= CRITICAL_PRESSURE_RATIO:
        return _CHOKED_FLOW
    power = float(pressure_ratio ** (2 / _G)) - float(pressure_ratio ** ((_G + 1) / _G))
    return sqrt(2 * _G / (_G - 1) * max(power, 0.0))


@method(
    id="isentropic-mass-flux",
    title="Mass flow of air per area of a restriction",
    formula="G = p₀ / √(R T₀) · ψ(p / p₀)",
    symbols={
        "G": "mass flow per area [kg/(m²·s)]",
        "p₀": "absolute pressure before the restriction [Pa]",
        "T₀": "temperature before the restriction [K]",
        "p": "absolute pressure behind it [Pa]",
        "R": "287.053 J/(kg·K)",
    },
    source="heywood-1988",
    locator="appendix C, flow through a restriction",
    evidence="from-memory",
    example=Example(
        {"upstream_pressure": 101325.0, "upstream_temperature": 288.15, "downstream_pressure": 40000.0},
        241.24,
        by="by hand, choked: 0.040415 · p₀ / √T₀ with 0.040415 = 0.684731/√287.053",
    ),
)
def mass_flux(*, upstream_pressure: Pressure, upstream_temperature: Temperature, downstream_pressure: Pressure) -> MassFlux:
    """Mass flow of air per area in kg/(m²·s) through an ideal restriction between two absolute pressures.

    Raises:
        OutsideValidity: a value is not positive or the pressure behind is the higher one.
    """
    require_positive(upstream_pressure=upstream_pressure, upstream_temperature=upstream_temperature)
    if not 0 <= downstream_pressure <= upstream_pressure:
        raise OutsideValidity(
            "downstream_pressure",
            "The pressure behind the restriction must lie between zero and the pressure before it; "
            "check that both are absolute and not exchanged.",
            "0 … upstream_pressure",
        )
    ratio = flow_function(pressure_ratio=downstream_pressure / upstream_pressure)
    return upstream_pressure / sqrt(DRY_AIR_GAS_CONSTANT * upstream_temperature) * ratio


@method(
    id="throat-speed",
    title="Air speed in a throat from its depression",
    formula="v = √(2γ/(γ−1) · R T₀ · (1 − (1 − Δp/p₀)^((γ−1)/γ)))",
    symbols={
        "v": "speed in the throat [m/s]",
        "Δp": "depression below the pressure before it [Pa]",
        "p₀": "absolute pressure before it [Pa]",
        "T₀": "temperature before it [K]",
    },
    source="heywood-1988",
    locator="isentropic flow, energy equation",
    evidence="textbook",
    valid="up to the depression at which the throat chokes, 47 % of p₀",
    example=Example(
        {"upstream_pressure": 1e5, "upstream_temperature": 298.0, "depression": 6000.0},
        102.5,
        by="H N Gupta, example 9.3 (printed to 0.1 m/s, with cp 1005)",
        rel_tol=1e-3,
    ),
)
def throat_speed(*, upstream_pressure: Pressure, upstream_temperature: Temperature, depression: Pressure) -> Velocity:
    """Speed in m/s in a throat whose pressure lies below that before it by the depression in Pa.

    Raises:
        OutsideValidity: the depression is negative or larger than a throat can have.
    """
    require_positive(upstream_pressure=upstream_pressure, upstream_temperature=upstream_temperature)
    ratio = 1 - depression / upstream_pressure
    if not CRITICAL_PRESSURE_RATIO <= ratio <= 1:
        raise OutsideValidity(
            "depression",
            "A throat has a depression between zero and 47 % of the absolute pressure before it; beyond that it chokes.",
            f"0 … {(1 - CRITICAL_PRESSURE_RATIO):.4f} · upstream_pressure",
        )
    energy = 1 - float(ratio ** ((_G - 1) / _G))
    return sqrt(2 * _G / (_G - 1) * DRY_AIR_GAS_CONSTANT * upstream_temperature * energy)


@method(
    id="throat-pressure",
    title="Pressure in a throat from its air speed",
    formula="p = p₀ · (1 − (v/φ)² (γ−1) / (2 γ R T₀))^(γ/(γ−1))",
    symbols={
        "p": "absolute pressure in the throat [Pa]",
        "v": "speed in the throat [m/s]",
        "φ": "speed coefficient: real over ideal speed",
        "p₀": "absolute pressure before it [Pa]",
        "T₀": "temperature before it [K]",
    },
    source="heywood-1988",
    locator="isentropic flow, energy equation",
    evidence="textbook",
    valid="up to the speed of sound in the throat",
    example=Example(
        {"upstream_pressure": 1e5, "upstream_temperature": 298.0, "speed": 102.5},
        94000.0,
        by="H N Gupta, example 9.3, solved for the pressure",
        rel_tol=1e-4,
    ),
)
def throat_pressure(
    *, upstream_pressure: Pressure, upstream_temperature: Temperature, speed: Velocity, speed_coefficient: Ratio = 1.0
) -> Pressure:
    """Absolute pressure in Pa in a throat where the air runs at a speed in m/s.

    Raises:
        OutsideValidity: the speed is negative or above the speed of sound in the throat.
    """
    require_positive(
        upstream_pressure=upstream_pressure,
        upstream_temperature=upstream_temperature,
        speed_coefficient=speed_coefficient,
    )
    ideal = speed / speed_coefficient
    energy = ideal * ideal * (_G - 1) / (2 * _G * DRY_AIR_GAS_CONSTANT * upstream_temperature)
    if speed < 0 or energy > (_G - 1) / (_G + 1):
        raise OutsideValidity(
            "speed", "The air in a throat cannot run faster than sound; use a larger throat.", "0 … speed of sound"
        )
    return upstream_pressure * float((1 - energy) ** (_G / (_G - 1)))
