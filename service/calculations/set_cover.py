"""Exact smallest set cover of a small number of wanted things, each set a bit mask."""

from collections.abc import Sequence


def smallest_cover(sets: Sequence[int]) -> tuple[int, ...]:
    """Indices of the fewest sets whose union is the union of all.

    Depth-first by the wanted thing that the fewest sets hold, earlier sets first, with one more set allowed at a time:
    the first depth that succeeds is the least, and the same sets always give the same answer.
    """
    wanted = 0
    for mask in sets:
        wanted |= mask
    useful = _without_dominated(sets)
    bits = [bit for bit in range(wanted.bit_length()) if wanted >> bit & 1]
    holders = {bit: [(mask, index) for mask, index in useful if mask >> bit & 1] for bit in bits}
    rarest_first = sorted(bits, key=lambda bit: (len(holders[bit]), bit))
    order = [(1 << bit, holders[bit]) for bit in rarest_first]
    largest = max((mask.bit_count() for mask, _ in useful), default=0)
    size = 0
    while (found := _search(order, wanted, size, largest)) is None:
        size += 1
    return tuple(sorted(found))


def _without_dominated(sets: Sequence[int]) -> list[tuple[int, int]]:
    """Sets that no other set contains, the first of equal ones, with their indices."""
    return [
        (mask, index)
        for index, mask in enumerate(sets)
        if not any(
            mask | other == other and (mask != other or place < index) for place, other in enumerate(sets) if place != index
        )
    ]


def _search(
    order: Sequence[tuple[int, Sequence[tuple[int, int]]]], missing: int, left: int, largest: int
) -> tuple[int, ...] | None:
    """A cover of ``missing`` with at most ``left`` sets, or None."""
    if not missing:
        return ()
    if left * largest < missing.bit_count():
        return None
    choices = next(holding for bit, holding in order if missing & bit)
    for mask, index in choices:
        rest = _search(order, missing & ~mask, left - 1, largest)
        if rest is not None:
            return (index, *rest)
    return None
