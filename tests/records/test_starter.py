from __future__ import annotations

import re
from pathlib import Path

import pytest

from buildsheets.records.library import load_build
from buildsheets.records.starter import starter_record


@pytest.mark.parametrize("title", ["Marsh tank", "Tank: the second", '"Quoted" \\ and #hashed', "2026", "Ω & {braces}", "a\nb"])
def test_a_starter_passes_the_check_as_it_stands(title: str, tmp_path: Path) -> None:
    path = tmp_path / "tank.yml"
    path.write_text(starter_record(title, "OO", "record.schema.json"), encoding="utf-8", newline="\n")
    build, problems = load_build(path)
    assert problems == []
    assert build is not None
    assert build.record.title == " ".join(title.split())


def test_it_passes_too_with_every_line_in_use(tmp_path: Path) -> None:
    text = starter_record("Marsh tank", "OO", "record.schema.json")
    opening, body = text.split("format: 1\n")
    used = re.sub(r"^( *)# ", r"\1", body, flags=re.MULTILINE)
    path = tmp_path / "tank.yml"
    path.write_text(opening + "format: 1\n" + used, encoding="utf-8", newline="\n")
    build, problems = load_build(path)
    assert [str(problem) for problem in problems] == []
    assert build is not None
    assert build.record.motor is not None
    assert build.record.train is not None


def test_the_first_line_tells_the_editor_of_the_schema() -> None:
    first = starter_record("Tank", "OO", "../schema/record.json").splitlines()[0]
    assert first == "# yaml-language-server: $schema=../schema/record.json"
