"""How thick the oil is: its line from a sheet or its band from a grade, and rows by temperature."""

import re
from dataclasses import dataclass
from functools import lru_cache
from math import sqrt
from typing import Any

from service.answers.engine_facts import engine_fact
from service.answers.envelope import Answer, Rule, band
from service.answers.oil_request import OilRequest
from service.calculations.saybolt import saybolt_seconds
from service.calculations.viscosity import (
    CELSIUS_ZERO,
    WaltherLine,
    dynamic_viscosity,
    line_from_sheet,
    oil_density,
    viscosity_at,
    walther_line,
)
from service.calculations.viscosity_grade import (
    GradeLines,
    ViscosityBand,
    band_of_lines,
    grade_lines,
    grade_viscosity_band,
    line_of_index,
)
from service.calculations.viscosity_index import viscosity_index
from service.errors import Contradiction, MissingInput, OutsideValidity
from service.quantities import DENSITY, DURATION, DYNAMIC_VISCOSITY, KINEMATIC_VISCOSITY, TEMPERATURE, text_of
from service.reference.dataset import Dataset, Entity, Fact

USUAL_DENSITY = 880.0
SINGLE_GRADE_INDEX = (85.0, 115.0)
MULTIGRADE_INDEX = (110.0, 170.0)
USUAL_TEMPERATURES = tuple(CELSIUS_ZERO + t for t in (20, 40, 60, 80, 100))
_GRADE = re.compile(r"(?:SAE ?)?(?:(\d{1,2})W)?[ /-]?(\d{1,2})?", re.IGNORECASE)

GRADE_SHEET_DISAGREE = Rule(
    code="grade-sheet-disagree",
    severity="ask",
    stage="pre-start",
    rule="viscosity at 100 °C of the sheet outside the limits of the grade",
    reason="Figure and grade are not of the same oil, or one of them is mistyped.",
    remedy="Read grade and viscosity at 100 °C off the same sheet again.",
    source="sae-j300-2015",
    evidence="standard",
)


@dataclass(frozen=True)
class Oil:
    """The oil as far as it is known: one line from two figures, or the lines of a grade."""

    density_15: float
    line: WaltherLine
    grade: GradeLines | None = None

    def kinematic(self, temperature: float) -> ViscosityBand:
        """Kinematic viscosity in m²/s; without spread where both figures of the sheet are known."""
        if self.grade is not None:
            return band_of_lines(lines=self.grade, temperature=temperature)
        value = viscosity_at(line=self.line, temperature=temperature)
        return ViscosityBand(value, value, value)

    def dynamic(self, kinematic: ViscosityBand, temperature: float) -> ViscosityBand:
        """Dynamic viscosity in Pa·s of a kinematic one."""
        density = oil_density(density_15=self.density_15, temperature=temperature)
        return ViscosityBand(*(dynamic_viscosity(viscosity=value, density=density) for value in kinematic))

    def nominal(self, temperature: float) -> float:
        """Dynamic viscosity in Pa·s of the one oil, or of the middle of the grade."""
        density = oil_density(density_15=self.density_15, temperature=temperature)
        return dynamic_viscosity(viscosity=viscosity_at(line=self.line, temperature=temperature), density=density)


def find_oil(request: OilRequest, dataset: Dataset, found: Answer) -> Oil | None:
    """The oil from the figures of its sheet, from the dataset's typical oils, or from its grade.

    Raises:
        MissingInput: one figure of a sheet without the other.
        NotInDataset: an oil or grade that is not held.
        OutsideValidity: a text that is no grade.
    """
    typical = dataset.entity("oils", request.oil, "oil") if request.oil else None
    density = _density(request, typical, found)
    if request.viscosity_40 or request.viscosity_100:
        if not (request.viscosity_40 and request.viscosity_100):
            missing, example = ("viscosity_100", "11 mm2/s") if request.viscosity_40 else ("viscosity_40", "95 mm2/s")
            raise MissingInput(missing, "The viscosity at other temperatures needs both figures of the oil sheet.", example)
        return _from_sheet(request.viscosity_40.si, request.viscosity_100.si, density, found)
    if typical and typical.has("kinematic_viscosity_40") and typical.has("kinematic_viscosity_100"):
        facts = typical.fact("kinematic_viscosity_40"), typical.fact("kinematic_viscosity_100")
        found.uses(*facts)
        return _from_sheet(typical.si("kinematic_viscosity_40"), typical.si("kinematic_viscosity_100"), density, found)
    if grade := grade_of(request, dataset) or _usual_grade(request, dataset, found):
        return _from_grade(grade, density, dataset, found)
    found.cannot_check(
        "oil-viscosity",
        ["grade"],
        "Viscosity, climate and pressure at other temperatures: send the grade, the id of a typical oil, or viscosity_40 "
        "and viscosity_100 of the sheet.",
    )
    return None


def viscosity_rows(request: OilRequest, oil: Oil, found: Answer) -> list[dict[str, Any]]:
    """A row for every temperature asked for, or for the usual ones; those at which the oil is no liquid are left out."""
    given = [t.si for t in request.temperatures or ()] or [*USUAL_TEMPERATURES]
    extra = [t.si for t in (request.start_temperature, request.oil_temperature) if t]
    rows = []
    for temperature in sorted({*given, *extra}):
        try:
            kinematic = oil.kinematic(temperature)
            dynamic = oil.dynamic(kinematic, temperature)
        except OutsideValidity as refusal:
            why = f"At {text_of(TEMPERATURE(temperature))}: {refusal.reason}"
            found.cannot_check("viscosity-at-temperature", [], why)
            continue
        rows.append(
            {
                "temperature": TEMPERATURE(temperature),
                "kinematic": band(*(KINEMATIC_VISCOSITY(v) for v in kinematic)),
                "dynamic": band(*(DYNAMIC_VISCOSITY(v) for v in dynamic)),
                "saybolt": DURATION(saybolt_seconds(viscosity=kinematic.nominal, temperature=temperature)),
            }
        )
    found.rests_on(viscosity_at, oil_density, dynamic_viscosity, saybolt_seconds)
    return rows


