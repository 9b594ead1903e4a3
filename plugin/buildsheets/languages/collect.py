"""All words that can be translated, gathered from templates and source: ``python -m buildsheets.languages.collect``.

It writes ``messages.pot`` and brings the PO files up to date, ours and those named as arguments. Words that have changed
lose their translation; nothing is guessed.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from enum import EnumType, StrEnum
from io import BytesIO
from pathlib import Path

from babel.messages.catalog import Catalog
from babel.messages.extract import extract
from babel.messages.pofile import read_po, write_po

from buildsheets.languages.catalogue import ENDING, HOME
from buildsheets.languages.patterns import sentences_of
from buildsheets.physics.cvs import CONFIGURATION_BITS, STANDARD_CVS
from buildsheets.records import models

PACKAGE = HOME.parent
POT = HOME / "messages.pot"
KEYWORDS: dict[str, object] = {"_": None, "gettext": None, "ngettext": (1, 2), "plural": (1, 2), "noted": None}
JINJA = {"trimmed": "true", "newstyle_gettext": "true", "silent": "false", "trim_blocks": "true", "lstrip_blocks": "true"}
FINISHED_SENTENCES = ("figures/**/*.py", "sheet/gains.py")
"""Modules whose sentences come out whole, with their values in them."""
NO_SENTENCES = ("__init__.py", "format.py", "writing.py")
_HEADER = """\
# All words of Buildsheets that can be translated; made by `python -m buildsheets.languages.collect`, not by hand.
msgid ""
msgstr ""
"MIME-Version: 1.0\\n"
"Content-Type: text/plain; charset=utf-8\\n"
"Content-Transfer-Encoding: 8bit\\n"

"""


def fixed_words() -> Iterator[tuple[str, str | tuple[str, ...]]]:
    """Yield file, below the package, and words of templates and of the source that renders."""
    for path in sorted(PACKAGE.rglob("*.jinja")):
        yield from _extracted("jinja2.ext:babel_extract", path, JINJA)
    for path in sorted(PACKAGE.rglob("*.py")):
        if path.parent != HOME:
            yield from _extracted("python", path, {})


def _extracted(method: str, path: Path, options: dict[str, str]) -> Iterator[tuple[str, str | tuple[str, ...]]]:
    place = path.relative_to(PACKAGE).as_posix()
    with path.open("rb") as file:
        for _, words, _, _ in extract(_method(method), file, KEYWORDS, (), options):  # type: ignore[arg-type]
            yield place, words


def _method(name: str) -> object:
    if name == "python":
        return name
    from jinja2.ext import babel_extract

    return babel_extract


def sentences() -> Iterator[tuple[str, str]]:
    """Yield file and sentence of all that comes out of the calculation with its values in it."""
    for places in FINISHED_SENTENCES:
        for path in sorted(PACKAGE.glob(places)):
            if path.name not in NO_SENTENCES:
                for _, text in sentences_of(path):
                    yield path.relative_to(PACKAGE).as_posix(), text


SINGLE_WORDS = (
    "mesh", "start", "decoder", "winding", "haulage", "readings", "feedback", "fit", "gearing", "efficiency", "grade", "heat",
    "twitches", "cool enough", "warm", "hot", "too hot", "nothing", "much", "little", "beaten", "average", "standard", "computed", "assumed",
    "definition", "geometry", "ok", "note", "caution", "stop", "together", "with settings", "not together", "on", "off",
    "red", "black", "orange", "grey", "white", "blue", "yellow", "green", "violet", "purple", "brown", "pink",
    "Motors", "Decoders", "Resistors", "Diodes", "Capacitors", "Speakers", "Materials", "Leds", "Gears", "Wheels",
    "spur {0}", "worm {0}", "idler {0}", "CV{0} at {1}", "stage {0}", "loudspeaker", "charge store", "loco", "tender",
    "sound (heard)", "rejected", "undecided", "kept", "before", "rear", "front", "gold", "silver", "1 in {0}",
    "Stage {0}, {1} on {2} teeth: {3}, {4}.", "Stage {0}, {1} on {2} teeth at centres made for {3}: {4}, {5}.", "{0} = {1}: {2}",
    "{0}: {1}", "does not carry", "marginal",
    "series", "parallel", "left", "right", "free", "row", "block", "square", "circle", "right rail", "left rail",
    "resistor", "dropper", "{0}, before", "ohm", "value not known",
)
"""Words of figures and stock that no rule tells from names of keys."""


def words_of_the_record() -> Iterator[tuple[str, str]]:
    """Yield file and word of all that a record says by choosing from a list, and other single words; sheets print those too."""
    for _, choice in sorted(vars(models).items()):
        if isinstance(choice, EnumType) and issubclass(choice, StrEnum) and choice.__module__ == models.__name__:
            yield from (("records/models.py", str(word)) for word in choice)
    yield from (("figures", word) for word in SINGLE_WORDS)
    yield from (("physics/cvs.py", name) for name in dict.fromkeys(cv.name for cv in STANDARD_CVS))
    yield from (("physics/cvs.py", words) for _weight, *meanings in CONFIGURATION_BITS for words in meanings)


def collected() -> Catalog:
    """Return the catalogue of all words, without translations."""
    catalogue = Catalog(fuzzy=False)
    for place, words in (*fixed_words(), *words_of_the_record(), *sentences()):
        catalogue.add(words, locations=[(place, 0)])
    return catalogue


def pot(catalogue: Catalog) -> bytes:
    """Return the template for translators; the same words give the same bytes.

    Parameters
    ----------
    catalogue : Catalog
        From `collected`.
    """
    out = BytesIO()
    write_po(out, catalogue, width=0, omit_header=True, include_lineno=False)
    return _HEADER.encode("utf-8") + out.getvalue()


def brought_up_to_date(data: bytes, catalogue: Catalog) -> bytes:
    """Return a PO file with all words of the catalogue, keeping the translations of those that are unchanged.

    Parameters
    ----------
    data : bytes
        The PO file.
    catalogue : Catalog
        From `collected`.
    """
    old = read_po(BytesIO(data))
    stamp = old.creation_date
    old.update(catalogue, no_fuzzy_matching=True)
    old.obsolete.clear()
    old.creation_date = stamp  # else every run would change the file
    out = BytesIO()
    write_po(out, old, width=0, include_lineno=False)
    return out.getvalue()


def main(arguments: list[str]) -> None:
    """Write the template and all PO files anew.

    Parameters
    ----------
    arguments : list of str
        Paths of further PO files.
    """
    absent = [name for name in arguments if not Path(name).is_file()]
    if absent:
        sys.exit(f"no such file: {', '.join(absent)}; give PO files to bring up to date, or nothing")
    catalogue = collected()
    POT.write_bytes(pot(catalogue))
    for path in (*sorted(HOME.glob(f"*{ENDING}")), *map(Path, arguments)):
        path.write_bytes(brought_up_to_date(path.read_bytes(), catalogue))


if __name__ == "__main__":
    main(sys.argv[1:])
