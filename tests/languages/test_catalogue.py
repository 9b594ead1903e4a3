"""The catalogue: complete, up to date, and refused where it would spoil a sheet."""

from __future__ import annotations

import ast
import re
from io import BytesIO
from pathlib import Path

import pytest
from babel import Locale
from babel.messages.catalog import Catalog
from babel.messages.pofile import read_po

from buildsheets.languages import ENGLISH, Language, _, phrasebook, plural, speaking
from buildsheets.languages.catalogue import HOME, LanguageError, language_file, print_of, read_language, shipped
from buildsheets.languages.collect import PACKAGE, POT, brought_up_to_date, collected, fixed_words, words_of_the_record
from buildsheets.languages.numbers import in_km_per_hour, localised
from buildsheets.languages.patterns import PLACE, is_phrase, sentences_of

HEAD = 'msgid ""\nmsgstr ""\n"Language: {code}\\n"\n"Content-Type: text/plain; charset=utf-8\\n"\n\n'
FINISHED = ("cautions", "glance", "hold_points", "steps", "wiring", "gains", "ledger", "tuning", "instead")
"""Modules whose sentences every shipped language has, beside all fixed words."""


@pytest.fixture(scope="module")
def everything() -> Catalog:
    return collected()


def catalogue(path: Path) -> Catalog:
    return read_po(BytesIO(path.read_bytes()))


def keys(found: Catalog) -> set[object]:
    return {message.id for message in found if message.id}


def written(folder: Path, body: str, code: str = "fr", name: str = "own.po") -> Path:
    path = folder / name
    path.write_text(HEAD.format(code=code) + body, encoding="utf-8", newline="\n")
    return path


def test_the_template_for_translators_is_up_to_date(everything: Catalog) -> None:
    assert keys(catalogue(POT)) == keys(everything), "run python -m buildsheets.languages.collect"


@pytest.mark.parametrize("code", [code for code in shipped() if code != "en"])
def test_a_shipped_language_has_all_fixed_words_and_the_finished_modules(code: str, everything: Catalog) -> None:
    messages = read_language(language_file(code, HOME))
    known = {*messages.messages, *messages.plurals}
    fixed = {words if isinstance(words, str) else words[0] for _place, words in (*fixed_words(), *words_of_the_record())}
    finished = {
        str(message.id)
        for message in everything
        if message.id and any(Path(place).stem in FINISHED for place, _line in message.locations) and re.search("[a-z]{3}", str(message.id))
    }
    assert sorted((fixed | finished) - known) == []


@pytest.mark.parametrize("code", [code for code in shipped() if code != "en"])
def test_a_shipped_file_holds_every_word_and_no_other(code: str, everything: Catalog) -> None:
    assert keys(catalogue(HOME / f"{code}.po")) == keys(everything), "run python -m buildsheets.languages.collect"


@pytest.mark.parametrize(
    ("body", "complaint"),
    [
        ('msgid "Decoder: %(name)s."\nmsgstr "Décodeur"\n', "lacks"),
        ('msgid "{low} to {high}"\nmsgstr "{low} à {top}"\n', "lacks"),
        ('msgid "Motor"\nmsgstr "Moteur {0}"\n', r"has \{0\} too"),
        ('msgid "Motor"\nmsgstr "Moteur 50 %"\n', "percent"),
        ('msgid "Motor"\nmsgstr ""\n', "holds no translation"),
        ('these are no entries\n', "is not a PO file"),
    ],
)
def test_a_translation_that_would_spoil_a_sheet_is_refused(tmp_path: Path, body: str, complaint: str) -> None:
    with pytest.raises(LanguageError, match=complaint):
        read_language(written(tmp_path, body))


def test_a_file_must_say_its_language(tmp_path: Path) -> None:
    good = 'msgid "Motor"\nmsgstr "x"\n'
    with pytest.raises(LanguageError, match="no line `Language`"):
        read_language(written(tmp_path, good, code=""))
    with pytest.raises(LanguageError, match=r"no language known|no PO file|is not a PO file"):
        read_language(written(tmp_path, good, code="qq"))


