"""What the model says of the readings of a notebook, for many sets of its values at once."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from buildsheets.figures.chain import NOTHING
from buildsheets.figures.drive import OffMode, Source
from buildsheets.figures.heating import path_to_air
from buildsheets.figures.inputs import Inputs, gather
from buildsheets.figures.ledger import Scratch
from buildsheets.figures.priors import FACTORS
from buildsheets.figures.readings import Kind, Observation, Situation
from buildsheets.figures.running import Chain, ManyWarmths, Running, settle, wheel_speed
from buildsheets.figures.running import chain as chain_of
from buildsheets.figures.trials import as_tried
from buildsheets.physics.cvs import SPEED_STEPS
from buildsheets.physics.heat import WINDING_TO_CASE_SHARE
from buildsheets.physics.motor import copper_resistance
from buildsheets.physics.pwm import periodic_current
from buildsheets.records import models

Array = NDArray[np.float64]
Factors = Mapping[str, Array]

DIFFERENCE = 0.01
"""Change of a logarithm for the slopes: far above what the settling of the winding's warmth leaves open, and small beside
any spread. Numerical practice."""
SMALLEST_TORQUE = 1e-3
"""Share of the torque wanted below which a standing motor's torque is not told apart from none [1]; keeps logarithms finite."""
RUNNING = ("speed", "current", "voltage", "temperature")
"""Families of readings that are taken while it runs."""
STEPS = np.arange(1, SPEED_STEPS + 1, dtype=float)


def as_factors(logs: Array) -> Factors:
    """Return factors from logarithms of shape (variants, values in the order of `FACTORS`)."""
    return dict(zip(FACTORS, np.exp(logs).T[:, :, None], strict=True))


def variants(logs: Array) -> Factors:
    """Return the factors of these logarithms first, then with each of them moved by `DIFFERENCE`."""
    return as_factors(logs + np.vstack([np.zeros(len(logs)), DIFFERENCE * np.eye(len(logs))]))


@dataclass(frozen=True)
class _Column:
    """One situation before any factor is applied."""

    inputs: Inputs
    chain: Chain
    works: float  # friction of the works at the motor [N m], zero for the motor alone
    load: float  # torque of the train at the motor [N m]
    breakaway: float
    refines_volts: bool  # volts that were measured at the motor are not refined


class Situations:
    """What a record says for each situation of its readings, gathered once for all who predict in them."""

    def __init__(self, record: models.Record) -> None:
        self._record = record
        self._gathered: dict[tuple[str | None, str, float | None], Inputs] = {}

    def inputs(self, situation: Situation) -> Inputs:
        """Return what the record says for a situation."""
        key = (situation.trial, "train" if situation.load == "train" else "light", situation.track)
        if key not in self._gathered:
            record, track = self._record, situation.track
            for trial in record.trials:
                if trial.id == situation.trial and trial.settings is not None:
                    track = track if track is not None or trial.settings.track is None else trial.settings.track.value
                    record = as_tried(record, trial.settings)
            self._gathered[key] = gather(record, Scratch(), load=key[1], track=track, mesh=False)
        return self._gathered[key]


