"""The clearance topic: decisions, limits from the dataset, heat, and every finding just inside and outside its limit."""

from math import pi
from typing import Any

import pytest

from service.answers.asking import ask
from service.answers.clearance import TOPIC
from service.answers.clearance_rules import chance
from service.answers.envelope import Answer
from service.errors import Contradiction, MissingInput, NotInDataset, OutsideValidity
from service.reference.dataset import Dataset
from tests.answers.reading import findings, unchecked

FAMILY = "air-cooled-flat-four"
HOT = {"inner_material": "steel-1040", "outer_temperature": "90 degC", "inner_temperature": "90 degC"}


def answered(dataset: Dataset, **question: Any) -> Answer:
    return ask(TOPIC, question, dataset).answer


def test_a_reading_near_its_limit(dataset: Dataset) -> None:
    """0.149 mm in 0.06 to 0.15, U 0.010: undecided, P = Φ(0.2) = 0.5793 of a printed normal table; guard 0.00825 by hand."""
    answer = answered(dataset, measured="0.149 mm", uncertainty="0.010 mm", low="0.06 mm", high="0.15 mm").result
    assert answer["decision"] == "undecided"
    assert answer["conformance_probability"] == pytest.approx(0.5793, abs=5e-5)
    assert answer["guard_band"].si == pytest.approx(8.25e-6)
    assert answer["margin_low"].si == pytest.approx(0.089e-3)
    assert answer["margin_high"].si == pytest.approx(0.001e-3)
    assert answer["measured"].uncertainty == pytest.approx(0.010e-3)


@pytest.mark.parametrize(
    ("fit", "low", "high"),
    [
        ("crank-end-play", 0.07, 0.13),
        ("main-clearance", 0.04, 0.10),
        ("rod-clearance", 0.02, 0.07),
        ("rod-side-clearance", 0.10, 0.40),
        ("piston-clearance", 0.04, 0.06),
        ("ring-gap-top", 0.30, 0.45),
    ],
)
def test_limits_of_the_family(dataset: Dataset, fit: str, low: float, high: float) -> None:
    """Common practice, no source: the fits of the generic flat four; the middle is accepted with a fine gauge."""
    answer = answered(
        dataset, engine=FAMILY, fit=fit, measured={"value": (low + high) / 2, "unit": "mm"}, uncertainty="0.001 mm"
    )
    assert (answer.result["low"].si, answer.result["high"].si) == pytest.approx((low * 1e-3, high * 1e-3))
    assert answer.result["decision"] == "accept"
    assert answer.basis[("fact", f"fits/{FAMILY}/{fit}/low")]["evidence"] == "common-practice"


def test_the_callers_limits_stand_before_the_familys(dataset: Dataset) -> None:
    """A maker's own limit is used, and the family's are left aside."""
    answer = answered(
        dataset, engine=FAMILY, fit="crank-end-play", measured="0.20 mm", uncertainty="0.010 mm", high="0.25 mm"
    ).result
    assert "low" not in answer
    assert answer["high"].si == pytest.approx(0.25e-3)
    assert answer["decision"] == "accept"
    assert answer["wear"]["decision"] == "reject"


@pytest.mark.parametrize(
    ("measured", "limit", "verdict", "words"),
    [
        ("0.170 mm", {"high": "0.150 mm"}, "clearance-out", "0.170 mm (0.0067 in) is out, at most 0.150 mm"),
        ("0.050 mm", {"low": "0.070 mm"}, "clearance-out", "0.050 mm (0.0020 in) is out, at least 0.070 mm"),
        ("0.151 mm", {"high": "0.150 mm"}, "clearance-undecided", "was read, but at most 0.150 mm"),
        ("0.071 mm", {"low": "0.070 mm"}, "clearance-undecided", "was read, but at least 0.070 mm"),
        ("0.170 mm", {"low": "0.060 mm", "high": "0.150 mm"}, "clearance-out", "is out, 0.060 mm (0.0024 in) to 0.150 mm"),
    ],
)
def test_a_limit_to_one_side_is_said_as_one(
    dataset: Dataset, measured: str, limit: dict[str, str], verdict: str, words: str
) -> None:
    """One limit is "at most" or "at least", never a width of one figure."""
    answer = answered(dataset, measured=measured, uncertainty="0.010 mm", **limit)
    assert words in {finding.rule.code: finding.message for finding in answer.findings}[verdict]


