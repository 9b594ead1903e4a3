"""What a page says of itself in its head: to readers of feeds, and to programs that show a link as a card.

The Open Graph protocol (ogp.me) asks for a title, a type, a picture and an address, the last two absolute: a site without
an address of its own has none of it. Description and canonical link stand there already, by the theme.
"""

from __future__ import annotations

from dataclasses import dataclass
from html import escape

FEEDS = (("feed.xml", "application/atom+xml"), ("feed.json", "application/feed+json"))
"""Feeds beside the library's list and their media types: RFC 4287, and JSON Feed 1.1."""
END = "</head>"


@dataclass(frozen=True)
class Subject:
    """What a page is about, in plain words, and where it and its picture are published."""

    title: str
    description: str
    address: str
    picture: str  # absolute address
    picture_words: str
    size: tuple[int, int]  # of the picture. [dots]
    site: str
    kind: str = "article"  # og:type; "website" for the library's list


def graph_tags(subject: Subject) -> list[str]:
    """Return the Open Graph tags of a page.

    Parameters
    ----------
    subject : Subject
        What it is about.
    """
    width, height = subject.size
    told = (
        ("og:title", subject.title),
        ("og:type", subject.kind),
        ("og:description", subject.description),
        ("og:url", subject.address),
        ("og:site_name", subject.site),
        ("og:image", subject.picture),
        ("og:image:type", "image/png"),
        ("og:image:width", str(width)),
        ("og:image:height", str(height)),
        ("og:image:alt", subject.picture_words),
    )
    return [f'<meta property="{name}" content="{escape(text)}">' for name, text in told]


def feed_tags(folder: str, title: str) -> list[str]:
    """Return links to the feeds.

    Parameters
    ----------
    folder : str
        Address of the folder they lie in as seen from the page; empty or ending in "/".
    title : str
        Whose news it is.
    """
    return [
        f'<link rel="alternate" type="{kind}" title="{escape(title)}" href="{escape(folder + name)}">' for name, kind in FEEDS
    ]


def with_tags(page: str, tags: list[str]) -> str:
    """Return a whole page with tags at the end of its head; as it was if it has none.

    Parameters
    ----------
    page : str
        HTML.
    tags : list of str
        What to add.
    """
    return page.replace(END, "\n".join([*tags, END]), 1) if tags else page
