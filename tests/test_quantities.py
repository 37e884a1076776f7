"""The grammar of quantities and the factors of the units, against fractions and against pint."""

from fractions import Fraction
from typing import Any

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.quantities import (
    CLEARANCE,
    FORCE,
    STRESS,
    TEMPERATURE,
    TORQUE,
    Measure,
    NotAQuantity,
    UnitSystem,
    as_json,
    parse_text,
    resolved,
    shown,
    spellings,
    to_unit,
)
from service.vocabulary import VOCABULARY

UNITS = [(dimension.name, unit.code) for dimension in VOCABULARY for unit in dimension.units]


@pytest.mark.parametrize(
    ("text", "dimension", "si"),
    [
        ("3 3/8 in", "length", 0.085725),
        ('3-3/8"', "length", 0.085725),
        ("2 7/8 in", "length", 0.073025),
        ('.006"', "length", 0.0001524),
        ("6 thou", "length", 0.0001524),
        ("86mm", "length", 0.086),
        ("-0.2 mm", "length", -0.0002),
        ("−0.2 mm", "length", -0.0002),
        ("52 cc", "volume", 52e-6),
        ("103.5 cu in", "volume", 103.5 * 16.387064e-6),
        ("2.65 qt", "volume", 2.65 * 0.946352946e-3),
        ("2 imp qt", "volume", 2 * 1.1365225e-3),
        ("14 ft-lb", "torque", 18.981451),
        ("14 lb ft", "torque", 18.981451),
        ("14 lbf*ft", "torque", 18.981451),
        ("60 in-lb", "torque", 6.7790897),
        ("25Nm", "torque", 25.0),
        ("2.5 kgf*m", "torque", 24.516625),
        ("40 psi", "pressure", 275790.29),
        ("68 °F", "temperature", 293.15),
        ("20 degC", "temperature", 293.15),
        ("28°", "angle", 0.48869219),
        ("3000 rpm", "rotational speed", 314.15927),
        ("20 min", "duration", 1200.0),
    ],
)
def test_shop_spellings_mean_what_a_shop_means(text: str, dimension: str, si: float) -> None:
    """Factors from NIST SP 811 (exact definitions of inch, pound, US quart, imperial quart, kgf)."""
    assert parse_text(text, dimension).si == pytest.approx(si, rel=1e-7)


@pytest.mark.parametrize(
    ("text", "dimension", "code"),
    [
        ("3.5", "length", "unit-missing"),
        ("9**9**9 m", "length", "unit-unknown"),
        ("2**999999999 m", "length", "unit-unknown"),
        ("14 lbf*ft", "length", "unit-mismatch"),
        ("3,5 mm", "length", "not-a-quantity"),
        ("1e3 mm", "length", "unit-unknown"),
        ("1/0 in", "length", "not-a-quantity"),
        ("4_0 mm", "length", "unit-unknown"),
        ("nan mm", "length", "not-a-quantity"),
        ("٣ mm", "length", "not-a-quantity"),
        ("86 mpa", "pressure", "unit-unknown"),
        ("mm", "length", "not-a-quantity"),
        ("", "length", "not-a-quantity"),
        ("1" * 41, "length", "not-a-quantity"),
    ],
)
def test_what_is_no_quantity_is_refused_with_its_code(text: str, dimension: str, code: str) -> None:
    with pytest.raises(NotAQuantity) as refused:
        parse_text(text, dimension)
    assert refused.value.code == code


@given(
    whole=st.integers(0, 500),
    numerator=st.integers(0, 999),
    denominator=st.integers(1, 999),
    joint=st.sampled_from([" ", "-"]),
    space=st.sampled_from(["", " ", "  "]),
)
def test_mixed_numbers_are_exact(whole: int, numerator: int, denominator: int, joint: str, space: str) -> None:
    """Against Python's fractions: the value is the float nearest to the exact mixed number."""
    parsed = parse_text(f"{whole}{joint}{numerator}/{denominator}{space}in", "length")
    assert parsed.value == float(whole + Fraction(numerator, denominator))


