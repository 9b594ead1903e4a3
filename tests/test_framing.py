"""The key of a framed page tells of all that the theme looks at; where something else could have a say there is none."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from mkdocs.config import load_config
from mkdocs.config.defaults import MkDocsConfig
from mkdocs.structure.files import File, Files
from mkdocs.structure.nav import Navigation, get_navigation
from mkdocs.structure.pages import Page
from mkdocs.structure.toc import AnchorLink, TableOfContents

from buildsheets import framing
from buildsheets.framing import Frames

PAGES = ("index.md", "second.md", "sheets/tank.md")


class Site:
    """A site as it is when its pages have been rendered and none is framed."""

    def __init__(self, folder: Path) -> None:
        for name in ("docs", "builds", "over"):
            (folder / name).mkdir()
        self.folder = folder
        self.settings: dict[str, object] = {
            "site_name": "Club",
            "theme": {"name": "material", "font": False},
            "extra": {"generator": False},
            "plugins": ["search", "offline", "buildsheets"],
            "markdown_extensions": ["tables", {"toc": {"permalink": True}}],
        }
        self.alter: Callable[[Page, Navigation], object] = lambda page, nav: None
        self.made_of = "sheet"
        self.extra: dict[str, object] = {}

    def key(self) -> str:
        (self.folder / "mkdocs.yml").write_text(json.dumps(self.settings), encoding="utf-8")  # which is YAML too
        config: MkDocsConfig = load_config(str(self.folder / "mkdocs.yml"))
        config.extra.update(self.extra)
        files = Files([File(name, config.docs_dir, config.site_dir, config.use_directory_urls) for name in PAGES])
        nav = get_navigation(files, config)
        for place, file in enumerate(files):
            assert file.page is not None
            file.page.meta, file.page.content, file.page.title = {"title": PAGES[place]}, f"<p>{place}</p>", PAGES[place]
        page = files.documentation_pages()[-1].page
        assert page is not None
        page.toc = TableOfContents([AnchorLink("Data", "data", 2)])
        self.alter(page, nav)
        return Frames(config, nav).key(page, self.made_of)


@pytest.fixture
def site(tmp_path: Path) -> Site:
    return Site(tmp_path)


def test_the_same_again_has_the_same_key(site: Site) -> None:
    assert site.key() == site.key() != ""


SETTINGS = [
    {"site_name": "The club"},
    {"site_url": "https://club.example/"},
    {"copyright": "ours"},
    {"extra": {"generator": False, "social": [{"icon": "material/train", "link": "https://club.example/"}]}},
    {"theme": {"name": "material", "font": False, "features": ["navigation.top"]}},
    {"theme": {"name": "material", "font": False, "language": "de"}},
    {"theme": {"name": "material", "font": False, "palette": {"primary": "teal"}}},
    {"extra_css": ["club.css"]},
    {"extra_javascript": [{"path": "club.js", "defer": True}]},
    {"plugins": [{"search": {"lang": "de"}}, "offline", "buildsheets"]},
    {"plugins": ["search", "buildsheets"]},
    {"nav": [{"Start": "index.md"}, "second.md", "sheets/tank.md"]},
    {"nav": ["index.md", {"More": ["second.md", "sheets/tank.md"]}]},
    {"markdown_extensions": ["tables", {"toc": {"permalink": True, "title": "On this page"}}]},
    {"use_directory_urls": False},
]


@pytest.mark.parametrize("changed", SETTINGS, ids=repr)
def test_another_setting_is_another_key(site: Site, changed: dict[str, object]) -> None:
    before = site.key()
    site.settings |= changed
    assert site.key() not in ("", before)


ALTERED = {
    "title": lambda page, nav: setattr(page, "title", "other"),
    "meta": lambda page, nav: page.meta.update(hide=["toc"]),
    "words": lambda page, nav: setattr(page, "content", "<p>other</p>"),
    "headings": lambda page, nav: setattr(page, "toc", TableOfContents([AnchorLink("Data", "data", 3)])),
    "address of its source": lambda page, nav: setattr(page, "edit_url", "https://club.example/edit"),
    "day": lambda page, nav: setattr(page, "update_date", "2026-01-01"),
    "title of another in the navigation": lambda page, nav: setattr(nav.items[0], "title", "other"),
    "mark of another in the navigation": lambda page, nav: nav.items[0].meta.update(status="new"),
    "the next": lambda page, nav: setattr(page, "previous_page", None),
}


@pytest.mark.parametrize("what", ALTERED)
def test_another_page_is_another_key(site: Site, what: str) -> None:
    before = site.key()
    site.alter = ALTERED[what]
    assert site.key() not in ("", before)


def test_what_else_it_is_made_of_and_the_program_count(site: Site, monkeypatch: pytest.MonkeyPatch) -> None:
    before = site.key()
    site.made_of = "another sheet"
    assert site.key() not in ("", before)
    site.made_of = "sheet"
    monkeypatch.setattr(framing, "program_print", lambda: "another")
    assert site.key() not in ("", before)


def test_an_edited_template_counts_whoever_edited_it(site: Site, monkeypatch: pytest.MonkeyPatch) -> None:
    (site.folder / "over" / "partials").mkdir()
    template = site.folder / "over" / "partials" / "footer.html"
    template.write_text("one", encoding="utf-8")
    real = framing._stamps
    monkeypatch.setattr(framing, "_stamps", lambda folders: real([*folders, str(site.folder / "over")]))
    before = site.key()
    template.write_text("other", encoding="utf-8")
    assert site.key() not in ("", before)


HOOK = "def on_post_page(output, page, config):\n    return output + '!'\n"
SAID_BY_OTHERS = {
    "another theme": {"theme": {"name": "mkdocs"}, "plugins": ["search", "buildsheets"]},
    "a theme of the club's own": {"theme": {"name": "material", "font": False, "custom_dir": "over"}},
    "another plugin": {"plugins": ["search", "tags", "buildsheets"]},
    "a hook": {"hooks": ["hook.py"]},
}


@pytest.mark.parametrize("who", SAID_BY_OTHERS)
def test_where_something_else_has_a_say_there_is_no_key(site: Site, who: str) -> None:
    (site.folder / "hook.py").write_text(HOOK, encoding="utf-8")
    site.settings |= SAID_BY_OTHERS[who]
    assert site.key() == ""


def test_a_value_that_tells_nothing_makes_no_key(site: Site) -> None:
    """Its place in memory may be that of another the next time."""
    site.alter = lambda page, nav: page.meta.update(author=object())
    assert site.key() == ""
    site.extra = {"author": object()}
    site.alter = lambda page, nav: None
    assert site.key() == ""
