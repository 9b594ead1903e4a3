"""Start, creep and stall steps against a stick-slip simulation that knows nothing of the rule."""

from __future__ import annotations

import numpy as np
import pytest

from buildsheets.physics.pwm import periodic_current
from buildsheets.physics.starting import creep_speed, start_steps

MOTOR = {"resistance": 13.0, "emf_constant": 0.0112, "inductance": 4e-3, "inertia": 1.2e-7}
STEPS = np.arange(1, 127)


def simulated_speed(
    duty: float, frequency: float, breakaway: float, running: float, seconds: float, slices_a_period: int = 1000
) -> float:
    """Mean speed over the second half, by fine fixed steps of both equations. [rad/s]"""
    slice_time = 1 / (frequency * slices_a_period)
    current = speed = turned = 0.0
    slices = round(seconds / slice_time)
    for count in range(slices):
        volts = 12.0 if (count % slices_a_period) < slices_a_period * duty else -0.7
        push = volts - MOTOR["resistance"] * current - MOTOR["emf_constant"] * speed
        current += slice_time * push / MOTOR["inductance"]
        current = max(current, 0.0)
        torque = MOTOR["emf_constant"] * current
        if speed > 0 or torque > breakaway:
            speed = max(0.0, speed + slice_time * (torque - running) / MOTOR["inertia"])
        if count >= slices // 2:
            turned += speed * slice_time
    return turned / (seconds / 2)


def standstill(frequency: float) -> tuple[np.ndarray, np.ndarray]:
    wave = periodic_current(
        STEPS / 126, 12.0, 0.0, MOTOR["resistance"], MOTOR["inductance"], frequency, "coast", 0.7
    )
    return MOTOR["emf_constant"] * wave.peak_current, MOTOR["emf_constant"] * wave.mean_current


@pytest.mark.parametrize("frequency", [100.0, 2000.0])
def test_start_step_agrees_with_a_stick_slip_simulation(frequency: float) -> None:
    # Second road: direct integration of current, speed and Coulomb friction (computed).
    breakaway, running = 1.5e-3, 1.0e-3
    steps = start_steps(*standstill(frequency), breakaway, running)
    assert steps.start_step is not None
    seconds = 0.4
    below = simulated_speed((steps.start_step - 2) / 126, frequency, breakaway, running, seconds)
    above = simulated_speed((steps.start_step + 2) / 126, frequency, breakaway, running, seconds)
    assert above > 5 * max(below, 1.0)


def test_creep_speed_agrees_with_the_finer_simulation() -> None:
    breakaway, running = 1.5e-3, 1.0e-3
    steps = start_steps(*standstill(100.0), breakaway, running)
    assert steps.creep_from_step is not None
    assert steps.start_step is not None
    assert steps.creep_from_step < steps.start_step
    duty = (steps.creep_from_step + steps.start_step) / 2 / 126
    found = creep_speed(
        duty, 12.0, MOTOR["resistance"], MOTOR["inductance"], 100.0, "coast", 0.7, MOTOR["emf_constant"],
        MOTOR["inertia"], breakaway, running,
    )
    assert found == pytest.approx(simulated_speed(duty, 100.0, breakaway, running, 0.12, 10_000), rel=0.03)


def test_smooth_current_starts_where_mean_torque_beats_breakaway() -> None:
    torque = np.linspace(0.1, 12.6, 126)
    steps = start_steps(torque, torque, 3.05, 2.05)
    assert (steps.start_step, steps.creep_from_step, steps.stall_step) == (31, None, 21)


def test_no_step_starts_what_is_too_heavy() -> None:
    steps = start_steps(np.full(126, 1.0), np.full(126, 0.5), 2.0, 1.0)
    assert (steps.start_step, steps.creep_from_step, steps.stall_step) == (None, None, None)


def test_every_off_mode_creeps_and_open_gives_the_shortest_push() -> None:
    speeds = {
        mode: creep_speed(0.06, 12.0, 13.0, 4e-3, 100.0, mode, 0.7, 0.0112, 1.2e-7, 1.5e-3, 1.0e-3)
        for mode in ("coast", "brake", "open")
    }
    # Open bridges throw the current back at the bus; a shorted winding lets it die slowest.
    assert 0 < speeds["open"] < speeds["coast"] <= speeds["brake"]


@pytest.mark.parametrize("change", [{"inertia": 0.0}, {"frequency": 0.0}, {"resistance": 0.0}])
def test_nonsense_is_refused(change: dict[str, float]) -> None:
    given = {"inertia": 1e-7, "frequency": 100.0, "resistance": 10.0} | change
    with pytest.raises(ValueError, match="positive"):
        creep_speed(
            0.1, 12.0, given["resistance"], 1e-3, given["frequency"], "coast", 0.7, 0.01, given["inertia"],
            2e-3, 1e-3,
        )


def test_breakaway_below_running_is_refused() -> None:
    with pytest.raises(ValueError, match="breakaway"):
        start_steps([1.0], [1.0], 1.0, 2.0)
