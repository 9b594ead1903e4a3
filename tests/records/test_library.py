from __future__ import annotations

import os
from pathlib import Path

import pytest

from buildsheets.records.library import LibraryRecords, load_build, load_library
from buildsheets.records.problems import Mark

RECORD = "format: 1\ntitle: Marsh tank\nstatus: running\n"
STOCK = """\
format: 1
motors:
  can-1220-12v:
    name: 12 x 20 mm can
    nominal_voltage: 12 V
    no_load_speed: 9500 rpm
    unit_price: 4.20
    bench:
      - {voltage: 6 V, current: 45 mA, speed: 4600 rpm}
decoders:
  basic:
    size: {length: 20 mm, width: 11 mm, height: 4 mm}
    internal_drop: 1.4 V
gears:
  pinion-11: {teeth: 11, module: 0.4 mm, unit_price: 1.10, name: pinion}
"""


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    builds = tmp_path / "builds"
    (builds / "stock").mkdir(parents=True)
    put(builds / "stock" / "parts.yml", STOCK)
    return builds


def put(path: Path, text: str) -> Path:
    path.write_text(text, encoding="utf-8", newline="\n")
    return path


def said(library: LibraryRecords) -> list[str]:
    return [str(problem) for problem in library.problems]


def test_a_picture_that_is_not_there_is_a_problem_at_its_name(folder: Path) -> None:
    (folder / "pictures").mkdir()
    (folder / "pictures" / "here.png").write_bytes(b"a picture")
    put(folder / "tank.yml", RECORD + "pictures:\n  - {file: pictures/here.png, shows: One}\n  - {file: pictures/gone.png, shows: Two}\n")
    library = load_library(folder)
    assert said(library) == [
        'builds/tank.yml:6:12: no file "pictures/gone.png" in the folder of the records; put the picture there, or correct its name'
    ]
    assert list(library.broken) == ["tank"]
    (folder / "pictures" / "gone.png").write_bytes(b"a picture")
    assert said(load_library(folder)) == []


def test_stock_fills_what_the_record_leaves_out(folder: Path) -> None:
    path = put(folder / "tank.yml", RECORD + "motor:\n  stock: can-1220-12v\n  no_load_speed: 9000 rpm\n  bench:\n")
    build, problems = load_build(path)
    assert problems == []
    assert build is not None
    motor = build.record.motor
    assert motor is not None
    assert motor.nominal_voltage is not None
    assert (motor.stock, motor.nominal_voltage.text) == ("can-1220-12v", "12 V")
    assert motor.no_load_speed is not None
    assert motor.no_load_speed.text == "9000 rpm", "the record's own field wins"
    assert motor.bench == [], "a key with nothing after it takes the stock's value away"
    assert list(build.stock_used) == [("motors", "can-1220-12v")]


def test_nested_groups_are_merged_and_places_lead_to_the_file_a_value_stands_in(folder: Path) -> None:
    text = RECORD + "decoder: {stock: basic, size: {height: 3 mm}}\n"
    build, problems = load_build(put(folder / "tank.yml", text))
    assert problems == []
    assert build is not None
    assert build.record.decoder is not None
    size = build.record.decoder.size
    assert size is not None
    assert (size.length.text, size.height.text) == ("20 mm", "3 mm")
    assert build.mark("decoder", "size", "height") == Mark("builds/tank.yml", 4, 40)
    assert build.mark("decoder", "size", "length") == Mark("builds/stock/parts.yml", 12, 20)
    assert build.mark("decoder", "internal_drop") == Mark("builds/stock/parts.yml", 13, 20)


def test_stock_is_found_in_lists_unions_and_the_state_as_found(folder: Path) -> None:
    text = RECORD + (
        "gear_train: {stages: [{driver: {stock: pinion-11}, driven: 38}, {worm: 1, driven: 24}]}\n"
        "before: {motor: {stock: can-1220-12v}}\n"
        "pinions_on_hand: [{stock: pinion-11, teeth: 12}]\n"
        "parts: [{stock: pinion-11, quantity: 2}, {name: wire}]\n"
    )
    build, problems = load_build(put(folder / "tank.yml", text))
    assert problems == []
    assert build is not None
    record = build.record
    assert record.gear_train is not None
    assert record.gear_train.stages[0].driver.module.text == "0.4 mm"  # type: ignore[union-attr]
    assert record.before is not None
    assert record.before.motor is not None
    assert record.before.motor.bench[0].speed.text == "4600 rpm"
    assert record.pinions_on_hand[0].teeth == 12
    assert record.parts[0].name == "pinion"
    assert record.parts[0].unit_price is not None
    assert record.parts[0].unit_price.value == 1.10
    assert sorted(build.stock_used) == [("gears", "pinion-11"), ("motors", "can-1220-12v")]


