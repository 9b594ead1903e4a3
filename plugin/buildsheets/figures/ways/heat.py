"""Heat of the ways: dropper and winding, running at the worst step looked at, and stalled."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from buildsheets.figures import heating
from buildsheets.figures.ledger import Scratch
from buildsheets.figures.running import Running
from buildsheets.figures.ways.candidates import Way
from buildsheets.physics import heat, parts
from buildsheets.records import models


@dataclass(frozen=True)
class Heat:
    """None where there is no such part, or the record does not say enough. Temperatures [degC]."""

    resistor: float | None
    diode: float | None
    share: float | None  # of the resistor's rating at the air inside
    stall: float | None  # where a resistor ends if the power stays on
    overload: float | None  # power stalled over what a resistor bears for some seconds
    winding: float
    winding_limit: float
    room: float
    air: float

    @property
    def hottest(self) -> float | None:
        """Hotter of resistor and diode."""
        return max((part for part in (self.resistor, self.diode) if part is not None), default=None)

    @property
    def winding_share(self) -> float:
        """Of the rise that the winding bears over the room."""
        return (self.winding - self.room) / (self.winding_limit - self.room)

    @property
    def worst_share(self) -> float:
        """Greatest share of what a part bears: resistors by rating, running and stalled, diodes and winding by rise."""
        diode = 0.0 if self.diode is None else (self.diode - self.room) / (heating.DIODE_LIMIT - self.room)
        return max(self.share or 0.0, self.overload or 0.0, diode, self.winding_share)


@dataclass(frozen=True)
class _Resistor:
    """One resistor of a way, fields as in `Heat`."""

    resistor: float
    share: float | None
    stall: float
    overload: float | None


def heats(ways: Sequence[Way], running: Running, rows: Sequence[int], count: int, locked_currents: Sequence[float]) -> list[Heat]:
    """Return the heat of each of some ways.

    Parameters
    ----------
    ways : sequence of Way
        Any.
    running : Running
        Of their chains and others, shape (chains, steps and more).
    rows : sequence of int
        Where each way's chain stands.
    count : int
        Columns that are steps of this way; those beyond serve other questions.
    locked_currents : sequence of float
        Of each way, with the shaft held, full on [A].
    """
    winding = np.max(running.winding_temperature[:, :count], axis=1).tolist()
    air = np.max(running.air_inside[:, :count], axis=1).tolist()
    resistors = _resistors(ways, running, rows, count, locked_currents)
    found = []
    for place, (way, row) in enumerate(zip(ways, rows, strict=True)):
        kind = way.record.motor.insulation_class if way.record.motor else None
        limit = heat.winding_limit(kind if kind in heat.INSULATION_CLASSES else "B")
        part, diode = resistors.get(place), _diode(way, running, row, count)
        found.append(
            Heat(part.resistor, diode, part.share, part.stall, part.overload, winding[row], limit, way.inputs.warmth.room, air[row])
            if part
            else Heat(None, diode, None, None, None, winding[row], limit, way.inputs.warmth.room, air[row])
        )
    return found


def _diode(way: Way, running: Running, row: int, count: int) -> float | None:
    """Hottest that a diode of a way becomes; None without any."""
    dropper = way.record.dropper
    if dropper is None or dropper.diodes is None:
        return None
    power = running.solution.waveform.mean_diode_power[row, :count] / way.inputs.series.pairs
    each = heating.diode_to_air(dropper.diodes, Scratch())
    return float(np.max(heat.body_temperature(running.air_inside[row, :count], power, each, _crowding(way, dropper))))


def _crowding(way: Way, dropper: models.Dropper) -> float:
    return heating.crowding_factor(dropper, Scratch()) * way.inputs.warmth.dropper_factor


def _resistors(
    ways: Sequence[Way], running: Running, rows: Sequence[int], count: int, locked_currents: Sequence[float]
) -> dict[int, _Resistor]:
    """Return the resistors by the places of their ways, as far as a way has them and their path to the air is known."""
    places, given = [], []
    for place, way in enumerate(ways):
        dropper = way.record.dropper
        path = heating.resistor_to_air(dropper, Scratch()) if dropper and dropper.resistor else None
        if dropper is None or dropper.resistor is None or path is None:
            continue
        series, source, around = way.inputs.series, way.inputs.source, way.inputs.warmth
        rating = dropper.resistor.rating.value if dropper.resistor.rating else np.nan
        places.append(place)
        given.append((
            path, _crowding(way, dropper), series.resistance, series.parts, rating, heating.zero_power(dropper), locked_currents[place],
            source.top_voltage + source.internal_drop, around.room, around.shell_resistance,
        ))  # fmt: skip
    if not places:
        return {}
    path, crowding, bank, count_of, rating, zero, locked, volts, room, shell = np.array(given, dtype=float).T
    at = [rows[place] for place in places]
    air, square = running.air_inside[at, :count], running.rms_current[at, :count] ** 2
    each = square * bank[:, None] / count_of[:, None]
    hot = heat.body_temperature(air, each, path[:, None], crowding[:, None])
    worst = np.argmax(hot, axis=1)
    held = locked**2 * bank / count_of
    stall = heat.body_temperature(room + shell * locked * volts, held, path, crowding)
    every = np.arange(len(places))
    left = parts.derated_power(rating, air[every, worst], parts.RATED_TEMPERATURE, zero)
    share = np.where(left > 0.0, each[every, worst] / np.where(left > 0.0, left, 1.0), np.inf)
    overload, rated = held / parts.overload_power(rating), np.isfinite(rating)
    columns = (hot[every, worst], share, stall, overload)
    return {
        place: _Resistor(one, of_rating if known else None, stalled, over if known else None)
        for place, known, one, of_rating, stalled, over in zip(places, rated, *(column.tolist() for column in columns), strict=True)
    }
