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
from tests.client import Client


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


@pytest.mark.parametrize(
    "address",
    [
        "/v1/cylinder-check?gauge_pressures.0=900kPa&gauge_pressures=800kPa,810kPa",
        "/v1/cylinder-check?gauge_pressures=800kPa,810kPa&gauge_pressures.0=900kPa",
        "/v1/shims?gap=1.18mm&pick=3&low=0.07mm&high=0.13mm&stock=0.2mm:1,0.2mm:5",
    ],
)
def test_a_value_said_twice_in_two_forms_is_refused(client: Client, address: str) -> None:
    """Else one of the readings would be lost without a word."""
    refused = client.get(address)
    assert refused.status_code == 422
    assert "repeated" in [error["code"] for error in refused.json()["errors"]]


@pytest.mark.parametrize(("index", "code"), [("5", "missing"), ("00", "unknown-name"), ("-1", "unknown-name")])
def test_the_items_of_a_list_are_numbered_without_gaps(client: Client, index: str, code: str) -> None:
    address = f"/v1/oil?sump=2.5L&lines.{index}.bore=12mm&lines.{index}.length=3m"
    refused = client.get(address)
    assert refused.status_code == 422
    assert code in [error["code"] for error in refused.json()["errors"]]


@given(st.floats(1e-15, 9.99e-4), st.sampled_from(["m", "mm"]))
def test_a_number_of_many_digits_is_asked_again_as_it_was(value: float, unit: str) -> None:
    """A program sends all digits of a float: the address has them too, as a text or, where that is too long, packed."""
    question = Question.model_validate({"lines": [{"bore": "86 mm", "length": "1 m"}]})
    deck = question.model_copy(update={"bore": Quantity(value, unit, value, "length")})
    encoded = query.encode(deck)
    pairs = parse_qsl(encoded)
    document = read_json(query.unpack(pairs[0][1])) if encoded.startswith("in=") else query.decode(pairs, Question)
    assert isinstance(document, dict)
    bore = document["bore"]
    again = float(bore["value"]) if isinstance(bore, dict) else float(bore.removesuffix(unit))
    assert again == value


@pytest.mark.parametrize("query_string", ["", "?compare_dataset=2026.11", "?units=us"])
def test_an_answer_to_a_float_of_many_digits_has_a_link_that_works(client: Client, query_string: str) -> None:
    deck = {"value": 1.2345678901234567e-05, "unit": "m"}
    question = {"bore": "86 mm", "stroke": "73 mm", "chamber_volume": "52 cc", "deck_clearance": deck}
    answer = client.post(f"/v1/compression{query_string}", question)
    assert answer.status_code == 200, answer.text
    assert client.get(answer.json()["links"]["self"]).content == answer.content


def test_empty_parts_of_an_address_say_nothing(client: Client) -> None:
    plain = client.get("/v1/displacement?cylinders=4&bore=86mm&stroke=73mm").json()["answer_id"]
    for address in ("cylinders=4&bore=86mm&stroke=73mm&", "&cylinders=4&&bore=86mm&stroke=73mm"):
        assert client.get(f"/v1/displacement?{address}").json()["answer_id"] == plain
