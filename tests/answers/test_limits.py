"""Exactly on a limit is within it, in whatever units it was sent."""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.answers.asking import ask
from service.answers.limits import above, below
from service.answers.topics import BY_NAME
from service.reference.dataset import Dataset


@given(st.floats(1e-9, 1e9), st.floats(-3e-10, 3e-10))
def test_the_last_bits_decide_nothing(limit: float, hair: float) -> None:
    value = limit * (1 + hair)
    assert not above(value, limit)
    assert not below(value, limit)


@given(st.floats(1e-9, 1e9), st.floats(1e-8, 1.0))
def test_what_a_gauge_can_show_decides(limit: float, share: float) -> None:
    assert above(limit * (1 + share), limit)
    assert below(limit * (1 - share), limit)


@pytest.mark.parametrize(
    ("topic", "question", "code"),
    [
        # 2 · 0.1 m · 4500/60 Hz = 15 m/s exactly; 75 mm at 6000 rpm is the same speed in other figures.
        ("piston_motion", {"stroke": "100 mm", "rod_length": "200 mm", "speed": "4500 rpm"}, "piston-speed-high"),
        ("piston_motion", {"stroke": "75 mm", "rod_length": "150 mm", "speed": "6000 rpm"}, "piston-speed-high"),
        ("piston_motion", {"stroke": "70 mm", "rod_length": "112 mm", "speed": "2000 rpm"}, "rod-ratio-low"),  # 1.6 exactly
        ("oil", {"sump": "2.85 L", "planned_fill": "2.75 L"}, "oil-count-short"),  # 0.1 L short, not more
        ("oil", {"sump": "2.9 L", "planned_fill": "2.8 L"}, "oil-count-short"),
        (
            "cylinder_check",
            {"gauge_pressures": ["95 psi", "97 psi"], "altitude": "0 m", "idle_vacuum": "15 inHg"},
            "vacuum-low",
        ),
    ],
)
def test_a_question_exactly_on_the_limit_raises_nothing(
    topic: str, question: dict[str, Any], code: str, dataset: Dataset
) -> None:
    """The limits are those that the rules state in words; each product above is exact in decimal."""
    found = ask(BY_NAME[topic], question, dataset).answer
    assert code not in [finding.rule.code for finding in found.findings]
