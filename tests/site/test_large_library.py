"""A generated library of varied records, published whole and used in a real browser.

What the pages do is tested on small libraries; here they have to do it at size, among records that differ.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from club import serve  # type: ignore[import-not-found]
from grown import grow  # type: ignore[import-not-found]
from playwright.sync_api import Browser, Page, Request

pytestmark = pytest.mark.browser

MANY = 300
CONFIG = """\
site_name: Grown library
site_url: https://grown.example/
use_directory_urls: false
theme: {name: material, font: false}
extra: {generator: false}
plugins: [search, offline, buildsheets]
markdown_extensions: [attr_list, md_in_html, tables]
nav: [index.md, builds/index.md, builds/parts/index.md, builds/together/index.md, builds/compare/index.md, builds/shopping/index.md]
"""
Row = dict[str, object]
READY = ".bs-index[data-bs-ready] thead .bs-order"


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The library, built by the command a club types, with --strict."""
    folder = tmp_path_factory.mktemp("grown")
    grow(folder / "builds", MANY)
    (folder / "docs").mkdir()
    (folder / "docs" / "index.md").write_text("# Home\n\n[The library](builds/index.md)\n", encoding="utf-8")
    (folder / "mkdocs.yml").write_text(CONFIG, encoding="utf-8")
    command = [sys.executable, "-m", "mkdocs", "build", "--strict", "-q"]
    done = subprocess.run(
        command, cwd=folder, env={**os.environ, "NO_MKDOCS_2_WARNING": "1"}, check=False, capture_output=True, text=True
    )
    assert done.returncode == 0, done.stderr
    return folder / "site"


@pytest.fixture(scope="module")
def rows(site: Path) -> list[Row]:
    data = json.loads((site / "builds" / "library.json").read_text(encoding="utf-8"))
    return data["builds"]


@pytest.fixture(params=["http", "file"])
def address(request: pytest.FixtureRequest, site: Path) -> Iterator[str]:
    if request.param == "file":
        yield site.as_uri()
    else:
        with serve(site) as served:
            yield served


@pytest.fixture
def asked() -> list[str]:
    """Addresses that the page asked for."""
    return []


@pytest.fixture
def page(browser: Browser, asked: list[str]) -> Iterator[Page]:
    page = browser.new_page()

    def note(request: Request) -> None:
        asked.append(request.url)

    page.on("request", note)
    yield page
    page.close()


def test_records_differ(rows: list[Row]) -> None:
    assert len(rows) == MANY
    for key, least in (("top_scale_mph", 60), ("motor", 3), ("decoder", 3), ("status", 4), ("level", 3), ("scale", 3)):
        assert len({str(row[key]) for row in rows}) >= least, key


def test_everything_asked_for_is_the_librarys_own(page: Page, address: str, site: Path, asked: list[str]) -> None:
    sheets = sorted(path.parent.name for path in site.glob("builds/*/figures.json"))
    parts = sorted(path.parent.name for path in site.glob("builds/parts/*/index.html"))
    kinds = ["index.html", "builds/index.html", "builds/parts/index.html", "builds/together/index.html"]
    kinds += [f"builds/{slug}/index.html" for slug in sheets[::60]] + [f"builds/parts/{name}/index.html" for name in parts[::10]]
    faults: list[str] = []
    page.on("pageerror", lambda error: faults.append(str(error)))
    for kind in kinds:
        page.goto(f"{address}/{kind}")
        assert page.locator("h1, .bs-cell--title").count() > 0, kind
    assert faults == []
    assert all(url.startswith((address, "blob:", "data:")) for url in asked), asked


def test_list_without_script_is_a_plain_table(browser: Browser, site: Path) -> None:
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto((site / "builds" / "index.html").as_uri())
    assert page.locator(".bs-index tbody tr").count() == MANY
    page.locator(".bs-index tbody tr >> nth=50 >> a").first.click()
    assert page.locator(".bs-sheet--build").count() == 1
    context.close()


def listed(page: Page) -> list[str]:
    """Slugs of the rows that stand in the page, in their order."""
    slugs: list[str] = page.eval_on_selector_all(".bs-index tbody tr", "rows => rows.map(row => row.dataset.bsSlug)")
    return slugs



def test_filter_and_order_agree_with_the_published_data(page: Page, address: str, rows: list[Row]) -> None:
    page.goto(f"{address}/builds/index.html")
    page.wait_for_selector(READY)
    page.get_by_role("button", name=f"Show all {MANY}").click()
    assert sorted(listed(page)) == sorted(str(row["slug"]) for row in rows)
    page.select_option("[name=status]", "planned")
    wanted = {str(row["slug"]): row["top_scale_mph"] for row in rows if row["status"] == "planned"}
    assert 10 < len(wanted) < MANY / 2
    assert set(listed(page)) == set(wanted)
    for turn, sign in (("ascending", 1), ("descending", -1)):
        page.get_by_role("button", name="Top scale speed").click()
        page.wait_for_selector(f"th[aria-sort={turn}]")
        speeds = [wanted[slug] for slug in listed(page)]
        known = [float(str(speed)) for speed in speeds if speed is not None]
        assert known == sorted(known, key=lambda speed, sign=sign: sign * speed)
        assert speeds[: len(known)] == known, "the unknown stand last"
    names, there = listed(page), page.url
    page.goto("about:blank")
    page.goto(there)
    page.wait_for_selector(READY)
    assert listed(page) == names


def test_keyboard_alone_finds_a_sheet_and_opens_it(page: Page, address: str, rows: list[Row]) -> None:
    wanted = next(row for row in rows if row["number"] == "SLR-0123")
    page.goto(f"{address}/builds/index.html")
    page.wait_for_selector(READY)
    for _ in range(60):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.name") == "words":
            break
    page.keyboard.type(str(wanted["title"]))
    assert listed(page) == [wanted["slug"]]
    for _ in range(60):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.matches('.bs-index tbody a')"):
            break
    page.keyboard.press("Enter")
    page.wait_for_selector(".bs-sheet--build")
    assert str(wanted["title"]) in page.inner_text("h1")


def test_four_are_chosen_from_the_list_and_compared(page: Page, address: str, rows: list[Row]) -> None:
    chosen = [row for row in rows if row["top_scale_mph"] is not None][:: MANY // 5][:4]
    page.goto(f"{address}/builds/index.html")
    page.wait_for_selector(READY)
    for row in chosen:
        page.fill("[name=words]", str(row["title"]))
        page.get_by_role("checkbox", name=f"Choose {row['title']}", exact=True).check()
    page.get_by_role("link", name="Compare the chosen").click()
    page.wait_for_selector(".bs-compare thead a")
    assert page.locator(".bs-compare thead a").all_inner_texts() == [str(row["title"]) for row in chosen]
    assert page.locator(".bs-overlay__line").count() == 4


def test_search_finds_sheets_by_what_they_are(page: Page, address: str, rows: list[Row]) -> None:
    page.goto(f"{address}/builds/index.html")
    wanted = next(row for row in rows if row["title"] and row["number"] == "SLR-0077")
    page.locator(".md-search__input").first.fill(str(wanted["title"]))
    first = page.locator(".md-search-result__item h1").first
    first.wait_for(state="visible", timeout=20_000)
    assert str(wanted["title"]).lower() in first.inner_text().lower()
