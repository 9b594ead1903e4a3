"""The closed loop of back-EMF feedback: how a sampled controller and the motor's inertia answer each other.

The current is averaged over the pulses, so one differential equation is left, in the EMF E = K ω:

    dE/dt = (K² / J) (I_mean(d, E) - T / K)

The decoder looks at the motor every `period`, compares its reading with the target and sets the on-time

    d = P e + I (sum of e over all looks), kept between 0 and 1,

which takes effect one look later. Near a working point the motor is a lag of gain g = -(∂I/∂d) / (∂I/∂E) [V] and
time constant τ = -J / (K² ∂I/∂E), and between two looks exactly E' = a E + b d with a = exp(-period / τ) and
b = g (1 - a). The open loop is then, in the looks' own z,

    L(z) = k (z - z0) / (z (z - 1) (z - a)),    k = b (P + I),  z0 = P / (P + I)

and both margins have closed forms: the unit circle is met where cubic and circle share a pair of roots (one quadratic
in the gain), and |L| = 1 is a quadratic in the cosine.

References
----------
Sampled PI control of a first-order lag: any textbook of digital control, from memory; the project checks itself against
a control library and a circuit simulator.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buildsheets.physics.diodes import SILICON, DiodeCard
from buildsheets.physics.drive_period import OffMode
from buildsheets.physics.pwm import mean_current, periodic_current

Array = NDArray[np.float64]

SAMPLE_PERIOD = 10e-3
"""Time from one look at the motor to the next [s]; 50 to 150 looks a second seen, common practice."""
LOOP_GAIN = 0.25
"""k of the setting that suits: both roots of z² - z + k at one half, the quickest answer without overshoot [1]; computed."""
FINE, COARSE = 33, 17
"""Points along each side of a table of currents: without diodes and with them [1]."""
MOST_PARTS = 8
"""Parts that the time between two looks is cut into at most [1]."""
NEAR = 0.02
"""Within this share of the wanted speed it has arrived [1]."""
BAND = 0.05
"""Within this share of the wanted speed it counts as settled [1]; the usual band of control textbooks, from memory."""


@dataclass(frozen=True)
class PulsedChain:
    """What drives the motor: fields as in `pwm.periodic_current`, numbers."""

    bus_voltage: float
    resistance: float
    inductance: float
    frequency: float
    off_mode: OffMode
    freewheel_drop: float
    diode_pairs: int = 0
    diode_card: DiodeCard = SILICON

    def slopes(self, duty: float, emf: float) -> tuple[float, float]:
        """Return the change of mean current with on-time [A] and with EMF [A/V] at a working point."""
        width = 1e-3
        low, high = max(duty - width, 0.0), min(duty + width, 1.0)
        current, slope = mean_current(np.array([low, high, duty]), self.bus_voltage, emf, *self._rest())
        return float((current[1] - current[0]) / (high - low)), float(slope[2])

    def table(self) -> CurrentTable:
        """Return mean currents over on-time and EMF, and peaks at standstill, from one call of the solver."""
        count = COARSE if self.diode_pairs else FINE
        duty, emf = np.linspace(0.0, 1.0, count), np.linspace(0.0, self.bus_voltage, count)
        wave = periodic_current(duty[:, None], self.bus_voltage, emf[None, :], *self._rest())
        return CurrentTable(self.bus_voltage, wave.mean_current.tolist(), wave.peak_current[:, 0].tolist())

    def _rest(self) -> tuple[float, float, float, OffMode, float, int, DiodeCard]:
        return (
            self.resistance, self.inductance, self.frequency, self.off_mode, self.freewheel_drop,
            self.diode_pairs, self.diode_card,
        )


@dataclass(frozen=True)
class CurrentTable:
    """Mean current [A] at even on-times from 0 to 1 (rows) and even EMFs from 0 to `top` [V] (columns)."""

    top: float
    mean: list[list[float]]
    standing_peak: list[float]

    def at(self, duty: float, emf: float) -> tuple[float, float]:
        """Return mean current [A] and its change with EMF [A/V]: linear between the points and beyond the last."""
        row, part = _place(duty, 1.0, len(self.mean))
        lower, upper = self.mean[row], self.mean[row + 1]
        column, share = _place(emf, self.top, len(lower))
        left = lower[column] + part * (upper[column] - lower[column])
        right = lower[column + 1] + part * (upper[column + 1] - lower[column + 1])
        return left + share * (right - left), (right - left) * (len(lower) - 1) / self.top

    def peak(self, duty: float) -> float:
        """Return the peak current of the pulses at standstill [A]."""
        row, part = _place(duty, 1.0, len(self.standing_peak))
        return self.standing_peak[row] + part * (self.standing_peak[row + 1] - self.standing_peak[row])

    def duty_for(self, current: float, emf: float) -> float:
        """Return the on-time whose mean current is the one wanted at an EMF; 1 where even full on-time gives less."""
        if self.at(1.0, emf)[0] <= current:
            return 1.0
        low, high = 0.0, 1.0
        for _ in range(40):
            middle = 0.5 * (low + high)
            low, high = (middle, high) if self.at(middle, emf)[0] < current else (low, middle)
        return 0.5 * (low + high)


def _place(value: float, top: float, count: int) -> tuple[int, float]:
    """Return the cell of an even grid from 0 to `top` that a value lies in, and how far along it."""
    scaled = value / top * (count - 1)
    cell = min(max(int(scaled), 0), count - 2)
    return cell, scaled - cell


@dataclass(frozen=True)
class Lag:
    """The motor near a working point: gain [V per full on-time] and time constant [s]."""

    gain: float
    time_constant: float

    def sampled(self, period: float) -> tuple[float, float]:
        """Return a and b of E' = a E + b d from one look to the next [1], [V]."""
        keeps = math.exp(-period / self.time_constant)
        return keeps, self.gain * -math.expm1(-period / self.time_constant)


