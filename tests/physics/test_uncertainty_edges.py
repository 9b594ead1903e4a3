"""As few samples as a fit can do with, results that hardly spread, and numbers that may be columns of samples."""

from __future__ import annotations

import numpy as np
import pytest

from buildsheets.physics import values
from buildsheets.physics.uncertainty import contributions, deviations, percentiles, standard_normal, unit_samples


@pytest.mark.parametrize("inputs", [1, 3])
def test_two_samples_more_than_inputs_are_enough(inputs):
    """A plane through n + 1 unknowns leaves one reading over: its shares come out exactly, by least squares."""
    drawn = np.vstack([np.zeros(inputs), np.eye(inputs), np.full(inputs, 2.0)])
    slopes = np.arange(1.0, inputs + 1)
    found = contributions(drawn, np.eye(inputs), 5.0 + drawn @ slopes)
    assert found.shares == pytest.approx(slopes**2 / np.sum(slopes**2))
    assert found.explained == pytest.approx(1.0)
    with pytest.raises(ValueError, match="nothing to fit"):
        contributions(drawn[:-1], np.eye(inputs), drawn[:-1] @ slopes)


@pytest.mark.parametrize("size", [1e-9, 1.0, 1e9])
def test_a_spread_of_a_millionth_still_has_its_cause_whatever_the_unit(size):
    drawn = deviations(unit_samples(64, 2), ["normal", "normal"])
    found = contributions(drawn, np.eye(2) / 4, size * (1.0 + 1e-6 * drawn[:, 0]))
    assert found.shares == pytest.approx([1.0, 0.0], abs=1e-6)


def test_half_of_the_spread_unexplained_by_straight_lines():
    """y = x + c (x² - mean), x even about zero: the square is at right angles to x, so the explained share is var x / var y."""
    x = np.linspace(-1.0, 1.0, 41)
    bend = x**2 - np.mean(x**2)
    bend *= np.std(x) / np.std(bend)
    found = contributions(x[:, None], np.eye(1), x + bend)
    assert found.explained == pytest.approx(0.5)
    assert found.shares == pytest.approx([1.0])


def test_nothing_uncertain_has_no_columns():
    assert unit_samples(16, 0).shape == (16, 0)


def test_percentiles_of_columns_are_taken_down_the_samples():
    """Four sorted values stand at 1/8, 3/8, 5/8 and 7/8 (Hazen)."""
    drawn = np.array([[1.0, 40.0], [2.0, 30.0], [3.0, 20.0], [4.0, 10.0]])
    assert percentiles(drawn, [0.125, 0.5, 0.875]) == pytest.approx(np.array([[1.0, 10.0], [2.5, 25.0], [4.0, 40.0]]))


def test_quantiles_are_handed_out_as_copies():
    first = standard_normal([0.25, 0.975])
    assert first == pytest.approx([-0.6744898, 1.9599640], abs=1e-7)  # any table of the normal law
    first[0] = 99.0
    assert standard_normal([0.25, 0.975])[0] == pytest.approx(-0.6744898, abs=1e-7)


def test_one_number_stays_a_number_and_a_column_a_column():
    assert type(values.number(np.array(2.5))) is float
    column = np.array([[1.0], [2.0]])
    assert values.number(column) is not None
    assert np.array_equal(values.number(column), column)
    assert values.larger(1.0, 2.0) == 2.0
    assert values.larger(2.0, 1.0) == 2.0
    assert np.array_equal(values.larger(column, 1.5), [[1.5], [2.0]])
    assert np.array_equal(values.larger(1.5, column), [[1.5], [2.0]])
