"""The builder's notebook as observations: what was read, how well, under which conditions; and what cannot be used, and why."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from buildsheets.figures.bench import DISTANCE_ERROR, stated
from buildsheets.figures.format import LeftOut
from buildsheets.physics.calibration import shared_errors
from buildsheets.physics.heat import ROOM_TEMPERATURE
from buildsheets.physics.scales import TIMING_ERRORS, timed_run
from buildsheets.physics.uncertainty import SIGMAS
from buildsheets.records import models
from buildsheets.records.quantities import Quantity

Kind = Literal[
    "speed",
    "motor_speed",
    "wheel_speed",
    "motor_voltage",
    "output_voltage",
    "mean_current",
    "rms_current",
    "dropper_temperature",
    "motor_temperature",
    "air_temperature",
    "start",
    "bank_resistance",
    "winding_resistance",
]
Family = Literal["speed", "current", "voltage", "temperature", "start", "resistance"]

FAMILY: dict[Kind, Family] = {
    "speed": "speed",
    "motor_speed": "speed",
    "wheel_speed": "speed",
    "motor_voltage": "voltage",
    "output_voltage": "voltage",
    "mean_current": "current",
    "rms_current": "current",
    "dropper_temperature": "temperature",
    "motor_temperature": "temperature",
    "air_temperature": "temperature",
    "start": "start",
    "bank_resistance": "resistance",
    "winding_resistance": "resistance",
}

MODEL_SHARED: dict[Family, float] = {
    "speed": 0.025,
    "current": 0.05,
    "voltage": 0.01,
    "temperature": 0.10,
    "start": 0.15,
    "resistance": 0.0,
}
"""One standard deviation of what the model gets wrong in all readings of a family alike, as a share of the reading (of the
rise for temperatures, of the torque for starts). It knows no brush drop (0.1 to 0.5 V of some 10), no cogging and no
friction that grows with speed. Common practice."""
MODEL_OWN: dict[Family, float] = {
    "speed": 0.015,
    "current": 0.03,
    "voltage": 0.01,
    "temperature": 0.05,
    "start": 0.10,
    "resistance": 0.0,
}
"""The same, of what differs from reading to reading. Common practice."""
METER_ERROR = 0.02
"""Of a multimeter without a leaflet, plus or minus. Common practice."""
TACHOMETER_ERROR = 0.02
"""Of a speed of rotation, plus or minus. Common practice."""
THERMOMETER_ERROR = 3.0
"""Of a small probe pressed or taped on, plus or minus [K]. Common practice."""
REVERSE_ERROR = 0.03
"""Of anything read in reverse: brushes are not quite in the middle. One standard deviation, common practice."""
ROAD_ERROR: dict[Family, float] = {"current": 0.05, "speed": 0.01}
"""The rollers' own drag, 5 to 20 % of the works'. One standard deviation, common practice."""
LEAST_ERROR = 1e-3
"""No reading on a bench is better than this share of it, whatever a leaflet says. Common practice."""
WARM_ENOUGH = 300.0
"""How long a locomotive runs before its temperatures stand still [s], common practice."""
RESISTANCES: dict[str, Kind] = {"bank-resistance": "bank_resistance", "winding-resistance": "winding_resistance"}
"""Hold points whose ohms refine a value of the model."""

FEEDBACK_ON = "feedback was on, and the decoder held the speed whatever the motor"
FEEDBACK_UNKNOWN = "it does not say whether feedback was on"
NO_LOAD_STATED = "it does not say what was moved"
NO_STEP = "it states neither step nor volts"
NOT_WARM = "it does not say that the locomotive had run for five minutes or more"
NOT_WORKED_OUT = "the temperature of that place is not worked out"
FIRST_STEP = "moving off at the first step only says that the torque suffices"
ALONE_CURRENT = "the current of the motor alone says nothing of the works; it belongs under mechanism.motor_alone_current"
RMS_VOLTS = "a true-rms meter reads more than the mean of the pulses; take it on an average meter"
APPLIED_VOLTS = "the volts applied already say it"
VOLTS_HAVE_NO_STEPS = "it was taken on smooth direct current, which has no steps"
STOOD = "it stood; the step at which it moves off says more"
NOT_PREDICTED = "the record does not say enough to predict it"
OTHER_RESISTANCE = "it answers a hold point and says nothing of how it runs"
REVERSE_TRIM = "the reverse trim (CV95) is not part of the curve that is worked out"


@dataclass(frozen=True)
class Situation:
    """Under which conditions something was read."""

    trial: str | None
    load: str  # motor alone | rolling road | light | train
    track: float | None  # [V]; None for the record's
    step: float | None
    volts: float | None  # smooth direct current instead of a step [V]
    at_decoder: bool  # probes, or the volts applied, before the dropper


@dataclass(frozen=True)
class Observation:
    """One thing that was read, SI; temperatures in degC."""

    place: int  # of the reading in the record
    kind: Kind
    text: str  # the reading in the notebook's words
    value: float  # for a start: the step
    own: float  # standard deviation of the error it has for itself, in the unit of `value`; for a start, of the log torque
    shared: float  # the same, of the error that it shares with its family
    situation: Situation

    @property
    def family(self) -> Family:
        """Readings of one family share an error."""
        return FAMILY[self.kind]

    @property
    def target(self) -> float:
        """What the prediction should come to; for a start, torque in balance with its need."""
        return 0.0 if self.kind == "start" else self.value

    @property
    def error(self) -> float:
        """One standard deviation of all its errors."""
        return math.hypot(self.own, self.shared)


@dataclass(frozen=True)
class Notebook:
    """What can be used and what cannot."""

    observations: list[Observation]
    left_out: list[LeftOut]

    def of_trials(self, names: set[str]) -> Notebook:
        """Return only what was read in these trials."""
        return Notebook([seen for seen in self.observations if seen.situation.trial in names], self.left_out)


@dataclass(frozen=True)
class _Line:
    """One reading with what it inherits."""

    place: int
    reading: models.Reading
    common: models.ReadingConditions
    room: float  # [degC]

    def says(self, name: str) -> object:
        return stated(self.reading, self.common, name)

    @property
    def on_pulses(self) -> bool:
        return self.reading.volts is None

    @property
    def words(self) -> str:
        where = f"step {self.reading.step}" if self.reading.step else self.reading.volts.text if self.reading.volts else ""
        parts = [where, str(self.says("load") or ""), "reverse" if self.says("direction") == "reverse" else ""]
        return ", ".join(part for part in parts if part)

    @property
    def meter_error(self) -> float:
        """One standard deviation, as a share."""
        given = self.says("meter_error")
        return (given.value if isinstance(given, Quantity) else METER_ERROR) / SIGMAS

    def situation(self, *, at_decoder: bool, step: float | None = None) -> Situation:
        track = self.says("track")
        trial = self.says("trial")
        return Situation(
            str(trial) if trial else None,
            str(self.says("load") or "light"),
            track.value if isinstance(track, Quantity) and self.on_pulses else None,
            self.reading.step if step is None else step,
            self.reading.volts.value if self.reading.volts else None,
            at_decoder,
        )


def notebook(record: models.Record) -> Notebook:
    """Read the record's notebook."""
    common = record.reading_conditions or models.ReadingConditions()
    given = record.surroundings.room if record.surroundings else None
    room = given.value if given else ROOM_TEMPERATURE
    trimmed = any(setting.cv == 95 and setting.page is None for setting in record.decoder_settings)
    observations: list[Observation] = []
    left_out: list[LeftOut] = []
    for place, reading in enumerate(record.readings):
        line = _Line(place, reading, common, room)
        for text, found in _entries(line, trimmed=trimmed):
            if isinstance(found, Observation):
                observations.append(found)
            else:
                left_out.append(LeftOut(reading=text, why=found))
    return Notebook(observations, left_out)


