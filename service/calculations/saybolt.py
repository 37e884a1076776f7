"""Saybolt universal seconds, in which manuals before the 1970s state the viscosity of an oil."""

from service.errors import OutsideValidity
from service.methods import Example, method
from service.units import Duration, KinematicViscosity, Temperature

_AT_100_FAHRENHEIT = 310.928


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
    """Efflux time in s from the Saybolt universal orifice.

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
