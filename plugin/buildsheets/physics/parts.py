"""Resistors and wire: preferred values, markings, ratings, and what a length of wire loses."""

from __future__ import annotations

import re

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

OVERLOAD_TIME = 5.0
"""Length of the short-time overload test [s] (IEC 60115-1, source opened)."""

USUAL_RATINGS = (0.125, 0.25, 0.5, 1.0, 2.0, 3.0, 5.0)
"""Ratings of leaded resistors [W] (IEC 60115 glossary, source opened)."""

CLOSED_BODY_SHARE = 0.5
"""Share of its rating that a resistor should bear in a closed body [-] (common practice; better a third)."""

AWG_REFERENCE_DIAMETER = 0.127e-3
"""Diameter of AWG 36 [m] (ASTM B258, source opened)."""

AWG_STEP_RATIO = 92.0 ** (1.0 / 39.0)
"""Diameter of a gauge over the next thinner one [-] (ASTM B258, source opened)."""

COPPER_RESISTIVITY = 1.7241e-8
"""Annealed copper at 20 degC [ohm m] (100 % IACS, from memory)."""

STRANDS = 7
"""Strands of usual loco wire [-]; each is 8 gauges thinner than the wire's number (two wire tables, source opened)."""

STRAND_GAUGE_STEP = 8
"""Gauges from the wire's number to its strands' [-] (two wire tables, source opened: AWG 32 is 7 x AWG 40)."""

WIRE_BENCH_CURRENT = {32: 0.5, 30: 0.8, 28: 1.2}
"""Steady current for bundled wire in a loco by AWG number [A] (common practice)."""


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
    _, _, exponents = _decade([low, high], series)
    decades = np.arange(exponents[0], exponents[1] + 1)
    values = _scaled(preferred_values(series)[None, :].astype(float), decades[:, None]).ravel()
    return values[(values >= low * (1.0 - 1e-9)) & (values <= high * (1.0 + 1e-9))]


_LETTERS = {"R": 0, "K": 3, "M": 6}
_LETTER_CODE = re.compile(r"(?P<whole>\d*)(?P<letter>[RrKkM])(?P<part>\d*)")


def letter_code(ohms: float) -> str:
    """Resistance in the letter code of part markings, to three figures.

    Parameters
    ----------
    ohms : float
        Resistance, from 0.001 up to 999 million [ohm].

    Returns
    -------
    str
        Code such as R47, 4R7, 68R, 2K2, 1M0 [text].

    Raises
    ------
    ValueError
        A resistance out of range.

    References
    ----------
    IEC 60062: the letter stands for the decimal point and the multiplier; source opened.
    """
    if not 0.001 <= ohms < 999.5e6:
        raise ValueError(f"a letter code is for 0.001 ohm to 999 Mohm, not {ohms}")
    rounded = float(f"{ohms:.3g}")
    letter, power = next(
        (letter, power) for letter, power in reversed(_LETTERS.items()) if rounded >= 10**power or not power
    )
    whole, _, part = f"{rounded / 10**power:.5f}".partition(".")
    part = part.rstrip("0")
    if len(whole) == 1 and not part:
        part = "0"
    return f"{whole.lstrip('0')}{letter}{part}"


def parse_letter_code(code: str) -> float:
    """Resistance that a letter code stands for.

    Parameters
    ----------
    code : str
        Code such as R47, 4R7, 4k7, 68R [text]. A small m is refused: it means milli elsewhere.

    Returns
    -------
    float
        Resistance [ohm].

    Raises
    ------
    ValueError
        Text that is not a letter code.

    References
    ----------
    IEC 60062; source opened.
    """
    match = _LETTER_CODE.fullmatch(code)
    if match is None or not match["whole"] + match["part"]:
        raise ValueError(f"{code!r} is not a letter code such as 4R7, 220R or 2K2")
    return float(f"{match['whole'] or 0}.{match['part'] or 0}e{_LETTERS[match['letter'].upper()]}")


