"""Where the search for what readings say has to slow down, gives up or stops at a side; and its correlations by hand."""

from __future__ import annotations

import numpy as np
import pytest

from buildsheets.physics.calibration import TOLD, Array, Fit, fit

NO_WEIGHT = 1e12  # variance of earlier knowledge


def test_a_full_step_that_leads_away_is_shortened() -> None:
    """The textbook case of a diverging Gauss-Newton step (from memory): arctan, whose full steps swing ever wider from 1.39 on."""

    def model(logs: Array) -> tuple[Array, Array]:
        return np.arctan(logs + 3.0), np.diag(1.0 / (1.0 + (logs + 3.0) ** 2))

    for error in (1.0, 0.01):
        bounds = (np.full(1, -1e3), np.full(1, 1e3))
        found = fit(model, np.zeros(1), np.eye(1) * error**2, np.eye(1) * NO_WEIGHT, bounds)
        assert found.converged
        assert found.log_mean == pytest.approx([-3.0], abs=1e-4)


def test_a_search_without_end_says_so_and_what_stopped_at_a_side() -> None:
    """Newton's step on exp(-x) is one for ever; two straight readings lie beyond the lower and the upper bound."""

    def model(logs: Array) -> tuple[Array, Array]:
        return np.array([np.exp(-logs[0]), logs[1], logs[2]]), np.diag([-np.exp(-logs[0]), 1.0, 1.0])

    bounds = (np.array([-1e3, -1.0, -1.0]), np.array([1e3, 1.0, 1.0]))
    found = fit(model, np.array([0.0, -5.0, 5.0]), np.diag([1e-60, 1.0, 1.0]), np.eye(3) * NO_WEIGHT, bounds)
    assert not found.converged
    assert found.log_mean[1:] == pytest.approx([-1.0, 1.0])
    assert list(found.at_bound) == [False, True, True]


def test_correlation_by_hand() -> None:
    """Standard deviations 2 and 3 with a covariance of 3 are correlated by one half; each with itself by one."""
    covariance = np.array([[4.0, 3.0], [3.0, 9.0]])
    nothing = np.zeros(2)
    found = Fit(nothing, covariance, np.array([4.0, 4.0]), nothing, np.eye(2), np.eye(2), 0.0, nothing > 0.0, True)
    assert found.correlation == pytest.approx(np.array([[1.0, 0.5], [0.5, 1.0]]))
    assert found.shrinkage == pytest.approx([0.5, 0.75])


def test_to_have_told_something_is_to_have_narrowed_it() -> None:
    """A spread after readings is never above that before, so that a share of one or more would call every reading telling."""
    assert 0.0 < TOLD < 1.0
