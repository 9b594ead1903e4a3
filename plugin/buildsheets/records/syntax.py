"""The parser's complaints, in words for someone who writes a record twice a year."""

from __future__ import annotations

import re

import yaml

# What the parser says (either of its two makes; the first line that fits is used), what to tell the writer, and
# whether the start of the thing it was reading is the better place to point at.
_SAYINGS: tuple[tuple[tuple[str, ...], str, bool], ...] = (
    (
        ("quoted scalar", "escape"),
        "a backslash in double quotes starts a special character; use single quotes, as in 'C:\\pictures'",
        False,
    ),
    (("quoted scalar",), "a quote opens here and never closes; close it, or leave both quotes out", True),
    (
        ("could not find expected ':'",),
        "a line without a colon; write key: value, with a space after the colon",
        True,
    ),
    (("found a tab",), "a tab indents this line; use spaces", False),
    (("node content",), "nothing stands where a value belongs; take the extra comma out or close the bracket", False),
    (
        ("flow sequence",),
        "a list in square brackets is not finished; put a comma between items and ] at the end",
        True,
    ),
    (
        ("flow mapping",),
        "a group in curly brackets is not finished; put a comma between entries and } at the end",
        True,
    ),
    (
        ("sequence entries are not allowed",),
        'a "-" where no list item belongs; put it on a line of its own, under its key',
        False,
    ),
    (
        ("block collection",),
        'this line does not line up with the list above; start it with "- " in the same column',
        False,
    ),
    (
        ("block scalar",),
        'text stands beside "|" or ">", or is indented unevenly; start it on the next line, two spaces in',
        False,
    ),
    (("nesting",), "brackets are nested too deep; check that each one is closed", False),
    (("alias",), 'a value that begins with "*" needs quotes; write it like "*text"', True),
    (("anchor",), 'a value that begins with "&" needs quotes; write it like "&text"', True),
    (("tag",), 'a value that begins with "!" needs quotes; write it like "!text"', True),
    (("directive",), 'a line that begins with "%" needs quotes; write it like "%text"', True),
    (
        ("document start",),
        "nothing can follow here; write the record as key: value lines, all starting in column 1",
        False,
    ),
)
_BAD_START = {
    "\t": "a tab indents this line; use spaces",
    "@": 'a value cannot begin with "@"; put it in quotes, like "@text"',
    "`": 'a value cannot begin with "`"; put it in quotes, like "`text"',
    "%": 'a value cannot begin with "%"; put it in quotes, like "%text"',
}
_SECOND_COLON = 'a second colon in one line; put text that has a colon in quotes, as in title: "Tank: as built"'
_INDENTED = (
    "this line is indented under one that already has a value, or the line above lacks its colon and space; "
    "start it in the same column as its neighbours"
)
_MISALIGNED = "this line does not line up with the keys above; start it in the same column"
_AFTER_QUOTE = "text follows a value that is already closed; put the whole value inside one pair of quotes"


def plain_words(error: yaml.MarkedYAMLError, text: str) -> tuple[int, int, str]:
    """Return line and column, from one, and the message for a syntax error in this text."""
    mark = error.problem_mark or error.context_mark
    if mark is None:
        return 1, 1, "this cannot be read as YAML; write key: value lines"
    said = f"{error.context or ''}: {error.problem or ''}".lower()
    line = _line(text, mark)
    if "cannot start any token" in said and line[mark.column : mark.column + 1] in _BAD_START:
        return _place(mark, _BAD_START[line[mark.column]])
    if "mapping values are not allowed" in said:
        return _stray_colon(mark, line)
    for words, message, at_beginning in _SAYINGS:
        if all(word in said for word in words):
            return _place((error.context_mark if at_beginning else None) or mark, message)
    if "block mapping" in said:
        return _place(mark, _AFTER_QUOTE if line[: mark.column].strip() else _MISALIGNED)
    return _place(mark, "this cannot be read as YAML; check indentation, colons and quotes")


def _stray_colon(mark: yaml.Mark, line: str) -> tuple[int, int, str]:
    before = line[: mark.column]
    if ": " in before or before.lstrip().startswith("- "):
        return _place(mark, _SECOND_COLON)
    return mark.line + 1, len(before) - len(before.lstrip()) + 1, _INDENTED


def _place(mark: yaml.Mark, message: str) -> tuple[int, int, str]:
    return mark.line + 1, mark.column + 1, message


def _line(text: str, mark: yaml.Mark) -> str:
    lines = re.split(r"\r\n|\r|\n", text)
    return lines[mark.line] if mark.line < len(lines) else ""
