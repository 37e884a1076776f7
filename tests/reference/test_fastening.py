"""Threads, strengths and friction against geometry, standards' tables, printed torques and each other."""

from math import pi, sqrt
from typing import Any

import pytest

from service.reference.dataset import Dataset, Entity, Library
from tests.published.cases import published

CASES = published("torque")
CLASSES = ["4.6", "4.8", "5.6", "5.8", "6.8", "8.8", "9.8", "10.9", "12.9"]


def cases(kind: str) -> list[Any]:
    return [pytest.param(case, id=name) for name, case in CASES.items() if case["kind"] == kind]


def pitch(thread: Entity) -> float:
    return thread.si("pitch") if thread.has("pitch") else 0.0254 / thread.number("threads_per_inch")


def stress_area_by_geometry(thread: Entity) -> float:
    """ISO 68-1, ASME B1.1 and the Whitworth form, each in its own words."""
    d, p = thread.si("diameter"), pitch(thread)
    if thread.text("form") == "iso-metric":
        return pi / 4 * (((d - 0.649519 * p) + (d - 1.226869 * p)) / 2) ** 2
    if thread.text("form") == "unified":
        return 0.7854 * (d - 0.9743 * p) ** 2
    return pi / 4 * (((d - 0.640327 * p) + (d - 1.280654 * p)) / 2) ** 2


def half_of_the_last_digit(printed: str) -> float:
    return 0.5 / float(10 ** len(printed.partition(".")[2]))


def test_stress_areas_are_those_of_the_geometry(library: Library) -> None:
    """Every printed area against the formula of its thread form; two units of the last printed digit are allowed."""
    for version in library.versions:
        for thread in library.get(version).entities("threads"):
            fact = thread.fact("stress_area")
            scale = {"mm2": 1e-6, "in2": 0.0254 * 0.0254}[fact.unit]
            slack = max(4 * half_of_the_last_digit(fact.value) * scale, 0.004 * thread.si("stress_area"))
            assert thread.si("stress_area") == pytest.approx(stress_area_by_geometry(thread), abs=slack), thread.id


def test_pitch_and_minor_diameters_are_those_of_the_geometry(dataset: Dataset) -> None:
    """ISO 724: d2 = d - 0.6495 P, D1 = d - 1.0825 P, rounded to a micrometre."""
    checked = 0
    for thread in dataset.entities("threads"):
        if thread.has("pitch_diameter"):
            d, p = thread.si("diameter"), thread.si("pitch")
            assert thread.si("pitch_diameter") == pytest.approx(d - 0.649519 * p, abs=0.6e-6), thread.id
            assert thread.si("minor_diameter") == pytest.approx(d - 1.082532 * p, abs=0.6e-6), thread.id
            checked += 1
    assert checked >= 16


@pytest.mark.parametrize("case", cases("iso_thread"))
def test_metric_threads_are_those_of_the_iso_tables(dataset: Dataset, case: dict[str, Any]) -> None:
    """ISO 898-1 and ISO 724 as reprinted; the source of each case stands in the file."""
    d, p = (case["given"][name]["value"] / 1000 for name in ("d", "P"))
    thread = found_by_size(dataset, d, p)
    for symbol, name, scale in (("As", "stress_area", 1e-6), ("d2", "pitch_diameter", 1e-3), ("D1", "minor_diameter", 1e-3)):
        if symbol in case["expected"]:
            assert thread.si(name) == pytest.approx(case["expected"][symbol]["value"] * scale, rel=1e-9), case["source"]


@pytest.mark.parametrize("case", cases("un_area"))
def test_unified_threads_are_those_of_the_asme_tables(dataset: Dataset, case: dict[str, Any]) -> None:
    """ASME B1.1 as tabulated, to the printed digit."""
    thread = found_by_size(dataset, case["given"]["d"]["value"] * 0.0254, 0.0254 / case["given"]["tpi"]["value"])
    assert thread.fact("stress_area").unit == "in2"
    assert float(thread.text("stress_area")) == pytest.approx(case["expected"]["At"]["value"], abs=1e-4), case["source"]


