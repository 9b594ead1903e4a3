"""A new club's library as `start` lays it down, through the same checks in a browser as the demo.

One record is added as a member would, by `new`, so that there are two to find, filter and compare.
"""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from browsing import Watched, search, violations  # type: ignore[import-not-found]
from click.testing import CliRunner
from crawl import lost, read  # type: ignore[import-not-found]
from playwright.sync_api import Browser

from buildsheets.cli import commands

pytestmark = pytest.mark.browser

KINDS = {
    "home": "index.html",
    "list": "builds/index.html",
    "sheet": "builds/example-tank/index.html",
    "new sheet": "builds/quay-diesel/index.html",
    "short form": "builds/example-tank/short.html",
    "parts": "builds/parts/index.html",
    "together": "builds/together/index.html",
    "compare": "builds/compare/index.html?with=example-tank,quay-diesel",
    "shopping": "builds/shopping/index.html?with=example-tank",
    "field reference": "field-reference.html",
}


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("clubs") / "library"
    for words in (
        ["start", str(folder), "--club", "The Dune line", "--no-questions"],
        ["new", str(folder / "builds/quay-diesel.yml"), "--title", "Quay diesel", "--scale", "OO", "--type", "diesel", "--no-questions"],
    ):
        done = CliRunner().invoke(commands, words)
        assert done.exit_code == 0, done.output
    built = subprocess.run(
        [sys.executable, "-m", "mkdocs", "build", "--strict"],
        cwd=folder, env={**os.environ, "NO_MKDOCS_2_WARNING": "1"}, check=False, capture_output=True, text=True,
    )
    assert built.returncode == 0, built.stderr
    return folder / "site"


@pytest.fixture
def watched(browser: Browser) -> Iterator[Watched]:
    page = browser.new_page(viewport={"width": 1280, "height": 900})
    yield Watched(page)
    page.close()


@pytest.mark.parametrize("kind", KINDS)
def test_no_violation_no_fault_and_nothing_from_elsewhere(watched: Watched, site: Path, kind: str) -> None:
    watched.page.goto(f"{site.as_uri()}/{KINDS[kind]}", wait_until="networkidle")
    asked, faults = list(watched.asked), list(watched.faults)  # the checker asks for the styles once more
    assert violations(watched.page) == []
    assert [url for url in asked if not url.startswith((site.as_uri() + "/", "data:"))] == []
    assert faults == []


def test_every_address_leads_somewhere(site: Path) -> None:
    read.cache_clear()
    assert list(lost(site, "")) == []


def test_list_comparison_and_search_work_from_the_disk(watched: Watched, site: Path) -> None:
    page = watched.page
    page.goto((site / "builds/index.html").as_uri())
    page.fill(".bs-choose [name=words]", "diesel")
    assert page.eval_on_selector_all(".bs-index tbody tr", "rows => rows.map(row => row.dataset.bsSlug)") == ["quay-diesel"]
    page.fill(".bs-choose [name=words]", "")
    for title in ("Example 0-6-0 tank", "Quay diesel"):
        page.get_by_role("checkbox", name=f"Choose {title}").check()
    page.get_by_role("link", name="Compare the chosen").click()
    page.wait_for_selector(".bs-compare thead a")
    assert page.locator(".bs-compare thead a").all_inner_texts() == ["Example 0-6-0 tank", "Quay diesel"]
    page.goto((site / "index.html").as_uri())
    assert search(page, "example 0-6-0 tank")[0].startswith((site / "builds/example-tank/index.html").as_uri())
    assert watched.faults == []


def test_without_script_the_list_is_a_plain_table(browser: Browser, site: Path) -> None:
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto((site / "builds/index.html").as_uri())
    assert page.locator(".bs-index tbody tr").count() == 2
    assert page.locator(".bs-index button").count() == 0
    context.close()
