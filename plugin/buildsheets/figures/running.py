"""Steady running at every step: the motor's balance solved with a winding as warm as that running makes it."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields
from operator import attrgetter

import numpy as np
from numpy.typing import NDArray

from buildsheets.figures.chain import Series
from buildsheets.figures.drive import OffMode, Source
from buildsheets.figures.motor import Warmth, WorkingMotor
from buildsheets.physics.diodes import DiodeCard
from buildsheets.physics.drive_period import PeriodMeans
from buildsheets.physics.motor import COPPER_COEFFICIENT, copper_resistance
from buildsheets.physics.pwm import EmfSolution, Rows, Waveform, solve_warm_emf

ENOUGH = 1e-6
"""Change of the winding temperature at which it counts as settled [K]: below a millionth of any speed, the slowest too."""
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


def run_together(chains: Sequence[Chain]) -> list[Running]:
    """Solve several chains of one build each over equally many steps; those alike in bridge and diodes at once."""
    found: dict[int, Running] = {}
    kinds = [(given.off_mode, given.pairs, given.card) for given in chains]
    for kind in dict.fromkeys(kinds):
        places = [place for place, other in enumerate(kinds) if other == kind]
        if len(places) == 1:
            found[places[0]] = settle(chains[places[0]])
            continue
        state = settle(_stacked([chains[place] for place in places]))
        found |= {place: _row(state, row, chains[place]) for row, place in enumerate(places)}
    return [found[place] for place in range(len(chains))]


def _stacked(chains: Sequence[Chain]) -> Chain:
    """One chain with a row for each of several; all but off mode and diodes may differ."""
    def rows(pick: Callable[[Chain], Values]) -> Array:
        return np.array([np.atleast_1d(pick(given)) for given in chains], dtype=float)

    values = {name: rows(attrgetter(name)) for name in (
        "duty", "bus_voltage", "frequency", "freewheel_drop", "internal_drop", "resistance", "inductance", "emf_constant", "friction_torque",
        "demand_torque", "series_resistance",
    )}  # fmt: skip
    around = ManyWarmths(*(rows(attrgetter(f"warmth.{field.name}")) for field in fields(ManyWarmths)))
    first = chains[0]
    return Chain(**values, off_mode=first.off_mode, pairs=first.pairs, card=first.card, warmth=around)


def _row(state: Running, row: int, given: Chain) -> Running:
    """One row of several, as it would have been solved alone."""
    waveform = Waveform(**{name: values[row] for name, values in vars(state.solution.waveform).items()})
    parts = {name: values[row] for name, values in vars(state.solution).items() if name != "waveform"}
    solution, winding = EmfSolution(**parts, waveform=waveform), state.winding_temperature[row]
    return Running(
        solution,
        state.motor_speed[row],
        winding,
        state.winding_power[row],
        state.air_inside[row],
        state.resistance[row],
        _came_to_rest(solution, winding),
        given.warmth,
    )


def _came_to_rest(solution: EmfSolution, winding: Array) -> bool:
    return bool((solution.converged & (winding < HOTTEST)).all())


def settle(given: Chain) -> Running:
    """Solve speed and temperature together: each kelvin of the winding adds far less than one in the next.

    Parameters
    ----------
    given : Chain
        One build or many variants of it.

    Returns
    -------
    Running
        `settled` is False if a temperature ran away or the balance did not close.
    """
    shape = given.shape
    heat = _Heat(given, shape)
    solution, whole = solve_warm_emf(
        np.broadcast_to(given.duty, shape),
        given.bus_voltage,
        (heat.cold + heat.series).reshape(shape),
        given.inductance,
        given.frequency,
        given.off_mode,
        given.freewheel_drop,
        np.divide(given.demand_torque, given.emf_constant),
        heat.warmed,
        ENOUGH * COPPER_COEFFICIENT,
        given.pairs,
        given.card,
    )
    resistance = whole - given.series_resistance
    wave = solution.waveform
    means = heat.of(
        slice(None), *(np.ravel(value) for value in (
            solution.emf, wave.rms_current**2, wave.mean_diode_power + wave.mean_bypass_power, wave.bus_current, resistance
        ))
    )  # fmt: skip
    copper, air, winding = (value.reshape(shape) for value in means)
    return Running(
        solution,
        solution.emf / given.emf_constant,
        winding,
        copper,
        air,
        resistance,
        _came_to_rest(solution, winding),
        given.warmth,
    )


class _Heat:
    """What the running of each row does to its winding; flat arrays."""

    def __init__(self, given: Chain, shape: tuple[int, ...]) -> None:
        around = given.warmth

        def flat(value: Values) -> Array:
            out = np.empty(shape)
            out[...] = value
            return out.ravel()

        self.room, self.shell, self.motor = flat(around.room), flat(around.shell_resistance), flat(around.motor_resistance)
        self.series, self.drop = flat(given.series_resistance), flat(given.internal_drop)
        self.drag = flat(np.divide(given.friction_torque, given.emf_constant))
        self.winding = flat(given.resistance)
        self.cold = copper_resistance(self.winding, self.room)

    def of(
        self, rows: Rows | slice, emf: Array, square: Array, string: Array, bus: Array, resistance: Array
    ) -> tuple[Array, Array, Array]:
        """Return the copper's power [W], air inside and winding [degC]; `square` in A², `string` the dropper's diodes [W]."""
        copper, friction = square * resistance, self.drag[rows] * emf
        elsewhere = square * self.series[rows] + string + self.drop[rows] * bus
        air = self.room[rows] + self.shell[rows] * (copper + friction + elsewhere)
        return copper, air, air + (copper + friction) * self.motor[rows]

    def warmed(self, rows: Rows, emf: Array, means: PeriodMeans, whole: Array) -> Array:
        """Return the chain's resistance as warm as that makes it [ohm]."""
        series, string = self.series[rows], means.diode_power + means.bypass_power
        _, _, winding = self.of(rows, emf, means.mean_square, string, means.on_current, whole - series)
        warmest = np.minimum(np.maximum(winding, self.room[rows]), HOTTEST)
        return copper_resistance(self.winding[rows], warmest) + series


def wheel_speed(motor_speed: Array, ratio: float, wheel_diameter: float) -> Array:
    """Speed along the rail [m/s] of a motor speed [rad/s]."""
    return np.asarray(motor_speed / ratio * wheel_diameter / 2)


def listed(values: Array) -> list[float | None]:
    """Return an array as the figures hold it: None where a value is not finite."""
    plain: list[float] = values.tolist()
    return [*plain] if np.isfinite(values).all() else [value if math.isfinite(value) else None for value in plain]
