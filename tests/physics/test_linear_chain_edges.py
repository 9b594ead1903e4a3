"""Where the chain without diodes changes from closed forms to a series, and what it calls a flow."""

from __future__ import annotations

from decimal import Decimal, localcontext

import numpy as np
import pytest

from buildsheets.physics.linear_chain import SERIES_BELOW, _stretch
from buildsheets.physics.pwm import periodic_current

EDGE = -np.log1p(-SERIES_BELOW)  # time in time constants at which the series begins to serve


@pytest.mark.parametrize("time", [1e-6, 1e-3, 0.02, 0.04, EDGE * (1 - 1e-9), EDGE * (1 + 1e-9), 0.1, 3.0])
def test_second_tail_to_twelve_digits(time: float) -> None:
    """x - m - m²/2 with m = 1 - exp(-x), worked out with fifty digits."""
    with localcontext() as context:
        context.prec = 50
        exact = Decimal(time)
        way = 1 - (-exact).exp()
        tail = float(exact - way - way * way / 2)
    found = float(_stretch(np.array([time])).second_tail[0])
    assert found == pytest.approx(tail, rel=1e-12 if time < EDGE else 1e-11, abs=0)


def test_a_small_current_the_other_way_flows_all_the_time() -> None:
    # mean of a braked chain is (duty x bus - EMF) / R, any power electronics textbook: here (1.3 - 6) / 40 = -0.1175 A, hardly rippled
    case = periodic_current(0.1, 13.0, 6.0, 40.0, 3e-3, 20e3, "brake", 0.7)
    assert case.mean_current == pytest.approx(-0.1175, rel=1e-9)
    assert case.peak_current < 0.0
    assert case.mean_abs_current == pytest.approx(0.1175, rel=1e-9)
    assert case.conduction_fraction == 1.0
