from __future__ import annotations

import re
from pathlib import Path

import pytest

from buildsheets.records.library import load_build
from buildsheets.records.starter import Beginning, starter_record


@pytest.mark.parametrize("title", ["Marsh tank", "Tank: the second", '"Quoted" \\ and #hashed', "2026", "Ω & {braces}", "a\nb"])
def test_a_starter_passes_the_check_as_it_stands(title: str, tmp_path: Path) -> None:
    path = tmp_path / "tank.yml"
    path.write_text(starter_record(Beginning(title, "OO"), "record.schema.json"), encoding="utf-8", newline="\n")
    build, problems = load_build(path)
    assert problems == []
    assert build is not None
    assert build.record.title == " ".join(title.split())


def test_it_passes_too_with_every_line_in_use(tmp_path: Path) -> None:
    text = starter_record(Beginning("Marsh tank", "OO"), "record.schema.json")
    opening, body = text.split("status: ")
    used = re.sub(r"^( *)# ", r"\1", body, flags=re.MULTILINE)
    path = tmp_path / "tank.yml"
    path.write_text(opening + "status: " + used, encoding="utf-8", newline="\n")
    build, problems = load_build(path)
    assert [str(problem) for problem in problems] == []
    assert build is not None
    assert build.record.motor is not None
    assert build.record.train is not None


KNOWN = Beginning(
    title="Marsh tank", scale="N (British)", status="on the bench", traction="diesel", vehicle_class='Bo-Bo: "the odd one"',
    motor="small-can", decoder="basic",
)
STOCK = "format: 1\nmotors:\n  small-can: {nominal_voltage: 12 V}\ndecoders:\n  basic: {internal_drop: 1.4 V}\n"


@pytest.mark.parametrize("uncommented", [False, True])
def test_what_is_known_is_in_use_and_the_rest_may_be(uncommented: bool, tmp_path: Path) -> None:
    text = starter_record(KNOWN, "record.schema.json")
    if uncommented:
        opening, body = text.split("status: ")
        text = opening + "status: " + re.sub(r"^( *)# ", r"\1", body, flags=re.MULTILINE)
    (tmp_path / "stock").mkdir()
    (tmp_path / "stock" / "parts.yml").write_text(STOCK, encoding="utf-8")
    path = tmp_path / "tank.yml"
    path.write_text(text, encoding="utf-8", newline="\n")
    build, problems = load_build(path)
    assert [str(problem) for problem in problems] == []
    assert build is not None
    record = build.record
    assert record.prototype is not None
    assert record.model is not None
    assert (record.status, record.prototype.type, record.prototype.vehicle_class) == ("on the bench", "diesel", 'Bo-Bo: "the odd one"')
    assert (record.model.scale, list(build.stock_used)) == ("N (British)", [("decoders", "basic"), ("motors", "small-can")])
    assert (record.train is not None) == uncommented


@pytest.mark.parametrize("known", [KNOWN, Beginning("Marsh tank", "OO")])
def test_every_line_has_a_comment(known: Beginning) -> None:
    lines = starter_record(known, "record.schema.json").split("format: 1", 1)[1].splitlines()
    assert [line for line in lines if line and " # " not in line] == []


def test_the_first_line_tells_the_editor_of_the_schema() -> None:
    first = starter_record(Beginning("Tank", "OO"), "../schema/record.json").splitlines()[0]
    assert first == "# yaml-language-server: $schema=../schema/record.json"
