"""Oil pressure: the floor by speed, what one warm reading predicts, and what it says of wear since an earlier one."""

from typing import Any

from service.answers.engine_facts import engine_fact
from service.answers.envelope import Answer, Rule, Severity
from service.answers.nested import inside
from service.answers.oil_floor import Floor, told_apart
from service.answers.oil_request import OilRequest, ReadingRequest
from service.answers.oil_viscosity import Oil
from service.calculations.break_in_limits import RPM, oil_pressure_floor
from service.calculations.oil_pressure import Prediction, State, WearVerdict, predicted_pressure, wear_verdict
from service.errors import OutsideValidity
from service.methods import Evidence
from service.quantities import PERCENT, PRESSURE, SPEED, TEMPERATURE, text_of
from service.reference.dataset import Dataset

PREDICTION = "pressure-at-other-speeds"
USUAL_SPEEDS = tuple(n * RPM for n in (900, 1500, 2000, 2500, 3000, 4000))
USUAL_RELIEF = 4e5
# A gauge of class 1.6 and 10 bar, where the dataset says nothing of gauges.
GAUGE_UNCERTAINTY = 1.6e4
# The two viscosities are of one oil, so what is left is the thermometer: some 2.5 K, at 3 to 4 % a kelvin.
VISCOSITY_UNCERTAINTY = 0.1

NO_PRESSURE_GAUGE = Rule(
    code="no-pressure-gauge",
    severity="fix",
    stage="pre-start",
    rule="a warning lamp, or nothing, in place of an oil-pressure gauge",
    reason="The lamp goes out at 0.15 to 0.45 bar: above idle it says nothing.",
    remedy="Fit a gauge that reads to 10 bar before the first start, and read it while cranking.",
    source="common-practice",
    evidence="common-practice",
)
OIL_PRESSURE_LOW = Rule(
    code="oil-pressure-low",
    severity="stop",
    stage="first-fire",
    rule="oil pressure under its floor, as a rule 0.69 bar per 1000 rpm and 0.35 bar (a caution where it is only predicted)",
    reason="Bearings and cam lose their oil; the damage is done in seconds.",
    remedy="Switch off; check level, pick-up, relief valve and gauge before the engine turns again.",
    source="common-practice",
    evidence="common-practice",
)
OIL_PRESSURE_CHANGED = Rule(
    code="oil-pressure-changed",
    severity="caution",
    stage="after-run",
    rule="pressure differs from what the earlier reading predicts by more than the readings' uncertainty (fix: a third lost)",
    reason="Speed and viscosity are taken out already: what is left is clearance, pump, relief valve, or fuel in the oil.",
    remedy="Repeat the reading with the same gauge; then look at dilution, relief valve, pump cover and bearings in turn.",
    source="shigley-mischke-1989",
    evidence="derived",
)


def check_gauge(request: OilRequest, found: Answer) -> None:
    """Whether the first start can be watched on a gauge."""
    if request.pressure_gauge is None:
        found.cannot_check(NO_PRESSURE_GAUGE.code, ["pressure_gauge"])
    elif request.pressure_gauge != "gauge":
        lamp = "The oil pressure is to be watched on a warning lamp, which tells too late."
        none = "No oil-pressure gauge is fitted; a warning lamp, if there is one, tells too late."
        found.find(NO_PRESSURE_GAUGE, ("pressure_gauge",), lamp if request.pressure_gauge == "lamp" else none)


def pressure_rows(request: OilRequest, oil: Oil | None, floor: Floor, dataset: Dataset, found: Answer) -> list[dict[str, Any]]:
    """The floor for every speed, with the pressure to expect there where a reading allows it."""
    found.rests_on(oil_pressure_floor)
    known, relief = _known_state(request, oil, dataset, found)
    hot = _hot_viscosity(request, oil) if known is not None else None
    gauge = _gauge_uncertainty(dataset, found) if hot is not None else 0.0
    rows, short = [], {}
    for speed in [s.si for s in request.speeds or ()] or USUAL_SPEEDS:
        row: dict[str, Any] = {"speed": SPEED(speed), "pressure": PRESSURE(floor.at(speed))}
        if known is not None and hot is not None:
            expected = _expected(known, speed, hot[1], relief, gauge)
            row["expected"] = PRESSURE(expected.gauge_pressure, expected.uncertainty)
            row["relief_valve_open"] = expected.relief_open
            if floor.misses(expected.gauge_pressure + expected.uncertainty, speed):
                short[speed] = expected.gauge_pressure
        rows.append(row)
    if short and hot is not None and not _reading_is_low(request, floor):
        _warn_of_shortage(short, hot[0], floor, found)
    return rows


def _warn_of_shortage(short: dict[float, float], hot: float, floor: Floor, found: Answer) -> None:
    """One caution for the speed at which most is missing."""
    speed = min(short, key=lambda n: short[n] / floor.at(n))
    found.find(
        OIL_PRESSURE_LOW,
        ("reading",),
        f"At {text_of(SPEED(speed))} and {text_of(TEMPERATURE(hot))} about {text_of(PRESSURE(short[speed]))} are to be "
        f"expected; the floor is {text_of(PRESSURE(floor.at(speed)))}.",
        severity="caution",
    )


def _reading_is_low(request: OilRequest, floor: Floor) -> bool:
    return request.reading is not None and floor.misses(request.reading.pressure.si, request.reading.speed.si)


