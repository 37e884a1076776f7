"""Thermal growth of a part and of a chain of parts."""

from collections.abc import Iterable
from typing import NamedTuple

from service.methods import Example, method
from service.units import Expansion, Length, Temperature, TemperatureDifference


class Segment(NamedTuple):
    """One piece of a chain of parts, of one material at one running temperature.

    ``body`` names the part that the piece belongs to: pieces of one body share its temperature and its material, and
    so the error of both. An empty body means that the piece is a body of its own.
    """

    name: str
    length: Length
    expansion: Expansion
    temperature: Temperature
    body: str = ""


@method(
    id="part-growth",
    title="Growth of a part with temperature",
    formula="ΔL = L · α · ΔT",
    symbols={
        "ΔL": "growth [m]",
        "L": "length [m]",
        "α": "mean coefficient of linear expansion [1/K]",
        "ΔT": "rise of temperature [K]",
    },
    source="callister-2007",
    locator="definition of the linear coefficient; coefficients in Appendix Table B.6",
    evidence="textbook",
    valid="one material at one temperature; coefficients of 20 to 100 °C are 5 to 10 % low at 200 °C",
    example=Example(
        {"length": 0.127, "expansion": 11.7e-6, "temperature_change": 205.811},
        3.0582e-4,
        by="Wentzell, Machine Design, example 6.3: a 5 in bolt at 6.5e-6/°F stretches 0.01204 in over 370.46 °F",
    ),
)
def part_growth(*, length: Length, expansion: Expansion, temperature_change: TemperatureDifference) -> Length:
    """Growth in m of a part of uniform temperature; negative when it cools."""
    return length * expansion * temperature_change


def chain_growth(*, segments: Iterable[Segment], reference_temperature: Temperature) -> Length:
    """Growth in m of parts in line, each from the reference temperature to its own."""
    return sum(
        part_growth(
            length=segment.length,
            expansion=segment.expansion,
            temperature_change=segment.temperature - reference_temperature,
        )
        for segment in segments
    )
