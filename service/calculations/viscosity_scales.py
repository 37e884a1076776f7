"""Other scales on which oils are sold or old manuals quote them: ISO viscosity grades and Saybolt seconds."""

from typing import NamedTuple

from service.errors import OutsideValidity
from service.methods import Example, method
from service.units import Duration, KinematicViscosity, Ratio, Temperature

_AT_100_FAHRENHEIT = 310.928


class GradeLimits(NamedTuple):
    """Lowest and highest kinematic viscosity that a grade allows at its reference temperature."""

    low: KinematicViscosity
    high: KinematicViscosity


@method(
    id="iso-viscosity-grade",
    title="Limits of an ISO viscosity grade",
    formula="0.9 VG ≤ ν₄₀ ≤ 1.1 VG",
    symbols={"VG": "the number of the grade", "ν₄₀": "kinematic viscosity at 40 °C [mm²/s]"},
    source="iso-3448-1992",
    locator="midpoint ± 10 % at 40 °C",
    evidence="standard",
    valid="VG 2 to VG 3200",
    example=Example({"grade": 32.0}, {"low": 28.8e-6, "high": 35.2e-6}, by="ISO 3448, row ISO VG 32", rel_tol=1e-6),
)
def iso_viscosity_grade(*, grade: Ratio) -> GradeLimits:
    """Limits at 40 °C in m²/s of the ISO viscosity grade with this number.

    Raises:
        OutsideValidity: no such grade.
    """
    if not 2 <= grade <= 3200:
        raise OutsideValidity("grade", "ISO viscosity grades run from VG 2 to VG 3200.", "2 to 3200")
    return GradeLimits(0.9e-6 * grade, 1.1e-6 * grade)


@method(
    id="saybolt-universal-seconds",
    title="Saybolt universal seconds",
    formula="SUS = (1 + 0.000061 (t - 100 °F)) (4.6324 ν + (1 + 0.03264 ν)/((3930.2 + 262.7 ν + 23.97 ν² + 1.646 ν³) 10⁻⁵))",
    symbols={"ν": "kinematic viscosity [mm²/s]", "t": "temperature [°F]"},
    source="astm-d2161-2010",
    locator="equation for the universal viscosity, recalled",
    evidence="from-memory",
    valid="from 2 mm²/s",
    example=Example(
        {"viscosity": 32e-6, "temperature": 310.928}, 150.49, by="a library's Saybolt converter: 150.49 s at 100 °F"
    ),
)
def saybolt_seconds(*, viscosity: KinematicViscosity, temperature: Temperature) -> Duration:
    """Efflux time in s from the Saybolt universal orifice, as manuals before the 1970s state viscosity.

    Raises:
        OutsideValidity: the oil is thinner than 2 mm²/s.
    """
    nu = viscosity * 1e6
    if not 2.0 * (1 - 1e-12) <= nu <= 2e7:
        raise OutsideValidity("viscosity", "Saybolt seconds are defined here from 2 mm²/s upward.", "2 to 2·10⁷ mm²/s")
    # The caller's temperatures differ from 100 °F by tens of kelvins: the factor stays within a percent of one.
    factor = 1 + 0.000061 * 1.8 * (temperature - _AT_100_FAHRENHEIT)
    small = (1 + 0.03264 * nu) / ((3930.2 + 262.7 * nu + 23.97 * nu * nu + 1.646 * nu * nu * nu) * 1e-5)
    return factor * (4.6324 * nu + small)
