"""Sentences with places for values: where they stand in the source, and how a finished sentence finds its pattern again.

What the figures say they say in English, with the values already in it. A pattern is such a sentence with "{0}", "{1}" in
place of the values, taken from the source by its syntax tree; a translation holds the same places in any order.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

from buildsheets.languages.numbers import THIN, in_km_per_hour

PLACE = re.compile(r"\{(\d+)\}")
DEEPEST = 7
"""Phrases inside phrases inside a sentence."""
LEAST_LETTERS = 4
"""A pattern with fewer letters of its own fits nearly everything; its values must then be numbers or known phrases."""

JOINING_PARTS = " + "
LONGEST_RUN = 3
"""Of pieces that are looked up as one."""
MOST_PIECES = 8
"""Of a text whose pieces are tried in all runs; a longer list is one of single words."""

_WORD = re.compile(r"[A-Za-zÀ-ÿ]{2,}")
_IN_BRACKETS = re.compile(r"([^()]+) \(([^()]+)\)")
_ENDS_MORE = re.compile(r"[,;] |\.$")
"""In the last value of a pattern: signs that it holds the end of the sentence, or what follows in a list, as well."""
_SENTENCE_END = re.compile(r"(?<=[.!?]) ")
_NO_WORDS = (ast.Compare, ast.Subscript, ast.Raise, ast.Assert, ast.arg, ast.AnnAssign)


def sentences_of(path: Path) -> Iterator[tuple[int, str]]:
    """Yield line and text of the sentences and phrases a module may print.

    Parameters
    ----------
    path : Path
        A Python file.
    """
    tree = ast.parse(path.read_text(encoding="utf-8"))
    yield from _below(tree)


def _below(node: ast.AST) -> Iterator[tuple[int, str]]:
    if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
        return  # a docstring, or a note under a constant
    if isinstance(node, ast.AnnAssign):
        if node.value is not None:
            yield from _below(node.value)
        return
    if isinstance(node, _NO_WORDS):
        return
    if isinstance(node, (ast.FunctionDef, ast.AsyncFunctionDef)):
        for statement in node.body:
            yield from _below(statement)
        return
    text, inner = _pattern(node)
    if text is not None:
        if is_phrase(text):
            yield node.lineno, text  # type: ignore[attr-defined]
        for part in inner:
            yield from _below(part)
        return
    for part in ast.iter_child_nodes(node):
        yield from _below(part)


def _pattern(node: ast.AST) -> tuple[str | None, list[ast.AST]]:
    """Return the pattern of a text in the source and the expressions in its places; None for what is no text."""
    parts = _parts(node)
    if parts is None:
        return None, []
    places = [part for part in parts if not isinstance(part, str)]
    numbers = iter(range(len(places)))
    text = "".join(part if isinstance(part, str) else f"{{{next(numbers)}}}" for part in parts)
    return text, places


def _parts(node: ast.AST) -> list[str | ast.AST] | None:
    """Return literal texts and expressions in their order, sums of texts laid out flat."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        return [node.value]
    if isinstance(node, ast.JoinedStr):
        out: list[str | ast.AST] = []
        for part in node.values:
            out.append(str(part.value) if isinstance(part, ast.Constant) else part)
        return out
    if isinstance(node, ast.BinOp) and isinstance(node.op, ast.Add):
        left, right = _parts(node.left), _parts(node.right)
        if left is None and right is None:
            return None
        return [*(left or [node.left]), *(right or [node.right])]
    return None


def is_phrase(text: str) -> bool:
    """Return whether a text of the source is more than a key, a format or a sign.

    Parameters
    ----------
    text : str
        As found.
    """
    bare = PLACE.sub("", text)
    return bool(_WORD.search(bare)) and (" " in text.strip() or text[:1].isupper()) and "_" not in bare


def places_of(text: str) -> list[str]:
    """Return the places of a pattern, sorted."""
    return sorted(set(PLACE.findall(text)))


@dataclass(frozen=True)
class _Pattern:
    form: re.Pattern[str]
    translation: str
    order: tuple[str, ...]
    letters: int
    first: str  # literal text before the first place
    longest: str  # its longest literal text
    turned: bool  # it ends with a place and its translation does not: what stands behind the value would come before its end


