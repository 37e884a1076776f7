"""Thirty-two odd forms of a number at every numeric field of every question, as found in the OpenAPI document."""

import json
import re
from typing import Any

import pytest

from tests.client import Client
from tests.trust.fields import Field, numeric_fields, questions
from tests.trust.leaks import assert_nothing_leaks

# What JSON does not know at all: 400 wherever it stands.
UNREADABLE = (
    "NaN", "Infinity", "-Infinity", "1e999", "-1e999", "9" * 400, "1" * 5000, "01", ".5", "1.", "0x10", "+1", "4_0", "٣",
    '"\\ud800"', '"\\u0000"',
)  # fmt: skip
# What is no number: 422 wherever a number or a quantity is wanted.
NO_NUMBER = ("true", "false", "[]", "{}", '"4.0"', '"4_0"', '"٣"', '"NaN"', '"1e999"', '""')
# What is a number, if hardly one: never more than a clear answer.
HARDLY = ("1e308", "-1e308", "5e-324", "-0.0", "0", "-1")

FIELDS = numeric_fields()


def test_the_document_declares_numeric_fields_for_every_question() -> None:
    assert len(UNREADABLE) + len(NO_NUMBER) + len(HARDLY) == 32
    # A batch and a receipt carry whole documents of the others, without fields of their own.
    assert {field.path for field in FIELDS} == set(questions()) - {"/v1/batch", "/v1/verify"}


def send(client: Client, field: Field, form: str) -> tuple[int, Any]:
    """Status and document of the answer, after the checks that hold for every form."""
    answer = client.request("POST", field.path, content=field.body(form), headers={"content-type": "application/json"})
    assert answer.status_code in (200, 400, 404, 422), (form, answer.text)
    assert_nothing_leaks(answer)
    if answer.headers["content-type"].startswith("text/csv"):
        assert not {"nan", "inf", "-inf"} & set(re.split("[,\r\n]", answer.text.lower()))
        return answer.status_code, None
    document = json.loads(answer.content, parse_constant=lambda name: pytest.fail(f"{name} in an answer"))
    if answer.status_code == 200:
        assert '"value":null' not in answer.text, "a number that is none was written as null"
    else:
        assert len(answer.content) <= 4096
    return answer.status_code, document


@pytest.mark.parametrize("field", FIELDS, ids=lambda field: field.path + field.pointer)
def test_odd_numbers_are_refused_or_answered_and_never_break_anything(field: Field, client: Client) -> None:
    for form in UNREADABLE:
        assert send(client, field, form)[0] == 400, form
    for form in NO_NUMBER:
        status, problem = send(client, field, form)
        assert status == 422, form
        assert field.pointer in [error.get("pointer") for error in problem["errors"]], (form, problem)
    for form in (*HARDLY, "null"):
        status, _ = send(client, field, form)
        assert field.kind != "quantity" or form == "null" or status == 422, "a quantity without a unit"


@pytest.mark.parametrize(
    "field", [field for field in FIELDS if field.kind == "quantity"], ids=lambda field: field.path + field.pointer
)
def test_odd_numbers_with_a_unit_are_no_better(field: Field, client: Client) -> None:
    def with_unit(form: str) -> str:
        return f'{{"value": {form}, "unit": {json.dumps(field.unit)}}}'

    for form in UNREADABLE:
        assert send(client, field, with_unit(form))[0] == 400, form
    for form in (*NO_NUMBER, "null"):
        status, problem = send(client, field, with_unit(form))
        assert status == 422, form
        assert field.pointer in [error.get("pointer") for error in problem["errors"]], (form, problem)
    for form in ("1e308", "-1e308"):
        assert send(client, field, with_unit(form))[0] == 422, form
    for form in ("5e-324", "-0.0", "0", "-1"):
        send(client, field, with_unit(form))
