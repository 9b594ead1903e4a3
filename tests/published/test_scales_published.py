"""Scale arithmetic against published tables and lists.

Basis codes beside each check: S source opened, M memory, C common practice, D derived (computed).
"""

from __future__ import annotations

import pytest

from buildsheets.physics import scales

FOOT, KMH_PER_MPH = 0.3048, 1.609344  # definitions of foot and mile


# Basis D (definitions).
@pytest.mark.parametrize(("mph", "ratio", "mm_s"), [(60, 76.2, 352.000), (60, 87.1, 307.949)])
def test_scale_mph(mph, ratio, mm_s):
    assert scales.scale_mph(mm_s * 1e-3, ratio) == pytest.approx(mph, abs=2e-4)


# Basis D: the table of speeds by scale, to its printed digits.
@pytest.mark.parametrize(
    ("ratio", "mm_s_per_mph", "at_60_mph", "at_100_kmh"),
    [
        (220, 2.032, 121.92, 126.26),
        (160, 2.794, 167.64, 173.61),
        (148, 3.0205, 181.23, 187.69),
        (120, 3.7253, 223.52, 231.48),
        (101.6, 4.4, 264.0, 273.40),
        (87.1, 5.1325, 307.95, 318.92),
        (76.2, 5.8667, 352.0, 364.54),
        (64, 6.985, 419.10, 434.03),
        (48, 9.3133, 558.8, 578.70),
        (45, 9.9342, 596.05, 617.28),
        (304.8 / 7, 10.2667, 616.0, 637.94),
        (32, 13.97, 838.2, 868.06),
        (22.5, 19.868, 1192.1, 1234.6),
    ],
)
def test_table_of_speeds_by_scale(ratio, mm_s_per_mph, at_60_mph, at_100_kmh):
    assert scales.scale_mph(mm_s_per_mph * 1e-3, ratio) == pytest.approx(1, rel=1e-4)
    assert scales.scale_mph(at_60_mph * 1e-3, ratio) == pytest.approx(60, rel=5e-5)
    assert scales.scale_mph(at_100_kmh * 1e-3, ratio) * KMH_PER_MPH == pytest.approx(100, rel=5e-5)


# Basis D.
@pytest.mark.parametrize(
    ("distance_mm", "seconds", "ratio", "expected", "tolerance"),
    [(1000, 2.94, 76.2, 57.978, 1e-3), (76.2, 15, 87.1, 0.9898, 1e-4), (457.2, 5.2, 87.1, 17.131, 1e-3)],
)
def test_scale_mph_from_a_run(distance_mm, seconds, ratio, expected, tolerance):
    run = scales.timed_run(distance_mm * 1e-3, seconds)
    assert scales.scale_mph(run.speed, ratio) == pytest.approx(expected, abs=tolerance)


def test_a_run_of_no_time_is_an_error():
    with pytest.raises(ValueError, match="above zero"):
        scales.timed_run(1.0, 0.0)


# Basis S: a forum's table for N, seconds for one foot at 1:160, printed to 0.1 s.
@pytest.mark.parametrize(
    ("mph", "seconds"),
    [(10, 10.9), (15, 7.3), (20, 5.5), (25, 4.4), (30, 3.6), (35, 3.1), (40, 2.7), (45, 2.4)],
)
def test_published_n_table(mph, seconds):
    slowest, fastest = (scales.scale_mph(FOOT / (seconds + off), 160) for off in (0.051, -0.051))
    assert slowest < mph < fastest


# Basis S: a forum post, HO at 60 mph is about one foot a second; recomputed 1.0103 (D).
def test_published_ho_speed():
    assert scales.scale_mph(FOOT, 87.1) == pytest.approx(60, rel=0.02)
    assert scales.scale_mph(1.0103 * FOOT, 87.1) == pytest.approx(60, rel=1e-4)


# Basis S: a large-scale page, scale mph for each foot a second at 1:32.
def test_published_large_scale_factor():
    assert scales.scale_mph(FOOT, 32) == pytest.approx(21.8, abs=0.05)
    assert scales.scale_mph(FOOT, 32) == pytest.approx(21.818, abs=1e-3)


# Basis S: NEM 661 (percentages) and NEM 010 (ratios); values D.
@pytest.mark.parametrize(
    ("ratio", "gauge_mm", "expected_mm_s"),
    [
        (220, 6.5, 242.4),
        (160, 9, 312.5),
        (120, 12, 388.9),
        (87, 16.5, 498.1),
        (64, 22.5, 625.0),
        (45, 32, 814.8),
        (32, 45, 1041.7),
    ],
)
def test_nem_661_ceiling(ratio, gauge_mm, expected_mm_s):
    for gauge in (None, gauge_mm * 1e-3):
        highest = 120 * (1 + scales.nem_661_allowance(ratio, gauge))
        assert scales.scale_mph(expected_mm_s * 1e-3, ratio) * KMH_PER_MPH == pytest.approx(highest, rel=3e-4)


# Basis M (errors add as squares), C (stopwatch), D (values).
@pytest.mark.parametrize(
    ("distance", "distance_error", "time", "speed_mm_s", "percent", "mph", "mph_error"),
    [
        (1.0, 0.002, 2.94, 340.14, 5.11, 57.98, 2.96),
        (1.0, 0.002, 10.0, 100.0, 1.51, 17.05, 0.26),
        (3.0, 0.003, 8.82, 340.14, 1.70, 57.98, 0.99),
    ],
)
def test_timed_run(distance, distance_error, time, speed_mm_s, percent, mph, mph_error):
    run = scales.timed_run(distance, time, distance_error, scales.TIMING_ERRORS["stopwatch"])
    assert run.speed * 1e3 == pytest.approx(speed_mm_s, abs=0.01)
    assert run.relative_error * 100 == pytest.approx(percent, abs=0.01)
    assert scales.scale_mph(run.speed, 76.2) == pytest.approx(mph, abs=0.01)
    assert scales.scale_mph(run.speed_error, 76.2) == pytest.approx(mph_error, abs=0.01)


# Basis D: two events at thirty pictures a second.
def test_video_timing_error():
    assert scales.TIMING_ERRORS["video"] == pytest.approx(2**0.5 / 30, abs=5e-4)
