"""What was tried: each trial's prediction from its own settings, beside what was seen."""

from __future__ import annotations

from typing import Any

from buildsheets.figures.format import TrialRow
from buildsheets.figures.ledger import Ledger
from buildsheets.figures.solving import Solved, solve
from buildsheets.physics.scales import MPH
from buildsheets.records import models


def trial_rows(record: models.Record) -> list[TrialRow]:
    """Return one row a trial, in the record's order."""
    return [_row(record, trial) for trial in record.trials]


def as_tried(record: models.Record, settings: models.TrialSettings) -> models.Record:
    """Return the record with a trial's settings in place of the build's."""
    changes: dict[str, Any] = {}
    if settings.pinion is not None and record.gear_train is not None:
        changes["gear_train"] = _with_pinion(record.gear_train, settings.pinion)
    if settings.dropper is not None:
        changes["dropper"] = None if settings.dropper == "none" else settings.dropper
    if settings.decoder_settings:
        changed = {(setting.cv, setting.page): setting for setting in record.decoder_settings}
        changed |= {(setting.cv, setting.page): setting for setting in settings.decoder_settings}
        changes["decoder_settings"] = list(changed.values())
    if settings.feedback is not None:
        changes["feedback"] = settings.feedback
    return record.model_copy(update=changes)


def _with_pinion(train: models.GearTrain, teeth: int) -> models.GearTrain:
    first, *rest = train.stages
    if not isinstance(first, models.SpurStage):
        return train
    cut_for = first.cut_for or models.CutFor(
        driver=first.driver if isinstance(first.driver, int) else first.driver.teeth
    )
    return train.model_copy(update={"stages": [first.model_copy(update={"driver": teeth, "cut_for": cut_for}), *rest]})


def _predict(record: models.Record, trial: models.Trial) -> Solved:
    settings = trial.settings or models.TrialSettings()
    track = settings.track.value if settings.track else None
    return solve(as_tried(record, settings), Ledger(), load="light", track=track)


def _row(record: models.Record, trial: models.Trial) -> TrialRow:
    solved = _predict(record, trial)
    seen = trial.seen or models.TrialSeen()
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
    )