@dataclass(frozen=True)
class _Said:
    """A translation, and how many signs of it stayed as they were given, where they hold words."""

    words: str
    left: int = 0


class Phrasebook:
    """Finds the translation of finished sentences.

    Parameters
    ----------
    messages : mapping of str to str
        Patterns and plain phrases with their translations.
    value : callable
        Returns a number as the language writes it, or None for what is no number.
    """

    def __init__(self, messages: Mapping[str, str], value: Callable[[str], str | None]) -> None:
        self.messages = {text.replace(THIN, " "): words for text, words in messages.items()}
        self.value = value
        for text, words in list(self.messages.items()):  # ends of sentences, which stand alone after a full stop
            self.messages.setdefault(text.strip(), words.strip())
        self._known: dict[tuple[str, int], _Said | None] = {}

    @cached_property
    def _index(self) -> dict[str, list[_Pattern]]:
        """Patterns by their first whole word, those that begin with a place under "", the most telling first."""
        index: dict[str, list[_Pattern]] = {}
        for text, translation in self.messages.items():
            if translation and PLACE.search(text):
                pattern = _compiled(text, translation)
                index.setdefault(_first_word(pattern.first), []).append(pattern)
        for patterns in index.values():
            patterns.sort(key=lambda pattern: (-pattern.letters, len(pattern.order)))
        return index

    def find(self, text: str, unit: str = "mph") -> str | None:
        """Return the translation of a sentence, of several, or of a phrase; None if it has none.

        Parameters
        ----------
        text : str
            Finished English words.
        unit : str
            "mph" or "km/h".
        """
        said = self._find(in_km_per_hour(text) if unit == "km/h" else text, 0)
        return None if said is None else said.words

    def _find(self, text: str, deep: int) -> _Said | None:
        if (text, deep) not in self._known:  # how deep it stands decides how far it is looked into
            self._known[text, deep] = self._found(text, deep)
        return self._known[text, deep]

    def _found(self, text: str, deep: int) -> _Said | None:
        """Try one way after the other until nothing is left as it was; else take the one that leaves the least."""
        exact = self.messages.get(text)
        if exact:
            return _Said(exact)
        number = self.value(text)
        if number is not None:
            return _Said(number)
        if deep >= DEEPEST:
            return None
        return _best(way(text, deep) for way in (self._by_pattern, self._by_sentence, self._by_list, self._as_clause))

    def _as_clause(self, text: str, deep: int) -> _Said | None:
        """Look for words that were made a sentence by a capital and a full stop."""
        if text.endswith("."):
            found = self._find(text[:-1], deep + 1)
            return None if found is None else _Said(found.words + ".", found.left)
        if text[:1].isupper():
            found = self._find(text[:1].lower() + text[1:], deep + 1)
            return None if found is None else _Said(found.words[:1].upper() + found.words[1:], found.left)
        return None

    def _by_pattern(self, text: str, deep: int) -> _Said | None:
        return _best(self._matches(text, deep))

    def _matches(self, text: str, deep: int) -> Iterator[_Said | None]:
        """Yield what each pattern makes of a text, the most telling first."""
        for word in dict.fromkeys((_first_word(text + " "), "")):
            for pattern in self._index.get(word, ()):
                if pattern.longest not in text or not text.startswith(pattern.first):
                    continue
                match = pattern.form.fullmatch(text)
                if match is None:
                    continue
                values = [self._find(value, deep + 1) if value else _Said("") for value in match.groups()]
                if pattern.letters < LEAST_LETTERS and None in values:
                    continue
                filled = [value or _as_it_is(given) for value, given in zip(values, match.groups(), strict=True)]
                amiss = pattern.turned and _ENDS_MORE.search(match[match.lastindex or 0])
                yield _Said(_filled(pattern, [value.words for value in filled]), sum(value.left for value in filled) + bool(amiss))

    def _by_sentence(self, text: str, deep: int) -> _Said | None:
        """Translate by runs of sentences; all of it or nothing."""
        return self._by_runs(_SENTENCE_END.split(text), " ", deep)

    def _by_runs(self, pieces: list[str], sign: str, deep: int) -> _Said | None:
        """Translate piece by piece, or where a piece alone has no translation, in the runs that leave the least."""
        if len(pieces) == 1:
            return None
        single = _joined([self._find(piece, deep + 1) for piece in pieces], sign)
        if (single is not None and not single.left) or len(pieces) > MOST_PIECES:
            return single
        best: dict[int, _Said | None] = {}  # of what begins with each piece
        for start in reversed(range(len(pieces))):
            ends = range(start + 1, min(start + LONGEST_RUN, len(pieces)) + 1)
            best[start] = _best(self._run(pieces, start, end, best, sign, deep) for end in ends if end - start < len(pieces))
        return best[0]

    def _run(self, pieces: list[str], start: int, end: int, best: Mapping[int, _Said | None], sign: str, deep: int) -> _Said | None:
        """Return some pieces as one, and what was found best for those after them."""
        if end == len(pieces):
            return self._find(sign.join(pieces[start:]), deep + 1)
        return _joined([self._find(sign.join(pieces[start:end]), deep + 1), best[end]], sign) if best[end] else None

    def _by_list(self, text: str, deep: int) -> _Said | None:
        return _best(self._lists(text, deep))

    def _lists(self, text: str, deep: int) -> Iterator[_Said | None]:
        for sign in ("; ", ", ", JOINING_PARTS):
            yield self._by_runs(text.split(sign), sign, deep)
        parts = text.split(JOINING_PARTS)
        found = [self._find(part, deep + 1) for part in parts]
        if len(parts) > 1 and any(found):  # what a record calls a part stands beside our own words
            yield _joined([said or _as_it_is(part) for said, part in zip(found, parts, strict=True)], JOINING_PARTS)
        match = _IN_BRACKETS.fullmatch(text)
        if match is not None:
            inside = self._find(match[2], deep + 1)
            yield _joined([self._find(match[1], deep + 1), inside and _Said(f"({inside.words})", inside.left)], " ")


