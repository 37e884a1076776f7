"""How much oil goes in, what the dipstick says about it, and what is in it: zinc, phosphorus, the grade for the climate."""

from collections.abc import Sequence
from math import pi
from typing import NamedTuple

from service.errors import Contradiction, OutsideValidity
from service.methods import Example, method
from service.units import Density, DynamicViscosity, Length, Ratio, Temperature, Volume


class Line(NamedTuple):
    """A hose or pipe of the oil circuit."""

    bore: Length
    length: Length


class Fill(NamedTuple):
    """What the engine takes, and how much of it lies outside the sump."""

    total: Volume
    external: Volume
    lines: Volume


class DipstickScale(NamedTuple):
    """A calibrated dipstick: the volume at its zero and the volume of one metre of its length."""

    volume_at_zero: Volume
    volume_per_length: float


class Dose(NamedTuple):
    """Volumes of additive and of base oil that together give the wanted content."""

    additive: Volume
    base_oil: Volume


class OilGrade(NamedTuple):
    """What a grade promises: coldest cranking, coldest pumping, and its dynamic viscosity on the hot engine."""

    cranking_temperature: Temperature
    pumping_temperature: Temperature
    hot_viscosity: DynamicViscosity


class GradeVerdict(NamedTuple):
    """Whether a grade suits the coldest start and the hottest oil."""

    thick_when_cold: bool
    thin_when_hot: bool
    suits: bool


@method(
    id="oil-line-volume",
    title="Oil in hoses and pipes",
    formula="V = Σ π/4 · d² · L",
    symbols={"V": "volume [m³]", "d": "bore of a line [m]", "L": "its length, both ways counted [m]"},
    source="geometry",
    locator="volume of a cylinder",
    evidence="standard",
    example=Example({"lines": (Line(0.0127, 3.6),)}, 456.0e-6, by="by hand: π/4 · 1.27² · 360 cm³ = 456.0 cm³", rel_tol=1e-3),
)
def line_volume(*, lines: Sequence[Line]) -> Volume:
    """Oil held by the lines in m³; an empty list holds none.

    Raises:
        OutsideValidity: a bore or length that is not positive.
    """
    for index, line in enumerate(lines):
        if not (line.bore > 0 and line.length > 0):
            raise OutsideValidity(f"lines/{index}", "A line has an inside diameter and a length, both above zero.", "> 0")
    return sum(pi / 4 * line.bore * line.bore * line.length for line in lines)


@method(
    id="oil-fill",
    title="Oil fill with the external circuit",
    formula="V = V_sump + V_filter + V_cooler + V_lines",
    symbols={"V": "volume of oil [m³]"},
    source="geometry",
    locator="sum of the volumes",
    evidence="standard",
    example=Example(
        {"sump": 2.5e-3, "oil_filter": 0.35e-3, "cooler": 0.45e-3, "lines": (Line(0.0127, 3.6),)},
        {"total": 3.756e-3, "external": 1.256e-3, "lines": 0.456e-3},
        by="by hand: 2.50 + 0.35 + 0.45 + 0.456 L",
        rel_tol=1e-3,
    ),
)
def fill(*, sump: Volume, oil_filter: Volume, cooler: Volume, lines: Sequence[Line]) -> Fill:
    """Oil that the engine takes in m³ when filter, cooler and lines are dry.

    Raises:
        OutsideValidity: a sump that is not positive, a negative volume, or a line without size.
    """
    if not sump > 0:
        raise OutsideValidity("sump", "The sump holds oil: send the fill of the bare engine.", "> 0")
    for field, volume in (("filter", oil_filter), ("cooler", cooler)):
        if not volume >= 0:
            raise OutsideValidity(field, f"A {field} holds no less than nothing; leave it out if there is none.", "≥ 0")
    in_lines = line_volume(lines=lines)
    external = oil_filter + cooler + in_lines
    return Fill(sump + external, external, in_lines)


@method(
    id="dipstick-scale",
    title="Dipstick from two known fills",
    formula="k = (V₂ - V₁)/(x₂ - x₁); V(x) = V₁ + k (x - x₁)",
    symbols={"V": "volume in the sump [m³]", "x": "wetted length of the stick [m]", "k": "volume per length [m²]"},
    source="geometry",
    locator="straight line through two points; holds while the sump walls are upright between the marks",
    evidence="derived",
    example=Example(
        {"low_mark": 0.010, "low_volume": 1.8e-3, "high_mark": 0.030, "high_volume": 2.5e-3},
        {"volume_at_zero": 1.45e-3, "volume_per_length": 0.035},
        by="by hand: 0.7 L over 20 mm = 35 mL/mm; 1.8 - 0.35 L at zero",
        rel_tol=1e-9,
    ),
)
def dipstick_scale(*, low_mark: Length, low_volume: Volume, high_mark: Length, high_volume: Volume) -> DipstickScale:
    """The scale of a dipstick from two readings after known fills.

    Raises:
        Contradiction: the higher reading does not go with the larger volume.
    """
    if not (high_mark - low_mark > 1e-6 and high_volume > low_volume):
        raise Contradiction(
            ("low_mark", "low_volume", "high_mark", "high_volume"),
            "The second dipstick reading must stand higher and go with more oil than the first.",
        )
    slope = (high_volume - low_volume) / (high_mark - low_mark)
    return DipstickScale(low_volume - slope * low_mark, slope)


def volume_on_dipstick(*, scale: DipstickScale, reading: Length) -> Volume:
    """Oil in the sump in m³ at a dipstick reading.

    Raises:
        OutsideValidity: the reading lies below the bottom of the sump of this scale.
    """
    volume = scale.volume_at_zero + scale.volume_per_length * reading
    if volume < 0:
        raise OutsideValidity("reading", "By the two marks the sump would hold less than nothing here; read the stick again.")
    return volume


