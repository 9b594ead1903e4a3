"""Title block of a sheet."""

from __future__ import annotations

from buildsheets.figures.format import Head
from buildsheets.figures.ledger import Ledger
from buildsheets.numerals import given, number
from buildsheets.physics.scales import MPH
from buildsheets.records import models
from buildsheets.records.scales import scale_named

SAME_SCALE = 0.02
"""Share by which a stated ratio may differ from its scale's: 1:76 is 76.2, and 1:87 is 87.1. Common practice."""


def scale_ratio(record: models.Record) -> float | None:
    """Return the true ratio of the model; a stated ratio wins over the scale's name."""
    model = record.model
    if model is None:
        return None
    if model.ratio is not None:
        return model.ratio.value
    return scale_named(model.scale).ratio if model.scale else None


def judge_scale(record: models.Record, ledger: Ledger) -> None:
    """Say so where the scale's name and the stated ratio do not belong together; the ratio counts."""
    model = record.model
    if model is None or model.ratio is None or model.scale is None:
        return
    named, stated = scale_named(model.scale).ratio, model.ratio.value
    if abs(named / stated - 1) > SAME_SCALE:
        ledger.judge(
            "scale",
            "note",
            f"The record says {model.scale}, which is 1:{given(named)}, and a ratio of 1:{given(stated)}. The sheet reckons with "
            f"1:{given(stated)}; if that is not meant, every scale speed here is out by {number(100 * abs(named / stated - 1), 2)} %.",
        )


def prototype_top(record: models.Record) -> float | None:
    """Return the prototype's top speed [mph]."""
    return record.prototype.top_speed.value / MPH if record.prototype and record.prototype.top_speed else None


def head(record: models.Record, revision_hash: str, drive: str | None) -> Head:
    """Return the fields of the title block."""
    dates = record.dates or models.Dates()
    prototype = record.prototype or models.Prototype()
    return Head(
        number=record.number,
        status=record.status.value,
        aside_because=record.aside_because,
        route=[part.value for part in record.route],
        builder=record.builder,
        started=_day(dates.started),
        finished=_day(dates.finished),
        changed=_day(dates.changed),
        revision_letter=record.revision,
        revision_hash=revision_hash,
        scale=record.model.scale if record.model else None,
        scale_ratio=scale_ratio(record),
        prototype_type=prototype.type.value if prototype.type else None,
        prototype_class=prototype.vehicle_class,
        prototype_top_mph=prototype_top(record),
        drive=drive,
        drive_in=record.model.drive_in if record.model else None,
        summary=record.summary,
        bench_time_h=record.bench_time.value / 3600 if record.bench_time else None,
        formerly=list(record.formerly),
    )


def _day(day: object) -> str | None:
    return None if day is None else str(day)
