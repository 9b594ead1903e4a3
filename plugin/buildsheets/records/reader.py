"""Text of a record to plain data, with the place of every key and value.

Scalars are read as YAML 1.2 has them and editors show them: true and false, null, plain decimal integers, and
all else is text, so that `1:48` is no number in base sixty and `NO` is a word. The data is built from parser
events, which lets the reader refuse at once what a record has no use for: anchors, aliases, tags, second
documents, and nesting or size beyond reason.
"""

from __future__ import annotations

import re
import stat
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import yaml

from buildsheets.records.problems import Mark, Problem, problem_at
from buildsheets.records.syntax import plain_words

LOADER: Any = getattr(yaml, "CLoader", yaml.Loader)  # the same events from C, twelve times as fast
LARGEST_FILE = 2_000_000  # bytes
DEEPEST = 30
MOST_NODES = 50_000

Location = tuple[str | int, ...]

_INTEGER = re.compile(r"0|-?[1-9][0-9]{0,17}")
_WORDS: dict[str, bool | None] = (
    dict.fromkeys(("", "~", "null", "Null", "NULL"))
    | dict.fromkeys(("true", "True", "TRUE"), True)
    | dict.fromkeys(("false", "False", "FALSE"), False)
)
# Control characters, and the line separators an editor does not count as line ends; named one by one, for all others named as
# what is allowed would take ten times as long to compile, in each run.
_UNPRINTABLE = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u2028\u2029\ud800-\udfff\ufeff\ufffe\uffff]")


@dataclass
class Document:
    """What a file held: plain data, and where each value and each key stands."""

    file: str
    data: Any = None
    values: dict[Location, Mark] = field(default_factory=dict)
    keys: dict[Location, Mark] = field(default_factory=dict)

    def mark(self, location: Location) -> Mark:
        """Return the place of the value, or of the nearest thing around it that stands in the file."""
        for end in range(len(location), -1, -1):
            if location[:end] in self.values:
                return self.values[location[:end]]
        return Mark(self.file, 1, 1)

    def key_mark(self, location: Location) -> Mark:
        """Return the place of the key, or of the value where there is no key."""
        return self.keys.get(location) or self.mark(location)


