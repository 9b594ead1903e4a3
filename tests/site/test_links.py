"""Every address that a page names leads to a file of the site and to an id on it, whatever the style of addresses."""

from __future__ import annotations

import json
from pathlib import Path
from posixpath import normpath
from urllib.parse import urljoin, urlsplit

import pytest
from club import Project  # type: ignore[import-not-found]
from crawl import Addresses, lost, read  # type: ignore[import-not-found]
from demo import Demo  # type: ignore[import-not-found]
from lxml import etree
from PIL import Image

SITE_URL = "https://club.example/line/"
EDIT = "https://host.example/club/edit/main/docs/"
SCHEMA = Path(__file__).with_name("sitemap.xsd")
SITEMAP = "{http://www.sitemaps.org/schemas/sitemap/0.9}"
def configured(project: Project, directory_urls: bool, site_url: str, more: str = "") -> None:
    project.configure(directory_urls)
    config = (project.folder / "mkdocs.yml").read_text(encoding="utf-8")
    project.write("mkdocs.yml", config + (f"site_url: {site_url}\n" if site_url else "") + more)


STYLES = pytest.mark.parametrize("directory_urls", [True, False], ids=["folders", "files"])
PLACES = pytest.mark.parametrize("site_url", [SITE_URL, ""], ids=["address", "no address"])


@STYLES
@PLACES
def test_every_address_leads_somewhere(project: Project, directory_urls: bool, site_url: str) -> None:
    configured(project, directory_urls, site_url)
    project.write("builds/coal-tank.yml", "format: 1\ntitle: Coal tank\nstatus: runing\n")
    project.build()
    read.cache_clear()
    assert list(lost(project.site, site_url)) == []
    assert len(list(project.site.rglob("*.html"))) > 8


def test_every_address_of_the_demo_leads_somewhere(tmp_path: Path) -> None:
    demo = Demo(tmp_path)
    demo.build(strict=True)
    read.cache_clear()
    pages = list(demo.site.rglob("*.html"))
    assert list(lost(demo.site, "https://saltmarsh-light-railway.example/")) == []
    assert sum(len(read(page).found) for page in pages) > 40 * len(pages)


def test_the_crawl_sees_what_leads_nowhere(tmp_path: Path) -> None:
    (tmp_path / "a.html").write_text('<a href="b.html">x</a><a href="#c">x</a><img src="/line/d.png"><label for="e">x</label>', encoding="utf-8")
    read.cache_clear()
    assert [line.rpartition(": ")[2] for line in lost(tmp_path, SITE_URL)] == ["id e", "b.html", "#c", "/line/d.png"]


@STYLES
def test_old_addresses_square_codes_and_edit_links(project: Project, directory_urls: bool) -> None:
    configured(project, directory_urls, SITE_URL, f"edit_uri: {EDIT}\n")
    config = (project.folder / "mkdocs.yml").read_text(encoding="utf-8")
    project.write("mkdocs.yml", config.replace("font: false}", "font: false, features: [content.action.edit]}"))
    project.build()
    place = "builds/harbour-tank/" + ("" if directory_urls else "index.html")
    old = Addresses(project.site / "builds/old-tank/index.html")
    assert urljoin(SITE_URL + "builds/old-tank/", old.found[0]) == SITE_URL + "builds/harbour-tank/index.html"
    for name in ("index.html", "short.html"):  # the address beside the square code is what the code says (tests/site/test_print.py reads it)
        assert f'<span class="bs-address">{SITE_URL}{place}</span>' in (project.site / "builds/harbour-tank" / name).read_text(encoding="utf-8")
    short = Addresses(project.site / "builds/harbour-tank/short.html")
    assert [link["href"] for link in short.links if link["rel"] == "canonical"] == [SITE_URL + place]  # the whole sheet stands for both
    edited = [link for link in Addresses(project.site / "builds/harbour-tank/index.html").found if link.startswith("https://host.example/")]
    assert {normpath(urlsplit(link).path) for link in edited} == {"/club/edit/main/builds/harbour-tank.yml"}


