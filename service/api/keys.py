"""Optional API keys: in the ``X-Api-Key`` header only, known here only by their SHA-256 sums.

A key must be random and long (``openssl rand -hex 24``); a plain sum is enough then, and its comparison takes the same
time whatever was sent.
"""

import hashlib
import hmac
from collections.abc import Iterable

from service.api.refusal import Headers, Refusal

HEADER = b"x-api-key"


class ApiKeys:
    """The set of keys that are let in; an empty set lets everybody in."""

    def __init__(self, sums: Iterable[str] = ()) -> None:
        self._sums = tuple(bytes.fromhex(one) for one in sums)

    def __bool__(self) -> bool:
        return bool(self._sums)

    def check(self, key: bytes | None) -> None:
        """Let the caller pass or raise the refusal (401); every sum is compared, whichever fits."""
        if not self._sums:
            return
        offered = hashlib.sha256(key or b"").digest()
        fits = [hmac.compare_digest(offered, known) for known in self._sums]
        if key is None or True not in fits:
            raise Refusal("no-key", "", [(b"www-authenticate", b'ApiKey header="X-Api-Key"')])


def for_one_caller(headers: Headers) -> Headers:
    """Keep an answer that a key has opened out of shared caches, which would hand it to those without one."""
    vary = b", ".join([*(value for name, value in headers if name == b"vary"), b"X-Api-Key"])
    others = [
        (name, value.replace(b"public", b"private") if name == b"cache-control" else value)
        for name, value in headers
        if name != b"vary"
    ]
    return [*others, (b"vary", vary)]
