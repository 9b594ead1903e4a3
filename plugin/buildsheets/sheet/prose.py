"""The part of a sheet that Markdown and the search see: title, summary, words, the builder's notes."""

from __future__ import annotations

import re

from buildsheets.edition import BODY_MARKER
from buildsheets.figures.format import Figures
from buildsheets.languages import ENGLISH, Language, _
from buildsheets.numerals import UNKNOWN
from buildsheets.sheet.words import search_words

_CONTROL = re.compile(r"[\x00-\x08\x0b-\x1f\x7f\u2028\u2029]")
_SPECIAL = re.compile(r"([\\`*_\[\]#!>~|])")
# Browsers drop white space inside a scheme, so the letters may stand apart.
_LIVE_SCHEME = re.compile(r"(?i)(" + "|".join(r"\s*".join(word) for word in ("javascript", "vbscript", "data")) + r")\s*:")
_HEADING = re.compile(r"(?m)^( {0,3})(#{1,6})(?=\s)")


def plain(text: str) -> str:
    """Return text on one line that Markdown shows letter by letter.

    Parameters
    ----------
    text : str
        Words from a record.
    """
    line = " ".join(_CONTROL.sub(" ", text).split())
    return _SPECIAL.sub(r"\\\1", _without_markup(line))


def _without_markup(text: str) -> str:
    """Return text whose brackets, entities, braces and slashes reach no parser (attribute lists, macros, blocks of HTML)."""
    return text.replace("&", "&amp;").replace("<", "&lt;").replace("{", "&#123;").replace("///", "&#47;//")


def safe_notes(markdown: str) -> str:
    """Return notes that keep their Markdown but no raw HTML, no live scheme, no picture from outside.

    Parameters
    ----------
    markdown : str
        The builder's notes.

    Notes
    -----
    Headings go down two levels, below the sheet's own. A picture becomes a link: a page asks nothing of other hosts.
    """
    text = _CONTROL.sub("", markdown.replace("\r\n", "\n").replace("\r", "\n"))
    text = _without_markup(text)
    text = re.sub(r"!+\[", "[", text)
    text = _LIVE_SCHEME.sub(lambda match: match[1] + "\u200b:", text)
    return _HEADING.sub(lambda match: match[1] + "#" * min(len(match[2]) + 2, 6), text).strip()


def render_prose(figures: Figures, language: Language = ENGLISH) -> str:
    """Return the Markdown of a sheet's page: title, the place of the sheet itself, notes, and the words to find it by.

    Parameters
    ----------
    figures : Figures
        The figures of one build.
    language : Language
        What the fixed words are printed in.
    """
    with language.spoken():
        return _rendered(figures)


def _rendered(figures: Figures) -> str:
    summary = figures["head"]["summary"]
    words = " · ".join(f"{label}: {plain(value)}" for label, value in search_words(figures))
    blocks = [f"# {plain(figures['title']) or UNKNOWN}", BODY_MARKER]
    if figures["notes_markdown"]:
        blocks += ["## " + _("Builder’s notes"), safe_notes(figures["notes_markdown"])]
    blocks += ["## " + _("In short"), *([plain(summary)] if summary else []), words]
    return "\n\n".join(blocks) + "\n"
