"""Leak-down part of the cylinder check: what each reading means on the standard tester, and where to listen."""

from typing import Annotated, Literal

from pydantic import Field

from service.answers.envelope import Answer, QuantityOut, Result, Rule
from service.answers.inputs import Measured, Number, Request
from service.calculations import leak_down
from service.errors import Contradiction, OutsideValidity
from service.quantities import FINE_CLEARANCE, LEAK_SHARE, PRESSURE, Measure, Quantity, text_of

LEAK_DOWN = Rule(
    code="leak-down",
    severity="fix",
    stage="after-run",
    rule="leak above 25 % on the tester of AC 43.13-1B (80 psi through 0.040 in), warm, at top dead centre",
    reason="Rings or a valve do not seal: oil use, blow-by and a burnt valve follow.",
    remedy="Listen where it hisses, work the valve with a tap on its stem, turn the rings in by a loaded run, then repeat.",
    source="faa-ac-43-13-1b",
    evidence="government",
)
TESTER_DIFFERS = Rule(
    code="leak-tester-differs",
    severity="note",
    stage="after-run",
    rule="orifice or supply more than 10 % off those of AC 43.13-1B",
    reason="The percentage of a leak-down test depends on the tester: a larger orifice flatters, a smaller one frightens.",
    remedy="Compare the converted figures, never the percentages of two testers.",
    source="derived",
    evidence="derived",
)
LEAST_READING = 100.0  # Pa: what no gauge shows any more

Place = Literal["carburettor", "exhaust", "oil-filler", "neighbour-plug-hole", "head-joint", "nothing"]

WHERE_TO_LOOK: dict[Place, str] = {
    "carburettor": "intake valve: lash, seat, bent stem",
    "exhaust": "exhaust valve: lash, seat, burnt head",
    "oil-filler": "rings, ring gaps in line, bore or piston",
    "neighbour-plug-hole": "joint between the two cylinders",
    "head-joint": "head joint: nut torque, gasket or ring, cracked head",
    "nothing": "repeat warm at top dead centre and check the tester's own hoses",
}


class Sound(Request):
    """Where a cylinder was heard to hiss."""

    cylinder: Annotated[int, Number(1, 36, integer=True, example=3, meaning="Number of the cylinder.")]
    at: Place


class LeakDown(Request):
    """One tester's supply and orifice, and its reading on every cylinder in the order of their numbers."""

    readings: Annotated[
        list[
            Annotated[
                Quantity,
                Measured(
                    "pressure", "0 .. 10 bar", "0.5 .. 7 bar", "70 psi", "Second gauge: the pressure that the cylinder holds."
                ),
            ]
        ],
        Field(min_length=1, max_length=36),
    ]
    supply: (
        Annotated[
            Quantity,
            Measured("pressure", "0.5 .. 10 bar", "3 .. 8 bar", "80 psi", "First gauge: the pressure before the orifice."),
        ]
        | None
    ) = None
    orifice: (
        Annotated[Quantity, Measured("length", "0.2 .. 3 mm", "0.4 .. 1.6 mm", "1.016 mm", "Bore of the tester's orifice.")]
        | None
    ) = None
    heard: Annotated[list[Sound], Field(min_length=1, max_length=36)] | None = None


class LeakOut(Result):
    """One cylinder's leak: as read, as a hole, and as the standard tester would show it."""

    reading: QuantityOut
    share: QuantityOut
    equivalent_leak: QuantityOut | None = None
    standard_share: QuantityOut
    verdict: Literal["fresh", "usable", "leaks"]
    look_at: list[str]


def leak_rows(found: Answer, request: LeakDown, *, station_pressure: float) -> list[dict[str, object]]:
    """A row for every reading; raises the findings of the tester and of each leaking cylinder.

    Raises:
        OutsideValidity: a reading above the supply.
        Contradiction: a sound at a cylinder that was not read.
    """
    supply = _supply(found, request.supply)
    orifice = _orifice(found, request.orifice)
    check_tester(found, supply=supply, orifice=orifice)
    count = len(request.readings)
    if any(sound.cylinder > count for sound in request.heard or ()):
        raise Contradiction(
            ("leak_down/heard", "leak_down/readings"), "A hiss is noted at a cylinder without a reading; send its reading too."
        )
    return [
        _row(found, number, reading.si, supply, orifice, station_pressure, request)
        for number, reading in enumerate(request.readings, start=1)
    ]