def test_a_file_that_is_no_text_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "own.po"
    path.write_bytes(b'msgid "a"\nmsgstr "\xff\xfe"\n')
    with pytest.raises(LanguageError, match="UTF-8"):
        read_language(path)


def test_a_missing_language_is_told_with_what_there_is(tmp_path: Path) -> None:
    with pytest.raises(LanguageError, match=", ".join(shipped())):
        language_file("xx", tmp_path)
    with pytest.raises(LanguageError, match=r"there is no file words/xx\.po"):
        language_file("words/xx.po", tmp_path)


def test_every_change_of_a_file_is_another_language(tmp_path: Path) -> None:
    path = written(tmp_path, 'msgid "Motor"\nmsgstr "Moteur"\n')
    before, hashed = read_language(path), print_of(path)
    path.write_bytes(path.read_bytes() + b'\nmsgid "Decoder"\nmsgstr "x"\n')
    assert print_of(path) != hashed
    assert repr(read_language(path)) != repr(before)  # repr is what keys of the cache are made of
    assert before.made_of == hashed


def test_the_decimal_sign_is_that_of_the_unicode_project(tmp_path: Path) -> None:
    # reference: Unicode CLDR as Babel brings it
    for code in ("fr", "de", "ja", "sv", "de_CH"):
        path = written(tmp_path, 'msgid "Motor"\nmsgstr "x"\n', code=code)
        assert read_language(path).decimal == Locale.parse(code).number_symbols["latn"]["decimal"]


def test_words_are_translated_only_while_the_language_is_spoken() -> None:
    own = Language("xx", "1", ",", {"Motor": "Rotom", "{low} to {high}": "{high} otni {low}"}, {"{n} way": ("eno", "{n} ynam")})
    assert _("Motor") == "Motor"
    with own.spoken():
        assert (_("Motor"), _("Pin")) == ("Rotom", "Pin")
        assert _("{low} to {high}", low=1, high=2) == "2 otni 1"
        assert (plural("{n} way", "{n} ways", 1), plural("{n} way", "{n} ways", 3)) == ("eno", "{n} ynam")
    assert speaking() is ENGLISH
    assert plural("{n} way", "{n} ways", 3) == "{n} ways"


BOOK = Language(
    "xx",
    "2",
    ",",
    {
        "It first runs at step {0} of {1}.": "Von {1} ist {0} die erste.",
        "{0}: within the decoder's rating.": "{0}: vom Decoder ertragen.",
        "{0} with the shaft held": "{0} bei gehaltener Welle",
        "dropper {0}": "Vorschaltglied {0}",
        "There: {0}.": "Dort: {0}.",
        "hot": "heiß",
        "{low} to {high}": "{low} bis {high}",
    },
)


@pytest.mark.parametrize(
    ("english", "wanted"),
    [
        ("It first runs at step 6 of 126.", "Von 126 ist 6 die erste."),
        ("0.29 A with the shaft held: within the decoder's rating.", "0,29 A bei gehaltener Welle: vom Decoder ertragen."),
        ("There: dropper 30.0 °C, 0.37 A with the shaft held.", "Dort: Vorschaltglied 30,0 °C, 0,37 A bei gehaltener Welle."),
        ("hot; dropper 1.5 to 2.5 °C", "heiß; Vorschaltglied 1,5 bis 2,5 °C"),
        ("12.5 m", "12,5 m"),
        ("Never written anywhere.", None),
        ("hot; Never written anywhere.", None),
        ("dropper of 0.5 make", "Vorschaltglied of 0.5 make"),  # what a record may have written stays as it is
    ],
)
def test_a_finished_sentence_finds_its_pattern(english: str, wanted: str | None) -> None:
    assert phrasebook(BOOK).find(english) == wanted


LEAST = Language(
    "xx",
    "3",
    ",",
    {
        "Nothing to do but wait": "Nur warten",
        "Nothing to {0}": "Nichts bis {0}",
        "it stays at {0}": "sie bleibt bei {0} stehen",
        "cut it, or it burns": "abschalten, sonst brennt es",
        "{0}-tooth pinion": "Ritzel mit {0} Zähnen",
        "It is {0}. Short runs only.": "Es sind {0}. Nur kurze Fahrten.",
    },
)


