"""What a good builder says about valve lash, each rule beside the predicate that raises it."""

from service.answers.envelope import Answer, Rule
from service.answers.lash_request import PushRod
from service.answers.limits import above, below
from service.quantities import CLEARANCE, LENGTH, TEMPERATURE, Measure, text_of

MM = 1e-3

ALU_ROD_ZERO_LASH = Rule(
    code="alu-rod-zero-lash",
    severity="stop",
    stage="valve-train",
    rule="aluminium push rods with less than 0.08 mm (0.003 in) of cold lash",
    reason="The rods grow as fast as the engine and the exhaust valve grows on top: hot, the valve is held open and burns.",
    remedy="Set the maker's lash for aluminium rods, usually 0.15 mm (0.006 in), stone cold.",
    source="common-practice",
    evidence="common-practice",
)
STEEL_ROD_WIDE_LASH = Rule(
    code="steel-rod-wide-lash",
    severity="caution",
    stage="valve-train",
    rule="steel push rods in a light-alloy engine with more than 0.10 mm (0.004 in) of cold lash",
    reason="Alloy outgrows steel: hot the clearance is 0.3 to 0.5 mm, off the quieting ramp, and hammers cam and tappet.",
    remedy="Set steel rods at zero, stone cold: the rod turns freely between the fingers with no play.",
    source="common-practice",
    evidence="common-practice",
)
ZERO_LASH_IN_FROST = Rule(
    code="zero-lash-in-frost",
    severity="caution",
    stage="valve-train",
    rule="steel push rods set at zero and a start more than 25 K colder than the setting",
    reason="Alloy shrinks 0.002 to 0.003 mm more per kelvin than the rods: the valves stand off their seats until it is warm.",
    remedy="Set 0.05 mm (0.002 in) for the cold season.",
    source="common-practice",
    evidence="common-practice",
)
HOT_EXHAUST_CLEARANCE = Rule(
    code="hot-exhaust-clearance",
    severity="stop",
    stage="valve-train",
    rule="computed clearance of the hot exhaust valve below 0.03 mm",
    reason="The exhaust valve cools through its seat; one that does not close burns within minutes.",
    remedy="Set more lash, or measure the parts: the computed figure is only as good as its temperatures.",
    source="common-practice",
    evidence="common-practice",
)
LENGTHS_DO_NOT_CLOSE = Rule(
    code="lengths-do-not-close",
    severity="ask",
    stage="valve-train",
    rule="case, barrel and head differ by more than 15 mm from base circle, tappet and push rod",
    reason="Both span the distance from camshaft to rocker; if they differ, one of the lengths is wrong.",
    remedy="Measure the lengths again, all from the same points.",
    source="geometry",
    evidence="derived",
)

LEAST_ALUMINIUM, MOST_STEEL, NEARLY_ZERO, LEAST_HOT = 0.08 * MM, 0.10 * MM, 0.03 * MM, 0.03 * MM
FROST = 25.0
CLOSING_SLACK = 15 * MM
LIGHT_ALLOY = 18e-6


def _mm(length: float) -> str:
    return text_of(CLEARANCE(length))


def check_cold(found: Answer, *, material: PushRod, lash: float, valve: str, light_alloy: bool | None) -> None:
    """A cold lash against the push rods' material."""
    shown = f"{text_of(CLEARANCE(lash))} at the {valve} valve"
    if material == "aluminium" and below(lash, LEAST_ALUMINIUM):
        found.find(
            ALU_ROD_ZERO_LASH,
            ("cold_lash", "pushrod_material"),
            f"{shown} with aluminium push rods; {_mm(LEAST_ALUMINIUM)} is the least.",
        )
    if material == "steel" and above(lash, MOST_STEEL):
        if light_alloy is None:
            found.cannot_check(STEEL_ROD_WIDE_LASH.code, ["lengths"], "It depends on the metal of case and head.")
        elif light_alloy:
            found.find(
                STEEL_ROD_WIDE_LASH,
                ("cold_lash", "pushrod_material"),
                f"{shown} with steel push rods; {_mm(MOST_STEEL)} is the most.",
            )


def check_frost(found: Answer, *, material: PushRod, lash: float, setting: float, start: float | None) -> None:
    """Zero lash and a cold start."""
    if material != "steel" or lash >= NEARLY_ZERO:
        return
    if start is None:
        found.cannot_check(ZERO_LASH_IN_FROST.code, ["start_temperature"], "Send the coldest start of the season.")
    elif start < setting - FROST:
        found.find(
            ZERO_LASH_IN_FROST,
            ("start_temperature", "cold_lash"),
            f"Set to {_mm(lash)} at {text_of(TEMPERATURE(setting))}, to be started at {text_of(TEMPERATURE(start))}: "
            "the valves stand off their seats until the engine is warm.",
        )


def check_hot(found: Answer, *, hot: Measure) -> None:
    """The computed clearance of the hot exhaust valve."""
    if below(hot.si, LEAST_HOT):
        sure = f" ± {hot.uncertainty / MM:.2f} mm" if hot.uncertainty else ""
        found.find(
            HOT_EXHAUST_CLEARANCE,
            ("cold_lash",),
            f"{text_of(hot)}{sure} at the hot exhaust valve; {_mm(LEAST_HOT)} is the least.",
        )


def check_lengths(found: Answer, *, gap: float) -> None:
    """Both sides of the chain against each other."""
    if above(gap, CLOSING_SLACK):
        found.find(
            LENGTHS_DO_NOT_CLOSE,
            ("lengths",),
            f"The two sides differ by {text_of(LENGTH(gap))}; {text_of(LENGTH(CLOSING_SLACK))} is the most.",
        )
