"""A few of the faults of `faults.py`, which runs all of them: the site is right whatever happened to the cache."""

from __future__ import annotations

import os
import random
import signal
import time
from pathlib import Path

import pytest
from faults import (  # type: ignore[import-not-found]
    changed_meanwhile,
    damaged,
    deleted_meanwhile,
    full_disk,
    two_at_once,
)
from kills import RECORDS_OF_A_CREW, State, ended, kills, part_of  # type: ignore[import-not-found]
from small_club import Library  # type: ignore[import-not-found]

from buildsheets.workbook import AT_A_TIME

pytestmark = pytest.mark.skipif(os.name != "posix", reason="kills processes by their group")


@pytest.fixture(scope="module")
def library(tmp_path_factory: pytest.TempPathFactory) -> Library:
    """One for all, since a fault that is survived leaves nothing behind."""
    return Library(tmp_path_factory.mktemp("faults") / "club", 2, 1)


def test_a_killed_build_leaves_nothing_wrong(library: Library) -> None:
    tally = kills(State(library, cold=True), 2, random.Random(1), measured=1)
    assert (tally.killed, tally.faults) == (2, [])


def test_what_a_killed_build_may_leave_of_a_site() -> None:
    # the generator empties the folder and then writes file by file; read in its source, mkdocs.commands.build
    old, new = {"a": b"1", "b": b"2"}, {"a": b"one", "b": b"two", "c": b"three"}
    for left in ({}, {"b": b"2"}, old, {"a": b"one", "b": b"t"}, new):
        assert part_of(left, old, new) is None, left
    for left in ({"a": b"one", "b": b"2"}, {"a": b"o", "b": b"t"}, {"a": b"ome"}, {"d": b""}):
        assert part_of(left, old, new) is not None, left
    assert part_of({"a": b"o", "b": b"t"}, old, new, at_once=2) is None
    assert part_of({"a": b"o", "b": b"t", "c": b"th"}, old, new, at_once=2) is not None


def test_every_entry_damaged(library: Library) -> None:
    assert damaged(library, "*", random.Random(2))


def test_sheets_damaged_under_a_kept_edition(library: Library) -> None:
    assert damaged(library, "sheets", random.Random(3))


def test_a_full_disk(library: Library) -> None:
    assert full_disk(library)


def test_two_builds_at_once(library: Library) -> None:
    assert two_at_once(library, 0.2)


def test_a_record_changed_meanwhile(library: Library) -> None:
    assert changed_meanwhile(library, 0.6)


def test_the_cache_deleted_meanwhile(library: Library) -> None:
    assert deleted_meanwhile(library, 0.4, full=True)


def test_workers_end_when_the_builder_is_killed(tmp_path: Path) -> None:
    crew = Library(tmp_path / "crew", RECORDS_OF_A_CREW, 2)
    build = crew.start("site")
    # should the builder make a parcel itself, the next sheet is a worker's
    while build.poll() is None and len(list(crew.cache.glob("sheets/??/[!.]*"))) <= AT_A_TIME:
        time.sleep(0.02)
    os.kill(build.pid, signal.SIGKILL)
    build.wait()
    assert build.returncode == -signal.SIGKILL, "it was at work"
    assert ended(build.pid)
    if build.stdout:
        build.stdout.close()


@pytest.mark.parametrize("sheets", [0, 3])  # while the crew loads, and while it works
def test_an_interrupt_from_the_keyboard_ends_all_quietly(sheets: int, tmp_path: Path) -> None:
    crew = Library(tmp_path / "crew", RECORDS_OF_A_CREW, 2)
    build = crew.start("site", before=lambda: signal.signal(signal.SIGINT, signal.default_int_handler))
    while build.poll() is None and not (crew.cache.is_dir() and len(list(crew.cache.glob("sheets/??/[!.]*"))) >= sheets):
        time.sleep(0.02)
    os.killpg(build.pid, signal.SIGINT)
    said, _ = build.communicate(timeout=30)
    assert build.returncode == 1
    assert "Traceback" not in said
    assert said.rstrip().endswith("Aborted!")
    assert ended(build.pid)
