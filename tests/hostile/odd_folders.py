"""Libraries whose files are no records, or are named as no record can be; each kind has a name, so that it can be counted."""

from __future__ import annotations

import os
import random
from collections.abc import Callable
from pathlib import Path

RECORD = b"format: 1\ntitle: Engine\nstatus: planned\n"
STOCK = b"format: 1\nmotors:\n  can: {name: can motor, kind: iron core}\n"
PICTURED = RECORD + b"pictures: [{file: one.png, shows: As found}]\n"
LARGE = 50_000_000

NAMES = {
    "spaces": ("two words", " before", "after ", "a  b", "\u00a0", "tab\there"),
    "quotes and signs": ("it's", 'say "so"', "<b>", "a&b", "a%2fb", "a#b", "a?b", "a;b", "$(id)", "`id`", "a|b", "{slug}", "{{ slug }}", "a\\b"),
    "dots": ("..", "a..b", "...", "a.", "a.yml", ".hidden", "con.prn"),
    "right to left": ("\u202egnol", "\u05de\u05e0\u05d5\u05e2", "\u0642\u0627\u0637\u0631\u0629", "a\u200fb"),
    "emoji": ("\U0001f682", "a\U0001f682b", "\U0001f469\u200d\U0001f527", "e\u0301", "\ufb01", "\u0130", "\u00df"),
    "line ends": ("a\nb", "a\r\nb", "a\u2028b", "a\x1b[31mb", "a\x85b", "\n"),
    "capitals": ("Engine", "ENGINE", "engInE"),
    "numbers and hyphens": ("1", "-", "a--b", "-a", "a-", "0x1", "a_b", "null", "true", "a" * 200),
    "pages of the library": ("compare", "parts", "shopping", "together", "index"),
}
if os.name == "posix":  # elsewhere names are text
    NAMES["no UTF-8"] = (os.fsdecode(b"\xe9ngine"), os.fsdecode(b"a\xff"), os.fsdecode(b"\xed\xa0\x80"))


def _written(data: bytes) -> Callable[[Path], object]:
    return lambda path: path.write_bytes(data)


def _large(path: Path) -> None:
    with path.open("wb") as file:
        file.truncate(LARGE)


def _linked(to: str) -> Callable[[Path], object]:
    return lambda path: path.symlink_to(to)


def _barred(path: Path) -> None:
    path.write_bytes(RECORD)
    path.chmod(0)


THINGS: dict[str, Callable[[Path], object]] = {
    "record": _written(RECORD),
    "record with a picture": _written(PICTURED),
    "stock file": _written(STOCK),
    "file of 50 MB": _large,
    "empty file": _written(b""),
    "directory": lambda path: path.mkdir(),
    "dangling link": _linked("nowhere.yml"),
    "link to itself": lambda path: path.symlink_to(path.name),
    "link to a device": _linked("/dev/zero"),
    "link out of the library": _linked("/etc/hostname"),
    "link up": _linked(".."),
    "file that may not be read": _barred,
}
if hasattr(os, "mkfifo"):
    THINGS["pipe"] = os.mkfifo
OFTEN = {"record": 6, "record with a picture": 3, "stock file": 2, "file of 50 MB": 0.2}
"""Weights; one for the others. The large file is read to its end for its hash, which takes as long as ten other libraries."""


def lay_out(folder: Path, chance: random.Random) -> list[str]:
    """Fill an empty folder with an odd library and return the names of what is odd about it.

    Parameters
    ----------
    folder : Path
        Where to; the stock lies in a folder below it.
    chance : Random
        Draws names and things.
    """
    said: list[str] = []
    stock = folder / "stock"
    if chance.random() < 0.05:
        chance.choice((THINGS["empty file"], THINGS["dangling link"], THINGS["pipe" if "pipe" in THINGS else "link up"]))(stock)
        said.append("no folder where the stock belongs")
    else:
        stock.mkdir()
    for _ in range(chance.randint(1, 5)):
        home = stock if stock.is_dir() and chance.random() < 0.2 else folder
        kind = chance.choice(list(NAMES)) if chance.random() < 0.6 else "plain"
        stem = chance.choice(NAMES[kind]) if kind != "plain" else chance.choice(("engine", "tank", "pug"))
        thing = chance.choices(list(THINGS), [OFTEN.get(name, 1) for name in THINGS])[0]
        put = _put(home, stem + chance.choice((".yml", ".yml", ".yaml", ".YML")), thing)
        said += [f"name: {kind}", thing] if put else []
    if chance.random() < 0.3:
        thing = chance.choice(("empty file", "directory", "dangling link", "link to a device", "link out of the library", "pipe"))
        said += [f"picture: {thing}"] if thing in THINGS and _put(folder, "one.png", thing) else []
    return said + _clashes(folder)


def _put(home: Path, name: str, thing: str) -> bool:
    """Put a thing in its place; whether this disk holds such a name and had none yet."""
    try:
        if not os.path.lexists(home / name):
            THINGS[thing](home / name)
            return True
    except (OSError, ValueError):
        pass
    return False


def _clashes(folder: Path) -> list[str]:
    stems = [path.stem for path in folder.iterdir() if path.suffix.lower() in (".yml", ".yaml")]
    folded = [stem.casefold() for stem in stems]
    return [
        *(["two records of one name"] if len(set(stems)) < len(stems) else []),
        *(["names that differ in capitals"] if len(set(folded)) < len(set(stems)) else []),
    ]


def clear(folder: Path) -> None:
    """Take away what `lay_out` laid out."""
    for home in (folder / "stock", folder):
        if home.is_dir() and not home.is_symlink():
            for path in home.iterdir():
                if path.is_dir() and not path.is_symlink():
                    path.rmdir()
                else:
                    path.unlink()
        elif os.path.lexists(home):
            home.unlink()
