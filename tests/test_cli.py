"""The command line, as a member types it."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from buildsheets.cli import commands

ROOT = Path(__file__).resolve().parents[1]

RECORD = """\
format: 1
title: Branch tank
status: running
model: {scale: OO, driving_wheel: 20.3 mm}
gear_train: {stages: [{driver: 11, driven: 38}, {worm: 1, driven: 24}]}
motor: {nominal_voltage: 12 V, no_load_speed: 9500 rpm, no_load_current: 55 mA, stall_current: 0.9 A}
supply: {track: 14.5 V}
dropper: {resistor: {resistance: 47 ohm, rating: 0.5 W}}
"""


def run(*words: object) -> Result:
    return CliRunner().invoke(commands, [str(word) for word in words])


@pytest.fixture
def builds(tmp_path: Path) -> Path:
    folder = tmp_path / "builds"
    folder.mkdir()
    (folder / "branch-tank.yml").write_text(RECORD, encoding="utf-8")
    return folder


def test_check_is_silent_about_good_records(builds: Path) -> None:
    result = run("check", builds)
    assert (result.exit_code, result.output) == (0, "no problems in 1 file\n")


def test_check_names_every_problem_with_its_place(builds: Path) -> None:
    broken = "format: 1\ntitle: Coal tank\nstatus: runing\nmodel: {mass: 200}\n"
    (builds / "coal-tank.yml").write_text(broken, encoding="utf-8")
    result = run("check", builds)
    lines = result.output.splitlines()
    assert result.exit_code == 1
    assert "coal-tank.yml:3:9: " in lines[0]
    assert "coal-tank.yml:4:15: " in lines[1]
    assert lines[-1].startswith("2 problems")


def test_check_of_one_file_leaves_its_neighbours_alone(builds: Path) -> None:
    (builds / "coal-tank.yml").write_text("format: 1\ntitle: Coal tank\nstatus: runing\n", encoding="utf-8")
    assert run("check", builds / "branch-tank.yml").exit_code == 0
    assert run("check", builds / "coal-tank.yml").exit_code == 1


def test_check_starts_without_the_heavy_libraries(builds: Path) -> None:
    code = """
import sys
from buildsheets.cli import commands
try:
    commands(["check", sys.argv[1]])
finally:
    print(sorted({"numpy", "matplotlib", "scipy", "pint", "jinja2"} & set(sys.modules)))