@STYLES
def test_a_page_says_what_it_is(project: Project, directory_urls: bool) -> None:
    """Open Graph (ogp.me): the four required properties, a picture that is there and has words, absolute addresses."""
    configured(project, directory_urls, SITE_URL)
    project.build()
    pages = sorted((project.site / "builds").rglob("index.html"))
    ours = [page for page in pages if page.parent.name != "old-tank"]
    assert len(ours) >= 7
    titles = set()
    for page in ours:
        parsed = Addresses(page)
        metas = parsed.metas
        canonical = next(link["href"] for link in parsed.links if link.get("rel") == "canonical")
        assert metas["og:url"] == canonical
        assert metas["og:type"] == ("website" if page.parent.name == "builds" else "article")
        assert metas["description"] == metas["og:description"] != ""
        assert metas["og:image:alt"]
        picture = project.site / metas["og:image"].removeprefix(SITE_URL)
        with Image.open(picture) as drawn:
            assert drawn.size == (int(metas["og:image:width"]), int(metas["og:image:height"])) == (1200, 630)
        assert picture.parent == (page.parent if (page.parent / "figures.json").exists() else project.site / "builds")
        titles.add(metas["og:title"])
    assert len(titles) == len(ours)
    assert 'Harbour branch <0-6-2> tank & "tender"' in titles


@STYLES
def test_every_page_leads_to_the_feeds(project: Project, directory_urls: bool) -> None:
    configured(project, directory_urls, SITE_URL)
    project.build()
    for page in project.site.rglob("index.html"):
        links = [link for link in Addresses(page).links if "alternate" in link.get("rel", "").split()]
        if page.parent.name == "old-tank":
            continue
        assert [link["type"] for link in links] == ["application/atom+xml", "application/feed+json"], page
        places = [(page.parent / link["href"]).resolve() for link in links]
        assert places == [project.site / "builds/feed.xml", project.site / "builds/feed.json"]
        # the theme's script would ask for a sitemap beside each of them (it looks for this very word and no other)
        assert all(link["rel"] != "alternate" for link in links)
    for item in json.loads((project.site / "builds/feed.json").read_text(encoding="utf-8"))["items"]:
        assert (project.site / item["image"].removeprefix(SITE_URL)).is_file()


def test_without_an_address_there_is_nothing_to_pass_on(project: Project) -> None:
    project.build()
    assert list(project.site.rglob("preview.png")) == []
    assert list(project.site.rglob("feed.*")) == []
    for page in project.site.rglob("*.html"):
        text = page.read_text(encoding="utf-8")
        assert 'property="og:' not in text
        assert "feed.xml" not in text


@STYLES
def test_the_sitemap_is_valid_and_knows_when_a_sheet_changed(project: Project, directory_urls: bool) -> None:
    configured(project, directory_urls, SITE_URL)
    tank = (project.builds / "harbour-tank.yml").read_text(encoding="utf-8")
    project.write("builds/harbour-tank.yml", tank.replace("formerly:", "dates: {started: 2024-01-02, finished: 2024-03-04}\nformerly:"))
    project.build()
    sitemap = etree.parse(project.site / "sitemap.xml")
    schema = etree.XMLSchema(etree.parse(SCHEMA))
    assert schema.validate(sitemap), schema.error_log
    days = {url.findtext(f"{SITEMAP}loc"): url.findtext(f"{SITEMAP}lastmod") for url in sitemap.getroot()}
    ending = "" if directory_urls else "index.html"
    assert days[f"{SITE_URL}builds/harbour-tank/{ending}"] == "2024-03-04"
    assert days[f"{SITE_URL}builds/quarry-shunter/{ending}"] != "2024-03-04"
    wrong = etree.fromstring(etree.tostring(sitemap).replace(b"2024-03-04", b"4 March 2024"))
    assert not schema.validate(wrong)
