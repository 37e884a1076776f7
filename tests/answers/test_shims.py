"""The shims topic: the choice, its limits, and every finding just inside and outside its limit."""

from itertools import combinations_with_replacement
from typing import Any

import pytest

from service.answers.asking import ask
from service.answers.envelope import Answer
from service.answers.shims import TOPIC
from service.errors import Contradiction, MissingInput, NotInDataset, OutsideValidity
from service.reference.dataset import Dataset
from tests.answers.reading import assumed, findings

FAMILY = "air-cooled-flat-four"
DRAWER = {"0.24 mm": 2, "0.30 mm": 2, "0.32 mm": 2, "0.34 mm": 2, "0.36 mm": 2}
QUESTION: dict[str, Any] = {"gap": "1.18 mm", "low": "0.07 mm", "high": "0.13 mm", "pick": 3, "stock": DRAWER}


def answered(dataset: Dataset, **question: Any) -> Answer:
    return ask(TOPIC, question, dataset).answer


def micrometres(stack: dict[str, Any]) -> list[int]:
    return [round(shim.si * 1e6) for shim in stack["shims"]]


def test_three_shims_of_the_drawer(dataset: Dataset) -> None:
    """By hand: no three of this drawer come nearer to 0.10 mm of play than 0.34 + 0.36 + 0.36, which leaves 0.12 mm."""
    answer = answered(dataset, **QUESTION).result
    assert micrometres(answer) == [340, 360, 360]
    assert answer["total"].si == pytest.approx(1.06e-3)
    assert answer["end_play"].si == pytest.approx(0.12e-3)
    assert answer["next_best"] == []
    assert (answer["total_needed_low"].si, answer["total_needed_high"].si) == pytest.approx((1.05e-3, 1.11e-3))


def test_best_and_next_best_against_every_stack(dataset: Dataset) -> None:
    """Referee: every stack of three from six kinds, four of each, sorted by the rule; the first of each end play."""
    kinds = [280, 300, 320, 340, 350, 360]
    stock = {f"{kind} um": 4 for kind in kinds}
    every = [stack for stack in combinations_with_replacement(kinds, 3) if 60 <= 1100 - sum(stack) <= 140]
    every.sort(key=lambda stack: (abs(1100 - sum(stack) - 100), sum(stack), len(set(stack)), stack))
    firsts: dict[int, tuple[int, ...]] = {}
    for stack in every:
        firsts.setdefault(sum(stack), stack)
    answer = answered(dataset, gap="1.1 mm", low="0.06 mm", high="0.14 mm", pick=3, stock=stock).result
    assert [micrometres(one) for one in (answer, *answer["next_best"])] == [list(stack) for stack in firsts.values()][:4]


def test_limits_of_the_family(dataset: Dataset) -> None:
    """Common practice, no source: 0.07 to 0.13 mm of crank end play, declared as taken from the family."""
    answer = answered(dataset, gap="1.18 mm", pick=3, stock=DRAWER, engine=FAMILY)
    assert (answer.result["low"].si, answer.result["high"].si) == pytest.approx((0.07e-3, 0.13e-3))
    assert {"low", "high", "target"} <= assumed(answer)
    own = answered(dataset, gap="1.18 mm", pick=3, stock=DRAWER, engine=FAMILY, high="0.12 mm").result
    assert own["high"].si == pytest.approx(0.12e-3)


def test_inch_shims_in_a_metric_engine(dataset: Dataset) -> None:
    """Three of 0.014 in leave 0.047 − 0.042 = 0.005 in, exactly."""
    answer = answered(dataset, engine=FAMILY, gap="47 thou", pick=3, stock={"0.0125 in": 3, "0.014 in": 3}).result
    assert answer["end_play"].si == pytest.approx(0.005 * 0.0254, abs=1e-12)


def test_one_thickness_written_twice_is_one_kind(dataset: Dataset) -> None:
    """0.36 mm and 360 µm are the same shim: together there are three of them."""
    answer = answered(dataset, **{**QUESTION, "stock": {"0.36 mm": 2, "360 um": 1}}).result
    assert micrometres(answer) == [360, 360, 360]


def test_shims_do_not_fit(dataset: Dataset) -> None:
    """Only 0.24 and 0.26 in the drawer: 1.05 to 1.11 mm are needed and the nearest set leaves 0.40 mm, by hand."""
    answer = answered(dataset, **{**QUESTION, "stock": {"0.24 mm": 3, "0.26 mm": 3}})
    assert [(f.rule.code, f.severity) for f in answer.findings] == [("shims-do-not-fit", "fix")]
    assert "1.050 mm" in answer.findings[0].message
    assert "0.400 mm" in answer.findings[0].message
    assert "shims" not in answer.result
    assert [round(stack["end_play"].si * 1e6) for stack in answer.result["nearest"]] == [400]
    assert "shims-do-not-fit" not in findings(answered(dataset, **QUESTION))


def test_shim_play_unproved(dataset: Dataset) -> None:
    """0.12 mm is 0.01 mm from its limit: an uncertainty of 0.010 leaves it proved, 0.011 does not."""
    assert findings(answered(dataset, **QUESTION, uncertainty="0.010 mm")) == {}
    assert findings(answered(dataset, **QUESTION, uncertainty="0.011 mm")) == {"shim-play-unproved": "caution"}
    assert [entry["check"] for entry in answered(dataset, **QUESTION).unchecked] == ["shim-play-unproved"]


def test_cautions_and_table_go_with_the_answer(dataset: Dataset) -> None:
    """An answer that is acted upon carries cautions, and the stacks as a table in the order of choice."""
    answer = answered(dataset, **QUESTION)
    assert answer.cautions
    assert answer.table is not None
    assert [row["rank"] for row in answer.table] == [1]


@pytest.mark.parametrize(
    ("change", "error", "field"),
    [
        ({"low": None}, MissingInput, "low"),
        ({"high": None}, MissingInput, "high"),
        ({"low": None, "engine": "flat-five"}, NotInDataset, "engine"),
        ({"stock": {"0.34 mm": 2}}, OutsideValidity, "stock"),
        ({"stock": {"0.34 mm": 0, "0.36 mm": 2}}, OutsideValidity, "stock"),
    ],
)
def test_refusals_name_the_field(dataset: Dataset, change: dict[str, Any], error: type[Exception], field: str) -> None:
    """What is missing or too little is named by its field."""
    given = {name: value for name, value in {**QUESTION, **change}.items() if value is not None}
    with pytest.raises((MissingInput, NotInDataset, OutsideValidity)) as refusal:
        answered(dataset, **given)
    assert type(refusal.value) is error
    assert vars(refusal.value)["field"] == field


def test_limits_and_target_must_agree(dataset: Dataset) -> None:
    """Swapped limits, and a target outside them."""
    with pytest.raises(Contradiction):
        answered(dataset, **{**QUESTION, "low": "0.13 mm", "high": "0.07 mm"})
    with pytest.raises(Contradiction):
        answered(dataset, **QUESTION, target="0.2 mm")
