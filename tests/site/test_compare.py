"""Builds side by side and the shopping list of any set, in a real browser: from the disk, under a strict policy, without script."""

from __future__ import annotations

import csv
from collections.abc import Iterator
from copy import deepcopy
from io import BytesIO, StringIO
from pathlib import Path

import pytest
from club import serve  # type: ignore[import-not-found]
from playwright.sync_api import Browser, Page
from pypdf import PdfReader
from sample import empty_figures, sample_figures  # type: ignore[import-not-found]

from buildsheets.assets import CHOSEN_SCRIPTS, LIBRARY_SCRIPT, LIBRARY_STYLE, STYLE, THEME
from buildsheets.library.beside import FILE, ROWS, beside, comparison
from buildsheets.library.index import render_index
from buildsheets.library.render import render_compare, render_shopping
from buildsheets.library.shopping import resistor_groups, shopping_csv, shopping_list, totals
from buildsheets.numerals import money
from buildsheets.pages import STILL_TO_BUY

pytestmark = pytest.mark.browser

RUNS = '<img src=x onerror="document.title=\'ran\'">'
POLICY = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'"


def part(name: str, quantity: int, price: float | None, stock: str | None = None, ohms: float | None = None):
    return {
        "quantity": quantity, "name": name, "stock": stock, "used_for": "", "unit_price": price, "line_price": None,
        "resistance_ohm": ohms, "rating_w": 0.5 if ohms else None, "series": "E6" if ohms == 47 else "E24" if ohms else None,
    }  # fmt: skip


def library():
    """Six builds: of some the speeds are known, of one nothing is; one has a name that would like to run."""
    builds = []
    for number, (slug, title) in enumerate([
        ("anchor", "Anchor tank"), ("bollard", "Bollard goods with a name too long for the end of a line"), ("capstan", RUNS),
        ("davit", "Davit diesel"), ("eyot", "Eyot railcar"),
    ]):  # fmt: skip
        figures = deepcopy(sample_figures())
        figures.update(slug=slug, title=title)
        figures["head"].update(status="planned" if number < 2 else "running", prototype_top_mph=55.0 if number < 3 else 70.0)
        figures["speed"].update(
            top_scale_mph=60.0 + number, top_scale_mph_band=[50.0 + number, 70.0 + number],
            scale_mph=[(0.8 + 0.1 * number) * (mph or 0.0) for mph in figures["speed"]["scale_mph"]],
        )  # fmt: skip
        figures["cost"]["currency"] = "EUR" if number == 3 else "GBP"
        figures["parts"] = [
            part("resistor 47 ohm", number + 1, 0.1, "r-47", 47.0),
            part("resistor 51 ohm", 1, 0.12, "r-51", 51.0),
            part('tape, "wide"', 1, None),
            part("=HYPERLINK(1)", 1, 1.005),
        ]
        builds.append(figures)
    bare = empty_figures()
    bare["slug"], bare["title"] = "gantry", "Gantry shunter"
    return [*builds, bare]


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    home = tmp_path_factory.mktemp("beside")
    for name in (STYLE, LIBRARY_STYLE, LIBRARY_SCRIPT, *CHOSEN_SCRIPTS):
        place = home / name
        place.parent.mkdir(parents=True, exist_ok=True)
        place.write_bytes((THEME / name).read_bytes())
    builds = library()
    for figures in builds:
        write(home / "builds" / figures["slug"] / FILE, beside(figures).decode("ascii"))
    bodies = {
        "compare": render_compare(builds, "../{slug}/index.html", "../../assets/buildsheets/"),
        "shopping": render_shopping(builds, STILL_TO_BUY, "../{slug}/index.html", "../../assets/buildsheets/"),
        "": render_index(builds, data_path="") + f'<script src="../{LIBRARY_SCRIPT}"></script>',
    }
    for place, body in bodies.items():
        up = "../../" if place else "../"
        head = f'<meta name="viewport" content="width=device-width, initial-scale=1"><link rel="stylesheet" href="{up}{STYLE}">'
        head += f'<link rel="stylesheet" href="{up}{LIBRARY_STYLE}"><title>x</title>'
        page = f'<!doctype html><html lang="en"><meta charset="utf-8">{head}{body}'
        write(home / "builds" / place / "index.html", page)
        policy = f'<meta http-equiv="Content-Security-Policy" content="{POLICY}">'
        write(home / "builds" / place / "strict.html", page.replace(head, policy + head))
    return home