def colour_bands(ohms: float, tolerance_percent: float) -> tuple[str, ...]:
    """Colours of the bands on a leaded resistor, the band nearest the end of the body first.

    Parameters
    ----------
    ohms : float
        Resistance [ohm].
    tolerance_percent : float
        Marked tolerance [%].

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
    figures = 3 if tolerance_percent <= 2.0 else 2
    digits, exponent = f"{ohms:.{figures - 1}e}".split("e")
    power = int(exponent) - figures + 1
    multiplier = DIGIT_COLOURS[power] if 0 <= power <= 9 else FRACTION_COLOURS.get(power)
    if ohms <= 0 or multiplier is None or not np.isclose(float(f"{digits}e{exponent}"), ohms, rtol=1e-9):
        raise ValueError(f"{figures} figures and a multiplier cannot show {ohms} ohm")
    colours = [DIGIT_COLOURS[int(digit)] for digit in digits.replace(".", "")]
    return (*colours, multiplier, TOLERANCE_COLOURS[tolerance_percent])


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
    """Power that a resistor bears for `OVERLOAD_TIME`.

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


def rating_for(power: float, share: float = CLOSED_BODY_SHARE) -> float:
    """Smallest usual rating that bears a power with room to spare.

    Parameters
    ----------
    power : float
        Power in the part [W].
    share : float
        Share of the rating it may use [-].

    Returns
    -------
    float
        Rating [W].

    Raises
    ------
    ValueError
        More power than the largest usual part bears: share it among several.

    References
    ----------
    `USUAL_RATINGS` (source opened); half of the rating in a closed body is common practice.
    """
    for rating in USUAL_RATINGS:
        if power <= share * rating:
            return rating
    raise ValueError(f"no usual part bears {power:.3g} W at {share:.0%} of its rating; share it among several")


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


def wire_diameter(gauge: Array) -> Floats:
    """Diameter of a solid wire.

    Parameters
    ----------
    gauge : array_like
        AWG number; 0 for 0, -1 for 00, -3 for 0000 [-].

    Returns
    -------
    ndarray
        Diameter [m].

    References
    ----------
    ASTM B258: 0.127 mm x 92^((36 - n)/39); source opened.
    """
    diameter: Floats = AWG_REFERENCE_DIAMETER * AWG_STEP_RATIO ** (36.0 - np.asarray(gauge, dtype=float))
    return diameter


def wire_resistance(gauge: Array, length: Array, stranded: bool = True) -> Floats:
    """Resistance of a copper wire at 20 degC.

    Parameters
    ----------
    gauge : array_like
        AWG number [-].
    length : array_like
        Length, there and back where both count [m].
    stranded : bool
        Seven strands, each 8 gauges thinner, as usual in locos; else solid [-].

    Returns
    -------
    ndarray
        Resistance [ohm]. Lay and tinning add up to 5 % to a stranded wire (from memory).

    References
    ----------
    ASTM B258 (source opened); resistivity of annealed copper, from memory.
    """
    number = np.asarray(gauge, dtype=float)
    diameter = wire_diameter(number + STRAND_GAUGE_STEP if stranded else number)
    area = (STRANDS if stranded else 1) * np.pi / 4.0 * diameter**2
    resistance: Floats = COPPER_RESISTIVITY * np.asarray(length, dtype=float) / area
    return resistance


def wire_drop(gauge: Array, length: Array, current: Array, stranded: bool = True) -> Floats:
    """Voltage lost in a wire.

    Parameters
    ----------
    gauge : array_like
        AWG number [-].
    length : array_like
        Length, there and back where both count [m].
    current : array_like
        Current [A].
    stranded : bool
        See `wire_resistance` [-].

    Returns
    -------
    ndarray
        Voltage, broadcast over the inputs [V].

    References
    ----------
    Ohm's law on `wire_resistance`.
    """
    drop: Floats = wire_resistance(gauge, length, stranded) * np.asarray(current, dtype=float)
    return drop
