"""Clearance volume, compression ratio and what they need, against textbooks, closed forms and independent libraries."""

from collections.abc import Callable, Mapping
from math import pi
from typing import Any

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from service.calculations.compression import (
    ClearanceVolume,
    air_standard_efficiency,
    clearance_volume,
    compression_ratio,
    ratio_sensitivities,
    top_land_crevice,
)
from service.calculations.compression_solve import (
    chamber_volume_for_ratio,
    clearance_for_ratio,
    crown_volume_for_ratio,
    deck_clearance_for_ratio,
    gasket_thickness_for_ratio,
    spacer_thickness_for_ratio,
)
from service.calculations.cranking import cranking_pressure, polytropic_pressure
from service.calculations.displacement import bore_from_displacement, displacement
from service.calculations.piston_motion import piston_position
from service.errors import Contradiction, OutsideValidity
from tests.published.cases import agrees, published, si

approx = pytest.approx
CASES = published("compression")

bores = st.floats(0.02, 0.2)
strokes = st.floats(0.02, 0.25)
chambers = st.floats(5e-6, 300e-6)
decks = st.floats(-5e-3, 15e-3)
crowns = st.floats(-80e-6, 80e-6)
crevices = st.floats(0, 3e-6)
ratios = st.floats(4, 14)


def otto_cycle(given_: Mapping[str, Any]) -> dict[str, float]:
    ratio = compression_ratio(
        swept_volume=displacement(bore=si(given_["bore"]), stroke=si(given_["stroke"]), cylinders=1),
        clearance_volume=si(given_["clearance_volume"]),
    )
    gamma = si(given_["gamma"])
    return {
        "cr": ratio,
        "p2": polytropic_pressure(pressure=si(given_["p1"]), volume_ratio=ratio, exponent=gamma),
        "T2": si(given_["T1"]) * ratio ** (gamma - 1),
        "efficiency": air_standard_efficiency(compression_ratio=ratio, specific_heat_ratio=gamma),
    }


def ratio_from_two_pressures(given_: Mapping[str, Any]) -> dict[str, float]:
    """The clearance volume at which the polytrope passes through both pressures, by bisection."""
    swept = 1e-3
    low, high = 1e-6, 1e-2
    for _ in range(200):
        middle = (low + high) / 2
        volume = [middle + (1 - si(given_[at])) * swept for at in ("frac_a", "frac_b")]
        reached = polytropic_pressure(pressure=si(given_["p_a"]), volume_ratio=volume[0] / volume[1], exponent=si(given_["n"]))
        low, high = (middle, high) if reached > si(given_["p_b"]) else (low, middle)
    return {"cr": compression_ratio(swept_volume=swept, clearance_volume=low)}


def ideal_pressure(given_: Mapping[str, Any]) -> dict[str, float]:
    swept = displacement(bore=si(given_["bore"]), stroke=si(given_["stroke"]), cylinders=1)
    ratio = compression_ratio(swept_volume=swept, clearance_volume=si(given_["clearance_volume"]))
    gamma = si(given_["gamma"])
    efficiency = air_standard_efficiency(compression_ratio=ratio, specific_heat_ratio=gamma)
    return {"ideal_mep": si(given_["dp_combustion"]) * efficiency / ((gamma - 1) * (ratio - 1))}


def clearance(given_: Mapping[str, Any]) -> dict[str, float]:
    swept = displacement(bore=si(given_["bore"]), stroke=si(given_["stroke"]), cylinders=1)
    return {
        "clearance_volume": clearance_for_ratio(swept_volume=swept, target_ratio=si(given_["cr"])),
        "otto_efficiency": air_standard_efficiency(compression_ratio=si(given_["cr"]), specific_heat_ratio=si(given_["gamma"])),
    }


def ratio_of_clearance(given_: Mapping[str, Any]) -> dict[str, float]:
    swept = displacement(bore=si(given_["bore"]), stroke=si(given_["stroke"]), cylinders=1)
    return {"cr": compression_ratio(swept_volume=swept, clearance_volume=si(given_["clearance_volume"]))}


