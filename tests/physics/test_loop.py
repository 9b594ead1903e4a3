"""The closed loop: margins and answers against a control library, the averaged motor against the solver, its manners.

Sources: python-control (the installed release) for margins and linear answers; textbook results computed by hand where
stated; that too much integral behind a dropper runs past the wanted speed is common practice.
"""

from __future__ import annotations

import itertools
import math
import statistics
import warnings
from collections import defaultdict

import control
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from buildsheets.physics import feedback, loop
from buildsheets.physics.loop import Controller, Lag, OpenLoop, Plant, PulsedChain
from buildsheets.physics.motor import copper_resistance
from buildsheets.physics.pwm import mean_current, solve_emf

K, INERTIA, PERIOD = 0.0093, 3e-7, 10e-3


def chain(resistance: float = 44.5, mode: str = "brake", frequency: float = 20e3, pairs: int = 0) -> PulsedChain:
    return PulsedChain(13.0, resistance, 6e-3, frequency, mode, 0.7, pairs)  # type: ignore[arg-type]


def plant(of: PulsedChain, running: float = 0.05, breakaway: float = 0.06) -> Plant:
    return Plant(of.table(), [0.0, of.bus_voltage], K, INERTIA, K * running, K * breakaway)


def lag_of(of: PulsedChain, emf: float = 6.0, current: float = 0.05) -> Lag:
    return loop.lag(INERTIA, K, *of.slopes(of.table().duty_for(current, emf), emf))


def as_control(of: OpenLoop, period: float = PERIOD) -> control.TransferFunction:
    return control.TransferFunction([of.gain, -of.gain * of.zero], np.poly([0.0, 1.0, of.keeps]), period)


# ------------------------------------------------------------------------------------------ linear loop


LOOPS = st.builds(OpenLoop, st.floats(0.05, 0.9), st.floats(0.3, 0.99), st.floats(0.05, 0.99))


