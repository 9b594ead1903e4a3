"""Swapping a pinion at fixed centres: which assumptions are made and what they decide."""

from __future__ import annotations

import numpy as np
import pytest

from buildsheets.physics import mesh
from buildsheets.physics.pinion import SHIFT_PRACTICES, practice_shift, swapped_pinion


def test_unknown_shifts_give_nine_cases_and_three_of_one_maker():
    swap = swapped_pinion(9, 10, 30, 0.4e-3)
    assert swap.mesh.contact_ratio.shape == (9,)
    assert np.count_nonzero(swap.same_maker) == 3
    alike = swap.mesh.contact_ratio[swap.same_maker]
    assert swap.span[0] <= alike.min() <= alike.max() <= swap.span[1]


def test_own_mount_has_no_backlash_under_any_practice():
    swap = swapped_pinion(10, None, 30, 0.4e-3)
    assert swap.old_practice == swap.new_practice == SHIFT_PRACTICES
    assert swap.mesh.backlash == pytest.approx(np.zeros(3), abs=1e-12)
    assert swap.interference_level == "ok"


def test_measured_centres_win():
    swap = swapped_pinion(9, 10, 30, 0.4e-3, centre_distance=7.9e-3)
    assert set(swap.old_practice) == {"measured"}
    assert np.all(swap.mesh.centre_distance == 7.9e-3)
    assert swap.same_maker.all()


def test_given_shifts_leave_one_case():
    swap = swapped_pinion(9, 10, 30, 0.4e-3, new_shift=0.3, cut_for_shift=0.2)
    assert swap.mesh.contact_ratio.shape == (1,)
    assert swap.old_shift[0] == 0.2
    assert swap.same_maker.all()


def test_one_given_shift_leaves_three_cases():
    assert swapped_pinion(9, 10, 30, 0.4e-3, cut_for_shift=0.2).mesh.contact_ratio.shape == (3,)


def test_another_mating_wheel_moves_the_centres():
    swap = swapped_pinion(9, 10, 31, 0.4e-3, cut_for_mating_teeth=30, new_shift=0.0, cut_for_shift=0.0)
    assert swap.mesh.centre_distance[0] == pytest.approx(8.0e-3)


def test_shift_of_the_old_mate_moves_the_centres():
    swap = swapped_pinion(9, 10, 30, 0.4e-3, new_shift=0.0, cut_for_shift=0.0, cut_for_mating_shift=0.2)
    expected = mesh.fixed_centres(10, 30, 0.4e-3, mating_shift=0.2)
    assert swap.mesh.centre_distance[0] == pytest.approx(float(expected))


def test_a_larger_pinion_jams():
    swap = swapped_pinion(11, 10, 30, 0.4e-3)
    assert swap.interference_level == "stop"


def test_a_pinion_shifted_more_than_the_old_one_may_jam():
    assert swapped_pinion(10, 10, 30, 0.4e-3).interference_level == "caution"


def test_large_wheels_are_sound():
    assert swapped_pinion(24, None, 40, 0.4e-3).level == "ok"


def test_practice_shift_is_never_negative():
    assert [practice_shift(20, practice) for practice in SHIFT_PRACTICES] == [0, 0, 0]
    assert practice_shift(9, "shifted to 17") == pytest.approx(8 / 17)


def test_unknown_practice_is_refused():
    with pytest.raises(ValueError, match="practice"):
        practice_shift(9, "by eye")
