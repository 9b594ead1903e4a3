"""What the decoder's feedback sees of the motor, how far it holds the speed, and how slow the motor answers."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from buildsheets.figures.chain import NOTHING, Series
from buildsheets.figures.drive import Source
from buildsheets.figures.format import Curve, Feedback
from buildsheets.figures.gaps import may_have_feedback
from buildsheets.figures.gearing import Train
from buildsheets.figures.ledger import Ledger
from buildsheets.figures.motor import WorkingMotor, reflected_inertia
from buildsheets.figures.running import Running, listed, run, wheel_speed
from buildsheets.figures.solving import Solved, train_mass
from buildsheets.numerals import number as plain
from buildsheets.physics import feedback as physics
from buildsheets.physics.cvs import SPEED_STEPS
from buildsheets.physics.scales import scale_mph
from buildsheets.records import models

HALF_STEP = SPEED_STEPS // 2
"""Where the mechanical time constants are taken."""

WEIGHED = ("mechanical_time_constant_ms", "mechanical_time_constant_without_dropper_ms", "integral_scale")
"""Figures that wait for the mass of the locomotive."""

Array = NDArray[np.float64]


@dataclass(frozen=True)
class _Loop:
    """A solved build whose decoder looks at its motor."""

    solved: Solved
    motor: WorkingMotor
    source: Source
    series: Series
    train: Train
    running: Running
    measuring: float
    bypass: float

    @property
    def emf(self) -> Array:
        """Steady EMF over the steps, feedback off [V]."""
        return self.running.solution.emf

    @property
    def target(self) -> Array:
        """EMF that the decoder aims at over the steps [V]."""
        return self.source.duty * self.source.top_voltage

    def share(self, bypass: float) -> Array:
        """Reading over EMF at the steady EMF of each step [1], with a bypass [ohm] across the string."""
        resistance = self.running.resistance + self.series.resistance
        return physics.reading_share(
            self.emf, resistance, self.measuring, self.series.pairs, self.series.card, bypass
        )

    def running_at(self, duty: float, series: Series) -> Running:
        """Steady running at one on-time, with the record's train."""
        wave = self.running.solution.waveform
        need = float((wave.mean_current - self.running.solution.residual)[0])
        torque = need * self.motor.emf_constant - self.motor.running_torque
        one = replace(self.source, duty=np.array([duty]), bus_voltage=np.array([self.source.top_voltage]))
        return run(self.motor, one, series, torque, self.solved.warmth)

    def time_constant(self, series: Series) -> float | None:
        """Mechanical time constant at half step [s]; None for an unweighed loco, or where nothing drives the motor."""
        model = self.solved.record.model
        if model is None or model.mass is None or self.solved.wheel is None:
            return None
        mass = model.mass.value + train_mass(self.solved.record)
        inertia = reflected_inertia(self.motor, mass, self.train.ratio, self.solved.wheel)
        state = self.running_at(float(self.source.duty[HALF_STEP - 1]), series)
        slope = state.solution.waveform.mean_current_slope[0]
        found = float(physics.mechanical_time_constant(inertia, self.motor.emf_constant, slope))
        return found if math.isfinite(found) else None

    def mph(self, emf: Array) -> Curve:
        """Scale speed at an EMF [mph]."""
        speed = wheel_speed(emf / self.motor.emf_constant, self.train.ratio, self.solved.wheel or math.nan)
        return listed(scale_mph(speed, self.solved.ratio or math.nan))


def feedback_figures(record: models.Record, solved: Solved, ledger: Ledger) -> Feedback | None:
    """Return the feedback figures; None without a decoder that could have it, or while the speed is not known.

    Parameters
    ----------
    record
        The build.
    solved
        The same, solved.
    ledger
        Takes assumptions, gaps and judgements where feedback is a matter for this build.
    """
    if not may_have_feedback(record):
        return None
    shown = _is_shown(record)
    notes = ledger if shown else Ledger()
    loop = _loop(record, solved, notes)
    if loop is None:
        return None
    if record.model is None or record.model.mass is None:
        ledger.lack("model.mass", *(f"feedback.{key}" for key in WEIGHED))
    full = float(loop.running_at(1.0, loop.series).solution.emf[0])
    saturation = physics.saturation_step(loop.target, full)
    _show_saturation(loop, full, saturation, notes)
    _judge_cut_off(record, saturation, notes)
    return _figures(record, loop, full, saturation, shown)


def _ability(record: models.Record, name: str) -> bool | None:
    abilities = record.decoder.abilities if record.decoder else None
    return None if abilities is None else getattr(abilities, name)


