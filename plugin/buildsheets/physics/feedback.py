"""What a decoder's back-EMF feedback reads, and how far it can hold a speed.

For a reading the decoder stops its pulses, waits until the winding's current has died, and looks at its own output
through a high resistance. EMF, winding, dropper and measuring resistance are then one direct-current loop of
microamps: a resistor loses nothing to speak of, a diode string keeps back its drop at that small current.

References
----------
Principle of the reading: motor tutorials, from memory. Diode law and cards: `buildsheets.physics.diodes`. The
loop is checked against a circuit simulator's operating points.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from buildsheets.physics.diodes import SILICON, THERMAL_VOLTAGE, DiodeCard, junction_level

Array = NDArray[np.float64]

MEASURING_RESISTANCE = 100e3
"""Of a decoder's sensing input [ohm]; a divider ahead of a converter, common practice."""
BYPASS_RESISTANCE = 1000.0
"""Across a diode string, to let the reading through [ohm]; common practice."""
VISIBLE_SHARE = 0.5
"""Least share of the true EMF that counts as seeing the motor [1]; our choice: below it more is hidden than read."""
DECAY_CONSTANTS = 5.0
"""Time constants L/R after which under 1 % of the winding's current is left [1]."""


def sensed_voltage(
    emf: ArrayLike,
    series_resistance: ArrayLike,
    measuring_resistance: ArrayLike = MEASURING_RESISTANCE,
    diode_pairs: int = 0,
    diode_card: DiodeCard = SILICON,
    bypass_resistance: ArrayLike | None = None,
) -> Array:
    """Return the voltage a decoder reads at its output with the pulses stopped [V].

    Parameters
    ----------
    emf
        True EMF [V], either sign; all arrays broadcast.
    series_resistance
        Winding and resistor bank together [ohm].
    measuring_resistance
        Of the decoder's input [ohm], above zero.
    diode_pairs
        Anti-parallel pairs in series.
    diode_card
        The diode they are made of.
    bypass_resistance
        Across the whole string [ohm], infinite for none; where it is not given, that of the card.

    Raises
    ------
    ValueError
        If a resistance or the number of pairs lies outside its bounds.
    """
    emf = np.asarray(emf, dtype=float)
    return emf * reading_share(
        emf, series_resistance, measuring_resistance, diode_pairs, diode_card, bypass_resistance
    )


def reading_share(
    emf: ArrayLike,
    series_resistance: ArrayLike,
    measuring_resistance: ArrayLike = MEASURING_RESISTANCE,
    diode_pairs: int = 0,
    diode_card: DiodeCard = SILICON,
    bypass_resistance: ArrayLike | None = None,
) -> Array:
    """Return what the decoder reads as a share of the true EMF [1]; at zero EMF the limit of ever smaller ones.

    Parameters and errors as in `sensed_voltage`.

    Notes
    -----
    With w the junction voltage of a pair over N V_t, r the two resistances of the loop together and R_b the
    bypass, the loop is E = A w + B sinh w, where A = n N V_t (1 + r / R_b) and
    B = 2 I_S (r + n R_S (1 + r / R_b)). The reading is R_m times the current of string and bypass.
    """
    across = _string_bypass(diode_pairs, diode_card) if bypass_resistance is None else bypass_resistance
    emf, series, measuring, bypass = np.broadcast_arrays(
        *(np.asarray(v, dtype=float) for v in (emf, series_resistance, measuring_resistance, across))
    )
    _refuse_impossible(series, measuring, bypass, diode_pairs)
    loop = series + measuring
    if not diode_pairs:
        return np.asarray(measuring / loop)
    junction = diode_pairs * diode_card.emission * THERMAL_VOLTAGE
    slow = junction * (1.0 + loop / bypass)
    leak = 2.0 * diode_card.saturation_current
    steep = leak * (loop + diode_pairs * diode_card.series_resistance * (1.0 + loop / bypass))
    level = junction_level(np.abs(emf), slow, steep)
    # sinh(w)/w: both currents and the EMF share the factor w, which leaves a share that is sound at zero.
    growth = np.where(level > 0.0, np.sinh(level) / np.where(level > 0.0, level, 1.0), 1.0)
    string_volts = junction + diode_pairs * diode_card.series_resistance * leak * growth
    current = leak * growth + string_volts / bypass
    return np.asarray(measuring * current / (slow + steep * growth))


