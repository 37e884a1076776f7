"""What a good builder would say about a planned break-in run."""

from typing import Any

from service.answers.break_in_procedure import STIFF_LOAD, WIDE_BAND_FROM, Limits
from service.answers.break_in_request import BreakInScheduleRequest
from service.answers.envelope import Answer, Rule
from service.calculations.break_in_limits import CELSIUS, RPM, CreditRules
from service.quantities import DURATION, FORCE, SPEED, TEMPERATURE, text_of
from service.reference.dataset import Dataset

STRONG_LOAD = 900.0
LOW_FLOOR = 1800 * RPM
STEADY = 120.0
LONG = 1800.0
COLD = CELSIUS + 0.0
HOT = CELSIUS + 35.0


def _rule(code: str, severity: Any, rule: str, reason: str, remedy: str) -> Rule:
    """A rule of the first fire from common practice."""
    return Rule(code, severity, "first-fire", rule, reason, remedy, "common-practice", "common-practice")


BAND_HIGH = _rule(
    "run-in-band-high",
    "caution",
    "a planned run-in above 3500 rpm",
    "Without load the extra splash gains little, while heat and valve-train forces of a new engine rise with speed.",
    "Stay at or below 2800 rpm for 20 to 30 minutes, or go up only in short pulls and watch head and oil temperature.",
)
FLOOR_LOW = _rule(
    "run-in-floor-low",
    "fix",
    "a planned run-in below 1800 rpm with flat tappets on a new cam",
    "At low speed the load on the nose is highest, the film thinnest and the oil splash smallest.",
    "Start the band at 2000 rpm, unless the cam's maker asks for less.",
)
STEADY_HOLD = _rule(
    "run-in-steady",
    "fix",
    "a planned hold of more than two minutes at one speed",
    "Rings and lobes bed in at one stroke end and one load only.",
    "Keep the longest dwell at 60 s and let the speed wander through the band.",
)
SPRINGS_STRONG = _rule(
    "springs-too-strong-for-run-in",
    "fix",
    "a flat-tappet run-in with dual springs, or more than 900 N at the open valve",
    "The load of nose on tappet is highest at low speed and during the first minutes.",
    "Take the inner springs out for the run or fit run-in springs; refit them afterwards and check bind and lash again.",
)
TOO_LONG = _rule(
    "run-in-long-without-load",
    "ask",
    "more than 30 minutes without load",
    "Rings need gas pressure to bed in: long running without load glazes the bores.",
    "End the tappets' run-in after 20 to 30 minutes and bed the rings in under load on the road or the brake.",
)
SHORT = _rule(
    "run-in-short",
    "caution",
    "a shorter run-in than is usual for these tappets",
    "The trade's times are what it takes for lobes and tappets to mate; none of them has a proof behind it.",
    "Take the usual time, or the shorter one only where the cam's maker asks for it.",
)
CAM_DRY = _rule(
    "cam-assembled-dry",
    "stop",
    "a flat-tappet cam assembled dry",
    "The first turns happen before any splash reaches the lobes: dry lobes are wiped within seconds.",
    "Open it again and coat lobes and tappet faces with molybdenum paste or assembly lubricant.",
)
CAM_OIL_ONLY = _rule(
    "cam-assembled-with-oil-only",
    "fix",
    "a flat-tappet cam assembled with engine oil only",
    "Plain oil runs off the lobes within days; nothing is left of it at the first start.",
    "Coat lobes and tappet faces with molybdenum paste or assembly lubricant before the first start.",
)
COLD_START = _rule(
    "run-in-cold",
    "caution",
    "a first start below 0 °C",
    "Thick oil reaches rockers and lobes late, and clearances of a light-alloy case are smallest in frost.",
    "Warm the engine and its oil through to room temperature first, or wait.",
)
HOT_DAY = _rule(
    "run-in-hot-day",
    "caution",
    "a run-in in air above 35 °C",
    "An engine that stands has no wind but its own fan's; new rings give off more heat than bedded ones.",
    "Set a second fan before the intake of the first, and split the run at the first caution of oil or head temperature.",
)
PRESSURE_WAS_LOST = _rule(
    "run-in-after-pressure-loss",
    "stop",
    "a restart after the oil pressure was lost",
    "Credit is frozen at the moment of the loss; bearings, lobes and tappets may be hurt already.",
    "Find the cause, look at tappet faces and the strainer, prime in full, and run again only when all is sound.",
)
STOOD_LONG = _rule(
    "run-in-stood-long",
    "caution",
    "credit carried over a stop of more than an hour",
    "The oil has drained from lines and bearings. One habit of the trade keeps the credit after a full prime, the other "
    "begins again from zero; neither has a proof behind it.",
    "Prime in full before the restart; leave credited out if you would rather run the whole time again.",
)
NEAR_REV_LIMIT = _rule(
    "run-in-near-rev-limit",
    "caution",
    "a run-in above 80 % of the engine's usual rev limit (stop: above the limit itself)",
    "New springs, valves and rods have not been proven at this speed.",
    "Send the rev limit of this build, or lower the upper speed.",
)


