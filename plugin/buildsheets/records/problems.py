"""A problem in a record: where it is, what is wrong and what would be right."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

LONGEST_SOURCE_LINE = 160
LIKENESS = 0.66  # below this a suggestion is more often wrong than right
_UNPRINTABLE = re.compile("[\x00-\x1f\x7f-\x9f\u2028\u2029\ud800-\udfff]")


class Mark(NamedTuple):
    """A place in a file; line and column count from one, columns in characters."""

    file: str
    line: int
    column: int


@dataclass(frozen=True, slots=True, order=True)
class Problem:
    """One complaint, shown as `file:line:column: what is wrong; what would be right`."""

    file: str
    line: int
    column: int
    message: str

    def __str__(self) -> str:
        return f"{self.file}:{self.line}:{self.column}: {self.message}"


def problem_at(mark: Mark, message: str) -> Problem:
    """Return the problem with its message on one line."""
    return Problem(mark.file, mark.line, mark.column, printable(" ".join(message.split())))


def printable(text: str) -> str:
    """Return a text with a sign of its own for whatever a terminal obeys and no encoding holds; a file may be named by such."""
    return _UNPRINTABLE.sub("\ufffd", text)


def in_order(problems: Iterable[Problem]) -> list[Problem]:
    """Return the problems sorted by file, line and column, each once."""
    return sorted(set(problems))


def show(problem: Problem, source_line: str) -> str:
    """Return the problem with its line of the file and a caret under the place."""
    line = source_line.rstrip("\r\n").replace("\t", " ")
    cut = max(0, problem.column - LONGEST_SOURCE_LINE // 2) if len(line) > LONGEST_SOURCE_LINE else 0
    return f"{problem}\n    {line[cut : cut + LONGEST_SOURCE_LINE]}\n    {' ' * (problem.column - 1 - cut)}^"


def shown_path(path: Path, library: Path | None = None) -> str:
    """Return the path as a reader would type it: from the working folder, else from beside the library."""
    absolute = path.absolute()
    for base in (Path.cwd(), library.absolute().parent if library else None):
        if base is not None and absolute.is_relative_to(base):
            return printable(absolute.relative_to(base).as_posix())
    return printable(path.as_posix())


def path_of(shown: str, library: Path) -> Path:
    """Return the file that `shown_path` named so, for a library read from this folder."""
    base = Path.cwd() if library.absolute().is_relative_to(Path.cwd()) else library.absolute().parent
    return base / shown


def nearest(word: str, known: Iterable[str]) -> str | None:
    """Return the known word most like this one, or None if none is like it."""
    by_fold = {candidate.casefold(): candidate for candidate in known}
    close = difflib.get_close_matches(word.casefold(), by_fold, n=1, cutoff=LIKENESS)
    return by_fold[close[0]] if close else None
