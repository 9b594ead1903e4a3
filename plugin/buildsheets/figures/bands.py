"""Bands set beside the figures they belong to, and what they say that the figures alone do not."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from buildsheets.figures.format import (
    Contribution,
    DecoderFigures,
    DropperFigures,
    Level,
    MotorFigures,
    NamedCurve,
    Narrowing,
    NextReading,
    Speed,
    SpreadFigures,
    Start,
    ToleranceFigures,
)
from buildsheets.figures.glance import allowed_share
from buildsheets.figures.head import prototype_top
from buildsheets.figures.ledger import HOW_TO_FIND, Ledger
from buildsheets.figures.spread import NEVER, READINGS, Fan, Spread, band
from buildsheets.figures.tolerances import Uncertain
from buildsheets.numerals import band as in_words
from buildsheets.numerals import number as plain
from buildsheets.numerals import speed_band, unbroken
from buildsheets.physics.uncertainty import BAND, percentiles
from buildsheets.records import models

SMALLEST_SHARE = 0.005
"""Share of the variance below which an input is not listed among the causes."""
PRINTED = {"m": ("mm", 1e3), "kg": ("g", 1e3)}
"""Units a builder reads, for half widths in SI."""
FURTHER_READINGS = "Take some of those that section 6 asks for."
LEVELS: tuple[Level, ...] = ("ok", "note", "caution", "stop")


def spread_figures(spread: Spread | None, next_reading: NextReading | None) -> SpreadFigures | None:
    """Return where the bands come from; after a fit to the readings, with the reading that would help it most."""
    if spread is None:
        return None
    rows, explained = spread.causes()
    low, high = percentiles(spread.top_mph, BAND)
    width = float((high - low) / (high + low)) if high > 0 else None
    narrow = _narrowing(rows, next_reading)
    return SpreadFigures(
        samples=spread.samples.count,
        contributions=[
            Contribution(name=name, label=label, share=share) for name, label, share in rows if share >= SMALLEST_SHARE
        ],
        explained=explained,
        tolerances=[_tolerance(entry) for entry in spread.samples.inputs],
        half_width_share=width,
        narrow=narrow,
        finding=_finding(width, narrow),
    )


def _narrowing(rows: Sequence[tuple[str, str, float]], next_reading: NextReading | None) -> Narrowing | None:
    if not rows or rows[0][2] <= 0:
        return None
    name, label, share = rows[0]
    further = next_reading["text"] if next_reading else FURTHER_READINGS
    how = further if name == READINGS else HOW_TO_FIND[name]
    return Narrowing(name=name, label=label, share=share, how_to_measure=how)


def _finding(width: float | None, narrow: Narrowing | None) -> str:
    if width is None:
        return "Within its tolerances it hardly runs at the top step."
    words = f"The top speed is good to about ±{plain(100 * width, 2)} %."
    if narrow is None:
        return words
    share = f"{plain(100 * narrow['share'], 2)} % of the spread"
    cause = f"{narrow['label']}, {share}" if narrow["name"] != READINGS else f"more readings, for these leave {share} open"
    return f"{words} What would narrow it most: {cause}. {narrow['how_to_measure']}"


def _tolerance(entry: Uncertain) -> ToleranceFigures:
    unit, factor = ("%", 100.0) if entry.unit == "%" else PRINTED.get(entry.unit, (entry.unit, 1.0))
    return ToleranceFigures(
        name=entry.name,
        label=entry.label,
        half_width=factor * entry.half_width,
        unit=unit,
        shape=entry.shape,
        basis=entry.basis,
    )


def fill_bands(
    spread: Spread | None, speed: Speed | None, start: Start, dropper: DropperFigures | None, decoder: DecoderFigures
) -> None:
    """Set the bands of 5 to 95 % beside their figures."""
    if spread is None:
        return
    if speed is not None:
        speed["top_scale_mph_band"] = band(spread.top_mph)
    low, high = percentiles(spread.start_step, BAND)
    if low < NEVER:
        start["start_step_band"] = [float(np.floor(low)), None if high >= NEVER else float(np.ceil(high))]
    if dropper is not None:
        dropper["temperature_band_c"] = band(spread.hottest_dropper)
    locked, nominal = band(spread.locked_rotor_current), decoder["locked_rotor_current_a"]
    decoder["locked_rotor_current_band_a"] = locked
    for key, kind in (("continuous_margin", "continuous_margin_band"), ("peak_margin", "peak_margin_band")):
        margin = decoder[key]  # type: ignore[literal-required]
        if margin is not None and locked and locked[0] > 0 and nominal:  # where no current may flow, no margin bounds it
            rating = margin * nominal
            decoder[kind] = [rating / locked[1], rating / locked[0]]  # type: ignore[literal-required]


def with_band(curve: NamedCurve, fan: Fan | None) -> NamedCurve:
    """Return a curve with its band, if it was sampled."""
    if fan is not None and np.any(fan.kept) and any(value is not None for value in curve["scale_mph"]):
        curve["scale_mph_low"], curve["scale_mph_high"] = fan.around(curve["scale_mph"])
    return curve


def judge_bands(
    record: models.Record,
    spread: Spread | None,
    ratio: float | None,
    dropper: DropperFigures | None,
    decoder: DecoderFigures,
    motor: MotorFigures,
    ledger: Ledger,
) -> None:
    """Say where a band crosses a limit that the figure alone keeps."""
    if spread is None:
        return
    prototype = prototype_top(record)
    if prototype is not None and ratio is not None:
        _judge_top(spread, prototype, ratio, ledger)
    _judge_decoder(record, spread, decoder, ledger)
    first, last = percentiles(spread.start_step, BAND)
    if first < NEVER <= last:
        _amend(ledger, "start", "caution", "Within the tolerances of its inputs it may not start at all with the stated load.")
    if dropper is not None:
        _judge_dropper(spread, dropper, ledger)
    limit, hot = motor["winding_limit_c"], band(spread.winding_temperature)
    if limit is not None and hot is not None and _crosses(hot, limit):
        _amend(ledger, "winding", "caution", f"It may come to {in_words(hot, '°C')}, which passes the limit.")


def _crosses(ends: Sequence[float], limit: float) -> bool:
    return ends[0] < limit < ends[1]


def _amend(ledger: Ledger, subject: str, level: Level, sentence: str) -> None:
    """Add a sentence to the gravest judgement on a subject and raise its level at least to that given."""
    about = [verdict for verdict in ledger.verdicts if verdict["subject"] == subject]
    if not about:
        ledger.judge(subject, level, sentence)
        return
    gravest = max(about, key=lambda verdict: LEVELS.index(verdict["level"]))
    gravest["message"] += f" {unbroken(sentence)}"
    gravest["level"] = max(gravest["level"], level, key=LEVELS.index)


def _judge_top(spread: Spread, prototype: float, ratio: float, ledger: Ledger) -> None:
    ends = band(spread.top_mph)
    allowed = allowed_share(ratio)
    if ends is None:
        return
    shown = speed_band(ends)
    if _crosses(ends, max(1.5, allowed) * prototype):
        _amend(ledger, "top speed", "caution", f"Its band, {shown}, reaches far above it.")
    elif _crosses(ends, allowed * prototype):
        over = f"{plain(100 * (allowed - 1), 2)} %"
        _amend(ledger, "top speed", "note", f"Its band, {shown}, reaches across the {over} over the prototype of NEM 661.")
    elif _crosses(ends, prototype):
        _amend(ledger, "top speed", "note", f"Its band, {shown}, lies across the prototype's speed: it may end up on either side.")


def _judge_decoder(record: models.Record, spread: Spread, decoder: DecoderFigures, ledger: Ledger) -> None:
    ends = band(spread.locked_rotor_current)
    for name, rating in (
        ("peak", record.decoder and record.decoder.peak_current),
        ("continuous", record.decoder and record.decoder.continuous_current),
    ):
        if rating and ends is not None and _crosses(ends, rating.value):
            _amend(
                ledger, "decoder", "caution", f"With the shaft held {in_words(ends, 'A')} may flow, across its {name} rating of {rating.text}."
            )


def _judge_share(share: NDArray[np.float64] | None, ledger: Ledger) -> None:
    if share is None:
        return
    if not np.all(np.isfinite(share)):  # in some samples the air alone is too warm for any load
        if np.any(share < 1.0):
            _amend(ledger, "dropper heat", "caution", "It may get so hot in there that the resistor bears no load at all.")
        return
    low, high = percentiles(share, BAND)
    if low < 1.0 < high:
        text = f"It may take {in_words([100 * low, 100 * high], '%')} of its rating: more than it bears."
        _amend(ledger, "dropper heat", "caution", text)


def _judge_dropper(spread: Spread, dropper: DropperFigures, ledger: Ledger) -> None:
    _judge_share(spread.share_of_rating, ledger)
    hot = dropper["temperature_band_c"]
    for limit in dropper["temperature_limits"]:
        if hot is not None and _crosses(hot, limit["value"]):
            level: Level = "note" if limit["basis"] == "from memory" else "caution"
            _amend(ledger, "dropper heat", level, f"It may come to {in_words(hot, '°C')}, across the limit: {limit['label']}.")
