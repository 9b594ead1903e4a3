"""Feedback: the reading, the limits of holding.

The bare divider is a textbook result (computed here by hand); the drop of a silicon diode at 10 µA is
the 0.34 V of its published card (D).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from buildsheets.physics import feedback
from buildsheets.physics.diodes import SCHOTTKY, SILICON


def test_resistors_lose_only_their_share_of_the_divider() -> None:
    assert feedback.reading_share([0.0, 0.01, 12.0], 27.5 + 20.0) == pytest.approx(100e3 / 100_047.5, rel=1e-12)


def test_a_pair_keeps_back_its_drop_at_microamps() -> None:
    emf = 1.0 + 0.34  # 10 µA through 100 kohm read 1 V; silicon at 10 µA drops 0.34 V
    assert feedback.sensed_voltage(emf, 16.0, 100e3, 1) == pytest.approx(1.0, abs=0.01)
    assert feedback.sensed_voltage(1.0 + 3 * 0.34, 16.0, 100e3, 3) == pytest.approx(1.0, abs=0.02)


def test_below_the_knee_nothing_is_seen() -> None:
    assert feedback.reading_share(0.3, 16.0, 100e3, 5) < 0.02
    assert feedback.sensed_voltage(0.0, 16.0, 100e3, 5) == 0.0


def test_a_bypass_recovers_the_reading() -> None:
    assert feedback.reading_share([0.0, 0.1, 5.0], 16.0, 100e3, 5, SILICON, 1000.0) == pytest.approx(0.99, abs=0.01)


@given(
    st.floats(0.0, 20.0), st.floats(0.0, 200.0), st.floats(1e3, 1e7), st.integers(1, 8),
    st.sampled_from([SILICON, SCHOTTKY]), st.floats(100.0, 1e6),
)
def test_share_is_bounded_even_and_raised_by_emf_and_bypass(emf, series, measuring, pairs, card, bypass) -> None:
    share = feedback.reading_share(emf, series, measuring, pairs, card)
    assert 0.0 < share <= measuring / (series + measuring) * (1 + 1e-12)
    assert feedback.reading_share(-emf, series, measuring, pairs, card) == pytest.approx(share, rel=1e-12)
    assert feedback.reading_share(emf + 0.1, series, measuring, pairs, card) >= share * (1 - 1e-12)
    assert feedback.reading_share(emf, series, measuring, pairs, card, bypass) >= share * (1 - 1e-12)


@pytest.mark.parametrize("wrong", [(1.0, -1.0), (1.0, 1.0, 0.0), (1.0, 1.0, 1.0, -1), (1.0, 1.0, 1.0, 1, SILICON, 0.0)])
def test_impossible_parts_are_refused(wrong) -> None:
    with pytest.raises(ValueError, match="must be above zero"):
        feedback.reading_share(*wrong)


def test_bypass_may_come_with_the_card_and_is_not_counted_twice() -> None:
    """One resistor across three pairs is a third of it across each (computed)."""
    card = replace(SILICON, bypass=1000.0 / 3)
    given = feedback.reading_share([0.1, 5.0], 16.0, 100e3, 3, SILICON, 1000.0)
    assert feedback.reading_share([0.1, 5.0], 16.0, 100e3, 3, card) == pytest.approx(given, rel=1e-12)
    assert feedback.reading_share([0.1, 5.0], 16.0, 100e3, 3, card, 1000.0) == pytest.approx(given, rel=1e-12)


@given(
    st.floats(0.0, 20.0), st.floats(0.0, 200.0), st.floats(1e3, 1e7), st.integers(0, 8),
    st.sampled_from([SILICON, SCHOTTKY]), st.sampled_from([100.0, 1000.0, 1e6, np.inf]),
)
def test_emf_behind_a_reading_is_the_reading_turned_round(emf, series, measuring, pairs, card, bypass) -> None:
    reading = feedback.sensed_voltage(emf, series, measuring, pairs, card, bypass)
    assert feedback.emf_behind(reading, series, measuring, pairs, card, bypass) == pytest.approx(emf, rel=1e-7, abs=1e-9)


def test_a_reading_below_zero_is_refused() -> None:
    with pytest.raises(ValueError, match="must not be negative"):
        feedback.emf_behind(-0.1, 16.0)
    with pytest.raises(ValueError, match="must be above zero"):
        feedback.emf_behind(0.1, 16.0, 0.0)


def test_visible_from_the_step_after_the_last_hidden_one() -> None:
    assert feedback.visible_from_step([0.1, 0.6, 0.4, 0.5, 0.9]) == 4
    assert feedback.visible_from_step([1.0, 1.0]) == 1
    assert feedback.visible_from_step([0.1, 0.2]) is None


def test_held_below_saturation_and_given_all_above() -> None:
    target = np.arange(1.0, 6.0)
    assert feedback.saturation_step(target, 3.5) == 4
    assert feedback.saturation_step(target, 5.0) is None
    assert feedback.held_emf(target, 3.5).tolist() == [1.0, 2.0, 3.0, 3.5, 3.5]


def test_winding_has_died_after_its_time() -> None:
    time = feedback.current_decay_time(5e-3, 25.0)
    assert time == pytest.approx(1e-3)
    assert np.exp(-time * 25.0 / 5e-3) < 0.01
