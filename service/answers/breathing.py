"""Inlet valve and venturi of the induction answer: where breathing falls off, and what would be fitted."""

from typing import Annotated

from service.answers.envelope import Answer, QuantityOut, Result, Rule, band
from service.answers.inputs import Measured
from service.calculations import atmosphere
from service.calculations import induction as calculation
from service.quantities import LENGTH, SPEED, VELOCITY, Quantity, text_of

HIGHEST_MACH_INDEX = 0.55

INLET_CHOKED = Rule(
    code="inlet-choked",
    severity="note",
    stage="combination",
    rule="mean inlet Mach index above 0.55 at the rev limit",
    reason="The inlet valve nears the speed of sound: volumetric efficiency falls and more revs bring nothing.",
    remedy="Fit larger inlet valves or lower the rev limit to the speed that the answer names.",
    source="taylor-1985",
    evidence="from-memory",
)
VENTURI_FAR_FROM_RULE = Rule(
    code="venturi-far-from-rule",
    severity="note",
    stage="combination",
    rule="venturi more than 20 % off the trade's rule for the swept volume and speed",
    reason="Too small strangles the top end; too large leaves too little depression to lift fuel at low speed.",
    remedy="Compare with the suggested diameter; where smooth running matters more than peak power, stay smaller.",
    source="common-practice",
    evidence="common-practice",
)
VenturiDiameter = Annotated[
    Quantity, Measured("length", "8 .. 60 mm", "20 .. 40 mm", "28 mm", "Narrowest diameter of the carburettor's choke.")
]
ValveDiameter = Annotated[
    Quantity, Measured("length", "12 .. 70 mm", "30 .. 46 mm", "38 mm", "Head diameter of one inlet valve.")
]


class VenturiOut(Result):
    """Mean air speed over the cycle, and what the trade would fit."""

    mean_speed: QuantityOut | None = None
    suggested_diameter: QuantityOut


def inlet_result(
    found: Answer,
    *,
    swept: float,
    limit: float,
    temperature: float,
    valve_diameter: Quantity | None,
    flow_coefficient: float | None,
) -> dict[str, object]:
    """Mach index of the inlet valve at a limit in rad/s, the speeds at which it chokes, and the valve that would do."""
    coefficient = flow_coefficient
    if coefficient is None:
        coefficient = calculation.INLET_FLOW_COEFFICIENT
        found.assume("flow_coefficient", coefficient, "Mean over the lift of a usual valve.", "taylor-1985", "from-memory")
    sound = atmosphere.speed_of_sound(temperature=temperature)
    found.rests_on(atmosphere.speed_of_sound, calculation.valve_diameter_for_mach_index)
    suggested = calculation.valve_diameter_for_mach_index(
        swept_volume=swept,
        speed=limit,
        mach_index=calculation.MACH_INDEX_KNEE_CAREFUL,
        sound_speed=sound,
        flow_coefficient=coefficient,
    )
    result: dict[str, object] = {"suggested_valve_diameter": LENGTH(suggested)}
    if valve_diameter is None:
        found.cannot_check(INLET_CHOKED.code, ["valve_diameter"])
        return result
    index = calculation.inlet_mach_index(
        swept_volume=swept,
        speed=limit,
        valve_diameter=valve_diameter.si,
        sound_speed=sound,
        flow_coefficient=coefficient,
    )
    found.rests_on(calculation.inlet_mach_index)
    check_inlet(found, mach_index=index, limit=limit, valve_diameter=valve_diameter.si)
    per_index = limit / index
    knees = (calculation.MACH_INDEX_KNEE_CAREFUL, HIGHEST_MACH_INDEX, calculation.MACH_INDEX_KNEE)
    return {
        "inlet_mach_index": index,
        "breathing_speed": band(*(SPEED(per_index * knee) for knee in knees)),
        **result,
    }


def check_inlet(found: Answer, *, mach_index: float, limit: float, valve_diameter: float) -> None:
    """Whether the inlet valve lets the engine breathe at the rev limit in rad/s."""
    if mach_index > HIGHEST_MACH_INDEX:
        found.find(
            INLET_CHOKED,
            ("valve_diameter", "rev_limit"),
            f"With a {text_of(LENGTH(valve_diameter))} valve the inlet Mach index at {text_of(SPEED(limit))} is "
            f"{mach_index:.2f}; breathing falls off above {text_of(SPEED(limit / mach_index * HIGHEST_MACH_INDEX))}.",
        )


def venturi_result(
    found: Answer,
    *,
    swept: float,
    speed: float,
    volume_flow: float,
    venturi_diameter: Quantity | None,
    venturis: int | None,
) -> dict[str, object]:
    """Mean speed in the venturis, and the diameter of the trade's rule."""
    suggested = calculation.choke_by_trade_rule(swept_volume=swept, speed=speed)
    found.rests_on(calculation.choke_by_trade_rule)
    result: dict[str, object] = {"suggested_diameter": LENGTH(suggested)}
    if venturi_diameter is None:
        found.cannot_check(VENTURI_FAR_FROM_RULE.code, ["venturi_diameter"])
        return result
    if venturis is None:
        venturis = 1
        found.assume("venturis", venturis, "One carburettor with one venturi.", "common-practice", "common-practice")
    diameter = venturi_diameter.si
    mean = calculation.venturi_mean_speed(air_flow=volume_flow, venturi_diameter=diameter, venturis=venturis)
    found.rests_on(calculation.venturi_mean_speed)
    if abs(diameter / suggested - 1) > 0.2:
        found.find(
            VENTURI_FAR_FROM_RULE,
            ("venturi_diameter",),
            f"{text_of(LENGTH(diameter))} against {text_of(LENGTH(suggested))} by the rule at {text_of(SPEED(speed))}.",
        )
    return {"mean_speed": VELOCITY(mean), **result}
