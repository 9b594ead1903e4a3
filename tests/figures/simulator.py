"""A locomotive on the bench, slice by slice in time: what the fit of the readings is judged by.

It knows what the plugin's model does not: brushes that drop volts, poles that pull at the rotor, torque that ripples,
friction that sticks, slips and grows with speed, and copper that warms while it runs. It imports nothing of the plugin.

Each slice of a pulse is integrated exactly for the current (resistance, inductance and an EMF that stays for the slice) and
by a semi-implicit step for the speed. All fields are arrays of one shape: many worlds and steps run side by side.

Sources: Kirchhoff's and Newton's laws; the sizes of what the model leaves out are common practice for small motors.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

COPPER = 0.00393  # per kelvin, handbook value from memory
THERMAL_TIME = 0.02  # s; shortened from minutes, the end is the same
SLICE = 60e-6  # s; a pole passes in about 500 microseconds
SETTLING = 0.6  # share of the time before anything is recorded
LIGHTENED = 8.0  # inertia is divided by it while settling from nowhere; too light for slow pulses
KNEE = 0.01  # A; brushes reach most of their drop at some milliamps
DIODE = (5e-9, 1.8 * 0.02585, 0.04)  # saturation current [A], N Vt [V], ohm of a 1 A rectifier, from memory


@dataclass(frozen=True)
class World:
    """One locomotive and what feeds it; shape (n,) each, SI, temperatures in degC."""

    resistance: Array  # at 20 degC
    emf_constant: Array
    inductance: Array
    inertia: Array  # rotor and flywheels at the motor
    friction: Array  # of the motor, sliding
    works: Array  # of the works at the motor, sliding
    viscous: Array  # N m s
    breakaway: Array  # motor and works
    cogging: Array  # amplitude, N m
    ripple: Array  # amplitude of the torque constant over its mean
    poles: Array  # cycles of both a turn
    brush_drop: Array  # V
    bus_voltage: Array
    internal_drop: Array
    freewheel_drop: Array
    series: Array  # ohm
    room: Array
    shell_heat: Array  # K/W, air inside to room
    motor_heat: Array  # K/W, winding to air inside

    def take(self, places: Any) -> World:
        """Return some of the worlds, in the order of the places."""
        return World(**{field.name: getattr(self, field.name)[places] for field in fields(self)})

    def with_(self, **values: Any) -> World:
        """Return the worlds with other values; numbers are spread over all."""
        shape = self.resistance.shape
        return replace(self, **{name: np.broadcast_to(np.asarray(value, dtype=float), shape) for name, value in values.items()})


@dataclass(frozen=True)
class Seen:
    """What ideal instruments would show."""

    speed: Array  # of the motor [rad/s], mean
    least_speed: Array  # [rad/s]
    mean_current: Array
    rms_current: Array
    motor_voltage: Array  # mean
    output_voltage: Array  # mean, before the dropper
    series_power: Array  # W in the dropper's resistance
    diode_power: Array  # W in its diodes
    winding: Array  # degC
    air: Array  # degC inside the body

    def take(self, places: Any) -> Seen:
        """Return what is seen of some of the worlds."""
        return Seen(**{field.name: getattr(self, field.name)[places] for field in fields(self)})


class _Run:
    """State of all worlds while they run."""

    def __init__(self, world: World, load: Array, *, one_way: bool, pairs: int, speed: Array, angle: Array) -> None:
        self.world, self.load, self.one_way, self.pairs = world, load, one_way, pairs
        zero = np.zeros_like(world.resistance)
        self.current, self.speed, self.angle = zero, speed, angle
        self.winding, self.air = world.room.copy(), world.room.copy()
        self.drop = zero

    def slice(self, volts: Array, time: Array, inertia: Array, on: bool) -> tuple[Array, ...]:
        """Advance by one slice; return charge, square, and mean volts of motor and output over it."""
        world = self.world
        winding = world.resistance * (1.0 + COPPER * (self.winding - 20.0))
        whole = winding + world.series
        swing = np.cos(world.poles * self.angle)
        constant = world.emf_constant * (1.0 + world.ripple * swing)
        emf = constant * self.speed
        brush = world.brush_drop * np.tanh(self.current / KNEE)
        if self.one_way:
            brush = world.brush_drop
        final = (volts - emf - brush - self.drop) / whole
        decay_time = world.inductance / whole
        start, flows = self.current, time
        if self.one_way:
            dying = final < 0
            left = np.log(np.where(dying, (start - final) / np.where(dying, -final, 1.0), np.inf))
            flows = np.minimum(time, np.where(dying, decay_time * left, time))
        kept = np.exp(-flows / decay_time)
        gap = start - final
        charge = final * flows + gap * decay_time * (1.0 - kept)
        square = final**2 * flows + 2.0 * final * gap * decay_time * (1.0 - kept) + gap**2 * decay_time / 2 * (1.0 - kept**2)
        end = final + gap * kept
        self.current = np.where(flows < time, 0.0, end)
        torque = constant * charge / time - world.cogging * np.sin(world.poles * self.angle)
        resists = world.friction + world.works + self.load + world.viscous * self.speed
        turning = (self.speed > 0) | (torque > world.breakaway + self.load)
        before = self.speed
        self.speed = np.where(turning, np.maximum(before + time / inertia * (torque - resists), 0.0), 0.0)
        self.angle = self.angle + time * (before + self.speed) / 2
        diode = self.drop * charge
        if self.pairs:
            through = np.maximum(np.abs(charge) / time, 1e-4)
            saturation, slope, ohms = DIODE
            self.drop = self.pairs * (slope * np.log1p(through / saturation) + ohms * through)
        self._warm(charge, square, diode, winding, time, on)
        motor = emf * time + winding * charge + brush * np.where(flows > 0, flows, 0.0)
        return charge, square, motor, motor + world.series * charge + diode, diode

    def _warm(self, charge: Array, square: Array, diode: Array, winding: Array, time: Array, on: bool) -> None:
        world = self.world
        copper = (winding * square + world.brush_drop * np.abs(charge)) / time
        rubbing = world.friction * self.speed
        bridge = world.internal_drop * charge / time if on else 0.0
        every = copper + rubbing + bridge + (world.series * square + diode) / time
        share = time / THERMAL_TIME
        self.air = self.air + share * (world.room + world.shell_heat * every - self.air)
        self.winding = self.winding + share * (self.air + world.motor_heat * (copper + rubbing) - self.winding)


def run(
    world: World,
    duty: Array,
    load: Array,
    frequency: float,
    off_mode: str,
    *,
    pairs: int = 0,
    seconds: float = 0.4,
    standing: bool = False,
    speed: Array | None = None,
    seed: int = 1,
) -> Seen:
    """Run all worlds and return what instruments show once they have settled.

    `duty` and `load` (torque of the train at the motor) have the worlds' shape. `standing` starts from rest with the inertia
    as it is; else a good first guess of the `speed` shortens the settling. Smooth direct current is a duty of 1 in brake mode.
    """
    shape = world.resistance.shape
    duty, load = np.broadcast_to(duty, shape), np.broadcast_to(load, shape)
    off = {"coast": -world.freewheel_drop, "brake": 0.0 * duty, "open": -(world.bus_voltage + 2 * world.freewheel_drop)}
    period = 1.0 / frequency
    count = max(1, int(np.ceil(period / 2 / SLICE)))
    on_time, off_time = duty * period / count, np.maximum(1.0 - duty, 1e-9) * period / count
    angle = np.random.default_rng(seed).uniform(0.0, 2 * np.pi, shape)
    guess = 0.8 * duty * world.bus_voltage / world.emf_constant if speed is None else speed
    guess = np.zeros(shape) if standing else guess
    state = _Run(world, load, one_way=off_mode != "brake", pairs=pairs, speed=guess, angle=angle)
    periods = max(4, round(seconds * frequency))
    first = int(np.ceil(SETTLING * periods))
    sums, least, begun = [np.zeros(shape) for _ in range(7)], np.full(shape, np.inf), angle
    for number in range(periods):
        if number == first:
            begun = state.angle
        settled = number >= first
        inertia = world.inertia if settled or standing or speed is not None else world.inertia / LIGHTENED
        for volts, time, on in ((world.bus_voltage, on_time, True), (off[off_mode], off_time, False)):
            for _ in range(count):
                charge, square, motor, output, diode = state.slice(volts, time, inertia, on)
                if settled:
                    parts = (charge, square, motor, output, diode, state.winding * time, state.air * time)
                    sums = [total + part for total, part in zip(sums, parts, strict=True)]
                    least = np.minimum(least, state.speed)
    whole = (periods - first) * period
    charge, square, motor, output, diode, winding, air = (total / whole for total in sums)
    return Seen(
        (state.angle - begun) / whole,
        least, charge, np.sqrt(square), motor, output, world.series * square, diode, winding, air,
    )  # fmt: skip


def first_running_step(
    world: World, duties: Array, load: Array, frequency: float, off_mode: str, *, pairs: int = 0
) -> NDArray[np.int64]:
    """Return the first of the steps 1, 2, ..., whose duties are given, that starts each world and keeps it running; or 0."""
    worlds, steps = world.resistance.size, duties.size
    many = world.take(np.repeat(np.arange(worlds), steps))
    seen = run(
        many, np.tile(duties, worlds), np.repeat(np.broadcast_to(load, (worlds,)), steps), frequency, off_mode,
        pairs=pairs, seconds=0.3, standing=True,
    )  # fmt: skip
    runs = (seen.least_speed > 0).reshape(worlds, steps)
    return np.where(runs.any(axis=1), runs.argmax(axis=1) + 1, 0)
