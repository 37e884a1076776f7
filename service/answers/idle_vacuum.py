"""The vacuum at idle: reduced to sea level, against that of a sound engine."""

from typing import Annotated, TypeAlias

from service.answers.envelope import Answer, QuantityOut, Result, Rule
from service.answers.inputs import Measured
from service.answers.limits import below
from service.calculations import atmosphere
from service.calculations import cylinder_check as calculation
from service.errors import OutsideValidity
from service.quantities import PRESSURE, VACUUM, Quantity, text_of

INCH_OF_MERCURY = 3_386.388640341  # Pa
USUAL_VACUUM = 17 * INCH_OF_MERCURY  # at sea level
LEAST_VACUUM = 15 * INCH_OF_MERCURY  # at sea level

VACUUM_LOW = Rule(
    code="idle-vacuum-low",
    severity="caution",
    stage="after-run",
    rule="idle vacuum below 15 inHg reduced to sea level",
    reason="Steady and low is late timing or an intake leak; a regular flick is one valve. A long cam idles lower by itself.",
    remedy="Check timing and spray the intake joints; watch whether the needle is steady.",
    source="common-practice",
    evidence="common-practice",
)

Vacuum: TypeAlias = Annotated[
    Quantity, Measured("pressure", "0 .. 90 kPa", "20 .. 75 kPa", "17 inHg", "Idle vacuum below the air outside.")
]


class VacuumOut(Result):
    """Idle vacuum as it would be at sea level, and what a sound engine shows here."""

    sea_level: QuantityOut
    usual_here: QuantityOut


def vacuum_row(found: Answer, idle_vacuum: Quantity | None, station: float) -> dict[str, object] | None:
    """Idle vacuum reduced to sea level, and what is usual at a station pressure in Pa.

    Raises:
        OutsideValidity: the vacuum is more than the air outside has.
    """
    if idle_vacuum is None:
        found.cannot_check(VACUUM_LOW.code, ["idle_vacuum"])
        return None
    if idle_vacuum.si > station:
        raise OutsideValidity(
            "idle_vacuum",
            "A vacuum cannot exceed the pressure of the air outside; send the depression that the gauge shows.",
            f"0 … {text_of(PRESSURE(station))}",
        )
    sea_level = calculation.vacuum_at_pressure(
        vacuum=idle_vacuum.si, station_pressure=station, other_pressure=atmosphere.SEA_LEVEL_PRESSURE
    )
    usual = calculation.vacuum_at_pressure(
        vacuum=USUAL_VACUUM, station_pressure=atmosphere.SEA_LEVEL_PRESSURE, other_pressure=station
    )
    found.rests_on(calculation.vacuum_at_pressure)
    check_vacuum(found, sea_level=sea_level, usual=usual)
    return {"sea_level": VACUUM(sea_level), "usual_here": VACUUM(usual)}


def check_vacuum(found: Answer, *, sea_level: float, usual: float) -> None:
    """Whether the idle vacuum, reduced to sea level, is that of a sound engine."""
    if below(sea_level, LEAST_VACUUM):
        found.find(
            VACUUM_LOW,
            ("idle_vacuum",),
            f"Reduced to sea level it is {text_of(VACUUM(sea_level))}; "
            f"a sound engine shows about {text_of(VACUUM(usual))} here.",
        )
