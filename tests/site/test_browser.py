"""What a reader's browser makes of the pages."""

from __future__ import annotations

import io
from urllib.parse import urlsplit

import pytest
from club import Project  # type: ignore[import-not-found]
from playwright.sync_api import Browser

pytestmark = pytest.mark.browser

CHOSEN = "/builds/compare/?with=harbour-tank,quarry-shunter"
PHONE, DESKTOP = {"width": 360, "height": 740}, {"width": 1280, "height": 900}


@pytest.mark.parametrize("size", [PHONE, DESKTOP], ids=["phone", "desktop"])
@pytest.mark.parametrize("path", [
    "/builds/harbour-tank/", "/builds/quarry-shunter/", "/builds/", CHOSEN, "/builds/shopping/", "/builds/together/", "/field-reference/",
])  # fmt: skip
def test_nothing_runs_over_the_edge(browser: Browser, served: str, size: dict[str, int], path: str) -> None:
    page = browser.new_page(viewport=size)  # type: ignore[arg-type]
    page.goto(served + path)
    wide = page.evaluate("document.documentElement.scrollWidth")
    page.close()
    assert wide <= size["width"]


def test_no_request_leaves_the_machine_and_no_script_fails(browser: Browser, served: str) -> None:
    page = browser.new_page()
    asked: list[str] = []
    failed: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.on("pageerror", lambda error: failed.append(str(error)))
    for path in ("/builds/harbour-tank/", "/builds/", CHOSEN, "/builds/shopping/"):
        page.goto(served + path, wait_until="networkidle")
    page.close()
    assert [url for url in asked if urlsplit(url).scheme != "data" and not url.startswith(served)] == []
    assert failed == []


def test_search_finds_a_word_of_the_notes(browser: Browser, served: str) -> None:
    page = browser.new_page(viewport=DESKTOP)  # type: ignore[arg-type]
    page.goto(served)
    page.click("[data-md-component=search-query]")
    page.keyboard.type("quillwort")
    page.wait_for_selector(".md-search-result__link")
    address = page.get_attribute(".md-search-result__link", "href")
    page.close()
    assert address is not None
    assert "/builds/harbour-tank/" in address


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_a_sheet_prints(browser: Browser, served: str, built: Project, paper: str) -> None:
    from pypdf import PdfReader

    page = browser.new_page()
    page.goto(f"{served}/builds/harbour-tank/")
    pdf = PdfReader(io.BytesIO(page.pdf(format=paper, prefer_css_page_size=False)))
    page.close()
    words = " ".join(sheet.extract_text() for sheet in pdf.pages)
    assert "Harbour branch" in words
    assert "82.9" in words  # 38 / 11 x 24, by hand
    assert all(sheet.extract_text().strip() for sheet in pdf.pages)  # no empty paper


def test_a_sheet_opens_from_the_disk(browser: Browser, built: Project) -> None:
    page = browser.new_page()
    page.goto((built.site / "builds/harbour-tank/index.html").as_uri())
    shown = page.locator(".bs-drawing svg").first.is_visible()
    page.close()
    assert shown


def test_chosen_builds_of_a_published_site_stand_side_by_side(browser: Browser, served: str, built: Project) -> None:
    page = browser.new_page()
    for address in (served + CHOSEN, (built.site / "builds/compare/index.html").as_uri() + CHOSEN.removeprefix("/builds/compare/")):
        page.goto(address)
        page.wait_for_selector("[data-bs-result]")
        assert page.locator("[data-bs-row=status] td").all_inner_texts() == ["running", "planned"]
        assert page.locator(".bs-overlay__line").count() == 1
        page.click("[data-bs-compare] thead a")
        assert "/builds/harbour-tank/" in page.url
    page.goto(served + "/builds/harbour-tank/")
    scripts = page.evaluate("[...document.scripts].map(script => script.src.split('/').pop())")
    page.close()
    assert {"chosen.js", "compare.js", "shopping.js", "beside.js"}.isdisjoint(scripts)


@pytest.mark.parametrize("size", [PHONE, DESKTOP], ids=["phone", "desktop"])
def test_the_filter_hides_the_other_locomotives(browser: Browser, served: str, size: dict[str, int]) -> None:
    page = browser.new_page(viewport=size)  # type: ignore[arg-type]
    page.goto(served + "/builds/")
    rows = page.locator(".bs-index tbody tr")
    before = rows.count()
    page.fill(".bs-choose input", "harbour branch")
    shown = [row.inner_text() for row in rows.all() if row.is_visible()]
    page.close()
    assert before > 1
    assert len(shown) == 1
    assert "Harbour branch" in shown[0]
