"""The library's list in a real browser: filter, order, state in the address, keyboard, no script."""

from __future__ import annotations

from collections.abc import Iterator
from copy import deepcopy
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page
from sample import sample_figures  # type: ignore[import-not-found]

from buildsheets.assets import LIBRARY_SCRIPT, LIBRARY_STYLE, STYLE, THEME
from buildsheets.library.index import render_index

pytestmark = pytest.mark.browser

SCALES, STATUSES = ("OO", "N", "O"), ("running", "planned")
MANY = 600


def builds(count: int):
    """So many locomotives whose speed falls as their number rises; every seventh has none."""
    for number in range(count):
        figures = deepcopy(sample_figures())
        figures["slug"] = f"loco-{number:04}"
        figures["title"] = f"Loco {number:04}"
        figures["head"].update(scale=SCALES[number % 3], status=STATUSES[number % 2], summary=f"Word{number} here")
        figures["speed"].update(top_scale_mph=100.0 - 0.01 * number, top_scale_mph_band=None)
        if number % 7 == 0:
            figures["speed"] = None
        yield figures


@pytest.fixture(scope="module")
def listed(tmp_path_factory: pytest.TempPathFactory) -> str:
    folder = tmp_path_factory.mktemp("list")
    for name in (STYLE, LIBRARY_STYLE, LIBRARY_SCRIPT):
        (folder / Path(name).name).write_bytes((THEME / name).read_bytes())
    page = (
        '<!doctype html><html lang="en"><meta charset="utf-8"><title>x</title><link rel="stylesheet" href="sheet.css">'
        f'<link rel="stylesheet" href="library.css">{render_index(list(builds(MANY)))}<script src="library.js"></script>'
    )
    (folder / "list.html").write_text(page, encoding="utf-8", newline="\n")
    return (folder / "list.html").as_uri()


@pytest.fixture
def page(browser: Browser, listed: str) -> Iterator[Page]:
    page = browser.new_page()
    page.goto(listed)
    yield page
    page.close()


def shown(page: Page) -> list[str]:
    return page.evaluate(
        "Array.from(document.querySelectorAll('.bs-index tbody tr')).filter(r => !r.hidden)"
        ".map(r => r.querySelector('a').textContent)"
    )


def speeds(page: Page) -> list[str]:
    return page.evaluate(
        "Array.from(document.querySelectorAll('.bs-index tbody tr')).map(r => r.cells[2].dataset.sort || '')"
    )


def test_words_and_choices_narrow_the_list_together(page: Page) -> None:
    page.fill("[name=words]", "word12 loco")
    assert shown(page) == ["Loco 0012", *(f"Loco 0{n}" for n in range(120, 130))]
    page.select_option("[name=scale]", "N")
    page.select_option("[name=status]", "planned")
    assert shown(page) == [f"Loco {n:04}" for n in (12, *range(120, 130)) if n % 3 == 1 and n % 2 == 1]
    assert page.locator("[role=status]").inner_text() == f"{len(shown(page))} of {MANY}"


def test_order_by_number_both_ways_with_the_unknown_last(page: Page) -> None:
    head = page.get_by_role("button", name="Top scale speed")
    page.get_by_role("button", name=f"Show all {MANY}").click()
    head.click()
    rising = speeds(page)
    known = [float(s) for s in rising if s]
    assert known == sorted(known)
    assert rising[-1] == ""
    head.click()
    falling = speeds(page)
    assert [float(s) for s in falling if s] == sorted(known, reverse=True)
    assert falling[-1] == ""
    assert page.locator("th[aria-sort=descending]").inner_text().strip().endswith("Top scale speed")


def test_of_a_long_list_a_part_is_laid_out_and_the_rest_on_request(page: Page) -> None:
    few = len(shown(page))
    assert few < MANY / 2
    assert page.locator("[role=status]").inner_text() == f"{MANY} of {MANY}"
    # what is not laid out is found and ordered all the same
    page.fill("[name=words]", f"word{MANY - 1}")
    assert shown(page) == [f"Loco {MANY - 1:04}"]
    page.fill("[name=words]", "")
    page.get_by_role("button", name="Locomotive").click()
    page.get_by_role("button", name="Locomotive").click()
    assert shown(page) == [f"Loco {MANY - 1 - n:04}" for n in range(few)]
    page.get_by_role("button", name=f"Show all {MANY}").press("Enter")
    assert len(shown(page)) == MANY
    assert page.evaluate("document.activeElement.textContent") == f"Loco {MANY - 1 - few:04}"
    assert page.get_by_role("button", name="Show all").count() == 0


def test_state_is_in_the_address_and_comes_back(page: Page) -> None:
    page.fill("[name=words]", "loco 00")
    page.select_option("[name=scale]", "O")
    page.get_by_role("button", name="Top scale speed").click()
    names, address = shown(page), page.url
    assert len(names) > 3
    page.goto("about:blank")
    page.goto(address)
    assert shown(page) == names
    assert page.input_value("[name=words]") == "loco 00"
    page.fill("[name=words]", "")
    page.select_option("[name=scale]", "")
    assert "words" not in page.url
    assert "scale" not in page.url


def test_keyboard_alone_filters_and_orders(page: Page) -> None:
    page.keyboard.press("Tab")
    page.keyboard.type("word7")
    assert set(shown(page)) == {f"Loco {n:04}" for n in range(MANY) if str(n).startswith("7")}
    page.get_by_role("button", name="Locomotive").focus()
    page.keyboard.press("Enter")
    page.keyboard.press("Enter")
    assert shown(page)[0] == "Loco 0079"


def test_letters_of_the_address_cannot_run(browser: Browser, listed: str) -> None:
    page = browser.new_page()
    page.on("dialog", lambda dialog: pytest.fail("a script ran"))
    page.goto(f"{listed}?words=%3Cimg%20src%3Dx%20onerror%3Dalert(1)%3E&order=-99&scale=%22%3E%3Cscript%3E")
    assert shown(page) == []
    page.close()


def test_without_script_it_is_a_plain_whole_table(browser: Browser, listed: str) -> None:
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(listed)
    assert page.locator(".bs-index tbody tr").count() == MANY
    assert page.locator(".bs-index button, form").count() == 0
    context.close()
