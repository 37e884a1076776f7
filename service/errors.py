"""The deliberate errors of Runstand. Their messages are written for the caller and safe to show.

RunstandError
├── OutsideValidity      a value for which the formula or the machine makes no sense
├── Contradiction        two or more inputs that cannot be true together
├── MissingInput         inputs that this question needs and that no default may replace
├── NotInDataset         an id that the reference dataset does not hold
├── UnknownDataset       a dataset version that this build does not hold
├── WithdrawnDataset     a dataset version that was taken back, with its successor
└── BrokenDataset        the dataset on disk is not what its manifest says; the service does not start
"""

import re
from collections.abc import Iterable, Mapping, Sequence
from difflib import get_close_matches
from typing import NamedTuple

_WORD = re.compile(r"[a-z0-9]+")


class RunstandError(Exception):
    """Base of every deliberate error."""


class OutsideValidity(RunstandError):
    """A value for which the formula or the machine makes no sense.

    Attributes:
        field: Name of the argument, which is also the name of the JSON field (``a/b`` for a nested one).
        reason: Why it is refused and what to send instead, as a sentence for the caller.
        allowed: The valid range in words or figures, or an empty string.
    """

    def __init__(self, field: str, reason: str, allowed: str = "") -> None:
        super().__init__(reason)
        self.field = field
        self.reason = reason
        self.allowed = allowed


class Contradiction(RunstandError):
    """Inputs that cannot be true together; names all of them."""

    def __init__(self, fields: Iterable[str], reason: str) -> None:
        super().__init__(reason)
        self.fields = tuple(fields)
        self.reason = reason


class Missing(NamedTuple):
    """One input that is missing: its field, why it is needed, and a value that would do."""

    field: str
    reason: str
    example: str = ""


class MissingInput(RunstandError):
    """Inputs that this question needs; where several are missing, each is named (see :meth:`of`).

    Attributes:
        field: The first missing input, named as in :class:`OutsideValidity`.
        missing: Every missing input, in the order in which the caller would send them.
    """

    def __init__(self, field: str, reason: str, example: str = "", *more: Missing) -> None:
        self.field = field
        self.missing = (Missing(field, reason, example), *more)
        super().__init__(" ".join(dict.fromkeys(one.reason for one in self.missing)))

    @classmethod
    def of(cls, missing: Sequence[Missing]) -> "MissingInput":
        """The refusal that names all of these; there is at least one."""
        first, *more = missing
        return cls(*first, *more)

    @property
    def fields(self) -> tuple[str, ...]:
        """The fields of all missing inputs."""
        return tuple(one.field for one in self.missing)


class NotInDataset(RunstandError):
    """An id that the reference dataset does not hold, with the nearest that it does."""

    def __init__(self, field: str, kind: str, asked: str, known: Iterable[str]) -> None:
        ids = sorted(known)
        self.field = field
        self.kind = kind
        self.nearest = _nearest(asked[:100].lower(), {known_id.lower(): known_id for known_id in ids})
        self.known = tuple(ids[:40])
        super().__init__(f"This {kind} is not in the dataset.")


def _in_order(words: Sequence[str], among: Sequence[str]) -> bool:
    """Whether all words are among others, in the same order: 8.9 does not say less than 9.8."""
    rest = iter(among)
    return all(word in rest for word in words)


def _nearest(asked: str, known: Mapping[str, str]) -> tuple[str, ...]:
    """Up to three ids: first those that hold every word of what was asked and more, then those that are spelled like it."""
    words = _WORD.findall(asked)
    fuller = sorted((it for it in known if words and _in_order(words, _WORD.findall(it))), key=lambda it: (len(it), it))
    alike = get_close_matches(asked, known, n=3, cutoff=0.4)
    return tuple(known[it] for it in dict.fromkeys([*fuller, *alike]))[:3]


class UnknownDataset(RunstandError):
    """A dataset version that this build does not hold."""

    def __init__(self, held: Iterable[str]) -> None:
        self.held = tuple(held)
        super().__init__("This dataset version is not held here.")


class WithdrawnDataset(RunstandError):
    """A dataset version that was taken back."""

    def __init__(self, version: str, reason: str, successor: str) -> None:
        super().__init__(f"Dataset {version} was withdrawn: {reason}")
        self.version = version
        self.reason = reason
        self.successor = successor


class BrokenDataset(RunstandError):
    """The dataset on disk is not what it should be; names file, line, column, what was found and what is allowed."""
