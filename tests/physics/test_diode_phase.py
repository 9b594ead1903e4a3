"""A search that begins where the last one ended, and stops short of the last digit, finds what a search from nothing finds.

The other road is the same chain looked at alone, without a trace, or steps of scipy; the sources stand beside the checks.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.interpolate import CubicHermiteSpline
from scipy.optimize import brentq

from buildsheets.physics import diode_chain, diode_phase, pwm
from buildsheets.physics.diode_chain import diode_chain_means
from buildsheets.physics.diodes import SCHOTTKY, SILICON, junction_level, pair_voltage
from buildsheets.physics.drive_period import MEANS, drive_period
from buildsheets.physics.pwm import mean_current, periodic_current, solve_emf

BUS, DROP = 13.0, 0.7
BYPASSED = replace(SILICON, bypass=330.0)
DUTY = np.array([0.02, 0.1, 0.35, 0.6, 0.9, 0.999, 1.0])
CASES = [
    ("coast", 100.0, 3, SILICON), ("coast", 3e3, 2, SILICON), ("coast", 2e4, 3, BYPASSED), ("open", 2e3, 1, SCHOTTKY),
    ("brake", 100.0, 2, SILICON), ("brake", 2e4, 3, BYPASSED),
]  # fmt: skip


def period(mode: str, frequency: float, emf: float):
    flat = [np.full(DUTY.shape, value) for value in (BUS, emf, 25.0, 4e-3, frequency, DROP)]
    bus, level, resistance, inductance, beat, drop = flat
    return drive_period(DUTY, bus, level, resistance, inductance, beat, mode, drop)


@pytest.mark.parametrize("given", CASES)
@pytest.mark.parametrize(("near", "far"), [(3.0, 3.02), (3.0, 8.0), (8.0, 0.5), (0.5, 12.9)])
def test_a_look_nearby_begins_where_the_last_one_ended(given, near, far, monkeypatch):
    """From whatever trace: the next EMF, one far off, and over the border between rest and flow either way."""
    mode, frequency, pairs, card = given
    _, trace = diode_chain_means(period(mode, frequency, near), pairs, card)
    looks = []
    look = diode_phase.look
    for module in (diode_phase, diode_chain):
        monkeypatch.setattr(module, "look", lambda *a: looks.append(a) or look(*a))
    alone, _ = diode_chain_means(period(mode, frequency, far), pairs, card)
    without = len(looks)
    led, _ = diode_chain_means(period(mode, frequency, far), pairs, card, trace)
    for name in MEANS:
        assert getattr(led, name) == pytest.approx(getattr(alone, name), rel=1e-8, abs=1e-11), name
    assert led.converged.all()
    if abs(far - near) < 0.1:
        assert len(looks) - without < without


@pytest.mark.parametrize("given", CASES)
def test_what_the_last_step_leaves_goes_with_its_square(given, monkeypatch):
    """Steps a thousand times as long leave less than a millionth: their time is put in as a straight piece, slopes and all."""
    mode, frequency, pairs, card = given
    exact, _ = diode_chain_means(period(mode, frequency, 3.0), pairs, card)
    monkeypatch.setattr(diode_phase, "LAST_STEP", 1e-3)
    monkeypatch.setattr(diode_chain, "SMALL_STEP", 1e-3)
    rough, _ = diode_chain_means(period(mode, frequency, 3.0), pairs, card)
    for name in MEANS:
        assert getattr(rough, name) == pytest.approx(getattr(exact, name), rel=3e-6, abs=1e-9), name


@pytest.mark.parametrize("given", CASES)
def test_the_slope_is_that_of_the_mean_current(given):
    """Central differences of the mean current, where no row crosses from rest to flow."""
    mode, frequency, pairs, card = given
    chain = (25.0, 4e-3, frequency, mode, DROP, pairs, card)
    step = 1e-4
    current, slope = mean_current(DUTY, BUS, 3.0 + step * np.array([[-1.0], [0.0], [1.0]]), *chain)
    assert slope[1] == pytest.approx((current[2] - current[0]) / (2 * step), rel=1e-5, abs=1e-8)


def test_a_search_cut_short_says_so(monkeypatch):
    monkeypatch.setattr(diode_phase, "MOST_STEPS", 1)
    monkeypatch.setattr(diode_chain, "MOST_STEPS", 1)
    monkeypatch.setattr(diode_chain, "FEW_STEPS", 1)
    for mode, frequency, pairs, card in CASES:
        case = periodic_current(DUTY, BUS, 3.0, 25.0, 4e-3, frequency, mode, DROP, pairs, card)
        assert not case.converged.all()
        assert case.converged[-1]  # full on is direct current, which needs no search


def test_a_bridge_never_off_carries_direct_current():
    """Kirchhoff by scipy's brentq, either way round; its change with EMF by implicit differences."""
    emf = np.array([0.0, 6.0, 12.0, 14.0])
    case = periodic_current(1.0, BUS, emf, 25.0, 4e-3, 100.0, "brake", DROP, 2, BYPASSED)

    def current(at: float) -> float:
        return brentq(lambda i: 25.0 * i + 2 * float(pair_voltage(i, BYPASSED)) - (BUS - at), -2.0, 2.0, xtol=1e-16)

    flowing = np.array([current(level) for level in emf])
    assert case.mean_current == pytest.approx(flowing, rel=1e-9)
    assert case.rms_current == pytest.approx(np.abs(flowing), rel=1e-9)
    assert case.mean_abs_current == pytest.approx(np.abs(flowing), rel=1e-9)
    assert case.mean_diode_voltage == pytest.approx(2 * pair_voltage(flowing, BYPASSED), rel=1e-9)
    assert case.mean_bypass_power == pytest.approx((2 * pair_voltage(flowing, BYPASSED)) ** 2 / (2 * 330.0), rel=1e-9)
    assert case.mean_diode_power + case.mean_bypass_power == pytest.approx(2 * pair_voltage(flowing, BYPASSED) * flowing, rel=1e-9)
    slope = [(current(level + 1e-4) - current(level - 1e-4)) / 2e-4 for level in emf]
    assert case.mean_current_slope == pytest.approx(slope, rel=1e-5)
    idle = periodic_current(1.0, BUS, 14.0, 25.0, 4e-3, 100.0, "coast", DROP, 2)
    assert idle.conduction_fraction == 0.0
    assert idle.mean_current_slope == 0.0


