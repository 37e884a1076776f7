"""The stages of a break-in with their steps, cautions, set points and stop rules."""

from functools import lru_cache
from typing import Any

from service.answers import break_in_texts as texts
from service.answers.break_in_plan import RAISE_TIME, Plan
from service.answers.break_in_procedure import Limits
from service.answers.break_in_request import BreakInScheduleRequest
from service.answers.engine_facts import engine_fact
from service.answers.envelope import Answer
from service.calculations.break_in_limits import RPM, CreditRules, StopThresholds, oil_pressure_floor
from service.quantities import (
    DURATION,
    PRESSURE,
    ROAD_DISTANCE,
    SPEED,
    TEMPERATURE,
    TEMPERATURE_RATE,
    text_of,
)
from service.reference.dataset import Dataset

CAUTIONS = {
    "priming": ("priming", "fuel"),
    "first_fire": ("fuel", "first-fire"),
    "run": ("first-fire", "running"),
    "cool_down": ("running",),
    "after_run": ("after-run",),
}
LIFTING = "assembly/lifting"


@lru_cache(maxsize=64)
def stage_cautions(dataset: Dataset, stages: tuple[str, ...]) -> list[str]:
    """The cautions of some stages of the work, as the dataset has them; looked up once for each dataset."""
    entities = dataset.entities("cautions")
    chosen = [entity.text("text") for stage in stages for entity in entities if entity.text("stage") == stage]
    lifting = dataset.find("cautions", LIFTING)
    return [*chosen, lifting.text("text")] if lifting is not None and "priming" in stages else chosen


def stages(
    request: BreakInScheduleRequest, limits: Limits, plan: Plan, rules: CreditRules, dataset: Dataset, found: Answer
) -> list[dict[str, Any]]:
    """All stages in order; the run has no set points where nothing is left."""
    remaining = limits.remaining
    rows: list[dict[str, Any]] = [
        {
            "name": "priming",
            "title": "Priming and gates",
            "start": None,
            "duration": None,
            "steps": _priming(request, rules, dataset),
        },
        {
            "name": "first_fire",
            "title": "First fire" if not limits.resumed else "Restart",
            "start": DURATION(0.0),
            "duration": DURATION(RAISE_TIME),
            "steps": [{"text": text, "at": DURATION(at), "why": why} for at, text, why in texts.FIRST_FIRE],
        },
        {
            "name": "run",
            "title": "Run",
            "start": DURATION(RAISE_TIME),
            "duration": DURATION(remaining),
            "steps": [],
            "segments": plan.run,
        },
        {
            "name": "cool_down",
            "title": "Cool-down",
            "start": DURATION(RAISE_TIME + remaining),
            "duration": DURATION(plan.down_time),
            "steps": [{"text": text, "at": None, "why": why} for text, why in texts.COOL_DOWN],
            "segments": plan.down,
        },
        {
            "name": "after_run",
            "title": "After the run",
            "start": DURATION(RAISE_TIME + remaining + plan.down_time),
            "duration": None,
            "steps": _after_run(request, dataset, found),
        },
    ]
    for row in rows:
        row["cautions"] = stage_cautions(dataset, CAUTIONS[row["name"]])
    return rows


def _has_rockers(request: BreakInScheduleRequest, dataset: Dataset) -> bool:
    """Whether there are rockers to look at; side valves have none, and any other engine has."""
    gear = engine_fact(dataset, "engines", request.engine, "valve_gear")
    return gear is None or gear.value != "side-valve"


def _priming(request: BreakInScheduleRequest, rules: CreditRules, dataset: Dataset) -> list[dict[str, Any]]:
    """A full prime, or what a stop of that length asks for."""
    chosen: tuple[tuple[str, str], ...] = texts.PRIMING
    if request.stood is not None and not request.pressure_lost:
        if request.stood.si <= rules.short_stop:
            chosen = (texts.PRIMING_NONE,)
        elif request.stood.si <= rules.long_stop:
            chosen = (texts.PRIMING_SHORT,)
    if not _has_rockers(request, dataset):
        chosen = tuple(step for step in chosen if step is not texts.PRIMING_ROCKERS)
    return [{"text": text, "at": None, "why": why} for text, why in chosen]