Entry = tuple[str, Observation | str]


def _entries(line: _Line, *, trimmed: bool) -> Iterator[Entry]:
    """Every quantity of one reading, as an observation or as the reason why not."""
    if line.reading.resistance is not None:
        yield _resistance(line, line.reading.resistance)
    barred = _barred(line, trimmed=trimmed)
    for kind, text, taken in _running(line):
        words = ", ".join(part for part in (line.words, text) if part)
        found = barred or taken
        yield words, found if isinstance(found, str) else _observation(line, kind, words, *found)


def _barred(line: _Line, *, trimmed: bool) -> str | None:
    """Why nothing of this reading can be fitted, if so."""
    reading, feedback = line.reading, line.says("feedback")
    if line.on_pulses and feedback is not False:
        return FEEDBACK_ON if feedback else FEEDBACK_UNKNOWN
    if line.says("load") is None:
        return NO_LOAD_STATED
    if reading.step is None and reading.volts is None and reading.start_step is None:
        return NO_STEP
    if trimmed and line.on_pulses and line.says("direction") == "reverse":
        return REVERSE_TRIM
    return None


Taken = tuple[float, float] | str  # value and standard deviation of its own instrument, or why not


def _running(line: _Line) -> Iterator[tuple[Kind, str, Taken]]:
    reading = line.reading
    if reading.distance is not None and reading.time is not None:
        yield "speed", f"{reading.distance.text} in {reading.time.text}", _timed(line, reading.distance, reading.time)
    for kind, turns in (("motor_speed", reading.motor_speed), ("wheel_speed", reading.wheel_speed)):
        if turns is not None:
            name = "motor" if kind == "motor_speed" else "wheels"
            yield kind, f"{name} {turns.text}", _turning(turns)  # type: ignore[misc]
    if reading.motor_voltage is not None:
        at = line.says("at")
        kind = "output_voltage" if at == "decoder" else "motor_voltage"
        yield kind, f"{reading.motor_voltage.text} at the {at or 'motor'}", _volts(line, reading.motor_voltage)  # type: ignore[misc]
    if reading.motor_current is not None:
        rms = line.says("meter") == "true rms" and line.on_pulses
        yield "rms_current" if rms else "mean_current", reading.motor_current.text, _amps(line, reading.motor_current)
    if reading.temperature is not None and reading.of is not None:
        yield _temperature(line, reading.temperature, reading.of)
    if reading.start_step is not None:
        yield "start", f"moves off at step {reading.start_step}", _start(line, reading.start_step)