@pytest.mark.parametrize(
    ("measured", "uncertainty", "words"),
    [
        # U = 0.010 mm is two standard uncertainties: four of them beyond the limit is Φ(−4) = 3e-5.
        ("0.170 mm", "0.010 mm", "with a probability below 1 %"),
        ("0.154 mm", "0.010 mm", "with a probability of 21 %"),
    ],
)
def test_no_probability_is_called_nothing(dataset: Dataset, measured: str, uncertainty: str, words: str) -> None:
    """A chance of 3e-5 is not 0 %; one of Φ(−0.8) = 0.212 is 21 % (printed normal table)."""
    answer = answered(dataset, measured=measured, uncertainty=uncertainty, high="0.150 mm")
    assert words in answer.findings[0].message


def test_a_reading_that_is_nearly_sure_is_above_99_percent(dataset: Dataset) -> None:
    """A chance of 0.9927 or 0.99997 is not called certain; between 1 and 99 % it is said in whole percent."""
    assert [chance(probability) for probability in (0.9927, 0.99997)] == ["above 99 %"] * 2
    assert [chance(probability) for probability in (0.5793, 0.01, 0.99)] == ["of 58 %", "of 1 %", "of 99 %"]


def test_the_material_of_a_journal_is_supplied_once(dataset: Dataset) -> None:
    """A main bearing measured warm: steel for the journal, named once; a ring's iron is not called a journal."""
    warm = {"uncertainty": "0.01 mm", "engine": FAMILY, "part_temperature": "22 degC", "gauge_temperature": "20 degC"}
    main = answered(dataset, fit="main-clearance", measured="0.055 mm", diameter="55 mm", **warm)
    assert [e["value"] for e in main.assumptions if e["field"] == "inner_material"] == ["steel-1040"]
    ring = answered(dataset, fit="ring-gap-top", measured="0.38 mm", bore="86 mm", diameter="86 mm", **warm)
    assert [e["value"] for e in ring.assumptions if e["field"] == "inner_material"] == ["grey-iron"]


def test_only_the_missing_temperature_is_asked_for(dataset: Dataset) -> None:
    """Part or gauge: the one that was sent is not asked for again."""
    reading = {"measured": "0.055 mm", "uncertainty": "0.01 mm", "low": "0.04 mm"}
    for sent, missing in (("part_temperature", "gauge_temperature"), ("gauge_temperature", "part_temperature")):
        answer = answered(dataset, **reading, **{sent: "22 degC"})
        assert unchecked(answer)["temperatures-differ"] == [missing]


def test_gauge_gives_the_uncertainty_and_says_so(dataset: Dataset) -> None:
    """Feeler blades stand for 0.02 mm, and the answer declares it as assumed."""
    answer = answered(dataset, measured="0.38 mm", gauge="feeler", low="0.30 mm")
    assert answer.result["measured"].uncertainty == pytest.approx(0.02e-3)
    assert [entry["field"] for entry in answer.assumptions] == ["uncertainty"]


