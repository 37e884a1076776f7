"""Engine families against geometry, their manuals, and the facts of the trade that the generic family must hold."""

from math import pi

import pytest

from service.reference.dataset import Dataset, Entity, Library

FLAT_FOUR = "air-cooled-flat-four"


def swept(engine: Entity) -> float:
    return pi / 4 * engine.si("bore") * engine.si("bore") * engine.si("stroke") * engine.integer("cylinders")


def test_displacements_are_those_of_bore_and_stroke(library: Library) -> None:
    """Every printed displacement within 0.4 % of π/4·B²·S·n: names of sizes are rounded, not invented."""
    checked = 0
    for version in library.versions:
        for engine in library.get(version).entities("engines"):
            if engine.has("displacement"):
                assert engine.si("displacement") == pytest.approx(swept(engine), rel=0.004), engine.id
                checked += 1
    assert checked > 40


def test_there_are_engines_to_choose_from(dataset: Dataset) -> None:
    """At least ten families, of which five or more come from government documents, named by their number."""
    engines = dataset.entities("engines")
    families = {engine.id for engine in engines if not engine.has("family")}
    documented = {it for it in families if it.startswith(("tm-", "tcds-"))}
    assert len(families) >= 20
    assert len(documented) >= 10
    steps = [it for it in engines if it.has("family") and it.text("family") == FLAT_FOUR]
    assert len(steps) >= 12
    assert {(it.text("bore"), it.text("stroke")) for it in steps} >= {("77", "64"), ("77", "69"), ("83", "69"), ("85.5", "69")}


def test_the_printed_sizes_of_government_engines(dataset: Dataset) -> None:
    """TM 5-4310-389-14: two of 100 x 120 mm make 1885 cm³, ratio 17. TM 5-4930-227-14: 2 7/8 x 2 3/4 in make 17.8 in³."""
    twin, single = dataset.entity("engines", "tm-5-4310-389-14"), dataset.entity("engines", "tm-5-4930-227-14")
    assert (twin.text("displacement"), twin.text("compression_ratio")) == ("1885", "17")
    assert single.fact("displacement").printed == "17.8 in3"
    assert swept(single) == pytest.approx(292.5e-6, rel=0.001)


def test_the_valve_timing_card_adds_up(dataset: Dataset) -> None:
    """TM 5-4310-389-14: 32.5 + 180 + 60.5 = 273 deg intake, 70.5 + 180 + 32.5 = 283 deg exhaust, 65 deg overlap."""
    card = dataset.entity("engines", "tm-5-4310-389-14")
    opens, closes = float(card.text("intake_opens")), float(card.text("intake_closes"))
    assert opens + 180 + closes == 273
    assert float(card.text("exhaust_opens")) + 180 + float(card.text("exhaust_closes")) == 283
    assert opens + float(card.text("exhaust_closes")) == 65


def test_bmep_of_rated_powers_is_that_of_such_engines(dataset: Dataset) -> None:
    """A four-stroke petrol engine without a blower makes 4 to 10.5 bar at its rating (Heywood, ch. 2: 8.5 to 10.5 at best)."""
    checked = 0
    for engine in dataset.entities("engines"):
        if engine.has("rated_power") and engine.has("displacement") and engine.text("cycle") == "petrol":
            bmep = engine.si("rated_power") * 4 * pi / (engine.si("displacement") * engine.si("rated_speed"))
            assert 3.9e5 < bmep < 1.05e6, engine.id
            checked += 1
    assert checked >= 7


def test_a_firing_order_names_every_cylinder_once(dataset: Dataset) -> None:
    for engine in dataset.entities("engines"):
        if engine.has("firing_order"):
            order = [int(part) for part in engine.text("firing_order").split("-")]
            assert sorted(order) == list(range(1, engine.integer("cylinders") + 1)), engine.id


def test_rods_are_longer_than_the_throw(dataset: Dataset) -> None:
    for engine in dataset.entities("engines"):
        if engine.has("rod_length") and engine.has("stroke"):
            assert 1.4 < engine.si("rod_length") / engine.si("stroke") < 2.4, engine.id


def test_rocker_shaft_nuts_at_fourteen_foot_pounds(library: Library) -> None:
    """Common practice, no source."""
    for version in library.versions:
        nut = library.get(version).of_engine("fasteners", FLAT_FOUR, "rocker-shaft-nut")
        assert nut.fact("torque").printed == "14 lbf*ft"
        assert nut.fact("torque").evidence == "common-practice"
        assert nut.si("torque") == pytest.approx(14 * 1.3558179483, rel=1e-9)


def test_lash_of_aluminium_and_of_steel_rods(library: Library) -> None:
    """Common practice, no source: 0.006 in with aluminium; nothing with steel, which turns freely between the fingers."""
    for version in library.versions:
        aluminium, steel = (library.get(version).entity("lash", f"{FLAT_FOUR}/{rod}") for rod in ("aluminium", "steel"))
        for valve in ("intake", "exhaust"):
            assert aluminium.fact(valve).printed == "0.006 in"
            assert steel.si(valve) == 0
        assert "turns freely between the fingers, no play" in steel.text("setting")
        assert {aluminium.text("rod_material"), steel.text("rod_material")} == {"aluminium-7075", "steel-4140"}


