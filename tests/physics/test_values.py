"""One number or many: the few functions that stand where Python's operators would not do."""

from __future__ import annotations

import numpy as np

from buildsheets.physics.values import anywhere, larger, number


def test_one_value_is_a_plain_float() -> None:
    assert type(number(np.float64(2.5))) is float
    assert type(number(np.array(2.5))) is float
    assert number(3) == 3.0


def test_a_column_stays_a_column() -> None:
    column = np.array([[1.0], [2.0]])
    assert number(column) is column


def test_the_larger_sample_by_sample() -> None:
    column = np.array([[1.0], [2.0]])
    assert larger(1.0, 2.0) == 2.0
    assert np.array_equal(larger(column, 1.5), [[1.5], [2.0]])
    assert np.array_equal(larger(0.0, column), column)


def test_a_condition_of_one_or_of_any_sample() -> None:
    # definition: of one number its own truth, of samples that of any
    one, column = 1.0, np.array([[0.0], [3.0]])
    assert anywhere(one < 2.0) is True
    assert anywhere(one > 2.0) is False
    assert anywhere(column > 2.0) is True
    assert anywhere(column > 4.0) is False
