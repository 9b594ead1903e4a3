"""What a page says of itself in its head: to readers of feeds, and to programs that show a link as a card.

The Open Graph protocol (ogp.me) asks for a title, a type, a picture and an address, the last two absolute: a site without
an address of its own has none of it. Description and canonical link stand there already, by the theme.
"""

from __future__ import annotations

from html import escape

from buildsheets.sheet.preview import HEIGHT, WIDTH

FEEDS = (("feed.xml", "application/atom+xml"), ("feed.json", "application/feed+json"))
"""Feeds beside the library's list and their media types: RFC 4287, and JSON Feed 1.1."""
ALTERNATE = "alternate feed"
"""Link types are words in any number. The theme's script takes a link whose only word is "alternate" for the same page in another
language, and asks for a sitemap beside it."""
END = "</head>"
GRAPH = 'property="og:title"'


def graph_tags(
    title: str, description: str, address: str, picture: str, picture_words: str, site: str, kind: str = "article"
) -> list[str]:
    """Return the Open Graph tags of a page.

    Parameters
    ----------
    title, description : str
        What the page is about.
    address, picture : str
        Absolute addresses of the page and of the picture that stands for it, drawn by `preview`.
    picture_words : str
        What the picture shows.
    site : str
        Name of the whole site.
    kind : str
        "article", or "website" for the page that the site is about.
    """
    told = (
        ("og:title", title),
        ("og:type", kind),
        ("og:description", description),
        ("og:url", address),
        ("og:site_name", site),
        ("og:image", picture),
        ("og:image:type", "image/png"),
        ("og:image:width", str(WIDTH)),
        ("og:image:height", str(HEIGHT)),
        ("og:image:alt", picture_words),
    )
    return [f'<meta property="{name}" content="{escape(text)}">' for name, text in told]


def feed_tags(folder: str, title: str) -> list[str]:
    """Return links to the feeds.

    Parameters
    ----------
    folder : str
        Address of the folder they lie in as seen from the page, ending in "/".
    title : str
        Whose news it is.
    """
    return [
        f'<link rel="{ALTERNATE}" type="{kind}" title="{escape(title)}" href="{escape(folder + name)}">' for name, kind in FEEDS
    ]


def with_tags(page: str, tags: list[str]) -> str:
    """Return a whole page with tags at the end of its head; as it was if it has none, or if somebody made its card already.

    Parameters
    ----------
    page : str
        HTML.
    tags : list of str
        What to add.
    """
    head, end, rest = page.partition(END)
    if GRAPH in head:
        tags = [tag for tag in tags if not tag.startswith("<meta")]
    return "\n".join([head.rstrip(), *tags, end]) + rest if tags and end else page
