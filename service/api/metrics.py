"""Figures of one worker in the Prometheus text format, with a bounded number of series.

A label is only ever a method of a fixed list, a route as this service declares it, or a status; never a piece of what a
caller sent. The counts belong to one worker: with several workers behind a port, ``process_start_time_seconds`` tells
which one answered.
"""

import time
from bisect import bisect_left
from itertools import accumulate

MEDIA_TYPE = "text/plain; version=0.0.4; charset=utf-8"

_METHODS = frozenset({"GET", "HEAD", "POST", "QUERY", "OPTIONS", "PUT", "DELETE", "PATCH", "TRACE"})
_BOUNDS = (0.0005, 0.001, 0.0025, 0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1.0, 5.0)  # s
_MOST_ROUTES = 200
OTHER = "other"


class Metrics:
    """Counts requests, their durations and the octets sent."""

    def __init__(self) -> None:
        self._started = time.time()
        self._requests: dict[tuple[str, str, int], int] = {}
        self._routes: set[str] = set()
        self._durations = [0] * (len(_BOUNDS) + 1)
        self._duration_sum = 0.0
        self._octets = 0
        self.in_flight = 0
        self.shed = 0

    def observe(self, method: str, route: str | None, status: int, seconds: float, octets: int) -> None:
        """Count one answered request; ``route`` is the declared template, or None where no route fitted."""
        key = (method if method in _METHODS else OTHER, self._bounded(route), status)
        self._requests[key] = self._requests.get(key, 0) + 1
        self._durations[bisect_left(_BOUNDS, seconds)] += 1
        self._duration_sum += seconds
        self._octets += octets

    def _bounded(self, route: str | None) -> str:
        if route is None:
            return OTHER
        if route not in self._routes:
            if len(self._routes) >= _MOST_ROUTES:
                return OTHER
            self._routes.add(route)
        return route

    def render(self) -> bytes:
        """All figures as text, in a fixed order."""
        lines = [
            "# HELP runstand_requests_total Requests answered by this worker.",
            "# TYPE runstand_requests_total counter",
        ]
        for (method, route, status), count in sorted(self._requests.items()):
            labels = f'method="{method}",route="{_escaped(route)}",status="{status}"'
            lines.append(f"runstand_requests_total{{{labels}}} {count}")
        lines += [
            "# HELP runstand_request_duration_seconds Time from the first look at a request to its last octet.",
            "# TYPE runstand_request_duration_seconds histogram",
        ]
        totals = list(accumulate(self._durations))
        for bound, total in zip((*map(str, _BOUNDS), "+Inf"), totals, strict=True):
            lines.append(f'runstand_request_duration_seconds_bucket{{le="{bound}"}} {total}')
        lines += [
            f"runstand_request_duration_seconds_sum {self._duration_sum!r}",
            f"runstand_request_duration_seconds_count {totals[-1]}",
        ]
        for name, kind, words, value in (
            ("runstand_response_octets_total", "counter", "Octets of the bodies sent.", self._octets),
            ("runstand_requests_shed_total", "counter", "Requests answered 503 to keep the others quick.", self.shed),
            ("runstand_requests_in_flight", "gauge", "Requests being answered now.", self.in_flight),
            ("process_start_time_seconds", "gauge", "Start of this worker since the epoch.", self._started),
        ):
            lines += [f"# HELP {name} {words}", f"# TYPE {name} {kind}", f"{name} {value!r}"]
        return ("\n".join(lines) + "\n").encode()


def _escaped(label: str) -> str:
    return label.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n")
