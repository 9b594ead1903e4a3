"""How many processes may work side by side."""

from __future__ import annotations

import os

MOST = 8


def processes_of(asked: int) -> int:
    """Return how many processes a build takes.

    Parameters
    ----------
    asked : int
        As the club wrote it; 0, or less, for as many as this machine lets us have, up to `MOST`.
    """
    allowed = getattr(os, "sched_getaffinity", None)  # where the system tells
    own = len(allowed(0)) if allowed else os.cpu_count() or 1
    return asked if asked > 0 else min(own, MOST)
