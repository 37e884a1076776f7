"""The oil: how much goes in, how thick it is, what pressure to expect, how to prime, and what it must contain."""

from service.answers.envelope import Answer, BandOut, QuantityOut, Result
from service.answers.oil_additives import additives
from service.answers.oil_climate import check_cold, check_heat, check_hot, grades_for_climate
from service.answers.oil_fill import dipstick, oil_fill
from service.answers.oil_floor import floor_of
from service.answers.oil_priming import check_external, priming
from service.answers.oil_readings import check_gauge, check_reading, pressure_rows, wear
from service.answers.oil_request import OilRequest
from service.answers.oil_viscosity import check_sheet_against_grade, find_oil, viscosity_rows
from service.answers.topic import Example, Topic
from service.reference.dataset import Dataset


class FillOut(Result):
    """What the engine takes, and where it goes."""

    total: QuantityOut
    sump: QuantityOut
    external: QuantityOut
    filter: QuantityOut
    cooler: QuantityOut
    lines: QuantityOut


class ViscosityRow(Result):
    """The oil at one temperature; a band only where no more than the grade is known."""

    temperature: QuantityOut
    kinematic: BandOut
    dynamic: BandOut
    saybolt: QuantityOut


class PressureRow(Result):
    """The floor at one speed and, from a warm reading, what to expect there."""

    speed: QuantityOut
    pressure: QuantityOut
    expected: QuantityOut | None = None
    relief_valve_open: bool | None = None


class WearOut(Result):
    """A reading against an earlier one, speed and viscosity taken out."""

    verdict: str
    pressure_ratio: float
    pressure_ratio_uncertainty: float
    leak_ratio: float
    clearance_ratio: float


class CrankingOut(Result):
    """Cranking that fills a volume."""

    volume: QuantityOut
    cranking: QuantityOut
    burst_count: int
    bursts: list[QuantityOut]
    elapsed: QuantityOut
    within_duty: bool
    fill_by_hand: QuantityOut


class PrimingOut(CrankingOut):
    """The priming plan for the circuit as it stands, beside the one with the external part filled by hand."""

    pump_displacement: QuantityOut
    rest: QuantityOut
    filled_by_hand: CrankingOut
    steps: list[str]


class DoseOut(Result):
    """Additive and base oil that together make the fill."""

    target_phosphorus: QuantityOut
    additive: QuantityOut
    base_oil: QuantityOut


class AdditivesOut(Result):
    """Content of the fill as planned, and the dose that reaches the target."""

    phosphorus: QuantityOut | None = None
    zinc: QuantityOut | None = None
    dose: DoseOut | None = None


class GradeRow(Result):
    """Whether a common grade suits the climate."""

    grade: str
    suits: bool
    thick_when_cold: bool
    thin_when_hot: bool
    coldest_start: QuantityOut
    hot_viscosity: QuantityOut


class DipstickOut(Result):
    """The dipstick in litres."""

    volume_per_millimetre: QuantityOut
    drop_if_external_is_empty: QuantityOut
    volume: QuantityOut | None = None


class OilResult(Result):
    """Every part that the inputs allow; a part that they do not is null and stands under ``unchecked``."""

    fill: FillOut
    dipstick: DipstickOut | None = None
    viscosity_index: float | None = None
    viscosity: list[ViscosityRow] | None = None
    pressure_floor: list[PressureRow]
    wear: WearOut | None = None
    priming: PrimingOut | None = None
    additives: AdditivesOut
    grades: list[GradeRow] | None = None


def answer(request: OilRequest, dataset: Dataset) -> Answer:
    """Everything about the oil that the inputs allow.

    Raises:
        MissingInput: no sump, or half of a pair of figures.
        NotInDataset: an engine, oil or grade that is not held.
        OutsideValidity, Contradiction: figures that make no sense, each with its field.
    """
    if request.engine:
        dataset.entity("engines", request.engine, "engine")
    found = Answer(result={})
    result = found.result
    filled = oil_fill(request, dataset, found)
    result["dipstick"] = dipstick(request, filled, found)
    oil = find_oil(request, dataset, found)
    result["viscosity"] = viscosity_rows(request, oil, found) if oil else None
    if oil:
        check_hot(request, oil, found)
        check_sheet_against_grade(request, dataset, found)
    check_cold(request, dataset, found)
    check_heat(request, dataset, found)
    check_gauge(request, found)
    floor = floor_of(dataset, request.engine, found)
    check_reading(request, floor, found)
    result["pressure_floor"] = pressure_rows(request, oil, floor, dataset, found)
    result["wear"] = wear(request, oil, dataset, found)
    check_external(request, filled, found)
    result["priming"] = priming(request, filled, dataset, found)
    result["additives"] = additives(request, filled.total, dataset, found)
    result["grades"] = grades_for_climate(request, dataset, found)
    return found


TOPIC = Topic(
    name="oil",
    path="/v1/oil",
    title="Oil",
    summary=(
        "Oil fill with filter, cooler and lines; viscosity by temperature; pressure floor and the pressure to expect; "
        "priming plan within the starter's duty; zinc and phosphorus; grade for the climate."
    ),
    request=OilRequest,
    result=OilResult,
    answer=answer,
    examples=(
        Example(
            "Sump, filter, cooler and two hoses with SAE 30",
            {
                "sump": "2.5 L",
                "filter": "0.35 L",
                "cooler": "0.45 L",
                "lines": [{"bore": "12.7 mm", "length": "1.8 m"}, {"bore": "12.7 mm", "length": "1.8 m"}],
                "grade": "SAE 30",
            },
        ),
        Example(
            "Priming with an empty cooler, and with one filled by hand",
            {
                "sump": "2.5 L",
                "filter": "0.35 L",
                "cooler": "0.45 L",
                "lines": [{"bore": '1/2"', "length": "12 ft"}],
                "filled_by_hand": False,
                "pump": {"displacement": "6 cc", "ratio": 0.5, "efficiency": 0.8},
                "cranking_speed": "200 rpm",
            },
        ),
        Example(
            "Is 0.8 bar at hot idle normal for this engine?",
            {
                "sump": "2.5 L",
                "viscosity_40": "100 cSt",
                "viscosity_100": "11 cSt",
                "reading": {"pressure": "2.8 bar", "speed": "2500 rpm", "temperature": "90 degC"},
                "oil_temperature": "100 degC",
                "speeds": ["900 rpm", "2500 rpm"],
            },
        ),
        Example(
            "How much additive do flat tappets need in this oil?",
            {
                "sump": "2.5 L",
                "tappet": "flat",
                "phosphorus": "800 ppm",
                "additive": {"phosphorus": "2.5 %"},
                "target_phosphorus": "1200 ppm",
            },
        ),
        Example(
            "Which grade for a start at -5 °C and hot oil of 110 °C?",
            {"sump": "2.5 L", "grade": "20W-50", "start_temperature": "-5 degC", "oil_temperature": "110 degC"},
        ),
    ),
    cautions=("priming",),
    stage="pre-start",
)