def write(path: Path, text: str) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, encoding="utf-8", newline="\n")


@pytest.fixture
def page(browser: Browser) -> Iterator[Page]:
    page = browser.new_page(viewport={"width": 1000, "height": 900})
    faults: list[str] = []
    page.on("pageerror", lambda error: faults.append(str(error)))
    page.on("console", lambda message: faults.append(message.text) if message.type == "error" and "favicon" not in message.location["url"] else None)
    yield page
    page.close()
    assert faults == []


def at(folder: Path, place: str, query: str = "") -> str:
    return (folder / "builds" / place / "index.html").as_uri() + query


def titles(page: Page) -> list[str]:
    """Heads of the table, once it has come to rest."""
    page.wait_for_selector("[data-bs-page]:not([aria-busy])")
    return page.locator("[data-bs-compare] thead a").all_inner_texts()


def row(page: Page, key: str) -> list[str]:
    return page.locator(f"[data-bs-row={key}] td").all_inner_texts()


# Side by side


def test_choosing_by_search_and_click_fills_table_chart_and_address(page, folder):
    page.goto(at(folder, "compare"))
    assert page.locator("[data-bs-result]").is_hidden()
    assert page.locator("[data-bs-few]").is_visible()
    page.fill("[name=words]", "anchor")
    assert page.locator(".bs-match").count() == 1
    page.click(".bs-match")
    page.fill("[name=words]", "davit")
    page.click(".bs-match")
    assert titles(page) == ["Anchor tank", "Davit diesel"]
    assert page.url.endswith("?with=anchor,davit")
    known = {figures["slug"]: comparison(figures) for figures in library()}
    for key, _ in ROWS:
        assert row(page, key) == [known["anchor"][key][0], known["davit"][key][0]], key
    lines = page.locator(".bs-overlay__line")
    assert lines.count() == 2
    assert len({line.evaluate("e => getComputedStyle(e).strokeDasharray") for line in lines.all()}) == 2
    assert len({line.evaluate("e => getComputedStyle(e).stroke") for line in lines.all()}) == 2
    words = page.locator(".bs-overlay").text_content()
    assert all(part in words for part in ("A  Anchor tank", "B  Davit diesel", "prototype of A: 55", "prototype of B: 70", "96", "Speed step"))


def test_the_address_brings_it_back_in_its_order(page, folder):
    page.goto(at(folder, "compare", "?with=eyot,anchor,bollard"))
    assert titles(page) == ["Eyot railcar", "Anchor tank", "Bollard goods with a name too long for the end of a line"]
    before = page.locator("[data-bs-compare]").inner_text()
    page.reload()
    assert titles(page)[0] == "Eyot railcar"
    assert page.locator("[data-bs-compare]").inner_text() == before


def test_keyboard_alone_chooses_and_takes_out(page, folder):
    page.goto(at(folder, "compare"))
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.name") == "words"
    page.keyboard.type("eyot")
    page.keyboard.press("Enter")
    page.keyboard.type("diesel")
    page.keyboard.press("ArrowDown")
    page.keyboard.press("Enter")
    assert titles(page) == ["Eyot railcar", "Davit diesel"]
    page.get_by_role("button", name="Take out Eyot railcar").focus()
    page.keyboard.press("Enter")
    page.keyboard.press("Enter")  # the next one has the focus now
    page.wait_for_selector("[data-bs-page]:not([aria-busy])")
    assert "with=" not in page.url
    assert page.evaluate("document.activeElement.name") == "words"
    assert page.locator("[data-bs-few]").is_visible()


def test_strangers_and_too_many_are_told(page, folder):
    page.goto(at(folder, "compare", "?with=anchor,nobody,__proto__,constructor,bollard,capstan,davit,eyot"))
    assert len(titles(page)) == 4
    said = page.locator("[data-bs-unknown]").inner_text()
    assert all(f"No build is called “{name}”." in said for name in ("nobody", "__proto__", "constructor"))
    assert "There is no more room for Eyot railcar." in said
    assert page.locator("[name=words]").is_disabled()


