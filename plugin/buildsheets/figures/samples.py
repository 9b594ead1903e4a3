"""One build many times over, each time with other values within their tolerances."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray

from buildsheets.figures.chain import Series
from buildsheets.figures.drive import Source
from buildsheets.figures.inputs import AS_RECORDED, Refinement, gather, load_torque
from buildsheets.figures.ledger import Assumptions
from buildsheets.figures.running import Chain, ManyWarmths
from buildsheets.figures.tolerances import (
    Turned,
    Uncertain,
    assumed_tolerance,
    tolerance_of,
    with_dials,
)
from buildsheets.physics.uncertainty import (
    Posterior,
    correlated,
    deviations,
    standard_uncertainty,
    unit_samples,
)
from buildsheets.physics.values import number
from buildsheets.records import models

SAMPLES = 128
BEFORE_SAMPLES = 64
"""For the locomotive as found: a band on the chart and no more."""
DIODE_SAMPLES = 32
"""A diode string is integrated over each period, which takes some twenty times as long."""
ROOM_FOR_FIT = 4
"""Samples beyond one an input that the shares of the spread are fitted with, at least."""

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Samples:
    """Values of the samples. Shape (samples, 1) where no other is named; SI."""

    inputs: tuple[Uncertain, ...]
    drawn: Array  # (samples, inputs and factors of the posterior): deviation over half width, logarithm of the factor
    covariance: Array  # of the columns of `drawn`
    source: Source  # as recorded, for what does not vary
    series: Series  # the same
    ratio: float  # of the gears
    scale: float
    resistance: Array
    inductance: Array
    emf_constant: Array
    friction_torque: Array
    running_torque: Array
    breakaway_torque: Array
    top_voltage: Array
    frequency: Array
    freewheel_drop: Array
    internal_drop: Array
    series_resistance: Array
    wheel: Array
    train_torque: Array  # load of the record's train on the level, at the motor
    grade_torque: Array  # the same on the record's grade
    warmth: ManyWarmths
    resistor_heat: Array  # factor on the thermal resistance of a resistor
    diode_heat: Array  # of a diode

    @property
    def count(self) -> int:
        """Number of samples."""
        return len(self.drawn)

    def bus_voltage(self, steps: NDArray[np.intp]) -> Array:
        """Volts of the on phase; steps count from 1, shape (steps,) or (samples, 1)."""
        full = self.source.top_voltage
        return self.top_voltage * (self.source.bus_voltage[steps - 1] / full if full else 1.0)

    def chain(self, loads: Sequence[Array], series: Sequence[Array], pairs: int, steps: NDArray[np.intp]) -> Chain:
        """Return the chains of all samples under several loads, one below the other: shape (loads × samples, steps).

        Parameters
        ----------
        loads : sequence of ndarray, shape (samples, 1)
            Torque of the load at the motor. [N m]
        series : sequence of ndarray, shape (samples, 1)
            Resistance of the dropper under each of them. [ohm]
        pairs : int
            Diode pairs in series. [-]
        steps : ndarray of int
            Counted from 1. [-]
        """
        many = len(loads)
        repeated = (lambda values: np.tile(values, (many, 1))) if many > 1 else (lambda values: values)
        around = ManyWarmths(**{f.name: repeated(getattr(self.warmth, f.name)) for f in fields(ManyWarmths)})
        return Chain(
            self.source.duty[steps - 1],
            repeated(self.bus_voltage(steps)),
            repeated(self.frequency),
            self.source.off_mode,
            repeated(self.freewheel_drop),
            repeated(self.internal_drop),
            repeated(self.resistance),
            repeated(self.inductance),
            repeated(self.emf_constant),
            repeated(self.friction_torque),
            repeated(self.running_torque) + np.concatenate(loads),
            np.concatenate(series),
            pairs,
            self.series.card,
            around,
        )


def draw(
    record: models.Record,
    *,
    most: int = SAMPLES,
    refined: Refinement = AS_RECORDED,
    posterior: Posterior | None = None,
) -> Samples | None:
    """Draw the samples of a record; None where it does not say enough to run.

    Parameters
    ----------
    record
        The build or a variant.
    most : int
        Samples of a chain without diodes, a power of two.
    refined : Refinement
        Factors that the bench found; those of the posterior's names are drawn around it.
    posterior : Posterior, optional
        What a fit to the readings leaves open; its keys of the record are then held.
    """
    holds = posterior.holds if posterior else ()
    dialled, inputs = _inputs(record, holds)
    names = posterior.names if posterior else ()
    pairs = record.dropper.diodes.pairs if record.dropper and record.dropper.diodes else 0
    count = DIODE_SAMPLES if pairs else most
    while count < len(inputs) + len(names) + ROOM_FOR_FIT:
        count *= 2
    points = unit_samples(count, len(inputs) + len(names))
    drawn = deviations(points[:, : len(inputs)], [entry.shape for entry in inputs])
    covariance = np.diag([standard_uncertainty(1.0, entry.shape) ** 2 for entry in inputs])
    if posterior is not None:
        logs = correlated(points[:, len(inputs) :], posterior.log_mean, posterior.log_covariance)
        refined = replace(refined, **{name: number(factor[:, None]) for name, factor in zip(names, np.exp(logs).T, strict=True)})
        drawn = np.hstack([drawn, logs])
        covariance = np.block([
            [covariance, np.zeros((len(inputs), len(names)))],
            [np.zeros((len(names), len(inputs))), posterior.log_covariance],
        ])
    return _gathered(dialled, tuple(inputs), drawn, covariance, refined)


def _inputs(record: models.Record, holds: Sequence[str]) -> tuple[models.Record, list[Uncertain]]:
    """Return the record with its dials, and what the calculation reads or assumes and may be off."""
    dialled, stated = with_dials(record, holds)
    ledger = Assumptions()
    given = gather(dialled, ledger, mesh=False)
    if given.train is not None and given.wheel is not None:
        load_torque(dialled, given.train, given.wheel, "train", True, 1.0, ledger)
    inputs = [entry for entry in stated if any(dial.read for dial in entry.dials)]
    for entry in ledger.assumed:
        found = assumed_tolerance(entry["name"], holds)
        if found is not None and isinstance(entry["value"], float):
            inputs.append(found)
    return dialled, [*inputs, *_heat(record, holds)]


def _heat(record: models.Record, holds: Sequence[str]) -> list[Uncertain]:
    """Thermal resistances of the dropper's parts, which only its temperature asks for."""
    dropper, found = record.dropper, []
    resistor = dropper.resistor if dropper else None
    diode = dropper.diodes.diode if dropper and dropper.diodes else None
    for name, present, given in (
        ("dropper.resistor.thermal_resistance", resistor is not None, resistor and resistor.thermal_resistance),
        (
            "dropper.diodes.diode.thermal_resistance",
            dropper is not None and dropper.diodes is not None,
            diode and diode.thermal_resistance,
        ),
    ):
        entry = tolerance_of(name, given, record, holds) if given else assumed_tolerance(name, holds)
        if present and entry is not None:
            found.append(entry)
    return found


