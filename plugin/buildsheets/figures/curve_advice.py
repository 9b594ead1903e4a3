"""The decoder's drive curve worked out backwards: from the speed that is wanted to the values of its CVs."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from buildsheets.figures.drive import Source
from buildsheets.figures.format import BenchPointFigures, Curve, CurveAdvice, Feedback, FittedCurve
from buildsheets.figures.head import prototype_top
from buildsheets.figures.ledger import Ledger
from buildsheets.figures.motor import WorkingMotor
from buildsheets.figures.running import listed, run, wheel_speed
from buildsheets.figures.solving import Solved
from buildsheets.physics.curve_fit import (
    MIDDLE_STEP,
    TABLE_PLACES,
    Fit,
    Line,
    Response,
    fit_table,
    fit_three_points,
    trim_for,
)
from buildsheets.physics.cvs import FULL_DRIVE, SPEED_STEPS, UNITY_TRIM
from buildsheets.physics.pwm import periodic_current
from buildsheets.physics.scales import MPH, scale_mph
from buildsheets.physics.starting import start_steps
from buildsheets.records import models

CLOSE_ENOUGH = 0.02
"""Distance from the wanted curve, as a share of the wanted speed, that no stopwatch tells. Common practice."""
HELD_START = 2
"""Drive level that feedback is asked to hold at the first step: that of step 1 of a bare decoder, 255 / 126 [-]."""
TABLE_CVS = tuple(range(67, 95))
POINT_CVS = (2, 6, 5)
PLACES = {2: 1.0, 6: float(MIDDLE_STEP), 5: float(SPEED_STEPS)} | dict(zip(TABLE_CVS, map(float, TABLE_PLACES), strict=True))
"""Step of 126 at which each of them counts [-]."""
GRID = np.array([*range(0, 32, 2), *range(32, FULL_DRIVE, 4), FULL_DRIVE], dtype=float)
"""Drive levels at which the speed must be known [-]; finer where it moves off."""
NEAR = 3.0
"""A level so near to one of the curve as set needs no running of its own [-]."""

STRIDE = 16
"""Of the coarse look for the level that moves off [-]."""

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Abilities:
    """What the decoder can: True, False, or None where the record does not say."""

    given: models.Abilities | None

    def can(self, name: str) -> bool:
        """Whether it certainly can."""
        return self.given is not None and bool(getattr(self.given, name))

    def cannot(self, name: str) -> bool:
        """Whether it certainly cannot."""
        return self.given is not None and getattr(self.given, name) is False


@dataclass(frozen=True)
class Trims:
    """Forward and reverse trim, and whether both directions were timed."""

    forward: int = UNITY_TRIM
    reverse: int = UNITY_TRIM
    timed: bool = False

    @property
    def differ(self) -> bool:
        """Whether the two directions need unlike drive."""
        return self.forward != self.reverse


@dataclass(frozen=True)
class Wanted:
    """What the fits start from."""

    response: Response  # scale mph over drive level, as the decoder will run it
    open_loop: Response  # the same with feedback off
    least: int  # drive level that moves off
    line: Line  # scale mph
    speed: float  # the one asked for [mph]
    held: bool  # by feedback
    trims: Trims
    bus: float  # [V]


@dataclass(frozen=True)
class Fitted:
    """Both curves, where the decoder has them, and the one to use."""

    wanted: Wanted
    points: Fit | None
    table: Fit | None
    use_table: bool
    free: frozenset[int]  # which of 2, 5 and 6 may be chosen

    @property
    def chosen(self) -> Fit | None:
        """The curve to use."""
        return self.table if self.use_table else self.points


def wanted_curve(
    record: models.Record,
    solved: Solved,
    feedback: Feedback | None,
    points: Sequence[BenchPointFigures],
    ledger: Ledger,
) -> Wanted | None:
    """Work out what is wanted and how the build answers to its drive; None where the record does not say enough."""
    motor, source = solved.motor, solved.source
    if solved.running is None or motor is None or source is None or solved.ratio is None:
        return None
    target = record.target
    speed = target.speed.value / MPH if target else prototype_top(record)
    if speed is None:
        ledger.lack("target.speed", "decoder.curve")
        return None
    if target is None:
        ledger.assume("target.speed", "wanted speed", speed, "mph", "the prototype's top speed")
    least, stall = _least_levels(solved, motor, source)
    open_loop = _open_loop(solved, motor, source, stall)
    if open_loop.top <= 0.0:  # the start is judged elsewhere
        return None
    held = _held(record, feedback)
    response = _closed_loop(open_loop, solved, motor, source) if held else open_loop
    least = HELD_START if held else least
    at_step = target.at_step if target else SPEED_STEPS
    start_step = target.start_step if target and not held else None  # feedback moves off at its first step
    first_step = min(start_step or 1, at_step - 1)
    reached = min(speed, response.top)
    first = min(float(response.speed_at(least)), reached)
    line = Line(first_step, first, at_step, reached, bool(target and target.curve == "slow low steps"))
    return Wanted(response, open_loop, least, line, speed, held, _trims(points, response, source), source.top_voltage)


def _held(record: models.Record, feedback: Feedback | None) -> bool:
    """Whether feedback holds the steps: on, and its cut-off either ours to set or nowhere."""
    if record.feedback is None or not record.feedback.on or feedback is None:
        return False
    free = Abilities(record.decoder.abilities if record.decoder else None).can("feedback_cut_off")
    return free or (record.feedback.cut_off_step or SPEED_STEPS) >= SPEED_STEPS


def _mph(emf: Array, solved: Solved, motor: WorkingMotor) -> Array:
    train, wheel = solved.train, solved.wheel
    if train is None or wheel is None or solved.ratio is None:
        raise ValueError("a solved build has gears, wheels and a scale")
    return np.asarray(scale_mph(wheel_speed(emf / motor.emf_constant, train.ratio, wheel), solved.ratio))


def _open_loop(solved: Solved, motor: WorkingMotor, source: Source, stall: int) -> Response:
    """Speed over drive level: the steps as solved, and what lies between and beyond them; it stands below `stall`."""
    running = solved.running
    if running is None or solved.series is None:
        raise ValueError("a solved build runs")
    known = FULL_DRIVE * source.duty
    more = np.union1d(GRID[stall < GRID], [float(stall)])
    distance = np.min(np.abs(more[:, None] - known), axis=1)
    more = more[(distance > NEAR) | ((more == FULL_DRIVE) & (distance > 0.0))]
    levels, emf = np.array([*known, 0.0, stall - 1.0]), np.array([*running.solution.emf, 0.0, 0.0])
    if more.size:
        others = replace(source, duty=more / FULL_DRIVE, bus_voltage=np.full(more.size, source.top_voltage))
        extra = run(motor, others, solved.series, solved.load_torque, solved.warmth)
        levels, emf = np.concatenate([levels, more]), np.concatenate([emf, extra.solution.emf])
    order, first = np.unique(levels, return_index=True)
    return Response(order, np.maximum.accumulate(_mph(emf[first], solved, motor)))


def _closed_loop(open_loop: Response, solved: Solved, motor: WorkingMotor, source: Source) -> Response:
    """The EMF is the drive's share of the bus volts, as far as there is any."""
    levels = np.arange(FULL_DRIVE + 1.0)
    return Response(levels, np.minimum(_mph(levels / FULL_DRIVE * source.top_voltage, solved, motor), open_loop.top))