def check_plan(request: BreakInScheduleRequest, limits: Limits, rules: CreditRules, dataset: Dataset, found: Answer) -> None:
    """Every finding about the plan and the engine it is for."""
    flat = limits.tappet != "roller"
    used = limits.procedure == "used-in-place"
    high, low = text_of(SPEED(limits.speed_high)), text_of(SPEED(limits.speed_low))
    if limits.speed_high > WIDE_BAND_FROM * (1 + 1e-9):
        found.find(
            BAND_HIGH,
            ("speed_high",),
            f"The band goes up to {high}; without load {text_of(SPEED(WIDE_BAND_FROM))} is the most.",
        )
    if flat and not used and limits.speed_low < LOW_FLOOR * (1 - 1e-9):
        found.find(FLOOR_LOW, ("speed_low",), f"The band begins at {low}; {text_of(SPEED(LOW_FLOOR))} is the least.")
    if limits.longest_dwell > STEADY:
        held, most = text_of(DURATION(limits.longest_dwell)), text_of(DURATION(STEADY))
        found.find(STEADY_HOLD, ("longest_dwell",), f"One speed may be held for {held}; {most} is the most.")
    if limits.duration > LONG * (1 + 1e-9):
        found.find(
            TOO_LONG, ("duration",), f"{limits.duration / 60:g} min are planned without load; {LONG / 60:g} min is the most."
        )
    usual = dataset.find("break-in-procedures", limits.procedure)
    if usual is not None and usual.has("duration") and limits.duration < usual.si("duration") * (1 - 1e-9):
        message = f"{limits.duration / 60:g} min are planned; usual are {usual.si('duration') / 60:g} min."
        found.find(SHORT, ("duration",), message)
    if request.pressure_lost:
        found.find(PRESSURE_WAS_LOST, ("pressure_lost",), "The oil pressure was lost in the last run.")
    stood = request.stood
    if stood is not None and stood.si > rules.long_stop and limits.credited > 0:
        message = (
            f"The engine has stood for {stood.si / 60:g} min; up to {rules.long_stop / 60:g} min the credit is not in question."
        )
        found.find(STOOD_LONG, ("stood", "credited"), message)
    if flat and not used:
        _check_assembly(request, found)
    _check_climate(request, found)


def _check_assembly(request: BreakInScheduleRequest, found: Answer) -> None:
    """Springs and lubrication of new flat tappets."""
    if request.spring == "dual":
        found.find(SPRINGS_STRONG, ("spring",), "Dual springs are fitted.")
    elif request.open_load is not None and request.open_load.si > STRONG_LOAD:
        found.find(SPRINGS_STRONG, ("open_load",), _strong(request.open_load.si))
    if request.spring is None and request.open_load is None:
        why = f"Dual springs, or over {STIFF_LOAD:g} N at the open valve, change the run-in."
        found.cannot_check(SPRINGS_STRONG.code, ["spring"], why)
    if request.lubrication == "dry":
        found.find(CAM_DRY, ("lubrication",), "Cam and tappets were assembled dry.")
    elif request.lubrication == "engine-oil":
        found.find(CAM_OIL_ONLY, ("lubrication",), "Cam and tappets were assembled with engine oil.")
    elif request.lubrication is None:
        found.cannot_check(CAM_DRY.code, ["lubrication"], "Assembly lubricant of cam and tappets.")


def _strong(load: float) -> str:
    return f"{text_of(FORCE(load))} at the open valve; {text_of(FORCE(STRONG_LOAD))} is the most for the run-in."


def _check_climate(request: BreakInScheduleRequest, found: Answer) -> None:
    """Frost and heat."""
    air = request.air_temperature
    if air is None:
        found.cannot_check(COLD_START.code, ["air_temperature"], "Frost or heat at the first start.")
    elif air.si < COLD:
        found.find(
            COLD_START,
            ("air_temperature",),
            f"The air is at {text_of(TEMPERATURE(air.si))}, below {text_of(TEMPERATURE(COLD))}.",
        )
    elif air.si > HOT:
        found.find(
            HOT_DAY, ("air_temperature",), f"The air is at {text_of(TEMPERATURE(air.si))}, above {text_of(TEMPERATURE(HOT))}."
        )


def check_rev_limit(limits: Limits, usual_limit: float | None, found: Answer) -> None:
    """The upper speed against the family's usual rev limit, where the caller named none."""
    if usual_limit is None or limits.speed_high <= 0.8 * usual_limit * (1 + 1e-9):
        return
    beyond = limits.speed_high > usual_limit * (1 + 1e-9)
    share = "" if beyond else "80 % of "
    message = f"{text_of(SPEED(limits.speed_high))} is above {share}the family's usual {text_of(SPEED(usual_limit))}."
    found.find(NEAR_REV_LIMIT, ("speed_high", "engine"), message, severity="stop" if beyond else None)
