"""What the readings teach: factors on the model's values, and what they leave open."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from buildsheets.figures.format import LeftOut
from buildsheets.figures.inputs import AS_RECORDED, Inputs, Refinement, gather
from buildsheets.figures.ledger import Scratch
from buildsheets.figures.predicting import DIFFERENCE, Predictor, Situations, variants
from buildsheets.figures.priors import FACTORS, HOLDS, Prior, prior
from buildsheets.figures.readings import NOT_PREDICTED, Notebook, errors, notebook
from buildsheets.physics.calibration import Fit, fit
from buildsheets.physics.uncertainty import Posterior
from buildsheets.records import models

UNTOUCHED = 0.95
"""Share of its earlier spread above which a value counts as untouched by the readings, so that the record alone decides how
uncertain it is. Common practice."""
Array = NDArray[np.float64]


@dataclass(frozen=True)
class Learned:
    """What some readings taught; without any, what the record says."""

    notes: Notebook
    given: Inputs | None
    before: Prior | None
    found: Fit | None
    situations: Situations | None = None

    @property
    def refined(self) -> Refinement:
        """Factors for whatever is worked out next."""
        if self.found is None:
            return AS_RECORDED
        return Refinement(**dict(zip(FACTORS, map(float, np.exp(self.found.log_mean)), strict=True)))

    @property
    def posterior(self) -> Posterior | None:
        """What the fit leaves open, for the bands; None where the record alone decides."""
        if self.found is None:
            return None
        places = [place for place, share in enumerate(self.found.shrinkage) if share < UNTOUCHED]
        if not places:
            return None
        names = tuple(FACTORS[place] for place in places)
        return Posterior(
            names,
            self.found.log_mean[places],
            self.found.log_covariance[np.ix_(places, places)],
            tuple(key for name in names for key in HOLDS[name]),
        )


NOTHING_LEARNED = Learned(Notebook([], []), None, None, None)


class Bench:
    """A record with its notebook; what some of it teaches is worked out once."""

    def __init__(self, record: models.Record) -> None:
        self._record = record
        self._notes = notebook(record)
        self._situations = Situations(record)
        self._known: dict[frozenset[int], Learned] = {}

    def all(self) -> Learned:
        """Return what all readings teach."""
        return self._learn(self._notes)

    def before_trial(self, place: int) -> Learned:
        """Return what was known before a trial: readings of trials that stand above it in the record."""
        return self._learn(self._notes.of_trials({trial.id for trial in self._record.trials[:place]}))

    def _learn(self, notes: Notebook) -> Learned:
        key = frozenset(id(seen) for seen in notes.observations)
        if key not in self._known or notes is self._notes:
            self._known[key] = learn(self._record, notes, self._situations)
        return self._known[key]


def learn(record: models.Record, notes: Notebook, situations: Situations | None = None) -> Learned:
    """Fit the model's values to the observations of a notebook."""
    if not notes.observations:
        return replace(NOTHING_LEARNED, notes=notes)
    situations = situations or Situations(record)
    predictor = Predictor(record, notes.observations, situations)
    model = _Model(predictor)
    known = np.isfinite(model(np.zeros(len(FACTORS)))[0])
    if not known.all():
        kept = [seen for seen, usable in zip(notes.observations, known, strict=True) if usable]
        return learn(record, Notebook(kept, [*notes.left_out, *_unknown(notes, known)]), situations)
    given = gather(record, Scratch(), mesh=False)
    before = prior(record, given)
    found = fit(
        model,
        np.array([seen.target for seen in notes.observations]),
        errors(notes.observations),
        before.covariance,
        (before.low, before.high),
    )
    return Learned(notes, given, before, found, situations)


class _Model:
    """Predictions with their slopes, each worked out once."""

    def __init__(self, predictor: Predictor) -> None:
        self._predictor = predictor
        self._known: dict[bytes, tuple[Array, Array]] = {}

    def __call__(self, logs: Array) -> tuple[Array, Array]:
        key = logs.tobytes()
        if key not in self._known:
            rows = self._predictor(variants(logs))
            self._known[key] = rows[0], (rows[1:] - rows[0]).T / DIFFERENCE
        return self._known[key]


def _unknown(notes: Notebook, known: NDArray[np.bool_]) -> list[LeftOut]:
    lost = (seen for seen, usable in zip(notes.observations, known, strict=True) if not usable)
    return [LeftOut(reading=seen.text, why=NOT_PREDICTED) for seen in lost]
