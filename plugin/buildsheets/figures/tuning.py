"""How to set feedback at the bench: the routine in order, and the next setting to try after the last trial.

The routine and the rules are ours, from common practice: proportional term first, integral term second, cut-off last;
whatever swings quickly wants less P, whatever swings slowly wants less I.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from buildsheets.figures.format import NextSetting, Start, Tuning, TuningStep
from buildsheets.figures.watching import HALF_STEP, NEVER, ability, cut_off_set
from buildsheets.numerals import given, number
from buildsheets.physics.feedback import BYPASS_RESISTANCE
from buildsheets.records import models
from buildsheets.records.models import Sign

LESS_P, MORE_P, LESS_I = 0.5, 1.25, 0.7
"""Factors on a setting after a trial that swung, stalled or surged; common practice."""
HIGHEST = 255
"""Upper end of a decoder's scale for P and I."""
DROPPER_FELT = 0.95
"""Below this share the dropper itself asks for less I [1]."""
CRAWL = 4
"""Steps above the first moving one at which a crawl is watched."""


@dataclass(frozen=True)
class Tuned:
    """What the routine needs to know of a build."""

    record: models.Record
    start: Start
    saturation: int | None
    cut_off: int  # recommended
    integral_scale: float | None
    diodes_hide: bool


def tuning_figures(build: Tuned) -> Tuning:
    """Return the routine for a build, and what to try next if a trial with feedback on says what was seen."""
    return Tuning(routine=_routine(build), next=_next(build))


def _line(do: str, look_for: str, then: str) -> TuningStep:
    return TuningStep(do=do, look_for=look_for, then=then)


def _routine(build: Tuned) -> list[TuningStep]:
    crawl = min((build.start["start_step"] or 1) + CRAWL, HALF_STEP)
    return [
        _line(
            "Feedback off. Run it warm, ten minutes both ways; then take the first moving step.",
            "An even run without tight spots.",
            "Cure tight spots, dirty wheels and a noisy commutator first: feedback makes them worse, not better.",
        ),
        *([_line(
            f"Fit {given(BYPASS_RESISTANCE, 'ohm')} across the whole diode string.",
            "The reading reaches the decoder at a crawl.",
            "Without it no setting below will hold a slow motor.",
        )] if build.diodes_hide else []),
        _line(
            "Feedback on, I at 0, cut-off at never, momentum (CV3, CV4) at 0. Raise P from a tenth of its range, each time by a quarter.",
            f"At step {crawl}: a fast buzz or tremble, the motor hunting.",
            "When it hunts, go back to half that P. If it never hunts, stay at half of the range.",
        ),
        _line(
            f"Raise I from 0 in small steps and set off from rest to step {HALF_STEP} each time.",
            "A slow swell past the speed and back: surging.",
            "When it surges, go back to seven tenths of that I.",
        ),
        *_after_dropper(build),
        _line(
            f"{_climb(build.record)} at step {HALF_STEP}, whole train.",
            "A dip and a quick return; no stall, no swing afterwards.",
            "Dips too deep: P up by a quarter, as long as it does not hunt. Sags and stays down: the motor has no more to give there.",
        ),
        _cut_off_line(build),
        _line("Momentum back to its values; write P, I and cut-off into the record as a trial.", "The same manners both ways.", "Done."),
    ]


def _after_dropper(build: Tuned) -> list[TuningStep]:
    scale = build.integral_scale
    if scale is None or scale >= DROPPER_FELT:
        return []
    return [_line(
        f"If P and I were found before the dropper went in: leave P, set I to {number(scale, 2)} of what it was.",
        "Surging gone, the hold on the grade as before.",
        "Still surging: seven tenths of that again.",
    )]


def _climb(record: models.Record) -> str:
    grade = record.train.grade if record.train else None
    return f"Run onto {grade.text}" if grade is not None and grade.value else "Run onto the steepest grade of the layout"


def _cut_off_line(build: Tuned) -> TuningStep:
    if build.saturation is None:
        return _line(
            "Leave the cut-off at never.", "Feedback holds every step with the stated train on the level.", "Nothing to set."
        )
    setting = f"CV10 = {build.cut_off}" if ability(build.record, "feedback_cut_off") else f"step {build.cut_off}"
    return _line(
        f"Set the cut-off to {setting}.",
        f"From step {build.saturation} the motor gets all there is; coming down from there it must not hang on before it slows.",
        "A jump there is what feedback adds against the load. If it disturbs: no cut-off, and I a third lower.",
    )


