"""The answer about valve lash: what the trade sets comes out, and why; findings at their edges; refusals."""

from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from service.answers.asking import ask
from service.answers.envelope import Answer
from service.answers.lash import TOPIC
from service.errors import MissingInput, NotInDataset
from service.quantities import Measure, shown, text_of
from service.reference.dataset import Dataset, Library
from tests.answers.reading import assumed, findings, si, unchecked
from tests.published.cases import published

approx = pytest.approx
MM = 1e-3
RULE = published("lash")["S19"]
FAMILY = "air-cooled-flat-four"
ALUMINIUM: dict[str, Any] = {"engine": FAMILY, "pushrod_material": "aluminium"}
STEEL: dict[str, Any] = {"engine": FAMILY, "pushrod_material": "steel"}


def answered(dataset: Dataset, document: dict[str, Any], **changed: Any) -> Answer:
    kept = {key: value for key, value in {**document, **changed}.items() if value is not None}
    answer = ask(TOPIC, kept, dataset).answer
    TOPIC.result.model_validate(shown(answer.result))
    return answer


def sure(leaf: Any) -> float:
    assert isinstance(leaf, Measure)
    assert leaf.uncertainty is not None
    return leaf.uncertainty


@pytest.mark.parametrize("version", ["2026.11", "2026.12"])
def test_facts_of_the_trade(library: Library, version: str) -> None:
    """Cold 0.006 in with aluminium push rods; zero with steel ones, "turns freely between the fingers, no play"."""
    dataset = library.get(version)
    aluminium, steel = answered(dataset, ALUMINIUM), answered(dataset, STEEL)
    for valve in ("intake", "exhaust"):
        assert si(aluminium.result["cold_lash"][valve]) == approx(0.006 * 25.4 * MM)
        assert text_of(aluminium.result["cold_lash"][valve]) == "0.15 mm (0.006 in)"
        assert si(steel.result["cold_lash"][valve]) == 0
    assert steel.result["setting"] == "turns freely between the fingers, no play"
    assert aluminium.result["method"] == steel.result["method"] == "look-up"


def test_both_figures_follow_from_the_model(dataset: Dataset) -> None:
    """By growth alone, 0.10 mm at the hot exhaust valve asks about 0.006 in with aluminium and less than none with steel.

    The model is good to 0.2 mm (2 σ), says so, and the look-up stands beside it; the reason gives the figures.
    """
    aluminium, steel = (answered(dataset, document).result for document in (ALUMINIUM, STEEL))
    modelled = aluminium["model"]["exhaust"]
    assert si(modelled["cold_lash"]) == approx(0.152 * MM, abs=0.02 * MM)
    assert sure(modelled["computed"]) == approx(0.2 * MM, abs=0.03 * MM)
    assert si(steel["model"]["exhaust"]["cold_lash"]) == 0
    assert si(steel["model"]["exhaust"]["computed"]) < 0
    assert "To leave 0.10 mm (0.004 in) hot it takes 0.16 mm (0.006 in) cold" in aluminium["reason"]
    assert "So even zero, cold, leaves 0.17 mm (0.007 in) hot" in steel["reason"]


def test_growth_of_each_part_by_hand(dataset: Dataset) -> None:
    """Case 85·26·70, barrel 130·11.4·140, head (120 + 100)·21.5·130, push rod 275·23.4·75 µm, and the exhaust valve.

    Sum: 154.7 + 207.5 + 614.9 − 44.1 − 482.6 − 202.4 − 304.5 = −56.5 µm.
    """
    answer = answered(dataset, ALUMINIUM)
    growth = {row["part"]: si(row["opens_exhaust"]) / 1e-6 for row in answer.result["growth"]}
    assert growth["case"] == approx(154.7)
    assert growth["barrel"] == approx(207.48)
    assert growth["head"] == approx(614.9)
    assert growth["push-rod"] == approx(-482.625)
    assert si(answer.result["hot_clearance_change"]["exhaust"]) == approx(-56.5e-6, abs=0.1e-6)
    assert si(answer.result["hot_clearance"]["exhaust"]) == approx((152.4 - 56.5) * 1e-6, abs=0.1e-6)
    assert answer.table == answer.result["growth"]