def test_the_cubic_through_two_looks():
    """Where the EMF is a cubic of the excess the next look is the root; else as scipy's Hermite spline of the inverse leads."""
    def excess(emf):
        return 5.0 * np.exp(-emf) - 1.0

    def slope(emf):
        return -5.0 * np.exp(-emf)

    was, emf = np.array([1.2, 1.4, 1.9]), np.array([1.5, 1.62, 1.7])
    spline = [
        float(CubicHermiteSpline(*zip(*sorted([(excess(a), a, 1 / slope(a)), (excess(b), b, 1 / slope(b))]), strict=True))(0.0))
        for a, b in zip(was, emf, strict=True)
    ]
    low, high = np.zeros(3), np.full(3, 13.0)
    found = pwm._next_emf(emf, excess(emf), slope(emf), (was, excess(was), slope(was)), low, high)
    assert found == pytest.approx(spline, rel=1e-12)
    assert found == pytest.approx(np.log(5.0), abs=5e-4)
    tangent = emf - excess(emf) / slope(emf)
    assert pwm._next_emf(emf, excess(emf), slope(emf), None, low, high) == pytest.approx(tangent, rel=1e-12)
    # a corner in between makes a cubic lead astray: then the tangent, too; and out of the bracket its middle, or zero once
    bent = (was, excess(was), slope(was) / 400.0)
    assert pwm._next_emf(emf, excess(emf), slope(emf), bent, low, high) == pytest.approx(tangent, rel=1e-12)
    assert pwm._next_emf(emf, excess(emf), slope(emf), None, low, np.full(3, 1.6)) == pytest.approx(np.where(tangent < 1.6, tangent, 0.8))
    below = np.array([-20.0, -20.0, -20.0])
    assert list(pwm._next_emf(emf, below, slope(emf), None, low, emf)) == [0.0, 0.0, 0.0]
    assert pwm._next_emf(emf, below, slope(emf), None, np.full(3, 0.5), emf) == pytest.approx(0.5 * (0.5 + emf))


@pytest.mark.parametrize("frequency", [100.0, 2e3, 2e4])
@pytest.mark.parametrize("mode", ["coast", "open"])
def test_the_steady_emf_is_found_in_five_looks(mode, frequency, monkeypatch):
    """A good start and a cubic: fewer looks than Newton's method takes from standstill, all rows told as found."""
    monkeypatch.setattr(pwm, "MOST_EMF_ITERATIONS", 5)
    found = solve_emf(np.arange(1, 127) / 126, BUS, 28.0, 6e-3, frequency, mode, DROP, 0.05, 0.0, 3)
    assert found.converged.all()
    running = ~found.standing
    assert found.waveform.mean_current[running] == pytest.approx(0.05, rel=1e-8)
    assert np.all(found.emf[found.standing] == 0.0)


def test_a_level_is_found_from_any_guess(monkeypatch):
    """total = slow w + steep sinh w put back; a guess nearby takes one step, one far off is kept within the bounds."""
    total, slow, steep = np.geomspace(1e-9, 30.0, 60), 0.14, 4e-7
    level = junction_level(total, slow, steep)
    for guess in (0.0, 1e3, 0.3 * level):
        assert junction_level(total, slow, steep, guess) == pytest.approx(level, rel=1e-12)
    monkeypatch.setattr("buildsheets.physics.diodes.MOST_STEPS", 1)
    assert junction_level(total, slow, steep, level * (1 + 1e-5)) == pytest.approx(level, rel=1e-11)
