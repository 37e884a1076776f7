"""Jets and mixture against combustion chemistry, the elementary carburettor and the trade's figures."""

import math

import cantera
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.calculations import atmosphere, carburettor, orifice
from service.errors import OutsideValidity

densities = st.floats(0.3, 2.0)
ratios = st.floats(0.3, 3.0)
jets = st.floats(0.2e-3, 4e-3)


@pytest.mark.parametrize(
    ("formula", "hydrogen", "oxygen"),
    [("C3H8", 8 / 3, 0.0), ("CH4", 4.0, 0.0), ("CH3OH", 4.0, 1.0), ("C2H6", 3.0, 0.0)],
)
def test_stoichiometric_ratio_agrees_with_cantera(formula: str, hydrogen: float, oxygen: float) -> None:
    """Cantera balances the same fuels on its own atomic weights."""
    gas = cantera.Solution("gri30.yaml")
    ours = carburettor.stoichiometric_ratio(hydrogen_per_carbon=hydrogen, oxygen_per_carbon=oxygen)
    theirs = gas.stoich_air_fuel_ratio(formula, "O2:0.20946, N2:0.78084, AR:0.00934", basis="mole")
    assert ours == pytest.approx(theirs, rel=1e-3)


@pytest.mark.parametrize(
    ("fuel", "hydrogen", "oxygen", "printed"),
    [
        ("iso-octane", 18 / 8, 0.0, 15.13),
        ("n-heptane", 16 / 7, 0.0, 15.18),
        ("ethanol", 3.0, 0.5, 9.00),
        ("methanol", 4.0, 1.0, 6.47),
        ("petrol CH1.87", 1.87, 0.0, 14.6),
    ],
)
def test_stoichiometric_ratio_of_common_fuels(fuel: str, hydrogen: float, oxygen: float, printed: float) -> None:
    """Heywood, table D.4 (from memory)."""
    ours = carburettor.stoichiometric_ratio(hydrogen_per_carbon=hydrogen, oxygen_per_carbon=oxygen)
    assert ours == pytest.approx(printed, rel=3e-3), fuel


def test_main_jet_at_1500_metres() -> None:
    """1.30 becomes 1.24 at 1500 m and 15 °C, area × 0.914 (handbook); the standard pressure there is 84.56 kPa."""
    thin = atmosphere.air_density(pressure=84560.0, temperature=288.15)
    area = carburettor.jet_area_ratio(jetting_density=1.225, air_density=thin)
    assert area == pytest.approx(0.914, abs=1e-3)
    jet = carburettor.jet_by_diameter(jet_diameter=1.30e-3, area_ratio=area, sizes=(1.20e-3, 1.25e-3, 1.30e-3))
    assert jet.exact == pytest.approx(1.243e-3, abs=1e-6)
    assert jet.nearest == 1.25e-3
    assert jet.mixture_change == pytest.approx(0.988, abs=1e-3)


def test_a_thousand_feet_is_less_than_one_jet_size() -> None:
    """305 m thin the standard air by 2.9 %: the diameter falls 0.73 %, where lore takes a whole size of about 2 %."""
    ground, above = (atmosphere.standard_density(altitude=altitude) for altitude in (0.0, 304.8))
    area = carburettor.jet_area_ratio(jetting_density=ground, air_density=above)
    jet = carburettor.jet_by_diameter(jet_diameter=1.30e-3, area_ratio=area, step=0.01e-3)
    assert jet.exact / 1.30e-3 == pytest.approx(1 - 0.0073, abs=1e-4)
    assert jet.nearest == pytest.approx(1.29e-3, rel=1e-9)


@given(st.floats(5e-3, 0.05), st.floats(10, 120), densities, densities)
def test_fixed_jets_follow_an_elementary_carburettor(area: float, speed: float, first: float, second: float) -> None:
    """A venturi that passes the same volume of air has a depression in proportion to density (Bernoulli, written out)."""

    def mixture(density: float) -> float:
        air = density * area * speed
        fuel = 0.7e-6 * math.sqrt(2 * 740.0 * 0.5 * density * speed * speed)
        return air / fuel

    ours = carburettor.mixture_with_fixed_jets(air_fuel_ratio=mixture(first), jetting_density=first, air_density=second)
    assert ours == pytest.approx(mixture(second), rel=1e-9)


@given(st.floats(0.75, 1.25), st.floats(10, 100))
def test_compressible_venturi_hardly_changes_the_rule(ratio: float, speed: float) -> None:
    """With the throat's isentropic depression instead of Bernoulli's the square-root rule holds within 0.3 %."""
    ambient, other = 101325.0, 101325.0 * ratio
    drops = [
        pressure - orifice.throat_pressure(upstream_pressure=pressure, upstream_temperature=288.15, speed=speed)
        for pressure in (ambient, other)
    ]
    exact = 13.0 * ratio / math.sqrt(drops[1] / drops[0])
    ours = carburettor.mixture_with_fixed_jets(air_fuel_ratio=13.0, jetting_density=1.0, air_density=ratio)
    assert ours == pytest.approx(exact, rel=3e-3)


