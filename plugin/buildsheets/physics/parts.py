"""Resistors: preferred values, markings, ratings, and what stands in series with a load."""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Array = npt.ArrayLike

# IEC 60063; source opened. E6, E12 and E24 do not follow the rounding rule in eight places (27 to 47 and 82).
_E24 = (10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30, 33, 36, 39, 43, 47, 51, 56, 62, 68, 75, 82, 91)


def _rounded(count: int) -> tuple[int, ...]:
    return tuple(round(100 * 10 ** (index / count)) for index in range(count))


PREFERRED_VALUES: dict[str, tuple[int, ...]] = {
    "E6": _E24[::4],
    "E12": _E24[::2],
    "E24": _E24,
    "E48": _rounded(48),
    "E96": _rounded(96),
}
"""Significant figures of each series [-] (IEC 60063, source opened; E48 and E96 are the rounded geometric steps)."""

COMMON_SERIES = ("E6", "E12", "E24", "E96")
"""Series that resistors are sold in, the widest apart first; common practice."""

SERIES_TOLERANCE = {"E6": 20.0, "E12": 10.0, "E24": 5.0, "E48": 2.0, "E96": 1.0}
"""Usual tolerance of a part sold in the series [%] (IEC 60063, source opened)."""

DIGIT_COLOURS = ("black", "brown", "red", "orange", "yellow", "green", "blue", "violet", "grey", "white")
"""Colour of each digit 0 to 9, and of the multiplier with that power of ten [-] (IEC 60062, source opened)."""

FRACTION_COLOURS = {-1: "gold", -2: "silver", -3: "pink"}
"""Colour of the multiplier by power of ten [-] (IEC 60062; gold and silver source opened, pink from memory)."""

TOLERANCE_COLOURS = {
    20.0: "none",
    10.0: "silver",
    5.0: "gold",
    2.0: "red",
    1.0: "brown",
    0.5: "green",
    0.25: "blue",
    0.1: "violet",
}
"""Colour of the last band by tolerance in per cent [-] (IEC 60062; 1, 2, 5, 10 source opened, the rest from
memory)."""

RATED_TEMPERATURE = 70.0
"""Air temperature up to which a resistor bears its whole rating [degC] (IEC 60115-1, source opened)."""

ZERO_TEMPERATURE = 155.0
"""Air temperature at which a film resistor bears nothing [degC] (one specification, source opened; other types
125, 175 or 235)."""

OVERLOAD_VOLTAGE_FACTOR = 2.5
"""Voltage of the short-time overload test over the rated voltage [-] (IEC 60115-1, source opened: 6.25 times the
rated power)."""

RESISTOR_BODIES = {
    0.125: (1.8e-3, 4.0e-3),
    0.25: (2.3e-3, 6.0e-3),
    0.5: (3.2e-3, 9.0e-3),
    1.0: (4.0e-3, 11.0e-3),
    2.0: (5.0e-3, 14.0e-3),
    3.0: (6.0e-3, 17.0e-3),
    5.0: (8.5e-3, 25.0e-3),
}
"""Usual diameter and length of a leaded film resistor's body by rating [W to m, m] (all from memory)."""

CLOSED_BODY_SHARE = 0.5
"""Share of its rating that a resistor should bear in a closed body [-] (common practice; better a third)."""


def preferred_values(series: str) -> npt.NDArray[np.int64]:
    """Significant figures of a preferred series.

    Parameters
    ----------
    series : {"E6", "E12", "E24", "E48", "E96"}
        Series [text].

    Returns
    -------
    ndarray
        Rising, two figures up to E24 and three above [-].

    Raises
    ------
    KeyError
        An unknown series.

    References
    ----------
    IEC 60063; source opened.
    """
    return np.array(PREFERRED_VALUES[series])


def series_of(value: float) -> str | None:
    """First of the common series that holds a value, whatever its decade.

    Parameters
    ----------
    value : float
        Resistance, above zero [ohm].

    Returns
    -------
    str or None
        "E6", "E12", "E24" or "E96"; None for a value that is in none of them.

    Raises
    ------
    ValueError
        A value that is not above zero and finite.

    References
    ----------
    IEC 60063; source opened. Each series up to E24 holds the one before it, so that the first is what shops keep most of.
    """
    return next((name for name in COMMON_SERIES if np.isclose(nearest_preferred(value, name), value, rtol=1e-9, atol=0.0)), None)


def _decade(value: Array, series: str) -> tuple[Floats, Floats, npt.NDArray[np.int64]]:
    """Split values (> 0) into place within the decade and power of ten, beside the series with its next decade."""
    value = np.asarray(value, dtype=float)
    if np.any(~np.isfinite(value) | (value <= 0)):
        raise ValueError("a preferred value needs a finite value above zero")
    figures = preferred_values(series)
    unit = float(figures[0])
    exponent = np.floor(np.log10(value)).astype(np.int64)
    place = _scaled(value, -exponent) * unit
    shift = np.round(np.log10(unit)).astype(np.int64)
    return np.append(figures, 10 * unit), place, exponent - shift


