"""What Markdown made of a page's words, kept for the next build: the words of most pages are those of the last time.

Converting them takes longer than all that the site generator does with a finished sheet besides.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any

from mkdocs.structure.toc import AnchorLink, TableOfContents

from buildsheets.cache import Cache, key_of, packed, program_print

if TYPE_CHECKING:
    from mkdocs.config.defaults import MkDocsConfig
    from mkdocs.structure.files import Files
    from mkdocs.structure.pages import Page

RENDERINGS = "renderings"
"""Kind of entry: all renderings of a site under one way of converting."""
# Extensions whose result hangs on nothing but the words and their own settings; with any other nothing is kept.
BUILT_IN = {
    "abbr", "admonition", "attr_list", "def_list", "fenced_code", "footnotes", "md_in_html", "meta", "nl2br", "sane_lists",
    "smarty", "tables", "toc",
}
PYMDOWN = {"betterem", "caret", "details", "highlight", "inlinehilite", "keys", "mark", "smartsymbols", "superfences", "tabbed", "tasklist", "tilde"}
_ADDRESS = re.compile(r"""\b(?:href|src|srcset|poster|data|action)\s*=\s*["']?([^\s"'>]*)""", re.IGNORECASE)
_ELSEWHERE = re.compile(r"#|[a-z][a-z0-9+.-]*:", re.IGNORECASE)


class Renderings:
    """Renderings by the words they were made from.

    Parameters
    ----------
    cache : Cache
        Where they are kept.
    config : MkDocsConfig
        Says how Markdown is converted.
    """

    def __init__(self, cache: Cache, config: MkDocsConfig) -> None:
        extensions = [str(name) for name in config.markdown_extensions]
        self._keeps = all(_known(name) for name in extensions)
        self._key = key_of(program_print(), extensions, _plain(config.mdx_configs or {}))
        self._cache = cache
        entry = cache.read(RENDERINGS, self._key) if self._keeps else None
        self._before: Mapping[str, Any] = entry.data if entry else {}
        self._now: dict[str, Any] = {}

    def apply(self, page: Page, markdown: str) -> None:
        """Have a page take its rendering from the last time, or be remembered once it is rendered.

        Parameters
        ----------
        page : Page
            Not yet rendered.
        markdown : str
            Its words after every plugin has seen them.
        """
        if not self._keeps:
            return
        key = key_of(markdown)
        known = self._before.get(key)
        if known is not None:
            self._now[key] = known
            self._instead(page, lambda config, files: _restore(page, known))
            return
        render = page.render

        def remembered(config: MkDocsConfig, files: Files) -> None:
            render(config, files)
            if _whole_in_itself(page):
                self._now[key] = _taken(page)

        self._instead(page, remembered)

    @staticmethod
    def _instead(page: Page, render: Callable[[MkDocsConfig, Files], None]) -> None:
        page.render = render  # type: ignore[method-assign,assignment]

    def keep(self) -> None:
        """Keep what this build used, and nothing else."""
        if self._keeps and self._now.keys() != self._before.keys():
            self._cache.write(RENDERINGS, self._key, packed(self._now, {}))
        self._before, self._now = self._now, {}


def _known(name: str) -> bool:
    short = name.removeprefix("markdown.extensions.")
    return short in BUILT_IN or (short.startswith("pymdownx.") and short.removeprefix("pymdownx.") in PYMDOWN)


def _plain(settings: object) -> object:
    """Return settings whose `repr` is the same in every process: of a function, its name."""
    if isinstance(settings, Mapping):
        return sorted((str(key), _plain(value)) for key, value in settings.items())
    if isinstance(settings, list | tuple):
        return [_plain(value) for value in settings]
    return f"{settings.__module__}.{settings.__qualname__}" if hasattr(settings, "__qualname__") else settings


def _whole_in_itself(page: Page) -> bool:
    """Whether a rendered page leads to none of its neighbours, and to no place of its own that it lacks."""
    ids = page.present_anchor_ids or set()
    links = page.links_to_anchors or {}
    return (
        all(file is page.file and ids.issuperset(anchors) for file, anchors in links.items())
        and all(_ELSEWHERE.match(address) for address in _ADDRESS.findall(page.content or ""))
    )


def _taken(page: Page) -> dict[str, Any]:
    return {
        "content": page.content,
        "toc": [_heading(item) for item in page.toc],
        "title": page._title_from_render,
        "ids": sorted(page.present_anchor_ids or ()),
    }


def _restore(page: Page, known: Mapping[str, Any]) -> None:
    page.content = known["content"]
    page.toc = TableOfContents([_link(item) for item in known["toc"]])
    page._title_from_render = known["title"]
    page.present_anchor_ids = set(known["ids"])
    page.links_to_anchors = {}


def _heading(item: AnchorLink) -> list[Any]:
    return [item.title, item.id, item.level, [_heading(child) for child in item.children]]


def _link(item: list[Any]) -> AnchorLink:
    title, anchor, level, children = item
    link = AnchorLink(title, anchor, level)
    link.children = [_link(child) for child in children]
    return link
