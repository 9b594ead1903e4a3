from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp, trapezoid
from scipy.optimize import brentq

from buildsheets.physics import pwm
from buildsheets.physics.diodes import SCHOTTKY, SILICON, pair_voltage
from buildsheets.physics.linear_chain import one_way_means
from buildsheets.physics.pwm import (
    mean_current,
    periodic_current,
    solve_emf,
    solve_warm_emf,
)

MODES = ("coast", "brake", "open")
STEPS = np.arange(127) / 126.0

duties = st.floats(0.0, 1.0)
emfs = st.floats(0.0, 16.0)
resistances = st.floats(3.0, 150.0)
inductances = st.floats(1e-6, 20e-3)
frequencies = st.floats(40.0, 40e3)
modes = st.sampled_from(MODES)
pair_counts = st.integers(0, 5)
BYPASSED = replace(SILICON, bypass=330.0)
cards = st.sampled_from((SILICON, SCHOTTKY, BYPASSED, replace(SCHOTTKY, bypass=2000.0)))
few = settings(max_examples=60, deadline=None, derandomize=True)


@few
@given(emfs, resistances, inductances, frequencies, modes, pair_counts, cards)
def test_full_on_is_direct_current(emf, resistance, inductance, frequency, mode, pairs, card):
    case = periodic_current(1.0, 13.0, emf, resistance, inductance, frequency, mode, 0.7, pairs, card)
    if emf >= 13.0 and mode != "brake":
        expected = 0.0
    else:
        expected = brentq(
            lambda i: resistance * i + pairs * pair_voltage(i, card) - (13.0 - emf), -5.0, 5.0, xtol=1e-15
        )
    for current in (case.mean_current, case.peak_current, case.lowest_current):
        assert current == pytest.approx(expected, rel=1e-7, abs=2e-9)
    assert case.rms_current == pytest.approx(abs(expected), rel=1e-7, abs=2e-9)


@few
@given(duties, emfs, resistances, inductances, frequencies)
def test_braking_chain_without_diodes_is_linear(duty, emf, resistance, inductance, frequency):
    case = periodic_current(duty, 13.0, emf, resistance, inductance, frequency, "brake", 0.7)
    assert case.mean_current == pytest.approx((duty * 13.0 - emf) / resistance, rel=1e-9, abs=1e-12)
    assert case.mean_current_slope == pytest.approx(-1.0 / resistance)


@few
@given(resistances, inductances, frequencies, modes, pair_counts, cards)
def test_mean_current_falls_with_emf_and_rises_with_duty(resistance, inductance, frequency, mode, pairs, card):
    emf = np.linspace(0.0, 14.0, 9)
    duty = np.linspace(0.0, 1.0, 11)[:, None]
    case = periodic_current(duty, 13.0, emf, resistance, inductance, frequency, mode, 0.7, pairs, card)
    assert case.converged.all()
    rounding = 1e-8 * 13.0 / resistance
    assert np.all(np.diff(case.mean_current, axis=0) >= -rounding)
    assert np.all(np.diff(case.mean_current, axis=1) <= rounding)


@few
@given(emfs, resistances, inductances, frequencies, modes, pair_counts, cards)
def test_energy_closes_and_means_are_ordered(emf, resistance, inductance, frequency, mode, pairs, card):
    case = periodic_current(STEPS, 13.0, emf, resistance, inductance, frequency, mode, 0.7, pairs, card)
    turned_over = (
        case.resistive_power + np.abs(case.emf_power) + case.mean_diode_power + case.mean_bypass_power + case.freewheel_power
    )
    left = case.bus_power - case.resistive_power - case.emf_power
    left -= case.mean_diode_power + case.mean_bypass_power + case.freewheel_power
    assert np.all(np.abs(left) <= 1e-6 * turned_over + 1e-11)
    rounding = 1e-9 * 13.0 / resistance
    assert np.all(case.rms_current >= case.mean_abs_current - rounding)
    assert np.all(case.mean_abs_current >= np.abs(case.mean_current) - rounding)
    assert np.all((case.conduction_fraction >= 0.0) & (case.conduction_fraction <= 1.0))
    assert np.all(case.peak_current >= case.lowest_current - rounding)


