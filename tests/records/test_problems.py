from __future__ import annotations

import os
from pathlib import Path

import pytest

from buildsheets.records.problems import Mark, Problem, in_order, nearest, problem_at, show, shown_path
from buildsheets.records.wording import as_yaml, one_of, quoted


def test_problems_are_sorted_by_place_and_said_once() -> None:
    late, early = Problem("a.yml", 10, 1, "x; y"), Problem("a.yml", 9, 3, "x; y")
    other = Problem("b.yml", 1, 1, "x; y")
    assert in_order([other, late, early, late]) == [early, late, other]


def test_a_problem_is_one_line() -> None:
    assert str(problem_at(Mark("a.yml", 2, 3), "two\nlines; one")) == "a.yml:2:3: two lines; one"


def test_a_caret_stands_under_the_place() -> None:
    shown = show(Problem("a.yml", 1, 4, "x; y"), "a:\tvalue\n").splitlines()
    assert shown[1:] == ["    a: value", "       ^"]


def test_a_long_line_is_cut_around_the_place() -> None:
    _, line, caret = show(Problem("a.yml", 1, 301, "x; y"), "a" * 300 + "b" + "c" * 300).splitlines()
    assert len(line) < 180
    assert line[caret.index("^")] == "b"


def test_paths_are_shown_as_one_would_type_them(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    record = tmp_path / "club" / "builds" / "a.yml"
    monkeypatch.chdir(tmp_path)
    assert shown_path(record) == "club/builds/a.yml"
    (tmp_path / "elsewhere").mkdir()
    monkeypatch.chdir(tmp_path / "elsewhere")
    assert shown_path(record, tmp_path / "club" / "builds") == "builds/a.yml"
    assert shown_path(record) == record.as_posix()
    assert shown_path(Path("../club/builds/a.yml")) == "../club/builds/a.yml"


def test_a_file_may_have_a_name_that_no_line_can_hold(tmp_path: Path) -> None:
    # POSIX forbids only the slash and the zero byte in the name of a file (IEEE Std 1003.1, 3.170 Filename, from memory)
    for name in ("a\nb.yml", "a\x1b[31mb.yml", "a\u2028b.yml", os.fsdecode(b"a\xffb.yml")):
        shown = shown_path(tmp_path / name, tmp_path)
        assert shown.startswith(f"{tmp_path.name}/a\ufffd")
        shown.encode("utf-8")
        said = problem_at(Mark("f.yml", 1, 1), f"{name} is taken").message
        assert len(said.splitlines()) == 1
        assert "\x1b" not in said
        said.encode("utf-8")


@pytest.mark.parametrize(
    ("word", "near"), [("modle", "model"), ("Scale", "scale"), ("whel", "wheel"), ("qqq", None), ("", None)]
)
def test_the_nearest_word(word: str, near: str | None) -> None:
    assert nearest(word, ["model", "scale", "wheel"]) == near


@pytest.mark.parametrize(
    ("value", "written"),
    [("5 ft 2 in", "5 ft 2 in"), ("1:76.2", "1:76.2"), ("Tank: two", '"Tank: two"'), ("7", '"7"'), ("true", '"true"'),
     ("14.5 V ± 3 %", "14.5 V ± 3 %"), ("16, 0", '"16, 0"'), (True, "true"), (3, "3"),
     ([{"cv": 3, "on": False}], "[{cv: 3, on: false}]")],
)
def test_an_example_is_written_as_in_a_record(value: object, written: str) -> None:
    assert as_yaml(value) == written


def test_values_are_quoted_and_shortened() -> None:
    assert [quoted(value) for value in ({}, [], None, 3, True, "a")] == [
        "a group of keys", "a list", "nothing", "3", "true", '"a"',
    ]
    assert quoted("a" * 50) == '"' + "a" * 40 + '..."'


def test_choices_make_a_sentence() -> None:
    assert one_of(["a", "b", "c"]) == "a, b or c"
    assert one_of(["a"]) == "a"
