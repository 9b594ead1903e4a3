"""A complaint about an option says where it stands, by whichever of the two ways it is found."""

from __future__ import annotations

import logging
from pathlib import Path

import pytest
from club import Project  # type: ignore[import-not-found]
from mkdocs.exceptions import Abort

from buildsheets.option_places import option_mark

CONFIG = """\
site_name: Test line
theme: {name: mkdocs}
plugins:
  - search
  - buildsheets:
      builds: builds
      paper: A4
      ways:
        speed: 3
        start: 1
nav: [index.md]
"""


@pytest.fixture
def config(tmp_path: Path) -> Path:
    path = tmp_path / "mkdocs.yml"
    path.write_text(CONFIG, encoding="utf-8")
    return path


def placed(path: Path, text: str) -> str:
    """Return the place of a text in a file, counted here by the lines before it."""
    before = path.read_text(encoding="utf-8").partition(text)[0]
    return f"{path.name}:{before.count(chr(10)) + 1}:{len(before.rpartition(chr(10))[2]) + 1}"


@pytest.mark.parametrize(
    ("option", "text"),
    [(["paper"], "A4"), (["ways", "start"], "1\nnav"), (["ways"], "speed: 3"), (["ways", "odd"], "speed: 3"), (["logo"], "builds: builds")],
)
def test_an_option_is_found_or_what_is_around_it(config: Path, option: list[str], text: str) -> None:
    assert ":".join(map(str, option_mark(str(config), option))) == placed(config, text)


@pytest.mark.parametrize(
    ("plugins", "text"),
    [
        ("plugins:\n  buildsheets:\n    paper: A4\n", "A4"),
        ("plugins: [search, buildsheets]\n", "buildsheets"),
        ("plugins: {search: {}, buildsheets: }\n", "buildsheets"),
        ("plugins: &p [!ENV X, {buildsheets: {paper: A4}}]\nx: !!python/name:none.at_all\n", "A4"),
        ("plugins: [search]\n", "[search]"),
        ("x: 1\n", "x"),
    ],
)
def test_every_way_to_write_plugins(config: Path, plugins: str, text: str) -> None:
    config.write_text(plugins, encoding="utf-8")
    assert ":".join(map(str, option_mark(str(config), ["paper"]))) == (placed(config, text) if "plugins" in plugins else "mkdocs.yml:1:1")


@pytest.mark.parametrize("text", ["a: [", "\t", "{[: ", ""])
def test_what_cannot_be_read_has_its_beginning(config: Path, text: str) -> None:
    config.write_text(text, encoding="utf-8")
    assert tuple(option_mark(str(config), ["paper"])) == ("mkdocs.yml", 1, 1)
    assert tuple(option_mark(str(config.parent / "none.yml"), ["paper"])) == ("none.yml", 1, 1)


@pytest.mark.parametrize(
    ("options", "value"),
    [("paper: A1", "A1"), ("pdf: maybe", "maybe"), ("cache: [1]", "[1]"), ("builds: nowhere", "nowhere")],
)
def test_a_value_of_the_wrong_type_is_told_with_its_place(project: Project, caplog: pytest.LogCaptureFixture, options: str, value: str) -> None:
    path = write(project, options)
    with pytest.raises(Abort), caplog.at_level(logging.ERROR, "mkdocs"):
        project.build()
    assert f": {placed(path, value)}: " in caplog.text


@pytest.mark.parametrize(
    ("options", "value"),
    [
        ("run_length: 3 volts", "3 volts"),
        ("ways: {speed: -1}", "{speed"), ("language: xx", "xx"), ("logo: none.svg", "none.svg"),
        ("cache: docs", "docs}"),
        ('cache: "\\0"', '"\\0"'),
    ],
)
def test_a_value_that_means_nothing_is_told_with_its_place(project: Project, options: str, value: str) -> None:
    path = write(project, options)
    with pytest.raises(Abort) as stopped:
        project.build()
    assert str(stopped.value.__context__).startswith(f"{placed(path, value)}: buildsheets: ")


def test_a_name_that_is_no_option_is_told_with_its_place_and_does_no_harm(project: Project, caplog: pytest.LogCaptureFixture) -> None:
    path = write(project, "bilds: x, 1: y")
    with caplog.at_level(logging.WARNING, "mkdocs"):
        project.build(strict=False)
    assert f"{placed(path, 'x, 1')}: Unrecognised configuration name: bilds" in caplog.text


def write(project: Project, options: str) -> Path:
    """Ask for options and return the file they stand in."""
    path: Path = project.folder / "mkdocs.yml"
    project.write("mkdocs.yml", path.read_text(encoding="utf-8").replace("buildsheets]", f"{{buildsheets: {{{options}}}}}]"))
    return path
