"""How curve, momentum and address functions behave; the standards' numbers are in published/test_dcc.py."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from buildsheets.physics import cvs

byte = st.integers(0, 255)
steps_up = np.arange(1, 127)


def test_bare_decoder_is_proportional():
    np.testing.assert_allclose(cvs.duty_curve(), steps_up / 126)


def test_three_points_stand_where_the_standard_puts_them():
    curve = cvs.duty_curve(vstart=20, vmid=90, vhigh=210)
    np.testing.assert_allclose(curve[[0, 62, 125]], np.array([20, 90, 210]) / 255)


@pytest.mark.parametrize("unused", [None, 0, 1])
def test_low_values_of_vhigh_and_vmid_are_not_used(unused):
    np.testing.assert_allclose(
        cvs.duty_curve(vstart=51, vmid=unused, vhigh=unused), np.interp(steps_up, [1, 126], [0.2, 1.0])
    )


def test_middle_can_be_moved():
    assert cvs.duty_curve(vstart=0, vmid=51, middle_step=90)[89] == pytest.approx(0.2)


def test_table_entry_n_sits_at_its_share_of_the_steps():
    table = [9 * n for n in range(1, 29)]
    curve = cvs.duty_curve(table=table)
    # every second entry falls on a whole step: 126 * 2 / 28 = 9
    np.testing.assert_allclose(curve[8::9], np.array(table[1::2]) / 255)
    np.testing.assert_allclose(cvs.duty_curve(table=table, steps=28), np.array(table) / 255)


def test_table_starts_from_stop():
    curve = cvs.duty_curve(table=[90] * 28)
    np.testing.assert_allclose(curve[:5], np.array([20, 40, 60, 80, 90]) / 255)
    assert np.all(curve[4:] == 90 / 255)


def test_points_run_from_stop_and_stay_level_after_the_last():
    curve = cvs.duty_curve(points=[(10, 0.1), (60, 0.6)])
    np.testing.assert_allclose(curve[[0, 9, 34, 59, 125]], [0.01, 0.1, 0.35, 0.6, 0.6])
    assert cvs.duty_curve(points=[(0, 0.2), (126, 1.0)])[62] == pytest.approx(0.6)


def test_trim_of_the_stated_direction_applies_and_clamps():
    table = [9 * n for n in range(1, 29)]
    plain = cvs.duty_curve(table=table)
    trims = {"forward_trim": 192, "reverse_trim": 64}
    np.testing.assert_allclose(cvs.duty_curve(table=table, **trims), np.minimum(1.5 * plain, 1))
    np.testing.assert_allclose(cvs.duty_curve(table=table, **trims, direction="reverse"), plain / 2)
    np.testing.assert_allclose(cvs.duty_curve(table=table, forward_trim=0), plain)


@pytest.mark.parametrize(
    "wrong",
    [
        {"vstart": 256},
        {"vmid": -1},
        {"vhigh": 300},
        {"table": [1] * 27},
        {"table": [256] * 28},
        {"points": []},
        {"points": [(5, 0.1), (5, 0.2)]},
        {"points": [(5, 0.1), (127, 0.2)]},
        {"points": [(-1, 0.1)]},
        {"points": [(5, 1.1)]},
        {"table": [1] * 28, "points": [(1, 0.1)]},
        {"forward_trim": 256},
        {"direction": "backwards"},
    ],
)
def test_values_out_of_range_are_refused(wrong):
    with pytest.raises(ValueError, match=r"must|has|needs|comes"):
        cvs.duty_curve(**wrong)


@given(st.lists(byte, min_size=28, max_size=28), byte, st.sampled_from([28, 126]))
def test_a_rising_table_gives_a_rising_curve_within_bounds(table, trim, steps):
    curve = cvs.duty_curve(table=sorted(table), forward_trim=trim, steps=steps)
    assert curve.shape == (steps,)
    assert np.all(np.diff(curve) >= -1e-12)
    assert np.all((curve >= 0) & (curve <= 1))


@given(st.lists(byte, min_size=3, max_size=3))
def test_rising_points_give_a_rising_curve(levels):
    vstart, vmid, vhigh = sorted(levels)
    curve = cvs.duty_curve(vstart, vmid, vhigh)
    # an unused middle or top (0 or 1) still leaves the line rising
    assert np.all(np.diff(curve) >= -1e-12)
    assert curve[0] == pytest.approx(vstart / 255)


@given(st.integers(0, cvs.LONG_ADDRESS_LIMIT))
def test_long_address_there_and_back(address):
    assert cvs.long_address(*cvs.long_address_cvs(address)) == address


@given(byte)
def test_configuration_sum_adds_up(value):
    assert sum(weight for weight, _ in cvs.configuration_terms(value)) == value & ~64


def test_momentum_adjustment_clamps_at_both_ends():
    assert cvs.momentum_time(20, 10) == pytest.approx(30 * 0.896)
    assert cvs.momentum_time(20, 128 + 10) == pytest.approx(10 * 0.896)
    assert cvs.momentum_time(20, 128 + 30) == 0
    assert cvs.momentum_time(250, 30) == pytest.approx(255 * 0.896)


@pytest.mark.parametrize(
    "call",
    [
        lambda: cvs.feedback_cut_off_step(0),
        lambda: cvs.feedback_cut_off_step(10, 27),
        lambda: cvs.pwm_period(256),
        lambda: cvs.configuration_terms(-1),
        lambda: cvs.momentum_time(256),
    ],
)
def test_wrong_numbers_are_refused(call):
    with pytest.raises(ValueError, match=r"must|have"):
        call()


@given(byte)
def test_momentum_rate_undoes_momentum_time(rate):
    assert cvs.momentum_rate(cvs.momentum_time(rate)) == rate


def test_momentum_rate_ends_at_255():
    assert cvs.momentum_rate(1e6) == 255


@given(st.floats(1.0, 3.0), st.integers(1, 255))
def test_distance_of_an_even_rise_is_half_of_top_speed_times_time(top, rate):
    # v t / 2 of a uniformly accelerated body, from mechanics
    speed = top * steps_up / 126
    assert cvs.momentum_distance(speed, rate) == pytest.approx(top * cvs.momentum_time(rate) / 2)


def test_distance_follows_the_curve_not_only_its_end():
    late = np.where(steps_up < 100, 0.0, 1.0)
    assert cvs.momentum_distance(late, 10) < cvs.momentum_distance(steps_up / 126, 10)
    assert cvs.momentum_distance(late, 10, 128 + 10) == 0


@given(byte)
def test_pwm_value_finds_the_period_it_stands_for(value):
    found = cvs.pwm_value(cvs.pwm_period(value))
    assert cvs.pwm_period(found) == pytest.approx(cvs.pwm_period(value))


def test_pulses_faster_than_the_formula_get_its_fastest():
    assert cvs.pwm_value(1 / 20_000) == 0


def test_every_cv_of_the_table_is_found_by_its_number_and_rows_do_not_overlap():
    rows = cvs.STANDARD_CVS
    assert all(a.last < b.first for a, b in pairwise(rows))
    assert cvs.standard_cv(80).name == "Speed table"
    assert cvs.standard_cv(20) is None