"""
    environment = {**os.environ, "PYTHONPATH": str(ROOT / "plugin")}
    command = [sys.executable, "-c", code, str(builds)]
    done = subprocess.run(command, capture_output=True, text=True, env=environment, check=True)
    assert done.stdout.splitlines()[-1] == "[]"


@pytest.mark.parametrize(
    "words", [["check", "nowhere"], ["figures", "nowhere.yml"], ["pages", "out", "--builds", "nowhere"]]
)
def test_a_path_that_is_not_there_is_one_line(words: list[str]) -> None:
    result = run(*words)
    assert result.exit_code == 2
    assert "does not exist" in result.output


@pytest.mark.parametrize("content", [b"", b"\xff\xfe\x00", b"- a list\n", b"{", b"a: &a [*a]\n"])
def test_rubbish_is_a_problem_and_never_a_traceback(builds: Path, content: bytes) -> None:
    (builds / "rubbish.yml").write_bytes(content)
    for result in (run("check", builds), run("figures", builds / "rubbish.yml")):
        assert result.exit_code == 1
        assert result.exception is None or isinstance(result.exception, SystemExit)
        assert "rubbish.yml" in result.output


def test_figures_are_the_json_of_the_record(builds: Path) -> None:
    result = run("figures", builds / "branch-tank.yml", "--json")
    assert result.exit_code == 0
    assert json.loads(result.output)["gearing"]["ratio"] == pytest.approx(38 / 11 * 24, rel=1e-6)  # by hand


def test_figures_in_words_begin_with_the_title(builds: Path) -> None:
    result = run("figures", builds / "branch-tank.yml")
    assert result.exit_code == 0
    assert result.output.startswith("Branch tank\n")
    assert "mph" in result.output


def test_figures_take_a_run_length_with_a_unit(builds: Path) -> None:
    result = run("figures", builds / "branch-tank.yml", "--json", "--run-length", "36 in")
    assert json.loads(result.output)["run_length_m"] == pytest.approx(0.9144)  # the inch is 25.4 mm exactly
    assert run("figures", builds / "branch-tank.yml", "--run-length", "3 V").exit_code == 2


@pytest.mark.parametrize("option", [[], ["--stock"]])
def test_schema_is_a_valid_schema(option: list[str]) -> None:
    from jsonschema import Draft202012Validator

    Draft202012Validator.check_schema(json.loads(run("schema", *option).output))


def test_a_new_record_passes_its_own_check(tmp_path: Path) -> None:
    file = tmp_path / "builds" / "branch-tank.yml"
    assert run("new", file, "--title", 'The "branch": tank # 2', "--scale", "OO").exit_code == 0
    assert run("check", file).output == "no problems in 1 file\n"
    assert run("figures", file).output.startswith('The "branch": tank # 2\n')


def test_new_leaves_an_existing_file_alone(builds: Path) -> None:
    result = run("new", builds / "branch-tank.yml", "--title", "Other", "--scale", "N")
    assert result.exit_code == 1
    assert (builds / "branch-tank.yml").read_text(encoding="utf-8") == RECORD


def test_help_shows_each_command_in_use() -> None:
    for command in commands.commands:
        assert f"buildsheets {command}" in run(command, "--help").output


def test_pages_are_plain_files_that_the_bare_generator_publishes(builds: Path, tmp_path: Path) -> None:
    docs = tmp_path / "docs"
    assert run("pages", docs, "--builds", builds).exit_code == 0
    (tmp_path / "mkdocs.yml").write_text("site_name: Bare\ntheme: mkdocs\nplugins: []\n", encoding="utf-8")
    subprocess.run([sys.executable, "-m", "mkdocs", "build", "--strict", "-q"], cwd=tmp_path, check=True,
                   env={**os.environ, "NO_MKDOCS_2_WARNING": "1"})
    page = (tmp_path / "site/branch-tank/index.html").read_text(encoding="utf-8")
    assert "<!--sheet-body-->" not in page
    assert "&lt;svg" not in page
    assert page.count("<svg") > 1
    assert json.loads((tmp_path / "site/branch-tank/figures.json").read_bytes())["slug"] == "branch-tank"
    assert list((tmp_path / "site/branch-tank").glob("*.svg"))


PARTS = """\
format: 1
title: {title}
status: planned
{currency}
parts:
  - {{name: resistor, stock: film-47r, quantity: 2}}
  - {{name: "@tape"}}
  - {{name: shim, unit_price: "0.40", quantity: 3}}
"""
SHELF = 'format: 1\nresistors:\n  film-47r: {resistance: 47 ohm, rating: 0.5 W, unit_price: "0.10"}\n'


@pytest.fixture
def wanting(builds: Path) -> list[Path]:
    (builds / "stock").mkdir()
    (builds / "stock" / "passives.yml").write_text(SHELF, encoding="utf-8")
    for name, currency in (("one", "currency: EUR"), ("two", "")):
        (builds / f"{name}.yml").write_text(PARTS.format(title=name.title(), currency=currency), encoding="utf-8")
    return [builds / "one.yml", builds / "two.yml"]


def test_shopping_sums_the_parts_of_some_records(wanting: list[Path]) -> None:
    lines = run("shopping", *wanting, "--currency", "EUR").output.replace("\u202f", " ").splitlines()
    assert lines[0].split() == ["4", "×", "resistor", "0.40", "EUR"]
    assert "total  2.80 EUR" in lines  # 4 x 0.10 + 6 x 0.40, by hand
    assert "without a price: 1 of 3" in lines
    assert lines[-1] == "resistors E6, 0.50 W: 4 × 47.0 Ω"


def test_shopping_keeps_currencies_apart(wanting: list[Path]) -> None:
    lines = run("shopping", *wanting, "--currency", "GBP").output.replace("\u202f", " ").splitlines()
    assert {"total  1.40 EUR", "total  1.40 GBP"} <= set(lines)


def test_shopping_as_a_table_is_what_the_site_publishes(wanting: list[Path], tmp_path: Path) -> None:
    assert run("pages", tmp_path / "out", "--builds", wanting[0].parent).exit_code == 0
    published = (tmp_path / "out" / "one" / "shopping.csv").read_text(encoding="utf-8")
    assert run("shopping", wanting[0], wanting[0], "--csv").output == published  # named twice is wanted once
    assert "'@tape" in published


def test_shopping_of_a_broken_record_says_what_is_wrong(builds: Path) -> None:
    (builds / "coal.yml").write_text("format: 1\ntitle: x\nstatus: runing\n", encoding="utf-8")
    result = run("shopping", builds / "coal.yml")
    assert result.exit_code == 1
    assert "coal.yml:3:9" in result.output
    assert run("shopping", builds / "branch-tank.yml").output == "nothing to buy\n"
