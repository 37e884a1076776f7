"""The torque topic: book and computation, every finding just inside and just outside its limit, gaps and refusals."""

from math import cos, pi, radians
from typing import Any, ClassVar

import pytest

from service.answers.asking import ask
from service.answers.envelope import Answer
from service.answers.fasteners import strength_of
from service.answers.torque import TOPIC
from service.errors import Contradiction, MissingInput, NotInDataset, OutsideValidity
from service.reference.dataset import Dataset, Library
from tests.answers.reading import assumed, findings, unchecked
from tests.published.cases import published

CASES = published("torque")
M8: dict[str, Any] = {"thread": "M8x1.25", "property_class": "8.8", "condition": "engine-oil"}
FAMILY = "air-cooled-flat-four"
STRUTTED = {"material": "piston-strutted", "length": "10 mm"}
POUND_FORCE_FOOT = 0.3048 * 0.45359237 * 9.80665


def answered(dataset: Dataset, **question: Any) -> Answer:
    return ask(TOPIC, question, dataset).answer


@pytest.mark.parametrize(
    ("fastener", "newton_metres"),
    [
        ("case-main-stud", 34),
        ("case-perimeter-nut", 20),
        ("cylinder-head-nut", 31),
        ("rod-nut", 32),
        ("rocker-shaft-nut", 14 * POUND_FORCE_FOOT),
        ("flywheel-nut", 340),
        ("drain-plug", 34),
        ("spark-plug", 25),
    ],
)
def test_the_family_answers_what_the_trade_says(dataset: Dataset, fastener: str, newton_metres: float) -> None:
    """Common practice, no source: the torques of the generic flat four; rocker-shaft nuts at 14 lbf·ft."""
    answer = answered(dataset, engine=FAMILY, fastener=fastener)
    assert answer.result["torque"].si == pytest.approx(newton_metres, rel=1e-12)
    assert answer.result["wrench_setting"].si == pytest.approx(newton_metres, rel=1e-12)
    assert not [f for f in answer.findings if f.severity in ("stop", "fix")]
    assert answer.cautions
    basis = answer.basis[("fact", f"fasteners/{FAMILY}/{fastener}/torque")]
    assert basis["evidence"] == "common-practice"


def test_preload_of_25_newton_metres_oiled(dataset: Dataset) -> None:
    """By hand with the M8 hexagon (11.63 and 9 mm): 25/(0.199 + 0.577·7.188·0.14 + 5.1575·0.14) = 16.64 kN, K 0.188."""
    answer = answered(dataset, **M8, torque="25 N*m").result
    by_hand = 25 / (1.25 / (2 * pi) + 0.57735 * 7.188 * 0.14 + (11.63 + 9) / 4 * 0.14) * 1e3
    assert answer["preload"]["nominal"].si == pytest.approx(by_hand, rel=1e-4)
    assert answer["nut_factor"] == pytest.approx(25 / (by_hand * 0.008), rel=1e-4)
    assert answer["stress_area"].si == pytest.approx(36.6e-6)


def test_the_exact_form_agrees_within_one_per_cent(dataset: Dataset) -> None:
    """Referee: the inclined plane, F·d2/2·tan(φ + ρ') and the head, gives the torque back from the preload."""
    answer = answered(dataset, **M8, torque="25 N*m").result
    helix = 1.25 / (pi * 7.188)
    plane = (helix + 0.14 / cos(radians(30))) / (1 - helix * 0.14 / cos(radians(30)))
    exact = answer["preload"]["nominal"].si * (7.188e-3 / 2 * plane + (11.63e-3 + 9e-3) / 4 * 0.14)
    assert exact == pytest.approx(25, rel=0.01)


@pytest.mark.parametrize("ask_for", [{"preload": "16 kN"}, {"utilisation": 0.7}, {"torque": "21 N*m"}])
def test_all_three_ways_in_agree(dataset: Dataset, ask_for: dict[str, Any]) -> None:
    """Torque, preload and utilisation of one answer, asked again one by one, give the same answer."""
    first = answered(dataset, **M8, **ask_for).result
    again = {
        "torque": {"value": first["torque"].si, "unit": "N*m"},
        "preload": {"value": first["preload"]["nominal"].si, "unit": "N"},
        "utilisation": first["utilisation"],
    }
    for name, value in again.items():
        other = answered(dataset, **M8, **{name: value}).result
        assert other["torque"].si == pytest.approx(first["torque"].si, rel=1e-9)
        assert other["preload"]["nominal"].si == pytest.approx(first["preload"]["nominal"].si, rel=1e-9)


