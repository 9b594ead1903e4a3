"""The mutants of a module: one small change of its source each, made by cosmic-ray's operators and one of our own.

What cannot change a figure is left out by rule, see `_left_out`; so are mutants that do not compile or read the same as
the original.
"""

from __future__ import annotations

import ast
import itertools
import random
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

import parso
from cosmic_ray.ast import ast_nodes, get_ast
from cosmic_ray.mutating import mutate_code
from cosmic_ray.operators.binary_operator_replacement import BinaryOperators
from cosmic_ray.operators.comparison_operator_replacement import ComparisonOperators
from cosmic_ray.operators.number_replacer import OFFSETS
from cosmic_ray.operators.operator import Operator
from cosmic_ray.plugins import get_operator

Place = tuple[int, int]
Within = Literal["function", "module", "class"]
SYMBOLS = {one.name: one.value for one in (*BinaryOperators, *ComparisonOperators)}
QUIET_ARGUMENTS = {"dataclass": {"frozen", "kw_only", "slots", "eq"}, "zip": {"strict"}}
"""Arguments that guard against misuse by a programmer: right calls get the same figures either way."""
CACHES = {"lru_cache", "cache", "cached_property"}
"""Decorators that only save time."""


@dataclass(frozen=True)
class Mutant:
    """One change of one module.

    Parameters
    ----------
    module : str
        Name within the package.
    lines : tuple of int
        First and last line of the statement it lies in; of a compound one, of its head.
    within : {"function", "module", "class"}
        What runs the statement: a call, the loading of the module, or the making of a class or of a decorated function.
    operator : str
        What was changed into what.
    place : tuple of int
        Line and column of the change.
    before, after : str
        The lines that differ.
    source : str
        The whole module with the change.
    """

    module: str
    lines: tuple[int, int]
    within: Within
    operator: str
    place: Place
    before: str
    after: str
    source: str

    @property
    def key(self) -> str:
        """Name of the mutant, the same as long as its lines are."""
        return f"{self.module}: {self.before} -> {self.after}"


class Opposite(Operator):
    """Replaces a function that is called by its opposite."""

    def __init__(self, pairs: Iterable[tuple[str, str]]) -> None:
        self.pairs = {one: other for pair in pairs for one, other in (pair, pair[::-1])}

    def mutation_positions(self, node: Any) -> Iterator[tuple[Place, Place]]:
        """Yield the name where it is followed by the bracket of a call."""
        after = node.get_next_leaf() if node.type == "name" else None
        if after is not None and after.value == "(" and node.value in self.pairs:
            yield node.start_pos, node.end_pos

    def mutate(self, node: Any, index: int) -> Any:
        """Change the name."""
        return parso.python.tree.Name(self.pairs[node.value], node.start_pos, node.prefix)

    @classmethod
    def examples(cls) -> tuple[()]:
        """Return none."""
        return ()


def operators(settings: dict[str, Any]) -> dict[str, Operator]:
    """Return the operators that the settings name."""
    names = [
        f"Replace{kind}Operator_{one}_{other}"
        for kind in ("Binary", "Comparison")
        for row in settings[kind.lower()]
        for one, other in itertools.permutations(row, 2)
    ]
    found: dict[str, Operator] = {name: get_operator(f"core/{name}")() for name in [*names, *settings["other"]]}
    return found | {"Opposite": Opposite(settings["opposite"])}


def sample(path: Path, settings: dict[str, Any], each: int, seed: int) -> tuple[list[Mutant], int]:
    """Return so many mutants of a module, drawn without repeats, and how many there are before those that read the same."""
    source = path.read_text(encoding="utf-8")
    quiet = _left_out(ast.parse(source))
    nodes = list(ast_nodes(get_ast(source)))
    all_places = []
    for name, operator in operators(settings).items():
        spans = (span for node in nodes for span in operator.mutation_positions(node))
        for number, (start, end) in enumerate(spans):
            if not any(begin <= start and end <= close for begin, close in quiet):
                all_places.append((name, operator, number, start, end))
    random.Random(f"{path.stem} {seed}").shuffle(all_places)
    made = (_mutant(path.stem, source, *place) for place in all_places)
    return list(itertools.islice((mutant for mutant in made if mutant), each)), len(all_places)


