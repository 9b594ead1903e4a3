"""With its policy a page does all that it should, and a script that was slipped in does nothing."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from club import BROKEN, Project, serve  # type: ignore[import-not-found]
from playwright.sync_api import Browser, Page

from buildsheets.policy import guarded, inline_scripts

CONFIG = """\
site_name: Test line
theme:
  name: material
  font: false
  palette:
    - {scheme: default, toggle: {icon: material/weather-night, name: Dark}}
    - {scheme: slate, toggle: {icon: material/weather-sunny, name: Light}}
  features: [content.code.copy, navigation.footer, navigation.top, search.suggest]
plugins: [search, {buildsheets: {content_security_policy: true}}]
markdown_extensions: [admonition, attr_list, md_in_html, tables]
nav: [index.md, builds/index.md, field-reference.md]
"""
KINDS = (
    "index.html", "builds/index.html", "builds/harbour-tank/index.html", "builds/harbour-tank/short.html",
    "builds/quarry-shunter/index.html", "builds/coal-tank/index.html", "builds/parts/index.html", "builds/parts/can-1220-12v/index.html",
    "builds/together/index.html", "builds/compare/index.html?with=harbour-tank,quarry-shunter",
    "builds/shopping/index.html?with=harbour-tank,quarry-shunter", "field-reference/index.html", "404.html",
)  # fmt: skip
LISTEN = "window.bsBroken = []; document.addEventListener('securitypolicyviolation', e => bsBroken.push(e.violatedDirective + ' ' + e.blockedURI))"
SLIPPED = "<script>window.bsHit = 1</script><img src=x onerror='window.bsHit = 2'>"


@pytest.fixture(scope="module")
def club(tmp_path_factory: pytest.TempPathFactory) -> Project:
    club = Project(tmp_path_factory.mktemp("club"))
    club.write("builds/coal-tank.yml", BROKEN)
    club.write("mkdocs.yml", CONFIG)
    club.write("docs/by-hand.md", f"# By hand\n\n{SLIPPED}\n")
    club.build()
    return club


@pytest.fixture(scope="module")
def address(club: Project) -> Iterator[str]:
    with serve(club.site) as address:
        yield address


@pytest.fixture
def page(browser: Browser) -> Iterator[Page]:
    page = browser.new_page(viewport={"width": 1280, "height": 900})
    page.add_init_script(LISTEN)
    yield page
    page.close()


def every_page(club: Project) -> list[Path]:
    return sorted(club.site.rglob("*.html"))


def test_every_page_has_one_policy_early_in_its_head(club: Project) -> None:
    for path in every_page(club):
        text = path.read_text(encoding="utf-8")
        assert text.count("Content-Security-Policy") == 1, path
        assert text.index("Content-Security-Policy") < min(text.find(tag) % len(text) for tag in ("<script", "<link", "<style")), path
        assert text.index("charset") < 1024, path  # where a browser looks for it: HTML Living Standard, 4.2.5.4


def test_policy_says_what_it_should(club: Project) -> None:
    text = (club.site / "builds/harbour-tank/index.html").read_text(encoding="utf-8")
    said = re.search(r'Security-Policy" content="([^"]+)"', text)
    assert said is not None
    rules = dict(rule.split(" ", 1) for rule in said[1].split("; "))
    assert rules["default-src"] == rules["base-uri"] == "'none'"
    assert re.fullmatch(r"'self'( 'sha256-[A-Za-z0-9+/]{43}=')+", rules["script-src"])
    assert not any("unsafe" in value for name, value in rules.items() if name != "style-src")
    assert not any("http" in value or "*" in value for value in rules.values())


@pytest.mark.browser
@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("how", ["served", "opened as a file"])
def test_no_page_breaks_its_policy(club: Project, address: str, page: Page, kind: str, how: str) -> None:
    errors: list[str] = []
    page.on("pageerror", lambda error: errors.append(str(error)))
    page.goto(f"{address if how == 'served' else club.site.as_uri()}/{kind}", wait_until="networkidle")
    assert page.evaluate("window.bsBroken") == []
    assert errors == []


@pytest.mark.browser
def test_an_old_address_still_forwards(address: str, page: Page) -> None:
    page.goto(f"{address}/builds/old-tank/index.html")
    page.wait_for_url("**/builds/harbour-tank/index.html")


@pytest.mark.browser
def test_search_scheme_filters_and_boxes_work(address: str, page: Page) -> None:
    page.goto(f"{address}/builds/index.html")
    page.fill("input[name=words]", "quarry")
    assert page.locator("table[data-bs-list] tbody tr:visible").count() == 1
    before = page.get_attribute("body", "data-md-color-scheme")
    page.locator("label[title=Dark]").click()
    assert page.get_attribute("body", "data-md-color-scheme") != before
    page.click("[data-md-component=search-query]")
    page.keyboard.type("quillwort")
    page.wait_for_selector(".md-search-result__link")
    assert page.evaluate("window.bsBroken") == []
    page.goto(f"{address}/builds/harbour-tank/index.html")
    page.check("input.bs-all")
    assert page.is_checked("input.bs-all")
    page.locator("details.bs-working > summary").first.click()
    assert page.locator("details.bs-wanted").count() == 1  # set by our script
    assert page.evaluate("window.bsBroken") == []


@pytest.mark.browser
def test_search_works_on_pages_opened_from_the_disk(tmp_path: Path, page: Page) -> None:
    club = Project(tmp_path)
    club.write("mkdocs.yml", CONFIG.replace("plugins: [search,", "plugins: [search, offline,"))
    club.build()
    page.goto((club.site / "index.html").as_uri())
    page.click("[data-md-component=search-query]")
    page.keyboard.type("quillwort")
    page.wait_for_selector(".md-search-result__link")
    assert page.evaluate("window.bsBroken") == []


@pytest.mark.browser
def test_a_script_of_a_page_written_by_hand_does_not_run(address: str, page: Page) -> None:
    page.goto(f"{address}/by-hand/index.html", wait_until="networkidle")
    assert page.evaluate("window.bsHit") is None
    assert {rule.split()[0] for rule in page.evaluate("window.bsBroken")} == {"script-src-elem", "script-src-attr"}


@pytest.mark.browser
def test_a_script_slipped_into_a_sheet_does_not_run(club: Project, address: str, page: Page) -> None:
    sheet = club.site / "builds/harbour-tank/index.html"
    text = sheet.read_text(encoding="utf-8")
    other = sheet.with_name("slipped.html")
    other.write_text(text.replace('<section class="bs-section', SLIPPED + '<section class="bs-section', 1), encoding="utf-8", newline="\n")
    page.goto(f"{address}/builds/harbour-tank/slipped.html", wait_until="networkidle")
    assert page.evaluate("window.bsHit") is None
    assert len(page.evaluate("window.bsBroken")) == 2
    other.unlink()


def test_only_named_scripts_get_leave() -> None:
    page = guarded("<html><head></head><body><script>ours()</script><script>theirs()</script></body></html>", ["ours()"])
    assert page is not None
    # by openssl: printf 'ours()' | openssl dgst -sha256 -binary | base64
    assert "script-src 'self' 'sha256-6Mlk+XjE57h/a6BK8UFDhIqhWicH5NYtbW9Bd0Z0HiI=';" in page


@pytest.mark.parametrize("block", [
    '<script type="application/json">{}</script>', "<script type='application/ld+json'>{}</script>", "<script async src=a.js></script>",
])  # fmt: skip
def test_data_and_files_need_no_leave(block: str) -> None:
    assert inline_scripts(block) == []


def test_a_page_without_a_head_is_told() -> None:
    assert guarded("<p>nothing</p>", []) is None
