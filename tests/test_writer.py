"""Files beside a page are all written, and what fails is told."""

from __future__ import annotations

import threading
from concurrent.futures import CancelledError
from pathlib import Path

import pytest

from buildsheets.processes import MOST, processes_of
from buildsheets.writer import IN_HAND, Writer


@pytest.mark.parametrize("count", [0, 1, 3])
def test_all_is_done_before_the_end(count: int, tmp_path: Path) -> None:
    writer, order = Writer(count), []
    here = threading.get_ident()
    threads = set()

    def job(number: int) -> None:
        (tmp_path / str(number)).write_text("x", encoding="utf-8")
        threads.add(threading.get_ident())
        order.append(number)

    for number in range(5 * IN_HAND):
        writer.do(lambda number=number: job(number))  # type: ignore[misc]
    writer.finish()
    assert sorted(order) == list(range(5 * IN_HAND))
    assert len(list(tmp_path.iterdir())) == 5 * IN_HAND
    assert (here in threads) is (count == 0)


def test_no_more_waits_than_may_be_in_hand() -> None:
    writer, gate, done = Writer(1), threading.Event(), []
    for number in range(IN_HAND):
        writer.do(lambda number=number: (gate.wait(10), done.append(number))[1])  # type: ignore[misc]
    held = threading.Thread(target=writer.do, args=(lambda: done.append(-1),))
    held.start()
    held.join(0.2)
    assert held.is_alive()
    gate.set()
    held.join(10)
    writer.finish()
    assert done == [*range(IN_HAND), -1]


@pytest.mark.parametrize("count", [0, 2])
def test_a_disk_that_is_full_is_told(count: int) -> None:
    def fails() -> None:
        raise OSError(28, "No space left on device")

    writer = Writer(count)
    with pytest.raises(OSError, match="No space left"):  # noqa: PT012 - here or there, as it comes
        writer.do(fails)
        writer.finish()
    writer.stop()


def test_what_is_left_of_a_build_that_was_broken_off_is_not_written() -> None:
    writer, gate, begun, done = Writer(1), threading.Event(), threading.Event(), []
    writer.do(lambda: (begun.set(), gate.wait(10), done.append("in hand"))[2])
    writer.do(lambda: done.append("never"))
    assert begun.wait(10)
    left = writer._waiting[-1]
    stopping = threading.Thread(target=writer.stop)
    stopping.start()
    with pytest.raises(CancelledError):
        left.result(10)
    gate.set()
    stopping.join(10)
    assert not stopping.is_alive()
    assert done == ["in hand"]


def test_a_number_of_processes_is_taken_and_none_means_those_there_are() -> None:
    assert processes_of(3) == 3
    assert 1 <= processes_of(0) <= MOST
    assert processes_of(-4) == processes_of(0)
