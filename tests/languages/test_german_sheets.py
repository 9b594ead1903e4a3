"""A club that writes in German gets German sheets, and nothing changes for one that does not."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from html import unescape
from pathlib import Path

import pytest

from buildsheets.cache import unpacked
from buildsheets.edition import BODY
from buildsheets.figures import work_out
from buildsheets.figures.format import Figures
from buildsheets.finishing import SHORT, finished
from buildsheets.house_style import HouseStyleError, house_style
from buildsheets.languages import ENGLISH
from buildsheets.languages.catalogue import HOME, language_file, read_language
from buildsheets.languages.collect import fixed_words
from buildsheets.records.library import Build, load_build
from buildsheets.settings import Settings
from buildsheets.sheet import SheetOptions
from buildsheets.sheet.told import told
from buildsheets.workbook import sheet_key

BUILDS = Path(__file__).parents[2] / "builds"
GERMAN = read_language(language_file("de", HOME))
STRANGE = r"<span lang=.en.>.*?</span>|<code.*?</code>|<style.*?</style>|<pre.*?</pre>"
WRITTEN = "\n".join(path.read_text(encoding="utf-8") for path in sorted(BUILDS.rglob("*.yml")))
"""What records and stock say themselves, which is never translated."""
ALIKE = 12
"""Letters from which words of the catalogue are told from words of a record."""


def build(name: str) -> Build:
    found, problems = load_build(BUILDS / f"{name}.yml")
    assert found is not None, problems
    return found


@pytest.fixture(scope="module")
def pieces() -> dict[str, dict[str, str]]:
    """The same record as an English and as a German club publishes it."""
    made = {}
    for code, options in {
        "en": SheetOptions(club="Club"),
        "de": SheetOptions(club="Club", language=GERMAN, speed_unit="km/h", logo="../logo.svg", logo_made_of="1"),
    }.items():
        entry = unpacked(finished(build("harbour-tank"), Settings(sheet=options)))
        made[code] = {name: data.decode("utf-8") for name, data in entry.pieces.items() if not name.startswith("pictures")}
        made[code]["prose"] = entry.data["markdown"]
    return made


def words_of(page: str) -> str:
    return unescape(re.sub(r"<[^>]+>", "\n", re.sub(STRANGE, "", page, flags=re.DOTALL)))


def long_fixed_words() -> Iterator[str]:
    for _place, words in fixed_words():
        for text in [words] if isinstance(words, str) else words:
            yield from (part.strip() for part in re.split(r"%\(\w+\)s|\{\w*\}|<[^>]+>", text) if len(part.strip()) >= ALIKE)


@pytest.mark.parametrize("name", [BODY, SHORT, "prose"])
def test_a_german_sheet_shows_no_fixed_words_in_english(pieces: dict[str, dict[str, str]], name: str) -> None:
    text = words_of(pieces["de"][name])
    same = {*GERMAN.messages.values()}
    assert sorted(words for words in set(long_fixed_words()) if words in text and words not in same and words not in WRITTEN) == []


def test_what_has_no_translation_is_marked_as_english(pieces: dict[str, dict[str, str]]) -> None:
    marked = re.findall(r'<span lang="en">(.*?)</span>', pieces["de"][BODY], flags=re.DOTALL)
    everything = len(re.findall(r"<(?:td|p|li|dd|th)\b", pieces["de"][BODY]))
    assert len(marked) < 0.1 * everything
    assert 'lang="en"' not in pieces["en"][BODY]


def test_numbers_have_the_comma_and_speeds_the_unit(pieces: dict[str, dict[str, str]]) -> None:
    text = words_of(re.sub(r"<svg.*?</svg>", "", pieces["de"][BODY], flags=re.DOTALL))
    assert "88,5\u202fkm/h" in text  # 55 mph of the record times 1.609344, the yard and pound agreement of 1959
    left = [speed for speed in re.findall(r"[\d.]+.mph", text) if speed.replace("\u202f", " ") not in WRITTEN]
    assert left == []
    assert "mph" not in words_of(pieces["de"][SHORT])


def test_drawings_are_in_german(pieces: dict[str, dict[str, str]]) -> None:
    assert "Fahrstufe" in pieces["de"]["speed.svg"]
    assert "Speed step" not in pieces["de"]["speed.svg"]
    assert "Stromabnehmer" in pieces["de"]["wiring.svg"]
    assert "mph" not in pieces["de"]["speed.svg"]


def test_data_are_the_same_in_every_language(pieces: dict[str, dict[str, str]]) -> None:
    data = [name for name in pieces["en"] if name.endswith((".csv", ".json"))]
    assert len(data) > 5
    assert [name for name in data if pieces["en"][name] != pieces["de"][name]] == []


def test_what_the_record_says_stays_as_it_was_written(pieces: dict[str, dict[str, str]]) -> None:
    record = build("harbour-tank").record
    text = words_of(pieces["de"][BODY])
    assert record.title in text
    for trial in record.trials:
        assert trial.change in text


def test_the_logo_stands_in_the_head_of_both_forms(pieces: dict[str, dict[str, str]]) -> None:
    for name in (BODY, SHORT):
        assert '<img src="../logo.svg" alt="Club">' in pieces["de"][name]
        assert "bs-logo" not in pieces["en"][name]


def test_english_needs_no_second_copy_of_the_figures() -> None:
    figures: Figures = work_out(build("harbour-tank"))
    before = json.dumps(figures, default=str)
    assert told(figures, SheetOptions()) is figures
    assert told(figures, SheetOptions(language=GERMAN))["glance"] != figures["glance"]
    assert json.dumps(figures, default=str) == before


def test_language_and_logo_are_in_the_key_of_a_sheet() -> None:
    one = build("harbour-tank")
    keys = {
        sheet_key(one, Settings(sheet=options))
        for options in (
            SheetOptions(),
            SheetOptions(language=GERMAN),
            SheetOptions(logo="logo.svg", logo_made_of="1"),
            SheetOptions(logo="logo.svg", logo_made_of="2"),
        )
    }
    assert len(keys) == 4


def test_the_language_of_the_theme_is_taken_where_we_have_it(tmp_path: Path) -> None:
    assert house_style(None, "de", None, tmp_path, tmp_path).language == HOME / "de.po"
    assert house_style(None, "fr", None, tmp_path, tmp_path).language is None
    assert house_style("en", "de", None, tmp_path, tmp_path).language is None
    assert ENGLISH.english


@pytest.mark.parametrize(
    ("logo", "complaint"),
    [("none.svg", "there is no file none.svg"), ("../out.svg", "lies outside"), ("words.txt", "no picture")],
)
def test_a_logo_that_cannot_be_shown_is_told(tmp_path: Path, logo: str, complaint: str) -> None:
    docs = tmp_path / "docs"
    docs.mkdir()
    (docs / "words.txt").write_text("x", encoding="utf-8", newline="\n")
    (tmp_path / "out.svg").write_text("<svg/>", encoding="utf-8", newline="\n")
    with pytest.raises(HouseStyleError, match=complaint):
        house_style(None, "en", logo, tmp_path, docs)


def test_another_logo_is_another_style(tmp_path: Path) -> None:
    logo = tmp_path / "logo.svg"
    logo.write_text("<svg/>", encoding="utf-8", newline="\n")
    before = house_style(None, "en", "logo.svg", tmp_path, tmp_path)
    logo.write_text("<svg> </svg>", encoding="utf-8", newline="\n")
    assert house_style(None, "en", "logo.svg", tmp_path, tmp_path).made_of != before.made_of
