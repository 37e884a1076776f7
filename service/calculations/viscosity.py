"""How thick an oil is at a temperature, from two of its points such as the figures of the maker's sheet."""

from math import log10
from typing import NamedTuple

from service.errors import Contradiction, OutsideValidity
from service.methods import Example, method
from service.units import Density, DynamicViscosity, KinematicViscosity, Temperature

CELSIUS_ZERO = 273.15
AT_40 = CELSIUS_ZERO + 40
AT_100 = CELSIUS_ZERO + 100

# The short form of the equation holds between these, in mm²/s; below, the standard needs a longer one.
_THINNEST = 2.0
_THICKEST = 2e7


class WaltherLine(NamedTuple):
    """The straight line of one oil on the viscosity-temperature chart: log10 log10(ν + 0.7) = A - B log10 T."""

    a: float
    b: float


@method(
    id="walther-line",
    title="Viscosity-temperature line through two points",
    formula="B = (W₁ - W₂)/(log10 T₂ - log10 T₁), A = W₁ + B log10 T₁, with W = log10 log10(ν + 0.7)",
    symbols={"ν": "kinematic viscosity [mm²/s]", "T": "absolute temperature [K]"},
    source="astm-d341-2017",
    locator="log log (ν + 0.7) = A - B log T",
    evidence="standard",
    valid="2 mm²/s to 2·10⁷ mm²/s, temperatures at least 1 K apart",
    example=Example(
        {
            "cool_temperature": 313.0,
            "cool_viscosity": 32e-6,
            "hot_temperature": 373.0,
            "hot_viscosity": 5.4e-6,
        },
        {"a": 9.5259, "b": 3.7449},
        by="printed worksheet on ASTM D341, which takes T = t + 273",
    ),
)
def walther_line(
    *,
    cool_temperature: Temperature,
    cool_viscosity: KinematicViscosity,
    hot_temperature: Temperature,
    hot_viscosity: KinematicViscosity,
) -> WaltherLine:
    """The line of an oil through two of its points (K, m²/s).

    Raises:
        OutsideValidity: a viscosity outside the equation's range, or temperatures less than 1 K apart.
        Contradiction: the oil does not get thinner as it warms.
    """
    cool, hot = cool_viscosity * 1e6, hot_viscosity * 1e6
    for field, viscosity in (("cool_viscosity", cool), ("hot_viscosity", hot)):
        # The decimal form of a limit may land one bit under it: 2 mm²/s is still 2 mm²/s.
        if not _THINNEST * (1 - 1e-12) <= viscosity <= _THICKEST:
            raise OutsideValidity(
                field,
                "The equation holds from 2 mm²/s upward; send the kinematic viscosity of the oil sheet.",
                "2 to 2·10⁷ mm²/s",
            )
    if not (cool_temperature > 0 and hot_temperature - cool_temperature >= 1):
        raise OutsideValidity(
            "hot_temperature",
            "Two points of one line need two temperatures, the second at least 1 K above the first; "
            "an oil sheet gives 40 °C and 100 °C.",
            "at least 1 K above the other",
        )
    if not cool > hot:
        raise Contradiction(
            ("cool_viscosity", "hot_viscosity"), "An oil gets thinner as it warms; the two figures look swapped."
        )
    w_cool, w_hot = _double_logarithm(cool), _double_logarithm(hot)
    b = (w_cool - w_hot) / (log10(hot_temperature) - log10(cool_temperature))
    return WaltherLine(w_cool + b * log10(cool_temperature), b)


def line_from_sheet(*, viscosity_40: KinematicViscosity, viscosity_100: KinematicViscosity) -> WaltherLine:
    """The line of an oil from the two figures of its data sheet, at 40 °C and at 100 °C (ASTM D341).

    Raises:
        OutsideValidity: a figure below 2 mm²/s.
        Contradiction: the figures are swapped.
    """
    if viscosity_40 <= viscosity_100:
        raise Contradiction(
            ("viscosity_40", "viscosity_100"),
            "An oil is thicker at 40 °C than at 100 °C; the two figures look swapped.",
        )
    return walther_line(
        cool_temperature=AT_40, cool_viscosity=viscosity_40, hot_temperature=AT_100, hot_viscosity=viscosity_100
    )


