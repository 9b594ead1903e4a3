"""The theme's templates, compiled before they are wanted."""

from __future__ import annotations

from pathlib import Path

import pytest
from jinja2 import DictLoader, Environment

from buildsheets.cache import Cache
from buildsheets.templates import CompiledTemplates, compile_ahead

PAGES = {
    "main.html": "{% include 'partials/head.html' %}{{ words | upper }}",
    "partials/head.html": "Head. ",
    "partials/languages/xx.html": "one of dozens",
    "blog.html": "{{ words | unheard_of }}",
    "sitemap.xml": "not a page",
}


def test_what_pages_are_put_together_from_is_compiled_and_the_rest_left(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    cache = Cache(tmp_path)
    compile_ahead(Environment(loader=DictLoader(PAGES)), cache)
    later = Environment(loader=DictLoader(PAGES), bytecode_cache=CompiledTemplates(cache))
    compiled: list[str] = []

    def noting(source: str, name: str | None = None, *more: object) -> object:
        compiled.append(str(name))
        return original(source, name, *more)  # type: ignore[call-overload]

    original = later.compile
    monkeypatch.setattr(later, "compile", noting)
    assert later.get_template("main.html").render(words="told") == "Head. TOLD"
    assert compiled == []
    assert later.get_template("partials/languages/xx.html").render() == "one of dozens"
    assert compiled == ["partials/languages/xx.html"]