def test_the_shelf_itself_is_left_as_it_was(folder: Path) -> None:
    put(folder / "a.yml", RECORD + "decoder: {stock: basic, size: {height: 3 mm}}\n")
    put(folder / "b.yml", RECORD + "decoder: {stock: basic}\n")
    library = load_library(folder)
    second = library.builds[1].record.decoder
    assert second is not None
    assert second.size is not None
    assert second.size.height.text == "4 mm"


def test_a_record_may_use_another_stock_folder(folder: Path, tmp_path: Path) -> None:
    other = tmp_path / "other"
    other.mkdir()
    put(other / "m.yml", "format: 1\nmotors: {big: {nominal_voltage: 12 V}}\n")
    path = put(folder / "tank.yml", RECORD + "motor: {stock: big}\n")
    assert load_build(path, other)[1] == []
    assert "no stock part is called" in str(load_build(path)[1][0])


def test_the_revision_follows_what_is_said_and_nothing_else(folder: Path) -> None:
    path = put(folder / "tank.yml", RECORD + "motor: {stock: can-1220-12v}\n")
    first = load_build(path)[0]
    assert first is not None
    revision = first.revision_hash(1)
    assert len(revision) == 8

    def now() -> str:
        build = load_build(path)[0]
        assert build is not None
        return build.revision_hash(1)

    put(path, "# a comment\nstatus: running\nformat: 1\ntitle:  Marsh tank\nmotor:\r\n  stock: can-1220-12v\n")
    assert now() == revision, "comments, order and layout do not count"
    put(folder / "stock" / "parts.yml", STOCK.replace("1.10", "1.20"))
    assert now() == revision, "stock it does not use does not count"
    assert first.revision_hash(2) != revision
    put(folder / "stock" / "parts.yml", STOCK.replace("9500", "9600"))
    assert now() != revision
    put(folder / "stock" / "parts.yml", STOCK)
    put(path, RECORD.replace("tank", "pug") + "motor: {stock: can-1220-12v}\n")
    assert now() != revision


def test_a_library_keeps_the_good_and_tells_of_the_broken(folder: Path) -> None:
    put(folder / "b-good.yml", RECORD)
    put(folder / "a-good.yml", RECORD)
    put(folder / "worse.yml", RECORD + "modle: 1\n")
    put(folder / "worst.yml", 'title: "x')
    (folder / "folder.yml").mkdir()
    put(folder / "notes.txt", "not a record")
    put(folder / ".hidden.yml", "not a record")
    library = load_library(folder)
    assert [build.slug for build in library.builds] == ["a-good", "b-good"]
    assert list(library.broken) == ["folder", "worse", "worst"]
    assert [broken.title for broken in library.broken.values()] == [None, "Marsh tank", None]
    assert library.broken["worse"].path == folder / "worse.yml"
    assert [str(problem) for problem in library.broken["worse"].problems] == [
        'builds/worse.yml:4:1: unknown key "modle"; did you mean "model"?'
    ]
    assert [problem.split(":")[0] for problem in said(library)] == [
        "builds/folder.yml", "builds/worse.yml", "builds/worst.yml",
    ]


def test_a_title_that_is_no_text_is_no_title(folder: Path) -> None:
    put(folder / "a.yml", "format: 1\ntitle: 7\nstatus: running\n")
    assert load_library(folder).broken["a"].title is None