def library_margins(of: OpenLoop) -> tuple[float, float, float]:
    """Return gain margin [1], angle of the first crossover [rad] and phase margin there [deg], as the library has them."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", RuntimeWarning)  # it also looks at z = 1, where the loop has its pole
        gains, phases, _, turns, crossovers, _ = control.stability_margins(as_control(of), returnall=True)
    first = int(np.argmin(crossovers))
    return float(gains[turns > 0.0][0]), float(crossovers[first]) * PERIOD, float(phases[first])


@given(LOOPS)
def test_margins_agree_with_the_control_library(of: OpenLoop) -> None:
    gain, crossover, phase = library_margins(of)
    assert of.gain_margin() == pytest.approx(gain, rel=1e-4)
    assert of.crossover_angle() == pytest.approx(crossover, rel=1e-4)
    assert math.degrees(of.phase_margin() or 0.0) == pytest.approx(phase, abs=1e-2)


@given(LOOPS)
def test_gain_margin_is_where_stability_ends(of: OpenLoop) -> None:
    edge = of.gain_margin()
    for factor, stable in ((0.999, True), (1.001, False)):
        roots = np.roots(OpenLoop(of.gain * edge * factor, of.zero, of.keeps).closed_polynomial())
        assert bool(np.all(np.abs(roots) < 1.0)) is stable


def test_closed_polynomial_is_the_librarys() -> None:
    of = OpenLoop(0.16, 0.902, 0.937)
    closed = control.feedback(as_control(of), 1)
    assert of.closed_polynomial() == pytest.approx(closed.den[0][0], rel=1e-12)


def test_integral_alone_has_a_margin_of_its_own() -> None:
    of = OpenLoop(0.1, 0.0, 0.9)  # (k z0)² = 0: the quadratic's other branch
    assert of.gain_margin() == pytest.approx(library_margins(of)[0], rel=1e-6)


def test_a_gain_that_never_falls_to_one_has_no_phase_margin() -> None:
    of = OpenLoop(50.0, 0.5, 0.5)
    assert of.crossover_angle() is None
    assert of.phase_margin() is None


def test_a_motor_that_no_look_can_slow_has_no_phase_margin() -> None:
    # it keeps all of its speed from one look to the next, as far as a float can tell: zero, pole and integrator fall together
    motor = Lag(10.0, 1e18)
    found = loop.open_loop(motor, loop.setting_that_suits(motor, PERIOD))
    assert found.keeps == 1.0
    assert found.phase_margin() is None


def test_a_lag_needs_a_current_that_answers() -> None:
    for slopes in ((0.0, -0.02), (0.3, 0.0)):
        with pytest.raises(ValueError, match="rise with on-time"):
            loop.lag(INERTIA, K, *slopes)


def test_lag_of_the_braked_motor_is_the_textbooks() -> None:
    """Gain V_b, time constant J R / K²; computed by hand."""
    found = lag_of(chain())
    assert found.gain == pytest.approx(13.0, rel=1e-6)
    assert found.time_constant == pytest.approx(INERTIA * 44.5 / K**2, rel=1e-6)


def test_time_constant_is_that_of_a_speed_let_go() -> None:
    """The slope against a run-up integrated in time, coast, current dying between pulses."""
    constant, inertia, demand = 0.01, 1e-7, 0.05
    chain = (0.5, 12.0, 20.0, 1e-3, 100.0, "coast", 0.7)
    steady = solve_emf(*chain, demand)
    tau = loop.lag(inertia, constant, 1.0, float(steady.waveform.mean_current_slope)).time_constant
    offset, step = -1e-3, tau / 400
    for _ in range(400):
        current, _ = mean_current(chain[0], chain[1], float(steady.emf) + offset, *chain[2:])
        offset += step * constant**2 / inertia * (float(current) - demand)
    assert offset == pytest.approx(-1e-3 * np.exp(-1.0), rel=0.01)


def test_setting_that_suits_puts_both_roots_at_one_half() -> None:
    motor = lag_of(chain(28.0))
    of = loop.open_loop(motor, loop.setting_that_suits(motor, PERIOD))
    assert sorted(np.abs(np.roots(of.closed_polynomial()))) == pytest.approx([0.5, 0.5, of.keeps], rel=1e-3)
    # its gain margin is 1 / 0.25: z² - z + k meets the circle at k = 1
    assert of.gain_margin() == pytest.approx(4.0, rel=1e-6)


@pytest.mark.parametrize("share", [1.0, 0.63])
def test_small_answer_is_the_librarys(share: float) -> None:
    """A step of a tenth of a volt from rest on a held speed: on-time stays within its limits, the motor is linear."""
    built = chain()
    motor, setting = lag_of(built), loop.setting_that_suits(lag_of(chain(28.0)), PERIOD).scaled(share)
    duty = built.table().duty_for(0.05, 6.0)
    ours = loop.held_response(plant(built), setting, 6.1, 80, 6.0, duty)
    closed = control.feedback(as_control(loop.open_loop(motor, setting)), 1)
    theirs = control.step_response(closed, T=np.arange(81) * PERIOD).outputs
    assert (ours - 6.0) / 0.1 == pytest.approx(theirs, abs=2e-3)


# ------------------------------------------------------------------------------------------ averaged motor


@pytest.mark.parametrize(("mode", "frequency", "pairs"), [
    ("brake", 20e3, 0), ("coast", 20e3, 0), ("coast", 100.0, 0), ("open", 100.0, 0), ("coast", 100.0, 3), ("brake", 20e3, 2),
])
def test_table_is_the_solver_between_its_points(mode: str, frequency: float, pairs: int) -> None:
    of = chain(mode=mode, frequency=frequency, pairs=pairs)
    table, stall = of.table(), 13.0 / 44.5
    for duty, emf in itertools.product((0.03, 0.31, 0.77, 1.0), (0.1, 3.3, 7.7, 12.5)):
        exact, _ = mean_current(duty, 13.0, emf, 44.5, 6e-3, frequency, mode, 0.7, pairs)
        assert table.at(duty, emf)[0] == pytest.approx(float(exact), abs=0.01 * stall)


def test_duty_for_is_the_inverse_and_ends_at_full() -> None:
    table = chain(mode="coast").table()
    assert table.at(table.duty_for(0.05, 6.0), 6.0)[0] == pytest.approx(0.05, rel=1e-6)
    assert table.duty_for(10.0, 6.0) == 1.0


def test_steady_running_is_the_solvers() -> None:
    of = chain(mode="coast", frequency=100.0)
    exact = float(solve_emf(0.5, 13.0, 44.5, 6e-3, 100.0, "coast", 0.7, 0.05).emf)
    assert loop.steady_emf(plant(of), 0.5) == pytest.approx(exact, rel=0.01)
    assert loop.free_response(plant(of), 0.5, PERIOD, 200)[-1] == pytest.approx(exact, rel=0.01)
    assert loop.steady_emf(plant(of), 0.02) == 0.0


def test_it_stands_until_the_pulses_break_it_away() -> None:
    """Braked fast pulses are near direct current: V_b d / R must pass breakaway, and running friction lets it roll on."""
    of = plant(chain(), 0.05, 0.10)
    between = 44.5 * 0.08 / 13.0
    assert loop.free_response(of, between, PERIOD, 50).max() == 0.0
    assert loop.free_response(of, between, PERIOD, 50, emf=2.0)[-1] > 0.5
    assert loop.free_response(of, 44.5 * 0.11 / 13.0, PERIOD, 50)[-1] > 0.5


def test_a_load_too_heavy_stalls_it() -> None:
    assert loop.free_response(plant(chain(), 0.5, 0.6), 1.0, PERIOD, 100, emf=6.0)[-1] == 0.0
    went = loop.manner(loop.held_response(plant(chain(), 0.5, 0.6), Controller(0.1, 0.02, PERIOD), 6.0, 100, 6.0, 0.6), 6.0, PERIOD)
    assert went.stalls
    assert went.end == 0.0


# ------------------------------------------------------------------------------------------ manners


def test_a_sum_that_winds_up_runs_past_and_one_that_does_not_hardly() -> None:
    bare, built = lag_of(chain(28.0)), plant(chain())
    winds = loop.setting_that_suits(bare, PERIOD)
    holds = Controller(winds.proportional, winds.integral, PERIOD, winds_up=False)
    past = [loop.manner(loop.held_response(built, setting, 8.0, 200), 8.0, PERIOD) for setting in (winds, holds)]
    assert past[0].overshoot > 0.1
    assert past[1].overshoot < 0.3 * past[0].overshoot
    # far above what it can reach, and back: the wound-up sum hangs on
    climbed = loop.held_response(built, winds, 13.0, 300)
    assert climbed[-1] < 13.0


def test_too_much_gain_hunts_and_says_so() -> None:
    motor, built = lag_of(chain()), plant(chain())
    tame = loop.setting_that_suits(motor, PERIOD)
    edge = loop.open_loop(motor, tame).gain_margin()
    for factor, steady in ((0.6 * edge, True), (1.3 * edge, False)):
        setting = Controller(tame.proportional * factor, tame.integral * factor, PERIOD)
        went = loop.manner(loop.held_response(built, setting, 6.0, 300), 6.0, PERIOD)
        assert (went.settling_time is not None) is steady, factor


def test_manner_of_a_made_up_course() -> None:
    """Read off by eye: past by a tenth, under by a twentieth after arriving, within five per cent from the sixth on."""
    went = loop.manner(np.array([0.0, 0.5, 1.0, 1.1, 0.95, 0.9, 1.0] + 20 * [1.0]), 1.0, 0.1)
    assert (went.overshoot, went.dip, went.end) == pytest.approx((0.1, 0.1, 1.0))
    assert went.settling_time == pytest.approx(0.6)
    assert loop.manner(np.array([0.0, 0.5, 0.7]), 1.0, 0.1).dip == 0.0


def test_a_bank_brings_saturation_down_to_about_three_quarters_and_wants_less_integral(capsys: pytest.CaptureFixture[str]) -> None:
    """With a bank, feedback held above about three quarters of the throttle gives far too much, and less I suits.

    Common practice; no source names motor or bank. Assumptions, frozen before the check: can motors of 12 V, 12 to 30 ohm
    and 7 to 11 mV s/rad (reference data, common practice); bank a half to one and a half times the winding; running
    current with train 60 to 140 mA; bus 12 to 14 V; the decoder aims at its own bus volts at the top step, straight
    curve; winding at 40 °C; braked pulses of 20 kHz, and coasting ones of 20 kHz and 100 Hz. The middle of the span
    must lie within a tenth of three quarters, and less I must suit wherever the current flows on between pulses. Where
    it dies between slow pulses, I = d (V - E) / R: held at one speed under one load d / R is fixed, and with it the
    slope, so there the dropper takes from P and hardly touches I (computed).
    """
    shares, scales, pasts = {}, defaultdict(list), []
    for winding, k, ratio, current, bus in itertools.product((12.0, 30.0), (0.007, 0.011), (0.5, 1.0, 1.5), (0.06, 0.10, 0.14), (12.0, 14.0)):
        warm = float(copper_resistance(winding, 40.0))
        for mode, frequency in (("brake", 20e3), ("coast", 20e3), ("coast", 100.0)):
            rest = (3e-4 * winding, frequency, mode, 0.7)
            full = float(solve_emf(1.0, bus, warm + ratio * winding, *rest, current).emf)
            step = feedback.saturation_step(bus * np.arange(1, 127) / 126, full)
            assert step is not None
            shares[winding, ratio, current, bus, mode, frequency] = step / 126
            emf = 0.5 * full
            chains = [PulsedChain(bus, warm + extra, *rest) for extra in (0.0, ratio * winding)]  # type: ignore[arg-type]
            tables = [one.table() for one in chains]
            lags = [loop.lag(INERTIA, k, *one.slopes(table.duty_for(current, emf), emf)) for one, table in zip(chains, tables, strict=True)]
            scale = lags[0].time_constant / lags[1].time_constant
            scales[mode, frequency].append(scale)
            built = Plant(tables[1], [0.0, bus], k, INERTIA, k * current, 1.5 * k * current)
            suited = loop.setting_that_suits(lags[0], PERIOD)
            pasts.append([
                loop.manner(loop.held_response(built, setting, emf, 300), emf, PERIOD).overshoot
                for setting in (suited, suited.scaled(scale))
            ])
    middle = statistics.median(shares.values())
    by_current = {c: statistics.median(v for key, v in shares.items() if key[2] == c) for c in (0.06, 0.10, 0.14)}
    old, new = np.array(pasts).T
    fast = [*scales["brake", 20e3], *scales["coast", 20e3]]
    with capsys.disabled():
        print(
            f"\nsaturation {min(shares.values()):.2f} to {max(shares.values()):.2f} of the throttle, middle {middle:.2f}; by current "
            + ", ".join(f"{1e3 * c:.0f} mA {v:.2f}" for c, v in by_current.items())
            + f": the running current decides; I to {min(fast):.2f} to {max(fast):.2f}, with slow coasting pulses to "
            f"{min(scales['coast', 100.0]):.2f} and more; run past the speed {np.median(old):.0%} before, "
            f"{np.median(new):.0%} after"
        )
    assert middle == pytest.approx(0.75, abs=0.10)
    assert max(fast) < 0.75
    assert all(0.9 < scale <= 1.001 for scale in scales["coast", 100.0])
    assert np.all(new <= old + 1e-9)
    assert np.median(old) > 2.0 * np.median(new)
