"""How problems are told: to a reader, to the host's runner that puts them beside the line, or to another program."""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

from buildsheets.records.problems import Problem

FORMATS = ("plain", "github", "json")
JSON_FORMAT = 1

# The runner's own toolkit escapes like this (package @actions/core 3.0.1, lib/command.js, opened). The percent sign comes first.
_IN_MESSAGE = (("%", "%25"), ("\r", "%0D"), ("\n", "%0A"))
_IN_PROPERTY = (*_IN_MESSAGE, (":", "%3A"), (",", "%2C"))


def told(problems: Iterable[Problem], form: str, counted: str) -> str:
    """Return all problems as text, in one of `FORMATS`.

    Parameters
    ----------
    problems : iterable of Problem
        In order.
    form : str
        "plain", "github" or "json".
    counted : str
        The closing line for a reader; another program counts for itself.
    """
    found = list(problems)
    if form == "json":
        listed = [{"file": p.file, "line": p.line, "column": p.column, "message": p.message} for p in found]
        return json.dumps({"format": JSON_FORMAT, "problems": listed}, ensure_ascii=False, indent=1) + "\n"
    write = annotation if form == "github" else str
    return "".join(f"{line}\n" for line in (*map(write, found), counted))


def annotation(problem: Problem) -> str:
    """Return the command that has a runner show a problem beside its line of the change.

    Parameters
    ----------
    problem : Problem
        With its file as seen from the top of the repository.
    """
    place = {"file": problem.file, "line": problem.line, "col": problem.column}
    properties = ",".join(f"{key}={_escaped(str(value), _IN_PROPERTY)}" for key, value in place.items())
    return f"::error {properties}::{_escaped(problem.message, _IN_MESSAGE)}"


def from_the_top(problem: Problem, path: Path) -> Problem:
    """Return the problem with its file as seen from the top of the repository that it lies in; unchanged outside of one.

    Parameters
    ----------
    problem : Problem
        With its file as a reader would type it.
    path : Path
        That file.
    """
    whole = path.absolute()
    for top in whole.parents:
        if (top / ".git").exists():  # a folder, or the file of a second working tree
            return replace(problem, file=whole.relative_to(top).as_posix())
    return problem


def _escaped(text: str, replaced: Iterable[tuple[str, str]]) -> str:
    for mark, code in replaced:
        text = text.replace(mark, code)
    return text
