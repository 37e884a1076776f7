"""What no answer may ever show."""

import re

import httpx

INSIDE = re.compile(
    r"Traceback|\.py\b|site-packages|/usr/|/home/|/root|/work|/tmp|/etc/|pydantic|pydantic_core|starlette|fastapi|uvicorn|orjson"
    r"|\bservice\.(?:api|answers|calculations|reference|quantities|faces|sheet)\b"
    r"|\b(?:Value|Type|Key|Index|Attribute|Recursion|ZeroDivision|Overflow|Unicode\w*|Validation|JSONDecode|Assertion)Error\b"
    r"|<class |object at 0x|__(?:init|main|import|builtins)__|DROP TABLE|<script|onerror=|\$\(id\)"
)


def assert_nothing_leaks(answer: httpx.Response) -> None:
    """No path, module, exception or raw input in the body or the header of an answer."""
    found = INSIDE.search(answer.text)
    assert found is None, f"{found[0]!r} in {answer.text[:500]}"
    for name, value in answer.headers.items():
        assert INSIDE.search(value) is None, (name, value)
    assert "server" not in answer.headers
