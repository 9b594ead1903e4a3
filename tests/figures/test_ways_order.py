"""The same strings are looked at on every Python: their order hangs on no value that compares with nothing."""

from __future__ import annotations

import math
import random
from pathlib import Path

import pytest

from buildsheets.figures import work_out
from buildsheets.figures.ways import search
from buildsheets.figures.ways.candidates import Way
from buildsheets.records.library import load_build

SLOW = Path(__file__).resolve().parents[1] / "golden/library/whimbrel-pug-76.yml"
"""Its own dropper leaves it slower than it should be: no volts behind that dropper reach the target."""
Found = list[tuple[float, Way]]


@pytest.fixture
def strings() -> Found:
    """The strings that were compared, each with what it misses the wanted volts by."""
    seen: Found = []
    nearest = search._nearest_strings
    build, problems = load_build(SLOW)
    assert build is not None, problems
    with pytest.MonkeyPatch.context() as listening:
        listening.setattr(search, "_nearest_strings", lambda found: seen.extend(found) or nearest(found))
        figures = work_out(build)
    assert figures["speed"]["top_scale_mph"] < build.record.target.speed.value / 0.44704  # m/s in a mile an hour, exact
    return seen


def test_what_is_compared_is_a_number(strings: Found) -> None:
    assert len(strings) >= 4
    assert all(math.isfinite(miss) for miss, _ in strings)


def test_the_nearest_are_the_same_whatever_order_they_are_found_in(strings: Found) -> None:
    chance = random.Random(1)
    wanted = {id(way) for way in search._nearest_strings(strings)}
    for _ in range(20):
        assert {id(way) for way in search._nearest_strings(chance.sample(strings, len(strings)))} == wanted
