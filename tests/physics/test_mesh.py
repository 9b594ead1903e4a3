"""Spur mesh: invariants, edges, and the rack's cut rebuilt point by point."""

from __future__ import annotations

from math import cos, pi, radians, sin, tan

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from buildsheets.physics import mesh

teeth = st.integers(min_value=7, max_value=70)
shift = st.floats(-0.2, 0.5)
opening = st.floats(0.0, 1.5)


@given(teeth, teeth, shift, shift, opening)
def test_mesh_is_symmetric_in_its_wheels(z1, z2, x1, x2, gap):
    centres = (z1 + z2) / 2 + gap
    one = mesh.spur_mesh(z1, z2, 1.0, centres, shift_1=x1, shift_2=x2)
    two = mesh.spur_mesh(z2, z1, 1.0, centres, shift_1=x2, shift_2=x1)
    assert one.contact_ratio == pytest.approx(two.contact_ratio, abs=1e-9)
    assert one.contact_ratio_textbook == pytest.approx(two.contact_ratio_textbook, abs=1e-9)
    assert one.backlash == pytest.approx(two.backlash, abs=1e-9)
    assert one.tip_clearance_1 == pytest.approx(two.tip_clearance_2, abs=1e-9)
    assert one.interference == two.interference


@given(teeth, teeth, st.floats(0.1e-3, 2e-3), opening)
def test_mesh_scales_with_module(z1, z2, module, gap):
    unit = mesh.spur_mesh(z1, z2, 1.0, (z1 + z2) / 2 + gap)
    small = mesh.spur_mesh(z1, z2, module, ((z1 + z2) / 2 + gap) * module)
    assert small.contact_ratio == pytest.approx(unit.contact_ratio, abs=1e-7)
    assert small.backlash / module == pytest.approx(unit.backlash, abs=1e-7)


@given(teeth, teeth, shift, shift)
def test_textbook_ratio_falls_and_backlash_grows_with_distance(z1, z2, x1, x2):
    centres = (z1 + z2) / 2 + np.linspace(0, 1.5, 20)
    pair = mesh.spur_mesh(z1, z2, 1.0, centres, shift_1=x1, shift_2=x2)
    assert np.all(np.diff(pair.contact_ratio_textbook) < 0)
    assert np.all(np.diff(pair.backlash) > 0)
    assert np.all(pair.contact_ratio <= np.maximum(pair.contact_ratio_textbook, 0) + 1e-12)


@given(st.integers(18, 70), st.integers(18, 70))
def test_clipped_ratio_equals_the_textbook_without_undercut(z1, z2):
    pair = mesh.spur_mesh(z1, z2, 1.0, (z1 + z2) / 2 + np.linspace(0, 1, 5))
    assert pair.contact_ratio == pytest.approx(pair.contact_ratio_textbook, abs=1e-9)
    assert not pair.wheel_1.undercut


@given(teeth, teeth, shift, shift)
def test_no_backlash_at_the_centres_cut_for(z1, z2, x1, x2):
    assume(x1 + x2 > -0.3)
    centres = mesh.fixed_centres(z1, z2, 0.5e-3, shift=x1, mating_shift=x2)
    pair = mesh.spur_mesh(z1, z2, 0.5e-3, centres, shift_1=x1, shift_2=x2)
    assert pair.backlash == pytest.approx(0.0, abs=1e-12)


def test_backlash_agrees_with_the_rule_for_small_openings():
    pair = mesh.spur_mesh(14, 40, 0.5e-3, 13.5e-3 + 0.005e-3)
    assert pair.backlash == pytest.approx(2 * 0.005e-3 * tan(radians(20)), rel=0.02)


@given(st.floats(0.0, 1.45))
def test_inverse_involute_undoes_involute(angle):
    assert mesh.inverse_involute(mesh.involute(angle)) == pytest.approx(angle, abs=1e-9 + 1e-6 * (angle < 1e-3))


@pytest.mark.parametrize("value", [-0.1, float("nan"), float("inf")])
def test_inverse_involute_refuses(value):
    with pytest.raises(ValueError, match="involute"):
        mesh.inverse_involute(value)


def test_undercut_flag_follows_the_rack_limit():
    for count in range(8, 30):
        limit = 2 * (1.0 - 0.1) / sin(radians(20)) ** 2
        assert mesh.wheel_form(count, 1.0, shift=0.1).undercut == (count < limit)


def rack_outline(angle, shift, addendum=1.0, dedendum=1.25, tip_radius=0.38):
    """One side of the cutting tooth as points: lateral place and depth below the rolling line."""
    rounding = min(tip_radius, (dedendum - addendum) / (1 - sin(angle)))
    centre_depth = dedendum - rounding
    depths = np.linspace(-1.0, centre_depth + rounding * sin(angle), 1500)
    normals = np.linspace(angle, pi / 2, 1500)
    end = -depths[-1] * tan(angle)
    arc_x = end + rounding * (np.cos(normals) - cos(angle))
    arc_depth = centre_depth + rounding * np.sin(normals)
    return np.concatenate([-depths * tan(angle), arc_x]), np.concatenate([depths, arc_depth]) - shift


