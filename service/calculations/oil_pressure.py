"""Oil pressure to expect from one warm reading of the same engine, and what a lower one says of wear.

A pump of fixed displacement pushes against bearing gaps in which the flow is laminar, so below the relief valve the
pressure is p = V n μ/G with one leak conductance G for the whole engine. G cannot be had from drawings; one warm
reading of the same engine gives it, and then the model is only asked for the ratio of two states.
"""

from math import hypot
from typing import Literal, NamedTuple

from service.errors import OutsideValidity
from service.methods import Example, method
from service.units import DynamicViscosity, Pressure, Ratio, RotationalSpeed

# No gauge on a stand shows less than this, and no engine turns slower on its starter.
_LEAST_PRESSURE = 1e3
_LEAST_SPEED = 1.0


class State(NamedTuple):
    """One state of a running engine: gauge pressure, crank speed, and the viscosity of its oil there."""

    gauge_pressure: Pressure
    speed: RotationalSpeed
    viscosity: DynamicViscosity


class Prediction(NamedTuple):
    """Expected gauge pressure with its expanded uncertainty, and whether the relief valve limits it."""

    gauge_pressure: Pressure
    uncertainty: Pressure
    relief_open: bool


class WearVerdict(NamedTuple):
    """A reading against what an earlier one of the same engine predicts."""

    verdict: Literal["unchanged", "lower", "much-lower", "higher"]
    pressure_ratio: Ratio
    pressure_ratio_uncertainty: Ratio
    leak_ratio: Ratio
    clearance_ratio: Ratio


@method(
    id="oil-pressure-from-reading",
    title="Oil pressure from one warm reading of the same engine",
    formula="p₂ = min(p₁ · (n₂/n₁) · (μ₂/μ₁), p_relief)",
    symbols={
        "p": "gauge pressure below the relief valve [Pa]",
        "n": "crank speed [rad/s]",
        "μ": "dynamic viscosity [Pa·s]",
        "p_relief": "opening pressure of the relief valve [Pa]",
    },
    source="shigley-mischke-1989",
    locator="chapter 12, pressure-fed journal: laminar leak, so p = V n μ/G with the engine's own G",
    evidence="derived",
    valid="both states below the relief valve, same pump and bearings",
    example=Example(
        {
            "known": State(280e3, 261.8, 0.0110),
            "speed": 94.25,
            "viscosity": 0.0084,
            "relief_pressure": 400e3,
            "gauge_uncertainty": 0.0,
            "viscosity_uncertainty": 0.0,
        },
        {"gauge_pressure": 76.98e3, "uncertainty": 0.0},
        by="by hand: 2.8 bar · 900/2500 · 8.4/11.0 = 0.770 bar",
        rel_tol=5e-4,
    ),
)
def predicted_pressure(
    *,
    known: State,
    speed: RotationalSpeed,
    viscosity: DynamicViscosity,
    relief_pressure: Pressure,
    gauge_uncertainty: Pressure,
    viscosity_uncertainty: Ratio,
) -> Prediction:
    """Gauge pressure in Pa to expect at another speed and viscosity.

    ``gauge_uncertainty`` is that of the known reading, ``viscosity_uncertainty`` the relative one of the ratio of the
    two viscosities; both expanded (k = 2), so the result is too.

    Raises:
        OutsideValidity: the known reading is zero or was taken with the relief valve open, or a value not positive.
    """
    _check(known, "reading")
    _check_below_relief(known, relief_pressure, "reading")
    if not (speed >= 0 and viscosity > 0):
        raise OutsideValidity("speed", "A crank speed is zero or above, and the oil has a viscosity.", "≥ 0")
    free = known.gauge_pressure * (speed / known.speed) * (viscosity / known.viscosity)
    relative = hypot(gauge_uncertainty / known.gauge_pressure, viscosity_uncertainty)
    expected = min(free, relief_pressure)
    return Prediction(expected, expected * relative, free >= relief_pressure)