def efficiency_of_ratio(given_: Mapping[str, Any]) -> dict[str, float]:
    return {"efficiency": air_standard_efficiency(compression_ratio=si(given_["cr"]), specific_heat_ratio=si(given_["gamma"]))}


def square_six(given_: Mapping[str, Any]) -> dict[str, float]:
    """Bore = stroke, so the bore is the root of a cube: found by alternating the bore inverse, which converges."""
    volume, cylinders = si(given_["displacement"]), int(si(given_["cylinders"]))
    bore = 0.08
    for _ in range(200):
        bore = bore_from_displacement(displacement=volume, stroke=bore, cylinders=cylinders) ** (2 / 3) * bore ** (1 / 3)
    swept = displacement(bore=bore, stroke=bore, cylinders=1)
    room = clearance_for_ratio(swept_volume=swept, target_ratio=si(given_["cr"]))
    drop = piston_position(stroke=bore, rod_length=si(given_["rod"]), crank_angle=si(given_["theta"]))
    return {"bore": bore, "clearance_volume": room, "x": drop, "volume": room + swept / bore * drop}


def cranking_band(given_: Mapping[str, Any]) -> dict[str, float]:
    def at(exponent: float) -> float:
        return cranking_pressure(
            atmospheric_pressure=si(given_["p_atm"]),
            effective_ratio=si(given_["effective_cr"]),
            exponent=exponent,
            exponent_deviation=0.0,
            filling=1.0,
            filling_deviation=0.0,
        ).nominal

    return {"p_gauge_low": at(si(given_["n_low"])), "p_gauge_high": at(si(given_["n_high"]))}


def chamber_for_deck(given_: Mapping[str, Any]) -> dict[str, float]:
    bore, stroke, deck = si(given_["bore"]), si(given_["stroke"]), si(given_["deck"])
    swept = displacement(bore=bore, stroke=stroke, cylinders=1)
    chamber = chamber_volume_for_ratio(
        swept_volume=swept, target_ratio=si(given_["cr"]), other_volume=pi / 4 * bore * bore * deck
    )
    room = clearance_volume(bore=bore, chamber_volume=chamber, deck_clearance=deck).total
    per_metre = ratio_sensitivities(bore=bore, stroke=stroke, clearance_volume=room, height=deck).deck_clearance
    return {"chamber_volume": chamber, "dcr_per_0p1mm_deck": per_metre * 1e-4}


RUNNERS: dict[str, Callable[[Mapping[str, Any]], dict[str, float]]] = {
    "C02": otto_cycle,
    "C04": ratio_from_two_pressures,
    "C06": ideal_pressure,
    "C07": clearance,
    "C08": clearance,
    "C10": ratio_of_clearance,
    "C20": efficiency_of_ratio,
    "C22": efficiency_of_ratio,
    "C23": efficiency_of_ratio,
    "C25": efficiency_of_ratio,
    "C32": square_six,
    "C33": square_six,
    "C41": cranking_band,
    "C44": chamber_for_deck,
}


@pytest.mark.parametrize("identifier", sorted(CASES))
def test_published_cases(identifier: str) -> None:
    """Every published number that these formulas make comes out within the rounding of its source."""
    case = CASES[identifier]
    found = RUNNERS[identifier](case["given"])
    checked = found.keys() & case["expected"].keys()
    assert checked
    for name in checked:
        assert agrees(case, name, found[name]), f"{name}: {case['source']}"


