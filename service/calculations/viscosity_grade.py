"""How thick an oil is of which only the grade is known: a band, from the limits at 100 °C and the usual viscosity index."""

from math import sqrt
from typing import NamedTuple

from service.calculations.viscosity import WaltherLine, line_from_sheet, viscosity_at
from service.calculations.viscosity_index import viscosity_from_index
from service.errors import Contradiction
from service.methods import Example, method
from service.units import KinematicViscosity, Ratio, Temperature


class GradeLines(NamedTuple):
    """Lines of the thinnest oils of a grade (of low and high viscosity index), of its middle, and of the thickest."""

    thin: tuple[WaltherLine, WaltherLine]
    middle: WaltherLine
    thick: tuple[WaltherLine, WaltherLine]


class ViscosityBand(NamedTuple):
    """The viscosities that an oil of a grade may have at one temperature."""

    low: KinematicViscosity
    nominal: KinematicViscosity
    high: KinematicViscosity


@method(
    id="viscosity-band-of-grade",
    title="Viscosity of an oil grade at a temperature, as a band",
    formula="line through (100 °C, ν₁₀₀) and (40 °C, ν₄₀ from ν₁₀₀ and VI), for both limits of ν₁₀₀ and of VI",
    symbols={"ν₁₀₀": "limits of the grade at 100 °C [mm²/s]", "VI": "viscosity index"},
    source="sae-j300-2015",
    locator="limits at 100 °C; the spread of the index is supplied",
    evidence="derived",
    valid="results of 2 mm²/s to 2·10⁷ mm²/s",
    example=Example(
        {
            "viscosity_100_low": 9.3e-6,
            "viscosity_100_high": 12.5e-6,
            "index_low": 85.0,
            "index_high": 110.0,
            "temperature": 373.15,
        },
        {"low": 9.3e-6, "high": 12.5e-6, "nominal": 10.782e-6},
        by="SAE J300, grade 30 at 100 °C; the middle by hand: √(9.3 · 12.5)",
    ),
)
def grade_viscosity_band(
    *,
    viscosity_100_low: KinematicViscosity,
    viscosity_100_high: KinematicViscosity,
    index_low: Ratio,
    index_high: Ratio,
    temperature: Temperature,
) -> ViscosityBand:
    """Lowest, middle and highest kinematic viscosity in m²/s that the grade allows at a temperature.

    A grade fixes the viscosity at 100 °C only; how fast it changes is the viscosity index, so both spread.

    Raises:
        OutsideValidity: as ``viscosity_at``, or an index outside 0 to 400.
        Contradiction: limits in the wrong order.
    """
    lines = grade_lines(
        viscosity_100_low=viscosity_100_low,
        viscosity_100_high=viscosity_100_high,
        index_low=index_low,
        index_high=index_high,
    )
    return band_of_lines(lines=lines, temperature=temperature)


def grade_lines(
    *,
    viscosity_100_low: KinematicViscosity,
    viscosity_100_high: KinematicViscosity,
    index_low: Ratio,
    index_high: Ratio,
) -> GradeLines:
    """The lines of the oils at the ends and in the middle of a grade, for bands at many temperatures.

    Raises:
        OutsideValidity: an index outside 0 to 400, or an oil thinner than 2 mm²/s at 100 °C.
        Contradiction: limits in the wrong order.
    """
    if viscosity_100_low > viscosity_100_high or index_low > index_high:
        raise Contradiction(("grade",), "The lower limit of a grade stands above its upper limit.")

    ends = [
        (line_of_index(viscosity_100=v, index=index_low), line_of_index(viscosity_100=v, index=index_high))
        for v in (viscosity_100_low, viscosity_100_high)
    ]
    middle = line_of_index(viscosity_100=sqrt(viscosity_100_low * viscosity_100_high), index=(index_low + index_high) / 2)
    return GradeLines(ends[0], middle, ends[1])


def line_of_index(*, viscosity_100: KinematicViscosity, index: Ratio) -> WaltherLine:
    """The line of an oil from its viscosity at 100 °C and its viscosity index (ASTM D2270, then ASTM D341).

    Raises:
        OutsideValidity: an index outside 0 to 400, or an oil thinner than 2 mm²/s at 100 °C.
    """
    viscosity_40 = viscosity_from_index(viscosity_100=viscosity_100, index=index)
    return line_from_sheet(viscosity_40=viscosity_40, viscosity_100=viscosity_100)


def band_of_lines(*, lines: GradeLines, temperature: Temperature) -> ViscosityBand:
    """Lowest, middle and highest kinematic viscosity in m²/s of the oils of a grade at a temperature.

    Raises:
        OutsideValidity: as ``viscosity_at``.
    """
    thin, middle, thick = (
        [viscosity_at(line=line, temperature=temperature) for line in group]
        for group in (lines.thin, (lines.middle,), lines.thick)
    )
    return ViscosityBand(min(thin), middle[0], max(thick))
