"""Bands: every figure that a builder relies on, solved for all samples of the inputs at once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from buildsheets.figures.format import Curve
from buildsheets.figures.heating import crowding_factor, diode_to_air, resistor_to_air, zero_power
from buildsheets.figures.ledger import Scratch
from buildsheets.figures.running import Running, settle
from buildsheets.figures.samples import BEFORE_SAMPLES, Samples, draw
from buildsheets.figures.solving import Solved
from buildsheets.physics import dropper as droppers
from buildsheets.physics import heat, parts
from buildsheets.physics.cvs import SPEED_STEPS
from buildsheets.physics.pwm import Waveform, periodic_current
from buildsheets.physics.scales import scale_mph
from buildsheets.physics.starting import moves_off
from buildsheets.physics.uncertainty import BAND, Posterior, contributions, percentiles
from buildsheets.records import models

GRID = (1, 4, 8, 12, 16, 24, 32, 48, 64, 80, 96, 112, 126)
"""Steps at which every sample is solved; between them a band is drawn straight, measured from the curve."""
COARSE_GRID = (1, 16, 32, 64, 96, 126)
"""The same for the curves beside the first."""
DIODE_GRIDS = ((1, 16, 32, 64, 126), (32, 64, 126))
"""Both for a diode string, which takes some twenty times as long."""
READINGS = "readings"
"""Name of the common cause that a fit to the readings leaves."""
NEVER = SPEED_STEPS + 1
"""Stands for a step that does not come."""

Array = NDArray[np.float64]
Steps = NDArray[np.intp]


@dataclass(frozen=True)
class Fan:
    """Scale speeds of the samples at some steps: shape (samples, steps)."""

    steps: Steps
    mph: Array
    current: Array  # mean motor current [A], shape as the speeds
    kept: NDArray[np.bool_]  # samples whose balance closed

    def at(self, step: int) -> Array:
        """Speeds at one of the steps [mph], of the samples that closed."""
        return np.asarray(self.mph[self.kept, self.place(step)])

    def current_at(self, step: int) -> Array:
        """Motor currents at one of the steps [A], of the samples that closed."""
        return np.asarray(self.current[self.kept, self.place(step)])

    def place(self, step: int) -> int:
        """Column of a step."""
        return int(np.flatnonzero(self.steps == step)[0])

    def around(self, curve: Curve) -> tuple[Curve, Curve]:
        """Return low and high ends of the band around a curve over all steps [mph]."""
        middle = np.array([np.nan if value is None else value for value in curve])
        ends = percentiles(self.mph[self.kept], BAND) - middle[self.steps - 1]
        every = np.arange(1, SPEED_STEPS + 1)
        low, high = (np.maximum(middle + np.interp(every, self.steps, end), 0.0) for end in ends)
        return low.tolist(), high.tolist()


@dataclass(frozen=True)
class Spread:
    """What the tolerances of the inputs do to the results."""

    samples: Samples
    fans: dict[str, Fan]  # "built", "light", "graded", "bare", "before", as far as the build has them
    start_step: Array  # with the record's train; NEVER where it does not start
    light_start_step: Array  # light engine
    locked_rotor_current: Array  # [A]
    dropper_temperature: Array | None  # of its hotter part, (samples, steps of the first fan) [degC]
    share_of_rating: Array | None  # most loaded resistor over its rating, derated to the air there
    winding_temperature: Array  # hottest of the steps solved [degC]
    rail_voltage: Array | None  # while running, (samples,) [V]
    nominal_voltage: float  # of the motor [V]
    worst_step: int | None  # where the dropper is hottest with the inputs as they stand
    posterior: Posterior | None

    @property
    def top_mph(self) -> Array:
        """Scale speed at the last step [mph]."""
        return self.fans["built"].at(SPEED_STEPS)

    @property
    def light(self) -> Fan:
        """The light engine, which is the build itself where no train is recorded."""
        return self.fans.get("light", self.fans["built"])

    @property
    def hottest_dropper(self) -> Array | None:
        """Of its hotter part, at the hottest of the steps solved [degC]."""
        hot = self.dropper_temperature
        return None if hot is None else np.asarray(np.max(hot, axis=1))

    def dropper_at(self, step: int) -> Array | None:
        """Temperature of its hotter part at one of the steps of the first fan [degC]."""
        hot = self.dropper_temperature
        return None if hot is None else np.asarray(hot[:, self.fans["built"].place(step)])

    def causes(self) -> tuple[list[tuple[str, str, float]], float]:
        """Return name, label and share of each input in the spread of the top speed, largest first.

        Beside them stands the share of the variance that the straight line through the samples explains.
        """
        samples, kept = self.samples, self.fans["built"].kept
        found = contributions(samples.drawn[kept], samples.covariance, self.top_mph)
        rows = [(entry.name, entry.label, float(share)) for entry, share in zip(samples.inputs, found.shares, strict=False)]
        if self.posterior is not None:
            rows.append((READINGS, "what the readings leave open", float(found.shares[len(samples.inputs) :].sum())))
        return sorted(rows, key=lambda row: -row[2]), found.explained


def band(values: Array | None, shares: Sequence[float] = BAND) -> list[float] | None:
    """Return the ends of a band over the samples; None for nothing."""
    return None if values is None else [float(end) for end in percentiles(values, shares)]


def spread_of(
    record: models.Record,
    built: Solved,
    found: models.Record | None = None,
    *,
    worst_step: int | None = None,
    posterior: Posterior | None = None,
) -> Spread | None:
    """Solve a build for all samples of its inputs.

    Parameters
    ----------
    record
        The build.
    built
        Its solution with the inputs as they stand.
    found : Record, optional
        The locomotive as it was before, sampled by its own tolerances.
    worst_step : int, optional
        Where the dropper is hottest; solved besides the usual steps.
    posterior : Posterior, optional
        What a fit to the readings leaves open. It replaces the tolerances of the keys it holds, for the build alone.

    Returns
    -------
    Spread
        None where the record does not say enough to run.
    """
    if built.running is None or built.motor is None:
        return None
    samples = draw(record, refined=built.refined, posterior=posterior)
    if samples is None:
        return None
    wanted = _grid(DIODE_GRIDS[0] if samples.series.pairs else GRID, built, worst_step)
    first = settle(samples.chain([samples.train_torque], [samples.series_resistance], samples.series.pairs, wanted))
    fans = {"built": _fan(samples, first, wanted), **_beside(record, samples)}
    before = _before(found)
    if before is not None:
        fans["before"] = before
    resistors, share = _resistors(record.dropper, samples, first)
    hot = [part for part in (resistors, _diodes(record.dropper, samples, first)) if part is not None]
    begins = _first_steps(samples, np.hstack([samples.train_torque, np.zeros_like(samples.train_torque)]), first, wanted)
    return Spread(
        samples,
        fans,
        begins[:, 0],
        begins[:, 1],
        _standing(samples, 1.0, samples.top_voltage, samples.resistance).mean_current[:, 0],
        np.maximum.reduce(hot) if hot else None,
        share,
        np.max(first.winding_temperature, axis=1),
        _rails(record.supply, samples),
        built.motor.nominal_voltage,
        worst_step,
        posterior,
    )


def _grid(usual: Sequence[int], built: Solved, worst_step: int | None) -> Steps:
    """The usual steps, with those near which a curve bends: where it starts, and where the dropper is hottest."""
    begin = built.start["start_step"]
    further = [step for step in (begin, worst_step) if step is not None]
    return np.array(sorted({*usual, *further}))


def _beside(record: models.Record, samples: Samples) -> dict[str, Fan]:
    """Solve what stands on the chart beside the first curve; those with one string of diodes, or none, at once."""
    fitted, pairs = samples.series_resistance, samples.series.pairs
    nothing = np.zeros_like(fitted)
    wanted: dict[str, tuple[Array, Array, int]] = {}
    train = record.train or models.Train()
    if train.vehicles and train.vehicle_mass:
        wanted["light"] = (nothing, fitted, pairs)  # on the level it pulls nothing
    if train.grade and train.grade.value:
        wanted["graded"] = (samples.grade_torque, fitted, pairs)
    if record.dropper is not None:
        wanted["bare"] = (samples.train_torque, nothing, 0)
    fans: dict[str, Fan] = {}
    for string in sorted({entry[2] for entry in wanted.values()}):
        names = [name for name, entry in wanted.items() if entry[2] == string]
        steps = np.array(DIODE_GRIDS[1] if string else COARSE_GRID)
        loads, series = [wanted[name][0] for name in names], [wanted[name][1] for name in names]
        together = _fan(samples, settle(samples.chain(loads, series, string, steps)), steps)
        for place, name in enumerate(names):
            rows = slice(place * samples.count, (place + 1) * samples.count)
            fans[name] = Fan(steps, together.mph[rows], together.current[rows], together.kept[rows])
    return fans


def _before(record: models.Record | None) -> Fan | None:
    samples = draw(record, most=BEFORE_SAMPLES) if record is not None else None
    if samples is None:
        return None
    steps, pairs = np.array(DIODE_GRIDS[1] if samples.series.pairs else COARSE_GRID), samples.series.pairs
    chain = samples.chain([samples.train_torque], [samples.series_resistance], pairs, steps)
    return _fan(samples, settle(chain), steps)


def _fan(samples: Samples, state: Running, steps: Steps) -> Fan:
    wheel = np.tile(samples.wheel, (len(state.motor_speed) // samples.count, 1))
    mph = np.asarray(scale_mph(state.motor_speed / samples.ratio * wheel / 2, samples.scale))
    return Fan(steps, mph, state.mean_current, np.all(state.solution.converged, axis=1))


def _standing(samples: Samples, duty: Array | float, bus_voltage: Array, resistance: Array) -> Waveform:
    """Current with the shaft held, shape (samples, 1) or as the inputs broadcast."""
    return periodic_current(
        duty,
        bus_voltage,
        0.0,
        resistance + samples.series_resistance,
        samples.inductance,
        samples.frequency,
        samples.source.off_mode,
        samples.freewheel_drop,
        samples.series.pairs,
        samples.series.card,
    )


def _first_steps(samples: Samples, loads: Array, state: Running, steps: Steps) -> Array:
    """First step at which each sample moves off under each load and keeps turning, `NEVER` where none does; (samples, loads).

    Found by halving: on-time and volts rise with the step. The winding is as warm as that step makes it, as for the
    figures themselves.
    """
    low, high = np.zeros(loads.shape, dtype=int), np.full(loads.shape, NEVER)
    while np.any(high - low > 1):
        middle = np.maximum((low + high) // 2, 1)
        wave = _standing(
            samples,
            samples.source.duty[middle - 1],
            samples.bus_voltage(middle),
            _between(state.resistance, steps, middle),
        )
        moves = moves_off(
            samples.emf_constant * wave.peak_current,
            samples.emf_constant * wave.mean_current,
            samples.breakaway_torque + loads,
            samples.running_torque + loads,
        )
        apart = high - low > 1
        low, high = np.where(apart & ~moves, middle, low), np.where(apart & moves, middle, high)
    return np.asarray(high, dtype=float)


def _between(values: Array, steps: Steps, wanted: Array) -> Array:
    """Values of each sample between the steps solved: shape (samples, steps) and (samples, any) to that of the latter."""
    right = np.clip(np.searchsorted(steps, wanted), 1, len(steps) - 1)
    part = np.clip((wanted - steps[right - 1]) / (steps[right] - steps[right - 1]), 0.0, 1.0)
    before, after = np.take_along_axis(values, right - 1, axis=1), np.take_along_axis(values, right, axis=1)
    return before + part * (after - before)


def _rails(supply: models.Supply | None, samples: Samples) -> Array | None:
    """Volts on the rails in each sample; as recorded, with the fit's doubt of the bus, where the readings hold them."""
    given = supply and (supply.direct_current if samples.source.kind == "direct current" else supply.track)
    if not given:
        return None
    for place, entry in enumerate(samples.inputs):
        if entry.name in ("supply.track", "supply.direct_current"):
            return given.value + samples.drawn[:, place] * entry.dials[0].half_width
    return np.asarray(given.value + samples.top_voltage[:, 0] - float(np.median(samples.top_voltage)))


