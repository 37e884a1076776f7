"""The address line as a question, both ways."""

import contextlib
from typing import Annotated, Any
from urllib.parse import parse_qsl

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import Field

from service.answers.inputs import Bore, Cylinders, Measured, Request
from service.api import query
from service.api.strict_json import read_json
from service.quantities import Quantity


class Line(Request):
    """A hose."""

    bore: Bore
    length: Annotated[Quantity, Measured("length", "0.01 .. 10 m")]


class Gasket(Request):
    """A nested object."""

    bore: Bore | None = None


class Question(Request):
    """Every form that a request can have."""

    cylinders: Cylinders | None = None
    bore: Bore | None = None
    gasket: Gasket | None = None
    lines: Annotated[list[Line], Field(max_length=4)] | None = None
    bores: Annotated[list[Bore], Field(max_length=9)] | None = None
    stock: Annotated[dict[str, int], Field(max_length=9)] | None = None
    new: bool | None = None
    word: str | None = None


def test_dots_make_objects_and_indices_make_lists() -> None:
    pairs = [("gasket.bore", "88mm"), ("lines.1.bore", "13mm"), ("lines.0.bore", "12mm"), ("cylinders", "4"), ("new", "true")]
    assert query.decode(pairs, Question) == {
        "gasket": {"bore": "88mm"},
        "lines": [{"bore": "12mm"}, {"bore": "13mm"}],
        "cylinders": 4,
        "new": True,
    }


def test_commas_make_lists_of_plain_values_and_colons_make_mappings() -> None:
    pairs = [("bores", "85.5mm, 88mm"), ("stock", "0.34 mm:2,0.36 mm:4")]
    assert query.decode(pairs, Question) == {"bores": ["85.5mm", "88mm"], "stock": {"0.34 mm": 2, "0.36 mm": 4}}


@pytest.mark.parametrize(
    ("pairs", "code", "near"),
    [
        ([("cylindres", "4")], "unknown-name", "cylinders"),
        ([("bore", "86mm"), ("bore", "87mm")], "repeated", None),
        ([("gasket", "88mm")], "unknown-name", "gasket"),
        ([("gasket.bore.x", "88mm")], "unknown-name", None),
        ([("lines.x.bore", "1mm")], "unknown-name", None),
        ([("a.b.c.d.e.f.g.h", "1")], "unknown-name", None),
    ],
)
def test_unknown_and_repeated_names_are_refused(pairs: list[tuple[str, str]], code: str, near: str | None) -> None:
    with pytest.raises(query.BadQuery) as refused:
        query.decode(pairs, Question)
    assert refused.value.errors[0]["code"] == code
    if near:
        assert refused.value.errors[0]["did_you_mean"] == near


lengths = st.floats(25, 190).map(lambda v: {"value": v, "unit": "mm"}) | st.integers(1, 7).map(lambda v: f"{v} 3/8 in")
questions = st.fixed_dictionaries(
    {},
    optional={
        "cylinders": st.integers(1, 36),
        "bore": lengths,
        "gasket": st.fixed_dictionaries({"bore": lengths}),
        "lines": st.lists(st.fixed_dictionaries({"bore": lengths, "length": st.just("3.6 m")}), min_size=1, max_size=4),
        "bores": st.lists(lengths, min_size=1, max_size=9),
        "stock": st.dictionaries(st.sampled_from(["0.34 mm", "0.36 mm"]), st.integers(0, 9), min_size=1),
        "new": st.booleans(),
        "word": st.text("abc &=#%+ü?", min_size=1, max_size=20),
    },
)


@given(questions)
def test_a_link_asks_the_same_again(document: dict[str, Any]) -> None:
    """Encoding a validated request and decoding the address gives an equal request."""
    request = Question.model_validate(document)
    encoded = query.encode(request)
    pairs = parse_qsl(encoded, keep_blank_values=True)
    if pairs and pairs[0][0] == "in":
        again = Question.model_validate(read_json(query.unpack(pairs[0][1])))
    else:
        again = Question.model_validate(query.decode(pairs, Question))
    assert again == request


def test_a_packed_question_cannot_be_a_bomb() -> None:
    with pytest.raises(query.BadQuery):
        query.unpack(query.pack("x" * 5_000_000))


@given(st.text(max_size=60))
def test_no_text_breaks_unpacking(text: str) -> None:
    """Whatever comes in, the only way out besides bytes is a refusal."""
    with contextlib.suppress(query.BadQuery):
        assert isinstance(query.unpack(text), bytes)
