"""How thick the oil is: its line or band, rows by temperature, and whether it suits the climate."""

import re
from dataclasses import dataclass
from math import sqrt
from typing import Any

from service.answers.envelope import Answer, Rule, band
from service.answers.oil_request import OilRequest
from service.calculations.oil import OilGrade, grade_for_climate
from service.calculations.saybolt import saybolt_seconds
from service.calculations.viscosity import (
    CELSIUS_ZERO,
    ViscosityBand,
    WaltherLine,
    dynamic_viscosity,
    grade_viscosity_band,
    line_from_sheet,
    oil_density,
    viscosity_at,
    walther_line,
)
from service.calculations.viscosity_index import viscosity_from_index, viscosity_index
from service.errors import Contradiction, MissingInput, NotInDataset, OutsideValidity
from service.quantities import DENSITY, DURATION, DYNAMIC_VISCOSITY, KINEMATIC_VISCOSITY, TEMPERATURE, text_of
from service.reference.dataset import Dataset, Entity

LEAST_HOT_VISCOSITY = 0.006
COLDEST_WITHOUT_W = CELSIUS_ZERO + 5
USUAL_DENSITY = 880.0
SINGLE_GRADE_INDEX = (85.0, 115.0)
MULTIGRADE_INDEX = (110.0, 170.0)
USUAL_TEMPERATURES = tuple(CELSIUS_ZERO + t for t in (20, 40, 60, 80, 100))
COMMON_GRADES = ("10W-30", "10W-40", "15W-40", "15W-50", "20W-40", "20W-50", "20", "30", "40", "50")
_GRADE = re.compile(r"(?:SAE ?)?(?:(\d{1,2})W)?[ /-]?(\d{1,2})?", re.IGNORECASE)

OIL_TOO_THIN_HOT = Rule(
    code="oil-too-thin-hot",
    severity="caution",
    stage="pre-start",
    rule="dynamic viscosity at the expected oil temperature below 6 mPa·s (a note where only thin oils of the grade are)",
    reason="The film in the bearings and the pressure at idle both go with the dynamic viscosity.",
    remedy="Take a thicker grade, or bring the oil temperature down with air or a cooler.",
    source="common-practice",
    evidence="common-practice",
)
OIL_TOO_THICK_COLD = Rule(
    code="oil-too-thick-cold",
    severity="caution",
    stage="pre-start",
    rule="start below the cranking temperature of the W grade (SAE J300), or below 5 °C without a W grade",
    reason="Cold thick oil does not reach the rockers for a minute and loads the starter and the pump drive.",
    remedy="Take a lower W grade, or warm sump and oil before the start.",
    source="sae-j300-2015",
    evidence="standard",
)
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
    """The oil as far as it is known: one line from two figures, or the limits of a grade."""

    density_15: float
    line: WaltherLine | None
    limits: tuple[float, float] = (0.0, 0.0)
    indices: tuple[float, float] = (0.0, 0.0)

    def kinematic(self, temperature: float) -> ViscosityBand:
        """Kinematic viscosity in m²/s; without spread where both figures of the sheet are known."""
        if self.line is not None:
            value = viscosity_at(line=self.line, temperature=temperature)
            return ViscosityBand(value, value, value)
        return grade_viscosity_band(
            viscosity_100_low=self.limits[0],
            viscosity_100_high=self.limits[1],
            index_low=self.indices[0],
            index_high=self.indices[1],
            temperature=temperature,
        )

    def dynamic(self, temperature: float) -> ViscosityBand:
        """Dynamic viscosity in Pa·s."""
        density = oil_density(density_15=self.density_15, temperature=temperature)
        return ViscosityBand(*(dynamic_viscosity(viscosity=v, density=density) for v in self.kinematic(temperature)))

    def nominal_line(self) -> WaltherLine:
        """One line through the middle, for ratios of two temperatures."""
        if self.line is not None:
            return self.line
        middle = sqrt(self.limits[0] * self.limits[1])
        at_40 = viscosity_from_index(viscosity_100=middle, index=sum(self.indices) / 2)
        return line_from_sheet(viscosity_40=at_40, viscosity_100=middle)

    def nominal(self, temperature: float) -> float:
        """Dynamic viscosity in Pa·s of the middle oil."""
        density = oil_density(density_15=self.density_15, temperature=temperature)
        return dynamic_viscosity(viscosity=viscosity_at(line=self.nominal_line(), temperature=temperature), density=density)


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
    if request.grade:
        return _from_grade(request.grade, density, dataset, found)
    found.cannot_check(
        "viscosity, climate and pressure at other temperatures",
        ["grade"],
        "Send the grade, the id of a typical oil, or viscosity_40 and viscosity_100 of the sheet.",
    )
    return None


def viscosity_rows(request: OilRequest, oil: Oil, found: Answer) -> list[dict[str, Any]]:
    """A row for every temperature asked for, or for the usual ones; those at which the oil is no liquid are left out."""
    given = [t.si for t in request.temperatures or ()] or [*USUAL_TEMPERATURES]
    extra = [t.si for t in (request.start_temperature, request.oil_temperature) if t]
    rows = []
    for temperature in sorted({*given, *extra}):
        try:
            kinematic, dynamic = oil.kinematic(temperature), oil.dynamic(temperature)
        except OutsideValidity as refusal:
            found.cannot_check(f"viscosity at {text_of(TEMPERATURE(temperature))}", ["temperatures"], refusal.reason)
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