def _resistors(dropper: models.Dropper | None, samples: Samples, state: Running) -> tuple[Array | None, Array | None]:
    """Temperature of a resistor (samples, steps), and the most it takes of what its rating allows there (samples,)."""
    each = resistor_to_air(dropper, Scratch()) if dropper and dropper.resistor else None
    if dropper is None or dropper.resistor is None or each is None:
        return None, None
    power = droppers.resistor_power(
        state.rms_current, samples.series_resistance, samples.series.parallel, samples.series.in_series
    )
    temperature = _hot(power, each * samples.resistor_heat, dropper, samples, state)
    rating = dropper.resistor.rating
    if rating is None:
        return temperature, None
    borne = parts.derated_power(rating.value, state.air_inside, parts.RATED_TEMPERATURE, zero_power(dropper))
    share = np.divide(power, borne, out=np.full_like(power, np.inf), where=borne > 0)
    return temperature, np.max(share, axis=1)


def _diodes(dropper: models.Dropper | None, samples: Samples, state: Running) -> Array | None:
    if dropper is None or dropper.diodes is None:
        return None
    power = state.solution.waveform.mean_diode_power / samples.series.pairs
    each = diode_to_air(dropper.diodes, Scratch()) * samples.diode_heat
    return _hot(power, each, dropper, samples, state)


def _hot(power: Array, each: Array, dropper: models.Dropper, samples: Samples, state: Running) -> Array:
    crowding = crowding_factor(dropper, Scratch()) * samples.warmth.dropper_factor
    return heat.body_temperature(state.air_inside, power, each, crowding)