@given(si=st.floats(1e-6, 1e6), unit=st.sampled_from(UNITS))
def test_out_and_in_again_is_the_same(si: float, unit: tuple[str, str]) -> None:
    dimension, code = unit
    ours = resolved()[dimension][code]
    assert to_unit(si, dimension, code) * ours.factor + ours.offset == pytest.approx(si, rel=1e-9, abs=1e-9)


def test_our_definitions_are_those_of_pint() -> None:
    """Every factor and offset of the vocabulary against pint's own default registry, exact to the last float digit or two."""
    registry: Any = pint.UnitRegistry()
    for dimension in VOCABULARY:
        for unit in dimension.units:
            parsed = registry.parse_expression(unit.expression.replace("dimensionless_one", "dimensionless"))
            magnitude, units = getattr(parsed, "magnitude", parsed), getattr(parsed, "units", registry.dimensionless)
            zero, one = (registry.Quantity(n * magnitude, units).to_base_units().magnitude for n in (0, 1))
            ours = resolved()[dimension.name][unit.code]
            assert ours.factor == pytest.approx(one - zero, rel=1e-12), unit.code
            assert ours.offset == pytest.approx(zero, rel=1e-12), unit.code


def test_no_spelling_means_two_units_of_one_dimension() -> None:
    for dimension in VOCABULARY:
        claimed: dict[str, str] = {}
        for unit in dimension.units:
            for spelling in (unit.code, *unit.aliases):
                assert claimed.setdefault(spelling, unit.code) == unit.code, spelling
        assert {u.code for u in spellings(dimension.name).values()} == {u.code for u in dimension.units}


def test_the_si_name_of_a_dimension_is_what_its_factors_lead_to() -> None:
    """A unit with factor one exists wherever the dimension's SI unit is in the vocabulary."""
    for dimension in VOCABULARY:
        codes = {unit.code for unit in dimension.units}
        if dimension.si in codes:
            assert resolved()[dimension.name][dimension.si].factor == 1.0


def test_a_measure_is_read_out_as_the_trade_does() -> None:
    """Common practice: aluminium push rods at 0.006 in, rocker-shaft nuts at 14 lbf·ft."""
    assert as_json(CLEARANCE(0.00015)) == {"value": 0.15, "unit": "mm", "text": "0.15 mm (0.006 in)"}
    assert as_json(TORQUE(18.98), "us")["text"] == "14 lbf·ft (19 N·m)"
    assert as_json(TEMPERATURE(293.15), "us") == {"value": 68.0, "unit": "degF", "text": "68 °F (20 °C)"}


@pytest.mark.parametrize(
    ("measure", "system", "text"),
    [
        (FORCE(23456.0), "metric", "23500 N (5270 lbf)"),
        (FORCE(23456.0), "us", "5270 lbf (23500 N)"),
        (FORCE(-12637.0), "metric", "-12600 N (-2840 lbf)"),
        (FORCE(999.4), "metric", "999 N (225 lbf)"),
        (FORCE(0.0), "metric", "0 N (0 lbf)"),
        (STRESS(641e6), "metric", "641 MPa (93000 psi)"),
        (STRESS(640e6), "us", "92800 psi (640 MPa)"),
    ],
)
def test_forces_and_stresses_are_read_out_to_three_digits(measure: Measure, system: UnitSystem, text: str) -> None:
    """Nobody knows a preload to the fifth digit; the value stays as it is. 1 lbf is 4.4482216 N, 1 psi 6894.757 Pa."""
    assert as_json(measure, system)["text"] == text
    assert as_json(FORCE(23456.0))["value"] == 23456.0


def test_an_uncertainty_of_a_temperature_has_no_offset() -> None:
    shown = as_json(TEMPERATURE(293.15, uncertainty=1.8), "us")
    assert shown["uncertainty"] == {"value": 3.24, "unit": "degF", "coverage": 2}


def test_what_is_not_known_has_no_name() -> None:
    """A key of an answer is there with a value or not at all; ``null`` is neither."""
    tree = {"wear": None, "band": {"low": None, "high": CLEARANCE(0.001)}, "rows": [{"at": None, "share": 0.5}]}
    written = shown(tree)
    assert "wear" not in written
    assert list(written["band"]) == ["high"]
    assert written["rows"] == [{"share": 0.5}]