def form_radius_by_cutting(count, angle, shift):
    """Carries each point of the rack through each radius and sees where more than the involute goes."""
    reference, base = count / 2, count / 2 * cos(angle)
    across, depth = rack_outline(angle, shift)
    radii = np.linspace(base * 1.0001, reference + 0.9, 2000)[:, None]
    height = reference - depth
    half = np.sqrt(np.where(radii > np.abs(height), radii**2 - height**2, np.nan))
    swept = [np.arctan2(x, height) - (x - across) / reference for x in (half, -half)]
    cut = np.nanmax(np.concatenate(swept, axis=1), axis=1)
    # a shifted rack crosses the rolling line aside of where it does unshifted; the involute counts from there
    offset = -shift * tan(angle) / reference
    involute = mesh.involute(np.arccos(base / radii[:, 0])) - mesh.involute(angle) + offset
    return radii[np.flatnonzero(cut > involute + 1e-6)[-1], 0]


# Computed: an envelope of the same rack built without the formula.
@pytest.mark.parametrize(("count", "shift"), [(7, 0.0), (8, 0.0), (9, 0.1), (10, 0.0)])
def test_undercut_radius_against_rolling_the_rack(count, shift):
    expected = form_radius_by_cutting(count, radians(20), shift)
    assert mesh.form_radius(count, shift=shift) == pytest.approx(expected, abs=0.002)


def test_rack_rounding_is_limited_at_other_angles():
    held = mesh.form_radius(12, radians(14.5), tip_radius=0.38)
    assert held == pytest.approx(mesh.form_radius(12, radians(14.5), tip_radius=0.25 / (1 - sin(radians(14.5)))))


def test_form_radius_of_a_shifted_wheel_is_its_involute_start():
    # Formula of the involute's start without undercut, machine-design books (from memory).
    reach = 10 * sin(radians(20)) - 0.8 / sin(radians(20))
    assert mesh.form_radius(20, shift=0.2) == pytest.approx(np.hypot(10 * cos(radians(20)), reach))


def test_pointed_tooth_is_found_and_cut_back():
    form = mesh.wheel_form(7, 0.4e-3, shift=0.6)
    assert form.pointed
    assert form.tip_thickness < 0
    assert form.tip_radius < 0.4e-3 * (3.5 + 1 + 0.6)
    assert not mesh.wheel_form(12, 0.4e-3).pointed


def test_closer_than_cut_for_interferes():
    pair = mesh.spur_mesh(11, 40, 0.4e-3, 0.4e-3 * 25)
    assert pair.interference
    assert pair.backlash < 0


def test_tip_in_root_interferes():
    pair = mesh.spur_mesh(20, 40, 1.0, 30.05, addendum=1.24)
    deep = mesh.spur_mesh(20, 40, 1.0, 29.7, addendum=1.24)
    assert pair.tip_clearance_1 > 0
    assert deep.tip_clearance_1 < 0
    assert deep.interference


def test_tip_deeper_than_the_rack_interferes_though_backlash_and_clearance_are_there():
    centres = mesh.fixed_centres(18, 20, 1.0, mating_shift=1.0) + 0.01
    pair = mesh.spur_mesh(18, 20, 1.0, centres, shift_2=1.0)
    assert pair.backlash > 0
    assert min(pair.tip_clearance_1, pair.tip_clearance_2) > 0
    assert pair.interference


def test_overlapping_base_circles():
    pair = mesh.spur_mesh(20, 20, 1.0, 18.0)
    assert pair.working_pressure_angle == 0
    assert pair.interference
    assert np.isfinite(pair.contact_ratio)


def test_far_apart_there_is_no_contact():
    assert mesh.spur_mesh(12, 30, 1.0, 25.0).contact_ratio == 0


def test_shifts_and_distances_vectorise():
    shifts = np.linspace(0, 0.5, 7)
    pair = mesh.spur_mesh(9, 30, 0.4e-3, np.full(7, 7.9e-3), shift_1=shifts)
    single = mesh.spur_mesh(9, 30, 0.4e-3, 7.9e-3, shift_1=shifts[3])
    assert pair.contact_ratio.shape == (7,)
    assert pair.contact_ratio[3] == pytest.approx(single.contact_ratio)


@pytest.mark.parametrize(
    ("build", "match"),
    [
        (lambda: mesh.spur_mesh(4, 30, 1.0, 17.0), "at least 5 teeth"),
        (lambda: mesh.spur_mesh(10, 30, 0.0, 17.0), "module"),
        (lambda: mesh.spur_mesh(10, 30, 1.0, 0.0), "centre distance"),
        (lambda: mesh.wheel_form(10, 1.0, shift=-3.0), "no tooth"),
        (lambda: mesh.fixed_centres(10, 30, 1.0, shift=-3.0), "involute"),
    ],
)
def test_impossible_meshes_are_refused(build, match):
    with pytest.raises(ValueError, match=match):
        build()


@pytest.mark.parametrize(
    ("ratio", "word"),
    [(1.3, "sound"), (1.2, "sound"), (1.1, "marginal"), (1.0, "marginal"), (0.99, "does not carry")],
)
def test_verdicts(ratio, word):
    assert mesh.mesh_verdict(ratio) == word
