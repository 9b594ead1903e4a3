"""Several processes that make sheets side by side.

Where the system can fork, a foreman is started first: a new interpreter, for a fork of this one would inherit locks held by threads of
the development server. He makes one sheet, by which everything is loaded that sheets are made with, and the crew is forked from him: it
is loaded once, not once for each. Elsewhere every worker is a new interpreter.
"""

from __future__ import annotations

import gc
import importlib
import multiprocessing
import os
import pickle
import signal
import sys
import traceback
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from multiprocessing import resource_tracker
from multiprocessing.connection import Connection
from pathlib import Path
from threading import Thread
from typing import TYPE_CHECKING, TypeAlias

from buildsheets.cache import Cache
from buildsheets.edition import SHEETS
from buildsheets.records.problems import Mark, Problem, problem_at

if TYPE_CHECKING:
    from multiprocessing.process import BaseProcess

    from buildsheets.records.library import Build
    from buildsheets.settings import Settings

FORKS = "fork" in multiprocessing.get_all_start_methods() and sys.platform != "darwin"
"""Whether a process may be forked once it has loaded its libraries; on a Mac its own forbid it."""
AHEAD = 2
"""Parcels in hand for each worker, so that none waits for the next."""

NOTHING = b""
"""What is handed over where there is nothing more to do."""

Parcel: TypeAlias = "Sequence[tuple[Build, str]]"
"""Some records, each with the key of its sheet."""
Done: TypeAlias = "list[tuple[str, bytes | None, Problem | None]]"
"""Of each sheet of a parcel the slug, its bytes where they could not be put in the cache, and what went wrong."""


def attempt(build: Build, settings: Settings) -> tuple[bytes | None, Problem | None]:
    """Return a finished sheet as an entry of the cache, or what went wrong.

    Parameters
    ----------
    build : Build
        A valid record.
    settings : Settings
        The club's choices.
    """
    # brings in all that calculates and draws, which a builder with a crew does without
    from buildsheets.finishing import finished

    try:
        return finished(build, settings), None
    except Exception as error:  # whatever it is, it must not take the other sheets with it
        return None, _failure(build, error)


def _failure(build: Build, error: Exception) -> Problem:
    """Name the record, the kind of error and the place where it came up; the last is for whoever mends it."""
    last = traceback.extract_tb(error.__traceback__)[-1]
    place = f"{Path(last.filename).name}:{last.lineno}"
    return problem_at(
        Mark(build.origin.file, 1, 1),
        f"the calculation broke off with {type(error).__name__} ({error}) at {place}; this is a fault of the program, send the "
        "record to those who keep it",
    )


class Crew:
    """Processes that make sheets. They may be called before it is known what is to be made, and load meanwhile.

    Parameters
    ----------
    workers : int
        How many.
    folder : Path
        Of the cache.
    """

    def __init__(self, workers: int, folder: Path) -> None:
        self.workers, self.folder = workers, folder
        self._used = False
        self._foreman: BaseProcess | None = None
        if FORKS:
            context = multiprocessing.get_context("spawn")
            self._ours, his = context.Pipe()
            self._foreman = context.Process(target=_lead, args=(his, workers, folder))
            with _undisturbed():
                self._foreman.start()
            his.close()

    def made(self, parcels: Iterable[Parcel], settings: Settings, meanwhile: Callable[[], None]) -> Iterator[Done]:
        """Yield what became of each parcel, in no particular order; those that the crew lost by accident are missing.

        Parameters
        ----------
        parcels : iterable of Parcel
            What is to be made; each is asked for and packed only when its turn comes.
        settings : Settings
            The club's choices.
        meanwhile : callable
            What there is to do here while the foreman loads and makes the first sheet.
        """
        if self._foreman is None:
            packed = map(pickle.dumps, parcels)
            yield from _side_by_side("spawn", self.workers, self.folder, settings, lambda: next(packed, NOTHING))
        else:
            yield from self._led(parcels, settings, meanwhile)

    def dismiss(self) -> None:
        """Let the crew go; nobody waits until it has gone. Where it was called in vain it stops at once."""
        if self._foreman is not None:
            self._ours.close()
            if not self._used:
                self._foreman.terminate()

    def _led(self, parcels: Iterable[Parcel], settings: Settings, meanwhile: Callable[[], None]) -> Iterator[Done]:
        """Hand the foreman the settings, one sheet to begin with, and a parcel for each that is done; yield what he tells."""
        packed = map(pickle.dumps, _one_to_begin_with(parcels))
        self._used = True
        try:
            self._ours.send(settings)
            self._hand_over(packed, 1)
            meanwhile()
            yield self._ours.recv()
            out = self._hand_over(packed, AHEAD * self.workers)
            while out:
                yield self._ours.recv()
                out += self._hand_over(packed, 1) - 1
        except (EOFError, OSError):  # something happened to him
            return

    def _hand_over(self, packed: Iterator[bytes], parcels: int) -> int:
        """Hand over so many parcels, or that there is nothing more, and return how many were full."""
        given = [next(packed, NOTHING) for _ in range(parcels)]
        for parcel in given:
            self._ours.send_bytes(parcel)
        return sum(map(bool, given))


