"""A new club's library, laid down whole or not at all."""

from __future__ import annotations

import json
import re
import shutil
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from importlib import resources
from importlib.resources.abc import Traversable
from pathlib import Path, PurePosixPath

import click

from buildsheets.records.schema import record_schema
from buildsheets.sheet.options import PAPERS, SPEED_UNITS
from buildsheets.sheet.prose import plain
from buildsheets.start.asking import Questions, one_line, one_of
from buildsheets.start.program import WHEELS, Program

PLACES = {
    "index.md": "docs/index.md",
    "members.md": "README.md",
    "gitignore": ".gitignore",
    "pre-commit-config.yaml": ".pre-commit-config.yaml",
    "workflow.yml": ".github/workflows/library.yml",
}
"""Files that stand elsewhere in a library than in this package, where a dot before a name would hide them."""

HARMLESS = (".git",)
"""What an empty folder may hold all the same: a repository without a file in it."""

_BLANK = re.compile(r"@([a-z_]+)@")
_CURRENCY = re.compile(r"[A-Z]{3}")


@dataclass(frozen=True)
class Club:
    """What a club chooses; `currency` is None where each record names its own."""

    name: str
    currency: str | None = None
    paper: str = "A4"
    speed_unit: str = "mph"


def asked_club(club: str | None, currency: str | None, paper: str | None, speed_unit: str | None, questions: Questions) -> Club:
    """Return a club's choices, from options and answers.

    Parameters
    ----------
    club, currency, paper, speed_unit : str or None
        What the options said; None for what is to be asked.
    questions : Questions
        Asks for the rest.
    """
    return Club(
        questions.needed("--club", "What is the club called", club, one_line),
        questions.optional("--currency", "Currency of prices, three letters such as EUR", currency, _currency),
        questions.optional("--paper", f"Paper ({', '.join(PAPERS)})", paper, one_of(list(PAPERS)), PAPERS[0]) or PAPERS[0],
        questions.optional("--speed-unit", f"Speeds in ({', '.join(SPEED_UNITS)})", speed_unit, one_of(list(SPEED_UNITS)), SPEED_UNITS[0])
        or SPEED_UNITS[0],
    )


def refuse_used(target: Path) -> None:
    """Raise click.ClickException unless a library can be laid down here: nothing there, or an empty folder.

    Parameters
    ----------
    target : Path
        The folder of the library.
    """
    if target.is_dir() and all(inside.name in HARMLESS for inside in target.iterdir()):
        return
    if target.exists() or target.is_symlink():
        raise click.ClickException(f"{target} is not an empty folder; nothing was written")


def lay_down(target: Path, club: Club, program: Program) -> None:
    """Write a club's library, which builds as it stands.

    It is made out of sight, on the same disk, and moved to its place when it is whole.

    Parameters
    ----------
    target : Path
        Its folder; must not be there yet, or be empty.
    club : Club
        The club's choices.
    program : Program
        How the library gets this program.

    Raises
    ------
    click.ClickException
        If there is something in the folder already.
    """
    refuse_used(target)
    home = target.absolute()
    home.parent.mkdir(parents=True, exist_ok=True)
    # inside a folder that is there: it may be another disk than the one around it, or all that may be written to
    with tempfile.TemporaryDirectory(prefix=".start-", dir=home if home.exists() else home.parent) as hidden:
        made = Path(hidden) / "library"
        made.mkdir()
        _write_all(made, club, program)
        _move(made, home)


def _move(made: Path, home: Path) -> None:
    """Put a finished folder in its place; into an empty one piece by piece, and all of them out again if one does not fit."""
    if not home.exists():
        made.rename(home)
        return
    moved: list[Path] = []
    try:
        for piece in sorted(made.iterdir()):
            moved.append(piece.rename(home / piece.name))
    except OSError:
        for piece in moved:
            piece.rename(made / piece.name)
        raise


def _write_all(folder: Path, club: Club, program: Program) -> None:
    blanks = {
        "club": _quoted(club.name),
        "club_in_words": plain(club.name),
        "currency": f"currency: {club.currency}" if club.currency else "# currency: EUR  # for records that name none",
        "paper": club.paper,
        "speed_unit": club.speed_unit,
        "program": program.line,
    }
    for name, raw in _packed(resources.files("buildsheets.start") / "files"):
        # in a record @ is a sign like any other
        data = raw if name.startswith("builds/") else _filled(raw.decode("utf-8"), blanks).encode("utf-8")
        _write(folder / PLACES.get(name, name), data)
    schema = json.dumps(record_schema(), indent=2, ensure_ascii=False) + "\n"
    _write(folder / "builds" / "record.schema.json", schema.encode("utf-8"))
    if program.wheel is not None:
        (folder / WHEELS).mkdir()
        shutil.copy(program.wheel, folder / WHEELS)


def _packed(folder: Traversable, above: str = "") -> Iterator[tuple[str, bytes]]:
    """Yield the files of a folder in this package, with their names below it."""
    for inside in sorted(folder.iterdir(), key=lambda entry: entry.name):
        name = (PurePosixPath(above) / inside.name).as_posix()
        if inside.is_dir():
            yield from _packed(inside, name)
        else:
            yield name, inside.read_bytes()


def _filled(text: str, blanks: dict[str, str]) -> str:
    return _BLANK.sub(lambda blank: blanks[blank[1]], text)


def _write(path: Path, data: bytes) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(data)


def _quoted(text: str) -> str:
    """Text that is right in YAML whatever it holds: what JSON puts in quotes, YAML reads the same."""
    return json.dumps(text, ensure_ascii=False)


def _currency(text: str) -> str:
    code = text.strip().upper()
    if not _CURRENCY.fullmatch(code):
        raise ValueError(f'"{text}" is no code of a currency; write three letters, such as EUR')
    return code
