"""A line that tells how far a long job is, on a terminal only: what is piped into a file stays quiet."""

from __future__ import annotations

import sys
import time
from types import TracebackType
from typing import TextIO

PATIENCE_S = 1.0
"""A job that is done sooner says nothing."""
APART_S = 0.2


class Progress:
    """Writes "name done of all" over itself; called with both numbers, and leaves no trace at the end.

    Parameters
    ----------
    name : str
        What is counted.
    out : text stream, optional
        By default the standard error stream.
    """

    def __init__(self, name: str, out: TextIO | None = None) -> None:
        self.name = name
        self.out = out or sys.stderr
        self.began = self.last = time.monotonic()
        self.width = 0

    def __enter__(self) -> Progress:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None) -> None:
        if self.width:
            self.out.write("\r" + " " * self.width + "\r")
            self.out.flush()

    def __call__(self, done: int, of: int) -> None:
        """Say that so many are done.

        Parameters
        ----------
        done, of : int
            So many of so many.
        """
        now = time.monotonic()
        if not self.out.isatty() or now - self.began < PATIENCE_S or now - self.last < APART_S:
            return
        self.last = now
        text = f"{self.name} {done} of {of}"
        self.width = max(self.width, len(text))
        self.out.write("\r" + text.ljust(self.width))
        self.out.flush()
