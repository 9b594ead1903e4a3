"""Ratios, efficiencies and worms: invariants and edges."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from buildsheets.physics import gearing
from buildsheets.physics.gearing import SpurStage, WormStage

teeth = st.integers(min_value=6, max_value=80)
spur_stages = st.builds(SpurStage, driver=teeth, driven=teeth, idlers=st.integers(0, 3))
worm_stages = st.builds(
    WormStage,
    starts=st.integers(1, 4),
    driven=teeth,
    friction=st.floats(0.02, 0.2),
)
trains = st.lists(st.one_of(spur_stages, worm_stages), max_size=4)


@given(trains)
def test_efficiency_lies_between_zero_and_one(stages):
    assert 0 < gearing.train_efficiency(stages) <= 1
    assert gearing.train_back_drive_efficiency(stages) <= gearing.train_efficiency(stages) * (1 + 1e-12)


@given(teeth, teeth, st.integers(1, 4))
def test_idlers_change_loss_but_not_ratio(driver, driven, idlers):
    plain, long = (
        SpurStage(driver=driver, driven=driven),
        SpurStage(driver=driver, driven=driven, idlers=idlers),
    )
    assert long.ratio == plain.ratio
    assert long.forward_efficiency == pytest.approx(plain.forward_efficiency * gearing.SPUR_STAGE_EFFICIENCY**idlers)


@given(st.floats(math.radians(1), math.radians(40)), st.floats(0.01, 0.3))
def test_worm_formula_equals_the_published_form(lead, friction):
    angle = gearing.WORM_NORMAL_PRESSURE_ANGLE
    phi = gearing.friction_angle(friction)
    # Sources opened: two formula pages, (cos a - mu tan L) / (cos a + mu cot L).
    published = (math.cos(angle) - friction * math.tan(lead)) / (math.cos(angle) + friction / math.tan(lead))
    back = (math.cos(angle) - friction / math.tan(lead)) / (math.cos(angle) + friction * math.tan(lead))
    assert gearing.worm_efficiency(lead, phi) == pytest.approx(published)
    assert gearing.worm_back_drive_efficiency(lead, phi) == pytest.approx(back, abs=1e-9)


@given(st.floats(math.radians(1), math.radians(30)), st.floats(0.01, 0.3))
def test_worm_locks_below_its_friction_angle(lead, friction):
    phi = gearing.friction_angle(friction)
    assert (gearing.worm_back_drive_efficiency(lead, phi) < 0) == bool(lead < phi)


def test_measured_worm_efficiency_wins_and_gives_the_back_drive():
    stage = WormStage(starts=1, driven=30, efficiency=0.30)
    assert stage.forward_efficiency == pytest.approx(0.30)
    assert stage.back_drive_efficiency < WormStage(starts=1, driven=30).back_drive_efficiency


def test_given_lead_angle_wins_over_the_default():
    lead = float(gearing.worm_lead_angle(1, 0.4e-3, 4.0e-3))
    assert WormStage(starts=1, driven=30, lead_angle=lead).lead == lead
    assert WormStage(starts=1, driven=30).lead == pytest.approx(math.atan(1 / 12))


def test_measured_spur_efficiency_wins():
    stage = SpurStage(driver=10, driven=30, idlers=2, efficiency=0.95)
    assert stage.forward_efficiency == stage.back_drive_efficiency == 0.95


def test_two_locking_worms_stay_locked():
    worm = WormStage(starts=1, driven=30)
    assert gearing.train_back_drive_efficiency([worm, worm]) < 0


def test_direct_drive():
    assert gearing.train_efficiency([]) == 1


@given(st.floats(math.radians(2), math.radians(8)), st.floats(0.02, 0.15))
def test_back_drive_from_efficiency_is_close_for_a_worm(lead, friction):
    phi = gearing.friction_angle(friction)
    estimate = gearing.back_drive_from_efficiency(gearing.worm_efficiency(lead, phi))
    assert estimate == pytest.approx(gearing.worm_back_drive_efficiency(lead, phi), abs=0.12)
    assert (estimate < 0) == (gearing.worm_efficiency(lead, phi) < 0.5)


def test_formulas_take_arrays():
    leads = gearing.worm_lead_angle([1, 2, 3], 0.4e-3, 4.8e-3)
    assert leads.shape == (3,)
    assert np.all(np.diff(gearing.worm_efficiency(leads, gearing.friction_angle(0.1))) > 0)


@pytest.mark.parametrize(
    ("build", "match"),
    [
        (lambda: SpurStage(driver=0, driven=10), "driver teeth"),
        (lambda: SpurStage(driver=10, driven=0), "driven teeth"),
        (lambda: SpurStage(driver=10, driven=10, idlers=-1), "idlers"),
        (lambda: SpurStage(driver=10, driven=10, efficiency=1.2), "efficiency"),
        (lambda: WormStage(starts=0, driven=10), "worm starts"),
        (lambda: WormStage(starts=1, driven=0), "driven teeth"),
        (lambda: WormStage(starts=1, driven=10, efficiency=0.0), "efficiency"),
    ],
)
def test_impossible_stages_are_refused(build, match):
    with pytest.raises(ValueError, match=match):
        build()


def test_worm_meshes_once():
    assert WormStage(starts=1, driven=30).meshes == 1
