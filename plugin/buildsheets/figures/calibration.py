"""What the readings taught, as the sheet shows it: values, misfits, what cannot be told apart, and what to read next."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from buildsheets.figures.bench import stated
from buildsheets.figures.format import Calibration, LearnedValue, Residual
from buildsheets.figures.heating import path_to_air
from buildsheets.figures.inputs import Inputs, train_mass
from buildsheets.figures.learning import UNTOUCHED, Learned
from buildsheets.figures.ledger import Ledger, Scratch
from buildsheets.figures.next_reading import next_reading
from buildsheets.figures.predicting import Predictor, as_factors
from buildsheets.figures.priors import FACTORS
from buildsheets.figures.readings import METER_ERROR, Kind, Observation
from buildsheets.numerals import number as plain
from buildsheets.physics.calibration import TOLD, Fit, alike, directions_seen, is_doubtful, trades
from buildsheets.physics.motor import RADIANS_PER_SECOND_PER_RPM
from buildsheets.physics.train import ROLLING_COEFFICIENT
from buildsheets.records import models

FAR = 2.5
"""Misfit of one reading, in standard deviations, from which it is named. Common practice."""
NINETY = 1.645
"""Standard deviations to either side that hold 90 % of a normal law."""

LABELS = {
    "resistance": "winding resistance",
    "emf_constant": "EMF constant",
    "running_torque": "running friction of motor and works",
    "breakaway_torque": "torque to break away",
    "rolling": "rolling resistance of the train",
    "bus_voltage": "volts at the decoder's output",
    "dropper_resistance": "resistance of the dropper",
    "motor_heat": "heat path of the winding",
    "dropper_heat": "heat path of the dropper",
    "shell_heat": "heat path of the body",
}
UNITS = {
    "resistance": "ohm",
    "emf_constant": "V s/rad",
    "running_torque": "N m",
    "breakaway_torque": "N m",
    "rolling": "",
    "bus_voltage": "V",
    "dropper_resistance": "ohm",
    "motor_heat": "K/W",
    "dropper_heat": "K/W",
    "shell_heat": "K/W",
}
SHOWN: dict[Kind, tuple[str, str, float]] = {
    "speed": ("speed along the rail", "mm/s", 1e-3),
    "motor_speed": ("motor speed", "rpm", RADIANS_PER_SECOND_PER_RPM),
    "wheel_speed": ("wheel speed", "rpm", RADIANS_PER_SECOND_PER_RPM),
    "motor_voltage": ("motor volts", "V", 1.0),
    "output_voltage": ("volts at the decoder", "V", 1.0),
    "mean_current": ("motor current", "A", 1.0),
    "rms_current": ("motor current, true rms", "A", 1.0),
    "dropper_temperature": ("dropper", "°C", 1.0),
    "motor_temperature": ("motor", "°C", 1.0),
    "air_temperature": ("air inside", "°C", 1.0),
    "start": ("first running step", "", 1.0),
    "bank_resistance": ("dropper", "ohm", 1.0),
    "winding_resistance": ("winding", "ohm", 1.0),
}
"""How a kind of reading is shown: name, unit, and the unit in SI."""


def calibration(record: models.Record, learned: Learned, ledger: Ledger) -> Calibration | None:
    """Return what the readings taught; None without a usable one."""
    found, given = learned.found, learned.given
    if found is None or given is None:
        ledger.lack("readings", "calibration")
        return None
    values = _values(record, given, found)
    residuals = _residuals(record, learned, found)
    _own_up(record, learned.notes.observations, ledger)
    _show(values, len(residuals), ledger)
    _judge(values, residuals, found, ledger)
    return Calibration(
        used=len(residuals),
        left_out=learned.notes.left_out,
        parameters=values,
        residuals=residuals,
        reduced_chi_square=found.chi_square / len(residuals),
        directions_seen=directions_seen(found),
        statements=_statements(values, found),
        next_reading=next_reading(record, learned, train_mass(record) > 0),
    )


def _values(record: models.Record, given: Inputs, found: Fit) -> list[LearnedValue]:
    """Values that this build has; those it has not, such as a dropper's, are left away."""
    values = []
    deviation = np.sqrt(np.diag(found.log_covariance))
    for place, (name, before) in enumerate(zip(FACTORS, _before(record, given), strict=True)):
        if not before:
            continue
        mean, spread = float(found.log_mean[place]), float(deviation[place])
        left = float(found.shrinkage[place])
        values.append(
            LearnedValue(
                name=name,
                label=LABELS[name],
                factor=math.exp(mean),
                low=math.exp(mean - NINETY * spread),
                high=math.exp(mean + NINETY * spread),
                before=before,
                after=before * math.exp(mean),
                unit=UNITS[name],
                shrinkage=left,
                told=left < TOLD,
                says="much" if left < TOLD else "little" if left < UNTOUCHED else "nothing",
            )
        )
    return values


def _before(record: models.Record, given: Inputs) -> list[float]:
    """Values as recorded or assumed, in the order of `FACTORS`; zero for what the build has not."""
    motor, around, dropper = given.motor, given.warmth, record.dropper
    rolling = record.train.rolling_resistance if record.train else None
    path = path_to_air(dropper, Scratch()) if dropper else None
    return [
        motor.resistance if motor else 0.0,
        motor.emf_constant if motor else 0.0,
        motor.running_torque if motor else 0.0,
        motor.breakaway_torque if motor else 0.0,
        (rolling.value if rolling else ROLLING_COEFFICIENT) if train_mass(record) else 0.0,
        given.source.top_voltage if given.source else 0.0,
        given.series.resistance if given.series else 0.0,
        around.motor_resistance,
        path or 0.0,
        around.shell_resistance,
    ]


