"""The joint around the bolt: compliance, stretch, turn of the nut, heat, and the thread in the casting."""

from math import pi, radians, tan
from typing import NamedTuple

from service.calculations.limits import require_not_negative, require_positive
from service.errors import OutsideValidity
from service.methods import Example, method
from service.units import Angle, Area, Force, Length, Ratio, Stress

# Shear strength of steel, aluminium and magnesium threads as a share of tensile strength.
SHEAR_SHARE: Ratio = 0.6

# Half of the included angle of metric and unified threads; their flanks set the width of the thread in shear.
_FLANK_SLOPE = tan(radians(30.0))


class StrippingAreas(NamedTuple):
    """Areas in m² over which the threads of the hole (nut) and of the bolt shear off."""

    nut_thread: Area
    bolt_thread: Area


def compliance(*, length: Length, area: Area, youngs_modulus: Stress) -> float:
    """Stretch in m per newton of one prismatic part: L / (E A).

    Raises:
        OutsideValidity: an argument is not positive.
    """
    require_positive(length=length, area=area, youngs_modulus=youngs_modulus)
    return length / (youngs_modulus * area)


@method(
    id="clamped-sleeve-area",
    title="Area of the sleeve that stands for the clamped parts",
    formula="A = π/4 · ((dw + L/10)² − dh²)",
    symbols={
        "dw": "outer diameter of the bearing face [m]",
        "L": "clamped length [m]",
        "dh": "diameter of the hole [m]",
    },
    source="shigley-mischke-1989",
    locator="older rule for wide parts, in place of the pressure cone",
    evidence="from-memory",
    valid="parts much wider than the head, clamped length up to about 8 bolt diameters; send the area where they are slender",
    example=Example(
        {"bearing_outer_diameter": 0.013, "hole_diameter": 0.009, "clamped_length": 0.030},
        137.445e-6,
        by="by hand: π/4 · ((13 + 3)² − 9²) mm² = π/4 · 175",
        rel_tol=1e-4,
    ),
)
def sleeve_area(*, bearing_outer_diameter: Length, hole_diameter: Length, clamped_length: Length) -> Area:
    """Area in m² of a sleeve about as stiff as wide clamped parts of one material.

    Raises:
        OutsideValidity: a size is not positive, or the bearing face is no wider than the hole.
    """
    require_positive(clamped_length=clamped_length, hole_diameter=hole_diameter)
    if bearing_outer_diameter <= hole_diameter:
        raise OutsideValidity("head_diameter", "The bearing face must be wider than the hole; send both diameters.")
    outer = bearing_outer_diameter + clamped_length / 10.0
    return pi / 4.0 * (outer * outer - hole_diameter * hole_diameter)


@method(
    id="bolt-stretch",
    title="Stretch of a bolt under preload",
    formula="δ = F · Σ L / (E A)",
    symbols={"F": "preload [N]", "L": "length of a part [m]", "E": "Young's modulus [Pa]", "A": "its area [m²]"},
    source="mechanics",
    locator="linear elastic bar",
    evidence="textbook",
    valid="below yield, both ends of the bolt accessible to measure",
    example=Example(
        {"preload": 72250 * 0.334 * 4.4482216, "bolt_compliance": 0.127 / (206.8427e9 * 0.334 * 6.4516e-4)},
        0.01204 * 0.0254,
        by="3/4 in bolt, 5 in grip, 85 % of 85,000 psi: 0.01204 in",
        rel_tol=5e-4,
    ),
)
def stretch(*, preload: Force, bolt_compliance: float) -> Length:
    """Stretch in m of a bolt; the compliance in m/N is the sum over shank and thread.

    Raises:
        OutsideValidity: an argument is not positive.
    """
    require_positive(preload=preload, bolt_compliance=bolt_compliance)
    return preload * bolt_compliance


_TURN_SYMBOLS = {
    "ϑ": "turn of the nut after snug [rad]",
    "F": "preload [N]",
    "c_b, c_p": "compliance of the bolt and of the clamped parts [m/N]",
    "P": "pitch [m]",
}