def check_hot(request: OilRequest, oil: Oil, found: Answer) -> None:
    """Whether the oil is still thick enough when the engine is hot."""
    if request.oil_temperature is None:
        found.cannot_check("oil too thin on the hot engine", ["oil_temperature"])
        return
    temperature = request.oil_temperature.si
    try:
        viscosity = oil.dynamic(temperature)
    except OutsideValidity as refusal:
        found.cannot_check("oil too thin on the hot engine", ["oil_temperature"], refusal.reason)
        return
    at = f"at {text_of(TEMPERATURE(temperature))}; it should have {text_of(DYNAMIC_VISCOSITY(LEAST_HOT_VISCOSITY))}."
    if viscosity.nominal < LEAST_HOT_VISCOSITY:
        found.find(
            OIL_TOO_THIN_HOT,
            ("oil_temperature",),
            f"The oil has {text_of(DYNAMIC_VISCOSITY(viscosity.nominal))} {at}",
        )
    elif viscosity.low < LEAST_HOT_VISCOSITY:
        found.find(
            OIL_TOO_THIN_HOT,
            ("oil_temperature", "grade"),
            f"The thinnest oil of this grade has {text_of(DYNAMIC_VISCOSITY(viscosity.low))} {at} Send the sheet's figures.",
            severity="note",
        )


def check_cold(request: OilRequest, dataset: Dataset, found: Answer) -> None:
    """Whether the oil still flows at the coldest start."""
    needed = [name for name in ("start_temperature", "grade") if getattr(request, name) is None]
    if needed or request.grade is None or request.start_temperature is None:
        found.cannot_check("oil too thick at the coldest start", needed)
        return
    winter, _ = read_grade(request.grade)
    limit, name = COLDEST_WITHOUT_W, "an oil without a W grade"
    if winter:
        fact = _grade(dataset, f"{winter}W").fact("crank_temperature")
        found.uses(fact)
        limit, name = fact.si if fact.si is not None else limit, f"a {winter}W oil"
    if request.start_temperature.si < limit:
        found.find(
            OIL_TOO_THICK_COLD,
            ("start_temperature", "grade"),
            f"{text_of(TEMPERATURE(request.start_temperature.si))} is below {text_of(TEMPERATURE(limit))}, "
            f"the coldest start of {name}.",
        )


def grades_for_climate(request: OilRequest, dataset: Dataset, found: Answer) -> list[dict[str, Any]] | None:
    """Which common grades suit the coldest start and the hottest oil; ``None`` unless both are given."""
    if request.start_temperature is None or request.oil_temperature is None:
        needed = [name for name in ("start_temperature", "oil_temperature") if getattr(request, name) is None]
        found.cannot_check("grade for the climate", needed)
        return None
    rows = []
    for name in COMMON_GRADES:
        try:
            oil, facts = _promised(name, USUAL_DENSITY, dataset)
            viscosity = oil.nominal(request.oil_temperature.si)
        except (NotInDataset, OutsideValidity):
            continue  # this dataset version does not hold the grade, or no oil of it is liquid there
        winter, _ = read_grade(name)
        cold = _grade(dataset, f"{winter}W") if winter else None
        cranking = cold.si("crank_temperature") if cold else COLDEST_WITHOUT_W
        verdict = grade_for_climate(
            grade=OilGrade(cranking, cold.si("pump_temperature") if cold else cranking, viscosity),
            start_temperature=request.start_temperature.si,
            least_hot_viscosity=LEAST_HOT_VISCOSITY,
        )
        found.uses(*facts, *([cold.fact("crank_temperature"), cold.fact("pump_temperature")] if cold else []))
        rows.append(
            {
                "grade": name,
                "suits": verdict.suits,
                "thick_when_cold": verdict.thick_when_cold,
                "thin_when_hot": verdict.thin_when_hot,
                "coldest_start": TEMPERATURE(cranking),
                "hot_viscosity": DYNAMIC_VISCOSITY(viscosity),
            }
        )
    found.rests_on(grade_for_climate)
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
    oil, facts = _promised(text, density, dataset)
    found.uses(*facts)
    found.rests_on(grade_viscosity_band)
    found.assume(
        "viscosity_index",
        {"low": oil.indices[0], "high": oil.indices[1]},
        "a grade does not fix how fast the oil thins; this is the usual spread of such oils",
        "common-practice",
        "from-memory",
    )
    return oil


def _promised(text: str, density: float, dataset: Dataset) -> tuple[Oil, list[Any]]:
    """What a grade promises at 100 °C, with the usual spread of viscosity indices."""
    limits, facts = _limits(text, dataset)
    indices = MULTIGRADE_INDEX if read_grade(text)[0] else SINGLE_GRADE_INDEX
    return Oil(density, None, limits, indices), facts


def _limits(text: str, dataset: Dataset) -> tuple[tuple[float, float], list[Any]]:
    winter, hot = read_grade(text)
    if not hot:
        raise OutsideValidity(
            "grade", "A W grade alone says little of the hot oil; send both halves, such as 20W-50.", "20W-50, SAE 30"
        )
    if winter:
        _grade(dataset, f"{winter}W")
    entity = _grade(dataset, hot)
    if not entity.has("kv100_max"):
        raise Contradiction(("grade",), "This half of the grade has no upper limit at 100 °C; send a grade such as 20W-50.")
    facts = [entity.fact("kv100_min"), entity.fact("kv100_max")]
    return (entity.si("kv100_min"), entity.si("kv100_max")), facts


def _grade(dataset: Dataset, id: str) -> Entity:
    """A half of a grade, however the dataset writes its letter."""
    return dataset.find("oil-grades", id.lower()) or dataset.entity("oil-grades", id, "grade")