def _least_levels(solved: Solved, motor: WorkingMotor, source: Source) -> tuple[int, int]:
    """Lowest whole drive level that moves off and keeps running, and the lowest that keeps a running one running.

    Both torques grow with the level, so a coarse look and a fine one within its first hit are enough; 255 where none does.
    """
    coarse = np.arange(STRIDE, FULL_DRIVE + STRIDE, STRIDE)
    first = _first_levels(solved, motor, source, np.minimum(coarse, FULL_DRIVE))
    fine = np.unique(np.concatenate([np.arange(max(level - STRIDE, 0) + 1, level + 1) for level in first]))
    return _first_levels(solved, motor, source, fine)


def _first_levels(solved: Solved, motor: WorkingMotor, source: Source, levels: NDArray[np.int_]) -> tuple[int, int]:
    running, series = solved.running, solved.series
    if running is None or series is None:
        raise ValueError("a solved build runs")
    order, first = np.unique(FULL_DRIVE * source.duty, return_index=True)
    standing = periodic_current(
        levels / FULL_DRIVE,
        source.top_voltage,
        0.0,
        np.interp(levels, order, running.resistance[first]) + series.resistance,
        motor.inductance,
        source.frequency,
        source.off_mode,
        source.freewheel_drop,
        series.pairs,
        series.card,
    )
    found = start_steps(
        motor.emf_constant * standing.peak_current,
        motor.emf_constant * standing.mean_current,
        motor.breakaway_torque + solved.load_torque,
        motor.running_torque + solved.load_torque,
    )
    places = [found.start_step or levels.size, found.stall_step or levels.size]
    return int(levels[places[0] - 1]), int(levels[places[1] - 1])


