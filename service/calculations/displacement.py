"""Swept volume of cylinders and its inverses."""

from math import pi, sqrt

from service.errors import OutsideValidity
from service.methods import Example, method
from service.units import Area, Length, Volume


def piston_area(*, bore: Length) -> Area:
    """Area of the bore in m²: π/4 · B²."""
    return pi / 4 * bore * bore


@method(
    id="displacement",
    title="Displacement from bore and stroke",
    formula="V = π/4 · B² · S · n",
    symbols={"V": "displacement [m³]", "B": "bore [m]", "S": "stroke [m]", "n": "number of cylinders"},
    source="geometry",
    locator="volume of a cylinder",
    evidence="standard",
    example=Example({"bore": 0.100, "stroke": 0.120, "cylinders": 2}, 1885e-6, by="TM 5-4310-389-14, data plate", rel_tol=3e-4),
)
def displacement(*, bore: Length, stroke: Length, cylinders: int) -> Volume:
    """Volume swept by all pistons in m³, for any positive bore, stroke and number of cylinders."""
    return piston_area(bore=bore) * stroke * cylinders


@method(
    id="bore-from-displacement",
    title="Bore that gives a displacement",
    formula="B = √(4 V / (π S n))",
    symbols={"V": "displacement [m³]", "B": "bore [m]", "S": "stroke [m]", "n": "number of cylinders"},
    source="geometry",
    locator="volume of a cylinder, solved for the diameter",
    evidence="standard",
    example=Example({"displacement": 1750e-6, "stroke": 0.073, "cylinders": 4}, 0.08735, by="by hand: √(4·1750/(π·7.3·4)) cm"),
)
def bore_from_displacement(*, displacement: Volume, stroke: Length, cylinders: int) -> Length:
    """Bore in m of an engine of the given displacement and stroke.

    Raises:
        OutsideValidity: the displacement or stroke is not positive.
    """
    if displacement <= 0 or stroke <= 0:
        raise OutsideValidity("displacement", "Displacement and stroke must be above zero.", "> 0")
    return sqrt(4 * displacement / (pi * stroke * cylinders))


@method(
    id="stroke-from-displacement",
    title="Stroke that gives a displacement",
    formula="S = 4 V / (π B² n)",
    symbols={"V": "displacement [m³]", "B": "bore [m]", "S": "stroke [m]", "n": "number of cylinders"},
    source="geometry",
    locator="volume of a cylinder, solved for the height",
    evidence="standard",
    example=Example(
        {"displacement": 1885e-6, "bore": 0.100, "cylinders": 2}, 0.120, by="TM 5-4310-389-14, data plate", rel_tol=3e-4
    ),
)
def stroke_from_displacement(*, displacement: Volume, bore: Length, cylinders: int) -> Length:
    """Stroke in m of an engine of the given displacement and bore.

    Raises:
        OutsideValidity: the displacement or bore is not positive.
    """
    if displacement <= 0 or bore <= 0:
        raise OutsideValidity("displacement", "Displacement and bore must be above zero.", "> 0")
    return displacement / (piston_area(bore=bore) * cylinders)