def test_preload_band_covers_scatter_and_friction(dataset: Dataset) -> None:
    """NASA-STD-5020, lubricated: ±25 %; the friction 0.11 to 0.16 of the condition gives 14.8 to 20.4 kN by hand."""
    answer = answered(dataset, **M8, torque="25 N*m").result
    nominal = answer["preload"]["nominal"].si
    assert answer["preload_band_of_method"]["low"].si == pytest.approx(0.75 * nominal)
    assert answer["preload_band_of_method"]["high"].si == pytest.approx(1.25 * nominal)
    for end, friction in (("low", 0.16), ("high", 0.11)):
        by_hand = 25 / (1.25 / (2 * pi) + 0.57735 * 7.188 * friction + (11.63 + 9) / 4 * friction) * 1e3
        assert answer["preload_band_of_friction"][end].si == pytest.approx(by_hand, rel=1e-4)
        assert answer["preload"]["low"].si <= by_hand * (1 + 1e-9)
        assert answer["preload"]["high"].si >= by_hand * (1 - 1e-9)
    assert answer["preload"]["low"].si <= 0.75 * nominal
    assert answer["preload"]["high"].si >= 1.25 * nominal


def test_method_sets_the_scatter(dataset: Dataset) -> None:
    """Stretch by micrometer scatters by 5 % and by nothing else; a dry thread under a torque wrench by 35 %."""
    stretched = answered(dataset, **M8, torque="25 N*m", method="stretch-micrometer").result["preload"]
    assert stretched["high"].si == pytest.approx(1.05 * stretched["nominal"].si)
    dry = answered(dataset, **{**M8, "condition": "dry"}, torque="25 N*m").result
    assert dry["preload_band_of_method"]["high"].si == pytest.approx(1.35 * dry["preload"]["nominal"].si)


def test_tool_band(dataset: Dataset) -> None:
    """ISO 6789 type II class A: ±4 % above 10 N·m, ±6 % for a wrench up to 10 N·m, or as the certificate says."""
    band = answered(dataset, **M8, torque="25 N*m").result["torque_band"]
    assert (band["low"].si, band["high"].si) == pytest.approx((24.0, 26.0))
    small = answered(dataset, **M8, torque="8 N*m", wrench={"full_scale": "10 N*m"}).result["torque_band"]
    assert small["high"].si == pytest.approx(8.48)
    own = answered(dataset, **M8, torque="25 N*m", wrench={"full_scale": "100 N*m", "tolerance": "2 %"}).result["torque_band"]
    assert own["high"].si == pytest.approx(25.5)


def test_limit_is_that_of_the_published_table(dataset: Dataset) -> None:
    """VDI 2230 table: M8x1 class 10.9 at friction 0.12 carries 29.7 kN and 38.3 N·m at 90 % of yield."""
    answer = answered(
        dataset,
        thread="M8x1",
        property_class="10.9",
        condition="phosphated-oiled",
        utilisation=0.9,
        head_diameter="11.63 mm",
        hole_diameter="9 mm",
    ).result
    assert answer["preload"]["nominal"].si == pytest.approx(29.7e3, rel=0.01)
    assert answer["torque"].si == pytest.approx(38.3, rel=0.01)
    assert answer["limit"]["torque"].si == pytest.approx(answer["torque"].si)


def test_strength_follows_the_size(dataset: Dataset) -> None:
    """Class 8.8 yields at 640 MPa up to 16 mm and at 660 MPa above (ISO 898-1)."""
    for thread, strength in (("M16x2", 640e6), ("M18x1.5", 660e6)):
        answer = answered(dataset, thread=thread, property_class="8.8", condition="engine-oil", torque="100 N*m").result
        assert answer["equivalent_stress"].si / answer["utilisation"] == pytest.approx(strength)


# The sound build: a stud of the family in its case, wrench and thread as they should be.
SOUND: dict[str, Any] = {
    "engine": FAMILY,
    "fastener": "case-perimeter-nut",
    "condition": "engine-oil",
    "torque": "20 N*m",
    "engaged_length": "18 mm",
    "parent_material": "magnesium-az91d",
    "wrench": {"full_scale": "60 N*m", "months_since_check": 12},
}


def test_a_sound_tightening_raises_nothing_worse_than_a_note(dataset: Dataset) -> None:
    """20 N·m oiled on an M8 8.8 as listed, 18 mm deep in magnesium, wrench checked: the scatter is named, nothing else."""
    assert findings(answered(dataset, **SOUND)) == {"bolt-over-yield": "note"}