def test_swap_from_aluminium_to_steel(dataset: Dataset) -> None:
    """0.15 − 0.229 = −0.079 ± 0.064 mm: set zero; hot it is 0.079 mm wider than it was (by hand: 275·11.1e-6·75)."""
    answer = answered(dataset, {"reference_lash": "0.15 mm", "reference_material": "aluminium", "pushrod_material": "steel"})
    assert answer.result["method"] == "swap"
    assert si(answer.result["cold_lash"]["exhaust"]) == 0
    assert "no play" in answer.result["setting"]
    swap = answer.result["swap"]
    assert si(swap["difference"]) == approx(-0.2289 * MM, abs=1e-3 * MM)
    assert sure(swap["difference"]) == approx(0.064 * MM, abs=1e-3 * MM)
    assert si(swap["computed"]) == approx(-0.079 * MM, abs=1e-3 * MM)
    assert si(swap["hot_clearance_against_reference"]) == approx(0.079 * MM, abs=1e-3 * MM)
    assert {"engine", "rocker_ratio", "lengths"} <= assumed(answer)
    assert "Aluminium rods close the clearance by 0.229 mm (0.0090 in) more than steel ones would" in answer.result["reason"]


def test_swap_from_steel_to_aluminium_reads_the_other_way(dataset: Dataset) -> None:
    """Steel follows less than aluminium: 0.229 mm less, and no minus sign in the sentence."""
    answer = answered(dataset, {"reference_lash": "0 mm", "reference_material": "steel", "pushrod_material": "aluminium"})
    assert "Steel rods close the clearance by 0.229 mm (0.0090 in) less than aluminium ones would" in answer.result["reason"]


def test_the_hot_clearance_of_the_model_is_named(dataset: Dataset) -> None:
    """A looked-up lash is still shown beside what the model would set for 0.10 mm hot: supplied once, or sent."""
    question = {"engine": FAMILY, "pushrod_material": "aluminium"}
    answer = answered(dataset, question)
    assert si(answer.result["model"]["hot_clearance"]) == approx(0.10 * MM)
    assert [si(entry["value"]) for entry in answer.assumptions if entry["field"] == "hot_clearance"] == [approx(0.10 * MM)]
    assert "hot_clearance" not in assumed(answered(dataset, question, hot_clearance="0.12 mm"))


def test_swap_scales_with_rod_and_rocker(dataset: Dataset) -> None:
    """250 mm and 1.1 make the same 275 mm; a rod of 200 mm at 1.0 makes 0.1665 mm (by hand)."""
    base = {"reference_lash": "0.15 mm", "pushrod_material": "steel", "engine": FAMILY}
    same = answered(dataset, base, lengths={"push_rod": "250 mm"}, rocker_ratio=1.1)
    assert si(same.result["swap"]["difference"]) == approx(-0.22894 * MM, rel=1e-3)
    assert same.result["swap"]["reference_material"] == "aluminium"
    short = answered(dataset, base, lengths={"push_rod": "200 mm"}, rocker_ratio=1.0)
    assert si(short.result["swap"]["difference"]) == approx(-0.1665 * MM, rel=1e-3)
    back = answered(dataset, {**base, "pushrod_material": "aluminium", "reference_lash": "0 mm"})
    assert si(back.result["cold_lash"]["exhaust"]) == approx(0.2289 * MM, abs=1e-3 * MM)
    assert "A feeler of 0.23 mm (0.009 in)" in back.result["setting"]
    alike = answered(dataset, {**base, "reference_material": "steel", "reference_lash": "0.1 mm"})
    assert si(alike.result["cold_lash"]["intake"]) == approx(0.1 * MM)