def test_the_sump_holds_two_and_a_half_litres(library: Library) -> None:
    """Common practice, no source: about 2.65 US quarts before external lines and filter."""
    for version in library.versions:
        sump = library.get(version).entity("oil-facts", FLAT_FOUR)
        assert sump.fact("sump").printed == "2.65 qt"
        assert sump.si("sump") == pytest.approx(2.5e-3, rel=0.01)
    (litres,) = library.newest.entity("oil-facts", FLAT_FOUR).alternatives("sump")
    assert litres.printed == "2.5 L"


def test_total_advance_near_thirty_degrees_at_three_thousand(library: Library) -> None:
    """Common practice, no source."""
    for version in library.versions:
        facts = library.get(version).entity("ignition", FLAT_FOUR)
        assert facts.fact("total_advance").printed == "30 deg"
        assert facts.fact("advance_speed").printed == "3000 rpm"
        assert facts.si("total_advance_limit") > facts.si("total_advance")


def test_the_family_has_the_fasteners_that_callers_rely_on(library: Library) -> None:
    names = "case-main-stud case-perimeter-nut cylinder-head-nut rod-nut rocker-shaft-nut flywheel-nut drain-plug spark-plug"
    names += " strainer-cover-nut oil-pump-cover-nut exhaust-flange-nut carburettor-flange-nut generator-pulley-nut"
    for version in library.versions:
        for engine in (FLAT_FOUR, "harrow-r17"):
            assert set(names.split()) <= set(library.get(version).names_of_engine("fasteners", engine))


def test_listed_torques_leave_the_fastener_below_its_proof_load(dataset: Dataset) -> None:
    """T = K·F·d with the nut factor of the listed condition: no listed torque takes the fastener to its proof stress."""
    checked = 0
    for it in dataset.entities("fasteners"):
        if it.has("property_class") and it.has("thread"):
            thread = dataset.entity("threads", it.text("thread"))
            factor = dataset.entity("conditions", it.text("condition")).number("nut_factor")
            torque = it.si("torque_high") if it.has("torque_high") else it.si("torque")
            stress = torque / (factor * thread.si("diameter")) / thread.si("stress_area")
            proof = dataset.entity("property-classes", it.text("property_class")).si("proof_stress")
            assert 0.15 < stress / proof < 1.0, it.id
            checked += 1
    assert checked >= 20


def test_stages_rise_to_the_full_torque(dataset: Dataset) -> None:
    for it in dataset.entities("fasteners"):
        if it.has("stage_1"):
            assert it.si("stage_1") < it.si("stage_2") < it.si("torque"), it.id
        for end in ("torque_high", "torque_limit"):
            assert not it.has(end) or it.si(end) > it.si("torque"), it.id


def test_wear_limits_lie_outside_the_fits(dataset: Dataset) -> None:
    for fit in dataset.entities("fits"):
        if fit.has("wear_limit"):
            assert fit.si("wear_limit") >= fit.si("high"), fit.id


def test_bearings_have_the_clearance_of_the_trade(dataset: Dataset) -> None:
    """The usual rule, a thousandth of the journal's diameter: 55 mm mains 0.04 to 0.10 mm hold it."""
    fit = dataset.of_engine("fits", FLAT_FOUR, "main-clearance")
    assert fit.si("low") < 0.055 / 1000 < fit.si("high")


def test_ring_gaps_hold_the_rule_for_their_bore(dataset: Dataset) -> None:
    """Four thousandths of the bore, shop practice: 77 to 94 mm bores ask for 0.31 to 0.38 mm."""
    fit = dataset.of_engine("fits", FLAT_FOUR, "ring-gap-top")
    assert fit.si("low") < 0.004 * 0.077 < 0.004 * 0.094 < fit.si("high")


@pytest.mark.parametrize("engine", [FLAT_FOUR, "harrow-r17"])
def test_the_valve_train_closes(dataset: Dataset, engine: str) -> None:
    """From the camshaft up through case, barrel and head is as far as through base circle, tappet and push rod."""
    parts = [it for it in dataset.entities("valve-train-parts") if it.id.startswith(f"{engine}/")]
    support, drive = (sum(it.si("length") for it in parts if it.text("side") == side) for side in ("support", "drive"))
    assert support == pytest.approx(drive, abs=1e-9)
    valves = [sum(it.si("length") for it in parts if it.text("side") == f"{v}-valve") for v in ("intake", "exhaust")]
    assert valves[0] == pytest.approx(valves[1], abs=1e-9)


def test_the_invented_engine_is_the_one_of_the_handbook_of_the_demonstration(dataset: Dataset) -> None:
    """86.0 x 73.0 mm, four cylinders: 1696.2 cm³ by hand."""
    engine = dataset.entity("engines", "harrow-r17")
    assert swept(engine) * 1e6 == pytest.approx(1696.2, abs=0.05)
    assert engine.si("rod_length") == pytest.approx(0.136)
    assert engine.fact("bore").evidence == "invented"