@pytest.mark.parametrize(
    ("own", "severity"),
    [
        ({}, "note"),
        ({"torque": "25 N*m", "condition": "engine-oil", "property_class": "8.8"}, "note"),
        ({"torque": "25.5 N*m"}, "caution"),
        ({"torque": "31 N*m"}, "stop"),
        ({"property_class": "5.8"}, "stop"),
        ({"method": "torque-wrench-unlubricated"}, "caution"),
        ({"thread_friction": 0.13}, "caution"),
    ],
)
def test_who_follows_the_book_is_not_warned_of_it(own: dict[str, Any], severity: str, dataset: Dataset) -> None:
    """The family lists 25 N·m oiled for 8 mm head studs; the caller's own torque, class, tool or friction is warned of."""
    found = findings(answered(dataset, engine=FAMILY, fastener="cylinder-head-nut-8mm", **own))
    assert found["bolt-over-yield"] == severity


def test_rod_nuts_are_not_used_twice(dataset: Dataset) -> None:
    """The list says new nuts for the rods; a head nut may be used again."""
    again = findings(answered(dataset, engine=FAMILY, fastener="rod-nut", reused_nut=True))
    assert again["nut-reused"] == "fix"
    for fastener, reused in (("rod-nut", False), ("cylinder-head-nut", True)):
        assert "nut-reused" not in findings(answered(dataset, engine=FAMILY, fastener=fastener, reused_nut=reused))


def test_the_book_alone_raises_nothing(dataset: Dataset) -> None:
    """A look-up of the family's own torque is no reason for any finding."""
    assert findings(answered(dataset, engine=FAMILY, fastener="case-main-stud")) == {}


class TestBasis:
    """A torque listed dry on an oiled thread, the reverse, and a book that does not say."""

    BOOK: ClassVar[dict[str, Any]] = {"thread": "M10x1.5", "property_class": "8.8", "listed_torque": "34 N*m"}

    def test_dry_to_oiled_is_corrected(self, dataset: Dataset) -> None:
        """By hand at equal preload: 34 · (0.239 + 9.026·0.577·0.14 + 6.4075·0.14)/(… 0.20) = 24.75 N·m."""
        answer = answered(dataset, **self.BOOK, listed_condition="dry", condition="engine-oil")

        def arm(friction: float) -> float:
            return 1.5 / (2 * pi) + 0.57735 * 9.026 * friction + (14.63 + 11) / 4 * friction

        by_hand = 34 * arm(0.14) / arm(0.20)
        assert answer.result["torque"].si == pytest.approx(by_hand, rel=1e-4)
        assert answer.result["listed"]["at_equal_preload"].si == pytest.approx(by_hand, rel=1e-4)
        assert [(f.rule.code, f.severity) for f in answer.findings] == [("torque-basis-mismatch", "fix")]
        assert "25 N·m" in answer.findings[0].message

    def test_the_callers_own_torque_counts(self, dataset: Dataset) -> None:
        """Uncorrected 34 N·m is found, the corrected 25 N·m is not, and the answer keeps the caller's torque."""
        conditions = {"listed_condition": "dry", "condition": "engine-oil"}
        assert "torque-basis-mismatch" in findings(answered(dataset, **self.BOOK, **conditions, torque="34 N*m"))
        assert "torque-basis-mismatch" not in findings(answered(dataset, **self.BOOK, **conditions, torque="25 N*m"))
        assert answered(dataset, **self.BOOK, **conditions, torque="25 N*m").result["torque"].si == 25.0
        bare = {"thread": "M10x1.5", "property_class": "8.8", **conditions, "torque": "34 N*m"}
        assert "torque-basis-mismatch" in findings(answered(dataset, **bare))

    def test_a_listed_oiled_torque_is_never_raised(self, dataset: Dataset) -> None:
        """Listed oiled, thread dry: the listed torque stands, and the thread is to be oiled."""
        request = {**self.BOOK, "listed_condition": "engine-oil", "condition": "dry"}
        assert answered(dataset, **request).result["torque"].si == 34.0
        assert answered(dataset, **request).result["listed"]["at_equal_preload"].si > 34.0
        answer = answered(dataset, **request)
        assert "Do not raise" in answer.findings[0].message

    def test_a_lookup_is_rebased_too(self, dataset: Dataset) -> None:
        """The family's oiled torque with moly paste on the thread comes down; as oiled it stands."""
        pasted = answered(dataset, engine=FAMILY, fastener="case-main-stud", condition="moly-paste").result
        assert pasted["torque"].si < 0.85 * 34
        assert answered(dataset, engine=FAMILY, fastener="case-main-stud", condition="engine-oil").result["torque"].si == 34.0

    def test_conditions_alike_are_no_mismatch(self, dataset: Dataset) -> None:
        """Phosphated and oiled against a hardened washer, oiled: both 0.12."""
        request = {**self.BOOK, "listed_condition": "phosphated-oiled", "condition": "hardened-washer-oiled"}
        assert "torque-basis-mismatch" not in findings(answered(dataset, **request))

    def test_a_book_that_does_not_say_is_asked(self, dataset: Dataset) -> None:
        """Both values are given: as listed, and if it was meant dry."""
        request = {**self.BOOK, "condition": "engine-oil"}
        assert findings(answered(dataset, **request))["torque-basis-unknown"] == "ask"
        answer = answered(dataset, **request).result
        assert answer["torque"].si == 34.0
        assert answer["listed"]["if_listed_dry"].si == pytest.approx(24.75, abs=0.01)


