"""Scatter, wrench tolerance, adapters and unit slips."""

from math import cos, isclose, pi, radians
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from service.calculations.tightening import (
    POUND_FORCE_FOOT,
    clamping_torque,
    looks_like_other_torque_unit,
    preload_envelope,
    symmetric_band,
    with_prevailing_torque,
    wrench_scale_use,
    wrench_setting,
    wrench_tolerance,
)
from service.errors import OutsideValidity
from tests.published.cases import published

CASES = published("torque")
INCH = 0.0254


@pytest.mark.parametrize("name", ["F97", "F98", "F99"])
def test_published_adapter_settings(name: str) -> None:
    """Navy training course and a helicopter standard-practices manual: lengthening and shortening adapters."""
    case = CASES[name]
    given_, tolerance = case["given"], case["tolerance"]["abs"]
    setting = wrench_setting(
        torque=given_["T_fastener"]["value"],
        wrench_length=given_["L"]["value"] * INCH,
        adapter_length=given_["E"]["value"] * INCH,
    )
    assert abs(setting - case["expected"]["T_wrench"]["value"]) <= tolerance


def test_published_wrench_tolerance() -> None:
    """Case F109, ISO 6789 type II class A: ±4 % above 10 N·m and ±6 % up to 10 N·m."""
    printed = CASES["F109"]["expected"]
    assert f"+-{100 * wrench_tolerance(full_scale=100.0):.0f}" == printed["above_10_Nm"]["value"]
    assert f"+-{100 * wrench_tolerance(full_scale=10.0):.0f}" == printed["up_to_10_Nm"]["value"]
    assert wrench_tolerance(full_scale=10.1) == 0.04


@given(
    torque=st.floats(0.5, 1000),
    length=st.floats(0.1, 1.5),
    adapter=st.floats(-0.05, 0.3),
    angle=st.floats(-pi, pi),
)
def test_adapter_by_moments(torque: float, length: float, adapter: float, angle: float) -> None:
    """Referee: the hand's force at the grip, found at the wrench's drive, makes the wanted moment at the fastener."""
    assume(length + adapter * cos(angle) > 0.25 * length)
    setting = wrench_setting(torque=torque, wrench_length=length, adapter_length=adapter, adapter_angle=angle)
    force = setting / length
    drive = complex(adapter, 0)
    wrench = length * complex(cos(angle), np.sin(angle))
    hand = drive + wrench
    # The force is square to the wrench; its moment about the fastener at the origin is the cross product.
    pull = force * 1j * wrench / length
    moment = hand.real * pull.imag - hand.imag * pull.real
    assert isclose(moment, torque, rel_tol=1e-9)


@given(torque=st.floats(0.5, 1000), length=st.floats(0.1, 1.5), adapter=st.floats(0.0, 0.3))
def test_right_angle_adapter_changes_nothing(torque: float, length: float, adapter: float) -> None:
    """At 90° the crow-foot leaves the setting as it is; straight out it lowers it; without one nothing changes."""
    square = wrench_setting(torque=torque, wrench_length=length, adapter_length=adapter, adapter_angle=pi / 2)
    straight = wrench_setting(torque=torque, wrench_length=length, adapter_length=adapter)
    assert isclose(square, torque, rel_tol=1e-9)
    assert straight <= torque
    assert wrench_setting(torque=torque, wrench_length=length) == torque


def test_adapter_folded_onto_the_wrench_is_refused() -> None:
    """A lever under a fifth of the wrench is refused with what to do."""
    with pytest.raises(OutsideValidity, match="right angle") as refusal:
        wrench_setting(torque=30.0, wrench_length=0.3, adapter_length=0.25, adapter_angle=radians(180))
    assert refusal.value.field == "adapter/length"


def test_scale_use() -> None:
    """25 N·m is 12.5 % of a 200 N·m wrench: outside the tested 20 to 100 %; both ends of the range are inside."""
    assert wrench_scale_use(torque=25.0, full_scale=200.0) == (0.125, False)
    assert wrench_scale_use(torque=40.0, full_scale=200.0).within
    assert wrench_scale_use(torque=200.0, full_scale=200.0).within
    assert not wrench_scale_use(torque=201.0, full_scale=200.0).within


@given(nominal=st.floats(1, 1e6), half=st.floats(0, 0.99))
def test_band_is_symmetric(nominal: float, half: float) -> None:
    """The band lies evenly about the nominal value."""
    band = symmetric_band(nominal=nominal, half_width=half)
    assert isclose(band.high - band.nominal, band.nominal - band.low, rel_tol=1e-6, abs_tol=1e-9)
    assert band.low <= band.nominal <= band.high