@method(
    id="turn-of-nut",
    title="Turn of the nut for a preload",
    formula="ϑ = 2π F (c_b + c_p) / P",
    symbols=_TURN_SYMBOLS,
    source="mechanics",
    locator="compatibility of bolt and clamped parts",
    evidence="textbook",
    valid="from snug contact, below yield",
    example=Example(
        {
            "preload": 72250 * 0.334 * 4.4482216,
            "bolt_compliance": 0.127 / (206.8427e9 * 0.334 * 6.4516e-4),
            "parts_compliance": 0.0,
            "pitch": 0.00254,
        },
        radians(43.35),
        by="3/4-10 bolt, 5 in grip, 0.01204 in stretch, parts rigid: 43.35°",
        rel_tol=5e-4,
    ),
)
def turn_of_nut(*, preload: Force, bolt_compliance: float, parts_compliance: float, pitch: Length) -> Angle:
    """Turn in rad after snug that gives the preload.

    Raises:
        OutsideValidity: the preload, pitch or bolt compliance is not positive, or the parts' compliance is negative.
    """
    require_positive(preload=preload)
    return 2.0 * pi * preload * _joint_compliance(bolt_compliance, parts_compliance, pitch) / pitch


@method(
    id="preload-from-turn",
    title="Preload from the turn of the nut",
    formula="F = ϑ P / (2π (c_b + c_p))",
    symbols=_TURN_SYMBOLS,
    source="mechanics",
    locator="compatibility of bolt and clamped parts",
    evidence="textbook",
    valid="from snug contact, below yield",
    example=Example(
        {
            "turn": pi,
            "bolt_compliance": 0.0762 / (73.0844e9 * pi * 0.00635 * 0.00635),
            "parts_compliance": 0.0762 / (44.6780e9 * pi * (0.0127 * 0.0127 - 0.00635 * 0.00635)),
            "pitch": 0.00127,
        },
        11220 * 4.4482216,
        by="half a turn of a 20 tpi aluminium bolt on a magnesium tube: 11.22 kip",
        rel_tol=3e-3,
    ),
)
def preload_from_turn(*, turn: Angle, bolt_compliance: float, parts_compliance: float, pitch: Length) -> Force:
    """Preload in N from a turn in rad after snug.

    Raises:
        OutsideValidity: the turn, pitch or bolt compliance is not positive, or the parts' compliance is negative.
    """
    require_positive(turn=turn)
    return turn * pitch / (2.0 * pi * _joint_compliance(bolt_compliance, parts_compliance, pitch))


def _joint_compliance(bolt: float, parts: float, pitch: Length) -> float:
    require_positive(pitch=pitch, bolt_compliance=bolt)
    require_not_negative(parts_compliance=parts)
    return bolt + parts


@method(
    id="thermal-preload-change",
    title="Change of preload with temperature",
    formula="ΔF = (Σ α L ΔT of the parts − Σ α L ΔT of the bolt) / (c_b + c_p)",
    symbols={
        "α": "linear expansion [1/K]",
        "L": "clamped length of a part [m]",
        "ΔT": "its temperature rise [K]",
        "c_b, c_p": "compliance of the bolt and of the clamped parts [m/N]",
    },
    source="mechanics",
    locator="bolt and sleeve of different expansion",
    evidence="textbook",
    valid="elastic, sizes of 20 °C",
    example=Example(
        {
            "parts_growth": 23e-6 * 0.15 * 65,
            "bolt_growth": 12e-6 * 0.15 * 65,
            "bolt_compliance": 0.15 / (200e9 * 400e-6),
            "parts_compliance": 0.15 / (73.1e9 * 600e-6),
        },
        20.3e3,
        by="steel bolt in an aluminium sleeve heated by 65 K: 20.3 kN, printed to 0.1 kN",
        rel_tol=3e-3,
    ),
)
def thermal_preload_change(
    *, parts_growth: Length, bolt_growth: Length, bolt_compliance: float, parts_compliance: float
) -> Force:
    """Change of preload in N; above zero where the clamped parts grow more than the bolt.

    Raises:
        OutsideValidity: the bolt's compliance is not positive or that of the parts is negative.
    """
    require_positive(bolt_compliance=bolt_compliance)
    require_not_negative(parts_compliance=parts_compliance)
    return (parts_growth - bolt_growth) / (bolt_compliance + parts_compliance)


