"""How the dropper functions behave, with a circuit worked by hand beside them."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from buildsheets.physics import dropper, parts

positive = st.floats(0.5, 200)


@given(st.floats(0, 2), positive, st.integers(1, 12), st.integers(1, 4))
def test_the_parts_of_a_bank_share_its_whole_heat(current, each, parallel, series):
    bank = parts.bank_resistance(each, parallel, series)
    shared = dropper.resistor_power(current, bank, parallel, series)
    assert shared * parallel * series == pytest.approx(dropper.bank_power(current, bank))
    # and by the current through one string
    assert shared == pytest.approx((current / parallel) ** 2 * each)


@given(positive, positive, positive)
def test_a_bank_lowers_the_locked_rotor_current_and_never_takes_more_than_its_match(volts, R, bank):
    assert dropper.locked_rotor_current(volts, R, bank) < dropper.locked_rotor_current(volts, R)
    # maximum power theorem: a bank equal to the winding takes V^2 / 4R
    most = volts**2 / (4 * R)
    assert dropper.bank_power(dropper.locked_rotor_current(volts, R, bank), bank) <= most * (1 + 1e-12)
    assert dropper.bank_power(dropper.locked_rotor_current(volts, R, R), R) == pytest.approx(most)


def test_hand_worked_chain():
    # 12.6 V bus, 40 ohm motor, 23 ohm bank, computed: 315 mA without, 200 mA and 0.92 W with it
    assert dropper.locked_rotor_current(12.6, 40.0) == pytest.approx(0.315)
    assert dropper.locked_rotor_current(12.6, 40.0, 23.0) == pytest.approx(0.2)
    assert dropper.bank_power(0.2, 23.0) == pytest.approx(0.92)


def test_diodes_that_hold_back_the_bus_leave_no_current():
    np.testing.assert_array_equal(dropper.locked_rotor_current(2.0, 40.0, 0.0, [0.0, 3.0]), [0.05, 0.0])


def test_margin_is_rating_over_demand():
    np.testing.assert_array_equal(dropper.margin([1.0, 1.0, 1.0], [0.5, 2.0, 0.0]), [2.0, 0.5, np.inf])
    assert dropper.margin(1.0, [0.5, 0.25]).shape == (2,)
    assert dropper.margin(1.0, 0.5) == 2.0
