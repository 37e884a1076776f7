"""What a log's verdict says: a rule for every reason, the words of the case, and the next steps in order."""

from typing import Any

from service.answers.break_in_plan import clock
from service.answers.break_in_procedure import Limits
from service.answers.envelope import Answer, Rule, Severity
from service.answers.oil_floor import told_apart
from service.calculations.break_in_limits import CreditRules
from service.calculations.break_in_verdict import Assessment, Reason, Wanted
from service.quantities import PERCENT, SPEED, TEMPERATURE, TEMPERATURE_RATE, Kind, text_of

CLOSE_TEMPERATURE = Kind("temperature", "degC", "degF", 2, 2)
"""Digits enough for a temperature just over its limit."""


def _rule(code: str, severity: Severity, rule: str, reason: str, remedy: str) -> tuple[str, Rule]:
    """A rule of a logged run from common practice, by the reason's code."""
    return code, Rule(f"run-{code}", severity, "first-fire", rule, reason, remedy, "common-practice", "common-practice")


BY_REASON: dict[str, Rule] = dict(
    (
        _rule("pressure-low", "stop", "oil pressure under its floor for two seconds or more",
              "Bearings and lobes run without a film; what came after does not count.",
              "Do not restart. Find the cause, look at strainer and tappet faces, prime in full."),
        _rule("no-pressure-after-start", "stop", "no oil pressure ten seconds after firing",
              "The pump draws air or has lost its prime.", "Do not restart. Prime until the gauge moves while cranking."),
        _rule("second-stall", "stop", "a second stall within the engine's first ten minutes",
              "Every restart passes through the speeds at which lobes are wiped.",
              "Find the cause (usually fuel) before the next start; the credit is frozen until then."),
        _rule("earlier-stop-unresolved", "stop", "an earlier run ended in a stop and its cause is not reported as found",
              "A stop is not undone by running again.", "Find and mend the cause, then send cause_found with that run."),
        _rule("head-hot", "stop", "head above its limit", "Seats loosen and the alloy softens.",
              "Cool for 60 minutes, check air guide, mixture and timing, check the head nuts; the credit stays."),
        _rule("head-rising-fast", "stop", "a warm head rising faster than its limit", "Air, mixture or timing is wrong.",
              "Check fan, belt, tinware, mixture and timing before the next start."),
        _rule("oil-hot", "stop", "oil above its limit", "The film thins where it is needed most.",
              "Cool for 60 minutes, check cooler and timing; the credit stays."),
        _rule("oil-rising-fast", "stop", "warm oil rising faster than its limit and not settling cool",
              "Something gives off heat that should not: a bearing, a tight piston, late timing.",
              "Stop and feel for it: turn the engine by hand, look at strainer and plugs."),
        _rule("oil-warm", "note", "oil above the caution temperature", "The pressure falls with it.",
              "Watch the pressure; shorten the next run or cool the room."),
        _rule("oil-will-be-hot", "fix", "oil that will settle above the caution temperature at this load",
              "The warm-up curve tells it minutes before the gauge does.", "Improve cooling or split the run in two."),
        _rule("pressure-creeping-down", "fix", "oil pressure that falls at the same speed and temperature",
              "A filter that fills, fuel in the oil, or clearances that grow.",
              "Change oil and filter, smell the oil for petrol, look at the strainer before the next run."),
        _rule("stall", "fix", "the engine stopped from speed and was started again",
              "Each stop and start passes through low speed; once is forgiven.",
              "Note the cause (usually fuel); restart straight to the floor speed."),
        _rule("stopped-from-speed", "fix", "the engine stopped from speed and did not run again",
              "A log cannot tell a stall from a kill.", "Write down which it was, and why."),
        _rule("stood-long-without-prime", "fix", "a stop of more than an hour inside one log",
              "The oil has drained from lines and bearings.", "Prime in full after an hour."),
        _rule("floor-never-reached", "fix", "the floor speed was never reached", "Nothing counts below it.",
              "Bring the engine to the floor speed within seconds of firing."),
        _rule("slow-start", "fix", "more than 30 s from firing to the floor speed",
              "New lobes idle under their highest load.", "Straight up to speed within 3 to 5 s of firing."),
        _rule("slow-running-early", "fix", "more than 30 s below the floor speed in the first ten minutes",
              "Low speed loads the nose most while the faces are not yet mated.",
              "Look at the tappet faces or the cold lash before going on."),
        _rule("dwell-too-long", "fix", "a dwell at one speed longer than the plan allows",
              "Rings and lobes bed in at one speed only.", "Keep the speed wandering; follow the set points."),
        _rule("ran-above-band", "note", "more than 30 s above the band", "Heat and valve-train forces rise with speed.",
              "Keep to the band until springs and valves have been checked."),
        _rule("gaps-not-credited", "note", "gaps in the log", "What nobody saw does not count.",
              "Mend the logger's feed; log without gaps."),
        _rule("bands-missing", "note", "bands without credited time although the time is full",
              "The faces have mated at some speeds only.", "Add some minutes in the missing bands."),
        _rule("pressure-not-proven", "fix", "time at speed without a trustworthy oil pressure",
              "A missing reading is not a pass.", "Mend the sender; if a second gauge was watched, say so by sending the "
              "log without the pressure column."),
        _rule("sensor-lost", "fix", "the tachometer lost its signal while the engine ran",
              "The pressure stayed or the speed came back at once: an engine cannot do that.", "Mend pick-up, lead or plug."),
        _rule("sensor-doubled", "fix", "the tachometer read double", "Two sparks a turn, or ringing, were counted.",
              "Change the pick-up's setting or place."),
        _rule("sensor-halved", "fix", "the tachometer read half", "Pulses were missed.", "Check pick-up gap and lead."),
        _rule("sensor-stuck", "fix", "a reading that did not move by its last digit",
              "A live engine's readings wander; this sender does not.", "Check it against a second gauge before the next run."),
        _rule("sensor-jump", "fix", "a temperature that jumped by more than 20 K", "Metal and oil cannot do that.",
              "Check connector and earth."),
        _rule("sensor-spikes", "note", "single readings far from their neighbours", "Ignition noise on the leads.",
              "Route the leads away from the coil; nothing was lost."),
        _rule("sensor-impossible", "note", "readings outside what the sensor can give", "A loose contact or a cut wire.",
              "Check the connector; the readings were left out."),
    )
)  # fmt: skip

