"""Everything of ours with the keyboard alone: reached by Tab, worked by Enter, Space and arrows, the focus always seen.

WCAG 2.1, success criteria 2.1.1 and 2.4.7.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest
from club import Project, serve  # type: ignore[import-not-found]
from playwright.sync_api import Browser, Page

pytestmark = pytest.mark.browser

MOST_STOPS = 300
FADE_MS = 600
"""The theme's search, which was passed on the way, has faded by then."""
SEEN = """() => {
  const element = document.activeElement, style = getComputedStyle(element), box = element.getBoundingClientRect();
  const framed = style.outlineStyle !== 'none' && parseFloat(style.outlineWidth) > 0 && style.outlineColor !== 'rgba(0, 0, 0, 0)';
  const x = Math.min(Math.max(box.left + box.width / 2, 1), innerWidth - 1), y = Math.min(Math.max(box.top + box.height / 2, 1), innerHeight - 1);
  const there = document.elementFromPoint(x, y);
  const free = there !== null && (element.contains(there) || there.contains(element));
  const shown = box.width > 0 && box.height > 0 && box.bottom > 0 && box.top < innerHeight;
  return framed && free && shown ? '' : `${element.outerHTML.slice(0, 120)} framed: ${framed}, free: ${free}, shown: ${shown}`;
}"""


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The small library with PDFs, and a third sheet to choose from."""
    project = Project(tmp_path_factory.mktemp("club"))
    tank = (project.builds / "harbour-tank.yml").read_text(encoding="utf-8")
    project.write("builds/quay-tank.yml", re.sub(r"(?m)^(title|formerly|number):.*\n", "", tank) + "title: Quay tank\n")
    config = (project.folder / "mkdocs.yml").read_text(encoding="utf-8")
    project.write("mkdocs.yml", config.replace("buildsheets]", "{buildsheets: {pdf: true}}]"))
    project.build()
    with serve(project.site) as address:
        yield address


@pytest.fixture(params=[(1280, 900), (390, 800)], ids=["desk", "telephone"])
def page(browser: Browser, request: pytest.FixtureRequest) -> Iterator[Page]:
    width, height = request.param
    page = browser.new_page(viewport={"width": width, "height": height})
    yield page
    page.close()


def go(page: Page, selector: str, key: str = "Tab") -> None:
    """Go from stop to stop to the first that fits; on the way the focus must be seen on everything of the page's content."""
    unseen: list[str] = []
    for _ in range(MOST_STOPS):
        page.keyboard.press(key)
        if page.evaluate("document.activeElement.closest('.md-content, .bs-bare') !== null"):
            if not unseen:
                page.wait_for_timeout(FADE_MS)
            unseen.append(page.evaluate(SEEN))
        if page.evaluate("selector => document.activeElement.matches(selector)", selector):
            assert [stop for stop in unseen if stop] == []
            return
    pytest.fail(f"{selector} is not reached by {key}")


def test_the_list_is_filtered_ordered_and_chosen_from(page: Page, address: str) -> None:
    page.goto(f"{address}/builds/")
    rows = page.locator(".bs-index tbody tr")
    assert rows.count() == 3
    go(page, ".bs-choose input[name=words]")
    page.keyboard.type("tank")
    assert rows.count() == 2
    go(page, ".bs-choose select[name=status], .bs-choose select[name=outcome]")
    page.keyboard.press("ArrowDown")
    assert page.evaluate("document.activeElement.value") != ""
    page.keyboard.press("Home")
    go(page, "th:nth-child(3) .bs-order")
    page.keyboard.press("Enter")
    assert page.locator("th[aria-sort=ascending]").count() == 1
    page.keyboard.press("Space")
    assert page.locator("th[aria-sort=descending]").count() == 1
    for _ in range(2):
        go(page, ".bs-pick input")
        page.keyboard.press("Space")
    assert page.locator(".bs-pick input:checked").count() == 2
    go(page, ".bs-picked a", "Shift+Tab")
    go(page, ".bs-picked a[href*=compare]", "Shift+Tab")
    page.keyboard.press("Enter")
    page.wait_for_url("**/compare/**")
    page.wait_for_selector(".bs-compare thead a")
    assert page.locator(".bs-compare thead a").count() == 2


def test_a_sheet_leads_to_its_short_form_and_its_pdf(page: Page, address: str) -> None:
    page.goto(f"{address}/builds/harbour-tank/")
    go(page, "a[href$='short.html']")
    go(page, "a[href$='harbour-tank.pdf']")
    go(page, "input.bs-all")
    page.keyboard.press("Space")
    assert page.locator("input.bs-all").is_checked()
    go(page, "details.bs-working > summary")
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.parentElement.open")
    page.goto(f"{address}/builds/harbour-tank/")
    go(page, "a[href$='short.html']")
    page.keyboard.press("Enter")
    page.wait_for_url("**/short.html")
    go(page, "a[href='index.html']")
    page.keyboard.press("Enter")
    page.wait_for_url("**/harbour-tank/index.html")


def test_the_first_stop_leads_past_the_menu(page: Page, address: str) -> None:
    page.goto(f"{address}/builds/harbour-tank/")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.matches('.md-skip')")
    page.keyboard.press("Enter")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.closest('.md-content') !== null")


def test_search_opens_with_a_key_and_leads_to_a_sheet(page: Page, address: str) -> None:
    page.goto(f"{address}/")
    page.keyboard.press("/")
    page.wait_for_function("document.activeElement.matches('.md-search__input')")
    page.keyboard.type("quillwort")
    page.wait_for_selector(".md-search-result__link")
    page.keyboard.press("ArrowDown")
    assert page.evaluate("document.activeElement.matches('.md-search-result__link')")
    page.keyboard.press("Enter")
    page.wait_for_url("**/harbour-tank/**")