def check_tester(found: Answer, *, supply: float, orifice: float) -> None:
    """Whether the tester's percentages can be compared with those of the circular."""
    off_supply = abs(supply / leak_down.STANDARD_SUPPLY - 1) > 0.1
    off_orifice = abs(orifice / leak_down.STANDARD_ORIFICE - 1) > 0.1
    if off_supply or off_orifice:
        found.find(
            TESTER_DIFFERS,
            ("leak_down.supply", "leak_down.orifice"),
            f"This tester has {text_of(FINE_CLEARANCE(orifice))} and {text_of(PRESSURE(supply))}, that of AC 43.13-1B "
            f"{text_of(FINE_CLEARANCE(leak_down.STANDARD_ORIFICE))} and {text_of(PRESSURE(leak_down.STANDARD_SUPPLY))}.",
        )


def check_leak(found: Answer, *, number: int, share: float | None) -> None:
    """Whether a cylinder's share on the standard tester is within its limit; ``None`` holds no pressure at all."""
    field = (f"leak_down.readings.{number - 1}",)
    if share is None:
        found.find(
            LEAK_DOWN,
            field,
            f"Cylinder {number} holds nothing: a valve is open, the piston is off top dead centre, or there is a hole.",
        )
    elif leak_down.verdict_of(share=share) == "leaks":
        lost, limit = text_of(LEAK_SHARE(share)), text_of(LEAK_SHARE(leak_down.STANDARD_LIMIT))
        found.find(LEAK_DOWN, field, f"Cylinder {number} loses {lost} on the standard tester, the limit is {limit}.")


def _supply(found: Answer, given: Quantity | None) -> float:
    if given is not None:
        return given.si
    measure = PRESSURE(leak_down.STANDARD_SUPPLY)
    found.assume("leak_down.supply", measure, "The tester of AC 43.13-1B.", "faa-ac-43-13-1b", "government")
    return leak_down.STANDARD_SUPPLY


def _orifice(found: Answer, given: Quantity | None) -> float:
    if given is not None:
        return given.si
    measure = FINE_CLEARANCE(leak_down.STANDARD_ORIFICE)
    found.assume("leak_down.orifice", measure, "The tester of AC 43.13-1B.", "faa-ac-43-13-1b", "government")
    return leak_down.STANDARD_ORIFICE


def _row(
    found: Answer, number: int, reading: float, supply: float, orifice: float, station_pressure: float, request: LeakDown
) -> dict[str, object]:
    """One cylinder."""
    try:
        share = leak_down.leak_share(supply=supply, reading=reading)
    except OutsideValidity as refusal:
        raise OutsideValidity(f"leak_down/readings/{number - 1}", refusal.reason, refusal.allowed) from None
    found.rests_on(leak_down.leak_share)
    heard = [WHERE_TO_LOOK[sound.at] for sound in request.heard or () if sound.cylinder == number]
    row: dict[str, object] = {"reading": PRESSURE(reading), "share": LEAK_SHARE(share)}
    if reading <= LEAST_READING:
        check_leak(found, number=number, share=None)
        lost = {"standard_share": LEAK_SHARE(1.0), "verdict": "leaks"}
        return {**row, **lost, "look_at": heard or ["valves and piston position before anything else"]}
    standard = leak_down.on_standard_tester(supply=supply, reading=reading, orifice=orifice, station_pressure=station_pressure)
    found.rests_on(leak_down.leak_diameter, leak_down.leak_reading, leak_down.on_standard_tester)
    check_leak(found, number=number, share=standard.share)
    if standard.verdict == "leaks" and not heard:
        heard = ["listen at carburettor, exhaust, oil filler, neighbouring plug hole and head joint"]
    leak: Measure = FINE_CLEARANCE(standard.leak)
    return {
        **row,
        "equivalent_leak": leak,
        "standard_share": LEAK_SHARE(standard.share),
        "verdict": standard.verdict,
        "look_at": heard,
    }