def emf_behind(
    reading: ArrayLike,
    series_resistance: ArrayLike,
    measuring_resistance: ArrayLike = MEASURING_RESISTANCE,
    diode_pairs: int = 0,
    diode_card: DiodeCard = SILICON,
    bypass_resistance: ArrayLike | None = None,
) -> Array:
    """Return the true EMF behind a reading [V]: the inverse of `sensed_voltage`.

    Parameters
    ----------
    reading
        Voltage at the decoder's output with the pulses stopped [V], not negative.
    series_resistance, measuring_resistance, diode_pairs, diode_card, bypass_resistance
        As in `sensed_voltage`.

    Raises
    ------
    ValueError
        If a quantity lies outside its bounds.

    Notes
    -----
    The reading's current I = reading / R_m divides between string and bypass, I = A w + B sinh w with A = n N V_t / R_b
    and B = 2 I_S (1 + n R_S / R_b); the string's volts are then added.
    """
    across = _string_bypass(diode_pairs, diode_card) if bypass_resistance is None else bypass_resistance
    reading, series, measuring, bypass = np.broadcast_arrays(
        *(np.asarray(v, dtype=float) for v in (reading, series_resistance, measuring_resistance, across))
    )
    if np.any(reading < 0.0):
        raise ValueError("a reading must not be negative here")
    _refuse_impossible(series, measuring, bypass, diode_pairs)
    current = reading / measuring
    if not diode_pairs:
        return np.asarray(reading + current * series)
    junction = diode_pairs * diode_card.emission * THERMAL_VOLTAGE
    resistance, leak = diode_pairs * diode_card.series_resistance, 2.0 * diode_card.saturation_current
    level = junction_level(current, np.maximum(junction / bypass, np.finfo(float).tiny), leak * (1.0 + resistance / bypass))
    return np.asarray(reading + current * series + junction * level + resistance * leak * np.sinh(level))


def _string_bypass(diode_pairs: int, diode_card: DiodeCard) -> float:
    """Return the resistor across the whole string that the card's own amounts to [ohm]; infinite for no pairs."""
    return diode_pairs * diode_card.bypass if diode_pairs else np.inf


def _refuse_impossible(series: Array, measuring: Array, bypass: Array, diode_pairs: int) -> None:
    if np.any(series < 0.0) or not np.all(measuring > 0.0) or not np.all(bypass > 0.0) or diode_pairs < 0:
        raise ValueError("measuring and bypass resistance must be above zero, series resistance and pairs not below")


def visible_from_step(share: ArrayLike) -> int | None:
    """Return the first step from which the reading stays at half the true EMF or more; None if it never does.

    Parameters
    ----------
    share
        Reading over true EMF [1] at steps 1, 2, ...
    """
    hidden = np.flatnonzero(np.asarray(share, dtype=float) < VISIBLE_SHARE)
    first = int(hidden[-1]) + 2 if hidden.size else 1
    return first if first <= np.size(share) else None


def saturation_step(target: ArrayLike, full_reading: float) -> int | None:
    """Return the lowest step whose target needs more than full on-time; None if all can be held.

    Parameters
    ----------
    target
        Reading the decoder aims at [V] at steps 1, 2, ...
    full_reading
        What it reads of the loaded motor at full on-time, running steadily [V].
    """
    beyond = np.flatnonzero(np.asarray(target, dtype=float) > full_reading)
    return int(beyond[0]) + 1 if beyond.size else None


def held_emf(target_emf: ArrayLike, full_emf: ArrayLike) -> Array:
    """Return the steady EMF in closed loop [V]: the target, or what full on-time gives where that is less.

    Parameters
    ----------
    target_emf
        EMF the decoder aims at [V], any shape.
    full_emf
        Steady EMF at full on-time [V].
    """
    return np.asarray(np.minimum(np.asarray(target_emf, dtype=float), full_emf))


def current_decay_time(inductance: ArrayLike, resistance: ArrayLike) -> Array:
    """Return how long the winding's current falsifies a reading after the last pulse [s]: five time constants.

    Parameters
    ----------
    inductance
        Of the winding [H].
    resistance
        Winding and resistor bank together [ohm], above zero.

    Notes
    -----
    An upper bound: diodes in the path and the EMF itself only shorten it.
    """
    return np.asarray(DECAY_CONSTANTS * np.asarray(inductance, dtype=float) / np.asarray(resistance, dtype=float))
