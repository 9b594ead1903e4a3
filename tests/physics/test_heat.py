"""How the heat functions behave; published numbers are in tests/published/test_heat_published.py."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from buildsheets.physics import heat, store

sizes = st.tuples(st.floats(0.008, 0.025), st.floats(0.012, 0.040))
kinds = st.sampled_from(["iron core", "coreless"])


@given(sizes, kinds, st.floats(0.5, 30), st.floats(25, 100), st.floats(110, 160))
def test_time_to_limit_is_what_small_steps_come_to(size, kind, power, start, limit):
    thermal, capacity = heat.winding_thermal_resistance(*size), heat.winding_heat_capacity(*size, kind)
    time = heat.time_to_limit(power, thermal, capacity, start, 25.0, limit)
    end = 25.0 + power * thermal
    if end <= limit:
        assert time == np.inf
    else:
        reached = end + (start - end) * np.exp(-time / (thermal * capacity))
        assert reached == pytest.approx(limit)
        # never faster than all heat staying in the copper
        assert time >= (limit - start) * capacity / power * (1 - 1e-9)


def test_time_to_limit_of_a_hot_winding_is_nothing_and_of_a_cool_one_endless():
    times = heat.time_to_limit(5.0, 70.0, 0.3, [140.0, 30.0], 25.0, 135.0)
    assert times[0] == 0
    assert 0 < times[1] < 10
    assert heat.time_to_limit(1.0, 70.0, 0.3, 30.0, 25.0, 135.0) == np.inf


@given(sizes, kinds)
def test_a_motor_twice_as_large_has_a_quarter_of_the_resistance_and_eight_times_the_copper(size, kind):
    large = (2 * size[0], 2 * size[1])
    assert heat.winding_thermal_resistance(*large) == pytest.approx(heat.winding_thermal_resistance(*size) / 4)
    assert heat.winding_heat_capacity(*large, kind) == pytest.approx(8 * heat.winding_heat_capacity(*size, kind))


def test_crowded_parts_are_hotter():
    factors = [heat.CROWDING[layout] for layout in ("free", "row", "block", "one face free")]
    temperatures = heat.body_temperature(40.0, 0.1, 170.0, factors)
    assert temperatures[0] == pytest.approx(57.0)
    assert np.all(np.diff(temperatures) > 0)


def test_every_material_is_kept_below_what_softens_it():
    for name, material in heat.MATERIALS.items():
        assert material.softens_from <= material.softens_to
        assert material.keep_below <= material.softens_from
        assert heat.too_hot_for(material.keep_below, name)
        assert not heat.too_hot_for(material.keep_below - 0.1, name)


@given(st.floats(0.01, 2), st.floats(8, 20), st.floats(1, 7), st.floats(0.01, 1))
def test_energy_spent_by_the_stay_alive_is_mean_voltage_times_charge(capacitance, full, least, current):
    spent = store.stored_energy(capacitance, full) - store.stored_energy(capacitance, least)
    time = store.hold_time(capacitance, full, least, current)
    assert spent == pytest.approx((full + least) / 2 * current * time)


@given(st.sampled_from(list(heat.SHELL_RESISTANCE)), st.floats(20, 220))
def test_half_the_size_is_four_times_the_shell_resistance(material, ratio):
    assert heat.shell_resistance(material, 2 * ratio) == pytest.approx(4 * heat.shell_resistance(material, ratio))


@given(st.sampled_from(list(heat.BURN_THRESHOLDS)), st.floats(0.5, 1e5), st.floats(0.5, 1e5))
def test_longer_contact_never_bears_more(surface, one, other):
    short, long = sorted((one, other))
    assert heat.burn_threshold(surface, long).low <= heat.burn_threshold(surface, short).low


def test_contact_needs_time_and_a_known_surface():
    with pytest.raises(ValueError, match="contact"):
        heat.burn_threshold("plastics", 0.0)
    with pytest.raises(KeyError):
        heat.burn_threshold("paper", 1.0)