class TestFindings:
    """Every rule of the topic: raised, and not raised just inside its limit."""

    def test_bolt_over_yield(self, dataset: Dataset) -> None:
        """Nominal use of 0.90 is a caution for its scatter, 0.91 a stop; with no scatter to speak of 0.85 is nothing."""
        exact = {"method": "stretch-micrometer"}
        assert findings(answered(dataset, **M8, **exact, utilisation=0.91))["bolt-over-yield"] == "stop"
        assert findings(answered(dataset, **M8, **exact, utilisation=0.90))["bolt-over-yield"] == "caution"
        assert "bolt-over-yield" not in findings(answered(dataset, **M8, **exact, utilisation=0.85))
        assert findings(answered(dataset, **M8, torque="40 N*m"))["bolt-over-yield"] == "stop"

    def test_studs_in_alloy_are_used_less(self, dataset: Dataset) -> None:
        """The upper end of the scatter may reach 0.90 in steel but 0.80 in light alloy."""
        exact = {"method": "stretch-micrometer", "utilisation": 0.80}
        assert findings(answered(dataset, **M8, **exact, parent_material="aluminium-356"))["bolt-over-yield"] == "caution"
        assert "bolt-over-yield" not in findings(answered(dataset, **M8, **exact, parent_material="steel-1040"))

    def test_parent_thread_weak(self, dataset: Dataset) -> None:
        """M8, 20 N·m, magnesium of 200 MPa: 1.25 of the largest preload needs so many millimetres, and not one less."""
        joint = {**M8, "torque": "20 N*m", "parent_strength": "200 MPa"}
        needed = answered(dataset, **joint, engaged_length="16 mm").result["stripping"]["engagement_needed"].si
        per_millimetre = pi / 1.25 * 7.760 * (0.625 + 0.57735 * (7.760 - 7.348))
        most = answered(dataset, **joint).result["preload"]["high"].si
        assert needed == pytest.approx(1.25 * most / (0.6 * 200 * per_millimetre) * 1e-3, rel=0.01)
        short, deep = ({"value": needed * 1e3 + change, "unit": "mm"} for change in (-0.1, 0.1))
        assert findings(answered(dataset, **joint, engaged_length=short))["parent-thread-weak"] == "stop"
        assert "parent-thread-weak" not in findings(answered(dataset, **joint, engaged_length=deep))

    def test_heat_counts_against_the_parent_thread(self, dataset: Dataset) -> None:
        """A barrel and head that grow more than the stud load the case thread more."""
        joint = {
            "engine": FAMILY,
            "fastener": "cylinder-head-nut",
            "engaged_length": "16 mm",
            "parent_material": "magnesium-az91d",
            "parts": [{"material": "grey-iron", "length": "130 mm", "temperature": "160 degC", "area": "400 mm2"}],
        }
        cold, hot = answered(dataset, **joint).result, answered(dataset, **joint, bolt_temperature="60 degC").result
        assert hot["hot"]["preload_change"].si > 0
        assert hot["stripping"]["engagement_needed"].si > cold["stripping"]["engagement_needed"].si

    def test_bolt_thread_weak(self, dataset: Dataset) -> None:
        """A few turns of a soft bolt in a hard part shear off the bolt."""
        joint = {"thread": "M8x1.25", "property_class": "4.6", "condition": "engine-oil", "torque": "10 N*m"}
        assert (
            findings(answered(dataset, **joint, engaged_length="3 mm", parent_material="steel-4340"))["bolt-thread-weak"]
            == "fix"
        )
        assert "bolt-thread-weak" not in findings(
            answered(dataset, **joint, engaged_length="12 mm", parent_material="steel-4340")
        )

    def test_wrench_low_in_range(self, dataset: Dataset) -> None:
        """20 % of full scale is the lowest tested torque (ISO 6789): 25 N·m on 125 passes, on 126 not."""
        assert "wrench-low-in-range" not in findings(answered(dataset, **M8, torque="25 N*m", wrench={"full_scale": "125 N*m"}))
        assert (
            findings(answered(dataset, **M8, torque="25 N*m", wrench={"full_scale": "126 N*m"}))["wrench-low-in-range"] == "fix"
        )

    def test_wrench_too_small(self, dataset: Dataset) -> None:
        """340 N·m do not come out of a 200 N·m wrench."""
        request = {"engine": FAMILY, "fastener": "flywheel-nut"}
        assert findings(answered(dataset, **request, wrench={"full_scale": "200 N*m"}))["wrench-too-small"] == "fix"
        assert "wrench-too-small" not in findings(answered(dataset, **request, wrench={"full_scale": "340 N*m"}))

    def test_wrench_overdue(self, dataset: Dataset) -> None:
        """Twelve months are the standard's interval; thirteen are a caution."""
        assert "wrench-overdue" not in findings(
            answered(dataset, **M8, torque="25 N*m", wrench={"full_scale": "100 N*m", "months_since_check": 12})
        )
        late = {"full_scale": "100 N*m", "months_since_check": 13}
        assert findings(answered(dataset, **M8, torque="25 N*m", wrench=late))["wrench-overdue"] == "caution"

    @pytest.mark.parametrize(
        ("typed", "slip"), [("14 N*m", True), ("19 lbf*ft", True), ("14 lbf*ft", False), ("17 N*m", False)]
    )
    def test_ftlb_as_nm(self, dataset: Dataset, typed: str, slip: bool) -> None:
        """14 lbf·ft is listed: 14 typed as N·m, or 19 N·m typed as lbf·ft, are asked about; 14 lbf·ft and 17 N·m are not."""
        codes = findings(answered(dataset, engine=FAMILY, fastener="rocker-shaft-nut", torque=typed))
        assert ("ftlb-as-nm" in codes) is slip

    def test_torque_above_limit(self, dataset: Dataset) -> None:
        """Rocker-shaft nuts stop at 24 N·m."""
        request = {"engine": FAMILY, "fastener": "rocker-shaft-nut"}
        assert findings(answered(dataset, **request, torque="24.5 N*m"))["torque-above-limit"] == "stop"
        assert "torque-above-limit" not in findings(answered(dataset, **request, torque="24 N*m"))

    def test_unknown_class_is_the_softest(self, dataset: Dataset) -> None:
        """Without a class the bolt is taken as unmarked, and the answer asks."""
        request = {"thread": "M8x1.25", "condition": "engine-oil", "torque": "10 N*m"}
        answer = answered(dataset, **request)
        assert [f.rule.code for f in answer.findings] == ["property-class-unknown"]
        assert answer.result["equivalent_stress"].si / answer.result["utilisation"] == pytest.approx(300e6)
        assert "property_class" in assumed(answer)


