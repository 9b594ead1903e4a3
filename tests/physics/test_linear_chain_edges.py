"""Where the chain without diodes changes from closed forms to a series."""

from __future__ import annotations

from decimal import Decimal, localcontext

import numpy as np
import pytest

from buildsheets.physics.linear_chain import SERIES_BELOW, _stretch

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
