"""How a build under feedback answers: moving off, and meeting its grade, as it would have been set and as advised."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buildsheets.figures.chain import NOTHING, Series
from buildsheets.figures.format import Answer, LoopFigures, Response
from buildsheets.figures.ledger import Ledger
from buildsheets.figures.watching import HALF_STEP, Watched
from buildsheets.numerals import number as plain
from buildsheets.physics import loop as physics
from buildsheets.physics.loop import Controller, CurrentTable, Lag, Plant, PulsedChain
from buildsheets.records import models

WITHIN_REACH = 0.75
"""Share of the last step that can be held, at which the answers are shown where half step lies beyond it [1]."""
SHORTEST_PERIOD = 1e-3
"""Of the decoder's looks, as the answers are followed [s]: to look more often changes none that a motor with its train could show."""
TIME_CONSTANTS = 6.0
"""Of the motor with its dropper, that an answer is followed for [1]."""
SHORTEST, LONGEST = 0.6, 4.0
"""Bounds on that [s]."""
MOST_POINTS = 120
"""Points of an answer kept for chart and data."""
READING_POINTS = 65
"""EMFs at which the reading is tabled: its knee is sharper than the current's."""
SHORT = 0.02
"""Share of its speed that may be missing on the grade before it is worth a word [1]."""

Array = NDArray[np.float64]


def sample_period(record: models.Record, ledger: Ledger) -> float:
    """Return the time from one look of the decoder to the next [s], given or assumed."""
    sample = record.feedback.sample if record.feedback else None
    if sample and sample.every:
        return sample.every.value
    return ledger.assume(
        "feedback.sample.every", "time from one look at the motor to the next", physics.SAMPLE_PERIOD, "s", "a usual rhythm"
    )


@dataclass(frozen=True)
class Held:
    """A build that feedback holds at one step, the record's train on the level."""

    watched: Watched
    step: int
    emf: float  # where it is held [V]
    chain: PulsedChain
    table: CurrentTable
    built: Lag
    bare: Lag  # the same motor without its dropper

    @property
    def integral_scale(self) -> float:
        """Integral term over the one that suited the motor without the dropper [1]; never more is advised.

        Behind diodes slow pulses last longer at one speed, and the motor may then answer more quickly than without.
        """
        return min(self.bare.time_constant / self.built.time_constant, 1.0)


def hold(watched: Watched, last_held: int) -> Held | None:
    """Return the build held at half step, or lower where feedback does not work there.

    Parameters
    ----------
    watched
        The build as its decoder sees it.
    last_held : int
        Last step at which feedback works.

    Returns
    -------
    Held or None
        None for an unweighed locomotive, where the decoder wants no speed at that step, or where no current answers the
        motor: no volts, or a train that drives it.
    """
    if not math.isfinite(watched.solved.inertia) or watched.source.top_voltage <= 0.0:
        return None
    step = min(HALF_STEP, max(round(WITHIN_REACH * last_held), 1))
    emf = float(watched.wanted_emf[step - 1])
    if emf <= 0.0:
        return None
    chain = _chain(watched, watched.series, step)
    table = chain.table()
    built = _lag(watched, chain, table, emf)
    without = chain if watched.series == NOTHING else _chain(watched, NOTHING, step)
    bare = built if without is chain else _lag(watched, without, without.table(), emf)
    return None if built is None or bare is None else Held(watched, step, emf, chain, table, built, bare)


def _chain(watched: Watched, series: Series, step: int) -> PulsedChain:
    source = watched.source
    return PulsedChain(
        source.top_voltage,
        float(watched.running.resistance[step - 1]) + series.resistance,
        watched.motor.inductance,
        source.frequency,
        source.off_mode,
        source.freewheel_drop,
        series.pairs,
        series.card,
    )


def _lag(watched: Watched, chain: PulsedChain, table: CurrentTable, emf: float) -> Lag | None:
    """The motor near the working point; None where its current does not answer there."""
    need = (watched.motor.running_torque + watched.solved.load_torque) / watched.motor.emf_constant
    on_time, with_emf = chain.slopes(table.duty_for(need, emf), emf)
    if not with_emf < 0.0 < on_time:
        return None
    return physics.lag(watched.solved.inertia, watched.motor.emf_constant, on_time, with_emf)