def test_data_that_cannot_be_read_are_told(browser, folder, tmp_path):
    page = browser.new_page()
    page.route("**/davit/beside.js", lambda route: route.abort())
    with serve(folder) as address:
        page.goto(f"{address}/builds/compare/index.html?with=anchor,davit,eyot")
        assert titles(page) == ["Anchor tank", "Eyot railcar"]
        assert "The data of Davit diesel could not be read." in page.locator("[data-bs-unknown]").inner_text()
    page.close()


def test_words_of_records_do_not_run(page, folder):
    page.goto(at(folder, "compare", "?with=capstan,anchor&x=%3Cscript%3E"))
    assert RUNS in titles(page)
    page.goto(at(folder, "shopping", "?with=capstan"))
    page.wait_for_selector("[data-bs-page]:not([aria-busy])")
    assert RUNS in page.locator("[data-bs-lead]").inner_text()
    assert page.locator("main img, .bs-beside img").count() == 0
    assert page.title() == "x"


def test_differences_within_the_bands_are_none(page, folder):
    page.goto(at(folder, "compare", "?with=anchor,davit"))
    titles(page)
    assert row(page, "top")[0] != row(page, "top")[1]  # 50 to 70 and 53 to 73 mph: the bands lie over each other
    differs = {key: page.locator(f"[data-bs-row={key}] .bs-differs").is_visible() for key in ("top", "prototype", "scale", "cost")}
    assert differs == {"top": False, "prototype": True, "scale": False, "cost": True}
    page.check("[data-bs-only]")
    assert not page.locator("[data-bs-row=scale]").is_visible()
    assert page.locator("[data-bs-row=prototype]").is_visible()


def test_a_build_of_which_nothing_is_known_stands_beside_others(page, folder):
    page.goto(at(folder, "compare", "?with=gantry,anchor"))
    assert titles(page) == ["Gantry shunter", "Anchor tank"]
    assert row(page, "top")[0] == "not known"
    assert page.locator(".bs-overlay__line").count() == 1


def test_without_script_it_says_what_it_needs_and_links_every_sheet(browser, folder):
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    for place, needs in (("compare", "needs a browser that runs scripts"), ("shopping", "A list for other builds needs")):
        page.goto(at(folder, place, "?with=anchor,davit"))
        assert needs in page.locator("body").inner_text()
        links = page.locator("[data-bs-builds] a")
        assert {link.get_attribute("href") for link in links.all()} == {f"../{figures['slug']}/index.html" for figures in library()}
        assert page.locator("input:visible, button:visible").count() == 0
    assert page.locator("[data-bs-lines] tbody tr").count() == 4  # of both planned builds
    context.close()


def test_a_strict_policy_lets_it_work(page, folder):
    with serve(folder) as address:
        for start in (address, folder.as_uri()):
            page.goto(f"{start}/builds/compare/strict.html?with=anchor,davit")
            assert titles(page) == ["Anchor tank", "Davit diesel"]
            assert page.locator(".bs-overlay__line").count() == 2
            page.goto(f"{start}/builds/shopping/strict.html?with=anchor")
            page.wait_for_selector("[data-bs-page]:not([aria-busy])")
            assert page.locator("[data-bs-lines] tbody tr").count() == 4


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_four_builds_print_on_one_page(page, folder, paper):
    page.goto(at(folder, "compare", "?with=anchor,bollard,davit,eyot"))
    assert len(titles(page)) == 4
    printed = PdfReader(BytesIO(page.pdf(format=paper)))
    assert len(printed.pages) == 1
    text = printed.pages[0].extract_text()
    assert "Anchor tank" in text
    assert "Add a build" not in text
    assert "Speed step" in text


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_a_phone_scrolls_down_only(browser, folder, scheme):
    page = browser.new_page(viewport={"width": 390, "height": 800}, color_scheme=scheme)
    for place in ("compare", "shopping"):
        page.goto(at(folder, place, "?with=anchor,bollard,davit,eyot"))
        page.wait_for_selector("[data-bs-page]:not([aria-busy])")
        assert page.evaluate("document.documentElement.scrollWidth") <= 390
    page.close()


# From the list


