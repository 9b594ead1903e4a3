"""A real build with the real theme."""

from __future__ import annotations

import json
from html.parser import HTMLParser
from pathlib import Path
from posixpath import normpath
from typing import Any
from urllib.parse import unquote, urlsplit

import pytest
from club import BROKEN, Project  # type: ignore[import-not-found]
from mkdocs.exceptions import Abort


class Links(HTMLParser):
    """Addresses a page points at, and the ids it has."""

    def __init__(self, path: Path) -> None:
        super().__init__()
        self.found: list[str] = []
        self.ids: list[str] = []
        self.feed(path.read_text(encoding="utf-8"))

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        for name, value in attrs:
            if name in ("href", "src") and value:
                self.found.append(value)
            if name == "id" and value:
                self.ids.append(value)


def target(page: Path, address: str, site: Path) -> Path:
    path = unquote(urlsplit(address).path)
    place = (site / path.lstrip("/") if path.startswith("/") else page.parent / path).resolve() if path else page
    return place / "index.html" if place.is_dir() else place


def dead_links(site: Path) -> list[str]:
    dead = []
    for page in site.rglob("*.html"):
        for address in Links(page).found:
            parts = urlsplit(address)
            if parts.scheme or parts.netloc or page.name == "404.html":
                continue
            place = target(page, address, site)
            lost = not place.exists() or (
                parts.fragment and place.suffix == ".html" and unquote(parts.fragment) not in Links(place).ids
            )
            if lost and parts.fragment != "__skip":
                dead.append(f"{page.relative_to(site)} -> {address}")
    return dead


@pytest.mark.parametrize("directory_urls", [True, False])
def test_addresses_do_not_depend_on_the_url_style(project: Project, directory_urls: bool) -> None:
    project.configure(directory_urls)
    assert project.build(strict=True) == []
    for name in ("index.html", "figures.json", "speed.csv"):
        assert (project.site / "builds/harbour-tank" / name).is_file(), name
    assert (project.site / "builds/old-tank/index.html").is_file()
    assert dead_links(project.site) == []


def test_figures_beside_the_page_are_those_of_the_record(built: Project) -> None:
    figures = json.loads((built.site / "builds/harbour-tank/figures.json").read_text(encoding="utf-8"))
    assert figures["slug"] == "harbour-tank"
    assert figures["gearing"]["ratio"] == pytest.approx(38 / 11 * 24, rel=1e-6)  # computed by hand
    assert len(figures["speed"]["step"]) == 126


def test_a_title_is_text_and_never_markup(built: Project) -> None:
    page = (built.site / "builds/harbour-tank/index.html").read_text(encoding="utf-8")
    assert "<0-6-2>" not in page
    assert "<title>Harbour branch &lt;0-6-2&gt; tank &amp; &quot;tender&quot;" in page


def test_body_is_on_the_page_and_the_mark_is_gone(built: Project) -> None:
    page = (built.site / "builds/harbour-tank/index.html").read_text(encoding="utf-8")
    assert "<!--sheet-body-->" not in page
    assert page.count("<svg") > 1
    assert len(Links(built.site / "builds/harbour-tank/index.html").ids) == len(
        set(Links(built.site / "builds/harbour-tank/index.html").ids)
    )


def test_search_has_the_words_and_none_of_the_drawings(built: Project) -> None:
    index = json.loads((built.site / "search/search_index.json").read_text(encoding="utf-8"))
    sheet = [entry for entry in index["docs"] if entry["location"].startswith("builds/harbour-tank/")]
    assert any("quillwort" in entry["text"] for entry in sheet)
    assert sum(len(entry["text"]) for entry in sheet) < 20_000


def test_every_search_entry_leads_to_a_place_on_its_page(built: Project) -> None:
    index = json.loads((built.site / "search/search_index.json").read_text(encoding="utf-8"))
    for entry in index["docs"]:
        path, _, fragment = entry["location"].partition("#")
        page = target(built.site / "index.html", path or "index.html", built.site)
        assert not fragment or fragment in Links(page).ids, entry["location"]


def test_a_forwarding_page_leads_to_the_sheet(built: Project) -> None:
    old = built.site / "builds/old-tank/index.html"
    assert target(old, Links(old).found[0], built.site) == (built.site / "builds/harbour-tank/index.html").resolve()


def test_the_published_schema_takes_the_records(built: Project) -> None:
    import yaml
    from jsonschema import Draft202012Validator

    schema = json.loads((built.site / "schema/record.json").read_text(encoding="utf-8"))
    Draft202012Validator.check_schema(schema)
    record = yaml.load((built.builds / "harbour-tank.yml").read_text(encoding="utf-8"), yaml.SafeLoader)
    assert list(Draft202012Validator(schema).iter_errors(record)) == []


def test_a_broken_record_gets_a_page_and_stops_no_other(project: Project) -> None:
    project.write("builds/coal-tank.yml", BROKEN)
    warnings = project.build()
    assert [line for line in warnings if "coal-tank.yml:3:" in line]
    broken = (project.site / "builds/coal-tank/index.html").read_text(encoding="utf-8")
    assert "runing" in broken
    assert "coal-tank.yml:3:" in broken
    assert (project.site / "builds/harbour-tank/figures.json").is_file()
    assert not (project.site / "builds/coal-tank/figures.json").exists()
    assert dead_links(project.site) == []


