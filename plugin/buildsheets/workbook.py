"""Finishing many sheets: what was finished before is taken from the cache, the rest is made, side by side if there is much."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING

from buildsheets.cache import Cache, Entry, key_of, packed, program_print, unpacked
from buildsheets.cards import Card, picture_stamps
from buildsheets.crew import AHEAD, Crew, attempt
from buildsheets.edition import CARD, RECORDS, SHEETS, VanishedError
from buildsheets.records.files import STOCK_FOLDER, stamp_of
from buildsheets.records.problems import Mark, Problem, problem_at

if TYPE_CHECKING:
    from buildsheets.figures.format import Figures
    from buildsheets.records.library import Build
    from buildsheets.settings import Settings

WORTH_A_CREW = 8
"""Sheets to make, below which other processes take longer to start than they save."""
AT_A_TIME = 4
"""Sheets in one parcel to another process: stock data is packed once a parcel."""

Told = Callable[[int, int], None]


@dataclass(frozen=True)
class Sheet:
    """A finished sheet: where it is kept, and what the rest of the site wants to know of it."""

    slug: str
    path: Path
    key: str
    card: Card
    figures: Figures  # thin
    unshown: tuple[Problem, ...] = ()  # pictures that could not be published, found while the record was at hand


@dataclass(frozen=True)
class Failed:
    """A sheet that could not be made, and why."""

    build: Build
    problem: Problem


class Workbook:
    """Finished work by content.

    Parameters
    ----------
    cache : Cache, optional
        Where it is kept; by default only as long as this object lives.
    processes : int
        How many may work side by side.
    told : callable, optional
        Is told of progress: sheets made so far, and how many there are to make.
    met : dict, optional
        Sheets met before in this process, to be met again by the next workbook of a server; by key of their record.
    meanwhile : callable, optional
        What there is to do while a crew begins.
    """

    def __init__(
        self, cache: Cache | None = None, processes: int = 1, told: Told | None = None, met: dict[str, Sheet] | None = None,
        meanwhile: Callable[[], None] | None = None,
    ) -> None:  # fmt: skip
        self.cache = cache or Cache()
        self.processes = processes
        self.told = told or (lambda done, of: None)
        self.met = met
        self.meanwhile = meanwhile or (lambda: None)
        self._crew: Crew | None = None

    def expect(self, sheets: int) -> None:
        """Call a crew for so many sheets that may be wanted, where nothing is kept yet: it loads while the records are read.

        Parameters
        ----------
        sheets : int
            How many records there are.
        """
        if self.processes > 1 and sheets >= WORTH_A_CREW and self.cache.lacks(SHEETS):
            self._crew = Crew(min(self.processes, sheets), self.cache.folder)

    def close(self) -> None:
        """Let the crew go, if there is one."""
        if self._crew is not None:
            self._crew.dismiss()
            self._crew = None

    def known(self, folder: Path, prints: Mapping[str, str | None], settings: Settings) -> dict[str, Sheet]:
        """Return the sheets of records that were found sound before and whose files, stock and pictures are unchanged.

        Parameters
        ----------
        folder : Path
            Folder of the records.
        prints : mapping of str to str or None
            From `prints_of`.
        settings : Settings
            The club's choices.

        Returns
        -------
        dict of str to Sheet
            By name of the record's file.
        """
        found: dict[str, Sheet] = {}
        met = dict(self.met or {})
        if self.met is not None:
            self.met.clear()
        base = _base_key(prints, settings)
        for name in prints:
            key = _record_key(name, prints, base)
            sheet = met.get(key) or self._recalled(folder / name, key) if key else None
            if key and sheet and all(stamp_of(folder / file) == stamp for file, stamp in sheet.card.pictures):
                found[name] = sheet
                self._meet(key, sheet)
        return found

    def _meet(self, key: str, sheet: Sheet) -> None:
        if self.met is not None:
            self.met[key] = sheet

    def _recalled(self, path: Path, key: str) -> Sheet | None:
        entry = self.cache.read(RECORDS, key)
        if entry is None:
            return None
        return Sheet(path.stem, path, entry.data["key"], Card.of_data(entry.data["card"]), json.loads(entry.pieces[CARD]))

    def remember(self, sheets: Iterable[Sheet], prints: Mapping[str, str | None], settings: Settings) -> None:
        """Keep what is known of sound records, so that they need not be read again while they stay as they are.

        Parameters
        ----------
        sheets : iterable of Sheet
            Their sheets.
        prints : mapping of str to str or None
            What their files held before they were read.
        settings : Settings
            The club's choices.
        """
        base = _base_key(prints, settings)
        for sheet in sheets:
            key = _record_key(sheet.path.name, prints, base)
            if key is not None:
                self._meet(key, sheet)
                figures = json.dumps(sheet.figures, ensure_ascii=False, separators=(",", ":")).encode("utf-8")
                self.cache.write(RECORDS, key, packed({"key": sheet.key, "card": sheet.card.as_data()}, {CARD: figures}))

    def finish(self, builds: list[Build], settings: Settings) -> Iterator[Sheet | Failed]:
        """Yield the finished sheet of every build, in no particular order, each made at most once for the same content.

        Parameters
        ----------
        builds : list of Build
            Valid records. It is emptied: a thousand of them are as large as all else that a site is made from.
        settings : Settings
            The club's choices.
        """
        keys = {build.slug: sheet_key(build, settings) for build in builds}
        left: dict[str, Build] = {}
        while builds:
            build = builds.pop()
            entry = self.cache.read(SHEETS, keys[build.slug], CARD)
            if entry is None:
                left[build.slug] = build
            else:
                yield _sheet(build, keys[build.slug], entry)
        many = len(left)
        for done, (build, problem) in enumerate(self._made(left, keys, settings), start=1):
            self.told(done, many)
            entry = None if problem else self.cache.read(SHEETS, keys[build.slug], CARD)
            yield _sheet(build, keys[build.slug], entry) if entry else Failed(build, problem or _vanished(build))

    def pieces(self, path: Path, key: str, settings: Settings, *wanted: str) -> Mapping[str, bytes]:
        """Return what is published of a sheet, and its body; made again if someone threw it away meanwhile.

        Parameters
        ----------
        path : Path
            The record.
        key : str
            Of its finished sheet.
        settings : Settings
            The club's choices.
        *wanted : str
            Names of the pieces that are wanted; all if none is named.

        Raises
        ------
        VanishedError
            If it was thrown away and its record has changed since.
        """
        entry = self.cache.read(SHEETS, key, *wanted)
        if entry is not None:
            return entry.pieces
        from buildsheets.finishing import finished
        from buildsheets.records.library import load_build

        build, _ = load_build(path)
        if build is None or sheet_key(build, settings) != key:
            raise VanishedError(f"{path.name} has changed while the site was being built; build it again")
        raw = finished(build, settings)
        self.cache.write(SHEETS, key, raw)
        return unpacked(raw).pieces

    def _made(self, left: dict[str, Build], keys: Mapping[str, str], settings: Settings) -> Iterator[tuple[Build, Problem | None]]:
        """Make sheets and put them in the cache; yield each build, taken out of those that are left, with what went wrong, if so."""
        if self.processes > 1 and len(left) >= WORTH_A_CREW:
            for slug, problem in self._by_a_crew(left, keys, settings):
                yield left.pop(slug), problem
        while left:  # all of them, or what a broken crew left undone
            slug, build = left.popitem()
            raw, problem = attempt(build, settings)
            if raw is not None:
                self.cache.write(SHEETS, keys[slug], raw)
            yield build, problem

    def _by_a_crew(
        self, left: Mapping[str, Build], keys: Mapping[str, str], settings: Settings
    ) -> Iterator[tuple[str, Problem | None]]:
        slugs = list(left)
        last = max(len(slugs) - AHEAD * self.processes, 0)  # one by one, so that all workers end at about the same time
        cuts = [*range(0, last, AT_A_TIME), *range(last, len(slugs)), len(slugs)]
        # one after the other: a record is let go when its sheet is made
        parcels = ([(left[slug], keys[slug]) for slug in slugs[start:end]] for start, end in pairwise(cuts))
        self._crew = self._crew or Crew(min(self.processes, len(cuts) - 1), self.cache.folder)
        try:
            for done in self._crew.made(parcels, settings, self.meanwhile):
                for slug, raw, problem in done:
                    if raw is not None:
                        self.cache.hold(SHEETS, keys[slug], raw)
                    yield slug, problem
        finally:
            self.close()


def sheet_key(build: Build, settings: Settings) -> str:
    """Return the key of a finished sheet: a hash of all that it is made from.

    Parameters
    ----------
    build : Build
        A valid record.
    settings : Settings
        The club's choices.
    """
    return key_of(program_print(), build.slug, build.content_hash(""), settings, picture_stamps(build))


def _base_key(prints: Mapping[str, str | None], settings: Settings) -> str | None:
    """Return what the keys of all records have in common; None if a file of the stock cannot be read."""
    stock = sorted((path, hashed) for path, hashed in prints.items() if path.startswith(STOCK_FOLDER + "/"))
    return None if any(hashed is None for _, hashed in stock) else key_of(program_print(), stock, settings)


def _record_key(name: str, prints: Mapping[str, str | None], base: str | None) -> str | None:
    """Return the key of what is known of a record; None if it or the stock cannot be read."""
    hashed = prints.get(name)
    return None if "/" in name or hashed is None or base is None else key_of(base, name, hashed)


def _sheet(build: Build, key: str, entry: Entry) -> Sheet:
    card = Card.of_data(entry.data)
    return Sheet(build.slug, build.path, key, card, json.loads(entry.pieces[CARD]), _unshown(build, card.unshown))


def _unshown(build: Build, pictures: Mapping[str, str]) -> tuple[Problem, ...]:
    """Return what is wrong with the pictures of a build, each at its place."""
    files = [picture.file for picture in build.record.pictures]
    return tuple(problem_at(build.mark("pictures", files.index(file), "file"), why) for file, why in pictures.items())


def _vanished(build: Build) -> Problem:
    return problem_at(Mark(build.origin.file, 1, 1), "its finished sheet was thrown away while the site was being built; build it again")