@pytest.mark.parametrize(
    ("english", "wanted"),
    [
        ("Nothing to do but wait; it stays at 4.5 V", "Nur warten; sie bleibt bei 4,5 V stehen"),  # the one that leaves least
        ("It stays at 4.5 V.", "Sie bleibt bei 4,5 V stehen."),  # the stop stays at the end
        ("it stays at 2 V, cut it, or it burns", "sie bleibt bei 2 V stehen, abschalten, sonst brennt es"),
        ("own can, 12 V + 13-tooth pinion", "own can, 12 V + Ritzel mit 13 Zähnen"),  # the record's name of a part
        ("own can + other can", None),
        ("It stays at 2 V. It is 3 V. Short runs only.", "Sie bleibt bei 2 V stehen. Es sind 3 V. Nur kurze Fahrten."),
    ],
)
def test_of_several_translations_the_one_counts_that_leaves_least(english: str, wanted: str | None) -> None:
    assert phrasebook(LEAST).find(english) == wanted


def test_words_inside_a_formatted_string_are_gathered_too() -> None:
    path = PACKAGE / "sheet/drawings/fit_plan.py"
    inside = [
        part.args[0].value
        for text in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(text, ast.JoinedStr)
        for part in ast.walk(text)
        if isinstance(part, ast.Call) and isinstance(part.func, ast.Name) and part.func.id == "_" and isinstance(part.args[0], ast.Constant)
    ]
    assert inside
    assert set(inside) <= {words for _place, words in fixed_words()}


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("55.0 mph", "88.5 km/h"),  # 1.609344 km to the mile, the yard and pound agreement of 1959
        ("50 to 60 mph", "80 to 97 km/h"),
        ("50 to 60 mph (80 to 97 km/h)", "80 to 97 km/h"),
        ("12 V at 3 A", "12 V at 3 A"),
    ],
)
def test_speeds_in_sentences_follow_the_unit(text: str, wanted: str) -> None:
    assert in_km_per_hour(text).replace("\u202f", " ") == wanted


def test_only_numbers_are_written_as_the_language_writes_them() -> None:
    assert localised("−0.5 N m", BOOK) == "−0,5 N m"
    assert localised("film-0.5w", BOOK) is None
    assert localised("loco 4.5", BOOK) is None
    assert localised("1.5 to 2.5 °C", BOOK) == localised("1.5 bis 2.5 °C", BOOK) == "1,5 bis 2,5 °C"
    assert localised("1 of 126", BOOK) is None  # a word that joins no two ends is a phrase with an entry of its own


def test_patterns_come_out_of_the_source(tmp_path: Path) -> None:
    source = '''"""A docstring with words."""
KEY = {"some_key": 1}
def f(x: "an annotation with words") -> str:
    """Another docstring."""
    if x == "compared with words":
        raise ValueError("a fault with words")
    return f"It is {x} " + ("high indeed" if x else "low indeed") + f", at {x:.1f} V."
'''
    path = tmp_path / "module.py"
    path.write_text(source, encoding="utf-8", newline="\n")
    assert [text for _line, text in sentences_of(path)] == ["It is {0} {1}, at {2} V.", "high indeed", "low indeed"]
    assert not is_phrase("{0} / {1}")


def test_bringing_up_to_date_keeps_what_is_translated(everything: Catalog, tmp_path: Path) -> None:
    path = written(tmp_path, 'msgid "Motor"\nmsgstr "Moteur"\n\nmsgid "Words of long ago"\nmsgstr "x"\n')
    data = brought_up_to_date(path.read_bytes(), everything)
    found = read_po(BytesIO(data))
    assert keys(found) == keys(everything)
    assert found["Motor"].string == "Moteur"
    assert brought_up_to_date(data, everything) == data


def test_german_places_are_those_of_the_english_words() -> None:
    german = read_language(language_file("de", HOME))
    assert len(german.messages) > 1200
    for ours, theirs in german.messages.items():
        assert sorted(set(PLACE.findall(ours))) == sorted(set(PLACE.findall(theirs)))
