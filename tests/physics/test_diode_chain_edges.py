"""A chain with diodes against what must hold of any periodic current, however it was searched; and how its search arrives.

The inductance takes up no volts and no energy over a period: textbook balances that know nothing of diodes or of the search.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.optimize import brentq

from buildsheets.physics import diode_chain, diodes, pwm
from buildsheets.physics.diodes import SCHOTTKY, SILICON, junction_level, pair_voltage
from buildsheets.physics.pwm import Waveform, periodic_current, solve_emf

BUS, DROP = 13.0, 0.7
BYPASSED = replace(SILICON, bypass=330.0)
DUTY = np.array([0.002, 0.02, 0.1, 0.35, 0.6, 0.9, 0.999, 1.0])[:, None, None]
EMF = np.array([0.0, 0.5, 3.0, 9.0, 12.9])[:, None]
FREQUENCY = np.array([50.0, 400.0, 3e3, 2e4, 1e5])
CASES = [
    ("coast", 1, SILICON, 1e-4, 8.0), ("coast", 3, SCHOTTKY, 3e-3, 60.0), ("coast", 6, BYPASSED, 3e-2, 8.0),
    ("open", 1, BYPASSED, 3e-3, 60.0), ("open", 3, SILICON, 3e-2, 8.0), ("brake", 1, SCHOTTKY, 3e-3, 8.0),
    ("brake", 3, SILICON, 1e-4, 60.0), ("brake", 6, BYPASSED, 3e-3, 60.0),
]  # fmt: skip


def grid(mode, pairs, card, inductance, resistance) -> Waveform:
    return periodic_current(DUTY, BUS, EMF, resistance, inductance, FREQUENCY, mode, DROP, pairs, card)


def assert_balanced(case: Waveform, mode: str, resistance: float) -> None:
    """Volts and watts of a period add up; a volt is told to 1e-7 of the bus, a watt to 1e-7 of the stall's."""
    assert case.converged.all()
    flows = case.conduction_fraction
    opposing = {"coast": DROP, "brake": 0.0, "open": BUS + 2 * DROP}[mode]
    # what the bridge sets across the chain: bus, then its own drop against the current, then nothing but the EMF
    given = DUTY * BUS - (flows - DUTY) * opposing + (1.0 - flows) * EMF
    taken = EMF + resistance * case.mean_current + case.mean_diode_voltage
    running = np.broadcast_to(flows > 0.0, taken.shape)
    assert np.abs(given - taken)[running].max() <= 1e-7 * BUS
    left = case.bus_power - case.resistive_power - case.emf_power - case.mean_diode_power - case.mean_bypass_power - case.freewheel_power
    assert np.abs(left).max() <= 1e-7 * BUS**2 / resistance


@pytest.mark.parametrize("given", CASES)
def test_volts_and_watts_of_a_period_add_up(given):
    assert_balanced(grid(*given), given[0], given[4])


@pytest.mark.parametrize("given", CASES)
def test_newtons_steps_arrive_in_a_few(given, monkeypatch):
    """Newton's method doubles its digits with each step: twenty suffice where halving would need forty."""
    monkeypatch.setattr(diode_chain, "MOST_STEPS", 20)
    assert_balanced(grid(*given), given[0], given[4])


STEADY_EMF = np.array([0.5, 2.0])
STEADY_DUTY = np.array([0.5, 0.7, 0.9])[:, None]


@pytest.mark.parametrize(("mode", "pairs", "card"), [("coast", 1, SILICON), ("coast", 4, BYPASSED), ("brake", 2, SCHOTTKY), ("brake", 3, SILICON)])
def test_a_small_ripple_is_found_by_either_search(mode, pairs, card, monkeypatch):
    """That in both ends of a period, alone, and that in its start, alone; both arrive at the same current."""

    def steady() -> Waveform:
        return periodic_current(STEADY_DUTY, BUS, STEADY_EMF, 20.0, 3e-3, 2e4, mode, DROP, pairs, card)

    def never(*_: object) -> None:
        raise AssertionError("the other search should not have been needed")

    with monkeypatch.context() as patch:
        patch.setattr(diode_chain, "_by_start", never)
        both_ends = steady()
    monkeypatch.setattr(diode_chain, "_by_both_ends", never)
    monkeypatch.setattr(diode_chain, "LEAST_SWING", np.inf)
    by_start = steady()
    for name, values in vars(by_start).items():
        assert getattr(both_ends, name) == pytest.approx(values, rel=1e-7, abs=1e-9), name
    # and the ripple is that of a current that rises by (bus - taken) t / L, straight for so short a time
    rise = (BUS - STEADY_EMF - 20.0 * both_ends.mean_current - pairs * pair_voltage(both_ends.mean_current, card)) * STEADY_DUTY / 2e4 / 3e-3
    assert both_ends.peak_current - both_ends.lowest_current == pytest.approx(rise, rel=0.02)


