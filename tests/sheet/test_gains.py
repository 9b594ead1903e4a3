"""What a measurement would give: every figure that can wait for one has words of its own."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path
from types import UnionType
from typing import Any, Union, get_args, get_origin, get_type_hints, is_typeddict

import pytest

import buildsheets
from buildsheets.figures.format import Figures
from buildsheets.figures.gaps import WITH_SPEED
from buildsheets.sheet.gains import WORDS, in_words, would_give

NEVER_EMPTY = {"format", "slug", "title", "glance", "verdicts", "cautions", "assumed", "missing", "run_length_m", "tools", "working",
               "steps", "notes_markdown"}  # fmt: skip
"""Groups that no measurement fills."""


def keys(hint: Any, name: str) -> Iterator[str]:
    """Every dotted key under this one, groups included."""
    yield name
    if is_typeddict(hint):
        for key, inner in get_type_hints(hint).items():
            yield from keys(inner, f"{name}.{key}")
    elif get_origin(hint) in (UnionType, Union, list):
        for inner in get_args(hint):
            yield from list(keys(inner, name))[1:]


def all_keys() -> list[str]:
    return [key for name, hint in get_type_hints(Figures).items() if name not in NEVER_EMPTY for key in keys(hint, name)]


HEAD = {"head.drive", "head.prototype_top_mph", "head.scale_ratio"}
"""The rest of the head is what the builder writes, not what a measurement gives."""


def test_every_figure_has_words() -> None:
    wanting = [key for key in all_keys() if in_words(key) is None and (key in HEAD or key.partition(".")[0] != "head")]
    assert wanting == []


def noted_keys() -> set[str]:
    """Keys that the calculation names as waiting, as far as they stand in its text."""
    found = {*WITH_SPEED}
    for path in Path(buildsheets.__file__).parent.glob("figures/*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr == "lack":
                found |= {arg.value for arg in node.args[1:] if isinstance(arg, ast.Constant)}
    return found


def test_every_key_that_is_noted_has_words() -> None:
    noted = noted_keys()
    assert len(noted) > 40
    assert sorted(key for key in noted if in_words(key) is None) == []
    assert sorted(noted - set(all_keys())) == []  # and is a figure


def test_words_are_of_figures_that_exist() -> None:
    present = all_keys()
    assert [word for word in WORDS if not any(key.startswith(word) for key in present)] == []


@pytest.mark.parametrize(
    ("key", "words"),
    [
        ("gearing.stages.2", "the mesh of the gears"),
        ("gearing.ratio", "the gear ratio"),
        ("lamps.0.fitted_current_a", "the current of the lamps as fitted"),
        ("haulage.vehicles_on_grade", "how many vehicles follow"),
        ("speed", "the speeds"),
        ("speed_card", "the speed card"),
        ("speed.top_scale_mph_band", "the band of the top speed"),
        ("nothing.of.the.kind", None),
    ],
)
def test_longest_beginning_wins(key: str, words: str | None) -> None:
    assert in_words(key) == words


def test_each_thing_is_said_once() -> None:
    assert would_give(["haulage.vehicles_level", "haulage.vehicles_on_grade", "speed"]) == "how many vehicles follow, the speeds"
