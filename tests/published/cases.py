"""The published cases, file by file, and their printed figures in SI: calculations, answers and API are tested on them."""

import json
from math import pi
from pathlib import Path
from typing import Any

FOLDER = Path(__file__).parent
POUND, INCH, POUND_FORCE = 0.45359237, 0.0254, 0.45359237 * 9.80665
"""Exact by definition (NIST SP 811)."""
PSI = POUND_FORCE / INCH**2
HORSEPOWER = 550 * 12 * INCH * POUND_FORCE
UNITS: dict[str, float] = {
    "": 1.0,
    # lengths, areas, volumes, second moments of area, angles
    "m": 1.0, "cm": 1e-2, "mm": 1e-3, "ft": 12 * INCH, "in": INCH, "mm2": 1e-6, "in2": INCH**2,
    "L": 1e-3, "cm3": 1e-6, "in3": INCH**3, "in4": INCH**4, "deg": pi / 180,
    # times, speeds, accelerations
    "Hz": 1.0, "rpm": pi / 30, "rad/s": 1.0, "rad/s2": 1.0, "m/s": 1.0, "m/s2": 1.0,
    "ft/s": 12 * INCH, "ft/min": 12 * INCH / 60, "in/s": INCH,
    # masses, densities, flows
    "kg": 1.0, "kg/m3": 1.0, "kg/h": 1 / 3600, "kg/min": 1 / 60, "lb/h": POUND / 3600, "ft3/min": (12 * INCH) ** 3 / 60,
    # forces, spring rates, torques
    "N": 1.0, "kN": 1e3, "kgf": 9.80665, "lbf": POUND_FORCE, "kip": 1e3 * POUND_FORCE,
    "N/mm": 1e3, "lbf/in": POUND_FORCE / INCH,
    "N.m": 1.0, "kgf.m": 9.80665, "lbf.in": POUND_FORCE * INCH, "lbf.ft": POUND_FORCE * 12 * INCH,
    # pressures and stresses; the scale of an indicator
    "Pa": 1.0, "kPa": 1e3, "MPa": 1e6, "GPa": 1e9, "bar": 1e5, "kgf/cm2": 98066.5, "psi": PSI, "ksi": 1e3 * PSI, "bar/mm": 1e8,
    # powers, consumptions, heats
    "kW": 1e3, "hp": HORSEPOWER, "kg/kWh": 1 / 3.6e6, "lb/hp/h": POUND / (HORSEPOWER * 3600), "Btu/lb": 2326.0,
    "K": 1.0, "J/kg/K": 1.0,
}  # fmt: skip


def published(name: str) -> dict[str, dict[str, Any]]:
    """The cases of ``<name>.json`` by their ids, in the order of the file."""
    cases: list[dict[str, Any]] = json.loads((FOLDER / f"{name}.json").read_text(encoding="utf-8"))
    by_id = {case["id"]: case for case in cases}
    assert len(by_id) == len(cases), f"{name}.json has an id twice"
    return by_id


def figure_and_unit(printed: Any) -> tuple[float, str]:
    """``{"value": 86, "unit": "mm"}`` or ``"86 mm"``; a bare number is a ratio and has no unit."""
    if isinstance(printed, dict):
        return float(printed["value"]), printed["unit"]
    figure, _, unit = str(printed).partition(" ")
    return float(figure), unit


def si(printed: Any) -> float:
    """A printed quantity in SI; a temperature on a scale becomes an absolute one."""
    figure, unit = figure_and_unit(printed)
    match unit:
        case "degC":
            return figure + 273.15
        case "degF":
            return (figure + 459.67) / 1.8
        case _:
            return figure * UNITS[unit]


def agrees(case: dict[str, Any], key: str, found: float, against: str = "expected") -> bool:
    """Whether what was found, in SI, is what the case prints, within its tolerance, which counts in the printed unit."""
    figure, unit = figure_and_unit(case[against][key])
    found_as_printed = found * 1.8 - 459.67 if unit == "degF" else found / UNITS[unit]
    tolerance = case["tolerance"]
    relative = tolerance.get("per_key", {}).get(key, tolerance.get("rel"))
    allowed = tolerance["abs"] if relative is None else relative * abs(figure)
    return bool(abs(found_as_printed - figure) <= (allowed[key] if isinstance(allowed, dict) else allowed))