class TestJoint:
    """Stretch, turn and heat against compatibility worked out by hand."""

    REQUEST: ClassVar[dict[str, Any]] = {
        "thread": "M10x1.5",
        "property_class": "8.8",
        "condition": "engine-oil",
        "preload": "20 kN",
        "bolt_material": "steel-4140",
        "bolt_temperature": "120 degC",
        "parts": [
            {"material": "grey-iron", "length": "130 mm", "temperature": "160 degC", "area": "400 mm2"},
            {"material": "aluminium-356", "length": "30 mm", "temperature": "150 degC", "area": "500 mm2"},
        ],
    }

    def test_by_hand(self, dataset: Dataset) -> None:
        """160 mm of M10 in steel, 130 mm iron and 30 mm alloy: compliances, turn after snug and rise when hot."""
        answer = answered(dataset, **self.REQUEST).result
        bolt = 0.160 / (207e9 * 58.0e-6)
        parts = 0.130 / (110e9 * 400e-6) + 0.030 / (72.4e9 * 500e-6)
        assert answer["stretch"].si == pytest.approx(20e3 * bolt, rel=1e-9)
        assert answer["turn"].si == pytest.approx(2 * pi * 20e3 * (bolt + parts) / 1.5e-3, rel=1e-9)
        rise = 11.4e-6 * 0.130 * 140 + 21.5e-6 * 0.030 * 130 - 12.3e-6 * 0.160 * 100
        assert answer["hot"]["preload_change"].si == pytest.approx(rise / (bolt + parts), rel=1e-9)

    def test_parts_without_area_are_a_sleeve(self, dataset: Dataset) -> None:
        """The sleeve of π/4·((14.63 + 16)² − 11²) mm² for 160 mm of one iron part (rule from memory)."""
        request = {**self.REQUEST, "parts": [{"material": "grey-iron", "length": "160 mm"}]}
        area = pi / 4 * ((14.63 + 16) ** 2 - 11**2) * 1e-6
        bolt, parts = 0.160 / (207e9 * 58.0e-6), 0.160 / (110e9 * area)
        answer = answered(dataset, **request)
        assert answer.result["turn"].si == pytest.approx(2 * pi * 20e3 * (bolt + parts) / 1.5e-3, rel=1e-6)
        assert "preload-rise-with-heat" in {entry["check"] for entry in answer.unchecked}


