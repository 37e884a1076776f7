"""The choice of shims against a search of every stack there is."""

from collections.abc import Iterator
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.calculations.shims import ShimStack, best_shims, choose_shims
from service.errors import Contradiction, OutsideValidity

MICRO = 1e-6


def every_stack(stock: list[tuple[int, int]], pick: int, start: int = 0) -> Iterator[tuple[int, ...]]:
    """Every stack of ``pick`` shims from the stock (thickness in tenths of a micrometre, count), thinnest first."""
    if pick == 0:
        yield ()
        return
    for index in range(start, len(stock)):
        thickness, count = stock[index]
        for copies in range(1, min(count, pick) + 1):
            for rest in every_stack(stock, pick - copies, index + 1):
                yield (thickness,) * copies + rest


def ranked(stock: list[tuple[int, int]], pick: int, gap: int, low: int, high: int, target: Fraction) -> list[tuple[int, ...]]:
    """All stacks within the limits by the rule: nearest target, thinner set, fewest kinds, thinner shims."""
    fitting = [stack for stack in every_stack(sorted(stock), pick) if low <= gap - sum(stack) <= high]
    return sorted(fitting, key=lambda stack: (abs(gap - sum(stack) - target), sum(stack), len(set(stack)), stack))


def tenths(stack: ShimStack) -> tuple[int, ...]:
    return tuple(round(thickness * 1e7) for thickness in stack.thicknesses)


kinds = st.dictionaries(st.integers(500, 4000), st.integers(1, 4), min_size=1, max_size=7)
coarse = st.dictionaries(st.sampled_from(range(2000, 4001, 100)), st.integers(1, 4), min_size=1, max_size=7)


@settings(max_examples=150)
@given(
    stock=kinds | coarse,
    pick=st.integers(1, 4),
    low=st.integers(0, 900),
    width=st.integers(1, 900),
    aim=st.integers(0, 12),
    data=st.data(),
)
def test_choice_against_exhaustive_search(
    stock: dict[int, int], pick: int, low: int, width: int, aim: int, data: st.DataObject
) -> None:
    """Best stack and next best (each with another end play) are those of the sorted list of every stack."""
    pairs = sorted(stock.items())
    if sum(stock.values()) < pick:
        return
    stacks = list(every_stack(pairs, pick))
    middle = sum(data.draw(st.sampled_from(stacks))) + low + data.draw(st.integers(-50, width + 50))
    high = low + width
    target = None if aim > 10 else low + width * aim // 10
    wanted = Fraction(low + high, 2) if target is None else Fraction(target)
    expected = ranked(pairs, pick, middle, low, high, wanted)
    got = choose_shims(
        gap=middle / 1e7,
        low=low / 1e7,
        high=high / 1e7,
        pick=pick,
        stock=[(thickness / 1e7, count) for thickness, count in pairs],
        target=None if target is None else target / 1e7,
    )
    if not expected:
        assert got.best is None
        totals = sorted({sum(stack) for stack in stacks})
        around = [max((t for t in totals if middle - t > high), default=None)]
        around.append(min((t for t in totals if middle - t < low), default=None))
        assert [sum(tenths(stack)) for stack in got.nearest] == [total for total in around if total is not None]
        return
    assert got.best is not None
    assert tenths(got.best) == expected[0]
    firsts: dict[int, tuple[int, ...]] = {}
    for stack in expected:
        firsts.setdefault(sum(stack), stack)
    assert [tenths(stack) for stack in (got.best, *got.alternatives)] == list(firsts.values())[:4]
    assert round(got.best.end_play * 1e7) == middle - sum(expected[0])


def test_three_shims_by_hand() -> None:
    """1.18 mm without shims, two of each kind in the drawer: 0.34 + 0.36 + 0.36 leaves 0.12 mm, by hand the nearest."""
    stack = best_shims(gap=1.18e-3, low=0.07e-3, high=0.13e-3, pick=3, stock=[(t * 1e-5, 2) for t in (24, 30, 32, 34, 36)])
    assert stack is not None
    assert tenths(stack) == (3400, 3600, 3600)
    assert stack.end_play == pytest.approx(0.12e-3, abs=1e-12)


def test_fewest_kinds_come_first_among_equal_totals() -> None:
    """0.30 + 0.38 + 0.38, 0.32 + 0.36 + 0.38 and 0.34 + 0.36 + 0.36 all make 1.06 mm: two kinds, then the thinnest."""
    stack = best_shims(
        gap=1.18e-3, low=0.07e-3, high=0.13e-3, pick=3, stock=[(t * 1e-5, 2) for t in (30, 32, 34, 36, 38)], target=0.12e-3
    )
    assert stack is not None
    assert tenths(stack) == (3000, 3800, 3800)


def test_ties_take_the_thinner_set() -> None:
    """0.05 mm either side of the target: the thinner set, which errs towards more play, is taken."""
    stack = best_shims(gap=1.0e-3, low=0.0, high=0.2e-3, pick=1, stock=[(0.95e-3, 1), (0.85e-3, 1)])
    assert stack is not None
    assert tenths(stack) == (8500,)