def test_scatter_in_per_cent_is_refused() -> None:
    """25 for 0.25 is refused, saying what to send."""
    with pytest.raises(OutsideValidity, match=r"0\.25"):
        symmetric_band(nominal=1e4, half_width=25)


@given(
    nominal=st.floats(1, 1e6),
    down=st.floats(0.2, 1),
    up=st.floats(1, 4),
    wrench=st.floats(0, 0.1),
    scatter=st.floats(0, 0.6),
)
def test_envelope_covers_both_descriptions(nominal: float, down: float, up: float, wrench: float, scatter: float) -> None:
    """The envelope holds the published scatter, the range of friction and the wrench, each by itself."""
    band = preload_envelope(
        nominal=nominal, at_high_friction=down * nominal, at_low_friction=up * nominal, wrench=wrench, scatter=scatter
    )
    slack = 1e-9 * nominal
    assert 0 <= band.low <= min(down, 1 - wrench, 1 - scatter) * nominal + slack
    assert band.high >= max(up, 1 + wrench, 1 + scatter) * nominal - slack
    assert band.nominal == nominal


def test_envelope_against_monte_carlo() -> None:
    """Fixed-seed simulation of friction and wrench: 95 % of the preloads lie within the envelope without scatter.

    Friction normal with its range as two standard deviations, wrench likewise; F ∝ T/(a + µ b) of an oiled M8.
    """
    generator = np.random.default_rng(6789)
    low, nominal, high = 0.11, 0.14, 0.16
    pitch_part, friction_part = 1.25 / (2 * pi), 0.57735 * 7.188 + 5.5

    def preload(torque: Any, friction: Any) -> Any:
        return torque / (pitch_part + friction_part * friction)

    spread = generator.standard_normal(200_000)
    friction = nominal + np.where(spread < 0, nominal - low, high - nominal) * spread / 2
    torque = 25 * (1 + 0.04 / 2 * generator.standard_normal(200_000))
    band = preload_envelope(
        nominal=float(preload(25, nominal)),
        at_high_friction=float(preload(25, high)),
        at_low_friction=float(preload(25, low)),
        wrench=0.04,
        scatter=0.0,
    )
    forces = preload(torque, friction)
    inside = float(np.mean((forces > band.low) & (forces < band.high)))
    assert 0.94 < inside < 0.97


def test_envelope_refuses_frictions_the_wrong_way_round() -> None:
    """More friction cannot give more preload."""
    with pytest.raises(OutsideValidity, match="less preload"):
        preload_envelope(nominal=100, at_high_friction=120, at_low_friction=90, wrench=0.04, scatter=0.25)


@given(torque=st.floats(0.5, 1000), prevailing=st.floats(0, 50))
def test_prevailing_torque_comes_off_again(torque: float, prevailing: float) -> None:
    """What is added for a self-locking nut is what does not clamp."""
    total = with_prevailing_torque(torque=torque, prevailing=prevailing)
    assert isclose(clamping_torque(torque=total, prevailing=prevailing), torque, rel_tol=1e-9)


def test_a_nut_that_turns_as_hard_as_the_wrench_pulls_is_refused() -> None:
    """Nothing is left to clamp with."""
    with pytest.raises(OutsideValidity, match="eats up"):
        clamping_torque(torque=4.0, prevailing=4.0)
    with pytest.raises(OutsideValidity):
        with_prevailing_torque(torque=30.0, prevailing=-1.0)


def test_pound_force_foot_is_the_defined_one() -> None:
    """0.3048 m × 0.45359237 kg × 9.80665 m/s², exact by definition; NIST SP 811 prints 1.355818."""
    assert isclose(POUND_FORCE_FOOT, 0.3048 * 0.45359237 * 9.80665, rel_tol=1e-15)
    assert f"{POUND_FORCE_FOOT:.6f}" == "1.355818"


@pytest.mark.parametrize(
    ("typed", "listed", "slip"),
    [(14.0, 19.0, True), (25.76, 19.0, True), (19.0, 19.0, False), (22.0, 19.0, False), (14.8, 19.0, False)],
)
def test_unit_slips(typed: float, listed: float, slip: bool) -> None:
    """14 typed for a listed 19 N·m is 14 lbf·ft as N·m, 25.8 is the reverse; 19, 22 and 14.8 are no such slip."""
    assert looks_like_other_torque_unit(torque=typed, listed=listed) is slip


@given(torque=st.floats(0.5, 1000), factor=st.floats(0.5, 2))
def test_unit_slips_are_unit_free(torque: float, factor: float) -> None:
    """The suspicion depends on the ratio of the two only."""
    assert looks_like_other_torque_unit(torque=torque, listed=torque * factor) is looks_like_other_torque_unit(
        torque=2 * torque, listed=2 * torque * factor
    )
