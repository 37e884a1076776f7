"""One bracketing root finder for the few equations without a closed form."""

from collections.abc import Callable

LAST_DIGIT = 4e-16


def find_root(function: Callable[[float], float], low: float, high: float, *, precision: float = LAST_DIGIT) -> float:
    """Root of a continuous function between two arguments where it has opposite signs (or is zero).

    Chandrupatla's method: inverse quadratic interpolation where the last three points allow it, bisection elsewhere.
    It keeps the bracket, so it always ends, within ``precision`` of the argument, relative (Chandrupatla 1997).

    Raises:
        ValueError: both ends have the same sign. The caller brackets the root, so this is a mistake of the program.
    """
    a, at_a = low, function(low)
    b, at_b = high, function(high)
    if at_a == 0:
        return a
    if at_b == 0:
        return b
    if (at_a > 0) == (at_b > 0):
        raise ValueError("no sign change between the two arguments")
    share = 0.5
    for _ in range(200):
        x = a + share * (b - a)
        at_x = function(x)
        if (at_x > 0) == (at_a > 0):
            c, at_c = a, at_a
        else:
            c, at_c, b, at_b = b, at_b, a, at_a
        a, at_a = x, at_x
        best = a if abs(at_a) < abs(at_b) else b
        narrow = precision * max(abs(best), 1e-300) / abs(b - a)
        if at_a == 0 or narrow > 0.5:
            return best
        place, level = (a - b) / (c - b), (at_a - at_b) / (at_c - at_b)
        share = 0.5
        if level * level < place and (1 - level) * (1 - level) < 1 - place:
            share = at_a / (at_b - at_a) * at_c / (at_b - at_c)
            share += (c - a) / (b - a) * at_a / (at_c - at_a) * at_b / (at_c - at_b)
        share = min(1 - narrow, max(narrow, share))
    return best
