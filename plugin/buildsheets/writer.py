"""Files beside a page, written while the site generator goes on with the next one: the disk's work needs no interpreter."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor

IN_HAND = 8
"""Jobs that may wait: each holds the files of a sheet, some 400 kB."""


class Writer:
    """Does jobs that know nothing of each other, in threads of its own if asked to.

    Parameters
    ----------
    threads : int
        How many; with none, each job is done before `do` returns.
    """

    def __init__(self, threads: int = 0) -> None:
        self._threads = ThreadPoolExecutor(threads, "buildsheets-writer") if threads else None
        self._waiting: deque[Future[None]] = deque()

    def do(self, job: Callable[[], None]) -> None:
        """Do a job, or have it done.

        Parameters
        ----------
        job : callable
            Writes some files.

        Raises
        ------
        OSError
            Of this job or of one before it.
        """
        if self._threads is None:
            job()
            return
        while len(self._waiting) >= IN_HAND or (self._waiting and self._waiting[0].done()):
            self._waiting.popleft().result()
        self._waiting.append(self._threads.submit(job))

    def finish(self) -> None:
        """Wait until all is done.

        Raises
        ------
        OSError
            Of the first job that failed.
        """
        try:
            while self._waiting:
                self._waiting.popleft().result()
        finally:
            self.stop()

    def stop(self) -> None:
        """Leave what is not begun, and wait for the jobs in hand; for a build that was broken off."""
        self._waiting.clear()
        if self._threads is not None:
            self._threads.shutdown(cancel_futures=True)
            self._threads = None
