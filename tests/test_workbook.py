"""What is made again, and what is not, when files of a library change."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from PIL import Image

from buildsheets import cache as cache_module
from buildsheets import crew, finishing, workbook
from buildsheets.cache import Cache
from buildsheets.edition import Edition, Layout
from buildsheets.figures import Figures
from buildsheets.pages import make_edition
from buildsheets.records import library as library_module
from buildsheets.records.files import prints_of
from buildsheets.records.library import Build, load_library
from buildsheets.records.problems import Problem
from buildsheets.records.reader import Document
from buildsheets.settings import Settings
from buildsheets.workbook import Failed, Sheet, Workbook

STOCK = """\
format: 1
motors:
  can: {name: can motor, kind: iron core, nominal_voltage: 12 V, no_load_speed: 9500 rpm, no_load_current: 55 mA, stall_current: 0.9 A}
"""


def record(number: int, more: str = "") -> str:
    return f"format: 1\ntitle: Engine {number}\nstatus: planned\n{more}"


class Club:
    """A library, built again and again; notes which records were read and which calculated."""

    def __init__(self, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        self.builds, self.cache = folder / "builds", folder / "cache"
        (self.builds / "stock").mkdir(parents=True)
        self.read: list[str] = []
        self.made: list[str] = []
        self.settings = Settings()
        read_file, work_out = library_module.read_file, finishing.work_out

        def reading(path: Path, shown: str) -> tuple[Document | None, list[Problem]]:
            self.read.append(path.stem)
            return read_file(path, shown)

        def working(build: Build, options: object) -> Figures:
            self.made.append(build.slug)
            return work_out(build, options)  # type: ignore[arg-type]

        monkeypatch.setattr(library_module, "read_file", reading)
        monkeypatch.setattr(finishing, "work_out", working)
        self.write("stock/motors.yml", STOCK)
        self.write("user.yml", record(1, "motor: {stock: can}\n"))
        self.write("plain.yml", record(2))
        Image.new("RGB", (8, 8), (200, 0, 0)).save(self.builds / "one.png")
        self.write("shown.yml", record(3, "pictures: [{file: one.png, shows: As found}]\n"))

    def write(self, name: str, text: str) -> None:
        (self.builds / name).write_text(text, encoding="utf-8", newline="\n")

    def build(self) -> tuple[list[str], list[str], Edition]:
        """Build in a new cache object; return what was read, what was calculated, and the edition."""
        self.read.clear()
        self.made.clear()
        edition = make_edition(self.builds, prints_of(self.builds), self.settings, Workbook(Cache(self.cache)), Layout())
        return sorted(self.read), sorted(self.made), edition

    def right(self) -> dict[str, dict[str, bytes]]:
        return published(make_edition(self.builds, prints_of(self.builds), self.settings, Workbook(), Layout()))


def published(edition: Edition) -> dict[str, dict[str, bytes]]:
    club = {page.folder: page.body.encode() for page in edition.club}
    return {**{page.slug: dict(page.fetch()) for page in edition.sheets}, "club": club, "files": edition.files}


@pytest.fixture
def club(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Club:
    club = Club(tmp_path, monkeypatch)
    assert club.build()[:2] == (["plain", "shown", "user"], ["plain", "shown", "user"])
    return club


@pytest.fixture(autouse=True)
def _forget_the_program() -> Iterator[None]:
    yield
    cache_module.program_print.cache_clear()


def test_nothing_changed_nothing_is_read(club: Club) -> None:
    read, made, edition = club.build()
    assert (read, made) == ([], [])
    assert published(edition) == club.right()


def test_a_comment_is_read_and_nothing_calculated(club: Club) -> None:
    club.write("plain.yml", "# bought at the meeting\n" + record(2))
    assert club.build()[:2] == (["plain"], [])
    assert club.build()[:2] == ([], [])


def test_a_changed_record_is_made_again_alone(club: Club) -> None:
    club.write("plain.yml", record(20))
    read, made, edition = club.build()
    assert (read, made) == (["plain"], ["plain"])
    assert published(edition) == club.right()


def test_stock_that_is_changed_makes_its_users_again(club: Club) -> None:
    club.write("stock/motors.yml", STOCK.replace("9500", "9000"))
    read, made, edition = club.build()
    assert (read, made) == (["plain", "shown", "user"], ["user"])
    assert published(edition) == club.right()


def test_a_picture_that_is_replaced_is_published(club: Club) -> None:
    picture = club.builds / "one.png"
    Image.new("RGB", (8, 8), (0, 0, 200)).save(picture)
    os.utime(picture, ns=(10**18, 10**18))
    read, made, edition = club.build()
    assert (read, made) == (["shown"], ["shown"])
    assert published(edition) == club.right()


def test_a_picture_that_is_gone_is_told_at_its_place(club: Club) -> None:
    (club.builds / "one.png").unlink()
    _, _, edition = club.build()
    assert [str(problem) for problem in edition.problems if "one.png" in problem.message]
    assert not edition.sound


def test_other_options_make_all_again(club: Club) -> None:
    club.settings = replace(club.settings, run_length_m=2.0)
    _, made, edition = club.build()
    assert made == ["plain", "shown", "user"]
    assert published(edition) == club.right()


def test_another_program_makes_all_again(club: Club, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(workbook, "program_print", lambda: "another")
    assert club.build()[:2] == (["plain", "shown", "user"], ["plain", "shown", "user"])


def test_a_new_file_that_takes_a_former_address_is_told_where_it_stands(club: Club) -> None:
    club.write("plain.yml", record(2, "formerly: [old-name]\n"))
    club.build()
    club.write("old-name.yml", record(9))
    _, _, edition = club.build()
    assert edition.problems == load_library(club.builds).problems
    assert ["plain.yml" in str(problem) and ":4:" in str(problem) for problem in edition.problems] == [True]


def test_a_record_changed_while_it_is_read_is_not_kept_under_its_old_hash(club: Club) -> None:
    before = prints_of(club.builds)
    club.write("plain.yml", record(20))
    make_edition(club.builds, {**before, "plain.yml": "of bytes that are gone"}, club.settings, Workbook(Cache(club.cache)), Layout())
    known = Workbook(Cache(club.cache)).known(club.builds, {**before, "plain.yml": "of bytes that are gone"}, club.settings)
    assert "plain.yml" not in known


def many(folder: Path) -> list[Build]:
    (folder / "stock").mkdir(parents=True)
    (folder / "stock/motors.yml").write_text(STOCK, encoding="utf-8")
    for number in range(9):
        (folder / f"engine-{number}.yml").write_text(record(number), encoding="utf-8")
    return load_library(folder).builds


def sheets(folder: Path, builds: list[Build], processes: int) -> dict[str, bytes]:
    """The entries of the cache, by their name."""
    done = list(Workbook(Cache(folder), processes).finish(list(builds), Settings()))
    assert [one for one in done if isinstance(one, Failed)] == []
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.glob("sheets/??/*")}


@pytest.mark.parametrize("forks", [False, True])
def test_one_two_and_three_processes_make_the_same_bytes(forks: bool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(crew, "FORKS", forks and crew.FORKS)
    builds = many(tmp_path / "builds")
    one = sheets(tmp_path / "one", builds, 1)
    assert len(one) == len(builds)
    assert sheets(tmp_path / "two", builds, 2) == one
    assert sheets(tmp_path / "three", builds, 3) == one


class Deadly(str):
    """Ends the process that unpacks it, as a machine short of memory would."""

    __slots__ = ()

    def __reduce__(self) -> tuple[object, tuple[int]]:
        return os._exit, (9,)


@pytest.mark.parametrize("slug", ["engine-4", "engine-8"])  # a worker's, and the one that the foreman makes
def test_a_worker_that_dies_leaves_its_work_to_the_others(slug: str, tmp_path: Path) -> None:
    builds = many(tmp_path / "builds")
    right = sheets(tmp_path / "right", builds, 1)
    deadly = [replace(build, text_hash=Deadly(build.text_hash)) if build.slug == slug else build for build in builds]
    assert sheets(tmp_path / "other", deadly, 2) == right


def test_a_calculation_that_breaks_off_in_a_worker_is_told(tmp_path: Path) -> None:
    builds = many(tmp_path / "builds")
    wrong = [replace(build, record=None) if build.slug == "engine-4" else build for build in builds]  # type: ignore[arg-type]
    for build in wrong:
        if build.record is None:
            object.__setattr__(build, "record", builds[0].record.model_copy(update={"motor": 5}))
    done = list(Workbook(Cache(tmp_path / "cache"), 2).finish(list(wrong), Settings()))
    failed = [one for one in done if isinstance(one, Failed)]
    assert [one.build.slug for one in failed] == ["engine-4"]
    assert "AttributeError" in failed[0].problem.message
    assert "engine-4.yml" in str(failed[0].problem)
    assert len([one for one in done if isinstance(one, Sheet)]) == len(builds) - 1


def test_a_sheet_that_was_thrown_away_is_made_again_when_it_is_published(club: Club) -> None:
    _, _, edition = club.build()
    right = club.right()
    shutil.rmtree(club.cache)
    assert published(edition) == right