def found_by_size(dataset: Dataset, diameter: float, wanted_pitch: float) -> Entity:
    found = [
        thread
        for thread in dataset.entities("threads")
        if thread.text("form") != "whitworth"
        and thread.si("diameter") == pytest.approx(diameter, abs=1e-6)
        and pitch(thread) == pytest.approx(wanted_pitch, rel=1e-6)
    ]
    assert len(found) == 1
    return found[0]


def test_an_id_says_what_its_row_says(dataset: Dataset) -> None:
    for thread in dataset.entities("threads"):
        if thread.id.startswith("M"):
            diameter, _, printed_pitch = thread.id[1:].partition("x")
            assert float(diameter) == float(thread.text("diameter"))
            assert float(printed_pitch) == float(thread.text("pitch"))
        else:
            size, _, rest = thread.id.partition("-")
            per_inch, series = rest.split(" ")
            assert per_inch == thread.text("threads_per_inch")
            number = {"4": "0.112", "5": "0.125", "6": "0.138", "8": "0.164", "10": "0.190", "12": "0.216"}
            assert number.get(size, size) == thread.text("diameter")
            forms = {"UNC": "unified", "UNF": "unified", "BSW": "whitworth", "BSF": "whitworth"}
            assert forms[series] == thread.text("form")


def test_numbered_sizes_follow_their_rule(dataset: Dataset) -> None:
    """ASME B1.1: the diameter of a numbered size is 0.060 in and 0.013 in for each number."""
    for thread in dataset.entities("threads"):
        size = thread.id.partition("-")[0]
        if thread.text("form") == "unified" and thread.text("diameter").startswith("0."):
            assert thread.si("diameter") == pytest.approx((0.060 + 0.013 * int(size)) * 0.0254, abs=1e-9), thread.id


def test_the_stress_area_grows_with_the_size(dataset: Dataset) -> None:
    for form, series in (
        ("iso-metric", "coarse"),
        ("unified", "coarse"),
        ("unified", "fine"),
        ("whitworth", "bsw"),
        ("whitworth", "bsf"),
    ):
        family = [t for t in dataset.entities("threads") if (t.text("form"), t.text("series")) == (form, series)]
        sizes = [t.si("diameter") for t in family]
        areas = [t.si("stress_area") for t in family]
        assert len(family) >= 6
        assert sizes == sorted(set(sizes)), series
        assert areas == sorted(set(areas)), series


def test_a_finer_thread_of_the_same_size_has_more_area(dataset: Dataset) -> None:
    threads = [t for t in dataset.entities("threads") if t.text("form") != "whitworth"]
    pairs = [(a, b) for a in threads for b in threads if a.text("diameter") == b.text("diameter") and pitch(a) < pitch(b)]
    assert len(pairs) > 30
    for fine, coarse in pairs:
        assert fine.si("stress_area") > coarse.si("stress_area"), (fine.id, coarse.id)


def test_a_head_bears_outside_its_hole(dataset: Dataset) -> None:
    """Hole over thread, head over hole: 1.3 to 2.1 thread diameters, as hexagon heads are made."""
    for thread in dataset.entities("threads"):
        if thread.has("head_bearing_diameter"):
            assert thread.si("diameter") < thread.si("hole_diameter") < thread.si("head_bearing_diameter"), thread.id
            assert 1.3 < thread.si("head_bearing_diameter") / thread.si("diameter") < 2.1, thread.id


@pytest.mark.parametrize("case", cases("load_from_stress"))
def test_proof_and_tensile_loads_are_area_times_stress(dataset: Dataset, case: dict[str, Any]) -> None:
    """The loads that ISO 898-1 prints, from the areas and the strengths of this dataset."""
    area, stress = case["given"]["As"]["value"] * 1e-6, case["given"]["stress"]["value"] * 1e6
    areas = {thread.si("stress_area") for thread in dataset.entities("threads")}
    assert any(area == pytest.approx(known, rel=1e-9) for known in areas), case["id"]
    strengths = {
        entity.si(name)
        for entity in dataset.entities("property-classes")
        for name in ("tensile_strength", "proof_stress")
        if entity.has(name)
    }
    assert any(stress == pytest.approx(known, rel=1e-9) for known in strengths), case["id"]
    printed = case["expected"]["load"]["value"]
    if case["status"] == "wrong-in-print":
        assert area * stress != pytest.approx(printed, rel=0.05)
        printed = case["correct"]["load"]["value"]
    assert area * stress == pytest.approx(printed, rel=0.006), case["why"]