def test_measured_parts_replace_the_family(dataset: Dataset) -> None:
    """Sent lengths, materials, temperatures and ratio are used: the exhaust asks what the growth by hand leaves.

    A head 10 K hotter opens the exhaust by (120 + 100)·21.5·10 = 47.3 µm; a magnesium barrel by 130·(26 − 11.4)·140.
    """
    plain = answered(dataset, {"pushrod_material": "aluminium", "lengths": {"push_rod": "275 mm"}, "rocker_ratio": 1.0})
    assert plain.result["method"] == "growth"
    assert si(plain.result["cold_lash"]["exhaust"]) == approx((100 + 56.5) * 1e-6, abs=0.1e-6)
    hotter = {"head": "160 degC", "seat_to_pivot": "160 degC"}
    base = {"pushrod_material": "aluminium", "lengths": {"push_rod": "275 mm"}, "rocker_ratio": 1.0}
    warm = answered(dataset, base, temperatures=hotter)
    opened = si(warm.result["hot_clearance_change"]["exhaust"]) - si(plain.result["hot_clearance_change"]["exhaust"])
    assert opened == approx(47.3e-6, abs=0.1e-6)
    light = answered(dataset, base, materials={"barrel": "magnesium-az91d"})
    opened = si(light.result["hot_clearance_change"]["exhaust"]) - si(plain.result["hot_clearance_change"]["exhaust"])
    assert opened == approx(130 * 14.6 * 140 * 1e-9, rel=1e-6)
    wide = answered(dataset, base, hot_clearance="0.20 mm")
    assert si(wide.result["cold_lash"]["exhaust"]) == approx((200 + 56.5) * 1e-6, abs=0.1e-6)
    assert "hot_clearance" in assumed(plain)


def test_one_valve(dataset: Dataset) -> None:
    """Asked about the intake, the answer speaks of the intake."""
    answer = answered(dataset, ALUMINIUM, valve="intake")
    assert list(answer.result["cold_lash"]) == ["intake"]
    assert list(answer.result["hot_clearance"]) == ["intake"]


def test_shop_rule_of_push_rod_engines(dataset: Dataset) -> None:
    """S19: cold lash of air-cooled push-rod engines by shop rule, labelled as common practice and within its band."""
    low, high = (float(end) * 25.4 * MM for end in RULE["expected"]["lash"]["value"].split("-"))
    answer = answered(dataset, {"engine": "air-cooled-single-500"})
    for valve in ("intake", "exhaust"):
        assert low <= si(answer.result["cold_lash"][valve]) <= high
    evidence = {entry["evidence"] for entry in answer.basis.values() if entry["id"].startswith("lash/")}
    assert evidence == {"common-practice"}
    assert "hot-clearance" in unchecked(answer)


def test_a_hot_figure_is_never_sold_as_a_cold_one(dataset: Dataset) -> None:
    """TM 10-3930-653-14&P gives 0.38 mm for the hot engine: no cold lash is answered."""
    answer = answered(dataset, {"engine": "tm-10-3930-653-14p"})
    assert "cold_lash" not in answer.result
    assert si(answer.result["hot_lash"]["intake"]) == approx(0.38 * MM)
    assert "cold-lash" in unchecked(answer)
    twin = answered(dataset, {"engine": "tm-5-4310-389-14"})
    assert si(twin.result["cold_lash"]["exhaust"]) == approx(0.15 * MM)


@pytest.mark.parametrize(
    ("document", "lash", "expected"),
    [
        # At 0.08 mm the model leaves 0.024 mm hot: the trade's limit is met, the computed one is not.
        (ALUMINIUM, "0.08 mm", {"hot-exhaust-clearance": "stop"}),
        (ALUMINIUM, "0.07 mm", {"alu-rod-zero-lash": "stop", "hot-exhaust-clearance": "stop"}),
        (ALUMINIUM, "0 mm", {"alu-rod-zero-lash": "stop", "hot-exhaust-clearance": "stop"}),
        (STEEL, "0.10 mm", {}),
        (STEEL, "0.11 mm", {"steel-rod-wide-lash": "caution"}),
        (STEEL, "0 mm", {}),
    ],
)
def test_findings_on_the_lash_that_was_set(
    dataset: Dataset, document: dict[str, Any], lash: str, expected: dict[str, str]
) -> None:
    """Aluminium rods need 0.08 mm at least, steel ones 0.10 mm at most; on the limit is within it."""
    assert findings(answered(dataset, document, cold_lash=lash)) == expected


