"""Slips of the unit: a value that is legal but unlikely, and likely in a sibling unit, is asked about first."""

from collections.abc import Iterator
from functools import cache

from pydantic import BaseModel

from service.answers.envelope import Finding, Rule
from service.answers.inputs import Measured, Number, field_specs
from service.quantities import Quantity, resolved

INCH_AS_MM = Rule(
    code="inch-as-mm",
    severity="ask",
    stage="combination",
    rule="a length outside its usual range that would be usual in inches",
    reason="An inch figure typed as millimetres (or the reverse) makes every later number wrong.",
    remedy="Check the unit; send the value again with the unit you mean.",
    source="common-practice",
    evidence="common-practice",
)
THOU_AS_MM = Rule(
    code="thou-as-mm",
    severity="ask",
    stage="measuring",
    rule="a small length outside its usual range that would be usual in thousandths of an inch",
    reason="Thousandths of an inch typed as millimetres are forty times too large.",
    remedy="Check the unit; send the value again with the unit you mean.",
    source="common-practice",
    evidence="common-practice",
)
FTLB_AS_NM = Rule(
    code="ftlb-as-nm",
    severity="ask",
    stage="closing-up",
    rule="a torque that is usual, or listed, in the sibling unit (lbf·ft against N·m)",
    reason="The factor between the two is 1.356: a stud is stretched or left loose by a third.",
    remedy="Check what the wrench and the book are marked in; send the value again with the unit you mean.",
    source="common-practice",
    evidence="common-practice",
)
PSI_AS_BAR = Rule(
    code="psi-as-bar",
    severity="ask",
    stage="pre-start",
    rule="a pressure outside its usual range that would be usual in the sibling unit (psi against bar)",
    reason="The factor between the two is 14.5: the gauge is read in one unit and typed in the other.",
    remedy="Check what the gauge is marked in; send the value again with the unit you mean.",
    source="common-practice",
    evidence="common-practice",
)
UNIT_SUSPECT = Rule(
    code="unit-suspect",
    severity="ask",
    stage="combination",
    rule="a value outside its usual range that would be usual in another unit of the same kind",
    reason="The commonest wrong input is a right number with a wrong unit.",
    remedy="Check the unit; send the value again with the unit you mean.",
    source="common-practice",
    evidence="common-practice",
)
IMPLAUSIBLE = Rule(
    code="implausible-value",
    severity="ask",
    stage="combination",
    rule="a value outside its usual range",
    reason="It is possible, so it was used, but such engines seldom have it.",
    remedy="Check the value; if it is meant, nothing needs to be done.",
    source="common-practice",
    evidence="common-practice",
)

_SIBLINGS: dict[tuple[str, str], Rule] = {
    ("mm", "in"): INCH_AS_MM,
    ("in", "mm"): INCH_AS_MM,
    ("mm", "thou"): THOU_AS_MM,
    ("thou", "mm"): THOU_AS_MM,
    ("in", "thou"): THOU_AS_MM,
    ("N*m", "lbf*ft"): FTLB_AS_NM,
    ("lbf*ft", "N*m"): FTLB_AS_NM,
    ("bar", "psi"): PSI_AS_BAR,
    ("psi", "bar"): PSI_AS_BAR,
}


@cache
def _specs(model: type[BaseModel]) -> tuple[tuple[str, Measured | Number], ...]:
    return tuple(field_specs(model).items())


def findings(request: BaseModel, path: str = "") -> Iterator[Finding]:
    """An ``ask`` finding for every input of the request, at any depth, that lies outside its plausible range."""
    for name, spec in _specs(type(request)):
        value = getattr(request, name)
        for index, item in enumerate(value if isinstance(value, list) else [value]):
            suffix = f".{index}" if isinstance(value, list) else ""
            if isinstance(item, Quantity) and isinstance(spec, Measured):
                yield from _quantity(spec, item, f"{path}{name}{suffix}")
            elif isinstance(spec, Number) and isinstance(item, int | float):
                yield from _number(spec, item, f"{path}{name}{suffix}")
    for name in request.model_fields_set:
        value = getattr(request, name)
        if isinstance(value, BaseModel):
            yield from findings(value, f"{path}{name}.")
        elif isinstance(value, list):
            for index, item in enumerate(value):
                if isinstance(item, BaseModel):
                    yield from findings(item, f"{path}{name}.{index}.")


def _quantity(spec: Measured, given: Quantity, field: str) -> Iterator[Finding]:
    usual = spec.plausible_range
    if usual is None or usual.holds(given.si):
        return
    figure = f"{given.value:g} {resolved()[given.dimension][given.unit].label}"
    siblings = spec.usual_units(given)
    if not siblings:
        yield Finding(IMPLAUSIBLE, "ask", (field,), f"{figure} is outside the usual {usual.words}.")
        return
    rule = next((r for code in siblings if (r := _SIBLINGS.get((given.unit, code)))), UNIT_SUSPECT)
    meant = " or ".join(resolved()[given.dimension][code].label for code in siblings[:2])
    yield Finding(rule, "ask", (field,), f"{figure} is outside the usual {usual.words}; did you mean {given.value:g} {meant}?")


def _number(spec: Number, given: float, field: str) -> Iterator[Finding]:
    if spec.plausible is not None and not spec.plausible[0] <= given <= spec.plausible[1]:
        low, high = spec.plausible
        yield Finding(IMPLAUSIBLE, "ask", (field,), f"{given:g} is outside the usual {low:g} to {high:g}.")