def lag(inertia: float, emf_constant: float, duty_slope: float, emf_slope: float) -> Lag:
    """Return the motor as a lag.

    Parameters
    ----------
    inertia
        Everything that moves, seen at the motor [kg m2].
    emf_constant
        K [V s/rad].
    duty_slope, emf_slope
        Change of mean current with on-time [A] and with EMF [A/V].

    Raises
    ------
    ValueError
        Where the current does not fall with EMF or not rise with on-time: no lag then.

    Notes
    -----
    From J dω/dt = K I(d, K ω) - T. In brake without diodes ∂I/∂E = -1/R, and the time constant is the textbook J R / K².
    """
    if not (emf_slope < 0.0 < duty_slope):
        raise ValueError("mean current must rise with on-time and fall with EMF")
    return Lag(-duty_slope / emf_slope, -inertia / (emf_constant**2 * emf_slope))


@dataclass(frozen=True)
class Controller:
    """Sampled proportional and integral control.

    Parameters
    ----------
    proportional
        P, on-time per volt missing [1/V].
    integral
        I, on-time per volt missing and look [1/V].
    period
        From one look to the next [s].
    winds_up
        Whether the sum goes on growing while the on-time stands at its limit; decoders are taken to do so.
    """

    proportional: float
    integral: float
    period: float
    winds_up: bool = True

    def scaled(self, integral: float) -> Controller:
        """Return the controller with its integral term times a factor [1]."""
        return Controller(self.proportional, self.integral * integral, self.period, self.winds_up)


def setting_that_suits(motor: Lag, period: float) -> Controller:
    """Return the setting whose integral time is the motor's time constant: its zero lies on the motor's own root.

    Parameters
    ----------
    motor
        The motor as a lag.
    period
        From one look to the next [s].

    Notes
    -----
    With z0 = a the loop is k / (z (z - 1)), whose closed loop has the roots of z² - z + k. Our rule, computed.
    """
    keeps, gives = motor.sampled(period)
    return Controller(keeps * LOOP_GAIN / gives, (1.0 - keeps) * LOOP_GAIN / gives, period)