@pytest.mark.parametrize("mark", CLASSES)
def test_the_mark_of_a_class_tells_its_strength(dataset: Dataset, mark: str) -> None:
    """ISO 898-1, clause 5: a hundredth of the nominal tensile strength, then ten times the ratio of yield to tensile."""
    entity = dataset.entity("property-classes", mark)
    hundreds, tenths = mark.split(".")
    nominal = int(hundreds) * 100e6
    assert nominal <= entity.si("tensile_strength") <= 1.051 * nominal
    assert entity.si("yield_strength") == pytest.approx(nominal * int(tenths) / 10, rel=0.067)


def test_proof_lies_under_yield_and_yield_under_tensile(library: Library) -> None:
    """ISO 898-1, Table 3, note: proof stress is 0.88 to 0.94 of the yield strength for its classes; SAE grades are near it."""
    for version in library.versions:
        for entity in library.get(version).entities("property-classes"):
            if entity.has("tensile_strength"):
                assert entity.si("yield_strength") < entity.si("tensile_strength"), entity.id
            if entity.has("tensile_strength") and entity.has("proof_stress"):
                low = 0.6 if entity.text("part") == "stud" else 0.87
                assert low < entity.si("proof_stress") / entity.si("yield_strength") < 0.97, entity.id


@pytest.mark.parametrize(
    ("grade", "case"), [("grade-2-over-3-4", "F71"), ("grade-5-over-1", "F73"), ("grade-8", "F74")], ids=lambda it: str(it)
)
def test_sae_grades_are_those_of_the_textbook_table(dataset: Dataset, grade: str, case: str) -> None:
    expected = CASES[case]["expected"]
    entity = dataset.entity("property-classes", grade)
    for name, key in (("proof_stress", "proof"), ("yield_strength", "yield"), ("tensile_strength", "tensile")):
        assert float(entity.text(name)) == expected[key]["value"] * 1000
        assert entity.fact(name).unit == "psi"


def test_the_soft_metric_figures_agree_with_the_printed_pounds(dataset: Dataset) -> None:
    """Two sources for one fact: whole megapascals from memory against pounds per square inch of a textbook, within 0.1 %."""
    for grade in ("grade-5", "grade-8"):
        entity = dataset.entity("property-classes", grade)
        for name in ("tensile_strength", "yield_strength", "proof_stress"):
            (other,) = entity.alternatives(name)
            assert other.si == pytest.approx(entity.si(name), rel=1.1e-3), (grade, name)


def test_size_variants_continue_their_class(dataset: Dataset) -> None:
    """A class that changes with size has no gap and no overlap: the variant begins where the one below ends."""
    entities = dataset.entities("property-classes")
    for variant in (entity for entity in entities if entity.has("base")):
        family = [
            it
            for it in entities
            if it.id == variant.text("base") or (it.has("base") and it.text("base") == variant.text("base"))
        ]
        ends = [it.si("diameter_up_to") for it in family if it.has("diameter_up_to")]
        assert variant.si("diameter_above") in [pytest.approx(end) for end in ends], variant.id


def test_the_nut_factor_follows_from_the_friction(library: Library) -> None:
    """The long form of VDI 2230 for M8x1.25 (d2 7.188 mm, ISO 4014 face 11.63 mm, ISO 273 hole 9 mm), two digits."""
    p, d2, face = 1.25, 7.188, (11.63 + 9) / 2
    for version in library.versions:
        for it in library.get(version).entities("conditions"):
            if it.has("nut_factor"):
                friction = it.number("friction")
                factor = (0.159 * p + 0.577 * d2 * friction + 0.5 * face * friction) / 8
                assert it.number("nut_factor") == pytest.approx(factor, abs=0.0071), it.id


def test_a_lubricant_lowers_the_friction(dataset: Dataset) -> None:
    def friction(name: str) -> float:
        return dataset.entity("conditions", name).number("friction")

    assert friction("moly-paste") < friction("engine-oil") < friction("dry")
    assert friction("zinc-oiled") < friction("zinc-dry")
    assert friction("stainless-paste") < friction("stainless-dry")


