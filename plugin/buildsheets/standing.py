"""Files beside sheets that stay on the disk from one build to the next.

The site generator empties the site before it writes it. A sheet has some twenty files; where none has to change, its folder
is set aside before that, within the site under a hidden name that the generator leaves alone, and put back afterwards: two
moves in place of forty files thrown away and written. A folder that is not to the last file as it was left is not trusted.
"""

from __future__ import annotations

import contextlib
import os
import shutil
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from buildsheets.cache import Cache, key_of, packed

STANDING = "standing"
"""Kind of entry: the files that a build left in the folders of a site's sheets."""
ASIDE = ".buildsheets-aside"
PAGE = "index.html"  # written by the site generator each time

Stamps = dict[str, list[int]]  # of files, by their path in a folder: size and time of change


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
        self._key = key_of(str(site.resolve()))
        self._before: Mapping[str, Any] = {}  # by path in the site: what the files were made from, and their stamps
        self._left: dict[str, Any] = {}  # the same, as this build leaves them
        self._aside: dict[str, Path] = {}

    def set_aside(self, wanted: Mapping[str, str]) -> None:
        """Set folders aside that are as an earlier build left them.

        Parameters
        ----------
        wanted : mapping of str to str
            What the files of each are made from, by its path in the site; any other is left to be thrown away.
        """
        shutil.rmtree(self._site / ASIDE, ignore_errors=True)  # of a build that was broken off
        entry = self._cache.read(STANDING, self._key)
        self._before, self._left, self._aside = entry.data if entry else {}, {}, {}
        for number, (name, made_of) in enumerate(wanted.items()):
            if self._before.get(name) != [made_of, _stamps(self._site / name)]:
                continue
            place = self._site / ASIDE / str(number)
            with contextlib.suppress(OSError):
                place.parent.mkdir(exist_ok=True)
                (self._site / name).rename(place)
                self._aside[name] = place

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
        try:
            (self._site / name).parent.mkdir(parents=True, exist_ok=True)
            place.rename(self._site / name)
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
        """Keep how the folders are left, and throw away what was not asked for."""
        shutil.rmtree(self._site / ASIDE, ignore_errors=True)
        if self._left != self._before:
            self._cache.write(STANDING, self._key, packed(self._left, {}))


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
