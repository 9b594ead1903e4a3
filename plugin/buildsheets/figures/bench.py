"""Readings of the notebook as points on the charts: timed runs, and the heat of the dropper."""

from __future__ import annotations

from buildsheets.figures.format import BenchPointFigures, HeatPointFigures
from buildsheets.physics.scales import TIMING_ERRORS, scale_mph, timed_run
from buildsheets.records import models

DISTANCE_ERROR = 2e-3
"""Error of a measured distance when none is stated [m], common practice."""


def bench_points(record: models.Record, ratio: float | None) -> list[BenchPointFigures]:
    """Turn every reading with step, distance and time into a scale speed with its error."""
    if ratio is None:
        return []
    common = record.reading_conditions or models.ReadingConditions()
    return [point for reading in record.readings if (point := _point(reading, common, ratio)) is not None]


def stated(reading: models.Reading, common: models.ReadingConditions, name: str) -> object:
    """Return what the reading says, or what it inherits."""
    own = getattr(reading, name)
    return own if own is not None else getattr(common, name)


def _point(reading: models.Reading, common: models.ReadingConditions, ratio: float) -> BenchPointFigures | None:
    if reading.step is None or reading.distance is None or reading.time is None:
        return None
    distance, time = reading.distance, reading.time
    timing = str(stated(reading, common, "timing") or "stopwatch")
    run = timed_run(
        distance.value, time.value, distance.tolerance or DISTANCE_ERROR, time.tolerance or TIMING_ERRORS[timing]
    )
    return BenchPointFigures(
        step=reading.step,
        scale_mph=float(scale_mph(run.speed, ratio)),
        error_mph=float(scale_mph(run.speed_error, ratio)),
        load=_load(reading, common),
        feedback=_feedback(reading, common),
        direction=str(stated(reading, common, "direction") or "not stated"),
        trial=reading.trial,
    )


def heat_points(record: models.Record) -> list[HeatPointFigures]:
    """Turn every temperature of the dropper that names its step into a point of the heat chart."""
    common = record.reading_conditions or models.ReadingConditions()
    return [
        HeatPointFigures(
            step=reading.step,
            temperature_c=reading.temperature.value,
            error_k=reading.temperature.tolerance,
            load=_load(reading, common),
            feedback=_feedback(reading, common),
            trial=reading.trial,
        )
        for reading in record.readings
        if reading.of == "dropper" and reading.temperature is not None and reading.step is not None
    ]


def _load(reading: models.Reading, common: models.ReadingConditions) -> str:
    load = stated(reading, common, "load")
    return str(load) if load else "not stated"


def _feedback(reading: models.Reading, common: models.ReadingConditions) -> str:
    feedback = stated(reading, common, "feedback")
    return "not stated" if feedback is None else ("on" if feedback else "off")
