"""Where used: each stock part with its data, the builds that have it, and what they found of it."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from pydantic import BaseModel

from buildsheets.figures.format import Figures, LearnedValue, Level
from buildsheets.languages import translated
from buildsheets.library.part_words import OWN_DATA, PARTS_LIST, role_told, written
from buildsheets.library.rows import library_row
from buildsheets.records.declared import item_type, model_for
from buildsheets.records.library import Build
from buildsheets.records.models import PartLine, Stock, StockPart
from buildsheets.records.stock import Shelf, StockEntry

OF_THE_PART = {"motors": ("motor", ("resistance", "emf_constant")), "resistors": ("dropper: resistor", ("dropper_resistance",))}
"""By section: the role of the part that is in the locomotive now, and the values that readings refine and that belong to the
part itself, not to the works around it."""


@dataclass(frozen=True)
class Use:
    """One build that has the part."""

    slug: str
    title: str
    status: str
    level: Level
    top_scale_mph: float | None
    as_what: tuple[str, ...]  # "motor", "before: motor", "parts list"

    @property
    def roles(self) -> list[str]:
        """The same in the language that is spoken."""
        return [role_told(role) for role in self.as_what]


@dataclass(frozen=True)
class FoundIn:
    """What the readings of one build say of one value of the data."""

    slug: str
    title: str
    factor: float  # over the data sheet
    low: float  # 5 %
    high: float  # 95 %


@dataclass(frozen=True)
class Found:
    """What the readings of several builds say of one value of the data."""

    label: str
    each: tuple[FoundIn, ...]

    @property
    def low(self) -> float:
        """Lowest factor over the data sheet."""
        return min(found.factor for found in self.each)

    @property
    def high(self) -> float:
        """Highest factor over the data sheet."""
        return max(found.factor for found in self.each)

    @property
    def middle(self) -> float:
        """Geometric mean of the factors."""
        return math.exp(sum(math.log(found.factor) for found in self.each) / len(self.each))


@dataclass(frozen=True)
class PartData:
    """All that the stock says of a part but name and source: label and value, in the language spoken while they are read."""

    entry: StockEntry

    def __iter__(self) -> Iterator[tuple[str, str]]:
        data = self.entry.data
        model = model_for(item_type(Stock.model_fields[self.entry.section].annotation, {}), data)
        for key, value in data.items():
            if key not in ("name", "source"):
                field = model.model_fields.get(key) if model else None
                label = translated(field.title) if field and field.title else key
                yield label, written(value, field.annotation if field else None)


@dataclass(frozen=True)
class StockPage:
    """All there is to say of one stock part."""

    section: str
    name: str
    title: str
    source: str | None
    price: str | None
    data: Iterable[tuple[str, str]]  # label, value
    uses: tuple[Use, ...]
    found: tuple[Found, ...]

    @property
    def made_of(self) -> tuple[object, ...]:
        """All that the page of the part is made from, as plain data."""
        return (self.section, self.name, self.title, self.source, self.price, list(self.data), self.uses, self.found)

    @property
    def price_told(self) -> str | None:
        """The same with the decimal sign of the language that is spoken."""
        return None if self.price is None else written(self.price, None)


Used = Sequence[tuple[str, str, Sequence[str]]]
"""Section, name and roles of each stock part of one record."""

def uses_of(build: Build) -> list[tuple[str, str, list[str]]]:
    """Return the stock parts of a record, each with its section and what it serves as.

    Parameters
    ----------
    build : Build
        A valid record.
    """
    own = {role for role, path in (("motor", ("motor",)), ("dropper: resistor", ("dropper", "resistor"))) if _has_own_data(build, path)}
    return [
        (section, name, [role + OWN_DATA * (role in own) for role in dict.fromkeys(_roles(build.record, section, name))])
        for section, name in sorted(build.stock_used)
    ]


def _has_own_data(build: Build, path: tuple[str, ...]) -> bool:
    """Whether a record lays values of its own over those of a stock part."""
    part: object = build.record
    for key in path:
        part = getattr(part, key, None)
    if not isinstance(part, StockPart):
        return False
    own = part.model_fields_set - {"stock", "name", "source"}
    return any(build.mark(*path, key).file == build.origin.file for key in own)


def stock_pages(shelf: Shelf, used: Mapping[str, Used], figures: Mapping[str, Figures]) -> list[StockPage]:
    """Return a page for every stock part, unused ones too, by section and name.

    Parameters
    ----------
    shelf : Shelf
        All stock parts.
    used : mapping of str to Used
        The stock parts of each build, by slug.
    figures : mapping of str to Figures
        Their figures, by slug; a build without any is left out.
    """
    entries = sorted(shelf.entries.values(), key=lambda entry: (entry.section, entry.name))
    users: dict[tuple[str, str], dict[str, Sequence[str]]] = {}
    for slug in sorted(used.keys() & figures.keys()):
        for section, name, roles in used[slug]:
            users.setdefault((section, name), {})[slug] = roles
    return [_page(entry, users.get((entry.section, entry.name), {}), figures) for entry in entries]


def _page(entry: StockEntry, users: Mapping[str, Sequence[str]], figures: Mapping[str, Figures]) -> StockPage:
    return StockPage(
        entry.section,
        entry.name,
        str(entry.data.get("name", entry.name)),
        str(entry.data["source"]) if "source" in entry.data else None,
        str(entry.data["unit_price"]) if "unit_price" in entry.data else None,
        PartData(entry),
        tuple(_use(figures[slug], roles) for slug, roles in users.items()),
        tuple(_found(entry, users, figures)),
    )


def _use(figures: Figures, roles: Sequence[str]) -> Use:
    row = library_row(figures)
    return Use(row["slug"], row["title"], row["status"], row["level"], row["top_scale_mph"], tuple(roles))


def _roles(value: object, section: str, name: str, path: tuple[str, ...] = ()) -> Iterator[str]:
    """Yield where in a record a stock part stands, in words."""
    if isinstance(value, PartLine):
        if value.stock == name:
            yield PARTS_LIST
        return
    if isinstance(value, StockPart) and value.stock == name and value.stock_section == section:
        yield ": ".join(path) or "itself"
    if isinstance(value, BaseModel):
        for key in type(value).model_fields:
            yield from _roles(getattr(value, key), section, name, (*path, key.replace("_", " ")))
    elif isinstance(value, list):
        for part in value:
            yield from _roles(part, section, name, path)


def _found(entry: StockEntry, users: Mapping[str, Sequence[str]], figures: Mapping[str, Figures]) -> Iterator[Found]:
    """Yield what readings refined of a part that is still in its locomotive and has the data of the stock."""
    role, names = OF_THE_PART.get(entry.section, ("", ()))
    for name in names:
        told = [
            (value["label"], FoundIn(slug, figures[slug]["title"], value["factor"], value["low"], value["high"]))
            for slug, roles in users.items()
            if role in roles
            for value in _learned(figures[slug])
            if value["name"] == name and value["told"]
        ]
        if told:
            yield Found(told[0][0], tuple(found for _, found in told))


def _learned(figures: Figures) -> list[LearnedValue]:
    return figures["calibration"]["parameters"] if figures["calibration"] else []
