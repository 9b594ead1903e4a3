"""All words that can be translated, gathered from templates and source: ``python -m buildsheets.languages.collect``.

It writes ``messages.pot`` and brings the PO files up to date, ours and those named as arguments. Words that have changed
lose their translation; nothing is guessed.
"""

from __future__ import annotations

import ast
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
from buildsheets.library.part_words import words_of_parts
from buildsheets.physics.cvs import CONFIGURATION_BITS, STANDARD_CVS
from buildsheets.physics.diodes import SCHOTTKY, SILICON
from buildsheets.records import models

PACKAGE = HOME.parent
POT = HOME / "messages.pot"
KEYWORDS: dict[str, tuple[int, ...] | None] = {"_": None, "gettext": None, "ngettext": (1, 2), "plural": (1, 2), "noted": None}
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
        yield from _extracted(path)
    for path in sorted(PACKAGE.rglob("*.py")):
        if path.parent != HOME:
            yield from _called(path)


def _extracted(path: Path) -> Iterator[tuple[str, str | tuple[str, ...]]]:
    from jinja2.ext import babel_extract

    with path.open("rb") as file:
        for _, words, _, _ in extract(babel_extract, file, KEYWORDS, (), JINJA):  # type: ignore[arg-type]
            yield path.relative_to(PACKAGE).as_posix(), words


def _called(path: Path) -> Iterator[tuple[str, str | tuple[str, ...]]]:
    """Yield the words of calls by the syntax tree, which also sees those inside f-strings, whatever Python reads them."""
    calls = [node for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))) if isinstance(node, ast.Call)]
    for call in sorted(calls, key=lambda node: (node.lineno, node.col_offset)):
        if isinstance(call.func, ast.Name) and call.func.id in KEYWORDS:
            given = [part.value for part in call.args if isinstance(part, ast.Constant) and isinstance(part.value, str)]
            count = len(KEYWORDS[call.func.id] or (1,))
            if len(given) >= count:
                yield path.relative_to(PACKAGE).as_posix(), given[0] if count == 1 else tuple(given[:count])


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
    "spur", "worm", "spur {0}", "worm {0}", "idler {0}", "CV{0} at {1}", "stage {0}", "loudspeaker", "charge store", "loco", "tender",
    "sound (heard)", "rejected", "undecided", "kept", "before", "rear", "front", "gold", "silver", "1 in {0}",
    "Stage {0}, {1} on {2} teeth: {3}, {4}.", "Stage {0}, {1} on {2} teeth at centres made for {3}: {4}, {5}.", "{0} = {1}: {2}",
    "{0}: {1}", "does not carry", "marginal",
    "series", "parallel", "left", "right", "free", "row", "block", "square", "circle", "right rail", "left rail",
    "resistor", "dropper", "{0}, before", "ohm", "value not known",
    "slower", "faster", "plastic", "metal", "resin", "stopwatch", "{0} or {1}",
    "{0} bridge rectifier as a dropper", "{0} bridge rectifiers as a dropper", "{0} across",
    "The 1 reading sees {0} of {1} values; for the rest the record's word stands.",
    "The {0} readings see {1} of {2} values; for the rest the record's word stands.",
    "As it stands it runs {0} slower than wanted.", "As it stands it runs {0} faster than wanted.", "Short runs only.", "the pinion is on hand",
    "{0} × {1} ohm {2} W", "{0} × {1} ohm {2} W, {3} in parallel",
    "{0} × {1} ohm", "{0} × resistor", "{0} in parallel", "{0} in parallel.", "{0} in series",
    "Cut feedback off at step {0}, with CV10.", "Cut feedback off at step {0} if the decoder can.",
    "{0} anti-parallel diode pair", "{0} anti-parallel diode pairs",
    "{0} with {1} anti-parallel diode pair", "{0} with {1} anti-parallel diode pairs",
    "{0} and {1}: its size is not known", "{0} and {1}: its shaft of {2} does not suit {3}", "{0} and {1}: it is larger than the cavity",
    "{0} and {1}: it is larger than the present motor, and the cavity is not measured",
    "{0}: its data do not say enough", "{0}: its size is not known", "{0}: it is larger than the cavity",
    "{0}: neither the cavity nor the present motor is measured", "{0}: its shaft of {1} does not suit {2}",
    "{0}: it is larger than the present motor, and the cavity is not measured",
)
"""Words of figures and stock that no rule tells from names of keys."""


def words_of_the_record() -> Iterator[tuple[str, str]]:
    """Yield file and word of all that a record says by choosing from a list, and other single words; sheets print those too."""
    for _, choice in sorted(vars(models).items()):
        if isinstance(choice, EnumType) and issubclass(choice, StrEnum) and choice.__module__ == models.__name__:
            yield from (("records/models.py", str(word)) for word in choice)
    yield from (("figures", word) for word in SINGLE_WORDS)
    yield from (("library/part_words.py", words) for words in words_of_parts())
    yield from (("physics/diodes.py", card.source) for card in (SILICON, SCHOTTKY))
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
