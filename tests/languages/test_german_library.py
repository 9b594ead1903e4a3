"""What stands around the sheets of a German club is German too: lists, parts, pictures, descriptions, feeds, pages at old addresses."""

from __future__ import annotations

import json
import re
import shutil
from collections.abc import Iterator
from html import unescape
from html.parser import HTMLParser
from io import BytesIO
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import numpy as np
import pytest
import yaml
from PIL import Image, ImageFont
from sample import empty_figures, sample_figures  # type: ignore[import-not-found]

from buildsheets.cache import Cache
from buildsheets.edition import Edition, Layout, keep, recalled
from buildsheets.figures.format import Figures
from buildsheets.languages import ENGLISH
from buildsheets.languages.catalogue import HOME, language_file, read_language
from buildsheets.library.beside import FILE as SCRIPT
from buildsheets.library.feed import ATOM
from buildsheets.library.part_words import role_told
from buildsheets.library.preview import library_preview, library_preview_words
from buildsheets.pages import library_files, make_edition, write_pages
from buildsheets.records.files import prints_of
from buildsheets.records.library import load_library
from buildsheets.settings import Settings
from buildsheets.sheet import SheetOptions
from buildsheets.sheet.preview import CHART, FILE, ROWS, preview, preview_words
from buildsheets.workbook import Workbook

BUILDS = Path(__file__).parents[2] / "builds"
GERMAN = read_language(language_file("de", HOME))
ADDRESS = "https://club.example/builds/{slug}/"
BROKEN_TITLE = "Kaputt"
BROKEN = f"format: 1\ntitle: {BROKEN_TITLE}\nstatus: nirgends\n"
WORD = re.compile(r"[^\W\d_]{2,}")
SIGNS = {"km", "html", "mm", "cm", "mA", "mH", "kHz", "Hz", "rpm", "ohm", "deg", "degC"}
"""Of units, as records write them, and addresses: no words."""
XML_LANGUAGE = "{http://www.w3.org/XML/1998/namespace}lang"  # XML 1.0, section 2.12


