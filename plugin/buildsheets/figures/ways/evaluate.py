"""What each way comes to: many ways at once through the model of the sheet, at a few steps or at all."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from buildsheets.figures.drive import OffMode
from buildsheets.figures.running import HOTTEST, Chain, ManyWarmths, Running, settle
from buildsheets.figures.starting import AT_ONCE
from buildsheets.figures.ways.candidates import Way, haul_torque
from buildsheets.figures.ways.goal import Goal
from buildsheets.figures.ways.heat import Heat, heats
from buildsheets.physics import feedback as sensing
from buildsheets.physics.cvs import SPEED_STEPS
from buildsheets.physics.pwm import Waveform, periodic_current
from buildsheets.physics.scales import scale_mph
from buildsheets.physics.starting import moves_off
from buildsheets.physics.train import tractive_force

TOP = (1.0,)
"""The same for ways with diodes: each step takes twenty times one without, and a string is hottest near the top."""
FEW = (0.25, 0.5, 0.75, 1.0)
"""Shares of the way up to the highest step at which heat is looked at while ways are compared."""
SEVERAL = (1 / 3, 2 / 3, 1.0)
"""The same for the ways with diodes that are looked at closely."""

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Outcome:
    """One way worked out: the record's train on the level, forward, warm. None where the record does not say enough."""

    mph: float
    light_mph: float
    top_mph: float
    start_step: int | None
    heat: Heat
    locked_current: float
    margin: float | None  # rating over that current
    stall_force: float  # at the tread, rotor held, full on, friction taken off [N]
    hauls: bool  # whether the motor takes the stated train up the grade, or slips first
    visible_from: int | None  # step from which feedback sees the motor; None if it never does
    blind: bool  # whether the decoder looks and does not see
    settled: bool

    @property
    def drop(self) -> float:
        """Share of the light engine's speed that the train takes."""
        return max(1 - self.mph / self.light_mph, 0.0) if self.light_mph > 0 else 0.0


def evaluate(ways: Sequence[Way], goal: Goal, *, every_step: bool = False) -> list[Outcome]:
    """Work out ways; those that share a bridge and a diode string are solved together.

    Parameters
    ----------
    ways : sequence of Way
        Any.
    goal : Goal
        Speed and step wanted.
    every_step : bool
        Solve all 126 steps (with diodes, three) rather than four (one).

    Returns
    -------
    list of Outcome
        In the order of the ways.
    """
    out: dict[int, Outcome] = {}
    keys = [_key(way) for way in ways]
    for key in dict.fromkeys(keys):
        places = [place for place, found in enumerate(keys) if found == key]
        out |= dict(zip(places, _outcomes([ways[place] for place in places], goal, every_step), strict=True))
    return [out[place] for place in range(len(ways))]


def _outcomes(ways: Sequence[Way], goal: Goal, every_step: bool) -> list[Outcome]:
    """Solve each chain once, whatever the rating of its parts and the body they come in."""
    chains: dict[tuple[object, ...], int] = {}
    rows = [chains.setdefault(_chain_key(way), len(chains)) for way in ways]
    first = [rows.index(row) for row in range(len(chains))]
    group = _Group([ways[place] for place in first], goal, every_step)
    return group.outcomes(ways, rows)


def _chain_key(way: Way) -> tuple[object, ...]:
    series = way.inputs.series
    return id(way.base), id(way.inputs.source), series.resistance, series.pairs, way.inputs.warmth.dropper_factor


def _key(way: Way) -> tuple[OffMode, int, str]:
    source, series = way.inputs.source, way.inputs.series
    return source.off_mode, series.pairs, series.card.source if series.pairs else ""


