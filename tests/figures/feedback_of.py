"""Feedback figures of a record without the rest of the sheet, which takes far longer."""

from __future__ import annotations

from dataclasses import dataclass

from buildsheets.figures.feedback import feedback_figures
from buildsheets.figures.format import Feedback
from buildsheets.figures.ledger import Ledger
from buildsheets.figures.solving import Solved, solve
from buildsheets.records.library import Build


@dataclass(frozen=True)
class Seen:
    """A solved build, its feedback, and what it left in the ledger."""

    solved: Solved
    found: Feedback | None
    ledger: Ledger

    @property
    def feedback(self) -> Feedback:
        """The figures, which must be there."""
        assert self.found is not None
        return self.found

    def judged(self, subject: str) -> list[str]:
        """Levels of the judgements on a subject."""
        return [verdict["level"] for verdict in self.ledger.verdicts if verdict["subject"] == subject]


def seen(build: Build) -> Seen:
    """Solve a build and look at it as its decoder does."""
    ledger = Ledger()
    solved = solve(build.record, ledger)
    return Seen(solved, feedback_figures(build.record, solved, ledger), ledger)
