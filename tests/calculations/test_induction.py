"""Air demand, inlet valve and venturi against worked textbook examples and the real gas."""

import math
from typing import Any

import pytest
from CoolProp.CoolProp import PropsSI
from hypothesis import given
from hypothesis import strategies as st

from service.calculations import atmosphere, carburettor, induction, orifice
from service.errors import OutsideValidity
from tests.published.cases import agrees, published, si

CASES = published("induction")

volumes = st.floats(50e-6, 10e-3)
speeds = st.floats(50.0, 1571.0)  # 500 … 15000 rpm
efficiencies = st.floats(0.2, 1.2)
densities = st.floats(0.3, 2.0)
valves = st.floats(0.012, 0.070)


def mass_case(g: dict[str, float], air_flow: float, displacement: float) -> float:
    """Volumetric efficiency in air of the printed pressure, temperature and gas constant."""
    return induction.volumetric_efficiency(
        air_flow=air_flow, displacement=displacement, speed=g["rpm"], air_density=g["p"] / (g["R"] * g["T"])
    )


def orifice_case(g: dict[str, float]) -> float:
    """The source lets air through the orifice as if incompressible: Q = Cd A √(2 g h ρ_l / ρ), worked here."""
    density = g["p"] / (g["R"] * g["T"])
    flow = g["Cd"] * math.pi / 4 * g["d"] ** 2 * math.sqrt(2 * 9.81 * g["head"] * g["rho_l"] / density)
    displacement = math.pi / 4 * g["bore"] ** 2 * g["stroke"] * g["cylinders"]
    return mass_case(g, flow * density, displacement)


def carburettor_case(g: dict[str, float]) -> dict[str, float]:
    """Choke and jet of a carburettor for a throat speed."""
    pressure = orifice.throat_pressure(
        upstream_pressure=g["p1"], upstream_temperature=g["T1"], speed=g["C2"], speed_coefficient=g["Cv"]
    )
    density = g["p1"] / (g["R"] * g["T1"]) * (pressure / g["p1"]) ** (1 / g["gamma"])
    jet = carburettor.jet_diameter_from_flow(
        fuel_flow=g["mf"],
        fuel_density=g["rho_f"],
        depression=g["frac"] * (g["p1"] - pressure),
        discharge_coefficient=g["Cdf"],
    )
    return {"d_choke": math.sqrt(4 * g["ma"] / (density * g["C2"]) / math.pi), "d_jet": jet}


def solve(case: dict[str, Any]) -> dict[str, float]:
    """Our numbers for a published case, in SI."""
    g = {key: si(value) for key, value in case["given"].items()}
    match case["id"]:
        case "G01":
            return {"vol_eff": mass_case(g, g["fuel_flow"] * g["afr"], g["Vd"] * g["cylinders"])}
        case "G02":
            return {"vol_eff": mass_case(g, g["power"] * g["bsfc"] * g["afr"], g["Vd"])}
        case "G04":
            return {"vol_eff": orifice_case(g)}
        case "G06":
            return carburettor_case(g)
        case "G07":
            speed = orifice.throat_speed(upstream_pressure=g["p1"], upstream_temperature=g["T1"], depression=g["dp"])
            return {"C2": speed}
        case "G11":
            flow = induction.air_volume_flow(displacement=g["displacement"], speed=g["rpm"], volumetric_efficiency=g["vol_eff"])
            return {"flow": flow}
        case _:
            displacement = math.pi / 4 * g["bore"] ** 2 * g["stroke"] * g["cylinders"]
            return {"vol_eff": mass_case(g, g["air_flow"], displacement)}


@pytest.mark.parametrize("case", CASES.values(), ids=CASES)
def test_published_case(case: dict[str, Any]) -> None:
    """Each worked example comes out within the rounding of its print (source in the case file)."""
    ours = solve(case)
    for key in case["expected"]:
        assert agrees(case, key, ours[key]), (key, ours[key])


def test_an_incompressible_orifice_counts_too_much_air() -> None:
    """The published orifice example, with the air expanding as it does, gives about a tenth less efficiency."""
    case = CASES["G04"]
    g = {key: si(value) for key, value in case["given"].items()}
    flux = orifice.mass_flux(
        upstream_pressure=g["p"],
        upstream_temperature=g["T"],
        downstream_pressure=g["p"] - 9.81 * g["head"] * g["rho_l"],
    )
    flow = g["Cd"] * math.pi / 4 * g["d"] ** 2 * flux
    displacement = math.pi / 4 * g["bore"] ** 2 * g["stroke"] * g["cylinders"]
    assert 0.85 < mass_case(g, flow, displacement) / case["expected"]["vol_eff"] < 0.95


def test_handbook_engine_at_5000_rpm() -> None:
    """86 × 73 mm flat four at 5000 rpm and 80 %: 240 … 250 kg/h, 120 cfm, 46 m/s in two 28 mm venturis (handbook)."""
    speed = 5000 * math.pi / 30
    displacement = math.pi / 4 * 0.086**2 * 0.073 * 4
    flow = induction.air_volume_flow(displacement=displacement, speed=speed, volumetric_efficiency=0.8)
    assert flow * 60 / 0.3048**3 == pytest.approx(120, abs=0.5)
    mass = induction.air_mass_flow(
        displacement=displacement, speed=speed, volumetric_efficiency=0.8, air_density=101325 / (287.05 * 298.15)
    )
    assert mass * 3600 == pytest.approx(240, rel=0.01)
    assert induction.venturi_mean_speed(air_flow=flow, venturi_diameter=0.028, venturis=2) == pytest.approx(46, abs=0.2)
    assert induction.choke_by_trade_rule(swept_volume=displacement / 4, speed=speed) == pytest.approx(0.029, abs=3e-4)