def read_grade(text: str) -> tuple[str, str]:
    """The two halves of a grade: ``20W-50`` → ``20``, ``50``; ``SAE 30`` → nothing, ``30``.

    Raises:
        OutsideValidity: the text is no grade.
    """
    match = _GRADE.fullmatch(text.strip())
    if match is None or not (match[1] or match[2]):
        raise OutsideValidity("grade", "An oil grade is written 20W-50, 10W40, SAE 30 or 30.", "SAE J300 grades")
    return match[1] or "", match[2] or ""


def grade_of(request: OilRequest, dataset: Dataset) -> str | None:
    """The grade as the caller sent it, or that of the typical oil."""
    if request.grade or not request.oil:
        return request.grade
    typical = dataset.entity("oils", request.oil, "oil")
    halves = [typical.text(name) for name in ("winter_grade", "grade") if typical.has(name)]
    return "-".join(halves) or None


def _usual_grade(request: OilRequest, dataset: Dataset, found: Answer) -> str | None:
    fact = engine_fact(dataset, "oil-facts", request.engine, "grade")
    if fact is None:
        return None
    found.uses(fact)
    found.assume("grade", fact.value, "usual of this engine family", fact.source, "common-practice")
    return fact.value


def check_sheet_against_grade(request: OilRequest, dataset: Dataset, found: Answer) -> None:
    """Whether the sheet's viscosity at 100 °C belongs to the grade."""
    if request.grade is None or request.viscosity_100 is None:
        return
    (low, high), facts = _limits(request.grade, dataset)
    found.uses(*facts)
    if not low <= request.viscosity_100.si < high:
        found.find(
            GRADE_SHEET_DISAGREE,
            ("viscosity_100", "grade"),
            f"{text_of(KINEMATIC_VISCOSITY(request.viscosity_100.si))} at 100 °C is outside the grade's "
            f"{text_of(KINEMATIC_VISCOSITY(low))} to {text_of(KINEMATIC_VISCOSITY(high))}.",
        )


def _density(request: OilRequest, typical: Entity | None, found: Answer) -> float:
    if request.density:
        return request.density.si
    if typical and typical.has("density"):
        found.uses(typical.fact("density"))
        return typical.si("density")
    found.assume("density", DENSITY(USUAL_DENSITY), "usual of engine oils at 15 °C", "common-practice", "common-practice")
    return USUAL_DENSITY


def _from_sheet(viscosity_40: float, viscosity_100: float, density: float, found: Answer) -> Oil:
    found.result["viscosity_index"] = viscosity_index(viscosity_40=viscosity_40, viscosity_100=viscosity_100)
    found.rests_on(viscosity_index, walther_line)
    return Oil(density, line_from_sheet(viscosity_40=viscosity_40, viscosity_100=viscosity_100))


def _from_grade(text: str, density: float, dataset: Dataset, found: Answer) -> Oil:
    """What a grade promises at 100 °C, with the usual spread of viscosity indices."""
    (low, high), facts = _limits(text, dataset)
    index_low, index_high = _usual_indices(text)
    lines = grade_lines(viscosity_100_low=low, viscosity_100_high=high, index_low=index_low, index_high=index_high)
    found.uses(*facts)
    found.rests_on(grade_viscosity_band)
    found.assume(
        "viscosity_index",
        {"low": index_low, "high": index_high},
        "a grade does not fix how fast the oil thins; this is the usual spread of such oils",
        "common-practice",
        "from-memory",
    )
    return Oil(density, lines.middle, lines)


@lru_cache(maxsize=64)
def middle_of_grade(text: str, dataset: Dataset) -> tuple[Oil, tuple[Fact, ...]]:
    """The middle oil of a grade at the usual density, with the facts that it rests on."""
    (low, high), facts = _limits(text, dataset)
    line = line_of_index(viscosity_100=sqrt(low * high), index=sum(_usual_indices(text)) / 2)
    return Oil(USUAL_DENSITY, line), tuple(facts)


def _usual_indices(text: str) -> tuple[float, float]:
    return MULTIGRADE_INDEX if read_grade(text)[0] else SINGLE_GRADE_INDEX


def _limits(text: str, dataset: Dataset) -> tuple[tuple[float, float], list[Fact]]:
    winter, hot = read_grade(text)
    if not hot:
        raise OutsideValidity(
            "grade", "A W grade alone says little of the hot oil; send both halves, such as 20W-50.", "20W-50, SAE 30"
        )
    if winter:
        half_grade(dataset, f"{winter}W")
    entity = half_grade(dataset, hot)
    if not entity.has("kv100_max"):
        raise Contradiction(("grade",), "This half of the grade has no upper limit at 100 °C; send a grade such as 20W-50.")
    facts = [entity.fact("kv100_min"), entity.fact("kv100_max")]
    return (entity.si("kv100_min"), entity.si("kv100_max")), facts


def half_grade(dataset: Dataset, id: str) -> Entity:
    """A half of a grade, however the dataset writes its letter."""
    return dataset.find("oil-grades", id.lower()) or dataset.entity("oil-grades", id, "grade")
