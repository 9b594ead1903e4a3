"""No figure and no sentence of the set changes unseen; whoever means a change looks at it and accepts it."""

from __future__ import annotations

import copy
import json
import random
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import golden_set
import pytest
from golden_set import CURVE, KEPT, accept, accepted, condensed, differences, golden_builds

BUILDS = golden_builds()
SHOWN = 40
"""Lines of one build in a failed test; the command shows all."""


@pytest.mark.parametrize("slug", BUILDS)
def test_figures_and_sentences_are_those_last_accepted(slug: str) -> None:
    lines = list(differences(accepted(slug), condensed(BUILDS[slug])))
    more = [f"... and {len(lines) - SHOWN} more"] if len(lines) > SHOWN else []
    told = [f"{slug}: {len(lines)} differ from what was accepted", *lines[:SHOWN], *more]
    assert not lines, "\n  ".join(told) + "\nAll of it: python tests/golden review; if it is meant: python tests/golden accept"


def test_each_build_of_the_set_is_kept_and_no_other() -> None:
    assert {path.stem for path in KEPT.glob("*.json")} == set(BUILDS)
    assert len(BUILDS) >= 22  # the demo's nine and thirteen beside it


def leaves(value: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """Where the values of some figures stand; of a curve its kept entries and its sums."""
    if isinstance(value, dict | list):
        for key, entry in value.items() if isinstance(value, dict) else enumerate(value):
            yield from leaves(entry, (*path, key))
    else:
        yield path


def with_other(figures: Any, path: tuple[Any, ...], share: float) -> Any:
    """Figures with one value changed: a number by a share of it, a text by a letter."""
    out = copy.deepcopy(figures)
    place = out
    for key in path[:-1]:
        place = place[key]
    value = place[path[-1]]
    if isinstance(value, bool | None):
        place[path[-1]] = "was a value"
    else:
        place[path[-1]] = value + "." if isinstance(value, str) else value * (1 + share) if value else share
    return out


@pytest.mark.parametrize("slug", ["reedbed-diesel", "harbour-tank"])
def test_every_value_is_guarded(slug: str) -> None:
    figures = accepted(slug)
    paths = [path for path in leaves(figures) if path[-1] != "size"]  # the measure of a curve's other sums
    for path in random.Random(1).sample(paths, 150):
        assert len(list(differences(figures, with_other(figures, path, 3e-5)))) in (1, 2), path  # 2: it named its entry in a list


@pytest.mark.parametrize("share", [-4e-7, 4e-7])
def test_what_two_numeric_libraries_may_differ_by_is_no_change(share: float) -> None:
    figures = accepted("harbour-tank")
    numbers = [path for path in leaves(figures) if isinstance(_at(figures, path), float) and _at(figures, path)]
    for path in random.Random(2).sample(numbers, 100):
        assert list(differences(figures, with_other(figures, path, share))) == []


def _at(figures: Any, path: tuple[Any, ...]) -> Any:
    for key in path:
        figures = figures[key]
    return figures


def test_one_step_between_the_kept_ones_is_seen() -> None:
    # by hand: 0.5 / 126 x (sum of k^2 + sum of k, k up to 125) = 0.5 / 126 x (658 875 + 7 875), then 0.25 x 51 / 126 more
    straight = [0.5 * step for step in range(126)]
    bent = [*straight[:50], straight[50] * 1.01, *straight[51:]]
    old, new = ({"curve": golden_set._curve(values)} for values in (straight, bent))
    assert old["curve"][CURVE] == new["curve"][CURVE]
    assert list(differences(old, new)) == [
        "curve: between the kept entries; size 3937.5 -> 3937.75, sum 3937.5 -> 3937.75, moment 2645.833 -> 2645.935"
    ]


def test_lines_say_what_was_and_what_is() -> None:
    old = {"start": {"step": 5}, "verdicts": [{"subject": "mesh", "level": "ok"}, {"subject": "heat", "level": "note"}], "cost": None}
    new = {"start": {"step": 6}, "verdicts": [{"subject": "winding", "level": "ok"}, {"subject": "heat", "level": "stop"}], "cost": 14.5}
    assert list(differences(old, new)) == [
        "start.step: 5 -> 6 (+0.2 of it)",
        'verdicts[mesh]: {"subject":"mesh","level":"ok"} -> (absent)',
        'verdicts[heat].level: "note" -> "stop"',
        'verdicts[winding]: (absent) -> {"subject":"winding","level":"ok"}',
        "cost: null -> 14.5",
    ]
    assert list(differences(old, {**old, "verdicts": old["verdicts"][::-1]})) == ['verdicts: order ["mesh","heat"] -> ["heat","mesh"]']


def test_accepted_is_what_was_worked_out(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    now = condensed(BUILDS["reedbed-diesel"])
    monkeypatch.setattr(golden_set, "KEPT", tmp_path)
    accept("reedbed-diesel", now)
    assert list(differences(accepted("reedbed-diesel"), now)) == []
    assert json.loads((tmp_path / "reedbed-diesel.json").read_text(encoding="utf-8")).keys() == now.keys()


def test_review_and_accept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    import runpy

    command = runpy.run_path(str(Path(__file__).with_name("__main__.py")))
    other = with_other(accepted("reedbed-diesel"), ("title",), 0)
    monkeypatch.setattr(golden_set, "KEPT", tmp_path)
    monkeypatch.setitem(command["main"].__globals__, "KEPT", tmp_path)
    accept("reedbed-diesel", other)
    accept("scrapped-tank", other)
    asked = ["reedbed-diesel", "scrapped-tank"]
    assert command["main"](["review", *asked]) == 1
    said = capsys.readouterr().out
    assert f"title: {json.dumps(other['title'])} -> {json.dumps(other['title'][:-1])}\n" in said
    assert "scrapped-tank: no longer a build of the set" in said
    assert command["main"](["accept", *asked]) == 0
    assert command["main"](["review", "reedbed-diesel"]) == 0
    assert [path.name for path in tmp_path.iterdir()] == ["reedbed-diesel.json"]