def _residuals(record: models.Record, learned: Learned, found: Fit) -> list[Residual]:
    observations = learned.notes.observations
    predictor = Predictor(record, observations, learned.situations)
    return [
        _residual(seen, float(predicted), predictor, found)
        for seen, predicted in zip(observations, found.predicted, strict=True)
    ]


def _residual(seen: Observation, predicted: float, predictor: Predictor, found: Fit) -> Residual:
    label, unit, size = SHOWN[seen.kind]
    value, error = predicted / size, seen.error / size
    pull = (seen.target - predicted) / seen.error
    if seen.kind == "start":
        margins = predictor.standing_margins(seen.situation, as_factors(found.log_mean[None, :]))[0]
        moving = np.flatnonzero(margins > 0)
        place = round(seen.value) - 1
        slope = float(margins[place] - margins[place - 1])
        value = float(moving[0] + 1) if moving.size else math.nan
        error = seen.error / slope if slope > 0 else math.nan
        pull = -pull  # more torque than it needs at the step that was read: it was seen to start later than predicted
    return Residual(
        place=seen.place,
        text=seen.text,
        quantity=label,
        unit=unit,
        observed=seen.value / size,
        predicted=value if math.isfinite(value) else None,
        error=error if math.isfinite(error) else None,
        pull=pull,
        trial=seen.situation.trial,
    )


def _own_up(record: models.Record, observations: Sequence[Observation], ledger: Ledger) -> None:
    """Note what the notebook leaves unsaid of its instruments and was taken as usual."""
    common = record.reading_conditions or models.ReadingConditions()

    def silent(name: str, *families: str) -> bool:
        of = (seen for seen in observations if seen.family in families)
        return any(stated(record.readings[seen.place], common, name) is None for seen in of)

    if silent("meter", "current", "voltage"):
        ledger.assume_word("reading_conditions.meter", "what the meter shows on pulses", "average", "an ordinary multimeter")
    if silent("meter_error", "current", "voltage", "resistance"):
        percent = 100 * METER_ERROR
        ledger.assume("reading_conditions.meter_error", "error of the meter", percent, "%", "a multimeter without its leaflet")
    runs = [seen for seen in observations if seen.kind == "speed"]
    if any(stated(record.readings[seen.place], common, "timing") is None for seen in runs):
        ledger.assume_word("reading_conditions.timing", "how runs were timed", "stopwatch", "by hand")


def _listed(words: Sequence[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def _statements(values: list[LearnedValue], found: Fit) -> list[str]:
    """What the readings cannot tell apart, and what they say nothing of."""
    known = {value["name"]: value for value in values}

    def label(place: int) -> str:
        return known[FACTORS[place]]["label"]

    said = [place for place, name in enumerate(FACTORS) if name in known and found.shrinkage[place] < UNTOUCHED]
    seen, count = directions_seen(found), len(found.predicted)
    readings = "1 reading sees" if count == 1 else f"{count} readings see"
    combinations = "1 combination" if seen == 1 else f"{seen} independent combinations"
    statements = [f"The {readings} {combinations} of {len(values)} values; for the rest the record's word stands."]
    for group in trades(found):
        here = [label(place) for place in group if FACTORS[place] in known]  # a trial may have what the build has not
        if len(here) < 2:
            continue
        words = _listed(here)
        statements.append(f"{words[0].upper()}{words[1:]} are seen only together: one may be off if another is too.")
    for one, other, correlation in alike(found):
        if one in said and other in said:
            way = "rise together" if correlation > 0 else "rise at each other's cost"
            statements.append(
                f"The readings cannot tell {label(one)} from {label(other)}: they {way} (correlation {plain(correlation, 2)})."
            )
    silent = [value["label"] for value in values if value["shrinkage"] >= UNTOUCHED]
    if silent:
        statements.append(f"The readings say nothing of: {', '.join(silent)}.")
    return statements


def _show(values: list[LearnedValue], readings: int, ledger: Ledger) -> None:
    for value in values:
        if value["told"]:
            ledger.work(
                "Bench",
                f"{value['label']}, refined by readings",
                "after = before × factor",
                f"{plain(value['before'])} {value['unit']} × {plain(value['factor'])} "
                f"({plain(value['low'])} to {plain(value['high'])})",
                value["after"],
                value["unit"],
                f"weighted least squares over {readings} readings and the record; docs: learning",
            )


def _judge(values: list[LearnedValue], residuals: list[Residual], found: Fit, ledger: Ledger) -> None:
    """Judge whether the model describes the readings at all."""
    worst = max(residuals, key=lambda residual: abs(residual["pull"]))
    off = f"“{worst['text']}” is off by {plain(abs(worst['pull']), 2)} times its error"
    names = [value["label"] for value in values if found.at_bound[FACTORS.index(value["name"])]]
    if is_doubtful(found.chi_square, len(residuals)):
        ledger.judge(
            "readings",
            "caution",
            f"The model does not describe the readings: {off}. Check that reading and the record before you trust the speeds.",
        )
    elif not found.converged or names:
        which = f": {_listed(names)} would have to be off by more than can be" if names else ""
        ledger.judge("readings", "caution", f"The readings ask for more than can be{which}. Check readings and record.")
    elif abs(worst["pull"]) > FAR:
        ledger.judge("readings", "note", f"One reading stands apart: {off}. Take it again.")
    else:
        agree = f"{len(residuals)} readings agree" if len(residuals) > 1 else "reading agrees"
        ledger.judge("readings", "ok", f"The {agree} with the refined values.")