@method(
    id="thread-stripping-area",
    title="Shear areas of a bolt thread and of the thread it sits in",
    formula="A_n = π n L Ds [1/(2n) + 0.57735 (Ds − En)]; A_s = π n L Kn [1/(2n) + 0.57735 (Es − Kn)]",
    symbols={
        "n": "threads per unit length, 1/P [1/m]",
        "L": "length of engagement [m]",
        "Ds": "smallest major diameter of the bolt [m]",
        "En": "largest pitch diameter of the hole [m]",
        "Kn": "largest minor diameter of the hole [m]",
        "Es": "smallest pitch diameter of the bolt [m]",
    },
    source="fed-std-h28-2b",
    locator="thread shear areas of 60° threads",
    evidence="from-memory",
    valid="60° threads, full-depth engagement without chamfer or worn first threads",
    example=Example(
        {
            "engagement": 16e-3,
            "pitch": 1.25e-3,
            "bolt_major_minimum": 7.760e-3,
            "bolt_pitch_minimum": 7.042e-3,
            "nut_pitch_maximum": 7.348e-3,
            "nut_minor_maximum": 6.912e-3,
        },
        {"nut_thread": 269.3e-6, "bolt_thread": 194.6e-6},
        by="by hand: π·12.8·7.760·(0.625 + 0.57735·0.412) and π·12.8·6.912·(0.625 + 0.57735·0.130) mm²",
        rel_tol=1e-3,
    ),
)
def stripping_areas(
    *,
    engagement: Length,
    pitch: Length,
    bolt_major_minimum: Length,
    bolt_pitch_minimum: Length,
    nut_pitch_maximum: Length,
    nut_minor_maximum: Length,
) -> StrippingAreas:
    """Shear areas in m² of a 60° thread pair at its weakest sizes.

    Raises:
        OutsideValidity: a size is not positive, or the bolt is so small that the threads no longer overlap.
    """
    require_positive(engagement=engagement, pitch=pitch)
    nut_width = pitch / 2.0 + 2.0 * _FLANK_SLOPE * (bolt_major_minimum - nut_pitch_maximum) / 2.0
    if not 0 < nut_minor_maximum < bolt_major_minimum:
        raise OutsideValidity("nut_minor_maximum", "Bolt and hole do not overlap: the thread does not engage.")
    bolt_width = pitch / 2.0 + 2.0 * _FLANK_SLOPE * (bolt_pitch_minimum - nut_minor_maximum) / 2.0
    if nut_width <= 0 or bolt_width <= 0:
        raise OutsideValidity("bolt_major_minimum", "Bolt and hole do not overlap: the thread does not engage.")
    turns = engagement / pitch
    return StrippingAreas(pi * turns * bolt_major_minimum * nut_width, pi * turns * nut_minor_maximum * bolt_width)


@method(
    id="stripping-load",
    title="Load that strips a thread",
    formula="F = 0.6 · Rm · A",
    symbols={"Rm": "tensile strength of the material that shears [Pa]", "A": "its shear area [m²]"},
    source="fed-std-h28-2b",
    locator="shear strength of threads, taken as 0.6 of the tensile strength",
    evidence="from-memory",
    valid="sound metal at room temperature; light alloy loses strength when hot",
    example=Example({"shear_area": 269e-6, "tensile_strength": 200e6}, 32.28e3, by="by hand: 0.6 · 200 · 269 N"),
)
def stripping_load(*, shear_area: Area, tensile_strength: Stress) -> Force:
    """Load in N that shears the thread off.

    Raises:
        OutsideValidity: an argument is not positive.
    """
    require_positive(shear_area=shear_area, tensile_strength=tensile_strength)
    return SHEAR_SHARE * tensile_strength * shear_area
