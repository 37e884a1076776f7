"""The schema registry: every table of the dataset with its properties, units, ranges, choices and references.

This is the one place that says what the dataset may hold. Ranges are in SI; they catch slips of transcription (an inch read
as a millimetre, a lost decimal point) and are wider than anything the trade meets.
"""

from collections.abc import Mapping
from types import MappingProxyType

from service.reference.schema import Property, Table


def _length(low: float, high: float, *, required: bool = False) -> Property:
    return Property("dimension", ("mm", "in"), low, high, required)


def _dimension(units: str, low: float, high: float, *, required: bool = False) -> Property:
    return Property("dimension", tuple(units.split()), low, high, required)


def _number(low: float, high: float, *, required: bool = False) -> Property:
    return Property("number", low=low, high=high, required=required)


def _integer(low: int, high: int, *, required: bool = False) -> Property:
    return Property("integer", low=low, high=high, required=required)


def _choice(*choices: str, required: bool = False) -> Property:
    return Property("choice", choices=choices, required=required)


def _reference(table: str, *, required: bool = False) -> Property:
    return Property("reference", table=table, required=required)


def _band(name: str, low_to_high: Property) -> dict[str, Property]:
    """A band: ``<name>_low`` and ``<name>_high``."""
    return {f"{name}_low": low_to_high, f"{name}_high": low_to_high}


TEXT = Property("text")
SAID = Property("text", required=True)

STRESS = _dimension("MPa psi", 10e6, 3e9)
MODULUS = _dimension("GPa", 1e9, 1e12)
PRESSURE = _dimension("bar kPa psi kgf/cm2", 1e3, 5e6)
TORQUE = _dimension("N*m lbf*ft lbf*in", 0.1, 1000)
SPEED = _dimension("rpm", 1, 1300)
ANGLE = _dimension("deg", -3.2, 6.3)
TEMPERATURE = _dimension("degC degF K", 150, 1500)
TIME = _dimension("s min h", 0.1, 1e6)
VOLUME = _dimension("L qt cm3 in3", 1e-6, 0.2)
SHARE = _dimension("% ppm", 0, 1)
YES_NO = _choice("yes", "no")
CLEARANCE = _length(0, 0.01)

