"""What the theme puts around a page: by a key of all that it looks at, a whole page may stand from one build to the next.

To put it around takes longer than all else that the site generator does with a page of ours. Only where nothing but the
theme itself, the settings and the page can have a say is there a key: with the theme Material unaltered, and no plugin
that could write into a page.
"""

from __future__ import annotations

import datetime
import importlib.metadata
import os
from collections.abc import Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from buildsheets.cache import key_of, program_print

if TYPE_CHECKING:
    from mkdocs.config.defaults import MkDocsConfig
    from mkdocs.structure import StructureItem
    from mkdocs.structure.nav import Navigation
    from mkdocs.structure.pages import Page
    from mkdocs.structure.toc import AnchorLink

THEME = "material"
PLUGINS = {"buildsheets", "material/search", "material/offline"}
"""Plugins that write into no page, ours apart: names as the site generator has them with that theme."""
MADE_WITH = ("mkdocs", "mkdocs-material", "jinja2")
"""What frames a page."""
NEVER_SHOWN = {
    "dev_addr", "docs_dir", "draft_docs", "exclude_docs", "nav", "not_in_nav", "plugins", "site_dir", "strict", "theme", "validation", "watch",
}
"""Settings that no template of the theme looks at, or that are told elsewhere in a key: patterns have no words of their own."""
_PLAIN = (str, int, float, bool, type(None), datetime.date)


class _UntoldError(ValueError):
    """A value that does not tell what it holds."""


class Frames:
    """Keys of framed pages.

    Parameters
    ----------
    config : MkDocsConfig
        After every plugin has seen it.
    nav : Navigation
        The same, with all pages rendered.
    """

    def __init__(self, config: MkDocsConfig, nav: Navigation) -> None:
        self._base = _base(config, nav)

    def key(self, page: Page, *made_of: object) -> str:
        """Return the key of a page, empty where it must be framed anew.

        Parameters
        ----------
        page : Page
            Rendered from Markdown.
        *made_of : object
            What else its file is made from; their `repr` must tell all of it.
        """
        if not self._base:
            return ""
        try:
            return key_of(self._base, _page(page), made_of)
        except _UntoldError:
            return ""


def _base(config: MkDocsConfig, nav: Navigation) -> str:
    """Return what the keys of all pages have in common, empty where there can be none."""
    theme = config.theme
    if theme.name != THEME or theme.custom_dir or config.hooks or not PLUGINS.issuperset(config.plugins):
        return ""
    try:
        settings = [(name, _told(value)) for name, value in sorted(config.items()) if name not in NEVER_SHOWN]
        settings.append(("theme", _told({**theme, "locale": str(theme.locale)})))
        plugins = [(name, _told(plugin.config)) for name, plugin in sorted(config.plugins.items())]
        tree = [_branch(item) for item in nav.items]
    except _UntoldError:
        return ""
    versions = [importlib.metadata.version(name) for name in MADE_WITH]
    home = nav.homepage.url if nav.homepage else None
    return key_of(program_print(), versions, list(_stamps(theme.dirs)), settings, plugins, tree, home)


def _stamps(folders: Iterable[str]) -> Iterator[tuple[str, int, int]]:
    """Yield the templates of a theme with their sizes and times; its icons come with its version."""
    for folder in folders:
        for place, below, files in os.walk(folder):
            below[:] = sorted(name for name in below if not name.startswith("."))
            for path in (Path(place) / name for name in sorted(files) if name.endswith(".html")):
                status = path.stat()
                yield str(path), status.st_size, status.st_mtime_ns


def _branch(item: StructureItem) -> list[Any]:
    children = [_branch(child) for child in getattr(item, "children", None) or ()]
    return [type(item).__name__, item.title, getattr(item, "url", None), _told(getattr(item, "meta", None)), children]


def _page(page: Page) -> list[Any]:
    file, neighbours = page.file, [page.previous_page, page.next_page, *page.ancestors]
    return [
        (file.src_uri, file.dest_uri, file.inclusion.name),
        (page.title, page.url, page.abs_url, page.canonical_url, page.edit_url, page.update_date, page.is_homepage),
        [(item.title, getattr(item, "url", None)) if item else None for item in neighbours],
        _told(page.meta),
        [_heading(item) for item in page.toc],
        page.content,
    ]


def _heading(item: AnchorLink) -> list[Any]:
    return [item.title, item.id, item.level, [_heading(child) for child in item.children]]


def _told(value: object) -> object:
    """Return a value as plain data whose `repr` tells all of it, and is the same in every process."""
    if isinstance(value, _PLAIN):
        return value
    if isinstance(value, Mapping):
        return sorted((str(key), repr(_told(part))) for key, part in value.items())
    if isinstance(value, Sequence | set | frozenset):
        parts = [_told(part) for part in value]
        return parts if isinstance(value, Sequence) else sorted(map(repr, parts))
    if hasattr(value, "__qualname__"):  # a function or a class
        return f"{value.__module__}.{value.__qualname__}"
    raise _UntoldError
