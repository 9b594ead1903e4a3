"""Numbers in words a builder reads: two or three significant figures, a thin space, a unit, a band where there is one."""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import lru_cache
from math import floor, isfinite, log10

from buildsheets.languages import _, noted, speaking, translated

THIN = "\u202f"  # narrow no-break space: number and unit never part at a line end
MINUS = "\u2212"
UNKNOWN = noted("not known")
KM_PER_MILE = 1.609344  # km; the international yard and pound agreement of 1959, exact

SMALLEST_WRITTEN_OUT = 1e-4  # below this a row of zeros is misread; powers of ten instead
SUPERSCRIPT = str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹")
PRINTED_UNITS = {"deg": "°", "degC": "°C", "kg m2": "kg m²"}

_UNITS = "°C|°|%|km/h|mph|rpm|[kmµ]?Hz|[kMm]?Ω|ohm|[mµ]?[VAWJF]|m?N m|m?N|[mµ]?s|[mk]?g|[mkcµ]?m|K/W|K"
_PARTED = re.compile(rf"(?<=[0-9⁰¹²³⁴⁵⁶⁷⁸⁹]) (?=(?:{_UNITS})(?![\w/]))|(?<=[0-9]) (?=: [0-9])|(?<=[0-9] :) (?=[0-9])")

PREFIXED = ("A", "V", "W", "ohm")
"""Units of a window that take a prefix."""
PREFIXES = {-9: "n", -6: "µ", -3: "m", 0: "", 3: "k", 6: "M"}


def number(value: float | None, digits: int = 3) -> str:
    """Return a number with so many significant figures, thousands apart from five figures up.

    Parameters
    ----------
    value : float or None
        The number [any]; None or a number that is not finite gives "not known".
    digits : int
        Significant figures [1]; figures left of the decimal point are never cut off.
    """
    if value is None or not isfinite(value):
        return translated(UNKNOWN)
    return _in_figures(value, digits).replace(".", speaking().decimal)


@lru_cache(maxsize=4096)  # a sheet says most of its numbers several times
def _in_figures(value: float, digits: int) -> str:
    if value == 0:
        return "0"
    if abs(value) < SMALLEST_WRITTEN_OUT:
        return _power_of_ten(value, digits)
    places = _decimals(value, digits)
    rounded = round(value, places)
    if rounded:
        places = _decimals(rounded, digits)
    text = f"{abs(rounded):,.{max(places, 0)}f}"
    sign = MINUS if rounded < 0 else ""
    return sign + _thousands(text)


def _power_of_ten(value: float, digits: int) -> str:
    mantissa, _, power = f"{value:.{digits - 1}e}".partition("e")
    return f"{mantissa.replace('-', MINUS)}{THIN}×{THIN}10{str(int(power)).translate(SUPERSCRIPT)}"


def _with_unit(text: str, unit: str) -> str:
    if not unit or text == translated(UNKNOWN):
        return text
    printed = PRINTED_UNITS.get(unit, unit)
    return text + printed if printed == "°" else f"{text}{THIN}{printed}"


def unbroken(text: str) -> str:
    """Return a sentence in which no line ends between a number and its unit, or inside a ratio such as "35.6 : 1".

    Parameters
    ----------
    text : str
        Words of the program, never of a record: what a builder wrote stays as it is.
    """
    return _PARTED.sub(THIN, text)


def _decimals(value: float, digits: int) -> int:
    return max(digits - 1 - floor(log10(abs(value))), 0)


def _thousands(text: str) -> str:
    whole = text.partition(".")[0].replace(",", "")
    return text.replace(",", THIN if len(whole) > 4 else "")


def quantity(value: float | None, unit: str, digits: int = 3) -> str:
    """Return "78.2 mph" with a thin space, or "not known".

    Parameters
    ----------
    value : float or None
        The number [unit].
    unit : str
        Unit as printed; empty for a pure number.
    digits : int
        Significant figures [1].
    """
    return _with_unit(number(value, digits), unit)



def given(value: float | None, unit: str = "") -> str:
    """Return a value as somebody wrote it: up to four figures, no zeros added behind the point.

    Parameters
    ----------
    value : float or None
        The number [unit].
    unit : str
        Unit as printed.
    """
    text = number(value, 4)
    decimal = speaking().decimal
    if decimal in text and "×" not in text:
        text = text.rstrip("0").rstrip(decimal)
    return _with_unit(text, unit)