def _after_run(request: BreakInScheduleRequest, dataset: Dataset, found: Answer) -> list[dict[str, Any]]:
    """The tasks after the run with when and why; the inner springs only where there are any."""
    steps = []
    for task in dataset.entities("after-run-tasks"):
        if task.id == "inner-springs" and request.spring not in (None, "dual"):
            continue
        found.uses(task.fact("task"))
        steps.append(
            {
                "text": task.text("task"),
                "at": DURATION(task.si("due_time")) if task.has("due_time") else None,
                "distance": ROAD_DISTANCE(task.si("due_distance")) if task.has("due_distance") else None,
                "state": task.text("stage"),
                "why": task.text("reason"),
            }
        )
    return steps


def gates(request: BreakInScheduleRequest, dataset: Dataset, found: Answer) -> list[dict[str, Any]]:
    """The gates before the first fire, and which of them are said to be good; side valves have no rockers to look at."""
    done = set(request.gates_done or ())
    rockers = _has_rockers(request, dataset)
    asked = [(gate, text) for gate, text in texts.GATES if rockers or gate != "oil-at-rockers"]
    if missing := [gate for gate, _ in asked if gate not in done]:
        found.cannot_check("gates-before-first-fire", ["gates_done"], f"Of {len(asked)} gates {len(missing)} are open.")
    return [{"id": gate, "text": text, "done": gate in done} for gate, text in asked]


def look_list() -> list[dict[str, Any]]:
    """What to look at and when, from the moment of firing."""
    return [{"at": DURATION(at), "what": what, "good": good, "bad": bad} for at, what, good, bad in texts.LOOK_LIST]


def stop_rules(thresholds: StopThresholds) -> list[dict[str, Any]]:
    """When to stop: what is seen, the limit, for how long, and what to do."""

    def row(code: str, sign: str, act: str, why: str, limit: Any = None, lasting: float | None = None) -> dict[str, Any]:
        time = None if lasting is None else DURATION(lasting)
        return {"code": code, "sign": sign, "limit": limit, "lasting": time, "act": act, "why": why}

    t = thresholds
    head_from, oil_from = text_of(TEMPERATURE(t.head_rise_above)), text_of(TEMPERATURE(t.oil_rise_above))
    return [
        row("pressure-low", "oil pressure under its floor, for every 1000 rpm", "kill", "bearings and lobes run dry",
            PRESSURE(1000 * RPM * t.pressure_per_speed), t.pressure_grace),
        row("no-pressure-after-start", "no oil pressure after firing", "kill", "the pump draws air", None, t.pressure_delay),
        row("head-hot", "head temperature", "kill", "seats loosen and the alloy softens", TEMPERATURE(t.head_stop)),
        row("head-rising-fast", f"head rising above {head_from}", "kill", "no cooling air or a lean mixture",
            TEMPERATURE_RATE(t.head_rise)),
        row("oil-warm", "oil temperature", "watch", "the film thins", TEMPERATURE(t.oil_caution)),
        row("oil-hot", "oil temperature", "kill", "the film is gone where it is needed", TEMPERATURE(t.oil_stop)),
        row("oil-rising-fast", f"oil rising above {oil_from}", "stop", "something gives off heat that should not",
            TEMPERATURE_RATE(t.oil_rise)),
        row("new-noise", "a tick that grows, or a knock", "kill", "a lobe or a bearing is going; check every lash"),
        row("leak", "fuel or oil leak", "kill", "fire"),
        row("belt-or-fan", "belt off or fan still", "kill", "an air-cooled head is lost within a minute"),
        row("smoke", "white or blue smoke that stays", "watch", "rings not bedded, or oil past a guide", None, 120.0),
        row("cold-cylinder", "one exhaust port cold or its plug wet", "stop", "petrol washes the bore and thins the oil"),
        row("carbon-monoxide", "carbon monoxide alarm", "evacuate", "it kills without a smell"),
    ]  # fmt: skip


def pressure_floors(limits: Limits, thresholds: StopThresholds, found: Answer) -> list[dict[str, Any]]:
    """The lowest oil pressure for idle and for speeds through the band."""
    found.rests_on(oil_pressure_floor)
    top = int(limits.speed_high / RPM / 500 + 1 - 1e-9) * 500
    speeds = [900.0, 1500.0, *range(2000, max(top, 2000) + 1, 500)]
    return [
        {
            "speed": SPEED(rpm * RPM),
            "pressure": PRESSURE(
                oil_pressure_floor(
                    speed=rpm * RPM,
                    pressure_per_speed=thresholds.pressure_per_speed,
                    least_pressure=thresholds.least_pressure,
                )
            ),
        }
        for rpm in speeds
    ]