def test_boxes_of_the_list_lead_to_the_comparison_and_stay_in_the_address(page, folder):
    page.goto(at(folder, ""))
    assert page.locator(".bs-picked").is_hidden()
    page.fill("[name=words]", "tank")
    page.get_by_role("checkbox", name="Choose Anchor tank").check()
    page.fill("[name=words]", "")
    assert page.get_by_role("link", name="Compare the chosen").count() == 0  # one alone
    page.get_by_role("button", name="Locomotive").click()
    page.get_by_role("checkbox", name="Choose Davit diesel").check()
    assert "with=anchor,davit" in page.url
    assert "order=0" in page.url
    page.reload()
    assert page.get_by_role("checkbox", name="Choose Davit diesel").is_checked()
    page.get_by_role("link", name="Compare the chosen").click()
    assert titles(page) == ["Anchor tank", "Davit diesel"]
    page.go_back()
    page.get_by_role("checkbox", name="Choose Davit diesel").uncheck()
    page.get_by_role("link", name="Shopping list of the chosen").click()
    page.wait_for_selector("[data-bs-page=shopping]:not([aria-busy])")
    assert page.locator("[data-bs-lead]").inner_text() == "Parts for Anchor tank."


def test_a_box_does_not_spoil_the_order_by_name(page, folder):
    page.goto(at(folder, ""))
    page.get_by_role("button", name="Locomotive").click()
    names = page.locator(".bs-index__title").all_inner_texts()
    assert [name for name in names if name != RUNS] == sorted(name for name in names if name != RUNS)


# Shopping list


@pytest.mark.parametrize("chosen", [["anchor"], ["eyot", "anchor", "bollard"], ["anchor", "bollard", "capstan", "davit", "eyot"]])
def test_the_browser_sums_as_the_program_does(page, folder, chosen):
    # the other road: the Python that writes the files of the library
    wanted = shopping_list([figures for slug in chosen for figures in library() if figures["slug"] == slug])
    page.goto(at(folder, "shopping", f"?with={','.join(chosen)}"))
    page.wait_for_selector("[data-bs-page]:not([aria-busy])")
    with page.expect_download() as download:
        page.click("[data-bs-csv]")
    assert download.value.suggested_filename == "shopping.csv"
    got = list(csv.reader(StringIO(download.value.path().read_text(encoding="utf-8"))))
    want = list(csv.reader(StringIO(shopping_csv(wanted).decode())))
    assert [plain(line) for line in got] == [plain(line) for line in want]
    assert any(line[0] == "'=HYPERLINK(1)" for line in got)
    assert page.locator("[data-bs-lines] tbody th").all_inner_texts() == [line.name for line in wanted]
    assert page.locator("[data-bs-totals] li").all_inner_texts() == [money(total.price, total.currency) for total in totals(wanted)]
    drawers = page.locator("[data-bs-resistors] li").all_inner_texts()
    groups = resistor_groups(wanted)
    assert len(drawers) == len(groups) == 2
    for drawer, group in zip(drawers, groups, strict=True):
        assert drawer.startswith(f"{group.series}, 0.50")
        assert [int(text.split("×")[0]) for text in drawer.partition(": ")[2].split(", ")] == [count for _, count in group.values]


def plain(line: list[str]) -> list[object]:
    """Numbers as numbers: one of the two writes 2, the other 2.0."""
    return [float(cell) if cell.replace(".", "", 1).isdigit() else cell for cell in line]


def test_taking_all_out_brings_back_the_planned_ones(page, folder):
    page.goto(at(folder, "shopping"))
    page.wait_for_selector("[data-bs-page]:not([aria-busy])")
    planned = page.locator("[data-bs-lines]").inner_text()
    assert "Bollard" in planned
    page.fill("[name=words]", "eyot")
    page.keyboard.press("Enter")
    page.wait_for_selector("text=Parts for Eyot railcar.")
    assert "Bollard" not in page.locator("[data-bs-lines]").inner_text()
    page.get_by_role("button", name="Take out Eyot railcar").click()
    page.wait_for_selector("text=Parts of all planned builds")
    assert page.locator("[data-bs-lines]").inner_text() == planned
    assert page.locator("[data-bs-csv]").get_attribute("href") == "../shopping.csv"
