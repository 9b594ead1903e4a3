"""Reading a language from its PO file, ours or a club's own, and refusing one that would spoil a sheet."""

from __future__ import annotations

import hashlib
import re
from functools import lru_cache
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING

from buildsheets.languages import ENGLISH, Language

if TYPE_CHECKING:
    from babel.messages.catalog import Catalog

HOME = Path(__file__).parent
ENDING = ".po"
_PLACES = re.compile(r"%\(\w+\)s|\{\w*\}")


class LanguageError(ValueError):
    """A language is not there, or its file cannot be used."""


def shipped() -> list[str]:
    """Return the codes of the languages that come with the program, English first."""
    return [ENGLISH.code, *sorted(path.stem for path in HOME.glob(f"*{ENDING}"))]


def language_file(name: str, beside: Path) -> Path | None:
    """Return the file of a language; None for English, which needs none.

    Parameters
    ----------
    name : str
        Code of a language that comes with the program, or path of a PO file.
    beside : Path
        Folder that a relative path starts from.

    Raises
    ------
    LanguageError
        If there is no such file or language.
    """
    if name in ("", ENGLISH.code):
        return None
    if name.endswith(ENDING) or "/" in name:
        path = beside / name
        if not path.is_file():
            raise LanguageError(f"there is no file {name}; give the path from the folder of mkdocs.yml to a {ENDING} file")
        return path
    if name not in shipped():
        have = ", ".join(shipped())
        raise LanguageError(f"there is no {name!r}; this program brings {have}; for another give the path of its {ENDING} file")
    return HOME / f"{name}{ENDING}"


def print_of(path: Path | None) -> str:
    """Return the hash of a language's file; empty for English.

    Parameters
    ----------
    path : Path or None
        From `language_file`.
    """
    return "" if path is None else hashlib.sha256(path.read_bytes()).hexdigest()


def read_language(path: Path | None) -> Language:
    """Return a language with all its words.

    Parameters
    ----------
    path : Path or None
        From `language_file`.

    Raises
    ------
    LanguageError
        If the file is no PO file of a known language, or a translation would lose a value.
    """
    return ENGLISH if path is None else _read(path.name, path.read_bytes())


@lru_cache(maxsize=8)
def _read(name: str, data: bytes) -> Language:
    from babel.messages.pofile import PoFileError, read_po

    try:
        catalogue = read_po(BytesIO(data), abort_invalid=True, charset="utf-8")
    except (PoFileError, UnicodeDecodeError, ValueError) as problem:
        raise LanguageError(f"{name} is not a PO file in UTF-8: {problem}") from None
    messages: dict[str, str] = {}
    plurals: dict[str, tuple[str, str]] = {}
    for message in catalogue:
        if not message.id or message.fuzzy:
            continue
        ours, theirs = _forms(message.id), _forms(message.string)
        if not all(theirs):
            continue
        _check(name, message.lineno, ours, theirs)
        if len(ours) > 1:
            plurals[ours[0]] = (theirs[0], theirs[-1])
        else:
            messages[ours[0]] = theirs[0]
    if not messages:
        raise LanguageError(f"{name} holds no translation")
    code, decimal = _custom(name, catalogue)
    return Language(code, hashlib.sha256(data).hexdigest(), decimal, messages, plurals)


def _forms(text: object) -> tuple[str, ...]:
    return text if isinstance(text, tuple) else (str(text),)


def _check(name: str, line: int | None, ours: tuple[str, ...], theirs: tuple[str, ...]) -> None:
    """Refuse a translation that loses a value or would break a template: a sheet without its number is worse than none."""
    places = set(_PLACES.findall("".join(ours)))
    for words in theirs:
        found = set(_PLACES.findall(words))
        missing = [place for place in places if place not in found and place in _PLACES.findall(ours[-1])]
        lost = sorted(missing if words is theirs[-1] else [])
        foreign = sorted(found - places)
        if lost or foreign or _stray(words) != _stray(ours[-1]):
            wrong = f"lacks {', '.join(lost)}" if lost else f"has {', '.join(foreign)} too" if foreign else "has other percent signs"
            raise LanguageError(f"{name}, line {line}: the translation of “{ours[0]}” {wrong}")


def _stray(words: str) -> int:
    return _PLACES.sub("", words).count("%")


def _custom(name: str, catalogue: Catalog) -> tuple[str, str]:
    """Return code and decimal sign; the sign is the Unicode project's, so a translator need not state it."""
    from babel import Locale, UnknownLocaleError

    code = catalogue.locale_identifier
    if not code:
        raise LanguageError(f"{name}: its head has no line `Language`, such as `Language: fr`")
    try:
        locale = Locale.parse(code, sep="-" if "-" in code else "_")
    except (UnknownLocaleError, ValueError):
        raise LanguageError(f"{name}: `Language: {code}` is no language known to Unicode") from None
    symbols = locale.number_symbols
    symbols = symbols.get("latn", symbols)
    return code.replace("_", "-"), str(symbols.get("decimal", "."))