class _RefusedError(Exception):
    """The file cannot be read any further."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem


def read_file(path: Path, shown: str) -> tuple[Document | None, list[Problem]]:
    """Read one file.

    Parameters
    ----------
    path : Path
        The file; anything that is not a plain readable file becomes a problem.
    shown : str
        Its name as problems print it.

    Returns
    -------
    document : Document or None
        None if nothing could be made of it.
    problems : list of Problem
        Empty if all is well.
    """
    start = Mark(shown, 1, 1)
    try:
        kind = path.stat()
        if not stat.S_ISREG(kind.st_mode):
            return None, [problem_at(start, "this is not a file; put a record's text file here or take it away")]
        if kind.st_size > LARGEST_FILE:
            return None, [_too_large(start)]
        return read_bytes(path.read_bytes(), shown)
    except FileNotFoundError:
        return None, [problem_at(start, "no such file; check the name, or the link that leads here")]
    except OSError as error:
        reason = error.strerror or "it cannot be read"
        return None, [problem_at(start, f"the file cannot be opened ({reason}); check its permissions")]


def read_bytes(raw: bytes, shown: str) -> tuple[Document | None, list[Problem]]:
    """Read the bytes of one file; see `read_file`."""
    if len(raw) > LARGEST_FILE:
        return None, [_too_large(Mark(shown, 1, 1))]
    if raw[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return None, [problem_at(Mark(shown, 1, 1), "the file is saved as UTF-16; save it as UTF-8")]
    try:
        return read_text(raw.decode("utf-8"), shown)
    except UnicodeDecodeError as error:
        before = raw[: error.start].decode("utf-8")
        place = _place_after(before, shown)
        return None, [problem_at(place, f"byte 0x{raw[error.start]:02x} is not UTF-8; save the file as UTF-8")]


def read_text(text: str, shown: str) -> tuple[Document | None, list[Problem]]:
    """Read the text of one file; see `read_file`."""
    text = text.removeprefix("\ufeff")
    strange = _UNPRINTABLE.search(text)
    if strange:
        return None, [_strange_character(strange.group(), _place_after(text[: strange.start()], shown))]
    builder = _Builder(Document(shown))
    try:
        builder.build(yaml.parse(text, Loader=LOADER))
    except _RefusedError as refusal:
        return None, [*builder.problems, refusal.problem]
    except yaml.MarkedYAMLError as error:
        line, column, message = plain_words(error, text)
        return None, [*builder.problems, problem_at(Mark(shown, line, column), message)]
    except (
        yaml.YAMLError,
        ValueError,
        OverflowError,
    ):  # the pure parser lets some bad escapes through to Python
        message = "a character code in double quotes means nothing; write the character itself"
        return None, [*builder.problems, problem_at(Mark(shown, 1, 1), message)]
    return builder.document, builder.problems


class _Builder:
    """Builds plain data from events, with a place for everything."""

    def __init__(self, document: Document) -> None:
        self.document = document
        self.problems: list[Problem] = []
        self.nodes = 0

    def build(self, events: Iterator[Any]) -> None:
        """Take the one document of the stream."""
        empty = "the file is empty; start it with format: 1"
        documents = 0
        for event in events:
            if isinstance(event, yaml.DocumentStartEvent):
                documents += 1
                if documents > 1:
                    raise self._refusal(
                        event, 'a second document starts here; keep one record a file and take "---" out'
                    )
            elif isinstance(event, yaml.NodeEvent):
                self.document.data = self._node(event, events, ())
        if documents == 0 or self.document.data is None:
            raise _RefusedError(problem_at(Mark(self.document.file, 1, 1), empty))

    def _node(self, event: Any, events: Iterator[Any], location: Location) -> Any:
        self._admit(event, location)
        self.document.values[location] = self._mark(event)
        if isinstance(event, yaml.ScalarEvent):
            return self._scalar(event)
        if isinstance(event, yaml.SequenceStartEvent):
            return self._items(events, location)
        return self._entries(events, location)

    def _admit(self, event: Any, location: Location) -> None:
        """Refuse what a record has no use for before it can grow."""
        self.nodes += 1
        if self.nodes > MOST_NODES:
            raise self._refusal(event, f"more than {MOST_NODES} values in one file; split it")
        if len(location) > DEEPEST:
            raise self._refusal(event, f"nested more than {DEEPEST} deep; check brackets and indentation")
        if isinstance(event, yaml.AliasEvent):
            raise self._refusal(
                event, f'"*{event.anchor}" points elsewhere in the file; write the value out, or in quotes'
            )
        if event.anchor is not None:
            raise self._refusal(
                event, f'"&{event.anchor}" names a value for re-use; take it out and write values in full'
            )
        if event.tag is not None:
            tag = event.tag.replace("tag:yaml.org,2002:", "!!")
            raise self._refusal(event, f'"{tag}" is a YAML tag; take it out, or put the text in quotes')

    def _items(self, events: Iterator[Any], location: Location) -> list[Any]:
        items: list[Any] = []
        for event in events:
            if isinstance(event, yaml.SequenceEndEvent):
                break
            items.append(self._node(event, events, (*location, len(items))))
        return items

    def _entries(self, events: Iterator[Any], location: Location) -> dict[str, Any]:
        entries: dict[str, Any] = {}
        before: tuple[str, Any] | None = None  # the entry before this one: key and event of a plain value
        for event in events:
            if isinstance(event, yaml.MappingEndEvent):
                break
            key = self._key(event, location)
            if before is not None and _is_decimal_comma(before[1], event):
                entries[before[0]] = self._mend_comma(before[1], event)
                self._node(next(events), events, (*location, key))
                before = None
                continue
            inner = (*location, key)
            mark = self._mark(event)
            if key in entries:
                self._complain_twice(key, mark, self.document.keys[inner])
            else:
                self.document.keys[inner] = mark
            held = next(events)
            value = self._node(held, events, inner)
            entries.setdefault(key, value)
            before = (key, held) if isinstance(held, yaml.ScalarEvent) and held.implicit[0] else None
        return entries

    def _mend_comma(self, value: Any, key: Any) -> str:
        """Complain of a decimal comma and return what was meant, so that no second complaint follows from it."""
        number, rest = str(value.value), str(key.value)
        meant = f"{number}{rest}" if "." in number + rest else f"{number}.{rest}"
        place = Mark(self.document.file, value.end_mark.line + 1, value.end_mark.column + 1)
        message = f'"{number},{rest}" has a comma, which ends an entry in brackets; use a decimal point, as in "{meant}"'
        self.problems.append(problem_at(place, message))
        return meant

    def _key(self, event: Any, location: Location) -> str:
        self._admit(event, location)
        if not isinstance(event, yaml.ScalarEvent):
            raise self._refusal(event, "brackets stand where a key belongs; write key: value")
        key = str(event.value)
        if key == "<<" and event.implicit[0]:
            raise self._refusal(event, '"<<" merges another group; write the values in full')
        if not key:
            raise self._refusal(event, "a colon without a key before it; write key: value")
        strange = _UNPRINTABLE.search(key)  # written as an escape in double quotes
        if strange:
            raise _RefusedError(_strange_character(strange.group(), self._mark(event)))
        return key

    def _complain_twice(self, key: str, mark: Mark, first: Mark) -> None:
        self.problems.append(problem_at(mark, f'"{key}" stands twice, first in line {first.line}; keep one of the two'))

    def _scalar(self, event: Any) -> Any:
        text = str(event.value)
        if event.implicit[0]:
            if text in _WORDS:
                return _WORDS[text]
            return int(text) if _INTEGER.fullmatch(text) else text
        strange = _UNPRINTABLE.search(text)
        if strange:
            raise _RefusedError(_strange_character(strange.group(), self._mark(event)))
        return text

    def _mark(self, event: Any) -> Mark:
        return Mark(self.document.file, event.start_mark.line + 1, event.start_mark.column + 1)

    def _refusal(self, event: Any, message: str) -> _RefusedError:
        return _RefusedError(problem_at(self._mark(event), message))


def _is_decimal_comma(value: Any, key: Any) -> bool:
    """Whether these two were one number: `{speed: 12,5 mph}` reads as a speed of 12 and a key `5 mph` without a value."""
    if not key.implicit[0] or value.end_mark.line != key.start_mark.line:
        return False
    between: int = key.start_mark.column - value.end_mark.column
    return between == 1 and bool(re.search(r"[0-9]$", str(value.value)) and re.match(r"[0-9]", str(key.value)))


def _place_after(before: str, shown: str) -> Mark:
    """Place of the character that follows this text."""
    lines = re.split(r"\r\n|\r|\n", before)
    return Mark(shown, len(lines), len(lines[-1]) + 1)


def _too_large(mark: Mark) -> Problem:
    return problem_at(
        mark, f"the file is larger than {LARGEST_FILE // 1_000_000} MB; a record is a few kilobytes of text"
    )


def _strange_character(character: str, mark: Mark) -> Problem:
    return problem_at(mark, f"an invisible character (U+{ord(character):04X}) stands here; delete it")
