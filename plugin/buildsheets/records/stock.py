"""Stock parts: what the club keeps data on once, and how a record's group takes them in."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from buildsheets.records.check import problems_of, without_nulls
from buildsheets.records.declared import Model, item_type, model_for
from buildsheets.records.files import OUTSIDE, leads_out, record_files
from buildsheets.records.models import Stock
from buildsheets.records.problems import Mark, Problem, nearest, problem_at, shown_path
from buildsheets.records.reader import Document, Location, read_file

PartName = tuple[str, str]  # section and name


@dataclass(frozen=True)
class StockEntry:
    """One part as a stock file has it."""

    section: str
    name: str
    data: dict[str, Any]
    document: Document

    @property
    def location(self) -> Location:
        """Where it stands in its file."""
        return (self.section, self.name)

    @property
    def content_hash(self) -> str:
        """Hash of the data, whatever comments and line ends surround it."""
        return hash_of(self.data)


@dataclass
class Filled:
    """A record with stock taken in.

    `used` are the parts taken in; `problems` complain of names that are not on the shelf, and `unfilled` are the
    groups that hold them.
    """

    document: Document
    used: dict[PartName, StockEntry] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)
    unfilled: set[Location] = field(default_factory=set)


@dataclass
class Shelf:
    """All stock parts of a library by name, and what is wrong with their files."""

    entries: dict[str, StockEntry] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)

    @cached_property
    def sound(self) -> Stock:
        """Every part that is as declared, in order of the names; what is wrong with the others stands in `problems`."""
        sound = Stock(format=1)
        for entry in sorted(self.entries.values(), key=lambda entry: entry.name):
            one = {"format": 1, entry.section: {entry.name: without_nulls(entry.data)}}
            try:
                read = Stock.model_validate(one)
            except ValidationError:
                continue
            parts = {**getattr(sound, entry.section), **getattr(read, entry.section)}
            sound = sound.model_copy(update={entry.section: parts})
        return sound

    def hash_of_sections(self, sections: tuple[str, ...]) -> str:
        """Return a hash of all parts of some sections."""
        parts = [[e.section, e.name, e.content_hash] for e in self.entries.values() if e.section in sections]
        return hash_of(sorted(parts))

    def names(self, section: str | None) -> list[str]:
        """Return the names in a section, or all."""
        return [entry.name for entry in self.entries.values() if section in (None, entry.section)]


def hash_of(data: Any) -> str:
    """Return a hash of plain data that does not depend on the order of keys."""
    text = json.dumps(data, sort_keys=True, ensure_ascii=False, separators=(",", ":"))
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()


def load_shelf(folder: Path, library: Path | None = None) -> Shelf:
    """Read all stock files of a folder; without the folder the shelf is empty."""
    shelf = Shelf()
    paths = record_files(folder) if folder.is_dir() else []
    root = library if library is not None and folder.is_relative_to(library) else folder
    for path in paths:
        if leads_out(path, root):
            shelf.problems.append(problem_at(Mark(shown_path(path, library), 1, 1), OUTSIDE))
            continue
        document, problems = read_file(path, shown_path(path, library))
        shelf.problems += problems
        if document is not None:
            shelf.problems += problems_of(document, Stock)
            _put_up(shelf, document)
    return shelf


def _put_up(shelf: Shelf, document: Document) -> None:
    sections = document.data if isinstance(document.data, dict) else {}
    for section, parts in sections.items():
        if section not in Stock.model_fields or not isinstance(parts, dict):
            continue
        for name, part in parts.items():
            if isinstance(part, dict):
                _put_up_part(shelf, StockEntry(section, name, part, document))


def _put_up_part(shelf: Shelf, entry: StockEntry) -> None:
    place = entry.document.key_mark(entry.location)
    if "stock" in entry.data:
        mark = entry.document.key_mark((*entry.location, "stock"))
        shelf.problems.append(problem_at(mark, "a stock part cannot refer to another; write its data out here"))
    first = shelf.entries.setdefault(entry.name, entry)
    if first is not entry:
        other = first.document.key_mark(first.location)
        where = f"{other.file}, line {other.line}"
        shelf.problems.append(problem_at(place, f'"{entry.name}" also stands in {where}; give each its own name'))


def take_in_stock(document: Document, model: Model, shelf: Shelf) -> Filled:
    """Fill the groups of a record that name a stock part.

    Parameters
    ----------
    document : Document
        The record as read; it is left as it is.
    model : type
        What the record is read as.
    shelf : Shelf
        The stock of the library.

    Returns
    -------
    Filled
        Stock fields lie below the record's own. Values from stock have their place in the stock file.
    """
    result = Filled(Document(document.file, None, dict(document.values), dict(document.keys)))
    result.document.data = _TakingIn(result, shelf).walk(document.data, model, ())
    return result


class _TakingIn:
    """Walks a record beside its declarations."""

    def __init__(self, result: Filled, shelf: Shelf) -> None:
        self.result, self.document, self.shelf = result, result.document, shelf

    def walk(self, data: Any, annotation: Any, location: Location) -> Any:
        """Return a copy of the data with stock taken in."""
        if isinstance(data, list):
            inner = item_type(annotation, data)
            return [self.walk(item, inner, (*location, index)) for index, item in enumerate(data)]
        if not isinstance(data, dict):
            return data
        model = model_for(annotation, data)
        if model is None:
            return data
        if isinstance(data.get("stock"), str) and "stock" in model.model_fields:
            data = self._filled(data, model, location)
        fields = model.model_fields
        return {
            key: self.walk(value, fields[key].annotation, (*location, key)) if key in fields else value
            for key, value in data.items()
        }

    def _filled(self, data: dict[str, Any], model: Model, location: Location) -> dict[str, Any]:
        section: str | None = getattr(model, "stock_section", None)
        entry = self._entry(data["stock"], section, location)
        if entry is None:
            self.result.unfilled.add(location)
            return data
        self.result.used[entry.section, entry.name] = entry
        known = entry.data if section else {key: entry.data[key] for key in model.model_fields if key in entry.data}
        return self._over(data, known, location, entry.document, entry.location)

    def _entry(self, name: str, section: str | None, location: Location) -> StockEntry | None:
        """Find the part; a place without a section of its own, such as a parts list, takes any."""
        entry = self.shelf.entries.get(name)
        if entry is not None and section in (None, entry.section):
            return entry
        mark = self.document.mark((*location, "stock"))
        if entry is not None:
            message = f'stock part "{name}" is one of the {entry.section}; one of the {section} belongs here'
        else:
            message = f'no stock part is called "{name}"; {self._advice(name, section)}'
        self.result.problems.append(problem_at(mark, message))
        return None

    def _advice(self, name: str, section: str | None) -> str:
        names = self.shelf.names(section)
        close = nearest(name, names)
        if close:
            return f'did you mean "{close}"?'
        if names:
            return "on the shelf are " + ", ".join(names[:8]) + (", ..." if len(names) > 8 else "")
        return f"add it to a file in builds/stock under {section or 'its section'}:"

    def _over(
        self, own: dict[str, Any], below: dict[str, Any], location: Location, source: Document, origin: Location
    ) -> dict[str, Any]:
        """Lay the record's own fields over those below, group by group; note where each of the rest stands."""
        merged = dict(below)
        for key, value in own.items():
            inner = below.get(key)
            if isinstance(value, dict) and isinstance(inner, dict):
                merged[key] = self._over(value, inner, (*location, key), source, (*origin, key))
            else:
                merged[key] = value
        for key in below.keys() - own.keys():
            self._note_places((*location, key), source, (*origin, key), below[key])
        return merged

    def _note_places(self, here: Location, source: Document, there: Location, value: Any) -> None:
        """Note where a value from stock, and all that is in it, stands."""
        self.document.values[here] = source.mark(there)
        if there in source.keys:
            self.document.keys[here] = source.keys[there]
        inner = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
        for part, item in inner:
            self._note_places((*here, part), source, (*there, part), item)
