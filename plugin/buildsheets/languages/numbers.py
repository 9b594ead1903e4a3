"""Numbers inside finished English text, as another language or the other unit of speed writes them."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from buildsheets.languages import Language

THIN = "\u202f"
RANGE = "{low} to {high}"
_NUMBER = rf"[−-]?\d+(?:[ {THIN}]\d{{3}})*(?:\.\d+)?(?:[ {THIN}]?×[ {THIN}]?10[⁻⁰¹²³⁴⁵⁶⁷⁸⁹]+)?"
_UNIT = r"(?:°C|°|%|km/h|mph|rpm|[kmµ]?Hz|[kMm]?Ω|ohm|kilohm|[mµ]?[VAWJFH]|m?N m|m?N|[mµ]?s|[mk]?g|[mkcµ]?m|mm|m/s²|K/W|K|h|: 1|[A-Z]{3})"
_ONE = _NUMBER.replace(r"\.", "[.,]")  # words that were put together in the other language hold its numbers already
_VALUE = re.compile(rf"(?:±[ {THIN}]?)?(?:CV)?({_ONE})(?: (\w+) ({_ONE}))?[ {THIN}]?{_UNIT}?|\d+:\d+")
_MPH = re.compile(rf"({_NUMBER})(?: to ({_NUMBER}))?([ {THIN}])mph(?![\w/])")
_BOTH = re.compile(rf"{_NUMBER}(?: to {_NUMBER})?[ {THIN}]mph \(([^()]*km/h)\)")


def localised(text: str, language: Language) -> str | None:
    """Return a number, or two with "to" between, with its unit as a language writes it; None for any other words.

    Parameters
    ----------
    text : str
        English text.
    language : Language
        Whose decimal sign and joining word are wanted.
    """
    if not text.strip(" ,.;:()–-×=/"):
        return text
    match = _VALUE.fullmatch(text)
    if match is None:
        return None
    low, between, high = match.groups()
    if high is not None:
        joined = language.messages.get(RANGE, RANGE)
        if between != "to" and between not in joined.split():  # such as "of", which joins no ends
            return None
        text = text.replace(f"{low} to {high}", joined.format(low=low, high=high))
    return text.replace(".", language.decimal)


def in_km_per_hour(text: str) -> str:
    """Return English text whose speeds in mph stand in km/h, to as many figures; where both stood, one is left.

    Parameters
    ----------
    text : str
        Words of the program.
    """
    if "mph" not in text:
        return text
    return _MPH.sub(_converted, _BOTH.sub(r"\1", text))


def _converted(match: re.Match[str]) -> str:
    from buildsheets.numerals import in_speed_unit, number

    ends = []
    for written in match.group(1, 2):
        if written is not None:
            plain = re.sub(rf"[ {THIN}]", "", written).replace("−", "-")
            ends.append(number(in_speed_unit(float(plain), "km/h"), max(len(re.sub(r"\D", "", plain).lstrip("0")), 2)))
    return f"{' to '.join(ends)}{match[3]}km/h"