def test_contributions_of_the_example_engine_by_hand() -> None:
    """86 mm bore: 52 cm³ chamber, 1.2 mm deck, a 0.5 mm ring of 88 mm bore, 1 mm spacer, 3 cm³ dish, 0.5 cm³ crevice.

    By hand: 58.088 cm² · 0.12 = 6.971, · 0.1 = 5.809; 60.821 cm² · 0.05 = 3.041 cm³.
    """
    parts = clearance_volume(
        bore=0.086,
        chamber_volume=52e-6,
        deck_clearance=1.2e-3,
        crown_volume=3e-6,
        gasket_bore=0.088,
        gasket_thickness=0.5e-3,
        spacer_thickness=1e-3,
        crevice_volume=0.5e-6,
    )
    assert [value * 1e6 for value in parts] == approx(
        [52, 6.971, 5.809, 3, 3.041, 0.5, 52 + 6.971 + 5.809 + 3 + 3.041 + 0.5], abs=6e-4
    )


@given(bore=bores, chamber=chambers, deck=decks, crown=crowns, crevice=crevices, spacer=st.floats(0, 12e-3))
def test_contributions_add_up_or_nothing_is_left(
    bore: float, chamber: float, deck: float, crown: float, crevice: float, spacer: float
) -> None:
    """Over the legal range the total is the sum of the parts, and a cylinder without room is refused, never answered."""
    room = chamber + pi / 4 * bore**2 * (deck + spacer) + crown + crevice
    assume(abs(room) > 1e-12)

    def parts() -> ClearanceVolume:
        return clearance_volume(
            bore=bore,
            chamber_volume=chamber,
            deck_clearance=deck,
            crown_volume=crown,
            spacer_thickness=spacer,
            crevice_volume=crevice,
        )

    if room < 0:
        with pytest.raises(Contradiction, match="no room above the piston"):
            parts()
    else:
        assert sum(parts()[:-1]) == approx(parts().total) == approx(room)


def test_a_proud_piston_displaces_with_its_top_land() -> None:
    """Above the barrel only the top land takes room: 0.5 mm of 85.5 mm is 2.871 cm³, of 86 mm 2.904 (by hand)."""
    proud = clearance_volume(bore=0.086, chamber_volume=60e-6, deck_clearance=-0.5e-3, top_land_diameter=0.0855)
    plain = clearance_volume(bore=0.086, chamber_volume=60e-6, deck_clearance=-0.5e-3)
    assert proud.deck == approx(-2.871e-6, abs=1e-9)
    assert plain.deck == approx(-2.904e-6, abs=1e-9)
    # A spacer of 1 mm brings the crown 0.5 mm below: the whole height then acts on the bore.
    lifted = clearance_volume(
        bore=0.086, chamber_volume=60e-6, deck_clearance=-0.5e-3, spacer_thickness=1e-3, top_land_diameter=0.0855
    )
    assert lifted.total == approx(60e-6 + pi / 4 * 0.086**2 * 0.5e-3)


def test_a_top_land_wider_than_the_bore_is_refused() -> None:
    """It would not enter the barrel."""
    with pytest.raises(Contradiction):
        clearance_volume(bore=0.086, chamber_volume=60e-6, deck_clearance=-1e-3, top_land_diameter=0.087)
    with pytest.raises(Contradiction):
        top_land_crevice(bore=0.086, top_land_diameter=0.0861, top_land_height=5e-3)


@given(swept=st.floats(6e-6, 8e-3), ratio=st.floats(1.01, 30))
def test_ratio_and_clearance_undo_each_other(swept: float, ratio: float) -> None:
    """V_s/(r − 1) is the inverse of 1 + V_s/V_c."""
    room = clearance_for_ratio(swept_volume=swept, target_ratio=ratio)
    assert compression_ratio(swept_volume=swept, clearance_volume=room) == approx(ratio, rel=1e-12)


