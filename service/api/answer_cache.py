"""Answers kept by their question: a pure function of the request need not be worked out twice.

Product pages and scripts ask the same again and again. What is kept is bounded in octets, question and answer counted; the
oldest goes first. Nothing of it outlives the process, and a refusal is never kept.
"""

from collections import OrderedDict
from typing import NamedTuple


class Kept(NamedTuple):
    """An answer ready to be sent."""

    headers: tuple[tuple[bytes, bytes], ...]
    body: bytes


Key = tuple[str, str, bytes, bytes, bytes]
"""Method, path, query, Accept and body: everything that decides an answer."""


class AnswerCache:
    """The answers asked for last, up to a number of octets; none at all when that is zero."""

    def __init__(self, limit: int) -> None:
        self.limit = limit
        self.octets = 0
        self._held: OrderedDict[Key, Kept] = OrderedDict()

    def get(self, key: Key) -> Kept | None:
        """The kept answer to a question, now the youngest."""
        found = self._held.get(key)
        if found is not None:
            self._held.move_to_end(key)
        return found

    def keep(self, key: Key, answer: Kept) -> None:
        """Keep an answer, unless it alone would take an eighth of the room."""
        size = _size(key, answer)
        if size > self.limit // 8 or key in self._held:
            return
        self._held[key] = answer
        self.octets += size
        while self.octets > self.limit:
            oldest, kept = self._held.popitem(last=False)
            self.octets -= _size(oldest, kept)


def _size(key: Key, answer: Kept) -> int:
    headers = sum([len(name) + len(value) for name, value in answer.headers])
    return len(answer.body) + headers + sum(map(len, key)) + 1_000  # and what the objects themselves take, about
