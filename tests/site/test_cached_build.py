"""A build of which everything is known publishes the same bytes as one that knows nothing, and does not do the work again."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import markdown
import pytest
from club import TANK, Project  # type: ignore[import-not-found]
from jinja2 import Environment, Template
from mkdocs.structure.pages import Page

OURS = {"builds/harbour-tank/index.md", "builds/quarry-shunter/index.md", "builds/index.md", "field-reference.md"}


def bytes_of(site: Path) -> dict[str, bytes]:
    return {path.relative_to(site).as_posix(): path.read_bytes() for path in site.rglob("*") if path.is_file()}


@pytest.fixture
def rendered(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Source names of the pages that go through Markdown."""
    seen: list[str] = []
    real = Page.render

    def render(page: Page, config: object, files: object) -> None:
        seen.append(page.file.src_uri)
        real(page, config, files)  # type: ignore[arg-type]

    monkeypatch.setattr(Page, "render", render)
    return seen


def test_words_templates_and_files_are_taken_from_the_last_time(
    project: Project, rendered: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    assert project.build() == []
    assert set(rendered) > OURS
    first = bytes_of(project.site)
    times = {path: path.stat().st_mtime_ns for path in (project.site / "builds/harbour-tank").iterdir()}
    rendered.clear()
    compiled: list[str | None] = []
    real = Environment.compile

    def compile_(self: Environment, source: str, name: str | None = None, *more: object, **named: object) -> object:
        compiled.append(name)
        return real(self, source, name, *more, **named)  # type: ignore[call-overload]

    monkeypatch.setattr(Environment, "compile", compile_)
    assert project.build() == []
    assert set(rendered).isdisjoint(OURS)
    assert "index.md" in rendered  # the club's own
    assert "main.html" not in compiled
    assert bytes_of(project.site) == first
    stood = [path.name for path, time in times.items() if path.stat().st_mtime_ns == time]
    assert {path.name for path in times} - set(stood) == {"index.html"}


def put_policy(project: Project) -> None:
    configure(project, "[search, buildsheets]", "[search, buildsheets: {content_security_policy: true}]")


def go_offline(project: Project) -> None:
    configure(project, "[search, buildsheets]", "[search, offline, buildsheets]")


def name_files(project: Project) -> None:
    project.configure(directory_urls=False)


def put_the_list_elsewhere(project: Project) -> None:
    configure(project, "[search, buildsheets]", "[search, buildsheets: {index: library/all.md}]")
    for name in ("mkdocs.yml", "docs/index.md"):
        configure(project, "builds/index.md", "library/all.md", name)
    configure(project, "builds/harbour-tank", "library/harbour-tank", "docs/index.md")


def have_files_of_their_own(project: Project) -> None:
    """Beside a sheet, where the generator puts them before any page is written."""
    project.write("docs/builds/harbour-tank/speed.csv", "somebody's own")
    project.write("docs/builds/harbour-tank/club.txt", "somebody's own")


def configure(project: Project, old: str, new: str, name: str = "mkdocs.yml") -> None:
    text = (project.folder / name).read_text(encoding="utf-8")
    assert old in text
    project.write(name, text.replace(old, new))


@pytest.mark.parametrize("set_up", [put_policy, go_offline, name_files, put_the_list_elsewhere, have_files_of_their_own])
def test_whole_pages_are_taken_from_the_last_time(
    project: Project, set_up: Callable[[Project], None], monkeypatch: pytest.MonkeyPatch
) -> None:
    set_up(project)
    assert project.build() == []
    first = bytes_of(project.site)
    framed: list[str] = []
    real = Template.render

    def render(template: Template, *of: object, **named: object) -> str:
        if template.name == "main.html":
            framed.append(dict(*of)["page"].file.src_uri)  # type: ignore[call-overload]
        return real(template, *of, **named)

    monkeypatch.setattr(Template, "render", render)
    assert project.build() == []
    assert bytes_of(project.site) == first
    assert framed == ["index.md"]  # the club's own


def test_a_page_that_somebody_changed_is_made_again(project: Project) -> None:
    project.build()
    before = bytes_of(project.site)
    for name in ("builds/harbour-tank/index.html", "builds/parts/can-1220-12v/index.html", "builds/index.html"):
        path = project.site / name
        status = path.stat()
        path.write_bytes(path.read_bytes().replace(b"bs-sheet", b"bs-sheat"))
        assert path.stat().st_size == status.st_size
    project.build()
    assert bytes_of(project.site) == before


def test_a_change_reaches_the_page_its_files_and_no_other(project: Project, rendered: list[str]) -> None:
    project.build()
    before = bytes_of(project.site)
    rendered.clear()
    project.write("builds/harbour-tank.yml", TANK.replace("quillwort", "bladderwort").replace("47 ohm", "33 ohm"))
    project.build()
    after = bytes_of(project.site)
    assert "builds/harbour-tank/index.md" in rendered
    assert "builds/quarry-shunter/index.md" not in rendered
    assert b"bladderwort" in after["builds/harbour-tank/index.html"]
    for name in ("figures.json", "speed.csv", "index.html"):
        assert after[f"builds/harbour-tank/{name}"] != before[f"builds/harbour-tank/{name}"], name
    assert {name: data for name, data in after.items() if "quarry-shunter" in name} == {
        name: data for name, data in before.items() if "quarry-shunter" in name
    }


def test_what_somebody_did_to_a_published_file_does_not_last(project: Project) -> None:
    project.build()
    before = bytes_of(project.site)
    for name in ("speed.csv", "short.html"):
        (project.site / "builds/harbour-tank" / name).write_bytes(b"something else")
    (project.site / "builds/harbour-tank/stray.txt").write_bytes(b"left behind")
    project.build()
    assert bytes_of(project.site) == before


def test_notes_that_lead_to_another_page_are_converted_each_time(project: Project, rendered: list[str]) -> None:
    """Whether such a link leads anywhere hangs on files that the words do not tell."""
    project.write("builds/harbour-tank.yml", TANK + "  See [the shunter](../quarry-shunter/index.md).\n")
    assert project.build() == []
    rendered.clear()
    (project.builds / "quarry-shunter.yml").unlink()
    warnings = project.build()
    assert "builds/harbour-tank/index.md" in rendered
    assert any("quarry-shunter" in line for line in warnings)


def test_with_an_extension_that_may_do_anything_nothing_is_remembered(
    project: Project, rendered: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    class Shouting(markdown.Extension):
        word = "ONE"

        def extendMarkdown(self, md: markdown.Markdown) -> None:  # noqa: N802 - the library's name
            word = self.word

            class Last(markdown.postprocessors.Postprocessor):
                def run(self, text: str) -> str:
                    return text + f"<p>{word}</p>"

            md.postprocessors.register(Last(md), "shouting", 0)

    monkeypatch.setattr("markdown.extensions.nl2br.Nl2BrExtension", Shouting)
    monkeypatch.setattr("buildsheets.renderings.BUILT_IN", {"toc"})
    text = (project.folder / "mkdocs.yml").read_text(encoding="utf-8").replace("[attr_list,", "[attr_list, nl2br,")
    project.write("mkdocs.yml", text)
    project.build()
    assert "<p>ONE</p>" in (project.site / "builds/harbour-tank/index.html").read_text(encoding="utf-8")
    Shouting.word = "TWO"
    project.build()
    assert "<p>TWO</p>" in (project.site / "builds/harbour-tank/index.html").read_text(encoding="utf-8")
