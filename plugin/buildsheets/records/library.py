"""All records of a library: what can be built from them and what is wrong with them."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path

from buildsheets.records.check import validated
from buildsheets.records.files import OUTSIDE, STOCK_FOLDER, leads_out, record_files
from buildsheets.records.models import Record, Stock, lies_inside
from buildsheets.records.problems import Mark, Problem, in_order, printable, problem_at, shown_path
from buildsheets.records.reader import Document, read_file
from buildsheets.records.stock import PartName, Shelf, hash_of, load_shelf, take_in_stock

REVISION_DIGITS = 8
CHOSEN_FROM = ("decoders", "diodes", "motors", "resistors")
"""Sections of the stock that the ways to a target choose from, used by the record or not."""

TAKEN = ("compare", "parts", "shopping", "together")
"""Folders beside the sheets that hold pages of the whole library."""
AWAY = "-loco"  # makes an address of its own of one of these

_SLUG = re.compile(r"[a-z0-9]+(?:-[a-z0-9]+)*")


@dataclass(frozen=True)
class Build:
    """One valid record, with the stock data it uses.

    `text_hash` covers what the record says; comments and layout of the file do not count.
    """

    slug: str
    path: Path
    record: Record
    text_hash: str
    stock_used: dict[PartName, str]
    origin: Document
    shelf: Shelf = field(default_factory=Shelf)

    def revision_hash(self, figures_version: int | str) -> str:
        """Return a short hash that changes when the record, the stock it uses or the calculation changes.

        A record with a target uses all of the stock that the ways to it are chosen from.
        """
        return self.content_hash(figures_version)[:REVISION_DIGITS]

    def content_hash(self, version: int | str) -> str:
        """Return the hash that the revision is the beginning of."""
        stock = [[*name, content] for name, content in sorted(self.stock_used.items())]
        said = [self.text_hash, stock, str(version)]
        if self.record.target is not None:
            said.append(self.shelf.hash_of_sections(CHOSEN_FROM))
        return hash_of(said)

    @property
    def stock(self) -> Stock:
        """All sound parts of the library's stock, used or not."""
        return self.shelf.sound

    def mark(self, *location: str | int) -> Mark:
        """Return the place of a value of the record, in its own file or in a stock file."""
        return self.origin.mark(location)


@dataclass(frozen=True)
class BrokenBuild:
    """A record that cannot be used: its title, where it could be read, and its problems."""

    slug: str
    path: Path
    title: str | None
    problems: list[Problem]


@dataclass
class LibraryRecords:
    """Everything in a folder of records; `broken` holds those that cannot be used, by slug."""

    folder: Path
    builds: list[Build] = field(default_factory=list)
    broken: dict[str, BrokenBuild] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)
    shelf: Shelf = field(default_factory=Shelf)
    pictures: list[tuple[Mark, str]] = field(default_factory=list)
    """Files of all pictures that records name, sound or broken, as seen from the folder, each with its place."""


def load_library(folder: Path, known: Mapping[str, Sequence[str]] | None = None) -> LibraryRecords:
    """Read all records of a folder and the stock files in its `stock` folder.

    Parameters
    ----------
    folder : Path
        The folder that holds the records.
    known : mapping of str to sequence of str, optional
        Names of files that were found sound before and are not read again, each with its former slugs.

    Returns
    -------
    LibraryRecords
        Builds in order of their slugs, without the known ones; every problem of every file.
    """
    library = LibraryRecords(folder)
    if not folder.is_dir():
        mark = Mark(shown_path(folder), 1, 1)
        library.problems = [problem_at(mark, "no such folder; make it and put one file for each locomotive in it")]
        return library
    library.shelf = load_shelf(folder / STOCK_FOLDER, folder)
    taken = known or {}
    attempts = [
        _Attempt(path, path.name, known=taken[path.name]) if path.name in taken else _attempt(path, library.shelf, folder)
        for path in record_files(folder)
    ]
    _complain_of_slugs(attempts)
    _complain_of_former_slugs(attempts)
    if any(attempt.problems for attempt in attempts if attempt.known is not None):
        return load_library(folder)  # a new file took the address of a known one, which must be read to say where
    slugs = {attempt.slug for attempt in attempts}
    for attempt in attempts:
        _sort_in(attempt, library, slugs)
        library.pictures += attempt.pictures
    found = [problem for attempt in attempts for problem in attempt.problems]
    library.problems = in_order([*library.shelf.problems, *found])
    return library


def load_build(path: Path, stock_folder: Path | None = None) -> tuple[Build | None, list[Problem]]:
    """Read one record, with the stock beside it or in another folder.

    Returns
    -------
    build : Build or None
        None if the record has problems.
    problems : list of Problem
        Those of the record; of the stock only those of parts it uses.
    """
    shelf = load_shelf(stock_folder or path.parent / STOCK_FOLDER, path.parent)
    attempt = _attempt(path, shelf, path.parent)
    _complain_of_slugs([attempt])
    return attempt.build(), in_order(attempt.problems)


