"""Hold points: what to measure before going on, and the window the reading must fall in."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buildsheets.figures.bench import DISTANCE_ERROR
from buildsheets.figures.format import HoldPoint
from buildsheets.figures.ledger import HOW_TO_FIND
from buildsheets.figures.spread import NEVER, Spread
from buildsheets.numerals import given, quantity
from buildsheets.physics.cvs import ACKNOWLEDGE_CURRENT, SPEED_STEPS
from buildsheets.physics.motor import INSULATION_LIMIT, RADIANS_PER_SECOND_PER_RPM
from buildsheets.physics.scales import MPH, TIMING_ERRORS
from buildsheets.physics.uncertainty import WINDOW, percentiles
from buildsheets.records import models
from buildsheets.records.models import Place

METER_ERROR = 0.01
"""Of an ordinary meter when the record states none, share of the reading; common practice."""
PROBE_ERROR = 2.0
"""Of a thin thermocouple pressed on a small part [K]; common practice."""
BENCH_SHARE = 0.5
"""Share of the nominal volts at which the motor is tried alone; common practice."""
RUN_STEPS = (32, 64, 96, SPEED_STEPS)
"""Steps a timed run may be taken at."""
MOST_RUNS = 3
"""Of them, those that every sample moves at: the lowest and the top one."""
SLOWEST_RUN = 0.5
"""Scale speed below which a run is not worth timing [mph]; common practice."""
BLANK = "…"

Array = NDArray[np.float64]


@dataclass(frozen=True)
class _Bench:
    """What the builder measures with."""

    meter: float
    timing: str
    run_length: float
    direct: bool  # on direct current, with a throttle instead of steps

    def setting(self, step: int) -> str:
        """Words for a step."""
        if not self.direct:
            return f"step {step}"
        return "full throttle" if step == SPEED_STEPS else f"{step} of {SPEED_STEPS} parts of full throttle"

    @property
    def feedback_off(self) -> str:
        """Condition that only a decoder needs."""
        return "" if self.direct else ", feedback off"

    def reading(self, **fields: str) -> dict[str, str]:
        """A line of `readings`, light engine, with what a decoder's readings state besides."""
        return {"load": "light", **({} if self.direct else {"feedback": "false"}), **fields}


def hold_points(record: models.Record, spread: Spread | None, run_length: float) -> list[HoldPoint]:
    """Return the hold points of a build in the order of work.

    Parameters
    ----------
    record
        The build.
    spread : Spread, optional
        Its samples; without them no window can be given but the insulation's.
    run_length : float
        Of the timed runs [m].

    Notes
    -----
    A window holds 98 of 100 samples and is widened by the error of the meter. The current of a held rotor is never a
    hold point: measuring it is what the sheet warns of.
    """
    common = record.reading_conditions or models.ReadingConditions()
    bench = _Bench(
        common.meter_error.value if common.meter_error else METER_ERROR,
        common.timing or "stopwatch",
        run_length,
        spread is not None and spread.samples.source.kind == "direct current",
    )
    points = list(_insulation(record))
    if spread is not None:
        for part in (_motor_alone, _bank, _acknowledge, _first_step, _track, _timed_runs, _current, _heat):
            points += part(record, spread, bench)
    order = list(Place)
    return sorted(points, key=lambda point: order.index(Place(point["place"])))


def _window(values: Array, share: float, least: float = 0.0) -> tuple[float, float, float]:
    """Low end, high end and middle; each end widened by a share of itself and by an absolute error."""
    low, middle, high = percentiles(values, (WINDOW[0], 0.5, WINDOW[1]))
    return (
        float(low - abs(low) * share - least),
        float(high + abs(high) * share + least),
        float(middle),
    )


def _insulation(record: models.Record) -> Iterator[HoldPoint]:
    if record.decoder is None:
        return
    yield HoldPoint(
        id="insulation",
        place=Place.INSULATION.value,
        quantity="resistance from each motor tag to either rail's wheels and to the frame",
        unit="ohm",
        low=INSULATION_LIMIT,
        high=None,
        expected=None,
        how="Ordinary multimeter on its highest range, one probe on a motor tag, the other on wheel and frame in turn.",
        condition="power off, decoder out, over a whole turn of the motor; body off, then on",
        outside="No upper end: over range is best. Lower: a brush strap, a wire or swarf touches the frame. No power before it is found.",
        reading={},
    )


