"""Orders of tightening against drawings worked out by hand, and the properties that every order must have."""

from collections.abc import Sequence
from math import cos, dist, pi, sin

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.calculations.tightening_sequence import Position, layout_positions, tightening_order, tightening_passes
from service.errors import Contradiction, OutsideValidity


def order_of(*, positions: Sequence[Position], groups: Sequence[int] = ()) -> tuple[int, ...]:
    return tightening_order(positions=positions, groups=groups).numbers


@pytest.mark.parametrize(
    ("layout", "order"),
    [
        ("circle-8", (1, 5, 3, 7, 2, 6, 4, 8)),
        ("grid-2x4", (3, 6, 4, 5, 2, 7, 1, 8)),
        ("circle-6", (1, 4, 2, 5, 3, 6)),
        ("circle-4", (1, 3, 2, 4)),
        ("circle-5", (1, 3, 5, 2, 4)),
        ("grid-2x2", (1, 4, 2, 3)),
        ("row-5", (3, 2, 4, 1, 5)),
        ("row-6", (3, 4, 2, 5, 1, 6)),
        ("circle-1", (1,)),
        ("row-2", (1, 2)),
    ],
)
def test_orders_worked_out_by_hand(layout: str, order: tuple[int, ...]) -> None:
    """Crosses on circles, and from the middle outwards on alternating sides in rows and grids (common practice)."""
    assert order_of(positions=layout_positions(layout=layout)) == order


@pytest.mark.parametrize("count", [4, 6, 8, 10, 12, 16, 32])
def test_even_circles_cross_over(count: int) -> None:
    """On an even circle every second fastener is straight across from the one before it."""
    order = order_of(positions=layout_positions(layout=f"circle-{count}"))
    for first, second in zip(order[::2], order[1::2], strict=True):
        assert abs(first - second) == count // 2


@given(rows=st.integers(1, 4), columns=st.integers(1, 16))
def test_grids_go_outwards(rows: int, columns: int) -> None:
    """No fastener is tightened before one that is nearer to the centre, and each is tightened once."""
    positions = layout_positions(layout=f"grid-{rows}x{columns}")
    order = order_of(positions=positions)
    assert sorted(order) == list(range(1, rows * columns + 1))
    centre = ((columns - 1) / 2, -(rows - 1) / 2)
    radii = [dist(positions[number - 1], centre) for number in order]
    assert radii == sorted(radii) or max(b - a for a, b in zip(radii[1:], radii, strict=False)) < 0.01 * max(radii)


places = st.lists(st.tuples(st.integers(-200, 200), st.integers(-200, 200)), min_size=1, max_size=40, unique=True)


@given(places=places, factor=st.sampled_from([1e-3, 0.25, 25.4]))
def test_order_does_not_depend_on_the_unit(places: list[tuple[int, int]], factor: float) -> None:
    """The same pattern in millimetres or inches gives the same order, and every fastener comes once."""
    order = order_of(positions=[(float(x), float(y)) for x, y in places])
    assert sorted(order) == list(range(1, len(places) + 1))
    assert order_of(positions=[(x * factor, y * factor) for x, y in places]) == order


def test_measured_circle_gives_the_order_of_the_drawing() -> None:
    """Eight holes on 120 mm measured to 0.1 mm, anywhere on the sheet, are crossed like the drawn circle."""
    positions = [
        (round(300 + 60 * sin(2 * pi * place / 8), 1), round(-80 + 60 * cos(2 * pi * place / 8), 1)) for place in range(8)
    ]
    assert order_of(positions=positions) == (1, 5, 3, 7, 2, 6, 4, 8)


def test_groups_come_in_their_rank() -> None:
    """Six case studs of rank 1 first, from the middle, then the rim of rank 2; no rank mixes with another."""
    positions = layout_positions(layout="grid-3x4")
    groups = [1 if row == 1 else 2 for _ in range(4) for row in range(3)]
    order = order_of(positions=positions, groups=groups)
    assert [groups[number - 1] for number in order] == [1] * 4 + [2] * 8
    # The row of rank 1 is numbered 2, 5, 8, 11: from its middle outwards on alternating sides.
    assert order[:4] == (5, 8, 2, 11)


def test_passes() -> None:
    """40, 70 and 100 % of 34 N·m, and once more over all at 34 N·m; by hand 13.6, 23.8, 34, 34."""
    passes = tightening_passes(torque=34.0, order=(1, 3, 2, 4))
    assert [step.torque for step in passes] == pytest.approx([13.6, 23.8, 34.0, 34.0])
    assert all(step.order == (1, 3, 2, 4) for step in passes)
    assert tightening_passes(torque=30.0, order=(1, 2), shares=(1 / 3, 2 / 3, 1.0))[0].torque == 10.0


def test_a_single_fastener_is_tightened_once() -> None:
    """There is nothing to even out around one gland nut."""
    assert [step.share for step in tightening_passes(torque=340.0, order=(1,))] == [1.0]


@pytest.mark.parametrize("layout", ["", "circle-0", "circle-65", "grid-9x9", "grid-0x4", "ring-8", "circle-8 ", "grid-2"])
def test_unknown_layouts_are_refused(layout: str) -> None:
    """The refusal shows the three kinds of layout that are known."""
    with pytest.raises(OutsideValidity, match="circle-N") as refusal:
        layout_positions(layout=layout)
    assert refusal.value.field == "layout"


def test_impossible_patterns_are_refused() -> None:
    """No fasteners, two in one place, ranks that do not match, stages that do not rise to 1."""
    with pytest.raises(OutsideValidity):
        order_of(positions=[])
    with pytest.raises(OutsideValidity, match="one place"):
        order_of(positions=[(0.0, 0.0), (0.0, 0.0)])
    with pytest.raises(Contradiction):
        order_of(positions=[(0.0, 0.0), (1.0, 0.0)], groups=[1])
    for shares in ((), (0.7, 0.4, 1.0), (0.4, 0.9), (0.0, 1.0)):
        with pytest.raises(OutsideValidity, match="rise to 1"):
            tightening_passes(torque=34.0, order=(1, 2), shares=shares)
    with pytest.raises(OutsideValidity):
        tightening_passes(torque=0.0, order=(1, 2))
