"""Materials, oils, fuels, air, sealants and gaskets."""

from service.reference.schema import Table
from service.reference.tables.kinds import (
    CLEARANCE,
    MODULUS,
    SAID,
    SHARE,
    STRESS,
    TEMPERATURE,
    TEXT,
    TIME,
    band,
    choice,
    dimension,
    length,
    number,
    reference,
)

SUBSTANCES: dict[str, Table] = {
    "materials": Table(
        "Materials of engine parts",
        {
            "title": SAID,
            "expansion": dimension("1e-6/K", 1e-6, 4e-5, required=True),
            **band("expansion", dimension("1e-6/K", 1e-6, 4e-5)),
            "modulus": MODULUS,
            "poisson": number(0.1, 0.5),
            "density": dimension("kg/m3", 500, 20000),
            "strength": STRESS,
            "use": SAID,
        },
    ),
    "part-temperatures": Table(
        "Temperatures that a warm air-cooled engine's parts are taken to have",
        {"title": SAID, "temperature": TEMPERATURE, "uncertainty": dimension("K", 0.1, 200), "use": TEXT},
    ),
    "oil-grades": Table(
        "SAE J300 viscosity grades of engine oil",
        {
            "winter": choice("yes", "no", required=True),
            "crank_max": dimension("mPa*s", 1, 100),
            "crank_temperature": TEMPERATURE,
            "pump_max": dimension("mPa*s", 1, 100),
            "pump_temperature": TEMPERATURE,
            "kv100_min": dimension("mm2/s", 1e-6, 1e-4, required=True),
            "kv100_max": dimension("mm2/s", 1e-6, 1e-4),
            "hths_min": dimension("mPa*s", 1e-4, 1e-2),
            "hths_min_light": dimension("mPa*s", 1e-4, 1e-2),
        },
    ),
    "oils": Table(
        "Typical oils and additives",
        {
            "title": SAID,
            "kind": choice("oil", "additive", "paste", required=True),
            "grade": reference("oil-grades"),
            "winter_grade": reference("oil-grades"),
            "kinematic_viscosity_40": dimension("mm2/s", 1e-6, 1e-2),
            "kinematic_viscosity_100": dimension("mm2/s", 1e-6, 1e-3),
            "density": dimension("kg/m3", 500, 2000),
            **band("phosphorus", SHARE),
            **band("zinc", SHARE),
            "break_in": choice("made-for-it", "good", "usable", "marginal", "unsuitable"),
            "use": SAID,
        },
    ),
    "industrial-oil-grades": Table(
        "ISO 3448 viscosity grades, to compare with",
        {
            "viscosity_40": dimension("mm2/s", 1e-6, 1e-2, required=True),
            "viscosity_40_min": dimension("mm2/s", 1e-6, 1e-2, required=True),
            "viscosity_40_max": dimension("mm2/s", 1e-6, 1e-2, required=True),
        },
    ),
    "fuels": Table(
        "Fuels",
        {
            "title": SAID,
            "ron": number(0, 130),
            "ron_high": number(0, 130),
            "mon": number(0, 130),
            "aki": number(0, 130),
            "heating_value": dimension("MJ/kg", 1e7, 6e7),
            "afr": number(5, 20),
            "density": dimension("kg/m3", 400, 1000),
            **band("density", dimension("kg/m3", 400, 1000)),
            "ethanol_max": SHARE,
            "ratio_guide": number(4, 16),
            "advice": TEXT,
        },
    ),
    "atmosphere": Table(
        "Standard atmosphere by altitude, and the reference air of power standards",
        {
            "altitude": dimension("m", -500, 11000),
            "pressure": dimension("kPa bar", 2e4, 1.2e5, required=True),
            "dry_pressure": dimension("kPa bar", 2e4, 1.2e5),
            "temperature": dimension("K degC", 200, 330, required=True),
            "density": dimension("kg/m3", 0.2, 1.5),
            "use": TEXT,
        },
    ),
    "sealants": Table(
        "Sealants by their job",
        {
            "title": SAID,
            **band("temperature", TEMPERATURE),
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
            "compressed_thickness": length(1e-5, 0.01, required=True),
            "reuse": choice("never", "when-annealed", "when-flat", required=True),
            "use": SAID,
        },
    ),
}
