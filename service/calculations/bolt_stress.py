"""How far a preload uses the bolt up: tension and torsion together, against yield and proof strength."""

from math import pi, sqrt
from typing import NamedTuple

from service.calculations.limits import require_positive
from service.calculations.torque import check_friction, thread_force_ratio
from service.errors import OutsideValidity
from service.methods import Example, method
from service.units import Angle, Area, Force, Length, Ratio, Stress


class BoltStress(NamedTuple):
    """Stress in the thread while it is tightened, in Pa, and the share of the yield strength that it uses."""

    tension: Stress
    shear: Stress
    equivalent: Stress
    utilisation: Ratio


def _shear_over_tension(
    stress_area: Area, pitch: Length, pitch_diameter: Length, thread_angle: Angle, thread_friction: Ratio
) -> Ratio:
    """Torsional over tensile stress, with the polar modulus of a fully plastic section, π/12 · d0³."""
    require_positive(stress_area=stress_area, pitch=pitch, pitch_diameter=pitch_diameter)
    check_friction("thread_friction", thread_friction)
    stress_diameter = sqrt(4.0 * stress_area / pi)
    return (
        1.5
        * pitch_diameter
        / stress_diameter
        * thread_force_ratio(
            pitch=pitch, pitch_diameter=pitch_diameter, thread_angle=thread_angle, thread_friction=thread_friction
        )
    )


_STRESS_SYMBOLS = {
    "σ": "tensile stress F/As [Pa]",
    "τ": "torsional stress of the thread torque [Pa]",
    "σ_red": "equivalent stress [Pa]",
    "ν": "utilisation of the yield strength",
    "F": "preload [N]",
    "As": "stress area [m²]",
    "Rp": "yield strength or 0.2 % proof stress [Pa]",
    "d2": "pitch diameter [m]",
    "d0": "stress diameter, √(4 As/π) [m]",
    "P": "pitch [m]",
    "α": "included angle of the thread [rad]",
    "µG": "coefficient of friction in the thread",
}


@method(
    id="bolt-stress",
    title="Equivalent stress of a bolt while it is tightened",
    formula="σ_red = √(σ² + 3τ²), τ/σ = 1.5 · d2/d0 · (P/(π d2) + µG/cos(α/2)); ν = σ_red/Rp",
    symbols=_STRESS_SYMBOLS,
    source="vdi-2230-1-2015",
    locator="assembly stress, maximum-distortion-energy theory with plastic torsion",
    evidence="standard",
    valid="friction 0.03 to 0.6; below yield",
    example=Example(
        {
            "preload": 29.7e3,
            "stress_area": 39.2e-6,
            "yield_strength": 940e6,
            "pitch": 1e-3,
            "pitch_diameter": 7.350e-3,
            "thread_angle": pi / 3,
            "thread_friction": 0.12,
        },
        {"utilisation": 0.9},
        by="VDI 2230 table, M8x1 class 10.9, µ 0.12: 29.7 kN is the preload at 90 % of yield",
        rel_tol=4e-3,
    ),
)
def bolt_stress(
    *,
    preload: Force,
    stress_area: Area,
    yield_strength: Stress,
    pitch: Length,
    pitch_diameter: Length,
    thread_angle: Angle,
    thread_friction: Ratio,
) -> BoltStress:
    """Stresses in Pa in the thread of a bolt that is being tightened, and the utilisation of its yield strength.

    After tightening part of the torsion springs back; this is the worst moment.

    Raises:
        OutsideValidity: a size, the preload or the yield strength is not positive, or the friction is out of range.
    """
    require_positive(preload=preload, yield_strength=yield_strength)
    ratio = _shear_over_tension(stress_area, pitch, pitch_diameter, thread_angle, thread_friction)
    tension = preload / stress_area
    equivalent = tension * sqrt(1.0 + 3.0 * ratio * ratio)
    return BoltStress(tension, tension * ratio, equivalent, equivalent / yield_strength)


@method(
    id="preload-from-utilisation",
    title="Preload that uses a share of the yield strength",
    formula="F = ν Rp As / √(1 + 3 [1.5 · d2/d0 · (P/(π d2) + µG/cos(α/2))]²)",
    symbols=_STRESS_SYMBOLS,
    source="vdi-2230-1-2015",
    locator="assembly preload, table values use ν = 0.9",
    evidence="standard",
    valid="friction 0.03 to 0.6; utilisation up to 1",
    example=Example(
        {
            "utilisation": 0.9,
            "stress_area": 39.2e-6,
            "yield_strength": 640e6,
            "pitch": 1e-3,
            "pitch_diameter": 7.350e-3,
            "thread_angle": pi / 3,
            "thread_friction": 0.12,
        },
        20.2e3,
        by="VDI 2230 table, M8x1 class 8.8, µ 0.12",
        rel_tol=4e-3,
    ),
)
def preload_from_utilisation(
    *,
    utilisation: Ratio,
    stress_area: Area,
    yield_strength: Stress,
    pitch: Length,
    pitch_diameter: Length,
    thread_angle: Angle,
    thread_friction: Ratio,
) -> Force:
    """Preload in N at which the equivalent stress is the given share of the yield strength.

    Raises:
        OutsideValidity: the utilisation is not within 0 and 1, a size or the yield strength is not positive, or the
            friction is out of range.
    """
    if not 0 < utilisation <= 1:
        raise OutsideValidity(
            "utilisation",
            "The utilisation is a share of the yield strength, above 0 and at most 1; tables of tightening torques "
            "use 0.9. Send 0.9, not 90.",
            "0 to 1",
        )
    require_positive(yield_strength=yield_strength)
    ratio = _shear_over_tension(stress_area, pitch, pitch_diameter, thread_angle, thread_friction)
    return utilisation * yield_strength * stress_area / sqrt(1.0 + 3.0 * ratio * ratio)


@method(
    id="load-from-stress",
    title="Load of a thread at a stress",
    formula="F = As · S",
    symbols={"As": "stress area [m²]", "S": "proof stress or tensile strength [Pa]"},
    source="iso-898-1-2013",
    locator="tables of proof and ultimate tensile loads",
    evidence="standard",
    example=Example(
        {"stress_area": 36.6e-6, "stress": 580e6}, 21200.0, by="ISO 898-1, proof load of M8 class 8.8", rel_tol=2e-3
    ),
)
def load_from_stress(*, stress_area: Area, stress: Stress) -> Force:
    """Axial load in N of a thread: proof load at the proof stress, breaking load at the tensile strength.

    Raises:
        OutsideValidity: the area or the stress is not positive.
    """
    require_positive(stress_area=stress_area, stress=stress)
    return stress_area * stress