def _scaled(figures: Floats, exponent: npt.NDArray[np.int64]) -> Floats:
    """Times a power of ten, dividing where it is negative so that 47 becomes exactly 4.7."""
    power = 10.0 ** np.abs(exponent)
    return np.where(exponent >= 0, figures * power, figures / power)


def nearest_preferred(value: Array, series: str) -> Floats:
    """Preferred value at the smallest ratio from the wanted one.

    Parameters
    ----------
    value : array_like
        Wanted value, above zero [ohm].
    series : str
        Series [text]; see `preferred_values`.

    Returns
    -------
    ndarray
        Nearest value, in the next decade if that is nearer [ohm].

    Raises
    ------
    KeyError
        An unknown series.
    ValueError
        A value that is not above zero and finite.

    References
    ----------
    IEC 60063 (source opened); distance on a logarithmic scale, as the series are spaced.
    """
    figures, place, exponent = _decade(value, series)
    above = np.clip(np.searchsorted(figures, place), 1, len(figures) - 1)
    low, high = figures[above - 1], figures[above]
    return _scaled(np.where(place * place < low * high, low, high), exponent)


def preferred_at_or_above(value: Array, series: str) -> Floats:
    """Smallest preferred value that is not below the wanted one.

    Parameters
    ----------
    value : array_like
        Wanted value, above zero [ohm].
    series : str
        Series [text]; see `preferred_values`.

    Returns
    -------
    ndarray
        Preferred value [ohm]. A value that misses a preferred one by rounding noise (1e-9) counts as equal to it.

    Raises
    ------
    KeyError
        An unknown series.
    ValueError
        A value that is not above zero and finite.

    References
    ----------
    IEC 60063; source opened.
    """
    figures, place, exponent = _decade(value, series)
    return _scaled(figures[np.searchsorted(figures, place * (1.0 - 1e-9))], exponent)


def preferred_between(low: float, high: float, series: str) -> Floats:
    """All preferred values within a range, ends included.

    Parameters
    ----------
    low, high : float
        Ends of the range, above zero [ohm].
    series : str
        Series [text]; see `preferred_values`.

    Returns
    -------
    ndarray
        Rising values [ohm]; empty if the range holds none.

    Raises
    ------
    KeyError
        An unknown series.
    ValueError
        An end that is not above zero and finite.

    References
    ----------
    IEC 60063; source opened.
    """
    if not (0.0 < low < math.inf and 0.0 < high < math.inf):
        raise ValueError("a preferred value needs a finite value above zero")
    first, last = math.floor(math.log10(low)), math.floor(math.log10(high))
    values = np.concatenate([np.empty(0), *(_one_decade(series, decade) for decade in range(first, last + 1))])
    return values[(values >= low * (1.0 - 1e-9)) & (values <= high * (1.0 + 1e-9))]


@lru_cache(maxsize=256)
def _one_decade(series: str, decade: int) -> Floats:
    """Values of a series from a power of ten to the next [ohm]."""
    figures = preferred_values(series).astype(float)
    return _scaled(figures, np.array(decade - round(math.log10(figures[0]))))


def colour_bands(ohms: float, tolerance_percent: float, figures: int | None = None) -> tuple[str, ...]:
    """Colours of the bands on a leaded resistor, the band nearest the end of the body first.

    Parameters
    ----------
    ohms : float
        Resistance [ohm].
    tolerance_percent : float
        Marked tolerance [%].
    figures : int, optional
        Significant figures shown [-]: three for a value of E48 or E96 with a wide tolerance; else as the tolerance wants.

    Returns
    -------
    tuple of str
        Four colours for 5 % and wider, five for 2 % and tighter [text]; "none" is a band left out (20 %).

    Raises
    ------
    ValueError
        A tolerance without a colour, or a value that the bands cannot show.

    References
    ----------
    IEC 60062; digits and the tolerances 1, 2, 5 and 10 % source opened, the rest from memory.
    """
    if tolerance_percent not in TOLERANCE_COLOURS:
        raise ValueError(f"no band colour stands for a tolerance of {tolerance_percent} %")
    figures = figures or (3 if tolerance_percent <= 2.0 else 2)
    digits, exponent = f"{ohms:.{figures - 1}e}".split("e")
    power = int(exponent) - figures + 1
    multiplier = DIGIT_COLOURS[power] if 0 <= power <= 9 else FRACTION_COLOURS.get(power)
    if ohms <= 0 or multiplier is None or not np.isclose(float(f"{digits}e{exponent}"), ohms, rtol=1e-9):
        raise ValueError(f"{figures} figures and a multiplier cannot show {ohms} ohm")
    colours = [DIGIT_COLOURS[int(digit)] for digit in digits.replace(".", "")]
    return (*colours, multiplier, TOLERANCE_COLOURS[tolerance_percent])


