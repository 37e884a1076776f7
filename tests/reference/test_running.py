"""Break-in, after-run, cautions, gauges and limits: whole, in order, and in keeping with their sources."""

from itertools import pairwise

import pytest

from service.reference.dataset import Dataset, Library


def test_flat_tappets_run_in_at_two_thousand_and_above(library: Library) -> None:
    """Common practice, no source: 2,000 rpm and above, 15 to 30 minutes, speed never held."""
    for version in library.versions:
        for it in library.get(version).entities("break-in-procedures"):
            if it.text("tappet") == "flat" and it.text("new_cam") == "yes" and it.id != "nitrided":
                assert float(it.text("floor")) == float(it.text("speed_low")) == 2000
                longest = it.fact("duration_high" if it.has("duration_high") else "duration")
                assert 15 <= float(it.text("duration")) <= float(longest.value) <= 30
                assert float(it.text("dwell_max")) <= 60


def test_both_habits_of_the_trade_are_held(dataset: Dataset) -> None:
    """2000 to 4000 rpm for 15 minutes, or a narrower band for 20 to 30: the wide one names what speaks against it."""
    wide = [it for it in dataset.entities("break-in-procedures") if it.text("habit") == "wide-band"]
    assert [(it.text("speed_low"), it.text("speed_high"), it.text("duration")) for it in wide] == [("2000", "4000", "15")]
    assert "3500" in wide[0].text("advice")


def test_bands_have_room_for_a_changing_speed(dataset: Dataset) -> None:
    for it in dataset.entities("break-in-procedures"):
        assert it.si("floor") <= it.si("speed_low") < it.si("speed_high"), it.id
        assert it.si("speed_high") - it.si("speed_low") > 60, it.id
        assert it.si("dwell_max") * 4 < it.si("duration"), it.id


def test_rollers_need_less_than_flats(dataset: Dataset) -> None:
    roller, flat = (dataset.entity("break-in-procedures", name) for name in ("roller", "flat-single-spring"))
    assert roller.si("floor") < flat.si("floor")
    assert roller.si("duration") < flat.si("duration")


@pytest.mark.parametrize(
    ("document", "minutes"),
    [("tm-5-3895-376-14p", [10, 10, 20, 2]), ("tm-9-2815-200-35", [10, 15, 15, 20, 20, 20, 30])],
)
def test_published_run_ins_are_as_printed(dataset: Dataset, document: str, minutes: list[int]) -> None:
    """The two government schedules, step by step."""
    steps = [it for it in dataset.entities("published-run-ins") if it.id.startswith(f"{document}/")]
    assert [int(it.text("duration")) for it in steps] == minutes
    assert [it.integer("order") for it in steps] == list(range(1, len(minutes) + 1))
    speeds = [it.si("speed") for it in steps if it.has("speed")]
    assert speeds == sorted(speeds)


def test_orders_count_from_one(library: Library) -> None:
    for table in ("after-run-tasks", "road-phases", "credit-rules"):
        orders = [it.integer("order") for it in library.newest.entities(table)]
        assert orders == list(range(1, len(orders) + 1)), table


def test_after_run_tasks_come_in_the_order_of_time_and_distance(dataset: Dataset) -> None:
    tasks = dataset.entities("after-run-tasks")
    times = [it.si("due_time") for it in tasks if it.has("due_time") and not it.has("due_distance")]
    distances = [it.si("due_distance") for it in tasks if it.has("due_distance")]
    assert times == sorted(times)
    assert distances == sorted(distances)
    assert {it.text("stage") for it in tasks} == {"while-warm", "hot-oil", "stone-cold", "before-the-road", "road"}


def test_road_phases_join(dataset: Dataset) -> None:
    phases = dataset.entities("road-phases")
    for one, two in pairwise(phases):
        assert one.si("distance_to") == two.si("distance_from")


def test_every_stage_has_its_cautions_in_order(library: Library) -> None:
    stages = {"choosing-parts", "cleaning", "machining", "assembly", "priming", "fuel", "first-fire", "running"}
    stages |= {"after-run", "hand-over"}
    for version in library.versions:
        cautions = library.get(version).entities("cautions")
        assert {it.text("stage") for it in cautions} == stages
        for stage in stages:
            orders = [it.integer("order") for it in cautions if it.text("stage") == stage]
            assert orders == list(range(1, len(orders) + 1)), stage
        assert all(it.text("text").endswith(".") for it in cautions)
        assert all(it.id.partition("/")[0] == it.text("stage") for it in cautions)


