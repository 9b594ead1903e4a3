"""The figures of a fixed set of builds as they were last accepted, and what has become of them since.

All builds of the demo are in it, and the records of `library/`: of 60 that `tests/bench/grown.py` makes with seed 1 the twelve
that add most kinds of figures and sentences to the demo's; with them one of seed 7 whose ways once came in another order on
another Python. Records and stock of `library/` are not to be changed, so what differs there differs by the calculation, or by
what a record may say.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterator, Mapping
from itertools import zip_longest
from pathlib import Path
from typing import Any

from buildsheets.figures import to_json, work_out
from buildsheets.records.library import Build, load_library

HERE = Path(__file__).resolve().parent
KEPT = HERE / "figures"
LIBRARIES = (HERE.parents[1] / "builds", HERE / "library")
NEAR = 1e-6
"""Relative: figures of two sets of numeric libraries agree at least so far."""
NOTHING = 1e-14
"""Absolute, in any unit: no figure is so small, but the rest of a subtraction may be."""
LONG = 30
"""Numbers in a row from which on it is kept as a curve: every ninth of them, and what all of them come to."""
EVERY = 9
CURVE = "every ninth"
NAMES = ("id", "name", "subject", "cv", "label", "title", "kind", "class")
"""What tells the entries of a list apart; so one put in between does not make all that follow differ."""
ABSENT = "(absent)"
MOST_LETTERS = 160
"""Of a whole table that came or went; sentences are shown to their end."""


def golden_builds() -> dict[str, Build]:
    """Return the builds of the set by slug."""
    return {build.slug: build for folder in LIBRARIES for build in load_library(folder).builds}


def condensed(build: Build) -> dict[str, Any]:
    """Return all figures of a build, worked out now, with its curves shortened."""
    shortened: dict[str, Any] = _shortened(work_out(build))
    return shortened


def accepted(slug: str) -> dict[str, Any]:
    """Return the figures of a build as they were last accepted; nothing if they never were."""
    path = KEPT / f"{slug}.json"
    return dict(json.loads(path.read_text(encoding="utf-8"))) if path.is_file() else {}


def accept(slug: str, figures: dict[str, Any]) -> None:
    """Keep figures as the accepted ones, numbers rounded as the site rounds them.

    One line for each value of the two outer levels, so that a comparison of two versions shows what changed.
    """
    rounded = json.loads(to_json(figures))  # type: ignore[arg-type]
    lines = ",\n".join(f"{json.dumps(key)}: {_laid_out(value)}" for key, value in rounded.items())
    (KEPT / f"{slug}.json").write_text(f"{{\n{lines}\n}}\n", encoding="utf-8", newline="\n")


def _laid_out(value: Any) -> str:
    if isinstance(value, dict) and CURVE not in value:
        return "{\n " + ",\n ".join(f"{json.dumps(key)}: {_packed(entry)}" for key, entry in value.items()) + "\n}" if value else "{}"
    if isinstance(value, list):
        return "[\n " + ",\n ".join(_packed(entry) for entry in value) + "\n]" if value else "[]"
    return _packed(value)


def _packed(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False, separators=(",", ":"))


def _shortened(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {key: _shortened(entry) for key, entry in value.items()}
    if isinstance(value, list | tuple):
        numbers = all(_is_number(entry) or entry is None for entry in value)
        return _curve(list(value)) if numbers and len(value) >= LONG else [_shortened(entry) for entry in value]
    return value


def _curve(values: list[float | None]) -> dict[str, Any]:
    """Shorten a curve; its sums tell of a change between the entries that are kept, and of one that moved."""
    known = [(place, value) for place, value in enumerate(values, start=1) if value is not None]
    return {
        "entries": len(values),
        "absent": [place for place, value in enumerate(values, start=1) if value is None],
        "size": math.fsum(abs(value) for _, value in known),
        "sum": math.fsum(value for _, value in known),
        "moment": math.fsum(value * place / len(values) for place, value in known),
        CURVE: values[::EVERY],
    }


def differences(old: Any, new: Any, where: str = "") -> Iterator[str]:
    """Yield one line for each value that changed: where it stands, the old one, the new one.

    Parameters
    ----------
    old, new : dict, list, str, float or None
        Figures as `condensed` returns them, before and after.
    where : str
        Where in the figures these two stand.
    """
    if isinstance(old, dict) and isinstance(new, dict):
        if CURVE in old and CURVE in new:
            yield from _curve_differences(old, new, where)
            return
        for key in [*old, *(key for key in new if key not in old)]:
            yield from differences(old.get(key, ABSENT), new.get(key, ABSENT), f"{where}.{key}" if where else str(key))
    elif isinstance(old, list) and isinstance(new, list):
        yield from _list_differences(old, new, where)
    elif not _same(old, new):
        yield f"{where}: {_shown(old)} -> {_shown(new)}{_share(old, new)}"


def _list_differences(old: list[Any], new: list[Any], where: str) -> Iterator[str]:
    name = _told_apart_by(old, new)
    if name is None:
        for place, (before, after) in enumerate(zip_longest(old, new, fillvalue=ABSENT)):
            yield from differences(before, after, f"{where}[{place}]")
        return
    olds, news = ({entry[name]: entry for entry in entries} for entries in (old, new))
    for key in [*olds, *(key for key in news if key not in olds)]:
        yield from differences(olds.get(key, ABSENT), news.get(key, ABSENT), f"{where}[{key}]")
    both = [key for key in olds if key in news]
    if both != [key for key in news if key in olds]:
        yield f"{where}: order {_shown(list(olds))} -> {_shown(list(news))}"


def _told_apart_by(*lists: list[Any]) -> str | None:
    """Return the first key that every entry has and no two entries of one list share."""
    entries = [entry for entries in lists for entry in entries]
    if not entries or not all(isinstance(entry, dict) for entry in entries):
        return None
    for name in NAMES:
        named = [[entry.get(name) for entry in entries] for entries in lists]
        plain = all(isinstance(value, str | int) for values in named for value in values)
        if plain and all(len(set(values)) == len(values) for values in named):
            return name
    return None


def _curve_differences(old: dict[str, Any], new: dict[str, Any], where: str) -> Iterator[str]:
    """Yield one line for a curve that differs, with the entry that differs most."""
    for key in ("entries", "absent"):
        if old[key] != new[key]:
            yield f"{where}: {key} {_shown(old[key])} -> {_shown(new[key])}"
            return
    sums = [f"{key} {_shown(old[key])} -> {_shown(new[key])}" for key in ("size", "sum", "moment") if abs(old[key] - new[key]) > NEAR * old["size"]]
    kept = [(place * EVERY, *both) for place, both in enumerate(zip(old[CURVE], new[CURVE], strict=True)) if not _same(*both)]
    if kept:
        place, before, after = max(kept, key=lambda entry: abs(entry[2] - entry[1]))
        most = f"most at [{place}] {_shown(before)} -> {_shown(after)}{_share(before, after)}"
        yield f"{where}: {len(kept)} of {len(old[CURVE])} kept entries differ, {most}"
    elif sums:
        yield f"{where}: between the kept entries; {', '.join(sums)}"


def _same(old: Any, new: Any) -> bool:
    if _is_number(old) and _is_number(new):
        return math.isclose(old, new, rel_tol=NEAR, abs_tol=NOTHING)
    return type(old) is type(new) and old == new


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _shown(value: Any) -> str:
    if value is ABSENT:
        return ABSENT
    text = f"{value:.7g}" if isinstance(value, float) else _packed(value)
    return text if isinstance(value, str) or len(text) <= MOST_LETTERS else f"{text[:MOST_LETTERS]}..."


def _share(old: Any, new: Any) -> str:
    if not (_is_number(old) and _is_number(new)) or old == 0:
        return ""
    return f" ({(new - old) / abs(old):+.2g} of it)"
