"""What is wrong with some files of a library: `check`, without how it is told."""

from __future__ import annotations

from collections.abc import Iterable, Sequence, Set
from pathlib import Path

from buildsheets.records.files import STOCK_FOLDER, records_without
from buildsheets.records.library import LibraryRecords, load_library
from buildsheets.records.problems import Mark, Problem, in_order, path_of, problem_at, shown_path
from buildsheets.records.told import from_the_top

RECORD_ENDINGS = (".yml", ".yaml")


def checked(paths: Sequence[Path], from_top: bool = False) -> tuple[list[Problem], int]:
    """Return every problem of some folders, records and stock files, and how many files were asked about.

    A stock file is checked together with the records beside it, for its parts are in them; and a record is told what is
    wrong with the stock it uses.

    Parameters
    ----------
    paths : sequence of Path
        What to look at; all of one folder is read once.
    from_top : bool
        Name files as seen from the top of their repository, instead of as typed.
    """
    asked: dict[Path, list[Path]] = {}
    for path in paths:
        asked.setdefault(_folder_of(path), []).append(path)
    found: list[Problem] = []
    files = 0
    for folder, some in asked.items():
        whole = any(path.is_dir() or _in_stock(path) for path in some)
        wanted = {_plain(path) for path in some}
        library = load_library(folder, None if whole or not folder.is_dir() else _without_claims(folder, wanted))
        every = [*library.problems, *_unfit_pictures(library), *(p for path in some for p in _no_record(path))]
        placed = [(problem, path_of(problem.file, folder)) for problem in every]
        theirs = {problem for build in library.broken.values() if _plain(build.path) in wanted for problem in build.problems}
        chosen = [(problem, place) for problem, place in placed if whole or _plain(place) in wanted or problem in theirs]
        found += [from_the_top(problem, place) if from_top else problem for problem, place in chosen]
        records = len(library.builds) + len(library.broken)
        files += records if any(path.is_dir() for path in some) else len(some)
    return in_order(found), files


def _without_claims(folder: Path, wanted: Set[Path]) -> dict[str, Sequence[str]]:
    """Return the records that need not be read to judge others: all but those that may claim an address besides their name."""
    home = folder.resolve()
    names = {path.name for path in wanted if path.parent == home}
    return {name: () for name in records_without(folder, b"formerly") if name not in names}


def _unfit_pictures(library: LibraryRecords) -> Iterable[Problem]:
    """Pictures that are there and cannot be published; of those that are not there the library has complained."""
    if not library.pictures:
        return
    from buildsheets.pictures import picture_fault  # brings a large library along

    told = {(problem.file, problem.line, problem.column) for problem in library.problems}
    faults: dict[str, str | None] = {}
    for mark, file in library.pictures:
        if tuple(mark) in told:
            continue
        if file not in faults:
            faults[file] = picture_fault(library.folder, file)
        why = faults[file]
        if why is not None:
            yield problem_at(mark, why)


def _no_record(path: Path) -> Iterable[Problem]:
    if path.is_dir() or (path.suffix.lower() in RECORD_ENDINGS and not path.name.startswith(".")):
        return
    yield problem_at(Mark(shown_path(path), 1, 1), "this is not read as a record; the name of a record ends in .yml")


def _folder_of(path: Path) -> Path:
    """Return the library a path belongs to: stock files lie one folder further down."""
    if path.is_dir():
        return path
    home = path.absolute().parent
    return home.parent if _in_stock(path) else home


def _in_stock(path: Path) -> bool:
    return not path.is_dir() and path.absolute().parent.name == STOCK_FOLDER


def _plain(path: Path) -> Path:
    """Return one spelling of a path; a link stays the file it stands for in the library."""
    return path.parent.resolve() / path.name