@dataclass(frozen=True)
class OpenLoop:
    """L(z) = k (z - z0) / (z (z - 1) (z - a))."""

    gain: float
    zero: float
    keeps: float

    def closed_polynomial(self) -> tuple[float, float, float, float]:
        """Return the coefficients of z³, z², z and 1 whose roots are those of the closed loop."""
        return 1.0, -(1.0 + self.keeps), self.keeps + self.gain, -self.gain * self.zero

    def gain_margin(self) -> float:
        """Return the factor on the gain at which the loop begins to swing for ever [1].

        Notes
        -----
        A cubic z³ + αz² + βz + γ has a pair on the unit circle where β = 1 + αγ - γ². With the gain times m that is
        (k z0)² m² + k (1 - (1 + a) z0) m - (1 - a) = 0, which has one positive root.
        """
        square = (self.gain * self.zero) ** 2
        linear = self.gain * (1.0 - (1.0 + self.keeps) * self.zero)
        rest = 1.0 - self.keeps
        # Written so that nothing cancels, whichever sign `linear` has.
        root = math.sqrt(linear**2 + 4.0 * square * rest)
        return 2.0 * rest / (linear + root) if linear > 0.0 else (root - linear) / (2.0 * square)

    def crossover_angle(self) -> float | None:
        """Return the angle on the unit circle at which the loop's gain is one [rad]; None where it is above one all round.

        Notes
        -----
        k² (1 + z0² - 2 z0 c) = (2 - 2c)(1 + a² - 2 a c), c the cosine: the gain falls from infinite at c = 1, so the
        root that lies within the circle and nearest to it is met first.
        """
        a, k2, z0 = self.keeps, self.gain**2, self.zero
        roots = np.roots([4.0 * a, -(4.0 * a + 2.0 * (1.0 + a * a) - 2.0 * k2 * z0), 2.0 * (1.0 + a * a) - k2 * (1.0 + z0 * z0)])
        cosines = [float(root.real) for root in roots if abs(root.imag) < 1e-9 and -1.0 <= root.real <= 1.0]
        return math.acos(max(cosines)) if cosines else None

    def phase_margin(self) -> float | None:
        """Return how far the loop's phase is from half a turn where its gain is one [rad]; None where it nowhere is, but at rest."""
        angle = self.crossover_angle()
        if not angle:  # a motor so heavy that it keeps all its speed from one look to the next
            return None
        z = complex(math.cos(angle), math.sin(angle))
        value = self.gain * (z - self.zero) / (z * (z - 1.0) * (z - self.keeps))
        return (math.atan2(value.imag, value.real) + math.pi + math.pi) % (2.0 * math.pi) - math.pi


def open_loop(motor: Lag, controller: Controller) -> OpenLoop:
    """Return the open loop of a motor and a controller; proportional and integral terms not both zero."""
    keeps, gives = motor.sampled(controller.period)
    both = controller.proportional + controller.integral
    return OpenLoop(gives * both, controller.proportional / both, keeps)


@dataclass(frozen=True)
class Plant:
    """The averaged motor with what it moves.

    Parameters
    ----------
    table
        Mean currents of its chain.
    readings
        What the decoder reads at even EMFs from 0 to the table's top [V].
    emf_constant, inertia
        K [V s/rad] and everything that moves, seen at the motor [kg m2].
    running_torque, breakaway_torque
        Needed to keep moving and to move off, load included [N m].
    """

    table: CurrentTable
    readings: list[float]
    emf_constant: float
    inertia: float
    running_torque: float
    breakaway_torque: float

    @property
    def need(self) -> float:
        """Mean current that keeps it moving [A]."""
        return self.running_torque / self.emf_constant

    def reading(self, emf: float) -> float:
        """Return what the decoder reads at an EMF [V]."""
        cell, share = _place(emf, self.table.top, len(self.readings))
        return self.readings[cell] + share * (self.readings[cell + 1] - self.readings[cell])

    def advance(self, emf: float, duty: float, time: float) -> float:
        """Return the EMF [V] after a time [s] at one on-time; the motor stands until pulses and mean can move it.

        The step is exact for a current that falls straight with EMF.
        """
        parts = self._parts(time)
        step, push = time / parts, self.emf_constant**2 / self.inertia
        for _ in range(parts):
            current, slope = self.table.at(duty, emf)
            if emf <= 0.0 and not self._moves_off(current, duty):
                return 0.0
            rate, fall = push * (current - self.need), push * slope
            emf += rate * (math.expm1(fall * step) / fall if fall else step)
            if emf < 0.0:
                return 0.0
        return emf

    def _moves_off(self, current: float, duty: float) -> bool:
        return current > self.need and self.emf_constant * self.table.peak(duty) > self.breakaway_torque

    def _parts(self, time: float) -> int:
        steepest = (self.table.mean[-1][0] - self.table.mean[-1][-1]) / self.table.top
        return min(max(math.ceil(4.0 * time * steepest * self.emf_constant**2 / self.inertia), 1), MOST_PARTS)


