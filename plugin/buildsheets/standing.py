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
"""Kind of entry: the files that a build left in the folders of a site's sheets, and apart from them its pages."""
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
        self._key, self._pages_key = (key_of(program_print(), str(site.resolve()), what) for what in ("folders", "pages"))
        self._before: Mapping[str, Any] = {}  # by path in the site: what the files were made from, and their stamps
        self._left: dict[str, Any] = {}  # the same, as this build leaves them
        self._aside: dict[str, str] = {}  # by path in the site: name among what is set aside
        self._pages_before: Mapping[str, Any] = {}  # by path in the site: what a page was made from, and its stamp
        self._pages_left: dict[str, str] = {}  # what this build makes each from
        self._pages_aside: dict[str, str] = {}

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
        self._before, self._pages_before = self._known(self._key), self._known(self._pages_key)
        self._left, self._aside, self._pages_left, self._pages_aside = {}, {}, {}, {}
        for number, (name, made_of) in enumerate(wanted.items()):
            if self._before.get(name) == [made_of, _stamps(self._site / name)] and self._moved(name, str(number)):
                self._aside[name] = str(number)
                self._offer(f"{name}/{PAGE}", f"{number}/{PAGE}")
        for number, name in enumerate(pages):
            if name in self._pages_before and self._moved(name, f"page-{number}"):
                self._offer(name, f"page-{number}")

    def _known(self, key: str) -> Mapping[str, Any]:
        entry = self._cache.read(STANDING, key)
        return entry.data if entry else {}

    def _offer(self, page: str, place: str) -> None:
        """Note where a page lies that was set aside, if it is as it was left."""
        if page in self._pages_before and self._pages_before[page][1] == _stamp(self._site / ASIDE / place):
            self._pages_aside[page] = place

    def _moved(self, name: str, place: str) -> bool:
        aside = self._site / ASIDE
        with contextlib.suppress(OSError):
            aside.mkdir(exist_ok=True)
            (self._site / name).rename(aside / place)
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
        return (self._site / ASIDE / self._pages_aside.pop(page)).read_bytes()

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
        number = self._aside.pop(name, None)
        if number is None:
            return False
        place, home = self._site / ASIDE / number, self._site / name
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
        pages = {page: [made_of, stamp] for page, made_of in self._pages_left.items() if (stamp := _stamp(self._site / page))}
        if pages != self._pages_before:
            self._cache.write(STANDING, self._pages_key, packed(pages, {}))
        if self._left != self._before:
            self._cache.write(STANDING, self._key, packed(self._left, {}))


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
