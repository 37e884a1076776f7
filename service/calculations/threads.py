"""Basic geometry of screw threads: metric, unified and Whitworth form, from nominal diameter and pitch."""

from math import pi, radians, sqrt
from typing import NamedTuple

from service.errors import OutsideValidity
from service.methods import Example, method
from service.units import Angle, Area, Length

SIXTY_DEGREES: Angle = radians(60.0)
FIFTY_FIVE_DEGREES: Angle = radians(55.0)

# Height of the sharp 60° triangle in pitches, √3/2, and the Whitworth depth of thread in pitches.
_SHARP_HEIGHT = sqrt(3.0) / 2.0
_WHITWORTH_DEPTH = 0.640327

# The coarsest standard pitch (M1) is a quarter of the diameter; beyond this a pitch is a typing slip.
_COARSEST = 0.4


class Thread(NamedTuple):
    """Basic sizes of a thread (lengths in m, area in m², angle in rad).

    Attributes:
        diameter: Nominal (major) diameter d.
        pitch: Axial pitch P of a single-start thread.
        thread_angle: Included angle between the flanks, twice the flank angle.
        pitch_diameter: Basic pitch diameter d2.
        root_diameter: Diameter d3 at the root of the bolt, rounded root of the basic profile.
        nut_minor_diameter: Basic minor diameter D1 of the nut or tapped hole.
        stress_area: Area As that carries the load.
    """

    diameter: Length
    pitch: Length
    thread_angle: Angle
    pitch_diameter: Length
    root_diameter: Length
    nut_minor_diameter: Length
    stress_area: Area

    @property
    def stress_diameter(self) -> Length:
        """Diameter of a plain rod as strong as the thread."""
        return sqrt(4.0 * self.stress_area / pi)


class ThreadLimits(NamedTuple):
    """The sizes that make a pair of threads weakest, in m (bolt at its smallest, nut at its largest)."""

    bolt_major_minimum: Length
    bolt_pitch_minimum: Length
    nut_pitch_maximum: Length
    nut_minor_maximum: Length


def _check(diameter: Length, pitch: Length) -> None:
    if diameter <= 0:
        raise OutsideValidity("diameter", "The thread diameter must be above zero.", "> 0")
    if not 0 < pitch <= _COARSEST * diameter:
        raise OutsideValidity(
            "pitch",
            "The pitch must be above zero and at most 0.4 of the diameter. Send the pitch, the distance from thread "
            "to thread, not the number of threads per inch.",
            "0 to 0.4 of the diameter",
        )


@method(
    id="metric-thread",
    title="Basic sizes and stress area of a metric thread",
    formula="d2 = d − 0.649519 P; d3 = d − 1.226869 P; D1 = d − 1.082532 P; As = π/4 · ((d2 + d3)/2)²",
    symbols={
        "d": "nominal diameter [m]",
        "P": "pitch [m]",
        "d2": "pitch diameter [m]",
        "d3": "root diameter of the bolt [m]",
        "D1": "minor diameter of the nut [m]",
        "As": "stress area [m²]",
    },
    source="iso-724-1993",
    locator="basic dimensions of the ISO 68-1 profile; stress area as in ISO 898-1",
    evidence="standard",
    valid="single-start threads, pitch up to 0.4 of the diameter",
    example=Example(
        {"diameter": 0.010, "pitch": 0.0015},
        {"pitch_diameter": 9.026e-3, "root_diameter": 8.160e-3, "nut_minor_diameter": 8.376e-3, "stress_area": 58.0e-6},
        by="ISO 724 table (M10) and ISO 898-1 table of stress areas",
        rel_tol=4e-4,
    ),
)
def metric_thread(*, diameter: Length, pitch: Length) -> Thread:
    """Basic sizes of a metric ISO thread; lengths in m.

    Raises:
        OutsideValidity: the diameter is not positive, or the pitch is not within 0 to 0.4 of it.
    """
    _check(diameter, pitch)
    height = _SHARP_HEIGHT * pitch
    pitch_diameter = diameter - 0.75 * height
    root_diameter = diameter - 17.0 / 12.0 * height
    mean = (pitch_diameter + root_diameter) / 2.0
    return Thread(
        diameter=diameter,
        pitch=pitch,
        thread_angle=SIXTY_DEGREES,
        pitch_diameter=pitch_diameter,
        root_diameter=root_diameter,
        nut_minor_diameter=diameter - 1.25 * height,
        stress_area=pi / 4.0 * mean * mean,
    )


@method(
    id="unified-thread",
    title="Basic sizes and tensile stress area of a unified inch thread",
    formula="At = π/4 · (d − 0.9743 P)²; other sizes as for the metric profile",
    symbols={"d": "nominal diameter [m]", "P": "pitch, 1/threads per unit length [m]", "At": "stress area [m²]"},
    source="asme-b1-1-2019",
    locator="tensile stress area",
    evidence="standard",
    valid="single-start threads, pitch up to 0.4 of the diameter",
    example=Example(
        {"diameter": 0.009525, "pitch": 0.0254 / 16},
        {"stress_area": 0.0775 * 0.0254 * 0.0254},
        by="ASME B1.1 table, 3/8-16 UNC: 0.0775 in²",
        rel_tol=1e-3,
    ),
)
def unified_thread(*, diameter: Length, pitch: Length) -> Thread:
    """Basic sizes of a unified thread; lengths in m.

    The stress area is that of ASME B1.1, about 1 % below the metric rule for the same profile.

    Raises:
        OutsideValidity: the diameter is not positive, or the pitch is not within 0 to 0.4 of it.
    """
    basic = metric_thread(diameter=diameter, pitch=pitch)
    stress_diameter = diameter - 0.9743 * pitch
    return basic._replace(stress_area=pi / 4.0 * stress_diameter * stress_diameter)


