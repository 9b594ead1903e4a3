"""From which step the build moves off, creeps, and keeps running."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from buildsheets.figures.chain import Series
from buildsheets.figures.drive import Source
from buildsheets.figures.format import Start
from buildsheets.figures.ledger import Ledger
from buildsheets.figures.motor import WorkingMotor
from buildsheets.numerals import number as plain
from buildsheets.physics.diodes import pair_voltage
from buildsheets.physics.pwm import periodic_current
from buildsheets.physics.starting import creep_speed, moves_off, start_steps

AT_ONCE = 14
"""Steps at which a motor behind diodes is held still at once, from the first that could move it on; most move among these."""

Array = NDArray[np.float64]

UNKNOWN = Start(start_step=None, stall_step=None, creep_from_step=None, creep_scale_mph=None, start_step_band=None)


def start(
    motor: WorkingMotor,
    source: Source,
    series: Series,
    winding_resistance: Array,
    load_torque: float,
    inertia: float,
    mph_per_rad: float,
    ledger: Ledger,
    *,
    creeps: bool = True,
) -> Start:
    """Work out the starting figures, shaft standing, winding as warm as that step makes it.

    `winding_resistance` holds one value a step [ohm]; `mph_per_rad` turns motor rad/s into scale mph.
    Without `creeps` the speed of creeping is left out.
    """
    breakaway, running = motor.breakaway_torque + load_torque, motor.running_torque + load_torque
    peak, mean = _standing(motor, source, series, winding_resistance, breakaway, running)
    found = start_steps(motor.emf_constant * peak, motor.emf_constant * mean, breakaway, running)
    ledger.work(
        "Start",
        "torque to move off and to keep moving",
        "T_b + T_L, T_f + T_mech + T_L",
        lambda: _shown(motor.emf_constant, breakaway, running, peak, mean, found.start_step),
        float(found.start_step) if found.start_step else None,
        "first running step",
        "common practice; docs: calculations",
    )
    _judge(found.start_step, _remedies(source, series), ledger)
    creep = None
    if creeps and found.creep_from_step is not None and math.isfinite(inertia):
        place = found.creep_from_step - 1
        drop = series.pairs * float(pair_voltage(peak[place], series.card)) if series.pairs else 0.0
        creep = mph_per_rad * creep_speed(
            float(source.duty[place]),
            max(float(source.bus_voltage[place]) - drop, 0.0),
            float(winding_resistance[place]) + series.resistance,
            motor.inductance,
            source.frequency,
            source.off_mode,
            source.freewheel_drop + drop,
            motor.emf_constant,
            inertia,
            breakaway,
            running,
        )
    return Start(
        start_step=found.start_step,
        stall_step=found.stall_step,
        creep_from_step=found.creep_from_step,
        creep_scale_mph=creep,
        start_step_band=None,
    )


def _standing(
    motor: WorkingMotor, source: Source, series: Series, winding: Array, breakaway: float, running: float
) -> tuple[Array, Array]:
    """Peak and mean current with the shaft held [A], at every step that may be a first one; zero at others.

    Diodes let no more through than flows without them, so nothing moves before it would without.
    """
    if not series.pairs:
        return _pulses(motor, source, series, winding, slice(None), 0)
    peak, mean = _pulses(motor, source, series, winding, slice(None), 0)
    moves = (motor.emf_constant * peak > breakaway) | (motor.emf_constant * mean > running)
    peak, mean = np.zeros_like(peak), np.zeros_like(mean)
    for begin in range(int(np.argmax(moves)), len(moves) if moves.any() else 0, AT_ONCE):
        columns = slice(begin, begin + AT_ONCE)
        peak[columns], mean[columns] = _pulses(motor, source, series, winding, columns, series.pairs)
        if moves_off(motor.emf_constant * peak, motor.emf_constant * mean, breakaway, running).any():
            break
    return peak, mean


def _pulses(
    motor: WorkingMotor, source: Source, series: Series, winding: Array, steps: slice, pairs: int
) -> tuple[Array, Array]:
    """Peak and mean current with the shaft held at some steps [A], with so many pairs of diodes."""
    wave = periodic_current(
        source.duty[steps],
        source.bus_voltage[steps],
        0.0,
        winding[steps] + series.resistance,
        motor.inductance,
        source.frequency,
        source.off_mode,
        source.freewheel_drop,
        pairs,
        series.card,
    )
    return wave.peak_current, wave.mean_current


def _shown(constant: float, breakaway: float, running: float, peak: Array, mean: Array, step: int | None) -> str:
    """The two demands as currents, and what flows with the shaft held at the first step that meets both."""
    text = (
        f"{plain(breakaway)} and {plain(running)} N m; over K {plain(constant, 4)}: "
        f"{plain(breakaway / constant)} A peak and {plain(running / constant)} A mean wanted"
    )
    if step is None:
        return text
    return (
        f"{text}; at step {step} {plain(float(peak[step - 1]))} A peak and {plain(float(mean[step - 1]))} A mean flow with the shaft held"
    )


def _remedies(source: Source, series: Series) -> str:
    """What brings the start forward in this chain: a controller of direct current has no CV2."""
    ways = ["a higher CV2"] if source.kind == "decoder" else []
    ways += ["less dropper"] if series.resistance or series.pairs else []
    return " or ".join([*ways, "freer works"])


def _judge(step: int | None, remedies: str, ledger: Ledger) -> None:
    if step is None:
        ledger.judge("start", "stop", "It does not start at any step with the stated load.")
    elif step > 126 * 0.25:
        ledger.judge(
            "start",
            "caution",
            f"It first runs at step {step} of 126: a good part of the throttle does nothing. "
            f"What brings the start forward: {remedies}.",
        )
    elif step > 126 * 0.12:
        ledger.judge("start", "note", f"It first runs at step {step} of 126; to use the lower steps: {remedies}.")
    else:
        ledger.judge("start", "ok", f"It first runs at step {step} of 126.")