DOUBLED = Rule(
    "wasted-spark-doubling-log",
    "ask",
    "first-fire",
    "a logged speed that is twice the planned one nearly all the time",
    "A pick-up on a wasted-spark coil counts two sparks where one is meant.",
    "Check the tachometer's setting against a light or a second tachometer.",
    "common-practice",
    "common-practice",
)


def say(reason: Reason, result: Assessment, wanted: Wanted) -> str:
    """The case in figures."""
    at = f" at {clock(reason.at)}" if reason.at >= 0 else ""
    event = next((e for e in result.events if e.kind == reason.code and e.start == reason.at), None)
    if event is not None and reason.code in ("head-hot", "oil-hot", "oil-warm"):
        return f"Up to {_over(event.extreme, event.limit)}, for {event.duration:.0f} s from {clock(event.start)} on."
    if event is not None and event.limit is not None:
        worst, floor = told_apart(event.limit + event.extreme, event.limit)
        return f"Down to {worst} where the floor is {floor}, for {event.duration:.0f} s from {clock(event.start)} on."
    figures: dict[str, Any] = {
        "slow-start": lambda: f"It took {result.time_to_floor or 0:.0f} s to the floor speed.",
        "slow-running-early": lambda: f"{result.time_below_floor_early:.0f} s in the first ten minutes.",
        "dwell-too-long": lambda: f"{result.dwell.duration:.0f} s at one speed; {wanted.longest_dwell:.0f} s were planned.",
        "ran-above-band": lambda: f"{result.time_above_band:.0f} s above {text_of(SPEED(wanted.edges[-1]))}.",
        "gaps-not-credited": lambda: f"{len(result.gaps)} in this one.",
        "pressure-not-proven": lambda: f"{result.credited_by_speed - result.credited_time:.0f} s at speed do not count.",
        "oil-will-be-hot": lambda: f"It settles near {text_of(TEMPERATURE(_settled(result)))}.",
        "oil-rising-fast": lambda: f"{text_of(TEMPERATURE_RATE(result.oil_rise.rate if result.oil_rise else 0))}{at}.",
        "head-rising-fast": lambda: f"{text_of(TEMPERATURE_RATE(result.head_rise.rate if result.head_rise else 0))}{at}.",
        "pressure-creeping-down": lambda: f"By {text_of(PERCENT(-result.drift.change if result.drift else 0))}.",
    }
    if reason.code in figures:
        return str(figures[reason.code]())
    if reason.code.startswith("sensor-"):
        faults = [f for f in result.sensor_faults if f"sensor-{f.kind}" == reason.code]
        names = ", ".join(sorted({f.channel.replace("_", " ") for f in faults}))
        return f"In the {names}: {sum(f.samples for f in faults)} readings, first{at}."
    return f"Seen{at}." if at else "As reported."


