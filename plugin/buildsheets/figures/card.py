"""The speed card and the beats that go with it."""

from __future__ import annotations

import numpy as np

from buildsheets.figures.format import CardRow, Curve, Speed
from buildsheets.figures.ledger import Ledger
from buildsheets.figures.running import listed
from buildsheets.figures.solving import Solved
from buildsheets.physics.train import beats_per_turn, chuffs_per_second
from buildsheets.records import models

CARD_STEPS = (1, 4, 8, 16, 24, 32, 48, 64, 80, 96, 112, 126)


def beats_figure(record: models.Record, ledger: Ledger) -> int | None:
    """Return the exhaust beats of one turn; None for what is no steam locomotive, or has no known cylinders."""
    prototype = record.prototype
    if prototype is None or prototype.type is not models.Traction.STEAM:
        return None
    if prototype.beats_per_turn is None and prototype.cylinders is None:
        ledger.lack("prototype.cylinders", "sound")
        return None
    return prototype.beats_per_turn or beats_per_turn(prototype.cylinders or 2)


def _chuffs(solved: Solved, beats: int | None) -> Curve | None:
    """Beats follow the model's own wheel, which a cam or a sound decoder sees."""
    if beats is None or solved.true_speed is None or solved.wheel is None:
        return None
    return listed(np.asarray(chuffs_per_second(solved.true_speed, solved.wheel, beats)))


def sound_figures(solved: Solved, beats: int | None) -> dict[str, Curve] | None:
    """Return the chuffs over the steps."""
    chuffs = _chuffs(solved, beats)
    return None if chuffs is None else {"chuffs_per_second": chuffs}


def card_rows(speed: Speed | None, solved: Solved, beats: int | None, run_length: float) -> list[CardRow]:
    """Return the rows of the card, for a run of that length [m]."""
    if speed is None:
        return []
    chuffs = _chuffs(solved, beats)
    return [_card_row(step, speed, chuffs, run_length) for step in CARD_STEPS]


def _card_row(step: int, speed: Speed, chuffs: Curve | None, run_length: float) -> CardRow:
    true = speed["true_mm_per_s"][step - 1]
    return CardRow(
        step=step,
        scale_mph=speed["scale_mph"][step - 1],
        scale_km_h=speed["scale_km_h"][step - 1],
        seconds_over_run=1e3 * run_length / true if true else None,
        chuffs_per_second=chuffs[step - 1] if chuffs else None,
        feedback_on_scale_mph=None,
        feedback_on_seconds_over_run=None,
    )