@method(
    id="whitworth-thread",
    title="Basic sizes and stress area of a Whitworth-form thread",
    formula="d2 = d − 0.640327 P; d3 = D1 = d − 1.280654 P; As = π/4 · ((d2 + d3)/2)²",
    symbols={
        "d": "nominal diameter [m]",
        "P": "pitch [m]",
        "d2": "effective (pitch) diameter [m]",
        "d3": "minor diameter [m]",
        "As": "stress area [m²]",
    },
    source="bs-84-2007",
    locator="basic sizes of the 55° form",
    evidence="from-memory",
    valid="single-start threads, pitch up to 0.4 of the diameter",
    example=Example(
        {"diameter": 0.00635, "pitch": 0.0254 / 26},
        {"pitch_diameter": 0.2254 * 0.0254, "root_diameter": 0.2007 * 0.0254},
        by="BS 84 table, 1/4-26 BSF: effective 0.2254 in, minor 0.2007 in (from memory)",
        rel_tol=5e-4,
    ),
)
def whitworth_thread(*, diameter: Length, pitch: Length) -> Thread:
    """Basic sizes of a Whitworth-form thread (BSW, BSF), flanks at 55°; lengths in m.

    Raises:
        OutsideValidity: the diameter is not positive, or the pitch is not within 0 to 0.4 of it.
    """
    _check(diameter, pitch)
    pitch_diameter = diameter - _WHITWORTH_DEPTH * pitch
    minor_diameter = diameter - 2.0 * _WHITWORTH_DEPTH * pitch
    mean = (pitch_diameter + minor_diameter) / 2.0
    return Thread(
        diameter=diameter,
        pitch=pitch,
        thread_angle=FIFTY_FIVE_DEGREES,
        pitch_diameter=pitch_diameter,
        root_diameter=minor_diameter,
        nut_minor_diameter=minor_diameter,
        stress_area=pi / 4.0 * mean * mean,
    )


@method(
    id="thread-limits-medium-fit",
    title="Weakest sizes of a thread pair of medium fit (6g bolt in a 6H hole)",
    formula="es = 15 + 11 P; Td = 180 P^⅔ − 3.15/√P; Td2 = 90 P^0.4 d^0.1; TD2 = 1.32 Td2; "
    "TD1 = 230 P^0.7, below P = 1 mm 433 P − 190 P^1.22 (µm, with P and d in mm)",
    symbols={
        "es": "allowance of position g",
        "Td": "tolerance of the bolt's major diameter",
        "Td2, TD2": "tolerance of the pitch diameter of bolt and nut",
        "TD1": "tolerance of the nut's minor diameter",
    },
    source="iso-965-1-2013",
    locator="formulas of the fundamental deviations and tolerances, grade 6",
    evidence="from-memory",
    valid="pitches of 0.2 to 6 mm; the standard then rounds to preferred numbers, a few µm off",
    example=Example(
        {"diameter": 8e-3, "pitch": 1.25e-3, "pitch_diameter": 7.188e-3, "nut_minor_diameter": 6.647e-3},
        {
            "bolt_major_minimum": 7.760e-3,
            "bolt_pitch_minimum": 7.042e-3,
            "nut_pitch_maximum": 7.348e-3,
            "nut_minor_maximum": 6.912e-3,
        },
        by="ISO 965 limits of M8-6H/6g (from memory)",
        rel_tol=1e-3,
    ),
)
def medium_fit_limits(*, diameter: Length, pitch: Length, pitch_diameter: Length, nut_minor_diameter: Length) -> ThreadLimits:
    """Limits in m of a 6g bolt and a 6H hole, by the formulas of ISO 965-1 without its last rounding.

    For unified 2A/2B threads the formulas give nearly the same limits; for Whitworth medium fit they stand in.

    Raises:
        OutsideValidity: the diameter is not positive, or the pitch is not within 0.2 to 6 mm and 0.4 of it.
    """
    _check(diameter, pitch)
    if not 0.2e-3 <= pitch <= 6e-3:
        raise OutsideValidity("pitch", "Tolerances are known for pitches of 0.2 to 6 mm.", "0.2 to 6 mm")
    millimetres, micrometre = pitch * 1e3, 1e-6
    allowance = (15.0 + 11.0 * millimetres) * micrometre
    major = (180.0 * millimetres ** (2.0 / 3.0) - 3.15 / sqrt(millimetres)) * micrometre
    bolt_pitch = 90.0 * millimetres**0.4 * (diameter * 1e3) ** 0.1 * micrometre
    if millimetres < 1.0:
        minor = (433.0 * millimetres - 190.0 * millimetres**1.22) * micrometre
    else:
        minor = 230.0 * millimetres**0.7 * micrometre
    return ThreadLimits(
        bolt_major_minimum=diameter - allowance - major,
        bolt_pitch_minimum=pitch_diameter - allowance - bolt_pitch,
        nut_pitch_maximum=pitch_diameter + 1.32 * bolt_pitch,
        nut_minor_maximum=nut_minor_diameter + minor,
    )