@method(
    id="oil-pressure-wear",
    title="Oil pressure against an earlier reading of the same engine",
    formula="r = (p₂/p₁)(n₁/n₂)(μ₁/μ₂); G₂/G₁ = 1/r; c₂/c₁ ≈ (G₂/G₁)^(1/3); a difference counts when |r - 1| > U(r)",
    symbols={
        "r": "pressure now over the pressure that the earlier reading predicts",
        "G": "leak conductance of the engine",
        "c": "bearing clearance, if all of the leak were there",
        "U": "expanded uncertainty",
    },
    source="shigley-mischke-1989",
    locator="chapter 12, pressure-fed journal: side flow grows with the cube of the clearance",
    evidence="derived",
    valid="both readings below the relief valve; much-lower means that at least a third is certainly lost",
    example=Example(
        {
            "earlier": State(300e3, 261.8, 0.011),
            "now": State(150e3, 261.8, 0.011),
            "relief_pressure": 400e3,
            "gauge_uncertainty": 16e3,
            "viscosity_uncertainty": 0.10,
        },
        {
            "pressure_ratio": 0.5,
            "leak_ratio": 2.0,
            "clearance_ratio": 1.26,
            "pressure_ratio_uncertainty": 0.0778,
        },
        by="by hand: half the pressure, twice the leak, ∛2 the clearance; U = 0.5·√(0.0533² + 0.1067² + 0.1²)",
        rel_tol=2e-3,
    ),
)
def wear_verdict(
    *,
    earlier: State,
    now: State,
    relief_pressure: Pressure,
    gauge_uncertainty: Pressure,
    viscosity_uncertainty: Ratio,
) -> WearVerdict:
    """What a reading says against an earlier one, with both gauges' uncertainty (k = 2) taken into account.

    Raises:
        OutsideValidity: a reading is zero or was taken with the relief valve open.
    """
    for state, field in ((earlier, "earlier"), (now, "reading")):
        _check(state, field)
        _check_below_relief(state, relief_pressure, field)
    ratio = (now.gauge_pressure / earlier.gauge_pressure) * (earlier.speed / now.speed) * (earlier.viscosity / now.viscosity)
    relative = hypot(gauge_uncertainty / earlier.gauge_pressure, gauge_uncertainty / now.gauge_pressure, viscosity_uncertainty)
    uncertainty = ratio * relative
    verdict: Literal["unchanged", "lower", "much-lower", "higher"] = "unchanged"
    if ratio + uncertainty < 2 / 3:
        verdict = "much-lower"
    elif ratio + uncertainty < 1:
        verdict = "lower"
    elif ratio - uncertainty > 1:
        verdict = "higher"
    return WearVerdict(verdict, ratio, uncertainty, 1 / ratio, float((1 / ratio) ** (1 / 3)))


def _check(state: State, field: str) -> None:
    if not state.gauge_pressure >= _LEAST_PRESSURE:
        raise OutsideValidity(
            f"{field}/pressure",
            "A reading of nothing says nothing of the bearings; send the gauge pressure of the warm, running engine.",
            "at least 0.01 bar",
        )
    if not state.speed >= _LEAST_SPEED:
        raise OutsideValidity(
            f"{field}/speed", "A pressure reading belongs to a running engine; send its crank speed.", "at least 10 rpm"
        )
    if not state.viscosity > 0:
        raise OutsideValidity(f"{field}/temperature", "The oil must have a viscosity at this temperature.", "> 0")


def _check_below_relief(state: State, relief_pressure: Pressure, field: str) -> None:
    if not state.gauge_pressure < relief_pressure:
        raise OutsideValidity(
            f"{field}/pressure",
            "At this pressure the relief valve is open and sets the reading, not the bearings; "
            "take one with warm oil at a lower speed, below the relief pressure.",
            f"below {relief_pressure / 1e5:.2f} bar",
        )
