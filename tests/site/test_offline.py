"""The site from a folder on a disk: search, filter and comparison work, and no page asks anybody else for anything."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from browsing import Watched, search  # type: ignore[import-not-found]
from club import Project, serve  # type: ignore[import-not-found]
from demo import BROKEN, PAGES, Demo  # type: ignore[import-not-found]
from playwright.sync_api import Browser

pytestmark = pytest.mark.browser

FOREIGN_SHIM = "https://unpkg.com/iframe-worker/shim"  # what the theme's plugin would fetch


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Demo:
    """The demo site with a broken record, under the strictest policy that a club can choose."""
    demo = Demo(tmp_path_factory.mktemp("demo"))
    demo.configure(("      currency: GBP\n", "      currency: GBP\n      content_security_policy: true\n"))
    demo.write("builds/coal-stage-pug.yml", BROKEN)
    demo.build()
    return demo


@pytest.fixture
def watched(browser: Browser) -> Iterator[Watched]:
    page = browser.new_page(viewport={"width": 1280, "height": 900})
    yield Watched(page)
    page.close()


@pytest.mark.parametrize("start", ["index.html", "builds/index.html", "builds/harbour-tank/index.html", "builds/parts/can-1220-5p/index.html"])
def test_search_works_on_pages_of_every_depth(watched: Watched, demo: Demo, start: str) -> None:
    watched.page.goto((demo.site / start).as_uri())
    found = search(watched.page, "harbour tank")
    assert found[0].startswith((demo.site / "builds/harbour-tank/index.html").as_uri())
    watched.page.goto(found[0])
    assert "Harbour" in watched.page.inner_text("h1")
    assert watched.faults == []


def test_search_works_in_a_language_whose_stems_are_fetched(watched: Watched, tmp_path: Path) -> None:
    project = Project(tmp_path)
    config = (project.folder / "mkdocs.yml").read_text(encoding="utf-8")
    config = config.replace("name: material,", "name: material, language: de,").replace("[search,", "[search, offline,")
    project.write("mkdocs.yml", config)
    project.build()
    watched.page.goto((project.site / "index.html").as_uri())
    assert "harbour-tank" in search(watched.page, "quillwort")[0]
    assert [address for address in watched.asked if "lunr" in address]
    assert watched.faults == []


@pytest.mark.parametrize(
    "plugins", ["[offline, search, buildsheets]", "[search, buildsheets, offline]", "[material/search, material/offline, buildsheets]"]
)
def test_our_own_script_takes_the_place_of_the_one_from_elsewhere(tmp_path: Path, plugins: str) -> None:
    project = Project(tmp_path)
    config = (project.folder / "mkdocs.yml").read_text(encoding="utf-8")
    project.write("mkdocs.yml", config.replace("[search, buildsheets]", plugins))
    assert project.build() == []
    for page in project.site.rglob("*.html"):
        text = page.read_text(encoding="utf-8")
        assert FOREIGN_SHIM not in text
        if "bundle." in text and page.name != "404.html":
            assert text.count("iframe-worker") == 1, page


def test_a_script_that_the_site_chose_itself_stays(tmp_path: Path) -> None:
    project = Project(tmp_path)
    config = (project.folder / "mkdocs.yml").read_text(encoding="utf-8")
    project.write("docs/own/iframe-worker.js", "window.own = true;\n")
    project.write("mkdocs.yml", config.replace("[search,", "[search, offline,") + "extra: {polyfills: [own/iframe-worker.js]}\n")
    project.build()
    text = (project.site / "index.html").read_text(encoding="utf-8")
    assert 'src="own/iframe-worker.js"' in text
    assert text.count("iframe-worker") == 1


def test_filter_and_order_work_from_the_disk(watched: Watched, demo: Demo) -> None:
    watched.page.goto((demo.site / PAGES["list, filtered"].partition("?")[0]).as_uri() + "?words=harbour&order=-2")
    rows = watched.page.locator(".bs-index tbody tr")
    assert [row.get_attribute("data-bs-slug") for row in rows.all() if row.is_visible()] == ["harbour-tank"]
    assert watched.page.locator("th[aria-sort=descending]").count() == 1
    assert watched.faults == []


def test_comparison_works_from_the_disk(watched: Watched, demo: Demo) -> None:
    watched.page.goto((demo.site / "builds/compare/index.html").as_uri() + "?with=harbour-tank,salt-works-pug")
    watched.page.wait_for_selector(".bs-compare thead a")
    assert watched.page.locator(".bs-compare thead a").count() == 2
    assert watched.faults == []


@pytest.mark.parametrize("by", ["http", "file"])
def test_no_page_asks_another_server(watched: Watched, demo: Demo, by: str) -> None:
    """Every kind of page, through its search too; whatever is asked for must lie below the site's own address."""
    with serve(demo.site) as address:
        base = address if by == "http" else demo.site.as_uri()
        for kind, path in PAGES.items():
            watched.page.goto(f"{base}/{path}", wait_until="networkidle")
            if kind in ("home", "sheet", "compare, chosen", "broken record"):
                search(watched.page, "tank")
    assert len(watched.asked) > 5 * len(PAGES)
    assert [url for url in watched.asked if not url.startswith(base + "/") and urlsplit(url).scheme != "data"] == []
    assert watched.faults == []


@pytest.mark.parametrize("page", ["list", "sheet", "parts", "together", "short form", "broken record"])
def test_everything_can_be_read_without_script(browser: Browser, demo: Demo, page: str) -> None:
    context = browser.new_context(java_script_enabled=False)
    shown = context.new_page()
    shown.goto((demo.site / PAGES[page]).as_uri())
    for table in shown.locator(".bs-sheet table:not(details table, .bs-card-aside)").all():
        assert table.locator("tbody tr").first.is_visible()
    if page == "list":
        assert shown.locator(".bs-index tbody tr").count() == len(list((demo.site / "builds").glob("*/figures.json")))
        assert shown.locator(".bs-index button").count() == 0
    if page == "sheet":
        assert shown.locator(".bs-drawing svg").first.is_visible()
        shown.locator("details.bs-working > summary").first.click()
        assert len(shown.locator("details.bs-working").first.inner_text()) > 500
    assert len(shown.inner_text(".bs-sheet")) > 150
    context.close()
