"""The whole of the standard's table of configuration variables, single bits, and curves at their ends."""

from __future__ import annotations

import numpy as np
import pytest

from buildsheets.physics import cvs

# NMRA S-9.2.2 (July 2012), Table 1: numbers that the standard keeps for itself, and what a value may be where it is not any
# byte; written down from memory, beside the table of the program that was read from the text.
RESERVED = {20, 26, *range(96, 105), *range(107, 112)}
NOT_ANY_BYTE = {1: (0, 127), 10: (1, 128), 17: (192, 231), 25: (0, 154), 31: (16, 255)}
MANDATORY, RECOMMENDED = {1, 7, 8, 29}, {2, 3, 4, 11}


def test_every_number_of_the_first_256_has_its_row_or_is_reserved():
    for number in range(1, 257):
        row = cvs.standard_cv(number)
        if number in RESERVED:
            assert row is None, number
            continue
        assert row is not None, number
        assert (row.lowest, row.highest) == NOT_ANY_BYTE.get(number, (0, 255)), number
        assert row.requirement == ("M" if number in MANDATORY else "R" if number in RECOMMENDED else "O"), number
    assert cvs.standard_cv(0) is None
    assert cvs.standard_cv(257) is None
    assert {row.first: row.default for row in cvs.STANDARD_CVS if row.default is not None} == {1: 3, 30: 0}


# The same table: blocks of numbers with one meaning, and neighbours that must not run into each other.
@pytest.mark.parametrize(("name", "first", "last"), [
    ("Output map", 33, 46), ("Maker specific", 47, 64), ("Speed table", 67, 94), ("User id", 105, 106), ("Maker specific", 112, 256),
    ("Kick start", 65, 65), ("Forward trim", 66, 66), ("Reverse trim", 95, 95), ("Vstart", 2, 2), ("Vhigh", 5, 5), ("Vmid", 6, 6),
    ("Acceleration rate", 3, 3), ("Deceleration rate", 4, 4), ("Total PWM period", 9, 9), ("EMF feedback cut-out", 10, 10),
    ("Extended address high", 17, 17), ("Extended address low", 18, 18), ("Consist address", 19, 19), ("Configuration", 29, 29),
])  # fmt: skip
def test_blocks_of_one_meaning(name, first, last):
    assert {cvs.standard_cv(number).name for number in range(first, last + 1)} == {name}
    for beside in (first - 1, last + 1):
        row = cvs.standard_cv(beside)
        assert row is None or row.name != name


# NMRA S-9.2.2, CV29: weight of each bit (from memory).
@pytest.mark.parametrize(("choice", "weight"), [
    ("reversed_direction", 1), ("other_power", 4), ("bidirectional", 8), ("speed_table", 16), ("long_address", 32), ("accessory", 128),
])  # fmt: skip
def test_each_bit_of_the_configuration(choice, weight):
    assert cvs.configuration_value(**{choice: True}) == 2 + weight
    assert cvs.configuration_value(**{choice: True}, steps_28=False) == weight
    assert weight in [value for value, _ in cvs.configuration_terms(weight)]
    assert cvs.RESERVED_BIT == 64


def test_a_table_of_twice_fourteen_steps_is_read_in_that_mode():
    """Entry n stands at step n of 28; a middle step may be moved there as well."""
    assert cvs.table_curve([9 * n for n in range(1, 29)], 28) == pytest.approx(9 * np.arange(1, 29) / 255)
    assert cvs.three_point_curve(0, 100, 200, 28, middle_step=7)[6] == pytest.approx(100 / 255)
    assert cvs.three_point_curve(0, 100, 200, 28)[13] == pytest.approx(100 / 255)


@pytest.mark.parametrize("points", [[(0, 0.0), (126, 1.0)], [(1, 0.0), (126, 0.0)], [(4, 0.1), (5, 0.2), (5.5, 0.3)]])
def test_points_may_reach_both_ends_of_their_range(points):
    assert cvs.points_curve(points)[-1] == points[-1][1]
    assert cvs.points_curve(points)[4] == pytest.approx(np.interp(5, *zip(*points, strict=True)))


@pytest.mark.parametrize("points", [[(5, 0.2), (4, 0.3)], [(5, 0.2), (126.5, 0.3)], [(5, -0.01)], [(-0.5, 0.1)], [(5, 1.01)], [(5, 0.1), (9, 1.1)]])
def test_points_beyond_their_range_are_refused(points):
    with pytest.raises(ValueError, match=r"curve|fractions"):
        cvs.points_curve(points)


@pytest.mark.parametrize("value", [0, 255])
def test_ends_of_a_byte_are_bytes(value):
    assert cvs.momentum_time(value) == pytest.approx(0.896 * value)
    assert cvs.momentum_time(0, value) == pytest.approx(0.0)  # 255: bit 7 takes 127 off nothing
    assert cvs.trim_factor(value) == (1.0 if value == 0 else 255 / 128)


def test_momentum_adjustment_is_read_by_its_bits():
    """CV23 of 127 adds 127, of 128 adds nothing, of 129 takes one off (NMRA S-9.2.2, source opened)."""
    assert [round(cvs.momentum_time(100, change) / 0.896) for change in (0, 1, 127, 128, 129, 255)] == [100, 101, 227, 100, 99, 0]


def test_the_nearest_pulse_period_is_nearest_as_a_ratio():
    """32640 µs is the slowest of the formula (CV9 = 255); half way between 131 and 135 µs by ratio lies at 132.98 µs."""
    assert cvs.pwm_value(1.0) == 255
    assert cvs.pwm_value(132.9e-6) == 0
    assert cvs.pwm_value(133.1e-6) == 1


# NMRA S-9.2.2, CV10 (source opened): 1 and 128 are the ends, both allowed; 14 steps drop three bits.
def test_ends_of_the_feedback_cut_off():
    assert [cvs.feedback_cut_off_step(value, 14) for value in (1, 8, 128)] == [0, 1, 16]
    for wrong in (0, 129):
        with pytest.raises(ValueError, match="CV10"):
            cvs.feedback_cut_off_step(wrong)


@pytest.mark.parametrize("address", [-1, 10240])
def test_addresses_beyond_their_range_are_refused(address):
    with pytest.raises(ValueError, match="long address"):
        cvs.long_address_cvs(address)
    assert cvs.long_address_cvs(0) == (192, 0)


def test_acknowledge_current_is_the_standards():
    """NMRA S-9.2.3 D: at least 60 mA for 6 ms (from memory)."""
    assert pytest.approx(0.060) == cvs.ACKNOWLEDGE_CURRENT