def test_hot_exhaust_clearance_at_its_edge(dataset: Dataset) -> None:
    """−0.0565 mm of change: 0.0866 mm cold leaves 0.030 hot and passes, 0.0860 does not."""
    assert findings(answered(dataset, ALUMINIUM, cold_lash="0.0866 mm")) == {}
    assert findings(answered(dataset, ALUMINIUM, cold_lash="0.0860 mm")) == {"hot-exhaust-clearance": "stop"}
    assert findings(answered(dataset, ALUMINIUM, cold_lash="0.0860 mm", valve="intake")) == {}


def test_frost(dataset: Dataset) -> None:
    """Set at 20 °C to zero, steel rods: a start at −5 °C is silent, colder is cautioned; the valves lose 0.1 mm at −15."""
    assert "zero-lash-in-frost" in unchecked(answered(dataset, STEEL))
    assert findings(answered(dataset, STEEL, start_temperature="-5 degC")) == {}
    cold = answered(dataset, STEEL, start_temperature="-15 degC")
    assert findings(cold) == {"zero-lash-in-frost": "caution"}
    # (85·26 + 130·11.4 + 120·21.5 − 60·10.5 − 275·12.3) + 100·21.5 − 80·11.5 − 30·17.5 = 2964.5 nm/K, by hand.
    assert si(cold.result["frost"]["change_at_start"]["exhaust"]) == approx(-35 * 2.9645e-6, rel=1e-6)
    assert text_of(cold.result["frost"]["cold_lash_in_frost"]) == "0.05 mm (0.002 in)"
    assert findings(answered(dataset, STEEL, start_temperature="-15 degC", cold_lash="0.05 mm")) == {}
    assert findings(answered(dataset, STEEL, start_temperature="-15 degC", setting_temperature="5 degC")) == {}
    aluminium = answered(dataset, ALUMINIUM, start_temperature="-15 degC")
    assert findings(aluminium) == {}
    assert abs(si(aluminium.result["frost"]["change_at_start"]["exhaust"])) < 0.01 * MM


def test_lengths_that_do_not_close_are_asked_about(dataset: Dataset) -> None:
    """A push rod 16 mm longer than the rest of the chain allows is a slip of the tape; 15 mm is the slack."""
    base = {"pushrod_material": "aluminium"}
    assert "lengths-do-not-close" not in findings(answered(dataset, base, lengths={"push_rod": "290 mm"}))
    assert findings(answered(dataset, base, lengths={"push_rod": "291 mm"}))["lengths-do-not-close"] == "ask"


def test_what_is_missing_is_said(dataset: Dataset) -> None:
    """No engine, no rods, an unknown engine, an engine without lash, rods without a length: each refusal names its field."""
    with pytest.raises(MissingInput) as engine:
        answered(dataset, {"pushrod_material": "steel"})
    assert engine.value.field == "engine"
    with pytest.raises(MissingInput) as rods:
        answered(dataset, {"engine": FAMILY})
    assert rods.value.field == "pushrod_material"
    with pytest.raises(NotInDataset) as unknown:
        answered(dataset, {**STEEL, "engine": "air-cooled-flat-for"})
    assert unknown.value.nearest[0] == FAMILY
    with pytest.raises(MissingInput) as length:
        answered(
            dataset,
            {"engine": "air-cooled-single-500", "reference_lash": "0.15 mm", "pushrod_material": "steel"},
        )
    assert length.value.field == "lengths/push_rod"
    with pytest.raises(NotInDataset) as material:
        answered(dataset, {"pushrod_material": "steel", "lengths": {}, "materials": {"case": "cheese"}})
    assert material.value.field == "materials/case"


