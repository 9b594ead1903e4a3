"""Scale arithmetic: inverses, units against a reference library, and edges."""

from __future__ import annotations

import numpy as np
import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from buildsheets.physics import scales

speeds = st.floats(0.0, 300.0)
ratios = st.floats(4.0, 450.0)


# Reference library: pint's definitions of the units.
def test_mile_per_hour_against_the_unit_library():
    expected = pint.UnitRegistry().Quantity(1, "mile/hour").to("m/s").magnitude
    assert pytest.approx(expected, rel=1e-12) == scales.MPH


# Common practice: British scales by their gauge; NEM 661 (source opened) for the shares.
@pytest.mark.parametrize(
    ("ratio", "gauge", "share"),
    [
        (148, 9e-3, 0.50),
        (101.6, 12e-3, 0.40),
        (76.2, 16.5e-3, 0.30),
        (76.2, 18.83e-3, 0.30),
        (43.543, 32e-3, 0.10),
        (22.5, 45e-3, 0.0),
        (76.2, None, 0.30),
        (48, None, 0.10),
        (10, None, 0.0),
    ],
)
def test_allowance_of_scales_the_standard_does_not_name(ratio, gauge, share):
    assert scales.nem_661_allowance(ratio, gauge) == share


@given(ratios, ratios)
def test_smaller_models_are_allowed_no_less(one, two):
    small, large = max(one, two), min(one, two)
    assert scales.nem_661_allowance(small) >= scales.nem_661_allowance(large)


@pytest.mark.parametrize(("ratio", "gauge"), [(0.0, None), (float("nan"), None), (87.0, 0.0)])
def test_allowance_refuses(ratio, gauge):
    with pytest.raises(ValueError, match="above zero"):
        scales.nem_661_allowance(ratio, gauge)


@given(st.floats(0.05, 5), st.floats(0.1, 60), st.floats(0, 0.01), st.floats(0, 0.3))
def test_error_is_no_less_than_either_part_and_no_more_than_their_sum(distance, time, d_error, t_error):
    run = scales.timed_run(distance, time, d_error, t_error)
    parts = d_error / distance, t_error / time
    assert max(parts) * (1 - 1e-12) <= run.relative_error <= sum(parts) * (1 + 1e-12)
    assert run.speed_error == pytest.approx(run.speed * run.relative_error)


def test_runs_vectorise():
    run = scales.timed_run(np.array([1.0, 2.0]), 4.0, 0.002, 0.15)
    assert run.speed == pytest.approx([0.25, 0.5])


@pytest.mark.parametrize(("distance", "time"), [(0.0, 1.0), (1.0, -1.0), (1.0, float("nan"))])
def test_impossible_runs_are_refused(distance, time):
    with pytest.raises(ValueError, match="above zero"):
        scales.timed_run(distance, time)
