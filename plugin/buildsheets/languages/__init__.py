"""The words a sheet is printed in. English stands in the source and is the key; every other language is one PO file.

Which language is spoken is known only while something is rendered, inside `Language.spoken()`: figures, data files and
complaints about records are English always.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, field
from functools import lru_cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from buildsheets.languages.patterns import Phrasebook


@dataclass(frozen=True)
class Language:
    """A language and all its words.

    Parameters
    ----------
    code : str
        As HTML wants it, such as "de" (BCP 47).
    made_of : str
        Hash of the file it was read from: it stands in the keys of all that is printed with it. Empty for English.
    decimal : str
        Decimal sign.
    messages : mapping of str to str
        English words and their translation; without those that have none.
    plurals : mapping of str to tuple of str
        By the English words for one, the forms for one and for many.
    """

    code: str = "en"
    made_of: str = ""
    decimal: str = "."
    messages: Mapping[str, str] = field(default_factory=dict, repr=False, compare=False)
    plurals: Mapping[str, tuple[str, str]] = field(default_factory=dict, repr=False, compare=False)

    @contextmanager
    def spoken(self) -> Iterator[None]:
        """Speak this language while something is rendered."""
        before = _now.set(self)
        try:
            yield
        finally:
            _now.reset(before)

    @property
    def english(self) -> bool:
        """Whether there is nothing to translate."""
        return not self.messages


ENGLISH = Language()
_now: ContextVar[Language] = ContextVar("language", default=ENGLISH)


def speaking() -> Language:
    """Return the language of what is being rendered; English outside."""
    return _now.get()


@lru_cache(maxsize=4)
def phrasebook(language: Language) -> Phrasebook:
    """Return what finds the translation of finished sentences; its index is made once.

    Parameters
    ----------
    language : Language
        Not English.
    """
    from buildsheets.languages.numbers import localised
    from buildsheets.languages.patterns import Phrasebook

    return Phrasebook(language.messages, lambda text: localised(text, language))


def translated(text: str) -> str:
    """Return fixed words in the language of what is being rendered.

    Parameters
    ----------
    text : str
        English words as they stand in the source.
    """
    return _now.get().messages.get(text, text)


def plural(one: str, many: str, count: int) -> str:
    """Return the form of fixed words for a count.

    Parameters
    ----------
    one, many : str
        English forms.
    count : int
        How many.
    """
    forms = _now.get().plurals.get(one, (one, many))
    return forms[0] if count == 1 else forms[1]


def _(text: str, *places: object, **values: object) -> str:
    """Return fixed words in the language of what is being rendered, with values in their places.

    Parameters
    ----------
    text : str
        English words as they stand in the source, places as ``{0}`` or ``{name}``.
    *places, **values
        What stands in the places.
    """
    words = _now.get().messages.get(text, text)
    return words.format(*places, **values) if places or values else words


def noted(text: str) -> str:
    """Return the text as it is: this marks words for the catalogue that are translated where they are shown."""
    return text
