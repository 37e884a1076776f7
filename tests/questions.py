"""Questions for the tests: a sound one with a few fields changed, and quantities from a whole legal range."""

from collections.abc import Mapping
from typing import Any

from hypothesis import strategies as st


def changed(question: Mapping[str, Any], changes: Mapping[str, Any]) -> dict[str, Any]:
    """The question with some fields changed; ``None`` takes a field out."""
    return {name: value for name, value in {**question, **changes}.items() if value is not None}


def quantities(low: float, high: float, unit: str) -> st.SearchStrategy[dict[str, Any]]:
    """Every quantity from low to high, both included, as it is sent: ``{"value": …, "unit": …}``."""
    return st.floats(low, high).map(lambda value: {"value": value, "unit": unit})
