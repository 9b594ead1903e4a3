"""Both feeds against the rules of their formats."""

from __future__ import annotations

import json
import re
from copy import deepcopy
from datetime import datetime
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit
from xml.etree import ElementTree

import pytest
from lxml import etree
from sample import sample_figures

from buildsheets.languages import Language
from buildsheets.library.feed import ATOM, JSON_FEED, MOST_ENTRIES, Place, atom_feed, json_feed

PLACE = Place("https://club.example/builds/", "{slug}/index.html", "A & B club")
GRAMMAR = etree.RelaxNG(etree.parse(Path(__file__).with_name("atom.rng")))
NAMES = {"atom": ATOM}

# Every key of JSON Feed 1.1 (jsonfeed.org/version/1.1, from memory) that such a feed may use, and what its value must be;
# a key of one's own would have to begin with "_".
FEED_KEYS = {
    "version": str, "title": str, "home_page_url": str, "feed_url": str, "description": str, "user_comment": str,
    "next_url": str, "icon": str, "favicon": str, "authors": list, "language": str, "expired": bool, "hubs": list, "items": list,
}
ITEM_KEYS = {
    "id": str, "url": str, "external_url": str, "title": str, "content_html": str, "content_text": str, "summary": str,
    "image": str, "banner_image": str, "date_published": str, "date_modified": str, "authors": list, "tags": list,
    "language": str, "attachments": list,
}
ADDRESSES = ("home_page_url", "feed_url", "url", "image", "id")
# RFC 3339, section 5.6
INSTANT = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d+)?(Z|[+-]\d\d:\d\d)")


def dated(slug: str, title: str | None = None, **dates: str | None) -> Any:
    figures = deepcopy(sample_figures())
    figures["slug"], figures["title"] = slug, title or slug.title()
    figures["head"] = {**figures["head"], "started": None, "finished": None, "changed": None, **dates}
    return figures


LIBRARIES = {
    "none": [],
    "undated": [dated("never")],
    "few": [dated("old", started="2026-01-02"), dated("new", changed="2026-05-01"), dated("done", finished="2025-12-31")],
    "many": [dated(f"b{n}", started=f"2025-01-{1 + n % 28:02}") for n in range(MOST_ENTRIES + 9)],
    "odd": [dated("odd", 'a\x0b<b>&"\x01\ud800 – 55\u202fmph ]]>', started="2026-01-01")],
}


@pytest.mark.parametrize("code", ["en", "de", "pt-BR"])
@pytest.mark.parametrize("name", LIBRARIES)
def test_atom_is_valid(name: str, code: str) -> None:
    """RFC 4287: the grammar of appendix B, its two Schematron rules, and what its prose asks of addresses and ids."""
    with Language(code).spoken():
        feed = etree.fromstring(atom_feed(LIBRARIES[name], PLACE))
    assert feed.get("{http://www.w3.org/XML/1998/namespace}lang") == code
    assert GRAMMAR.validate(feed), GRAMMAR.error_log
    assert feed.xpath("atom:author or not(atom:entry[not(atom:author)])", namespaces=NAMES)
    for entry in feed.xpath("atom:entry", namespaces=NAMES):
        assert entry.xpath("atom:link[@rel='alternate'] or atom:content", namespaces=NAMES)
        assert entry.xpath("atom:author or ../atom:author", namespaces=NAMES)
    ids = feed.xpath("atom:id/text() | atom:entry/atom:id/text()", namespaces=NAMES)
    assert len(set(ids)) == len(ids)
    for address in (*ids, *feed.xpath("//atom:link/@href", namespaces=NAMES)):  # 4.2.6: an id is an absolute IRI
        assert urlsplit(address).scheme == "https"