class TestFindings:
    """Every rule of the topic: raised, and not raised just inside its limit."""

    def test_end_play_out(self, dataset: Dataset) -> None:
        """Limits 0.07 to 0.13, U 0.010: 0.13 and 0.121 are not proved, 0.131 and 0.139 are out, 0.10 is good."""
        play = {"engine": FAMILY, "fit": "crank-end-play", "uncertainty": "0.010 mm"}
        assert findings(answered(dataset, **play, measured="0.139 mm")) == {"end-play-out": "stop"}
        assert findings(answered(dataset, **play, measured="0.131 mm")) == {
            "end-play-out": "stop",
            "clearance-undecided": "ask",
        }
        assert findings(answered(dataset, **play, measured="0.129 mm")) == {"clearance-undecided": "ask"}
        assert findings(answered(dataset, **play, measured="0.06 mm")) == {"end-play-out": "stop"}
        assert findings(answered(dataset, **play, measured="0.10 mm")) == {}

    def test_clearance_out(self, dataset: Dataset) -> None:
        """Any other fit that is proved out is to be corrected; within its guard band it is asked about."""
        fit = {"uncertainty": "0.010 mm", "low": "0.02 mm", "high": "0.07 mm"}
        assert findings(answered(dataset, **fit, measured="0.079 mm")) == {"clearance-out": "fix"}
        assert findings(answered(dataset, **fit, measured="0.078 mm")) == {"clearance-undecided": "ask"}
        assert findings(answered(dataset, **fit, measured="0.061 mm")) == {}

    def test_gauge_not_capable(self, dataset: Dataset) -> None:
        """Two-sided 95 % needs a tolerance of 1.96 U (normal table): U 0.030 serves 0.06 mm, U 0.031 does not."""
        band = {"low": "0.07 mm", "high": "0.13 mm", "measured": "0.10 mm"}
        assert "gauge-not-capable" not in findings(answered(dataset, **band, uncertainty="0.030 mm"))
        assert findings(answered(dataset, **band, uncertainty="0.031 mm"))["gauge-not-capable"] == "ask"
        answer = answered(dataset, **band, uncertainty="0.031 mm").result
        assert answer["decision"] == "undecided"
        assert "accept_low" not in answer
        assert answer["capable_uncertainty"].si == pytest.approx(0.06e-3 / 1.96, rel=1e-4)

    def test_main_clearance_hot(self, dataset: Dataset) -> None:
        """By hand with case 90 °C and journal 100 °C: 55 · (26·70 − 11.3·80)e-6 = 0.0504 mm more; 0.12 is the limit."""
        main = {"engine": FAMILY, "fit": "main-clearance", "uncertainty": "0.004 mm", "diameter": "55 mm"}
        growth = 55 * (26.0e-6 * 70 - 11.3e-6 * 80)
        assert answered(dataset, **main, measured="0.060 mm").result["hot_clearance"].si == pytest.approx(
            (0.060 + growth) * 1e-3, rel=2e-3
        )
        over, under = ({"value": 0.12 - growth + change, "unit": "mm"} for change in (0.001, -0.001))
        assert findings(answered(dataset, **main, measured=over)) == {"main-clearance-hot": "caution"}
        assert findings(answered(dataset, **main, measured=under)) == {}

    def test_an_aluminium_case_grows_less_and_is_not_warned_of(self, dataset: Dataset) -> None:
        """The rule is for magnesium; the figure is still given."""
        main = {"engine": FAMILY, "fit": "main-clearance", "uncertainty": "0.004 mm", "diameter": "55 mm"}
        request = {**main, "measured": "0.085 mm", "outer_material": "aluminium-356"}
        assert "main-clearance-hot" not in findings(answered(dataset, **request))
        assert answered(dataset, **request).result["hot_clearance"].si < 0.12e-3

    def test_rod_side_small(self, dataset: Dataset) -> None:
        """Below 0.10 mm no oil leaves the rod."""
        side = {"engine": FAMILY, "fit": "rod-side-clearance", "uncertainty": "0.004 mm"}
        assert findings(answered(dataset, **side, measured="0.099 mm"))["rod-side-small"] == "stop"
        assert "rod-side-small" not in findings(answered(dataset, **side, measured="0.10 mm"))

    def test_ring_gap_small(self, dataset: Dataset) -> None:
        """86 mm: 0.0035 B is 0.301 mm, heat needs π·86·11.4e-6·(220 − 140) + 0.05 = 0.296 mm by hand."""
        ring = {"engine": FAMILY, "fit": "ring-gap-top", "uncertainty": "0.004 mm", "bore": "86 mm"}
        assert findings(answered(dataset, **ring, measured="0.300 mm"))["ring-gap-small"] == "stop"
        assert "ring-gap-small" not in findings(answered(dataset, **ring, measured="0.302 mm"))
        minimum = answered(dataset, **ring, measured="0.35 mm").result["ring_gap"]["minimum"].si
        assert minimum * 1e3 == pytest.approx(pi * 86 * 11.4e-6 * 80 + 0.05, rel=1e-3)

    def test_a_hotter_ring_needs_more(self, dataset: Dataset) -> None:
        """At 300 °C the thermal minimum rules: π·86·11.4e-6·140 + 0.05 = 0.481 mm by hand."""
        ring = {"fit": "ring-gap-top", "low": "0.2 mm", "uncertainty": "0.004 mm", "bore": "86 mm"}
        hot = {**ring, "inner_temperature": "300 degC"}
        assert findings(answered(dataset, **hot, measured="0.45 mm"))["ring-gap-small"] == "stop"
        assert "ring-gap-small" not in findings(answered(dataset, **hot, measured="0.49 mm"))

    def test_oil_rings_follow_their_own_limits(self, dataset: Dataset) -> None:
        """An oil ring of 0.27 mm is within 0.25 to 0.40 mm, though below the rule for compression rings."""
        ring = {"engine": FAMILY, "fit": "ring-gap-oil", "uncertainty": "0.004 mm", "bore": "86 mm"}
        assert findings(answered(dataset, **ring, measured="0.27 mm")) == {}

    def test_piston_fit_tight(self, dataset: Dataset) -> None:
        """The maker's minimum rules, whatever the family's band says."""
        piston = {"engine": FAMILY, "fit": "piston-clearance", "uncertainty": "0.004 mm", "maker_minimum": "0.050 mm"}
        assert findings(answered(dataset, **piston, measured="0.049 mm"))["piston-fit-tight"] == "stop"
        assert "piston-fit-tight" not in findings(answered(dataset, **piston, measured="0.050 mm"))

    def test_temperatures_differ(self, dataset: Dataset) -> None:
        """3 K are allowed between part and gauge."""
        warm = {
            "measured": "0.05 mm",
            "uncertainty": "0.004 mm",
            "low": "0.02 mm",
            "diameter": "55 mm",
            "gauge_temperature": "20 degC",
        }
        assert "temperatures-differ" not in findings(answered(dataset, **warm, part_temperature="23 degC"))
        assert findings(answered(dataset, **warm, part_temperature="23.5 degC"))["temperatures-differ"] == "ask"

    def test_thousandths_typed_as_millimetres(self, dataset: Dataset) -> None:
        """4 mm of clearance is legal but asked about: 4 thousandths of an inch are usual."""
        assert "thou-as-mm" in findings(answered(dataset, measured="4 mm", uncertainty="0.01 mm", high="4.5 mm"))


