"""Sentences with places for values: where they stand in the source, and how a finished sentence finds its pattern again.

What the figures say they say in English, with the values already in it. A pattern is such a sentence with "{0}", "{1}" in
place of the values, taken from the source by its syntax tree; a translation holds the same places in any order.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

from buildsheets.languages.numbers import THIN, in_km_per_hour

PLACE = re.compile(r"\{(\d+)\}")
DEEPEST = 4
"""Phrases inside phrases inside a sentence."""
LEAST_LETTERS = 4
"""A pattern with fewer letters of its own fits nearly everything; its values must then be numbers or known phrases."""

_WORD = re.compile(r"[A-Za-zÀ-ÿ]{2,}")
_IN_BRACKETS = re.compile(r"([^()]+) \(([^()]+)\)")
_SENTENCE_END = re.compile(r"(?<=[.!?:;]) ")
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
        self._known: dict[str, str | None] = {}

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
        return self._find(in_km_per_hour(text) if unit == "km/h" else text, 0)

    def _find(self, text: str, deep: int) -> str | None:
        if text not in self._known:
            self._known[text] = self._found(text, deep)
        return self._known[text]

    def _found(self, text: str, deep: int) -> str | None:
        exact = self.messages.get(text)
        if exact:
            return exact
        number = self.value(text)
        if number is not None or deep >= DEEPEST:
            return number
        whole, partly = self._by_pattern(text, deep)
        return whole or self._by_sentence(text, deep) or self._by_list(text, deep) or self._as_clause(text, deep) or partly

    def _as_clause(self, text: str, deep: int) -> str | None:
        """Look for words that were made a sentence by a capital and a full stop."""
        if text.endswith("."):
            found = self._find(text[:-1], deep + 1)
            return None if found is None else found + "."
        if text[:1].isupper():
            found = self._find(text[:1].lower() + text[1:], deep + 1)
            return None if found is None else found[:1].upper() + found[1:]
        return None

    def _by_pattern(self, text: str, deep: int) -> tuple[str | None, str | None]:
        """Return the translation with all its values known, or else one with words that stay as they are."""
        fallback = None
        for word in dict.fromkeys((_first_word(text + " "), "")):
            for pattern in self._index.get(word, ()):
                if pattern.longest not in text or not text.startswith(pattern.first):
                    continue
                match = pattern.form.fullmatch(text)
                if match is None:
                    continue
                values = [self._find(value, deep + 1) if value else "" for value in match.groups()]
                filled = [value if value is not None else given for value, given in zip(values, match.groups(), strict=True)]
                words = _filled(pattern, filled)
                if None not in values:
                    return words, None
                if fallback is None and pattern.letters >= LEAST_LETTERS:
                    fallback = words
        return None, fallback

    def _by_sentence(self, text: str, deep: int) -> str | None:
        """Translate sentence by sentence; all of it or nothing."""
        return self._joined(_SENTENCE_END.split(text), " ", deep)

    def _by_list(self, text: str, deep: int) -> str | None:
        for sign in ("; ", ", ", " + "):
            found = self._joined(text.split(sign), sign, deep)
            if found is not None:
                return found
        match = _IN_BRACKETS.fullmatch(text)
        if match is None:
            return None
        before, inside = self._find(match[1], deep + 1), self._find(match[2], deep + 1)
        return None if before is None or inside is None else f"{before} ({inside})"

    def _joined(self, pieces: list[str], sign: str, deep: int) -> str | None:
        if len(pieces) == 1:
            return None
        found = [self._find(piece, deep + 1) for piece in pieces]
        return None if None in found else sign.join(piece for piece in found if piece is not None)


def _compiled(text: str, translation: str) -> _Pattern:
    pieces = PLACE.split(text)
    literals, order = pieces[0::2], tuple(pieces[1::2])
    form = re.compile("(.*?)".join(re.escape(literal) for literal in literals), re.DOTALL)
    letters = sum(c.isalpha() for literal in literals for c in literal)
    return _Pattern(form, translation, order, letters, literals[0], max(literals, key=len))


def _first_word(text: str) -> str:
    word, space, _ = text.partition(" ")
    return word if space and word else ""


def _filled(pattern: _Pattern, values: list[str]) -> str:
    by_place = dict(zip(pattern.order, values, strict=True))
    return PLACE.sub(lambda place: by_place.get(place[1], place[0]), pattern.translation)
