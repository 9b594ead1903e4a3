"""The ways as the figures hold them."""

from __future__ import annotations

import math

from buildsheets.figures.format import Option, OptionResults, OptionSettings, RejectedClass
from buildsheets.figures.ledger import Ledger
from buildsheets.figures.solving import Solved
from buildsheets.figures.ways.goal import Goal, goal_of
from buildsheets.figures.ways.losers import rejected_rows
from buildsheets.figures.ways.options import WaysOptions
from buildsheets.figures.ways.rank import Scored
from buildsheets.figures.ways.search import search
from buildsheets.figures.ways.words import dropper_text, level_of, name_of, why_of
from buildsheets.records import models


def ways_figures(
    record: models.Record, stock: models.Stock, built: Solved, options: WaysOptions, ledger: Ledger
) -> tuple[list[Option], list[RejectedClass]]:
    """Return the ways to the record's target, the built one among them, and why the others lost.

    Parameters
    ----------
    record : Record
        The build.
    stock : Stock
        All of the club's parts.
    built : Solved
        The build, solved with what the bench found.
    options : WaysOptions
        Weights, and how many are shown.
    ledger : Ledger
        Takes what is missing or assumed.
    """
    if record.target is None:
        ledger.lack("target.speed", "options")
        return [], []
    if built.running is None:
        return [], []
    goal = goal_of(record, record.target, built, ledger)
    found = search(record, stock, built, goal, options)
    shown = found.best[: options.shown]
    entries = sorted([found.built, *shown], key=lambda entry: (entry.rejected is not None, *entry.order))
    rows = [_option(rank, entry, goal) for rank, entry in enumerate(entries, 1)]
    return rows, rejected_rows(found, shown)


def _option(rank: int, entry: Scored, goal: Goal) -> Option:
    return Option(
        rank=rank,
        name=name_of(entry.way),
        built=entry.way.knob == "built",
        level=level_of(entry, goal),
        rejected=entry.rejected,
        settings=_settings(entry),
        results=_results(entry, goal),
        score=entry.score,
        why=why_of(entry, goal),
    )


def _settings(entry: Scored) -> OptionSettings:
    way, base = entry.way, entry.way.base
    changed = way.knob in ("resistors", "diodes", "bridge", "no dropper")
    return OptionSettings(
        pinion_teeth=base.pinion.teeth if base.pinion.changed else None,
        motor=base.motor.name if base.motor else None,
        decoder=base.decoder.name if base.decoder else None,
        dropper=dropper_text(way) if changed else None,
        cv5=way.cv5,
        cv6=way.cv6,
        track_v=way.track,
        last_step=way.cap,
    )


def _results(entry: Scored, goal: Goal) -> OptionResults:
    found, heat = entry.outcome, entry.outcome.heat
    return OptionResults(
        feedback="on" if goal.held else "off",
        speed_at_step_mph=found.mph,
        speed_error_mph=found.mph - goal.mph,
        top_scale_mph=found.top_mph,
        start_step=found.start_step,
        hottest_c=heat.hottest,
        share_of_rating=heat.share if heat.share is not None and math.isfinite(heat.share) else None,
        stall_temperature_c=heat.stall,
        winding_temperature_c=heat.winding,
        locked_rotor_current_a=found.locked_current,
        decoder_margin=found.margin,
        speed_drop_share=found.drop,
        vehicles_on_grade=goal.vehicles(found.stall_force),
        visible_from_step=found.visible_from if goal.feedback else None,
        contact_ratio=entry.way.base.pinion.contact_ratio,
        cost=entry.way.price,
    )
