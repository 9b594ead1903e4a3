"""Which files a library is made of, and what they held when they were looked at; without reading them as records."""

from __future__ import annotations

import hashlib
import os
import stat
from pathlib import Path

STOCK_FOLDER = "stock"
OUTSIDE = "this is a link that leads out of the library; put the file itself here"


def record_files(folder: Path) -> list[Path]:
    """Return what is named like a record in a folder, in an order that is the same everywhere."""
    with os.scandir(folder) as entries:
        names = [entry.name for entry in entries]
    return [folder / name for name in sorted(filter(_named_like_a_record, names))]


def _named_like_a_record(name: str) -> bool:
    return name.lower().endswith((".yml", ".yaml")) and not name.startswith(".")


def records_without(folder: Path, word: bytes) -> list[str]:
    """Return the names of those records of a folder, its stock aside, in whose bytes a word does not stand.

    Parameters
    ----------
    folder : Path
        The folder of the records.
    word : bytes
        What to look for; whatever is no plain file, or cannot be read, counts as if it held it.
    """
    with os.scandir(folder) as entries:
        return [entry.name for entry in entries if _named_like_a_record(entry.name) and _is_without(entry, word)]


def _is_without(entry: os.DirEntry[str], word: bytes) -> bool:
    try:
        if not entry.is_file():  # a pipe would be waited on for ever
            return False
        with open(entry.path, "rb", buffering=0) as file:  # noqa: PTH123 - of a thousand, making paths costs more than reading
            return word not in file.read()
    except OSError:
        return False



def prints_of(folder: Path) -> dict[str, str | None]:
    """Return a hash of the bytes of every record and stock file, by its path below the folder of the records.

    Parameters
    ----------
    folder : Path
        The folder of the records.

    Returns
    -------
    dict of str to str or None
        None for what cannot be read as a plain file: such a thing is never known from before. Empty without the folder.
    """
    if not folder.is_dir():
        return {}
    paths = record_files(folder)
    if (folder / STOCK_FOLDER).is_dir():
        paths += record_files(folder / STOCK_FOLDER)
    return {path.relative_to(folder).as_posix(): _print_of(path) for path in paths}


def _print_of(path: Path) -> str | None:
    try:
        if not stat.S_ISREG(path.stat().st_mode):  # a pipe would be waited on for ever
            return None
        return hashlib.sha256(path.read_bytes()).hexdigest()
    except OSError:
        return None


def leads_out(path: Path, folder: Path) -> bool:
    """Whether a file is reached by a link that leads out of a folder: it would publish what the club never meant to.

    Parameters
    ----------
    path : Path
        A file that lies in the folder, or in one below it.
    folder : Path
        The folder; that it may be a link itself does not count.
    """
    if not (path.is_symlink() or path.parent.is_symlink()):
        return False
    try:
        return not path.resolve().is_relative_to(folder.resolve())
    except (OSError, RuntimeError):  # links in a ring: whoever reads the file will tell
        return False


def stamp_of(path: Path) -> tuple[int, int] | None:
    """Return what changes when a large file is replaced by another of the same name; None if there is none."""
    try:
        found = path.stat()
    except OSError:
        return None
    return (found.st_mtime_ns, found.st_size) if stat.S_ISREG(found.st_mode) else None