def test_problems_of_stock_are_told_though_no_record_uses_it(folder: Path) -> None:
    put(folder / "stock" / "bad.yml", "format: 1\nmotors: {small: {nominal_voltage: 12}}\n")
    put(folder / "stock" / "worse.yml", "- a list\n")
    put(folder / "stock" / "worst.yml", "a: [b")
    put(folder / "tank.yml", RECORD)
    library = load_library(folder)
    assert [build.slug for build in library.builds] == ["tank"]
    assert said(library) == [
        'builds/stock/bad.yml:2:35: 12 has no unit; write "12 V"',
        "builds/stock/worse.yml:1:1: key: value lines belong here; start the file with format: 1",
        "builds/stock/worst.yml:1:4: a list in square brackets is not finished; put a comma between items and ] at the end",
    ]


def test_a_record_on_a_broken_stock_part_is_broken_too(folder: Path) -> None:
    put(folder / "stock" / "bad.yml", "format: 1\nmotors: {small: {nominal_voltage: 12}}\n")
    put(folder / "tank.yml", RECORD + "motor: {stock: small}\n")
    library = load_library(folder)
    assert said(library) == ['builds/stock/bad.yml:2:35: 12 has no unit; write "12 V"'], "said once"
    assert list(library.broken) == ["tank"]


def test_names_that_differ_only_in_case_are_one_address(folder: Path) -> None:
    put(folder / "pug.yml", RECORD)
    put(folder / "Pug.yml", RECORD)
    if len([path for path in folder.iterdir() if path.suffix == ".yml"]) < 2:
        pytest.skip("the disk does not tell case apart")
    assert said(load_library(folder)) == [
        'builds/Pug.yml:1:1: the file name "Pug" cannot be an address; use a-z, 0-9 and single hyphens, like pug.yml',
        "builds/pug.yml:1:1: Pug.yml would have the same address; rename or remove one of the two",
    ]


def test_a_file_name_that_no_encoding_holds_is_told_of_as_any_other(folder: Path) -> None:
    try:
        put(folder / os.fsdecode(b"p\xfcg.yml"), RECORD)
        put(folder / "p\ng.yml", RECORD)
    except (OSError, UnicodeError):
        pytest.skip("the disk has no such names")
    library = load_library(folder)
    assert said(library) == [
        "builds/p\ufffdg.yml:1:1: p g.yml would have the same address; rename or remove one of the two",
        'builds/p\ufffdg.yml:1:1: the file name "p\ufffdg" cannot be an address; use a-z, 0-9 and single hyphens, like p-g.yml',
    ]
    assert list(library.broken) == ["p\ufffdg"]


def test_two_files_of_one_slug_are_both_told_of_under_it(folder: Path) -> None:
    put(folder / "pug.yaml", RECORD + "modle: 1\n")
    put(folder / "pug.yml", RECORD)
    library = load_library(folder)
    assert library.builds == []
    assert [problem.file for problem in library.broken["pug"].problems] == ["builds/pug.yaml", "builds/pug.yml"]


def test_a_former_name_that_is_its_own_or_taken(folder: Path) -> None:
    put(folder / "a.yml", RECORD + "formerly: [a, b, c]\n")
    put(folder / "b.yml", RECORD + "formerly: [c]\n")
    assert said(load_library(folder)) == [
        'builds/a.yml:4:12: "a" is taken by a.yml; keep the old name with one sheet only',
        'builds/a.yml:4:15: "b" is taken by b.yml; keep the old name with one sheet only',
        'builds/b.yml:4:12: "c" is taken by a.yml; keep the old name with one sheet only',
    ]


def test_no_folder_and_an_empty_one(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    assert said(load_library(tmp_path / "builds")) == [
        "builds:1:1: no such folder; make it and put one file for each locomotive in it"
    ]
    (tmp_path / "builds").mkdir()
    assert load_library(tmp_path / "builds").problems == []


def test_a_duplicate_key_breaks_a_record_that_would_be_good(folder: Path) -> None:
    build, problems = load_build(put(folder / "a.yml", RECORD + "title: again\n"))
    assert build is None
    assert len(problems) == 1


def test_the_advice_on_a_full_shelf_is_short(folder: Path) -> None:
    names = "".join(f"  part-{index}: {{}}\n" for index in range(12))
    put(folder / "stock" / "parts.yml", "format: 1\nmotors:\n" + names)
    (problem,) = load_build(put(folder / "a.yml", RECORD + "motor: {stock: xyz}\n"))[1]
    assert problem.message.endswith("on the shelf are part-0, part-1, part-2, part-3, part-4, part-5, part-6, part-7, ...")