def test_warm_journal_at_20_degrees(dataset: Dataset) -> None:
    """55 mm read at 30 °C with a gauge of the same steel at 20 °C is 55 − 55·11.3e-6·10 = 54.9938 mm (ISO 1)."""
    answer = answered(
        dataset,
        measured="0.05 mm",
        uncertainty="0.004 mm",
        low="0.02 mm",
        diameter="55 mm",
        part_temperature="30 degC",
        gauge_temperature="20 degC",
    ).result
    assert answer["diameter_at_20_degrees"].si * 1e3 == pytest.approx(54.9938, abs=1e-4)


def test_forged_piston_only_as_a_difference(dataset: Dataset) -> None:
    """By hand: 0.045 + 86·(22.3 − 16)e-6·110 = 0.1046 mm; without the known piston nothing is made up."""
    piston = {"fit": "piston-clearance", "measured": "0.10 mm", "uncertainty": "0.010 mm", "low": "0.09 mm", "bore": "86 mm"}
    known = {"known_clearance": "0.045 mm", "known_material": "piston-strutted", "inner_material": "aluminium-2618"}
    swapped = answered(dataset, **piston, **known).result["piston_cold_clearance"].si
    assert swapped * 1e3 == pytest.approx(0.045 + 86 * 6.3e-6 * 110, rel=1e-6)
    answer = answered(dataset, **piston)
    assert "piston_cold_clearance" not in answer.result
    assert "hot_clearance" not in answer.result
    assert "cold-clearance-of-piston-type" in {entry["check"] for entry in answer.unchecked}


def test_a_plain_bearing_with_its_own_materials(dataset: Dataset) -> None:
    """A bronze bush on steel, both 80 K up: 20·(18.0 − 11.3)e-6·80 mm more, by hand; without temperatures it is named."""
    bush = {
        "measured": "0.03 mm",
        "uncertainty": "0.004 mm",
        "low": "0.01 mm",
        "diameter": "20 mm",
        "outer_material": "bronze-c932",
        "inner_material": "steel-1040",
    }
    hot = {"outer_temperature": "100 degC", "inner_temperature": "100 degC"}
    assert answered(dataset, **bush, **hot).result["hot_clearance"].si * 1e3 == pytest.approx(0.03 + 20 * 6.7e-6 * 80, rel=2e-3)
    assert "clearance-when-hot" in {entry["check"] for entry in answered(dataset, **bush).unchecked}


