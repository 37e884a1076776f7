"""The air against the 1976 tables, moist-air libraries and published rows."""

import math
from typing import Any

import ambiance
import fluids
import psychrolib
import pytest
from CoolProp.CoolProp import PropsSI
from CoolProp.HumidAirProp import HAPropsSI
from hypothesis import given
from hypothesis import strategies as st

from service.calculations import atmosphere as air
from service.errors import Contradiction, OutsideValidity
from tests.published.cases import agrees, published, si

CASES = published("atmosphere")

altitudes = st.floats(-500, 6000)
temperatures = st.floats(223.15, 333.15)
humidities = st.floats(0, 1)
pressures = st.floats(45e3, 110e3)

psychrolib.SetUnitSystem(psychrolib.SI)


def solve(case: dict[str, Any]) -> dict[str, float]:
    """Our numbers for a published case, in SI."""
    given_ = {key: si(value) for key, value in case["given"].items()}
    identity = case["id"]
    if identity in {"A01", "A03", "A05", "A07", "A08"}:
        altitude = given_.get("z", given_.get("h", 0.0))
        return {
            "T": air.standard_temperature(altitude=altitude),
            "p": air.standard_pressure(altitude=altitude),
            "rho": air.standard_density(altitude=altitude),
        }
    if identity == "A10":
        return {
            "T0": air.standard_temperature(altitude=0.0),
            "p0": air.standard_pressure(altitude=0.0),
            "rho0": air.standard_density(altitude=0.0),
        }
    if identity in {"A11", "A13"}:
        return {"rho": air.air_density(pressure=given_["p"], temperature=given_["T"], relative_humidity=given_["rh"])}
    if identity == "A25":
        return {"gamma": air.HEAT_CAPACITY_RATIO}
    return {"psat": air.saturation_pressure(temperature=given_["T"])}


@pytest.mark.parametrize("case", CASES.values(), ids=CASES)
def test_published_case(case: dict[str, Any]) -> None:
    """Each row of the published tables comes out within the rounding of its print (source in the case file)."""
    ours = solve(case)
    for key in case["expected"]:
        assert agrees(case, key, ours[key]), (key, ours[key])


@given(altitudes)
def test_the_standard_atmosphere_agrees_with_two_libraries(altitude: float) -> None:
    """fluids.ATMOSPHERE_1976 and ambiance (ICAO doc 7488) know the same atmosphere, by geometric altitude."""
    by_fluids = fluids.ATMOSPHERE_1976(altitude)
    by_ambiance = ambiance.Atmosphere(altitude)
    assert air.standard_temperature(altitude=altitude) == pytest.approx(by_fluids.T, rel=1e-6)
    assert air.standard_pressure(altitude=altitude) == pytest.approx(by_fluids.P, rel=2e-5)
    assert air.standard_density(altitude=altitude) == pytest.approx(by_fluids.rho, rel=2e-5)
    assert air.standard_pressure(altitude=altitude) == pytest.approx(float(by_ambiance.pressure[0]), rel=2e-5)
    assert air.standard_density(altitude=altitude) == pytest.approx(float(by_ambiance.density[0]), rel=2e-5)


@given(temperatures)
def test_speed_of_sound_agrees_with_real_air(temperature: float) -> None:
    """CoolProp's real air at one atmosphere has the same speed of sound within 0.1 %."""
    real = PropsSI("A", "T", temperature, "P", 101325.0, "Air")
    assert air.speed_of_sound(temperature=temperature) == pytest.approx(real, rel=1e-3)


@pytest.mark.parametrize("celsius", range(1, 101, 3))
def test_saturation_pressure_agrees_with_hyland_and_wexler(celsius: int) -> None:
    """Psychrolib uses the Hyland-Wexler equation of ASHRAE; above freezing both are over water."""
    assert air.saturation_pressure(temperature=celsius + 273.15) == pytest.approx(
        psychrolib.GetSatVapPres(float(celsius)), rel=1.2e-3
    )


@pytest.mark.parametrize(("celsius", "pascal"), [(-10, 286.5), (-20, 125.4), (-30, 50.9), (-40, 18.9)])
def test_saturation_pressure_below_freezing_is_that_over_water(celsius: int, pascal: float) -> None:
    """Smithsonian meteorological table of supercooled water (from memory): what a hygrometer's humidity refers to."""
    assert air.saturation_pressure(temperature=celsius + 273.15) == pytest.approx(pascal, rel=6e-3)


@given(pressures, st.floats(274.15, 323.15), humidities)
def test_moist_air_agrees_with_two_libraries(pressure: float, temperature: float, humidity: float) -> None:
    """CoolProp's real moist air within 0.15 %, psychrolib's ideal moist air within 0.05 %."""
    ours = air.air_density(pressure=pressure, temperature=temperature, relative_humidity=humidity)
    volume = HAPropsSI("Vha", "T", temperature, "P", pressure, "R", humidity)
    assert ours == pytest.approx(1 / volume, rel=1.5e-3)
    ratio = psychrolib.GetHumRatioFromRelHum(temperature - 273.15, humidity, pressure)
    ideal = psychrolib.GetMoistAirDensity(temperature - 273.15, ratio, pressure)
    assert ours == pytest.approx(ideal, rel=7e-4)


