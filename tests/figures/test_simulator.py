"""The simulator itself: with ideal brushes, smooth torque and plain friction it must agree with what is known in closed form."""

from __future__ import annotations

import numpy as np
import pytest
from simulator import World, first_running_step, run  # type: ignore[import-not-found]

from buildsheets.physics.pwm import solve_emf
from buildsheets.physics.starting import start_steps

DUTY = np.array([0.5, 0.75, 1.0])
CONSTANT, FRICTION, COLD, SERIES = 0.0093, 4.8e-4, 28.0, 16.5


def _world(count: int, **changes: float) -> World:
    values = {
        "resistance": COLD, "emf_constant": CONSTANT, "inductance": 6e-3, "inertia": 1.5e-7, "friction": 2.8e-4, "works": 2e-4,
        "viscous": 0.0, "breakaway": 7.2e-4, "cogging": 0.0, "ripple": 0.0, "poles": 10.0, "brush_drop": 0.0, "bus_voltage": 12.9,
        "internal_drop": 1.4, "freewheel_drop": 0.7, "series": SERIES, "room": 22.0, "shell_heat": 9.0, "motor_heat": 76.0,
    } | changes  # fmt: skip
    return World(**{name: np.full(count, value) for name, value in values.items()})


def test_smooth_current_is_the_linear_motor() -> None:
    """K I = T and V = I R + K w, any control textbook; copper 0.393 % a kelvin over 20 degC."""
    seen = run(_world(1), np.ones(1), np.zeros(1), 12_000.0, "brake", seconds=0.4)
    current = FRICTION / CONSTANT
    warm = COLD * (1 + 0.00393 * (seen.winding[0] - 20))
    assert seen.mean_current[0] == pytest.approx(current, rel=1e-3)
    assert seen.speed[0] == pytest.approx((12.9 - current * (warm + SERIES)) / CONSTANT, rel=1e-3)
    air = 22 + 9 * (current * 12.9 + 1.4 * current - 2e-4 * seen.speed[0])  # all that comes in but what the works take
    assert seen.air[0] == pytest.approx(air, rel=2e-3)
    heat = current**2 * warm + 2.8e-4 * seen.speed[0]
    assert seen.winding[0] == pytest.approx(air + 76 * heat, rel=2e-3)


@pytest.mark.parametrize(("mode", "frequency"), [("brake", 12_000.0), ("coast", 12_000.0), ("open", 12_000.0)])
def test_pulses_agree_with_the_periodic_steady_state(mode: str, frequency: float) -> None:
    """Two programmes of one physics: slices in time here, the closed form of a period there."""
    seen = run(_world(3), DUTY, np.zeros(3), frequency, mode, seconds=0.25)
    warm = COLD * (1 + 0.00393 * (seen.winding - 20)) + SERIES
    solved = solve_emf(DUTY, 12.9, warm, 6e-3, frequency, mode, 0.7, FRICTION / CONSTANT)  # type: ignore[arg-type]
    moving = ~solved.standing
    assert moving.sum() >= 2
    assert seen.speed[moving] == pytest.approx(solved.emf[moving] / CONSTANT, rel=1e-3)
    assert seen.rms_current == pytest.approx(solved.waveform.rms_current, rel=2e-3)
    assert seen.output_voltage[moving] == pytest.approx(solved.waveform.output_voltage[moving], rel=2e-3)


def test_it_starts_where_the_rule_says() -> None:
    """Smooth pulses: mean torque against breakaway, the rule of `start_steps`, within the step that cogging-free time gives."""
    duties = np.arange(1, 41) / 126
    cold = COLD * (1 + 0.00393 * 2)
    torque = CONSTANT * duties * 12.9 / (cold + SERIES)
    expected = start_steps(torque, torque, 7.2e-4, FRICTION).start_step
    assert expected is not None
    assert abs(int(first_running_step(_world(1), duties, np.zeros(1), 12_000.0, "brake")[0]) - expected) <= 1
