"""The valve order topic: the remembered tables of the trade, what the builder sees, assumptions and refusals."""

from typing import Any

import pytest

from service.answers.asking import ask
from service.answers.envelope import Answer
from service.answers.valve_order import TOPIC
from service.errors import Contradiction, MissingInput, NotInDataset, OutsideValidity
from service.quantities import shown
from service.reference.dataset import Dataset
from tests.answers.reading import assumed

CARD = {
    "intake_opening": "32.5 deg",
    "intake_closing": "60.5 deg",
    "exhaust_opening": "70.5 deg",
    "exhaust_closing": "32.5 deg",
}


def answered(dataset: Dataset, **question: Any) -> Answer:
    return ask(TOPIC, question, dataset).answer


def steps(answer: Answer) -> list[tuple[float, list[int], list[int]]]:
    """Crank angle, intakes and exhausts of every stop."""
    return [
        (shown(step["crank_angle"])["value"], step["intake"], step["exhaust"]) for step in answer.result["fewest_positions"]
    ]


def test_flat_four_in_two_positions(dataset: Dataset) -> None:
    """1-4-3-2: at 0 set 1, 2 intake and 1, 4 exhaust; at 360 the rest (handbook, worked apart)."""
    answer = answered(dataset, firing_order="1-4-3-2")
    assert steps(answer) == [(0.0, [1, 2], [1, 4]), (360.0, [3, 4], [2, 3])]
    assert answer.result["number_of_positions"] == 2
    assert answer.findings == []


@pytest.mark.parametrize(
    ("order", "expected"),
    [
        ("1-3-4-2", [(0.0, [1, 2], [1, 3]), (360.0, [3, 4], [2, 4])]),
        ("1-5-3-6-2-4", [(0.0, [1, 2, 4], [1, 3, 5]), (360.0, [3, 5, 6], [2, 4, 6])]),
        ("1", [(0.0, [1], [1])]),
        ("1-2", [(0.0, [1], [1]), (360.0, [2], [2])]),
    ],
)
def test_tables_of_the_trade(dataset: Dataset, order: str, expected: list[Any]) -> None:
    """The two-position tables of the in-line four and six, from memory; single and twin by plain reason."""
    assert steps(answered(dataset, firing_order=order)) == expected


def test_every_position_of_the_four(dataset: Dataset) -> None:
    """All four stops with the cylinder that fires there and the mark on the pulley."""
    found = shown(answered(dataset, firing_order="1-4-3-2").result["positions"])
    rows = [
        (row["crank_angle"]["value"], row["pulley_mark"]["value"], row["firing"], row["intake"], row["exhaust"])
        for row in found
    ]
    assert rows == [
        (0.0, 0.0, 1, [1, 2], [1, 4]),
        (180.0, 180.0, 4, [1, 4], [3, 4]),
        (360.0, 0.0, 3, [3, 4], [2, 3]),
        (540.0, 180.0, 2, [2, 3], [1, 2]),
    ]
    # The nearest ramp is that of cylinder 1's exhaust: 180 − 70.5 − 15 after its firing top dead centre.
    assert found[0]["room"]["value"] == pytest.approx(94.5)


def test_each_valve_is_set_once_on_the_shortest_way(dataset: Dataset) -> None:
    """Every valve of an eight stands in exactly one step, and the turns add up to the last position."""
    answer = answered(dataset, firing_order="1-8-4-3-6-5-7-2")
    every = [
        *((cylinder, "in") for _, intake, _ in steps(answer) for cylinder in intake),
        *((cylinder, "ex") for _, _, exhaust in steps(answer) for cylinder in exhaust),
    ]
    assert sorted(every) == sorted((cylinder, valve) for cylinder in range(1, 9) for valve in ("in", "ex"))
    turns = sum(shown(step["turn"])["value"] for step in answer.result["fewest_positions"])
    assert turns == pytest.approx(steps(answer)[-1][0])


