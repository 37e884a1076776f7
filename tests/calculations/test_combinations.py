"""Combinations of parts against one-at-a-time computation, counting and exhaustive search."""

import tracemalloc
from itertools import product
from math import inf, pi, radians

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.calculations import combinations
from service.calculations.combinations import Candidates, best_combinations, blocks, count, describe
from service.calculations.compression import clearance_volume, compression_ratio
from service.calculations.cranking import effective_ratio
from service.calculations.displacement import displacement
from service.calculations.piston_motion import mean_piston_speed
from service.errors import Contradiction, OutsideValidity

approx = pytest.approx

AXES = {
    "bore": (0.0855, 0.086, 0.088, 0.0905),
    "stroke": (0.069, 0.073, 0.074),
    "rod_length": (0.136, 0.137),
    "chamber_volume": (48e-6, 52e-6, 56e-6),
    "deck_clearance": (0.9e-3, 1.2e-3),
    "spacer_thickness": (0.0, 0.5e-3, 1e-3),
    "intake_closing": (radians(55), radians(62)),
}
SHOP = Candidates(AXES, cylinders=4, speed=5500 * pi / 30, crevice_volume=0.5e-6)


def one_by_one() -> list[dict[str, float]]:
    """Every combination through the scalar formulas of the other calculators, in the order of the lists."""
    rows = []
    for bore, stroke, rod, chamber, deck, spacer, closing in product(*AXES.values()):
        room = clearance_volume(
            bore=bore,
            chamber_volume=chamber,
            deck_clearance=deck,
            spacer_thickness=spacer,
            crevice_volume=0.5e-6,
        ).total
        swept = displacement(bore=bore, stroke=stroke, cylinders=1)
        rows.append(
            {
                "displacement": 4 * swept,
                "compression_ratio": compression_ratio(swept_volume=swept, clearance_volume=room),
                "effective_ratio": effective_ratio(
                    bore=bore, stroke=stroke, rod_length=rod, clearance_volume=room, intake_closing=closing
                ),
                "squish_clearance": deck + spacer,
                "deck_clearance": deck,
                "clearance_volume": room,
                "rod_ratio": rod / stroke,
                "bore_stroke_ratio": bore / stroke,
                "mean_piston_speed": mean_piston_speed(stroke=stroke, speed=5500 * pi / 30),
            }
        )
    return rows


ROWS = one_by_one()


def test_the_whole_set_equals_one_at_a_time() -> None:
    """864 combinations: each quantity of each equals what the scalar calculators give, in the same order."""
    assert count(candidates=SHOP) == len(ROWS) == 864
    found = list(blocks(candidates=SHOP, limits={}))
    for name in combinations.QUANTITIES:
        column = np.concatenate([block.quantities[name] for block in found])
        assert column == approx([row[name] for row in ROWS], rel=1e-12), name


