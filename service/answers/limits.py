"""Values against limits: exactly on a limit is within it, whatever the last bits of a conversion or a sum say.

2.80 L of 2.90 L are 0.1 L short, not more, though their difference in binary is a little more than 0.1.
"""

LAST_BITS = 1e-9


def above(value: float, limit: float) -> bool:
    """Whether a value is above a limit in truth."""
    return value > limit + LAST_BITS * abs(limit)


def below(value: float, limit: float) -> bool:
    """Whether a value is below a limit in truth."""
    return value < limit - LAST_BITS * abs(limit)