@few
@given(duties, st.floats(0.0, 12.0), resistances, frequencies, st.sampled_from(("coast", "open")), pair_counts)
def test_without_inductance_current_follows_the_voltage(duty, emf, resistance, frequency, mode, pairs):
    case = periodic_current(duty, 13.0, emf, resistance, 0.0, frequency, mode, 0.7, pairs)
    flowing = brentq(lambda i: resistance * i + pairs * pair_voltage(i) - (13.0 - emf), 0.0, 5.0, xtol=1e-15)
    assert case.mean_current == pytest.approx(duty * flowing, rel=1e-6, abs=1e-9)
    assert case.rms_current**2 == pytest.approx(duty * flowing**2, rel=1e-6, abs=1e-12)
    assert case.mean_diode_power == pytest.approx(duty * flowing * pairs * pair_voltage(flowing), rel=1e-6, abs=1e-9)


@few
@given(duties, st.floats(0.01, 12.0), resistances, inductances, frequencies, modes, pair_counts, cards)
def test_slope_is_the_change_of_mean_current_with_emf(
    duty, emf, resistance, inductance, frequency, mode, pairs, card
):
    step = 1e-3
    around, slope = mean_current(
        duty, 13.0, emf + step * np.array([-1.0, 0.0, 1.0]), resistance, inductance, frequency, mode, 0.7, pairs,
        card,
    )
    chord = (around[2] - around[0]) / (2.0 * step)
    # The slope jumps where conduction becomes continuous: the chord across lies between the outer slopes.
    low, high = sorted((slope[0], slope[2]))
    slack = 2e-3 * abs(slope[1]) + 1e-6 / resistance
    assert low - slack <= chord <= high + slack


@pytest.mark.parametrize("mode", ["coast", "open"])
def test_conduction_limit_divides_the_regimes(mode):
    # textbook limit (tau/T) ln(1 + m (exp(T/tau) - 1)), m = EMF/bus, what the bridge sets against the current added to both
    bus, emf, resistance, inductance, frequency = 13.0, 3.0, 20.0, 2e-3, 5e3
    drop = {"coast": 0.7, "open": bus + 2 * 0.7}[mode]
    x = resistance / inductance / frequency
    limit = np.log1p((emf + drop) / (bus + drop) * np.expm1(x)) / x
    beside = periodic_current(limit + np.array([-1e-6, 1e-6]), bus, emf, resistance, inductance, frequency, mode, 0.7)
    assert beside.conduction_fraction[0] < 1.0
    assert beside.conduction_fraction[1] == 1.0


@pytest.mark.parametrize("mode", MODES)
@pytest.mark.parametrize("pairs", [0, 3])
@pytest.mark.parametrize("emf", [0.0, 1e-9, 1.2, 13.0, 13.0 + 1e-9, 15.0])
def test_extremes_stay_finite(mode, pairs, emf):
    inductance = np.array([0.0, 1e-9, 1e-3, 1.0])[:, None, None]
    frequency = np.array([1.0, 100.0, 1e6])[:, None]
    duty = np.array([0.0, 1e-9, 0.5, 1.0 - 1e-9, 1.0])
    case = periodic_current(duty, 13.0, emf, 20.0, inductance, frequency, mode, 0.0, pairs)
    assert case.mean_current.shape == (4, 3, 5)
    for values in vars(case).values():
        assert np.all(np.isfinite(values))
    assert case.converged.all()
    if mode != "brake":
        assert np.all(case.lowest_current >= 0.0)


def test_arrays_agree_with_single_calls():
    emf, resistance = np.array([0.0, 2.0, 9.0])[:, None], np.array([10.0, 40.0])
    for mode in MODES:
        together = periodic_current(0.4, 13.0, emf, resistance, 3e-3, 1e3, mode, 0.7, 2)
        alone = periodic_current(0.4, 13.0, 2.0, 40.0, 3e-3, 1e3, mode, 0.7, 2)
        assert together.mean_current.shape == (3, 2)
        assert together.rms_current[1, 1] == pytest.approx(float(alone.rms_current), rel=1e-12)
        assert together.mean_current_slope[1, 1] == pytest.approx(float(alone.mean_current_slope), rel=1e-9)