def test_cautions_defer_to_the_manual_and_name_the_worst(dataset: Dataset) -> None:
    texts = " ".join(it.text("text") for it in dataset.entities("cautions"))
    for word in ("maker's manual", "carbon monoxide", "asbestos", "Magnesium", "extinguisher", "kill switch", "licensed"):
        assert word in texts, word
    fire = dataset.entity("cautions", "machining/magnesium-fire")
    assert fire.fact("text").source == "to-1-1a-9"
    assert all(word in fire.text("text") for word in ("water", "foam", "carbon dioxide"))


def test_carbon_monoxide_limits_are_those_of_the_agencies(dataset: Dataset) -> None:
    """29 CFR 1910.1000: 50 ppm; NIOSH: 35 ppm, ceiling 200 ppm, immediately dangerous 1200 ppm."""
    printed = {it.id: it.fact("limit").printed for it in dataset.entities("safety-limits") if it.has("limit")}
    assert printed["carbon-monoxide-osha"] == "50 ppm"
    assert printed["carbon-monoxide-niosh"] == "35 ppm"
    assert printed["carbon-monoxide-ceiling"] == "200 ppm"
    assert printed["carbon-monoxide-idlh"] == "1200 ppm"


def test_cutting_speed_of_magnesium_is_150_to_215_metres_a_minute(dataset: Dataset) -> None:
    """T.O. 1-1A-9 gives 500 to 700 ft/min."""
    it = dataset.entity("safety-limits", "magnesium-cutting-speed")
    assert it.si("limit") * 60 == pytest.approx(152.4, abs=0.1)
    assert it.si("limit_high") * 60 == pytest.approx(213.4, abs=0.1)


def test_a_pressure_gauge_is_as_good_as_its_class(dataset: Dataset) -> None:
    """EN 837-1: class 1.6 of 10 bar full scale is 0.16 bar."""
    assert dataset.entity("gauges", "pressure-gauge").si("uncertainty") == pytest.approx(0.016 * 10e5)


def test_better_gauges_measure_better(dataset: Dataset) -> None:
    order = ["micrometer", "bore-gauge", "gauge-strip", "dial-gauge", "feeler", "depth-micrometer", "caliper"]
    found = [dataset.entity("gauges", name).si("uncertainty") for name in order]
    assert found == sorted(found)


def test_credit_is_lost_for_what_harms(dataset: Dataset) -> None:
    credit = {it.id: it.text("credit") for it in dataset.entities("credit-rules")}
    assert credit["counts"] == "counts"
    assert credit["below-floor"] == credit["gap"] == "does-not-count"
    assert credit["pressure-lost"] == "frozen"
    assert {credit[name] for name in ("second-stall", "too-hot-head", "too-hot-oil", "new-noise")} == {"stop"}


def test_limits_agree_between_tables(dataset: Dataset) -> None:
    """The head and oil limits that stop a run are those of the family; the oil limit is the 250 °F of TM 5-3895-376-14&P."""
    rule, family = dataset.entity("credit-rules", "too-hot-head"), dataset.entity("engines", "air-cooled-flat-four")
    assert rule.si("temperature_limit") == family.si("head_temperature_limit")
    oil = dataset.entity("oil-facts", "air-cooled-flat-four").si("temperature_limit")
    assert dataset.entity("credit-rules", "too-hot-oil").si("temperature_limit") == oil
    assert dataset.entity("oil-facts", "tm-5-3895-376-14p").si("temperature_limit") == pytest.approx(oil, abs=1.2)


def test_the_pressure_rule_agrees_with_the_government_test(dataset: Dataset) -> None:
    """10 psi a thousand revolutions gives 28.5 psi at 2850; the TM's least is 26 psi with hot oil."""
    rule = dataset.entity("oil-facts", "air-cooled-flat-four").si("pressure_per_1000_rpm")
    government = dataset.entity("oil-facts", "tm-5-3895-376-14p").si("pressure")
    assert rule * 2.85 == pytest.approx(government, rel=0.1)
