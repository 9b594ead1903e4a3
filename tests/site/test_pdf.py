"""PDFs of a finished site: made when asked for, the same for the same record, and never in the way."""

from __future__ import annotations

import logging
from datetime import date
from pathlib import Path

import pytest
from click.testing import CliRunner
from club import Project  # type: ignore[import-not-found]
from playwright.sync_api import Browser
from pypdf import PdfReader

from buildsheets import pdf
from buildsheets.cli import commands

A4, LETTER = (595.3, 841.9), (612.0, 792.0)  # points; ISO 216 and ANSI/ASME Y14.1, computed


def with_pdf(project: Project, more: str = "") -> None:
    config = (project.folder / "mkdocs.yml").read_text(encoding="utf-8")
    project.write("mkdocs.yml", config.replace("buildsheets]", f"{{buildsheets: {{pdf: true{more}}}}}]"))


def size(path: Path) -> tuple[float, float]:
    box = PdfReader(path).pages[0].mediabox
    return float(box.width), float(box.height)


@pytest.mark.browser
def test_a_site_that_asks_gets_a_pdf_beside_each_sheet_and_a_link(project: Project, browser: Browser) -> None:
    with_pdf(project, ", paper: Letter")
    assert project.build(strict=True) == []
    home = project.site / "builds/harbour-tank"
    made = home / "harbour-tank.pdf"
    assert size(made) == pytest.approx(LETTER, abs=1)
    assert "Harbour branch" in PdfReader(made).pages[0].extract_text()
    assert 'href="harbour-tank.pdf"' in (home / "index.html").read_text(encoding="utf-8")
    assert (project.site / "builds/quarry-shunter/quarry-shunter.pdf").is_file()
    assert not list(project.site.rglob("*.print.html"))


@pytest.mark.browser
def test_the_command_prints_a_built_site_and_twice_gives_the_same_bytes(built: Project, browser: Browser) -> None:
    made = built.site / "builds/harbour-tank/harbour-tank.pdf"
    for paper, points in (("Letter", LETTER), ("A4", A4)):
        result = CliRunner().invoke(commands, ["pdf", str(built.site), "--paper", paper])
        assert result.exit_code == 0, result.output
        assert size(made) == pytest.approx(points, abs=1)
    assert "2 PDFs written" in result.output
    first = made.read_bytes()
    [job] = [job for job in pdf.jobs_of(built.site) if job.out == made]
    assert pdf.print_jobs([job], "A4") == []
    assert made.read_bytes() == first
    made.unlink()


@pytest.mark.browser
def test_a_pdf_carries_title_and_day_of_its_record(built: Project, browser: Browser, tmp_path: Path) -> None:
    page = built.site / "builds/harbour-tank/index.html"
    assert pdf.print_jobs([pdf.Job(page, tmp_path / "tank.pdf", "Tank <1>", date(2026, 4, 18))], "A4") == []
    known = PdfReader(tmp_path / "tank.pdf").metadata
    assert known is not None
    assert known.title == "Tank <1>"
    assert known.creation_date is not None
    assert known.creation_date.date() == date(2026, 4, 18)


def test_without_a_browser_the_site_is_built_and_one_note_says_so(
    project: Project, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    with_pdf(project)
    monkeypatch.setattr(pdf.shutil, "which", lambda name: None)
    monkeypatch.delenv(pdf.OWN_NAME, raising=False)
    with caplog.at_level(logging.INFO, logger="mkdocs"):
        assert project.build(strict=True) == []
    notes = [record for record in caplog.records if "without PDFs" in record.getMessage()]
    assert [note.levelname for note in notes] == ["INFO"]
    assert "no Chromium" in notes[0].getMessage()
    page = (project.site / "builds/harbour-tank/index.html").read_text(encoding="utf-8")
    assert ".pdf" not in page
    assert not list(project.site.rglob("*.pdf"))


def test_a_site_that_does_not_ask_never_looks_for_one(project: Project, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object) -> None:
        raise AssertionError("looked for a browser")

    for name in ("find_chromium", "what_lacks", "print_jobs"):
        monkeypatch.setattr(pdf, name, refuse)
    project.build()
    assert not list(project.site.rglob("*.pdf"))


def test_the_command_says_in_one_line_what_lacks(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pdf.shutil, "which", lambda name: None)
    monkeypatch.setenv(pdf.OWN_NAME, str(tmp_path / "nowhere"))
    result = CliRunner().invoke(commands, ["pdf", str(tmp_path)])
    assert result.exit_code == 1
    assert result.output.count("\n") == 1
    assert pdf.OWN_NAME in result.output
    with pytest.raises(RuntimeError, match="no Chromium"):
        pdf.print_jobs([], "A4")


def test_a_missing_library_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pdf, "find_chromium", lambda: "/usr/bin/true")
    monkeypatch.setattr(pdf.importlib.util, "find_spec", lambda name: None)
    assert "pypdf" in (pdf.what_lacks() or "")


def test_a_browser_that_fails_costs_one_sentence_and_leaves_nothing_behind(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    page = tmp_path / "index.html"
    page.write_text("<head></head>", encoding="utf-8")
    monkeypatch.setattr(pdf, "find_chromium", lambda: "/bin/false")
    [sentence] = pdf.print_jobs([pdf.Job(page, tmp_path / "a.pdf", "A", None)], "A4")
    assert "a.pdf was not made" in sentence
    assert [path.name for path in tmp_path.iterdir()] == ["index.html"]


def test_own_browser_is_named_by_the_environment(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    own = tmp_path / "own"
    own.touch()
    monkeypatch.setenv(pdf.OWN_NAME, str(own))
    assert pdf.find_chromium() == str(own)