class TestSequence:
    """The order of tightening: the family's, a named layout, positions, and none."""

    def test_head_of_the_family(self, dataset: Dataset) -> None:
        """Two rows of four from the middle outwards, in stages of 10, 20 and 31 N·m and once more (common practice)."""
        sequence = answered(dataset, engine=FAMILY, fastener="cylinder-head-nut").result["sequence"]
        assert sequence["order"] == [3, 6, 4, 5, 2, 7, 1, 8]
        assert [one["torque"].si for one in sequence["passes"]] == pytest.approx([10, 20, 31, 31])

    def test_layout_and_positions(self, dataset: Dataset) -> None:
        """A circle by name and the same circle measured in inches give one order; stages are 40, 70 and 100 %."""
        named = answered(dataset, **M8, torque="20 N*m", layout="circle-4").result["sequence"]
        places = [("0 in", "2 in"), ("2 in", "0 in"), ("0 in", "-2 in"), ("-2 in", "0 in")]
        measured = answered(dataset, **M8, torque="20 N*m", positions=[{"x": x, "y": y} for x, y in places]).result["sequence"]
        assert named["order"] == measured["order"] == [1, 3, 2, 4]
        assert [one["torque"].si for one in named["passes"]] == pytest.approx([8, 14, 20, 20])

    def test_groups(self, dataset: Dataset) -> None:
        """A group of rank 1 comes first."""
        sequence = answered(dataset, **M8, torque="20 N*m", layout="row-4", groups=[2, 1, 1, 2]).result["sequence"]
        assert sequence["order"] == [2, 3, 1, 4]

    def test_no_layout_no_sequence(self, dataset: Dataset) -> None:
        """The perimeter nuts of a case have no pattern here; the answer does not make one up."""
        assert "sequence" not in answered(dataset, engine=FAMILY, fastener="case-perimeter-nut").result

    def test_layout_and_positions_together_are_refused(self, dataset: Dataset) -> None:
        """One of the two, please."""
        with pytest.raises(Contradiction):
            answered(dataset, **M8, torque="20 N*m", layout="row-2", positions=[{"x": "0 mm", "y": "0 mm"}])


class TestAdapter:
    """Settings of the wrench."""

    def test_crow_foot(self, dataset: Dataset) -> None:
        """31 N·m with a 300 mm wrench and a 50 mm crow-foot straight out: 31·300/350 by hand; at 90° unchanged."""
        family = {"engine": FAMILY, "fastener": "cylinder-head-nut"}
        straight = {"length": "50 mm", "wrench_length": "300 mm"}
        assert answered(dataset, **family, adapter=straight).result["wrench_setting"].si == pytest.approx(31 * 300 / 350)
        square = answered(dataset, **family, adapter={**straight, "angle": "90 deg"}).result
        assert square["wrench_setting"].si == pytest.approx(31)

    def test_the_setting_is_what_the_wrench_must_reach(self, dataset: Dataset) -> None:
        """20 N·m on 100 is in range; through an adapter of half the wrench's length the setting is 13.3 and is not."""
        wrench = {"full_scale": "100 N*m"}
        adapter = {"length": "150 mm", "wrench_length": "300 mm"}
        assert "wrench-low-in-range" not in findings(answered(dataset, **M8, torque="20 N*m", wrench=wrench))
        assert "wrench-low-in-range" in findings(answered(dataset, **M8, torque="20 N*m", wrench=wrench, adapter=adapter))

    def test_folded_back_is_refused(self, dataset: Dataset) -> None:
        """No lever is left."""
        with pytest.raises(OutsideValidity):
            answered(
                dataset, **M8, torque="20 N*m", adapter={"length": "250 mm", "wrench_length": "300 mm", "angle": "180 deg"}
            )


def test_prevailing_torque_does_not_clamp(dataset: Dataset) -> None:
    """29 N·m on a nut that turns with 4 clamps like 25; a listed torque gets the 4 added."""
    free, locking = (
        answered(dataset, **M8, torque="25 N*m").result,
        answered(dataset, **M8, torque="29 N*m", prevailing_torque="4 N*m").result,
    )
    assert locking["preload"]["nominal"].si == pytest.approx(free["preload"]["nominal"].si)
    assert locking["torque"].si == pytest.approx(29)
    listed = answered(dataset, engine=FAMILY, fastener="case-perimeter-nut", prevailing_torque="4 N*m").result
    assert listed["torque"].si == pytest.approx(24)