def test_friction_bands_lie_in_the_classes_of_the_guideline(dataset: Dataset) -> None:
    """VDI 2230, Table A5: class A 0.04-0.10, B 0.08-0.16, C 0.14-0.24, D 0.20-0.35, E from 0.30 (from memory)."""
    classes = [(0.04, 0.10), (0.08, 0.16), (0.14, 0.24), (0.20, 0.35), (0.30, 0.60)]
    for it in dataset.entities("conditions"):
        if it.has("friction"):
            nominal = it.number("friction")
            assert any(low <= nominal <= high for low, high in classes), it.id
            assert it.number("friction_low") < nominal < it.number("friction_high"), it.id


def test_printed_torques_follow_from_friction_and_class(dataset: Dataset) -> None:
    """VDI 2230 tables: preload at 90 % of yield and its torque from thread, class and friction, within their rounding."""
    checked = 0
    for row in dataset.entities("printed-torques"):
        if not row.has("friction"):
            continue
        thread, friction = dataset.entity("threads", row.text("thread")), row.number("friction")
        strength = dataset.entity("property-classes", row.text("property_class")).si("yield_strength")
        d, p = thread.si("diameter"), thread.si("pitch")
        d2, d0 = d - 0.649519 * p, d - 0.938194 * p
        twist = 1.5 * d2 / d0 * (p / (pi * d2) + 1.155 * friction)
        preload = 0.9 * strength * thread.si("stress_area") / sqrt(1 + 3 * twist * twist)
        face = (thread.si("head_bearing_diameter") + thread.si("hole_diameter")) / 2
        torque = preload * (0.159 * p + 0.577 * d2 * friction + face / 2 * friction)
        assert row.si("preload") == pytest.approx(preload, rel=0.012), row.id
        assert row.si("torque") == pytest.approx(torque, rel=0.025), row.id
        checked += 1
    assert checked == 10


def test_aviation_torques_imply_the_friction_of_oiled_threads(dataset: Dataset) -> None:
    """AC 43.13-1B, Table 7-1, at its 40,000 psi: nut factors of 0.12 to 0.20, save the row that is out of line in print."""
    for row in dataset.entities("printed-torques"):
        if not row.has("stress"):
            continue
        thread = dataset.entity("threads", row.text("thread"))
        load = row.si("stress") * thread.si("stress_area")
        low, high = (row.si(name) / (load * thread.si("diameter")) for name in ("torque_low", "torque_high"))
        if row.text("thread") == "7/16-20 UNF":
            assert 0.21 < low < high < 0.25
            assert "out of line" in row.fact("torque_low").note
        else:
            assert 0.11 < low < high < 0.20, row.id


def test_aviation_torques_are_those_of_the_table(dataset: Dataset) -> None:
    """AC 43.13-1B, Table 7-1, coarse and fine rows as read in a reprint."""
    rows = {row.text("thread"): row for row in dataset.entities("printed-torques") if row.id.startswith("ac-")}
    for thread, low, high in (
        ("1/4-28 UNF", 50, 70),
        ("3/8-24 UNF", 160, 190),
        ("1/4-20 UNC", 40, 50),
        ("3/8-16 UNC", 160, 185),
    ):
        assert (float(rows[thread].text("torque_low")), float(rows[thread].text("torque_high"))) == (low, high)


def test_wrench_limits_are_those_of_the_standard(dataset: Dataset) -> None:
    """ISO 6789, type II class A: 4 % above 10 N·m, 6 % up to it."""
    assert dataset.entity("wrench-classes", "type-ii-a-over-10").si("tolerance") == pytest.approx(0.04)
    assert dataset.entity("wrench-classes", "type-ii-a-up-to-10").si("tolerance") == pytest.approx(0.06)


def test_better_methods_scatter_less(dataset: Dataset) -> None:
    """NASA RP-1228 and NASA-STD-5020: impact tool, feel, wrench oiled, turn of nut, stretch, in falling order."""
    order = ["impact-tool", "by-feel", "torque-wrench-lubricated", "turn-of-nut", "torque-and-angle", "stretch-micrometer"]
    scatter = [dataset.entity("tightening-methods", name).si("scatter") for name in order]
    assert scatter == sorted(scatter, reverse=True)
    assert len(set(scatter)) == len(scatter)