def steady_emf(plant: Plant, duty: float) -> float:
    """Return the EMF at which the motor runs on at one on-time, feedback off [V]; zero where it stands."""
    if plant.table.at(duty, 0.0)[0] <= plant.need:
        return 0.0
    low, high = 0.0, plant.table.top
    for _ in range(40):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if plant.table.at(duty, middle)[0] > plant.need else (low, middle)
    return 0.5 * (low + high)


def held_response(plant: Plant, controller: Controller, target: float, count: int, emf: float = 0.0, duty: float = 0.0) -> Array:
    """Return the EMF at each look [V], shape (count + 1,), with feedback on.

    Parameters
    ----------
    plant
        Motor and load from the first look on.
    controller
        Its setting.
    target
        Reading that it steers for [V].
    count
        Looks.
    emf, duty
        Before the first look: EMF [V], and on-time, which is all in the sum: a state at rest.
    """
    total, course = duty, [emf]
    for _ in range(count):
        error = target - plant.reading(emf)
        grown = total + controller.integral * error
        wanted = controller.proportional * error + grown
        if controller.winds_up or 0.0 < wanted < 1.0 or (wanted > 1.0) != (error > 0.0):
            total = grown
        emf = plant.advance(emf, duty, controller.period)
        duty = min(max(wanted, 0.0), 1.0)
        course.append(emf)
    return np.array(course)


def free_response(plant: Plant, duty: float, period: float, count: int, emf: float = 0.0) -> Array:
    """Return the EMF at even times [V], shape (count + 1,), with feedback off; parameters as in `held_response`."""
    course = [emf]
    for _ in range(count):
        emf = plant.advance(emf, duty, period)
        course.append(emf)
    return np.array(course)


@dataclass(frozen=True)
class Manner:
    """How an answer went, as shares of the wanted value [1] and seconds.

    Parameters
    ----------
    overshoot
        Highest above it; zero for none.
    dip
        Deepest below it after it was first reached; zero where it never was.
    end
        Value at the end.
    settling_time
        From when on it stays within five per cent of it, or of its own end where that is elsewhere; None if it still
        swings at the end.
    stalls
        Whether it stands at the end.
    """

    overshoot: float
    dip: float
    end: float
    settling_time: float | None
    stalls: bool


def manner(course: Array, wanted: float, period: float) -> Manner:
    """Return how an answer went.

    Parameters
    ----------
    course
        Values at even times, shape (n,).
    wanted
        What they should come to, above zero.
    period
        Between two values [s].
    """
    share = course / wanted
    reached = np.flatnonzero(share >= 1.0 - NEAR)
    dip = max(1.0 - float(share[reached[0]:].min()), 0.0) if reached.size else 0.0
    end = float(share[-1])
    outside = np.flatnonzero(np.abs(share - end) > BAND)
    settled = 0 if not outside.size else int(outside[-1]) + 1
    # What has been still for less than the last tenth may be a swing passing through.
    still = settled <= 0.9 * (share.size - 1)
    return Manner(max(float(share.max()) - 1.0, 0.0), dip, end, settled * period if still else None, end <= 0.0)
