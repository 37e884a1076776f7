"""The query of the reference data: controls, filters by column, and cursors that carry the version they page through."""

import re
from base64 import urlsafe_b64decode, urlsafe_b64encode
from collections.abc import Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from hashlib import sha256
from typing import Any
from urllib.parse import parse_qsl, urlencode

from service.api.calculators import ProblemFound

MOST_ROWS = 500
ROWS = 100
CONTROLS = ("dataset", "format", "limit", "cursor")
LONGEST_VALUE = 200
_SHORT = re.compile("[0-9]{1,3}")
NOT_A_CURSOR: dict[str, Any] = {
    "parameter": "cursor",
    "code": "not-a-cursor",
    "detail": "This cursor does not belong to this question; follow links.next, or start without a cursor.",
}


@dataclass(frozen=True, slots=True)
class Asked:
    """What the query of a reference address asks.

    Attributes:
        dataset: The pinned version, from ``dataset`` or from the cursor, or ``None``.
        format: The face, or ``None``.
        limit: Most rows of one page.
        start: Rows before this page.
        filters: Further names with their values.
    """

    dataset: str | None
    format: str | None
    limit: int
    start: int
    filters: Mapping[str, str]

    @property
    def seal(self) -> str:
        """What ties a cursor to its question."""
        return sha256(urlencode(sorted(self.filters.items())).encode()).hexdigest()[:8]


def read(query_string: bytes, controls: tuple[str, ...], filters: tuple[str, ...]) -> Asked:
    """The question in a query.

    Args:
        query_string: As it came in.
        controls: Which of ``CONTROLS`` this address knows.
        filters: Further names that this address knows.

    Raises:
        ProblemFound: It cannot be read; a name is unknown or repeated; a value cannot be what it should be.
    """
    values = _pairs(query_string, (*controls, *(name for name in filters if name not in controls)))
    errors: list[dict[str, Any]] = []
    limit, start, pinned = ROWS, 0, values.get("dataset")
    asked = Asked(None, None, limit, 0, {name: value for name, value in values.items() if name not in CONTROLS})
    if "limit" in values:
        if _SHORT.fullmatch(values["limit"]) and 0 < int(values["limit"]) <= MOST_ROWS:
            limit = int(values["limit"])
        else:
            detail = f"A page has 1 to {MOST_ROWS} rows."
            errors.append({"parameter": "limit", "code": "outside-validity", "detail": detail, "example": str(ROWS)})
    if "cursor" in values:
        found = _opened(values["cursor"])
        if found is None or found[2] != asked.seal or pinned not in (None, found[0]):
            errors.append(NOT_A_CURSOR)
        else:
            pinned, start, _ = found
    if errors:
        raise ProblemFound(("invalid-input", "", errors, {}))
    return Asked(pinned, values.get("format"), limit, start, asked.filters)


def own_query(asked: Asked, version: str, *, pin: bool) -> str:
    """The query that asks for the same page again; ``pin`` names the version."""
    return urlencode(_again(asked, version, asked.start, pin=pin))


def next_query(asked: Asked, version: str, total: int, *, pin: bool) -> str | None:
    """The query of the page after this one, or ``None`` after the last."""
    following = asked.start + asked.limit
    return urlencode(_again(asked, version, following, pin=pin)) if following < total else None


def _again(asked: Asked, version: str, start: int, *, pin: bool) -> dict[str, str]:
    pairs = dict(asked.filters)
    if pin:
        pairs["dataset"] = version
    if asked.format:
        pairs["format"] = asked.format
    if asked.limit != ROWS:
        pairs["limit"] = str(asked.limit)
    if start:
        pairs["cursor"] = _sealed(version, start, asked.seal)
    return pairs


def _pairs(query_string: bytes, known: tuple[str, ...]) -> dict[str, str]:
    if not query_string:
        return {}
    try:
        pairs = parse_qsl(
            query_string.decode("ascii"), keep_blank_values=True, strict_parsing=True, errors="strict", max_num_fields=100
        )
    except ValueError:
        detail = "The query could not be read: names and values are percent-encoded UTF-8, joined by = and &."
        raise ProblemFound(("unreadable", detail, [], {})) from None
    values: dict[str, str] = {}
    errors: list[dict[str, Any]] = []
    for name, value in pairs:
        plain = name if name.isascii() and name.replace("_", "").isalnum() and len(name) <= 60 else "(unreadable)"
        if name not in known:
            entry: dict[str, Any] = {"parameter": plain, "code": "unknown-name", "detail": "This address has no such name."}
            near = get_close_matches(name[:60], known, n=1, cutoff=0.5)
            errors.append({**entry, **({"did_you_mean": near[0]} if near else {}), "allowed": list(known)})
        elif name in values:
            errors.append({"parameter": plain, "code": "repeated", "detail": "Send each name once."})
        elif not value or len(value) > LONGEST_VALUE:
            detail = f"The text is empty or has more than {LONGEST_VALUE} characters."
            errors.append({"parameter": plain, "code": "too-long" if value else "too-short", "detail": detail})
        else:
            values[name] = value
    if errors:
        raise ProblemFound(("invalid-input", "", errors, {}))
    return values


def _sealed(version: str, start: int, seal: str) -> str:
    return urlsafe_b64encode(f"{version}/{start}/{seal}".encode()).decode().rstrip("=")


def _opened(cursor: str) -> tuple[str, int, str] | None:
    """Version, start and seal of a cursor, or ``None`` when it is none of ours."""
    try:
        version, start, seal = urlsafe_b64decode(cursor + "=" * (-len(cursor) % 4)).decode("ascii").split("/")
    except ValueError:
        return None
    if not start.isdigit() or len(start) > 9 or _sealed(version, int(start), seal) != cursor:
        return None
    return version, int(start), seal