def dipstick_drop(*, scale: DipstickScale, volume: Volume) -> Length:
    """How far in m the level falls on the stick when a volume leaves the sump, as into an empty cooler."""
    return volume / scale.volume_per_length


@method(
    id="additive-blend",
    title="Zinc or phosphorus content of a blend",
    formula="c = Σ V ρ c/Σ V ρ",
    symbols={"c": "mass fraction", "V": "volume [m³]", "ρ": "density [kg/m³]"},
    source="mechanics",
    locator="mass balance",
    evidence="derived",
    example=Example(
        {"volumes": (2.2e-3, 0.3e-3), "densities": (880.0, 880.0), "contents": (800e-6, 2800e-6)},
        1040e-6,
        by="by hand: (2.2·800 + 0.3·2800)/2.5 ppm",
        rel_tol=1e-9,
    ),
)
def blend_content(*, volumes: Sequence[Volume], densities: Sequence[Density], contents: Sequence[Ratio]) -> Ratio:
    """Mass fraction of an element in a blend.

    Raises:
        OutsideValidity: no oil at all, or a negative volume, density or content.
        Contradiction: lists of different lengths.
    """
    if not len(volumes) == len(densities) == len(contents):
        raise Contradiction(("oils",), "Every oil of a blend needs a volume, a density and a content.")
    if any(not (v >= 0 and d > 0 and 0 <= c <= 1) for v, d, c in zip(volumes, densities, contents, strict=True)):
        raise OutsideValidity("oils", "Volumes and contents of a blend are not negative.", "≥ 0")
    masses = [volume * density for volume, density in zip(volumes, densities, strict=True)]
    total = sum(masses)
    if not total > 0:
        raise OutsideValidity("oils", "A blend needs at least one oil with a volume.", "> 0")
    return sum(mass * content for mass, content in zip(masses, contents, strict=True)) / total


@method(
    id="additive-dose",
    title="Additive that brings a fill to a zinc or phosphorus content",
    formula="x = (c - c_b)/(c_a - c_b); V_a/V = (x/ρ_a)/(x/ρ_a + (1 - x)/ρ_b)",
    symbols={
        "x": "mass fraction of additive",
        "c": "wanted content",
        "c_a, c_b": "content of additive and base oil",
        "ρ_a, ρ_b": "their densities [kg/m³]",
        "V_a, V": "volume of additive and of the whole fill [m³]",
    },
    source="mechanics",
    locator="mass balance",
    evidence="derived",
    example=Example(
        {
            "total": 2.5e-3,
            "target": 1040e-6,
            "base_content": 800e-6,
            "additive_content": 2800e-6,
            "base_density": 880.0,
            "additive_density": 880.0,
        },
        {"additive": 0.3e-3, "base_oil": 2.2e-3},
        by="by hand: 2.5·(1040 - 800)/(2800 - 800) L",
        rel_tol=1e-9,
    ),
)
def additive_dose(
    *,
    total: Volume,
    target: Ratio,
    base_content: Ratio,
    additive_content: Ratio,
    base_density: Density,
    additive_density: Density,
) -> Dose:
    """Additive and base oil in m³ that together make the fill; none is needed when the base oil has enough.

    Raises:
        OutsideValidity: the additive is no richer than the target, or a value that is not positive.
    """
    if not (total > 0 and base_density > 0 and additive_density > 0):
        raise OutsideValidity("total", "The fill and the densities must be above zero.", "> 0")
    if target <= base_content:
        return Dose(0.0, total)
    if not target < additive_content:
        raise OutsideValidity(
            "additive_content",
            "This additive is no richer than the wanted content, so no dose reaches it; "
            "send the content of the concentrate (percent and ppm are easily mixed: 0.28 % is 2800 ppm).",
            "above the wanted content",
        )
    fraction = (target - base_content) / (additive_content - base_content)
    additive_share = fraction / additive_density
    base_share = (1 - fraction) / base_density
    additive = total * additive_share / (additive_share + base_share)
    return Dose(additive, total - additive)


@method(
    id="grade-for-climate",
    title="Oil grade for the coldest start and the hottest oil",
    formula="suits when T_start ≥ T_cranking, T_start ≥ T_pumping and μ(T_hot) ≥ μ_min",
    symbols={
        "T_start": "lowest start temperature [K]",
        "T_cranking, T_pumping": "temperatures of the cranking and pumping tests of the W grade [K]",
        "μ_min": "least dynamic viscosity at the expected oil temperature [Pa·s]",
    },
    source="sae-j300-2015",
    locator="cranking and pumping limits; the least hot viscosity is trade practice",
    evidence="common-practice",
    example=Example(
        {
            "grade": OilGrade(258.15, 253.15, 0.0085),
            "start_temperature": 253.15,
            "least_hot_viscosity": 0.006,
        },
        {"thick_when_cold": True, "thin_when_hot": False, "suits": False},
        by="SAE J300: a 20W oil is tested for cranking at -15 °C, so a start at -20 °C is beyond it",
    ),
)
def grade_for_climate(
    *, grade: OilGrade, start_temperature: Temperature, least_hot_viscosity: DynamicViscosity
) -> GradeVerdict:
    """Whether a grade suits the coldest start and the hottest oil; the two faults are told apart."""
    # Cranking is the tighter limit in the standard; both are checked in case a table says otherwise.
    thick = start_temperature < max(grade.cranking_temperature, grade.pumping_temperature)
    thin = grade.hot_viscosity < least_hot_viscosity
    return GradeVerdict(thick, thin, not (thick or thin))
