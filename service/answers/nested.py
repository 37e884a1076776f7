"""Refusals of a calculation, named by the caller's own fields where these are nested."""

from collections.abc import Iterator
from contextlib import contextmanager

from service.errors import Contradiction, OutsideValidity


@contextmanager
def inside(part: str) -> Iterator[None]:
    """Name the fields of a refusal as those of ``part``: ``low_mark`` becomes ``dipstick/low_mark``.

    Raises:
        OutsideValidity, Contradiction: as raised within, with the longer names.
    """
    try:
        yield
    except OutsideValidity as refusal:
        raise OutsideValidity(f"{part}/{refusal.field}", refusal.reason, refusal.allowed) from None
    except Contradiction as refusal:
        raise Contradiction([f"{part}/{field}" for field in refusal.fields], refusal.reason) from None