def _trims(points: Sequence[BenchPointFigures], response: Response, source: Source) -> Trims:
    """Trims from runs timed both ways at one step, where they differ by more than their errors."""
    runs = {(p["step"], p["load"], p["feedback"], p["trial"], p["direction"]): p for p in points}
    shares, timed = [], False
    for (*conditions, direction), ahead in runs.items():
        back = runs.get((*conditions, "reverse"))  # type: ignore[arg-type]
        if direction != "forward" or back is None:
            continue
        timed = True
        if abs(ahead["scale_mph"] - back["scale_mph"]) > math.hypot(ahead["error_mph"], back["error_mph"]):
            shares.append((ahead["step"], back["scale_mph"] / ahead["scale_mph"]))
    if not shares:
        return Trims(timed=timed)
    share = math.exp(float(np.mean([math.log(value) for _, value in shares])))
    level = float(np.mean([FULL_DRIVE * source.duty[step - 1] for step, _ in shares]))
    trim = trim_for(response, level, min(share, 1 / share))
    return Trims(trim, UNITY_TRIM, True) if share < 1 else Trims(UNITY_TRIM, trim, True)


def fit_curves(record: models.Record, wanted: Wanted) -> Fitted:
    """Fit what the decoder has and choose."""
    decoder = record.decoder
    abilities = Abilities(decoder.abilities if decoder else None)
    values = {setting.cv: setting.value for setting in record.decoder_settings if setting.page is None}
    names = {2: "start_voltage", 5: "top_voltage", 6: "middle_voltage"}
    free = frozenset(cv for cv, name in names.items() if abilities.can(name))
    kept = {cv: values.get(cv) for cv, name in names.items() if cv not in free and not abilities.cannot(name)}
    points = table = None
    if free and not (decoder and decoder.curve):
        points = fit_three_points(
            wanted.response, wanted.line, wanted.least, free=free, start=kept.get(2), middle=kept.get(6), top=kept.get(5)
        )
    if abilities.can("speed_table"):
        trim = wanted.trims.forward if abilities.can("trims") else UNITY_TRIM
        table = fit_table(wanted.response, wanted.line, wanted.least, trim=trim)
    trimmed = wanted.trims.differ and abilities.can("trims")
    close = points is not None and points.error <= CLOSE_ENOUGH * wanted.line.speed
    better = table is not None and (points is None or (not close and table.error < points.error))
    return Fitted(wanted, points, table, table is not None and (trimmed or better), free)


def curve_figures(fitted: Fitted, as_set: Curve) -> CurveAdvice:
    """Return the part of the figures that shows the wanted curve and the fits."""
    wanted, line = fitted.wanted, fitted.wanted.line
    steps = np.arange(1, SPEED_STEPS + 1)
    target = np.minimum(line.at(steps), wanted.response.top)
    points = tuple(cv for cv in POINT_CVS if cv in fitted.free)
    kinds = (("three-point", fitted.points, points), ("table", fitted.table, TABLE_CVS))
    return CurveAdvice(
        kind="slow low steps" if line.slow_low_steps else "straight",
        feedback="on" if wanted.held else "off",
        from_step=max(line.first_step, 1),
        first_mph=line.first_speed,
        at_step=line.at_step,
        wanted_mph=wanted.speed,
        reached_mph=line.speed,
        full_drive_reaches=wanted.speed <= wanted.response.top,
        target_scale_mph=[None if step < line.first_step else value for step, value in zip(steps, listed(target), strict=True)],
        as_set_scale_mph=as_set,
        fitted=[_fitted(kind, fit, cvs, fitted) for kind, fit, cvs in kinds if fit is not None],
    )


def _fitted(kind: str, fit: Fit, cvs: tuple[int, ...], fitted: Fitted) -> FittedCurve:
    return FittedCurve(
        kind=kind,
        chosen=fit is fitted.chosen,
        cvs=list(cvs),
        at_steps=[PLACES[cv] for cv in cvs],
        values=[fit.values[cv] for cv in cvs],
        drive_level=listed(fit.level),
        scale_mph=listed(fitted.wanted.response.speed_at(fit.level)),
        error_mph=fit.error,
        error_step=fit.error_step,
    )