@given(bore=bores, stroke=strokes, chamber=chambers, deck=st.floats(0, 5e-3), crevice=crevices, ratio=ratios)
def test_each_unknown_gives_the_ratio_it_was_solved_for(
    bore: float, stroke: float, chamber: float, deck: float, crevice: float, ratio: float
) -> None:
    """Put back, each solved part makes the ratio again (1e-9); where one cannot, the refusal says so in its own words."""
    swept = displacement(bore=bore, stroke=stroke, cylinders=1)
    area = pi / 4 * bore * bore

    def ratio_with(**changed: float) -> float:
        parts = {"chamber_volume": chamber, "deck_clearance": deck, "crevice_volume": crevice, "gasket_bore": bore + 2e-3}
        return compression_ratio(swept_volume=swept, clearance_volume=clearance_volume(bore=bore, **parts | changed).total)

    crown = crown_volume_for_ratio(swept_volume=swept, target_ratio=ratio, other_volume=chamber + area * deck + crevice)
    assert ratio_with(crown_volume=crown) == approx(ratio, rel=1e-9)
    height = deck_clearance_for_ratio(bore=bore, swept_volume=swept, target_ratio=ratio, other_volume=chamber + crevice)
    assert ratio_with(deck_clearance=height) == approx(ratio, rel=1e-9)
    wanted = swept / (ratio - 1)
    assume(min(abs(wanted - area * deck - crevice), abs(wanted - chamber - area * deck - crevice)) > 1e-11)

    def chamber_solved() -> float:
        return chamber_volume_for_ratio(swept_volume=swept, target_ratio=ratio, other_volume=area * deck + crevice)

    def spacer_solved() -> float:
        return spacer_thickness_for_ratio(
            bore=bore, swept_volume=swept, target_ratio=ratio, other_volume=chamber + crevice, deck_clearance=deck
        )

    def ring_solved() -> float:
        return gasket_thickness_for_ratio(
            gasket_bore=bore + 2e-3, swept_volume=swept, target_ratio=ratio, other_volume=chamber + area * deck + crevice
        )

    if wanted > area * deck + crevice:
        assert ratio_with(chamber_volume=chamber_solved()) == approx(ratio, rel=1e-9)
    else:
        with pytest.raises(OutsideValidity, match="No chamber gives this ratio"):
            chamber_solved()
    if wanted > chamber + area * deck + crevice:
        assert ratio_with(spacer_thickness=spacer_solved()) == approx(ratio, rel=1e-9)
        assert ratio_with(gasket_thickness=ring_solved()) == approx(ratio, rel=1e-9)
    else:
        with pytest.raises(OutsideValidity, match="A spacer cannot raise the ratio"):
            spacer_solved()
        with pytest.raises(OutsideValidity, match="cannot raise the ratio: leave it out"):
            ring_solved()


def test_a_spacer_that_would_be_negative_says_what_could_be_done() -> None:
    """From 8.13 up to 9:1 needs 53.005 cm³ of 59.471: 6.47 cm³ less chamber, or 1.11 mm of barrel (by hand)."""
    with pytest.raises(OutsideValidity) as refusal:
        spacer_thickness_for_ratio(
            bore=0.086, swept_volume=424.04e-6, target_ratio=9.0, other_volume=52.5e-6, deck_clearance=1.2e-3
        )
    assert refusal.value.reason == (
        "A spacer cannot raise the ratio: take 6.47 cm³ out of the chamber or 1.11 mm off the barrel."
    )


@pytest.mark.parametrize("ratio", [1.0, 0.0, -3.0, 0.999])
def test_no_ratio_is_one_or_less(ratio: float) -> None:
    """(swept + clearance)/clearance is above one by definition."""
    with pytest.raises(OutsideValidity, match="above 1"):
        clearance_for_ratio(swept_volume=424e-6, target_ratio=ratio)


def test_no_volume_no_ratio() -> None:
    """Zero clearance or zero sweep is no cylinder."""
    with pytest.raises(OutsideValidity):
        compression_ratio(swept_volume=424e-6, clearance_volume=0.0)
    with pytest.raises(OutsideValidity):
        compression_ratio(swept_volume=0.0, clearance_volume=50e-6)
    with pytest.raises(OutsideValidity):
        air_standard_efficiency(compression_ratio=1.0)


