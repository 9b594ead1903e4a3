"""How fast the locomotive runs alone at every drive level its decoder could give, whatever it is set to now."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from buildsheets.figures.format import LightResponse
from buildsheets.figures.inputs import Inputs, Refinement, gather
from buildsheets.figures.ledger import Scratch
from buildsheets.figures.running import listed, run, wheel_speed
from buildsheets.physics.cvs import FULL_DRIVE
from buildsheets.physics.scales import scale_mph
from buildsheets.records import models

COARSE = np.array([*range(0, FULL_DRIVE, 4), FULL_DRIVE], dtype=float)
"""Drive levels looked at everywhere [-]."""
FINE = 16
"""So many levels above the lowest of these that runs, each is looked at [-]: there the speed rises fastest as a share."""

Array = NDArray[np.float64]


def light_response(record: models.Record, refined: Refinement) -> LightResponse | None:
    """Return speed over drive level: light engine on the level, forward, warm, feedback off; None while speeds are not known.

    Parameters
    ----------
    record
        The build.
    refined
        What the bench found.
    """
    given = gather(record, Scratch(), load="light", refined=refined, mesh=False)
    if None in (given.motor, given.source, given.series, given.train, given.wheel, given.ratio):
        return None
    levels, speeds = COARSE, _speeds(given, COARSE)
    runs = np.flatnonzero(speeds > 0.0)
    if runs.size:
        lowest = levels[runs[0]]
        near = np.setdiff1d(np.arange(max(lowest - 3, 1), min(lowest + FINE, FULL_DRIVE) + 1), levels)
        levels, speeds = np.concatenate([levels, near]), np.concatenate([speeds, _speeds(given, near)])
    order = np.argsort(levels)
    return LightResponse(drive_level=[int(level) for level in levels[order]], scale_mph=listed(speeds[order]))


def _speeds(given: Inputs, levels: Array) -> Array:
    """Scale speed at drive levels [mph]; not-a-number where the balance does not close."""
    motor, source, series, train = given.motor, given.source, given.series, given.train
    if motor is None or source is None or series is None or train is None or given.wheel is None or given.ratio is None:
        raise ValueError("speeds are worked out for what is known")
    feed = replace(source, duty=levels / FULL_DRIVE, bus_voltage=np.full(levels.size, source.top_voltage))
    running = run(motor, feed, series, given.load_torque, given.warmth)
    speeds = scale_mph(wheel_speed(running.motor_speed, train.ratio, given.wheel), given.ratio)
    return np.where(running.solution.converged, speeds, np.nan)