def _mutant(module: str, source: str, name: str, operator: Operator, number: int, place: Place, end: Place) -> Mutant | None:
    changed = _spliced(source, name, number, place, end) or mutate_code(source, operator, number)
    before, after = ast.parse(source), _parsed(changed)
    if changed == source or after is None or ast.dump(before) == ast.dump(after):
        return None
    old, new = source.splitlines(), changed.splitlines()
    alike = _alike(old, new)
    behind = _alike(old[alike:][::-1], new[alike:][::-1])
    differ = (" ".join(line.strip() for line in lines[alike : len(lines) - behind]) for lines in (old, new))
    lines, within = _statement(before, place[0])
    return Mutant(module, lines, "class" if name == "RemoveDecorator" else within, name, place, *differ, changed)


def _spliced(source: str, name: str, number: int, start: Place, end: Place) -> str | None:
    """Return the text with another operator or number put in, as the tool would but sooner; None for other kinds of change."""
    first, last = (sum(map(len, source.splitlines(keepends=True)[: line - 1])) + column for line, column in (start, end))
    kind, _, symbol = name.rpartition("_")
    if kind.startswith(("ReplaceBinaryOperator", "ReplaceComparisonOperator")):
        return source[:first] + SYMBOLS[symbol] + source[last:]
    if name == "NumberReplacer":  # the tool takes each number twice, for one more and one less
        return source[:first] + str(ast.literal_eval(source[first:last]) + OFFSETS[number % 2]) + source[last:]
    return None


def _alike(one: list[str], other: list[str]) -> int:
    """Return how many lines are the same before the first that differs."""
    return sum(1 for _ in itertools.takewhile(lambda pair: pair[0] == pair[1], zip(one, other, strict=False)))


def _parsed(source: str) -> ast.Module | None:
    try:
        return ast.parse(source)
    except SyntaxError:
        return None


def _statement(tree: ast.Module, line: int) -> tuple[tuple[int, int], Within]:
    """Return first and last line of the innermost statement around a line, or of its head, and what runs it."""
    within = [node for node in ast.walk(tree) if isinstance(node, ast.stmt) and _first(node) <= line <= (node.end_lineno or 0)]
    inner = min(within, key=lambda node: ((node.end_lineno or 0) - _first(node), -node.col_offset))
    body = getattr(inner, "body", None)
    last = max(_first(inner), _first(body[0]) - 1) if body else inner.end_lineno or _first(inner)
    around = [node for node in within if node is not inner]
    runs: Within = "module"
    if any(isinstance(node, ast.FunctionDef) for node in around):
        runs = "function"
    elif any(isinstance(node, ast.ClassDef) for node in [inner, *around]):
        runs = "class"
    return (_first(inner), last), runs


def _first(node: ast.stmt) -> int:
    decorators = getattr(node, "decorator_list", [])
    return min([node.lineno, *(one.lineno for one in decorators)])


def _left_out(tree: ast.Module) -> list[tuple[Place, Place]]:
    """Return the places where a change cannot change a figure.

    These are docstrings, annotations and names of types, `__all__`, what an error says, the arguments `QUIET_ARGUMENTS`, and
    the decorators `CACHES`.
    """
    quiet: list[ast.AST | None] = []
    for node in ast.walk(tree):
        match node:
            case ast.Expr(value=ast.Constant(value=str())):
                quiet.append(node)
            case ast.AnnAssign():
                quiet.append(node.annotation)
            case ast.arg():
                quiet.append(node.annotation)
            case ast.FunctionDef() | ast.ClassDef():
                quiet += [getattr(node, "returns", None), *(one for one in node.decorator_list if _called(one) in CACHES)]
            case ast.Raise(exc=ast.Call() as error):
                quiet += [*error.args, *error.keywords]
            case ast.Call():
                quiet += [one for one in node.keywords if one.arg in QUIET_ARGUMENTS.get(_called(node), ())]
    for node in tree.body:
        match node:
            case ast.Assign(targets=[ast.Name(id=name)]) if name == "__all__" or (name != name.upper() and name[:1].isupper()):
                quiet.append(node)
    return [
        ((node.lineno, node.col_offset), (node.end_lineno, node.end_col_offset))  # type: ignore[attr-defined]
        for node in quiet
        if node is not None
    ]


def _called(node: ast.expr) -> str:
    """Return the last name of what is called or used as a decorator."""
    function = node.func if isinstance(node, ast.Call) else node
    return function.attr if isinstance(function, ast.Attribute) else getattr(function, "id", "")