def test_one_pulse_that_rests_by_quadrature():
    """From rest the equation separates: t = ∫ L di / (u - R i - U(i)); charge, square and diode work follow, by scipy's quad."""
    duty, emf, resistance, inductance, frequency, pairs = 0.2, 3.0, 20.0, 3e-3, 100.0, 2

    def volts(i: float) -> float:
        return float(pairs * pair_voltage(i))

    def stretch(drive: float, low: float, high: float, weight) -> float:
        return quad(lambda i: weight(i) * inductance / (drive - resistance * i - volts(i)), low, high, epsabs=1e-16, epsrel=1e-9, limit=200)[0]

    on, off = BUS - emf, -emf - DROP
    most = brentq(lambda i: resistance * i + volts(i) - on, 0.0, 1.0, xtol=1e-16)
    peak = brentq(lambda i: stretch(on, 0.0, i, lambda _: 1.0) - duty / frequency, 0.0, most * (1 - 1e-9), xtol=1e-15)

    def over(weight) -> float:
        return (stretch(on, 0.0, peak, weight) + stretch(off, peak, 0.0, weight)) * frequency

    found = periodic_current(duty, BUS, emf, resistance, inductance, frequency, "coast", DROP, pairs)
    assert found.peak_current == pytest.approx(peak, rel=1e-8)
    assert found.lowest_current == 0.0
    assert found.conduction_fraction == pytest.approx(over(lambda _: 1.0), rel=1e-8)
    assert found.mean_current == pytest.approx(over(lambda i: i), rel=1e-8)
    assert found.rms_current**2 == pytest.approx(over(lambda i: i * i), rel=1e-8)
    assert found.mean_diode_voltage == pytest.approx(over(volts), rel=1e-8)
    assert found.mean_diode_power == pytest.approx(over(lambda i: i * volts(i)), rel=1e-8)
    assert found.bus_current == pytest.approx(stretch(on, 0.0, peak, lambda i: i) * frequency, rel=1e-8)


@pytest.mark.parametrize("pairs", [0, 2])
@pytest.mark.parametrize("mode", ["coast", "brake", "open"])
def test_the_steady_emf_is_found_in_ten_steps(mode, pairs, monkeypatch):
    monkeypatch.setattr(pwm, "MOST_EMF_ITERATIONS", 10)
    duty = np.linspace(0.01, 1.0, 40)[:, None]
    found = solve_emf(duty, BUS, 20.0, 3e-3, [100.0, 2e3, 2e4], mode, DROP, 0.15, 0.0, pairs)
    assert found.converged.all()
    running = ~found.standing
    assert running.any()
    assert found.waveform.mean_current[running] == pytest.approx(0.15, rel=1e-8)


def test_the_level_of_a_junction_is_found_in_eight_steps(monkeypatch):
    """total = slow w + steep sinh w put back, over ranges far beyond any diode."""
    monkeypatch.setattr(diodes, "MOST_STEPS", 8)
    total = np.geomspace(1e-12, 1e3, 200)[:, None, None]
    slow, steep = np.geomspace(1e-9, 1e3, 20)[:, None], np.geomspace(1e-12, 10.0, 20)
    level = junction_level(total, slow, steep)
    np.testing.assert_allclose(slow * level + steep * np.sinh(level), np.broadcast_to(total, level.shape), rtol=1e-12)
    assert junction_level(0.0, 1.0, 1.0) == 0.0
