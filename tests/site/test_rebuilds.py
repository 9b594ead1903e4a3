"""Whatever was edited, the pages of a running server are to the byte those that a server shows that is started afresh."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

import jinja2
import pytest
from grown import grow  # type: ignore[import-not-found]
from mkdocs.commands.build import build
from mkdocs.config import load_config
from mkdocs.config.defaults import MkDocsConfig

from buildsheets.library import render

ADDRESS = "http://127.0.0.1:8000/"
CONFIG = """\
site_name: Grown
theme: {name: material, font: false, features: [navigation.footer]}
extra: {generator: false}
plugins: [search, buildsheets: {processes: 1}]
markdown_extensions: [attr_list, md_in_html, tables, {toc: {permalink: true}}]
nav: [index.md, builds/index.md, builds/parts/index.md]
"""
SPARSE = "format: 1\ntitle: Quarry shunter\nstatus: planned\nparts: [{name: can, stock: can-1220-5p}]\n"


class Server:
    """The site generator's own rebuilds, without its waiting: what lives on from one to the next is its plugins."""

    def __init__(self, folder: Path, site: Path) -> None:
        self.folder, self.site = folder, site
        self.plugins: dict[str, object] = {}
        self.started = False

    def pages(self) -> dict[str, bytes]:
        """Rebuild and return all files of the site."""
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(MkDocsConfig.__dict__["plugins"], "plugin_cache", self.plugins)
            config = load_config(str(self.folder / "mkdocs.yml"), site_dir=str(self.site))
            if not self.started:
                config.plugins.on_startup(command="serve", dirty=False)
            self.started = True
            config.site_url = ADDRESS
            build(config, serve_url=ADDRESS)
        return {path.relative_to(self.site).as_posix(): path.read_bytes() for path in self.site.rglob("*") if path.is_file()}


