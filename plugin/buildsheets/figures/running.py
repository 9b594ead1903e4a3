"""Steady running at every step: the motor's balance solved with a winding as warm as that running makes it."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buildsheets.figures.chain import Series
from buildsheets.figures.drive import Source
from buildsheets.figures.motor import Warmth, WorkingMotor
from buildsheets.physics.motor import copper_resistance
from buildsheets.physics.pwm import EmfSolution, solve_emf

ENOUGH = 0.01
"""Change of the winding temperature at which the rounds end [K]."""
MOST_ROUNDS = 60
HOTTEST = 400.0
"""No winding lives beyond this [degC]; keeps a runaway finite until it is reported."""

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Running:
    """Steady state over the steps. Shape (126,) each."""

    solution: EmfSolution
    motor_speed: Array
    winding_temperature: Array
    winding_power: Array
    air_inside: Array
    resistance: Array
    settled: bool
    warmth: Warmth

    def air_with(self, heat: float) -> float:
        """Air inside the body once so much heat [W] has warmed it [degC]."""
        return self.warmth.room + self.warmth.shell_resistance * heat

    @property
    def mean_current(self) -> Array:
        """Mean motor current [A]."""
        return self.solution.waveform.mean_current

    @property
    def rms_current(self) -> Array:
        """RMS motor current [A]."""
        return self.solution.waveform.rms_current

    @property
    def motor_voltage(self) -> Array:
        """Mean voltage at the motor's tags [V]."""
        return self.resistance * self.mean_current + self.solution.emf


def run(motor: WorkingMotor, source: Source, series: Series, load_torque: float, warmth: Warmth) -> Running:
    """Solve speed and temperature together, by rounds: each kelvin of the winding adds far less than one in the next.

    Parameters
    ----------
    motor, source, series, warmth
        The chain and its surroundings.
    load_torque : float
        Of the train, at the motor [N m].

    Returns
    -------
    Running
        `settled` is False if a temperature ran away or the balance did not close.
    """
    temperature = np.full(source.duty.shape, warmth.room)
    for _ in range(MOST_ROUNDS):
        state = _at(temperature, motor, source, series, load_torque, warmth)
        change = float(np.max(np.abs(state.winding_temperature - temperature)))
        if change < ENOUGH:
            return state
        temperature = np.clip(state.winding_temperature, warmth.room, HOTTEST)
    return _at(temperature, motor, source, series, load_torque, warmth, settled=False)


def _at(
    temperature: Array,
    motor: WorkingMotor,
    source: Source,
    series: Series,
    load_torque: float,
    warmth: Warmth,
    *,
    settled: bool = True,
) -> Running:
    resistance = copper_resistance(motor.resistance, temperature)
    demand = (motor.running_torque + load_torque) / motor.emf_constant
    solution = solve_emf(
        source.duty,
        source.bus_voltage,
        resistance + series.resistance,
        motor.inductance,
        source.frequency,
        source.off_mode,
        source.freewheel_drop,
        demand,
        0.0,
        series.pairs,
        series.card,
    )
    wave = solution.waveform
    copper = wave.rms_current**2 * resistance
    friction = motor.friction_torque * solution.emf / motor.emf_constant
    elsewhere = (
        wave.rms_current**2 * series.resistance + wave.mean_diode_power + source.internal_drop * wave.bus_current
    )
    air = warmth.room + warmth.shell_resistance * (copper + friction + elsewhere)
    return Running(
        solution,
        solution.emf / motor.emf_constant,
        air + (copper + friction) * warmth.motor_resistance,
        copper,
        air,
        resistance,
        settled and bool(np.all(solution.converged)),
        warmth,
    )


def wheel_speed(motor_speed: Array, ratio: float, wheel_diameter: float) -> Array:
    """Speed along the rail [m/s] of a motor speed [rad/s]."""
    return np.asarray(motor_speed / ratio * wheel_diameter / 2)


def listed(values: Array) -> list[float | None]:
    """Return an array as the figures hold it: None where a value is not finite."""
    return [float(value) if math.isfinite(value) else None for value in values]