def check_reading(request: OilRequest, floor: Floor, found: Answer) -> None:
    """Whether a reading itself is below the floor."""
    given = request.reading
    if given is not None and _reading_is_low(request, floor):
        read, least = told_apart(given.pressure.si, floor.at(given.speed.si))
        message = f"{read} at {text_of(SPEED(given.speed.si))} is below the floor of {least}."
        found.find(OIL_PRESSURE_LOW, ("reading.pressure",), message)


def wear(request: OilRequest, oil: Oil | None, dataset: Dataset, found: Answer) -> dict[str, Any] | None:
    """The reading against the earlier one; ``None`` where either, or the oil, is not known."""
    if request.reading is None or request.earlier is None:
        found.cannot_check(
            OIL_PRESSURE_CHANGED.code,
            [name for name in ("reading", "earlier") if getattr(request, name) is None],
            "One warm reading with speed and oil temperature is worth writing down on the first day.",
        )
        return None
    if oil is None:
        return None  # said already: the grade is wanted
    relief, _, _ = _relief(request, dataset, found)
    try:
        verdict = wear_verdict(
            earlier=_state(request.earlier, oil),
            now=_state(request.reading, oil),
            relief_pressure=relief,
            gauge_uncertainty=_gauge_uncertainty(dataset, found),
            viscosity_uncertainty=VISCOSITY_UNCERTAINTY,
        )
    except OutsideValidity as refusal:
        found.cannot_check(OIL_PRESSURE_CHANGED.code, [refusal.field.replace("/", ".")], refusal.reason)
        return None
    found.rests_on(wear_verdict)
    _judge(verdict, found)
    return {
        "verdict": verdict.verdict,
        "pressure_ratio": verdict.pressure_ratio,
        "pressure_ratio_uncertainty": verdict.pressure_ratio_uncertainty,
        "leak_ratio": verdict.leak_ratio,
        "clearance_ratio": verdict.clearance_ratio,
    }


def _judge(verdict: WearVerdict, found: Answer) -> None:
    if verdict.verdict == "unchanged":
        return
    change = text_of(PERCENT(abs(verdict.pressure_ratio - 1)))
    spread = text_of(PERCENT(verdict.pressure_ratio_uncertainty))
    direction = "more" if verdict.verdict == "higher" else "less"
    severities: dict[str, Severity] = {"much-lower": "fix", "lower": "caution", "higher": "note"}
    found.find(
        OIL_PRESSURE_CHANGED,
        ("reading", "earlier"),
        f"The pressure is {change} (± {spread}) {direction} than the earlier reading predicts for this speed and oil.",
        severity=severities[verdict.verdict],
    )


def _known_state(request: OilRequest, oil: Oil | None, dataset: Dataset, found: Answer) -> tuple[State | None, float]:
    """The reading as a state that predicts others, and the relief pressure that caps them."""
    if request.reading is None:
        found.cannot_check(PREDICTION, ["reading"], "The pressure to expect at other speeds.")
        return None, USUAL_RELIEF
    relief, source, evidence = _relief(request, dataset, found)
    if request.relief_pressure is None:
        found.assume("relief_pressure", PRESSURE(relief), "usual of such engines", source, evidence)
    if oil is None:
        return None, relief
    try:
        state = _state(request.reading, oil)
        _expected(state, state.speed, state.viscosity, relief, 0.0)
    except OutsideValidity as refusal:
        found.cannot_check(PREDICTION, [refusal.field.replace("/", ".")], refusal.reason)
        return None, relief
    found.rests_on(predicted_pressure)
    return state, relief


def _relief(request: OilRequest, dataset: Dataset, found: Answer) -> tuple[float, str, Evidence]:
    if request.relief_pressure is not None:
        return request.relief_pressure.si, "", "common-practice"
    fact = engine_fact(dataset, "oil-facts", request.engine, "relief_low")
    if fact is not None and fact.si is not None:
        found.uses(fact)
        return fact.si, fact.source, "from-memory"
    return USUAL_RELIEF, "common-practice", "common-practice"


def _state(reading: ReadingRequest, oil: Oil) -> State:
    return State(reading.pressure.si, reading.speed.si, oil.nominal(reading.temperature.si))


def _hot_viscosity(request: OilRequest, oil: Oil | None) -> tuple[float, float] | None:
    """Temperature and viscosity for which pressures are predicted: of the hot oil, or else of the reading itself."""
    hot = request.oil_temperature or (request.reading.temperature if request.reading else None)
    if oil is None or hot is None:
        return None
    with inside("oil_temperature" if request.oil_temperature else "reading"):
        return hot.si, oil.nominal(hot.si)


def _gauge_uncertainty(dataset: Dataset, found: Answer) -> float:
    gauge = dataset.find("gauges", "pressure-gauge")
    if gauge is None or not gauge.has("uncertainty"):
        return GAUGE_UNCERTAINTY
    found.uses(gauge.fact("uncertainty"))
    return gauge.si("uncertainty")


def _expected(known: State, speed: float, viscosity: float, relief: float, gauge: float) -> Prediction:
    return predicted_pressure(
        known=known,
        speed=speed,
        viscosity=viscosity,
        relief_pressure=relief,
        gauge_uncertainty=gauge,
        viscosity_uncertainty=VISCOSITY_UNCERTAINTY,
    )