def second_road(duty, emf, resistance, inductance, frequency, mode, pairs, card, periods):
    """Integrate the chain's equation in time from rest; return mean, RMS, mean magnitude and peak of the last period."""
    bus, drop, period = 13.0, 0.7, 1.0 / frequency
    off_voltage = -emf - {"coast": drop, "brake": 0.0, "open": bus + 2.0 * drop}[mode]

    def rate(_, i, drive):
        return [(drive - resistance * i[0] - pairs * pair_voltage(i[0], card)) / inductance]

    def at_rest(_, i, drive):
        return i[0]

    at_rest.terminal, at_rest.direction = True, -1.0
    current = 0.0
    for _ in range(periods):
        times, currents, clock = [], [], 0.0
        for drive, duration in ((bus - emf, duty * period), (off_voltage, (1.0 - duty) * period)):
            stops = at_rest if mode != "brake" and drive < 0.0 else None
            run = solve_ivp(
                rate, (0.0, duration), [current], args=(drive,), method="Radau", rtol=1e-8, atol=1e-12, events=stops,
                dense_output=True,
            )
            # Fine at the start, where the current leaves the knee of the diodes.
            t = run.t[-1] * np.linspace(0.0, 1.0, 4001) ** 2
            times.append(clock + t)
            currents.append(run.sol(t)[0])
            stopped = run.t[-1] < duration
            current = 0.0 if stopped else run.y[0, -1]
            clock += duration
    t, i = np.concatenate(times), np.concatenate(currents)
    parts = [slice(0, 4001), slice(4001, None)]

    def mean(values):
        return sum(trapezoid(values[part], t[part]) for part in parts) / period

    return mean(i), np.sqrt(mean(i**2)), mean(np.abs(i)), max(i.max(), 0.0)


@pytest.mark.parametrize(
    ("duty", "emf", "resistance", "inductance", "frequency", "mode", "pairs", "card", "periods"),
    [
        (0.5, 4.0, 40.0, 20e-3, 1000.0, "coast", 0, SILICON, 8),
        (0.5, 4.0, 20.0, 3e-3, 1000.0, "brake", 0, SILICON, 3),
        (0.4, 3.0, 20.0, 3e-3, 100.0, "coast", 2, SILICON, 2),
        (0.6, 2.0, 30.0, 3e-3, 5000.0, "coast", 3, SILICON, 20),
        (0.3, 1.0, 20.0, 3e-3, 100.0, "brake", 2, SILICON, 2),
        (0.3, 5.0, 20.0, 3e-3, 200.0, "brake", 1, SILICON, 3),
        (0.6, 2.0, 20.0, 3e-3, 2000.0, "open", 2, SILICON, 2),
        (0.5, 3.0, 25.0, 2e-3, 2000.0, "brake", 2, SCHOTTKY, 12),
        (0.4, 3.0, 20.0, 3e-3, 100.0, "coast", 3, BYPASSED, 2),
        (0.6, 2.0, 30.0, 3e-3, 5000.0, "coast", 3, BYPASSED, 20),
        (0.1, 0.5, 20.0, 3e-3, 100.0, "brake", 3, BYPASSED, 2),
    ],
)
def test_agrees_with_time_integration(duty, emf, resistance, inductance, frequency, mode, pairs, card, periods):
    mean, rms, magnitude, peak = second_road(
        duty, emf, resistance, inductance, frequency, mode, pairs, card, periods
    )
    case = periodic_current(duty, 13.0, emf, resistance, inductance, frequency, mode, 0.7, pairs, card)
    assert case.mean_current == pytest.approx(mean, rel=2e-5, abs=1e-7)
    assert case.rms_current == pytest.approx(rms, rel=2e-5)
    assert case.mean_abs_current == pytest.approx(magnitude, rel=2e-5)
    assert case.peak_current == pytest.approx(peak, rel=2e-5)


@few
@given(
    st.floats(0.05, 1.0), st.floats(0.05, 0.95), resistances, inductances, frequencies, modes, pair_counts, cards,
    st.floats(0.0, 0.01),
)
def test_steady_emf_is_found_again(duty, share, resistance, inductance, frequency, mode, pairs, card, growth):
    drive = (duty, 13.0, resistance, inductance, frequency, mode, 0.7)
    emf = 13.0 * share * duty
    current, _ = mean_current(duty, 13.0, emf, *drive[2:], pairs, card)
    found = solve_emf(*drive, current - growth * emf, growth, pairs, card)
    if current < 1e-4:  # so near the diodes' knee any EMF below it serves
        return
    assert found.converged
    assert not found.standing
    assert found.emf == pytest.approx(emf, rel=1e-5)
    assert found.waveform.mean_current == pytest.approx(float(current), rel=1e-5)