def loop_figures(record: models.Record, held: Held, ledger: Ledger) -> LoopFigures:
    """Return the answers of a build under feedback.

    Parameters
    ----------
    record
        The build.
    held
        The same, held at a step.
    ledger
        Takes assumptions and judgements.
    """
    stated = sample_period(record, ledger)
    period = max(stated, SHORTEST_PERIOD)
    suited = physics.setting_that_suits(held.bare, period)
    advised = suited.scaled(held.integral_scale)
    bench = _Bench(held, suited, advised, _count(held.built.time_constant, period))
    start, grade = bench.start(), bench.grade()
    if record.feedback is not None and record.feedback.on:
        _judge(grade, held.step, record, ledger)
    loops = [physics.open_loop(held.built, setting) for setting in (suited, advised)]
    phases = [loop.phase_margin() for loop in loops]
    if None in phases:
        ledger.explain("feedback.loop.phase_margin_deg", "With such settings the loop’s gain is above one at every frequency.")
    return LoopFigures(
        step=held.step,
        sample_period_ms=1e3 * stated,
        p_ratio=1.0,
        i_ratio=held.integral_scale,
        gain_margin=[loop.gain_margin() for loop in loops],
        phase_margin_deg=[None if phase is None else math.degrees(phase) for phase in phases],
        wanted_scale_mph=held.watched.mph(np.array([held.emf]))[0],
        time_s=bench.times(),
        start=start,
        grade=grade,
    )


def _count(time_constant: float, period: float) -> int:
    return max(math.ceil(min(max(TIME_CONSTANTS * time_constant, SHORTEST), LONGEST) / period), 2)


class _Bench:
    """The build on a bench of numbers: both settings and feedback off, over the same times."""

    def __init__(self, held: Held, suited: Controller, advised: Controller, count: int) -> None:
        self.watched, self.table, self.step, self.emf = held.watched, held.table, held.step, held.emf
        self.suited, self.advised, self.count = suited, advised, count
        self.stride = math.ceil(count / MOST_POINTS)
        self.readings = held.watched.reading(np.linspace(0.0, held.table.top, READING_POINTS), held.step).tolist()

    def times(self) -> list[float]:
        """Times of the points kept [s]."""
        return [self.suited.period * place for place in range(0, self.count + 1, self.stride)]

    def start(self) -> Answer:
        """From rest, the step given at once."""
        plant = self._plant(0.0)
        return self._answer(f"Set off to step {self.step} at once", plant, 0.0, 0.0, 0.0)

    def grade(self) -> Answer | None:
        """From the level at the step's speed onto the grade, with its whole train at once; None without a climb."""
        added, train = self.watched.grade_torque(), self.watched.solved.record.train
        if added is None or train is None or train.grade is None:
            return None
        level, climb = self._plant(0.0), self._plant(added)
        held = self.table.duty_for(level.need, self.emf)
        return self._answer(f"Meeting {train.grade.text} at step {self.step}", climb, self.emf, held, physics.steady_emf(level, self._open_duty))

    @property
    def _open_duty(self) -> float:
        return float(self.watched.source.duty[self.step - 1])

    def _plant(self, added: float) -> Plant:
        motor, load = self.watched.motor, self.watched.solved.load_torque + added
        return Plant(
            self.table,
            self.readings,
            motor.emf_constant,
            self.watched.solved.inertia,
            motor.running_torque + load,
            motor.breakaway_torque + load,
        )

    def _answer(self, event: str, plant: Plant, emf: float, duty: float, free_emf: float) -> Answer:
        target = float(self.watched.target[self.step - 1])
        suited = physics.held_response(plant, self.suited, target, self.count, emf, duty)
        # Without a dropper nothing is advised: the two settings are one.
        same = self.advised == self.suited
        advised = suited if same else physics.held_response(plant, self.advised, target, self.count, emf, duty)
        free = physics.free_response(plant, self._open_duty, self.suited.period, self.count, free_emf)
        wanted_free = free_emf or physics.steady_emf(plant, self._open_duty) or self.emf
        return Answer(
            event=event,
            suited=self._response(suited, self.emf),
            advised=self._response(advised, self.emf),
            off=self._response(free, wanted_free),
        )

    def _response(self, course: Array, wanted: float) -> Response:
        went = physics.manner(course, wanted, self.suited.period)
        return Response(
            scale_mph=self.watched.mph(course[:: self.stride]),
            overshoot_share=went.overshoot,
            dip_share=went.dip,
            end_share=went.end,
            settling_time_s=went.settling_time,
            stalls=went.stalls,
        )


def _judge(grade: Answer | None, step: int, record: models.Record, ledger: Ledger) -> None:
    if grade is None or record.train is None or record.train.grade is None:
        return
    climb, end = record.train.grade.text, grade["advised"]["end_share"]
    if grade["advised"]["stalls"]:
        ledger.judge(
            "feedback on the grade", "caution", f"On {climb} it stalls at step {step} even with feedback on: the motor has no more to give."
        )
    elif end < 1.0 - SHORT:
        ledger.judge(
            "feedback on the grade",
            "note",
            f"On {climb} at step {step} the motor gets all there is and still keeps only {plain(100 * end, 2)} % of its speed.",
        )
