"""Slips of the unit: a value that is legal but unlikely, and likely in a sibling unit, is asked about first."""

from functools import cache
from typing import Any, get_args

from pydantic import BaseModel

from service.answers.envelope import Finding, Rule
from service.answers.inputs import Measured, Number, Range, field_specs
from service.quantities import find_unit, resolved, with_unit

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
    reason="It is possible, so it was used, but it is seldom met.",
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
    """The fields with a plausible range."""
    return tuple((name, spec) for name, spec in field_specs(model).items() if spec.plausible)


@cache
def _nests(model: type[BaseModel]) -> tuple[str, ...]:
    """The fields that hold further models, alone or in a list, in the order of the model."""
    return tuple(name for name, field in model.model_fields.items() if _holds_model(field.annotation))


def _holds_model(annotation: Any) -> bool:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return True
    return any(_holds_model(part) for part in get_args(annotation))


def findings(request: BaseModel, path: str = "") -> list[Finding]:
    """An ``ask`` finding for every input of the request, at any depth, that lies outside its plausible range."""
    found: list[Finding] = []
    model = type(request)
    values = request.__dict__
    for name, spec in _specs(model):
        value = values[name]
        if value is None:
            continue
        if isinstance(value, list):
            found += [_unusual(spec, item, f"{path}{name}.{n}") for n, item in enumerate(value) if not spec.is_usual(item)]
        elif not spec.is_usual(value):
            found.append(_unusual(spec, value, path + name))
    for name in _nests(model):
        value = values[name]
        if isinstance(value, BaseModel):
            found += findings(value, f"{path}{name}.")
        elif isinstance(value, list):
            for index, item in enumerate(value):
                if isinstance(item, BaseModel):
                    found += findings(item, f"{path}{name}.{index}.")
    return found


def _unusual(spec: Measured | Number, given: Any, field: str) -> Finding:
    """The question about one unusual value, with the unit that was perhaps meant."""
    if isinstance(spec, Number):
        low, high = spec.plausible or (spec.low, spec.high)
        return Finding(IMPLAUSIBLE, "ask", (field,), f"{given:g} is outside the usual {low:g} to {high:g}.")
    figure = with_unit(f"{given.value:g}", resolved()[given.dimension][given.unit].label)
    usual = _words(spec.plausible_range, spec.dimension) if spec.plausible_range else ""
    siblings = spec.usual_units(given)
    if not siblings:
        return Finding(IMPLAUSIBLE, "ask", (field,), f"{figure} is outside the usual {usual}.")
    known = next((code for code in siblings if (given.unit, code) in _SIBLINGS), None)
    rule = _SIBLINGS[(given.unit, known)] if known else UNIT_SUSPECT
    likeliest = sorted(siblings, key=lambda code: code != known)[:2]
    meant = " or ".join(resolved()[given.dimension][code].label for code in likeliest)
    return Finding(rule, "ask", (field,), f"{figure} is outside the usual {usual}; did you mean {given.value:g} {meant}?")


def _words(usual: Range, dimension: str) -> str:
    """A range with its unit as it is read out: °C, not degC."""
    ends, unit = usual.words.rsplit(maxsplit=1)
    return with_unit(ends, find_unit(unit, dimension).label)
