"""How a club wants its sheets to look: its language and its logo, found and hashed before anything is made with them."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from pathlib import Path

from buildsheets.languages.catalogue import LanguageError, language_file, print_of, shipped

PICTURES = (".svg", ".png", ".jpg", ".jpeg", ".webp", ".gif")


class HouseStyleError(ValueError):
    """An option names what is not there."""


@dataclass(frozen=True)
class HouseStyle:
    """The files a club's style is made of, and their hashes, which belong in every key."""

    language: Path | None = None  # None for English
    language_made_of: str = ""
    logo: str = ""  # path in the site's docs
    logo_made_of: str = ""

    @property
    def made_of(self) -> tuple[str, str]:
        """Hashes of both files."""
        return self.language_made_of, self.logo_made_of


def house_style(language: str | None, theme_language: str, logo: str | None, home: Path, docs: Path) -> HouseStyle:
    """Return the style that the options ask for.

    Parameters
    ----------
    language : str or None
        Code of a language, or path of a PO file; None for the theme's language where we have it, English elsewhere.
    theme_language : str
        What the theme speaks.
    logo : str or None
        Path of a picture among the site's docs.
    home, docs : Path
        Folder of mkdocs.yml, and of the docs.

    Raises
    ------
    HouseStyleError
        If there is no such language, file or picture.
    """
    wanted = language if language is not None else theme_language if theme_language in shipped() else ""
    try:
        path = language_file(wanted, home)
    except LanguageError as problem:
        raise HouseStyleError(f"language: {problem}") from None
    return HouseStyle(path, print_of(path), logo or "", _logo_print(logo, docs) if logo else "")


def _logo_print(logo: str, docs: Path) -> str:
    path = docs / logo
    if not path.is_file():
        raise HouseStyleError(f"logo: there is no file {logo} in the folder {docs.name}")
    if not path.resolve().is_relative_to(docs.resolve()):
        raise HouseStyleError(f"logo: {logo} lies outside the folder {docs.name}, so it is not published")
    if path.suffix.lower() not in PICTURES:
        raise HouseStyleError(f"logo: {logo} is no picture a browser shows; take one of {', '.join(PICTURES)}")
    return hashlib.sha256(path.read_bytes()).hexdigest()