def _over(temperature: float, limit: float | None) -> str:
    """A temperature and the limit that it is over, in digits that show the difference."""
    if limit is None:
        return text_of(TEMPERATURE(temperature))
    kind = TEMPERATURE if temperature - limit > 1 else CLOSE_TEMPERATURE
    return f"{text_of(kind(temperature))} where the limit is {text_of(kind(limit))}"


def _settled(result: Assessment) -> float:
    return result.oil_plateau.temperature if result.oil_plateau else 0.0


def report(result: Assessment, wanted: Wanted, found: Answer) -> None:
    """A finding for every reason."""
    for reason in result.reasons:
        rule = BY_REASON[reason.code]
        case = say(reason, result, wanted)
        message = f"{rule.rule[0].upper()}{rule.rule[1:]}: {case[0].lower()}{case[1:]}"
        found.find(rule, ("log",), message, severity=reason.weight)


def next_steps(result: Assessment, limits: Limits, rules: CreditRules) -> list[str]:
    """What to do now, in order."""
    first = [BY_REASON[r.code].remedy for r in result.reasons if r.weight == "stop"]
    mend = [BY_REASON[r.code].remedy for r in result.reasons if r.weight == "fix"]
    if result.verdict == "stop-find-cause":
        steps = [*first, *mend]
        if result.frozen_at is not None:
            steps.append(f"Credit is frozen at {clock(result.frozen_at)} of the log; it is not lost, but nothing is added.")
    elif result.verdict == "continue":
        left = f"Run {result.remaining_time / 60:.1f} min more with the new set points; never make time up by longer holds."
        short, long = rules.short_stop / 60, rules.long_stop / 60
        again = (
            f"Restart within {short:.0f} min: straight to {text_of(SPEED(limits.speed_low))}; after {short:.0f} to "
            f"{long:.0f} min crank without ignition until the gauge moves; after more prime in full."
        )
        steps = [*mend, left, again]
    else:
        steps = [
            *mend,
            "While warm: a last look at total timing, no more than 30 s of idle.",
            "Drain the oil hot, open strainer and filter, look at the magnet: grey paste is normal, bright flakes are not.",
            "Stone cold, after six hours: lash of every valve; closed by over 0.05 mm or opened by over 0.08 mm is a stop.",
            "Then the road: varied speed and load; the rings still need gas pressure.",
        ]
    return list(dict.fromkeys(steps))
