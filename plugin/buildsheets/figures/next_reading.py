"""Which reading to take next: the one that would narrow the top speed most."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from buildsheets.figures.format import NextReading
from buildsheets.figures.learning import Learned
from buildsheets.figures.predicting import DIFFERENCE, Predictor, variants
from buildsheets.figures.readings import (
    FAMILY,
    METER_ERROR,
    MODEL_OWN,
    MODEL_SHARED,
    ROAD_ERROR,
    THERMOMETER_ERROR,
    Kind,
    Observation,
    Situation,
    errors,
)
from buildsheets.numerals import quantity
from buildsheets.physics.calibration import spread_with
from buildsheets.physics.cvs import SPEED_STEPS
from buildsheets.physics.uncertainty import SIGMAS
from buildsheets.records import models

WORTH_TAKING = 0.05
"""Least share by which the spread of the top speed must shrink for a reading to be recommended. Common practice."""
RUN_ERROR = 0.015
"""Of a run timed by hand that is long enough to take ten seconds, one standard deviation: 0.15 s in 10 s."""
START_GUESS = 4.0
"""Step near which most locomotives start; the slopes of the torque hardly depend on it. Common practice."""
POSITION_ERROR = 0.02
"""Of a winding resistance, mean of twelve positions of the rotor, one standard deviation. Common practice."""

Array = NDArray[np.float64]


@dataclass(frozen=True)
class _Candidate:
    kind: Kind
    load: str
    step: int | None
    text: str
    instrument: float  # one standard deviation, as a share of the reading; of a start, of the torque; of a temperature [K]


def next_reading(record: models.Record, learned: Learned, train: bool) -> NextReading | None:
    """Return the most useful further reading, or None where none is worth the trouble.

    Parameters
    ----------
    record
        The build.
    learned
        What its readings taught.
    train : bool
        Whether the record's figures are with a train.
    """
    found, before = learned.found, learned.before
    if found is None or before is None:
        return None
    menu = _menu(record, train)
    predictor = Predictor(record, [_observation(choice, 1.0, 0.0) for choice in menu], learned.situations)
    rows = predictor(variants(found.log_mean))
    slopes = (rows[1:] - rows[0]).T / DIFFERENCE
    top = next(place for place, choice in enumerate(menu) if choice.step == SPEED_STEPS)
    if not rows[0][top] > 0:
        return None
    gradient = slopes[top] / rows[0][top]
    room = learned.given.warmth.room if learned.given else 0.0
    now = spread_with(found.jacobian, errors(learned.notes.observations), before.covariance, gradient)
    best, least = None, now * (1.0 - WORTH_TAKING)
    for choice, value, slope in zip(menu, rows[0], slopes, strict=True):
        if not np.isfinite(value) or value == 0:
            continue
        taken = [*learned.notes.observations, _observation(choice, float(value), room)]
        then = spread_with(np.vstack([found.jacobian, slope]), errors(taken), before.covariance, gradient)
        if then < least:
            best, least = choice, then
    if best is None:
        return None
    return NextReading(
        text=best.text,
        because=f"As the readings stand, the model's top speed is good to {quantity(100 * SIGMAS * now, '%', 2)}; "
        f"with this one it would be good to {quantity(100 * SIGMAS * least, '%', 2)}.",
        narrows=1.0 - least / now,
    )


def _menu(record: models.Record, train: bool) -> list[_Candidate]:
    """What a builder can take; the top speed comes first."""
    loads = ["train", "light"] if train else ["light"]
    menu = [
        _Candidate("speed", load, step, f"A timed run at step {step}, {_moved(load)}, feedback off.", RUN_ERROR)
        for step in (SPEED_STEPS, 64, 32)
        for load in loads
    ]
    meter = METER_ERROR / SIGMAS
    top = f"at step {SPEED_STEPS}, light engine, feedback off"
    menu += [
        _Candidate("mean_current", "light", SPEED_STEPS, f"The motor current {top}.", meter),
        _Candidate("motor_voltage", "light", SPEED_STEPS, f"The volts at the motor's tags {top}.", meter),
        _Candidate("mean_current", "rolling road", SPEED_STEPS, "The motor current on a rolling road at step 126.", meter),
        _Candidate("start", "light", None, "The first step at which it runs, light engine, feedback off.", 0.0),
        _Candidate(
            "winding_resistance", "light", None, "The winding resistance, mean of twelve positions.", POSITION_ERROR
        ),
    ]
    if record.dropper is not None:
        words = f"The temperature of the dropper {top}, after ten minutes."
        menu.append(_Candidate("dropper_temperature", "light", SPEED_STEPS, words, THERMOMETER_ERROR / SIGMAS))
    return menu


def _moved(load: str) -> str:
    return "with the train" if load == "train" else "light engine"


def _observation(choice: _Candidate, value: float, room: float) -> Observation:
    """The candidate as if it had been read, with the errors that such a reading has."""
    family = FAMILY[choice.kind]
    base = {"temperature": value - room, "start": 1.0}.get(family, value)
    instrument = choice.instrument * (1.0 if family == "temperature" else base)
    road = ROAD_ERROR.get(family, 0.0) if choice.load == "rolling road" else 0.0
    own = float(np.hypot(instrument, np.hypot(MODEL_OWN[family], road) * base))
    situation = Situation(None, choice.load, None, choice.step, None, at_decoder=False)
    if choice.kind == "start":
        situation = replace(situation, step=START_GUESS)
    return Observation(-1, choice.kind, choice.text, value, own, MODEL_SHARED[family] * base, situation)
