"""What the trade calls the entries of answers and questions: the words that a person reads in place of a field's name."""

import re
from collections.abc import Mapping
from functools import lru_cache

from service.faces.rows import heading

# Names that do not say enough by themselves, alone or behind the names that they stand under.
NAMES: Mapping[str, str] = {
    "accept_high": "accept up to",
    "accept_low": "accept from",
    "air_fuel_ratio": "air to fuel, by mass",
    "band_width": "width of a speed band",
    "bore_stroke_ratio": "bore to stroke",
    "break_in_assessment.log": "the log of the run",
    "breathing_speed": "breathes freely up to",
    "capable_uncertainty": "largest useful uncertainty",
    "compression.exponent": "exponent of compression",
    "compression.running": "what gives at speed",
    "compression.uncertainties": "uncertainty of the tools",
    "conformance_probability": "chance that it conforms",
    "credited": "time credited",
    "decision": "verdict",
    "dynamic": "dynamic viscosity",
    "effective_mass": "valve train mass at the valve",
    "effective_ratio": "ratio from intake closing",
    "engine": "engine family",
    "entrainment_speed": "oil entrainment speed",
    "exhaust_lobe": "exhaust lobe",
    "facts": "facts from",
    "float_speed": "valves float from",
    "frost.cold_lash_in_frost": "cold lash in frost",
    "full_scale": "full scale",
    "gates_done": "gates done before the first fire",
    "habit.is": "this habit",
    "habit.name": "habit of break-in",
    "habit.other": "other habit",
    "habit.why": "for this habit",
    "head_diameter": "bearing face under the head",
    "hole_diameter": "hole",
    "hot_clearance_change": "warming up opens it by",
    "ideal_efficiency": "air-standard efficiency",
    "ignition.ignition": "kind of ignition",
    "ignition.leads": "order of the leads",
    "inertia_load": "load of the moving mass at top dead centre",
    "inlet_mach_index": "inlet Mach index",
    "kinematic": "kinematic viscosity",
    "levers.chamber_1_cm3_larger": "ratio change with chamber 1 cm³ larger",
    "lobe.estimate": "lobe rebuilt by estimate",
    "lobe.exponent": "fullness of the lobe, exponent",
    "lobe.half_width": "half the lobe's width",
    "longest_dwell": "longest hold of one speed",
    "mark_side": "marks lie",
    "marks.side": "marks lie towards",
    "mixture.break_in": "break-in mixture, air to fuel",
    "mixture.break_in_excess_air": "break-in mixture, excess air",
    "mixture.power": "power mixture, air to fuel",
    "mixture.stoichiometric": "stoichiometric air to fuel",
    "oil.earlier": "an earlier reading",
    "oil.reading": "a reading of the oil pressure",
    "open_chamber_by": "open the chamber by",
    "peak_acceleration": "greatest piston acceleration",
    "peak_angle": "crank angle of that acceleration",
    "peak_inertia_load": "greatest load of the moving mass",
    "per_cylinder.cylinders": "cylinder by cylinder",
    "power_correction.standard": "standard to correct to",
    "ramp_margin": "ramp beyond the card's events",
    "ramp_rate": "change of speed",
    "reciprocating_mass": "moving mass of one piston",
    "ring_gap.minimum": "ring gap, least for heat",
    "ring_gap.rule_high": "ring gap, shop rule to",
    "ring_gap.rule_low": "ring gap, shop rule from",
    "road": "on the road",
    "room": "room to either side",
    "saybolt": "Saybolt",
    "shims.target": "aim",
    "shims.uncertainty": "uncertainty of the measured gap",
    "speed_limits.at_piston_acceleration": "speed limit of piston acceleration",
    "speed_limits.at_piston_speed": "speed limit of piston speed",
    "suits": "suits this climate",
    "surge_ratio": "surge to cam frequency",
    "timing.moments": "timing in the run, read it after",
    "timing.moments_count_from": "counted from",
    "timing_light.dial_for_total": "timing light, dial for total",
    "timing_light.dial_for_total_wasted_spark": "timing light, dial for total, wasted spark",
    "torque.parts": "parts that are clamped",
    "total_needed_high": "stack of at most",
    "total_needed_low": "stack of at least",
    "wear.decision": "against the wear limit",
    "wear.limit": "wear limit",
    "weight_advance": "advance by the weights",
    "wrench.full_scale": "full scale of the wrench",
    "wrench.months_since_check": "months since the wrench was checked",
    "wrench.tolerance": "tolerance of the wrench",
}
# What stands first in a longer name, in words that lead on to the rest of it.
LEADS: Mapping[str, str] = {
    "additives": "oil additives,",
    "air": "air,",
    "by_standard": "by",
    "contributions": "clearance volume from",
    "dwell": "dwell,",
    "fill": "oil fill,",
    "frost": "lash,",
    "hot_clearance_change": "warming up opens",
    "jet_correction": "jets for this air,",
    "levers": "ratio change with",
    "lift": "valve lift,",
    "marks": "mark,",
    "model": "by the model,",
    "per_cylinder": "cylinders,",
    "push_rod": "push rod,",
    "rings": "rings,",
    "timing": "timing in the run,",
    "valve_to_piston": "valve to piston,",
}
_CODE = re.compile(r"[a-z]{2,}[a-z0-9]*(?:-[a-z0-9]+)+\Z")


@lru_cache(maxsize=2048)
def label(name: str) -> str:
    """The trade's words for a field's name: ``contributions.deck`` → ``clearance volume from deck``."""
    if name in NAMES:
        return NAMES[name]
    if (longest := name.rpartition(".")[0]) in NAMES:
        return f"{NAMES[longest]}, {label(name.rpartition('.')[2])}"
    first, _, rest = name.partition(".")
    if rest:
        return f"{LEADS[first]} {label(rest)}" if first in LEADS else f"{label(first)}, {label(rest)}"
    return heading(name)


def plain(text: str) -> str:
    """A code of the answers as words: ``intake-valve`` → ``intake valve``. Other texts stay as they are."""
    return text.replace("-", " ") if "-" in text and _CODE.match(text) else text
