"""Voltage across silicon and Schottky rectifiers, single and in anti-parallel pairs, as droppers use them.

References
----------
The diode equation with series resistance is the static part of the SPICE diode model. The cards are those found in
public simulator libraries (source opened); the temperature is the 300.15 K at which cards are stated.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

BOLTZMANN = 1.380649e-23  # [J/K], exact in the SI
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
    """

    name: str
    saturation_current: float
    emission: float
    series_resistance: float
    source: str


SILICON = DiodeCard(
    "silicon rectifier", 7.02767e-9, 1.80803, 0.0341512,
    "1N4007 card, the fit found in most public simulator libraries (source opened)",
)
SCHOTTKY = DiodeCard(
    "Schottky rectifier", 31.7e-6, 1.373, 0.051,
    "1N5817 to 1N5819 card of public simulator libraries (source opened)",
)


def diode_voltage(current: ArrayLike, card: DiodeCard = SILICON) -> NDArray[np.float64]:
    """Return the forward voltage of one diode [V] at 300.15 K.

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
    """Return the voltage across two equal diodes back to back in parallel [V] at 300.15 K, odd in the current.

    Parameters
    ----------
    current
        Current through the pair [A], either sign, any shape.
    card
        Either diode of the pair.

    Notes
    -----
    The forward current of one less the leakage of the other is I = 2 IS sinh(V / (N Vt)), so
    V = N Vt asinh(I / (2 IS)) + I RS; the leakage is too small to tell in RS.
    """
    current = np.asarray(current, dtype=float)
    junction = card.emission * THERMAL_VOLTAGE * np.arcsinh(current / (2.0 * card.saturation_current))
    return junction + current * card.series_resistance