@given(bore=bores, chamber=st.floats(20e-6, 300e-6), deck=st.floats(0, 5e-3), more=st.floats(1e-6, 20e-6))
def test_more_room_is_less_ratio(bore: float, chamber: float, deck: float, more: float) -> None:
    """Every contribution lowers the ratio as it grows; a longer stroke raises it."""

    def ratio(stroke: float = 0.07, **parts: float) -> float:
        room = clearance_volume(bore=bore, chamber_volume=chamber, deck_clearance=deck, **parts).total
        return compression_ratio(swept_volume=displacement(bore=bore, stroke=stroke, cylinders=1), clearance_volume=room)

    base = ratio()
    assert ratio(crown_volume=more) < base
    assert ratio(crevice_volume=more) < base
    assert ratio(spacer_thickness=more * 100) < base
    assert ratio(gasket_thickness=more * 100) < base
    assert ratio(stroke=0.071) > base


@given(
    bore=st.floats(0.04, 0.13),
    stroke=st.floats(0.04, 0.13),
    chamber=st.floats(30e-6, 200e-6),
    deck=st.floats(-1e-3, 3e-3),
    ring=st.floats(0, 2e-3),
    own_bore=st.booleans(),
)
def test_sensitivities_are_the_slopes(
    bore: float, stroke: float, chamber: float, deck: float, ring: float, own_bore: bool
) -> None:
    """Central differences of the ratio as referee for every derivative."""
    values = {
        "bore": bore,
        "stroke": stroke,
        "chamber_volume": chamber,
        "deck_clearance": deck,
        "spacer_thickness": 2e-3,
        "crown_volume": 1e-6,
        "gasket_thickness": ring,
        "crevice_volume": 0.5e-6,
    }
    if own_bore:
        values["gasket_bore"] = bore + 2e-3

    def ratio(**changed: float) -> float:
        measured = {**values, **changed}
        throw = measured.pop("stroke")
        room = clearance_volume(**measured).total
        return compression_ratio(
            swept_volume=displacement(bore=measured["bore"], stroke=throw, cylinders=1), clearance_volume=room
        )

    slopes = ratio_sensitivities(
        bore=bore,
        stroke=stroke,
        clearance_volume=clearance_volume(**{k: v for k, v in values.items() if k != "stroke"}).total,
        height=deck + 2e-3,
        gasket_bore=values.get("gasket_bore"),
        gasket_thickness=ring,
    )
    for name, value in values.items():
        step = 1e-9 if "volume" in name else 1e-7
        slope = (ratio(**{name: value + step}) - ratio(**{name: value - step})) / (2 * step)
        assert getattr(slopes, name) == approx(slope, rel=1e-4, abs=1e-2), name


def test_top_land_in_the_sensitivities() -> None:
    """Where the piston stands proud, bore no longer moves the deck volume: only A·S/V_c and the ring follow it."""
    slopes = ratio_sensitivities(bore=0.086, stroke=0.073, clearance_volume=60e-6, height=-0.5e-3, top_land_diameter=0.0855)
    assert slopes.bore == approx(pi * 0.086 / 2 * 0.073 / 60e-6)
    assert slopes.deck_clearance / slopes.chamber_volume == approx(pi / 4 * 0.0855**2)


def test_the_gain_by_a_ratio_hardly_depends_on_the_gas() -> None:
    """By hand: from 7.6 to 8.13:1 air gives 0.5557 → 0.5675, hot gas of 1.3 gives 0.4558 → 0.4667: 1.2 % and 1.1 %."""
    cold = [air_standard_efficiency(compression_ratio=r) for r in (7.6, 8.13)]
    hot = [air_standard_efficiency(compression_ratio=r, specific_heat_ratio=1.3) for r in (7.6, 8.13)]
    assert cold == approx([0.5557, 0.5675], abs=1e-4)
    assert hot == approx([0.4558, 0.4667], abs=1e-4)
