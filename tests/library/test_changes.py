"""What a proposed change does to the library."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from buildsheets.cli import commands
from buildsheets.library.changes import Changes, SourceError, changes, told_changes

RECORD = """\
format: 1
title: {title}
status: running
model: {{scale: OO, driving_wheel: 20.3 mm}}
gear_train: {{stages: [{{driver: 11, driven: {driven}}}, {{worm: 1, driven: 24}}]}}
motor: {{stock: can}}
supply: {{track: 14.5 V}}
dropper: {{resistor: {{resistance: 47 ohm, rating: 0.5 W}}}}
"""
STOCK = "format: 1\nmotors:\n  can: {{nominal_voltage: 12 V, no_load_speed: 9500 rpm, no_load_current: 55 mA, stall_current: {stall}}}\n"


def put(folder: Path, title: str, driven: int = 38, extra: str = "") -> None:
    folder.joinpath(f"{title.split(maxsplit=1)[0].lower()}.yml").write_text(RECORD.format(title=title, driven=driven) + extra, encoding="utf-8")


def library(folder: Path, stall: str = "0.9 A") -> Path:
    (folder / "stock").mkdir(parents=True)
    (folder / "stock" / "motors.yml").write_text(STOCK.format(stall=stall), encoding="utf-8")
    return folder


@pytest.fixture
def two(tmp_path: Path) -> tuple[Path, Path]:
    """A library before and after: one sheet of each fate."""
    old, new = library(tmp_path / "old"), library(tmp_path / "new")
    for folder in (old, new):
        put(folder, "Same tank")
    put(old, "Geared tank", 38)
    put(new, "Geared tank", 19)
    put(old, "Noted tank")
    put(new, "Noted tank", extra="notes: Oil the worm.\n")
    put(old, "Gone tank")
    put(new, "Fresh tank")
    put(old, "Torn tank")
    put(new, "Torn tank", extra="pictures: [{file: gone.png, shows: A}]\n")
    return old, new


def run(*words: object) -> Result:
    return CliRunner().invoke(commands, ["changes", *map(str, words)])


def kinds(found: Changes) -> dict[str, str]:
    return {change.slug: change.kind for change in found.listed}


def test_every_fate_of_a_sheet_is_told(two: tuple[Path, Path]) -> None:
    found = changes(*two)
    assert kinds(found) == {"fresh": "new", "geared": "changed", "gone": "removed", "noted": "changed", "torn": "broken"}
    assert found.as_before == 1


def test_figures_go_from_old_to_new(two: tuple[Path, Path]) -> None:
    geared = next(change for change in changes(*two).listed if change.slug == "geared")
    assert geared.before is not None
    assert geared.after is not None
    # half the teeth of the last wheel of the spur pair, the drag of the train left as it is: near twice the speed (common practice)
    assert geared.after["top_scale_mph"] / geared.before["top_scale_mph"] == pytest.approx(2.0, rel=0.05)
    line = next(line for line in told_changes(changes(*two), "plain").splitlines() if line.startswith("changed: geared:"))
    before, after = (f"{geared.before['top_scale_mph']:.3g}", f"{geared.after['top_scale_mph']:.3g}")
    assert f"top speed {before}\u202fmph → {after}\u202fmph" in line


def test_a_change_that_moves_no_figure_is_told_all_the_same(two: tuple[Path, Path]) -> None:
    lines = told_changes(changes(*two), "plain").splitlines()
    assert next(line for line in lines if line.startswith("changed: noted:")).endswith("none of these figures moved")


def test_a_stock_part_changes_the_sheets_that_use_it(tmp_path: Path) -> None:
    old, new = library(tmp_path / "old"), library(tmp_path / "new", "0.5 A")
    for folder in (old, new):
        put(folder, "Same tank")
        (folder / "plain.yml").write_text("format: 1\ntitle: Plain\nstatus: planned\n", encoding="utf-8")
    assert kinds(changes(old, new)) == {"same": "changed"}


def test_published_data_tell_the_same_as_the_records(two: tuple[Path, Path], tmp_path: Path) -> None:
    for name, folder in (("old", two[0]), ("new", two[1])):
        pages = CliRunner().invoke(commands, ["pages", str(tmp_path / "site" / name / "builds"), "--builds", str(folder)])
        assert pages.exit_code == (1 if name == "new" else 0)  # one record is broken
    sites = tmp_path / "site" / "old", tmp_path / "site" / "new"
    found = changes(*sites)
    assert kinds(found) == {"fresh": "new", "geared": "changed", "gone": "removed", "torn": "removed"}  # a note moves no figure
    by_records = {change.slug: change for change in changes(*two).listed}
    for change in found.listed:
        if change.kind != "removed":
            assert (change.before, change.after) == (by_records[change.slug].before, by_records[change.slug].after)
    files = [site / "builds" / "library.json" for site in sites]
    assert changes(*files) == found
    assert kinds(changes(two[0], files[0])) == {}, "records and what was published of them are the same"


def test_the_table_stays_a_table_whatever_a_title_holds(two: tuple[Path, Path]) -> None:
    (two[1] / "fresh.yml").write_text(RECORD.format(title='"A | b <script> `c` [d](http://e.example) *f*"', driven=38), encoding="utf-8")
    (two[1] / "torn.yml").unlink()
    lines = told_changes(changes(*two), "markdown").splitlines()
    rows = [line for line in lines if line.startswith("|")]
    assert {line.replace("\\|", "").count("|") for line in rows} == {8}
    assert "<script>" not in "".join(lines)
    assert "\\[d\\](http" in "".join(lines)


@pytest.mark.parametrize("form", ["plain", "markdown", "json"])
def test_no_change_is_said_to_be_none(two: tuple[Path, Path], form: str) -> None:
    result = run(two[0], two[0], "--format", form)
    assert result.exit_code == 0
    if form == "json":
        assert json.loads(result.output) == {"format": 1, "as_before": 5, "changes": []}
    else:
        assert "No sheet changed; 5 as before." in result.output
        assert "---" not in result.output


def test_speeds_come_in_the_unit_of_the_club(two: tuple[Path, Path]) -> None:
    assert "\u202fkm/h →" in run(*two, "--speed-unit", "km/h").output


@pytest.mark.parametrize("content", ["", "[]", "{}", '{"builds": [1]}', '{"builds": [{}]}', '{"builds": 3}'])
def test_a_file_that_is_no_list_of_a_library_is_one_line(two: tuple[Path, Path], tmp_path: Path, content: str) -> None:
    (tmp_path / "library.json").write_text(content, encoding="utf-8")
    result = run(two[0], tmp_path / "library.json")
    assert result.exit_code == 1
    assert result.output.startswith("Error: ")
    assert len(result.output.splitlines()) == 1


def test_values_of_another_kind_do_not_break_the_list(two: tuple[Path, Path], tmp_path: Path) -> None:
    (tmp_path / "library.json").write_text('{"builds": [{"slug": "same", "top_scale_mph": "fast", "start_step": true}]}', encoding="utf-8")
    assert "fast →" in run(tmp_path / "library.json", two[0]).output


def test_a_folder_without_a_library_is_refused(tmp_path: Path) -> None:
    with pytest.raises(SourceError, match="neither records nor"):
        changes(tmp_path, tmp_path)
