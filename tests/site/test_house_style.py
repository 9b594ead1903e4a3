"""Language, logo and unit as a club writes them in mkdocs.yml."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from club import Project  # type: ignore[import-not-found]
from mkdocs.exceptions import Abort

HEAD = 'msgid ""\nmsgstr ""\n"Language: fr\\n"\n"Content-Type: text/plain; charset=utf-8\\n"\n\n'
LOGO = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 40 20"><path d="M2 18h36"/></svg>\n'


def ask(project: Project, options: str, theme: str = "") -> None:
    """Write a configuration with our options, and the theme's."""
    text = (project.folder / "mkdocs.yml").read_text(encoding="utf-8")
    text = re.sub(r"plugins: .*", f"plugins:\n  - search\n  - buildsheets: {{{options}}}", text)
    project.write("mkdocs.yml", text.replace("font: false", "font: false" + theme))


def page(project: Project, name: str) -> str:
    path: Path = project.site / "builds" / name
    return path.read_text(encoding="utf-8")


def test_a_site_whose_theme_speaks_german_has_german_sheets(project: Project) -> None:
    project.write("docs/pictures/logo.svg", LOGO)
    ask(project, "club: Our club, logo: pictures/logo.svg, speed_unit: km/h", ", language: de")
    assert project.build(strict=True) == []
    sheet, listed, short = page(project, "harbour-tank/index.html"), page(project, "index.html"), page(project, "harbour-tank/short.html")
    assert '<html lang="de"' in sheet
    assert '<html lang="de"' in short
    assert "Ergebnis auf einen Blick" in sheet
    assert "Lokomotiven der Sammlung" in listed
    assert "in Betrieb" in listed
    assert "km/h" in listed
    for text in (sheet, short):
        source = re.search(r'class="bs-logo"><img src="([^"]+)" alt="Our club"', text)
        assert source is not None
        assert (project.site / "builds/harbour-tank" / source[1]).resolve().read_text(encoding="utf-8") == LOGO
    assert "mph" not in re.sub(r"<svg.*?</svg>|<[^>]+>", "", listed, flags=re.DOTALL)


def test_a_clubs_own_words_are_taken_and_every_change_of_them(project: Project) -> None:
    own = 'msgid "Parts and tools"\nmsgstr "{}"\n'
    project.write("words/fr.po", HEAD + own.format("Pièces et outils"))
    ask(project, "language: words/fr.po")
    project.build()
    assert "Pièces et outils" in page(project, "harbour-tank/index.html")
    project.write("words/fr.po", HEAD + own.format("Pièces, outillage"))
    project.build()  # nothing but the words has changed
    assert "Pièces, outillage" in page(project, "harbour-tank/index.html")
    assert "Pièces et outils" not in page(project, "harbour-tank/index.html")


@pytest.mark.parametrize(
    ("options", "words", "complaint"),
    [
        ("language: xx", "", "buildsheets: language: there is no 'xx'"),
        ("language: words/none.po", "", "buildsheets: language: there is no file words/none.po"),
        ("language: words/fr.po", HEAD + 'msgid "page %(page)s"\nmsgstr "page"\n', "the translation of “page %(page)s” lacks %(page)s"),
        ("logo: none.svg", "", "buildsheets: logo: there is no file none.svg"),
    ],
)
def test_what_is_not_there_or_broken_is_told(project: Project, options: str, words: str, complaint: str) -> None:
    if words:
        project.write("words/fr.po", words)
    ask(project, options)
    with pytest.raises(Abort) as stopped:
        project.build()
    assert complaint in str(stopped.value.__context__)
