"""The answer about combinations: the same figures as the other calculators, counted, and limits in the builder's words."""

from typing import Any

import pytest

from service.answers.asking import ask
from service.answers.combinations import TOPIC
from service.answers.compression import TOPIC as COMPRESSION
from service.answers.displacement import TOPIC as DISPLACEMENT
from service.answers.envelope import Answer
from service.errors import Contradiction, MissingInput, OutsideValidity
from service.quantities import Measure, shown
from service.reference.dataset import Dataset
from tests.answers.reading import assumed, si

approx = pytest.approx
MM, CM3 = 1e-3, 1e-6
SHOP: dict[str, Any] = {
    "cylinders": 4,
    "bores": ["85.5 mm", "86 mm", "88 mm"],
    "strokes": ["69 mm", "73 mm"],
    "rods": ["136 mm", "137 mm"],
    "heads": [{"name": "plain", "chamber_volume": "52 cm3"}, {"name": "opened", "chamber_volume": "56 cm3"}],
    "deck_clearances": ["1.2 mm"],
    "spacers": ["0 mm", "0.5 mm"],
    "cams": [{"intake_closing": "62 deg"}],
    "speed": "5000 rpm",
    "crevice_volume": "0.5 cm3",
    "objective": {"quantity": "displacement", "goal": "most"},
}


def answered(dataset: Dataset, **changed: Any) -> Answer:
    document = {key: value for key, value in {**SHOP, **changed}.items() if value is not None}
    answer = ask(TOPIC, document, dataset).answer
    TOPIC.result.model_validate(shown(answer.result))
    return answer


def test_every_combination_as_the_other_calculators_have_it(dataset: Dataset) -> None:
    """All 48 asked: each one's displacement, ratio, squish and effective ratio equal the single questions'."""
    best = answered(dataset, best=100).result["best"]
    assert len(best) == 48
    for entry in best:
        parts, makes = entry["parts"], entry["makes"]
        mm = {name: {"value": si(parts[name]) / MM, "unit": "mm"} for name in ("bore", "stroke", "rod_length")}
        one = ask(
            COMPRESSION,
            {
                **mm,
                "chamber_volume": SHOP["heads"][parts["head"] - 1]["chamber_volume"],
                "deck_clearance": "1.2 mm",
                "spacer_thickness": {"value": si(parts["spacer_thickness"]) / MM, "unit": "mm"},
                "crevice_volume": "0.5 cm3",
                "intake_closing": SHOP["cams"][parts["cam"] - 1]["intake_closing"],
            },
            dataset,
        ).answer.result
        size = ask(DISPLACEMENT, {"cylinders": 4, "bore": mm["bore"], "stroke": mm["stroke"]}, dataset).answer.result
        assert si(makes["displacement"]) == approx(si(size["displacement"]))
        assert makes["compression_ratio"] == approx(one["compression_ratio"])
        assert makes["effective_ratio"] == approx(one["effective_ratio"])
        assert si(makes["squish_clearance"]) == approx(si(one["squish_clearance"]))


def test_limits_and_order(dataset: Dataset) -> None:
    """Ratios of 7.5 to 8, largest first: every one within, none larger left out, and each limit's failures counted."""
    limits = {"compression_ratio": {"low": 7.5, "high": 8.0}, "squish_clearance": {"low": "1.5 mm"}}
    everything = answered(dataset, best=100).result["best"]
    fits = [
        entry
        for entry in everything
        if 7.5 <= entry["makes"]["compression_ratio"] <= 8 and si(entry["makes"]["squish_clearance"]) > 1.4 * MM
    ]
    result = answered(dataset, limits=limits, best=100).result
    assert result["accepted"] == len(fits) == len(result["best"])
    assert [entry["number"] for entry in result["best"]] == [entry["number"] for entry in fits]
    assert [entry["rank"] for entry in result["best"]] == list(range(1, len(fits) + 1))
    sizes = [si(entry["makes"]["displacement"]) for entry in result["best"]]
    assert sizes == sorted(sizes, reverse=True)
    assert result["failed"]["squish_clearance"] == 24