@pytest.fixture(scope="module")
def builds(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Records of every kind: one with readings and a former name, one with nothing to draw, one that is broken."""
    folder = tmp_path_factory.mktemp("club") / "builds"
    folder.mkdir()
    for name in ("harbour-tank", "reedbed-diesel", "ferry-railbus"):
        shutil.copy(BUILDS / f"{name}.yml", folder)
    for name in ("stock", "pictures"):
        shutil.copytree(BUILDS / name, folder / name)
    (folder / "broken.yml").write_text(BROKEN, encoding="utf-8", newline="\n")
    return folder


def settings(code: str, club: str = "") -> Settings:
    language = GERMAN if code == "de" else ENGLISH
    return Settings(sheet=SheetOptions(club=club, language=language, speed_unit="km/h", address=ADDRESS))


@pytest.fixture(scope="module")
def editions(builds: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Edition]:
    cache = Cache(tmp_path_factory.mktemp("cache"))
    return {code: make_edition(builds, prints_of(builds), settings(code), Workbook(cache), Layout()) for code in ("en", "de")}


def words(text: str) -> set[str]:
    return set(WORD.findall(text))


SPOKEN = {word for text in (*GERMAN.messages.values(), *(form for forms in GERMAN.plurals.values() for form in forms)) for word in words(text)}
"""Every word that the German catalogue prints."""


def own_words(edition: Edition) -> set[str]:
    """Return what records and stock say of themselves where pages are described, which is never translated."""
    heads = [page.sheet.figures for page in edition.sheets if page.sheet is not None]
    said = [text for figures in heads for text in (figures["title"], figures["head"]["scale"], figures["head"]["prototype_class"], figures["slug"])]
    parts = [page.title for page in edition.club if page.folder.startswith("parts/")]
    return {word for text in (*said, *parts) for word in words(text or "")}


def strange(text: str, edition: Edition) -> list[str]:
    """Return the words that neither the German catalogue nor a record has."""
    return sorted(words(text) - SPOKEN - SIGNS - own_words(edition))


class Printed(HTMLParser):
    """Gathers what a page prints, says to who cannot see it, or hands to its scripts to say."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.texts: list[str] = []
        self.inside: list[str] = []
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.inside += [] if tag in EMPTY else [tag]
        self.texts += [value for name, value in attrs if value and (name in SAID_ASIDE or name.startswith("data-say-"))]

    def handle_endtag(self, tag: str) -> None:
        while self.inside and self.inside.pop() != tag:
            pass

    def handle_data(self, data: str) -> None:
        if not {"code", "script", "style"} & set(self.inside):
            self.texts.append(data)


EMPTY = {"br", "hr", "img", "input", "link", "meta"}
"""Elements without an end, HTML standard, section 13.1.2."""
SAID_ASIDE = {"alt", "title", "aria-label", "placeholder", "data-label", "data-bs-list", "data-bs-pick", "data-bs-kind"}
FREE = {"title", "name", "summary", "source", "vehicle_class", "currency", "number", "scale", "mount", "material", "plug", "colour", "stock"}
"""Keys of records and stock whose values are the writer's own words."""
FILES = re.compile(r"[\w.-]+\.(?:csv|json|xml|svg)")


def own_phrases() -> list[str]:
    """Return what records and stock say in words of their own, the longest first."""
    found: set[str] = set()

    def gather(value: object, key: str = "") -> None:
        if isinstance(value, dict):
            for inner, below in value.items():
                gather(below, inner)
        elif isinstance(value, list):
            for below in value:
                gather(below, key)
        elif key in FREE:
            found.add(" ".join(str(value).split()))

    for path in BUILDS.rglob("*.yml"):
        gather(yaml.safe_load(path.read_text(encoding="utf-8")))
    return sorted(found, key=len, reverse=True)


OWN = own_phrases()


def english_left(page: str) -> list[str]:
    """Return what a page prints with a word that neither the German catalogue nor a record has."""
    left = []
    for text in Printed(page).texts:
        bare = FILES.sub(" ", " ".join(text.split()))
        for phrase in (*OWN, BROKEN_TITLE):
            bare = re.sub(rf"(?<!\w){re.escape(phrase)}(?!\w)", " ", bare)
        if words(bare) - SPOKEN - SIGNS:
            left.append(text)
    return left


def kind_of(folder: str) -> str:
    return "parts/*" if folder.startswith("parts/") else folder or "list"


KINDS = ("list", "parts", "parts/*", "together", "compare", "shopping")


@pytest.mark.parametrize("kind", KINDS)
def test_no_page_that_spans_builds_holds_an_english_word(editions: dict[str, Edition], kind: str) -> None:
    assert {kind_of(page.folder) for page in editions["de"].club} == set(KINDS)
    for code in ("de", "en"):
        pages = [page.body for page in editions[code].club if kind_of(page.folder) == kind]
        left = [text for body in pages for text in english_left(body)]
        assert (left == []) == (code == "de"), left  # the check tells them apart


def test_a_record_that_cannot_be_read_is_told_of_in_german(editions: dict[str, Edition]) -> None:
    body = next(page.body for page in editions["de"].club if page.folder == "")
    assert BROKEN_TITLE in body
    assert "Aufzeichnungen" in body


def scripts_of(edition: Edition) -> list[dict[str, Any]]:
    texts = [page.fetch()[SCRIPT].decode("ascii") for page in edition.sheets if page.sheet is not None]
    return [json.loads(text[text.index("(") + 1 : text.rindex(")")]) for text in texts]


def test_what_the_scripts_set_side_by_side_is_german(editions: dict[str, Edition]) -> None:
    rows = [build["rows"] for build in scripts_of(editions["de"])]
    assert [text for build in rows for cell in build.values() for text in english_left(cell[0])] == []
    assert any(english_left(cell[0]) for build in scripts_of(editions["en"]) for cell in build["rows"].values())
    by_slug = {build["slug"]: build["rows"] for build in scripts_of(editions["de"])}
    assert by_slug["harbour-tank"]["status"] == ["in Betrieb"]
    assert by_slug["harbour-tank"]["drive"][0].startswith("Stirnrad ")


def test_the_list_filters_by_the_words_it_shows(editions: dict[str, Edition]) -> None:
    body = next(page.body for page in editions["de"].club if page.folder == "")
    kinds = set(re.findall(r'data-bs-kind="([^"]+)"', body))
    assert "Dampf" in kinds
    for kind in kinds:
        assert f" · {kind} · " in body  # it stands in the line of the locomotive too
    assert len(re.findall(r"data-sort=\"[\d.]+\"", body)) > 8  # what is ordered by is a number, whatever the language


def part(edition: Edition, name: str) -> str:
    return unescape(next(page.body for page in edition.club if page.folder == f"parts/{name}"))


def test_data_of_a_part_have_german_labels_and_decimals(editions: dict[str, Edition]) -> None:
    gear = part(editions["de"], "pinion-11-m04")
    for label, value in (("Zähne", "11"), ("Modul", "0,4 mm"), ("Sitz auf der Welle", "Presssitz")):
        assert f'<th scope="row">{label}</th><td>{value}</td>' in gear
    assert ">0,6 g cm2<" in part(editions["de"], "can-1220-5p")
    decoder = part(editions["de"], "sound-8pin")
    assert "Anfahrspannung ja" in decoder
    assert "Impulsdauer nein" in decoder
    assert '<th scope="row">Module</th><td>0.4 mm</td>' in part(editions["en"], "pinion-11-m04")


def test_a_part_says_in_german_what_it_serves_as(editions: dict[str, Edition]) -> None:
    told_roles = {role: role_told(role) for role in ("motor, with data of its own", "before: motor", "parts list", "sound: speaker")}
    assert list(told_roles) == list(told_roles.values())  # English is what they are kept in
    with GERMAN.spoken():
        assert [role_told(role) for role in told_roles] == ["Motor, mit eigenen Daten", "vorher: Motor", "Stückliste", "Sound: Lautsprecher"]
    assert "mit eigenen Daten" in part(editions["de"], "can-1220-5p")


def told(edition: Edition) -> Iterator[str]:
    """Yield text alternatives of the pictures, and descriptions but those that a record gives itself."""
    yield edition.preview
    for page in edition.sheets:
        yield page.preview
        if page.sheet is None:
            yield page.description
    for club_page in edition.club:
        yield f"{club_page.title}. {club_page.description}"


def test_alternatives_and_descriptions_hold_no_english_word(editions: dict[str, Edition]) -> None:
    assert [strange(text, editions["de"]) for text in told(editions["de"]) if strange(text, editions["de"])] == []
    for english, german in zip(told(editions["en"]), told(editions["de"]), strict=True):
        assert (english != german) or not english  # a broken record has no picture
    assert len([text for text in told(editions["en"]) if strange(text, editions["en"])]) > 8  # the check tells them apart


def lines_of(body: str) -> list[str]:
    """Return the outcome of a sheet line by line, as it is printed."""
    found = re.findall(r'bs-glance__label">(.*?)</span>.*?bs-glance__value">(.*?)</span>.*?</svg>\s*<span>(.*?)</span>', body, flags=re.DOTALL)
    return [unescape(f"{label}: {value} ({level})") for label, value, level in found]


@pytest.mark.parametrize("code", ["en", "de"])
def test_the_picture_says_what_the_sheet_says(editions: dict[str, Edition], code: str) -> None:
    for page in editions[code].sheets:
        if page.sheet is not None:
            lines = lines_of(page.body(page.fetch()))
            assert len(lines) > ROWS
            assert len([line for line in lines if f". {line}." in page.preview]) == ROWS, page.preview
            assert "mph" not in page.preview


def test_pictures_differ_between_languages(editions: dict[str, Edition]) -> None:
    english, german = editions["en"], editions["de"]
    assert english.files[FILE] != german.files[FILE]
    for one, other in zip(english.sheets, german.sheets, strict=True):
        if one.sheet is not None:
            assert one.fetch()[FILE] != other.fetch()[FILE]


@pytest.mark.parametrize("figures", [sample_figures(), empty_figures()], ids=["sample", "empty"])
def test_words_of_a_picture_are_those_of_the_language_spoken(figures: Figures) -> None:
    before = preview(figures, "km/h"), library_preview([figures], "km/h", "x")
    with GERMAN.spoken():
        spoken = preview(figures, "km/h"), library_preview([figures], "km/h", "x")
        assert preview_words(figures).startswith(figures["title"])
        assert "1 Umbaublatt" in library_preview_words([figures], "x")
        assert "2 Umbaublätter" in library_preview_words([figures, figures], "x")
    assert all(one != other for one, other in zip(before, spoken, strict=True))
    assert (preview(figures, "km/h"), library_preview([figures], "km/h", "x")) == before  # nothing stays behind


def runs(picture: bytes, top: int, bottom: int, left: int, gap: int) -> list[int]:
    """Return the widths of what stands in a strip of a picture, parted by empty columns. [dots]"""
    strip = np.asarray(Image.open(BytesIO(picture)).convert("L"))[top:bottom, left:]
    inked = np.flatnonzero((strip < 160).any(axis=0))
    return [int(part[-1] - part[0]) + 1 for part in np.split(inked, np.flatnonzero(np.diff(inked) > gap) + 1)]


@pytest.mark.parametrize(("code", "word", "numbers"), [("en", "step", 4), ("de", "Fahrstufe", 3)])
def test_the_word_under_the_axis_stands_clear_of_its_numbers(code: str, word: str, numbers: int) -> None:
    """The width of the word is the font's own, as Pillow tells it."""
    import matplotlib

    font = ImageFont.truetype(Path(matplotlib.get_data_path()) / "fonts/ttf/DejaVuSans.ttf", 20, layout_engine=ImageFont.Layout.BASIC)
    with (GERMAN if code == "de" else ENGLISH).spoken():
        picture = preview(sample_figures())
    bottom = CHART[3]
    found = runs(picture, bottom + 10, bottom + 34, CHART[0] - 20, 9)
    assert len(found) == numbers + 1
    assert found[-1] == pytest.approx(font.getlength(word), abs=4)


@pytest.mark.parametrize("code", ["en", "de"])
def test_both_feeds_name_the_language(editions: dict[str, Edition], code: str) -> None:
    files = editions[code].files
    atom, plain = ElementTree.fromstring(files["feed.xml"]), json.loads(files["feed.json"])
    assert atom.get(XML_LANGUAGE) == plain["language"] == code
    name = {"en": "The library", "de": "Die Sammlung"}[code]
    assert atom.findtext(f"{{{ATOM}}}title") == plain["title"] == plain["authors"][0]["name"] == name
    marks = [category for category in atom.iter(f"{{{ATOM}}}category") if category.get("term") == "running"]
    status = {"en": "running", "de": "in Betrieb"}[code]
    assert [mark.get("label") for mark in marks] == [status]  # what programs sort by is the same in every language
    assert status in next(item for item in plain["items"] if "harbour-tank" in item["url"])["tags"]


def test_data_of_the_library_are_the_same_in_every_language(editions: dict[str, Edition]) -> None:
    for name in ("library.json", "library.csv", "shopping.csv"):
        assert editions["en"].files[name] == editions["de"].files[name]


def test_a_club_that_has_a_name_keeps_it() -> None:
    plain = json.loads(library_files([], settings("de", "Salzmarsch"))["feed.json"])
    assert plain["title"] == "Salzmarsch"


@pytest.mark.parametrize("code", ["en", "de"])
def test_a_page_at_an_old_address_is_in_the_language(editions: dict[str, Edition], code: str) -> None:
    moved = next(page.moved for page in editions[code].sheets if page.formerly)
    assert f'<html lang="{code}">' in moved
    text = re.sub(r"<[^>]+>", " ", moved)
    assert bool(strange(text, editions[code])) == (code == "en")
    assert [page.moved for page in editions[code].sheets if not page.formerly] == [""] * 3


def test_the_page_at_an_old_address_comes_back_with_a_kept_edition(builds: Path, tmp_path: Path) -> None:
    sound = tmp_path / "builds"
    shutil.copytree(builds, sound)
    (sound / "broken.yml").unlink()
    made = make_edition(sound, prints_of(sound), settings("de"), Workbook(cache := Cache(tmp_path / "cache")), Layout())
    keep(made, cache, "0" * 64)
    again = recalled(cache, "0" * 64, sound, lambda path, key: {})
    assert again is not None
    assert [page.moved for page in again.sheets] == [page.moved for page in made.sheets]
    assert any(page.moved for page in again.sheets)


def test_plain_pages_forward_in_the_language(builds: Path, tmp_path: Path) -> None:
    written = write_pages(load_library(builds), settings("de"), tmp_path)
    assert tmp_path / "tank-engine-no-7/index.html" in written
    assert 'lang="de"' in (tmp_path / "tank-engine-no-7/index.html").read_text(encoding="utf-8")