def _gathered(
    dialled: models.Record, inputs: tuple[Uncertain, ...], drawn: Array, covariance: Array, refined: Refinement
) -> Samples | None:
    """Gather all samples at once: every dial is turned to a column of values."""
    shifts: dict[str, tuple[Uncertain, float | Array]] = {}
    for place, entry in enumerate(inputs):
        for dial in entry.dials:
            dial.turn(drawn[:, [place]])
        if entry.assumed:
            shifts[entry.name] = (entry, drawn[:, [place]])
    ledger = Turned(shifts)
    given = gather(dialled, ledger, refined=refined, mesh=False)
    motor, feed, series, train, around = given.motor, given.source, given.series, given.train, given.warmth
    if motor is None or feed is None or series is None or train is None or given.wheel is None or given.ratio is None:
        return None
    possible = np.isfinite(np.broadcast_to(motor.emf_constant, (len(drawn), 1))[:, 0])
    if 2 * possible.sum() <= len(drawn):  # readings turned far apart may belong to no motor
        return None
    drawn = drawn[possible]

    def column(values: float | Array) -> Array:
        return np.asarray(np.broadcast_to(values, (len(possible), 1))[possible])

    named = {entry.name: drawn[:, [place]] * entry.half_width for place, entry in enumerate(inputs)}
    still = np.zeros((len(drawn), 1))
    volts = np.broadcast_to(feed.bus_voltage, (len(possible), feed.bus_voltage.shape[-1]))[possible]
    return Samples(
        inputs=inputs,
        drawn=drawn,
        covariance=covariance,
        source=replace(feed, bus_voltage=volts[0]),
        series=series,
        ratio=train.ratio,
        scale=given.ratio,
        resistance=column(motor.resistance),
        inductance=column(motor.inductance),
        emf_constant=column(motor.emf_constant),
        friction_torque=column(motor.friction_torque),
        running_torque=column(motor.running_torque),
        breakaway_torque=column(motor.breakaway_torque),
        top_voltage=np.max(volts, axis=1, keepdims=True),
        frequency=column(feed.frequency),
        freewheel_drop=column(feed.freewheel_drop),
        internal_drop=column(feed.internal_drop),
        series_resistance=column(series.resistance),
        wheel=column(given.wheel),
        train_torque=column(given.load_torque),
        grade_torque=column(load_torque(dialled, train, given.wheel, "train", True, refined.rolling, ledger)),
        warmth=ManyWarmths(
            column(around.room), column(around.shell_resistance), column(around.motor_resistance), column(around.dropper_factor)
        ),
        resistor_heat=np.maximum(1.0 + named.get("dropper.resistor.thermal_resistance", still), 0.0),
        diode_heat=np.maximum(1.0 + named.get("dropper.diodes.diode.thermal_resistance", still), 0.0),
    )
