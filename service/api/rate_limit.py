"""An optional limit on the requests of one caller, counted by the ``limits`` library.

Off by default. The counts live in the memory of one worker and are not shared: with two workers a caller
may get twice the rate, which ``RateLimit-Policy`` says in its comment. A quota for a whole
site belongs into the proxy in front.
"""

import math
import time
from ipaddress import IPv6Address, ip_address

from service.api.refusal import Headers, Refusal


class RateLimiter:
    """Counts the requests of each caller in a sliding window.

    Args:
        rate: Such as ``"100/minute"``.

    Raises:
        RuntimeError: A rate is set but the ``limits`` library (the extra ``operations``) is not installed.
    """

    def __init__(self, rate: str) -> None:
        try:
            from limits import parse
            from limits.storage import MemoryStorage
            from limits.strategies import SlidingWindowCounterRateLimiter
        except ImportError:
            raise RuntimeError("A rate limit is set; install runstand[operations] for it.") from None
        self._rate = parse(rate)
        self._window = SlidingWindowCounterRateLimiter(MemoryStorage())
        seconds = self._rate.get_expiry()
        self._policy = f'"per-worker";q={self._rate.amount};w={seconds}'.encode()

    def count(self, caller: str) -> Headers:
        """Count one request of the caller.

        Returns:
            The header fields that tell what is left (draft-ietf-httpapi-ratelimit-headers).

        Raises:
            Refusal: 429, when nothing is left.
        """
        allowed = self._window.hit(self._rate, caller)
        stats = self._window.get_window_stats(self._rate, caller)
        wait = max(1, math.ceil(stats.reset_time - time.time()))
        headers: Headers = [
            (b"ratelimit-policy", self._policy),
            (b"ratelimit", b'"per-worker";r=%d;t=%d' % (max(0, stats.remaining), wait)),
        ]
        if not allowed:
            raise Refusal("too-many-requests", "", [*headers, (b"retry-after", b"%d" % wait)])
        return headers


def caller_of(client: tuple[str, int] | None) -> str:
    """Who is counted together: an IPv4 address, or the /64 of an IPv6 address, which one household holds."""
    if client is None:
        return "unknown"
    try:
        address = ip_address(client[0].partition("%")[0])
    except ValueError:
        return client[0][:64]
    if isinstance(address, IPv6Address):
        return str(IPv6Address(int(address) >> 64 << 64))
    return str(address)