def _motor_alone(record: models.Record, spread: Spread, bench: _Bench) -> Iterator[HoldPoint]:
    if models.Route.MOTOR_SWAP not in record.route:
        return
    samples, volts = spread.samples, BENCH_SHARE * spread.nominal_voltage
    current = samples.friction_torque / samples.emf_constant
    speed = (volts - current * samples.resistance) / samples.emf_constant / RADIANS_PER_SECOND_PER_RPM
    for name, quantity_, unit, values, how, outside in (
        (
            "current",
            "current of the motor alone",
            "A",
            current,
            "Meter in series with one motor lead, average reading.",
            "Higher: tight bearings, dragging brushes, a shaft bent by a pinion. Lower: brushes hardly touch, or other volts than meant.",
        ),
        (
            "speed",
            "speed of the motor alone",
            "rpm",
            speed,
            "Tachometer or video on a mark on the shaft; volts read at the motor's tags.",
            "Higher: another winding, or a weak magnet. Lower: drag, or volts lost in leads.",
        ),
    ):
        low, high, middle = _window(values[:, 0], bench.meter)
        yield HoldPoint(
            id=f"motor-alone-{name}",
            place=Place.MOTOR.value,
            quantity=quantity_,
            unit=unit,
            low=max(low, 0.0),
            high=high,
            expected=middle,
            how=how,
            condition=f"smooth direct current, {given(volts, 'V')} at the tags, run for a minute, nothing on the shaft",
            outside=outside,
            reading={
                "hold_point": f"motor-alone-{name}",
                "volts": f"{volts:g} V",
                "load": "motor alone",
                f"motor_{name}": BLANK,
            },
        )


def _bank(record: models.Record, spread: Spread, bench: _Bench) -> Iterator[HoldPoint]:
    if record.dropper is None or record.dropper.resistor is None:
        return
    low, high, middle = _window(spread.samples.series_resistance[:, 0], bench.meter)
    yield HoldPoint(
        id="bank-resistance",
        place=Place.DROPPER.value,
        quantity="resistance across the finished bank",
        unit="ohm",
        low=low,
        high=high,
        expected=middle,
        how="Ohm-meter across the two ends of the bank, leads' own resistance taken off.",
        condition="power off, cold, one end not yet joined to the motor",
        outside="Read each resistor alone: a wrong band, a joint that does not hold, or one more or less in parallel than meant.",
        reading={"hold_point": "bank-resistance", "resistance": BLANK},
    )


def _acknowledge(record: models.Record, spread: Spread, bench: _Bench) -> Iterator[HoldPoint]:
    """The pulse is too short for a meter: the answer to a read is the measurement."""
    if record.decoder is None:
        return
    low, high, middle = _window(spread.locked_rotor_current, 0.0)
    words = f"With this motor and dropper the pulse comes to {quantity(low, 'A', 2)} to {quantity(high, 'A', 2)}."
    if high < ACKNOWLEDGE_CURRENT:
        words += " That is too little: reading fails, writing works. Check by running, or read with the dropper bridged."
    elif low < ACKNOWLEDGE_CURRENT:
        words += " It may be too little: then reading fails though writing works."
    else:
        words += " If no answer comes, look at pick-ups, plug and motor leads."
    yield HoldPoint(
        id="acknowledge",
        place=Place.PROGRAMMING.value,
        quantity="answer to a read of CV8 or CV1: the acknowledge pulse the motor draws",
        unit="A",
        low=ACKNOWLEDGE_CURRENT,
        high=None,
        expected=middle,
        how="No probes: read the CV. An answer says that the pulse was large enough; write yes or no.",
        condition="programming track, charge store unplugged",
        outside=words,
        reading={},
    )


def _first_step(record: models.Record, spread: Spread, bench: _Bench) -> Iterator[HoldPoint]:
    if bench.direct:
        return
    found = spread.light_start_step
    low, middle, high = percentiles(found, (WINDOW[0], 0.5, WINDOW[1]))
    stuck = high >= NEVER
    yield HoldPoint(
        id="first-step",
        place=Place.FIRST_RUN.value,
        quantity="first speed step at which it moves off and keeps moving",
        unit="step",
        low=float(np.floor(low)) if low < NEVER else None,
        high=None if stuck else float(np.ceil(high)),
        expected=None if middle >= NEVER else float(np.round(middle)),
        how="No probes: up from step 1, one step every few seconds, until the wheels keep turning; a twitch does not count.",
        condition="light engine, level, feedback off, decoder set as in section 7, works warm",
        outside=("No upper end: it may not start at all. " if stuck else "")
        + "Later: tight works, dry bearings, a quartering or mesh fault, or lost volts. Earlier: CV2 is higher than written.",
        reading={"hold_point": "first-step", **bench.reading(start_step=BLANK)},
    )


