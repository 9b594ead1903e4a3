"""Every kind of page against axe-core, the reference checker of the Web Content Accessibility Guidelines, at levels A and AA."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from browsing import violations  # type: ignore[import-not-found]
from club import serve  # type: ignore[import-not-found]
from demo import BROKEN, PAGES, Demo  # type: ignore[import-not-found]
from playwright.sync_api import Browser

pytestmark = pytest.mark.browser

# each way of looking meets each scheme once over the two rounds: what colours do does not hang on the width
ROUNDS = {"desk, light": (1280, 900, "light", "default"), "telephone, dark": (390, 844, "dark", "slate")}


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    demo = Demo(tmp_path_factory.mktemp("demo"))
    demo.write("builds/coal-stage-pug.yml", BROKEN)
    demo.build()
    with serve(demo.site) as served:
        yield served


@pytest.mark.parametrize("look", ROUNDS)
@pytest.mark.parametrize("kind", PAGES)
def test_no_violation_at_level_aa(browser: Browser, address: str, kind: str, look: str) -> None:
    width, height, wanted, scheme = ROUNDS[look]
    context = browser.new_context(
        viewport={"width": width, "height": height}, color_scheme=wanted, reduced_motion="reduce"
    )
    page = context.new_page()
    page.goto(f"{address}/{PAGES[kind]}")
    page.wait_for_load_state("networkidle")
    if page.locator("body[data-md-color-scheme]").count():
        assert page.locator("body").get_attribute("data-md-color-scheme") == scheme
    told = violations(page)
    context.close()
    assert told == []


def test_the_checker_sees_what_is_wrong(browser: Browser, address: str) -> None:
    page = browser.new_page()
    page.goto(f"{address}/{PAGES['sheet']}")
    wrong = '<input><p style="color:#999;background:#aaa">pale</p>'
    page.evaluate("wrong => document.querySelector('.bs-sheet').insertAdjacentHTML('afterbegin', wrong)", wrong)
    seen = {told.partition(" ")[0] for told in violations(page)}
    page.close()
    assert {"label", "color-contrast"} <= seen
