"""Octane need of a build as a difference from one that is known to run clean. There is no absolute answer.

The end gas is followed from intake closing to the end of burning: pressure by a Wiebe burn in one zone, temperature by
the same polytrope, and the Livengood-Wu integral of the time to knock. The integral scales with the octane number to
the power −3.402, so two builds compare in closed form, and what the model gets wrong for both of them cancels.
"""

from dataclasses import dataclass
from math import ceil, exp, hypot, pi

from service.calculations.displacement import piston_area
from service.calculations.piston_motion import piston_position
from service.errors import MissingInput, OutsideValidity
from service.methods import Example, method
from service.units import Angle, Duration, Length, Pressure, Ratio, RotationalSpeed, Temperature

DEGREE = pi / 180
STEP: Angle = 2 * DEGREE
GAS_CONSTANT = 287.055  # of the charge, taken as air [J/(kg·K)]
POLYTROPIC_EXPONENT: Ratio = 1.32
BURN_DURATION: Angle = 50 * DEGREE
BURNT = 0.97  # part of the burn after which next to nothing is left to knock
WIEBE_EFFICIENCY = 5.0  # a and m of the burnt share, 1 − exp(−a x^(m + 1))
WIEBE_SHAPE = 2.0
HEAT_PER_KILOGRAM = 2.2e6  # J into the gas per kg of charge, after what the walls take
OCTANE_EXPONENT = 3.402  # of the octane number in the time to knock
LEAST_UNCERTAINTY = 3.0  # octane numbers between two builds that need the same, by experience
SLOPE_UNCERTAINTY = 2 / 3  # of the difference itself
LOWEST_RATIO, HIGHEST_RATIO = 3.0, 14.0


@dataclass(frozen=True, slots=True)
class KnockPoint:
    """One build at the point where it would knock: full throttle at one speed."""

    bore: Length
    stroke: Length
    rod_length: Length
    compression_ratio: Ratio
    intake_closing: Angle
    ignition_advance: Angle
    speed: RotationalSpeed
    intake_pressure: Pressure
    charge_temperature: Temperature


def refuse_absolute_octane() -> None:
    """Say why an octane number without a known-good build is not given.

    Raises:
        MissingInput: always.
    """
    raise MissingInput(
        "octane/reference",
        "An octane number out of a formula comes out 10 to 20 numbers wrong for a hot air-cooled head, so none is "
        "given. Send one build that is known to run clean on a known fuel; the difference from it can be computed.",
        '{"octane": 91, "compression_ratio": 7.5}',
    )


def _refuse_outside(point: KnockPoint) -> None:
    ranges = (
        ("compression_ratio", point.compression_ratio, LOWEST_RATIO, HIGHEST_RATIO, "a ratio of 3 to 14"),
        ("intake_closing", point.intake_closing / DEGREE, -40.0, 110.0, "−40° to 110° after bottom dead centre"),
        ("ignition_advance", point.ignition_advance / DEGREE, -20.0, 60.0, "−20° to 60° before top dead centre"),
        ("speed", point.speed * 30 / pi, 200.0, 15000.0, "200 to 15,000 rpm"),
        ("intake_pressure", point.intake_pressure / 1000, 20.0, 110.0, "20 to 110 kPa absolute"),
        ("charge_temperature", point.charge_temperature, 230.0, 450.0, "−43 to 177 °C"),
    )
    for field, value, low, high, allowed in ranges:
        if not low <= value <= high:
            raise OutsideValidity(field, f"The octane comparison holds for {allowed}; send a value in it.", allowed)


@method(
    id="self-ignition-time",
    title="Time to self-ignition of the end gas",
    formula="τ = 17.68 ms · (ON/100)^3.402 · p^−1.7 · exp(3800 K / T), p in atm",
    symbols={
        "τ": "time to self-ignition at one pressure and temperature [s]",
        "ON": "octane number",
        "p": "pressure of the end gas [atm]",
        "T": "its temperature [K]",
    },
    source="douaud-eyzat-1978",
    locator="four-octane-number fit, as quoted in textbooks",
    evidence="from-memory",
    valid="petrol; only the quotient of two builds is used",
    example=Example(
        {"pressure": 2026500.0, "temperature": 800.0},
        12.549e-3,
        by="by hand at 20 atm and 800 K: 17.68 / 162.84 · 115.58 ms",
        rel_tol=3e-4,
    ),
)
def self_ignition_time(*, pressure: Pressure, temperature: Temperature, octane_number: Ratio = 100.0) -> Duration:
    """Time in s for which the end gas could stand at this state before it ignites itself."""
    return float(17.68e-3 * (octane_number / 100) ** OCTANE_EXPONENT * (pressure / 101325) ** -1.7 * exp(3800 / temperature))