def test_a_reused_nut_rubs_more(dataset: Dataset) -> None:
    """Third tightening: friction 0.14 + 0.03 (common practice); preload by hand."""
    answer = answered(dataset, **M8, torque="25 N*m", reused_nut=True).result
    by_hand = 25 / (1.25 / (2 * pi) + 0.57735 * 7.188 * 0.17 + (11.63 + 9) / 4 * 0.17) * 1e3
    assert answer["preload"]["nominal"].si == pytest.approx(by_hand, rel=1e-4)


def test_measured_friction_stands_before_the_table(dataset: Dataset) -> None:
    """0.10 in the thread and 0.12 under the head, by hand; the band is then the method's alone."""
    answer = answered(dataset, **M8, torque="25 N*m", thread_friction=0.10, bearing_friction=0.12).result
    by_hand = 25 / (1.25 / (2 * pi) + 0.57735 * 7.188 * 0.10 + (11.63 + 9) / 4 * 0.12) * 1e3
    assert answer["preload"]["nominal"].si == pytest.approx(by_hand, rel=1e-4)
    assert answer["preload"]["high"].si == pytest.approx(1.25 * by_hand, rel=1e-4)
    assert "preload_band_of_friction" not in answer


@pytest.mark.parametrize(("sent", "other"), [("thread_friction", "bearing_friction"), ("bearing_friction", "thread_friction")])
def test_one_measured_friction_stands_for_the_other_aloud(dataset: Dataset, sent: str, other: str) -> None:
    """0.12 in both places, by hand; the one not sent is named, and no condition that plays no part."""
    answer = answered(dataset, thread="M8x1.25", property_class="8.8", torque="25 N*m", **{sent: 0.12})
    by_hand = 25 / (1.25 / (2 * pi) + 0.57735 * 7.188 * 0.12 + (11.63 + 9) / 4 * 0.12) * 1e3
    assert answer.result["preload"]["nominal"].si == pytest.approx(by_hand, rel=1e-4)
    assert {e["field"]: e["value"] for e in answer.assumptions if "friction" in e["field"]} == {other: 0.12}
    assert "condition" not in assumed(answer)
    both = answered(dataset, thread="M8x1.25", property_class="8.8", torque="25 N*m", thread_friction=0.1, bearing_friction=0.1)
    assert not {"condition", sent, other} & assumed(both)


@pytest.mark.parametrize(("thread", "known"), [("3/8-20 BSF", False), ("3/8-24 UNF", True)])
def test_stripping_is_answered_only_for_threads_of_sixty_degrees(dataset: Dataset, thread: str, known: bool) -> None:
    """The stripping areas (FED-STD-H28) are those of 60° flanks with their own limits; Whitworth's 55° are left open."""
    bolt = {"thread": thread, "property_class": "8.8", "condition": "engine-oil", "torque": "25 N*m"}
    answer = answered(dataset, **bolt, engaged_length="12 mm", parent_material="magnesium-az91d")
    assert ("stripping" in answer.result) is known
    gaps = {entry["check"]: entry for entry in answer.unchecked}
    for check in ("parent-thread-weak", "bolt-thread-weak"):
        assert (check in gaps) is not known
        assert known or (gaps[check]["needs"] == [] and "55°" in gaps[check]["why"])


def test_what_was_not_given_is_not_passed(dataset: Dataset) -> None:
    """Wrench, parts, case and class: each missing one is named with what it needs."""
    gaps = unchecked(answered(dataset, **M8, torque="25 N*m"))
    assert gaps["wrench-low-in-range"] == ["wrench.full_scale"]
    assert gaps["wrench-overdue"] == ["wrench.months_since_check"]
    assert gaps["parent-thread-weak"] == ["engaged_length", "parent_material"]
    assert unchecked(answered(dataset, engine=FAMILY, fastener="spark-plug"))["bolt-over-yield"] == ["property_class"]


def test_a_fastener_without_a_thread_in_the_dataset(dataset: Dataset) -> None:
    """TM 5-4930-227-14 lists head bolts at 14 to 18 lbf·ft and no thread: the torque is answered, the rest is not."""
    answer = answered(dataset, engine="tm-5-4930-227-14", fastener="cylinder-head-bolt")
    assert answer.result["torque"].si == pytest.approx(14 * POUND_FORCE_FOOT)
    assert answer.result["listed"]["limit"].si == pytest.approx(18 * POUND_FORCE_FOOT)
    assert "preload" not in answer.result
    assert answer.unchecked


