"""All pages of a library as they are published once, and how an edition is kept for the next build.

While no file of the library changes, a build needs nothing else: no record is read, no figure worked out, and none of
the libraries for that are brought in.
"""

from __future__ import annotations

import hashlib
import html
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

from buildsheets.cache import Cache, parts_of
from buildsheets.languages import _, speaking
from buildsheets.records.files import stamp_of

if TYPE_CHECKING:
    from buildsheets.records.problems import Problem
    from buildsheets.workbook import Sheet

SHEETS, RECORDS, EDITIONS, EXTRAS = "sheets", "records", "editions", "extras"
"""Kinds of entries: finished sheets by what they were made from, what is known of a record by its bytes, all pages, and what
is told of the format of records."""
BODY_MARKER = "<!--sheet-body-->"
"""Stands in the words of a page where its body is put in late."""
BODY, CARD = "body", "card"
"""Pieces of a finished sheet that are no files beside its page: the sheet itself, and what other pages want of it."""


class Fetch(Protocol):
    """What brings in a finished sheet."""

    def __call__(self, *wanted: str) -> Mapping[str, bytes]:
        """Return the pieces that are named, or all."""


class VanishedError(RuntimeError):
    """A finished sheet was thrown away, or its record changed, while its page was being written."""


@dataclass(frozen=True)
class Layout:
    """Addresses as seen from the library's list: of a sheet, "{slug}" for its name, and of the folder of its data."""

    sheet: str = "{slug}/index.html"
    data: str = ""


@dataclass(frozen=True)
class SheetPage:
    """One sheet: words for Markdown and search, and what is fetched late, its body and the files beside its page."""

    slug: str
    title: str
    description: str
    source: str  # name of the record's file
    markdown: str
    fetch: Fetch
    formerly: list[str] = field(default_factory=list)
    changed: str | None = None  # last day in the record
    preview: str = ""  # what the picture shows that stands for it; empty where there is none
    moved: str = ""  # the page that stands at each of its old addresses; empty where it never had another
    key: str = ""  # of the finished sheet: what it was made from; empty for a record that cannot be read or worked out
    pictures: list[tuple[str, tuple[int, int] | None]] = field(default_factory=list)  # file and stamp
    sheet: Sheet | None = None  # while the other pages are made; never for a record that cannot be read or worked out
    problems: list[Problem] = field(default_factory=list)
    faults: list[Problem] = field(default_factory=list)  # found while publishing, so whoever publishes must say them

    def body(self, pieces: Mapping[str, bytes]) -> str:
        """Return the body among the pieces that were fetched."""
        return pieces[BODY].decode("utf-8")

    def files(self, pieces: Mapping[str, bytes]) -> dict[str, bytes]:
        """Return the files among the pieces that were fetched, by their path beside the page."""
        return {name: piece for name, piece in pieces.items() if name not in (BODY, CARD)}


@dataclass(frozen=True)
class ClubPage:
    """A page that spans builds, in a folder of its own beside the list."""

    folder: str  # such as "parts/can-1220-5p"; empty for the list itself
    title: str
    markdown: str
    html: bytes  # its body in UTF-8: as text, one sign in it that is no letter of western Europe would double what it weighs
    description: str = ""

    @property
    def body(self) -> str:
        """Return its body as text."""
        return self.html.decode("utf-8")

    @property
    def made_of(self) -> str:
        """Return a hash of its body."""
        return hashlib.sha256(self.html).hexdigest()


@dataclass(frozen=True)
class Edition:
    """Everything a library publishes."""

    sheets: list[SheetPage]
    club: list[ClubPage]
    files: dict[str, bytes]  # beside the list
    extras: Mapping[str, bytes]  # beside the site's own pages: schemas and the field reference
    problems: list[Problem] = field(default_factory=list)
    preview: str = ""  # what the picture of the whole library shows; empty where there is none

    @property
    def sound(self) -> bool:
        """Whether there is nothing to complain of; only then is it worth keeping."""
        return not self.problems and all(page.key and not page.faults for page in self.sheets)

    def written(self) -> Edition:
        """Return the edition without the figures that its pages were written from, most of what it weighs."""
        return replace(self, sheets=[replace(page, sheet=None) for page in self.sheets])


