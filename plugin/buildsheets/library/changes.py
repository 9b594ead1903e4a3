"""What a proposed change does to the library: new, changed and removed sheets, and how their figures moved."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal

from buildsheets.figures import work_out
from buildsheets.library.rows import library_json, library_row
from buildsheets.numerals import UNKNOWN, given, quantity, speed
from buildsheets.records.files import STOCK_FOLDER, record_files
from buildsheets.records.library import Build, load_library
from buildsheets.settings import Settings
from buildsheets.sheet.prose import plain

FORMATS = ("plain", "markdown", "json")
JSON_FORMAT = 1
LIBRARY_FILE = "library.json"
DIGITS = 3

Row = Mapping[str, Any]
Kind = Literal["new", "changed", "removed", "broken"]
KINDS: dict[Kind, str] = {"new": "new", "changed": "changed", "removed": "removed", "broken": "cannot be read"}

FIGURES = {"top_scale_mph": "Top speed", "start_step": "Starts at step", "dropper_temperature_c": "Dropper", "level": "Level"}
"""Keys of a row that each have a column of their own."""
BESIDES = {
    "title": "title", "status": "status", "scale": "scale", "prototype_class": "class", "drive": "drive", "motor": "motor",
    "decoder": "decoder", "dropper": "dropper", "vehicles_level": "vehicles on the level", "cost": "cost",
}
"""Keys of a row that are told only if they changed."""


class SourceError(ValueError):
    """A place that holds no library."""


@dataclass(frozen=True)
class Change:
    """One sheet that is not as it was; a row is None where there is none, or its record cannot be read."""

    slug: str
    kind: Kind
    before: Row | None = None
    after: Row | None = None

    @property
    def title(self) -> str:
        """Title as it is now."""
        row = self.after or self.before
        return str(row.get("title") or self.slug) if row else self.slug


@dataclass(frozen=True)
class Changes:
    """All sheets that are not as they were, in order of their slugs, and how many are."""

    listed: list[Change]
    as_before: int


@dataclass
class _Source:
    """One state of the library: finished rows, records not yet worked out, and what cannot be read."""

    rows: dict[str, Row] = field(default_factory=dict)
    builds: dict[str, Build] = field(default_factory=dict)
    broken: set[str] = field(default_factory=set)

    @property
    def slugs(self) -> set[str]:
        return {*self.rows, *self.builds, *self.broken}

    def row(self, slug: str) -> Row | None:
        """Return the row of a sheet, worked out now if it comes from a record."""
        build = self.builds.get(slug)
        return _row_of(build) if build is not None else self.rows.get(slug)


def changes(old: Path, new: Path) -> Changes:
    """Compare two states of a library.

    Parameters
    ----------
    old, new : Path
        Each a `library.json`, a built site that holds one, or a folder of records. Between two folders of records only those
        that differ are worked out.

    Raises
    ------
    SourceError
        If one of them is neither.
    """
    before, after = _source(old), _source(new)
    listed = [_change(slug, before, after) for slug in sorted(before.slugs | after.slugs)]
    found = [change for change in listed if change is not None]
    return Changes(found, len(listed) - len(found))


def _change(slug: str, before: _Source, after: _Source) -> Change | None:
    """Return what became of one sheet; None if it is as it was."""
    if slug in after.broken:
        return Change(slug, "broken", before=before.row(slug))
    then, now = before.builds.get(slug), after.builds.get(slug)
    if then is not None and now is not None and then.content_hash("") == now.content_hash(""):
        return None
    old, new = before.row(slug), after.row(slug)
    if slug not in after.slugs:
        return Change(slug, "removed", before=old)
    if slug not in before.slugs:
        return Change(slug, "new", after=new)
    if old == new and (then is None or now is None):
        return None
    return Change(slug, "changed", old, new)


def _source(place: Path) -> _Source:
    if place.is_file():
        return _published(place)
    beside = [place / LIBRARY_FILE, *sorted(place.glob(f"*/{LIBRARY_FILE}"))]
    published = next((file for file in beside if file.is_file()), None)
    if published is not None:
        return _published(published)
    if not record_files(place) and not (place / STOCK_FOLDER).is_dir():  # a library may have lost its last record
        raise SourceError(f"{place} holds neither records nor a {LIBRARY_FILE}; name a folder of records, a built site or that file")
    library = load_library(place)
    return _Source(builds={build.slug: build for build in library.builds}, broken=set(library.broken))


def _published(file: Path) -> _Source:
    try:
        rows = json.loads(file.read_bytes())["builds"]
        return _Source(rows={str(row["slug"]): dict(row) for row in rows})
    except (ValueError, LookupError, TypeError):
        raise SourceError(f"{file} is not the {LIBRARY_FILE} of a library") from None


def _row_of(build: Build) -> Row:
    figures = work_out(build, Settings().for_figures())
    row: Row = json.loads(library_json([library_row(figures)]))["builds"][0]  # rounded as it is published
    return row


def told_changes(found: Changes, form: str, speed_unit: str = "mph") -> str:
    """Return the changes as text.

    Parameters
    ----------
    found : Changes
        From `changes`.
    form : str
        One of `FORMATS`.
    speed_unit : str
        "mph" or "km/h", for a reader.
    """
    if form == "json":
        return _as_json(found)
    return _as_markdown(found, speed_unit) if form == "markdown" else _as_lines(found, speed_unit)


def _as_json(found: Changes) -> str:
    listed = [
        {"slug": change.slug, "title": change.title, "kind": change.kind, "before": change.before, "after": change.after} for change in found.listed
    ]
    return json.dumps({"format": JSON_FORMAT, "as_before": found.as_before, "changes": listed}, ensure_ascii=False, indent=1) + "\n"


def _as_lines(found: Changes, unit: str) -> str:
    lines = []
    for change in found.listed:
        figures = [f"{label.lower()} {text}" for (key, label) in FIGURES.items() if (text := _told(change, key, unit))]
        lines.append(f"{KINDS[change.kind]}: {change.slug}: " + "; ".join([change.title, *figures, *_besides(change, unit)]))
    return "".join(f"{line}\n" for line in (*lines, _counted(found)))


def _as_markdown(found: Changes, unit: str) -> str:
    lines = ["## Sheets", "", _counted(found)]
    if found.listed:
        lines += ["", _table_row(["Sheet", "", *FIGURES.values(), "Besides"]), _table_row(["---"] * (len(FIGURES) + 3))]
    for change in found.listed:
        figures = [_told(change, key, unit) for key in FIGURES]
        cells = [f"{change.title} ({change.slug})", KINDS[change.kind], *figures, "; ".join(_besides(change, unit))]
        lines.append(_table_row([plain(cell) for cell in cells]))
    return "\n".join(lines) + "\n"


def _table_row(cells: Sequence[str]) -> str:
    return f"| {' | '.join(cells)} |"


def _counted(found: Changes) -> str:
    kinds = [change.kind for change in found.listed]
    parts = [f"{kinds.count(kind)} {word}" for kind, word in KINDS.items() if kind in kinds]
    return (", ".join(parts) if parts else "No sheet changed") + f"; {found.as_before} as before."


def _told(change: Change, key: str, unit: str) -> str:
    """Return a figure as it is, or from old to new if it moved."""
    before, after = _shown(change.before, key, unit), _shown(change.after, key, unit)
    if change.before is None or change.after is None:
        return after if change.before is None else before
    return after if before == after else f"{before or UNKNOWN} → {after or UNKNOWN}"


def _besides(change: Change, unit: str) -> list[str]:
    """Return what else changed; that a record says something new that no list shows is worth a word too."""
    if change.before is None or change.after is None:
        return []
    pairs = [(label, _shown(change.before, key, unit), _shown(change.after, key, unit)) for key, label in BESIDES.items()]
    moved = [f"{label} {before or UNKNOWN} → {after or UNKNOWN}" for label, before, after in pairs if before != after]
    still = all(_shown(change.before, key, unit) == _shown(change.after, key, unit) for key in FIGURES)
    return moved or (["none of these figures moved"] if still else [])


def _shown(row: Row | None, key: str, unit: str) -> str:
    value = row.get(key) if row else None
    if value is None:
        return ""
    write = _WORDS.get(key)
    number = isinstance(value, int | float) and not isinstance(value, bool)
    return write(float(value), unit) if write is not None and number else " ".join(str(value).split())


_WORDS: dict[str, Callable[[float, str], str]] = {
    "top_scale_mph": lambda value, unit: speed(value, unit, DIGITS),
    "dropper_temperature_c": lambda value, unit: quantity(value, "degC", DIGITS),
    "vehicles_level": lambda value, unit: given(value),
    "cost": lambda value, unit: f"{value:.2f}",
}