def test_steady_emf_of_a_braking_chain_by_hand():
    found = solve_emf(STEPS, 13.0, 40.0, 3e-3, 20e3, "brake", 0.7, 0.05)
    by_hand = STEPS * 13.0 - 40.0 * 0.05
    assert np.array_equal(found.standing, by_hand < 0.0)
    assert np.allclose(found.emf, np.maximum(by_hand, 0.0), atol=1e-9)
    assert np.all(found.residual[found.standing] < 0.0)
    assert np.abs(found.residual[~found.standing]).max() <= 1e-12
    assert found.converged.all()


def test_resistance_may_differ_from_step_to_step():
    resistance = np.linspace(20.0, 30.0, 127)
    found = solve_emf(STEPS, 13.0, resistance, 3e-3, 100.0, "coast", 0.7, 0.05)
    alone = solve_emf(STEPS[90], 13.0, resistance[90], 3e-3, 100.0, "coast", 0.7, 0.05)
    assert found.emf[90] == pytest.approx(float(alone.emf), rel=1e-12)


def test_motor_without_load_or_pulses_neither_stands_nor_runs():
    found = solve_emf(0.0, 13.0, 20.0, 3e-3, 100.0, "coast", 0.7, 0.0)
    assert found.emf == 0.0
    assert not found.standing
    assert found.converged


def test_load_that_drives_the_motor_brakes_it_or_runs_away():
    held = solve_emf(1.0, 13.0, 20.0, 3e-3, 100.0, "brake", 0.7, -0.1, 0.0, 2)
    assert held.converged
    assert held.emf == pytest.approx(13.0 + 2.0 + 2.0 * float(pair_voltage(0.1)), rel=1e-6)
    lost = solve_emf(0.5, 13.0, 20.0, 3e-3, 100.0, "coast", 0.7, -0.1)
    assert not lost.converged
    assert lost.residual > 0.0


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"duty": 1.2}, "duty must not exceed 1"),
        ({"duty": -0.1}, "duty must not be negative"),
        ({"emf": -1.0}, "emf must not be negative"),
        ({"emf": np.nan}, "emf must not be negative"),
        ({"resistance": 0.0}, "resistance must be above zero"),
        ({"frequency": 0.0}, "frequency must be above zero"),
        ({"inductance": -1e-3}, "inductance must not be negative"),
        ({"off_mode": "sleep"}, "off_mode must be one of"),
        ({"diode_pairs": -1}, "diode_pairs must not be negative"),
    ],
)
def test_unphysical_input_is_refused(change, message):
    case = {
        "duty": 0.5, "bus_voltage": 13.0, "emf": 3.0, "resistance": 20.0, "inductance": 3e-3, "frequency": 100.0,
        "off_mode": "coast", "freewheel_drop": 0.7,
    }
    with pytest.raises(ValueError, match=message):
        periodic_current(**(case | change))


def test_shrinking_demand_is_refused():
    with pytest.raises(ValueError, match="demand_slope"):
        solve_emf(0.5, 13.0, 20.0, 3e-3, 100.0, "coast", 0.7, 0.05, -0.01)


def test_braking_lifts_the_emf_with_the_warmth_that_it_makes():
    # two-way chain without diodes is linear: E = d V - R I, any power electronics textbook; here R doubles as it warms
    duty = np.array([0.1, 0.5, 1.0])
    found, resistance = solve_warm_emf(duty, 12.0, 20.0, 5e-3, 200.0, "brake", 0.7, -0.4, lambda rows, *_: np.full(rows.size, 40.0), 1e-9)
    assert found.converged.all()
    assert resistance == pytest.approx(40.0)
    assert found.emf == pytest.approx(duty * 12.0 + 40.0 * 0.4, rel=1e-9)


@pytest.mark.parametrize("mode", ["coast", "open"])
def test_a_load_that_drives_the_motor_is_not_searched_for_long(mode, monkeypatch):
    looks = []
    monkeypatch.setattr(pwm, "one_way_means", lambda period: looks.append(period) or one_way_means(period))
    found, _ = solve_warm_emf(np.array([0.2, 1.0]), 12.0, 20.0, 5e-3, 200.0, mode, 0.7, -0.1, lambda rows, *_: np.full(rows.size, 25.0), 1e-9)
    # no current flows against an EMF of the whole bus, and none below zero: nothing holds it
    assert not found.converged.any()
    assert found.waveform.mean_current == pytest.approx(0.0, abs=1e-12)
    assert len(looks) < 10