def keep(edition: Edition, cache: Cache, key: str) -> None:
    """Keep a sound edition for the next build.

    Parameters
    ----------
    edition : Edition
        What was published.
    cache : Cache
        Where to keep it.
    key : str
        Hash of all that it was made from, save the pictures, which are looked at again.
    """
    if not edition.sound:
        return
    sheets = [
        [page.slug, page.title, page.description, page.source, page.markdown, page.key, page.formerly, page.pictures, page.changed,
         page.preview, page.moved]
        for page in edition.sheets
    ]
    club = [[page.folder, page.title, page.markdown, page.description] for page in edition.club]
    pieces = {f"club {place}": page.html for place, page in enumerate(edition.club)}
    pieces |= {f"file {name}": data for name, data in edition.files.items()}
    pieces |= {f"extra {name}": data for name, data in edition.extras.items()}
    cache.write(EDITIONS, key, parts_of({"sheets": sheets, "club": club, "preview": edition.preview}, pieces))


def recalled(cache: Cache, key: str, folder: Path, make: Callable[[Path, str], Mapping[str, bytes]]) -> Edition | None:
    """Return the edition kept under a key, or None if there is none or a picture is another now.

    Parameters
    ----------
    cache : Cache
        Where it was kept.
    key : str
        As it was kept.
    folder : Path
        Folder of the records.
    make : callable
        Makes the pieces of a sheet again, from its record and the key of the sheet, if they are lost or damaged.
    """
    entry = cache.read(EDITIONS, key)
    if entry is None:
        return None
    sheets = []
    for slug, title, description, source, markdown, sheet_key, formerly, pictures, changed, preview, moved in entry.data["sheets"]:
        if any(stamp_of(folder / file) != (stamp and tuple(stamp)) for file, stamp in pictures):
            return None
        fetch = partial(_pieces, cache, sheet_key, partial(make, folder / source, sheet_key))
        sheets.append(SheetPage(slug, title, description, source, markdown, fetch, formerly, changed, preview, moved, sheet_key))
    club = [
        ClubPage(place, title, markdown, entry.pieces[f"club {number}"], description)
        for number, (place, title, markdown, description) in enumerate(entry.data["club"])
    ]
    return Edition(sheets, club, _named(entry.pieces, "file "), _named(entry.pieces, "extra "), preview=entry.data["preview"])


def forwarding_page(title: str, address: str) -> str:
    """Return a whole HTML page that leads from an old address to the new one, without a script, in the language being rendered.

    Parameters
    ----------
    title : str
        Title of the sheet that moved.
    address : str
        Where it is now, relative to the old page.
    """
    title, address = html.escape(title), html.escape(address)
    link = f'<a href="{address}">{title}</a>'
    moved = _("This sheet has moved: {link}", link=link)
    return (
        f'<!doctype html>\n<html lang="{speaking().code}">\n<head>\n<meta charset="utf-8">\n<title>{title}</title>\n'
        f'<meta http-equiv="refresh" content="0; url={address}">\n<link rel="canonical" href="{address}">\n<link rel="icon" href="data:,">\n'
        f'</head>\n<body>\n<p>{moved}</p>\n</body>\n</html>\n'
    )


def _pieces(cache: Cache, key: str, make: Callable[[], Mapping[str, bytes]], *wanted: str) -> Mapping[str, bytes]:
    entry = cache.read(SHEETS, key, *wanted)
    return make() if entry is None else entry.pieces


def _named(pieces: Mapping[str, bytes], kind: str) -> dict[str, bytes]:
    return {name.removeprefix(kind): data for name, data in pieces.items() if name.startswith(kind)}
