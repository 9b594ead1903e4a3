"""Finished work by content, on disk: it outlives the process, a killed build, and whatever happens to a file of it.

An entry is named by a hash of all it was made from, so it is right for ever and never replaced by another. It is put in
its place whole, under a name of its own until then. What cannot be read back as it was written counts as absent.
"""

from __future__ import annotations

import contextlib
import hashlib
import importlib.metadata
import json
import os
import shutil
import sys
import tempfile
import time
import weakref
import zlib
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from io import BytesIO
from pathlib import Path
from typing import Any, BinaryIO

MAGIC = b"buildsheets entry 2\n"
HEAD = len(MAGIC) + 8  # then checksum and length of the description, four bytes each
DAY_S = 86_400.0
KEPT_S = 30 * DAY_S
"""An entry that no build has asked for in so long is thrown away."""
MADE_WITH = (
    "babel", "jinja2", "markdown", "matplotlib", "nh3", "numpy", "pillow", "pydantic", "pyyaml", "schemdraw", "scipy", "segno",
)
"""Libraries whose version may change a figure, a drawing or a page."""

NO_PART_OF_A_PAGE = {"__pycache__", "theme"}
"""Folders of this package that no finished work is made from: style and scripts lie beside the pages."""


@dataclass(frozen=True)
class Entry:
    """What was kept under one key: a description as plain data, and named pieces of bytes."""

    data: dict[str, Any]
    pieces: Mapping[str, bytes]


class DamagedError(ValueError):
    """The bytes are not those of an entry, or not all of them."""


def packed(data: Mapping[str, Any], pieces: Mapping[str, bytes]) -> bytes:
    """Return an entry as one run of bytes.

    Parameters
    ----------
    data : mapping
        Plain data.
    pieces : mapping of str to bytes
        In the order in which they will be found again.
    """
    return b"".join(parts_of(data, pieces))


def parts_of(data: Mapping[str, Any], pieces: Mapping[str, bytes]) -> list[bytes]:
    """Return an entry in parts that follow each other, the pieces among them as they are: a large one need not be copied.

    Parameters
    ----------
    data, pieces : mapping
        As for `packed`.
    """
    described = {"data": data, "pieces": [[name, len(piece), zlib.crc32(piece)] for name, piece in pieces.items()]}
    head = json.dumps(described, ensure_ascii=False, separators=(",", ":"), allow_nan=False).encode("utf-8", "surrogatepass")
    return [MAGIC, *(number.to_bytes(4, "big") for number in (zlib.crc32(head), len(head))), head, *pieces.values()]


def unpacked(raw: bytes) -> Entry:
    """Return the entry in a run of bytes.

    Raises
    ------
    DamagedError
        If they are not what `packed` returned.
    """
    stream = BytesIO(raw)
    entry = _read(stream)
    if stream.read(1):
        raise DamagedError
    return entry


def _read(stream: BinaryIO, wanted: Collection[str] = ()) -> Entry:
    """Return the entry that begins here, with the pieces that are wanted, or all; each part has a checksum of its own."""
    begin = stream.read(HEAD)
    if len(begin) < HEAD or begin[: len(MAGIC)] != MAGIC:
        raise DamagedError
    checksum, length = (int.from_bytes(begin[start : start + 4], "big") for start in (len(MAGIC), len(MAGIC) + 4))
    head = _whole(stream.read(length), length, checksum)
    if not head:  # of which the checksum is as empty
        raise DamagedError
    described = json.loads(head.decode("utf-8", "surrogatepass"))
    pieces = {}
    for name, length, checksum in described["pieces"]:
        if wanted and name not in wanted:
            stream.seek(length, os.SEEK_CUR)
        else:
            pieces[name] = _whole(stream.read(length), length, checksum)
    return Entry(described["data"], pieces)


def _whole(part: bytes, length: int, checksum: int) -> bytes:
    if len(part) != length or zlib.crc32(part) != checksum:
        raise DamagedError
    return part


def key_of(*parts: object) -> str:
    """Return the key for what is made from these parts, whose `repr` must tell all of them."""
    return hashlib.sha256("\0".join(map(repr, parts)).encode("utf-8", "surrogatepass")).hexdigest()


@cache
def program_print() -> str:
    """Return a hash of all that makes a page out of a record: this package, the libraries it draws on, the interpreter."""
    home = Path(__file__).parent
    own = sorted(path for path in home.rglob("*") if path.is_file() and not NO_PART_OF_A_PAGE & set(path.relative_to(home).parts))
    hashes = [(path.relative_to(home).as_posix(), hashlib.sha256(path.read_bytes()).hexdigest()) for path in own]
    return key_of(hashes, [_version(name) for name in MADE_WITH], sys.version_info[:3])