@method(
    id="end-gas-integral",
    title="Livengood-Wu integral of the end gas for iso-octane",
    formula="I = ∫ dt / τ(p, T), ON = 100",
    symbols={
        "I": "integral; it reaches 1 where the end gas would ignite itself",
        "τ": "time to self-ignition [s]",
        "p": "pressure of the end gas: Wiebe burn in one zone",
        "T": "its temperature: polytrope of the same pressure",
    },
    source="heywood-1988",
    locator="ch. 9, induction-time integral after Livengood and Wu",
    evidence="from-memory",
    valid="full throttle; only the quotient of two builds is used",
    example=Example(
        {"point": KnockPoint(0.086, 0.073, 0.136, 8.13, 62 * DEGREE, 28 * DEGREE, 100 * pi, 95e3, 350.0)},
        0.64593,
        by="the same burn solved step by step with scipy's solve_ivp at 1e-9",
        rel_tol=0.005,
    ),
)
def end_gas_integral(*, point: KnockPoint) -> float:
    """Integral from intake closing to the end of burning, for iso-octane.

    The pressure of a Wiebe burn at a constant exponent k needs no stepwise solution: d(p V^k) = (k − 1) Q V^(k−1) dx.

    Raises:
        OutsideValidity: a value is outside what the fit was made for.
    """
    _refuse_outside(point)
    area = piston_area(bore=point.bore)
    clearance = area * point.stroke / (point.compression_ratio - 1)
    k = POLYTROPIC_EXPONENT

    def volume(angle: Angle) -> float:
        drop = piston_position(stroke=point.stroke, rod_length=point.rod_length, crank_angle=angle)
        return clearance + area * drop

    closing = point.intake_closing - pi
    spark = -point.ignition_advance
    finish = spark + BURN_DURATION * BURNT
    steps = ceil((finish - closing) / STEP)
    step = (finish - closing) / steps
    here = volume(closing)
    heat = point.intake_pressure * here / (GAS_CONSTANT * point.charge_temperature) * HEAT_PER_KILOGRAM
    constant = point.intake_pressure * here**k
    burnt, integral, rate = 0.0, 0.0, 0.0
    for i in range(1, steps + 1):
        angle = closing + i * step
        before, here = here, volume(angle)
        progress = max(0.0, (angle - spark) / BURN_DURATION)
        now = 1 - exp(-WIEBE_EFFICIENCY * progress ** (WIEBE_SHAPE + 1))
        constant += (k - 1) * heat * (now - burnt) * ((here + before) / 2) ** (k - 1)
        burnt = now
        pressure = constant / here**k
        temperature = point.charge_temperature * (pressure / point.intake_pressure) ** ((k - 1) / k)
        last, rate = rate, 1 / self_ignition_time(pressure=pressure, temperature=temperature)
        integral += (last + rate) / 2 * step
    return float(integral / point.speed)


@method(
    id="octane-by-difference",
    title="Octane need from a known-good build",
    formula="ON = ON_ref · (I / I_ref)^(1/3.402)",
    symbols={
        "ON": "octane number that the new build needs",
        "ON_ref": "octane number on which the reference build runs clean",
        "I": "end-gas integral of the new build, of the reference build",
    },
    source="douaud-eyzat-1978",
    locator="exponent of the octane number, solved for the number at equal margin to knock",
    evidence="from-memory",
    valid="same chamber shape, cooling and mixture; how sure it is says octane-difference-uncertainty",
    example=Example(
        {"reference_octane": 91.0, "reference_integral": 0.5, "integral": 0.55},
        93.586,
        by="by hand: 91 · exp(ln 1.1 / 3.402) = 91 · 1.028412",
        rel_tol=1e-4,
    ),
)
def octane_by_difference(*, reference_octane: Ratio, reference_integral: float, integral: float) -> Ratio:
    """Octane number with the same margin to knock as the reference; on the same scale (RON, MON or AKI).

    Raises:
        OutsideValidity: the reference octane or an integral is not positive.
    """
    if not 0 < reference_octane <= 130:
        raise OutsideValidity(
            "octane/reference/octane", "Send the octane number of the fuel that ran clean, such as 91.", "60 to 130"
        )
    if reference_integral <= 0 or integral <= 0:
        raise OutsideValidity("octane/reference", "Both builds need a compression stroke to compare.", "> 0")
    return float(reference_octane * (integral / reference_integral) ** (1 / OCTANE_EXPONENT))


@method(
    id="octane-difference-uncertainty",
    title="Uncertainty of an octane need by difference",
    formula="U = √(3² + (⅔ Δ)²)",
    symbols={
        "U": "expanded uncertainty, coverage 2 [octane numbers]",
        "Δ": "octane number less that of the reference",
    },
    source="common-practice",
    locator="from memory: engines in service need 3 to 6 numbers more for one more of ratio, the model says 8 to 9",
    evidence="common-practice",
    valid="any difference; beyond some 10 numbers the band says little but which way",
    example=Example({"difference": 6.0}, 5.0, by="by hand: √(9 + 16)", rel_tol=1e-12),
)
def octane_difference_uncertainty(*, difference: float) -> float:
    """Octane numbers by which the need may be off: what cancels between two builds does so the less, the further they are.

    Two builds that need the same are known within three numbers. What moves them apart is the model's slope, which is one and
    a half to three times that of engines in service, so two thirds of the difference are not sure.
    """
    return hypot(LEAST_UNCERTAINTY, SLOPE_UNCERTAINTY * difference)