@pytest.mark.parametrize(
    ("objective", "name"),
    [
        ({"quantity": "compression_ratio", "goal": "nearest", "ratio": 7.6}, "compression_ratio"),
        ({"quantity": "displacement", "goal": "nearest", "volume": "1600 cm3"}, "displacement"),
        ({"quantity": "squish_clearance", "goal": "nearest", "length": "1.6 mm"}, "squish_clearance"),
        ({"quantity": "mean_piston_speed", "goal": "nearest", "velocity": "12 m/s"}, "mean_piston_speed"),
    ],
)
def test_nearest_to_a_target(dataset: Dataset, objective: dict[str, Any], name: str) -> None:
    """The first is at least as near as every other: the target is read in its own unit."""
    target = {"compression_ratio": 7.6, "displacement": 1600e-6, "squish_clearance": 1.6e-3, "mean_piston_speed": 12.0}[name]
    best = answered(dataset, objective=objective, best=100).result["best"]
    values = [entry["makes"][name] for entry in best]
    away = [abs((value.si if isinstance(value, Measure) else value) - target) for value in values]
    assert away == sorted(away)


def test_barrel_heights_make_the_deck(dataset: Dataset) -> None:
    """173.7 − 36.5 − 136 = 1.2 mm of deck with the 73 mm crank, 3.2 mm with the 69 (by hand)."""
    best = answered(dataset, deck_clearances=None, barrel_heights=["173.7 mm"], rods=["136 mm"], best=100).result["best"]
    decks = {round(si(e["parts"]["stroke"]) / MM): round(si(e["makes"]["deck_clearance"]) / MM, 6) for e in best}
    assert decks == {69: 3.2, 73: 1.2}


def test_nothing_fits(dataset: Dataset) -> None:
    """An impossible wish is answered with what stands in the way, not with an error."""
    answer = answered(dataset, limits={"compression_ratio": {"low": 12.0}})
    assert answer.result["best"] == []
    assert answer.table is None
    assert [(f.rule.code, f.severity) for f in answer.findings] == [("no-combination-fits", "fix")]
    assert "48 fail compression ratio" in answer.findings[0].message


def test_what_was_assumed_and_what_nobody_can_check(dataset: Dataset) -> None:
    """The crevice, the lift of the cams and the rings' bore are named; whether parts fit is always open."""
    answer = answered(dataset, crevice_volume=None, gaskets=["0.5 mm"])
    assert assumed(answer) == {"crevice_volume"}
    assert {entry["check"] for entry in answer.unchecked} == {
        "bore-of-the-rings",
        "basis-of-the-effective-ratio",
        "fit-of-the-parts",
    }
    named = answered(dataset, checking_lift="0.050 in")
    assert {entry["check"] for entry in named.unchecked} == {"fit-of-the-parts"}


def test_refusals(dataset: Dataset) -> None:
    """No deck, decks twice, crossed limits, no target, a cam without rods, too many: each in the question's own names."""
    with pytest.raises(MissingInput) as deck:
        answered(dataset, deck_clearances=None)
    assert deck.value.field == "deck_clearances"
    with pytest.raises(Contradiction) as twice:
        answered(dataset, barrel_heights=["173.7 mm"])
    assert twice.value.fields == ("deck_clearances", "barrel_heights")
    with pytest.raises(Contradiction) as crossed:
        answered(dataset, limits={"compression_ratio": {"low": 8.0, "high": 7.0}})
    assert crossed.value.fields[0] == "limits/compression_ratio/low"
    with pytest.raises(MissingInput) as target:
        answered(dataset, objective={"quantity": "displacement", "goal": "nearest", "ratio": 7.6})
    assert target.value.field == "objective/volume"
    with pytest.raises(OutsideValidity) as rods:
        answered(dataset, rods=None)
    assert rods.value.field == "rods"
    with pytest.raises(OutsideValidity) as limit:
        answered(dataset, speed=None, limits={"mean_piston_speed": {"high": "15 m/s"}})
    assert limit.value.field == "limits/mean_piston_speed"
    many = {"bores": [f"{80 + i / 10} mm" for i in range(60)], "strokes": [f"{60 + i / 10} mm" for i in range(60)]}
    with pytest.raises(OutsideValidity, match="combinations") as count:
        answered(dataset, **many, spacers=[f"{i / 100} mm" for i in range(60)], gaskets=["0 mm", "0.5 mm"])
    assert count.value.field == "bores"