def engineering(value: float | None, unit: str, digits: int = 3) -> str:
    """Return a value with a prefix of three powers of ten, "4.20 mH" from 0.0042 H.

    Parameters
    ----------
    value : float or None
        The number [unit].
    unit : str
        Unit without prefix.
    digits : int
        Significant figures [1].
    """
    if value is None or not isfinite(value) or value == 0:
        return quantity(value, unit, digits)
    rounded = float(f"{value:.{digits - 1}e}")
    power = 3 * floor(log10(abs(rounded)) / 3)
    power = min(max(power, min(PREFIXES)), max(PREFIXES))
    return quantity(rounded / 10.0**power, PREFIXES[power] + unit, digits)


def band(pair: Sequence[float | None] | None, unit: str, digits: int = 2) -> str:
    """Return "72 to 84 mph", or one value where both ends print alike.

    Parameters
    ----------
    pair : sequence of two floats, or None
        Low and high end [unit].
    unit : str
        Unit as printed.
    digits : int
        Significant figures [1].
    """
    if pair is None or pair[0] is None or pair[1] is None:
        return translated(UNKNOWN)
    low, high = number(pair[0], digits), number(pair[1], digits)
    if low == high:
        return quantity(pair[0], unit, digits)
    return _with_unit(_("{low} to {high}", low=low, high=high), unit)


def window(low: float | None, high: float | None, unit: str, digits: int = 3) -> str:
    """Return the window of a reading, "25.6 to 30.3 mA"; one that is open at an end says "at least" or "at most".

    Parameters
    ----------
    low, high : float or None
        Ends [unit]; None where the window is open.
    unit : str
        Unit without prefix; "ohm" is printed as its sign, "step" not at all.
    digits : int
        Significant figures [1].
    """
    known = [abs(end) for end in (low, high) if end is not None]
    if not known:
        return translated(UNKNOWN)
    power = 3 * floor(log10(max(known)) / 3) if unit in PREFIXED and max(known) else 0
    power = min(max(power, min(PREFIXES)), max(PREFIXES))
    printed = {"ohm": "Ω", "step": ""}.get(unit, unit)
    figures = given if unit == "step" else lambda value: number(value, digits)
    ends = (None if end is None else figures(end / 10.0**power) for end in (low, high))
    return _with_unit(_between(*ends), PREFIXES[power] + printed)


def _between(low: str | None, high: str | None) -> str:
    if high is None:
        return _("at least {low}", low=low)
    if low is None:
        return _("at most {high}", high=high)
    return low if low == high else _("{low} to {high}", low=low, high=high)


def in_speed_unit(mph: float, unit: str) -> float:
    """Return a speed given in mph in the unit the club chose.

    Parameters
    ----------
    mph : float
        Speed [mph].
    unit : str
        "mph" or "km/h"; anything else raises ValueError.
    """
    if unit == "mph":
        return mph
    if unit == "km/h":
        return mph * KM_PER_MILE
    raise ValueError(f"speed unit must be mph or km/h, not {unit!r}")


def speed(mph: float | None, unit: str = "mph", digits: int = 2) -> str:
    """Return a speed given in mph as words in the unit the club chose.

    Parameters
    ----------
    mph : float or None
        Speed [mph].
    unit : str
        "mph" or "km/h".
    digits : int
        Significant figures [1].
    """
    return translated(UNKNOWN) if mph is None else quantity(in_speed_unit(mph, unit), unit, digits)


def speed_band(pair: Sequence[float] | None, unit: str = "mph", digits: int = 2) -> str:
    """Return a band of speeds given in mph as words in the unit the club chose.

    Parameters
    ----------
    pair : sequence of two floats, or None
        Low and high speed [mph].
    unit : str
        "mph" or "km/h".
    digits : int
        Significant figures [1].
    """
    return translated(UNKNOWN) if pair is None else band([in_speed_unit(end, unit) for end in pair], unit, digits)


def percent(share: float | None, digits: int = 2) -> str:
    """Return a share in percent, "12 %" from 0.12.

    Parameters
    ----------
    share : float or None
        Share [1].
    digits : int
        Significant figures [1].
    """
    return quantity(None if share is None else 100.0 * share, "%", digits)


def money(value: float | None, currency: str | None) -> str:
    """Return a price with two decimals and its currency.

    Parameters
    ----------
    value : float or None
        Price [currency].
    currency : str or None
        Code or sign of the currency; None prints the bare number.
    """
    if value is None:
        return translated(UNKNOWN)
    text = _thousands(f"{value:,.2f}").replace(".", speaking().decimal)
    return f"{text}{THIN}{currency}" if currency else text
