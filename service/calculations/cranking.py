"""What the cam leaves of the compression ratio, and what a compression gauge shows of it."""

from math import degrees, log, pi, sqrt
from typing import NamedTuple

from service.calculations.displacement import piston_area
from service.calculations.piston_motion import piston_position
from service.errors import OutsideValidity
from service.methods import Example, method
from service.units import Angle, Length, Pressure, Ratio, Volume

DEGREE = pi / 180
EARLIEST_CLOSING = -40 * DEGREE
LATEST_CLOSING = 110 * DEGREE

# Slow compression against cold walls and the filling at cranking speed, by experience; deviations are one sigma.
EXPONENT: Ratio = 1.24
EXPONENT_DEVIATION: Ratio = 0.04
FILLING: Ratio = 0.98
FILLING_DEVIATION: Ratio = 0.03


class PressureBand(NamedTuple):
    """A gauge pressure with its band, in Pa."""

    low: Pressure
    nominal: Pressure
    high: Pressure


@method(
    id="intake-closing-from-cam",
    title="Intake closing from the cam card",
    formula="IVC = D/2 + ICL − 180°",
    symbols={
        "IVC": "intake closing after bottom dead centre [rad of crank]",
        "D": "duration at one named lift [rad of crank]",
        "ICL": "intake lobe centre after top dead centre [rad of crank]",
    },
    source="geometry",
    locator="symmetric lobe",
    evidence="derived",
    valid="a lobe whose two flanks are alike; the answer belongs to the lift at which the duration was read",
    example=Example({"duration": 276 * DEGREE, "lobe_centre": 104 * DEGREE}, 62 * DEGREE, by="by hand: 138 + 104 − 180"),
)
def intake_closing_angle(*, duration: Angle, lobe_centre: Angle) -> Angle:
    """Intake closing in rad after bottom dead centre, at the lift of the duration."""
    return duration / 2 + lobe_centre - pi


@method(
    id="effective-ratio",
    title="Effective compression ratio at intake closing",
    formula="r_eff = (V_c + A · x(180° + IVC)) / V_c",
    symbols={
        "r_eff": "effective compression ratio",
        "V_c": "clearance volume [m³]",
        "A": "area of the bore [m²]",
        "x": "drop of the piston below top dead centre, exact slider-crank [m]",
        "IVC": "intake closing after bottom dead centre [rad]",
    },
    source="heywood-1988",
    locator="ch. 2, cylinder volume at a crank angle, taken where the intake valve closes",
    evidence="textbook",
    valid="intake closing from 40° before to 110° after bottom dead centre",
    example=Example(
        {"bore": 0.1, "stroke": 0.06, "rod_length": 0.05, "clearance_volume": 50e-6, "intake_closing": pi / 2},
        7.283185,
        by="by hand, 3-4-5 triangle: 40 mm of 78.54 cm² over 50 cm³",
        rel_tol=1e-6,
    ),
)
def effective_ratio(
    *,
    bore: Length,
    stroke: Length,
    rod_length: Length,
    clearance_volume: Volume,
    intake_closing: Angle,
    pin_offset: Length = 0.0,
) -> Ratio:
    """Ratio of the volume at intake closing to the clearance volume.

    It holds for the lift at which the closing was read: at 0.050 in it is some 0.8 higher than at the advertised lift.

    Raises:
        OutsideValidity: the closing is outside its range, or there is no clearance volume.
        Contradiction: the rod is too short for the stroke.
    """
    if not EARLIEST_CLOSING <= intake_closing <= LATEST_CLOSING:
        raise OutsideValidity(
            "intake_closing",
            f"Intake closing of {degrees(intake_closing):.0f}° after bottom dead centre is outside what a cam does. "
            "Send crank degrees after bottom dead centre; cam degrees are half as many.",
            "−40° to 110° after bottom dead centre",
        )
    if clearance_volume <= 0:
        raise OutsideValidity("clearance_volume", "The clearance volume must be above zero.", "> 0")
    drop = piston_position(stroke=stroke, rod_length=rod_length, crank_angle=pi + intake_closing, pin_offset=pin_offset)
    return 1 + piston_area(bore=bore) * drop / clearance_volume


@method(
    id="polytropic-pressure",
    title="Pressure after polytropic compression",
    formula="p₂ = p₁ · r^n",
    symbols={"p": "absolute pressure [Pa]", "r": "ratio of the volumes", "n": "polytropic exponent"},
    source="heywood-1988",
    locator="ch. 5 and 9, compression stroke",
    evidence="textbook",
    example=Example(
        {"pressure": 1e5, "volume_ratio": 6.0, "exponent": 1.4},
        12.29e5,
        by="H N Gupta, Fundamentals of Internal Combustion Engines, example 2.1",
        rel_tol=5e-4,
    ),
)
def polytropic_pressure(*, pressure: Pressure, volume_ratio: Ratio, exponent: Ratio) -> Pressure:
    """Absolute pressure in Pa when the volume has shrunk by the ratio."""
    return float(pressure * volume_ratio**exponent)


@method(
    id="cranking-pressure",
    title="Pressure that a compression gauge shows at cranking speed",
    formula="p_g = p_atm · (φ · r_eff^n − 1); band ± 2 σ of φ and n",
    symbols={
        "p_g": "gauge pressure [Pa]",
        "p_atm": "pressure of the air [Pa]",
        "r_eff": "effective compression ratio at the advertised intake closing",
        "n": "exponent of slow compression against cold walls",
        "φ": "filling at cranking speed, throttle open",
    },
    source="derived",
    locator="polytropic compression from the effective ratio; exponent and filling by experience",
    evidence="common-practice",
    valid="warm engine, throttle and choke open, all plugs out, at least six compressions",
    example=Example(
        {
            "atmospheric_pressure": 101325.0,
            "effective_ratio": 6.62,
            "exponent": 1.24,
            "exponent_deviation": 0.04,
            "filling": 0.98,
            "filling_deviation": 0.03,
        },
        {"nominal": 9.33e5, "low": 7.65e5, "high": 11.02e5},
        by="by hand: 1.01325·(0.98·10.42 − 1) bar, ± 2·√((10.35·1.890·0.04)² + (10.56·0.03)²) bar",
        rel_tol=3e-3,
    ),
)
def cranking_pressure(
    *,
    atmospheric_pressure: Pressure,
    effective_ratio: Ratio,
    exponent: Ratio,
    exponent_deviation: Ratio,
    filling: Ratio,
    filling_deviation: Ratio,
) -> PressureBand:
    """Gauge pressure in Pa with its band of two standard deviations.

    Raises:
        OutsideValidity: the effective ratio is below 1, or the air pressure is not positive.
    """
    if effective_ratio < 1:
        raise OutsideValidity("effective_ratio", "An effective ratio is 1 or more.", "≥ 1")
    if atmospheric_pressure <= 0:
        raise OutsideValidity("atmospheric_pressure", "The pressure of the air must be above zero.", "> 0")
    compressed = polytropic_pressure(pressure=atmospheric_pressure, volume_ratio=effective_ratio, exponent=exponent)
    nominal = filling * compressed - atmospheric_pressure
    by_exponent = filling * compressed * log(effective_ratio) * exponent_deviation
    by_filling = compressed * filling_deviation
    half_width = 2 * sqrt(by_exponent * by_exponent + by_filling * by_filling)
    return PressureBand(nominal - half_width, nominal, nominal + half_width)