def test_inch_shims_are_exact() -> None:
    """Thousandths of an inch are whole tenths of a micrometre: 0.047 in less three of 0.014 in leaves 0.005 in."""
    inch = 0.0254
    stack = best_shims(
        gap=0.047 * inch, low=0.005 * inch, high=0.0051 * inch, pick=3, stock=[(0.014 * inch, 3), (0.0125 * inch, 3)]
    )
    assert stack is not None
    assert tenths(stack) == (3556, 3556, 3556)
    assert stack.end_play == pytest.approx(0.005 * inch, abs=1e-12)


@given(data=st.data(), pick=st.integers(1, 3))
def test_order_and_grouping_of_the_stock_do_not_matter(data: st.DataObject, pick: int) -> None:
    """The same drawer written in any order, or one shim a line, gives the same stack."""
    stock = data.draw(st.lists(st.tuples(st.sampled_from(range(20, 40)), st.integers(1, 3)), min_size=1, max_size=8))
    singles = [(t, 1) for t, count in stock for _ in range(count)]
    if len(singles) < pick:
        return
    shuffled = data.draw(st.permutations(singles))
    gap = 0.33e-3 * pick + 0.1e-3
    choices = [
        choose_shims(gap=gap, low=0.0, high=0.3e-3, pick=pick, stock=[(t * 1e-5, count) for t, count in lines])
        for lines in (stock, shuffled)
    ]
    assert choices[0] == choices[1]


def test_no_stack_fits() -> None:
    """Only 0.24 and 0.26 in the drawer for a 1.18 mm gap: no stack, and the nearest leaves 0.40 mm (by hand)."""
    choice = choose_shims(gap=1.18e-3, low=0.07e-3, high=0.13e-3, pick=3, stock=[(0.24e-3, 3), (0.26e-3, 3)])
    assert choice.best is None
    assert choice.alternatives == ()
    assert [tenths(stack) for stack in choice.nearest] == [(2600, 2600, 2600)]
    assert choice.nearest[0].end_play == pytest.approx(0.40e-3, abs=1e-12)


def test_the_worst_legal_drawer_is_decided() -> None:
    """Sixty kinds without a common step and six to fit, eighty million stacks: the answer is a stack that fits."""
    worst = [((500 + (step * 7919) % 19501) * 1e-7, 1000) for step in range(59)] + [(2e-3, 1000)]
    gap = sum(thickness for thickness, _ in worst) / len(worst) * 6 + 0.1e-3
    best = choose_shims(gap=gap, low=0.07e-3, high=0.13e-3, pick=6, stock=worst).best
    assert best is not None
    assert 0.07e-3 <= best.end_play <= 0.13e-3


STOCK = [(0.34e-3, 3), (0.36e-3, 3)]


@pytest.mark.parametrize(
    ("field", "changed"),
    [
        ("pick", {"pick": 0}),
        ("pick", {"pick": 7}),
        ("stock", {"stock": []}),
        ("stock", {"stock": [(0.34, 3)]}),
        ("stock", {"stock": [(0.34e-3, 2)]}),
        ("stock", {"stock": [(0.34e-3, -1)]}),
        ("stock", {"stock": [(0.34e-3, 10**9)]}),
        ("stock", {"stock": [((500 + step) * 1e-7, 1) for step in range(61)]}),
        ("gap", {"gap": 0.0}),
        ("gap", {"gap": 1.18}),
    ],
)
def test_impossible_drawers_are_refused(field: str, changed: dict[str, object]) -> None:
    """Picks, stocks and gaps outside their range are refused by name; a metre for a millimetre is the usual slip."""
    given_: dict[str, object] = {"gap": 1.18e-3, "low": 0.07e-3, "high": 0.13e-3, "pick": 3, "stock": STOCK}
    with pytest.raises(OutsideValidity) as refusal:
        choose_shims(**{**given_, **changed})  # type: ignore[arg-type]
    assert refusal.value.field == field


@pytest.mark.parametrize(
    ("low", "high", "target"), [(0.13e-3, 0.07e-3, None), (0.07e-3, 0.07e-3, None), (0.07e-3, 0.13e-3, 0.2e-3)]
)
def test_contradicting_limits_are_refused(low: float, high: float, target: float | None) -> None:
    """Limits out of order, and a target outside them."""
    with pytest.raises(Contradiction):
        choose_shims(gap=1.18e-3, low=low, high=high, pick=3, stock=STOCK, target=target)


def test_thicknesses_at_the_limits_are_taken() -> None:
    """0.05 mm and 2 mm are legal, also when they come out of a conversion."""
    stack = best_shims(gap=2.15e-3, low=0.0, high=0.2e-3, pick=2, stock=[(500 * 1e-7, 1), (0.002, 1)])
    assert stack is not None
    assert tenths(stack) == (500, 20000)