@pytest.mark.parametrize(
    ("quantity", "goal", "target"),
    [
        ("displacement", "most", None),
        ("displacement", "least", None),
        ("compression_ratio", "nearest", 7.6),
        ("effective_ratio", "nearest", 6.3),
        ("squish_clearance", "least", None),
    ],
)
def test_best_against_sorting_everything(
    quantity: str, goal: combinations.Goal, target: float | None, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Exhaustive search: filter and sort all rows; ties keep the order of the lists. Blocks of 100 change nothing."""
    limits = {"compression_ratio": (7.0, 8.2), "squish_clearance": (1e-3, 1.8e-3)}
    fits = [
        (i, row)
        for i, row in enumerate(ROWS)
        if all(low - 1e-15 <= row[name] <= high + 1e-15 for name, (low, high) in limits.items())
    ]

    def score(row: dict[str, float]) -> float:
        value = row[quantity]
        return {"most": -value, "least": value, "nearest": abs(value - (target or 0))}[goal]

    expected = [i for i, _ in sorted(fits, key=lambda pair: (float(f"{score(pair[1]):.11e}"), pair[0]))][:7]
    for size in (combinations.BLOCK, 100):
        monkeypatch.setattr(combinations, "BLOCK", size)
        found = best_combinations(candidates=SHOP, limits=limits, quantity=quantity, goal=goal, target=target, most=7)
        assert found.accepted == len(fits)
        assert [ranked.combination for ranked in found.best] == expected
        assert found.total == 864


def test_counted_by_limit() -> None:
    """How many fail each limit, each counted by itself: the builder sees which limit stands in the way."""
    limits = {"compression_ratio": (9.0, 10.0), "rod_ratio": (1.9, 3.0)}
    found = best_combinations(candidates=SHOP, limits=limits, quantity="displacement", goal="most")
    assert found.failed["compression_ratio"] == sum(not 9 <= row["compression_ratio"] <= 10 for row in ROWS)
    assert found.failed["rod_ratio"] == sum(not 1.9 <= row["rod_ratio"] <= 3.0 for row in ROWS)
    assert found.failed["impossible"] == 0
    assert found.accepted == sum(9 <= row["compression_ratio"] <= 10 and 1.9 <= row["rod_ratio"] <= 3.0 for row in ROWS)


def test_a_limit_may_be_open_at_one_end() -> None:
    """At least 7.5:1 without an upper end keeps exactly those; exactly on a limit is within it."""
    ratios = [row["compression_ratio"] for row in ROWS]
    for low, high in ((7.5, inf), (-inf, 7.5), (min(ratios), max(ratios))):
        found = best_combinations(
            candidates=SHOP, limits={"compression_ratio": (low, high)}, quantity="displacement", goal="most"
        )
        assert found.accepted == sum(low <= ratio <= high for ratio in ratios)
        assert found.accepted > 0


def test_deck_follows_from_stroke_and_rod() -> None:
    """With the barrel height instead of the deck: 173.7 − 36.5 − 136 = 1.2 mm; a 74 mm crank leaves 0.7 (by hand)."""
    candidates = Candidates(
        {
            "bore": (0.086,),
            "stroke": (0.073, 0.074),
            "rod_length": (0.136,),
            "chamber_volume": (52e-6,),
            "barrel_height": (0.1737,),
        },
        cylinders=4,
    )
    block = next(blocks(candidates=candidates, limits={}))
    assert block.quantities["deck_clearance"] == approx([1.2e-3, 0.7e-3])


def test_impossible_combinations_are_counted_and_never_win() -> None:
    """A rod shorter than the throw and a crown that fills the chamber drop out, and nothing becomes infinite."""
    candidates = Candidates(
        {
            "bore": (0.086,),
            "stroke": (0.073, 0.25),
            "rod_length": (0.12, 0.136),
            "chamber_volume": (52e-6,),
            "deck_clearance": (1.2e-3,),
            "crown_volume": (0.0, -70e-6),
        },
        cylinders=4,
    )
    found = best_combinations(candidates=candidates, limits={}, quantity="displacement", goal="most")
    assert found.total == 8
    assert found.failed["impossible"] == 5  # four with the dome, and the 250 mm crank on the 120 mm rod
    assert found.accepted == 3
    assert all(np.isfinite(value) for ranked in found.best for value in ranked.quantities.values())


@settings(max_examples=40)
@given(data=st.data())
def test_any_legal_lists_are_answered_finitely(data: st.DataObject) -> None:
    """Over the legal ranges: as many combinations as the lists multiply to, all accepted ones finite, best in order."""
    ranges = {
        "bore": (0.02, 0.2),
        "stroke": (0.02, 0.25),
        "rod_length": (0.04, 0.4),
        "chamber_volume": (5e-6, 3e-4),
        "deck_clearance": (-5e-3, 15e-3),
        "crown_volume": (-8e-5, 8e-5),
    }
    axes = {
        name: tuple(data.draw(st.lists(st.floats(low, high), min_size=1, max_size=3))) for name, (low, high) in ranges.items()
    }
    candidates = Candidates(axes, cylinders=1, speed=100.0)
    found = best_combinations(candidates=candidates, limits={}, quantity="compression_ratio", goal="least", most=200)
    assert found.total == np.prod([len(values) for values in axes.values()])
    assert found.accepted + found.failed["impossible"] == found.total
    values = [ranked.quantities["compression_ratio"] for ranked in found.best]
    assert all(np.isfinite(values))
    assert values == sorted(values) or values == approx(sorted(values), rel=1e-11)


def test_parts_of_a_ranked_combination_give_its_quantities() -> None:
    """The places on the axes name the very parts: put together again they make the figures."""
    ranked = describe(candidates=SHOP, combinations=np.array([500]))[0]
    parts = {axis: AXES[axis][place] for axis, place in ranked.parts.items()}
    assert ranked.quantities["displacement"] == approx(displacement(bore=parts["bore"], stroke=parts["stroke"], cylinders=4))
    assert ranked.quantities["squish_clearance"] == approx(parts["deck_clearance"] + parts["spacer_thickness"])


@pytest.mark.slow
def test_a_million_combinations_in_bounded_memory() -> None:
    """Memory is that of a block and of the best, not of the set: under 20 MB for a million combinations."""
    axes = {
        "bore": np.linspace(0.08, 0.095, 20).tolist(),
        "stroke": np.linspace(0.064, 0.086, 12).tolist(),
        "rod_length": [0.13, 0.136, 0.14],
        "chamber_volume": np.linspace(45e-6, 60e-6, 28).tolist(),
        "deck_clearance": np.linspace(0.9e-3, 2e-3, 12).tolist(),
        "spacer_thickness": [0.0, 0.25e-3, 0.5e-3, 1e-3],
    }
    candidates = Candidates(axes, cylinders=4)
    tracemalloc.start()
    try:
        found = best_combinations(
            candidates=candidates, limits={"compression_ratio": (7, 8)}, quantity="displacement", goal="most"
        )
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert found.total == 967_680
    assert 0 < found.accepted < found.total
    assert peak < 20e6


@pytest.mark.parametrize("missing", ["bore", "stroke", "chamber_volume", "deck_clearance"])
def test_an_engine_lacks_a_part(missing: str) -> None:
    """Without a bore, stroke, chamber or deck there is nothing to combine; the refusal names it."""
    axes = {name: values for name, values in AXES.items() if name != missing}
    with pytest.raises(OutsideValidity) as refusal:
        count(candidates=Candidates(axes, cylinders=4))
    assert refusal.value.field == missing


def test_refusals() -> None:
    """Deck twice, rods missing, too many, a limit on what was not asked, a target missing: each says what to send."""
    with pytest.raises(Contradiction):
        count(candidates=Candidates({**AXES, "barrel_height": (0.17,)}, cylinders=4))
    with pytest.raises(OutsideValidity, match="rod lengths are needed"):
        count(candidates=Candidates({**AXES, "rod_length": ()}, cylinders=4))
    with pytest.raises(OutsideValidity, match="combinations"):
        count(candidates=Candidates({**AXES, "bore": (0.086,) * 20_000}, cylinders=4))
    many = {**AXES, "stroke": (0.07,) * 200, "rod_length": (0.13,) * 200, "chamber_volume": (5e-5,)}
    with pytest.raises(OutsideValidity, match="combinations"):
        count(candidates=Candidates({**many, "bore": (0.086,), "spacer_thickness": ()}, cylinders=4))
    bare = Candidates({name: AXES[name] for name in ("bore", "stroke", "chamber_volume", "deck_clearance")}, cylinders=4)
    for name in ("rod_ratio", "effective_ratio", "mean_piston_speed", "nonsense"):
        with pytest.raises(OutsideValidity, match="cannot be computed"):
            best_combinations(candidates=bare, limits={name: (0, 1)}, quantity="displacement", goal="most")
        with pytest.raises(OutsideValidity, match="cannot be computed"):
            best_combinations(candidates=bare, limits={}, quantity=name, goal="most")
    with pytest.raises(OutsideValidity, match="target"):
        best_combinations(candidates=bare, limits={}, quantity="displacement", goal="nearest")
    with pytest.raises(OutsideValidity, match="1 to"):
        best_combinations(candidates=bare, limits={}, quantity="displacement", goal="most", most=0)
