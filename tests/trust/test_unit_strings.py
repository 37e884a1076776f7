"""The unit grammar against a table of texts, against exact arithmetic, and against pint as an independent reader.

``unit_strings.csv`` holds texts as a shop writes them (escaped as Python does it), the dimension wanted, and either the SI
value as a product of exact definitions or the code of the refusal. The factors are definitions: inch 25.4 mm and pound
0.45359237 kg (international yard and pound agreement, 1959), standard gravity 9.80665 m/s², US quart 57.75 in³, imperial
gallon 4.54609 L, conventional millimetre of mercury 133.322387415 Pa, IT Btu/lb 2.326 kJ/kg, mechanical and metric
horsepower 550 ft·lbf/s and 75 kgf·m/s.
"""

import csv
from fractions import Fraction
from math import pi
from pathlib import Path
from typing import Any

import pint
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.quantities import LONGEST_TEXT, NotAQuantity, parse_text
from service.vocabulary import DIMENSIONS

with (Path(__file__).parent / "unit_strings.csv").open(encoding="utf-8", newline="") as _file:
    ROWS = [row | {"text": row["text"].encode().decode("unicode_escape")} for row in csv.DictReader(_file)]
ACCEPTED = [row for row in ROWS if row["si"]]
REFUSED = [row for row in ROWS if row["refused"]]


def exact(expression: str) -> Fraction:
    """The value of a product and quotient of decimals."""
    value = Fraction(1)
    operator = "*"
    for part in expression.replace("*", " * ").replace("/", " / ").split():
        if part in "*/":
            operator = part
            continue
        factor = Fraction(pi) if part == "pi" else Fraction(part)
        value = value * factor if operator == "*" else value / factor
    return value


def test_the_table_is_as_large_as_promised() -> None:
    assert len(ROWS) >= 150
    assert len(ACCEPTED) + len(REFUSED) == len(ROWS)


@pytest.mark.parametrize("row", ACCEPTED, ids=lambda row: f"{row['dimension']}: {row['text']!a}")
def test_a_text_of_the_shop_means_what_its_definition_says(row: dict[str, str]) -> None:
    assert parse_text(row["text"], row["dimension"]).si == pytest.approx(float(exact(row["si"])), rel=1e-12, abs=1e-18)


@pytest.mark.parametrize("row", REFUSED, ids=lambda row: f"{row['dimension']}: {row['text'][:50]!a}")
def test_any_other_text_is_refused_for_its_reason_and_not_echoed(row: dict[str, str]) -> None:
    with pytest.raises(NotAQuantity) as refused:
        parse_text(row["text"], row["dimension"])
    assert refused.value.code == row["refused"]
    if len(row["text"].strip()) > 4:
        assert row["text"].strip() not in refused.value.detail


def test_every_unit_of_the_vocabulary_stands_in_the_table() -> None:
    covered = {(row["dimension"], parse_text(row["text"], row["dimension"]).unit) for row in ACCEPTED}
    declared = {(dimension.name, unit.code) for dimension in DIMENSIONS.values() for unit in dimension.units}
    assert declared - covered == set()


_digits = st.text("0123456789", min_size=1, max_size=6)
_UNITS = [(dimension.name, unit.code, unit.expression) for dimension in DIMENSIONS.values() for unit in dimension.units]


@pytest.fixture(scope="module")
def registry() -> Any:
    return pint.UnitRegistry(non_int_type=Fraction)


@settings(max_examples=400, deadline=None, derandomize=True)
@given(st.sampled_from(_UNITS), st.sampled_from(["", "-", "+"]), _digits, _digits, st.sampled_from(["", " ", "   "]))
def test_decimals_agree_with_exact_arithmetic_and_pint(
    registry: Any, unit: tuple[str, str, str], sign: str, whole: str, decimals: str, gap: str
) -> None:
    """Referee: pint 0.25 with fractions, asked for the unit's definition and never for the text."""
    dimension, code, expression = unit
    gap = gap or (" " if code[0].isdigit() else "")
    number = Fraction(f"{sign}{whole}.{decimals}")
    relation = registry.parse_expression(expression.replace("dimensionless_one", "dimensionless"))
    expected = registry.Quantity(number * relation.magnitude, relation.units).to_base_units().magnitude
    found = parse_text(f"{sign}{whole}.{decimals}{gap}{code}", dimension)
    assert found.si == pytest.approx(float(expected), rel=1e-12, abs=1e-18)
    assert found.unit == code


@settings(max_examples=300, deadline=None, derandomize=True)
@given(
    st.none() | st.integers(0, 999),
    st.integers(0, 999),
    st.integers(1, 128),
    st.sampled_from(["in", '"', " in", ' "', " mm"]),
    st.sampled_from([" ", "-"]),
    st.booleans(),
)
def test_fractions_agree_with_exact_arithmetic(
    whole: int | None, above: int, below: int, unit: str, joint: str, negative: bool
) -> None:
    """A whole number before the fraction is added, never multiplied (which a common units library does)."""
    text = f"{'' if whole is None else f'{whole}{joint}'}{above}/{below}{unit}"
    value = Fraction(whole or 0) + Fraction(above, below)
    factor = Fraction(1, 1000) if "mm" in unit else Fraction("0.0254")
    expected = -value * factor if negative else value * factor
    assert parse_text(f"-{text}" if negative else text, "length").si == pytest.approx(float(expected), rel=1e-12)


@settings(max_examples=1500, deadline=None, derandomize=True)
@given(
    st.text(max_size=LONGEST_TEXT + 5)
    | st.text("0123456789 .,/-+eE_*^'\"mincuftlbqN·²³°", max_size=LONGEST_TEXT + 5)
    | st.builds("{}{}{}".format, st.floats(), st.sampled_from(["", " "]), st.sampled_from([code for _, code, _ in _UNITS])),
    st.sampled_from(sorted(DIMENSIONS)),
)
def test_any_text_is_a_finite_quantity_or_refused(text: str, dimension: str) -> None:
    try:
        found = parse_text(text, dimension)
    except NotAQuantity as error:
        code = error.code
    else:
        code = ""
        assert abs(found.si) < 1e30
        assert found.unit in {unit.code for unit in DIMENSIONS[dimension].units}
    assert code in {"", "not-a-quantity", "unit-missing", "unit-unknown", "unit-mismatch"}
