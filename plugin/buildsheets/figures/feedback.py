"""What the decoder's feedback sees of the motor, how far it holds the speed, and how slow the motor answers."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np

from buildsheets.figures.chain import NOTHING
from buildsheets.figures.format import CardRow, Curve, Feedback, LoopFigures, NamedCurve, Response, Tuning
from buildsheets.figures.gaps import may_have_feedback
from buildsheets.figures.ledger import Ledger, Scratch
from buildsheets.figures.loop import Held, hold, loop_figures
from buildsheets.figures.running import listed
from buildsheets.figures.solving import Solved
from buildsheets.figures.tuning import Tuned, tuning_figures
from buildsheets.figures.watching import Watched, ability, cut_off_set, watch
from buildsheets.numerals import number as plain
from buildsheets.physics import feedback as physics
from buildsheets.physics.cvs import SPEED_STEPS
from buildsheets.physics.scales import MPH
from buildsheets.records import models

WEIGHED = ("mechanical_time_constant_ms", "mechanical_time_constant_without_dropper_ms", "integral_scale", "loop")
"""Figures that wait for the mass of the locomotive."""
FASTEST_CRAWL = 0.06
"""Share of full speed that step 1 may ask for with feedback on before it is worth a word [1]; our choice, about eight times 1/126."""
ON = "as built, feedback on"
"""Name of the closed-loop curve."""


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
    shown = record.feedback is not None or bool(ability(record, "feedback"))
    notes = ledger if shown else Scratch()
    watched = watch(record, solved, notes)
    if watched is None:
        return None
    if record.model is None or record.model.mass is None:
        ledger.lack("model.mass", *(f"feedback.{key}" for key in WEIGHED))
    full = watched.full_emf()
    full_reading = float(watched.reading(np.array([full]), SPEED_STEPS)[0])
    saturation = physics.saturation_step(watched.target, full_reading)
    cut_off = SPEED_STEPS if saturation is None else max(saturation - 1, 1)
    works = record.feedback is not None and record.feedback.on
    held = hold(watched, min(cut_off, cut_off_set(record)) if works else cut_off)
    figures = _figures(record, watched, held, saturation, cut_off)
    figures["closed_loop_scale_mph"] = _closed_loop(record, watched, full)
    if shown and figures["able"] is not False:
        figures["loop"] = None if held is None else loop_figures(record, held, notes)
        figures["tuning"] = _tuning(record, solved, figures)
    figures["shown"] = shown
    _show(watched, full_reading, figures, notes)
    _explain(record, figures, ledger)
    if held is None and math.isfinite(solved.inertia):
        for key in WEIGHED:
            ledger.explain(f"feedback.{key}", "At half step the decoder wants no speed, or no current answers the motor’s.")
    if works:
        _judge_cut_off(record, saturation, notes)
        _judge_reading(watched, figures, notes)
        _judge_crawl(float(watched.source.duty[0]), notes)
        _judge_window(record, figures["winding_decay_ms"], notes)
    return figures


def _figures(record: models.Record, watched: Watched, held: Held | None, saturation: int | None, cut_off: int) -> Feedback:
    share = watched.share()
    offered = watched.series.pairs > 0 and math.isinf(watched.series.card.bypass)
    bypassed = watched.share(physics.BYPASS_RESISTANCE) if offered else None
    decay = physics.current_decay_time(watched.motor.inductance, watched.motor.resistance + watched.series.resistance)
    return Feedback(
        reading_fraction=listed(share),
        visible_from_step=physics.visible_from_step(share),
        saturation_step=saturation,
        cut_off_step=cut_off,
        mechanical_time_constant_ms=None if held is None else 1e3 * held.built.time_constant,
        integral_scale=None if held is None else held.integral_scale,
        mechanical_time_constant_without_dropper_ms=None if held is None else 1e3 * held.bare.time_constant,
        winding_decay_ms=1e3 * float(decay),
        on=record.feedback.on if record.feedback else None,
        able=ability(record, "feedback"),
        shown=False,
        cut_off_cv10=cut_off if ability(record, "feedback_cut_off") else None,
        emf_v=listed(watched.emf),
        reading_v=listed(share * watched.emf),
        measuring_resistance_ohm=watched.measuring,
        diodes_hide=offered,
        bypass_offered_ohm=physics.BYPASS_RESISTANCE if offered else None,
        reading_with_bypass_v=None if bypassed is None else listed(bypassed * watched.emf),
        visible_from_step_with_bypass=None if bypassed is None else physics.visible_from_step(bypassed),
        closed_loop_scale_mph=None,
        cut_off_set=cut_off_set(record),
        loop=None,
        tuning=None,
    )


def _closed_loop(record: models.Record, watched: Watched, full: float) -> Curve | None:
    """Speed as held up to the cut-off, and with feedback off above it; None where feedback is not on."""
    if record.feedback is None or not record.feedback.on:
        return None
    held = np.arange(1, SPEED_STEPS + 1) <= cut_off_set(record)
    return watched.mph(np.where(held, physics.held_emf(watched.wanted_emf, full), watched.emf))


def _tuning(record: models.Record, solved: Solved, figures: Feedback) -> Tuning:
    return tuning_figures(
        Tuned(
            record,
            solved.start,
            figures["saturation_step"],
            figures["cut_off_step"],
            figures["integral_scale"],
            figures["diodes_hide"],
        )
    )


def closed_loop_curve(curves: Sequence[NamedCurve], feedback: Feedback | None) -> list[NamedCurve]:
    """Return the curve with feedback on, for the chart of speeds; none where the record does not have it on.

    Parameters
    ----------
    curves
        Those with feedback off; the first is the build's own, whose load and direction it shares.
    feedback
        The build's figures.
    """
    held = feedback["closed_loop_scale_mph"] if feedback else None
    if held is None or not curves:
        return []
    return [{**curves[0], "name": ON, "feedback": "on", "scale_mph": held, "scale_mph_low": None, "scale_mph_high": None}]


def fill_card(rows: list[CardRow], feedback: Feedback | None, run_length: float, ratio: float | None) -> list[CardRow]:
    """Return the rows of the speed card with speed and time with feedback on.

    Parameters
    ----------
    rows
        The card.
    feedback
        The build's figures.
    run_length : float
        Of the timed run [m].
    ratio : float or None
        Of the scale.
    """
    held = feedback["closed_loop_scale_mph"] if feedback else None
    if held is None or ratio is None:
        return rows
    return [_held_row(row, held[row["step"] - 1], run_length * ratio / MPH) for row in rows]


def _held_row(row: CardRow, mph: float | None, distance: float) -> CardRow:
    """A row with its speed [mph] and the time over a distance [mph s] with feedback on."""
    return {**row, "feedback_on_scale_mph": mph, "feedback_on_seconds_over_run": distance / mph if mph else None}


def _show(watched: Watched, full_reading: float, figures: Feedback, ledger: Ledger) -> None:
    ledger.work(
        "Feedback",
        "step at which full on-time no longer reaches the target",
        "lowest step with d(s) E_full > reading at d = 1",
        f"{plain(watched.aim)} V × d(s) > {plain(full_reading)} V",
        figures["saturation_step"],
        "",
        "loaded motor at full on-time; docs: feedback",
    )
    bare, built = figures["mechanical_time_constant_without_dropper_ms"], figures["mechanical_time_constant_ms"]
    if bare is not None and built is not None and figures["integral_scale"] is not None and watched.series != NOTHING:
        ledger.work(
            "Feedback",
            "integral term, of what suited the motor without the dropper",
            "τ_m without / τ_m with, at most 1",
            f"{plain(bare)} ms / {plain(built)} ms",
            figures["integral_scale"],
            "",
            "integral time equal to the mechanical time constant; docs: feedback",
        )


def _explain(record: models.Record, figures: Feedback, ledger: Ledger) -> None:
    """Own up to nulls that no measurement would fill."""
    if figures["saturation_step"] is None:
        ledger.explain("feedback.saturation_step", "Feedback holds every step with the stated train on the level.")
    if figures["visible_from_step"] is None:
        ledger.explain("feedback.visible_from_step", "At no step does the decoder read half of what the motor makes.")
    loop = figures["loop"]
    if loop is not None and loop["grade"] is None:
        if record.train and record.train.grade:
            ledger.explain("feedback.loop.grade", "The stated line is level.")
        else:
            ledger.lack("train.grade", "feedback.loop.grade")
    for name, response in _responses(loop) if loop is not None else ():
        if response["settling_time_s"] is None:
            ledger.explain(f"feedback.loop.{name}.settling_time_s", "It still swings at the end of the time shown.")


def _responses(loop: LoopFigures) -> Iterator[tuple[str, Response]]:
    """Every answer with its key."""
    for event, answer in (("start", loop["start"]), ("grade", loop["grade"])):
        if answer is not None:
            yield f"{event}.suited", answer["suited"]
            yield f"{event}.advised", answer["advised"]
            yield f"{event}.off", answer["off"]


def _judge_cut_off(record: models.Record, saturation: int | None, ledger: Ledger) -> None:
    if saturation is None or cut_off_set(record) < saturation:
        return
    remedy = f"Cut feedback off at step {max(saturation - 1, 1)}"
    remedy += ", with CV10." if ability(record, "feedback_cut_off") else " if the decoder can."
    ledger.judge(
        "feedback cut-off",
        "note",
        f"From step {saturation} the decoder gives all it has and still misses its target, so its control winds up. {remedy}",
    )


def _judge_reading(watched: Watched, figures: Feedback, ledger: Ledger) -> None:
    if not figures["diodes_hide"]:
        return
    ledger.judge(
        "feedback reading",
        "caution",
        f"The {watched.series.pairs} diode pairs keep {plain(watched.emf[-1] - (figures['reading_v'][-1] or 0.0), 2)} V of the top step’s "
        "volts from the decoder: it steers by too low a reading and runs faster than its steps ask for. Fit the resistor across the string.",
    )


def _judge_crawl(first: float, ledger: Ledger) -> None:
    """A CV2 that lifts the start without feedback asks for that share of full speed with it."""
    if first > FASTEST_CRAWL:
        ledger.judge(
            "feedback crawl",
            "caution",
            f"With feedback on, step 1 already asks for {plain(100 * first, 2)} % of full speed. Feedback does the starting: bring CV2 down "
            "and the slow steps come back.",
        )


def _judge_window(record: models.Record, decay_ms: float, ledger: Ledger) -> None:
    sample = record.feedback.sample if record.feedback else None
    if sample is None or sample.window is None or 1e3 * sample.window.value >= decay_ms:
        return
    ledger.judge(
        "feedback window",
        "caution",
        f"The pulses stop for {plain(1e3 * sample.window.value)} ms, and the winding’s current may take {plain(decay_ms, 2)} ms to die: "
        "a reading taken before is false. Choose a longer window if the decoder has one.",
    )
