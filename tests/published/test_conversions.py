"""Whole conversions against what the trade sees at the bench.

Every check is common practice and sweeps the plausible range of what the trade leaves open; the defaults of the package
are as they stand, none was fitted to a check. Run with ``-s`` to see the measured spans.
"""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from buildsheets.figures.drive import DECODER_DROP, FREEWHEEL_DROP, PICKUP_DROP
from buildsheets.physics import dropper as droppers
from buildsheets.physics import heat, motor, parts
from buildsheets.physics.cvs import duty_curve
from buildsheets.physics.motor import RADIANS_PER_SECOND_PER_RPM
from buildsheets.physics.pwm import periodic_current, solve_emf
from buildsheets.physics.starting import start_steps

STEPS = duty_curve()
BANK = 27.5

# Plausible range, common practice: small can motors for low voltage, 6 V. One axis for each thing the trade leaves open.
SMALL_CAN = {
    "track volts [V]": (14.0, 14.5, 15.0),
    "winding [ohm]": (5.0, 12.0, 25.0),
    "no-load current [A]": (0.030, 0.050, 0.080),
    "no-load speed [rpm]": (10_000.0, 14_000.0, 20_000.0),
    "works at the motor [N m]": (0.10e-3, 0.20e-3, 0.35e-3),
    "breakaway factor": (1.2, motor.BREAKAWAY_FACTOR, 2.0),
}


def chain(track: float, winding: float, steps: np.ndarray, emf: float = 0.0):
    bus = track - DECODER_DROP - PICKUP_DROP
    inductance = float(motor.winding_inductance(winding, "iron core"))
    return periodic_current(steps, bus, emf, winding + BANK, inductance, 100.0, "coast", FREEWHEEL_DROP)


def low_voltage_start(track, winding, current, rpm, works, factor) -> float | None:
    """Start step as a share of the throttle; None for one that never starts."""
    constant = float(motor.emf_constant(6.0, current, winding, rpm * RADIANS_PER_SECOND_PER_RPM))
    running = constant * current + works
    wave = chain(track, winding, STEPS)
    found = start_steps(constant * wave.peak_current, constant * wave.mean_current, factor * running, running)
    return None if found.start_step is None else found.start_step / 126


def sweep() -> tuple[np.ndarray, np.ndarray]:
    points = list(itertools.product(*SMALL_CAN.values()))
    shares = [low_voltage_start(*point) for point in points]
    kept = [(point, share) for point, share in zip(points, shares, strict=True) if share is not None]
    return np.array([point for point, _ in kept]), np.array([share for _, share in kept])


def deciding(points: np.ndarray, shares: np.ndarray) -> dict[str, float]:
    """How far the mean start moves from one end of an assumption to the other."""
    moves = {}
    for column, (name, values) in enumerate(SMALL_CAN.items()):
        ends = [shares[points[:, column] == end].mean() for end in (values[0], values[-1])]
        moves[name] = abs(ends[1] - ends[0])
    return dict(sorted(moves.items(), key=lambda move: -move[1]))


# (a) Common practice: such a conversion wants about 30 % of the throttle before it goes.
def test_low_voltage_motor_behind_a_bank_starts_at_about_a_third():
    points, shares = sweep()
    low, high = shares.min(), shares.max()
    never = int(np.prod([len(values) for values in SMALL_CAN.values()])) - len(shares)
    middle = float(np.median([*shares, *[np.inf] * never]))
    moves = deciding(points, shares)
    print(
        f"\nstart at {100 * low:.0f} to {100 * high:.0f} % of the throttle, median {100 * middle:.0f} %; "
        f"{len(shares)} motors, {never} more never start"
    )
    usual = low_voltage_start(*(values[1] for values in SMALL_CAN.values()))
    print(f"  usual values {100 * usual:.0f} %; half way between the extreme corners {50 * (low + high):.0f} %")
    for name, move in moves.items():
        print(f"  {name}: moves the mean by {100 * move:.1f} % of the throttle")
    assert low <= 0.30 <= high
    assert 0.2 <= middle <= 0.4  # the median: a few corners that hardly start at all reach far up


# (b) Arithmetic (computed) and common practice for "slightly warm".
def test_bank_of_eight_shares_a_watt():
    bank = 220.0 / 8
    assert bank == pytest.approx(BANK)
    current = float(np.sqrt(1.0 / bank))
    each = float(droppers.resistor_power(current, bank, 8))
    assert each == pytest.approx(0.125)
    assert each / 0.5 == pytest.approx(0.25)
    resistance = float(parts.resistor_thermal_resistance(0.5, parts.RATED_TEMPERATURE, parts.ZERO_TEMPERATURE))
    rows = [
        float(heat.body_temperature(air, each, resistance, heat.CROWDING[layout]))
        for air in (25.0, 40.0)
        for layout in ("free", "row")
    ]
    print(f"\nbank of eight: {min(rows):.0f} to {max(rows):.0f} degC in air of 25 to 40 degC")
    assert min(rows) >= 35
    assert max(rows) <= 67.5
    assert rows[0] <= 60  # free in the room
    assert rows[2] <= 62  # free in the warm body


def test_one_half_watt_part_in_its_place_is_overloaded():
    resistance = float(parts.resistor_thermal_resistance(0.5, parts.RATED_TEMPERATURE, parts.ZERO_TEMPERATURE))
    for air in (25.0, 40.0):
        assert parts.derated_power(0.5, air, parts.RATED_TEMPERATURE, parts.ZERO_TEMPERATURE) < 1.0
        assert heat.body_temperature(air, 1.0, resistance, 1.0) > parts.ZERO_TEMPERATURE


# (d) The mean current is what a meter shows; the heat goes with the RMS (computed; span of physics.md from a simulator).
def test_mean_current_squared_understates_the_heat_at_low_frequency():
    shortfalls = []
    for winding, inductance, need in itertools.product((5.0, 12.0, 25.0), (0.3e-3, 3e-3), (0.05, 0.1, 0.15)):
        solved = solve_emf(STEPS[6:60], 12.9, winding + BANK, inductance, 100.0, "coast", FREEWHEEL_DROP, need)
        wave = solved.waveform
        keep = ~solved.standing & (STEPS[6:60] <= 0.30)
        shortfalls += list(1 - wave.mean_current[keep] ** 2 / wave.rms_current[keep] ** 2)
    low, high = min(shortfalls), max(shortfalls)
    print(f"\nmean current squared falls short of the heat by {100 * low:.0f} to {100 * high:.0f} %")
    assert round(low, 2) >= 0.70
    assert high <= 0.97


# (e) A 6 V motor on 12.6 V: CV5 about 255 x 6 / 12.6 (computed, common practice for the method).
def test_cv5_for_six_volts():
    top = float(duty_curve(vhigh=121)[-1])
    assert 12.6 * top == pytest.approx(6.0, abs=0.05)
    assert round(255 * 6 / 12.6) == 121