def test_another_source_is_shown_beside(dataset: Dataset) -> None:
    """The whole-number 19 N·m stands beside the 14 lbf·ft in force, with the reason."""
    others = answered(dataset, engine=FAMILY, fastener="rocker-shaft-nut").result["listed"]["others"]
    assert others[0]["torque"].si == 19.0
    assert others[0]["why"]


@pytest.mark.parametrize(
    ("request_", "error", "field"),
    [
        ({}, MissingInput, "thread"),
        ({"fastener": "rod-nut"}, MissingInput, "engine"),
        ({"thread": "M8x1.25", "condition": "engine-oil"}, MissingInput, "torque"),
        ({**M8, "condition": "reused-nut-third-tightening", "torque": "25 N*m"}, OutsideValidity, "condition"),
        ({**M8, "property_class": "nut-8", "torque": "25 N*m"}, OutsideValidity, "property_class"),
        ({**M8, "thread": "M28x1.5", "property_class": "a2-70", "torque": "200 N*m"}, OutsideValidity, "property_class"),
        ({**M8, "thread": "M8x1.2", "torque": "25 N*m"}, NotInDataset, "thread"),
        ({"engine": FAMILY, "fastener": "rod-bolt"}, NotInDataset, "fastener"),
        ({"engine": "flat-five", "fastener": "rod-nut"}, NotInDataset, "engine"),
        ({**M8, "condition": "oily", "torque": "25 N*m"}, NotInDataset, "condition"),
        ({**M8, "method": "hope", "torque": "25 N*m"}, NotInDataset, "method"),
        ({**M8, "torque": "4 N*m", "prevailing_torque": "4 N*m"}, OutsideValidity, "torque"),
        ({**M8, "torque": "20 N*m", "parts": [STRUTTED]}, OutsideValidity, "parts/0/material"),
    ],
)
def test_refusals_name_the_field(
    dataset: Dataset, request_: dict[str, Any], error: type[MissingInput | NotInDataset | OutsideValidity], field: str
) -> None:
    """What is missing or unknown is named by its field, with what to send."""
    with pytest.raises((MissingInput, NotInDataset, OutsideValidity)) as refusal:
        answered(dataset, **request_)
    assert type(refusal.value) is error
    assert vars(refusal.value)["field"] == field


def test_two_ways_to_say_how_hard_are_refused(dataset: Dataset) -> None:
    """Torque and utilisation together could not both be true."""
    with pytest.raises(Contradiction) as refusal:
        answered(dataset, **M8, torque="25 N*m", utilisation=0.7)
    assert refusal.value.fields == ("torque", "utilisation")


@pytest.mark.parametrize(
    ("case", "name", "inches"), [("F71", "grade-2", 1.0), ("F73", "grade-5", 1.25), ("F74", "grade-8", 0.5)]
)
def test_published_sae_grades(dataset: Dataset, case: str, name: str, inches: float) -> None:
    """SAE J429 in Shigley & Mischke, 5th ed., p. 341, two reprints agreeing: proof and yield of the size in ksi."""
    printed = CASES[case]["expected"]
    strength = strength_of(Answer({}), dataset, name, inches * 0.0254)
    ksi = 1000 * 4.4482216152605 / 0.0254**2
    assert strength.yield_strength / ksi == pytest.approx(printed["yield"]["value"], rel=1e-6)
    assert strength.proof_stress is not None
    assert strength.proof_stress / ksi == pytest.approx(printed["proof"]["value"], rel=1e-6)


def test_every_version_answers_every_fastener(library: Library) -> None:
    """Whatever a version holds of a fastener, its torque is answered; what it lacks is named, never made up."""
    asked_for = 0
    for version in library.versions:
        held = library.get(version)
        for entity in held.entities("fasteners"):
            engine, fastener = entity.id.split("/")
            answer = ask(TOPIC, {"engine": engine, "fastener": fastener}, held).answer
            assert answer.result["torque"].si == pytest.approx(entity.si("torque"))
            assert answer.unchecked
            asked_for += 1
    assert asked_for > 40


def test_no_listed_torque_of_the_family_overstretches_its_bolt(dataset: Dataset) -> None:
    """Data against physics: each torque of the families keeps its bolt below 90 % of yield at nominal preload."""
    for entity in dataset.entities("fasteners"):
        engine, fastener = entity.id.split("/")
        answer = ask(TOPIC, {"engine": engine, "fastener": fastener}, dataset).answer
        assert answer.result.get("utilisation", 0.5) < 0.9, entity.id
