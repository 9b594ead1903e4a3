"""The template environment of sheets and library pages: escaped always, strict about names."""

from __future__ import annotations

from functools import cache

from jinja2 import ChoiceLoader, Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from buildsheets import numerals
from buildsheets.languages import plural, translated
from buildsheets.sheet.gains import would_give
from buildsheets.sheet.told import said, sentence, translated_as

SHARED = "sheet/templates"  # the level words and their shapes are the same on every page


@cache
def template_environment(folder: str) -> Environment:
    """Return the environment whose templates lie in a folder of this package.

    Parameters
    ----------
    folder : str
        Path inside the package, with forward slashes: "sheet/templates".
    """
    environment = Environment(
        loader=ChoiceLoader([PackageLoader("buildsheets", folder), PackageLoader("buildsheets", SHARED)]),
        autoescape=True,
        undefined=StrictUndefined,
        auto_reload=False,  # they change with the program only; looking at every file of every sheet costs as much as a section
        trim_blocks=True,
        lstrip_blocks=True,
        extensions=["jinja2.ext.i18n"],
    )
    # the language is looked up at each word, so that one environment serves all
    environment.install_gettext_callables(translated, plural, newstyle=True)  # type: ignore[attr-defined]
    environment.globals.update(gettext=_worded, _=_worded)
    environment.policies["ext.i18n.trimmed"] = True
    environment.filters.update(
        number=numerals.number,
        given=numerals.given,
        quantity=numerals.quantity,
        engineering=numerals.engineering,
        band=numerals.band,
        window=numerals.window,
        speed=numerals.speed,
        speed_band=numerals.speed_band,
        money=numerals.money,
        percent=numerals.percent,
        would_give=would_give,
        word=translated,
        said=said,
        sentence=sentence,
        translated_as=translated_as,
    )
    return environment


def _worded(text: str, /, **variables: object) -> Markup:
    """Translate fixed words of a template, as the library's own function would, which looks them up in the context each time."""
    words = _markup(translated(text))
    return words % variables if variables or "%" in words else words


_markup = cache(Markup)
