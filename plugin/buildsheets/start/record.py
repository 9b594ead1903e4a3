"""A new record, from options and answers."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from pathlib import Path

import click

from buildsheets.records.check import validated
from buildsheets.records.files import STOCK_FOLDER, record_files
from buildsheets.records.library import AWAY, TAKEN, slug_fault
from buildsheets.records.models import Record, Status, Traction
from buildsheets.records.problems import Problem, nearest
from buildsheets.records.reader import read_text
from buildsheets.records.scales import UnknownScaleError, scale_named, scale_names
from buildsheets.records.starter import Beginning, starter_record
from buildsheets.records.stock import Shelf, load_shelf, take_in_stock
from buildsheets.start.asking import Questions, one_line, one_of

LONGEST_SLUG = 60
"""Letters; an address is also typed from paper."""


@dataclass(frozen=True)
class Given:
    """What the options of `new` said; None for what is to be asked."""

    title: str | None = None
    scale: str | None = None
    status: str | None = None
    traction: str | None = None
    vehicle_class: str | None = None
    motor: str | None = None
    decoder: str | None = None


def new_record(file: Path | None, folder: Path, given: Given, questions: Questions, schema: str) -> Path:
    """Write a record to fill in and return its file; an existing one is left alone.

    Parameters
    ----------
    file : Path or None
        Where to; by default a file in `folder`, named after the title.
    folder : Path
        Folder of the records.
    given : Given
        What the options said.
    questions : Questions
        Asks for the rest.
    schema : str
        Where the editor finds the schema, as seen from the record.

    Raises
    ------
    click.ClickException
        If something needed is missing or wrong, or the file is there already; nothing is written then.
    """
    if file is not None:
        _refuse_name(file)
    title = questions.needed("--title", "What is the sheet called", given.title, one_line)
    path = file or folder / f"{slug_of(title)}.yml"
    _refuse_name(path)
    shelf = load_shelf(path.parent / STOCK_FOLDER, path.parent)
    known = _known(title, given, questions, shelf)
    text = starter_record(known, schema)
    problems = _problems(text, path, shelf)
    if problems:
        raise click.ClickException("\n".join(problem.message for problem in problems))
    path.parent.mkdir(parents=True, exist_ok=True)
    try:
        with path.open("x", encoding="utf-8", newline="\n") as out:
            out.write(text)
    except FileExistsError:
        raise _exists(path) from None
    return path


def slug_of(title: str) -> str:
    """Return a file name, without its ending, for a title: plain letters, digits and single hyphens.

    Parameters
    ----------
    title : str
        Of the sheet.

    Raises
    ------
    click.UsageError
        If no letter or digit of the title can stand in an address.
    """
    bare = unicodedata.normalize("NFKD", title.replace("ß", "ss")).encode("ascii", "ignore").decode("ascii").casefold()
    words = re.findall(r"[a-z0-9]+", bare.replace("'", ""))
    slug = "-".join(words)
    if len(slug) > LONGEST_SLUG:
        slug = slug[: LONGEST_SLUG + 1].rpartition("-")[0] or slug[:LONGEST_SLUG]
    if not slug:
        raise click.UsageError("no letter of the title can stand in an address; name the file too, like builds/harbour-tank.yml")
    return slug + AWAY if slug in TAKEN else slug


def _known(title: str, given: Given, questions: Questions, shelf: Shelf) -> Beginning:
    status = questions.optional("--status", "How far is it", given.status, one_of(list(Status)), Status.PLANNED.value)
    return Beginning(
        title=title,
        scale=questions.needed("--scale", "Scale, such as OO, H0 or N", given.scale, _scale),
        status=status or Status.PLANNED.value,
        traction=questions.optional("--type", f"Type of the prototype ({', '.join(Traction)})", given.traction, one_of(list(Traction))),
        vehicle_class=questions.optional("--class", "Its class, such as 0-6-0 tank", given.vehicle_class, one_line),
        motor=_part("motors", "--motor", "Motor", given.motor, questions, shelf),
        decoder=_part("decoders", "--decoder", "Decoder", given.decoder, questions, shelf),
    )


def _part(section: str, option: str, what: str, given: str | None, questions: Questions, shelf: Shelf) -> str | None:
    """Return the name of a stock part; nothing is asked where none is on the shelf."""
    names = shelf.names(section)
    if given is None and not names:
        return None

    def read(text: str) -> str:
        if text in names:
            return text
        close = nearest(text, names)
        advice = f'did you mean "{close}"?' if close else f"on the shelf are {', '.join(names) or 'none'}"
        raise ValueError(f'no stock part of the {section} is called "{text}"; {advice}')

    return questions.optional(option, f"{what} from the stock ({', '.join(names)})", given, read)


def _scale(text: str) -> str:
    try:
        return scale_named(text.strip()).name
    except UnknownScaleError:
        names = ", ".join(scale_names())
        raise ValueError(
            f'no scale is called "{text}"; known names are {names}. For another ratio take the nearest one, and write ratio: in the record'
        ) from None


def _refuse_name(path: Path) -> None:
    """Refuse a file that could not be a record of the library, or is there already."""
    if path.suffix not in (".yml", ".yaml"):
        raise click.ClickException(f"{path} would not be read as a record; call it {path.stem}.yml")
    fault = slug_fault(path.stem)
    if fault is not None:
        raise click.ClickException(fault)
    beside = record_files(path.parent) if path.parent.is_dir() else []
    same = next((other for other in beside if other.stem.casefold() == path.stem), None)
    if path.exists() or same is not None:
        raise _exists(same or path)


def _exists(path: Path) -> click.ClickException:
    return click.ClickException(f"{path} exists already; nothing was written")


def _problems(text: str, path: Path, shelf: Shelf) -> list[Problem]:
    document, problems = read_text(text, path.name)
    if document is None:
        return problems
    filled = take_in_stock(document, Record, shelf)
    return [*problems, *filled.problems, *validated(filled.document, Record, filled.unfilled)[1]]