_TABLES: dict[str, Table] = {
    "threads": Table(
        "Screw threads: ISO metric, unified and Whitworth",
        {
            "form": _choice("iso-metric", "unified", "whitworth", required=True),
            "series": _choice("coarse", "fine", "constant-pitch", "bsw", "bsf", required=True),
            "diameter": _length(0.001, 0.05, required=True),
            "pitch": _length(0.0002, 0.005),
            "threads_per_inch": _number(4, 80),
            "pitch_diameter": _length(0.001, 0.05),
            "minor_diameter": _length(0.001, 0.05),
            "stress_area": _dimension("mm2 in2", 1e-6, 1e-3, required=True),
            "head_bearing_diameter": _length(0.002, 0.1),
            "hole_diameter": _length(0.001, 0.06),
            "use": TEXT,
        },
    ),
    "property-classes": Table(
        "Strength of bolts, studs and nuts by their mark",
        {
            "standard": SAID,
            "part": _choice("bolt", "stud", "nut", required=True),
            "base": _reference("property-classes"),
            "diameter_above": _length(0, 0.1),
            "diameter_up_to": _length(0, 0.1),
            "tensile_strength": STRESS,
            "yield_strength": STRESS,
            "proof_stress": STRESS,
            "hardness": TEXT,
            "mark": TEXT,
        },
    ),
    "conditions": Table(
        "Friction of threads and under heads by surface and lubricant",
        {
            "title": SAID,
            "lubricated": YES_NO,
            "friction_low": _number(0.02, 0.6),
            "friction": _number(0.02, 0.6),
            "friction_high": _number(0.02, 0.8),
            "nut_factor": _number(0.05, 0.6),
            "increment_low": _number(0, 0.2),
            "increment": _number(0, 0.2),
            "increment_high": _number(0, 0.2),
            "advice": TEXT,
        },
    ),
    "tightening-methods": Table(
        "Scatter of preload by tightening method",
        {"title": SAID, "scatter_low": SHARE, "scatter": _dimension("%", 0.01, 0.9, required=True), "advice": TEXT},
    ),
    "wrench-classes": Table(
        "Permissible deviation of hand torque tools",
        {
            "title": SAID,
            "tolerance": _dimension("%", 0.001, 0.5, required=True),
            "torque_above": TORQUE,
            "torque_up_to": TORQUE,
            "least_share_of_range": SHARE,
            "recalibration_months": _integer(1, 60),
            "recalibration_cycles": _integer(100, 100000),
        },
    ),
    "printed-torques": Table(
        "Torques and preloads that others have printed, to compare with",
        {
            "thread": _reference("threads", required=True),
            "property_class": _reference("property-classes"),
            "friction": _number(0.02, 0.6),
            "preload": _dimension("kN N lbf", 100, 1e6),
            "stress": STRESS,
            "torque": TORQUE,
            "torque_low": TORQUE,
            "torque_high": TORQUE,
            "torque_limit": TORQUE,
        },
    ),
    "materials": Table(
        "Materials of engine parts",
        {
            "title": SAID,
            "expansion": _dimension("1e-6/K", 1e-6, 4e-5, required=True),
            **_band("expansion", _dimension("1e-6/K", 1e-6, 4e-5)),
            "modulus": MODULUS,
            "poisson": _number(0.1, 0.5),
            "density": _dimension("kg/m3", 500, 20000),
            "strength": STRESS,
            "use": SAID,
        },
    ),
    "part-temperatures": Table(
        "Temperatures that a warm air-cooled engine's parts are taken to have",
        {"title": SAID, "temperature": TEMPERATURE, "uncertainty": _dimension("K", 0.1, 200), "use": TEXT},
    ),
    "oil-grades": Table(
        "SAE J300 viscosity grades of engine oil",
        {
            "winter": _choice("yes", "no", required=True),
            "crank_max": _dimension("mPa*s", 1, 100),
            "crank_temperature": TEMPERATURE,
            "pump_max": _dimension("mPa*s", 1, 100),
            "pump_temperature": TEMPERATURE,
            "kv100_min": _dimension("mm2/s", 1e-6, 1e-4, required=True),
            "kv100_max": _dimension("mm2/s", 1e-6, 1e-4),
            "hths_min": _dimension("mPa*s", 1e-4, 1e-2),
            "hths_min_light": _dimension("mPa*s", 1e-4, 1e-2),
        },
    ),
    "oils": Table(
        "Typical oils and additives",
        {
            "title": SAID,
            "kind": _choice("oil", "additive", "paste", required=True),
            "grade": _reference("oil-grades"),
            "winter_grade": _reference("oil-grades"),
            "kinematic_viscosity_40": _dimension("mm2/s", 1e-6, 1e-2),
            "kinematic_viscosity_100": _dimension("mm2/s", 1e-6, 1e-3),
            "density": _dimension("kg/m3", 500, 2000),
            **_band("phosphorus", SHARE),
            **_band("zinc", SHARE),
            "break_in": _choice("made-for-it", "good", "usable", "marginal", "unsuitable"),
            "use": SAID,
        },
    ),
    "industrial-oil-grades": Table(
        "ISO 3448 viscosity grades, to compare with",
        {
            "viscosity_40": _dimension("mm2/s", 1e-6, 1e-2, required=True),
            "viscosity_40_min": _dimension("mm2/s", 1e-6, 1e-2, required=True),
            "viscosity_40_max": _dimension("mm2/s", 1e-6, 1e-2, required=True),
        },
    ),
    "fuels": Table(
        "Fuels",
        {
            "title": SAID,
            "ron": _number(0, 130),
            "ron_high": _number(0, 130),
            "mon": _number(0, 130),
            "aki": _number(0, 130),
            "heating_value": _dimension("MJ/kg", 1e7, 6e7),
            "afr": _number(5, 20),
            "density": _dimension("kg/m3", 400, 1000),
            **_band("density", _dimension("kg/m3", 400, 1000)),
            "ethanol_max": SHARE,
            "ratio_guide": _number(4, 16),
            "advice": TEXT,
        },
    ),
    "atmosphere": Table(
        "Standard atmosphere by altitude, and the reference air of power standards",
        {
            "altitude": _dimension("m", -500, 11000),
            "pressure": _dimension("kPa bar", 2e4, 1.2e5, required=True),
            "dry_pressure": _dimension("kPa bar", 2e4, 1.2e5),
            "temperature": _dimension("K degC", 200, 330, required=True),
            "density": _dimension("kg/m3", 0.2, 1.5),
            "use": TEXT,
        },
    ),
    "sealants": Table(
        "Sealants by their job",
        {
            "title": SAID,
            **_band("temperature", TEMPERATURE),
            "film_thickness": CLEARANCE,
            "gap_max": CLEARANCE,
            "cure_time": TIME,
            "use": SAID,
            "advice": SAID,
        },
    ),
    "gaskets": Table(
        "Gaskets, rings and shims by compressed thickness",
        {
            "title": SAID,
            "material": SAID,
            "free_thickness": CLEARANCE,
            "compressed_thickness": _length(1e-5, 0.01, required=True),
            "reuse": _choice("never", "when-annealed", "when-flat", required=True),
            "use": SAID,
        },
    ),
    "engines": Table(
        "Engine families and their steps",
        {
            "title": SAID,
            "family": _reference("engines"),
            "layout": _choice(
                "single",
                "inline-four",
                "flat-twin",
                "parallel-twin",
                "v-twin",
                "flat-four",
                "flat-six",
                "v-four",
                "v-twelve",
                "radial-seven",
                "radial-nine",
                "inverted-inline-six",
            ),
            "cooling": _choice("air", "liquid"),
            "cycle": _choice("petrol", "diesel", required=True),
            "valve_gear": _choice("pushrod", "side-valve"),
            "case": TEXT,
            "cylinders": _integer(1, 24),
            "bore": _length(0.02, 0.2),
            "stroke": _length(0.02, 0.25),
            "rod_length": _length(0.04, 0.4),
            "displacement": _dimension("cm3 L in3", 1e-5, 0.1),
            "compression_ratio": _number(3, 25),
            "firing_order": TEXT,
            "rotation": TEXT,
            "rated_power": _dimension("hp kW", 100, 3e6),
            "rated_speed": SPEED,
            "speed_limit": SPEED,
            **_band("idle", SPEED),
            **_band("compression_pressure", PRESSURE),
            "compression_pressure_limit": PRESSURE,
            "compression_spread_limit": PRESSURE,
            **_band("fuel_pressure", PRESSURE),
            "fuel_pressure_limit": PRESSURE,
            **_band("oil_pressure", PRESSURE),
            "head_temperature_limit": TEMPERATURE,
            **dict.fromkeys(("intake_opens", "intake_closes", "exhaust_opens", "exhaust_closes"), ANGLE),
            "lash_hot": CLEARANCE,
        },
    ),
    "fasteners": Table(
        "Fasteners of a family with their torque",
        {
            "title": SAID,
            "thread": _reference("threads"),
            "torque": _dimension("N*m lbf*ft lbf*in", 0.1, 1000, required=True),
            "torque_high": TORQUE,
            "torque_limit": TORQUE,
            "stage_1": TORQUE,
            "stage_2": TORQUE,
            "condition": _reference("conditions"),
            "property_class": _reference("property-classes"),
            "count": _integer(1, 64),
            "pattern": _choice("single", "cross", "centre-outwards", "even-steps", "in-order"),
            "order": TEXT,
            "advice": TEXT,
        },
        parent="engines",
    ),
    "fits": Table(
        "Fits and clearances of a family",
        {
            "title": SAID,
            "low": _length(0, 0.01, required=True),
            "high": _length(0, 0.01),
            "wear_limit": CLEARANCE,
            "condition": TEXT,
        },
        parent="engines",
    ),
    "lash": Table(
        "Cold valve lash of a family by push-rod material",
        {
            "push_rod": _choice("aluminium", "steel", "any", required=True),
            "intake": _length(0, 0.002, required=True),
            "exhaust": _length(0, 0.002, required=True),
            "setting": SAID,
            "state": _choice("cold", "hot", required=True),
            "frost": CLEARANCE,
            "advice": TEXT,
        },
        parent="engines",
    ),
    "ignition": Table(
        "Ignition facts of a family",
        {
            "total_advance": ANGLE,
            **_band("total_advance", ANGLE),
            "total_advance_limit": ANGLE,
            "advance_speed": SPEED,
            **_band("static_advance", ANGLE),
            "static_advance_limit": ANGLE,
            "points_gap": CLEARANCE,
            **_band("points_gap", CLEARANCE),
            **_band("dwell", ANGLE),
            **_band("dwell_limit", ANGLE),
            "lobes": _integer(1, 8),
            "plug_gap": CLEARANCE,
            **_band("plug_gap", CLEARANCE),
            **_band("plug_gap_electronic", CLEARANCE),
            "advice": TEXT,
        },
        parent="engines",
    ),
    "oil-facts": Table(
        "Oil facts of a family",
        {
            "sump": VOLUME,
            "grade": _reference("oil-grades"),
            "pressure": PRESSURE,
            "pressure_limit": PRESSURE,
            "pressure_speed": SPEED,
            "pressure_temperature": TEMPERATURE,
            "pressure_per_1000_rpm": PRESSURE,
            "idle_pressure": PRESSURE,
            **_band("warning_switch", PRESSURE),
            **_band("relief", PRESSURE),
            "temperature_caution": TEMPERATURE,
            "temperature_limit": TEMPERATURE,
            "advice": TEXT,
        },
        parent="engines",
    ),
    "break-in-procedures": Table(
        "Break-in by tappet, spring and history",
        {
            "title": SAID,
            "tappet": _choice("flat", "hydraulic", "mushroom", "roller", required=True),
            "spring": _choice("single", "stiff-single", "dual", "any", required=True),
            "new_cam": YES_NO,
            "habit": _choice("narrow-band", "wide-band", required=True),
            "floor": _dimension("rpm", 80, 500, required=True),
            "speed_low": _dimension("rpm", 80, 500, required=True),
            "speed_high": _dimension("rpm", 80, 500, required=True),
            "duration": _dimension("min", 300, 7200, required=True),
            "duration_high": TIME,
            "dwell_max": _dimension("s", 5, 600, required=True),
            "advice": SAID,
        },
    ),
    "ring-bedding": Table(
        "Bedding of rings by ring and bore",
        {"title": SAID, "hone": TEXT, "duration_low": TIME, "duration_high": TIME, "advice": SAID},
    ),
    "published-run-ins": Table(
        "Run-in tests printed in government manuals, step by step",
        {
            "order": _integer(1, 40),
            "duration": _dimension("min", 30, 36000, required=True),
            "speed": SPEED,
            "load": TEXT,
        },
    ),
    "road-phases": Table(
        "Bedding on the road by distance",
        {
            "order": _integer(1, 20, required=True),
            "distance_from": _dimension("km", 0, 1e8, required=True),
            "distance_to": _dimension("km", 0, 1e8, required=True),
            **_band("speed", SPEED),
            "share_of_speed_limit": SHARE,
            "advice": SAID,
        },
    ),
    "after-run-tasks": Table(
        "Tasks after the first run, by time and distance",
        {
            "order": _integer(1, 100, required=True),
            "stage": _choice("while-warm", "hot-oil", "stone-cold", "before-the-road", "road", required=True),
            "due_time": TIME,
            "due_distance": _dimension("km", 0, 1e8),
            "task": SAID,
            "reason": SAID,
        },
    ),
    "cautions": Table(
        "Safety cautions by stage",
        {
            "stage": _choice(
                "choosing-parts",
                "cleaning",
                "machining",
                "assembly",
                "priming",
                "fuel",
                "first-fire",
                "running",
                "shut-down",
                "road",
                "always",
                required=True,
            ),
            "order": _integer(1, 100, required=True),
            "text": SAID,
        },
    ),
    "gauges": Table(
        "Expanded uncertainty (k = 2) of shop gauges when the user gives none",
        {
            "title": SAID,
            "uncertainty": Property("dimension", ("mm", "cm3", "deg", "bar", "K", "%"), 1e-7, 100, required=True),
            "advice": TEXT,
        },
    ),
    "safety-limits": Table(
        "Limits of hazards at the run stand",
        {
            "title": SAID,
            "limit": Property("dimension", ("ppm", "%", "degC", "s", "ft/min"), 1e-6, 2000),
            "limit_high": Property("dimension", ("ppm", "%", "degC", "s", "ft/min"), 1e-6, 2000),
            "sound_level": _number(0, 200),
            "over": TIME,
            "meaning": SAID,
        },
    ),
    "credit-rules": Table(
        "What a stretch of running counts for in the break-in log",
        {
            "order": _integer(1, 40, required=True),
            "event": SAID,
            "credit": _choice("counts", "does-not-count", "carried", "frozen", "stop", required=True),
            "time_limit": TIME,
            "temperature_limit": TEMPERATURE,
            "rule": SAID,
        },
    ),
}

TABLES: Mapping[str, Table] = MappingProxyType(_TABLES)