def test_the_grammar_refuses_what_is_no_feed() -> None:
    good = etree.fromstring(atom_feed(LIBRARIES["few"], PLACE))
    for name in ("id", "title", "updated"):
        lacking = deepcopy(good)
        lacking.remove(lacking.find(f"{{{ATOM}}}{name}"))
        assert not GRAMMAR.validate(lacking), name
    undated = deepcopy(good)
    undated.find(f"{{{ATOM}}}updated").text = "2026-01-02"
    assert not GRAMMAR.validate(undated)
    with Language("no language").spoken():
        assert not GRAMMAR.validate(etree.fromstring(atom_feed(LIBRARIES["few"], PLACE)))


def faults(feed: Any) -> list[str]:
    """Return what JSON Feed 1.1 does not allow."""
    out = [f"no {key}" for key in ("version", "title", "items") if key not in feed]
    out += [f"{key}" for key, value in feed.items() if not isinstance(value, FEED_KEYS.get(key, ()))]
    ids = [item.get("id") for item in feed["items"]]
    out += ["ids are not unique"] if len(set(ids)) != len(ids) else []
    for item in feed["items"]:
        out += [] if item.get("id") else ["no id"]
        out += [] if {"content_html", "content_text"} & set(item) else ["neither content"]
        out += [key for key, value in item.items() if not isinstance(value, ITEM_KEYS.get(key, ()))]
        out += [value for key, value in item.items() if key.startswith("date_") and not INSTANT.fullmatch(value)]
        out += [tag for tag in item.get("tags", []) if not isinstance(tag, str)]
    out += [value for part in (feed, *feed["items"]) for key, value in part.items() if key in ADDRESSES and not urlsplit(value).scheme]
    out += [str(author) for author in feed.get("authors", []) if not {"name", "url", "avatar"} & set(author)]
    return out


@pytest.mark.parametrize("name", LIBRARIES)
def test_json_feed_keeps_the_rules(name: str) -> None:
    with Language("de").spoken():
        feed = json.loads(json_feed(LIBRARIES[name], PLACE))
    assert faults(feed) == []
    assert feed["language"] == "de"
    assert feed["version"] == JSON_FEED == "https://jsonfeed.org/version/1.1"
    assert feed["feed_url"] == "https://club.example/builds/feed.json"


@pytest.mark.parametrize("harm", ["version", "items[0].id", "items[0].content_text", "items[0].date_modified", "items[0].own"])
def test_the_rules_can_be_broken(harm: str) -> None:
    feed = json.loads(json_feed(LIBRARIES["few"], PLACE))
    key = harm.rpartition(".")[2]
    part = feed["items"][0] if "." in harm else feed
    if key == "date_modified":
        part[key] = "1 May 2026"
    elif key == "own":
        part[key] = "x"
    else:
        del part[key]
    assert faults(feed)


def test_both_feeds_tell_the_same_news() -> None:
    for figures in LIBRARIES.values():
        atom, plain = etree.fromstring(atom_feed(figures, PLACE)), json.loads(json_feed(figures, PLACE))
        entries = atom.xpath("atom:entry", namespaces=NAMES)
        assert [entry.findtext(f"{{{ATOM}}}id") for entry in entries] == [item["url"] for item in plain["items"]]
        assert [entry.findtext(f"{{{ATOM}}}updated") for entry in entries] == [item["date_modified"] for item in plain["items"]]
        assert [entry.findtext(f"{{{ATOM}}}title") for entry in entries] == [item["title"] for item in plain["items"]]
        assert all(datetime.fromisoformat(item["date_modified"]).tzinfo for item in plain["items"])


def test_the_picture_of_an_item_lies_beside_its_sheet() -> None:
    for sheet, picture in (("{slug}/index.html", "new/preview.png"), ("{slug}/", "new/preview.png")):
        place = Place("https://club.example/builds/", sheet, "x")
        item = json.loads(json_feed([dated("new", changed="2026-05-01")], place))["items"][0]
        assert item["image"] == f"https://club.example/builds/{picture}"


def test_the_rest_of_the_program_writes_its_own_prefixes_as_before() -> None:
    drawing = ElementTree.Element("{http://www.w3.org/2000/svg}svg")
    before = ElementTree.tostring(drawing)
    atom_feed(LIBRARIES["few"], PLACE)
    assert ElementTree.tostring(drawing) == before