def band_meanings(bands: Sequence[str]) -> tuple[str, ...]:
    """What each band of a resistor says.

    Parameters
    ----------
    bands : sequence of str
        Colours from `colour_bands`, at least four [text].

    Returns
    -------
    tuple of str
        A digit for each figure, the multiplier such as "×10", and the tolerance such as "±5 %" [text].

    References
    ----------
    IEC 60062; see `DIGIT_COLOURS`, `FRACTION_COLOURS` and `TOLERANCE_COLOURS`.
    """
    *digits, multiplier, tolerance = bands
    powers = {colour: power for power, colour in FRACTION_COLOURS.items()} | {
        colour: power for power, colour in enumerate(DIGIT_COLOURS)
    }
    spread = next(percent for percent, colour in TOLERANCE_COLOURS.items() if colour == tolerance)
    factor = f"{10.0 ** powers[multiplier]:g}" if powers[multiplier] < 4 else f"10^{powers[multiplier]}"
    return (*(str(DIGIT_COLOURS.index(colour)) for colour in digits), f"×{factor}", f"±{spread:g} %")


def resistor_body(rating: float | None) -> tuple[float, float]:
    """Size of a leaded film resistor's body as usual for its rating.

    Parameters
    ----------
    rating : float or None
        Rated power [W]; None takes the half-watt size.

    Returns
    -------
    tuple of float
        Diameter and length [m], of the next larger usual rating.

    References
    ----------
    `RESISTOR_BODIES`; from memory.
    """
    wanted = 0.5 if rating is None else min(rating, max(RESISTOR_BODIES))
    return RESISTOR_BODIES[min(known for known in RESISTOR_BODIES if known >= wanted)]


def derated_power(
    rated_power: Array,
    temperature: Array,
    rated_temperature: Array = RATED_TEMPERATURE,
    zero_temperature: Array = ZERO_TEMPERATURE,
) -> Floats:
    """Power that a resistor bears in warm air.

    Parameters
    ----------
    rated_power : array_like
        Rating [W].
    temperature : array_like
        Air around the part [degC].
    rated_temperature : array_like
        Where the derating line begins [degC].
    zero_temperature : array_like
        Where it ends at nothing [degC].

    Returns
    -------
    ndarray
        Power, broadcast over the inputs [W].

    References
    ----------
    IEC 60115-1: full rating to 70 degC, then a straight line; source opened.
    """
    span = np.asarray(zero_temperature, dtype=float) - np.asarray(rated_temperature, dtype=float)
    left = np.asarray(zero_temperature, dtype=float) - np.asarray(temperature, dtype=float)
    power: Floats = np.asarray(rated_power, dtype=float) * np.clip(left / span, 0.0, 1.0)
    return power


def resistor_thermal_resistance(
    rated_power: Array,
    rated_temperature: Array = RATED_TEMPERATURE,
    zero_temperature: Array = ZERO_TEMPERATURE,
) -> Floats:
    """Thermal resistance from a resistor's surface to the air, as its derating line implies.

    Parameters
    ----------
    rated_power : array_like
        Rating [W].
    rated_temperature : array_like
        Where the derating line begins [degC].
    zero_temperature : array_like
        Where it ends at nothing [degC].

    Returns
    -------
    ndarray
        Thermal resistance [K/W]; parts on leads or a board are cooler, so it errs on the safe side.

    References
    ----------
    IEC 60115-1 derating line (source opened), slope computed.
    """
    span = np.asarray(zero_temperature, dtype=float) - np.asarray(rated_temperature, dtype=float)
    resistance: Floats = span / np.asarray(rated_power, dtype=float)
    return resistance


def overload_power(rated_power: Array) -> Floats:
    """Power that a resistor bears for the 5 s of the short-time overload test.

    Parameters
    ----------
    rated_power : array_like
        Rating [W].

    Returns
    -------
    ndarray
        6.25 times the rating [W].

    References
    ----------
    IEC 60115-1 short-time overload, 2.5 times the rated voltage for 5 s; source opened.
    """
    power: Floats = OVERLOAD_VOLTAGE_FACTOR**2 * np.asarray(rated_power, dtype=float)
    return power


def bank_resistance(each: Array, parallel: Array, series: Array = 1) -> Floats:
    """Resistance of a bank of equal resistors.

    Parameters
    ----------
    each : array_like
        Resistance of one [ohm].
    parallel : array_like
        Strings side by side [-].
    series : array_like
        Resistors in each string [-].

    Returns
    -------
    ndarray
        Resistance, broadcast over the inputs [ohm].

    References
    ----------
    Resistors in series and parallel; computed.
    """
    strings = np.asarray(series, dtype=float) / np.asarray(parallel, dtype=float)
    resistance: Floats = np.asarray(each, dtype=float) * strings
    return resistance


def series_resistance(supply: Array, load_voltage: Array, current: Array) -> Floats:
    """Resistance that leaves a load its voltage at a steady current, for a lamp, an LED or a motor.

    Parameters
    ----------
    supply : array_like
        Supply [V].
    load_voltage : array_like
        Voltage of the load [V].
    current : array_like
        Current of the load [A].

    Returns
    -------
    ndarray
        Resistance [ohm]; the part bears the voltage left over times the current.

    References
    ----------
    Ohm's law.
    """
    over = np.asarray(supply, dtype=float) - np.asarray(load_voltage, dtype=float)
    resistance: Floats = over / np.asarray(current, dtype=float)
    return resistance