def test_handbook_engine_inlet_valve() -> None:
    """A 38 mm valve on the 86 × 73 mm engine at 5000 rpm: Z 0.53 in warm inlet air (310 K), 39.3 mm for 0.5 (handbook)."""
    speed = 5000 * math.pi / 30
    swept = math.pi / 4 * 0.086**2 * 0.073
    sound = atmosphere.speed_of_sound(temperature=310.0)
    index = induction.inlet_mach_index(swept_volume=swept, speed=speed, valve_diameter=0.038, sound_speed=sound)
    assert index == pytest.approx(0.53, abs=0.006)
    valve = induction.valve_diameter_for_mach_index(swept_volume=swept, speed=speed, mach_index=0.5, sound_speed=sound)
    assert valve == pytest.approx(0.0393, abs=2e-4)


@given(st.floats(0.02, 0.2), st.floats(0.02, 0.25), speeds, valves, st.floats(0.25, 0.45))
def test_mach_index_is_taylors_form(bore: float, stroke: float, speed: float, valve: float, flow: float) -> None:
    """(B/D)² c_m/(C_i a), as the textbook writes it, with CoolProp's speed of sound in air at 20 °C."""
    sound = PropsSI("A", "T", 293.15, "P", 101325.0, "Air")
    textbook = (bore / valve) ** 2 * (2 * stroke * speed / (2 * math.pi)) / (flow * sound)
    ours = induction.inlet_mach_index(
        swept_volume=math.pi / 4 * bore**2 * stroke,
        speed=speed,
        valve_diameter=valve,
        sound_speed=atmosphere.speed_of_sound(temperature=293.15),
        flow_coefficient=flow,
    )
    assert ours == pytest.approx(textbook, rel=1e-3)


@given(volumes, speeds, st.floats(0.1, 2), st.floats(280, 380), st.floats(0.25, 0.45))
def test_valve_for_an_index_has_that_index(swept: float, speed: float, index: float, sound: float, flow: float) -> None:
    """Valve from index and index from valve are inverses."""
    valve = induction.valve_diameter_for_mach_index(
        swept_volume=swept, speed=speed, mach_index=index, sound_speed=sound, flow_coefficient=flow
    )
    back = induction.inlet_mach_index(
        swept_volume=swept, speed=speed, valve_diameter=valve, sound_speed=sound, flow_coefficient=flow
    )
    assert back == pytest.approx(index, rel=1e-9)


@given(volumes, speeds, efficiencies, densities)
def test_volumetric_efficiency_undoes_the_air_demand(v: float, speed: float, efficiency: float, density: float) -> None:
    """Measuring the flow that was computed gives the efficiency back."""
    flow = induction.air_mass_flow(displacement=v, speed=speed, volumetric_efficiency=efficiency, air_density=density)
    back = induction.volumetric_efficiency(air_flow=flow, displacement=v, speed=speed, air_density=density)
    assert back == pytest.approx(efficiency, rel=1e-9)


@given(volumes, speeds, efficiencies, st.floats(0.008, 0.06), st.integers(1, 8))
def test_venturis_share_the_flow(v: float, speed: float, efficiency: float, diameter: float, count: int) -> None:
    """What the venturis pass together is what the engine draws, and twice the diameter quarters the speed."""
    flow = induction.air_volume_flow(displacement=v, speed=speed, volumetric_efficiency=efficiency)
    mean = induction.venturi_mean_speed(air_flow=flow, venturi_diameter=diameter, venturis=count)
    assert mean * count * math.pi * (diameter / 2) ** 2 == pytest.approx(flow, rel=1e-9)
    wide = induction.venturi_mean_speed(air_flow=flow, venturi_diameter=2 * diameter, venturis=count)
    assert wide == pytest.approx(mean / 4, rel=1e-9)


@pytest.mark.parametrize("efficiency", [0.0, -0.1, 1.21, 80.0, math.nan])
def test_an_efficiency_in_percent_is_refused(efficiency: float) -> None:
    """80 instead of 0.8 is told how to be sent."""
    with pytest.raises(OutsideValidity, match=r"0\.8 for 80 %") as refusal:
        induction.air_volume_flow(displacement=1.6e-3, speed=300.0, volumetric_efficiency=efficiency)
    assert refusal.value.field == "volumetric_efficiency"


def test_a_jet_sent_as_a_venturi_is_refused() -> None:
    """1.3 mm is a jet."""
    with pytest.raises(OutsideValidity, match="jet") as refusal:
        induction.venturi_mean_speed(air_flow=0.05, venturi_diameter=0.0013, venturis=1)
    assert refusal.value.field == "venturi_diameter"


@pytest.mark.parametrize("field", ["swept_volume", "speed", "valve_diameter", "sound_speed", "flow_coefficient"])
def test_a_zero_is_refused_by_name(field: str) -> None:
    """No division by what is not there; the message names the field that was sent."""
    values = {"swept_volume": 4e-4, "speed": 500.0, "valve_diameter": 0.038, "sound_speed": 340.0}
    with pytest.raises(OutsideValidity) as refusal:
        induction.inlet_mach_index(**{**values, "flow_coefficient": 0.33, field: 0.0})
    assert refusal.value.field == field
