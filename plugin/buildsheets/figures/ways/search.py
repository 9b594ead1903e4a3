"""The search: solve each knob for the target, look at what can be had near it, throw out, rank, and look again closely."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field, replace

import numpy as np

from buildsheets.figures.drive import decoder_curve
from buildsheets.figures.solving import Solved
from buildsheets.figures.ways.banks import diode_strings, resistor_banks
from buildsheets.figures.ways.candidates import (
    Base,
    Way,
    as_it_is,
    bases,
    scaled_settings,
    with_cap,
    with_cv5,
    with_dropper,
    with_track,
)
from buildsheets.figures.ways.evaluate import Outcome, aim_of, evaluate, mph_per_volt
from buildsheets.figures.ways.goal import Goal
from buildsheets.figures.ways.hardware import (
    MotorChoice,
    PinionChoice,
    decoder_choices,
    motor_choices,
    other_stages_mesh,
    pinion_choices,
)
from buildsheets.figures.ways.judge import NEAR_ENOUGH, motor_too_weak, rejected
from buildsheets.figures.ways.knobs import Wanted, wanted_values
from buildsheets.figures.ways.options import WaysOptions
from buildsheets.figures.ways.rank import Scored, best_of_each_kind, dearest_price, score
from buildsheets.physics.cvs import SPEED_STEPS
from buildsheets.physics.diodes import SILICON, pair_voltage
from buildsheets.records import models

TRACK_GRAIN = 0.5
"""Step of track volts that a command station can be set to [V]; common practice."""
MOST_DIODE_WAYS = 2
"""Distinct strings solved exactly: each costs some ten times as much as all ways without diodes."""
MORE = 1
"""Ways looked at closely beyond those that are shown, should the closer look change their order."""

@dataclass
class Found:
    """What the search found."""

    goal: Goal
    built: Scored
    best: list[Scored]  # of each kind, re-solved at every step, best first
    scored: list[Scored]  # all ways looked at, the build too
    motors_out: dict[str, str] = field(default_factory=dict)  # stock motors that do not go in, and why
    pinions: list[PinionChoice] = field(default_factory=list)
    motors: list[MotorChoice] = field(default_factory=list)
    later_stages: bool = True  # whether the pairs behind the first carry the drive
    dearest: float = 0.0

def search(record: models.Record, stock: models.Stock, built: Solved, goal: Goal, options: WaysOptions) -> Found:
    """Search the ways to a goal.

    Parameters
    ----------
    record : Record
        The build.
    stock : Stock
        All of the club's parts.
    built : Solved
        The build, solved.
    goal : Goal
        What is wanted.
    options : WaysOptions
        The club's weights.
    """
    pinions = pinion_choices(record, built.train.figures["stages"] if built.train else None)
    motors, motors_out = motor_choices(record, stock)
    every = list(bases(record, built, pinions, motors, decoder_choices(record, stock)))
    own = as_it_is(every[0])
    ways = [own, *_ways(every, goal, stock)]
    dearest = dearest_price(ways)
    later = other_stages_mesh(record, built.train.figures["stages"]) if built.train else True
    judge = _Judge(goal, options, dearest, later)
    scored = judge.all(ways, evaluate(ways, goal))
    kinds = [entry.way for entry in best_of_each_kind(scored) if entry.way is not own][: options.shown + MORE]
    closer = judge.all([own, *kinds], evaluate([own, *kinds], goal, every_step=True))
    return Found(goal, closer[0], best_of_each_kind(closer[1:]), scored, motors_out, pinions, motors, later, dearest)

@dataclass(frozen=True)
class _Judge:
    goal: Goal
    options: WaysOptions
    dearest: float
    later_stages: bool

    def all(self, ways: list[Way], outcomes: list[Outcome]) -> list[Scored]:
        return [self.one(way, outcome) for way, outcome in zip(ways, outcomes, strict=True)]

    def one(self, way: Way, outcome: Outcome) -> Scored:
        return judged(way, outcome, self.goal, self.options, self.dearest, self.later_stages)

def judged(
    way: Way, outcome: Outcome, goal: Goal, options: WaysOptions, dearest: float, later_stages: bool
) -> Scored:
    """Return a way with its verdict and its score."""
    why = "mesh" if not later_stages else rejected(way, outcome, goal)
    if why is None and motor_too_weak(way, outcome, goal):
        why = "slips too late"
    return Scored(way, outcome, why, score(way, outcome, goal, dearest, options))

def _ways(every: list[Base], goal: Goal, stock: models.Stock) -> list[Way]:
    """Every way but the build itself: hardware alone, and each knob at the values nearest to what the target asks."""
    wanted = wanted_values(every, goal)
    ways: list[Way] = []
    own = every[0].pinion
    for place, base in enumerate(every):
        # a cap or other track volts are for who changes nothing else, but for a pinion that must go
        alone = base.pinion is own if own.meshes else base.pinion.meshes and base.motor is None
        if not base.pinion.meshes:
            ways += [as_it_is(base)] if base.changed and base.motor is None and base.decoder is None else []
            continue
        if base.changed and base.decoder is None:
            ways.append(as_it_is(base))
        if base.decoder is None and base.record.dropper is not None:
            ways.append(with_dropper(base, None, "no dropper", 0.0))
        ways += _continuous(base, place, wanted, goal, stock, alone)
    found = [*ways, *_with_diodes(every, wanted, goal, stock)]
    return [way for way in found if way.base.changed or not _same_dropper(way, every[0])]


def _same_dropper(way: Way, base: Base) -> bool:
    """Whether a dropper comes to the one that is there already."""
    new, old = way.record.dropper, base.record.dropper
    if way.knob not in ("resistors", "diodes", "bridge") or new is None or old is None:
        return False
    ratings = [d.resistor.rating.value if d.resistor and d.resistor.rating else None for d in (new, old)]
    bypassed = [d.diodes.bypass if d.diodes else None for d in (new, old)]
    series, present = way.inputs.series, base.inputs.series
    alike = series.parts == present.parts and series.pairs == present.pairs
    return alike and ratings[0] == ratings[1] and bool(bypassed[0]) == bool(bypassed[1]) and _same_ohms(new, old)


def _same_ohms(new: models.Dropper, old: models.Dropper) -> bool:
    one, other = (d.resistor.resistance.value if d.resistor and d.resistor.resistance else 0.0 for d in (new, old))
    return math.isclose(one, other)

def _continuous(base: Base, place: int, wanted: Wanted, goal: Goal, stock: models.Stock, alone: bool) -> Iterator[Way]:
    duty, ohms, volts = float(wanted.duty[place]), float(wanted.resistance[place]), float(wanted.volts[place])
    duty = _held_duty(base, goal) if goal.held else duty
    if math.isfinite(duty):
        yield from (with_cv5(base, value) for value in _cv5_values(base, duty, goal))
    if base.decoder is not None:
        return
    if math.isfinite(ohms) and ohms > 0:
        present = base.record.dropper
        for bank in resistor_banks(ohms, present, stock):
            yield with_dropper(base, bank.dropper, "resistors", bank.price, on_hand=bank.on_hand)
    if alone and base.motor is None:
        yield from (with_cap(base, step) for step in _caps(base, duty, volts, goal))
        track = base.record.supply.track if base.record.supply else None
        if track is not None and base.inputs.source.kind == "decoder":
            yield from (with_track(base, track.value, value) for value in _track_values(base, track.value, volts))

def _held_duty(base: Base, goal: Goal) -> float:
    """On-time fraction of the curve that a decoder with feedback steers for the wanted speed by; none where it steers for nothing."""
    way = as_it_is(base)
    aim = aim_of(way)
    return goal.mph / mph_per_volt(way) / aim if aim > 0 else math.nan

def _cv5_values(base: Base, duty: float, goal: Goal) -> list[int]:
    """The two values of CV5 around the wanted on-time; none where the decoder has none, or another curve holds."""
    decoder = base.record.decoder
    if decoder is None or decoder.abilities is None or decoder.abilities.top_voltage is not True:
        return []
    settings = base.record.decoder_settings

    def reached(value: int) -> float:
        return float(decoder_curve(decoder, scaled_settings(settings, value)[0])[goal.step - 1])

    low, high = 2, 255
    if reached(low) == reached(high) or not reached(low) <= duty <= reached(high):
        return []
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if reached(middle) <= duty else (low, middle)
    return [low, high]

def _caps(base: Base, duty: float, volts: float, goal: Goal) -> list[int]:
    """The two steps around the wanted on-time, or around the wanted volts of a controller of direct current."""
    source = base.inputs.source
    drive, wanted = (source.duty, duty) if source.kind == "decoder" else (source.bus_voltage, volts)
    if not math.isfinite(wanted):
        return []
    above = int(np.searchsorted(drive[: goal.step], wanted)) + 1
    return [step for step in (above - 1, above) if 1 <= step < goal.step]

def _track_values(base: Base, present: float, bus: float) -> list[float]:
    """The two settings around the wanted volts, below the present ones."""
    if not math.isfinite(bus):
        return []
    exact = present - (base.inputs.source.top_voltage - bus) / base.inputs.refined.bus_voltage
    low = TRACK_GRAIN * math.floor(exact / TRACK_GRAIN)
    return [value for value in (low, low + TRACK_GRAIN) if 0 < value < present]

def _with_diodes(every: list[Base], wanted: Wanted, goal: Goal, stock: models.Stock) -> list[Way]:
    """Strings on the build's own motor and decoder: those whose flat drop comes nearest, to be solved exactly."""
    found: list[tuple[float, Way]] = []
    for place, base in enumerate(every):
        drop, volts, motor = float(wanted.flat_drop[place]), float(wanted.volts[place]), base.inputs.motor
        if base.motor is not None or base.decoder is not None or not base.pinion.meshes or not math.isfinite(drop):
            continue
        if not math.isfinite(volts):  # too slow with the dropper as built, which a string takes the place of
            volts = float(base.inputs.source.bus_voltage[goal.step - 1]) - drop
        current = (motor.running_torque + base.inputs.load_torque) / motor.emf_constant
        each = float(pair_voltage(current, SILICON))
        for knob, bank in diode_strings(drop / each, base.record.dropper, stock, goal.feedback):
            way = with_dropper(base, bank.dropper, knob, bank.price, on_hand=bank.on_hand)
            pairs = bank.dropper.diodes.pairs if bank.dropper.diodes else 0
            found.append((abs(pairs * each - drop) / volts, way))
    return _nearest_strings(found)

def _nearest_strings(found: list[tuple[float, Way]]) -> list[Way]:
    """Those that miss the wanted volts least, no more than a few different chains and none that is sure to miss the target."""
    chains: list[tuple[object, ...]] = []
    kept: list[Way] = []
    for miss, way in sorted(found, key=lambda entry: entry[0]):
        diodes = way.record.dropper.diodes if way.record.dropper else None
        chain = (way.base.pinion.teeth, diodes.pairs if diodes else 0, bool(diodes and diodes.bypass))
        if chain not in chains and (len(chains) == MOST_DIODE_WAYS or (chains and miss > NEAR_ENOUGH)):
            continue
        if chain not in chains:
            chains.append(chain)
        kept.append(way)
    return kept

def with_weights(found: Found, options: WaysOptions) -> list[Scored]:
    """Return all ways looked at, scored with other weights."""
    return [
        replace(entry, score=score(entry.way, entry.outcome, found.goal, found.dearest, options)) for entry in found.scored
    ]

LAST_STEP = SPEED_STEPS