class Predictor:
    """Predicts observations; those that the record does not say enough for give NaN."""

    def __init__(self, record: models.Record, observations: Sequence[Observation], situations: Situations | None = None) -> None:
        self.inputs = (situations or Situations(record)).inputs
        self._observations = observations
        columns = {seen.situation: self._column(seen.situation) for seen in observations}
        running: dict[tuple[object, ...], list[Situation]] = {}
        for situation, column in columns.items():
            if column is not None and any(s.situation == situation and s.family in RUNNING for s in observations):
                running.setdefault(_alike(column.chain), []).append(situation)
        self._columns = columns
        self._batches = list(running.values())

    def __call__(self, factors: Factors) -> Array:
        """Return the predictions of shape (variants, observations); each factor has shape (variants, 1)."""
        variants = len(next(iter(factors.values())))
        found: dict[Situation, tuple[Running, int, Array]] = {}
        for situations in self._batches:
            given = self._batch(situations, factors)
            state = settle(given)
            for place, situation in enumerate(situations):
                found[situation] = (state, place, np.broadcast_to(given.series_resistance, given.shape)[:, place])
        out = np.full((variants, len(self._observations)), np.nan)
        for place, seen in enumerate(self._observations):
            column = self._columns[seen.situation]
            if column is None:
                continue
            if seen.kind == "start":
                out[:, place] = self._margins(column, factors)[:, 0]
            elif seen.family == "resistance":
                out[:, place] = _resistance(seen.kind, column, factors)
            else:
                state, at, series = found[seen.situation]
                out[:, place] = self._running(seen.kind, column, state, at, series, factors)
        return out

    def _column(self, situation: Situation) -> _Column | None:
        given = self.inputs(situation)
        motor, feed, series, train = given.motor, given.source, given.series, given.train
        if None in (train, feed, given.wheel) or motor is None or series is None or np.isnan(given.load_torque):
            return None
        assert feed is not None
        if situation.volts is not None:
            feed = _smooth(situation.volts)
            series = series if situation.at_decoder else NOTHING
        elif situation.step is not None:
            feed = _at_step(feed, situation.step)
        alone = situation.load == "motor alone"
        load = given.load_torque if situation.load == "train" else 0.0
        return _Column(
            given,
            chain_of(motor, feed, series, load, given.warmth),
            0.0 if alone else motor.mechanism_torque,
            load,
            motor.breakaway_torque,
            situation.volts is None,
        )

    def _batch(self, situations: Sequence[Situation], factors: Factors) -> Chain:
        """One chain for all situations that pulse alike; variants down, situations across."""
        columns = [column for situation in situations if (column := self._columns[situation]) is not None]

        def across(pick: Callable[[_Column], float]) -> Array:
            return np.array([pick(column) for column in columns])

        friction = across(lambda column: column.chain.friction_torque) * factors["running_torque"]  # type: ignore[arg-type, return-value]
        works = across(lambda column: column.works) * factors["running_torque"]
        volts = across(lambda column: float(np.ravel(column.chain.bus_voltage)[0]))
        refined = across(lambda column: float(column.refines_volts)) > 0
        around = columns[0].inputs.warmth
        like = columns[0].chain
        return replace(
            like,
            duty=across(lambda column: float(np.ravel(column.chain.duty)[0])),
            bus_voltage=volts * np.where(refined, factors["bus_voltage"], 1.0),
            resistance=_number(like.resistance) * factors["resistance"],
            emf_constant=_number(like.emf_constant) * factors["emf_constant"],
            friction_torque=friction,
            demand_torque=friction + works + across(lambda column: column.load) * factors["rolling"],
            series_resistance=across(lambda column: _number(column.chain.series_resistance))
            * factors["dropper_resistance"],
            internal_drop=across(lambda column: _number(column.chain.internal_drop)),
            warmth=ManyWarmths(
                np.asarray(around.room),
                around.shell_resistance * factors["shell_heat"],
                around.motor_resistance * factors["motor_heat"],
                around.dropper_factor * factors["dropper_heat"],
            ),
        )

    def _running(
        self, kind: Kind, column: _Column, state: Running, at: int, series: Array, factors: Factors
    ) -> Array:
        speed, wave = state.motor_speed[:, at], state.solution.waveform
        train, wheel = column.inputs.train, column.inputs.wheel
        assert train is not None
        assert wheel is not None
        if kind == "dropper_temperature":
            return self._dropper(column, state, at, series, factors)
        air, winding = state.air_inside[:, at], state.winding_temperature[:, at]
        values: dict[Kind, Callable[[], Array]] = {
            "speed": lambda: wheel_speed(speed, train.ratio, wheel),
            "motor_speed": lambda: speed,
            "wheel_speed": lambda: speed / train.ratio,
            "motor_voltage": lambda: state.motor_voltage[:, at],
            "output_voltage": lambda: wave.output_voltage[:, at],
            "mean_current": lambda: wave.mean_current[:, at],
            "rms_current": lambda: wave.rms_current[:, at],
            "air_temperature": lambda: air,
            "motor_temperature": lambda: air + (winding - air) / (1.0 + WINDING_TO_CASE_SHARE),
        }
        return values[kind]()

    def _dropper(self, column: _Column, state: Running, at: int, series: Array, factors: Factors) -> Array:
        dropper, fitted = column.inputs.record.dropper, column.inputs.series
        path = None if dropper is None else path_to_air(dropper, Scratch())
        if dropper is None or fitted is None or path is None:
            return np.full(len(series), np.nan)
        wave = state.solution.waveform
        resistors = wave.rms_current[:, at] ** 2 * series / fitted.parts
        each = resistors if dropper.resistor is not None else wave.mean_diode_power[:, at] / fitted.pairs
        return np.asarray(state.air_inside[:, at] + each * path * factors["dropper_heat"][:, 0])

    def standing_margins(self, situation: Situation, factors: Factors) -> Array:
        """Return the logarithm of the standing motor's torque over what it needs, at all steps, shape (variants, 126)."""
        column = self._column(replace(situation, step=None))
        assert column is not None  # it was predicted at the step that was read
        return self._margins(column, factors)

    def _margins(self, column: _Column, factors: Factors) -> Array:
        """Logarithm of torque over need, the scarcer of peak and mean; shape (variants, steps of the column)."""
        given, room = column.chain, column.inputs.warmth.room
        wave = periodic_current(
            given.duty,
            given.bus_voltage * factors["bus_voltage"],
            0.0,
            copper_resistance(given.resistance * factors["resistance"], room)
            + given.series_resistance * factors["dropper_resistance"],
            given.inductance,
            given.frequency,
            given.off_mode,
            given.freewheel_drop,
            given.pairs,
            given.card,
        )
        constant, load = _number(given.emf_constant) * factors["emf_constant"], column.load * factors["rolling"]
        moving = (_number(given.friction_torque) + column.works) * factors["running_torque"]
        away = np.maximum(column.breakaway * factors["breakaway_torque"], moving)
        scarcer = np.minimum(
            constant * wave.peak_current / (away + load), constant * wave.mean_current / (moving + load)
        )
        return np.asarray(np.log(np.maximum(scarcer, SMALLEST_TORQUE)))


def _number(value: float | Array) -> float:
    """A value of a chain that is the same in all variants."""
    return float(np.ravel(value)[0])


def _resistance(kind: Kind, column: _Column, factors: Factors) -> Array:
    if kind == "bank_resistance":
        series = column.inputs.series
        whole = series.resistance if series is not None and series.resistance else np.nan
        return whole * factors["dropper_resistance"][:, 0]
    motor = column.inputs.motor
    cold = np.nan if motor is None else float(copper_resistance(motor.resistance, column.inputs.warmth.room))
    return cold * factors["resistance"][:, 0]


def _alike(given: Chain) -> tuple[object, ...]:
    """What must be one for all situations that are solved together."""
    return given.off_mode, given.frequency, given.freewheel_drop, given.pairs, given.card.source


def _at_step(feed: Source, step: float) -> Source:
    """Return the source at one step, or between two."""
    duty = np.interp([step], STEPS, feed.duty)
    return replace(feed, duty=duty, bus_voltage=np.interp([step], STEPS, feed.bus_voltage))


def _smooth(volts: float) -> Source:
    mode: OffMode = "brake"
    return Source("direct current", np.ones(1), np.array([volts]), 1.0, mode, 0.0, 0.0)
