"""Heat of one way: dropper and winding, running at the worst step looked at, and stalled."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from buildsheets.figures import heating
from buildsheets.figures.ledger import Scratch
from buildsheets.figures.running import Running
from buildsheets.figures.ways.candidates import Way
from buildsheets.physics import heat, parts


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


def heat_of(way: Way, running: Running, place: int, count: int, locked_current: float) -> Heat:
    """Return the heat of one way.

    Parameters
    ----------
    way : Way
        Any.
    running : Running
        Of it and others, shape (ways, steps and more).
    place : int
        Its row.
    count : int
        Columns that are steps of this way; those beyond serve other questions.
    locked_current : float
        With the shaft held, full on [A].
    """
    winding = float(np.max(running.winding_temperature[place, :count]))
    kind = way.record.motor.insulation_class if way.record.motor else None
    limit = heat.winding_limit(kind if kind in heat.INSULATION_CLASSES else "B")
    around, dropper, series = way.inputs.warmth, way.record.dropper, way.inputs.series
    resistor = diode = share = stall = overload = None
    air = running.air_inside[place, :count]
    if dropper is not None:
        notes = Scratch()
        crowding = heating.crowding_factor(dropper, notes) * around.dropper_factor
        if dropper.diodes is not None:
            power = running.solution.waveform.mean_diode_power[place, :count] / series.pairs
            diode = float(np.max(heat.body_temperature(air, power, heating.diode_to_air(dropper.diodes, notes), crowding)))
        resistance = heating.resistor_to_air(dropper, notes) if dropper.resistor else None
        if resistance is not None:
            each = running.rms_current[place, :count] ** 2 * series.resistance / series.parts
            hot = heat.body_temperature(air, each, resistance, crowding)
            worst = int(np.argmax(hot))
            resistor = float(hot[worst])
            held = locked_current**2 * series.resistance / series.parts
            source = way.inputs.source
            warmed = around.room + around.shell_resistance * locked_current * (source.top_voltage + source.internal_drop)
            stall = float(heat.body_temperature(warmed, held, resistance, crowding))
            rating = dropper.resistor.rating.value if dropper.resistor and dropper.resistor.rating else None
            if rating is not None:
                left = float(parts.derated_power(rating, float(air[worst]), parts.RATED_TEMPERATURE, heating.zero_power(dropper)))
                share = float(each[worst]) / left if left > 0 else float("inf")
                overload = held / float(parts.overload_power(rating))
    return Heat(resistor, diode, share, stall, overload, winding, limit, around.room, float(np.max(air)))