def test_rotation_turns_the_side_of_the_marks(dataset: Dataset) -> None:
    """Marks lie against the rotation; which way the engine turns is assumed aloud where nobody says."""
    clockwise = answered(dataset, firing_order="1-4-3-2", rotation="clockwise")
    other = answered(dataset, firing_order="1-4-3-2", rotation="anticlockwise")
    assert clockwise.result["mark_side"].startswith("anticlockwise")
    assert other.result["mark_side"].startswith("clockwise")
    assert clockwise.result["positions"] == other.result["positions"]
    assert "rotation" not in assumed(clockwise)
    assert "rotation" in assumed(answered(dataset, firing_order="1-2"))


def test_the_engine_knows_its_order_and_rotation(dataset: Dataset) -> None:
    """The generic flat four answers as 1-4-3-2 would, and the facts are cited."""
    answer = answered(dataset, engine="air-cooled-flat-four")
    assert steps(answer) == steps(answered(dataset, firing_order="1-4-3-2"))
    assert ("fact", "engines/air-cooled-flat-four/firing_order") in answer.basis
    assert {"firing_order", "rotation"} <= assumed(answer)


def test_the_usual_card_is_assumed_with_its_source(dataset: Dataset) -> None:
    """Four events of a government manual, each named; a card that is sent is used instead."""
    events = {entry["field"]: entry for entry in answered(dataset, firing_order="1-4-3-2").assumptions}
    assert shown(events["exhaust_opening"]["value"])["value"] == pytest.approx(70.5)
    assert events["exhaust_opening"]["source"] == "tm-5-4310-389-14"
    assert set(events) == {*CARD, "ramp_margin", "firing_angles", "rotation"}
    own = answered(dataset, firing_order="1-4-3-2", ramp_margin="15 deg", **CARD)
    assert assumed(own) == {"firing_angles", "rotation"}
    assert own.result == answered(dataset, firing_order="1-4-3-2").result


def test_a_shared_intake_closing_alone_replaces_that_event(dataset: Dataset) -> None:
    """A build sheet that knows only when the intake closes keeps the rest of the usual card."""
    answer = answered(dataset, firing_order="1-4-3-2", intake_closing="90 deg")
    assert "intake_closing" not in assumed(answer)
    assert answer.result["number_of_positions"] == 2


def test_valves_out_of_reach_are_a_finding(dataset: Dataset) -> None:
    """One position cannot do a four: four valves are named; the same with more positions is sound."""
    answer = answered(dataset, firing_order="1-4-3-2", positions=1)
    assert [(f.rule.code, f.severity) for f in answer.findings] == [("valves-out-of-reach", "fix")]
    assert "exhaust of 2, intake of 3, exhaust of 3, intake of 4" in answer.findings[0].message
    assert answered(dataset, firing_order="1-4-3-2", positions=2).findings == []


def test_odd_fire_twin(dataset: Dataset) -> None:
    """With all firing angles given, an odd-fire engine is answered at its own dead centres."""
    answer = answered(dataset, firing_order="1-2", firing_angles=["0 deg", "450 deg"])
    marks = [shown(row["pulley_mark"])["value"] for row in answer.result["positions"]]
    assert marks == pytest.approx([0.0, 90.0])
    assert "firing_angles" not in assumed(answer)
    with pytest.raises(Contradiction):
        answered(dataset, firing_order="1-2", firing_angles=["0 deg"])


def test_a_table_row_for_every_position(dataset: Dataset) -> None:
    """The answer is a table too: cylinders as words."""
    table = answered(dataset, firing_order="1-4-3-2").table
    assert table is not None
    assert [row["intake"] for row in table] == ["1 2", "1 4", "3 4", "2 3"]


def test_refusals(dataset: Dataset) -> None:
    """No permutation, too many cylinders, half a card, no order at all, an engine that is not held."""
    for order in ("1-1-2", "2-3", "0-1", "-".join(str(number) for number in range(1, 18))):
        with pytest.raises(OutsideValidity) as refusal:
            answered(dataset, firing_order=order)
        assert refusal.value.field == "firing_order"
    with pytest.raises(MissingInput) as half:
        answered(dataset, firing_order="1-2", intake_opening="30 deg")
    assert half.value.field == "intake_closing"
    with pytest.raises(MissingInput) as order_missing:
        answered(dataset)
    assert order_missing.value.field == "firing_order"
    with pytest.raises(NotInDataset):
        answered(dataset, engine="air-cooled-flat-fuor")
