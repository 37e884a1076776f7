"""Whether the oil suits the climate: thin on the hot engine, thick at the coldest start, and which grades would do."""

from typing import Any

from service.answers.engine_facts import engine_fact
from service.answers.envelope import Answer, Rule
from service.answers.oil_request import OilRequest
from service.answers.oil_viscosity import Oil, grade_of, half_grade, middle_of_grade, read_grade
from service.calculations.oil import OilGrade, grade_for_climate
from service.calculations.viscosity import CELSIUS_ZERO
from service.errors import NotInDataset, OutsideValidity
from service.quantities import DYNAMIC_VISCOSITY, TEMPERATURE, text_of
from service.reference.dataset import Dataset

LEAST_HOT_VISCOSITY = 0.006
COLDEST_WITHOUT_W = CELSIUS_ZERO + 5
HAIR = 0.01  # K: 230 °F is 110 °C, whatever the last digit of the conversion says
HOTTEST_OIL = {"temperature_limit": CELSIUS_ZERO + 120, "temperature_caution": CELSIUS_ZERO + 110}
COMMON_GRADES = ("10W-30", "10W-40", "15W-40", "15W-50", "20W-40", "20W-50", "20", "30", "40", "50")

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


OIL_GETS_HOT = Rule(
    code="oil-gets-hot",
    severity="stop",
    stage="first-fire",
    rule="oil above 120 °C (a caution above 110 °C), or above the limits of the engine",
    reason="The film thins where it is needed, the oil ages in hours, and seals harden.",
    remedy="Stop and let it cool; look at fan, tinware, cooler, timing and mixture before the next run.",
    source="tm-5-3895-376-14p",
    evidence="government",
)


def check_heat(request: OilRequest, dataset: Dataset, found: Answer) -> None:
    """Whether the oil is, or is expected to be, hotter than it may be."""
    measured = request.reading.temperature if request.reading else None
    given = [("oil_temperature", request.oil_temperature), ("reading.temperature", measured)]
    hottest = max(((t.si, name) for name, t in given if t is not None), default=None)
    if hottest is None:
        return  # said already: the hot oil's temperature is wanted
    limits = dict(HOTTEST_OIL)
    for name in limits:
        fact = engine_fact(dataset, "oil-facts", request.engine, name)
        if fact is not None and fact.si is not None:
            found.uses(fact)
            limits[name] = fact.si
    over = next((name for name, limit in limits.items() if hottest[0] > limit + HAIR), None)
    if over is not None:
        found.find(
            OIL_GETS_HOT,
            (hottest[1],),
            f"{text_of(TEMPERATURE(hottest[0]))} is above {text_of(TEMPERATURE(limits[over]))}.",
            severity="stop" if over == "temperature_limit" else "caution",
        )


def check_hot(request: OilRequest, oil: Oil, found: Answer) -> None:
    """Whether the oil is still thick enough when the engine is hot."""
    if request.oil_temperature is None:
        found.cannot_check(OIL_TOO_THIN_HOT.code, ["oil_temperature"])
        return
    temperature = request.oil_temperature.si
    try:
        viscosity = oil.dynamic(oil.kinematic(temperature), temperature)
    except OutsideValidity as refusal:
        found.cannot_check(OIL_TOO_THIN_HOT.code, [], refusal.reason)
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
    grade = grade_of(request, dataset)
    if grade is None or request.start_temperature is None:
        needed = [*(["start_temperature"] if request.start_temperature is None else []), *([] if grade else ["grade"])]
        found.cannot_check(OIL_TOO_THICK_COLD.code, needed)
        return
    winter, _ = read_grade(grade)
    limit, name = COLDEST_WITHOUT_W, "an oil without a W grade"
    if winter:
        fact = half_grade(dataset, f"{winter}W").fact("crank_temperature")
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
        found.cannot_check("grade-for-the-climate", needed, "Which common grades suit the coldest start and the hottest oil.")
        return None
    rows = []
    for name in COMMON_GRADES:
        try:
            oil, facts = middle_of_grade(name, dataset)
            viscosity = oil.nominal(request.oil_temperature.si)
        except (NotInDataset, OutsideValidity):
            continue  # this dataset version does not hold the grade, or no oil of it is liquid there
        winter, _ = read_grade(name)
        cold = half_grade(dataset, f"{winter}W") if winter else None
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
