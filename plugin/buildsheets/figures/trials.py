"""What was tried: each trial's prediction from its own settings, beside what was seen."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from buildsheets.figures.format import TrialRow
from buildsheets.figures.heating import dropper_figures
from buildsheets.figures.inputs import Inputs, Refinement, gather
from buildsheets.figures.ledger import Scratch
from buildsheets.figures.solving import Solved, solve_together
from buildsheets.physics.scales import MPH
from buildsheets.records import models

if TYPE_CHECKING:
    from buildsheets.figures.learning import Bench, Learned


def trial_rows(record: models.Record, bench: Bench) -> list[TrialRow]:
    """Return one row a trial, in the record's order; each knows the readings of the trials above it and no others."""
    learned = [bench.before_trial(place) for place in range(len(record.trials))]
    given = [_gathered(record, trial, known.refined) for trial, known in zip(record.trials, learned, strict=True)]
    solved = solve_together(given, "start")
    return [_row(trial, known, found) for trial, known, found in zip(record.trials, learned, solved, strict=True)]


def as_tried(record: models.Record, settings: models.TrialSettings) -> models.Record:
    """Return the record with a trial's settings in place of the build's."""
    changes: dict[str, Any] = {}
    if settings.pinion is not None and record.gear_train is not None:
        changes["gear_train"] = with_pinion(record.gear_train, settings.pinion)
    if settings.dropper is not None:
        changes["dropper"] = None if settings.dropper == "none" else settings.dropper
    if settings.decoder_settings:
        changed = {(setting.cv, setting.page): setting for setting in record.decoder_settings}
        changed |= {(setting.cv, setting.page): setting for setting in settings.decoder_settings}
        changes["decoder_settings"] = list(changed.values())
    if settings.feedback is not None:
        changes["feedback"] = settings.feedback
    return record.model_copy(update=changes)


def with_pinion(train: models.GearTrain, pinion: int | models.Gear) -> models.GearTrain:
    """Return the train with another first driver on the same centres; a worm stays."""
    first, *rest = train.stages
    if not isinstance(first, models.SpurStage):
        return train
    old = first.driver if isinstance(first.driver, models.Gear) else models.Gear(teeth=first.driver)
    cut_for = first.cut_for or models.CutFor(driver=old.teeth, driver_shift=first.driver_shift or old.shift)
    changes = {"driver": pinion, "cut_for": cut_for, "driver_shift": None, "module": first.module or old.module}
    return train.model_copy(update={"stages": [first.model_copy(update=changes), *rest]})


def _gathered(record: models.Record, trial: models.Trial, refined: Refinement) -> Inputs:
    """Gather a trial's settings, light engine."""
    settings = trial.settings or models.TrialSettings()
    track = settings.track.value if settings.track else None
    return gather(as_tried(record, settings), Scratch(), load="light", track=track, refined=refined, mesh=False)


def _temperature(solved: Solved) -> float | None:
    """Temperature of a trial's dropper at the last step [degC]."""
    if solved.running is None or solved.series is None:
        return None
    dropper = dropper_figures(solved.record, solved.series, solved.motor, solved.source, solved.running, Scratch())
    hot = dropper["temperature_over_steps_c"] if dropper else None
    return hot[-1] if hot else None


def _row(trial: models.Trial, learned: Learned, solved: Solved) -> TrialRow:
    seen = trial.seen or models.TrialSeen()
    current = None if solved.running is None else float(solved.running.mean_current[-1])
    return TrialRow(
        id=trial.id,
        date=str(trial.date) if trial.date else None,
        change=trial.change,
        verdict=trial.verdict,
        because=trial.because,
        predicted_top_mph=solved.top_mph,
        seen_top_mph=seen.top_speed.value / MPH if seen.top_speed else None,
        predicted_start_step=solved.start["start_step"],
        seen_start_step=seen.start_step,
        behaviour=seen.behaviour,
        predicted_motor_current_a=current,
        seen_motor_current_a=seen.motor_current.value if seen.motor_current else None,
        predicted_dropper_temperature_c=_temperature(solved),
        seen_dropper_temperature_c=seen.dropper_temperature.value if seen.dropper_temperature else None,
        learned_from=0 if learned.found is None else len(learned.notes.observations),
    )
