"""The figures' own sentences in the language and the unit of speed of the sheet; what a record says stays as it is."""

from __future__ import annotations

import re
from typing import Any, TypeAlias, cast

from markupsafe import Markup

from buildsheets.figures.format import Figures
from buildsheets.languages import phrasebook, speaking
from buildsheets.languages.numbers import THIN, in_km_per_hour
from buildsheets.numerals import unbroken
from buildsheets.sheet.options import SheetOptions

Spec: TypeAlias = "str | dict[str, Spec]"

SAID: dict[str, Spec] = {
    "glance": "label value sentence",
    "verdicts": "subject@heard message",
    "cautions": "title text because basis",
    "assumed": "label why basis value",
    "missing": "how_to_measure",
    "head": "drive drive_in",
    "gearing": {"stages": "verdict"},
    "decoder": {
        "": "lacks silent remarks",
        "settings": "name",
        "advised": "name why",
        "configuration": "text as_set_text",
        "address": "text",
        "instead": "instead text",
    },
    "parts": "~used_for",
    "calibration": {
        "": "statements",
        "left_out": "why",
        "parameters": "label says",
        "residuals": "quantity",
        "next_reading": "text because",
    },
    "working": "section name source",
    "feedback": {"tuning": {"routine": "do look_for then", "next": "text because"}},
    "steps": {"": "title", "steps": "text"},
    "hold_points": "quantity how condition outside",
    "spread": {"": "finding", "contributions": "label", "tolerances": "label basis"},
    "options": "~name why",
    "options_rejected": "class because",
    "fit": {"keep_outs": "~nearest", "placed": "~nearest", "problems": "text"},
    "wiring": {"": "frame insulation sources", "wires": "wire_colour from to note", "suppression": "part fate why"},
    "bank": "window bands_note",
}
"""Where in the figures the program speaks: fields by name, under the name of what holds them, "" for its own.

A field after "~" may hold words of the record as well: what has no translation is not marked as English there. What
follows "@" is the sense in which a word is meant."""
IN_THE_BUILDERS_WORDS = "own"
"""A step so marked is Markdown from the record."""

_FOREIGN = '<span lang="en">'
_WORDS = re.compile(r"[A-Za-z]{3}")


def told(figures: Figures, options: SheetOptions) -> Figures:
    """Return figures whose sentences are in the language and the unit of the sheet; the same where both are the source's.

    Parameters
    ----------
    figures : Figures
        The figures of one build, which stay as they are.
    options : SheetOptions
        Choices of the club.
    """
    if options.language.english and options.speed_unit == "mph":
        return figures
    with options.language.spoken():
        said_all = {key: _told(figures.get(key), spec, options.speed_unit) for key, spec in SAID.items()}
    return cast(Figures, {**figures, **said_all})


def _told(value: Any, spec: Spec, unit: str) -> Any:
    if isinstance(value, list):
        return [_told(part, spec, unit) for part in value]
    if not isinstance(value, dict) or value.get(IN_THE_BUILDERS_WORDS) is True:
        return value
    out = dict(value)
    if isinstance(spec, dict):
        for key, inner in spec.items():
            if key:
                out[key] = _told(value.get(key), inner, unit)
        spec = str(spec.get("", ""))
    for name in spec.split():
        key, _, context = name.removeprefix("~").partition("@")
        say = said_plainly if name.startswith("~") else said
        if context and value.get(key):
            out[key] = translated_as(value[key], context, unit)
            continue
        if isinstance(value.get(key), list):
            out[key] = [say(text, unit) for text in value[key]]
        elif isinstance(value.get(key), str):
            out[key] = say(value[key], unit)
    return out


def said(text: str, unit: str = "mph") -> str:
    """Return a finished sentence in the language of what is being rendered, marked as English where it has no translation.

    Parameters
    ----------
    text : str
        English words of the program.
    unit : str
        "mph" or "km/h".
    """
    words = _translation(text, unit)
    if words is None:
        return Markup(_FOREIGN + "{}</span>").format(_in_unit(text, unit))
    return words


def said_plainly(text: str, unit: str = "mph") -> str:
    """Return the same without a mark, for drawings and attributes.

    Parameters
    ----------
    text : str
        English words of the program.
    unit : str
        "mph" or "km/h".
    """
    words = _translation(text, unit)
    return _in_unit(text, unit) if words is None else words


def translated_as(text: str, context: str, unit: str = "mph") -> str:
    """Return a word that means several things, in the sense of the place where it stands.

    Parameters
    ----------
    text : str
        The word, such as "sound".
    context : str
        The sense, such as "heard": the catalogue then has "sound (heard)" beside "sound".
    unit : str
        "mph" or "km/h".
    """
    return speaking().messages.get(f"{text} ({context})") or said(text, unit)


def sentence(text: str) -> str:
    """Return words that begin with a capital; unlike the usual filter it leaves the others alone.

    Parameters
    ----------
    text : str
        Words, which may be marked as English.
    """
    start = len(_FOREIGN) if text.startswith(_FOREIGN) else 0
    return text[:start] + text[start : start + 1].upper() + text[start + 1 :]


def _in_unit(text: str, unit: str) -> str:
    return in_km_per_hour(text) if unit == "km/h" else text


def _translation(text: str, unit: str) -> str | None:
    """Return the translation; words of the source as they are while English is spoken; None where there is none."""
    language = speaking()
    if language.english:
        return _in_unit(text, unit)
    found = phrasebook(language).find(text.replace(THIN, " "), unit)
    if found is None:
        return None if _WORDS.search(text) else text
    return unbroken(found)