def _is_shown(record: models.Record) -> bool:
    return record.feedback is not None or bool(_ability(record, "feedback"))


def _loop(record: models.Record, solved: Solved, ledger: Ledger) -> _Loop | None:
    motor, source, series, train, running = solved.motor, solved.source, solved.series, solved.train, solved.running
    if motor is None or source is None or series is None or train is None or running is None:
        return None
    ledger.assume(
        "feedback.full_emf", "EMF the decoder aims at with full on-time", source.top_voltage, "V", "the volts it has itself"
    )
    given = record.feedback.input.value if record.feedback and record.feedback.input else None
    measuring = given or ledger.assume(
        "feedback.input", "measuring resistance of the decoder", physics.MEASURING_RESISTANCE, "ohm", "a usual divider"
    )
    diodes = record.dropper.diodes if record.dropper else None
    bypass = diodes.bypass.value if diodes and diodes.bypass else math.inf
    return _Loop(solved, motor, source, series, train, running, measuring, bypass)


def _figures(record: models.Record, loop: _Loop, full: float, saturation: int | None, shown: bool) -> Feedback:
    share, built, bare = loop.share(loop.bypass), loop.time_constant(loop.series), loop.time_constant(NOTHING)
    cut_off = SPEED_STEPS if saturation is None else max(saturation - 1, 1)
    offered = loop.series.pairs > 0 and math.isinf(loop.bypass)
    bypassed = loop.share(physics.BYPASS_RESISTANCE) if offered else None
    decay = physics.current_decay_time(loop.motor.inductance, loop.motor.resistance + loop.series.resistance)
    return Feedback(
        reading_fraction=listed(share),
        visible_from_step=physics.visible_from_step(share),
        saturation_step=saturation,
        cut_off_step=cut_off,
        mechanical_time_constant_ms=None if built is None else 1e3 * built,
        integral_scale=None if built is None or bare is None else bare / built,
        mechanical_time_constant_without_dropper_ms=None if bare is None else 1e3 * bare,
        winding_decay_ms=1e3 * float(decay),
        on=record.feedback.on if record.feedback else None,
        able=_ability(record, "feedback"),
        shown=shown,
        cut_off_cv10=cut_off if _ability(record, "feedback_cut_off") else None,
        emf_v=listed(loop.emf),
        reading_v=listed(share * loop.emf),
        measuring_resistance_ohm=loop.measuring,
        diodes_hide=offered,
        bypass_offered_ohm=physics.BYPASS_RESISTANCE if offered else None,
        reading_with_bypass_v=None if bypassed is None else listed(bypassed * loop.emf),
        visible_from_step_with_bypass=None if bypassed is None else physics.visible_from_step(bypassed),
        closed_loop_scale_mph=_closed_loop(record, loop, full),
    )


def _cut_off_set(record: models.Record) -> int:
    """Step above which feedback stops as the record has it set; CV10 as in NMRA S-9.2.2, 128 for never."""
    if record.feedback and record.feedback.cut_off_step:
        return record.feedback.cut_off_step
    values = [s.value for s in record.decoder_settings if s.cv == 10 and s.page is None]
    return values[-1] if values and _ability(record, "feedback_cut_off") else 128


def _closed_loop(record: models.Record, loop: _Loop, full: float) -> Curve | None:
    """Speed as held up to the cut-off, and with feedback off above it; None where feedback is not on."""
    if record.feedback is None or not record.feedback.on:
        return None
    held = np.arange(1, SPEED_STEPS + 1) <= _cut_off_set(record)
    return loop.mph(np.where(held, physics.held_emf(loop.target, full), loop.emf))


def _show_saturation(loop: _Loop, full: float, saturation: int | None, ledger: Ledger) -> None:
    ledger.work(
        "Feedback",
        "step at which full on-time no longer reaches the target",
        "lowest step with d(s) V_b > E at d = 1",
        f"{plain(loop.source.top_voltage)} V × d(s) > {plain(full)} V",
        saturation,
        "",
        "loaded motor at full on-time; full EMF assumed equal to V_b",
    )


def _judge_cut_off(record: models.Record, saturation: int | None, ledger: Ledger) -> None:
    if record.feedback is None or not record.feedback.on or saturation is None:
        return
    if _cut_off_set(record) >= saturation:
        remedy = f"Cut feedback off at step {max(saturation - 1, 1)}"
        remedy += ", with CV10." if _ability(record, "feedback_cut_off") else " if the decoder can."
        ledger.judge(
            "feedback cut-off",
            "note",
            f"From step {saturation} the decoder gives all it has and still misses its target, so its control winds up. {remedy}",
        )