class _Group:
    """Ways that one call of the solver takes."""

    def __init__(self, ways: Sequence[Way], goal: Goal, every_step: bool) -> None:
        self.ways, self.goal = ways, goal
        self.off_mode, self.pairs, _ = _key(ways[0])
        self.card = ways[0].inputs.series.card
        self.extra = goal.step < SPEED_STEPS
        self.steps = np.array([self._steps(way, every_step) for way in ways])
        self.warmth = ManyWarmths(*(
            self._of("warmth", name) for name in ("room", "shell_resistance", "motor_resistance", "dropper_factor")
        ))  # fmt: skip
        self._solve()

    @property
    def looked(self) -> int:
        """Number of steps looked at."""
        return int(self.steps.shape[1]) - self.extra

    def _steps(self, way: Way, every_step: bool) -> list[int]:
        """Steps looked at, the highest that can be driven last; behind it the wanted one, where that is another."""
        top = way.cap or SPEED_STEPS
        if every_step and not self.pairs:
            looked = list(range(1, SPEED_STEPS + 1))
        else:
            shares = SEVERAL if every_step else TOP if self.pairs else FEW
            looked = [max(round(share * top), 1) for share in shares]
        return [*looked, self.goal.step] if self.extra else looked

    def _column(self, value: Callable[[Way], float]) -> Array:
        return np.array([[value(way)] for way in self.ways], dtype=float)

    def _of(self, part: str, name: str) -> Array:
        return self._column(lambda way: getattr(getattr(way.inputs, part), name))

    def _motor(self, name: str) -> Array:
        return self._of("motor", name)

    def _source(self, name: str) -> Array:
        return self._of("source", name)

    def _solve(self) -> None:
        self.load = self._column(lambda way: way.inputs.load_torque)
        self.light = self._column(lambda way: way.base.light_torque)
        self.resistance, self.constant = self._motor("resistance"), self._motor("emf_constant")
        self.inductance, self.frequency = self._motor("inductance"), self._source("frequency")
        self.freewheel = self._source("freewheel_drop")
        self.in_series = self._column(lambda way: way.inputs.series.resistance)
        self.running = self._settle()
        self.speed = self._column(mph_per_volt) * self._emf()
        self.winding = self._at_every_step()
        self.start, self.stall, self.locked = self._standing()

    def _settle(self) -> Running:
        """Columns: train at the steps looked at and at the wanted one, then light there; under feedback both on full on-time too."""
        duty = np.array([way.inputs.source.duty[row - 1] for way, row in zip(self.ways, self.steps, strict=True)])
        bus = np.array([way.inputs.source.bus_voltage[row - 1] for way, row in zip(self.ways, self.steps, strict=True)])
        friction = self._motor("running_torque")
        demand = np.broadcast_to(friction + self.load, duty.shape)
        duty, bus = np.hstack([duty, duty[:, -1:]]), np.hstack([bus, bus[:, -1:]])
        demand = np.hstack([demand, friction + self.light])
        # full on-time bounds what feedback holds; where the wanted step is full already, it stands there
        self.bounded = self.goal.feedback and not bool(np.all(duty[:, -1] == 1))
        if self.bounded:
            duty = np.hstack([duty, np.ones((len(self.ways), 2))])
            bus = np.hstack([bus, bus[:, -2:]])
            demand = np.hstack([demand, friction + self.load, friction + self.light])
        return settle(
            Chain(
                duty, bus, self.frequency, self.off_mode, self.freewheel, self._source("internal_drop"), self.resistance,
                self.inductance, self.constant, self._motor("friction_torque"), demand, self.in_series, self.pairs, self.card, self.warmth,
            )
        )  # fmt: skip

    def _emf(self) -> Array:
        """EMF at the steps looked at, the wanted one, and there light: as held where feedback is on."""
        emf = self.running.solution.emf
        count = self.steps.shape[1]
        if not self.goal.feedback:
            return emf
        aim = self._column(aim_of)
        duty = np.array([way.inputs.source.duty[row - 1] for way, row in zip(self.ways, self.steps, strict=True)])
        duty = np.hstack([duty, duty[:, -1:]])
        whole = self.running.resistance[:, : count + 1] + self.in_series
        wanted = sensing.emf_behind(duty * aim, whole, self._column(_measuring), self.pairs, self.card)
        train, light = (count + 1, count + 2) if self.bounded else (count - 1, count)
        full = np.hstack([np.repeat(emf[:, train : train + 1], count, axis=1), emf[:, light : light + 1]])
        steps = np.hstack([self.steps, self.steps[:, -1:]])
        return np.where(steps <= self.goal.cut_off, sensing.held_emf(wanted, full), emf[:, : count + 1])

    def _at_every_step(self) -> Array:
        """Winding resistance at all 126 steps [ohm]; between the steps looked at on straight lines, cold at none."""
        count = self.looked
        every = np.arange(1, SPEED_STEPS + 1)
        cold = self.running.resistance[:, :1]
        return np.array([
            np.interp(every, row[:count], warm[:count]) if count == SPEED_STEPS else np.interp(every, [0, *row[:count]], [first[0], *warm[:count]])
            for row, warm, first in zip(self.steps, self.running.resistance, cold, strict=True)
        ])  # fmt: skip

    def _standing(self) -> tuple[list[int | None], Array, Array]:
        """First step that each way runs at, and of the held rotor torque and current, shape (ways,).

        The torque at the fullest step, as warm as the train makes it [N m]; the current full on, winding cold [A].
        """
        duty, bus = (np.array([getattr(way.inputs.source, name) for way in self.ways]) for name in ("duty", "bus_voltage"))
        most = duty.max(axis=1, keepdims=True)
        full = self._held(
            np.hstack([most, np.ones_like(most)]), self._source("top_voltage"),
            np.hstack([self.running.resistance[:, self.looked - 1, None], self.resistance]), self.pairs,
        ).mean_current  # fmt: skip
        stall = self.constant[:, 0] * full[:, 0] - self._motor("running_torque")[:, 0]
        moves = self._moves(duty, bus, slice(0, SPEED_STEPS), 0)
        if self.pairs and moves.any():  # a string lets no more through: nothing moves before it would without
            first, without, moves = int(np.argmax(moves.any(axis=0))), moves, np.zeros_like(moves)
            for begin in range(first, SPEED_STEPS, AT_ONCE):
                columns = slice(begin, begin + AT_ONCE)
                moves[:, columns] = self._moves(duty, bus, columns, self.pairs)
                if np.array_equal(moves.any(axis=1), without.any(axis=1)):
                    break
        start = np.where(moves.any(axis=1), np.argmax(moves, axis=1) + 1, 0)
        return [step or None for step in start.tolist()], stall, full[:, 1]

    def _moves(self, duty: Array, bus: Array, columns: slice, pairs: int) -> NDArray[np.bool_]:
        """Whether each way moves off, and keeps turning, at some steps with so many pairs of diodes."""
        wave = self._held(duty[:, columns], bus[:, columns], self.winding[:, columns], pairs)
        away, onward = self._motor("breakaway_torque") + self.load, self._motor("running_torque") + self.load
        return moves_off(self.constant * wave.peak_current, self.constant * wave.mean_current, away, onward)

    def _held(self, duty: Array, bus: Array, winding: Array, pairs: int) -> Waveform:
        """Pulses with the rotor held."""
        return periodic_current(
            duty, bus, 0.0, winding + self.in_series, self.inductance, self.frequency, self.off_mode, self.freewheel, pairs, self.card
        )

    def outcomes(self, ways: Sequence[Way], rows: Sequence[int]) -> list[Outcome]:
        """Return what ways come to whose chains stand in these rows."""
        chains = [self._of_chain(place) for place in range(len(self.ways))]
        currents = [chains[row]["locked_current"] for row in rows]
        heat = heats(ways, self.running, rows, self.looked, currents)
        return [
            Outcome(**chains[row], heat=warm, margin=_margin(way, current))
            for way, row, current, warm in zip(ways, rows, currents, heat, strict=True)
        ]

    def _of_chain(self, place: int) -> dict[str, Any]:
        """Return what the chain in a row decides of an outcome, whatever the rating of its parts."""
        way = self.ways[place]
        speed, start, torque = self.speed[place], self.start[place], float(self.stall[place])
        count = self.steps.shape[1]
        train, wheel = way.inputs.train, way.inputs.wheel
        pull, slip = self.goal.pull, self.goal.slip
        needed = None if pull is None else pull if slip is None else min(pull, slip)
        visible = self._visible_from(place) if self.goal.feedback and self.pairs else 1
        return {
            "mph": float(speed[count - 1]),
            "light_mph": float(speed[count]),
            "top_mph": float(speed[self.looked - 1]),
            "start_step": start,
            "locked_current": float(self.locked[place]),
            "stall_force": float(tractive_force(max(torque, 0.0), train.ratio, train.efficiency, wheel)),
            "hauls": needed is None or torque >= haul_torque(way.base, needed),
            "visible_from": visible,
            "blind": visible is None or visible > max(self.goal.start_step, start or 0),
            "settled": bool(
                (self.running.winding_temperature[place] < HOTTEST).all() and self.running.solution.converged[place].all()
            ),
        }

    def _visible_from(self, place: int) -> int | None:
        """First step from which the decoder reads at least half of the true EMF; EMF between steps on straight lines."""
        every, count = np.arange(1, SPEED_STEPS + 1), self.looked
        steps, found, start = self.steps[place, :count], self.running.solution.emf[place, :count], self.start[place]
        rest = (start or SPEED_STEPS) - 1
        emf = np.interp(every, [rest, *steps[steps > rest]], [0.0, *found[steps > rest]])
        way, whole = self.ways[place], self.winding[place] + self.in_series[place, 0]
        return sensing.visible_from_step(
            sensing.reading_share(emf, whole, _measuring(way), self.pairs, self.card)
        )


def _margin(way: Way, current: float) -> float | None:
    """Rating of the decoder over a current [1]; None where it is not known."""
    decoder = way.record.decoder
    rating = (decoder.peak_current or decoder.continuous_current) if decoder else None
    return rating.value / current if rating and current > 0 else None


def mph_per_volt(way: Way) -> float:
    """Return the scale speed of one volt of EMF [mph/V]."""
    given = way.inputs
    return float(scale_mph(given.wheel / 2 / given.train.ratio / given.motor.emf_constant, given.ratio))


def aim_of(way: Way) -> float:
    """Return the EMF that feedback steers for where the curve is at full [V]."""
    feedback = way.record.feedback
    return feedback.full_emf.value if feedback and feedback.full_emf else way.inputs.source.top_voltage


def _measuring(way: Way) -> float:
    given = way.record.feedback.input if way.record.feedback else None
    return given.value if given else sensing.MEASURING_RESISTANCE
