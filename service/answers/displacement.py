"""Displacement of an engine from any two of bore, stroke and displacement."""

from collections.abc import Callable
from typing import Annotated

from service.answers.envelope import Answer, QuantityOut, Result
from service.answers.inputs import Bore, Cylinders, Measured, Request, Stroke
from service.answers.topic import Example, Topic
from service.calculations import displacement as calculation
from service.errors import Contradiction, MissingInput
from service.quantities import AREA, LENGTH, VOLUME, Quantity
from service.reference.dataset import Dataset


class DisplacementRequest(Request):
    """Number of cylinders and two of bore, stroke and displacement; with all three they must agree within 1 %."""

    cylinders: Cylinders
    bore: Bore | None = None
    stroke: Stroke | None = None
    displacement: (
        Annotated[
            Quantity, Measured("volume", "10 .. 60000 cm3", "100 .. 6000 cm3", "1750 cm3", "Swept volume of all cylinders.")
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


def answer(request: DisplacementRequest, _dataset: Dataset) -> Answer:
    """The displacement and what it is made of.

    Raises:
        MissingInput: fewer than two of bore, stroke and displacement.
        Contradiction: all three are given and do not agree.
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
    return found


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
    missing = "stroke" if bore else "bore"
    raise MissingInput(missing, "Two of bore, stroke and displacement are needed.", "73 mm" if bore else "86 mm")


TOPIC = Topic(
    name="displacement",
    path="/v1/displacement",
    title="Displacement",
    summary="The displacement from bore and stroke, or the bore or stroke that gives a displacement.",
    request=DisplacementRequest,
    result=DisplacementResult,
    answer=answer,
    examples=(
        Example("What do 86 × 73 mm make?", {"cylinders": 4, "bore": "86 mm", "stroke": "73 mm"}),
        Example("Which bore gives 1750 cm³?", {"cylinders": 4, "stroke": "73 mm", "displacement": "1750 cm3"}),
        Example("In inches", {"cylinders": 1, "bore": "2 7/8 in", "stroke": {"value": 2.75, "unit": "in"}}),
    ),
)