def _fail_on(monkeypatch: pytest.MonkeyPatch, slug: str) -> None:
    from buildsheets import finishing

    whole = finishing.work_out

    def work_out(build: Any, options: Any = None) -> Any:
        if build.slug == slug:
            raise ZeroDivisionError("float division by zero")
        return whole(build, options)

    monkeypatch.setattr(finishing, "work_out", work_out)


def test_a_fault_in_the_calculation_costs_one_sheet_and_one_warning(
    project: Project, monkeypatch: pytest.MonkeyPatch
) -> None:
    _fail_on(monkeypatch, "harbour-tank")
    config = (project.folder / "mkdocs.yml").read_text(encoding="utf-8")
    project.write("mkdocs.yml", config.replace("buildsheets]", "{buildsheets: {cache: false}}]"))
    warnings = project.build()
    assert len(warnings) == 1
    assert "harbour-tank.yml:1:1: the calculation broke off with ZeroDivisionError (float division by zero) at test_build.py:" in warnings[0]
    page = (project.site / "builds/harbour-tank/index.html").read_text(encoding="utf-8")
    assert "ZeroDivisionError" in page
    assert "Traceback" not in page
    assert not (project.site / "builds/harbour-tank/figures.json").exists()
    assert (project.site / "builds/quarry-shunter/figures.json").is_file()
    assert (project.site / "builds/old-tank/index.html").is_file()
    with pytest.raises(Abort):
        project.build(strict=True)


def test_pages_without_the_generator_name_the_fault_too(project: Project, monkeypatch: pytest.MonkeyPatch) -> None:
    from buildsheets.pages import write_pages
    from buildsheets.records.library import load_library
    from buildsheets.settings import Settings

    _fail_on(monkeypatch, "quarry-shunter")
    library = load_library(project.builds)
    write_pages(library, Settings(), project.folder / "out")
    assert ["ZeroDivisionError" in problem.message for problem in library.problems] == [True]
    assert "ZeroDivisionError" in (project.folder / "out/quarry-shunter/index.md").read_text(encoding="utf-8")
    assert (project.folder / "out/harbour-tank/figures.json").is_file()


def test_strict_fails_on_a_problem(project: Project) -> None:
    project.write("builds/coal-tank.yml", BROKEN)
    with pytest.raises(Abort):
        project.build(strict=True)


def test_a_wrong_run_length_is_one_clear_line(project: Project, caplog: pytest.LogCaptureFixture) -> None:
    config = (project.folder / "mkdocs.yml").read_text(encoding="utf-8")
    project.write("mkdocs.yml", config.replace("buildsheets]", "{buildsheets: {run_length: 3 volts}}]"))
    with pytest.raises(Abort):
        project.build()
    assert [record.getMessage() for record in caplog.records if "run_length" in record.getMessage()]


def test_nothing_points_to_another_server(built: Project) -> None:
    # what is only a link to follow may name one; what the browser fetches by itself may not
    for page in built.site.rglob("*.html"):
        text = page.read_text(encoding="utf-8")
        assert 'src="http' not in text
        assert 'src="//' not in text
        assert "url(http" not in text


def test_field_reference_lists_every_key(built: Project) -> None:
    from buildsheets.records.models import Record

    page = next(path for path in (built.site / "field-reference").rglob("*.html")).read_text(encoding="utf-8")
    assert [name for name in Record.model_fields if f"<code>{name}</code>" not in page] == []


def edit_links(page: Path) -> list[str]:
    """Addresses to edit a page's file at, as a browser asks for them: without dots (RFC 3986, 5.2.4)."""
    found = [urlsplit(link) for link in Links(page).found if "/edit/" in link]
    return [parts._replace(path=normpath(parts.path)).geturl() for parts in found]


@pytest.mark.parametrize("folder", ["builds", "records/of the club"])
def test_a_sheet_leads_to_its_record_where_the_club_says_how(project: Project, folder: str) -> None:
    project.write("builds/Coal tank 50%.yml", BROKEN)
    (project.folder / folder).parent.mkdir(exist_ok=True)
    project.builds.rename(project.folder / folder)
    config = (project.folder / "mkdocs.yml").read_text(encoding="utf-8")
    config = config.replace("font: false}", "font: false, features: [content.action.edit]}").replace(
        "buildsheets]", f"{{buildsheets: {{builds: {folder}}}}}]"
    )
    project.write("mkdocs.yml", config + "edit_uri: https://host.example/club/library/edit/main/docs/\n")
    project.build()
    top = "https://host.example/club/library/edit/main/"
    there = top + folder.replace(" ", "%20")
    assert edit_links(project.site / "builds/harbour-tank/index.html") == [f"{there}/harbour-tank.yml"]
    # who sees that a record is broken wants to get at it most of all
    assert edit_links(project.site / "builds/Coal tank 50%/index.html") == [f"{there}/Coal%20tank%2050%25.yml"]
    assert edit_links(project.site / "index.html") == [f"{top}docs/index.md"]
    assert edit_links(project.site / "builds/index.html") == [], "a generated page has no file to edit"


def test_without_an_address_for_it_no_sheet_has_such_a_link(built: Project) -> None:
    assert edit_links(built.site / "builds/harbour-tank/index.html") == []