def _one_to_begin_with(parcels: Iterable[Parcel]) -> Iterator[Parcel]:
    """Yield the parcels, the first of them in two: one sheet, and what is left."""
    whole = iter(parcels)
    first = next(whole, ())
    yield from (part for part in (first[:1], first[1:]) if part)
    yield from whole


@contextmanager
def _undisturbed() -> Iterator[None]:
    """Let a process that begins here never hear of an interrupt from the keyboard: the builder hears of it too, and tells by going."""
    resource_tracker.ensure_running()  # which it would be otherwise with the process, and let interrupts through again
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _lead(builder: Connection, workers: int, folder: Path) -> None:
    """Load all that sheets are made with, the last of it by making one, and let a crew of forks make the others."""
    try:
        importlib.import_module("buildsheets.finishing")
        importlib.import_module("buildsheets.sheet.strokes")
        settings = builder.recv()
        _begin_work(folder, settings)
        builder.send(_make_parcel(builder.recv_bytes()))
        gc.freeze()  # what is loaded stays: no worker need look at it, and so copy it
        for done in _side_by_side("fork", workers, folder, settings, builder.recv_bytes):
            builder.send(done)
    except (EOFError, OSError):  # nobody listens any more
        return


def _side_by_side(
    method: str, workers: int, folder: Path, settings: Settings, take: Callable[[], bytes]
) -> Iterator[Done]:
    """Yield what workers made of the parcels that are taken, one for each that is done."""
    pool = ProcessPoolExecutor(workers, multiprocessing.get_context(method), _begin, (folder, settings))
    try:
        at_work = {pool.submit(_make_parcel, parcel) for parcel in [take() for _ in range(AHEAD * workers)] if parcel}
        while at_work:
            ready, at_work = wait(at_work, return_when=FIRST_COMPLETED)
            for each in ready:
                yield each.result()
                parcel = take()
                if parcel:
                    at_work.add(pool.submit(_make_parcel, parcel))
    except BrokenProcessPool:  # a worker was killed: what it had is made elsewhere
        return
    finally:
        # waits for them: a foreman that ends first takes the queue away by which they would learn that there is nothing more to do
        pool.shutdown(cancel_futures=True)


_work: tuple[Cache, Settings] | None = None  # of a worker process


def _begin(folder: Path, settings: Settings) -> None:
    """Set up a worker process."""
    Thread(target=_end_with_the_builder, daemon=True).start()
    _begin_work(folder, settings)


def _begin_work(folder: Path, settings: Settings) -> None:
    global _work  # noqa: PLW0603 - a worker has one task, given once
    _work = (Cache(folder), settings)


def _end_with_the_builder() -> None:
    """End this worker when the process that began it is killed: it would wait for its next parcel for ever."""
    builder = multiprocessing.parent_process()
    if builder is not None:
        builder.join()
        os._exit(1)


def _make_parcel(packed: bytes) -> Done:
    """Make some sheets in a worker process; hand over only what could not be put in the cache."""
    assert _work is not None
    cache, settings = _work
    out = []
    parcel: Parcel = pickle.loads(packed)  # packed by the process that began this one
    for build, key in parcel:
        raw, problem = attempt(build, settings)
        kept = raw is None or (cache.fault is None and cache.write(SHEETS, key, raw))
        out.append((build.slug, None if kept else raw, problem))
    return out
