"""Steady running at every step: the motor's balance solved with a winding as warm as that running makes it."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buildsheets.figures.chain import Series
from buildsheets.figures.drive import OffMode, Source
from buildsheets.figures.motor import Warmth, WorkingMotor
from buildsheets.physics.diodes import DiodeCard
from buildsheets.physics.motor import copper_resistance
from buildsheets.physics.pwm import EmfSolution, solve_emf

ENOUGH = 0.01
"""Change of the winding temperature at which the rounds end [K]."""
MOST_ROUNDS = 60
HOTTEST = 400.0
"""No winding lives beyond this [degC]; keeps a runaway finite until it is reported."""

Array = NDArray[np.float64]
Values = float | Array


@dataclass(frozen=True)
class ManyWarmths:
    """Surroundings of many variants at once, shape (samples, 1) each; fields as in `Warmth`."""

    room: Array
    shell_resistance: Array
    motor_resistance: Array
    dropper_factor: Array


@dataclass(frozen=True)
class Running:
    """Steady state over the steps. Shape (126,) each, or that of the chain."""

    solution: EmfSolution
    motor_speed: Array
    winding_temperature: Array
    winding_power: Array
    air_inside: Array
    resistance: Array
    settled: bool
    warmth: Warmth | ManyWarmths

    def air_with(self, heat: Values) -> Values:
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


@dataclass(frozen=True)
class Chain:
    """All that decides steady running: numbers, or arrays that broadcast against the steps.

    Shapes are (126,) for one build over the steps, or (samples, 1) and (steps,) for many variants of it at once.
    """

    duty: Values
    bus_voltage: Values
    frequency: Values
    off_mode: OffMode
    freewheel_drop: Values
    internal_drop: Values
    resistance: Values  # of the winding, cold [ohm]
    inductance: Values
    emf_constant: Values
    friction_torque: Values  # of the motor alone; warms it
    demand_torque: Values  # friction of motor and works, and the load
    series_resistance: Values
    pairs: int
    card: DiodeCard
    warmth: Warmth | ManyWarmths

    @property
    def shape(self) -> tuple[int, ...]:
        """What everything broadcasts to."""
        around = self.warmth
        return np.broadcast_shapes(
            *(
                np.shape(value)
                for value in (
                    self.duty,
                    self.bus_voltage,
                    self.resistance,
                    self.emf_constant,
                    self.demand_torque,
                    self.series_resistance,
                    around.room,
                    around.shell_resistance,
                    around.motor_resistance,
                )
            )
        )


def chain(motor: WorkingMotor, source: Source, series: Series, load_torque: float, warmth: Warmth) -> Chain:
    """Return the chain of one build; the load's torque is at the motor [N m]."""
    return Chain(
        source.duty,
        source.bus_voltage,
        source.frequency,
        source.off_mode,
        source.freewheel_drop,
        source.internal_drop,
        motor.resistance,
        motor.inductance,
        motor.emf_constant,
        motor.friction_torque,
        motor.running_torque + load_torque,
        series.resistance,
        series.pairs,
        series.card,
        warmth,
    )


def run(motor: WorkingMotor, source: Source, series: Series, load_torque: float, warmth: Warmth) -> Running:
    """Solve the steady running of one build; as `settle`."""
    return settle(chain(motor, source, series, load_torque, warmth))


def settle(given: Chain, enough: float = ENOUGH) -> Running:
    """Solve speed and temperature together, by rounds: each kelvin of the winding adds far less than one in the next.

    Parameters
    ----------
    given : Chain
        One build or many variants of it.
    enough : float
        Change of the winding temperature at which the rounds end [K].

    Returns
    -------
    Running
        `settled` is False if a temperature ran away or the balance did not close.
    """
    room = np.asarray(given.warmth.room, dtype=float)
    temperature = np.array(np.broadcast_to(room, given.shape))
    for _ in range(MOST_ROUNDS):
        state = _at(temperature, given)
        change = float(np.max(np.abs(state.winding_temperature - temperature)))
        if change < enough:
            return state
        temperature = np.clip(state.winding_temperature, room, HOTTEST)
    return _at(temperature, given, settled=False)


def _at(temperature: Array, given: Chain, *, settled: bool = True) -> Running:
    warmth = given.warmth
    resistance = copper_resistance(given.resistance, temperature)
    solution = solve_emf(
        given.duty,
        given.bus_voltage,
        resistance + given.series_resistance,
        given.inductance,
        given.frequency,
        given.off_mode,
        given.freewheel_drop,
        np.divide(given.demand_torque, given.emf_constant),
        0.0,
        given.pairs,
        given.card,
    )
    wave = solution.waveform
    copper = wave.rms_current**2 * resistance
    friction = given.friction_torque * solution.emf / given.emf_constant
    elsewhere = (
        wave.rms_current**2 * given.series_resistance
        + wave.mean_diode_power
        + wave.mean_bypass_power
        + given.internal_drop * wave.bus_current
    )
    air = warmth.room + warmth.shell_resistance * (copper + friction + elsewhere)
    return Running(
        solution,
        solution.emf / given.emf_constant,
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
