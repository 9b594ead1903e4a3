"""Passages of pages are taken from the last time under all that they were made from, and only from the last time."""

from pathlib import Path

import pytest

from buildsheets.cache import Cache
from buildsheets.library import keeping
from buildsheets.library.keeping import Passages
from buildsheets.settings import Settings
from buildsheets.sheet import SheetOptions


def never() -> str:
    raise AssertionError("it was there")


def edition(folder: Path, wanted: dict[str, str], settings: Settings = Settings()) -> None:  # noqa: B008 - it cannot be changed
    passages = Passages(Cache(folder), settings)
    for made_of, text in wanted.items():
        passages.passage(lambda text=text: text, "line", made_of)
    passages.keep()


def test_a_passage_is_made_once(tmp_path: Path) -> None:
    edition(tmp_path, {"one": "<b>1</b>", "two": "2"})
    passages = Passages(Cache(tmp_path), Settings())
    assert passages.has("line", "one")
    assert passages.passage(never, "line", "one") == "<b>1</b>"
    assert not passages.has("pair", "one")
    assert not passages.has("line", "three")
    assert passages.passage(lambda: "3", "line", "three") == "3"


def test_what_an_edition_did_not_use_is_gone(tmp_path: Path) -> None:
    edition(tmp_path, {"one": "1", "two": "2"})
    edition(tmp_path, {"two": "2", "three": "3"})
    passages = Passages(Cache(tmp_path), Settings())
    assert [passages.has("line", made_of) for made_of in ("one", "two", "three")] == [False, True, True]


def test_another_choice_or_program_makes_all_anew(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    edition(tmp_path, {"one": "1"})
    assert not Passages(Cache(tmp_path), Settings(sheet=SheetOptions(speed_unit="km/h"))).has("line", "one")
    monkeypatch.setattr(keeping, "program_print", lambda: "another")
    assert not Passages(Cache(tmp_path), Settings()).has("line", "one")


def test_without_a_cache_nothing_is_there() -> None:
    passages = Passages()
    assert passages.passage(lambda: "1", "line", "one") == "1"
    passages.keep()
    assert not Passages().has("line", "one")
