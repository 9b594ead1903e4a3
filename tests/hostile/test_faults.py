"""A few of the faults of `faults.py`, which runs all of them: the site is right whatever happened to the cache."""

from __future__ import annotations

import os
import random
import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))
try:
    from faults import (  # type: ignore[import-not-found]
        Library,
        changed_meanwhile,
        damaged,
        deleted_meanwhile,
        full_disk,
        kills,
        two_at_once,
    )
finally:
    sys.path.pop(0)

pytestmark = pytest.mark.skipif(os.name != "posix", reason="kills processes by their group")


@pytest.fixture
def library(tmp_path: Path) -> Library:
    return Library(tmp_path / "club", 2, 1)


def test_a_killed_build_leaves_nothing_wrong(library: Library) -> None:
    assert [right for _, right in kills(library, 3, random.Random(1))] == [True] * 3


def test_every_entry_damaged(library: Library) -> None:
    assert damaged(library, "*", random.Random(2))


def test_sheets_damaged_under_a_kept_edition(library: Library) -> None:
    assert damaged(library, "sheets", random.Random(3))


def test_a_full_disk(library: Library) -> None:
    assert full_disk(library)


def test_two_builds_at_once(library: Library) -> None:
    assert two_at_once(library)


def test_a_record_changed_meanwhile(library: Library) -> None:
    assert changed_meanwhile(library, 0.6)


def test_the_cache_deleted_meanwhile(library: Library) -> None:
    assert deleted_meanwhile(library, 0.4, full=True)