def _version(name: str) -> str | None:
    try:
        return importlib.metadata.version(name)
    except importlib.metadata.PackageNotFoundError:
        return None


class Cache:
    """Entries in a folder. Where it cannot be written, entries live as long as this object does.

    Parameters
    ----------
    folder : Path or None
        Where to; made if absent. None for a folder that goes with this object.
    """

    def __init__(self, folder: Path | None = None) -> None:
        self.fault: str | None = None
        """Why nothing is kept for the next build, if so."""
        self._held: dict[str, bytes] = {}  # what the disk would not take
        if folder is not None:
            self.fault = _cannot_write(folder)
        self.reads = folder if folder is not None and folder.is_dir() else None
        self.passing = folder is None or self.fault is not None
        if folder is None or self.fault is not None:
            folder = Path(tempfile.mkdtemp(prefix="buildsheets-"))
            weakref.finalize(self, shutil.rmtree, folder, ignore_errors=True)
        self.folder = folder

    def read(self, kind: str, key: str, *wanted: str) -> Entry | None:
        """Return what is kept under a key, or None; a damaged entry is as good as none.

        Parameters
        ----------
        kind, key : str
            As it was written.
        *wanted : str
            Names of the pieces to read; all if none is named.
        """
        name = f"{kind}/{key[:2]}/{key[2:]}"
        raw = self._held.get(name)
        if raw is not None:
            return unpacked(raw)
        for folder in dict.fromkeys(filter(None, (self.folder, self.reads))):
            path = folder / name
            try:
                with path.open("rb") as file:
                    _unseal(name, file)
                    entry = _read(file, wanted)
                    if not wanted and file.read(1):
                        raise DamagedError
                    _mark_used(file.fileno())
            except (OSError, DamagedError):
                continue
            return entry
        return None

    def write(self, kind: str, key: str, raw: bytes | Sequence[bytes]) -> bool:
        """Keep an entry; return whether the disk took it. If not, this object holds it.

        Parameters
        ----------
        kind, key : str
            What it is and what it was made from.
        raw : bytes or sequence of bytes
            From `packed` or `parts_of`.
        """
        parts = [raw] if isinstance(raw, bytes) else raw
        name = f"{kind}/{key[:2]}/{key[2:]}"
        path = self.folder / name
        part = path.with_name(f".{path.name}.{os.getpid()}")
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            with part.open("wb") as file:
                file.write(_seal(name))
                file.writelines(parts)
            part.replace(path)
        except OSError:
            with contextlib.suppress(OSError):
                part.unlink()
            self._held[name] = b"".join(parts)
            return False
        return True

    def hold(self, kind: str, key: str, raw: bytes) -> None:
        """Hold an entry in memory that another process could not write."""
        self._held[f"{kind}/{key[:2]}/{key[2:]}"] = raw

    def lacks(self, kind: str) -> bool:
        """Whether there is no entry of a kind.

        Parameters
        ----------
        kind : str
            Of the entries.
        """
        return not any(any((folder / kind).glob("??/*")) for folder in dict.fromkeys(filter(None, (self.folder, self.reads))))

    def tidy(self) -> None:
        """Throw away what nobody has asked for in a month, and what a killed build left half-written a day ago."""
        if self.passing:
            return
        now = time.time()
        for path in self.folder.glob("*/??/*"):
            with contextlib.suppress(OSError):
                age = now - path.stat().st_mtime
                if age > (DAY_S if path.name.startswith(".") else KEPT_S):
                    path.unlink()


def _seal(name: str) -> bytes:
    """Return what a file begins with: its own name, so that one that was moved or copied to another name is no entry."""
    return name.encode() + b"\n"


def _unseal(name: str, file: BinaryIO) -> None:
    seal = _seal(name)
    if file.read(len(seal)) != seal:
        raise DamagedError


def _cannot_write(folder: Path) -> str | None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=folder):
            return None
    except OSError as problem:
        return f"{folder}: {problem.strerror or problem}"


def _mark_used(file: int) -> None:
    """Say that an entry is still wanted, at most once a day; a clock that was set back does no harm."""
    with contextlib.suppress(OSError):
        if time.time() - os.fstat(file).st_mtime > DAY_S:
            os.utime(file)