@given(altitudes)
def test_density_altitude_undoes_standard_density(altitude: float) -> None:
    """In standard air the density altitude is the altitude."""
    density = air.standard_density(altitude=altitude)
    assert air.density_altitude(density=density) == pytest.approx(altitude, abs=1e-6)


def test_handbook_day_at_1500_metres() -> None:
    """30 °C and 40 % at 1500 m breathe like 2424 m: handbook example, worked without this code."""
    pressure = air.standard_pressure(altitude=1500.0)
    density = air.air_density(pressure=pressure, temperature=303.15, relative_humidity=0.4)
    assert air.density_altitude(density=density) == pytest.approx(2424, abs=1.5)


@given(altitudes, altitudes)
def test_air_thins_with_altitude(first: float, second: float) -> None:
    """Higher is never denser, and denser air is never higher."""
    low, high = sorted((first, second))
    assert air.standard_density(altitude=low) >= air.standard_density(altitude=high)
    assert air.standard_pressure(altitude=low) >= air.standard_pressure(altitude=high)


@given(pressures, temperatures, humidities)
def test_moisture_makes_air_lighter(pressure: float, temperature: float, humidity: float) -> None:
    """Water weighs 18 against 29: moist air is never denser than dry air of the same pressure and temperature."""
    moist = air.air_density(pressure=pressure, temperature=temperature, relative_humidity=humidity)
    dry = air.air_density(pressure=pressure, temperature=temperature)
    assert 0 < moist <= dry
    assert dry == pytest.approx(pressure / (287.053 * temperature), rel=1e-5)


@given(st.floats(40e3, 110e3), temperatures, humidities)
def test_every_legal_air_has_a_density_altitude_or_a_reason(pressure: float, temperature: float, humidity: float) -> None:
    """Over the whole hard range the answer is a finite number or a refusal, nothing else."""
    density = air.air_density(pressure=pressure, temperature=temperature, relative_humidity=humidity)
    if 0.3649 < density < 1.931:
        assert -5100 < air.density_altitude(density=density) < 11050
    elif density < 0.3647 or density > 1.932:
        with pytest.raises(OutsideValidity, match="station pressure"):
            air.density_altitude(density=density)


@pytest.mark.parametrize(
    ("pressure", "altitude", "slip"),
    [
        (101.325e3, 1500.0, True),  # 20 % above the 84.6 kPa of the place
        (84.6e3, 1500.0, False),
        (86.5e3, 1500.0, False),  # fine weather
        (101.325e3, 0.0, False),
        (103.5e3, 0.0, False),  # a strong winter high
        (101.325e3, 500.0, True),
    ],
)
def test_sea_level_barometer_slip(pressure: float, altitude: float, slip: bool) -> None:
    """A weather report's figure at a high place is noticed, fine weather is not (standard pressures: 1976 table)."""
    assert air.barometer_is_sea_level(pressure=pressure, altitude=altitude) is slip


@pytest.mark.parametrize("altitude", [-501.0, 6001.0, math.nan, math.inf])
def test_an_altitude_outside_the_range_is_refused(altitude: float) -> None:
    """Feet typed as metres leave the range and are told to carry their unit."""
    for function in (air.standard_temperature, air.standard_pressure, air.standard_density):
        with pytest.raises(OutsideValidity, match="ft") as refusal:
            function(altitude=altitude)
        assert refusal.value.field == "altitude"


@pytest.mark.parametrize("humidity", [-0.01, 1.01, 40.0, math.nan])
def test_a_humidity_in_percent_is_refused(humidity: float) -> None:
    """40 for 40 % would be forty times saturated."""
    with pytest.raises(OutsideValidity, match=r"0\.4 for 40 %"):
        air.vapour_pressure(temperature=293.15, relative_humidity=humidity)


@pytest.mark.parametrize("temperature", [200.0, 400.0, math.nan])
def test_a_temperature_outside_the_range_is_refused(temperature: float) -> None:
    """Water vapour is known from −50 to 100 °C."""
    with pytest.raises(OutsideValidity) as refusal:
        air.saturation_pressure(temperature=temperature)
    assert refusal.value.field == "temperature"


def test_more_vapour_than_pressure_is_a_contradiction() -> None:
    """At 90 °C saturated vapour alone has 70 kPa (steam tables), so 60 kPa of moist air cannot be."""
    with pytest.raises(Contradiction, match="station"):
        air.air_density(pressure=60e3, temperature=363.15, relative_humidity=1.0)


def test_absolute_zero_is_refused() -> None:
    """There is no sound at absolute zero."""
    with pytest.raises(OutsideValidity):
        air.speed_of_sound(temperature=0.0)