def _track(record: models.Record, spread: Spread, bench: _Bench) -> Iterator[HoldPoint]:
    values = spread.rail_voltage
    if values is None:
        return
    low, high, middle = _window(values, bench.meter)
    yield HoldPoint(
        id="track-volts",
        place=Place.FIRST_RUN.value,
        quantity="volts on the rails while it runs",
        unit="V",
        low=low,
        high=high,
        expected=middle,
        how=HOW_TO_FIND["supply.direct_current" if bench.direct else "supply.track"],
        condition=f"light engine at {bench.setting(SPEED_STEPS)}, meter on the rails beside it",
        outside="Lower: long leads, dirty rail joints, a weak supply. Higher: another setting of the supply; speed and heat come out higher too.",
        reading={"hold_point": "track-volts", "track": BLANK},
    )


def _timed_runs(record: models.Record, spread: Spread, bench: _Bench) -> Iterator[HoldPoint]:
    fan, scale = spread.light, spread.samples.scale
    error, length = TIMING_ERRORS[bench.timing], given(bench.run_length, "m")
    moving = [step for step in RUN_STEPS if step in fan.steps and float(np.min(fan.at(step))) >= SLOWEST_RUN]
    for step in (*moving[: MOST_RUNS - 1], *moving[MOST_RUNS - 1 :][-1:]):
        speeds = fan.at(step)
        low, high, middle = _window(bench.run_length / (speeds * MPH / scale), DISTANCE_ERROR / bench.run_length, error)
        yield HoldPoint(
            id=f"timed-run-{step}",
            place=Place.RUNNING_IN.value,
            quantity=f"time over the run at {bench.setting(step)}",
            unit="s",
            low=max(low, 0.0),
            high=high,
            expected=middle,
            how=f"{bench.timing.capitalize()}, {length} between two marks, mean of three runs each way.",
            condition=f"light engine, level and straight{bench.feedback_off}, warm",
            outside="Longer: low track volts or drag; read current and volts. Shorter: high volts, other gears, or feedback still on.",
            reading={
                "hold_point": f"timed-run-{step}",
                "step": str(step),
                **bench.reading(distance=f"{bench.run_length:g} m", time=BLANK),
            },
        )


def _current(record: models.Record, spread: Spread, bench: _Bench) -> Iterator[HoldPoint]:
    low, high, middle = _window(spread.light.current_at(SPEED_STEPS), bench.meter)
    yield HoldPoint(
        id="motor-current",
        place=Place.RUNNING_IN.value,
        quantity=f"motor current at {bench.setting(SPEED_STEPS)}",
        unit="A",
        low=max(low, 0.0),
        high=high,
        expected=middle,
        how="Meter in series with one motor lead, average reading, leads short.",
        condition=f"light engine{bench.feedback_off}, warm, running; never with the rotor held",
        outside="Higher: drag in works or motor; feel which is hot. Lower: it slips, or the works run freer than recorded.",
        reading={"hold_point": "motor-current", "step": str(SPEED_STEPS), **bench.reading(motor_current=BLANK)},
    )


def _heat(record: models.Record, spread: Spread, bench: _Bench) -> Iterator[HoldPoint]:
    step = spread.worst_step
    hot = spread.dropper_at(step) if step is not None else None
    if step is None or hot is None:
        return
    low, high, middle = _window(hot, 0.0, PROBE_ERROR)
    train = record.train is not None and record.train.vehicles > 0
    yield HoldPoint(
        id="dropper-temperature",
        place=Place.RUNNING_IN.value,
        quantity=f"temperature of the dropper after ten minutes at {bench.setting(step)}",
        unit="°C",
        low=low,
        high=high,
        expected=middle,
        how="Thin thermocouple tied to the hottest body with thread, not held by hand.",
        condition=("with the record's train" if train else "light engine") + f"{bench.feedback_off}, body on",
        outside="Hotter: stop, let it cool; read bank and current, give it more air. Cooler: the room is cooler than recorded, or it draws less.",
        reading={
            "hold_point": "dropper-temperature",
            "step": str(step),
            **bench.reading(temperature=BLANK, of="dropper"),
            "load": "train" if train else "light",
        },
    )