@dataclass
class _Attempt:
    """A record on its way to a build."""

    path: Path
    shown: str
    document: Document | None = None
    record: Record | None = None
    text_hash: str = ""
    stock_used: dict[PartName, str] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)
    shelf: Shelf = field(default_factory=Shelf)
    pictures: list[tuple[Mark, str]] = field(default_factory=list)
    known: Sequence[str] | None = None  # former slugs of a record that is not read again

    @cached_property
    def slug(self) -> str:
        return printable(self.path.stem)

    @property
    def start(self) -> Mark:
        return Mark(self.shown, 1, 1)

    def build(self) -> Build | None:
        """Return the build, if nothing is wrong."""
        if self.problems or self.record is None or self.document is None:
            return None
        return Build(self.slug, self.path, self.record, self.text_hash, self.stock_used, self.document, self.shelf)

    def title(self) -> str | None:
        """Return the title, if the file could be read so far."""
        if self.record is not None:
            return self.record.title
        data = self.document.data if self.document else None
        title = data.get("title") if isinstance(data, dict) else None
        return title if isinstance(title, str) else None


def _attempt(path: Path, shelf: Shelf, folder: Path) -> _Attempt:
    attempt = _Attempt(path, shown_path(path, folder), shelf=shelf)
    if leads_out(path, folder):
        attempt.problems.append(problem_at(attempt.start, OUTSIDE))
        return attempt
    document, attempt.problems = read_file(path, attempt.shown)
    if document is None:
        return attempt
    filled = take_in_stock(document, Record, shelf)
    attempt.document, attempt.text_hash = filled.document, hash_of(document.data)
    attempt.record, wrong = validated(filled.document, Record, filled.unfilled)
    attempt.problems += [*filled.problems, *wrong]
    attempt.pictures = _pictures_named(filled.document)
    attempt.problems += _absent_pictures(attempt, folder)
    attempt.stock_used = {name: entry.content_hash for name, entry in sorted(filled.used.items())}
    if not attempt.problems:  # the record holds what the document said; of a thousand, only the places are still wanted
        attempt.document = Document(attempt.document.file, values=attempt.document.values)
    return attempt


def _pictures_named(document: Document) -> list[tuple[Mark, str]]:
    """Return the files of pictures a record names, also of one that has other problems, each with its place."""
    listed = document.data.get("pictures") if isinstance(document.data, dict) else None
    found = []
    for index, picture in enumerate(listed if isinstance(listed, list) else ()):
        file = picture.get("file") if isinstance(picture, dict) else None
        if isinstance(file, str) and lies_inside(file.strip()):  # what leads elsewhere is complained of where it is read
            found.append((document.mark(("pictures", index, "file")), file.strip()))
    return found


def _absent_pictures(attempt: _Attempt, folder: Path) -> list[Problem]:
    """A sheet with a hole where a picture should be helps nobody at the bench."""
    return [
        problem_at(mark, f'no file "{file}" in the folder of the records; put the picture there, or correct its name')
        for mark, file in attempt.pictures
        if not _is_file(folder / file)
    ]


def _is_file(path: Path) -> bool:
    try:
        return path.is_file()
    except (OSError, ValueError):  # a name that no disk could hold
        return False


def _complain_of_slugs(attempts: list[_Attempt]) -> None:
    """File names become addresses that are printed: they must be plain, and one of a kind on any disk."""
    first_of: dict[str, _Attempt] = {}
    for attempt in attempts:
        slug = attempt.slug
        other = first_of.setdefault(slug.casefold(), attempt)
        if other is not attempt:
            message = f"{other.path.name} would have the same address; rename or remove one of the two"
            attempt.problems.append(problem_at(attempt.start, message))
        fault = slug_fault(slug)
        if fault is not None:
            attempt.problems.append(problem_at(attempt.start, fault))


def slug_fault(slug: str) -> str | None:
    """Return why the name of a record's file, without its ending, cannot be an address; None if it can."""
    if slug in TAKEN:
        return f'the address "{slug}" belongs to a page of the whole library; rename the file, like {slug}{AWAY}.yml'
    if not _SLUG.fullmatch(slug):
        return f'the file name "{slug}" cannot be an address; use a-z, 0-9 and single hyphens, like {_plain_slug(slug)}.yml'
    return None


def _plain_slug(name: str) -> str:
    return "-".join(re.findall(r"[a-z0-9]+", name.casefold())) or "harbour-tank"


def _complain_of_former_slugs(attempts: list[_Attempt]) -> None:
    present = {attempt.slug: attempt for attempt in attempts}
    claimed: dict[str, _Attempt] = {}
    for attempt in attempts:
        for index, old in enumerate(_former_slugs(attempt)):
            other = present.get(old) or claimed.get(old)
            claimed.setdefault(old, attempt)
            if other is not None or old in TAKEN:
                mark = attempt.document.mark(("formerly", index)) if attempt.document is not None else attempt.start
                owner = other.path.name if other is not None else "a page of the whole library"
                message = f'"{old}" is taken by {owner}; keep the old name with one sheet only'
                attempt.problems.append(problem_at(mark, message))


def _former_slugs(attempt: _Attempt) -> Iterable[str]:
    if attempt.known is not None:
        return attempt.known
    return attempt.record.formerly if attempt.record else ()


def _sort_in(attempt: _Attempt, library: LibraryRecords, slugs: Collection[str]) -> None:
    build = attempt.build()
    if build is not None:
        library.builds.append(build)
    if build is not None or attempt.known is not None:
        return
    slug = _own_address(attempt.slug, slugs)
    earlier = library.broken.get(slug)
    problems = in_order([*(earlier.problems if earlier else []), *attempt.problems])
    library.broken[slug] = BrokenBuild(slug, attempt.path, attempt.title(), problems)


def _own_address(slug: str, slugs: Collection[str]) -> str:
    """Return where the problems of a record are told: never in place of a page of the library, or of another record."""
    if slug in TAKEN:
        while slug in TAKEN or slug in slugs:
            slug += AWAY
    return slug
