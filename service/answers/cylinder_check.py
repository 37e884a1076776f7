"""Do the cylinders agree: compression readings, leak-down, wet test and idle vacuum, and what to look at next."""

from collections.abc import Mapping, Sequence
from typing import Annotated, Any, Literal

from pydantic import Field

from service.answers.air import pressure_of
from service.answers.compression_readings import (
    Agreement,
    Band,
    Conditions,
    ExpectedBand,
    GaugePressure,
    Neighbours,
    SpreadOut,
    WetTest,
    agreement_of,
    check_band,
    check_conditions,
    expected_band,
    spread_out,
)
from service.answers.envelope import Answer, BandOut, QuantityOut, Result, band
from service.answers.idle_vacuum import Vacuum, VacuumOut, vacuum_row
from service.answers.inputs import Altitude, Number, Request, StationPressure
from service.answers.leak import LeakDown, LeakOut, leak_rows
from service.answers.topic import Example, Topic
from service.calculations import atmosphere
from service.calculations import cylinder_check as calculation
from service.errors import Contradiction, MissingInput
from service.quantities import BAROMETER, PERCENT, PRESSURE
from service.reference.dataset import Dataset

AFTER_WET_TEST: Mapping[str, str] = {
    "rings": "the oil helped: rings, ring gaps in line, or bore",
    "valve-or-gasket": "the oil did not help: valve lash, seat or guide, or the head joint",
    "repeat": "the wet reading fell: repeat dry and wet alike",
}
LASH_THEN_WET = "check the lash, then read again with a spoon of oil (5 cm³) in the cylinder"
NUTS_THEN_JOINT = "check the head nuts in their order, then take the head off and look at the joint to the low neighbour"


class CylinderCheckRequest(Request):
    """Compression or leak-down readings in the order of the cylinder numbers, and the air of the place."""

    gauge_pressures: Annotated[list[GaugePressure], Field(min_length=1, max_length=36)] | None = None
    leak_down: LeakDown | None = None
    altitude: Altitude | None = None
    pressure: StationPressure | None = None
    expected: ExpectedBand | None = None
    effective_ratio: (
        Annotated[
            float,
            Number(
                2,
                14,
                (5, 10),
                example=6.62,
                meaning="Effective ratio at the advertised intake closing, as /v1/compression says.",
            ),
        ]
        | None
    ) = None
    wet_tests: Annotated[list[WetTest], Field(min_length=1, max_length=36)] | None = None
    neighbours: Annotated[list[Neighbours], Field(min_length=1, max_length=36)] | None = None
    conditions: Conditions | None = None
    idle_vacuum: Vacuum | None = None


class CylinderVerdictOut(Result):
    """One cylinder: readings, verdict and what to look at next."""

    cylinder: int
    gauge_pressure: QuantityOut | None = None
    sea_level_pressure: QuantityOut | None = None
    share_of_mean: QuantityOut | None = None
    against_expected: Literal["below", "within", "above"] | None = None
    wet_test: Literal["rings", "valve-or-gasket", "repeat"] | None = None
    leak: LeakOut | None = None
    verdict: Literal["good", "watch", "fault"]
    next_steps: list[str]


class CylinderCheckResult(Result):
    """Expected pressure, spread, and a verdict for every cylinder."""

    station_pressure: QuantityOut
    expected_pressure: BandOut | None = None
    spread: SpreadOut | None = None
    cylinders: list[CylinderVerdictOut]
    idle_vacuum: VacuumOut | None = None


def answer(request: CylinderCheckRequest, _dataset: Dataset) -> Answer:
    """Expected pressure at this altitude, spread, and a verdict for every cylinder.

    Raises:
        MissingInput: neither compression nor leak-down readings.
        Contradiction: readings or numbers of cylinders that do not fit together.
        OutsideValidity: a reading that makes no sense.
    """
    _refuse_mismatch(request)
    found = Answer(result={})
    station = pressure_of(found, altitude=request.altitude, pressure=request.pressure)
    expected = agreement = None
    if request.gauge_pressures:
        pressures = [pressure.si for pressure in request.gauge_pressures]
        check_conditions(found, conditions=request.conditions)
        agreement = agreement_of(found, pressures=pressures, neighbours=request.neighbours or [])
        expected = expected_band(found, given=request.expected, effective_ratio=request.effective_ratio, station=station)
        if expected is not None:
            check_band(found, pressures=pressures, expected=expected)
    leaks = leak_rows(found, request.leak_down, station_pressure=station) if request.leak_down else []
    rows = [
        _cylinder(found, request, number, station=station, expected=expected, agreement=agreement, leaks=leaks)
        for number in range(1, _count(request) + 1)
    ]
    found.table = [_line(row) for row in rows]
    found.result = {
        "station_pressure": BAROMETER(station),
        "expected_pressure": None if expected is None else band(*(PRESSURE(end) for end in expected)),
        "spread": None if agreement is None else spread_out(agreement.spread),
        "cylinders": rows,
        "idle_vacuum": vacuum_row(found, request.idle_vacuum, station),
    }
    return found


def _count(request: CylinderCheckRequest) -> int:
    readings = request.gauge_pressures or (request.leak_down.readings if request.leak_down else [])
    return len(readings)


