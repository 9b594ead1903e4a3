"""Files beside sheets that stay on the disk from one build to the next.

The site generator empties the site before it writes it. A sheet has some twenty files; where none has to change, its folder
is set aside before that, within the site under a hidden name that the generator leaves alone, and put back afterwards: two
moves in place of forty files thrown away and written. A folder that is not to the last file as it was left is not trusted.

The page of a folder, and any other page that is named, is set aside too: whoever knows that it would be written the same
again can have its bytes.
"""

from __future__ import annotations

import contextlib
import os
import shutil
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from buildsheets.cache import Cache, key_of, packed, program_print

STANDING = "standing"
"""Kind of entry: the files that a build left in the folders of a site's sheets."""
ASIDE = ".buildsheets-aside"
PAGE = "index.html"  # written by the site generator each time

Stamp = list[int]  # of a file: size and time of change
Stamps = dict[str, Stamp]  # by its path in a folder


class Standing:
    """The folders of the sheets of one site.

    Parameters
    ----------
    cache : Cache
        Where it is kept what was left.
    site : Path
        Folder of the site.
    """

    def __init__(self, cache: Cache, site: Path) -> None:
        self._cache, self._site = cache, site
        self._key = key_of(program_print(), str(site.resolve()))
        self._before: Mapping[str, Any] = {}  # by path in the site: what the files were made from, and their stamps
        self._left: dict[str, Any] = {}  # the same, as this build leaves them
        self._aside: dict[str, Path] = {}
        self._pages_before: Mapping[str, Any] = {}  # by path in the site: what a page was made from, and its stamp
        self._pages_left: dict[str, str] = {}  # what this build makes each from
        self._pages_aside: dict[str, Path] = {}

    def set_aside(self, wanted: Mapping[str, str], pages: Iterable[str] = ()) -> None:
        """Set folders and pages aside that are as an earlier build left them.

        Parameters
        ----------
        wanted : mapping of str to str
            What the files of each folder are made from, by its path in the site; any other is left to be thrown away.
        pages : iterable of str
            Paths of further pages in the site.
        """
        shutil.rmtree(self._site / ASIDE, ignore_errors=True)  # of a build that was broken off
        entry = self._cache.read(STANDING, self._key)
        self._before, self._pages_before = (entry.data["folders"], entry.data["pages"]) if entry else ({}, {})
        self._left, self._aside, self._pages_left, self._pages_aside = {}, {}, {}, {}
        for number, (name, made_of) in enumerate(wanted.items()):
            place = self._site / ASIDE / str(number)
            if self._before.get(name) == [made_of, _stamps(self._site / name)] and self._moved(name, place):
                self._aside[name] = place
                if self._stands(f"{name}/{PAGE}", place / PAGE):
                    self._pages_aside[f"{name}/{PAGE}"] = place / PAGE
        for number, name in enumerate(pages):
            place = self._site / ASIDE / f"page-{number}"
            if self._stands(name, self._site / name) and self._moved(name, place):
                self._pages_aside[name] = place

    def _stands(self, page: str, place: Path) -> bool:
        return page in self._pages_before and self._pages_before[page][1] == _stamp(place)

    def _moved(self, name: str, place: Path) -> bool:
        with contextlib.suppress(OSError):
            place.parent.mkdir(exist_ok=True)
            (self._site / name).rename(place)
            return True
        return False

    def made_of(self, page: str) -> str:
        """Return what a page that was set aside was made from; empty if it was not.

        Parameters
        ----------
        page : str
            Its path in the site.
        """
        return str(self._pages_before[page][0]) if page in self._pages_aside else ""

    def page(self, page: str) -> bytes:
        """Return a page that was set aside; to be asked before its folder is put back.

        Parameters
        ----------
        page : str
            Its path in the site.

        Raises
        ------
        OSError
            If somebody threw it away since.
        """
        return self._pages_aside.pop(page).read_bytes()

    def note_page(self, page: str, made_of: str) -> None:
        """Note what a page is being made from in this build.

        Parameters
        ----------
        page : str
            Its path in the site.
        made_of : str
            A key of all of it; empty for one that must be made anew each time.
        """
        if made_of:
            self._pages_left[page] = made_of

    def put_back(self, name: str) -> bool:
        """Put a folder back in its place; return whether it is there, else its files have to be written.

        Parameters
        ----------
        name : str
            Its path in the site.
        """
        place = self._aside.pop(name, None)
        if place is None:
            return False
        home = self._site / name
        try:
            try:
                place.rename(home)
            except FileNotFoundError:  # the first of its folder
                home.parent.mkdir(parents=True, exist_ok=True)
                place.rename(home)
        except OSError:  # the club has files of its own there
            return False
        self._left[name] = self._before[name]
        return True

    def note(self, name: str, made_of: str) -> None:
        """Note that the files of a folder have been written anew.

        Parameters
        ----------
        name : str
            Its path in the site.
        made_of : str
            What they were made from.
        """
        self._left[name] = [made_of, _stamps(self._site / name)]

    def keep(self) -> None:
        """Keep how folders and pages are left, and throw away what was not asked for."""
        shutil.rmtree(self._site / ASIDE, ignore_errors=True)
        stamps = {page: [made_of, _stamp(self._site / page)] for page, made_of in self._pages_left.items()}
        pages = {page: noted for page, noted in stamps.items() if noted[1] is not None}
        if self._left != self._before or pages != self._pages_before:
            self._cache.write(STANDING, self._key, packed({"folders": self._left, "pages": pages}, {}))


def _stamp(file: Path) -> Stamp | None:
    try:
        status = file.lstat()
    except OSError:
        return None
    return [status.st_size, status.st_mtime_ns]


def _stamps(folder: Path, prefix: str = "") -> Stamps:
    """Return the stamps of all files below a folder save its page; none if it cannot be read."""
    found: Stamps = {}
    with contextlib.suppress(OSError), os.scandir(folder) as entries:
        for entry in entries:
            if entry.is_dir(follow_symlinks=False):
                found |= _stamps(Path(entry.path), f"{prefix}{entry.name}/")
            elif prefix or entry.name != PAGE:
                status = entry.stat(follow_symlinks=False)
                found[prefix + entry.name] = [status.st_size, status.st_mtime_ns]
    return found