def test_an_engine_of_another_family_with_its_own_rod(dataset: Dataset) -> None:
    """A single whose parts are not held can still be answered from the length of its push rod."""
    answer = answered(
        dataset,
        {
            "engine": "air-cooled-single-500",
            "reference_lash": "0.15 mm",
            "pushrod_material": "steel",
            "lengths": {"push_rod": "200 mm"},
        },
    )
    assert si(answer.result["swap"]["difference"]) == approx(-0.1665 * MM, rel=1e-3)


@settings(max_examples=100, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    rod=st.floats(1, 500),
    head=st.floats(1, 500),
    warm=st.floats(-40, 900),
    ratio=st.floats(0.7, 2.2),
    material=st.sampled_from(["steel", "aluminium"]),
    reference=st.none() | st.floats(0, 1.5),
    start=st.floats(-60, 60),
    setting=st.floats(-60, 60),
)
def test_any_legal_question_is_answered_finitely(
    dataset: Dataset,
    rod: float,
    head: float,
    warm: float,
    ratio: float,
    material: str,
    reference: float | None,
    start: float,
    setting: float,
) -> None:
    """Over the whole legal range every figure is finite and the lash to set is never negative."""
    document: dict[str, Any] = {
        "pushrod_material": material,
        "lengths": {"push_rod": {"value": rod, "unit": "mm"}, "head": {"value": head, "unit": "mm"}},
        "temperatures": {"push_rod": {"value": warm, "unit": "degC"}},
        "rocker_ratio": ratio,
        "start_temperature": {"value": start, "unit": "degC"},
        "setting_temperature": {"value": setting, "unit": "degC"},
    }
    if reference is not None:
        document["reference_lash"] = {"value": reference, "unit": "mm"}
    answer = answered(dataset, document)
    assert si(answer.result["cold_lash"]["exhaust"]) >= 0
    text = str(shown(answer.result))
    assert "nan" not in text
    assert "inf" not in text


@pytest.mark.parametrize("given", [{}, STEEL, ALUMINIUM, {"reference_lash": "0.15 mm", "pushrod_material": "steel"}])
def test_hydraulic_tappets_have_preload_and_no_lash(given: dict[str, Any], dataset: Dataset) -> None:
    """Trade practice: play taken up to zero, then half to one turn; growth and push rods count for nothing."""
    answer = answered(dataset, {**given, "tappet": "hydraulic"})
    assert answer.result["method"] == "preload"
    assert answer.result["preload"] == {"turns_low": 0.5, "turns_high": 1.0}
    assert "take up the play to zero" in answer.result["setting"]
    assert "the maker's preload" in answer.result["setting"]
    assert not {"cold_lash", "hot_clearance", "growth", "swap", "frost"} & set(answer.result)
    assert findings(answer) == {}
    assert unchecked(answer) == {"preload-of-hydraulic-tappets": ["preload_turns"]}
    assert assumed(answer) == {"preload_turns"}


def test_the_makers_preload_comes_first(dataset: Dataset) -> None:
    """What the maker gives is told and nothing is assumed."""
    answer = answered(dataset, {"tappet": "hydraulic", "preload_turns": 0.75})
    assert answer.result["preload"] == {"turns_low": 0.75, "turns_high": 0.75}
    assert "0.75 turn" in answer.result["setting"]
    assert unchecked(answer) == {}
    assert assumed(answer) == set()


def test_solid_tappets_are_answered_as_before(dataset: Dataset) -> None:
    """Only hydraulic tappets are set by preload."""
    for tappet in ("flat", "mushroom", "roller"):
        assert answered(dataset, {**STEEL, "tappet": tappet}).result == answered(dataset, STEEL).result