def _start(line: _Line, step: int) -> Taken:
    if not line.on_pulses:
        return VOLTS_HAVE_NO_STEPS
    return FIRST_STEP if step == 1 else (float(step), 0.0)


def _timed(line: _Line, distance: Quantity, time: Quantity) -> Taken:
    timing = TIMING_ERRORS[str(line.says("timing") or "stopwatch")]
    run = timed_run(
        distance.value,
        time.value,
        distance.tolerance / SIGMAS if distance.tolerance else DISTANCE_ERROR,
        time.tolerance / SIGMAS if time.tolerance else timing,
    )
    return float(run.speed), float(run.speed_error)


def _turning(turns: Quantity) -> Taken:
    if turns.value == 0:
        return STOOD
    half = turns.tolerance if turns.tolerance is not None else TACHOMETER_ERROR * turns.value
    return turns.value, half / SIGMAS


def _volts(line: _Line, volts: Quantity) -> Taken:
    if not line.on_pulses:
        return APPLIED_VOLTS
    if line.says("meter") == "true rms":
        return RMS_VOLTS
    return _metered(line, volts)


def _amps(line: _Line, amps: Quantity) -> Taken:
    return ALONE_CURRENT if line.says("load") == "motor alone" else _metered(line, amps)


def _metered(line: _Line, quantity: Quantity) -> Taken:
    if quantity.value == 0:
        return STOOD
    stated_error = quantity.tolerance / SIGMAS if quantity.tolerance is not None else None
    return quantity.value, line.meter_error * quantity.value if stated_error is None else stated_error


def _temperature(line: _Line, temperature: Quantity, of: str) -> tuple[Kind, str, Taken]:
    kinds: dict[str, Kind] = {
        "dropper": "dropper_temperature",
        "motor": "motor_temperature",
        "air inside": "air_temperature",
    }
    warm = line.says("warm")
    half = temperature.tolerance if temperature.tolerance is not None else THERMOMETER_ERROR
    taken: Taken = temperature.value, half / SIGMAS
    if of not in kinds:
        taken = NOT_WORKED_OUT
    elif not isinstance(warm, Quantity) or warm.value < WARM_ENOUGH:
        taken = NOT_WARM
    return kinds.get(of, "air_temperature"), f"{of} {temperature.text}", taken


def _resistance(line: _Line, ohms: Quantity) -> Entry:
    point = line.reading.hold_point
    name = point.replace("-", " ") if point else "resistance"
    text = f"{name} {ohms.text}"
    kind = RESISTANCES.get(point or "")
    if kind is None:
        return text, OTHER_RESISTANCE
    error = ohms.tolerance / SIGMAS if ohms.tolerance else line.meter_error * ohms.value
    own = max(error, LEAST_ERROR * ohms.value)
    return text, Observation(line.place, kind, text, ohms.value, own, 0.0, line.situation(at_decoder=False))


def _observation(line: _Line, kind: Kind, text: str, value: float, error: float) -> Observation:
    """Add to the instrument's error what the model, the direction and the rollers add."""
    family = FAMILY[kind]
    shares = [MODEL_OWN[family]]
    if line.says("direction") == "reverse":
        shares.append(REVERSE_ERROR)
    if line.says("load") == "rolling road":
        shares.append(ROAD_ERROR.get(family, 0.0))
    if not line.on_pulses:
        shares.append(line.meter_error)
    base = {"temperature": value - line.room, "start": 1.0}.get(family, value)
    own, share = error, MODEL_SHARED[family]
    if family in ("current", "voltage"):  # one meter reads all of them wrongly alike
        own, share = 0.0, math.hypot(share, error / base)
    between = value - 0.5 if kind == "start" else None  # it moved off somewhere between that step and the one before
    return Observation(
        line.place,
        kind,
        text,
        value,
        max(math.hypot(own, *(part * base for part in shares)), LEAST_ERROR * (abs(value) or 1.0)),
        share * base,
        line.situation(at_decoder=line.says("at") == "decoder", step=between),
    )


def errors(observations: Sequence[Observation]) -> NDArray[np.float64]:
    """Return the covariance of the readings' errors: meters, hands and the model's shortcomings together."""
    families = sorted({seen.family for seen in observations})
    return shared_errors(
        np.array([seen.own for seen in observations]),
        [families.index(seen.family) for seen in observations],
        np.array([seen.shared for seen in observations]),
    )
