"""A chain that its own current warms, by two nested root searches of scipy; and the means of a period by hand at its limits."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import brentq

from buildsheets.physics import pwm
from buildsheets.physics.diodes import SILICON, pair_voltage
from buildsheets.physics.drive_period import PeriodMeans, off_phase_drop
from buildsheets.physics.pwm import Array, Rows, mean_current, periodic_current, solve_emf, solve_warm_emf

BUS, COLD, INDUCTANCE, DROP = 13.0, 20.0, 3e-3, 0.7
DUTIES = np.array([0.0, 0.02, 0.2, 0.45, 0.7, 1.0])
KELVIN_PER_WATT, COPPER, HOTTEST = 30.0, 0.00393, 2.0


def warmed(rows: Rows, emf: Array, means: PeriodMeans, resistance: Array) -> Array:
    """Copper that the heat of its current warms by 30 K a watt, at most to twice its resistance."""
    heat = resistance * means.mean_square
    return np.asarray(COLD * np.minimum(1.0 + COPPER * KELVIN_PER_WATT * heat, HOTTEST))


def by_nested_roots(duty: float, mode: str, frequency: float, need: float, pairs: int) -> tuple[float, float]:
    """EMF and resistance of one row: the EMF by brentq at a resistance, the resistance by brentq around it."""

    def emf_at(resistance: float) -> float:
        def excess(emf: float) -> float:
            return float(mean_current(duty, BUS, emf, resistance, INDUCTANCE, frequency, mode, DROP, pairs)[0]) - need

        return 0.0 if excess(0.0) <= 0.0 else brentq(excess, 0.0, BUS, xtol=1e-12)

    def change(resistance: float) -> float:
        case = periodic_current(duty, BUS, emf_at(resistance), resistance, INDUCTANCE, frequency, mode, DROP, pairs)
        heat = float(resistance * case.rms_current**2)
        return COLD * min(1.0 + COPPER * KELVIN_PER_WATT * heat, HOTTEST) - resistance

    resistance = COLD if change(COLD) <= 0.0 else brentq(change, COLD, HOTTEST * COLD + 1e-9, xtol=1e-11)
    return emf_at(resistance), resistance


@pytest.mark.parametrize("rounds", ["side by side", "bracketed"])
@pytest.mark.parametrize(("mode", "frequency", "pairs"), [
    ("coast", 100.0, 0), ("coast", 20e3, 0), ("brake", 200.0, 0), ("open", 2e3, 0), ("coast", 100.0, 2), ("brake", 20e3, 3),
])  # fmt: skip
def test_warm_emf_against_nested_roots(mode, frequency, pairs, rounds, monkeypatch):
    """Both searches, the quick one and the one that takes over where that finds nothing."""
    if rounds == "bracketed":
        monkeypatch.setattr(pwm, "MOST_WARM_ITERATIONS", 0)
    need = 0.15
    found, resistance = solve_warm_emf(
        DUTIES, BUS, COLD, INDUCTANCE, frequency, mode, DROP, need, warmed, 1e-9, pairs
    )
    assert found.converged.all()
    by_hand = np.array([by_nested_roots(float(duty), mode, frequency, need, pairs) for duty in DUTIES])
    assert found.emf == pytest.approx(by_hand[:, 0], rel=1e-6, abs=1e-6)
    assert resistance == pytest.approx(by_hand[:, 1], rel=1e-7)
    assert list(found.standing) == [float(m) < need - 1e-9 for m in found.waveform.mean_current]
    running = ~found.standing
    assert np.abs(found.residual[running]).max() < 1e-8
    # what a row reports is the state of that very row, at its own warmth
    alone = periodic_current(DUTIES, BUS, found.emf, resistance, INDUCTANCE, frequency, mode, DROP, pairs)
    for name, values in vars(alone).items():
        assert getattr(found.waveform, name) == pytest.approx(values, rel=1e-9, abs=1e-12), name


def test_rows_left_over_by_the_quick_search_keep_their_places(monkeypatch):
    """Three steps suffice for some rows only; the others come from the bracketed search, in between them."""
    whole, warm = solve_warm_emf(DUTIES, BUS, COLD, INDUCTANCE, 100.0, "coast", DROP, 0.15, warmed, 1e-6)
    monkeypatch.setattr(pwm, "MOST_WARM_ITERATIONS", 4)
    mixed, mixed_warm = solve_warm_emf(DUTIES, BUS, COLD, INDUCTANCE, 100.0, "coast", DROP, 0.15, warmed, 1e-6)
    assert mixed.emf == pytest.approx(whole.emf, abs=1e-4)
    assert mixed_warm == pytest.approx(warm, rel=1e-5)
    assert mixed.waveform.peak_current == pytest.approx(whole.waveform.peak_current, rel=1e-4)
    assert mixed.converged.all()


def test_warmth_that_feeds_itself_without_end_is_not_called_found():
    """Each ohm more makes two: no resistance is at rest with itself, so no row that carries current may count as found."""

    def runaway(rows: Rows, emf: Array, means: PeriodMeans, resistance: Array) -> Array:
        return np.where(means.mean_square > 0.0, 2.0 * resistance, resistance)

    found, _ = solve_warm_emf(np.array([0.0, 0.5]), BUS, COLD, INDUCTANCE, 100.0, "brake", DROP, 0.05, runaway, 1e-4)
    assert list(found.converged) == [True, False]


def test_a_held_motor_keeps_no_emf_and_warms_as_its_stall_current_makes_it():
    """Full on with a need beyond the stall current: direct current through the resistance alone, R = COLD (1 + a V²/R)."""
    found, resistance = solve_warm_emf(1.0, BUS, COLD, INDUCTANCE, 100.0, "coast", DROP, 5.0, warmed, 1e-9)
    by_hand = brentq(lambda r: COLD * (1 + COPPER * KELVIN_PER_WATT * BUS**2 / r) - r, COLD, 100.0)
    assert found.standing
    assert found.emf == 0.0
    assert resistance == pytest.approx(min(by_hand, HOTTEST * COLD), rel=1e-7)
    assert found.residual == pytest.approx(BUS / float(resistance) - 5.0)


@pytest.mark.parametrize(("mode", "opposing"), [("coast", 0.7), ("brake", 0.0), ("open", 13.0 + 1.4)])
def test_voltage_against_the_current_while_off(mode, opposing):
    """One diode and a switch; two switches; the bus and a diode at either end (any text on bridges, from memory)."""
    assert off_phase_drop(mode, BUS, DROP) == pytest.approx(opposing)
    assert off_phase_drop(mode, np.array([13.0, 13.0]), DROP).shape == (2,)


@pytest.mark.parametrize("mode", ["coast", "brake", "open"])
def test_powers_and_voltages_of_smooth_current_by_hand(mode):
    """Pulses far shorter than L/R leave direct current: every mean is then a product of direct values."""
    duty, emf, resistance = 0.6, 2.0, 20.0
    opposing = {"coast": DROP, "brake": 0.0, "open": BUS + 2 * DROP}[mode]
    duty = 0.8 if mode == "open" else duty
    case = periodic_current(duty, BUS, emf, resistance, 20e-3, 1e6, mode, DROP)
    mean_output = duty * BUS - (1 - duty) * opposing
    current = (mean_output - emf) / resistance
    assert case.mean_current == pytest.approx(current, rel=1e-6)
    assert case.rms_current == pytest.approx(current, rel=1e-4)
    assert case.output_voltage == pytest.approx(mean_output, rel=1e-6)
    assert case.bus_current == pytest.approx(duty * current, rel=1e-3)
    assert case.returned_current == pytest.approx((1 - duty) * current if mode == "open" else 0.0, rel=1e-3)
    assert case.bus_power == pytest.approx(BUS * current * (duty - (1 - duty if mode == "open" else 0.0)), rel=1e-3)
    diodes = {"coast": 1, "brake": 0, "open": 2}[mode]
    assert case.freewheel_power == pytest.approx(diodes * DROP * (1 - duty) * current, rel=1e-3)
    assert case.emf_power == pytest.approx(emf * current, rel=1e-6)
    assert case.resistive_power == pytest.approx(resistance * current**2, rel=1e-4)
    assert case.conduction_fraction == 1.0
    assert case.emf == emf


def test_string_of_diodes_in_direct_current_by_hand():
    case = periodic_current(1.0, BUS, 4.0, 20.0, 3e-3, 100.0, "coast", DROP, 3)
    current = brentq(lambda i: 20.0 * i + 3 * float(pair_voltage(i)) - 9.0, 0.0, 1.0, xtol=1e-15)
    volts = 3 * float(pair_voltage(current))
    assert case.mean_diode_voltage == pytest.approx(volts, rel=1e-6)
    assert case.mean_diode_power == pytest.approx(volts * current, rel=1e-6)
    assert case.output_voltage == pytest.approx(BUS, rel=1e-6)
    assert case.mean_bypass_power == 0.0


def test_the_need_that_grows_with_speed_is_met_in_a_straight_line():
    """Braking at high frequency is linear: duty × bus − R (I0 + s E) = E gives E = (duty × bus − R I0) / (1 + R s)."""
    found = solve_emf(0.8, BUS, 20.0, 3e-3, 20e3, "brake", DROP, 0.05, 0.01)
    assert found.emf == pytest.approx((0.8 * BUS - 20.0 * 0.05) / (1.0 + 20.0 * 0.01), rel=1e-9)
    assert np.abs(found.residual) < 1e-10


def test_a_driven_chain_of_diodes_is_braked_above_the_bus_voltage():
    """Held at full on by a braking current I: E = bus + R I + string's volts, for currents small and large."""
    need = np.array([-1e-3, -0.05, -0.4])
    found = solve_emf(1.0, BUS, 20.0, 3e-3, 100.0, "brake", DROP, need, 0.0, 2, SILICON)
    assert found.converged.all()
    assert found.emf == pytest.approx(BUS - 20.0 * need + 2 * pair_voltage(-need), rel=1e-6)


def test_the_quick_search_of_the_warmth_needs_no_help(monkeypatch):
    """Newton's steps in both unknowns double their digits: six leave hardly a row to the bracketed search, of 720."""
    handed_over = []
    by_rounds = pwm._by_rounds

    def counted(chain, need, rows, *rest):
        handed_over.append(rows.size)
        by_rounds(chain, need, rows, *rest)

    monkeypatch.setattr(pwm, "MOST_WARM_ITERATIONS", 6)
    monkeypatch.setattr(pwm, "_by_rounds", counted)
    duties = np.linspace(0.01, 1.0, 40)
    for mode in ("coast", "brake", "open"):
        for frequency in (100.0, 2e3, 2e4):
            for pairs in (0, 2):
                found, _ = solve_warm_emf(duties, BUS, COLD, INDUCTANCE, frequency, mode, DROP, 0.15, warmed, 1e-6, pairs)
                assert found.converged.all()
    assert sum(handed_over) <= 36