@given(st.floats(7, 22), densities, densities)
def test_the_corrected_jet_keeps_the_mixture(afr: float, first: float, second: float) -> None:
    """Fuel goes with the jet's area: mixture of the old jet over area ratio is the old mixture again."""
    drifted = carburettor.mixture_with_fixed_jets(air_fuel_ratio=afr, jetting_density=first, air_density=second)
    area = carburettor.jet_area_ratio(jetting_density=first, air_density=second)
    assert drifted / area == pytest.approx(afr, rel=1e-9)


@given(jets, ratios)
def test_diameter_and_flow_mark_the_same_jet(diameter: float, ratio: float) -> None:
    """A flow number goes with the square of the diameter, so both ways end at the same hole."""
    by_diameter = carburettor.jet_by_diameter(jet_diameter=diameter, area_ratio=ratio, step=1e-9)
    by_flow = carburettor.jet_by_flow(jet_flow=(diameter * 1e5) ** 2, area_ratio=ratio, step=1e-6)
    assert by_flow.exact == pytest.approx((by_diameter.exact * 1e5) ** 2, rel=1e-9)


@given(jets, ratios, st.floats(0.005e-3, 0.1e-3))
def test_nearest_marked_size_is_within_half_a_step(diameter: float, ratio: float, step: float) -> None:
    """No other multiple of the step is nearer, and a smaller hole makes the mixture leaner."""
    jet = carburettor.jet_by_diameter(jet_diameter=diameter, area_ratio=ratio, step=step)
    assert abs(jet.nearest - jet.exact) <= step / 2 * (1 + 1e-9)
    assert round(jet.nearest / step) == pytest.approx(jet.nearest / step, abs=1e-6)
    assert (jet.mixture_change > 1) == (jet.nearest < jet.exact)


def test_of_two_jets_equally_near_the_richer_is_taken() -> None:
    """1.25 lies between 1.20 and 1.30: lean burns pistons, rich only soots."""
    jet = carburettor.jet_by_flow(jet_flow=125.0, area_ratio=1.0, sizes=(120.0, 130.0))
    assert jet.nearest == 130.0
    assert jet.mixture_change == pytest.approx(125 / 130)


@given(st.floats(1e-5, 1e-2), st.floats(500, 20e3))
def test_jet_diameter_passes_its_flow(flow: float, depression: float) -> None:
    """C A √(2 ρ Δp) through the diameter that comes out is the flow asked for."""
    diameter = carburettor.jet_diameter_from_flow(
        fuel_flow=flow, fuel_density=740.0, depression=depression, discharge_coefficient=0.7
    )
    passed = 0.7 * math.pi * (diameter / 2) ** 2 * math.sqrt(2 * 740.0 * depression)
    assert passed == pytest.approx(flow, rel=1e-9)


def test_break_in_mixture_is_rich() -> None:
    """12.5 … 13.5 of petrol (14.4) is λ 0.87 … 0.94 (handbook's band, division by hand)."""
    assert carburettor.excess_air_ratio(air_fuel_ratio=12.5, stoichiometric_ratio=14.4) == pytest.approx(0.868, abs=1e-3)
    assert carburettor.excess_air_ratio(air_fuel_ratio=13.5, stoichiometric_ratio=14.4) == pytest.approx(0.9375)


def test_impossible_fuels_and_jets_are_refused() -> None:
    """Carbon dioxide is no fuel, a jet below half a step is none, and sizes must be above zero."""
    with pytest.raises(OutsideValidity, match="needs no air"):
        carburettor.stoichiometric_ratio(hydrogen_per_carbon=0.0, oxygen_per_carbon=2.0)
    with pytest.raises(OutsideValidity, match="negative"):
        carburettor.stoichiometric_ratio(hydrogen_per_carbon=-1.0)
    with pytest.raises(OutsideValidity, match="half a step"):
        carburettor.jet_by_diameter(jet_diameter=0.2e-3, area_ratio=1.0, step=1e-3)
    with pytest.raises(OutsideValidity) as refusal:
        carburettor.jet_by_flow(jet_flow=130.0, area_ratio=1.0, sizes=(0.0, 120.0))
    assert refusal.value.field == "sizes"
    with pytest.raises(OutsideValidity) as refusal:
        carburettor.jet_by_flow(jet_flow=130.0, area_ratio=1.0)
    assert refusal.value.field == "step"
