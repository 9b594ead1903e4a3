"""New and changed sheets as an Atom feed (RFC 4287), from the dates in the records."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from xml.etree import ElementTree

from buildsheets.figures.format import Figures

ATOM = "http://www.w3.org/2005/Atom"
MOST_ENTRIES = 50


@dataclass(frozen=True)
class Place:
    """Where the library is published, and whose it is."""

    site: str  # absolute address, ending in "/"
    sheet: str  # address of a sheet below it, "{slug}" for the record's name
    title: str
    feed: str = "feed.xml"


def changed_on(figures: Figures) -> str | None:
    """Return the last day of a record that something happened (ISO 8601); None without any date.

    Parameters
    ----------
    figures : Figures
        The figures of one build.
    """
    head = figures["head"]
    days = [day for day in (head["changed"], head["finished"], head["started"]) if day is not None]
    return max(days, default=None)


def atom_feed(figures_list: Sequence[Figures], place: Place) -> bytes:
    """Return the feed, newest first; builds without any date stay out, for nobody knows whether they are new.

    Parameters
    ----------
    figures_list : sequence of Figures
        All builds.
    place : Place
        Addresses and title.
    """
    dated = [(day, figures) for figures in figures_list if (day := changed_on(figures)) is not None]
    newest = sorted(dated, key=lambda pair: (pair[0], pair[1]["slug"]), reverse=True)[:MOST_ENTRIES]
    ElementTree.register_namespace("", ATOM)
    feed = ElementTree.Element(f"{{{ATOM}}}feed")
    _add(feed, "title", place.title)
    _add(feed, "id", place.site)
    _add(feed, "updated", _instant(newest[0][0] if newest else "1970-01-01"))
    _add(feed, "link", None, rel="self", type="application/atom+xml", href=place.site + place.feed)
    _add(feed, "link", None, rel="alternate", type="text/html", href=place.site)
    _add(_add(feed, "author", None), "name", place.title)
    for day, figures in newest:
        _entry(feed, day, figures, place)
    ElementTree.indent(feed)
    text: bytes = ElementTree.tostring(feed, encoding="utf-8", xml_declaration=True)
    return text + b"\n"


def _entry(feed: ElementTree.Element, day: str, figures: Figures, place: Place) -> None:
    entry = _add(feed, "entry", None)
    address = place.site + place.sheet.replace("{slug}", figures["slug"])
    _add(entry, "title", figures["title"])
    _add(entry, "id", address)
    _add(entry, "updated", _instant(day))
    if figures["head"]["started"] is not None:
        _add(entry, "published", _instant(figures["head"]["started"]))
    _add(entry, "link", None, rel="alternate", type="text/html", href=address)
    _add(entry, "category", None, term=figures["head"]["status"])
    _add(entry, "summary", figures["head"]["summary"] or figures["title"])


def _instant(day: str) -> str:
    """RFC 3339 wants a time; a record has days only, taken at their start."""
    return f"{day}T00:00:00Z"


def _add(parent: ElementTree.Element, name: str, text: str | None, **attributes: str) -> ElementTree.Element:
    child = ElementTree.SubElement(parent, f"{{{ATOM}}}{name}", attributes)
    child.text = text if text is None else "".join(c for c in text if c.isprintable() or c in "\n\t")
    return child
