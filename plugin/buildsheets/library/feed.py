"""New and changed sheets as a feed, from the dates in the records: as Atom (RFC 4287) and as JSON Feed (jsonfeed.org, 1.1).

Both name the language of what is being rendered as theirs.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any
from xml.etree import ElementTree

from buildsheets.figures.format import Figures
from buildsheets.languages import speaking, translated

ATOM = "http://www.w3.org/2005/Atom"
XML_LANGUAGE = "{http://www.w3.org/XML/1998/namespace}lang"
JSON_FEED = "https://jsonfeed.org/version/1.1"
MOST_ENTRIES = 50


@dataclass(frozen=True)
class Place:
    """Where the library is published, and whose it is."""

    site: str  # absolute address, ending in "/"
    sheet: str  # address of a sheet below it, "{slug}" for the record's name
    title: str
    feed: str = "feed.xml"
    json_feed: str = "feed.json"
    picture: str = "preview.png"  # beside a sheet

    def address_of(self, slug: str) -> str:
        """Return the absolute address of a sheet.

        Parameters
        ----------
        slug : str
            Name of the record.
        """
        return self.site + self.sheet.replace("{slug}", slug)

    def picture_of(self, slug: str) -> str:
        """Return the absolute address of the picture that stands for a sheet.

        Parameters
        ----------
        slug : str
            Name of the record.
        """
        return f"{self.address_of(slug).rpartition('/')[0]}/{self.picture}"


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
    newest = _newest(figures_list)
    # written as an attribute: a registered prefix would change what every other part of the program writes
    feed = ElementTree.Element("feed", {"xmlns": ATOM, XML_LANGUAGE: speaking().code})
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


def json_feed(figures_list: Sequence[Figures], place: Place) -> bytes:
    """Return the same feed as JSON.

    Parameters
    ----------
    figures_list : sequence of Figures
        All builds.
    place : Place
        Addresses and title.
    """
    feed = {
        "version": JSON_FEED,
        "title": _printable(place.title),
        "home_page_url": place.site,
        "feed_url": place.site + place.json_feed,
        "language": speaking().code,
        "authors": [{"name": _printable(place.title)}],
        "items": [_item(day, figures, place) for day, figures in _newest(figures_list)],
    }
    return (json.dumps(feed, indent=2, ensure_ascii=False) + "\n").encode("utf-8")


def _newest(figures_list: Sequence[Figures]) -> list[tuple[str, Figures]]:
    """Return builds with their last day, newest first."""
    dated = [(day, figures) for figures in figures_list if (day := changed_on(figures)) is not None]
    return sorted(dated, key=lambda pair: (pair[0], pair[1]["slug"]), reverse=True)[:MOST_ENTRIES]


def _item(day: str, figures: Figures, place: Place) -> dict[str, Any]:
    head, address = figures["head"], place.address_of(figures["slug"])
    item = {
        "id": address,
        "url": address,
        "title": _printable(figures["title"]),
        "content_text": _printable(head["summary"] or figures["title"]),
        "image": place.picture_of(figures["slug"]),
        "date_modified": _instant(day),
        "tags": [word for word in (translated(head["status"]), head["scale"], head["prototype_class"]) if word],
    }
    return item if head["started"] is None else item | {"date_published": _instant(head["started"])}


def _entry(feed: ElementTree.Element, day: str, figures: Figures, place: Place) -> None:
    entry = _add(feed, "entry", None)
    address = place.address_of(figures["slug"])
    _add(entry, "title", figures["title"])
    _add(entry, "id", address)
    _add(entry, "updated", _instant(day))
    if figures["head"]["started"] is not None:
        _add(entry, "published", _instant(figures["head"]["started"]))
    _add(entry, "link", None, rel="alternate", type="text/html", href=address)
    status = figures["head"]["status"]
    _add(entry, "category", None, term=status, label=translated(status))  # programs sort by the term, people read the label
    _add(entry, "summary", figures["head"]["summary"] or figures["title"])


def _instant(day: str) -> str:
    """RFC 3339 wants a time; a record has days only, taken at their start."""
    return f"{day}T00:00:00Z"


def _add(parent: ElementTree.Element, name: str, text: str | None, **attributes: str) -> ElementTree.Element:
    child = ElementTree.SubElement(parent, name, attributes)
    child.text = text if text is None else _printable(text)
    return child


def _printable(text: str) -> str:
    """Return text without letters that XML 1.0 forbids; spaces of other widths become plain ones."""
    return "".join(c if c.isprintable() or c in "\n\t" else " " if c.isspace() else "" for c in text)
