"""Displacement of an engine from any two of bore, stroke and displacement."""

from collections.abc import Callable
from typing import Annotated

from pydantic import Field

from service.answers.displacement_rules import check_limit, check_registers, check_wall
from service.answers.envelope import Answer, QuantityOut, Result
from service.answers.inputs import Bore, Cylinders, Id, Measured, Request, Stroke
from service.answers.topic import Example, Topic
from service.calculations import displacement as calculation
from service.errors import Contradiction, Missing, MissingInput
from service.quantities import AREA, LENGTH, VOLUME, Quantity
from service.reference.dataset import Dataset


def _round(meaning: str, example: str) -> Measured:
    return Measured("length", "20 .. 250 mm", "55 .. 130 mm", example, meaning)


class DisplacementRequest(Request):
    """Number of cylinders and two of bore, stroke and displacement; with all three they must agree within 1 %.

    The rest opens the checks of a bore: the wall of the barrel, the registers of case and head, and a limit of a class.
    """

    cylinders: Cylinders
    bore: Bore | None = None
    stroke: Stroke | None = None
    displacement: (
        Annotated[
            Quantity, Measured("volume", "10 .. 60000 cm3", "100 .. 6000 cm3", "1750 cm3", "Swept volume of all cylinders.")
        ]
        | None
    ) = None
    engine: Annotated[Id, Field(description="Engine family, for its bore.", examples=["air-cooled-flat-four"])] | None = None
    spigot_diameter: Annotated[Quantity, _round("Outside of the barrel where it goes into the case.", "94 mm")] | None = None
    case_register: Annotated[Quantity, _round("Bore of the case that takes the spigot.", "94.1 mm")] | None = None
    barrel_top_diameter: Annotated[Quantity, _round("Outside of the barrel where it meets the head.", "98 mm")] | None = None
    head_register: Annotated[Quantity, _round("Bore of the head that takes the barrel.", "98.1 mm")] | None = None
    barrel_material: Annotated[Id, Field(description="Of the barrels.", examples=["grey-iron"])] | None = None
    displacement_limit: (
        Annotated[
            Quantity,
            Measured("volume", "10 .. 60000 cm3", "49 .. 6000 cm3", "1600 cm3", "Limit of a class, registration or insurance."),
        ]
        | None
    ) = None


class DisplacementResult(Result):
    """All four figures, whichever two were given."""

    displacement: QuantityOut
    displacement_per_cylinder: QuantityOut
    bore: QuantityOut
    stroke: QuantityOut
    piston_area: QuantityOut
    bore_stroke_ratio: float
    spigot_wall: QuantityOut | None = None


def answer(request: DisplacementRequest, dataset: Dataset) -> Answer:
    """The displacement and what it is made of.

    Raises:
        MissingInput: fewer than two of bore, stroke and displacement.
        Contradiction: all three are given and do not agree, or the spigot is inside the bore.
        NotInDataset: the engine or the material is not held.
        OutsideValidity: the result is no engine.
    """
    bore, stroke, method = _bore_and_stroke(request)
    swept = calculation.displacement(bore=bore, stroke=stroke, cylinders=request.cylinders)
    found = Answer(
        result={
            "displacement": VOLUME(swept),
            "displacement_per_cylinder": VOLUME(swept / request.cylinders),
            "bore": LENGTH(bore),
            "stroke": LENGTH(stroke),
            "piston_area": AREA(calculation.piston_area(bore=bore)),
            "bore_stroke_ratio": bore / stroke,
        }
    )
    found.rests_on(method)
    _check(found, request, dataset, bore, swept)
    return found


def _check(found: Answer, request: DisplacementRequest, dataset: Dataset, bore: float, swept: float) -> None:
    """What the bore asks of barrel, case and head, and the displacement of its limit."""
    if request.barrel_material is not None:
        dataset.entity("materials", request.barrel_material, field="barrel_material")
    names = ("spigot_diameter", "case_register", "barrel_top_diameter", "head_register")
    sizes = {name: None if (size := getattr(request, name)) is None else size.si for name in names}
    check_wall(found, bore=bore, spigot=sizes["spigot_diameter"], material=request.barrel_material)
    check_registers(found, dataset, engine=request.engine, bore=bore, sizes=sizes)
    check_limit(found, displacement=swept, limit=request.displacement_limit.si if request.displacement_limit else None)


def _bore_and_stroke(request: DisplacementRequest) -> tuple[float, float, Callable[..., float]]:
    """Bore, stroke and the method that gave them."""
    bore, stroke, volume = request.bore, request.stroke, request.displacement
    if bore and stroke:
        if volume:
            swept = calculation.displacement(bore=bore.si, stroke=stroke.si, cylinders=request.cylinders)
            if abs(swept - volume.si) > 0.01 * swept:
                raise Contradiction(
                    ("bore", "stroke", "displacement"),
                    "Bore, stroke and displacement do not agree within 1 %; leave out the one you are least sure of.",
                )
        return bore.si, stroke.si, calculation.displacement
    if bore and volume:
        found = calculation.stroke_from_displacement(displacement=volume.si, bore=bore.si, cylinders=request.cylinders)
        return bore.si, found, calculation.stroke_from_displacement
    if stroke and volume:
        found = calculation.bore_from_displacement(displacement=volume.si, stroke=stroke.si, cylinders=request.cylinders)
        return found, stroke.si, calculation.bore_from_displacement
    reason = "Two of bore, stroke and displacement are needed."
    missing = [] if bore else [Missing("bore", reason, "86 mm")]
    if not stroke and not volume:
        missing.append(Missing("stroke", reason, "73 mm"))
    raise MissingInput.of(missing)


TOPIC = Topic(
    name="displacement",
    path="/v1/displacement",
    title="Displacement",
    summary="The displacement from bore and stroke, or the bore or stroke that gives a displacement; whether the barrel suits.",
    request=DisplacementRequest,
    result=DisplacementResult,
    answer=answer,
    cautions=("choosing-parts",),
    examples=(
        Example("What do 86 × 73 mm make?", {"cylinders": 4, "bore": "86 mm", "stroke": "73 mm"}),
        Example("Which bore gives 1750 cm³?", {"cylinders": 4, "stroke": "73 mm", "displacement": "1750 cm3"}),
        Example("In inches", {"cylinders": 1, "bore": "2 7/8 in", "stroke": {"value": 2.75, "unit": "in"}}),
        Example(
            "Do these barrels go into the case?",
            {
                "cylinders": 4,
                "bore": "90.5 mm",
                "stroke": "69 mm",
                "engine": "air-cooled-flat-four",
                "spigot_diameter": "98 mm",
                "case_register": "90 mm",
                "displacement_limit": "1600 cm3",
            },
        ),
    ),
)