def library(folder: Path, records: int) -> Path:
    grow(folder / "builds", records)
    (folder / "docs").mkdir()
    (folder / "docs" / "index.md").write_text("# Home\n", encoding="utf-8")
    (folder / "mkdocs.yml").write_text(CONFIG, encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def known(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A library whose sheets lie in its cache."""
    place = tmp_path_factory.mktemp("known")
    Server(library(place / "club", 4), place / "site").pages()
    return place / "club"


@pytest.fixture
def server(known: Path, tmp_path: Path) -> Server:
    return Server(Path(shutil.copytree(known, tmp_path / "club")), tmp_path / "served")


@pytest.fixture
def framed(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Addresses of the pages that the theme is put around."""
    seen: list[str] = []
    real = jinja2.Template.render

    def rendered(self: jinja2.Template, *of: object, **named: object) -> str:
        if self.name == "main.html":
            seen.append(dict(*of)["page"].url)  # type: ignore[call-overload]
        return real(self, *of, **named)

    monkeypatch.setattr(jinja2.Template, "render", rendered)
    return seen


def afresh(folder: Path, place: Path) -> dict[str, bytes]:
    """What a server shows that is started now, where nothing was built before."""
    shutil.rmtree(place, ignore_errors=True)
    shutil.copytree(folder, place / "club", ignore=shutil.ignore_patterns(".cache"))
    return Server(place / "club", place / "site").pages()


def exchange(path: Path, old: str, new: str) -> None:
    text = path.read_text(encoding="utf-8")
    assert old in text, old
    path.write_text(text.replace(old, new, 1), encoding="utf-8")


def a_record(folder: Path) -> Path:
    return next(path for path in sorted((folder / "builds").glob("*.yml")) if "motor:" in path.read_text(encoding="utf-8"))


def words_edited(folder: Path) -> None:
    exchange(a_record(folder), "title: ", "title: New ")


def figures_edited(folder: Path) -> None:
    record = a_record(folder)
    lines = [line for line in record.read_text(encoding="utf-8").splitlines() if not line.startswith("  track:")]
    record.write_text("\n".join(lines).replace("supply:", "supply:\n  track: 10 V") + "\n", encoding="utf-8")


def record_added(folder: Path) -> None:
    (folder / "builds" / "quarry-shunter.yml").write_text(SPARSE, encoding="utf-8")


def record_removed(folder: Path) -> None:
    a_record(folder).unlink()


def record_moved(folder: Path) -> None:
    record = a_record(folder)
    record.write_text(record.read_text(encoding="utf-8") + f"formerly: [{record.stem}]\n", encoding="utf-8")
    record.rename(record.with_name("a-new-name.yml"))


def record_broken(folder: Path) -> None:
    exchange(a_record(folder), "status: ", "status: un")


def stock_edited(folder: Path) -> None:
    exchange(folder / "builds" / "stock" / "motors.yml", "unit_price:", "unit_price: 9.90 #")


def notes_edited(folder: Path) -> None:
    exchange(folder / "docs" / "index.md", "# Home", "# The bench")  # its title stands in the navigation of every page


def site_renamed(folder: Path) -> None:
    exchange(folder / "mkdocs.yml", "site_name: Grown", "site_name: Overgrown")


def theme_configured(folder: Path) -> None:
    exchange(folder / "mkdocs.yml", "features: [navigation.footer]", "features: [navigation.top]")


def navigation_configured(folder: Path) -> None:
    exchange(folder / "mkdocs.yml", "index.md, builds/index.md", "index.md, Sheets: builds/index.md")


def options_configured(folder: Path) -> None:
    exchange(folder / "mkdocs.yml", "processes: 1", "processes: 1, speed_unit: km/h, club: The club")


def language_configured(folder: Path) -> None:
    exchange(folder / "mkdocs.yml", "processes: 1", "processes: 1, language: de")


EDITS = [
    words_edited, figures_edited, record_added, record_removed, record_moved, record_broken, stock_edited, notes_edited, site_renamed,
    theme_configured, navigation_configured, options_configured, language_configured,
]


@pytest.mark.parametrize("edit", EDITS)
def test_after_an_edit_all_is_as_made_afresh(server: Server, tmp_path: Path, edit: Callable[[Path], None]) -> None:
    before = server.pages()
    edit(server.folder)
    assert server.pages() != before
    after = server.pages()  # also where nothing was edited since
    fresh = afresh(server.folder, tmp_path / "fresh")
    assert after.keys() == fresh.keys()
    assert [name for name in fresh if after[name] != fresh[name]] == []


def test_only_pages_that_change_are_made_again(tmp_path: Path, framed: list[str], monkeypatch: pytest.MonkeyPatch) -> None:
    server = Server(library(tmp_path / "club", 12), tmp_path / "site")
    searched: list[int] = []
    real = render.remedies

    def remedies(found: list[object], figures: object) -> object:
        searched.append(len(found))
        return real(found, figures)  # type: ignore[arg-type]

    monkeypatch.setattr(render, "remedies", remedies)
    first = server.pages()
    sheets = {f"builds/{path.stem}/" for path in (server.folder / "builds").glob("*.yml")}
    assert sheets < set(framed)
    searched_first = searched[0]
    assert searched_first > 5
    for round_ in range(2):
        framed.clear()
        searched.clear()
        words_edited(server.folder)
        second = server.pages()
        edited = f"builds/{a_record(server.folder).stem}/"
        assert sheets & set(framed) == {edited}, round_
        assert {"", edited, "builds/"} <= set(framed) < {name.removesuffix("index.html") for name in first}
        changed = {name.removesuffix("index.html") for name in second if name.endswith("index.html") and second[name] != first[name]}
        assert changed <= set(framed)
        assert searched[0] < searched_first / 2
        first = second
    framed.clear()
    server.pages()
    assert framed == [""]  # the club's own


def test_what_is_held_from_rebuild_to_rebuild_does_not_grow(server: Server) -> None:
    server.pages()
    sizes = []
    for _ in range(3):
        words_edited(server.folder)
        server.pages()
        cache = server.folder / ".cache/buildsheets"
        kept = [path for kind in ("passages", "standing", "renderings") for path in (cache / kind).rglob("*") if path.is_file()]
        sizes.append((len(kept), len(server.plugins["buildsheets"].met), sum(path.stat().st_size for path in kept)))  # type: ignore[attr-defined]
    assert {size[:2] for size in sizes} == {sizes[0][:2]}
    assert sizes[-1][2] < sizes[0][2] + 1000  # the words that each edit adds, here and there


def test_a_theme_of_the_clubs_own_is_put_around_each_time(server: Server, framed: list[str]) -> None:
    """Its templates may look at anything, the time of day too."""
    over = server.folder / "over"
    over.mkdir()
    (over / "main.html").write_text('{% extends "base.html" %}{% block footer %}{{ build_date_utc }}{% endblock %}', encoding="utf-8")
    exchange(server.folder / "mkdocs.yml", "font: false", "font: false, custom_dir: over")
    first = server.pages()
    framed.clear()
    assert server.pages().keys() == first.keys()
    assert {f"builds/{path.stem}/" for path in (server.folder / "builds").glob("*.yml")} < set(framed)
