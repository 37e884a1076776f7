"""What is asked about a break-in: the valve gear, the limits of the run, and what was run before."""

from typing import Annotated, Any, Literal, TypeAlias

from pydantic import BeforeValidator, Field

from service.answers.inputs import AirTemperature, Id, Measured, Request, Speed, Tappet
from service.quantities import Quantity

Spring: TypeAlias = Literal["single", "stiff-single", "dual"]
Rings: TypeAlias = Literal["iron", "moly", "chrome", "chromed-barrels"]
Lubrication: TypeAlias = Literal["moly-paste", "assembly-lube", "engine-oil", "dry"]
CamSurface: TypeAlias = Literal["plain", "nitrided", "coated"]
Gate: TypeAlias = Literal[
    "oil-filled",
    "pressure-on-cranking",
    "oil-at-rockers",
    "static-timing",
    "float-bowl",
    "fuel-leaks",
    "fan-and-tinware",
    "exhaust-outside",
    "extinguishers",
    "tappets-turn",
    "lash-cold",
    "gauge-live",
    "log-running",
    "second-person",
    "kill-switch",
]

RunTime: TypeAlias = Annotated[
    Quantity, Measured("duration", "2 .. 120 min", "10 .. 40 min", "20 min", "Break-in time that has to be credited in all.")
]
CreditedTime: TypeAlias = Annotated[
    Quantity, Measured("duration", "0 .. 7200 s", "", "14 min", "Break-in time credited to earlier runs.")
]
BandSpeed: TypeAlias = Annotated[
    Quantity, Measured("rotational speed", "900 .. 4600 rpm", "1200 .. 4000 rpm", "2000 rpm", "End of the speed band.")
]
Dwell: TypeAlias = Annotated[
    Quantity, Measured("duration", "5 .. 600 s", "30 .. 120 s", "60 s", "Longest time at one speed (within 75 rpm).")
]
RampRate: TypeAlias = Annotated[
    Quantity,
    Measured("rotational acceleration", "5 .. 1000 rpm/s", "20 .. 100 rpm/s", "50 rpm/s", "How fast the speed is changed."),
]
BandWidth: TypeAlias = Annotated[
    Quantity, Measured("rotational speed", "100 .. 1000 rpm", "100 .. 400 rpm", "100 rpm", "Width of one speed band.")
]
Hold: TypeAlias = Annotated[
    Quantity, Measured("duration", "5 .. 120 s", "10 .. 60 s", "30 s", "Usual time at a set point before it is changed.")
]
SpringLoad: TypeAlias = Annotated[
    Quantity, Measured("force", "20 .. 4000 N", "350 .. 1200 N", "620 N", "Load of the springs on one open valve.")
]
Advance: TypeAlias = Annotated[
    Quantity, Measured("angle", "5 .. 50 deg", "24 .. 34 deg", "30 deg", "Total ignition advance before top dead centre.")
]


class BreakInScheduleRequest(Request):
    """The tappets, or an engine; everything else has a usual value, which the answer names."""

    tappet: Tappet | None = None
    engine: Id | None = None
    procedure: (
        Annotated[Id, Field(description="A row of the table break-in-procedures instead of the usual choice.")] | None
    ) = None
    spring: Spring | None = None
    open_load: SpringLoad | None = None
    rings: Rings | None = None
    lubrication: Annotated[Lubrication, Field(description="What cam and tappets were coated with at assembly.")] | None = None
    cam_surface: CamSurface | None = None
    new_cam: Annotated[bool, Field(description="False for a used cam with its tappets in their old places.")] | None = None
    duration: RunTime | None = None
    speed_low: BandSpeed | None = None
    speed_high: BandSpeed | None = None
    longest_dwell: Dwell | None = None
    ramp_rate: RampRate | None = None
    band_width: BandWidth | None = None
    usual_hold: Hold | None = None
    rev_limit: Speed | None = None
    air_temperature: AirTemperature | None = None
    total_advance: Advance | None = None
    credited: CreditedTime | None = None
    stood: (
        Annotated[
            Quantity, Measured("duration", "0 .. 100000 min", "", "20 min", "How long the engine has stood since the last run.")
        ]
        | None
    ) = None
    pressure_lost: Annotated[bool, Field(description="The oil pressure was lost in the last run.")] | None = None
    gates_done: (
        Annotated[list[Gate], Field(max_length=15, description="Gates before the first fire that were checked and are good.")]
        | None
    ) = None


_AS_ANSWERED = ("tappet", "engine", "procedure")
_QUANTITIES = (
    "duration",
    "credited",
    "speed_low",
    "speed_high",
    "longest_dwell",
    "ramp_rate",
    "band_width",
    "usual_hold",
)


def as_question(given: Any) -> Any:
    """A schedule as it was answered (the whole envelope or its result) as the question that gives the same schedule.

    What is neither is handed on as it is, for the model to judge.
    """
    if isinstance(given, dict) and isinstance(given.get("result"), dict):
        given = given["result"]
    if not isinstance(given, dict) or "stages" not in given:
        return given
    question = {name: given[name] for name in _AS_ANSWERED if given.get(name) is not None}
    for name in _QUANTITIES:
        value = given.get(name)
        if isinstance(value, dict):
            question[name] = {key: value[key] for key in ("value", "unit") if key in value}
        elif value is not None:
            question[name] = value
    return question


ScheduleGiven: TypeAlias = Annotated[BreakInScheduleRequest, BeforeValidator(as_question)]
"""A schedule's question, or its answer sent back."""