def _refuse_mismatch(request: CylinderCheckRequest) -> None:
    """Refuse readings that do not belong to the same cylinders."""
    count = _count(request)
    if not count:
        raise MissingInput(
            "gauge_pressures", "Send compression readings or leak-down readings, in the order of the cylinders.", "9.2 bar"
        )
    if request.gauge_pressures and request.leak_down and len(request.leak_down.readings) != count:
        raise Contradiction(
            ("gauge_pressures", "leak_down/readings"), "Both lists need one reading for every cylinder, in the same order."
        )
    if any(test.cylinder > count for test in request.wet_tests or ()) or (request.wet_tests and not request.gauge_pressures):
        raise Contradiction(
            ("wet_tests", "gauge_pressures"), "A wet test needs the dry reading of the same cylinder in gauge_pressures."
        )


def _cylinder(
    found: Answer,
    request: CylinderCheckRequest,
    number: int,
    *,
    station: float,
    expected: Band | None,
    agreement: Agreement | None,
    leaks: Sequence[dict[str, Any]],
) -> dict[str, Any]:
    """The row of one cylinder: what was read, the verdict, and what to look at next."""
    row: dict[str, Any] = {"cylinder": number}
    faults, watches, steps = False, False, []
    wet = _wet(found, request, number)
    if request.gauge_pressures:
        gauge = request.gauge_pressures[number - 1].si
        row |= _readings(found, gauge, station, expected, agreement)
        watches = row.get("against_expected", "within") != "within"
        if agreement is not None:
            faults = number in agreement.low or number in agreement.in_low_pair
            watches = watches or number in agreement.lowest
            steps += _against_others(agreement, number, wet)
        if not steps and row.get("against_expected") == "above":
            steps.append("carbon or oil in the chamber, or a higher ratio than was built")
    if wet is not None:
        row["wet_test"] = wet
        steps.append(AFTER_WET_TEST[wet])
    if leaks:
        row["leak"] = leaks[number - 1]
        faults = faults or row["leak"]["verdict"] == "leaks"
        watches = watches or row["leak"]["verdict"] == "usable"
        steps += row["leak"]["look_at"]
    row["verdict"] = "fault" if faults else "watch" if watches else "good"
    row["next_steps"] = steps
    return row


def _against_others(agreement: Agreement, number: int, wet: str | None) -> list[str]:
    """What to look at because of the other cylinders: the joint of a low pair; lash and wet test, if not yet done."""
    in_pair = number in agreement.in_low_pair
    steps = [NUTS_THEN_JOINT] if in_pair else []
    alone = number in agreement.low or (number in agreement.lowest and not in_pair)
    return [*steps, LASH_THEN_WET] if alone and wet is None else steps


def _readings(
    found: Answer, gauge: float, station: float, expected: Band | None, agreement: Agreement | None
) -> dict[str, Any]:
    """A compression reading here, at sea level, against the others and against the band."""
    found.rests_on(calculation.compression_at_pressure)
    sea_level = calculation.compression_at_pressure(
        gauge_pressure=gauge, station_pressure=station, other_pressure=atmosphere.SEA_LEVEL_PRESSURE
    )
    row: dict[str, Any] = {"gauge_pressure": PRESSURE(gauge), "sea_level_pressure": PRESSURE(sea_level)}
    if agreement is not None:
        row["share_of_mean"] = PERCENT(gauge / agreement.spread.mean)
    if expected is not None:
        row["against_expected"] = calculation.against_band(pressure=gauge, low=expected[0], high=expected[2])
    return row


def _wet(found: Answer, request: CylinderCheckRequest, number: int) -> str | None:
    """What the last wet test of a cylinder points to, if there was one."""
    for test in reversed(request.wet_tests or []):
        if test.cylinder == number and request.gauge_pressures:
            found.rests_on(calculation.wet_test)
            dry = request.gauge_pressures[number - 1].si
            return calculation.wet_test(dry=dry, wet=test.gauge_pressure.si).points_to
    return None


def _line(row: dict[str, Any]) -> dict[str, Any]:
    """A cylinder as a line of the table; all lines have the same columns."""
    line = {"cylinder": row["cylinder"]}
    line |= {name: row[name] for name in ("gauge_pressure", "share_of_mean") if name in row}
    if "leak" in row:
        line["standard_leak_share"] = row["leak"]["standard_share"]
    return line | {"verdict": row["verdict"], "next_steps": "; ".join(row["next_steps"])}


TOPIC = Topic(
    name="cylinder_check",
    path="/v1/cylinder-check",
    title="Cylinder check",
    summary="Compression and leak-down: expected pressure at the altitude, agreement, and a verdict for every cylinder.",
    request=CylinderCheckRequest,
    result=CylinderCheckResult,
    answer=answer,
    examples=(
        Example(
            "Do the cylinders agree?",
            {
                "gauge_pressures": ["8.9 bar", "9.1 bar", "6.2 bar", "9.0 bar"],
                "altitude": "300 m",
                "effective_ratio": 6.62,
                "wet_tests": [{"cylinder": 3, "gauge_pressure": "8.4 bar"}],
                "neighbours": [{"first": 1, "second": 2}, {"first": 3, "second": 4}],
                "conditions": {"warm": True, "throttle_open": True, "plugs_out": True},
            },
        ),
        Example(
            "Leak-down on a small-orifice tester",
            {
                "altitude": "0 ft",
                "leak_down": {
                    "supply": "100 psi",
                    "orifice": "0.5 mm",
                    "readings": ["45 psi", "52 psi", "11 psi", "48 psi"],
                    "heard": [{"cylinder": 3, "at": "exhaust"}],
                },
            },
        ),
        Example(
            "Against the maker's band, at 5000 ft",
            {
                "gauge_pressures": ["95 psi", "97 psi"],
                "altitude": "5000 ft",
                "expected": {"low": "100 psi", "high": "135 psi"},
                "idle_vacuum": "14 inHg",
            },
        ),
    ),
    cautions=("after-run",),
    stage="after-run",
)
