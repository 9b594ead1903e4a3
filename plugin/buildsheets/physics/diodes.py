"""Voltage across silicon and Schottky rectifiers, single and in anti-parallel pairs, as droppers use them.

References
----------
The diode equation with series resistance is the static part of the SPICE diode model. The cards are those found in
public simulator libraries (source opened); the temperature is the 300.15 K at which cards are stated.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

BOLTZMANN = 1.380649e-23  # [J/K], exact in the SI
MOST_STEPS = 60
# A step of Halley's method cubes its error: what one so small leaves is below rounding [share].
LAST_STEP = 1e-6
# Of a step of Newton's: the divisor of Halley's, taken no smaller [1].
LEAST_SHARE = 0.25
ELEMENTARY_CHARGE = 1.602176634e-19  # [C], exact in the SI
CARD_TEMPERATURE = 300.15  # [K], the nominal temperature of SPICE cards
THERMAL_VOLTAGE = BOLTZMANN * CARD_TEMPERATURE / ELEMENTARY_CHARGE  # [V], 0.0258649


@dataclass(frozen=True)
class DiodeCard:
    """Static model of one diode.

    Parameters
    ----------
    name
        Kind of diode as a sheet may print it.
    saturation_current
        IS [A].
    emission
        Emission coefficient N [1].
    series_resistance
        RS [ohm].
    source
        Where the three numbers come from.
    bypass
        Resistor across a pair of them [ohm]; infinite for none. One resistor across a string of n pairs is the same as
        an n-th of it across each.
    """

    name: str
    saturation_current: float
    emission: float
    series_resistance: float
    source: str
    bypass: float = math.inf


SILICON = DiodeCard(
    "silicon rectifier", 7.02767e-9, 1.80803, 0.0341512,
    "1N4007 card, the fit found in most public simulator libraries (source opened)",
)
SCHOTTKY = DiodeCard(
    "Schottky rectifier", 31.7e-6, 1.373, 0.051,
    "1N5817 to 1N5819 card of public simulator libraries (source opened)",
)


def diode_voltage(current: ArrayLike, card: DiodeCard = SILICON) -> NDArray[np.float64]:
    """Return the forward voltage of one diode [V] at 300.15 K, whatever lies across it.

    Parameters
    ----------
    current
        Forward current [A], not negative, any shape.
    card
        The diode.

    Raises
    ------
    ValueError
        If a current is negative: a rectifier's reverse side is not modelled.

    Notes
    -----
    V = N Vt ln(I / IS + 1) + I RS.
    """
    current = np.asarray(current, dtype=float)
    if np.any(current < 0.0):
        raise ValueError("forward current must not be negative")
    junction = card.emission * THERMAL_VOLTAGE * np.log1p(current / card.saturation_current)
    return junction + current * card.series_resistance


def pair_voltage(current: ArrayLike, card: DiodeCard = SILICON) -> NDArray[np.float64]:
    """Return the voltage across two equal diodes back to back in parallel [V] at 300.15 K, bypass included, odd in the current.

    Parameters
    ----------
    current
        Current through pair and bypass [A], either sign, any shape.
    card
        Either diode of the pair.

    Notes
    -----
    The forward current of one less the leakage of the other is I = 2 IS sinh(V / (N Vt)), so
    V = N Vt asinh(I / (2 IS)) + I RS; the leakage is too small to tell in RS. A bypass R takes V / R beside it.
    """
    current = np.asarray(current, dtype=float)
    if math.isfinite(card.bypass):
        return np.asarray(np.copysign(_bypassed_voltage(np.abs(current), card), current))
    junction = card.emission * THERMAL_VOLTAGE * np.arcsinh(current / (2.0 * card.saturation_current))
    return junction + current * card.series_resistance


def _bypassed_voltage(current: NDArray[np.float64], card: DiodeCard) -> NDArray[np.float64]:
    """Return the voltage of a pair beside its bypass at a current that is not negative [V]."""
    volts, leak = card.emission * THERMAL_VOLTAGE, 2.0 * card.saturation_current
    level = junction_level(current, volts / card.bypass, leak * (1.0 + card.series_resistance / card.bypass))
    return np.asarray(volts * level + card.series_resistance * leak * np.sinh(level))


def junction_level(total: ArrayLike, slow: ArrayLike, steep: ArrayLike, guess: ArrayLike | None = None) -> NDArray[np.float64]:
    """Return w of total = slow w + steep sinh w, the junction's level.

    Parameters
    ----------
    total
        Volts or amperes to be divided, not negative, any shape.
    slow, steep
        Above zero, in the same unit; broadcast.
    guess
        A level nearby, if one is known.

    Notes
    -----
    Either term alone would need a higher level, the least of which bounds the search and begins it. Its steps are Halley's, which mind the curvature
    that makes Newton's so short on an exponential.
    """
    total, slow, steep = (np.asarray(v, dtype=float) for v in (total, slow, steep))
    most = np.minimum(total / slow, np.arcsinh(total / steep))
    level = most if guess is None else np.minimum(guess, most)
    for _ in range(MOST_STEPS):
        current = steep * np.sinh(level)
        slope = slow + np.sqrt(steep * steep + current * current)
        newton = (slow * level + current - total) / slope
        step = newton / np.maximum(1.0 - 0.5 * newton * current / slope, LEAST_SHARE)
        level = np.minimum(np.maximum(level - step, 0.0), most)
        if (np.abs(step) <= LAST_STEP * level).all():
            break
    return np.asarray(level)