def _next(build: Tuned) -> NextSetting | None:
    told = [
        trial for trial in build.record.trials
        if trial.seen and trial.seen.signs and trial.settings and trial.settings.feedback and trial.settings.feedback.on
    ]
    if not told:
        return None
    last = told[-1]
    found = _advice(build, last, told[:-1])
    return None if found is None else NextSetting(text=found[0], because=found[1], trial=last.id)


def _advice(build: Tuned, last: models.Trial, earlier: Sequence[models.Trial]) -> tuple[str, str] | None:
    """Return what to try and why: the sign that spoils the most comes first."""
    signs = last.seen.signs if last.seen else []
    swings = Sign.HUNTING in signs or Sign.SURGING in signs
    if swings and build.diodes_hide and _dropper_was_in(last):
        return (
            f"Fit {given(BYPASS_RESISTANCE, 'ohm')} across the diode string before any setting is changed.",
            "The string hides a slow motor from the decoder, which then pushes too hard; no setting mends that.",
        )
    if Sign.HUNTING in signs:
        return _scaled("P", _setting(last, "p"), LESS_P, "Fast swings come from too much P; half of it leaves a reserve.")
    if Sign.SURGING in signs:
        return _less_integral(build, last, earlier)
    if Sign.STALLS in signs:
        return _scaled(
            "P", _setting(last, "p"), MORE_P, "P answers the grade at once. If it hunts or still stalls, the motor itself is at its end."
        )
    return _cut_off_advice(build, last)


def _dropper_was_in(trial: models.Trial) -> bool:
    return trial.settings is None or trial.settings.dropper != "none"


def _setting(trial: models.Trial, name: str) -> int | None:
    return getattr(trial.settings.feedback, name) if trial.settings and trial.settings.feedback else None


def _scaled(name: str, value: int | None, factor: float, because: str) -> tuple[str, str]:
    if value is None:
        return f"{name} to {number(factor, 2)} of what it is set to.", because
    moved = min(max(round(value * factor), 0), HIGHEST)
    if moved == value:
        moved = min(max(value + (1 if factor > 1.0 else -1), 0), HIGHEST)
    return f"{name} from {value} to {moved}.", because


def _less_integral(build: Tuned, last: models.Trial, earlier: Sequence[models.Trial]) -> tuple[str, str]:
    """With a dropper in, first the share that it asks for; where I was lowered before, the plain rule."""
    value, scale = _setting(last, "i"), build.integral_scale
    lowered = value is not None and any((_setting(trial, "i") or 0) > value for trial in earlier)
    if scale is not None and scale < DROPPER_FELT and _dropper_was_in(last) and not lowered:
        return _scaled(
            "I", value, scale, f"With the dropper the motor answers {number(1.0 / scale, 2)} times as slowly; P stays as it is."
        )
    return _scaled("I", value, LESS_I, "Slow swings come from too much I.")


def _cut_off_advice(build: Tuned, last: models.Trial) -> tuple[str, str] | None:
    """What is left when nothing swings or stalls: the cut-off, then the size of the jump at it."""
    signs = last.seen.signs if last.seen else []
    own = last.settings.feedback.cut_off_step if last.settings and last.settings.feedback else None
    cut_off = own or cut_off_set(build.record)
    if build.saturation is not None and cut_off >= build.saturation:
        name = "CV10" if ability(build.record, "feedback_cut_off") else "the cut-off"
        was = "never" if cut_off >= NEVER else str(cut_off)
        return (
            f"Leave P and I; {name} from {was} to {build.cut_off}.",
            f"From step {build.saturation} the motor gets all there is, and the integral term winds up.",
        )
    if Sign.JUMPS in signs and cut_off < NEVER:
        lower = _scaled("I", _setting(last, "i"), LESS_I, "")[0]
        return (
            f"Try it without a cut-off, and {lower}",
            "The jump is what feedback adds against the load there; a lower I keeps the winding-up above it small.",
        )
    return None