def test_what_was_not_given_is_not_passed(dataset: Dataset) -> None:
    """A ring without its bore, a piston without its maker's minimum, a main bearing without its diameter."""
    for fit, check in (
        ("ring-gap-top", "ring-gap-small"),
        ("piston-clearance", "piston-fit-tight"),
        ("main-clearance", "main-clearance-hot"),
    ):
        answer = answered(dataset, engine=FAMILY, fit=fit, measured="0.05 mm", uncertainty="0.004 mm")
        assert check in {entry["check"] for entry in answer.unchecked}


@pytest.mark.parametrize(
    ("change", "error", "field"),
    [
        ({"uncertainty": None}, MissingInput, "uncertainty"),
        ({"uncertainty": None, "gauge": "timing-light"}, OutsideValidity, "gauge"),
        ({"uncertainty": None, "gauge": "ruler"}, NotInDataset, "gauge"),
        ({"low": None}, MissingInput, "low"),
        ({"low": None, "engine": FAMILY}, MissingInput, "low"),
        ({"low": None, "engine": FAMILY, "fit": "end-play"}, NotInDataset, "fit"),
        ({"low": None, "engine": "flat-five", "fit": "crank-end-play"}, NotInDataset, "engine"),
        ({"diameter": "55 mm", "outer_material": "cheese", **HOT}, NotInDataset, "outer_material"),
    ],
)
def test_refusals_name_the_field(dataset: Dataset, change: dict[str, Any], error: type[Exception], field: str) -> None:
    """What is missing or unknown is named by its field."""
    request = {"measured": "0.1 mm", "uncertainty": "0.01 mm", "low": "0.07 mm", **change}
    given = {name: value for name, value in request.items() if value is not None}
    with pytest.raises((MissingInput, NotInDataset, OutsideValidity)) as refusal:
        answered(dataset, **given)
    assert type(refusal.value) is error
    assert vars(refusal.value)["field"] == field


def test_swapped_limits_are_refused(dataset: Dataset) -> None:
    """0.15 to 0.06 cannot be."""
    with pytest.raises(Contradiction, match="swapped"):
        answered(dataset, measured="0.1 mm", uncertainty="0.01 mm", low="0.15 mm", high="0.06 mm")


@pytest.mark.parametrize(
    ("question", "rule"),
    [
        # 0.0035 of 94 mm are 0.329 mm
        ({"fit": "ring-gap-top", "measured": "0.20 mm", "bore": "94 mm"}, "ring-gap-small"),
        ({"fit": "ring-gap-second", "measured": "0.32 mm", "bore": "94 mm"}, "ring-gap-small"),
        ({"fit": "rod-side-clearance", "measured": "0.08 mm"}, "rod-side-small"),
        ({"fit": "piston-clearance", "measured": "0.04 mm", "maker_minimum": "0.05 mm"}, "piston-fit-tight"),
        (
            {"engine": FAMILY, "fit": "main-clearance", "measured": "0.12 mm", "diameter": "55 mm"},
            "main-clearance-hot",
        ),
    ],
)
def test_rules_of_the_fit_speak_without_an_uncertainty(question: dict[str, Any], rule: str, dataset: Dataset) -> None:
    """A ring that butts needs no gauge statement; what is not decided says what it needs."""
    answer = answered(dataset, **question)
    assert list(findings(answer)) == [rule]
    assert "decision" not in answer.result
    assert "uncertainty" in unchecked(answer)["clearance-out"]


@pytest.mark.parametrize(
    "question",
    [
        {"fit": "ring-gap-top", "measured": "0.20 mm"},
        {"fit": "ring-gap-oil", "measured": "0.20 mm", "bore": "94 mm"},
        {"fit": "piston-clearance", "measured": "0.04 mm"},
        {"engine": FAMILY, "fit": "main-clearance", "measured": "0.05 mm"},
        {"engine": FAMILY, "fit": "crank-end-play", "measured": "0.10 mm"},
    ],
)
def test_a_reading_that_no_rule_can_judge_is_still_asked_for_its_uncertainty(
    question: dict[str, Any], dataset: Dataset
) -> None:
    with pytest.raises(MissingInput) as refusal:
        answered(dataset, **question)
    assert "uncertainty" in refusal.value.fields


def test_a_gap_that_is_wide_enough_is_no_pass_without_an_uncertainty(dataset: Dataset) -> None:
    """No finding, but the limits stand among what was not checked."""
    answer = answered(dataset, engine=FAMILY, fit="ring-gap-top", measured="0.40 mm", bore="86 mm")
    assert findings(answer) == {}
    assert unchecked(answer)["clearance-out"] == ["uncertainty"]
