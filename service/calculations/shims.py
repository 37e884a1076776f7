"""Which shims from the drawer bring an end play into its limits: exact, by rule, and bounded in time.

Every thickness is held as a whole number of tenths of a micrometre, in which hundredths of a millimetre and
thousandths of an inch are both whole. The sums that can be reached with so many shims of so many kinds are then the
set bits of one large integer: adding a shim is a shift. That needs a few thousand shifts whatever the stock, where
trying all stacks would need eighty million of them for six shims out of sixty kinds.
"""

from collections.abc import Iterator, Sequence
from itertools import islice
from math import gcd
from typing import NamedTuple, TypeAlias

from service.errors import Contradiction, OutsideValidity
from service.methods import Example, method
from service.units import Length

MOST_KINDS = 60
MOST_SHIMS = 6
MOST_OF_A_KIND = 1000
THINNEST: Length = 0.05e-3
THICKEST: Length = 2e-3
WIDEST_GAP: Length = 20e-3

# Whole units per metre: a tenth of a micrometre.
_PER_METRE = 10_000_000

# What the conversion from inches may leave of a thickness at the limit.
_TOUCH: Length = 1e-12

# Bits of reachable sums by (shims used, kinds used).
_Reach: TypeAlias = dict[tuple[int, int], int]


class ShimStack(NamedTuple):
    """A set of shims, thinnest first, their total and the end play that they leave, in m."""

    thicknesses: tuple[Length, ...]
    total: Length
    end_play: Length


class ShimChoice(NamedTuple):
    """What the stock allows.

    Attributes:
        best: The stack to fit, or None if no stack gives an end play within the limits.
        alternatives: The next best within the limits, each with another end play.
        nearest: If none fits, the stacks that come closest from below and above.
    """

    best: ShimStack | None
    alternatives: tuple[ShimStack, ...]
    nearest: tuple[ShimStack, ...]


def _units(value: Length) -> int:
    return round(value * _PER_METRE)