def _best(ways: Iterable[_Said | None]) -> _Said | None:
    """Return the first that leaves nothing, else the one that leaves the least; later ones are not looked at."""
    best: _Said | None = None
    for said in ways:
        if said is not None and (best is None or said.left < best.left):
            best = said
            if not best.left:
                break
    return best


def _joined(found: Sequence[_Said | None], sign: str) -> _Said | None:
    """Return all of them as one; None where one is missing."""
    said = [each for each in found if each is not None]
    return _Said(sign.join(each.words for each in said), sum(each.left for each in said)) if len(said) == len(found) else None


def _as_it_is(text: str) -> _Said:
    return _Said(text, sum(not c.isspace() for c in text) if any(map(str.isalpha, text)) else 0)


def _compiled(text: str, translation: str) -> _Pattern:
    pieces = PLACE.split(text)
    literals, order = pieces[0::2], tuple(pieces[1::2])
    # of two values side by side the second is the end of a sentence, or nothing
    joints = [r"((?:[,;:]| (?=\(|[A-Z][a-z])).*?|)" if place and not literal else "(.*?)" for place, literal in enumerate(literals[:-1])]
    joints = [r"(\S*?)" if after.startswith("-") else joint for joint, after in zip(joints, literals[1:], strict=True)]  # part of one word
    form = re.compile("".join(map("".join, zip(map(re.escape, literals), [*joints, ""], strict=True))), re.DOTALL)
    letters = sum(c.isalpha() for literal in literals for c in literal)
    turned = not literals[-1] and not translation.endswith(f"{{{order[-1]}}}")
    return _Pattern(form, translation, order, letters, literals[0], max(literals, key=len), turned)


def _first_word(text: str) -> str:
    word, space, _ = text.partition(" ")
    return word if space and word else ""


def _filled(pattern: _Pattern, values: list[str]) -> str:
    by_place = dict(zip(pattern.order, values, strict=True))
    return PLACE.sub(lambda place: by_place.get(place[1], place[0]), pattern.translation)
