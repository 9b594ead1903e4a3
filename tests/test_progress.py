"""Progress is told on a terminal and nowhere else."""

from __future__ import annotations

import io

import pytest

from buildsheets import progress
from buildsheets.progress import Progress


class Terminal(io.StringIO):
    """A screen of one line."""

    def isatty(self) -> bool:
        return True

    @property
    def screen(self) -> str:
        shown = ""
        for part in self.getvalue().split("\r"):
            shown = part + shown[len(part) :]
        return shown


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> list[float]:
    now = [100.0]
    monkeypatch.setattr(progress.time, "monotonic", lambda: now[0])
    return now


def test_what_is_piped_stays_quiet(clock: list[float]) -> None:
    out = io.StringIO()
    with Progress("sheets", out) as told:
        clock[0] += 60
        told(5, 9)
    assert out.getvalue() == ""


def test_a_terminal_is_told_and_left_clean(clock: list[float]) -> None:
    out = Terminal()
    with Progress("sheets", out) as told:
        clock[0] += 2
        told(5, 1000)
        assert out.screen.strip() == "sheets 5 of 1000"
        clock[0] += 2
        told(6, 9)
        assert out.screen.strip() == "sheets 6 of 9"
    assert out.screen.strip() == ""
    assert out.getvalue().endswith("\r")


def test_a_short_job_says_nothing_and_a_long_one_not_too_often(clock: list[float]) -> None:
    out = Terminal()
    with Progress("sheets", out) as told:
        clock[0] += progress.PATIENCE_S / 2
        told(1, 9)
        assert out.getvalue() == ""
        clock[0] += progress.PATIENCE_S
        told(2, 9)
        clock[0] += progress.APART_S / 2
        told(3, 9)
        assert out.screen.strip() == "sheets 2 of 9"
        with pytest.raises(ZeroDivisionError), told:
            told(1 // 0, 9)
    assert out.screen.strip() == ""