class _Stock:
    """The stock in whole units, thinnest first, with the reachable sums of every tail of it."""

    def __init__(self, counts: dict[int, int], pick: int) -> None:
        self.kinds = sorted(counts)
        self.counts = [min(counts[kind], pick) for kind in self.kinds]
        self.pick = pick
        # With a fixed number of shims only the excess over the thinnest matters, in its common step.
        self.thinnest = self.kinds[0]
        self.step = gcd(*(kind - self.thinnest for kind in self.kinds)) or 1
        self.steps = [(kind - self.thinnest) // self.step for kind in self.kinds]
        self.tails = self._tails()

    def _tails(self) -> list[_Reach]:
        """For each kind, the sums (in steps) reachable with that kind and the thicker ones."""
        reach: _Reach = {(0, 0): 1}
        tails = [reach]
        for steps, count in zip(reversed(self.steps), reversed(self.counts), strict=True):
            extended = dict(reach)
            for (used, kinds), sums in reach.items():
                for copies in range(1, min(count, self.pick - used) + 1):
                    key = (used + copies, kinds + 1)
                    extended[key] = extended.get(key, 0) | sums << steps * copies
            reach = extended
            tails.append(reach)
        tails.reverse()
        return tails

    def sums(self) -> int:
        """Bits of all sums that exactly ``pick`` shims can reach."""
        bits = 0
        for (used, _), sums in self.tails[0].items():
            if used == self.pick:
                bits |= sums
        return bits

    def total(self, steps: int) -> int:
        """Total thickness in whole units of a stack that sums to so many steps."""
        return self.pick * self.thinnest + steps * self.step

    def stack(self, steps: int) -> list[int]:
        """The stack of a reachable sum with the fewest kinds, then the thinnest first shim, second shim and so on."""

        def reachable(index: int, used: int, kinds: int, rest: int) -> bool:
            return rest >= 0 and bool(self.tails[index].get((used, kinds), 0) >> rest & 1)

        kinds = min(k for (used, k), sums in self.tails[0].items() if used == self.pick and sums >> steps & 1)
        left, rest, chosen = self.pick, steps, list[int]()
        for index, kind in enumerate(self.kinds):
            for copies in range(min(self.counts[index], left), -1, -1):
                fewer = kinds - (copies > 0)
                if reachable(index + 1, left - copies, fewer, rest - copies * self.steps[index]):
                    chosen += [kind] * copies
                    left, kinds, rest = left - copies, fewer, rest - copies * self.steps[index]
                    break
        return chosen


def _nearest_first(bits: int, aim: int, step: int, lowest: int, highest: int) -> Iterator[int]:
    """Set bits p within the bounds by |aim − 2·step·p|, the nearest first; on a tie the lower, thinner one.

    The aim is doubled so that a target half-way between two sums is a whole number too.
    """
    lowest, highest = max(lowest, 0), min(highest, bits.bit_length())
    window = bits >> lowest & (1 << max(highest - lowest + 1, 0)) - 1
    middle = min(max(aim // (2 * step) + 1 - lowest, 0), window.bit_length())
    below, above = window & (1 << middle) - 1, window >> middle
    while below or above:
        under = below.bit_length() - 1
        over = middle + (above & -above).bit_length() - 1
        if below and (not above or aim - 2 * step * (under + lowest) <= 2 * step * (over + lowest) - aim):
            below ^= 1 << under
            yield under + lowest
        else:
            above &= above - 1
            yield over + lowest


def _counted(stock: Sequence[tuple[Length, int]], pick: int) -> dict[int, int]:
    """Count of each thickness in whole units; equal thicknesses are put together."""
    if not 1 <= pick <= MOST_SHIMS:
        raise OutsideValidity("pick", "Send how many shims are fitted at once, 1 to 6; many engines use three.", "1 to 6")
    if not 1 <= len(stock) <= MOST_KINDS:
        raise OutsideValidity("stock", "Send 1 to 60 thicknesses with their counts.", "1 to 60 kinds")
    counts: dict[int, int] = {}
    for thickness, count in stock:
        if not THINNEST - _TOUCH <= thickness <= THICKEST + _TOUCH:
            raise OutsideValidity("stock", "Shims are 0.05 to 2 mm thick; is the unit right?", "0.05 to 2 mm")
        if not 0 <= count <= MOST_OF_A_KIND:
            raise OutsideValidity("stock", "Send how many shims of each thickness there are, 0 to 1000.", "0 to 1000")
        if count:
            counts[_units(thickness)] = counts.get(_units(thickness), 0) + count
    if sum(counts.values()) < pick:
        raise OutsideValidity("stock", "The stock holds fewer shims than are to be fitted; add thicknesses or counts.")
    return counts


def _check_limits(gap: Length, low: Length, high: Length, target: Length | None) -> None:
    if not 0 < gap <= WIDEST_GAP:
        raise OutsideValidity("gap", "Send the play measured without any shims, above zero and at most 20 mm.", "0 to 20 mm")
    if not 0 <= low < high:
        raise Contradiction(("low", "high"), "The lower limit must be zero or more and below the upper one.")
    if target is not None and not low <= target <= high:
        raise Contradiction(("target", "low", "high"), "The target must lie between the limits; leave it out for the middle.")


def _as_stack(drawer: _Stock, steps: int, space: int) -> ShimStack:
    chosen = drawer.stack(steps)
    total = sum(chosen)
    return ShimStack(tuple(kind / _PER_METRE for kind in chosen), total / _PER_METRE, (space - total) / _PER_METRE)


@method(
    id="shim-choice",
    title="Shims from stock for an end play",
    formula="choose N shims so that low ≤ gap − Σt ≤ high and |gap − Σt − target| is least; on a tie the thinner set, "
    "then the fewest kinds, then the thinner shims",
    symbols={"gap": "measured without shims [m]", "t": "thickness of a shim [m]", "N": "number of shims"},
    source="derived",
    locator="complete search by dynamic programming over whole tenths of a micrometre",
    evidence="derived",
    valid="up to 60 kinds of 0.05 to 2 mm and 6 shims",
    example=Example(
        {
            "gap": 1.18e-3,
            "low": 0.07e-3,
            "high": 0.13e-3,
            "pick": 3,
            "stock": ((0.34e-3, 3), (0.36e-3, 3)),
            "target": 0.12e-3,
        },
        {"total": 1.06e-3, "end_play": 0.12e-3},
        by="by hand: 1.18 − (0.34 + 0.36 + 0.36) mm",
    ),
)
def best_shims(
    *, gap: Length, low: Length, high: Length, pick: int, stock: Sequence[tuple[Length, int]], target: Length | None = None
) -> ShimStack | None:
    """The stack to fit, or None if no stack of ``pick`` shims from stock gives an end play within the limits.

    Raises:
        OutsideValidity, Contradiction: as for ``choose_shims``.
    """
    return choose_shims(gap=gap, low=low, high=high, pick=pick, stock=stock, target=target, alternatives=0).best


def choose_shims(
    *,
    gap: Length,
    low: Length,
    high: Length,
    pick: int,
    stock: Sequence[tuple[Length, int]],
    target: Length | None = None,
    alternatives: int = 3,
) -> ShimChoice:
    """Choose exactly ``pick`` shims from stock (pairs of thickness in m and count) for an end play within the limits.

    The target is the middle of the limits unless given. Exact in tenths of a micrometre; the order of the stock does
    not matter.

    Raises:
        OutsideValidity: the gap, a thickness, a count, the number of kinds or of shims is out of range, or the stock
            holds too few shims.
        Contradiction: the limits are not in order, or the target is not between them.
    """
    _check_limits(gap, low, high, target)
    drawer = _Stock(_counted(stock, pick), pick)
    sums, step = drawer.sums(), drawer.step
    space, least, most = _units(gap), _units(low), _units(high)
    # What the shims have to fill beyond as many of the thinnest.
    excess = space - drawer.total(0)
    aim = 2 * excess - (least + most if target is None else 2 * _units(target))
    thinnest_sum, thickest_sum = -((most - excess) // step), (excess - least) // step

    def stacks(count: int, lowest: int, highest: int) -> list[ShimStack]:
        found = islice(_nearest_first(sums, aim, step, lowest, highest), count)
        return [_as_stack(drawer, steps, space) for steps in found]

    fitting = stacks(1 + alternatives, thinnest_sum, thickest_sum)
    if fitting:
        return ShimChoice(fitting[0], tuple(fitting[1:]), ())
    beyond = stacks(1, 0, thinnest_sum - 1) + stacks(1, thickest_sum + 1, sums.bit_length())
    return ShimChoice(None, (), tuple(beyond))