@method(
    id="viscosity-at-temperature",
    title="Kinematic viscosity at a temperature",
    formula="ν = 10^(10^(A - B log10 T)) - 0.7",
    symbols={"ν": "kinematic viscosity [mm²/s]", "T": "absolute temperature [K]", "A, B": "constants of the oil"},
    source="astm-d341-2017",
    locator="log log (ν + 0.7) = A - B log T",
    evidence="standard",
    valid="where the oil is a plain liquid: above its pour point, and results of 2 mm²/s to 2·10⁷ mm²/s",
    example=Example(
        {"line": WaltherLine(9.5259, 3.7449), "temperature": 353.0},
        8.5e-6,
        by="printed worksheet on ASTM D341: 8.5 mm²/s at 80 °C",
        rel_tol=0.006,
    ),
)
def viscosity_at(*, line: WaltherLine, temperature: Temperature) -> KinematicViscosity:
    """Kinematic viscosity in m²/s of an oil at a temperature in K, read off its line.

    Raises:
        OutsideValidity: the oil would be thinner or thicker at this temperature than the equation holds for.
    """
    if not temperature > 0:
        raise OutsideValidity("temperature", "The temperature must be above absolute zero.", "> 0 K")
    w = line.a - line.b * log10(temperature)
    if not _double_logarithm(_THINNEST) - 1e-9 <= w <= _double_logarithm(_THICKEST):
        state = "thinner than 2 mm²/s" if w < 0 else "stiff, no longer a liquid"
        raise OutsideValidity(
            "temperature",
            f"At {temperature - CELSIUS_ZERO:.0f} °C this oil would be {state}; "
            "ask for a temperature at which the engine can run on it.",
            "2 to 2·10⁷ mm²/s",
        )
    return float(10 ** (10**w) - 0.7) * 1e-6


@method(
    id="temperature-at-viscosity",
    title="Temperature at which an oil reaches a viscosity",
    formula="T = 10^((A - log10 log10(ν + 0.7))/B)",
    symbols={"ν": "kinematic viscosity [mm²/s]", "T": "absolute temperature [K]", "A, B": "constants of the oil"},
    source="astm-d341-2017",
    locator="log log (ν + 0.7) = A - B log T, solved for T",
    evidence="standard",
    valid="2 mm²/s to 2·10⁷ mm²/s",
    example=Example(
        {"line": WaltherLine(9.5259, 3.7449), "viscosity": 8.533e-6},
        353.0,
        by="printed worksheet on ASTM D341 read backwards (8.533 mm²/s at 80 °C, T = t + 273)",
    ),
)
def temperature_at(*, line: WaltherLine, viscosity: KinematicViscosity) -> Temperature:
    """Temperature in K at which the oil has this kinematic viscosity.

    Raises:
        OutsideValidity: a viscosity outside the equation's range, or a line that does not fall.
    """
    if not _THINNEST * (1 - 1e-12) <= viscosity * 1e6 <= _THICKEST:
        raise OutsideValidity("viscosity", "The equation holds from 2 mm²/s upward.", "2 to 2·10⁷ mm²/s")
    if not line.b > 0:
        raise OutsideValidity("line", "The viscosity of an oil falls as it warms; check its two figures.", "B > 0")
    exponent = (line.a - _double_logarithm(viscosity * 1e6)) / line.b
    if not abs(exponent) < 4:
        raise OutsideValidity("viscosity", "This oil never has this viscosity; check its two figures.", "0 to 10⁴ K")
    return float(10**exponent)


@method(
    id="oil-density",
    title="Density of an oil at a temperature",
    formula="ρ = ρ₁₅ - 0.64 (t - 15 °C)",
    symbols={"ρ": "density [kg/m³]", "ρ₁₅": "density at 15 °C [kg/m³]", "t": "temperature [°C]"},
    source="common-practice",
    locator="expansion of lubricating oils, straight-line form",
    evidence="from-memory",
    valid="mineral engine oils of 840 to 960 kg/m³, -40 °C to 180 °C",
    example=Example({"density_15": 885.0, "temperature": 373.15}, 830.6, by="by hand: 885 - 0.64·85", rel_tol=1e-6),
)
def oil_density(*, density_15: Density, temperature: Temperature) -> Density:
    """Density in kg/m³ of an oil at a temperature in K, from its density at 15 °C: 0.64 kg/m³ less for each kelvin.

    Raises:
        OutsideValidity: the temperature is so high that the straight line has no meaning.
    """
    density = density_15 - 0.64 * (temperature - CELSIUS_ZERO - 15)
    if not density > 0:
        raise OutsideValidity("temperature", "The density of an oil is known up to about 180 °C.", "-40 to 180 °C")
    return density


@method(
    id="dynamic-viscosity",
    title="Dynamic viscosity",
    formula="μ = ν ρ",
    symbols={"μ": "dynamic viscosity [Pa·s]", "ν": "kinematic viscosity [m²/s]", "ρ": "density [kg/m³]"},
    source="mechanics",
    locator="definition of kinematic viscosity",
    evidence="standard",
    example=Example({"viscosity": 14e-6, "density": 840.0}, 11.76e-3, by="by hand: 14 · 0.84 mPa·s", rel_tol=1e-6),
)
def dynamic_viscosity(*, viscosity: KinematicViscosity, density: Density) -> DynamicViscosity:
    """Dynamic viscosity in Pa·s from kinematic viscosity in m²/s and density in kg/m³; it is what carries a bearing."""
    return viscosity * density


def _double_logarithm(viscosity_in_mm2_per_s: float) -> float:
    return log10(log10(viscosity_in_mm2_per_s + 0.7))
