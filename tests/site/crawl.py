"""Every address that the pages of a site name, and those that lead nowhere."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from html.parser import HTMLParser
from pathlib import Path
from urllib.parse import unquote, urljoin, urlsplit

POINTING = {"href", "src", "poster", "data", "action", "cite", "xlink:href"}
LISTING = {"srcset", "imagesrcset"}
THEMES_OWN = {"__toc"}  # the theme writes a label for a field that a page with its own contents has not
NAMING = {"for", "aria-labelledby", "aria-describedby", "aria-controls"}


class Addresses(HTMLParser):
    """What a page points at, the ids it has and asks for, and what its head says."""

    def __init__(self, path: Path) -> None:
        super().__init__()
        self.found: list[str] = []
        self.named: list[str] = []
        self.ids: list[str] = []
        self.links: list[dict[str, str]] = []
        self.metas: dict[str, str] = {}
        self.feed(path.read_text(encoding="utf-8"))

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value for name, value in attrs if value}
        self.found += [value for name, value in given.items() if name in POINTING]
        self.found += [part.split()[0] for name, value in given.items() if name in LISTING for part in value.split(",")]
        self.named += [word for name, value in given.items() if name in NAMING for word in value.split()]
        self.ids += [value for name, value in given.items() if name == "id"]
        if tag == "link":
            self.links.append(given)
        if tag == "meta" and given.get("http-equiv", "").lower() == "refresh":
            self.found.append(given["content"].partition("url=")[2])
        elif tag == "meta":
            self.metas[given.get("property") or given.get("name", "")] = given.get("content", "")


@cache
def read(page: Path) -> Addresses:
    return Addresses(page)


def lost(site: Path, site_url: str) -> Iterator[str]:
    """Yield what leads nowhere: addresses below `site_url`, or relative ones, without a file or an id."""
    base = site_url or "https://nowhere.example/"
    for page in sorted(site.rglob("*.html")):
        parsed = read(page)
        here = urljoin(base, page.relative_to(site).as_posix())
        yield from (f"{here}: id {name}" for name in set(parsed.named) - set(parsed.ids) - THEMES_OWN)
        yield from (f"{here}: id {name} twice" for name in set(parsed.ids) if parsed.ids.count(name) > 1)
        for address in parsed.found:
            whole = urlsplit(urljoin(here, address))
            if f"{whole.scheme}://{whole.netloc}" != base.rstrip("/").removesuffix("/line"):
                yield from [f"{here}: {address}"] if whole.scheme not in ("https", "mailto", "data") else []
                continue
            path = unquote(whole.path).removeprefix(urlsplit(base).path)
            target = site / path
            if path.endswith("/") or not path or target.is_dir():
                target /= "index.html"
            if not target.is_file() or (whole.fragment and target.suffix == ".html" and unquote(whole.fragment) not in read(target).ids):
                yield f"{here}: {address}"
