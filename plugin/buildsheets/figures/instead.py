"""What does the job of a CV that the decoder lacks, and what that costs in heat, start and softness."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from buildsheets.figures.chain import NOTHING, Series
from buildsheets.figures.curve_advice import Abilities, Fitted
from buildsheets.figures.drive import Source
from buildsheets.figures.format import Curve, Figures, Instead
from buildsheets.figures.motor import WorkingMotor
from buildsheets.figures.running import Running, run
from buildsheets.figures.solving import Solved
from buildsheets.numerals import number as plain
from buildsheets.numerals import quantity, unbroken
from buildsheets.physics.curve_fit import Fit
from buildsheets.physics.cvs import SPEED_STEPS
from buildsheets.physics.diodes import pair_voltage
from buildsheets.physics.parts import preferred_at_or_above
from buildsheets.physics.pwm import Waveform, periodic_current
from buildsheets.physics.starting import start_steps

HEAT_STEPS = np.arange(SPEED_STEPS - 1, 0, -3)[::-1]
"""Places of the steps over which the worst heat of an offered bank is sought; the top step is one of them."""
SLOW_PULSES = 1000.0
"""Frequency below which pulses heat a motor noticeably more than smooth current does [Hz]. Common practice."""
HALF_STEP = SPEED_STEPS // 2


@dataclass(frozen=True)
class _Job:
    """A solved build whose decoder lacks something."""

    solved: Solved
    motor: WorkingMotor
    source: Source
    series: Series
    running: Running
    fitted: Fitted
    figures: Figures
    abilities: Abilities

    @property
    def start_step(self) -> int | None:
        return self.figures["start"]["start_step"]

    @property
    def drop(self) -> float | None:
        """Light engine to stated train at the top step, as built [1]."""
        hauled = self.figures["haulage"]
        return hauled["speed_drop_share"] if hauled else None

    def standing(self, series: Series) -> Waveform:
        """Currents over the steps with the shaft held."""
        return periodic_current(
            self.source.duty,
            self.source.bus_voltage,
            0.0,
            self.running.resistance + series.resistance,
            self.motor.inductance,
            self.source.frequency,
            self.source.off_mode,
            self.source.freewheel_drop,
            series.pairs,
            series.card,
        )

    def starts(self, series: Series) -> int | None:
        """First step that moves off with another series chain."""
        wave, load = self.standing(series), self.solved.load_torque
        return start_steps(
            self.motor.emf_constant * wave.peak_current,
            self.motor.emf_constant * wave.mean_current,
            self.motor.breakaway_torque + load,
            self.motor.running_torque + load,
        ).start_step


def instead(solved: Solved, fitted: Fitted, figures: Figures) -> list[Instead]:
    """Return what helps for each ability that the decoder is known to lack, cheapest first.

    Parameters
    ----------
    solved
        The build, solved as the record has it.
    fitted
        What the CVs that it has can do.
    figures
        Speed, haulage, start and curves of the same build.
    """
    decoder, motor, source, series, running = solved.record.decoder, solved.motor, solved.source, solved.series, solved.running
    if decoder is None or motor is None or source is None or series is None or running is None:
        return []
    abilities = Abilities(decoder.abilities)
    job = _Job(solved, motor, source, series, running, fitted, figures, abilities)
    ways = {
        "start_voltage": _start,
        "top_voltage": _top,
        "middle_voltage": _middle,
        "speed_table": _no_table,
        "feedback": _no_feedback,
        "feedback_cut_off": _no_cut_off,
        "pulse_period": _no_period,
    }
    return [way for name, find in ways.items() if abilities.cannot(name) for way in find(job)]


def _way(
    lacks: str,
    name: str,
    text: str,
    *,
    start: int | None = None,
    heat: float | None = None,
    drop: float | None = None,
    error: float | None = None,
) -> Instead:
    return Instead(
        lacks=lacks, instead=name, start_step=start, heat_w=heat, speed_drop_share=drop, error_mph=error, text=text
    )


def _first_moving(fit: Fit, least: int) -> int | None:
    places = np.flatnonzero(fit.level >= least - 1e-9)
    return int(places[0]) + 1 if places.size else None


def _by_table(job: _Job, lacks: str, text: str) -> list[Instead]:
    table = job.fitted.table
    if table is None:
        return []
    start = _first_moving(table, job.fitted.wanted.least)
    return [_way(lacks, "speed table", text, start=start, heat=0.0, drop=job.drop, error=table.error)]


def _start(job: _Job) -> list[Instead]:
    found = _by_table(job, "start_voltage", "The first entries of the speed table lift the low steps.")
    if job.series is not NOTHING:
        bare = job.starts(NOTHING)
        found.append(_way("start_voltage", "no dropper", f"Without the dropper it would start at step {bare}.", start=bare))
    wanted = max(job.fitted.wanted.line.first_step, 1)
    if job.start_step is not None and job.start_step > wanted:
        wave, load = job.standing(job.series), job.solved.load_torque
        share = job.motor.emf_constant * min(
            float(wave.peak_current[wanted - 1]) / (job.motor.breakaway_torque + load),
            float(wave.mean_current[wanted - 1]) / (job.motor.running_torque + load),
        )
        text = (
            f"Below step {job.start_step} the throttle does nothing. To start at step {wanted}, what holds it back would have to "
            f"fall to {plain(100 * share, 2)} % of what it is."
        )
        found.append(_way("start_voltage", "freer works", text, start=wanted, heat=0.0))
    return found


def _as_set(job: _Job) -> Curve:
    feedback = job.figures["feedback"]
    held = feedback["closed_loop_scale_mph"] if feedback else None
    return held or job.solved.mph or []


def _top(job: _Job) -> list[Instead]:
    speeds, wanted = [speed or 0.0 for speed in _as_set(job)], job.fitted.wanted.line.speed
    if not speeds or speeds[-1] <= wanted:
        return [_way("top_voltage", "nothing", "Full drive is no faster than wanted: there is nothing to hold back.", heat=0.0)]
    cap = max((step for step, speed in enumerate(speeds, start=1) if speed <= wanted), default=1)
    idle = SPEED_STEPS - cap
    found = _by_table(job, "top_voltage", "The last entry of the speed table sets the top speed and all steps are used.")
    found.append(
        _way(
            "top_voltage",
            "cap at the command station",
            f"A cap at step {cap} gives the wanted speed; the upper {idle} steps are not used.",
            start=job.start_step,
            heat=0.0,
            drop=job.drop,
        )
    )
    return found + _bank(job, wanted) + _gears(job, speeds[-1] / wanted)


def _bank(job: _Job, wanted: float) -> list[Instead]:
    """The bank that takes the top speed down, from the balance at full on-time; E24, at or above."""
    motor, volts = job.motor, job.source.top_voltage
    current = (motor.running_torque + job.solved.load_torque) / motor.emf_constant
    emf = float(job.running.solution.emf[-1]) * wanted / (job.fitted.wanted.open_loop.top or wanted)
    diodes = job.series.pairs * float(pair_voltage(current, job.series.card)) if job.series.pairs else 0.0
    winding = float(job.running.resistance[-1])
    if current <= 0:
        return []
    needed = (volts - emf - diodes) / current - winding - job.series.resistance
    if needed <= 0:
        return []
    bank = float(preferred_at_or_above(needed, "E24"))
    chain = replace(job.series, resistance=job.series.resistance + bank)
    heat, start = current**2 * bank, None
    if not job.series.pairs:  # a string of diodes takes its time; the top step must do
        some = replace(
            job.source, duty=job.source.duty[HEAT_STEPS], bus_voltage=np.full(HEAT_STEPS.size, volts)
        )
        warm = run(motor, some, chain, job.solved.load_torque, job.solved.warmth)
        heat, start = float(np.max(warm.rms_current**2)) * bank, job.starts(chain)
    light = volts - motor.running_torque / motor.emf_constant * (winding + chain.resistance) - diodes
    loaded = volts - current * (winding + chain.resistance) - diodes
    text = f"A bank of {quantity(bank, 'ohm', 2)} before the motor gives it, and spares the decoder at a stall."
    return [
        _way("top_voltage", "dropper", text, start=start, heat=heat, drop=1 - loaded / light if light > 0 else None)
    ]


def _gears(job: _Job, share: float) -> list[Instead]:
    ratio = job.solved.train.ratio if job.solved.train else None
    if ratio is None:
        return []
    gears = f"Gears of about {plain(ratio * share)} : 1 instead of {plain(ratio)} : 1"
    text = unbroken(f"{gears} give it, with more pull and no heat.")
    return [_way("top_voltage", "gearing", text, heat=0.0)]


def _middle(job: _Job) -> list[Instead]:
    found = _by_table(job, "middle_voltage", "The speed table bends the curve where CV6 would.")
    points = job.fitted.points
    if points is not None:
        found.append(_way("middle_voltage", "a straight line", "What is left of the three points makes a straight line.", error=points.error))
    return found


def _no_table(job: _Job) -> list[Instead]:
    points = job.fitted.points
    if points is None:
        return []
    return [_way("speed_table", "three-point curve", "The start, middle and top volts that it has must do.", error=points.error)]


def _at_half(job: _Job, name: str) -> float | None:
    curve = next((curve for curve in job.figures["curves"] if curve["name"].startswith(name)), None)
    return curve["scale_mph"][HALF_STEP - 1] if curve else None


def _no_feedback(job: _Job) -> list[Instead]:
    light, built = _at_half(job, "as built, light"), _at_half(job, "as built")
    if not light or built is None:
        return []
    graded = next(
        (c["scale_mph"][HALF_STEP - 1] for c in job.figures["curves"] if c["grade"] != "level" and c["name"].startswith("as built")),
        None,
    )
    words = f"At half step the stated train takes {quantity(100 * (1 - built / light), '%', 2)} of the light engine's speed"
    if graded is not None:
        words += f", on the grade {quantity(100 * (1 - graded / light), '%', 2)}"
    return [
        _way("feedback", "the throttle hand", f"{words}: open up by hand. A stiffer drive takes less of it.", drop=1 - built / light)
    ]


def _no_cut_off(job: _Job) -> list[Instead]:
    if not job.abilities.can("feedback") or job.fitted.chosen is None:
        return []
    return [
        _way("feedback_cut_off", "the curve", "With the values worked out here no step asks for more than there is on the level.")
    ]


def _no_period(job: _Job) -> list[Instead]:
    if job.source.frequency >= SLOW_PULSES:
        return []
    excess = job.running.rms_current**2 - job.running.mean_current**2
    place = int(np.argmax(excess))
    resistance = float(job.running.resistance[place]) + job.series.resistance
    ratio = float(job.running.rms_current[place] / job.running.mean_current[place]) ** 2
    text = (
        f"The maker's slow pulses stand: at step {place + 1} they make {plain(ratio, 2)} times the heat of smooth current in motor "
        "and dropper."
    )
    return [_way("pulse_period", "the maker's frequency", text, heat=float(excess[place]) * resistance)]
